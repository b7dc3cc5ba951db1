package engine

import (
	"errors"
	"fmt"

	"conditiond/alerts"
	"conditiond/model"
)

// ErrUnfit refuses what can't be so, or says too little.
var ErrUnfit = errors.New("it can't be taken so")

// What a bottle is taken to hold at most, and what a gauge on one to show:
// beyond it is a slip of the pen (judgement). The temperatures are those for
// which the mass balance was made.
const (
	mostVolumes model.Volumes  = 10
	mostBar     model.BarGauge = 12
	coldest     model.Celsius  = 0
	warmest     model.Celsius  = 40
)

// pulled says whether a note tells of a bottle that was measured.
func (n Note) pulled() bool { return n.Volumes != nil || n.Bar != nil || n.BeerC != nil }

// measured is the note with the gas of its bottle, reckoned where it was
// measured as a pressure at rest. The bottle is taken to be of the lot's first
// kind.
func (e *Engine) measured(n Note, l model.Lot) (Note, error) {
	if n.Saw == alerts.Decided && n.Text == "" {
		return n, fmt.Errorf("text: with %q it must say who decides, and what: %w", n.Saw, ErrUnfit)
	}
	switch {
	case !n.pulled():
		return n, nil
	case n.Bar == nil && n.BeerC == nil:
	case n.Volumes != nil:
		return n, fmt.Errorf("volumes: either they or bar and beer_c of a bottle would be right: %w", ErrUnfit)
	case n.Bar == nil || n.BeerC == nil:
		return n, fmt.Errorf("bar, beer_c: of a bottle both would be right, its pressure and how warm its beer was: %w", ErrUnfit)
	case !(*n.Bar >= 0 && *n.Bar <= mostBar):
		return n, fmt.Errorf("bar %g: 0 to %g above the air's would be right: %w", *n.Bar, mostBar, ErrUnfit)
	case !(*n.BeerC >= coldest && *n.BeerC <= warmest):
		return n, fmt.Errorf("beer_c %g: %g to %g °C would be right: %w", *n.BeerC, coldest, warmest, ErrUnfit)
	default:
		b := e.filled(l, l.Bottles[0])
		v := b.CO2(*n.Bar, *n.BeerC)
		n.Volumes = &v
	}
	if !(*n.Volumes >= 0 && *n.Volumes <= mostVolumes) {
		return n, fmt.Errorf("volumes %.4g: 0 to %g volumes would be right: %w", *n.Volumes, mostVolumes, ErrUnfit)
	}
	return n, nil
}

// filled bottle of a lot, when its yeast has taken the oxygen.
func (e *Engine) filled(l model.Lot, b model.Bottles) model.Sealed {
	s := l.Sealed(b.Bottle(), e.c.Station)
	s.Air = s.Air.Spent()
	return s
}

// measure in words; empty = nothing was.
func (n Note) measure() string {
	switch {
	case n.Volumes == nil:
		return ""
	case n.Bar == nil:
		return fmt.Sprintf("A bottle was measured: %.2f volumes. ", *n.Volumes)
	}
	return fmt.Sprintf("A bottle was measured: %.2f volumes, by %.2f bar at %.1f °C. ", *n.Volumes, *n.Bar, *n.BeerC)
}
