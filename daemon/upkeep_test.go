package daemon

import (
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/robfig/cron/v3"

	"conditiond/daemon/engine"
	"conditiond/daemon/intake"
	"conditiond/daemon/journal"
	"conditiond/daemon/mqtt"
)

// Once a date, in the night and at every hour at which a zone changes its
// clocks (the IANA data embedded in Go).
func TestNightlyRunsOnceADate(t *testing.T) {
	for _, zone := range []string{"Europe/Berlin", "Europe/Helsinki", "America/Santiago", "America/New_York", "Africa/Cairo", "Australia/Lord_Howe", "UTC"} {
		loc, err := time.LoadLocation(zone)
		if err != nil {
			t.Fatal(err)
		}
		for half := range 48 {
			n := nightly{time.Duration(half) * 30 * time.Minute, loc}
			at := time.Date(2026, 1, 1, 0, 0, 0, 0, loc).Add(-time.Nanosecond)
			dates := map[string]int{}
			for {
				next := n.Next(at)
				if !next.After(at) || next.Sub(at) > 25*time.Hour {
					t.Fatalf("%s: %v follows %v", zone, next, at)
				}
				if at = next; at.Year() != 2026 {
					break
				}
				dates[at.Format(time.DateOnly)]++
			}
			if len(dates) != 365 {
				t.Errorf("%s at %v: on %d dates of 365", zone, n.clock, len(dates))
			}
			for date, times := range dates {
				if times != 1 {
					t.Errorf("%s at %v: %d times on %s", zone, n.clock, times, date)
				}
			}
		}
	}
}

// The instants of three known changes: 29 March and 25 October 2026 in Berlin,
// 6 September 2026 in Santiago, which has no midnight.
func TestNightlyOverChanges(t *testing.T) {
	for _, x := range []struct{ zone, after, want string }{
		{"Europe/Berlin", "2026-03-28T12:00:00Z", "2026-03-29T01:30:00Z"}, // 02:30 isn't there: 03:30 summer time
		{"Europe/Berlin", "2026-03-29T01:30:00Z", "2026-03-30T00:30:00Z"},
		{"Europe/Berlin", "2026-10-24T12:00:00Z", "2026-10-25T01:30:00Z"}, // 02:30 comes twice: the second
		{"Europe/Berlin", "2026-10-25T01:30:00Z", "2026-10-26T01:30:00Z"},
		{"America/Santiago", "2026-09-05T12:00:00Z", "2026-09-06T05:30:00Z"},
	} {
		loc, err := time.LoadLocation(x.zone)
		if err != nil {
			t.Fatal(err)
		}
		after, _ := time.Parse(time.RFC3339, x.after)
		if got := (nightly{150 * time.Minute, loc}).Next(after).UTC().Format(time.RFC3339); got != x.want {
			t.Errorf("%s after %s: %s, want %s", x.zone, x.after, got, x.want)
		}
	}
}

// A chore that panics, or takes longer than its turn, hurts nobody.
func TestChoresArePenned(t *testing.T) {
	var log strings.Builder
	c := upkeepCron(time.UTC, textTo(&log))
	var runs, at, panics atomic.Int32
	c.Schedule(cron.Every(time.Second), cron.FuncJob(func() { panics.Add(1); panic("a bug") }))
	c.Schedule(cron.Every(time.Second), cron.FuncJob(func() {
		if at.Add(1) > 1 {
			t.Error("it runs twice at once")
		}
		runs.Add(1)
		time.Sleep(1500 * time.Millisecond)
		at.Add(-1)
	}))
	c.Start()
	awaited(t, "each runs again", func() bool { return runs.Load() >= 2 && panics.Load() >= 2 })
	<-c.Stop().Done()
	if !strings.Contains(log.String(), "a bug") {
		t.Errorf("the log says %q", log.String())
	}
}

