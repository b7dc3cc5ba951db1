package estimate

import (
	"math"
	"testing"

	"conditiond/model"
)

// A bottle at rest shows what model.Sealed says, which is checked against what is
// published, from a small headspace to that of a gauge's fittings and from a
// cellar to a hot closet, where the beer that has grown takes the headspace's
// place.
func TestAtRestIsAsSealed(t *testing.T) {
	const flat, abv = 0.85, 5
	for _, head := range []model.Litres{0.01, 0.02, 0.06} {
		v := model.Bottle{Beer: 0.5, Headspace: head}
		laws := newClimate(model.Ale, v, abv)
		for _, air := range []float64{0, 0.35} {
			h := headspace(v)
			q := still{h, gasGrams(v, 20), 1, air * h / (h + ostwald), float64(model.Atmosphere), flat}
			s := model.Sealed{Bottle: v, CappedAt: 20, Residual: flat, ABV: abv, Factor: model.BeerSolubility, Station: model.Atmosphere,
				Air: model.Air{N2: model.Bar(air)}}
			for _, c := range []float64{5, 20, 30, 38} {
				for _, volumes := range []float64{1.5, 2.5} {
					got, want := q.gauge(volumes, laws.at(c)), float64(s.Gauge(model.Volumes(volumes), model.Celsius(c)))
					if math.Abs(got-want) > 0.03+0.015*want {
						t.Errorf("%g volumes at %g °C under %g of headspace and %g bar of air: %.3f bar, not %.3f", volumes, c, q.head, air, got, want)
					}
					if back := q.volumes(got, laws.at(c)); math.Abs(back-volumes) > 0.002 {
						t.Errorf("%.3f bar at %g °C are %.4f volumes, not %g", got, c, back, volumes)
					}
				}
			}
		}
	}
}
