//go:build endurance

package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"runtime"
	"strings"
	"testing"
	"time"

	"conditiond/daemon/engine"
	"conditiond/daemon/intake"
	"conditiond/daemon/journal"
	"conditiond/model"
)

// card is a loop over ten sensors and five lots, driven by hand: a minute of a
// home in microseconds.
//
//	go test -tags endurance -run 'TestADay|TestThirtyDays' -v -timeout 30m ./daemon
func card(t *testing.T) *loop {
	t.Helper()
	c := defaults()
	c.Sensors, c.Spaces = map[string]Sensor{}, map[string]Space{}
	for i := range 5 {
		air, gauge := fmt.Sprintf("air-%d", i), fmt.Sprintf("gauge-%d", i)
		c.Sensors[air] = Sensor{Topic: "home/" + air, Quantity: model.Temperature, Unit: "degC", Interval: time.Minute, Calibration: Calibration{Scale: 1}}
		c.Sensors[gauge] = Sensor{Topic: "home/" + gauge, Quantity: model.Pressure, Unit: "bar", Reference: "gauge", FullScale: 10, Interval: time.Minute, Calibration: Calibration{Scale: 1}}
		c.Spaces[fmt.Sprintf("space-%d", i)] = Space{Temperature: air}
	}
	e, err := engine.New(closet(&c, time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	dir, err := os.MkdirTemp(".", "card-") // on a disk, not in memory
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	j, err := journal.Open(dir, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { j.Close() })
	l := &loop{engine: e, journal: j, pace: handAt(enduranceStart), board: newBoard(), log: slog.New(slog.DiscardHandler)}
	l.feed(engine.Input{At: enduranceStart, Start: &engine.Start{}})
	for i := range 5 {
		lot := gauged(enduranceStart)
		lot.ID, lot.Space, lot.GaugeBottle.Sensor = fmt.Sprintf("lot-%d", i), fmt.Sprintf("space-%d", i), fmt.Sprintf("gauge-%d", i)
		if err := l.feed(engine.Input{At: enduranceStart, Open: &engine.Open{Lot: lot}}); err != nil {
			t.Fatal(err)
		}
	}
	return l
}

var enduranceStart = time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC)

// live lets time go by with ten readings a minute, made durable every `pause`.
func (l *loop) live(days float64, pause time.Duration) {
	end := l.engine.Now().Add(time.Duration(days * 24 * float64(time.Hour)))
	last := l.engine.Now()
	for at := last; at.Before(end); at = at.Add(6 * time.Second) { // ten sensors, evenly
		l.pace.move(at)
		l.ticks(at)
		n := int(at.Unix()/6) % 10
		day := at.Sub(enduranceStart).Hours() / 24
		topic, value := fmt.Sprintf("home/air-%d", n/2), 20+0.3*float64(at.Unix()%7)
		if n%2 == 1 {
			topic, value = fmt.Sprintf("home/gauge-%d", n/2), 0.6+min(1.6, day*0.2)+0.002*float64(at.Unix()%5)
		}
		l.feed(engine.Input{At: at, Stamped: at, Message: &intake.Message{Topic: topic, Payload: fmt.Appendf(nil, "%.3f", value), ID: uint16(at.Unix())}})
		if at.Sub(last) >= pause {
			l.commit()
			last = at
		}
	}
	l.commit()
}

func onDisk(t *testing.T) int64 {
	t.Helper()
	b, err := os.ReadFile("/proc/self/io")
	if err != nil {
		t.Skip("did without the kernel's account of what is written: ", err)
	}
	for line := range strings.Lines(string(b)) {
		var n int64
		if _, err := fmt.Sscanf(line, "write_bytes: %d", &n); err == nil {
			return n
		}
	}
	return 0
}

// TestADayOnTheCard: ten sensors a minute write at most 60 MB a day.
func TestADayOnTheCard(t *testing.T) {
	l := card(t)
	before := onDisk(t)
	l.live(1, 15*time.Second)
	mb := float64(onDisk(t)-before) / 1e6
	t.Logf("a day of ten sensors a minute, committed every 15 s: %.1f MB written", mb)
	if mb > 60 {
		t.Error("more than 60 MB")
	}
	if mb == 0 {
		t.Error("nothing: is this folder in memory?")
	}
}

// TestThirtyDays: memory, goroutines and open files stay where they are.
func TestThirtyDays(t *testing.T) {
	l := card(t)
	follower := &Follower{Name: "nowhere", Journal: l.journal, Deliver: func(context.Context, []journal.Entry) error { return nil }, Log: l.log}
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	go follower.Run(ctx)
	l.live(3, 5*time.Minute)
	memory, goroutines, files := standing(t)
	for week := range 4 {
		l.live(27.0/4, 5*time.Minute)
		m, g, f := standing(t)
		t.Logf("after %.0f days: %.1f MiB of heap, %d goroutines, %d open files", 3+float64(week+1)*27/4, m, g, f)
	}
	m, g, f := standing(t)
	if m > memory*1.5+2 || g > goroutines+2 || f > files+2 {
		t.Errorf("from %.1f MiB, %d goroutines, %d files to %.1f MiB, %d, %d", memory, goroutines, files, m, g, f)
	}
}

func standing(t *testing.T) (heap float64, goroutines, files int) {
	t.Helper()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	open, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Fatal(err)
	}
	return float64(m.HeapAlloc) / (1 << 20), runtime.NumGoroutine(), len(open)
}
