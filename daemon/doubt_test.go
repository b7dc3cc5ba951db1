package daemon

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/journal"
	"conditiond/model/estimate"
)

// right is when the machine of these tests is started, by a right clock.
func right() time.Time { return time.Date(2031, 3, 4, 14, 0, 0, 0, time.UTC) }

// started is a machine that was started just now, in a folder, by a clock that
// says wall.
func started(t *testing.T, dir string, wall time.Time, set bool) *timed {
	t.Helper()
	w := &timed{watched: watch(t, dir), wall: wall, set: set}
	w.pace = Pace{clock: watchClock(w.engine.Now(), quiet())}
	w.pace.clock.told = laterOf(w.engine.Now(), wall)
	w.again(t, "start "+wall.String(), 0)
	return w
}

// again is a start of the program, up after the machine's.
func (w *timed) again(t *testing.T, boot string, up time.Duration) {
	t.Helper()
	if err := w.doubtClock(t.Context(), boot, w.set, up); err != nil {
		t.Fatal(err)
	}
	w.feed(engine.Input{At: w.settled(w.pass(0), w.pace.clock.moved), Start: &engine.Start{}})
}

// filled leaves a journal with a lot that is five days old, three days before.
func filled(t *testing.T, dir string) {
	t.Helper()
	w := started(t, dir, right().Add(-72*time.Hour-time.Hour), true)
	w.feed(engine.Input{At: w.pass(0), Open: &engine.Open{Lot: gauged(w.wall.Add(-5 * 24 * time.Hour))}})
	for range 60 {
		w.say(time.Minute, "1.5")
	}
	w.keepState()
	w.commit()
	if err := w.journal.Close(); err != nil {
		t.Fatal(err)
	}
}

// rowsOf the journal's readings: what series, when, how much.
func rowsOf(t *testing.T, j *journal.Journal) []string {
	t.Helper()
	var out []string
	for _, s := range append(coursesOf("invented-ale"), "temperature/air", "pressure/gauge") {
		list, err := j.Readings(t.Context(), journal.Query{Series: s})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range list {
			out = append(out, fmt.Sprint(r.Series, " ", r.At.Round(time.Millisecond), " ", r.Value))
		}
	}
	slices.Sort(out)
	return out
}

// measured are the rows of sensors, without the lot's course.
func measured(t *testing.T, j *journal.Journal) []string {
	t.Helper()
	return slices.DeleteFunc(rowsOf(t, j), func(r string) bool { return strings.HasPrefix(r, coursePrefix) })
}

// mirrored is what a mirror is given of readings: the journal's own words, as
// they are by the time they are carried.
type mirrored struct {
	*Follower
	got []string
}

func mirrorOf(w *timed) *mirrored {
	m := &mirrored{}
	m.Follower = &Follower{Name: "influxdb", Journal: w.journal, Log: quiet(), Held: w.held, Deliver: func(_ context.Context, list []journal.Entry) error {
		for _, en := range recallAll(list, quiet()) {
			for _, r := range en.Readings {
				m.got = append(m.got, fmt.Sprint(seriesOf(r), " ", r.At.Round(time.Millisecond), " ", r.Value))
			}
		}
		return nil
	}}
	return m
}

