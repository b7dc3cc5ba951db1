package web

import (
	"fmt"
	"strings"

	"conditiond/daemon/engine"
	"conditiond/model"
	"conditiond/model/plan"
)

// fieldGroup is what is asked together.
type fieldGroup struct {
	Title  string
	Fields []field
	Fold   bool // seldom needed
	Open   bool // something stands in it
}

// field of a form. One with options is chosen, one with a unit is a number.
type field struct {
	Name, Label, Unit, Hint string
	Value, Problem          string
	Type                    string // of the input, where it isn't text
	Options                 []option
}

type option struct {
	Value, Words string
	Chosen       bool
}

// groups are all fields, in the order of the work.
func (f *planForm) groups(v *engine.View) []fieldGroup {
	all := []fieldGroup{
		{Title: "The beer", Fields: []field{
			{Name: "name", Label: "Name"},
			{Name: "beer.volume_l", Label: "In the bucket, measured", Unit: "L"},
			{Name: "beer.original_gravity", Label: "Original gravity", Unit: "SG", Hint: "like 1.050"},
			{Name: "beer.final_gravity", Label: "Gravity now", Unit: "SG", Hint: "like 1.012"},
			{Name: "beer.limit_gravity", Label: "Limit gravity", Unit: "SG", Hint: "from a forced-fermentation test; leave it empty if you made none"},
			{Name: "fermentation.stable_days", Label: "The gravity hasn't moved for", Unit: "days"},
			{Name: "beer.warmest_c", Label: "Warmest since fermentation ended", Unit: f.temperature().Sign, Hint: "rests included; not the cold crash"},
			{Name: "yeast", Label: "Yeast", Options: options("", model.Ale, model.Lager, model.Wheat, model.Farmhouse, model.Wine, model.Mixed)},
			{Name: "yeast_state", Label: "The yeast is", Options: options("don't know", model.Fresh, model.Settled, model.Aged, model.Added)},
			{Name: "fermentation.dry_hop_g_per_l", Label: "Hops added after fermentation", Unit: "g/L", Hint: "empty = none"},
		}},
		{Title: "The sugar", Fields: []field{
			{Name: "target_volumes", Label: "Carbonation to reach", Unit: f.gasSign(), Hint: f.styleHint()},
			{Name: "priming[0].sugar", Label: "Sugar", Options: options("none (a live drink)", model.Sugars()...)},
			{Name: "priming[0].mass_g", Label: "How much is in it already", Unit: "g", Hint: "leave it empty: the plan says how much; for drops, the mass of one"},
		}},
		{Title: "Drops, wort, a live drink", Fold: true, Fields: []field{
			{Name: "priming[0].per_bottle", Label: "Pieces in each bottle", Unit: "pcs", Hint: "for drops"},
			{Name: "priming[0].volume_l", Label: "Wort or fermenting beer in it already", Unit: "L", Hint: "empty: the plan says"},
			{Name: "priming[0].gravity", Label: "Its gravity now", Unit: "SG"},
			{Name: "priming[0].end_gravity", Label: "The gravity that it ends at", Unit: "SG", Hint: "empty = as this beer"},
			{Name: "stop_at_volumes", Label: "A live drink is stopped at", Unit: f.gasSign(), Hint: "ginger beer, kombucha, sweet cider; else leave it empty"},
		}},
	}
	for i := range rows {
		all = append(all, f.bottleGroup(i))
	}
	all = append(all, f.placeGroup(v), gaugeGroup(v))
	f.fillIn(all)
	return all
}

func (f *planForm) bottleGroup(i int) fieldGroup {
	p := fmt.Sprintf("bottles[%d].", i)
	g := fieldGroup{Title: "The bottles", Fields: []field{
		{Name: p + "kind", Label: "Kind", Options: options("", model.Kinds()...), Hint: "in doubt: unknown glass"},
		{Name: p + "count", Label: "How many bottles", Unit: "pcs"},
		{Name: p + "volume_ml", Label: "Beer in each", Unit: "mL"},
		{Name: p + "headspace_ml", Label: "Headspace on top", Unit: "mL", Hint: "empty = 4 %"},
		{Name: p + "rated_bar", Label: "The maker's rating", Unit: f.pressure().Sign, Hint: "empty: a cautious one for the kind"},
		{Name: p + "ceiling_volumes", Label: "or told as carbonation", Unit: f.gasSign()},
	}}
	if i > 0 {
		g.Title, g.Fold = "Bottles of another kind or size", true
	}
	return g
}

