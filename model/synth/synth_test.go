package synth

import (
	"bytes"
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"conditiond/model"
)

var packaged = time.Date(2026, 3, 1, 13, 0, 0, 0, time.UTC)

func demoLot(t *testing.T, i int) (Scenario, *Recording) {
	t.Helper()
	s := Demo(packaged)[i]
	return s, s.Play()
}

func TestSameSeedSameRecording(t *testing.T) {
	a, b := Draw(5, 19).Play(), Draw(5, 19).Play()
	if !reflect.DeepEqual(a.Messages, b.Messages) || !reflect.DeepEqual(a.Truth(), b.Truth()) {
		t.Error("two plays of one lot differ")
	}
	if c := Draw(6, 19).Play(); reflect.DeepEqual(a.Readings, c.Readings) {
		t.Error("another seed gives the same readings")
	}
	if c := DrawFamily(5, 19, SensorFaults); !reflect.DeepEqual(c, Draw(5, 19)) {
		t.Error("drawn by family it is another lot")
	}
}

func readyDay(r *Recording) float64 {
	if r.ReadyAt == nil {
		return math.Inf(1)
	}
	return r.ReadyAt.Sub(packaged).Hours() / 24
}

func TestDemoTellsItsStories(t *testing.T) {
	_, r := demoLot(t, 0)
	t.Logf("ready on day %.1f", readyDay(r))
	if readyDay(r) < 8 || readyDay(r) > 12 {
		t.Errorf("the healthy lot is ready on day %.1f, want about 10", readyDay(r))
	}
	s, r := demoLot(t, 1)
	crossed := -1.0
	for _, h := range r.Hours {
		if h.GaugeBar > float64(s.Lot.Bottles[0].RatedBar) {
			crossed = h.At.Sub(packaged).Hours() / 24
			break
		}
	}
	t.Logf("passes its rating on day %.1f", crossed)
	if crossed < 9 || crossed > 15 {
		t.Errorf("the over-primed lot passes its rating on day %.1f, want about 12", crossed)
	}
	_, r = demoLot(t, 2)
	if last, top := r.Hours[len(r.Hours)-1].GaugeBar, r.Hours[5*24].GaugeBar; last > top/2 {
		t.Errorf("the leaking bottle still holds %.2f bar of %.2f", last, top)
	}
	if _, r = demoLot(t, 3); readyDay(r) < 25 {
		t.Errorf("the cold lot is ready on day %.1f", readyDay(r))
	}
	s, r = demoLot(t, 4)
	for _, x := range r.Readings {
		if x.Sensor == s.Lot.GaugeBottle.Sensor && x.At.After(packaged.Add(6*24*time.Hour)) {
			t.Fatal("the silent gauge speaks after day 6")
		}
	}
}

// Carbon dioxide is in the beer, in the headspace, or went through the leak.
func TestGasIsKept(t *testing.T) {
	for _, family := range []Family{HealthyGauge, LeakStart, LateAttenuation, ChilledLot} {
		s := DrawFamily(3, 1, family)
		l := s.live(s.told(), s.climate(s.Lot.PackagedAt.Add(-s.Before), 60*144))
		if was, is := l.capped+l.bottle.made+l.guestGas, l.holding()+l.lost; math.Abs(was-is) > 1e-9 {
			t.Errorf("%s: %.9f g/L were made, %.9f are there or leaked", family, was, is)
		}
		eaten := s.Nature.Yield*(s.close(s.told(), s.Nature, 1).hexose()-l.hexose()) - l.bottle.made
		if math.Abs(eaten) > 1e-9 {
			t.Errorf("%s: %.9f g/L of gas from no sugar", family, -eaten)
		}
	}
}

func (s Sugars) hexose() float64 { return s.simple() + s.malt() }

// In balance, beer and headspace stand as solubility and gas law say.
func TestAtRestIsInBalance(t *testing.T) {
	s := DrawFamily(3, 1, HealthyGauge)
	b := s.close(s.told(), s.Nature, 1)
	// A bottle that stood for long at the temperature shows the same.
	const total = 5.0
	want := b.atRest(total, 25, 1)
	b.Slow, b.celsius = 1e-6, 25
	b.co2.beer = (total/model.MolarMassCO2*b.Beer - b.co2.head) / b.Beer
	b.asleep, b.awake, b.Sugars = 0, 0, Sugars{}
	for i := range 60 * 144 {
		b.live(&s, s.Nature, float64(i)*stepDays, 25, 1, false)
	}
	if got := b.inside() - 1; math.Abs(got-want) > 0.02 {
		t.Errorf("after sixty days it shows %.3f bar, at rest %.3f", got, want)
	}
}

func TestEveryFamilyHasItsStory(t *testing.T) {
	kinds := map[Family]string{LeakStart: "leak", LeakLater: "leak", Stalled: "stalled", LateAttenuation: "late-attenuation",
		Unfinished: "unfinished", SensorDrift: "gauge-error"}
	events := map[Family]EventKind{HeatWaveLot: HeatWave, ChilledLot: Chilled, MovedLot: Moved}
	for i, family := range Families() {
		s := Draw(11, i)
		r := s.Play()
		x := r.Truth()
		truthHolds(t, &s, r, x)
		if kind, ok := kinds[family]; ok && !slices.ContainsFunc(x.Faults, func(f Fault) bool { return f.Kind == kind }) {
			t.Errorf("%s without its fault: %+v", family, x.Faults)
		}
		if kind, ok := events[family]; ok && !slices.ContainsFunc(x.Events, func(e Happening) bool { return e.Kind == kind }) {
			t.Errorf("%s without its event: %+v", family, x.Events)
		}
	}
}

