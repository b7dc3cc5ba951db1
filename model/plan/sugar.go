package plan

import (
	"fmt"
	"math"
	"strings"

	"conditiond/model"
)

// coldest that beer usually is at its warmest since fermentation ended, °C; less
// looks like the temperature of a cold crash.
const coldest model.Celsius = 13

// coldResidual shows both answers where a cold crash may have been entered as
// the warmest temperature.
func (d desk) coldResidual() []caution {
	if d.lot.Beer.WarmestC >= coldest || d.live() {
		return nil
	}
	warm := d
	warm.lot.Beer.WarmestC = 18
	dose, other := d.dose(model.Priming{Sugar: model.Sucrose}), warm.dose(model.Priming{Sugar: model.Sucrose})
	less := d.target() - d.bare().Residual(d.station) + warm.bare().Residual(d.station)
	return warn("The CO2 left in the beer is counted from %g °C. That is right only if the beer was never warmer since fermentation ended, "+
		"rests included: cooling it later doesn't put the gas back. If it stood at 18 °C meanwhile, it needs %.0f g of sucrose, not %.0f g; "+
		"with %.0f g it would come to %.1f volumes only.",
		float64(d.lot.Beer.WarmestC), float64(other.MassG), float64(dose.MassG), float64(dose.MassG), float64(less))
}

// noRoom finds a target that needs no priming, or that the wort can't reach.
func (d desk) noRoom() []caution {
	if d.live() {
		return nil
	}
	if d.need() == 0 {
		return warn("The beer already holds %.2f volumes, more than the target of %.2f: no priming is needed. "+
			"Check target_volumes and warmest_c.", float64(d.bare().Residual(d.station)), float64(d.target()))
	}
	if len(d.proposed) == 1 && !added(d.proposed[0]) {
		return warn("This %s is too weak to bring the beer to %.2f volumes; use sugar, or one of higher gravity.",
			d.proposed[0].Sugar, float64(d.target()))
	}
	return nil
}

// gained is what the priming in the document gives above what the target needs.
func (d desk) gained() model.Volumes {
	return d.lot.Residual(d.station) + d.lot.PrimingVolumes() - d.target()
}

// muchAbove the target calls for action on the same day, offAbove for a word,
// in volumes. People notice 0.2.
const (
	muchAbove = 0.3
	offAbove  = 0.15
)

// tooMuch is for the hour after: more went in than was meant.
func (d desk) tooMuch() []caution {
	if !d.added() || d.live() || d.gained() <= muchAbove {
		return nil
	}
	text := fmt.Sprintf("Too much went in: %s heads for %.1f volumes, the target is %.1f. ", d.listed(), float64(d.potential()), float64(d.target()))
	x := d.weakest()
	text += fmt.Sprintf("Your weakest bottle, %s, counts as good for %.1f bar; it would stand at %.1f bar at %g °C. ",
		x.name(), float64(x.rating), float64(d.worst(x)), float64(d.lot.WorstCaseC))
	if d.verdict(x) != Fits {
		text += "There is no pressure yet, so today is the time to act: open all of them the same day and move the beer to PET, a keg or bottles of a higher rating, " +
			"or put them all in the cold now and keep them there. Don't count on venting later: it lets gas out, not the sugar that makes more. " + d.firstDate(x)
		return hold("%s%s", text, d.fits())
	}
	return warn("%sExpect a lively beer, or add beer before bottling. %s", text, d.fits())
}

// firstDate is when there could first be gas enough for the rating to be passed
// at the worst case: at 20 °C the fastest lots make all of theirs in three days
// after one of waiting (one lot in twenty of the model's own kinetics).
func (d desk) firstDate(x load) string {
	limit := x.sealed.CO2(x.rating, d.lot.WorstCaseC)
	start := d.primed.Residual(d.station)
	if limit >= x.ends || x.ends <= start {
		return ""
	}
	share := math.Max(0, float64((limit-start)/(x.ends-start)))
	days := 1 + 3*share
	when := ""
	if at := d.lot.PackagedAt; !at.IsZero() {
		when = ", " + at.AddDate(0, 0, int(days)).Format("2 January")
	}
	return fmt.Sprintf("Quick yeast at 20 °C has made enough gas for that by day %.0f%s; most takes some days longer. ", days, when)
}

