package plan

import (
	"strconv"

	"conditiond/model"
)

// Verdict on bottles of a kind and size, at the worst case.
type Verdict string

const (
	Fits    Verdict = "fits"
	Tight   Verdict = "tight"   // above 80 % of the rating
	Exceeds Verdict = "exceeds" // above the rating, or not made for pressure
)

// tightAbove this share of the rating. The rest is for what varies from bottle
// to bottle and isn't known of the beer.
const tightAbove = 0.8

// PerBottle is what one bottle of a kind and size gets, and bears: gauge
// pressure when all has fermented, with the air shut in and its oxygen used up.
type PerBottle struct {
	Kind     model.Kind `json:"kind"`
	VolumeML float64    `json:"volume_ml"`
	Count    int        `json:"count"`
	MassG    float64    `json:"mass_g"`  // its share of the proposed priming, when that is weighed
	Volumes  float64    `json:"volumes"` // where it ends
	// RatedBar is the maker's rating, else the kind's cautious default; null
	// for what isn't made for pressure.
	RatedBar     *float64           `json:"rated_bar"`
	BarAtC       map[string]float64 `json:"bar_at_c"`
	WorstCaseBar float64            `json:"worst_case_bar"` // at worst_case_c
	// RichestBar is the same in the bottle of a hundred that got most sugar.
	RichestBar float64 `json:"richest_bar"`
	// FitsUpTo are the target volumes up to which the verdict would be "fits";
	// 0 for what isn't made for pressure.
	FitsUpTo float64 `json:"fits_up_to_volumes"`
	Verdict  Verdict `json:"verdict"`
}

// ladder of temperatures, in °C: a fridge, a room, a heat wave, a hot car.
var ladder = [...]model.Celsius{5, 20, 30, 40}

func rung(t model.Celsius) string { return strconv.Itoa(int(t)) }

// load is one kind and size of bottle with what it will hold.
type load struct {
	model.Bottles
	sealed model.Sealed
	primed model.Volumes // by the priming alone
	ends   model.Volumes
	rating model.BarGauge
}

func (d desk) loads() []load {
	var all []load
	for _, b := range d.lot.Bottles {
		x := load{Bottles: b, sealed: d.primed.Sealed(b.Bottle(), d.station), rating: b.Rating(d.station)}
		x.sealed.Air = x.sealed.Air.Spent()
		x.primed = d.primed.PrimingIn(b.Bottle())
		x.ends = d.primed.Residual(d.station) + x.primed + d.primed.Unfinished()
		if d.live() {
			x.ends = d.lot.StopAtVolumes
		}
		all = append(all, x)
	}
	return all
}

// weakest is the load nearest to its rating, or furthest above. Bottles that
// nobody should fill count only when there are no others.
func (d desk) weakest() load {
	var w load
	for i, x := range d.loads() {
		if i == 0 || w.Refused() && !x.Refused() || w.Refused() == x.Refused() && d.share(x) > d.share(w) {
			w = x
		}
	}
	return w
}

// worst is the pressure at the worst case.
func (d desk) worst(x load) model.BarGauge { return x.sealed.Gauge(x.ends, d.lot.WorstCaseC) }

func (d desk) share(x load) float64 { return float64(d.worst(x) / x.rating) }

func (d desk) verdict(x load) Verdict {
	switch share := d.share(x); {
	case share > 1 || x.Refused():
		return Exceeds
	case share > tightAbove:
		return Tight
	}
	return Fits
}

// fitsUpTo is the target that would bring these bottles to 80 % of their rating.
func (d desk) fitsUpTo(x load) model.Volumes {
	v := x.sealed.CO2(tightAbove*x.rating, d.lot.WorstCaseC)
	if d.live() {
		return v
	}
	return v - d.primed.Unfinished()
}

func (d desk) perBottle() []PerBottle {
	var all []PerBottle
	for _, x := range d.loads() {
		p := PerBottle{
			Kind: x.Kind, VolumeML: x.VolumeML, Count: x.Count,
			MassG:   round(d.massIn(x.Bottle()), 2),
			Volumes: round(float64(x.ends), 3),
			BarAtC:  map[string]float64{}, WorstCaseBar: round(float64(d.worst(x)), 3),
			RichestBar: round(float64(x.sealed.Gauge(d.richest(x), d.lot.WorstCaseC)), 3),
			Verdict:    d.verdict(x),
		}
		for _, t := range ladder {
			p.BarAtC[rung(t)] = round(float64(x.sealed.Gauge(x.ends, t)), 3)
		}
		if !x.Refused() {
			p.FitsUpTo = round(max(0, float64(d.fitsUpTo(x))), 3)
			r := round(float64(x.rating), 3)
			p.RatedBar = &r
		}
		all = append(all, p)
	}
	return all
}

// massIn a bottle of the proposed priming, in g.
func (d desk) massIn(b model.Bottle) float64 {
	m := 0.0
	for _, p := range d.proposed {
		if p.PerBottle > 0 {
			m += p.PerBottle * float64(p.MassG)
		} else {
			m += float64(p.MassG) / float64(d.lot.Beer.VolumeL) * float64(b.Beer)
		}
	}
	return m
}