// carry all that may be carried.
func (m *mirrored) carry(t *testing.T) []string {
	t.Helper()
	for {
		n, err := m.step(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if n == 0 {
			return slices.Sorted(slices.Values(m.got))
		}
	}
}

// twoHundred readings of two sensors, then a quiet hour.
func twoHundred(w *timed, after func(n int, w *timed) *timed) *timed {
	for i := range 100 {
		w.say(30*time.Second, fmt.Sprintf("1.%d", 50+i/10))
		w = after(i, w)
	}
	for range 65 {
		w.say(time.Minute, "1.6")
	}
	w.commit()
	return w
}

// estimated is what the engine says of the lot, and its estimator's bytes.
func estimated(t *testing.T, e *engine.Engine) (estimate.Estimate, []byte) {
	t.Helper()
	state, err := e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	var kept struct{ Lots []struct{ Estimator []byte } }
	if err := json.Unmarshal(state, &kept); err != nil || len(kept.Lots) != 1 || len(kept.Lots[0].Estimator) == 0 {
		t.Fatalf("%d lots are kept (%v)", len(kept.Lots), err)
	}
	return *e.View().Lots[0].Estimate, kept.Lots[0].Estimator
}

// A clock that is off when the machine starts and set after a while, ahead or
// back, with and without a new start of the program in between: in the end all
// is as if it had been right from the first second.
func TestReadingsOfAClockThatWasNotSet(t *testing.T) {
	quietly := func(_ int, w *timed) *timed { return w }
	dir := t.TempDir()
	filled(t, dir)
	sound := started(t, dir, right(), true)
	twoHundred(sound, quietly)
	want, wantBytes := estimated(t, sound.engine)
	wantRows, wantMirror := rowsOf(t, sound.journal), mirrorOf(sound).carry(t)
	if sound.doubt != nil || sound.held() < sound.seq {
		t.Error("a clock that is set is doubted")
	}
	for name, x := range map[string]struct {
		off  time.Duration
		stop bool
	}{
		"three days behind":                       {-71 * time.Hour, false},
		"three days behind, and started again":    {-71 * time.Hour, true},
		"two days ahead":                          {48 * time.Hour, false},
		"half an hour behind":                     {-30 * time.Minute, false},
		"twenty minutes ahead, and then again on": {20 * time.Minute, true},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			filled(t, dir)
			w := started(t, dir, right().Add(x.off), false)
			m := mirrorOf(w)
			was := 0
			w = twoHundred(w, func(i int, w *timed) *timed {
				switch {
				case i == 40 && x.stop:
					w = w.startedAgain(t, dir)
					m2 := mirrorOf(w)
					m2.got, m = m.got, m2
				case i == 20:
					was = len(m.carry(t))
				case i == 99:
					w.commit()
					if len(m.carry(t)) != was {
						t.Error("the mirror got what was in doubt")
					}
					w.wall, w.set = w.wall.Add(-x.off), true // the network tells the time
				}
				return w
			})
			if got := rowsOf(t, w.journal); !slices.Equal(got, wantRows) {
				t.Errorf("%d rows, want %d: %s", len(got), len(wantRows), differing(got, wantRows))
			}
			if got := m.carry(t); !slices.Equal(got, wantMirror) {
				t.Errorf("the mirror got %d, want %d: %s", len(got), len(wantMirror), differing(got, wantMirror))
			}
			got, bytes := estimated(t, w.engine)
			if !reflect.DeepEqual(got, want) || !slices.Equal(bytes, wantBytes) {
				t.Errorf("the estimate is %+v\nwant %+v", got, want)
			}
			w.isToldOfIt(t)
			w.isRecovered(t, dir)
		})
	}
}

// startedAgain is the same machine with the program killed and begun anew.
func (w *timed) startedAgain(t *testing.T, dir string) *timed {
	t.Helper()
	w.commit()
	up := w.wall.Sub(w.doubt.Booted)
	boot := w.doubt.Boot
	w.journal.Close()
	next := &timed{watched: watch(t, dir), wall: w.wall, set: w.set}
	next.pace = Pace{clock: watchClock(next.engine.Now(), quiet())}
	next.pace.clock.told = laterOf(next.engine.Now(), next.wall)
	next.again(t, boot, up)
	return next
}

func differing(got, want []string) string {
	for i := range got {
		if i >= len(want) || got[i] != want[i] {
			return got[i]
		}
	}
	return "some are missing"
}

// isToldOfIt in the lot's record, once; nobody is told of anything else.
func (w *timed) isToldOfIt(t *testing.T) {
	t.Helper()
	v := w.engine.View()
	var said []string
	for _, n := range v.Lots[0].Notes {
		said = append(said, n.Text)
	}
	if len(said) != 1 || !strings.Contains(said[0], "200 readings") && !strings.Contains(said[0], "202 readings") {
		t.Errorf("the lot's record says %q", said)
	}
	if len(v.Recent) != 0 {
		t.Errorf("it told of %+v", v.Recent)
	}
}

// isRecovered: the journal alone brings an engine to the same state.
func (w *timed) isRecovered(t *testing.T, dir string) {
	t.Helper()
	w.commit()
	_, want := estimated(t, w.engine)
	v := w.engine.View()
	w.journal.Close()
	e := watch(t, dir).engine
	if _, got := estimated(t, e); !slices.Equal(got, want) {
		t.Error("the journal brings the estimator elsewhere")
	}
	if got := e.View(); !got.Time.Equal(v.Time) || !reflect.DeepEqual(got.Sensors[0].At, v.Sensors[0].At) ||
		got.Sensors[0].Readings != v.Sensors[0].Readings || !reflect.DeepEqual(got.Lots[0].Notes, v.Lots[0].Notes) {
		t.Errorf("the journal says %+v %+v\nwant %+v %+v", got.Sensors[0], got.Lots[0].Notes, v.Sensors[0], v.Lots[0].Notes)
	}
}

// inDanger is a machine whose gauge says too much from its start on, for 75
// minutes, and how often each notice of it was given.
func inDanger(t *testing.T, w *timed, then func()) map[string]int {
	t.Helper()
	for range 5 {
		w.say(time.Minute, "4.5")
	}
	w.commit()
	then()
	for range 70 {
		w.say(time.Minute, "4.5")
	}
	w.commit()
	entries, err := w.journal.After(t.Context(), 0, 10000)
	if err != nil {
		t.Fatal(err)
	}
	told := map[string]int{}
	for _, en := range recallAll(entries, quiet()) {
		for _, m := range en.Messages {
			told[m.ID]++
		}
	}
	return told
}

