package daemon

import (
	"bytes"
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/alerts/notify"
	"conditiond/daemon/engine"
	"conditiond/daemon/journal"
	"conditiond/daemon/mqtt"
	"conditiond/model"
)

// once is a journal of an earlier life: a lot with a gauge, and three readings.
func once(t *testing.T, dir string) (at time.Time) {
	t.Helper()
	w := watch(t, dir)
	at = w.hand.Now()
	w.feed(engine.Input{At: at, Start: &engine.Start{}})
	w.feed(engine.Input{At: at, Open: &engine.Open{Lot: gauged(at.Add(-5 * 24 * time.Hour))}})
	for range 3 {
		w.say("t/gauge", "3.9")
		w.hear(<-w.messages)
	}
	if err := w.finish(); err != nil {
		t.Fatal(err)
	}
	w.journal.Close()
	return w.hand.Now()
}

// again is a daemon that starts on such a folder, without broker and page.
type again struct {
	*watched
	daemon *Daemon
	told   chan alerts.Message
	log    *bytes.Buffer
}

func startedOn(t *testing.T, c Journal, at time.Time) again {
	t.Helper()
	conf := defaults()
	conf.Journal = c
	conf.Sensors = map[string]Sensor{
		"air":   {Topic: "t/air", Quantity: model.Temperature, Unit: "degC", Interval: time.Minute, Calibration: Calibration{Scale: 1}},
		"gauge": {Topic: "t/gauge", Quantity: model.Pressure, Unit: "bar", Reference: "gauge", FullScale: 10, Interval: time.Minute, Calibration: Calibration{Scale: 1}}}
	conf.Spaces = map[string]Space{"shelf": {Temperature: "air"}}
	conf.Notify = []notify.Config{{Name: "brewer", Least: alerts.Warning}}
	a := again{told: make(chan alerts.Message, 100), log: new(bytes.Buffer)}
	d, err := open(t.Context(), &conf, handAt(at), journal.OpenAnyway, textTo(a.log))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.journal.Close() })
	d.link = still{}
	d.side = []*teller{{name: "brewer", zone: time.UTC, pace: d.pace, log: quiet(), refused: new(aside),
		to: recipient(func(m alerts.Message) error { a.told <- m; return nil })}}
	a.daemon = d
	a.watched = &watched{loop: d.loop, messages: make(chan arrival, 100), commands: d.requests, hand: d.pace}
	d.loop.messages = a.messages
	return a
}

// still is a broker's link over which nothing comes.
type still struct{ link }

func (still) State() mqtt.State { return mqtt.State{Connected: true, Since: time.Now()} }

// The disk is full, or read-only, from the first second: the lots are known, the
// danger reaches the recipient, the page says what is wrong, and nothing is
// acknowledged. When the disk is back all of it is kept without a restart.
func TestStartWithoutTheDisk(t *testing.T) {
	for name, fault := range map[string]struct{ lose, back func(dir string) error }{
		"full": {
			func(dir string) error { fill(t, filepath.Join(dir, "stuffing")); return nil },
			func(dir string) error { return os.Remove(filepath.Join(dir, "stuffing")) }},
		"read-only": {
			func(dir string) error { return exec.Command("mount", "-o", "remount,ro", dir).Run() },
			func(dir string) error { return exec.Command("mount", "-o", "remount,rw", dir).Run() }},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=2m"); err != nil {
				t.Skip("did without a small disk of its own: ", err)
			}
			defer syscall.Unmount(dir, syscall.MNT_DETACH)
			at := once(t, dir)
			if err := fault.lose(dir); err != nil {
				t.Fatal(err)
			}
			a := startedOn(t, Journal{Dir: dir, Pause: time.Millisecond}, at.Add(time.Minute))
			ctx, stop := context.WithCancel(t.Context())
			ended := make(chan error, 1)
			go func() { ended <- a.run(ctx) }()
			for range 3 {
				a.say("t/gauge", "4.5")
			}
			if m := a.notice(t); m.Alert != alerts.OverPressure || m.Severity != alerts.Danger {
				t.Errorf("told %+v", m)
			}
			awaited(t, "the page says it", func() bool { return !a.daemon.journalPart().OK })
			if n, _ := a.counts(); n != 0 {
				t.Errorf("%d messages were acknowledged that are kept nowhere", n)
			}
			if got := looked(&self{d: a.daemon}); got["journal"].Problem == "" {
				t.Errorf("nobody is told of the journal: %v", got)
			}
			if err := fault.back(dir); err != nil {
				t.Fatal(err)
			}
			awaited(t, "all is acknowledged", func() bool { n, _ := a.counts(); return n == 3 })
			stop()
			if err := <-ended; err != nil {
				t.Error(err)
			}
			list, err := a.journal.Readings(t.Context(), journal.Query{Series: "pressure/gauge"})
			if err != nil || len(list) != 6 {
				t.Errorf("%d readings are kept, want 6 (%v)", len(list), err)
			}
		})
	}
}

