package daemon

import (
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/intake"
	"conditiond/daemon/mqtt"
)

// timed is a watched loop by a clock that says what the test wants.
type timed struct {
	*watched
	wall time.Time
	set  bool // the kernel says so
	said int
}

func timedBy(t *testing.T, known, wall time.Time) *timed {
	w := watch(t, t.TempDir())
	w.pace = Pace{clock: watchClock(known, quiet())}
	w.pace.clock.told, w.pace.clock.since = laterOf(known, wall), known
	return &timed{watched: w, wall: wall, set: true}
}

// pass lets time go by and says the instant that it then is.
func (w *timed) pass(d time.Duration) time.Time {
	w.wall = w.wall.Add(d)
	return w.pace.clock.look(w.wall, d, w.set)
}

// say what both sensors measure, d after the last word.
func (w *timed) say(d time.Duration, gauge string) {
	at := w.pass(d)
	for topic, v := range map[string]string{"t/air": "20.1", "t/gauge": gauge} {
		w.said++
		at = at.Add(time.Nanosecond)
		w.hear(arrival{at, w.pace.clock.moved, mqtt.Delivery{Message: intake.Message{Topic: topic, Payload: []byte(v)}, Done: func() {}}})
	}
}

// begun has a lot with a gauge.
func (w *timed) begun() {
	at := w.pass(0)
	w.feed(engine.Input{At: at, Start: &engine.Start{}})
	w.feed(engine.Input{At: at, Open: &engine.Open{Lot: gauged(at.Add(-5 * 24 * time.Hour))}})
}

func (w *timed) allKept(t *testing.T) {
	t.Helper()
	v := w.engine.View()
	if n := v.Sensors[0].Readings + v.Sensors[1].Readings; n != int64(w.said) {
		t.Errorf("%d of %d readings were kept", n, w.said)
	}
}

// A31: a clock that goes nine hours back, as on a machine that starts again
// without a network. What comes is taken in its order: a danger is seen and told
// once, nothing falls, nobody is called silent, and all of it is kept.
func TestCaseClockThatIsBehind(t *testing.T) {
	at := time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC)
	w := timedBy(t, at, at)
	w.begun()
	for range 10 {
		w.say(time.Minute, "1.5")
	}
	w.wall = w.wall.Add(-9 * time.Hour)
	for range 5 {
		w.say(time.Minute, "4.5")
	}
	if problem, since := w.pace.clock.problem(); problem == "" || !since.Equal(at.Add(11*time.Minute)) {
		t.Errorf("it says %q since %v", problem, since)
	}
	v := w.engine.View()
	if len(v.Alerts) != 1 || v.Alerts[0].Severity != alerts.Danger {
		t.Fatalf("behind its time it says %+v", v.Alerts)
	}
	if !v.Time.Before(at.Add(16*time.Minute)) || v.Time.Before(at.Add(15*time.Minute)) {
		t.Errorf("after a quarter of an hour it is %v", v.Time)
	}
	w.wall = w.wall.Add(9 * time.Hour) // the clock is right again
	for range 65 {
		w.say(time.Minute, "4.5")
	}
	v = w.engine.View()
	if len(v.Recent) != 1 {
		t.Errorf("it told of %+v", v.Recent)
	}
	if problem, _ := w.pace.clock.problem(); problem != "" {
		t.Errorf("right again it says %q", problem)
	}
	w.allKept(t)
	if e := v.Lots[0].Estimate; e.GaugeBar == nil || *e.GaugeBar < 4 {
		t.Errorf("the estimate goes by %v bar", e.GaugeBar)
	}
}

// A machine without a clock of its own starts in 1970, or where it was shut
// down, and jumps when the network tells it the time: nobody is called silent
// for the time in between, nothing is dated 1970, a silence after that is told.
func TestClockThatJumpsAhead(t *testing.T) {
	right := time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC)
	yesterday := right.Add(-26 * time.Hour)
	for name, x := range map[string]struct{ known, wall time.Time }{
		"from 1970":                      {yesterday, time.Unix(8, 0).UTC()},
		"from 1970, with nothing known":  {time.Time{}, time.Unix(8, 0).UTC()},
		"from where it was shut down":    {yesterday, yesterday},
		"from where it was, a bit early": {yesterday, yesterday.Add(-5 * time.Second)},
	} {
		t.Run(name, func(t *testing.T) {
			w := timedBy(t, laterOf(x.known, written()), x.wall)
			w.begun()
			for range 20 {
				w.say(5*time.Second, "1.5")
			}
			w.wall = right
			for range 20 {
				w.say(time.Minute, "1.5")
			}
			v := w.engine.View()
			if len(v.Recent) != 0 {
				t.Errorf("it told of %+v", v.Recent)
			}
			if !v.Time.After(right) || v.Time.After(right.Add(21*time.Minute)) {
				t.Errorf("it is %v", v.Time)
			}
			w.allKept(t)
			w.ticks(w.pass(2 * time.Hour))
			if v = w.engine.View(); len(v.Recent) != 2 || v.Recent[0].Name != alerts.SensorSilent {
				t.Errorf("after two silent hours it told of %+v", v.Recent)
			}
		})
	}
}

// Time never goes back, a minute counts as a minute while the clock is behind,
// and a small correction makes it stand still at most.
func TestTimeNeverGoesBack(t *testing.T) {
	noon := time.Date(2031, 3, 1, 12, 0, 0, 0, time.UTC)
	c := watchClock(noon.Add(-time.Hour), quiet())
	c.told = noon
	for i, x := range []struct{ wall, passed, want time.Duration }{
		{time.Second, time.Second, time.Second},
		{-20 * time.Second, time.Second, time.Second},         // set back a little: it stands
		{5 * time.Second, 25 * time.Second, 5 * time.Second},  // and has caught up
		{-2 * time.Hour, time.Second, 6 * time.Second},        // set back much: it goes on
		{-119 * time.Minute, time.Minute, 66 * time.Second},   // …
		{67 * time.Second, time.Second, 67 * time.Second},     // right again
		{26 * time.Hour, time.Second, 26 * time.Hour},         // ahead
		{26*time.Hour + 1, time.Nanosecond, 26*time.Hour + 1}, // …
	} {
		if got := c.look(noon.Add(x.wall), x.passed, true).Sub(noon); got != x.want {
			t.Errorf("%d: %v after noon, want %v", i, got, x.want)
		}
	}
	if c.jumped(noon) || !c.jumped(noon.Add(27*time.Hour)) || c.jumped(noon.Add(28*time.Hour)) {
		t.Error("the jump isn't told once, to whoever came there")
	}
}

// The real clock is told as it is.
func TestClockTellsTheTime(t *testing.T) {
	c := watchClock(time.Time{}, quiet())
	before := time.Now()
	if got := c.now(); got.Before(wall(before)) || got.After(time.Now()) || got != got.Round(0) {
		t.Errorf("it says %v at %v", got, before) // without a monotonic reading, which would not survive the journal
	}
	if problem, _ := c.problem(); problem != "" {
		t.Errorf("problem %q", problem)
	}
	// A journal from the future: time goes on from there.
	c = watchClock(before.Add(24*time.Hour), quiet())
	if got := c.now(); got.Before(before.Add(24 * time.Hour)) {
		t.Errorf("it says %v, and the journal knows %v", got, before.Add(24*time.Hour))
	}
	if problem, _ := c.problem(); problem == "" {
		t.Error("nobody is told")
	}
}
