package plan

import (
	"fmt"
	"math"
	"strings"

	"conditiond/model"
)

// Sheet is the plan in words, in the order in which it is read: what to do
// first; what holds the bottling, if anything does; the sugar, the gas, the
// bottles; what else to mind; what to look at before the first cap.
type Sheet struct {
	Lot, Name string
	Hold      bool
	First     string
	Warnings  []string
	Ahead     bool   // the warnings come before the sugar: First is the first of them
	Sugar     string // over the doses
	Doses     []string
	Instead   []string // one of these would do as well; empty when it is too late
	Gas       []Row
	Racks     []Rack
	Notes     []string
	Checks    []string // empty when it is too late for them
	Mind      string
}

// Row is a figure of the sheet.
type Row struct{ Name, Value, Why string }

// Rack is bottles of a kind and size.
type Rack struct {
	Name    string
	Gets    string // sugar in each and where it ends
	Rungs   []Rung
	Verdict Verdict
	Says    string // the verdict with its figures
	Up      string // how far the hundredth bottle and a higher target would go
}

// Rung of the ladder of pressures.
type Rung struct{ At, Bar string }

// Sheet puts the plan in words.
func (p *Plan) Sheet() Sheet {
	s := Sheet{
		Lot: p.Lot, Name: p.lot.Name, Hold: p.Hold, First: p.First, Warnings: p.unsaid(),
		Ahead: p.ahead, Sugar: p.sugar(), Gas: p.gas(), Notes: p.Notes,
		Mind: "These are figures for average bottles. The bottle maker's rating, local rules, your food authority and your eye for scratches go before them. " +
			"A full bottle is never without risk: nobody's face over it, and nothing warm is moved in a hurry.",
	}
	for _, d := range p.Priming {
		s.Doses = append(s.Doses, d.String())
	}
	for _, b := range p.PerBottle {
		s.Racks = append(s.Racks, b.rack(p.lot))
	}
	if p.late {
		return s
	}
	for _, d := range p.PrimingChoices {
		s.Instead = append(s.Instead, d.String())
	}
	s.Checks = p.checks()
	return s
}

// unsaid are the warnings without what First says already.
func (p *Plan) unsaid() []string {
	if !p.ahead {
		return p.Warnings
	}
	all := append([]string{}, p.Warnings...)
	for i, w := range all {
		rest, ok := strings.CutPrefix(w, p.First)
		if end := strings.HasPrefix(rest, ": ") || strings.HasPrefix(rest, ". "); ok && end {
			rest = rest[2:]
			all[i] = strings.ToUpper(rest[:1]) + rest[1:]
		}
	}
	return all
}

// sugar is the title over the doses.
func (p *Plan) sugar() string {
	beer := plain(float64(p.lot.Beer.VolumeL)) + " L"
	switch {
	case p.lot.StopAtVolumes > 0:
		return "No priming: it ferments what is in it"
	case len(p.Priming) == 0:
		return "No priming"
	case p.late:
		return "What would have been right for " + beer
	case p.Hold:
		return "Priming for " + beer + ", once that is settled"
	}
	return "Priming for " + beer
}

// String is the dose in a line.
func (d Dose) String() string {
	switch {
	case d.PerBottle > 0:
		return fmt.Sprintf("%g × %g g %s in each bottle", d.PerBottle, d.MassG, d.Sugar)
	case d.VolumeL > 0:
		return fmt.Sprintf("%.2f L %s", d.VolumeL, d.Sugar)
	}
	decimals := 1
	if d.MassG >= 1000 {
		decimals = 0
	}
	return fmt.Sprintf("%.*f g %s (%.1f g/L)", decimals, d.MassG, d.Sugar, d.GPerL)
}

func (p *Plan) gas() []Row {
	row := func(name string, v float64, why string) Row { return Row{name, fmt.Sprintf("%.2f", v), why} }
	rows := []Row{row("in the beer now", p.ResidualVolumes, "")}
	if p.lot.StopAtVolumes > 0 {
		return append(rows, row("stop it at", p.TargetVolumes, ""), row("could come to", p.could, ""))
	}
	rows = append(rows, row("target", p.TargetVolumes, styled(p.TargetVolumes)), row("expected", p.ExpectedVolumes, ""))
	if u := p.UnfinishedVolumes; u != nil {
		return append(rows, row("unfinished", *u, ""))
	}
	return append(rows, Row{"unfinished", "not known", ""})
}