func (f *planForm) placeGroup(v *engine.View) fieldGroup {
	var spaces []string
	for _, s := range v.Sensors {
		if s.Space != "" && s.Quantity == model.Temperature {
			spaces = append(spaces, s.Space)
		}
	}
	first := "choose"
	if len(spaces) == 1 {
		first = ""
	}
	return fieldGroup{Title: "The place", Fields: []field{
		{Name: "space", Label: "Where they will stand", Options: options(first, spaces...)},
		{Name: "worst_case_c", Label: "Warmest that they may meet", Unit: f.temperature().Sign, Hint: "a summer's day, a car"},
		{Name: "capped", Label: "Capped", Options: options("don't know", model.OverAir, model.OnFoam, model.Purged)},
		{Name: "packaged_at", Label: "Bottled at", Type: "datetime-local", Hint: "time of " + f.loc.String() + "; empty = when you open the lot"},
		{Name: "id", Label: "Short name", Hint: "small letters, digits and hyphens; empty = made of the name"},
	}}
}

func gaugeGroup(v *engine.View) fieldGroup {
	var gauges []string
	for _, s := range v.Sensors {
		if s.Quantity == model.Pressure {
			gauges = append(gauges, s.Name)
		}
	}
	return fieldGroup{Title: "Test bottle with a gauge", Fold: true, Fields: []field{
		{Name: "gauge_bottle.sensor", Label: "Gauge", Options: options("none", gauges...)},
		{Name: "gauge_bottle.volume_ml", Label: "Beer in it", Unit: "mL", Hint: "empty = as the first bottles"},
		{Name: "gauge_bottle.headspace_ml", Label: "Headspace, fittings included", Unit: "mL", Hint: "empty = as the first bottles"},
		{Name: "gauge_bottle.stands", Label: "It stands", Options: options("don't know", model.Alone, model.InCase)},
	}}
}

// fillIn what stands in the form, and what is wrong with it.
func (f *planForm) fillIn(groups []fieldGroup) {
	for i := range groups {
		g := &groups[i]
		for j := range g.Fields {
			x := &g.Fields[j]
			x.Value, x.Problem = f.values.Get(x.Name), f.faults[x.Name]
			for k := range x.Options {
				x.Options[k].Chosen = x.Options[k].Value == x.Value
			}
			g.Open = g.Open || x.Problem != "" || x.Value != "" && x.Options == nil || x.Name == "gauge_bottle.sensor" && x.Value != ""
		}
	}
}

// options to choose from; the first is none of them, unless it has no words.
func options[T ~string](none string, values ...T) []option {
	var all []option
	if none != "" {
		all = append(all, option{Words: none})
	}
	for _, v := range values {
		all = append(all, option{Value: string(v), Words: spacedOut(string(v))})
	}
	return all
}

// spacedOut is a name of the lot document in plain words.
func spacedOut(name string) string { return strings.ReplaceAll(name, "-", " ") }

// gasSign is the sign of carbonation, as short as a field wants it.
func (f *planForm) gasSign() string {
	if f.gas().Scale == 1 {
		return "vol"
	}
	return f.gas().Sign
}

func (f *planForm) styleHint() string {
	say := func(v model.Volumes) string { return number(f.gas().of(float64(v)), 1) }
	var s []string
	for _, x := range plan.Styles() {
		s = append(s, x.Name+" "+say(x.Low)+"–"+say(x.High))
	}
	lead := f.gas().Sign + " of CO2: "
	return lead + strings.Join(s, ", ") + "; " + say(2.4) + " is a careful start"
}
