package daemon

import (
	"context"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/intake"
	"conditiond/daemon/journal"
	"conditiond/daemon/mqtt"
	"conditiond/model"
)

// watched is a loop over a journal in a folder, with one lot that has a gauge.
type watched struct {
	*loop
	messages chan arrival
	commands chan request
	hand     Pace

	mu      sync.Mutex
	acked   int
	noticed []alerts.Message
}

func watch(t *testing.T, dir string) *watched {
	t.Helper()
	return watchOf(t, dir,
		Sensor{Topic: "t/air", Quantity: model.Temperature, Unit: "degC", Interval: time.Minute, Calibration: Calibration{Scale: 1}},
		Sensor{Topic: "t/gauge", Quantity: model.Pressure, Unit: "bar", Reference: "gauge", FullScale: 10, Interval: time.Minute, Calibration: Calibration{Scale: 1}})
}

func watchOf(t *testing.T, dir string, air, gauge Sensor) *watched {
	t.Helper()
	c := defaults()
	c.Sensors = map[string]Sensor{"air": air, "gauge": gauge}
	c.Spaces = map[string]Space{"shelf": {Temperature: "air"}}
	conf := closet(&c, time.Hour)
	conf.Recipients = []alerts.Recipient{{Name: "brewer", Least: alerts.Warning}}
	e, err := engine.New(conf)
	if err != nil {
		t.Fatal(err)
	}
	j, err := journal.Open(dir, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { j.Close() })
	if _, err := recoverEngine(t.Context(), e, j, quiet()); err != nil {
		t.Fatal(err)
	}
	w := &watched{messages: make(chan arrival, 100), commands: make(chan request), hand: handAt(time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC))}
	w.loop = &loop{engine: e, journal: j, pace: w.hand, pause: time.Millisecond, messages: w.messages, requests: w.commands,
		board: newBoard(), log: slog.New(slog.DiscardHandler), seq: j.Last(), bypass: func(list []alerts.Message) {
			w.mu.Lock()
			defer w.mu.Unlock()
			w.noticed = append(w.noticed, list...)
		}}
	return w
}

func (w *watched) say(topic, payload string) {
	w.hand.move(w.hand.Now().Add(time.Second))
	w.messages <- arrival{w.hand.Now(), 0, mqtt.Delivery{Message: intake.Message{Topic: topic, Payload: []byte(payload), ID: 1}, Done: func() {
		w.mu.Lock()
		defer w.mu.Unlock()
		w.acked++
	}}}
}

func (w *watched) counts() (acked, noticed int) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.acked, len(w.noticed)
}

func (w *watched) open(t *testing.T, l model.Lot) {
	t.Helper()
	answer := make(chan error, 1)
	w.commands <- request{engine.Input{Open: &engine.Open{Lot: l}}, answer}
	if err := <-answer; err != nil {
		t.Fatal(err)
	}
}

func awaited(t *testing.T, what string, holds func() bool) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); !holds(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("waited in vain: ", what)
		}
	}
}

// gauged is an invented lot whose bottles are rated 4 bar.
func gauged(at time.Time) model.Lot {
	return model.Lot{ID: "invented-ale", Name: "Invented ale", Space: "shelf", PackagedAt: at, Yeast: model.Ale,
		Beer: model.Beer{VolumeL: 19, OriginalGravity: 1.05, FinalGravity: 1.012, WarmestC: 20}, TargetVolumes: 2.4,
		Priming:     []model.Priming{{Sugar: model.Sucrose, MassG: 115}},
		Bottles:     []model.Bottles{{Kind: model.StandardGlass, VolumeML: 330, HeadspaceML: 14, Count: 57, RatedBar: 4}},
		GaugeBottle: &model.GaugeBottle{Sensor: "gauge", VolumeML: 330, HeadspaceML: 14}, WorstCaseC: 30}
}

// TestDangerPathWithoutTheDisk fills the disk under the journal, or lets its
// file system go read-only by an error: the danger still reaches the recipient,
// nothing is acknowledged to the broker, the page says what is wrong, and the
// loop doesn't spin. When there is room again all of it is kept and
// acknowledged.
func TestDangerPathWithoutTheDisk(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("did without a small disk of its own: mounting needs root")
	}
	t.Run("full", func(t *testing.T) {
		dir := t.TempDir()
		if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=2m"); err != nil {
			t.Skip("did without a small disk of its own: ", err)
		}
		defer syscall.Unmount(dir, syscall.MNT_DETACH)
		stuffing := filepath.Join(dir, "stuffing")
		w := watch(t, filepath.Join(dir, "journal"))
		end := w.dangerWithout(t, func() { fill(t, stuffing) })

		if err := os.Remove(stuffing); err != nil {
			t.Fatal(err)
		}
		awaited(t, "all is acknowledged", func() bool { n, _ := w.counts(); return n == 3 })
		if err := end(); err != nil {
			t.Error(err)
		}
		list, err := w.journal.Readings(t.Context(), journal.Query{Series: "pressure/gauge", Limit: 10})
		if err != nil || len(list) != 3 {
			t.Errorf("%d readings are kept, want 3 (%v)", len(list), err)
		}
	})
	t.Run("read-only", func(t *testing.T) {
		dir := abortable(t)
		w := watch(t, filepath.Join(dir, "journal"))
		end := w.dangerWithout(t, func() {
			if out, err := exec.Command("mount", "-o", "remount,abort", dir).CombinedOutput(); err != nil {
				t.Skipf("did without a disk that fails: %v %s", err, out)
			}
		})
		before := ownCPU(t)
		time.Sleep(time.Second) // of the loop's, by the clock
		if used := ownCPU(t) - before; used > 500*time.Millisecond {
			t.Errorf("it spins: %v of CPU in a second", used)
		}
		if err := end(); err == nil {
			t.Error("it ended as if all were written")
		}
	})
}

