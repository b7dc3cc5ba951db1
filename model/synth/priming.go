package synth

import "conditiond/model"

// prime weighs the sugar for the target, by the brewer's table, and stirs it in
// as he does.
func (b *brew) prime() {
	l := &b.Lot
	l.TargetVolumes = model.Volumes(steps(b.target(), 0.1))
	need := (float64(l.TargetVolumes) - trade(float64(l.Beer.WarmestC))) * model.VolumeGrams // g CO2 per L
	need = max(need, 1.2)
	heavy := 1.0 // what there is of it beside the document
	switch {
	case b.Family == OverPrimed && b.chance(0.5):
		heavy = b.between(1.35, 2) // the scale was misread
	case b.Family == OverPrimed:
		need *= b.between(1.5, 2.2) // and so it stands in the document
	}
	if b.Family == DropsLot {
		b.drops(need)
	} else {
		b.bulk(need, heavy)
	}
	b.leftover()
}

func (b *brew) target() float64 {
	switch b.Lot.Yeast {
	case model.Wheat:
		return b.between(2.6, 3.4)
	case model.Farmhouse, model.Wine:
		return b.between(2.4, 3.3)
	}
	return b.between(2.0, 2.8)
}

// trade is the brewer's table of what CO2 is left in beer, volumes by °C
// (a quadratic in wide use; common practice, no source).
func trade(c float64) float64 {
	f := c*1.8 + 32
	return 3.0378 - 0.050062*f + 0.00026555*f*f
}

func (b *brew) bulk(need, heavy float64) {
	for _, x := range b.recipe() {
		kind, _ := model.SugarOf(x.Sugar)
		mass := steps(need*x.share*float64(b.Lot.Beer.VolumeL)/kind.CO2, 1)
		b.Lot.Priming = append(b.Lot.Priming, model.Priming{Sugar: x.Sugar, MassG: model.Grams(mass)})
		real := mass * b.normal(1, 0.015) * heavy
		b.Filling.Sugars = b.Filling.Sugars.plus(b.contents(x.Sugar).times(real / b.litres))
	}
}

// part of a priming, by what it gives.
type part struct {
	model.Sugar
	share float64
}

func (b *brew) recipe() []part {
	if b.Family == MixedSugars {
		second := pick(b.dice, model.DryMaltExtract, model.Honey, model.Dextrose, model.BrownSugar)
		share := b.between(0.25, 0.55)
		return []part{{model.Sucrose, 1 - share}, {second, share}}
	}
	if b.chance(0.12) {
		return []part{{pick(b.dice, model.DryMaltExtract, model.Honey), 1}}
	}
	return []part{{pick(b.dice, model.Dextrose, model.Sucrose), 1}}
}

// drops are pieces for each bottle, of a mass that their maker gives.
func (b *brew) drops(need float64) {
	first := b.Lot.Bottles[0].VolumeML / 1000
	each := 1.0
	if first > 0.6 {
		each = 2
	}
	kind, _ := model.SugarOf(model.Drops)
	mass := steps(within(need*first/kind.CO2/each, 2, 5), 0.1)
	b.Lot.Priming = []model.Priming{{Sugar: model.Drops, PerBottle: each, MassG: model.Grams(mass)}}
	b.Filling.Drop = Sugars{Sucrose: each * mass * b.normal(0.98, 0.02)}
	b.Lot.TargetVolumes = model.Volumes(steps(trade(float64(b.Lot.Beer.WarmestC))+each*mass*kind.CO2/first/model.VolumeGrams, 0.1))
}

// contents of a gram of a sugar as weighed.
func (b *brew) contents(s model.Sugar) Sugars {
	switch s {
	case model.Dextrose:
		return Sugars{Glucose: b.normal(0.905, 0.006)}
	case model.Honey:
		x := b.normal(0.775, 0.03)
		return Sugars{Fructose: 0.49 * x, Glucose: 0.42 * x, Maltose: 0.06 * x, Sucrose: 0.03 * x}
	case model.DryMaltExtract:
		x := b.normal(0.585, 0.035)
		return Sugars{Maltose: 0.64 * x, Maltotriose: 0.17 * x, Glucose: 0.12 * x, Fructose: 0.03 * x, Sucrose: 0.04 * x}
	case model.BrownSugar:
		return Sugars{Sucrose: b.normal(0.955, 0.01)}
	}
	return Sugars{Sucrose: b.normal(0.998, 0.003)}
}

// leftover is what fermentation left.
func (b *brew) leftover() {
	f := &b.Filling
	if b.chance(0.1) {
		f.Left.Maltotriose = b.between(0, 0.4)
	}
	if b.Family == Unfinished {
		all, share := b.between(3, 7.5), b.between(0.55, 0.95)
		f.Left = Sugars{Maltose: all * share, Maltotriose: all * (1 - share)}
	}
}
