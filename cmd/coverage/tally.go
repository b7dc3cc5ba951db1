package main

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"text/tabwriter"
)

// tally counts how often the truth was inside, each lot weighing the same.
type tally struct {
	kinds rows[string]
	days  rows[int] // by the day at which a bin begins
	all   row
}

type rows[K comparable] map[K]row

// row has the mean of the lots' shares, by quantity.
type row map[string]*mean

type mean struct {
	sum float64
	n   int
}

func (m *mean) add(v float64) { m.sum, m.n = m.sum+v, m.n+1 }

func (m *mean) percent() float64 { return 100 * m.sum / float64(m.n) }

// bins are the days at which the bins begin.
var bins = [...]int{1, 2, 3, 4, 6, 8, 11, 14, 18, 23, 30, 40, 60}

func bin(day float64) int {
	i := len(bins) - 1
	for i > 0 && float64(bins[i]) > day {
		i--
	}
	return bins[i]
}

// add a lot's checks.
func (t *tally) add(lot []check) {
	if len(lot) == 0 {
		return
	}
	if t.all == nil {
		t.kinds, t.days, t.all = rows[string]{}, rows[int]{}, row{}
	}
	whole, parts := row{}, rows[int]{}
	for _, c := range lot {
		inside := 0.0
		if c.inside {
			inside = 1
		}
		whole.of(c.quantity).add(inside)
		parts.of(bin(c.day)).of(c.quantity).add(inside)
	}
	t.all.take(whole)
	t.kinds.of(string(lot[0].kind)).take(whole)
	for b, r := range parts {
		t.days.of(b).take(r)
	}
}

func (r row) of(quantity string) *mean {
	if r[quantity] == nil {
		r[quantity] = new(mean)
	}
	return r[quantity]
}

func (r rows[K]) of(k K) row {
	if r[k] == nil {
		r[k] = row{}
	}
	return r[k]
}

// take in a lot's row.
func (r row) take(lot row) {
	for q, m := range lot {
		r.of(q).add(m.sum / float64(m.n))
	}
}

// table in percent; a dash where nothing was asked.
func (t *tally) table(out io.Writer) {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(w, "inside the 90 % interval, %\tlots\t")
	for _, q := range quantities {
		fmt.Fprintf(w, "%s\t", q)
	}
	fmt.Fprintln(w)
	for _, k := range slices.Sorted(maps.Keys(t.kinds)) {
		t.kinds[k].line(w, k)
	}
	for _, b := range slices.Sorted(maps.Keys(t.days)) {
		t.days[b].line(w, fmt.Sprint("from day ", b))
	}
	t.all.line(w, "all")
	w.Flush()
}

func (r row) line(w io.Writer, name string) {
	lots := 0
	for _, m := range r {
		lots = max(lots, m.n)
	}
	fmt.Fprintf(w, "%s\t%d\t", name, lots)
	for _, q := range quantities {
		if r[q] == nil {
			fmt.Fprint(w, "–\t")
			continue
		}
		fmt.Fprintf(w, "%.0f\t", r[q].percent())
	}
	fmt.Fprintln(w)
}
