package engine

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/intake"
	"conditiond/model"
)

var packaged = time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC)

// closet is an invented one: a shelf with a thermometer and a gauge.
func closet(t testing.TB) *Engine {
	t.Helper()
	e, err := New(Config{
		Site: "Invented closet", Station: 1.0,
		Sensors: []intake.Sensor{
			{Name: "shelf-air", Topic: "shelf/node", Pointer: "/t", Quantity: model.Temperature, Unit: intake.DegC, Interval: 5 * time.Minute, Space: "shelf"},
			{Name: "gauge-a", Topic: "shelf/node", Pointer: "/p", Quantity: model.Pressure, Unit: intake.Bar, FullScale: 6, Interval: 5 * time.Minute},
		},
		Spaces:     map[string]string{"shelf": "shelf-air"},
		Recipients: []alerts.Recipient{{Name: "brewer", Least: alerts.Warning}},
	})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func lotOnShelf() model.Lot {
	return model.Lot{
		ID: "invented-ale", Name: "Invented ale", Space: "shelf", PackagedAt: packaged, Yeast: model.Ale,
		Beer:          model.Beer{VolumeL: 19, OriginalGravity: 1.050, FinalGravity: 1.012, WarmestC: 20},
		TargetVolumes: 2.4, Priming: []model.Priming{{Sugar: model.Dextrose, MassG: 134}},
		Bottles:     []model.Bottles{{Kind: model.StandardGlass, VolumeML: 330, HeadspaceML: 14, Count: 57, RatedBar: 4}},
		GaugeBottle: &model.GaugeBottle{Sensor: "gauge-a", VolumeML: 330, HeadspaceML: 14}, WorstCaseC: 30,
	}
}

// player feeds an engine and keeps what it said.
type player struct {
	*testing.T
	e       *Engine
	entries []Entry
}

func play(t *testing.T) *player {
	p := &player{T: t, e: closet(t)}
	p.put(Input{At: packaged, Start: &Start{}})
	p.put(Input{At: packaged, Open: &Open{Lot: lotOnShelf()}})
	return p
}

func (p *player) put(in Input) Entry {
	p.Helper()
	en, err := p.e.Step(in)
	if err != nil {
		p.Fatal(err)
	}
	p.e.Apply(en)
	p.entries = append(p.entries, en)
	return en
}

// at runs what is due until an instant, and then hears a payload.
func (p *player) at(d time.Duration, payload string) Entry {
	p.until(d)
	return p.put(Input{At: packaged.Add(d), Message: &intake.Message{Topic: "shelf/node", Payload: []byte(payload)}})
}

func (p *player) until(d time.Duration) {
	for next := p.e.Next(); !next.After(packaged.Add(d)); next = p.e.Next() {
		p.put(Input{At: next, Tick: true})
	}
}

func reading(t, bar float64) string { return fmt.Sprintf(`{"t":%.2f,"p":%.4f}`, t, bar) }

// week is a made-up one: pressure that rises, a hole, a wild value, a danger.
func week(t *testing.T) *player {
	p := play(t)
	rng := rand.New(rand.NewPCG(1, 2))
	for d := time.Duration(0); d < 7*24*time.Hour; d += 5 * time.Minute {
		day := d.Hours() / 24
		switch {
		case day > 3 && day < 3.2: // silence
		case rng.Float64() < 0.01:
			p.at(d, reading(85, 2))
		default:
			p.at(d, reading(20+rng.NormFloat64()*0.05, 0.5+0.25*day+rng.NormFloat64()*0.01))
		}
	}
	for i := range 5 {
		p.at(7*24*time.Hour+time.Duration(i)*time.Minute, reading(20, 4.1))
	}
	return p
}

// Live and recovered are the same: applying what the journal kept gives the
// state that living through it gave. JSON stands for the journal.
func TestApplyingEntriesRecoversTheState(t *testing.T) {
	p := week(t)
	e := closet(t)
	for _, en := range p.entries {
		e.Apply(fromJournal(t, en))
	}
	same(t, p.e, e)
}

// fromJournal is an entry as it comes back from the journal.
func fromJournal(t *testing.T, en Entry) Entry {
	t.Helper()
	b, err := json.Marshal(en)
	if err != nil {
		t.Fatal(err)
	}
	back := Entry{At: en.At, Readings: en.Readings, Mark: en.Mark}
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	return back
}

func same(t *testing.T, want, got *Engine) {
	t.Helper()
	a, b := want.View(), got.View()
	for i := range a.Sensors { // what was refused before isn't counted again
		a.Sensors[i].LastKnown, b.Sensors[i].LastKnown = nil, nil
	}
	x, _ := json.Marshal(a)
	y, _ := json.Marshal(b)
	if string(x) != string(y) {
		t.Error("what it was, and what came back: ", firstDifference(string(x), string(y)))
	}
	want.put(t)
	got.put(t)
	x, _ = json.Marshal(want.View())
	y, _ = json.Marshal(got.View())
	if string(x) != string(y) {
		t.Error("what the one says an hour later, and the other: ", firstDifference(string(x), string(y)))
	}
}

// put lets an hour go by.
func (e *Engine) put(t *testing.T) {
	t.Helper()
	en, err := e.Step(Input{At: e.Now().Truncate(time.Hour).Add(time.Hour), Tick: true})
	if err != nil {
		t.Fatal(err)
	}
	e.Apply(en)
}

// A snapshot in the middle, and the entries after it, come to the same.
func TestSnapshotAndEntriesRecoverTheState(t *testing.T) {
	p := play(t)
	var state []byte
	half := 0
	for d := time.Duration(0); d < 4*24*time.Hour; d += 5 * time.Minute {
		p.at(d, reading(20, 0.5+d.Hours()/100))
		if d == 2*24*time.Hour {
			var err error
			if state, err = p.e.Snapshot(); err != nil {
				t.Fatal(err)
			}
			half = len(p.entries)
		}
	}
	e := closet(t)
	if err := e.Restore(state); err != nil {
		t.Fatal(err)
	}
	for _, en := range p.entries[half:] {
		e.Apply(fromJournal(t, en))
	}
	same(t, p.e, e)
}

// What is restored from a snapshot can do all that the original could.
func TestRestoredEngineRaisesAlerts(t *testing.T) {
	p := play(t)
	p.at(time.Hour, reading(20, 1))
	state, err := p.e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	p.e = closet(t)
	if err := p.e.Restore(state); err != nil {
		t.Fatal(err)
	}
	p.at(time.Hour+time.Minute, reading(20, 4.2))
	p.at(time.Hour+2*time.Minute, reading(20, 4.2))
	if v := p.e.View(); len(v.Alerts) != 1 || v.Alerts[0].Severity != alerts.Danger {
		t.Errorf("over the limit after a restore: %+v", v.Alerts)
	}
}

// Step changes nothing: asked twice it says the same, and a third engine that
// was never asked is as it was.
func TestStepIsPure(t *testing.T) {
	p := play(t)
	p.at(time.Hour, reading(20, 1))
	before, _ := json.Marshal(p.e.View())
	for _, in := range []Input{
		{At: packaged.Add(2 * time.Hour), Message: &intake.Message{Topic: "shelf/node", Payload: []byte(reading(20, 5))}},
		{At: packaged.Add(2 * time.Hour), Tick: true},
		{At: packaged.Add(2 * time.Hour), Chill: &Deed{Lot: "invented-ale"}},
	} {
		a, errA := p.e.Step(in)
		b, errB := p.e.Step(in)
		x, _ := json.Marshal(a)
		y, _ := json.Marshal(b)
		if string(x) != string(y) || !reflect.DeepEqual(a.Readings, b.Readings) || errA != nil || errB != nil {
			t.Errorf("first %s, then %s (%v, %v)", x, y, errA, errB)
		}
	}
	if after, _ := json.Marshal(p.e.View()); string(after) != string(before) {
		t.Errorf("it was\n%s\nand is\n%s", before, after)
	}
}

// A retained message is last known, never a reading, and keeps nobody from
// falling silent.
func TestRetainedIsNoReading(t *testing.T) {
	p := play(t)
	p.at(time.Minute, reading(20, 1))
	for d := 10 * time.Minute; d < 2*time.Hour; d += 10 * time.Minute {
		p.until(d)
		en := p.put(Input{At: packaged.Add(d), Message: &intake.Message{Topic: "shelf/node", Payload: []byte(reading(18.4, 1)), Retained: true}})
		if len(en.Readings) > 0 || !en.Empty() {
			t.Fatal("a retained message became a reading")
		}
	}
	v := p.e.View()
	if s := v.Sensors[1]; s.Readings != 1 || !s.Silent || *s.LastKnown != 18.4 || *s.Value != 20 {
		t.Errorf("the thermometer is %+v", s)
	}
	if len(v.Alerts) != 2 || v.Alerts[0].Name != alerts.SensorSilent || !v.Alerts[0].Since.Equal(packaged.Add(31*time.Minute)) {
		t.Errorf("open alerts %+v", v.Alerts)
	}
}

// The same message again is nothing; another with the same packet id is
// something.
func TestRedeliveredIsKnown(t *testing.T) {
	p := play(t)
	say := func(id uint16, payload string, again bool) int {
		en := p.put(Input{At: packaged.Add(time.Minute), Message: &intake.Message{Topic: "shelf/node", Payload: []byte(payload), ID: id, Redelivered: again}})
		return len(en.Readings)
	}
	for i, c := range []struct {
		id      uint16
		payload string
		again   bool
		want    int
	}{
		{7, reading(20, 1), false, 2},
		{7, reading(20, 1), true, 0},
		{7, reading(20.1, 1.01), true, 2}, // the id came round again
		{8, reading(20.2, 1.02), true, 2}, // never seen: lost before it was kept
		{8, reading(20.2, 1.02), true, 0},
	} {
		if got := say(c.id, c.payload, c.again); got != c.want {
			t.Errorf("step %d: %d readings, want %d", i, got, c.want)
		}
	}
}

// One wild reading at the end of the scale is no danger; two of three are, at
// once and not at the next hour.
func TestDangerAtOnce(t *testing.T) {
	p := play(t)
	for d := time.Duration(0); d < time.Hour; d += 5 * time.Minute {
		p.at(d, reading(20, 1))
	}
	if en := p.at(61*time.Minute, reading(20, 6)); len(en.Alerts) > 0 {
		t.Errorf("one glitch raised %v", en.Alerts)
	}
	p.at(62*time.Minute, reading(20, 1))
	p.at(63*time.Minute, reading(20, 1))
	p.at(64*time.Minute, reading(20, 4.2))
	en := p.at(65*time.Minute, reading(20, 4.2))
	if len(en.Alerts) != 1 || en.Alerts[0].Severity != alerts.Danger || len(en.Messages) != 1 || !en.Urgent() {
		t.Errorf("two readings over the limit gave %+v", en.Alerts)
	}
}

func TestCommandsThatCannotBe(t *testing.T) {
	p := play(t)
	for want, in := range map[string]Input{
		"exists already":    {Open: &Open{Lot: lotOnShelf()}},
		"no such lot":       {Note: &Note{Lot: "nobody", Text: "x"}},
		"lot, alert or sen": {Acknowledge: &Acknowledge{Alert: "none"}},
	} {
		in.At = packaged
		if _, err := p.e.Step(in); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q, got %v", want, err)
		}
	}
	other := lotOnShelf()
	other.ID = "second"
	if _, err := p.e.Step(Input{At: packaged, Open: &Open{Lot: other}}); err == nil || !strings.Contains(err.Error(), "already gauges") {
		t.Errorf("two lots share a gauge: %v", err)
	}
	p.put(Input{At: packaged, Close: &Deed{Lot: "invented-ale"}})
	p.put(Input{At: packaged, Open: &Open{Lot: other}})
}

