package model_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"conditiond/model"

	"gopkg.in/yaml.v3"
)

// document of an invented lot.
const document = `
id: spruce-tip-04
name: Spruce tip ale
space: stairs
packaged_at: 2026-03-01T14:00:00+01:00
yeast: ale
yeast_state: fresh
capped: over-air
beer: {volume_l: 19.0, original_gravity: 1.050, final_gravity: 1.012, limit_gravity: 1.011, warmest_c: 20.0}
target_volumes: 2.5
priming: [{sugar: dextrose, mass_g: 142}]
bottles: [{kind: standard-glass, volume_ml: 330, headspace_ml: 14, count: 57, rated_bar: 5.0}]
gauge_bottle: {sensor: gauge-a, volume_ml: 330, headspace_ml: 14, stands: alone}
worst_case_c: 30
fermentation: {stable_days: 4, dry_hop_g_per_l: 3}
`

func lot(t *testing.T) model.Lot {
	t.Helper()
	var l model.Lot
	d := yaml.NewDecoder(strings.NewReader(document))
	d.KnownFields(true)
	if err := d.Decode(&l); err != nil {
		t.Fatal(err)
	}
	return l
}

func TestCheckPasses(t *testing.T) {
	for name, change := range map[string]func(*model.Lot){
		"as it is":            func(l *model.Lot) {},
		"no gauge":            func(l *model.Lot) { l.GaugeBottle = nil },
		"no priming yet":      func(l *model.Lot) { l.Priming = nil },
		"drops":               func(l *model.Lot) { l.Priming = []model.Priming{{Sugar: "drops", PerBottle: 1, MassG: 3}} },
		"wort of this beer":   func(l *model.Lot) { l.Priming = []model.Priming{{Sugar: "wort", VolumeL: 1.9}} },
		"fermenting beer":     func(l *model.Lot) { l.Priming = []model.Priming{{Sugar: "fermenting-beer", VolumeL: 2, Gravity: 1.04}} },
		"live without target": func(l *model.Lot) { l.TargetVolumes, l.StopAtVolumes = 0, 2 },
	} {
		l := lot(t)
		change(&l)
		if f := l.Check(); len(f) > 0 {
			t.Errorf("%s: %v", name, f)
		}
	}
}

