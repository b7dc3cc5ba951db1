package estimate

import "math"

// ear listens to the gauge itself: whether it moves at all, and whether it has
// come to its end.
type ear struct {
	heard    int     // windows
	last     float64 // value of a window in which nothing moved
	still    int     // windows in a row in which it hasn't
	stillest int     // longest such run that was nothing
	full     bool
	latest   float64 // bar
	has      bool
}

const (
	stuckAfter = 12 // windows
	fullShare  = 0.985
)

func (g *ear) stuck() bool {
	return g.heard > 24 && g.still >= max(stuckAfter, 3*g.stillest+6)
}

// hear takes in a window; NaN when there is nothing to be trusted in it.
func (g *ear) hear(v []float64, fullScale float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	m := median(v)
	g.latest, g.has = m, true
	g.full = fullScale > 0 && m >= fullShare*fullScale
	g.moves(v, m)
	g.heard++
	if g.full || g.stuck() {
		return math.NaN()
	}
	return m
}

func (g *ear) moves(v []float64, m float64) {
	for _, x := range v {
		if x != m || g.still > 0 && m != g.last {
			if !g.stuck() {
				g.stillest = max(g.stillest, g.still)
			}
			g.still = 0
			return
		}
	}
	g.still++
	g.last = m
}

// fault in words; empty when nothing contradicts the gauge.
func (g *ear) fault() string {
	switch {
	case g.full:
		return "stands at the end of its range"
	case g.stuck():
		return "hasn't moved at all for half a day or more"
	}
	return ""
}
