package alerts

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"conditiond/model"
	"conditiond/model/estimate"
)

// measured adds pulls to a situation.
func (s Situation) measured(volumes ...model.Volumes) Situation {
	for _, v := range volumes {
		s.Seen = append(s.Seen, Seen{At: s.Now, Volumes: &v})
	}
	return s
}

func (s Situation) decided() Situation {
	s.Seen = append(s.Seen, Seen{What: Decided, At: s.Now})
	return s
}

// tank is calm, with 2.6 volumes wanted of 0.87 residual: 1.73 of priming, 14 %
// more or less in one bottle of a hundred, so 2.36 to 2.84.
func tank() Situation {
	s := calm()
	done := s.Now.Add(-24 * time.Hour)
	s.Poorest, s.Richest = 2.36, 2.84
	s.Estimate.ReadyAt = &estimate.When{P50: &done}
	s.Estimate.Signs.Done, s.Estimate.Signs.Flat = true, true
	lot := model.Lot{Capped: model.Purged, Beer: model.Beer{VolumeL: 19, OriginalGravity: 1.048, FinalGravity: 1.012, WarmestC: 18}}
	s.Weak = lot.Sealed(model.Bottle{Beer: 0.33, Headspace: 0.013}, model.Atmosphere)
	return s
}

const held = "over-carbonation notice raised"

// The one that is out holds the lot, by what it says of the spread and not by
// the mean; ready waits until somebody has decided.
func TestOneBottleOutHoldsTheLot(t *testing.T) {
	s := tank()
	look(t, NewBook(), s.measured(2.55, 2.62, 2.70), "ready notice raised")
	b := look(t, NewBook(), s.measured(2.55, 2.62), "ready notice raised")
	s = s.measured(2.55, 2.62, 2.92)
	b = look(t, b, s, held+", ready notice cleared")
	look(t, NewBook(), s, held)
	h := s.Hold(NewBook().Severity(""))
	for _, want := range []string{"1 of 3", "2.92", "2.36 to 2.84", "mean, 2.70 volumes, hides it", "at least 6 more", "Set aside", "who decides", "not mixed"} {
		if !strings.Contains(h.Summary+h.Advice, want) {
			t.Errorf("%q is not in %+v", want, h)
		}
	}
	b = look(t, b, s.measured(3.00), held) // another one: told anew
	s = s.measured(3.00).decided()
	b = look(t, b, s, "") // the engine ends it at once
	b = look(t, b, s.after(24*time.Hour), "over-carbonation notice cleared")
	look(t, b, s.after(25*time.Hour), "ready notice raised")
}

// Six more that are in are no proof: the hold asks for a decision, and lasts.
func TestMorePullsAreToDecideBy(t *testing.T) {
	s := tank().measured(2.92, 2.6, 2.6, 2.6, 2.6, 2.6)
	if h := s.Hold(NewBook().Severity("")); !strings.HasPrefix(h.Advice, "Hold the lot") {
		t.Errorf("after five more: %s", h.Advice)
	}
	early := s
	early.Now = s.Now.Add(-48 * time.Hour)
	early = early.measured(1.2) // not done then, which tells nothing
	if h := early.Hold(NewBook().Severity("")); !strings.HasPrefix(h.Advice, "Hold the lot") {
		t.Errorf("after an early one: %s", h.Advice)
	}
	s = s.measured(2.6)
	if h := s.Hold(NewBook().Severity("")); h == nil || !strings.HasPrefix(h.Advice, "Decide on the lot: the 6 bottles") {
		t.Errorf("after six more: %+v", h)
	}
	if s = s.decided(); s.Hold(NewBook().Severity("")) != nil {
		t.Error("a decision doesn't end it")
	}
	if s.measured(2.60).Hold(NewBook().Severity("")) != nil || s.measured(2.95).Hold(NewBook().Severity("")) == nil {
		t.Error("after a decision only what is measured then counts")
	}
}

// Too little is no over-carbonation: the lot waits and says why. Before it is
// done every bottle has too little.
func TestPoorBottleWithholdsReady(t *testing.T) {
	s := tank().measured(2.2)
	look(t, NewBook(), s, "")
	if h := s.Hold(NewBook().Severity("")); h == nil || !strings.Contains(h.Summary, "2.20 volumes") {
		t.Errorf("%+v", h)
	}
	if !strings.Contains(s.brief(), "on hold") {
		t.Errorf("the digest says %q", s.brief())
	}
	s.Seen[0].At = s.Now.Add(-48 * time.Hour)
	look(t, NewBook(), s, "ready notice raised")
	s.Estimate.ReadyAt = nil
	if s.Hold(NewBook().Severity("")) != nil {
		t.Error("too little of a lot that is never done")
	}
}

// While there is danger nobody is told to pull bottles.
func TestHoldInDanger(t *testing.T) {
	s := tank().measured(2.92)
	s.Gauge.Value = 4.1
	b := look(t, NewBook(), s, "over-pressure danger raised")
	if h := s.Hold(b.Severity(s.Lot.ID)); h == nil || !strings.HasPrefix(h.Advice, "Do not touch") {
		t.Error(h.Advice)
	}
}

// No hold of what is in the cold, gone, or has no end that was planned.
func TestWhereNothingIsHeld(t *testing.T) {
	s := tank().measured(2.92)
	for _, p := range []estimate.Phase{estimate.Chilled, estimate.Closed} {
		if s.Phase = p; s.Hold(NewBook().Severity("")) != nil {
			t.Errorf("a lot that is %s", p)
		}
	}
	s.Phase, s.Poorest, s.Richest = estimate.Conditioning, 0, 0
	if s.Hold(NewBook().Severity("")) != nil {
		t.Error("a live drink")
	}
}

// What is more than the glass bears is told as pressure: danger by its ceiling
// or where it stands, a warning by the warmest that is foreseen. Filled beer of
// 2.6 volumes has 2.08 bar at 20 °C and 3.47 at 34 °C by a practitioner's sums;
// 2.92 have some 2.5 at 20 °C and 3.5 at 30 °C.
func TestRichBottleAgainstItsGlass(t *testing.T) {
	for _, c := range []struct {
		ceiling model.Volumes
		limit   model.BarGauge
		gas     model.Volumes
		want    string
	}{
		{3.0, 3.9, 2.92, held},
		{3.0, 3.9, 3.05, "over-pressure danger raised"},
		{2.9, 3.9, 2.92, "over-pressure danger raised"},
		{0, 5.0, 2.92, held},
		{0, 3.0, 2.92, "over-pressure warning raised, " + held},
		{0, 2.2, 2.92, "over-pressure danger raised"},
		{0, 3.0, 2.50, ""},
	} {
		s := tank().measured(c.gas)
		s.Ceiling, s.Limit, s.Estimate.Signs.Done = c.ceiling, c.limit, false
		t.Run(fmt.Sprint(c), func(t *testing.T) { look(t, NewBook(), s, c.want) })
	}
}

// A hold is heard beside the warning that the whole lot ends too high.
func TestHoldBesideAWarning(t *testing.T) {
	s := tank()
	s.Estimate.Signs.Over = 0.9
	b := look(t, NewBook(), s, "ready notice raised")
	b = look(t, b, s.after(12*time.Hour), "over-carbonation warning raised")
	s = s.measured(2.92)
	b = look(t, b, s.after(13*time.Hour), "over-carbonation warning raised, ready notice cleared")
	look(t, b, s.after(14*time.Hour), "")
}
