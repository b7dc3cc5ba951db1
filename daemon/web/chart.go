package web

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// Charts are drawn on a plane of chartWide by chartHigh that the page stretches
// to its width; lines keep their width, and all lettering is outside of it.
const (
	chartWide = 1000.0
	chartHigh = 200.0
)

// chart is one panel over time.
type chart struct {
	Title, Unit string
	Band, Line  string // paths; empty = nothing to draw
	Fan, Likely string // the same of what is expected
	Dots        string // path of readings
	Levels      []levelMark
	Marks       []tally
	Now         string // x of the present; empty = at the edge
	ReadyX      string // x and width of the days in which it gets ready; empty = unknown
	ReadyWide   string
	Rules       []string // y of the grid
	YLabels     []string // top to bottom
	XLabels     []string // left to right
	Empty       bool
	Summary     string // for who can't see it
}

// levelMark is a level on the drawing.
type levelMark struct {
	Y     string
	Share string // of the height, for lettering beside the drawing
	level
}

// tally is the mark of an event, by its number.
type tally struct {
	X, Share string
	N        int
	Grave    bool
}

// plane maps time and value to the drawing.
type plane struct {
	from, to  time.Time
	low, high float64
}

func (p plane) x(t time.Time) float64 {
	return chartWide * t.Sub(p.from).Seconds() / math.Max(p.to.Sub(p.from).Seconds(), 1)
}

func (p plane) y(v float64) float64 {
	return chartHigh * (1 - (v-p.low)/(p.high-p.low))
}

// gap is how long a silence may be before a line breaks: nothing is drawn
// over what isn't known.
func (p plane) gap() time.Duration {
	return silence(p.from, p.to)
}

// silence is how long nothing may be heard, seen from so far away, until it is a
// gap.
func silence(from, to time.Time) time.Duration { return max(3*time.Hour, to.Sub(from)/30) }

// dot is one value at an instant.
type dot = Sample

// path joins dots, broken at gaps.
func (p plane) path(dots []dot) string {
	var b strings.Builder
	for i, d := range dots {
		step, end := "L", ""
		if i == 0 || d.Time.Sub(dots[i-1].Time) > p.gap() {
			step, end = "M", "h0" // so that a lone value shows
		}
		fmt.Fprintf(&b, "%s%s %s%s", step, coord(p.x(d.Time)), coord(p.y(d.Value)), end)
	}
	return b.String()
}

// unbroken joins dots of which none is missing, however far apart.
func (p plane) unbroken(dots []dot) string {
	var b strings.Builder
	step := "M"
	for _, d := range dots {
		fmt.Fprintf(&b, "%s%s %s", step, coord(p.x(d.Time)), coord(p.y(d.Value)))
		step = "L"
	}
	return b.String()
}

// area fills between two lines of the same instants, broken at gaps.
func (p plane) area(low, high []dot) string {
	var b strings.Builder
	for start := 0; start < len(low); {
		end := start + 1
		for end < len(low) && low[end].Time.Sub(low[end-1].Time) <= p.gap() {
			end++
		}
		b.WriteString(p.patch(low[start:end], high[start:end]))
		start = end
	}
	return b.String()
}

func (p plane) patch(low, high []dot) string {
	var b strings.Builder
	step := "M"
	for _, d := range high {
		fmt.Fprintf(&b, "%s%s %s", step, coord(p.x(d.Time)), coord(p.y(d.Value)))
		step = "L"
	}
	for i := len(low) - 1; i >= 0; i-- {
		fmt.Fprintf(&b, "L%s %s", coord(p.x(low[i].Time)), coord(p.y(low[i].Value)))
	}
	return b.String() + "Z"
}

// charts of a graph, as they are drawn where no script runs.
func (t teller) charts(g graph) []chart {
	var all []chart
	for i, l := range g.Panels {
		c := t.chart(g, l)
		if i > 0 {
			c.ReadyX = "" // it is about volumes
		}
		all = append(all, c)
	}
	return all
}

