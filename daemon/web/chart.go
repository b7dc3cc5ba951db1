package web

import (
	"fmt"
	"math"
	"strings"
	"time"

	"conditiond/model"
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
	Dots        string // path of readings
	Limit       string // y of the limit or target
	LimitWords  string
	Marks       []string // x of what was noted
	Rules       []string // y of the grid
	YLabels     []string // top to bottom
	XLabels     []string // left to right
	Empty       bool
	Summary     string // for who can't see it
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
	return max(3*time.Hour, p.to.Sub(p.from)/30)
}

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

// lines are a chart's values before they are drawn.
type lines struct {
	title, unit    string
	low, mid, high []dot // of the estimate; low and high may be empty
	readings       []dot
	limit          float64 // 0 = none
	limitWords     string
	fromZero       bool
}

func (t teller) chart(from, to time.Time, notes []time.Time, l lines) chart {
	c := chart{Title: l.title, Unit: l.unit, Empty: len(l.mid)+len(l.readings) == 0}
	if c.Empty {
		return c
	}
	low, high := l.reach()
	ticks := niceTicks(low, high)
	p := plane{from: from, to: to, low: ticks[0], high: ticks[len(ticks)-1]}
	c.Band, c.Line, c.Dots = p.area(l.low, l.high), p.path(l.mid), p.path(l.readings)
	for i := len(ticks) - 1; i >= 0; i-- {
		c.Rules = append(c.Rules, coord(p.y(ticks[i])))
		c.YLabels = append(c.YLabels, number(ticks[i], decimals(ticks[1]-ticks[0])))
	}
	if l.limit > 0 {
		c.Limit, c.LimitWords = coord(p.y(l.limit)), l.limitWords
	}
	for _, at := range notes {
		if at.After(from) && at.Before(to) {
			c.Marks = append(c.Marks, coord(p.x(at)))
		}
	}
	c.XLabels = t.timeLabels(from, to)
	c.Summary = l.summary()
	return c
}

// reach is the span of all values, the limit included.
func (l lines) reach() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, line := range [][]dot{l.low, l.mid, l.high, l.readings} {
		for _, d := range line {
			low, high = math.Min(low, d.Value), math.Max(high, d.Value)
		}
	}
	if l.limit > 0 {
		low, high = math.Min(low, l.limit), math.Max(high, l.limit)
	}
	if l.fromZero {
		low = math.Min(low, 0)
	}
	return low, high
}

func (l lines) summary() string {
	last := l.mid
	if len(last) == 0 {
		last = l.readings
	}
	s := fmt.Sprintf("%s: last %s %s", l.title, number(last[len(last)-1].Value, 2), l.unit)
	if l.limit > 0 {
		s += "; " + l.limitWords
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

// charts of a lot: volumes, pressure, temperature.
func (t teller) charts(s Series, lot model.Lot, limit model.BarGauge, notes []time.Time) []chart {
	v := lines{title: "CO2 in the beer", unit: "volumes", fromZero: true,
		limit: aim(lot), limitWords: "target " + volumes(aim(lot)) + " volumes"}
	p := lines{title: "Pressure", unit: "bar", fromZero: true, mid: s.Pressure,
		limit: float64(limit), limitWords: "limit of the weakest bottles " + bar(float64(limit))}
	c := lines{title: "Temperature", unit: "°C", readings: s.Temperature}
	for _, e := range s.Estimates {
		if i := e.CO2Volumes; i != nil {
			v.low, v.mid, v.high = append(v.low, dot{e.Time, i.P05}), append(v.mid, dot{e.Time, i.P50}), append(v.high, dot{e.Time, i.P95})
		}
		if e.GaugeBar != nil && len(s.Pressure) == 0 {
			p.mid = append(p.mid, dot{e.Time, *e.GaugeBar})
		}
		if e.BeerC != nil {
			c.mid = append(c.mid, dot{e.Time, *e.BeerC})
		}
	}
	return []chart{t.chart(s.From, s.To, notes, v), t.chart(s.From, s.To, notes, p), t.chart(s.From, s.To, notes, c)}
}
