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

// crashed is the temperature of a cold crash that is taken for example.
const crashed model.Celsius = 1

// warmest says what the residual was counted from, and what the usual mistake
// would cost.
func (d desk) warmest() string {
	b := d.lot.Beer
	if b.WarmestC < coldest || d.live() || d.need() == 0 {
		return ""
	}
	cold := d
	cold.lot.Beer.WarmestC = crashed
	less := cold.dose(model.Priming{Sugar: model.Dextrose})
	made := float64(d.bare().Residual(d.station)) + float64(d.target()-cold.bare().Residual(d.station))
	return fmt.Sprintf("The gas in the beer is counted from %g °C, the warmest since fermentation ended. A cold crash puts none back: "+
		"counted from %g °C it would be %.0f g of dextrose, and end at %.1f volumes.",
		float64(b.WarmestC), float64(crashed), float64(less.MassG), made)
}

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
		return do("Add no sugar", ": the beer already holds %.2f volumes, more than the target of %.2f; no priming is needed. "+
			"Check target_volumes and warmest_c.", float64(d.bare().Residual(d.station)), float64(d.target()))
	}
	if len(d.proposed) == 1 && !added(d.proposed[0]) {
		return do("Use sugar, or one of higher gravity", ": this %s is too weak to bring the beer to %.2f volumes.",
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

// much is true when far more went in than the target needs.
func (d desk) much() bool { return d.added() && !d.live() && d.gained() > muchAbove }

// tooMuch is for the hour after: more went in than was meant.
func (d desk) tooMuch() []caution {
	if !d.much() {
		return nil
	}
	heads := fmt.Sprintf("%s heads for %.1f volumes, the target is %.1f", d.listed(), float64(d.potential()), float64(d.target()))
	x := d.weakest()
	if d.verdict(x) != Exceeds {
		return do(fmt.Sprintf("Use %s, not %s", words(d.doses(d.proposed)), d.listed()), ". Too much went in: %s. "+
			"If it is stirred in already, expect a lively beer: take stronger bottles, or add beer. Sugar can't be left out of single bottles. %s", heads, d.fits())
	}
	return hold("Act today: open all bottles and move the beer to PET, a keg or stronger bottles; or put them all in the cold now and keep them there",
		". There is no pressure yet, so this is the time to act. Too much went in: %s. Your weakest bottle, %s, counts as good for %.1f bar; it would stand at %.1f bar at %g °C. "+
			"If nothing is bottled yet, don't begin: add beer, or take stronger bottles. "+
			"Don't count on venting later: it lets gas out, not the sugar that makes more. %s%s",
		heads, x.name(), float64(x.rating), float64(d.worst(x)), float64(d.lot.WorstCaseC), d.firstDate(x), d.fits())
}

// firstDate is when there could first be gas enough for the rating to be passed
// at the worst case, by the fastest of twenty lots and by a middling one.
func (d desk) firstDate(x load) string {
	limit := x.sealed.CO2(x.rating, d.lot.WorstCaseC)
	start := d.primed.Residual(d.station)
	if limit >= x.ends || x.ends <= start {
		return ""
	}
	share := math.Max(0, float64((limit-start)/(x.ends-start)))
	soon, mid := math.Round(d.days(share, fast)), math.Round(d.days(share, 0))
	return fmt.Sprintf("At %g °C quick yeast has made gas enough for that by day %.0f%s, a middling lot by day %.0f%s. ",
		float64(d.site.room()), soon, d.date(soon), mid, d.date(mid))
}

// date of a day after packaging, to follow it; empty when the time isn't known.
func (d desk) date(days float64) string {
	if d.lot.PackagedAt.IsZero() || days > 1000 {
		return ""
	}
	return " (" + d.lot.PackagedAt.AddDate(0, 0, int(days)).Format("2 January") + ")"
}

// words of some doses in a sentence.
func words(ds []Dose) string {
	if len(ds) == 0 {
		return "no sugar"
	}
	var s []string
	for _, x := range ds {
		s = append(s, x.String())
	}
	return strings.Join(s, " and ")
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

// Grams that a heaped or level teaspoon of sugar may hold (common practice, no
// source).
const (
	leastSpoon = 4.0
	mostSpoon  = 6.0
)

// spoons say what a spoon does, for sugar that isn't pressed into pieces.
func (d desk) spoons() []caution {
	for _, p := range d.primed.Priming {
		if p.PerBottle == 0 || p.Sugar == model.Drops {
			continue
		}
		var each []string
		for _, x := range d.loads() {
			of := func(g float64) float64 {
				return float64(d.bare().Residual(d.station)) + float64(model.GramsPerLitre(g*p.CO2()/float64(x.sealed.Beer)).Volumes())
			}
			each = append(each, fmt.Sprintf("%.1f to %.1f volumes in %s mL", of(leastSpoon), of(mostSpoon), plain(x.VolumeML)))
		}
		return warn("Weigh it for each bottle, to a tenth of a gram: a teaspoon holds anything from %g to %g g, which makes %s.",
			leastSpoon, mostSpoon, strings.Join(each, ", "))
	}
	return nil
}
