package synth

import (
	"math"

	"conditiond/model"
)

// brew draws a beer and how it was filled: what the brewer writes down, and
// what is so. He measures with a bathroom scale, a hydrometer and a bucket's
// marks.
type brew struct {
	dice
	*Scenario
	litres float64 // that there really are
}

func (b *brew) draw() {
	b.kind()
	b.beer()
	b.glass()
	b.prime()
	b.cap()
	b.character()
}

func (b *brew) kind() {
	l := &b.Lot
	l.Yeast = pick(b.dice, model.Ale, model.Ale, model.Ale, model.Ale, model.Ale, model.Wheat, model.Farmhouse, model.Lager, model.Wine, model.Mixed)
	l.YeastState = pick(b.dice, model.Fresh, model.Fresh, model.Fresh, model.Settled, model.Added)
	switch b.Family {
	case LagerLot:
		l.Yeast = model.Lager
		l.YeastState = pick(b.dice, model.Settled, model.Settled, model.Fresh, model.Added)
	case StrongOld:
		l.Yeast = pick(b.dice, model.Ale, model.Ale, model.Farmhouse, model.Mixed)
		l.YeastState = pick(b.dice, model.Aged, model.Settled, model.Added)
	}
}

func (b *brew) beer() {
	l := &b.Lot
	og, att := b.between(1.040, 1.062), b.between(0.70, 0.82)
	if b.Family == StrongOld {
		og = b.between(1.072, 1.098)
	}
	if l.Yeast == model.Farmhouse || l.Yeast == model.Wine || l.Yeast == model.Mixed {
		att = b.between(0.82, 0.92)
	}
	fg := 1 + (og-1)*(1-att)
	l.Beer.VolumeL = model.Litres(steps(b.between(9, 42), 0.5))
	b.litres = float64(l.Beer.VolumeL) * b.normal(1, 0.025)
	l.Beer.OriginalGravity = steps(b.normal(og, 0.001), 0.001)
	l.Beer.FinalGravity = steps(b.normal(fg, 0.0007), 0.001)
	if b.chance(0.35) && b.Family != Unfinished {
		l.Beer.LimitGravity = l.Beer.FinalGravity
	}
	warmest := b.between(18, 24)
	if l.Yeast == model.Lager {
		warmest = b.between(12, 18)
	}
	l.Beer.WarmestC = model.Celsius(steps(b.normal(warmest, 0.8), 0.5))
	f := &b.Filling
	f.ABV = float64(model.ABV(og, fg))
	f.Solubility = b.normal(0.955, 0.018) - 0.008*(f.ABV-5)
	f.Steep = b.between(2350, 2600)
	f.CO2 = f.holds(warmest, 1) * model.MolarMassCO2 * (float64(b.Station) - vapour(warmest)) * b.normal(1.02, 0.06)
}

// glass draws the bottles; the gauged one has a fitting with a space of its own
// that the brewer guesses.
func (b *brew) glass() {
	sizes := []float64{330, 500, 750}
	first := b.IntN(3)
	b.bottles(sizes[first], 1)
	if b.chance(0.25) {
		b.bottles(sizes[(first+1)%3], 0.3)
	}
	b.Lot.WorstCaseC = pick[model.Celsius](b.dice, 28, 30, 30, 32, 35)
	g := b.Lot.Bottles[0]
	fitting := pick(b.dice, 0.0, 0, 4, 8, 14)
	doc := &model.GaugeBottle{VolumeML: g.VolumeML, HeadspaceML: g.HeadspaceML + fitting}
	place := pick(b.dice, model.Alone, model.Alone, model.InCase)
	v := b.vessel(doc.VolumeML, doc.HeadspaceML, place)
	v.Rich = b.normal(1, b.Spread)
	if b.chance(0.6) {
		doc.Stands = place
	}
	b.Lot.GaugeBottle, b.Gauged = doc, &v
}

func (b *brew) bottles(ml, share float64) {
	kind := pick(b.dice, model.StandardGlass, model.StandardGlass, model.StandardGlass, model.HeavyGlass, model.SwingTop)
	head := steps(ml*b.between(0.03, 0.055), 1)
	count := int(math.Max(1, share*float64(b.Lot.Beer.VolumeL)*1000/ml*0.97))
	b.Lot.Bottles = append(b.Lot.Bottles, model.Bottles{Kind: kind, VolumeML: ml, HeadspaceML: head, Count: count})
	v := b.vessel(ml, head, model.InCase)
	v.Rich = 1
	b.Bottles = append(b.Bottles, v)
}

func (b *brew) vessel(ml, head float64, place model.Stands) Vessel {
	radius := b.between(0.105, 0.145) // dm
	neck := math.Pi * radius * radius
	if b.chance(0.15) {
		neck *= 3 // filled into the shoulder only
	}
	slow := b.about(1+1.2*ml/1000, 1.2)
	if place == model.InCase {
		slow = b.about(4.5, 1.3)
	}
	return Vessel{Beer: ml / 1000 * b.normal(1, 0.008), Head: math.Max(6, head*b.normal(1, 0.1)+b.normal(0, 1)) / 1000,
		Neck: neck, Film: b.about(1.73, 1.9), Slow: slow / 24}
}

func (b *brew) cap() {
	how := pick(b.dice, model.OverAir, model.OverAir, model.OverAir, model.OnFoam, model.Purged)
	air := b.between(0.9, 1)
	switch how {
	case model.OnFoam:
		air = b.between(0.05, 0.35)
	case model.Purged:
		air = b.between(0.02, 0.2)
	}
	b.Filling.Air = air
	if b.chance(0.65) {
		b.Lot.Capped = how
	}
	b.Filling.Beer = b.Room.Mean + b.normal(0, 0.7)
	if b.chance(0.3) {
		b.Filling.Beer = b.between(3, 9) // from the cold
	}
}

func (b *brew) character() {
	l, n := &b.Lot, &b.Nature
	n.Kind = l.Yeast
	n.Cells, n.Rest, n.Dies = b.about(1.15, 2.2), b.about(0.5, 1.6), b.about(0.005, 2)
	switch l.YeastState {
	case model.Settled:
		n.Cells, n.Rest, n.Dies = b.about(0.75, 1.9), b.about(0.9, 1.6), b.about(0.008, 2)
	case model.Aged:
		n.Cells, n.Rest, n.Dies = b.about(0.3, 1.9), b.about(2, 1.6), b.about(0.012, 2)
	case model.Added:
		n.Cells, n.Rest, n.Dies = b.about(1.2, 1.4), b.about(0.4, 1.5), b.about(0.005, 2)
	}
	n.Crop = n.Cells * (1.2 + b.between(0.1, 1.3)*(0.5+0.5*b.Filling.Air))
	n.Appetite, n.Wakes, n.Affinity = b.about(1.25, 1.5), b.about(1.3, 1.3), b.about(0.9, 1.6)
	n.Inverts, n.Shy, n.Sinks = b.about(1.1, 1.5), b.about(2.6, 1.35), b.between(0, 0.35)
	n.Maltose, n.Maltotriose = b.about(0.55, 1.4), b.about(0.15, 2)
	if l.Yeast == model.Lager {
		n.Maltotriose = b.about(0.35, 1.5)
	}
	n.Yield = b.normal(0.472, 0.006)
	if b.chance(0.5) {
		l.YeastState = ""
	}
}
