package estimate

import "math"

// arriving is by how much the variance grows of what a gauge says that is first
// heard a day or more after capping: its bottle may have come from a colder
// place, and its beer still be on the way to this one's temperature. Ten kelvin
// at the start are half a bar; beer and headspace come half of the way in some
// three hours (the lags of beer and headspace together).
func (h *history) arriving() float64 {
	n := h.hours()
	if n < 24 {
		return 1
	}
	for i, g := range h.gauge {
		if g == g && i < 24 {
			return 1
		}
		if g == g {
			return 1 + strange*math.Exp(-float64(n-i)/arrivesIn)
		}
	}
	return 1 + strange
}

const (
	strange   = (0.5 / lasting) * (0.5 / lasting) // of the variance: half a bar
	arrivesIn = 2.2                               // hours in which the doubt falls to a third
)

// unsettled is that doubt about a gauge that shows less than most sound bottles
// foretell. More than they do is believed at once: it may be danger.
func (c *cloud) unsettled(b *belief, laws climate, h *history, gauge float64) float64 {
	doubt := h.arriving()
	if doubt == 1 {
		return 1
	}
	list := c.members[sound]
	shows := make([]float64, len(list))
	for i := range list {
		s := &list[i].course
		shows[i], _ = s.terms(b, laws.at(s.beerC), b.airShows(s.age))
	}
	if gauge >= median(shows) {
		return 1
	}
	return doubt
}