// A journal that can't be read is none: the watch says so, and starts anew when
// it can, for the lots in it aren't known.
func TestStartWithAnUnreadableJournal(t *testing.T) {
	dir := t.TempDir()
	at := once(t, dir)
	path := filepath.Join(dir, "journal.db")
	if err := errors.Join(os.Rename(path, path+".hidden"), os.Mkdir(path, 0o700)); err != nil { // reading it fails
		t.Fatal(err)
	}
	a := startedOn(t, Journal{Dir: dir, Pause: time.Millisecond}, at)
	ended := make(chan error, 1)
	go func() { ended <- a.run(t.Context()) }()
	awaited(t, "the page says it", func() bool { return strings.Contains(a.daemon.journalPart().Problem, path) })
	if err := errors.Join(os.Remove(path), os.Rename(path+".hidden", path)); err != nil {
		t.Fatal(err)
	}
	if err := <-ended; !errors.Is(err, journal.ErrOther) {
		t.Errorf("it ended with %v", err)
	}
	a.journal.Close()
	if b := startedOn(t, Journal{Dir: dir}, at); len(b.engine.View().Lots) != 1 {
		t.Error("the lot isn't known again")
	}
}

// A journal that is beyond use: the newest sound copy takes its place, and from
// when until when something is missing stands on the page, in the log, in what
// people are told, and in the journal.
func TestStartFromTheLastBackup(t *testing.T) {
	dir, copies := t.TempDir(), t.TempDir()
	at := once(t, dir)
	sound := filepath.Join(copies, "conditiond-2031-03-01.db")
	if err := journal.BackupDir(t.Context(), dir, sound); err != nil {
		t.Fatal(err)
	}
	newer := filepath.Join(copies, "conditiond-2031-03-02.db")
	path := filepath.Join(dir, "journal.db")
	for _, name := range []string{newer, path} {
		if err := os.WriteFile(name, []byte("damaged"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	hour := time.Hour
	if err := errors.Join(os.Chtimes(sound, at, at), os.Chtimes(newer, at.Add(hour), at.Add(hour))); err != nil {
		t.Fatal(err)
	}
	a := startedOn(t, Journal{Dir: dir, Backups: copies}, at.Add(26*hour))
	if v := a.engine.View(); len(v.Lots) != 1 || v.Sensors[1].Readings != 3 {
		t.Fatalf("%d lots, %d readings", len(v.Lots), v.Sensors[1].Readings)
	}
	said := a.daemon.journalPart().Problem
	for _, want := range []string{path + ".aside-", sound, at.Format("2006-01-02 15:04 UTC") + " until this start"} {
		if !strings.Contains(said, want) {
			t.Errorf("the page says %q, without %q", said, want)
		}
	}
	if got := looked(&self{d: a.daemon})["journal"]; got.Problem != said {
		t.Errorf("people are told %q", got.Problem)
	}
	if !strings.Contains(a.log.String(), sound) {
		t.Errorf("the log says %s", a.log)
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if err := a.run(ctx); err != nil {
		t.Fatal(err)
	}
	entries, err := a.journal.After(t.Context(), 0, 1000)
	if err != nil || !slices.ContainsFunc(recallAll(entries, quiet()), func(en engine.Entry) bool { return en.Start != nil && en.Start.Lost == said }) {
		t.Errorf("the journal says nothing of it (%v)", err)
	}
	if files, _ := filepath.Glob(path + ".aside-*"); len(files) != 1 {
		t.Errorf("the damaged one is kept as %v", files)
	}
}

// notice waits for the next thing that people are told.
func (a again) notice(t *testing.T) alerts.Message {
	t.Helper()
	select {
	case m := <-a.told:
		return m
	case <-time.After(10 * time.Second):
		t.Fatal("nobody is told anything")
		return alerts.Message{}
	}
}
