package plan

import (
	"math"

	"conditiond/model"
)

// Dose is priming as it goes in: a mass or a volume for the lot, or pieces for
// each bottle.
type Dose struct {
	Sugar     model.Sugar `json:"sugar"`
	MassG     float64     `json:"mass_g,omitempty"` // of one piece, with per_bottle
	PerBottle float64     `json:"per_bottle,omitempty"`
	VolumeL   float64     `json:"volume_l,omitempty"`
	GPerL     float64     `json:"mass_g_per_l,omitempty"` // per litre of the beer
}

// propose the priming that meets the target, of the kinds in the document.
func (d desk) propose() []model.Priming {
	given := d.lot.Priming
	switch {
	case d.live():
		return nil
	case len(given) == 0:
		return []model.Priming{d.dose(model.Priming{Sugar: model.Dextrose})}
	case len(given) == 1:
		return []model.Priming{d.dose(given[0])}
	}
	return d.scale(given)
}

// need is the CO2 in g per litre that priming has to give.
func (d desk) need() float64 {
	residual := d.bare().Residual(d.station)
	return math.Max(0, float64((d.target() - residual).GramsPerLitre()))
}

// dose of one kind that meets the target:
//
//	mass          m = need V/y
//	pieces        n = need V_bottle/(y m_piece), whole, at least 1
//	wort          x = need V/(Y − target), since it dilutes and brings no CO2
//	fermenting    x = need V/(Y + residual − target)
func (d desk) dose(p model.Priming) model.Priming {
	b := d.lot.Beer
	need, v := d.need(), float64(b.VolumeL)
	switch {
	case p.Sugar == model.Wort || p.Sugar == model.FermentingBeer:
		gives := float64(p.PerLitre(b) - d.target().GramsPerLitre())
		if p.Sugar == model.FermentingBeer {
			gives += float64(d.bare().Residual(d.station).GramsPerLitre())
		}
		p.VolumeL = 0 // too weak to ever get there
		if gives > 0 {
			p.VolumeL = model.Litres(need * v / gives)
		}
	case p.PerBottle > 0:
		each := float64(p.MassG) * p.CO2()
		p.PerBottle = math.Max(1, math.Round(need*d.meanBottle()/each))
	default:
		p.MassG = model.Grams(need * v / p.CO2())
	}
	return p
}

// meanBottle holds this much beer, in litres.
func (d desk) meanBottle() float64 {
	n := 0
	for _, b := range d.lot.Bottles {
		n += b.Count
	}
	return float64(d.lot.Filled()) / float64(n)
}

// scale several primings together until they meet the target.
func (d desk) scale(given []model.Priming) []model.Priming {
	at := func(f float64) (model.Lot, []model.Priming) {
		l, ps := d.lot, make([]model.Priming, len(given))
		for i, p := range given {
			p.MassG, p.VolumeL = p.MassG*model.Grams(f), p.VolumeL*model.Litres(f)
			ps[i] = p
		}
		l.Priming = ps
		return l, ps
	}
	low, high := 0.0, 64.0
	for range 60 {
		f := (low + high) / 2
		if l, _ := at(f); l.Residual(d.station)+l.PrimingVolumes() < d.target() {
			low = f
		} else {
			high = f
		}
	}
	_, ps := at((low + high) / 2)
	return ps
}

// choices are the single kinds that would do instead, wort of this beer among
// them.
func (d desk) choices() []Dose {
	doses := []Dose{}
	if d.live() {
		return doses
	}
	for _, s := range model.Sugars() {
		if s == model.Drops || s == model.FermentingBeer || len(d.proposed) == 1 && d.proposed[0].Sugar == s {
			continue
		}
		p := d.dose(model.Priming{Sugar: s})
		if p.MassG > 0 || p.VolumeL > 0 {
			doses = append(doses, d.doses([]model.Priming{p})...)
		}
	}
	return doses
}

// doses as they are printed.
func (d desk) doses(ps []model.Priming) []Dose {
	all := []Dose{}
	for _, p := range ps {
		x := Dose{Sugar: p.Sugar, MassG: weigh(float64(p.MassG)), PerBottle: p.PerBottle, VolumeL: round(float64(p.VolumeL), 2)}
		if p.PerBottle == 0 {
			x.GPerL = round(float64(p.MassG)/float64(d.lot.Beer.VolumeL), 2)
		}
		all = append(all, x)
	}
	return all
}

// weigh rounds to what scales show.
func weigh(g float64) float64 {
	if g < 20 {
		return round(g, 2)
	}
	return round(g, 1)
}
