package main

import (
	_ "embed"
	"html/template"
	"io"
	"maps"
	"slices"
	"strconv"
)

//go:embed plot.svg
var drawing string

// draw the plot: a row for each kind and each bin of days, a column for each
// quantity, coloured by how far from 90 % it is.
func (t *tally) draw(w io.Writer) error {
	p := plot{Columns: quantities}
	for _, k := range slices.Sorted(maps.Keys(t.kinds)) {
		p.add(k, t.kinds[k])
	}
	for _, b := range slices.Sorted(maps.Keys(t.days)) {
		p.add("from day "+strconv.Itoa(b), t.days[b])
	}
	p.add("all", t.all)
	p.Height = 60 + 22*len(p.Rows)
	place := template.FuncMap{"x": func(i int) int { return 190 + 80*i }, "y": func(i int) int { return 50 + 22*i }}
	return template.Must(template.New("plot").Funcs(place).Parse(drawing)).Execute(w, p)
}

type plot struct {
	Columns []string
	Rows    []plotRow
	Height  int
}

type plotRow struct {
	Name  string
	Lots  int
	Cells []cell
}

// cell of the plot. Class says how far from 90 % it is.
type cell struct {
	Percent string
	Class   string
}

func (p *plot) add(name string, r row) {
	out := plotRow{Name: name}
	for _, q := range quantities {
		c := cell{"–", "none"}
		if m := r[q]; m != nil {
			c = cell{strconv.FormatFloat(m.percent(), 'f', 0, 64), class(m.percent())}
			out.Lots = max(out.Lots, m.n)
		}
		out.Cells = append(out.Cells, c)
	}
	p.Rows = append(p.Rows, out)
}

func class(percent float64) string {
	switch {
	case percent < 75:
		return "poor"
	case percent < 85:
		return "low"
	case percent <= 95:
		return "right"
	}
	return "high"
}