// What a person saw is danger at once, is told, and is still known after a
// restart. On a closed lot it is only written down.
func TestSightingIsToldAtOnce(t *testing.T) {
	p := play(t)
	p.at(time.Hour, reading(20, 0.3))
	en := p.put(Input{At: packaged.Add(65 * time.Minute), Note: &Note{Lot: "invented-ale", Saw: alerts.DomedCap, Text: "third row"}})
	if len(en.Messages) != 1 || en.Alerts[0].Severity != alerts.Danger {
		t.Fatalf("told %+v", en.Messages)
	}
	e := closet(t)
	for _, en := range p.entries {
		e.Apply(fromJournal(t, en))
	}
	same(t, p.e, e)
	if n := e.View().Lots[0].Notes[0]; n.Text != "A cap is domed. third row" || n.Saw != alerts.DomedCap {
		t.Errorf("the record says %+v", n)
	}
	p.put(Input{At: packaged.Add(3 * time.Hour), Close: &Deed{Lot: "invented-ale"}})
	if en := p.put(Input{At: packaged.Add(5 * time.Hour), Note: &Note{Lot: "invented-ale", Saw: alerts.Burst}}); len(en.Alerts) > 0 {
		t.Errorf("a closed lot raised %+v", en.Alerts)
	}
}