func TestCheckFindsFaults(t *testing.T) {
	for _, c := range []struct {
		change  func(*model.Lot)
		path    string
		problem string // part of it
	}{
		{func(l *model.Lot) { l.ID = "" }, "id", "is missing"},
		{func(l *model.Lot) { l.ID = "Spruce Tip" }, "id", `"Spruce Tip"`},
		{func(l *model.Lot) { l.ID = strings.Repeat("a", 65) }, "id", "1 to 64"},
		{func(l *model.Lot) { l.Space = " " }, "space", "is missing"},
		{func(l *model.Lot) { l.PackagedAt = l.PackagedAt.AddDate(-2026, 0, 0) }, "packaged_at", "2000 to 2100"},
		{func(l *model.Lot) { *l = zeroTime(*l) }, "packaged_at", "is missing"},
		{func(l *model.Lot) { l.Yeast = "bread" }, "yeast", "ale, lager, wheat, farmhouse, wine, mixed"},
		{func(l *model.Lot) { l.Yeast = "" }, "yeast", "is missing"},
		{func(l *model.Lot) { l.YeastState = "old" }, "yeast_state", "aged"},
		{func(l *model.Lot) { l.Capped = "quickly" }, "capped", "over-air, on-foam, purged"},
		{func(l *model.Lot) { l.Beer.VolumeL = 0 }, "beer.volume_l", "is missing or 0"},
		{func(l *model.Lot) { l.Beer.VolumeL = -19 }, "beer.volume_l", "is -19"},
		{func(l *model.Lot) { l.Beer.VolumeL = model.Litres(math.NaN()) }, "beer.volume_l", "is NaN"},
		{func(l *model.Lot) { l.Beer.OriginalGravity = 1050 }, "beer.original_gravity", "1.05"},
		{func(l *model.Lot) { l.Beer.OriginalGravity = 12.5 }, "beer.original_gravity", "about 1.050"},
		{func(l *model.Lot) { l.Beer.FinalGravity = 0 }, "beer.final_gravity", "is missing"},
		{func(l *model.Lot) { l.Beer.FinalGravity = 0.5 }, "beer.final_gravity", "0.98 to 1.2"},
		{func(l *model.Lot) { l.Beer.FinalGravity = 1.06 }, "beer.final_gravity", "above the original"},
		{func(l *model.Lot) { l.Beer.LimitGravity = 1.06 }, "beer.limit_gravity", "above the original"},
		{func(l *model.Lot) { l.Beer.LimitGravity = math.Inf(1) }, "beer.limit_gravity", "is +Inf"},
		{func(l *model.Lot) { l.Beer.WarmestC = 68 }, "beer.warmest_c", "is 68"},
		{func(l *model.Lot) { l.TargetVolumes = 25 }, "target_volumes", "0.5 to 8"},
		{func(l *model.Lot) { l.Priming[0].Sugar = "sugar" }, "priming[0].sugar", "dextrose, dextrose-anhydrous, sucrose"},
		{func(l *model.Lot) { l.Priming[0].MassG = 0 }, "priming[0].mass_g", "is missing"},
		{func(l *model.Lot) { l.Priming[0].MassG = 142000 }, "priming[0].mass_g", "is 142000"},
		{func(l *model.Lot) { l.Priming[0].Fermentable = 65 }, "priming[0].fermentable", "share"},
		{func(l *model.Lot) { l.Priming[0].VolumeL = 2 }, "priming[0]", "belong to wort"},
		{func(l *model.Lot) { l.Priming[0] = model.Priming{Sugar: "drops", MassG: 3} }, "priming[0].per_bottle", "is missing"},
		{func(l *model.Lot) { l.Priming[0] = model.Priming{Sugar: "drops", PerBottle: 1} }, "priming[0].mass_g", "is missing"},
		{func(l *model.Lot) { l.Priming[0] = model.Priming{Sugar: "wort", MassG: 3} }, "priming[0]", "not by mass"},
		{func(l *model.Lot) { l.Priming[0] = model.Priming{Sugar: "wort", VolumeL: 200} }, "priming[0].volume_l", "is 200"},
		{func(l *model.Lot) { l.Priming[0] = model.Priming{Sugar: "fermenting-beer", VolumeL: 2} }, "priming[0].gravity", "is missing"},
		{func(l *model.Lot) { l.Priming[0] = model.Priming{Sugar: "wort", VolumeL: 2, EndGravity: 1.07} }, "priming[0].gravity", "nothing would ferment"},
		{func(l *model.Lot) { l.Bottles = nil }, "bottles", "is missing"},
		{func(l *model.Lot) { l.Bottles[0].Kind = "standrad-glass" }, "bottles[0].kind", "standard-glass"},
		{func(l *model.Lot) { l.Bottles[0].VolumeML = 0.33 }, "bottles[0].volume_ml", "is 0.33"},
		{func(l *model.Lot) { l.Bottles[0].HeadspaceML = 0 }, "bottles[0].headspace_ml", "is missing"},
		{func(l *model.Lot) { l.Bottles[0].Count = 0 }, "bottles[0].count", "is missing"},
		{func(l *model.Lot) { l.Bottles[0].RatedBar = 73 }, "bottles[0].rated_bar", "is 73"},
		{func(l *model.Lot) { l.Bottles[0].CeilingVolumes = -3 }, "bottles[0].ceiling_volumes", "is -3"},
		{func(l *model.Lot) { l.Bottles[0].Count = 570 }, "bottles", "hold 188.1 L"},
		{func(l *model.Lot) { l.Bottles[0].Count = 5 }, "bottles", "hold 1.7"},
		{func(l *model.Lot) { l.GaugeBottle.Sensor = "" }, "gauge_bottle.sensor", "is missing"},
		{func(l *model.Lot) { l.GaugeBottle.VolumeML = 0 }, "gauge_bottle.volume_ml", "is missing"},
		{func(l *model.Lot) { l.GaugeBottle.Stands = "shelf" }, "gauge_bottle.stands", "alone, in-case"},
		{func(l *model.Lot) { l.WorstCaseC = 86 }, "worst_case_c", "is 86"},
		{func(l *model.Lot) { l.StopAtVolumes = 20 }, "stop_at_volumes", "is 20"},
		{func(l *model.Lot) { l.Fermentation.StableDays = -1 }, "fermentation.stable_days", "is -1"},
		{func(l *model.Lot) { l.Fermentation.DryHopGPerL = math.NaN() }, "fermentation.dry_hop_g_per_l", "is NaN"},
	} {
		l := lot(t)
		c.change(&l)
		got := l.Check()
		if !slices.ContainsFunc(got, func(f model.Fault) bool { return f.Path == c.path && strings.Contains(f.Problem, c.problem) }) {
			t.Errorf("want %s: …%s…, got %v", c.path, c.problem, got)
		}
	}
}

func zeroTime(l model.Lot) model.Lot {
	var z model.Lot
	l.PackagedAt = z.PackagedAt
	return l
}

// An empty document names every field that is required.
func TestCheckOfNothing(t *testing.T) {
	var paths []string
	for _, f := range (model.Lot{}).Check() {
		paths = append(paths, f.Path)
	}
	want := "id space packaged_at yeast beer.volume_l beer.original_gravity beer.final_gravity beer.warmest_c target_volumes bottles worst_case_c"
	if got := strings.Join(paths, " "); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if s := (model.Lot{}).Check()[0].Error(); !strings.HasPrefix(s, "id: is missing") {
		t.Error(s)
	}
}
