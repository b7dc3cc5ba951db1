package estimate

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"conditiond/model"
	"conditiond/model/synth"
)

var packaged = time.Date(2026, 3, 1, 13, 0, 0, 0, time.UTC)

// lot of the demo, played for some days, and an estimator for it.
func lot(i, days int) (synth.Scenario, *synth.Recording, Setup) {
	s := synth.Demo(packaged)[i]
	s.Days = days
	s.Interval = 10 * time.Minute
	return s, s.Play(), Setup{Lot: s.Lot, Station: s.Station, Thermometer: s.Lot.Space + "-air"}
}

func feed(e *Estimator, list []model.Reading, from, to time.Time) {
	for _, r := range list {
		if !r.At.Before(from) && r.At.Before(to) {
			e.Observe(r)
		}
	}
	e.Advance(to)
}

func said(t *testing.T, e *Estimator) string {
	t.Helper()
	x := e.Estimate()
	b, err := json.Marshal(struct {
		E Estimate
		S Signs
	}{x, x.Signs})
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func day(d float64) time.Time { return packaged.Add(time.Duration(d * 24 * float64(time.Hour))) }

func TestSameInputSameBytes(t *testing.T) {
	_, r, s := lot(0, 6)
	a, b := New(s), New(s)
	feed(a, r.Readings, day(-1), day(6))
	feed(b, r.Readings, day(-1), day(2))
	c := b.Clone()
	feed(b, r.Readings, day(2), day(6))
	if said(t, a) != said(t, b) {
		t.Error("two estimators disagree over one recording")
	}
	feed(c, r.Readings, day(2), day(6))
	if said(t, a) != said(t, c) {
		t.Error("a clone disagrees with what it was cloned from")
	}
}

func TestCloneGoesItsOwnWay(t *testing.T) {
	_, r, s := lot(0, 3)
	a := New(s)
	feed(a, r.Readings, day(-1), day(2))
	before := said(t, a)
	b := a.Clone()
	feed(b, r.Readings, day(2), day(3))
	b.Event(Event{At: day(3), Kind: LotClosed})
	if said(t, a) != before {
		t.Error("a clone changed what it was cloned from")
	}
	feed(a, r.Readings, day(2), day(3))
	if x, y := a.Estimate(), b.Estimate(); *x.CO2Volumes != *y.CO2Volumes {
		t.Errorf("the same hours say %v and %v", *x.CO2Volumes, *y.CO2Volumes)
	}
}

func TestCheckpointGoesOnToTheSameBytes(t *testing.T) {
	_, r, s := lot(2, 9)
	for _, at := range []float64{-0.5, 0, 0.02, 1.37, 5.5, 8} {
		whole, half := New(s), New(s)
		feed(whole, r.Readings, day(-1), day(at))
		feed(half, r.Readings, day(-1), day(at))
		for _, x := range r.Readings { // some of the next window wait already
			if d := x.At.Sub(day(at)); d >= 0 && d < 20*time.Minute {
				whole.Observe(x)
				half.Observe(x)
			}
		}
		state, err := half.MarshalBinary()
		if err != nil {
			t.Fatal(err)
		}
		back, err := Restore(s, state)
		if err != nil {
			t.Fatal(err)
		}
		again, _ := back.MarshalBinary()
		if !bytes.Equal(state, again) {
			t.Errorf("day %.2f: the checkpoint of a restored estimator differs", at)
		}
		if said(t, half) != said(t, back) {
			t.Errorf("day %.2f: restored, it says something else", at)
		}
		feed(whole, r.Readings, day(at).Add(20*time.Minute), day(at+1))
		feed(back, r.Readings, day(at).Add(20*time.Minute), day(at+1))
		if said(t, whole) != said(t, back) {
			t.Errorf("day %.2f: a day later, it says something else", at)
		}
	}
}

// After an upgrade the checkpoint is of an earlier form: its hours are lived
// through again, to the same bytes. What is heard meanwhile waits, a break
// begins anew, and a clone goes its own way.
func TestEarlierCheckpointIsLivedAgain(t *testing.T) {
	_, r, s := lot(2, 9)
	e := New(s)
	feed(e, r.Readings, day(-1), day(5.5))
	earlier := saved(t, e)
	binary.LittleEndian.PutUint16(earlier, first)
	back := revived(t, s, earlier)
	for range 60 {
		back.CatchUp()
	}
	broken := revived(t, s, saved(t, back))
	feed(e, r.Readings, day(5.5), day(5.6))
	for name, back := range map[string]*Estimator{"a clone": back.Clone(), "going on": back, "after a break": broken} {
		feed(back, r.Readings, day(5.5), day(5.6))
		for back.Behind() {
			back.CatchUp()
		}
		back.Advance(day(5.6))
		if said(t, e) != said(t, back) {
			t.Errorf("%s, lived through again, it says\n%s\nnot\n%s", name, said(t, back), said(t, e))
		}
	}
	feed(e, r.Readings, day(5.6), day(7))
	feed(back, r.Readings, day(5.6), day(7))
	if said(t, e) != said(t, back) {
		t.Error("a day and a half later, it says something else")
	}
}

func saved(t *testing.T, e *Estimator) []byte {
	t.Helper()
	state, err := e.MarshalBinary()
	if err != nil {
		t.Fatal(err)
	}
	return state
}

// revived is an estimator that is behind.
func revived(t *testing.T, s Setup, state []byte) *Estimator {
	t.Helper()
	e, err := Restore(s, state)
	if err != nil || !e.Behind() {
		t.Fatalf("behind: %v, %v", err == nil && e.Behind(), err)
	}
	return e
}

func TestRestoreRefusesWhatItCantRead(t *testing.T) {
	_, r, s := lot(0, 1)
	e := New(s)
	feed(e, r.Readings, day(-1), day(1))
	state, _ := e.MarshalBinary()
	for name, b := range map[string][]byte{"nothing": nil, "half": state[:len(state)/2], "another form": append([]byte{9, 9}, state[2:]...), "noise": bytes.Repeat([]byte{0x5a}, 5000)} {
		if _, err := Restore(s, b); err == nil {
			t.Errorf("%s was taken for a checkpoint", name)
		}
	}
}

func TestOrderWithinAWindowDoesNotMatter(t *testing.T) {
	_, r, s := lot(0, 2)
	mixed := append([]model.Reading(nil), r.Readings...)
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
	a, b := New(s), New(s)
	feed(a, r.Readings, day(-1), day(2))
	feed(b, mixed, day(-1), day(2))
	if said(t, a) != said(t, b) {
		t.Error("the order of readings within a window matters")
	}
}

func check(t *testing.T, what string, i *Interval) {
	t.Helper()
	if i == nil {
		t.Errorf("%s is missing", what)
		return
	}
	if math.IsNaN(i.P05+i.P50+i.P95) || math.IsInf(i.P05+i.P50+i.P95, 0) || i.P05 > i.P50 || i.P50 > i.P95 {
		t.Errorf("%s = %v", what, *i)
	}
}

func checkAll(t *testing.T, x Estimate) {
	t.Helper()
	check(t, "co2", x.CO2Volumes)
	check(t, "progress", x.Progress)
	check(t, "final", x.FinalVolumes)
	check(t, "peak", x.PeakBar)
	check(t, "worst", x.WorstCaseBar)
	if w := x.ReadyAt; w == nil || w.P50 != nil && (w.P05 == nil || w.P50.Before(*w.P05)) || w.P95 != nil && (w.P50 == nil || w.P95.Before(*w.P50)) {
		t.Errorf("ready at %v", w)
	}
	for _, p := range []float64{x.OverPressure.Probability, x.Signs.Ready, x.Signs.Leak, x.Signs.Stalled, x.Signs.Unexpected, x.Signs.Over} {
		if !(p >= 0 && p <= 1.0001) {
			t.Errorf("a probability is %v", p)
		}
	}
	if _, err := json.Marshal(x); err != nil {
		t.Error(err)
	}
}

func TestGarbageInSenseOut(t *testing.T) {
	_, r, s := lot(0, 3)
	rng := rand.New(rand.NewPCG(3, 4))
	wild := []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300, -1e300, 85, -127, 0, 39.9}
	e := New(s)
	at := day(-1)
	for h := range 96 {
		for range 12 {
			x := r.Readings[rng.IntN(len(r.Readings))]
			x.At = at.Add(time.Duration(rng.IntN(3600)) * time.Second)
			if rng.IntN(3) == 0 {
				x.Value = wild[rng.IntN(len(wild))]
			}
			if rng.IntN(5) == 0 {
				x.Value *= 40 * rng.Float64()
			}
			e.Observe(x)
		}
		at = at.Add(time.Hour)
		e.Advance(at)
		if h > 24 {
			checkAll(t, e.Estimate())
		}
	}
}

