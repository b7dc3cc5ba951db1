package plan

import (
	"fmt"

	"conditiond/model"
)

// caution is one warning: what was found, what it means, what to do.
type caution struct {
	hold bool
	text string
}

func hold(format string, values ...any) []caution {
	return []caution{{true, fmt.Sprintf(format, values...)}}
}

func warn(format string, values ...any) []caution {
	return []caution{{false, fmt.Sprintf(format, values...)}}
}

// warnings, those that hold the bottling first; otherwise in the order of the
// work: is it finished, the sugar, the bottles, the yeast.
func (d desk) warnings() (held bool, texts []string) {
	var all []caution
	for _, find := range [...]func() []caution{
		d.liveDrink, d.tooMuch, d.refused, d.overRating,
		d.unfinished, d.mixedCulture, d.belowLimit, d.limitUnknown, d.dryHopped, d.farmhouse,
		d.coldResidual, d.noRoom, d.offTarget, d.sanity, d.varies, d.perSize,
		d.tight, d.strength, d.fill, d.unknownGlass, d.plastic, d.cans, d.bottledVolume,
		d.yeast,
	} {
		all = append(all, find()...)
	}
	texts = []string{}
	for _, c := range all {
		if c.hold {
			held, texts = true, append(texts, c.text)
		}
	}
	for _, c := range all {
		if !c.hold {
			texts = append(texts, c.text)
		}
	}
	return held, texts
}

// name of bottles in a sentence.
func (x load) name() string { return fmt.Sprintf("%s of %s mL", x.Kind, plain(x.VolumeML)) }

// room is the temperature at which pressures are told beside the worst case.
const room model.Celsius = 20

// would says what the weakest bottle comes to with this many volumes.
func (d desk) would(v model.Volumes) string {
	x := d.weakest()
	return fmt.Sprintf("%.1f volumes, %.1f bar at %g °C and %.1f bar at %g °C",
		float64(v), float64(x.sealed.Gauge(v, room)), float64(room),
		float64(x.sealed.Gauge(v, d.lot.WorstCaseC)), float64(d.lot.WorstCaseC))
}