func (b PerBottle) rack(l model.Lot) Rack {
	r := Rack{
		Name:    fmt.Sprintf("%d × %s %s mL", b.Count, b.Kind, plain(b.VolumeML)),
		Gets:    fmt.Sprintf("ends at %.2f volumes", b.Volumes),
		Verdict: b.Verdict, Says: "not made for pressure: don't fill them",
	}
	if b.MassG > 0 && (desk{lot: l}).added() {
		r.Gets += fmt.Sprintf("; %.2f g in each would meet the target", b.MassG)
	} else if b.MassG > 0 {
		r.Gets = fmt.Sprintf("%.2f g in each, ", b.MassG) + r.Gets
	}
	for _, t := range ladder {
		r.Rungs = append(r.Rungs, Rung{fmt.Sprintf("%g °C", float64(t)), fmt.Sprintf("%.1f bar", b.BarAtC[rung(t)])})
	}
	if b.RatedBar != nil {
		r.Says = fmt.Sprintf("%s: %.1f of %.1f bar at %g °C", b.Verdict, b.WorstCaseBar, *b.RatedBar, float64(l.WorstCaseC))
		if b.FitsUpTo < 1 {
			return r
		}
		r.Up = fmt.Sprintf("one in a hundred may reach %.1f bar there; a fifth in hand for targets up to %.1f volumes", b.RichestBar, math.Floor(10*b.FitsUpTo)/10)
	}
	return r
}

// lowEnough is the gravity to bottle at.
func lowEnough(b model.Beer) float64 {
	if b.LimitGravity > 0 && points(b.FinalGravity, b.LimitGravity) >= pointsLeft {
		return b.LimitGravity
	}
	return b.FinalGravity
}

// checks for the hour before.
func (p *Plan) checks() []string {
	var list []string
	if p.lot.StopAtVolumes == 0 {
		list = append(list, fmt.Sprintf("Gravity measured again today: %.3f or lower.", lowEnough(p.lot.Beer)))
	}
	list = append(list,
		fmt.Sprintf("Beer measured in the bucket: %s L. If it is another volume, plan again.", plain(float64(p.lot.Beer.VolumeL))),
		p.counted(),
		"Every bottle looked at against the light; scratched, chipped and odd ones out.")
	if len(p.Priming) > 0 {
		list = append(list, "Sugar weighed on scales, not by cup or spoon, and read back from this page.",
			"Dissolved, boiled, stirred in gently, and stirred again half-way.")
	}
	return append(list,
		"Gauge bottle and one plastic bottle filled mid-run, to the same height as the rest; gauge zeroed open to the air.",
		"Order of filling marked; the short fill at the end marked not for judging.",
		fmt.Sprintf("A still, dark place that stays under %g °C, away from children, doors and beds; the household told.", float64(p.lot.WorstCaseC)),
		"Bottles in something closed: a lidded tub, a crate with a lid, a carton in a cupboard.",
		"Cold room found for all of them, should they need to be chilled at once.")
}

// counted bottles and caps, with one in twenty to spare, and how many of the
// first size all the beer would take.
func (p *Plan) counted() string {
	n := 0
	for _, b := range p.lot.Bottles {
		n += b.Count
	}
	s := fmt.Sprintf("%d bottles cleaned, holding %s L, and %d caps or closures", n, plain(round(float64(p.lot.Filled()), 1)), n+(n+19)/20)
	if b := p.lot.Bottles[0]; len(p.lot.Bottles) == 1 {
		s += fmt.Sprintf("; all the beer takes %.0f of %s mL", math.Ceil(float64(p.lot.Beer.VolumeL)*1000/b.VolumeML-0.001), plain(b.VolumeML))
	}
	return s + "."
}
