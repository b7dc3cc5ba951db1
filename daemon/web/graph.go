package web

import (
	"context"
	"time"

	"conditiond/daemon/engine"
	"conditiond/model"
	"conditiond/model/estimate"
)

// graph is all that a lot's charts show, in the reader's units: what was, up to
// now, and what is expected, from the last estimate on.
type graph struct {
	From, Now, To time.Time
	Panels        []lines
	Ready         *readySpan // nil where nobody can say
	Events        []event
	Leak          bool // the gauge bottle has lost gas that the lot still has
}

// lines are a panel's values before they are drawn.
type lines struct {
	title    string
	unit     measure
	past     course
	ahead    course
	readings []dot // of the sensor beside what is reckoned
	levels   []level
	fromZero bool
}

// course of a quantity with its 90 % band; low and high may be empty.
type course struct{ low, mid, high []dot }

func (c *course) add(at time.Time, i estimate.Interval, m measure) {
	c.low, c.mid, c.high = append(c.low, dot{at, m.of(i.P05)}), append(c.mid, dot{at, m.of(i.P50)}), append(c.high, dot{at, m.of(i.P95)})
}

// level is a line across a panel: the target, or a limit.
type level struct {
	At    float64
	Words string
	Limit bool
}

// readySpan is when a lot gets ready, or got.
type readySpan struct {
	First, Middle, Last time.Time
	Words               string
}

// fanPoints are as many instants of the forecast as a chart's width can show.
const fanPoints = 40

// graph of a lot between two instants, or over its last days. Zero bounds are
// open.
func (s *Server) graph(ctx context.Context, t teller, l engine.LotView, from, to time.Time, days int) (graph, error) {
	if days > 0 {
		from = t.now.AddDate(0, 0, -days)
	}
	series, err := s.daemon.Series(ctx, l.Document.ID, from, to, chartPoints)
	if err != nil {
		return graph{}, err
	}
	g := graph{From: series.From, Now: series.To, To: series.To, Ready: t.readySpan(l)}
	var fan []estimate.Ahead
	if l.Prospect != nil && l.ClosedAt == nil && to.IsZero() {
		if fan = l.Prospect.Fan(horizon(l, t.now, days), fanPoints); len(fan) > 0 {
			g.To = fan[len(fan)-1].Time
		}
	}
	g.Panels = t.panels(series, fan, l.Document, l.LimitBar, model.StationPressure(s.config.Altitude))
	g.Events = t.events(l, s.daemon.View().Recent)
	return g, nil
}

// How far the forecast is shown: some days beyond ready, neither so short that
// it can't be seen nor so long that it hides what was.
const (
	beyond    = 3 * 24 * time.Hour
	leastSeen = 3 * 24 * time.Hour
	mostSeen  = 45 * 24 * time.Hour
	idleSeen  = 7 * 24 * time.Hour // where nothing is waited for
)

func horizon(l engine.LotView, now time.Time, days int) time.Time {
	far := idleSeen
	if e := l.Estimate; e != nil && e.Phase == estimate.Conditioning && e.ReadyAt != nil {
		far = mostSeen
		if last := e.ReadyAt.P95; last != nil {
			far = min(max(last.Sub(now)+beyond, leastSeen), mostSeen)
		}
	}
	if days > 0 {
		far = min(far, time.Duration(days)*24*time.Hour)
	}
	return now.Add(far)
}

// panels of a lot: volumes, pressure, temperature.
func (t teller) panels(s Series, fan []estimate.Ahead, lot model.Lot, limit model.BarGauge, station model.Bar) []lines {
	v := lines{title: "CO2 in the beer", unit: t.gas(), fromZero: true, levels: t.volumeLevels(lot, limit, station)}
	p := lines{title: "Pressure", unit: t.pressure(), fromZero: true, past: course{mid: in(t.pressure(), s.Pressure)}}
	c := lines{title: "Temperature", unit: t.temperature(), readings: in(t.temperature(), s.Temperature)}
	if limit > 0 {
		p.levels = []level{{At: t.pressure().of(float64(limit)), Words: "limit of the weakest bottles " + t.bar(float64(limit)), Limit: true}}
	}
	for _, e := range s.Estimates {
		if e.CO2Volumes != nil {
			v.past.add(e.Time, *e.CO2Volumes, v.unit)
		}
		if e.GaugeBar != nil && len(s.Pressure) == 0 {
			p.past.mid = append(p.past.mid, dot{e.Time, p.unit.of(*e.GaugeBar)})
		}
		if e.BeerC != nil {
			c.past.mid = append(c.past.mid, dot{e.Time, c.unit.of(*e.BeerC)})
		}
	}
	for _, a := range fan {
		v.ahead.add(a.Time, a.CO2Volumes, v.unit)
		p.ahead.add(a.Time, a.GaugeBar, p.unit)
	}
	return []lines{v, p, c}
}

// volumeLevels are the target, and the volumes that would bring the weakest
// bottles to their limit on the worst day.
func (t teller) volumeLevels(lot model.Lot, limit model.BarGauge, station model.Bar) []level {
	all := []level{{At: t.gas().of(aim(lot)), Words: "target " + t.gas().words(aim(lot))}}
	if limit <= 0 || len(lot.Bottles) == 0 {
		return all
	}
	_, weak := lot.Limit(station)
	x := lot.Primed(station).Sealed(weak.Bottle(), station)
	x.Air = x.Air.Spent()
	most := float64(x.CO2(limit, lot.WorstCaseC))
	if !(most > 0) {
		return all
	}
	return append(all, level{At: t.gas().of(most), Words: "limit at " + t.celsius(float64(lot.WorstCaseC)) + ": " + t.gas().words(most), Limit: true})
}

// in puts samples into a reader's unit.
func in(m measure, samples []Sample) []dot {
	var out []dot
	for _, x := range samples {
		out = append(out, dot{x.Time, m.of(x.Value)})
	}
	return out
}

// readySpan of a lot that gets ready by itself.
func (t teller) readySpan(l engine.LotView) *readySpan {
	e := l.Estimate
	if e == nil || e.ReadyAt == nil || l.Document.StopAtVolumes > 0 {
		return nil
	}
	w := *e.ReadyAt
	if w.P05 == nil || w.P50 == nil || w.P95 == nil || w.P95.Sub(*w.P05) > widestReady {
		return nil
	}
	words := "ready about " + t.day(*w.P05)
	if last := t.day(*w.P95); last != t.day(*w.P05) {
		words = "ready " + t.day(*w.P05) + " to " + last
	}
	return &readySpan{First: *w.P05, Middle: *w.P50, Last: *w.P95, Words: words}
}
