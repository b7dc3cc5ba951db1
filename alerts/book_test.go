package alerts

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"conditiond/model"
	"conditiond/model/estimate"
)

var packaged = time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC)

// calm is an invented lot on day 8 of which nothing need be said.
func calm() Situation {
	beer, gauge := 20.0, 1.8
	return Situation{
		Now: packaged.Add(8 * 24 * time.Hour), Limit: 4, Weakest: "standard glass 330 ml", Phase: estimate.Conditioning,
		Lot: model.Lot{ID: "invented-ale", Name: "Invented ale", Yeast: model.Ale, PackagedAt: packaged, TargetVolumes: 2.4, WorstCaseC: 30},
		Estimate: &estimate.Estimate{
			BeerC: &beer, GaugeBar: &gauge, Progress: &estimate.Interval{P05: 0.6, P50: 0.7, P95: 0.8},
			FinalVolumes: &estimate.Interval{P05: 2.2, P50: 2.4, P95: 2.6}, PeakBar: &estimate.Interval{P05: 1.9, P50: 2.1, P95: 2.4},
		},
		Thermometer: Sensor{Name: "stairs-air", Topic: "stairs/air", Last: packaged.Add(8 * 24 * time.Hour), Value: 20},
		Gauge:       &Sensor{Name: "gauge-a", Topic: "stairs/gauge-a", Last: packaged.Add(8 * 24 * time.Hour), Value: 1.8},
	}
}

// after lets time go by in a situation that stays as it is.
func (s Situation) after(d time.Duration) Situation {
	s.Now = s.Now.Add(d)
	return s
}

func states(list []Alert) string {
	var words []string
	for _, a := range list {
		words = append(words, string(a.Name)+" "+string(a.Severity)+" "+string(a.State))
	}
	return strings.Join(words, ", ")
}

func look(t *testing.T, b Book, s Situation, want string) Book {
	t.Helper()
	b, changes := b.Look(Config{}.Defaults(), s)
	if got := states(changes); got != want {
		t.Errorf("at %s: %q, want %q", s.Now.Format("Jan 2 15:04"), got, want)
	}
	return b
}

func TestCalmLotSaysNothing(t *testing.T) { look(t, NewBook(), calm(), "") }

// A finding must hold for a while, is said once, and clears only when it has
// been gone for a while.
func TestRaisedOnceClearedOnce(t *testing.T) {
	s := calm()
	s.Estimate.Signs.Leak = 0.95
	b := look(t, NewBook(), s, "")
	b = look(t, b, s.after(11*time.Hour), "")
	b = look(t, b, s.after(12*time.Hour), "leak warning raised")
	b = look(t, b, s.after(20*time.Hour), "")
	s.Estimate.Signs.Leak = 0.1
	b = look(t, b, s.after(21*time.Hour), "")
	b = look(t, b, s.after(60*time.Hour), "")
	s.Estimate.Signs.Leak = 0.95 // back before it was let go: nothing new
	b = look(t, b, s.after(61*time.Hour), "")
	s.Estimate.Signs.Leak = 0.1
	b = look(t, b, s.after(62*time.Hour), "")
	look(t, b, s.after(111*time.Hour), "leak warning cleared")
}

// A book that comes back from a restart still raises and clears.
func TestBookReadFromJSON(t *testing.T) {
	text, err := json.Marshal(NewBook())
	if err != nil {
		t.Fatal(err)
	}
	var b Book
	if err := json.Unmarshal(text, &b); err != nil {
		t.Fatal(err)
	}
	s := calm()
	s.Estimate.OverPressure.Probability = 0.4
	b = look(t, b, s, "over-pressure warning raised")
	s.Estimate.OverPressure.Probability = 0
	look(t, look(t, b, s, ""), s.after(12*time.Hour), "over-pressure warning cleared")
}

// A flicker never becomes an alert.
func TestFlickerIsNothing(t *testing.T) {
	s, b := calm(), NewBook()
	for h := range 100 {
		s.Estimate.Signs.Leak = float64(h % 2)
		b = look(t, b, s.after(time.Duration(h)*time.Hour), "")
	}
}

func TestDangerByTheGauge(t *testing.T) {
	s := calm()
	s.Estimate.OverPressure.Probability = 0.4
	b := look(t, NewBook(), s, "over-pressure warning raised")
	s.Gauge.Value = 4.02
	b = look(t, b, s.after(time.Hour), "over-pressure danger raised")
	s.Gauge.Value = 3.9 // a little under: nobody is told that it is over
	b = look(t, b, s.after(2*time.Hour), "")
	s.Gauge.Value, s.Estimate.OverPressure.Probability = 1.2, 0
	b = look(t, b, s.after(3*time.Hour), "")
	look(t, b, s.after(15*time.Hour), "over-pressure danger returned")
}

