package plan

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// narrowest page in characters.
const narrowest = 34

// Text is the plan as a page of plain text, at least 34 characters wide: 40
// suits a phone, 80 a sheet of A4. Its first line is what to do first.
func (p *Plan) Text(width int) string {
	g, s := &page{width: max(width, narrowest)}, p.Sheet()
	if s.Hold {
		g.item("", "HOLD. "+s.First+".")
	} else {
		g.item("", s.First+".")
	}
	g.line("")
	g.item("", "Bottling plan for "+s.Lot)
	if s.Name != "" {
		g.item("", s.Name)
	}
	if s.Ahead { // nobody should read the sugar first
		g.list("Why, and what then", s.Warnings)
	}
	g.sugar(s)
	g.title("CO2, in volumes")
	for _, r := range s.Gas {
		g.line("  %-16s %s", r.Name, r.Value)
		if r.Why != "" {
			g.item("    ", "usual for "+r.Why)
		}
	}
	g.title("Bottles: gauge when all is done")
	for _, r := range s.Racks {
		g.rack(r)
	}
	if !s.Ahead {
		g.list("Mind first", s.Warnings)
	}
	g.list("What this rests on", s.Notes)
	if len(s.Checks) > 0 {
		g.title("Before the first cap")
	}
	for _, c := range s.Checks {
		g.item("[ ] ", c)
	}
	g.title("Always")
	g.item("", s.Mind)
	return g.String()
}

func (g *page) sugar(s Sheet) {
	g.title(s.Sugar)
	for _, d := range s.Doses {
		g.item("  ", d)
	}
	if len(s.Instead) == 0 {
		return
	}
	g.line("or one of these instead:")
	for _, d := range s.Instead {
		g.item("  ", d)
	}
}

func (g *page) rack(r Rack) {
	g.item("", r.Name)
	g.item("  ", r.Gets)
	for _, x := range r.Rungs {
		g.line("  %5s %8s", x.At, x.Bar)
	}
	g.item("  ", r.Says)
	if r.Up != "" {
		g.item("  ", r.Up)
	}
}

// list of numbered lines under a title; nothing without lines.
func (g *page) list(title string, lines []string) {
	if len(lines) == 0 {
		return
	}
	g.title(title)
	for i, l := range lines {
		g.item(fmt.Sprintf("%d. ", i+1), l)
	}
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
