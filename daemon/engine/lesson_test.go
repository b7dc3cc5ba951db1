package engine

import (
	"fmt"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/intake"
	"conditiond/model"
	"conditiond/model/synth"
)

// sisters is a closet with one gauged lot of the demo and lots without a gauge,
// on its shelf or in an attic that is just as warm.
type sisters struct {
	*player
	rest []model.Reading
	lot  model.Lot
}

func newSisters(t *testing.T, demo int) *sisters {
	t.Helper()
	s := synth.Demo(packaged)[demo]
	s.Days, s.Interval = 14, time.Hour/2
	x := &sisters{player: &player{T: t}, rest: s.Play().Readings, lot: s.Lot}
	x.lot.Space, x.lot.GaugeBottle.Sensor = "shelf", "gauge"
	for i := range x.rest {
		r := &x.rest[i]
		if r.Sensor = "gauge"; r.Quantity == model.Temperature {
			r.Sensor = "shelf-air"
		}
	}
	x.e = x.blank()
	x.put(Input{At: packaged.Add(-time.Hour), Start: &Start{}})
	x.put(Input{At: packaged.Add(-time.Hour), Open: &Open{Lot: x.lot}})
	return x
}

func (x *sisters) blank() *Engine {
	x.Helper()
	warmth := func(name string) intake.Sensor {
		return intake.Sensor{Name: name, Topic: name, Quantity: model.Temperature, Unit: intake.DegC, Interval: time.Hour}
	}
	e, err := New(Config{Site: "Invented closet", Station: 1, Spaces: map[string]string{"shelf": "shelf-air", "attic": "attic-air"},
		Sensors: []intake.Sensor{warmth("shelf-air"), warmth("attic-air"),
			{Name: "gauge", Topic: "gauge", Quantity: model.Pressure, Unit: intake.Bar, FullScale: 10, Interval: time.Hour}}})
	if err != nil {
		x.Fatal(err)
	}
	return e
}

// sister is a lot without a gauge, the same but for a change.
func (x *sisters) sister(id string, change func(*model.Lot)) {
	x.Helper()
	l := x.lot
	l.ID, l.GaugeBottle, l.Space = id, nil, "attic"
	change(&l)
	x.put(Input{At: x.e.Now(), Open: &Open{Lot: l}})
}

// go on until a day.
func (x *sisters) goOn(day float64) {
	x.Helper()
	end := packaged.Add(time.Duration(day * 24 * float64(time.Hour)))
	for len(x.rest) > 0 && x.rest[0].At.Before(end) {
		r := x.rest[0]
		x.rest = x.rest[1:]
		x.hear(r)
		if r.Sensor == "shelf-air" {
			r.Sensor = "attic-air"
			x.hear(r)
		}
	}
	x.until(end.Sub(packaged))
}

func (x *sisters) hear(r model.Reading) {
	x.Helper()
	x.until(r.At.Sub(packaged))
	x.put(Input{At: r.At, Message: &intake.Message{Topic: r.Sensor, Payload: fmt.Appendf(nil, "%.3f", r.Value)}})
}

// A lot without a gauge learns from the gauged one if it is a part of its batch,
// or has the same yeast and stands beside it; and from no other.
func TestWhoLearns(t *testing.T) {
	x := newSisters(t, 0)
	later := func(l *model.Lot) { l.PackagedAt = l.PackagedAt.Add(72 * time.Hour) }
	other := func(l *model.Lot) { l.Beer.OriginalGravity, l.Space = 1.056, "shelf" }
	for id, change := range map[string]func(*model.Lot){
		"batch": func(*model.Lot) {}, "beside": other, "too-late": later,
		"elsewhere": func(l *model.Lot) { other(l); l.Space = "attic" },
		"lager":     func(l *model.Lot) { other(l); l.Yeast = model.Lager },
		"settled":   func(l *model.Lot) { other(l); l.YeastState = model.Settled },
		"live":      func(l *model.Lot) { l.StopAtVolumes = 2 },
		"honey":     func(l *model.Lot) { l.Priming = []model.Priming{{Sugar: model.Honey, MassG: 150}} },
	} {
		x.sister(id, change)
	}
	x.goOn(4.5)
	for id, l := range x.e.lots {
		learns := id == "batch" || id == "beside"
		if l.Lesson != nil != learns || learns && (l.Lesson.From != x.lot.ID || l.Lesson.Batch != (id == "batch")) {
			t.Errorf("%s has learnt %+v", id, l.Lesson)
		}
		if as := x.e.lotView(l).YeastAsIn; learns != (as != "") {
			t.Errorf("%s is said to be like %q", id, as)
		}
	}
}

