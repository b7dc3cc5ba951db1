package engine

import (
	"fmt"
	"strconv"

	"conditiond/alerts"
	"conditiond/model"
)

// Unfit refuses a field of a note that can't be so, or says too little.
type Unfit struct {
	Field string // as it is named in JSON
	Value string // that came
	Right string // what would be right
}

func (u *Unfit) Error() string {
	return fmt.Sprintf("%s %q: %s would be right", u.Field, u.Value, u.Right)
}

// What a bottle is taken to hold at most, and what a gauge on one to show:
// beyond it is a slip of the pen (judgement). The temperatures are those for
// which the mass balance was made.
const (
	mostVolumes model.Volumes  = 10
	mostBar     model.BarGauge = 12
	coldest     model.Celsius  = 0
	warmest     model.Celsius  = 40
)

// Pulled says whether a note tells of a bottle that was measured.
func (n Note) Pulled() bool { return n.Volumes != nil || n.Bar != nil || n.BeerC != nil }

// measured is the note with the gas of its bottle, reckoned where it was
// measured as a pressure at rest. The bottle is taken to be of the lot's first
// kind.
func (e *Engine) measured(n Note, l model.Lot) (Note, error) {
	if err := n.unfit(); err != nil {
		return n, err
	}
	if n.Bar != nil {
		v := e.filled(l, l.Bottles[0]).CO2(*n.Bar, *n.BeerC)
		n.Volumes = &v
	}
	if v := n.Volumes; v != nil && !(*v >= 0 && *v <= mostVolumes) {
		return n, &Unfit{"volumes", figure(*v), fmt.Sprintf("0 to %g", mostVolumes)}
	}
	return n, nil
}

// unfit says what of a note says too little or contradicts itself.
func (n Note) unfit() error {
	switch {
	case n.Saw == alerts.Decided && n.Text == "":
		return &Unfit{"text", n.Text, "who decides, and what,"}
	case n.Bar == nil && n.BeerC == nil:
		return nil
	case n.Volumes != nil:
		return &Unfit{"volumes", figure(*n.Volumes), "either volumes, or bar and beer_c,"}
	case n.Bar == nil:
		return &Unfit{"bar", "", "with beer_c the bottle's pressure"}
	case n.BeerC == nil:
		return &Unfit{"beer_c", "", "with bar how warm the bottle's beer was"}
	case !(*n.Bar >= 0 && *n.Bar <= mostBar):
		return &Unfit{"bar", figure(*n.Bar), fmt.Sprintf("0 to %g, above the air's,", mostBar)}
	case !(*n.BeerC >= coldest && *n.BeerC <= warmest):
		return &Unfit{"beer_c", figure(*n.BeerC), fmt.Sprintf("%g to %g", coldest, warmest)}
	}
	return nil
}

func figure[F ~float64](v F) string { return strconv.FormatFloat(float64(v), 'g', 4, 64) }

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
