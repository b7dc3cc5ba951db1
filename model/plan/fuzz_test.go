package plan_test

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"conditiond/model"
	"conditiond/model/plan"
)

// FuzzLot: whatever stands in the fields, the lot is refused with faults that
// name them, or its plan has only numbers in it.
func FuzzLot(f *testing.F) {
	f.Add(19.0, 1.05, 1.012, 1.011, 20.0, 2.5, 0.0, 30.0, 330.0, 14.0, 57, 5.0, 0.0, 142.0, 0.0, 0.0, 0.0, 0.0, 90.0, 20.0, uint8(0), uint8(0))
	f.Add(8.0, 1.0, 1.0, 1.0, 25.0, 0.0, 2.2, 30.0, 2000.0, 80.0, 4, 0.0, 0.0, 800.0, 0.0, 0.0, 0.0, 0.0, 0.0, 25.0, uint8(5), uint8(2))
	f.Add(20.0, 1.05, 1.01, 0.0, 18.0, 2.6, 0.0, 40.0, 500.0, 0.1, 40, 0.0, 4.5, 0.0, 0.0, 2.0, 1.05, 1.01, 1500.0, 12.0, uint8(1), uint8(11))
	f.Add(0.1, 1.2, 0.98, 0.98, 0.1, 8.0, 0.0, 60.0, 20.0, 60.0, 5, 0.5, 0.0, 1000.0, 50.0, 0.0, 0.0, 0.0, 5000.0, 45.0, uint8(7), uint8(10))
	f.Fuzz(func(t *testing.T, volume, og, fg, limit, warmest, target, stop, worst, ml, head float64, count int,
		rated, ceiling, mass, pieces, wort, gravity, end, altitude, room float64, kind, sugar uint8) {
		l := model.Lot{
			ID: "fuzz", Yeast: model.Ale,
			Beer:          model.Beer{VolumeL: model.Litres(volume), OriginalGravity: og, FinalGravity: fg, LimitGravity: limit, WarmestC: model.Celsius(warmest)},
			TargetVolumes: model.Volumes(target), StopAtVolumes: model.Volumes(stop), WorstCaseC: model.Celsius(worst),
			Priming: []model.Priming{{Sugar: model.Sugars()[int(sugar)%len(model.Sugars())], MassG: model.Grams(mass), PerBottle: pieces,
				VolumeL: model.Litres(wort), Gravity: gravity, EndGravity: end}},
			Bottles: []model.Bottles{{Kind: model.Kinds()[int(kind)%len(model.Kinds())], VolumeML: ml, HeadspaceML: head, Count: count,
				RatedBar: model.BarGauge(rated), CeilingVolumes: model.Volumes(ceiling)}},
		}
		for _, x := range l.Check() {
			if x.Path == "" || x.Problem == "" {
				t.Fatalf("a fault without a word: %+v", x)
			}
		}
		faults := plan.Check(l)
		p, err := plan.New(l, plan.Site{AltitudeM: altitude, RoomC: model.Celsius(room)})
		if err != nil {
			if len(faults) == 0 && altitude >= -500 && altitude <= 5000 && (room == 0 || room >= 1 && room <= 45) {
				t.Fatal(err)
			}
			return
		}
		if _, err := json.Marshal(p); err != nil { // NaN and infinity don't marshal
			t.Fatal(err)
		}
		for _, b := range p.PerBottle {
			if b.WorstCaseBar > b.RichestBar+0.002 || math.Abs(b.Volumes) > 1e6 {
				t.Fatalf("%+v", b)
			}
		}
		text := p.Text(40)
		if strings.Contains(text, "NaN") || strings.Contains(text, "Inf") || p.HTML(new(bytes.Buffer)) != nil {
			t.Fatal(text)
		}
	})
}
