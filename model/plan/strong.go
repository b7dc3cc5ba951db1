package plan

import (
	"fmt"
	"math"
	"strings"

	"conditiond/model"
)

// list the loads of which `which` is true, by name.
func (d desk) list(which func(load) bool) string {
	var names []string
	for _, x := range d.loads() {
		if which(x) {
			names = append(names, x.name())
		}
	}
	return strings.Join(names, ", ")
}

// refused are bottles that aren't made for pressure.
func (d desk) refused() []caution {
	var all []caution
	for _, x := range d.loads() {
		if x.Refused() {
			c, _ := model.ContainerOf(x.Kind)
			all = append(all, hold("Do not fill "+x.name(), ": %s. Take beer or sparkling-wine bottles, or PET for carbonated drinks; "+
				"only a written rating from its maker (rated_bar) would change this.", c.Why)...)
		}
	}
	return all
}

// told is true when why the bottles would be over their rating is said already:
// too much sugar, or only what is unfinished.
func (d desk) told(x load) bool {
	finished := x.sealed.Gauge(x.ends-d.primed.Unfinished(), d.lot.WorstCaseC)
	return d.much() || len(d.unfinished()) > 0 && finished <= x.rating
}

func (d desk) overRating() []caution {
	var all []caution
	for _, x := range d.loads() {
		if d.verdict(x) != Exceeds || x.Refused() || d.told(x) {
			continue
		}
		all = append(all, hold("Do not fill "+x.name(), ": they count as good for %.1f bar (%s) and would stand at %.1f bar at %g °C. "+
			"Plan fewer volumes, keep them cooler, or take stronger bottles.",
			float64(x.rating), rated(x), float64(d.worst(x)), float64(d.lot.WorstCaseC))...)
	}
	return all
}

// rated says where a rating comes from.
func rated(x load) string {
	c, _ := model.ContainerOf(x.Kind)
	switch {
	case x.RatedBar > 0:
		return "the rating you gave"
	case x.CeilingVolumes > 0:
		return fmt.Sprintf("what the %.1f volumes you gave exert at 30 °C", float64(x.CeilingVolumes))
	case c.Ceiling > 0:
		return fmt.Sprintf("no rating given; what %.1f volumes exert at 30 °C, %s", float64(c.Ceiling), c.Why)
	}
	return "no rating given; " + c.Why
}

func (d desk) tight() []caution {
	var all []caution
	for _, x := range d.loads() {
		if d.verdict(x) == Tight {
			all = append(all, warn("%s: %.1f bar at %g °C is %.0f %% of the %.1f bar they count as good for (%s).%s "+
				"Use only unscratched ones, keep them cool, and stand them in something closed.",
				x.name(), float64(d.worst(x)), float64(d.lot.WorstCaseC), 100*d.share(x), float64(x.rating), rated(x), d.richestToo(x))...)
		}
	}
	return all
}

func (d desk) richestToo(x load) string {
	if d.richestPresses(x) <= d.strongest(x) {
		return ""
	}
	return " One in a hundred gets more sugar than the average and could pass it."
}

// strength looks at the richest bottle in a hundred, with the least solubility
// that beer may have, where the average bottle gives no reason to.
func (d desk) strength() []caution {
	over := d.list(func(x load) bool { return d.verdict(x) == Fits && d.richestPresses(x) > d.strongest(x) })
	if over == "" {
		return nil
	}
	return warn("The average bottle stays well below its rating, but one in a hundred gets more sugar, and beers differ in how much gas they hold: "+
		"such a bottle could pass its rating at %g °C (%s). Mix the sugar in well, or plan fewer volumes.", float64(d.lot.WorstCaseC), over)
}

// richest is where that bottle ends. A live drink is stopped at its mark,
// whatever went in.
func (d desk) richest(x load) model.Volumes {
	if d.live() {
		return x.ends
	}
	return x.ends + model.Richest(x.primed) - x.primed
}

// richestPresses is its pressure at the worst case, in beer that holds little.
func (d desk) richestPresses(x load) model.BarGauge {
	return x.sealed.Strength().Gauge(d.richest(x), d.lot.WorstCaseC)
}

// strongest is the rating as the richest bottle meets it: one in volumes was
// found by filling beer, so it rises with the pressure that beer makes.
func (d desk) strongest(x load) model.BarGauge {
	c, _ := model.ContainerOf(x.Kind)
	if x.RatedBar > 0 || x.CeilingVolumes == 0 && c.Rated > 0 {
		return x.rating
	}
	return (x.rating.Absolute(d.station) * (model.BeerSolubility / model.SafetySolubility)).Gauge(d.station)
}

// Headspace as a share of the beer that is usual (common practice, no source).
const (
	leastFill = 0.02
	mostFill  = 0.08
)

