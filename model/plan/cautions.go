package plan

import (
	"fmt"
	"slices"

	"conditiond/model"
)

// caution is one warning: what to do, what was found, what it means.
type caution struct {
	hold bool
	do   string // the text's beginning, for the page's first line; may be empty
	text string
}

// hold the bottling. What follows after `do` begins with its own colon or stop.
func hold(do, format string, values ...any) []caution {
	return []caution{{true, do, do + fmt.Sprintf(format, values...)}}
}

// do is a warning that is also what to do first, unless something holds.
func do(do, format string, values ...any) []caution {
	return []caution{{false, do, do + fmt.Sprintf(format, values...)}}
}

func warn(format string, values ...any) []caution { return do("", format, values...) }

// warnings, those that hold the bottling first; otherwise in the order of the
// work: is it finished, the sugar, the bottles, the yeast.
func (d desk) warnings() []caution {
	var all []caution
	for _, find := range [...]func() []caution{
		d.liveDrink, d.tooMuch,
		d.unfinished, d.mixedCulture, d.belowLimit, d.limitUnknown, d.dryHopped, d.farmhouse,
		d.refused, d.overRating,
		d.coldResidual, d.noRoom, d.offTarget, d.sanity, d.varies, d.perSize, d.spoons,
		d.tight, d.strength, d.fill, d.unknownGlass, d.plastic, d.cans, d.bottledVolume,
		d.yeast,
	} {
		all = append(all, find()...)
	}
	slices.SortStableFunc(all, func(a, b caution) int { return rank(a) - rank(b) })
	return all
}

// rank of what holds is lower.
func rank(c caution) int {
	if c.hold {
		return 0
	}
	return 1
}

// tell puts the warnings into the plan, and what to do before all else.
func (p *Plan) tell(all []caution) {
	p.Warnings = []string{}
	for _, c := range all {
		p.Hold = p.Hold || c.hold
		p.Warnings = append(p.Warnings, c.text)
		if p.First == "" {
			p.First = c.do
		}
	}
	p.ahead = p.First != ""
	if !p.ahead {
		p.First = fmt.Sprintf("For %s L: %s", plain(float64(p.lot.Beer.VolumeL)), words(p.Priming))
	}
}

// name of bottles in a sentence.
func (x load) name() string { return fmt.Sprintf("%s of %s mL", x.Kind, plain(x.VolumeML)) }

// room is the temperature at which pressures are told beside the worst case.
const room model.Celsius = 20

// would says what the weakest bottle comes to with this many volumes.
func (d desk) would(v model.Volumes) string {
	x := d.weakest()
	return fmt.Sprintf("%.1f volumes, %.1f bar at %g °C and %.1f bar at %g °C, in bottles that count as good for %.1f bar",
		float64(v), float64(x.sealed.Gauge(v, room)), float64(room),
		float64(x.sealed.Gauge(v, d.lot.WorstCaseC)), float64(d.lot.WorstCaseC), float64(x.rating))
}