// What was expected and then comes is told again, though both are danger.
func TestCrossingComesTrue(t *testing.T) {
	s := calm()
	at := s.Now.Add(30 * time.Hour)
	s.Estimate.OverPressure = estimate.OverPressure{Probability: 0.9, CrossesAt: &estimate.When{P05: &at, P50: &at, P95: &at}}
	b := look(t, NewBook(), s, "over-pressure danger raised")
	s.Gauge.Full, s.Gauge.Value = true, 10
	b, changes := b.Look(Config{}.Defaults(), s.after(time.Hour))
	if states(changes[:1]) != "over-pressure danger raised" || !strings.Contains(changes[0].Summary, "at or above 10.00 bar") {
		t.Errorf("changes %q: %s", states(changes), changes[0].Summary)
	}
	if b.Severity("invented-ale")(SensorFault, "gauge-a") != Warning {
		t.Error("a gauge at the end of its scale is a fault of the gauge too")
	}
}

// A leak of the gauge never lowers the lot's risk.
func TestLeakDoesNotHideDanger(t *testing.T) {
	s := calm()
	s.Estimate.OverPressure.Probability, s.Estimate.Signs.Leak, s.Gauge.Value = 0.4, 1, 0.2
	look(t, NewBook(), s, "over-pressure warning raised")
}

func TestGaugeThatFellCallsNoWarningOff(t *testing.T) {
	s := calm()
	s.Estimate.OverPressure.Probability = 0.4
	book := look(t, NewBook(), s, "over-pressure warning raised")
	s.Estimate.OverPressure.Probability, s.Estimate.Signs.Away = 0, 0.9
	for range 48 {
		s.Now = s.Now.Add(time.Hour)
		s.Gauge.Last, s.Thermometer.Last = s.Now, s.Now
		book = look(t, book, s, "")
	}
	s.Estimate.Signs.Away = 0
	for range 48 {
		s.Now = s.Now.Add(time.Hour)
		s.Gauge.Last, s.Thermometer.Last = s.Now, s.Now
		var changes []Alert
		if book, changes = book.Look(Config{}.Defaults(), s); states(changes) == "over-pressure warning cleared" {
			return
		}
	}
	t.Error("the warning is never cleared")
}

func TestReadyWaitsWhenInDoubt(t *testing.T) {
	sure := func() Situation {
		s := calm()
		s.Estimate.Signs.Done, s.Estimate.Signs.Flat = true, true
		return s
	}
	look(t, NewBook(), sure(), "ready notice raised")
	for doubt, with := range map[string]func(*Situation){
		"still rising":    func(s *Situation) { s.Estimate.Signs.Flat = false },
		"not sure":        func(s *Situation) { s.Estimate.Signs.Done = false },
		"more gas":        func(s *Situation) { s.Estimate.Signs.Unexpected = 0.5 },
		"gauge silent":    func(s *Situation) { s.Gauge.Silent = true },
		"a live drink":    func(s *Situation) { s.Lot.StopAtVolumes = 2 },
		"put in the cold": func(s *Situation) { s.Phase = estimate.Chilled },
	} {
		s := sure()
		with(&s)
		_, changes := NewBook().Look(Config{}.Defaults(), s)
		if strings.Contains(states(changes), "ready") {
			t.Errorf("%s, and still it says ready", doubt)
		}
	}
}

func TestColdHeatSilence(t *testing.T) {
	s := calm()
	*s.Estimate.BeerC = 11
	b := look(t, NewBook(), s, "")
	b = look(t, b, s.after(24*time.Hour), "too-cold notice raised")
	*s.Estimate.BeerC = 31
	b = look(t, b, s.after(25*time.Hour), "")
	b = look(t, b, s.after(27*time.Hour), "too-warm warning raised")
	s.Gauge.Silent = true
	b = look(t, b, s.after(28*time.Hour), "sensor-silent warning raised")
	s.Gauge.Silent = false
	look(t, b, s.after(29*time.Hour), "sensor-silent warning cleared")
}

func TestMessages(t *testing.T) {
	s := calm()
	s.Estimate.OverPressure.Probability = 0.4
	b, _ := NewBook().Look(Config{}.Defaults(), s)
	to := []Recipient{{"brewer", Warning}, {"siren", Danger}, {"diary", Notice}}
	_, _, list := b.Tell(Config{}, to, s.Now)
	if len(list) != 2 || list[0].To != "brewer" || list[1].To != "diary" || list[0].ID == list[1].ID {
		t.Errorf("told %+v", list)
	}
}