// The heartbeat beats while the loop turns, and stops when the loop stops, not
// only when the process does.
func TestHeartbeatStopsWithTheLoop(t *testing.T) {
	var beats atomic.Int32
	s := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { beats.Add(1) }))
	defer s.Close()
	file := filepath.Join(t.TempDir(), "url")
	if err := os.WriteFile(file, []byte(s.URL+"/beat\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	w := watch(t, t.TempDir())
	d := &Daemon{log: quiet(), loop: w.loop}
	h := &Heartbeat{URLFile: Secret(file)}

	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- w.run(ctx) }()
	awaited(t, "the loop turns", func() bool { return w.turn.Load() != nil })
	d.beat(t.Context(), h)
	if beats.Load() != 1 || !d.loop.part().OK {
		t.Errorf("%d beats while it turns; %+v", beats.Load(), d.loop.part())
	}
	stop()
	<-ended
	w.turn.Store(new(time.Now().Add(-3 * time.Minute))) // as if it stood still since then
	d.beat(t.Context(), h)
	if beats.Load() != 1 || d.loop.part().OK || d.loop.part().Problem == "" {
		t.Errorf("%d beats while it stands still; %+v", beats.Load(), d.loop.part())
	}
}

// Old entries go, but for those that a follower has not carried and those of an
// open lot; what is left recovers the same lots. An entry that was damaged is
// left out, and the daemon starts all the same.
func TestPruneKeepsWhatIsNeeded(t *testing.T) {
	dir := t.TempDir()
	w := watch(t, dir)
	start := w.hand.Now()
	old := gauged(start.Add(-time.Hour))
	w.feed(engine.Input{At: start, Start: &engine.Start{}})
	w.feed(engine.Input{At: start, Open: &engine.Open{Lot: old}})
	day := func(n int) {
		for i := range 20 {
			at := start.AddDate(0, 0, n).Add(time.Duration(i) * time.Minute)
			w.hear(arrival{at, 0, mqtt.Delivery{Message: intake.Message{Topic: "t/gauge", Payload: []byte("1.2")}, Done: func() {}}})
		}
	}
	day(0)
	d := &Daemon{config: &Config{Journal: Journal{Keep: 30 * 24 * time.Hour}}, log: quiet(), loop: w.loop, board: w.board, pace: w.hand, journal: w.journal}
	f := d.add("influxdb", false, (&outside{}).deliver)
	tended := func(day int) int {
		w.hand.move(start.AddDate(0, 0, day))
		w.keepState()
		w.commit()
		w.board.show(w.engine.View(), nil)
		d.tend(t.Context())
		list, err := w.journal.Readings(t.Context(), journal.Query{Series: "pressure/gauge"})
		if err != nil {
			t.Fatal(err)
		}
		return len(list)
	}
	if n := tended(60); n != 20 {
		t.Errorf("an open lot has %d readings, want 20", n)
	}
	w.feed(engine.Input{At: start.AddDate(0, 0, 60), Close: &engine.Deed{Lot: old.ID}})
	again := gauged(start.AddDate(0, 0, 60))
	again.ID = "invented-second"
	w.feed(engine.Input{At: start.AddDate(0, 0, 60), Open: &engine.Open{Lot: again}})
	day(61)
	tended(62)
	first := func() int64 {
		entries, err := w.journal.After(t.Context(), 0, 1)
		if err != nil || len(entries) != 1 {
			t.Fatal(entries, err)
		}
		return entries[0].Seq
	}
	if first() != 1 {
		t.Error("entries went that the follower has not carried")
	}
	for n := 1; n > 0; {
		n, _ = f.step(t.Context())
	}
	if n := tended(62); n != 20 || first() < 22 {
		t.Errorf("%d readings, the first entry is %d", n, first())
	}
	w.journal.Keep(snapshotName, w.seq, []byte("a state that can't be read")) // so the entries must do
	w.journal.Append(journal.Entry{At: w.engine.Now(), Body: []byte("{damaged")})
	w.commit()
	w.journal.Close()
	v := watch(t, dir).engine.View()
	if len(v.Lots) != 1 || v.Lots[0].Document.ID != again.ID || v.Sensors[1].Readings != 20 {
		t.Errorf("recovered %d lots, %d readings", len(v.Lots), v.Sensors[1].Readings)
	}
}