// fill looks at the headspace: too little and the warming beer fills it, much
// and it takes a share of the gas.
func (d desk) fill() []caution {
	var all []caution
	for _, x := range d.loads() {
		head := x.HeadspaceML / x.VolumeML
		left := x.sealed.HeadspaceAt(x.ends, d.lot.WorstCaseC)
		switch {
		case left <= 0:
			all = append(all, hold("Do not fill "+x.name()+" so high", ": with %s mL of headspace nothing is left at %g °C, and beer that has no room presses without mercy. "+
				"Leave 4 %% of the volume, %.0f mL.", plain(x.HeadspaceML), float64(d.lot.WorstCaseC), 0.04*x.VolumeML)...)
		case head < leastFill:
			all = append(all, warn("%s: %s mL of headspace is little; it shrinks to %.0f mL at %g °C. Leave 4 %% of the volume, %.0f mL.",
				x.name(), plain(x.HeadspaceML), float64(left)*1000, float64(d.lot.WorstCaseC), 0.04*x.VolumeML)...)
		case head > mostFill && d.need() > 0:
			all = append(all, d.bigHeadspace(x, head)...)
		}
	}
	return all
}

// bigHeadspace says what priming it takes for the target to be in the beer
// rather than in beer and headspace.
func (d desk) bigHeadspace(x load, head float64) []caution {
	b := model.Bottle{Beer: x.sealed.Beer, Headspace: x.sealed.Headspace}
	p := model.Bar(float64(d.target().GramsPerLitre()) / model.Solubility(room, model.BeerSolubility))
	total := b.CO2(p, room, model.BeerSolubility)
	if x.Kind == model.Keg && d.lot.Capped == model.Purged { // holds an atmosphere of CO2 from the start
		total -= model.Volumes(head * float64(d.station/model.Atmosphere) * 273.15 / room.Kelvin())
	}
	more := float64((total - d.bare().Residual(d.station)).GramsPerLitre())
	sucrose, _ := model.SugarOf(model.Sucrose)
	return warn("%s: a headspace of %.0f %% takes %.0f %% of the gas. The target is counted over beer and headspace together; for %.1f volumes in the beer itself at %g °C "+
		"take %.1f g/L of sucrose. Half the sugar for a keg is a matter of foam, not of chemistry.",
		x.name(), 100*head, 100*headspaceShare(b), float64(d.target()), float64(room), more/sucrose.CO2)
}

// headspaceShare of the CO2 at 20 °C.
func headspaceShare(b model.Bottle) float64 {
	k := model.Solubility(room, model.BeerSolubility)
	gas := model.MolarMassCO2 / model.MolarVolume(2, room) / 2 * float64(b.Headspace/b.Beer)
	return gas / (gas + k)
}

func (d desk) unknownGlass() []caution {
	kinds := d.list(func(x load) bool {
		return !d.much() && x.RatedBar == 0 && x.CeilingVolumes == 0 && (x.Kind == model.UnknownGlass || x.Kind == model.SwingTop)
	})
	if kinds == "" {
		return nil
	}
	return warn("Nobody's rating is known for %s. Hold each against the light and throw out scratched, chipped, light or much used ones; "+
		"a look can't find every flaw. A closure that leaks is no protection.", kinds)
}

// plasticWarm is where PET begins to give way (common practice, no source).
const plasticWarm model.Celsius = 38

func (d desk) plastic() []caution {
	kinds := d.list(func(x load) bool { return x.Kind == model.PET })
	if kinds == "" || d.lot.WorstCaseC <= plasticWarm {
		return nil
	}
	return warn("PET stretches and loses its strength above %g °C (%s); worst_case_c is %g °C. Keep it cooler.",
		float64(plasticWarm), kinds, float64(d.lot.WorstCaseC))
}

// cans say how few unfermented points would buckle them.
func (d desk) cans() []caution {
	var all []caution
	for _, x := range d.loads() {
		if x.Kind != model.Can || d.live() {
			continue
		}
		spare := float64(x.sealed.CO2(x.rating, d.lot.WorstCaseC) - x.ends)
		if spare <= 0 {
			continue
		}
		all = append(all, warn("%s: %.1f bar at %g °C of the %.1f at which a can buckles. Some %.0f points of unfermented gravity would be enough, "+
			"so be strict about the beer being finished.",
			x.name(), float64(d.worst(x)), float64(d.lot.WorstCaseC), float64(x.rating), math.Max(1, math.Ceil(spare/0.5)))...)
	}
	return all
}

// bottledVolume compares what the bottles hold with what there is.
func (d desk) bottledVolume() []caution {
	filled, v := float64(d.lot.Filled()), float64(d.primed.Volume())
	if r := filled / v; r > 0.75 && r < 1.25 {
		return nil
	}
	return warn("The bottles hold %s L, the beer is %s L. The sugar is for the volume that is really in the bucket: measure it there.", plain(filled), plain(v))
}