// truthHolds says whether a truth agrees with itself.
func truthHolds(t *testing.T, s *Scenario, r *Recording, x *Truth) {
	t.Helper()
	h := x.Hourly
	for _, v := range [][]float64{h.BeerC, h.GaugeBar, h.CO2Volumes, h.SugarLeft, h.Progress, h.PeakToCome, h.RatingShare} {
		if len(v) != 24*s.Days+1 {
			t.Fatalf("%s: %d hours, want %d", s.Family, len(v), 24*s.Days+1)
		}
	}
	for i := 1; i < len(h.Progress); i++ {
		if h.PeakToCome[i] > h.PeakToCome[i-1] || h.Progress[i] < h.Progress[i-1] {
			t.Fatalf("%s: in hour %d the peak to come rises or progress falls", s.Family, i)
		}
	}
	if s.Gauged == nil || s.Gauged.Leak.Size == 0 {
		for i, g := range h.GaugeBar {
			if g > h.PeakToCome[i]+1e-4 {
				t.Fatalf("%s: hour %d stands above the peak to come", s.Family, i)
			}
		}
	}
	passes(t, s, "ready_at", x.ReadyAt, h.Progress, 0.95)
	if c := x.OverPressure.CrossesAt; c == nil || !c.After(x.EndsAt) {
		passes(t, s, "crosses_at", c, h.RatingShare, 1)
	}
	if x.HorizonAt.Before(x.EndsAt) || x.HorizonAt.After(x.PackagedAt.Add(reach)) {
		t.Errorf("%s: horizon %s", s.Family, x.HorizonAt)
	}
	o := x.OverPressure
	if o.HighestShare != slices.Max(h.RatingShare) || o.RichestShare < o.HighestShare || x.PeakBar != h.PeakToCome[0] {
		t.Errorf("%s: shares %+v, peak %.4f", s.Family, o, x.PeakBar)
	}
	if o.CrossesAt != nil && o.RichestShare < 1 {
		t.Errorf("%s: crosses, but the richest bottle doesn't", s.Family)
	}
	if x.FinalVolumes != round(r.FinalVolumes) || x.NaturalStallAt != nil && x.NaturalStallAt.Before(x.PackagedAt.Add(7*24*time.Hour)) {
		t.Errorf("%s: final %.4f, natural stall %v", s.Family, x.FinalVolumes, x.NaturalStallAt)
	}
	for _, f := range x.Faults {
		if f.KnowableAt != nil && (f.KnowableAt.Before(f.StartsAt) || f.KnowableAt.After(x.EndsAt)) {
			t.Errorf("%s: %s from %s is knowable at %s", s.Family, f.Kind, f.StartsAt, f.KnowableAt)
		}
	}
}

// passes says whether a series first reaches a mark within the hour of an
// instant.
func passes(t *testing.T, s *Scenario, what string, at *time.Time, series []float64, mark float64) {
	t.Helper()
	const digits = 1e-4 // of the series
	first := func(mark float64) int {
		if i := slices.IndexFunc(series, func(v float64) bool { return v >= mark }); i >= 0 {
			return i
		}
		return len(series)
	}
	hour := len(series)
	if at != nil {
		hour = int(math.Ceil(at.Sub(s.Lot.PackagedAt).Hours() - 1e-9))
	}
	hour = min(hour, len(series))
	if early, late := first(mark-digits), first(mark+digits); hour < early || hour > late {
		t.Errorf("%s: %s in hour %d, the series in hour %d to %d", s.Family, what, hour, early, late)
	}
}

func TestBrewerIsOffButNotBlind(t *testing.T) {
	var off []float64
	for i := range 60 {
		s := DrawFamily(8, i, HealthyGauge)
		made := s.Nature.Yield * s.close(s.told(), s.Nature, 1).simple()
		planned := float64(s.Lot.PrimingIn(s.Lot.GaugeBottle.Bottle()).GramsPerLitre())
		off = append(off, made/planned-1)
	}
	slices.Sort(off)
	if off[3] > -0.02 || off[3] < -0.25 || off[56] > 0.15 {
		t.Errorf("what the sugar gives is off by %.2f to %.2f", off[3], off[56])
	}
}

func TestPageIsWholeButForCutLines(t *testing.T) {
	s := Draw(4, 0)
	s.Feed.Page = Page{Cut: 2}
	r := s.Play()
	lines := r.Lines()
	cut := slices.IndexFunc(lines, func(l []byte) bool { return !bytes.HasSuffix(l, []byte("}")) })
	if len(lines) != len(r.Messages) || cut < 0 {
		t.Errorf("%d lines of %d messages, the first cut one %d", len(lines), len(r.Messages), cut)
	}
}
