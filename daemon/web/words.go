package web

import (
	"fmt"
	"math"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/model/estimate"
)

// teller puts instants and numbers in words, at an instant and a place, in a
// reader's units.
type teller struct {
	now time.Time
	loc *time.Location
	units
}

// widestReady is how wide a range of days may be and still be told as a date
// (judgement, no source).
const widestReady = 21 * 24 * time.Hour

// moment is an instant with its clock time.
func (t teller) moment(at time.Time) string {
	return at.In(t.loc).Format(t.dayLayout(at) + ", 15:04")
}

func (t teller) day(at time.Time) string { return at.In(t.loc).Format(t.dayLayout(at)) }

func (t teller) dayLayout(at time.Time) string {
	if at.In(t.loc).Year() == t.now.In(t.loc).Year() {
		return "Mon 2 Jan"
	}
	return "Mon 2 Jan 2006"
}

// ago is an age in the one unit that matters.
func (t teller) ago(at time.Time) string {
	d := t.now.Sub(at)
	switch {
	case d < -time.Minute:
		return "dated in the future: " + t.moment(at)
	case d < 90*time.Second:
		return "just now"
	}
	return alerts.Span(d) + " ago"
}

// ready says when a lot will be, or why that isn't said.
func (t teller) ready(l engine.LotView) string {
	if l.Document.StopAtVolumes > 0 {
		return fmt.Sprintf("never by itself: chill it at %s", t.gas().words(float64(l.Document.StopAtVolumes)))
	}
	if l.Hold != nil {
		return "on hold: see what was measured"
	}
	e := l.Estimate
	if e == nil || e.ReadyAt == nil {
		return "too early to say"
	}
	switch e.Phase {
	case estimate.Chilled, estimate.Closed:
		return "–"
	case estimate.Ready:
		return t.readySince(*e.ReadyAt)
	}
	return t.readyRange(*e.ReadyAt)
}

func (t teller) readySince(w estimate.When) string {
	if w.P50 == nil || w.P50.After(t.now) {
		return "reached"
	}
	return "reached about " + t.day(*w.P50)
}

func (t teller) readyRange(w estimate.When) string {
	if w.P05 == nil || w.P95 == nil || w.P95.Sub(*w.P05) > widestReady {
		if w.P05 != nil && w.P05.After(t.now) {
			return "too early to say; not before " + t.day(*w.P05)
		}
		return "too early to say"
	}
	if w.P95.Before(t.now) {
		return "about now"
	}
	first := "now"
	if w.P05.After(t.now) {
		first = t.day(*w.P05)
	}
	if last := t.day(*w.P95); last != first {
		return first + " to " + last
	}
	return "about " + first
}

// number has fixed decimals and a real minus; none has a dash.
func number(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	s := fmt.Sprintf("%.*f", decimals, math.Abs(v))
	if v < 0 && s != fmt.Sprintf("%.*f", decimals, 0.0) {
		return "−" + s
	}
	return s
}

// percent is rounded down: what isn't all is never 100 %.
func percent(v float64) string { return number(math.Floor(v*100+1e-9), 0) + " %" }

// between is the 90 % band of an interval.
func between(i estimate.Interval, as func(float64) string) string {
	return as(i.P05) + " to " + as(i.P95)
}

// chance is a probability as people can use it: no digits that aren't known.
func chance(p float64) string {
	switch {
	case p < 0.01:
		return "less than 1 in 100"
	case p > 0.99:
		return "more than 99 in 100"
	}
	return fmt.Sprintf("about %.0f in 100", p*100)
}

// standing is where a lot is, in the trade's words.
func standing(l engine.LotView) string {
	switch {
	case l.ClosedAt != nil:
		return "Closed"
	case l.ChilledAt != nil:
		return "Chilled"
	case l.Hold != nil:
		return "On hold until somebody decides"
	case l.Estimate == nil:
		return "No estimate yet"
	case l.Estimate.Phase == estimate.Ready:
		return "Ready: chill one and judge it"
	}
	return "Conditioning"
}
