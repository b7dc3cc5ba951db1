package model

// CO2 in g per g of this priming as weighed: of its kind, or of the share that
// its brewer says is fermentable. 0 for wort and fermenting beer.
func (p Priming) CO2() float64 {
	s, _ := SugarOf(p.Sugar)
	if p.Fermentable > 0 {
		return p.Fermentable * s.Pure
	}
	return s.CO2
}

// gravities between which wort or fermenting beer will ferment. Left out, it is
// the same beer as the one it primes.
func (p Priming) gravities(b Beer) (from, to float64) {
	from, to = p.Gravity, p.EndGravity
	if from == 0 {
		from = b.OriginalGravity
	}
	if to == 0 {
		to = b.LimitGravity
	}
	if to == 0 {
		to = b.FinalGravity
	}
	return from, to
}

// PerLitre is the CO2 in g that a litre of this wort or fermenting beer makes
// in a beer; 0 for other priming.
func (p Priming) PerLitre(b Beer) GramsPerLitre {
	from, to := p.gravities(b)
	switch p.Sugar {
	case Wort:
		return Fermented(from, from, to)
	case FermentingBeer:
		return Fermented(b.OriginalGravity, from, to)
	}
	return 0
}

// bulk is the CO2 in g that went into the whole lot, bottle is what went into
// each.
func (l Lot) primed() (bulk, bottle Grams) {
	for _, p := range l.Priming {
		g := Grams(float64(p.MassG) * p.CO2())
		if p.PerBottle > 0 {
			bottle += Grams(p.PerBottle) * g
			continue
		}
		bulk += g + Grams(float64(p.PerLitre(l.Beer))*float64(p.VolumeL))
	}
	return bulk, bottle
}

// PrimingVolumes is the CO2 that the priming gives per litre of beer, in the
// mean over all bottles. 0 when the document names no priming.
func (l Lot) PrimingVolumes() Volumes {
	bulk, bottle := l.primed()
	g := float64(bulk / Grams(l.Volume()))
	if filled := l.Filled(); filled > 0 {
		var n int
		for _, b := range l.Bottles {
			n += b.Count
		}
		g += float64(bottle) * float64(n) / float64(filled)
	}
	return GramsPerLitre(g).Volumes()
}

// PrimingIn is the CO2 that the priming gives per litre of beer in a bottle of
// this size: a drop does more in a small one.
func (l Lot) PrimingIn(b Bottle) Volumes {
	bulk, bottle := l.primed()
	return GramsPerLitre(float64(bulk/Grams(l.Volume())) + float64(bottle/Grams(b.Beer))).Volumes()
}

// Primed is the lot with priming that meets its target, when its document names
// none and it isn't a live drink: dextrose for the whole lot, as package plan
// would propose. Otherwise it is the lot itself.
func (l Lot) Primed(station Bar) Lot {
	if need := l.TargetVolumes - l.Residual(station); len(l.Priming) == 0 && l.StopAtVolumes == 0 && need > 0 {
		p := Priming{Sugar: Dextrose}
		p.MassG = Grams(float64(need.GramsPerLitre()) * float64(l.Beer.VolumeL) / p.CO2())
		l.Priming = []Priming{p}
	}
	return l
}

// Residual is the CO2 in the beer at packaging under a station pressure. Wort
// brings none, fermenting beer brings its own.
func (l Lot) Residual(station Bar) Volumes {
	wort := Litres(0)
	for _, p := range l.Priming {
		if p.Sugar == Wort {
			wort += p.VolumeL
		}
	}
	v := l.Volume()
	return Residual(l.Beer.WarmestC, station) * Volumes((v-wort)/v)
}
