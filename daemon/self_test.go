package daemon

import (
	"errors"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/alerts/notify"
	"conditiond/daemon/engine"
	"conditiond/daemon/mqtt"
)

// looked is what the watch finds of itself now, by name.
func looked(s *self) map[string]alerts.Part {
	out := map[string]alerts.Part{}
	for _, p := range append(s.d.impaired(), s.lost()...) {
		out[p.Name] = p
	}
	return out
}

// Points that InfluxDB refuses are told of once, not each: the part stands for a
// day after the last, says no number that would change, and ends then.
func TestRefusedPointsAreTold(t *testing.T) {
	d := ailing(t, mqtt.State{Connected: true, Since: time.Now()})
	at := d.pace.Now()
	n, reason := int64(0), ""
	d.add("influxdb", false, nil).Aside = func() (int64, string) { return n, reason }
	s := &self{d: d}
	if got := looked(s); len(got) > 0 {
		t.Errorf("well, and it says %v", got)
	}
	n, reason = 1, "reading at 14:00: field type\nconflict, "+strings.Repeat("x", 1000)
	first := looked(s)["refused by influxdb"]
	if !strings.Contains(first.Problem, "field type conflict") || len(first.Problem) > 240 || !first.Spare {
		t.Errorf("it says %+v", first)
	}
	for range 20 { // hours in which one more is refused each
		at = at.Add(time.Hour)
		d.pace.move(at)
		n++
		if got := looked(s)["refused by influxdb"]; got != first {
			t.Errorf("it says something else now: %+v", got)
		}
	}
	d.pace.move(at.Add(23 * time.Hour))
	if len(looked(s)) != 1 {
		t.Error("it is over within a day")
	}
	d.pace.move(at.Add(25 * time.Hour))
	if got := looked(s); len(got) > 0 {
		t.Errorf("a day after the last: %v", got)
	}
}

// A loss reaches people as one notice, and one more when it is over.
func TestLossIsToldOnce(t *testing.T) {
	f := begin(t, false)
	part := []alerts.Part{{Name: "refused by influxdb", Problem: "something was left out", Spare: true}}
	f.feed(engine.Input{At: f.hand.Now(), Parts: &part})
	until := func(after time.Duration) {
		for end := f.hand.Now().Add(after); !f.engine.Next().After(end); {
			f.feed(engine.Input{At: f.engine.Next(), Tick: true})
		}
		f.hand.move(f.hand.Now().Add(after))
	}
	until(23 * time.Hour)
	f.feed(engine.Input{At: f.hand.Now(), Parts: new([]alerts.Part)})
	until(48 * time.Hour)
	f.commit()
	list, err := f.journal.After(t.Context(), 0, 10000)
	if err != nil {
		t.Fatal(err)
	}
	var told []string
	for _, en := range recallAll(list, quiet()) {
		for _, m := range en.Messages {
			if m.Alert == alerts.WatchImpaired {
				told = append(told, string(m.State))
			}
		}
	}
	if !slices.Equal(told, []string{"raised", "cleared"}) {
		t.Errorf("told %q", told)
	}
}

// Every part that can fail is told of, not only shown.
func TestEveryPartIsTold(t *testing.T) {
	well := mqtt.State{Connected: true, Since: time.Now()}
	for name, x := range map[string]struct {
		state mqtt.State
		ail   func(d *Daemon)
		says  string
	}{
		"broker":                  {mqtt.State{Problem: "no broker listens"}, func(*Daemon) {}, "no broker listens"},
		"lost in a flood":         {mqtt.State{Connected: true, Since: time.Now(), Lost: 7}, func(*Daemon) {}, "QoS 1"},
		"journal":                 {well, func(d *Daemon) { d.board.show(d.View(), errors.New("disk is full")) }, "disk is full"},
		"notify phone":            {well, func(d *Daemon) { d.add("notify phone", true, nil).failed(errors.New("no route")) }, "no route"},
		"refused by notify phone": {well, func(d *Daemon) { d.add("notify phone", true, nil).Aside = func() (int64, string) { return 1, "404" } }, "404"},
	} {
		d := ailing(t, x.state)
		x.ail(d)
		got := looked(&self{d: d})
		if len(got) != 1 || !strings.Contains(got[name].Problem, x.says) {
			t.Errorf("%s: it says %+v", name, got)
		}
	}
}

// A journal that is damaged is told of after the nightly check.
func TestUnsoundJournalIsTold(t *testing.T) {
	d := ailing(t, mqtt.State{Connected: true, Since: time.Now()})
	d.config.Journal.Dir = t.TempDir()
	d.tend(t.Context())
	if got := looked(&self{d: d}); len(got) > 0 {
		t.Fatalf("sound, and it says %v", got)
	}
	damage(t, d)
	d.tend(t.Context())
	if got := looked(&self{d: d})["journal"]; !strings.Contains(got.Problem, "restore a backup") {
		t.Errorf("it says %+v", got)
	}
}

// damage the journal's file in the middle, under the open daemon.
func damage(t *testing.T, d *Daemon) {
	t.Helper()
	for i := range 2000 {
		d.loop.feed(engine.Input{At: d.pace.Now().Add(time.Duration(i) * time.Second), Start: &engine.Start{Version: strings.Repeat("x", 100)}})
	}
	d.loop.commit()
	for _, path := range []string{d.journal.Path, d.journal.Path + "-wal"} {
		info, err := os.Stat(path)
		if err != nil {
			continue
		}
		f, err := os.OpenFile(path, os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.WriteAt([]byte(strings.Repeat("damage", 1000)), info.Size()/2); err != nil {
			t.Fatal(err)
		}
		f.Close()
	}
}

// A loop that stands still can't say it: everybody is told without it, once for
// each time.
func TestStandstillIsTold(t *testing.T) {
	d := ailing(t, mqtt.State{Connected: true, Since: time.Now()})
	told := make(chan alerts.Message, 10)
	for _, name := range []string{"brewer", "phone"} {
		least := alerts.Warning
		if name == "phone" {
			least = alerts.Danger
		}
		d.config.Notify = append(d.config.Notify, notify.Config{Name: name, Least: least})
		d.side = append(d.side, &teller{name: name, zone: time.UTC, pace: d.pace, log: quiet(), refused: new(aside),
			to: recipient(func(m alerts.Message) error { told <- m; return nil })})
	}
	s := &self{d: d}
	d.loop.turn.Store(new(time.Now().Add(-3 * time.Minute)))
	for range 5 {
		s.look(t.Context())
	}
	m := <-told
	if m.Alert != alerts.WatchImpaired || m.Sensor != "watch" || !strings.Contains(m.Summary, "stands still") || m.ID == "" {
		t.Errorf("told %+v", m)
	}
	d.loop.turn.Store(new(time.Now().Add(-5 * time.Minute)))
	s.look(t.Context())
	if again := <-told; again.ID == m.ID {
		t.Error("another standstill has the same id")
	}
	select {
	case m := <-told:
		t.Errorf("told too often: %+v", m)
	default:
	}
}
