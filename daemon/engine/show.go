package engine

import (
	"cmp"
	"slices"

	"conditiond/alerts"
)

// View is the state as it stands, made to be shown.
func (e *Engine) View() *View {
	v := &View{Time: e.now, Site: e.c.Site, Alerts: e.book.Standing(""), Figures: e.book.Figures(e.now), Recent: slices.Clone(e.recent)}
	lots := e.ordered()
	slices.Reverse(lots)
	for _, l := range lots {
		v.Lots = append(v.Lots, e.lotView(l))
	}
	slices.SortStableFunc(v.Lots, func(a, b LotView) int {
		return cmp.Compare(boolInt(a.ClosedAt != nil), boolInt(b.ClosedAt != nil))
	})
	for _, s := range e.c.Sensors {
		v.Sensors = append(v.Sensors, e.sensorView(s.Name))
	}
	slices.SortFunc(v.Sensors, func(a, b SensorView) int { return cmp.Compare(a.Name, b.Name) })
	return v
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

func (e *Engine) lotView(l *lot) LotView {
	v := LotView{
		Document: l.Document, Alerts: e.book.Standing(l.Document.ID), Hold: e.hold(l), Notes: slices.Clone(l.Notes),
		LimitBar: l.limit, Weakest: l.weakest, Thermometer: l.thermometer, Gauge: l.gauge, YeastAsIn: e.yeastAsIn(l, l.Lesson),
		OpenedAt: l.OpenedAt, ChilledAt: l.ChilledAt, ClosedAt: l.ClosedAt,
	}
	if l.estimator != nil {
		v.Prospect = l.estimator.Prospect()
	}
	if l.Estimate != nil {
		now := *l.Estimate
		now.Phase = phase(l, e.book)
		v.Estimate = &now
	}
	return v
}

func (e *Engine) sensorView(name string) SensorView {
	s, conf := e.sensors[name], e.setup[name]
	v := SensorView{
		Name: name, Topic: conf.Topic, Quantity: conf.Quantity, Space: conf.Space,
		Due: conf.Interval.Seconds(), Silent: s.Silent, Out: s.Out, Readings: s.N, Rejected: s.Rejected,
		Last: s.Refused, LastKnown: s.LastKnown,
	}
	if s.N > 0 {
		at, value := s.At, s.Last[2]
		v.At, v.Value = &at, &value
	}
	return v
}

// Alert finds an open one by its id.
func (e *Engine) Alert(id string) (alerts.Alert, bool) { return e.book.Find(id) }