// A clock that goes back does not take entries with it.
func TestTimeNeverGoesBack(t *testing.T) {
	p := play(t)
	p.at(2*time.Hour, reading(20, 1))
	en := p.put(Input{At: packaged.Add(time.Hour), Message: &intake.Message{Topic: "shelf/node", Payload: []byte(reading(20, 1.1))}})
	if !en.At.Equal(packaged.Add(2 * time.Hour)) {
		t.Errorf("an entry at %v after one at 16:00", en.At)
	}
}

func BenchmarkStepMessage(b *testing.B) {
	e := closet(b)
	for _, in := range []Input{{At: packaged, Start: &Start{}}, {At: packaged, Open: &Open{Lot: lotOnShelf()}}} {
		en, err := e.Step(in)
		if err != nil {
			b.Fatal(err)
		}
		e.Apply(en)
	}
	at := packaged
	b.ReportAllocs()
	for b.Loop() {
		at = at.Add(time.Millisecond)
		en, err := e.Step(Input{At: at, Message: &intake.Message{Topic: "shelf/node", Payload: []byte(`{"t":20.1,"p":1.234}`), ID: 1}})
		if err != nil {
			b.Fatal(err)
		}
		e.Apply(en)
	}
}

// While somebody works on a sensor, nobody is told that it is silent.
func TestOutOfService(t *testing.T) {
	p := play(t)
	p.at(time.Minute, reading(20, 1))
	p.put(Input{At: packaged.Add(2 * time.Minute), Service: &Service{Sensor: "gauge-a", Out: true, By: "Kim"}})
	p.until(3 * time.Hour)
	if open := p.e.View().Alerts; len(open) != 1 || open[0].Sensor != "shelf-air" {
		t.Errorf("open alerts %+v", open)
	}
	p.put(Input{At: packaged.Add(3 * time.Hour), Service: &Service{Sensor: "gauge-a", By: "Kim"}})
	p.until(4 * time.Hour)
	if open := p.e.View().Alerts; len(open) != 2 {
		t.Errorf("back in service, and %+v", open)
	}
	if _, err := p.e.Step(Input{At: packaged.Add(5 * time.Hour), Service: &Service{Sensor: "none"}}); err == nil {
		t.Error("a sensor that isn't there was taken out of service")
	}
}

