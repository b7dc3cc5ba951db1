package web

import (
	"fmt"
	"maps"
	"math"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"conditiond/daemon/engine"
	"conditiond/model"
	"conditiond/model/plan"
)

// rows of bottles in the form.
const rows = 3

// planForm is what stands in the form: each field is named by its path in the
// lot document, so that a fault of the document finds its field.
type planForm struct {
	values url.Values
	faults map[string]string // by field
	given  []int             // rows of bottles that were filled in
	units
	loc *time.Location
}

// newPlanForm with what was sent, or with what is likely. A form says itself in
// which units and in whose time it was filled in.
func (s *Server) newPlanForm(r *http.Request, sent url.Values) *planForm {
	t := s.tellerTo(r)
	f := &planForm{values: maps.Clone(sent), faults: map[string]string{}, units: t.units, loc: t.loc}
	if sent == nil {
		f.values = url.Values{
			"yeast": {"ale"}, "beer.warmest_c": {f.input(f.temperature(), 20)}, "target_volumes": {f.input(f.gas(), 2.4)}, "priming[0].sugar": {"dextrose"},
			"bottles[0].kind": {"standard-glass"}, "bottles[0].volume_ml": {"330"}, "worst_case_c": {f.input(f.temperature(), 30)},
		}
		return f
	}
	f.units, f.loc = units{}, s.config.Location
	if was, ok := sent["reader"]; ok {
		who := readerOf(was[0])
		f.units = who.units
		if loc := zoneNamed(who.zone); loc != nil {
			f.loc = loc
		}
	}
	return f
}

// filled says in which units and in whose time a form is filled in.
func (f *planForm) filled() string { return reader{zone: f.loc.String(), units: f.units}.String() }

// input is a number as it stands in a field.
func (f *planForm) input(m measure, v float64) string {
	return strconv.FormatFloat(math.Round(m.of(v)*100)/100, 'f', -1, 64)
}

// of a reader's unit, the number in the program's own; 0 when the field is empty.
func (f *planForm) of(m measure, name string) float64 {
	v := f.number(name)
	if f.text(name) == "" || m.Scale == 1 || f.faults[name] != "" {
		return v
	}
	return math.Round(m.back(v)*1e6) / 1e6
}

func (f *planForm) degrees(name string) model.Celsius {
	return model.Celsius(f.of(f.temperature(), name))
}
func (f *planForm) gasOf(name string) model.Volumes { return model.Volumes(f.of(f.gas(), name)) }

func (f *planForm) text(name string) string { return strings.TrimSpace(f.values.Get(name)) }

// wrong notes the first fault of a field.
func (f *planForm) wrong(name, problem string) {
	if f.faults[name] == "" {
		f.faults[name] = problem
	}
}

var digits = regexp.MustCompile(`^[-+]?(\d+\.?\d*|\.\d+)$`)

// number of a field; 0 when it is empty. A comma is a point.
func (f *planForm) number(name string) float64 {
	text := strings.ReplaceAll(f.text(name), ",", ".")
	if text == "" {
		return 0
	}
	v, err := strconv.ParseFloat(text, 64)
	if !digits.MatchString(text) || err != nil {
		f.wrong(name, fmt.Sprintf("is %q; give a number, such as 19.5", short(f.text(name))))
		return 0
	}
	return v
}

func (f *planForm) whole(name string) int {
	v := f.number(name)
	if v != math.Trunc(v) || math.Abs(v) > 1e6 {
		f.wrong(name, fmt.Sprintf("is %q; give a whole number, such as 57", short(f.text(name))))
		return 0
	}
	return int(v)
}

// fill an empty field with what is meant by it.
func (f *planForm) fill(name string, v float64) {
	if f.text(name) == "" && v > 0 {
		f.values.Set(name, strconv.FormatFloat(v, 'f', -1, 64))
	}
}

// lot that the form describes.
func (f *planForm) lot(v *engine.View) model.Lot {
	if f.text("id") == "" {
		f.values.Set("id", f.freeID(v))
	}
	l := model.Lot{
		ID: f.text("id"), Name: f.text("name"), Space: f.text("space"), PackagedAt: f.time("packaged_at"),
		Yeast: model.Yeast(f.text("yeast")), YeastState: model.YeastState(f.text("yeast_state")), Capped: model.Capped(f.text("capped")),
		Beer: model.Beer{
			VolumeL: model.Litres(f.number("beer.volume_l")), OriginalGravity: f.number("beer.original_gravity"),
			FinalGravity: f.number("beer.final_gravity"), LimitGravity: f.number("beer.limit_gravity"), WarmestC: f.degrees("beer.warmest_c"),
		},
		TargetVolumes: f.gasOf("target_volumes"), StopAtVolumes: f.gasOf("stop_at_volumes"),
		Priming: f.priming(), Bottles: f.bottles(), WorstCaseC: f.degrees("worst_case_c"),
	}
	if w := (model.Fermenting{StableDays: f.number("fermentation.stable_days"), DryHopGPerL: f.number("fermentation.dry_hop_g_per_l")}); w != (model.Fermenting{}) {
		l.Fermentation = &w
	}
	l.GaugeBottle = f.gaugeBottle()
	return l
}

