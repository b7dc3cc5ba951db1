package synth

import (
	"math"
	"reflect"
	"testing"
	"time"
)

var packaged = time.Date(2026, 3, 1, 13, 0, 0, 0, time.UTC)

func demo(t *testing.T, i int) (Scenario, *Recording) {
	t.Helper()
	s := Demo(packaged)[i]
	return s, s.Play()
}

func TestSameSeedSameRecording(t *testing.T) {
	s, a := demo(t, 0)
	if b := s.Play(); !reflect.DeepEqual(a, b) {
		t.Error("two plays of one scenario differ")
	}
	s.Seed++
	if b := s.Play(); reflect.DeepEqual(a.Readings, b.Readings) {
		t.Error("another seed gives the same readings")
	}
}

func readyDay(r *Recording) float64 {
	if r.ReadyAt == nil {
		return math.Inf(1)
	}
	return r.ReadyAt.Sub(packaged).Hours() / 24
}

func TestDemoTellsItsStories(t *testing.T) {
	if _, r := demo(t, 0); readyDay(r) < 10 || readyDay(r) > 14 {
		t.Errorf("the healthy lot is ready on day %.1f, want about 12", readyDay(r))
	}
	s, r := demo(t, 1)
	crossed := -1.0
	for _, h := range r.Hours {
		if h.GaugeBar > float64(s.Lot.Bottles[0].RatedBar) {
			crossed = h.At.Sub(packaged).Hours() / 24
			break
		}
	}
	if crossed < 9 || crossed > 15 {
		t.Errorf("the over-primed lot passes its rating on day %.1f, want about 12", crossed)
	}
	_, r = demo(t, 2)
	if last, top := r.Hours[len(r.Hours)-1].GaugeBar, r.Hours[5*24].GaugeBar; last > top/2 {
		t.Errorf("the leaking bottle still holds %.2f bar of %.2f", last, top)
	}
	if _, r = demo(t, 3); readyDay(r) < 25 {
		t.Errorf("the cold lot is ready on day %.1f", readyDay(r))
	}
	s, r = demo(t, 4)
	for _, x := range r.Readings {
		if x.Sensor == s.Lot.GaugeBottle.Sensor && x.At.After(packaged.Add(6*24*time.Hour)) {
			t.Fatal("the silent gauge speaks after day 6")
		}
	}
}

func TestGasIsKept(t *testing.T) {
	_, r := demo(t, 0)
	first, last := r.Hours[0], r.Hours[len(r.Hours)-1]
	if last.CO2Volumes > r.FinalVolumes+1e-9 || first.CO2Volumes > last.CO2Volumes {
		t.Errorf("CO2 goes from %.3f over %.3f to %.3f", first.CO2Volumes, last.CO2Volumes, r.FinalVolumes)
	}
	if math.Abs(last.Progress-1) > 0.03 {
		t.Errorf("progress ends at %.3f", last.Progress)
	}
}
