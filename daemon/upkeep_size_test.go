package daemon

import (
	"strings"
	"testing"
	"time"

	"conditiond/daemon/engine"
	"conditiond/daemon/journal"
)

// A journal that outgrows journal.max_mb loses its oldest days: first those that
// everybody has, then, and told, those that a follower away would have had; never
// what an open lot needs.
func TestSizeLimit(t *testing.T) {
	w := watch(t, t.TempDir())
	start := w.hand.Now()
	w.feed(engine.Input{At: start, Start: &engine.Start{}})
	d := &Daemon{config: &Config{Journal: Journal{MaxMB: 1}}, log: quiet(), loop: w.loop, board: w.board, pace: w.hand, journal: w.journal}
	f := d.add("influxdb", false, (&outside{}).deliver)
	days := 0
	fill := func(n int) { // some 60 kB a day
		for range n {
			for i := range 1000 {
				at := start.AddDate(0, 0, days).Add(time.Duration(i) * time.Minute)
				seq, err := w.journal.Append(journal.Entry{At: at, Readings: []journal.Reading{{Series: "pressure/gauge", At: at, Value: 1.2}}})
				if err != nil {
					t.Fatal(err)
				}
				w.seq = seq
			}
			days++
		}
		w.hand.move(start.AddDate(0, 0, days))
		w.keepState()
		w.commit()
		w.board.show(w.engine.View(), nil)
		d.fit(t.Context())
	}
	left := func() (used int64, since int) {
		used, oldest, err := w.journal.Used(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return used, int(oldest.Sub(start).Hours() / 24)
	}
	carry := func() {
		for n := 1; n > 0; {
			n, _ = f.step(t.Context())
		}
	}

	fill(10)
	carry()
	if used, since := left(); used > 1e6 || since != 0 {
		t.Fatalf("too little was written: %d bytes, since day %d", used, since)
	}
	fill(20)
	used, since := left()
	if used > 1e6 || used < 8e5 || since < 1 {
		t.Errorf("%d bytes since day %d of %d", used, since, days)
	}
	if problem := d.journalPart().Problem; since > 10 != strings.Contains(problem, "influxdb") {
		t.Errorf("days before %d went, the follower had ten: %q", since, problem)
	}
	fill(30)
	if _, since := left(); since < 11 || !strings.Contains(d.journalPart().Problem, "influxdb") {
		t.Errorf("since day %d, and it says %q", since, d.journalPart().Problem)
	}
	carry()
	if problem := d.journalPart().Problem; problem != "" {
		t.Errorf("the follower is there again: %q", problem)
	}

	_, since = left()
	begun := start.AddDate(0, 0, since+3)
	w.feed(engine.Input{At: w.hand.Now(), Open: &engine.Open{Lot: gauged(begun)}})
	fill(40)
	if _, oldest := left(); oldest > since+2 || !strings.Contains(d.journalPart().Problem, "open lots") {
		t.Errorf("an open lot needs what is since day %d, there is what is since %d; it says %q", since+2, oldest, d.journalPart().Problem)
	}
}
