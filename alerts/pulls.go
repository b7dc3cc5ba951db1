package alerts

import (
	"conditiond/model"
	"conditiond/model/estimate"
)

// A pull is a bottle of the lot that was opened or pierced, and its gas
// measured.

// Hold says that a lot is neither ready nor not until somebody has decided on
// it, because bottles of it don't belong together: why, and what to do first.
type Hold struct {
	Summary string `json:"summary"`
	Advice  string `json:"advice"` // lines
}

// morePulls are wanted from across the run after one that is out (common
// practice, no source). They don't end the hold: of a lot in which one bottle in
// ten is rich, six more miss it 53 times in a hundred, 0.9⁶. They are what
// somebody decides by.
const morePulls = 6

// Hold of the lot, beside the alerts that stand; nil = none. It lasts until a
// person has decided, or the lot went into the cold.
func (s Situation) Hold(open func(Name, string) Severity) *Hold {
	if !s.held() {
		return nil
	}
	var h Hold
	h.Summary, h.Advice = onHold(s, s.handsOff(open))
	return &h
}

func (s Situation) held() bool {
	return s.Phase != estimate.Closed && s.Phase != estimate.Chilled && len(s.out()) > 0
}

// handsOff says that nobody is to pull bottles.
func (s Situation) handsOff(open func(Name, string) Severity) bool {
	if open(OverPressure, "") == Danger {
		return true
	}
	found := overPressure(Config{}, s, open)
	return len(found) > 0 && found[0].Severity == Danger
}

// unlike tells of a hold for bottles with too much in them, unless a danger
// tells more. For too little there is no alert: ready is withheld, and the lot
// says why.
func unlike(c Config, s Situation, open func(Name, string) Severity) []Finding {
	h, stands := s.Hold(open), open(OverCarbonation, "")
	if h == nil || s.handsOff(open) && stands == "" {
		return nil
	}
	f := Finding{Name: OverCarbonation, Severity: Notice, Summary: h.Summary, Advice: h.Advice}
	for _, x := range s.out() {
		if *x.Volumes > s.Richest {
			f.Grade++ // each more is told anew
		}
	}
	if f.Grade == 0 {
		return nil
	}
	if stands == Warning { // of the lot's end: this must be heard beside it
		f.Severity = Warning
	}
	return one(f)
}

// pulls since somebody decided last, in the order in which they were told.
func (s Situation) pulls() []Seen {
	var out []Seen
	for _, x := range s.Seen {
		switch {
		case x.What == Decided:
			out = nil
		case x.Volumes != nil:
			out = append(out, x)
		}
	}
	return out
}

// out are the pulls that chance alone hardly explains.
func (s Situation) out() []Seen {
	var out []Seen
	for _, x := range s.pulls() {
		if s.isOut(x) {
			out = append(out, x)
		}
	}
	return out
}

// isOut is a bottle that has more than the richest of a hundred will have in the
// end, whenever that was, or less than the poorest when the lot was done.
func (s Situation) isOut(x Seen) bool {
	v := *x.Volumes
	return s.Richest > 0 && (v > s.Richest || v < s.Poorest && s.doneBy(x))
}

func (s Situation) doneBy(x Seen) bool {
	e := s.Estimate
	return e != nil && e.ReadyAt != nil && e.ReadyAt.P50 != nil && !x.At.Before(*e.ReadyAt.P50)
}

// since the last that was out, so many that had what they should have in the
// end.
func (s Situation) since() (n int) {
	for _, x := range s.pulls() {
		switch {
		case s.isOut(x):
			n = 0
		case *x.Volumes >= s.Poorest:
			n++
		}
	}
	return n
}

// highest of the pulls.
func (s Situation) highest() (top Seen, ok bool) {
	for _, x := range s.pulls() {
		if !ok || *x.Volumes > *top.Volumes {
			top, ok = x, true
		}
	}
	return top, ok
}

func mean(list []Seen) model.Volumes {
	var sum model.Volumes
	for _, x := range list {
		sum += *x.Volumes
	}
	return sum / model.Volumes(len(list))
}

// richestOver says that the richest pull had more gas than the weakest bottles
// bear where they stand: its neighbours may have as much.
func (s Situation) richestOver() bool {
	x, ok := s.highest()
	if !ok || !s.live() {
		return false
	}
	beer := s.Estimate.BeerC
	return s.Ceiling > 0 && *x.Volumes > s.Ceiling || beer != nil && s.Weak.Gauge(*x.Volumes, model.Celsius(*beer)) >= s.Limit
}

// richestMayPass says that it would be more than they bear at the warmest that
// is foreseen.
func (s Situation) richestMayPass() bool {
	x, ok := s.highest()
	return ok && s.live() && s.Weak.Gauge(*x.Volumes, s.Lot.WorstCaseC) >= s.Limit
}
