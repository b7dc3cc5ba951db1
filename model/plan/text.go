package plan

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"conditiond/model"
)

// narrowest page in characters.
const narrowest = 34

// Text is the plan as a page of plain text, at least 34 characters wide: 40
// suits a phone, 80 a sheet of A4.
func (p *Plan) Text(width int) string {
	g := &page{width: max(width, narrowest)}
	g.item("", "Bottling plan for "+p.Lot)
	if p.lot.Name != "" {
		g.item("", p.lot.Name)
	}
	if p.Hold { // nobody should read the sugar first
		p.writeWarnings(g, "HOLD: don't bottle before this is settled")
	}
	p.writeSugar(g)
	p.writeCO2(g)
	p.writeBottles(g)
	if !p.Hold {
		p.writeWarnings(g, "Warnings")
	}
	g.title("Before the first cap")
	for _, c := range p.checklist() {
		g.item("[ ] ", c)
	}
	g.title("Mind")
	g.item("", "These are figures for average bottles. The bottle maker's rating and your eye for scratches go before them. "+
		"A full bottle is never without risk: nobody's face over it, and nothing warm is moved in a hurry.")
	return g.String()
}

func (p *Plan) writeWarnings(g *page, title string) {
	if len(p.Warnings) == 0 {
		return
	}
	g.title(title)
	for i, w := range p.Warnings {
		g.item(fmt.Sprintf("%d. ", i+1), w)
	}
}

func (p *Plan) writeSugar(g *page) {
	if len(p.Priming) == 0 {
		g.title("Priming: none")
		return
	}
	g.title(fmt.Sprintf("Priming for %s L", plain(float64(p.lot.Beer.VolumeL))))
	for _, d := range p.Priming {
		g.item("  ", d.String())
	}
	if len(p.PrimingChoices) == 0 {
		return
	}
	g.line("or one of these instead:")
	for _, d := range p.PrimingChoices {
		g.item("  ", d.String())
	}
}

// String is the dose in a line.
func (d Dose) String() string {
	switch {
	case d.PerBottle > 0:
		return fmt.Sprintf("%g × %g g %s in each bottle", d.PerBottle, d.MassG, d.Sugar)
	case d.VolumeL > 0:
		return fmt.Sprintf("%.2f L %s", d.VolumeL, d.Sugar)
	}
	return fmt.Sprintf("%.1f g %s (%.1f g/L)", d.MassG, d.Sugar, d.GPerL)
}

func (p *Plan) writeCO2(g *page) {
	g.title("CO2, in volumes")
	row := func(name string, v float64) { g.line("  %-16s%6.2f", name, v) }
	row("in the beer now", p.ResidualVolumes)
	if p.lot.StopAtVolumes > 0 {
		row("stop it at", p.TargetVolumes)
	} else {
		row("target", p.TargetVolumes)
		row("expected", p.ExpectedVolumes)
	}
	if u := p.UnfinishedVolumes; u == nil {
		g.line("  unfinished      not known")
	} else {
		row("unfinished", *u)
	}
	if p.site.AltitudeM > 300 {
		g.item("  ", fmt.Sprintf("Counted for %g m: the thinner air leaves less gas in the beer, and a gauge shows more.", p.site.AltitudeM))
	}
}

func (p *Plan) writeBottles(g *page) {
	g.title("Bottles: gauge when all is done")
	for _, b := range p.PerBottle {
		g.item("", fmt.Sprintf("%d × %s %s mL", b.Count, b.Kind, plain(b.VolumeML)))
		if b.MassG > 0 {
			g.line("  %.2f g in each, ends at %.2f", b.MassG, b.Volumes)
		} else {
			g.line("  ends at %.2f", b.Volumes)
		}
		for _, t := range ladder {
			g.line("  %2.0f °C %5.1f bar", float64(t), b.BarAtC[rung(t)])
		}
		g.item("  ", b.verdict(p.lot.WorstCaseC))
	}
	g.item("", capped(p.lot.Capped))
}

// capped says what air is in these pressures.
func capped(c model.Capped) string {
	switch c {
	case model.OverAir:
		return "With the air shut in over the beer, its oxygen used up."
	case model.OnFoam, model.Purged:
		return "With a tenth of the headspace taken as air."
	}
	return "With half the headspace taken as air, since `capped` isn't given: 0.3 bar more or less."
}

// verdict in a line.
func (b PerBottle) verdict(worst model.Celsius) string {
	if b.RatedBar == nil {
		return "not made for pressure: don't fill them"
	}
	return fmt.Sprintf("%s: %.1f of %.1f bar at %g °C", b.Verdict, b.WorstCaseBar, *b.RatedBar, float64(worst))
}

// checklist for the hour before.
func (p *Plan) checklist() []string {
	list := []string{
		fmt.Sprintf("Gravity measured again today: %.3f or lower.", p.lot.Beer.FinalGravity),
		fmt.Sprintf("Beer measured in the bucket: %s L. If it is another volume, plan again.", plain(float64(p.lot.Beer.VolumeL))),
		"Every bottle looked at against the light; scratched, chipped and odd ones out.",
	}
	if len(p.Priming) > 0 {
		list = append(list, "Sugar weighed on scales, not by cup or spoon, and read back from this page.",
			"Dissolved, boiled, stirred in gently, and stirred again half-way.")
	}
	list = append(list,
		"Gauge bottle and one plastic bottle filled mid-run, to the same height as the rest; gauge zeroed open to the air.",
		"Order of filling marked; the short fill at the end marked not for judging.",
		fmt.Sprintf("A still, dark place that stays under %g °C, away from children, doors and beds.", float64(p.lot.WorstCaseC)),
		"Bottles in something closed: a lidded tub, a crate with a lid, a carton in a cupboard.",
		"Cold room found for all of them, should they need to be chilled at once.")
	return list
}

// page of text.
type page struct {
	strings.Builder
	width int
}

func (g *page) line(format string, values ...any) { fmt.Fprintf(g, format+"\n", values...) }

func (g *page) title(s string) {
	g.line("")
	g.item("", s)
	g.line("%s", strings.Repeat("-", min(g.width, utf8.RuneCountInString(s))))
}

// item is a paragraph with a mark before it, broken to the width.
func (g *page) item(mark, s string) {
	indent := strings.Repeat(" ", utf8.RuneCountInString(mark))
	line := mark
	for i, w := range breakable(s, g.width-len(indent)) {
		switch {
		case i == 0:
			line += w
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) > g.width:
			g.line("%s", line)
			line = indent + w
		default:
			line += " " + w
		}
	}
	g.line("%s", line)
}

// breakable words: a longer one, as an id may be, is cut.
func breakable(s string, width int) []string {
	var words []string
	for _, w := range strings.Fields(s) {
		r := []rune(w)
		for ; len(r) > width; r = r[width:] {
			words = append(words, string(r[:width]))
		}
		words = append(words, string(r))
	}
	return words
}
