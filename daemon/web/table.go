package web

import (
	"strconv"
	"time"
)

// tableRow is an instant of a graph in numbers, for who can't see the charts.
type tableRow struct {
	At       string
	Expected bool // it lies ahead
	Values   []string
}

// table of a graph: a row a day, or every six hours where it is short.
func (t teller) table(g graph) []tableRow {
	step := 24 * time.Hour
	if g.To.Sub(g.From) < 4*24*time.Hour {
		step = 6 * time.Hour
	}
	var rows []tableRow
	for at := g.From.Add(step); !at.After(g.To); at = at.Add(step) {
		row := tableRow{At: t.moment(at), Expected: at.After(g.Now)}
		known := false
		for _, l := range g.Panels {
			v := l.told(at, row.Expected, step/2)
			row.Values, known = append(row.Values, v), known || v != "–"
		}
		if known {
			rows = append(rows, row)
		}
	}
	return rows
}

// told is a panel's value about an instant, with its band.
func (l lines) told(at time.Time, expected bool, about time.Duration) string {
	c := l.past
	if expected {
		c = l.ahead
	} else if len(c.mid) == 0 {
		c.mid = l.readings
	}
	i := nearest(c.mid, at, about)
	if i < 0 {
		return "–"
	}
	say := func(d dot) string { return number(d.Value, l.unit.Decimals) }
	if len(c.low) == 0 {
		return say(c.mid[i])
	}
	return say(c.mid[i]) + " (" + say(c.low[i]) + " to " + say(c.high[i]) + ")"
}

// nearest of some dots to an instant; -1 where none is near enough.
func nearest(dots []dot, at time.Time, about time.Duration) int {
	best := -1
	for i, d := range dots {
		off := d.Time.Sub(at).Abs()
		if off <= about && (best < 0 || off < dots[best].Time.Sub(at).Abs()) {
			best = i
		}
	}
	return best
}

// eventRows are a graph's events in words, with their numbers.
func (t teller) eventRows(g graph) []numbered {
	var rows []numbered
	for i, e := range g.Events {
		rows = append(rows, numbered{N: strconv.Itoa(i + 1), At: t.moment(e.At), Text: t.gloss(e.Words)})
	}
	return rows
}

// numbered is an event's line under the charts.
type numbered struct{ N, At, Text string }