func (f *planForm) time(name string) time.Time {
	text := f.text(name)
	if text == "" {
		return time.Time{}
	}
	at, err := time.ParseInLocation("2006-01-02T15:04", text, f.loc)
	if err != nil {
		f.wrong(name, fmt.Sprintf("is %q; give day and time, such as 2026-03-01T14:00, or leave it empty for now", short(text)))
	}
	return at.UTC()
}

func (f *planForm) priming() []model.Priming {
	const p = "priming[0]."
	x := model.Priming{
		Sugar: model.Sugar(f.text(p + "sugar")), MassG: model.Grams(f.number(p + "mass_g")), PerBottle: f.number(p + "per_bottle"),
		VolumeL: model.Litres(f.number(p + "volume_l")), Gravity: f.number(p + "gravity"), EndGravity: f.number(p + "end_gravity"),
	}
	if x == (model.Priming{}) {
		return nil
	}
	return []model.Priming{x}
}

func (f *planForm) bottles() []model.Bottles {
	var all []model.Bottles
	f.given = nil
	for i := range rows {
		p := fmt.Sprintf("bottles[%d].", i)
		if i > 0 && f.text(p+"volume_ml")+f.text(p+"headspace_ml")+f.text(p+"count")+f.text(p+"rated_bar")+f.text(p+"ceiling_volumes") == "" {
			continue
		}
		b := model.Bottles{
			Kind: model.Kind(f.text(p + "kind")), VolumeML: f.number(p + "volume_ml"), Count: f.whole(p + "count"),
			RatedBar: model.BarGauge(f.of(f.pressure(), p+"rated_bar")), CeilingVolumes: f.gasOf(p + "ceiling_volumes"),
		}
		f.fill(p+"headspace_ml", math.Round(0.04*b.VolumeML))
		b.HeadspaceML = f.number(p + "headspace_ml")
		all, f.given = append(all, b), append(f.given, i)
	}
	return all
}

// gaugeBottle is like the first of the others where nothing else is said.
func (f *planForm) gaugeBottle() *model.GaugeBottle {
	if f.text("gauge_bottle.sensor") == "" {
		return nil
	}
	f.fill("gauge_bottle.volume_ml", f.number("bottles[0].volume_ml"))
	f.fill("gauge_bottle.headspace_ml", f.number("bottles[0].headspace_ml"))
	return &model.GaugeBottle{Sensor: f.text("gauge_bottle.sensor"), VolumeML: f.number("gauge_bottle.volume_ml"),
		HeadspaceML: f.number("gauge_bottle.headspace_ml"), Stands: model.Stands(f.text("gauge_bottle.stands"))}
}

// check puts the document's faults at their fields.
func (f *planForm) check(faults []model.Fault) {
	for _, x := range faults {
		path := x.Path
		for i, row := range f.given {
			if rest, ok := strings.CutPrefix(x.Path, fmt.Sprintf("bottles[%d].", i)); ok {
				path = fmt.Sprintf("bottles[%d].%s", row, rest)
			}
		}
		f.wrong(path, x.Problem)
	}
}

// unplaced are the faults that belong to no one field.
func (f *planForm) unplaced(groups []fieldGroup) []planFault {
	left := maps.Clone(f.faults)
	for _, g := range groups {
		for _, x := range g.Fields {
			delete(left, x.Name)
		}
	}
	var all []planFault
	for _, name := range slices.Sorted(maps.Keys(left)) {
		all = append(all, planFault{Label: name, Problem: left[name]})
	}
	return all
}

// amountField is where the amount of the chosen sugar stands.
func (f *planForm) amountField() string {
	switch s := model.Sugar(f.text("priming[0].sugar")); {
	case s == model.Wort || s == model.FermentingBeer:
		return "priming[0].volume_l"
	case s == model.Drops || f.text("priming[0].per_bottle") != "":
		return "priming[0].per_bottle"
	}
	return "priming[0].mass_g"
}

func (f *planForm) amount() string { return f.text(f.amountField()) }

// merge what really went in, as the end of the page asks, into the form.
func (f *planForm) merge(added string) {
	if added = strings.TrimSpace(added); added != "" && f.amount() == "" {
		f.values.Set(f.amountField(), added)
	}
}

// added asks what really went in; the proposal stands in it.
func (f *planForm) added(p *plan.Plan) field {
	if len(p.Priming) == 0 {
		return field{}
	}
	d := p.Priming[0]
	x := field{Name: "added", Label: "What really went in: " + spacedOut(string(d.Sugar)), Unit: "g", Value: strconv.FormatFloat(d.MassG, 'f', -1, 64)}
	if d.VolumeL > 0 {
		x.Unit, x.Value = "L", strconv.FormatFloat(d.VolumeL, 'f', -1, 64)
	}
	return x
}

const idLetters = "abcdefghijklmnopqrstuvwxyz0123456789"

// freeID is made of the name, with a number behind it when it is taken.
func (f *planForm) freeID(v *engine.View) string {
	words := strings.FieldsFunc(strings.ToLower(f.text("name")), func(r rune) bool { return !strings.ContainsRune(idLetters, r) })
	id := strings.Join(words, "-")
	if id == "" {
		id = "lot-" + v.Time.In(f.loc).Format("2006-01-02")
	}
	id = strings.TrimRight(id[:min(len(id), 58)], "-")
	free := id
	for n := 2; taken(v, free); n++ {
		free = fmt.Sprintf("%s-%d", id, n)
	}
	return free
}

func taken(v *engine.View, id string) bool {
	_, ok := findLot(v, id)
	return ok
}