func TestOddLots(t *testing.T) {
	for name, change := range map[string]func(*model.Lot){
		"no priming":     func(l *model.Lot) { l.Priming = nil },
		"no gauge":       func(l *model.Lot) { l.GaugeBottle = nil },
		"hardly sugar":   func(l *model.Lot) { l.Priming[0].MassG = 0.001 },
		"a flood":        func(l *model.Lot) { l.Priming[0].MassG = 9000 },
		"no headspace":   func(l *model.Lot) { l.GaugeBottle.HeadspaceML = 0 },
		"over the limit": func(l *model.Lot) { l.Beer.LimitGravity = 1.000 },
		"very strong":    func(l *model.Lot) { l.Beer.OriginalGravity = 1.150 },
		"malt": func(l *model.Lot) {
			l.Priming = []model.Priming{{Sugar: model.DryMaltExtract, MassG: 200}}
		},
		"live": func(l *model.Lot) {
			l.Priming, l.StopAtVolumes, l.Beer.FinalGravity, l.Beer.LimitGravity = nil, 2.2, 1.040, 0
		},
		"wort": func(l *model.Lot) {
			l.Priming = []model.Priming{{Sugar: model.Wort, VolumeL: 1.5}}
		},
	} {
		t.Run(name, func(t *testing.T) {
			sc := synth.Demo(packaged)[0]
			sc.Days = 1
			r := sc.Play()
			change(&sc.Lot)
			e := New(Setup{Lot: sc.Lot, Thermometer: sc.Lot.Space + "-air"})
			feed(e, r.Readings, day(-1), day(1))
			checkAll(t, e.Estimate())
			e.Advance(day(40)) // and then silence
			checkAll(t, e.Estimate())
		})
	}
}

func TestNothingIsSaidOfWhatWasNeverHeard(t *testing.T) {
	_, _, s := lot(0, 1)
	e := New(s)
	e.Advance(day(2))
	if x := e.Estimate(); x.CO2Volumes != nil || x.ReadyAt != nil || x.BeerC != nil {
		t.Errorf("without a reading it says %+v", x)
	}
}
