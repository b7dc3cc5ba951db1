package plan

import (
	"fmt"
	"math"

	"conditiond/model"
)

// Wait is how many days a lot takes until it is ready to be tasted: nine in ten
// take between P05 and P95.
type Wait struct {
	AtC model.Celsius `json:"at_c"`
	P05 float64       `json:"p05"`
	P95 float64       `json:"p95"`
}

// readyShare of its gas is made when a lot is ready.
const readyShare = 0.95

// fast and slow are the standard deviations that one lot in twenty is beyond.
const (
	fast = -1.645
	slow = 1.645
)

// ready by what is to be expected of this yeast before it has been seen, in
// whole days.
func (d desk) ready() *Wait {
	if d.live() {
		return nil
	}
	return &Wait{
		AtC: d.site.room(),
		P05: math.Floor(d.days(readyShare, fast)),
		P95: math.Ceil(d.days(readyShare, slow)),
	}
}

// days until a share of the gas is made, when activity and lag are some
// standard deviations slow: the lag, then simple sugar S taken up at the yeast's
// pace a S/(S + K),
//
//	t = lag + (share S + K ln(1/(1 − share)))/a
func (d desk) days(share, slow float64) float64 {
	l := d.primed
	v := model.VigourOf(l.YeastState)
	sugar := float64((l.PrimingVolumes() + l.Unfinished()).GramsPerLitre()) / model.HexoseYield
	pace := v.Activity * model.TemperatureFactor(l.Yeast, d.site.room()) * model.EthanolFactor(l.Yeast, l.ABV())
	tail := float64(model.HalfUptake) * math.Log(1/(1-math.Min(share, readyShare)))
	return v.LagDays*math.Pow(v.LagSpread, slow) + (share*sugar+tail)/pace*math.Pow(v.ActivitySpread, slow)
}

// wait in words, with dates when the time of packaging is known.
func (d desk) wait() string {
	w := d.ready()
	if w == nil {
		return ""
	}
	return fmt.Sprintf("Ready to chill one and taste: nine lots in ten take %.0f%s to %.0f days%s at %g °C. Warm until then, cool to keep them after.",
		w.P05, d.date(w.P05), w.P95, d.date(w.P95), float64(w.AtC))
}

// notes are what the figures rest on. A bottling that is held has no end yet.
func (d desk) notes(held bool) []string {
	wait := d.wait()
	if held {
		wait = ""
	}
	all := []string{}
	for _, s := range []string{wait, d.warmest(), capped(d.lot.Capped), d.high()} {
		if s != "" {
			all = append(all, s)
		}
	}
	return all
}

// high up there is less air.
func (d desk) high() string {
	if d.site.AltitudeM <= 300 {
		return ""
	}
	return fmt.Sprintf("Counted for %g m: the thinner air leaves less gas in the beer, and a gauge shows more.", d.site.AltitudeM)
}

// capped says what air is in these pressures.
func capped(c model.Capped) string {
	switch c {
	case model.OverAir:
		return "The pressures count the air shut in over the beer, its oxygen used up."
	case model.OnFoam, model.Purged:
		return "The pressures count a tenth of the headspace as air."
	}
	return "The pressures count half the headspace as air, since nothing says how it was capped: 0.3 bar more or less."
}
