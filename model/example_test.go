package model_test

import (
	"fmt"

	"conditiond/model"
)

// What a gauge shows on a bottle with 2.5 volumes, from the fridge to a hot
// car: half a litre, filled at 20 °C, capped over air.
func ExampleSealed_Gauge() {
	b := model.Sealed{
		Bottle:   model.Bottle{Beer: 0.5, Headspace: 0.02},
		CappedAt: 20, Residual: 0.82, ABV: 5,
		Air:     model.AirAtCapping(model.OverAir, 20, model.Atmosphere).Spent(),
		Station: model.Atmosphere, Factor: model.BeerSolubility,
	}
	for _, t := range []model.Celsius{5, 20, 30, 40} {
		fmt.Printf("%2.0f °C: %.1f bar\n", float64(t), float64(b.Gauge(2.5, t)))
	}
	// Output:
	//  5 °C: 1.3 bar
	// 20 °C: 2.5 bar
	// 30 °C: 3.5 bar
	// 40 °C: 4.5 bar
}

// The way back: how much CO2 a bottle holds by its gauge.
func ExampleSealed_CO2() {
	b := model.Sealed{
		Bottle: model.Bottle{Beer: 0.5, Headspace: 0.02}, CappedAt: 20,
		Station: model.StationPressure(90), Factor: model.BeerSolubility,
	}
	fmt.Printf("%.2f volumes\n", float64(b.CO2(1.9, 20)))
	// Output:
	// 2.47 volumes
}

// Beer that was never warmer than 18 °C since its fermentation ended still
// holds most of a volume; up a mountain it is less.
func ExampleResidual() {
	for _, altitude := range []float64{0, 1500} {
		fmt.Printf("%.2f volumes at %.0f m\n", float64(model.Residual(18, model.StationPressure(altitude))), altitude)
	}
	// Output:
	// 0.87 volumes at 0 m
	// 0.72 volumes at 1500 m
}

// Each thousandth of gravity that ferments in the bottle is half a volume.
func ExampleFermented() {
	v := model.Fermented(1.050, 1.012, 1.011).Volumes()
	fmt.Printf("%.2f volumes\n", float64(v))
	// Output:
	// 0.50 volumes
}

// Where the CO2 of a filling comes from, and what its weakest bottle bears. The
// lot is invented.
func ExampleLot() {
	lot := model.Lot{
		ID: "spruce-tip-04", Yeast: model.Ale, Capped: model.OverAir,
		Beer:          model.Beer{VolumeL: 19, OriginalGravity: 1.050, FinalGravity: 1.012, LimitGravity: 1.011, WarmestC: 20},
		TargetVolumes: 2.5,
		Priming:       []model.Priming{{Sugar: model.Dextrose, MassG: 142}},
		Bottles:       []model.Bottles{{Kind: model.StandardGlass, VolumeML: 330, HeadspaceML: 14, Count: 57}},
		WorstCaseC:    30,
	}
	total := lot.Residual(model.Atmosphere) + lot.PrimingVolumes() + lot.Unfinished()
	fmt.Printf("%.2f left in the beer, %.2f from the sugar, %.2f unfinished\n",
		float64(lot.Residual(model.Atmosphere)), float64(lot.PrimingVolumes()), float64(lot.Unfinished()))
	limit, weakest := lot.Limit(model.Atmosphere)
	b := lot.Sealed(weakest.Bottle(), model.Atmosphere)
	b.Air = b.Air.Spent()
	fmt.Printf("%.1f bar at %.0f °C, of %.1f\n", float64(b.Gauge(total, lot.WorstCaseC)), float64(lot.WorstCaseC), float64(limit))
	// Output:
	// 0.82 left in the beer, 1.68 from the sugar, 0.50 unfinished
	// 4.2 bar at 30 °C, of 3.8
}

// A document's faults name the field, what stands in it, and what would be
// right.
func ExampleLot_Check() {
	lot := model.Lot{
		ID: "ale", Space: "stairs", Yeast: "bread",
		Beer:          model.Beer{VolumeL: 19, OriginalGravity: 1.050, FinalGravity: 12, WarmestC: 20},
		TargetVolumes: 2.5, Bottles: []model.Bottles{{Kind: model.PET, VolumeML: 1000, HeadspaceML: 40, Count: 19}}, WorstCaseC: 30,
	}
	for _, f := range lot.Check() {
		fmt.Println(f)
	}
	// Output:
	// packaged_at: is missing; give the time of packaging, like 2026-03-01T14:00:00+01:00
	// yeast: is "bread"; give one of ale, lager, wheat, farmhouse, wine, mixed
	// beer.final_gravity: is 12, which looks like degrees Plato; give a specific gravity, about 1.048
	// beer.final_gravity: is 12, above the original gravity 1.05; beer gets lighter as it ferments
}