// A digest comes once at its time of the day, though nothing happens.
func TestDigest(t *testing.T) {
	p := &player{T: t, e: closet(t)}
	p.e.c.Alerts.Digest = alerts.Digest{At: 8 * time.Hour, Zone: time.UTC}
	p.e.c.Recipients = []alerts.Recipient{{Name: "diary", Least: alerts.Notice}, {Name: "siren", Least: alerts.Danger}}
	p.put(Input{At: packaged, Start: &Start{}})
	p.put(Input{At: packaged, Open: &Open{Lot: lotOnShelf()}})
	p.until(3 * 24 * time.Hour)
	var at []string
	for _, en := range p.entries {
		for _, m := range en.Messages {
			if m.Alert == alerts.DigestName {
				at = append(at, m.To+" "+en.At.Format("Mon 15:04"))
			}
		}
	}
	if got := strings.Join(at, ", "); got != "diary Sun 08:00, diary Mon 08:00, diary Tue 08:00" {
		t.Errorf("digests: %s", got)
	}
}

// A sensor that is refused a hundred times a second is counted, and kept once a
// minute.
func TestRefusalsAreBounded(t *testing.T) {
	p := play(t)
	kept := 0
	for i := range 12_000 { // two minutes
		kept += len(p.at(time.Duration(i)*10*time.Millisecond, `{"t":"broken","p":1}`).Rejected)
	}
	if v := p.e.View().Sensors[1]; v.Rejected != 12_000 || kept > 25 {
		t.Errorf("%d refused, %d kept", v.Rejected, kept)
	}
}