// A part of a batch without a gauge is expected to make as much gas as the part
// that has one; another beer on the same shelf isn't.
func TestMoreGasInABatch(t *testing.T) {
	x := newSisters(t, 1) // with nearly twice the sugar
	x.sister("batch", func(*model.Lot) {})
	x.sister("beside", func(l *model.Lot) { l.Beer.OriginalGravity, l.Space = 1.056, "shelf" })
	told := func(id string) bool { return x.e.book.Severity(id)(alerts.UnexpectedFermentation, "") != "" }
	x.goOn(2)
	if told("batch") {
		t.Error("told of the batch before its gauge has shown anything")
	}
	x.goOn(13)
	if !told(x.lot.ID) || !told("batch") || told("beside") {
		t.Errorf("told of the gauged part: %v, of the other: %v, of another beer: %v", told(x.lot.ID), told("batch"), told("beside"))
	}
	x.put(Input{At: x.e.Now(), Chill: &Deed{Lot: x.lot.ID}})
	x.goOn(15.2)
	if told(x.lot.ID) || !told("batch") {
		t.Errorf("with the gauged part in the cold, told of it: %v, of the other: %v", told(x.lot.ID), told("batch"))
	}
}

// What a lot taught is forgotten when its gauge bottle turns out to leak.
func TestALeakTeachesNothing(t *testing.T) {
	x := newSisters(t, 2) // that leaks from day 5 on
	x.sister("batch", func(*model.Lot) {})
	x.goOn(5)
	if x.e.lots["batch"].Lesson == nil {
		t.Error("nothing was learnt while it was tight")
	}
	x.goOn(9)
	if l := x.e.lots["batch"].Lesson; l != nil || !x.e.lots[x.lot.ID].estimator.Doubtful() {
		t.Errorf("it goes by %+v", l)
	}
}

// A restart comes to the same bytes, from the first entry or from a snapshot, and
// what was learnt stays when the gauged lot is closed. A lot that is opened then
// learns from it all the same.
func TestWhatWasLearntStays(t *testing.T) {
	x := newSisters(t, 0)
	x.sister("batch", func(*model.Lot) {})
	x.goOn(3.6)
	half, state := len(x.entries), x.kept()
	x.goOn(5)
	x.put(Input{At: x.e.Now(), Close: &Deed{Lot: x.lot.ID}})
	x.sister("next", func(l *model.Lot) { l.Space, l.PackagedAt = "shelf", packaged.Add(5*24*time.Hour) })
	x.goOn(6)
	for _, id := range []string{"batch", "next"} {
		if l := x.e.lots[id].Lesson; l == nil || l.From != x.lot.ID || l.Batch != (id == "batch") {
			t.Errorf("%s goes by %+v", id, l)
		}
	}
	now := x.restored(x.kept(), nil)
	then := x.restored(state, x.entries[half:])
	never := x.restored(nil, x.entries)
	same(t, x.e, now)
	then.put(t)
	same(t, x.e, then)
	never.put(t)
	never.put(t)
	same(t, x.e, never)
}

func (x *sisters) kept() []byte {
	x.Helper()
	state, err := x.e.Snapshot()
	if err != nil {
		x.Fatal(err)
	}
	return state
}

// restored from a snapshot, if there is one, and the entries after it.
func (x *sisters) restored(state []byte, entries []Entry) *Engine {
	x.Helper()
	e := x.blank()
	if state != nil {
		if err := e.Restore(state); err != nil {
			x.Fatal(err)
		}
	}
	for _, en := range entries {
		e.Apply(fromJournal(x.T, en))
	}
	return e
}
