package synth

import (
	"time"

	"conditiond/model"
)

// Demo is a closet of invented lots, all packaged at a time: one that gets
// ready, one that will pass its bottles' rating, one whose gauge bottle leaks,
// one in the cold, and one whose gauge falls silent.
func Demo(packaged time.Time) []Scenario {
	lot := func(id, name, space string, sensor string) model.Lot {
		return model.Lot{
			ID: id, Name: name, Space: space, PackagedAt: packaged,
			Yeast: model.Ale, YeastState: model.Fresh, Capped: model.OverAir,
			Beer:          model.Beer{VolumeL: 19, OriginalGravity: 1.050, FinalGravity: 1.012, LimitGravity: 1.012, WarmestC: 20},
			TargetVolumes: 2.4,
			Priming:       []model.Priming{{Sugar: model.Dextrose, MassG: 134}},
			Bottles:       []model.Bottles{{Kind: model.StandardGlass, VolumeML: 500, HeadspaceML: 20, Count: 36, RatedBar: 4.5}},
			GaugeBottle:   &model.GaugeBottle{Sensor: sensor, VolumeML: 500, HeadspaceML: 24, Stands: model.Alone},
			WorstCaseC:    30,
		}
	}
	over := lot("demo-over", "Demo wheat", "middle-shelf", "gauge-over")
	over.Yeast = model.Wheat
	over.Bottles[0].RatedBar = 3.3
	cold := lot("demo-cold", "Demo stout", "cellar", "gauge-cold")
	room := Room{Mean: 20, Swing: 0.8, Wander: 0.4}
	const days = 30
	base := Scenario{Station: model.StationPressure(90), Days: days, Room: room, Before: 3 * time.Hour}
	say := func(l model.Lot, story Story, seed uint64, vigour, event float64) Scenario {
		s := base
		s.Lot, s.Story, s.Seed, s.Vigour, s.EventDay = l, story, seed, vigour, event
		return s
	}
	list := []Scenario{
		say(lot("demo-ready", "Demo pale ale", "top-shelf", "gauge-ready"), Healthy, 1, 0.62, 0),
		say(over, OverPrimed, 2, 0.75, 0),
		say(lot("demo-leak", "Demo bitter", "lower-shelf", "gauge-leak"), Leak, 3, 0.8, 5),
		say(cold, Healthy, 4, 0.8, 0),
		say(lot("demo-silent", "Demo porter", "wardrobe", "gauge-silent"), Silent, 5, 0.8, 6),
	}
	list[3].Room = Room{Mean: 11, Swing: 0.5, Wander: 0.4}
	return list
}
