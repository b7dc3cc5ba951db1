package plan_test

import (
	"fmt"

	"conditiond/model"
	"conditiond/model/plan"
)

// An invented lot: how much sugar, and what each bottle then bears.
func ExampleNew() {
	p, err := plan.New(model.Lot{
		ID: "spruce-tip-04", Yeast: model.Ale, YeastState: model.Added, Capped: model.OnFoam,
		Beer:          model.Beer{VolumeL: 19, OriginalGravity: 1.050, FinalGravity: 1.012, LimitGravity: 1.012, WarmestC: 20},
		TargetVolumes: 2.4,
		Bottles:       []model.Bottles{{Kind: model.StandardGlass, VolumeML: 330, HeadspaceML: 14, Count: 57, RatedBar: 5}},
		WorstCaseC:    30,
	}, plan.Site{AltitudeM: 90, RoomC: 19})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(p.First)
	for _, b := range p.PerBottle {
		fmt.Printf("%s: %.1f bar at 20 °C, %s\n", b.Kind, b.BarAtC["20"], b.Verdict)
	}
	// Output:
	// For 19 L: 134.7 g dextrose (7.1 g/L)
	// standard-glass: 1.9 bar at 20 °C, fits
}

// A beer that isn't finished is held: the plan is made, and says so first.
func ExamplePlan_hold() {
	p, err := plan.New(model.Lot{
		ID: "stuck", Yeast: model.Ale,
		Beer:          model.Beer{VolumeL: 19, OriginalGravity: 1.050, FinalGravity: 1.016, LimitGravity: 1.012, WarmestC: 20},
		TargetVolumes: 2.4,
		Bottles:       []model.Bottles{{Kind: model.HeavyGlass, VolumeML: 500, HeadspaceML: 20, Count: 38}},
		WorstCaseC:    30,
	}, plan.Site{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(p.Hold, p.First)
	fmt.Printf("%.1f volumes are still to come from the beer itself\n", *p.UnfinishedVolumes)
	// Output:
	// true Do not bottle yet
	// 2.0 volumes are still to come from the beer itself
}
