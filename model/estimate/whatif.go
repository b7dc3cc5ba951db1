package estimate

import (
	"math"
	"time"
)

// Spell is a time for which the bottles would stand at a temperature of their
// own. A zero From is now, a zero Until for good; before and after it the room
// is what it is expected to be.
type Spell struct {
	AtC         float64 // °C
	From, Until time.Time
}

// Prospect is what an Estimator thinks at an instant, to be asked what would be
// under other temperatures. It never changes, so several goroutines may ask.
type Prospect struct{ e Estimator }

// Prospect as of the last Advance.
func (e *Estimator) Prospect() *Prospect {
	p := &Prospect{*e}
	p.e.waiting = nil
	p.e.now.history = e.now.history.clip()
	return p
}

// WhatIf is the estimate as it would be if the bottles stood elsewhere for a
// spell. What is so already doesn't change; an estimator that has heard nothing
// yet says nothing. Beer is taken to follow the spell at once.
func (p *Prospect) WhatIf(s Spell) Estimate {
	if p.e.now.cloud == nil {
		return p.e.Estimate()
	}
	return p.e.answerFor(p.e.spell(s))
}

// spell in ages of the lot.
func (e *Estimator) spell(s Spell) *spell {
	now := float64(e.next) * hour
	age := func(t time.Time, zero float64) float64 {
		if t.IsZero() {
			return zero
		}
		return math.Max(now, t.Sub(e.setup.Lot.PackagedAt).Hours()/24)
	}
	return &spell{age(s.From, now), age(s.Until, math.Inf(1)), s.AtC, now}
}

// spell is a Spell in days since packaging, and what day it is.
type spell struct{ from, until, c, now float64 }

// hottest that counts for the peak, where without the spell it would be hot.
func (s *spell) hottest(hot float64) float64 {
	switch {
	case s == nil || s.until <= s.from:
		return hot
	case s.from <= s.now && math.IsInf(s.until, 1):
		return s.c
	}
	return math.Max(hot, s.c)
}

// rooms are where a bottle stands from now on.
type rooms struct {
	usual float64 // °C
	spell *spell
}

func (o *outlook) rooms(usual float64) rooms { return rooms{usual, o.spell} }

// at an age, the temperature.
func (r rooms) at(age float64) float64 {
	if s := r.spell; s != nil && age >= s.from && age < s.until {
		return s.c
	}
	return r.usual
}

// within is a step of days that doesn't cross the ends of the spell.
func (r rooms) within(age, days float64) float64 {
	if r.spell == nil {
		return days
	}
	for _, end := range [...]float64{r.spell.from, r.spell.until} {
		if age < end && age+days > end {
			days = end - age
		}
	}
	return days
}
