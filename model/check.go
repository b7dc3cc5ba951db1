package model

import (
	"fmt"
	"math"
)

// Fault is something in a lot's document that can't be right.
type Fault struct {
	Path    string `json:"path"`    // like beer.volume_l or bottles[1].kind
	Problem string `json:"problem"` // the offending value and what would be right
}

// Error is the fault in a line.
func (f Fault) Error() string { return f.Path + ": " + f.Problem }

// Check says all that is wrong with the document, in its order; nothing when it
// can be worked with. It looks at the document alone: whether its space and
// sensor exist is for who knows the site, and whether the plan is wise is for
// package plan.
func (l Lot) Check() []Fault {
	var f faults
	f.id(l.ID)
	f.given("space", l.Space, "the name of a space in the configuration")
	l.checkTime(&f)
	oneOf(&f, "yeast", l.Yeast, yeasts[:])
	optionalOneOf(&f, "yeast_state", l.YeastState, yeastStates[:])
	optionalOneOf(&f, "capped", l.Capped, cappings[:])
	l.Beer.check(&f)
	if l.TargetVolumes != 0 || l.StopAtVolumes == 0 {
		f.within("target_volumes", float64(l.TargetVolumes), 0.5, 8, "volumes")
	}
	for i, p := range l.Priming {
		p.check(&f, fmt.Sprintf("priming[%d]", i), l.Beer)
	}
	l.checkBottles(&f)
	if l.GaugeBottle != nil {
		l.GaugeBottle.check(&f)
	}
	f.within("worst_case_c", float64(l.WorstCaseC), 1, 60, "°C")
	f.optional("stop_at_volumes", float64(l.StopAtVolumes), 0.5, 8, "volumes")
	if l.Fermentation != nil {
		l.Fermentation.check(&f)
	}
	return f
}

func (l Lot) checkTime(f *faults) {
	if l.PackagedAt.IsZero() {
		f.add("packaged_at", "is missing; give the time of packaging, like 2026-03-01T14:00:00+01:00")
	} else if y := l.PackagedAt.Year(); y < 2000 || y > 2100 {
		f.add("packaged_at", "is in the year %d; give the time of packaging, 2000 to 2100", y)
	}
}

func (g GaugeBottle) check(f *faults) {
	f.given("gauge_bottle.sensor", g.Sensor, "the name of a pressure sensor in the configuration")
	f.fill("gauge_bottle", g.VolumeML, g.HeadspaceML)
	optionalOneOf(f, "gauge_bottle.stands", g.Stands, places[:])
}

func (w Fermenting) check(f *faults) {
	f.optional("fermentation.stable_days", w.StableDays, 0, 3650, "days")
	f.optional("fermentation.dry_hop_g_per_l", w.DryHopGPerL, 0, 100, "g/L")
}

func (b Beer) check(f *faults) {
	f.within("beer.volume_l", float64(b.VolumeL), 0.1, 20000, "L")
	f.gravity("beer.original_gravity", b.OriginalGravity)
	f.gravity("beer.final_gravity", b.FinalGravity)
	if b.LimitGravity != 0 {
		f.gravity("beer.limit_gravity", b.LimitGravity)
	}
	f.within("beer.warmest_c", float64(b.WarmestC), 0.1, 45, "°C")
	if b.OriginalGravity == 0 {
		return // missing, as said
	}
	if b.FinalGravity > b.OriginalGravity {
		f.add("beer.final_gravity", "is %g, above the original gravity %g; beer gets lighter as it ferments",
			b.FinalGravity, b.OriginalGravity)
	}
	if b.LimitGravity > b.OriginalGravity {
		f.add("beer.limit_gravity", "is %g, above the original gravity %g; give the lowest that a forced-fermentation test reached",
			b.LimitGravity, b.OriginalGravity)
	}
}

func (p Priming) check(f *faults, path string, b Beer) {
	oneOf(f, path+".sugar", p.Sugar, Sugars())
	if p.Sugar == Wort || p.Sugar == FermentingBeer {
		p.checkVolume(f, path, b)
		return
	}
	p.checkMass(f, path, b)
}

func (p Priming) checkVolume(f *faults, path string, b Beer) {
	if p.MassG != 0 || p.PerBottle != 0 || p.Fermentable != 0 {
		f.add(path, "%s is given as volume_l with gravity and end_gravity, not by mass", p.Sugar)
	}
	f.within(path+".volume_l", float64(p.VolumeL), 0.001, math.Max(0.001, float64(b.VolumeL)), "L, no more than the beer")
	if p.Gravity != 0 || p.Sugar == FermentingBeer {
		f.gravity(path+".gravity", p.Gravity)
	}
	if p.EndGravity != 0 {
		f.gravity(path+".end_gravity", p.EndGravity)
	}
	if from, to := p.gravities(b); from <= to {
		f.add(path+".gravity", "is %g, which is not above the %g it ends at; nothing would ferment", from, to)
	}
}

// most sugar that is believed for a litre of drink, in grams: live drinks hold
// a hundred.
const most = 250

func (p Priming) checkMass(f *faults, path string, b Beer) {
	switch {
	case p.Sugar == Drops && p.PerBottle == 0:
		f.add(path+".per_bottle", "is missing; say how many drops go into each bottle, and the mass of one in mass_g")
	case p.PerBottle != 0:
		f.within(path+".per_bottle", p.PerBottle, 0.1, 50, "pieces")
		f.within(path+".mass_g", float64(p.MassG), 0.01, 1000, "g for one of them")
	case b.VolumeL > 0: // else it is missing, as said
		f.within(path+".mass_g", float64(p.MassG), 0.01, math.Max(1, most*float64(b.VolumeL)), "g for the whole lot")
	}
	f.optional(path+".fermentable", p.Fermentable, 0.01, 1, "as a share of the mass")
	if p.VolumeL != 0 || p.Gravity != 0 || p.EndGravity != 0 {
		f.add(path, "volume_l, gravity and end_gravity belong to wort and fermenting-beer; give mass_g for %s", p.Sugar)
	}
}

func (l Lot) checkBottles(f *faults) {
	if len(l.Bottles) == 0 {
		f.add("bottles", "is missing; give kind, volume_ml, headspace_ml and count of each kind of bottle")
		return
	}
	before := len(*f)
	for i, b := range l.Bottles {
		b.check(f, fmt.Sprintf("bottles[%d]", i))
	}
	if len(*f) > before || l.Beer.VolumeL <= 0 {
		return
	}
	if hold := l.Filled(); hold > 1.6*l.Volume() || hold < 0.2*l.Volume() {
		f.add("bottles", "hold %.1f L, but there are %.1f L of beer; check count and volume_ml (the beer in one bottle)",
			float64(hold), float64(l.Volume()))
	}
}

func (b Bottles) check(f *faults, path string) {
	oneOf(f, path+".kind", b.Kind, Kinds())
	f.fill(path, b.VolumeML, b.HeadspaceML)
	f.within(path+".count", float64(b.Count), 1, 1e6, "bottles")
	f.optional(path+".rated_bar", float64(b.RatedBar), 0.5, 50, "bar")
	f.optional(path+".ceiling_volumes", float64(b.CeilingVolumes), 1, 12, "volumes")
}
