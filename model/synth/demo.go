package synth

import (
	"time"

	"conditiond/model"
)

// demoAltitude in metres.
const demoAltitude = 90

// demo is one of the demo's lots before anything befalls it: all that Draw would
// leave to chance is in the middle.
func demo(id, name, space, sensor string, packaged time.Time, seed uint64) Scenario {
	l := model.Lot{
		ID: id, Name: name, Space: space, PackagedAt: packaged,
		Yeast: model.Ale, YeastState: model.Fresh, Capped: model.OverAir,
		Beer:          model.Beer{VolumeL: 19, OriginalGravity: 1.050, FinalGravity: 1.012, LimitGravity: 1.012, WarmestC: 20},
		TargetVolumes: 2.4,
		Priming:       []model.Priming{{Sugar: model.Dextrose, MassG: 134}},
		Bottles:       []model.Bottles{{Kind: model.StandardGlass, VolumeML: 500, HeadspaceML: 20, Count: 36, RatedBar: 4.5}},
		GaugeBottle:   &model.GaugeBottle{Sensor: sensor, VolumeML: 500, HeadspaceML: 24, Stands: model.Alone},
		WorstCaseC:    30,
	}
	vessel := Vessel{Beer: 0.5, Head: 0.024, Neck: 0.05, Film: 1.73, Slow: 1.5 / 24, Rich: 1}
	s := Scenario{Family: HealthyGauge, Seed: seed, Lot: l, Site: Site{"Invented closet", "UTC", demoAltitude},
		Station: model.StationPressure(demoAltitude), Days: 30, Before: 3 * time.Hour, Spread: 0.03,
		Room:   Room{Mean: 20, Swing: 0.8, Wander: 0.4, Weather: 0.006},
		Gauged: &vessel, Bottles: []Vessel{vessel},
		Filling: Filling{Sugars: Sugars{Glucose: 6.4}, CO2: 1.6, Beer: 20, Air: 0.95, ABV: 5, Solubility: 0.955, Steep: 2450},
		Nature: Nature{Kind: l.Yeast, Cells: 1, Crop: 1.6, Appetite: 0.75, Rest: 0.5, Wakes: 1.3, Dies: 0.006, Affinity: 0.9,
			Inverts: 1.1, Maltose: 0.45, Maltotriose: 0.15, Shy: 2.6, Sinks: 0.2, Yield: 0.468},
	}
	s.Thermometer = Device{Name: space + "-air", Topic: "demo/" + space + "/air", Quantity: model.Temperature, Unit: "degC", Digits: 3,
		Slow: 0.002, Err: Err{Offset: 0.1, Noise: 0.05, Grain: 0.0625}}
	s.Gauge = Device{Name: sensor, Topic: "demo/" + space + "/" + sensor, Pointer: "/pressure", Quantity: model.Pressure, Unit: "bar", FullScale: 10, Digits: 3,
		Err: Err{Offset: 0.02, Span: 0.004, Noise: 0.006, Grain: 0.003}}
	return s
}

// Demo is a closet of invented lots, all packaged at a time: one that gets
// ready, one that will pass its bottles' rating, one whose gauge bottle leaks,
// one in the cold, and one whose gauge falls silent.
func Demo(packaged time.Time) []Scenario {
	ready := demo("demo-ready", "Demo pale ale", "top-shelf", "gauge-ready", packaged, 1)
	ready.Nature.Cells, ready.Nature.Crop = 1.3, 2.1

	over := demo("demo-over", "Demo wheat", "middle-shelf", "gauge-over", packaged, 2)
	over.Family, over.Lot.Yeast, over.Nature.Kind = OverPrimed, model.Wheat, model.Wheat
	over.Lot.Bottles[0].RatedBar = 3.3
	over.Filling.Glucose *= 1.9
	over.Nature.Cells, over.Nature.Crop = 1.5, 2.4

	leak := demo("demo-leak", "Demo bitter", "lower-shelf", "gauge-leak", packaged, 3)
	leak.Family, leak.Nature.Cells = LeakLater, 1.3
	leak.Gauged.Leak = Leak{Size: 0.3, From: 5}

	cold := demo("demo-cold", "Demo stout", "cellar", "gauge-cold", packaged, 4)
	cold.Family, cold.Room.Mean, cold.Filling.Beer = ColdCloset, 11, 11

	silent := demo("demo-silent", "Demo porter", "wardrobe", "gauge-silent", packaged, 5)
	silent.Family = SensorFaults
	silent.Faults = []SensorFault{{Kind: Silent, Sensor: "gauge-silent", From: silent.after(6)}}
	return []Scenario{ready, over, leak, cold, silent}
}