// A danger while the clock isn't set is told at once, and again no more often
// than by a clock that was right; afterwards it began when it did.
func TestDangerWhileTheClockIsNotSet(t *testing.T) {
	dir := t.TempDir()
	filled(t, dir)
	want := inDanger(t, started(t, dir, right(), true), func() {})
	dir = t.TempDir()
	filled(t, dir)
	w := started(t, dir, right().Add(-71*time.Hour), false)
	var was []alerts.Alert
	told := inDanger(t, w, func() {
		was = w.engine.View().Alerts
		w.wall, w.set = w.wall.Add(71*time.Hour), true
	})
	is := w.engine.View().Alerts
	if len(was) != 1 || was[0].Severity != alerts.Danger {
		t.Fatalf("it says %+v", was)
	}
	if len(is) != 1 || is[0].ID != was[0].ID || !is[0].Since.Equal(was[0].Since.Add(71*time.Hour)) {
		t.Errorf("then %+v\nwas %+v", is, was)
	}
	if len(told) != len(want) || slices.Max(slices.Collect(maps.Values(told))) != 1 {
		t.Errorf("told %v\nwant as many as %v", told, want)
	}
}

// A clock that nobody ever sets: readings keep the time that is known, InfluxDB
// waits an hour for them and no longer, and a day after the start of the machine
// the clock is taken as it is.
func TestClockThatNobodySets(t *testing.T) {
	dir := t.TempDir()
	filled(t, dir)
	w := started(t, dir, right(), false)
	m := mirrorOf(w)
	w = twoHundred(w, func(_ int, w *timed) *timed { return w })
	w.say(time.Minute, "1.6")
	if got := m.carry(t); !slices.Equal(got, measured(t, w.journal)) {
		t.Errorf("after two hours the mirror has %d", len(got))
	}
	if n := len(w.engine.View().Lots[0].Notes); n != 0 || w.doubt == nil {
		t.Errorf("%d notes, doubt %v", n, w.doubt)
	}
	w.set = true // as after a day
	w.say(time.Minute, "1.6")
	w.commit()
	w.journal.Close()
	w = started(t, dir, w.wall, true)
	if w.doubt != nil || len(w.engine.View().Lots[0].Notes) != 0 {
		t.Errorf("afterwards doubt %v, %v", w.doubt, w.engine.View().Lots[0].Notes)
	}
}

// A machine that starts again before anybody has set its clock: how long it was
// off in between is not known, so what came before keeps its time, and what came
// since is moved.
func TestMachineStartsAgainBeforeItsClockIsSet(t *testing.T) {
	dir := t.TempDir()
	filled(t, dir)
	w := started(t, dir, right().Add(-71*time.Hour), false)
	w.say(time.Minute, "1.5")
	w.commit()
	first := rowsOf(t, w.journal)
	w.journal.Close()
	w = started(t, dir, right().Add(-70*time.Hour), false)
	w.say(time.Minute, "1.6")
	w.wall, w.set = w.wall.Add(71*time.Hour), true
	w.say(time.Minute, "1.7")
	w.commit()
	want := append(first,
		fmt.Sprint("temperature/air ", right().Add(61*time.Minute), " 20.1"), fmt.Sprint("pressure/gauge ", right().Add(61*time.Minute), " 1.6"),
		fmt.Sprint("temperature/air ", right().Add(62*time.Minute), " 20.1"), fmt.Sprint("pressure/gauge ", right().Add(62*time.Minute), " 1.7"))
	slices.Sort(want)
	if got := rowsOf(t, w.journal); !slices.Equal(got, want) {
		t.Errorf("%d rows, want %d: %s", len(got), len(want), differing(got, want))
	}
}

// What can't be moved keeps its time, and the watch goes on.
func TestDoubtThatCannotBeLivedAgain(t *testing.T) {
	dir := t.TempDir()
	filled(t, dir)
	w := started(t, dir, right().Add(-71*time.Hour), false)
	w.say(time.Minute, "1.5")
	w.doubt.State = []byte("torn")
	w.wall, w.set = w.wall.Add(71*time.Hour), true
	w.say(time.Minute, "1.6")
	w.commit()
	v := w.engine.View()
	if !v.Time.After(right()) || len(v.Recent) != 0 || w.doubt != nil || w.held() < w.seq {
		t.Errorf("it is %v, it told %+v, doubt %v", v.Time, v.Recent, w.doubt)
	}
	if n := len(measured(t, w.journal)); n != 2*62 {
		t.Errorf("%d readings are kept, want 124", n)
	}
}

// What systemd-timesyncd says, where the kernel may not be asked.
func TestSetByTimesyncd(t *testing.T) {
	dir := t.TempDir()
	if !setBy(filepath.Join(dir, "none")) {
		t.Error("without it the clock is doubted")
	}
	if setBy(dir) {
		t.Error("it runs, has not set the clock, and the clock is believed")
	}
	if err := os.WriteFile(filepath.Join(dir, "synchronized"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if !setBy(dir) {
		t.Error("it has set the clock, and the clock is doubted")
	}
}