func (t teller) chart(g graph, l lines) chart {
	c := chart{Title: l.title, Unit: l.unit.Sign, Empty: len(l.past.mid)+len(l.readings)+len(l.ahead.mid) == 0}
	if c.Empty {
		return c
	}
	low, high := l.reach()
	ticks := niceTicks(low, high)
	p := plane{from: g.From, to: g.To, low: ticks[0], high: ticks[len(ticks)-1]}
	c.Band, c.Line, c.Dots = p.area(l.past.low, l.past.high), p.path(l.past.mid), p.path(l.readings)
	if len(l.ahead.mid) > 0 {
		c.Fan, c.Likely = p.patch(l.ahead.low, l.ahead.high), p.unbroken(l.ahead.mid)
	}
	for i := len(ticks) - 1; i >= 0; i-- {
		c.Rules = append(c.Rules, coord(p.y(ticks[i])))
		c.YLabels = append(c.YLabels, number(ticks[i], decimals(ticks[1]-ticks[0])))
	}
	for _, x := range l.levels {
		c.Levels = append(c.Levels, levelMark{coord(p.y(x.At)), percentOf(p.y(x.At) / chartHigh), x})
	}
	c.mark(p, g)
	c.XLabels = t.timeLabels(g.From, g.To)
	c.Summary = t.summary(g, l)
	return c
}

// mark what is the same in all panels.
func (c *chart) mark(p plane, g graph) {
	for i, e := range g.Events {
		if !e.At.Before(p.from) && !e.At.After(p.to) {
			c.Marks = append(c.Marks, tally{coord(p.x(e.At)), percentOf(p.x(e.At) / chartWide), i + 1, e.Grave})
		}
	}
	if g.To.After(g.Now) {
		c.Now = coord(p.x(g.Now))
	}
	if r := g.Ready; r != nil {
		from, to := math.Max(p.x(r.First), 0), math.Min(p.x(r.Last), chartWide)
		if to > 0 && from < chartWide {
			c.ReadyX, c.ReadyWide = coord(from), coord(math.Max(to-from, 2))
		}
	}
}

func percentOf(share float64) string { return fmt.Sprintf("%.2f%%", 100*share) }

// reach is the span of all values, the levels included.
func (l lines) reach() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, line := range [][]dot{l.past.low, l.past.mid, l.past.high, l.ahead.low, l.ahead.mid, l.ahead.high, l.readings} {
		for _, d := range line {
			low, high = math.Min(low, d.Value), math.Max(high, d.Value)
		}
	}
	for _, x := range l.levels {
		low, high = math.Min(low, x.At), math.Max(high, x.At)
	}
	if l.fromZero {
		low = math.Min(low, 0)
	}
	return low, high
}

// summary is a panel in a sentence or two.
func (t teller) summary(g graph, l lines) string {
	last := l.past.mid
	if len(last) == 0 {
		last = l.readings
	}
	say := func(v float64) string { return number(v, l.unit.Decimals) }
	s := l.title
	if n := len(last); n > 0 {
		s += fmt.Sprintf(": from %s to %s %s between %s and %s", say(last[0].Value), say(last[n-1].Value), l.unit.Sign, t.moment(last[0].Time), t.moment(last[n-1].Time))
	}
	if n := len(l.ahead.mid); n > 0 {
		s += fmt.Sprintf("; expected %s to %s on %s", say(l.ahead.low[n-1].Value), say(l.ahead.high[n-1].Value), t.day(l.ahead.mid[n-1].Time))
	}
	for _, x := range l.levels {
		s += "; " + x.Words
	}
	if g.Ready != nil && l.unit == t.gas() {
		s += "; " + g.Ready.Words
	}
	return s
}

// niceTicks are three to six evenly spaced round numbers that enclose a span.
func niceTicks(low, high float64) []float64 {
	if high-low < 0.1 {
		low, high = low-0.05, high+0.05
	}
	step := niceStep((high - low) / 4)
	first, last := math.Floor(low/step), math.Ceil(high/step)
	var ticks []float64
	for i := first; i <= last; i++ {
		ticks = append(ticks, i*step)
	}
	return ticks
}

// niceStep is the next of 1, 2, 5 times a power of ten.
func niceStep(least float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(least)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= least*0.999 {
			return m * power
		}
	}
	return 10 * power
}

func decimals(step float64) int {
	return max(0, int(-math.Floor(math.Log10(step*1.001))))
}

// timeLabels are three instants, evenly spaced.
func (t teller) timeLabels(from, to time.Time) []string {
	layout := "2 Jan"
	if to.Sub(from) < 4*24*time.Hour {
		layout = "Mon 15:04"
	}
	var labels []string
	for i := range 3 {
		at := from.Add(to.Sub(from) / 2 * time.Duration(i))
		labels = append(labels, at.In(t.loc).Format(layout))
	}
	return labels
}