// dangerWithout takes the disk away and says an over-pressure; it returns how to
// end the loop.
func (w *watched) dangerWithout(t *testing.T, lose func()) (end func() error) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- w.run(ctx) }()
	end = func() error { stop(); return <-ended }
	w.open(t, gauged(w.hand.Now()))
	lose()
	for range 3 {
		w.say("t/gauge", "4.5")
	}
	awaited(t, "the danger leaves by the side door", func() bool { _, n := w.counts(); return n > 0 })
	if m := w.noticed[0]; m.Alert != alerts.OverPressure || m.Severity != alerts.Danger {
		t.Errorf("told %+v", m)
	}
	awaited(t, "the page knows", func() bool { _, _, trouble := w.board.look(); return trouble != nil })
	if acked, _ := w.counts(); acked != 0 {
		t.Errorf("%d messages were acknowledged that are kept nowhere", acked)
	}
	return end
}

// abortable is an ext4 file system in a file, which an error would make
// read-only.
func abortable(t *testing.T) string {
	t.Helper()
	image, dir := filepath.Join(t.TempDir(), "image"), t.TempDir()
	for _, c := range []*exec.Cmd{exec.Command("truncate", "-s", "24M", image), exec.Command("mkfs.ext4", "-q", "-F", image),
		exec.Command("mount", "-o", "loop,errors=remount-ro", image, dir)} {
		if out, err := c.CombinedOutput(); err != nil {
			t.Skipf("did without a disk that fails: %s: %v %s", c.Args[0], err, out)
		}
	}
	t.Cleanup(func() { exec.Command("umount", "-l", dir).Run() })
	return dir
}

// ownCPU that this process has used.
func ownCPU(t *testing.T) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// fill a disk to its last byte.
func fill(t *testing.T, path string) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, size := range []int{1 << 16, 1 << 10, 1} {
		for b := make([]byte, size); err == nil; {
			_, err = f.Write(b)
		}
		err = nil
	}
}

// Whoever is answered looks at once, and must see what was done.
func TestTheAnswerComesAfterTheView(t *testing.T) {
	l := watch(t, t.TempDir()).loop
	l.serve(request{engine.Input{Open: &engine.Open{Lot: gauged(l.now())}}, make(chan error, 1)})
	lots := -1
	l.group.answers = append(l.group.answers, func(error) {
		v, _, _ := l.board.look()
		lots = len(v.Lots)
	})
	if l.commit(); lots != 1 {
		t.Errorf("when the answer came there were %d lots in sight, not the one that was opened", lots)
	}
}

// TestRestartGoesOn stops a loop and starts another on the same journal: the
// lot, its alert and its readings are there.
func TestRestartGoesOn(t *testing.T) {
	dir := t.TempDir()
	first := watch(t, dir)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- first.run(ctx) }()
	first.open(t, gauged(first.hand.Now()))
	for range 3 {
		first.say("t/gauge", "4.5")
	}
	awaited(t, "they are acknowledged", func() bool { n, _ := first.counts(); return n == 3 })
	stop()
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
	first.journal.Close()

	second := watch(t, dir)
	v := second.engine.View()
	if len(v.Lots) != 1 || len(v.Alerts) != 1 || v.Alerts[0].Name != alerts.OverPressure || v.Sensors[1].Readings != 3 {
		t.Errorf("after the restart: %d lots, alerts %+v, %d readings", len(v.Lots), v.Alerts, v.Sensors[1].Readings)
	}
}

// TestABugLosesOneInput: an input that makes the engine panic is kept as
// rejected, and the next goes on.
func TestABugLosesOneInput(t *testing.T) {
	w := watch(t, t.TempDir())
	w.feed(engine.Input{At: w.hand.Now(), Start: &engine.Start{}})
	whole := w.engine
	w.engine = nil // a bug if ever there was one
	en, err := w.step(engine.Input{At: w.hand.Now(), Message: &intake.Message{Topic: "t/air"}})
	if err != nil || len(en.Rejected) != 1 || en.Rejected[0].Topic != "t/air" {
		t.Errorf("rejected %+v (%v)", en.Rejected, err)
	}
	w.engine = whole
	if err := w.feed(engine.Input{At: w.hand.Now(), Tick: true}); err != nil {
		t.Error(err)
	}
}