// listed names what the document says went in.
func (d desk) listed() string {
	var s []string
	for _, p := range d.lot.Priming {
		switch {
		case p.PerBottle > 0:
			s = append(s, fmt.Sprintf("%g × %g g of %s a bottle", p.PerBottle, float64(p.MassG), p.Sugar))
		case p.VolumeL > 0:
			s = append(s, fmt.Sprintf("%s L of %s", plain(float64(p.VolumeL)), p.Sugar))
		default:
			s = append(s, fmt.Sprintf("%s g of %s", plain(float64(p.MassG)), p.Sugar))
		}
	}
	return strings.Join(s, " and ")
}

// fits says for how much beer the listed sugar would be right.
func (d desk) fits() string {
	need := d.need()
	gives := float64(d.lot.PrimingVolumes().GramsPerLitre())
	if need == 0 || gives == 0 {
		return ""
	}
	v := float64(d.lot.Beer.VolumeL)
	right := v * gives / need
	text := fmt.Sprintf("That priming would suit %.1f L; you have %s L.", right, plain(v))
	if r := right / v; r > 1.7 && r < 2.3 {
		text += " It looks like the dose for a batch twice this size."
	}
	return text
}

// offTarget tells of priming in the document that misses the target.
func (d desk) offTarget() []caution {
	if !d.added() || d.live() || math.Abs(float64(d.gained())) <= offAbove || d.gained() > muchAbove {
		return nil
	}
	return warn("%s gives %.2f volumes, the target is %.2f. %s",
		d.listed(), float64(d.lot.Residual(d.station)+d.lot.PrimingVolumes()), float64(d.target()), d.fits())
}

// Doses between which brewers usually stay, g of sucrose per litre (common
// practice, no source).
const (
	leastDose = 2.0
	mostDose  = 12.0
)

// sanity reads a dose in g/L, where slips of unit and scale show.
func (d desk) sanity() []caution {
	s, _ := model.SugarOf(model.Sucrose)
	dose := float64(d.primed.PrimingVolumes().GramsPerLitre()) / s.CO2
	switch {
	case d.live() || d.need() == 0 || dose >= leastDose && dose <= mostDose:
		return nil
	case dose < leastDose:
		return warn("This priming is worth %.1f g of sucrose per litre; usual are 5 to 7, seldom under %g. Check the unit of the mass and the volume of the beer.", dose, leastDose)
	}
	return warn("This priming is worth %.1f g of sucrose per litre; usual are 5 to 7, seldom over %g. Check the unit of the mass and the volume of the beer.", dose, mostDose)
}

// varying is the spread from which a sugar's yield deserves a word.
const varying = 0.04

// varies tells what a natural sugar may do.
func (d desk) varies() []caution {
	var all []caution
	for _, p := range d.primed.Priming {
		s, ok := model.SugarOf(p.Sugar)
		if !ok || s.Spread < varying {
			continue
		}
		one := d.primed
		one.Priming = []model.Priming{p}
		give := float64(one.PrimingVolumes())
		all = append(all, warn("%s varies (%s): expect %.1f volumes more or less. Weigh it, read the label, and watch the first bottles; a gravity of the dissolved sugar tells more.",
			p.Sugar, s.Why, math.Max(0.1, 2*s.Spread*give))...)
		if s.Malt > 0.5 {
			all = append(all, warn("Malt sugars ferment slower under pressure than table sugar, and some may stay: give it three to four weeks.")...)
		}
	}
	return all
}

// perSize tells what pieces of sugar do in bottles of different size.
func (d desk) perSize() []caution {
	low, high := model.Volumes(math.Inf(1)), model.Volumes(0)
	var each []string
	for _, x := range d.loads() {
		low, high = min(low, x.primed), max(high, x.primed)
		each = append(each, fmt.Sprintf("%.1f volumes in %s mL", float64(x.ends), plain(x.VolumeML)))
	}
	if high-low < offAbove {
		return nil
	}
	return warn("The same pieces do more in a small bottle: %s. Give the sizes different pieces, or dissolve the sugar in the whole lot.", strings.Join(each, ", "))
}
