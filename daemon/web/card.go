package web

import (
	"net/url"
	"strings"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/model"
)

// card is a lot as the page shows it, all of it in words.
type card struct {
	ID, Name, Href string
	Space          string
	Stands         string
	Severity       alerts.Severity // the gravest open alert; empty = none
	AlertWords     string
	Closed         bool
	Full           bool   // with what only the lot's own page shows
	Old            string // why its numbers are not from fresh readings

	Volumes, VolumesBand, Target string
	Gas                          string // their unit
	Final                        string
	VolumesBar                   gaugeBar
	Progress, ProgressBand       string
	Ready                        string

	Pressure    string
	PressureAge string // "now" while the gauge is heard
	Above       bool   // the pressure is above the limit
	PressureBar gaugeBar
	Limit       string
	Peak, Worst string
	Chance      string
	Crosses     string

	Beer    string
	Sensors []sensorRow
	Waiting string // what is awaited before anything can be said
}

func (t teller) card(v *engine.View, l engine.LotView) card {
	d := l.Document
	c := card{ID: d.ID, Name: d.Name, Space: d.Space, Href: "/lots/" + url.PathEscape(d.ID), Stands: standing(l), Closed: l.ClosedAt != nil,
		Ready: t.ready(l), Target: t.volumes(aim(d)), Gas: t.gas().Sign, Limit: t.bar(float64(l.LimitBar))}
	if c.Name == "" {
		c.Name = d.ID
	}
	if l.Weakest != "" {
		c.Limit += " (" + l.Weakest + ")"
	}
	c.Severity, c.AlertWords = gravest(l.Alerts)
	for _, s := range v.Sensors {
		if s.Name == l.Thermometer || s.Name == l.Gauge && l.Gauge != "" {
			c.Sensors = append(c.Sensors, t.sensor(s))
		}
	}
	c.Waiting = awaited(c.Sensors)
	c.Old = old(c.Sensors)
	t.fill(&c, l)
	return c
}

// fill tells the estimate.
func (t teller) fill(c *card, l engine.LotView) {
	e := l.Estimate
	if e == nil {
		return
	}
	if e.CO2Volumes != nil {
		c.Volumes, c.VolumesBand = t.volumes(e.CO2Volumes.P50), between(*e.CO2Volumes, t.volumes)
		c.VolumesBar = t.volumesBar(*e.CO2Volumes, aim(l.Document))
	}
	if e.FinalVolumes != nil {
		c.Final = between(*e.FinalVolumes, t.volumes)
	}
	if e.Progress != nil {
		c.Progress, c.ProgressBand = percent(e.Progress.P50), between(*e.Progress, percent)
	}
	if e.GaugeBar != nil {
		c.Pressure, c.PressureAge = t.bar(*e.GaugeBar), pressureAge(c.Sensors, l.Gauge)
		c.Above = *e.GaugeBar > float64(l.LimitBar)
	}
	c.PressureBar = t.pressureBar(e, float64(l.LimitBar))
	if e.PeakBar != nil {
		c.Peak = between(*e.PeakBar, t.bar)
		c.Chance = chance(e.OverPressure.Probability)
	}
	if e.WorstCaseBar != nil {
		c.Worst = between(*e.WorstCaseBar, t.bar) + " at " + t.celsius(float64(l.Document.WorstCaseC))
	}
	if w := e.OverPressure.CrossesAt; w != nil && w.P50 != nil {
		c.Crosses = t.moment(*w.P50)
	}
	if e.BeerC != nil {
		c.Beer = t.celsius(*e.BeerC)
	}
}

// aim is the volumes that a lot should have in the end.
func aim(l model.Lot) float64 {
	if l.StopAtVolumes > 0 {
		return float64(l.StopAtVolumes)
	}
	return float64(l.TargetVolumes)
}

// pressureAge is "now", unless the gauge has fallen silent.
func pressureAge(sensors []sensorRow, gauge string) string {
	for _, s := range sensors {
		if s.Name == gauge && s.Stale {
			return s.Age
		}
	}
	return "now"
}

// gravest of some alerts, with all of them by name.
func gravest(open []alerts.Alert) (alerts.Severity, string) {
	var worst alerts.Severity
	var names []string
	for _, a := range open {
		if a.Severity.Rank() > worst.Rank() {
			worst = a.Severity
		}
		names = append(names, spaced(a.Name))
	}
	return worst, strings.Join(names, ", ")
}

// awaited says what has never come yet.
func awaited(sensors []sensorRow) string {
	var w []string
	for _, s := range sensors {
		if s.Never {
			w = append(w, s.Name+" on topic "+s.Topic)
		}
	}
	return strings.Join(w, " and ")
}

// old says which sensors have fallen silent.
func old(sensors []sensorRow) string {
	var w []string
	for _, s := range sensors {
		if s.Stale && !s.Never {
			w = append(w, s.Name+": last reading "+s.Age)
		}
	}
	return strings.Join(w, "; ")
}

// sensorRow is a sensor as the page shows it.
type sensorRow struct {
	Name, Topic, Space, Quantity string
	Value, Age                   string
	Never, Stale                 bool
	Service                      string // where it is taken out of service or put back
	Out                          string // since when, by whom it is out; empty = it isn't
	Readings, Rejected           int64
	LastRejected                 *rejectedRow
}

type rejectedRow struct{ Payload, Reason, Age, Topic string }

func (t teller) sensor(s engine.SensorView) sensorRow {
	r := sensorRow{Name: s.Name, Topic: s.Topic, Space: s.Space, Quantity: string(s.Quantity),
		Readings: s.Readings, Rejected: s.Rejected, Never: s.At == nil, Stale: s.Silent || s.At == nil, Age: "no reading yet"}
	r.Service = "/sensors/" + url.PathEscape(s.Name) + "/service"
	if s.Out != nil {
		r.Out = "Out of service since " + t.moment(s.Out.Since) + ", by " + s.Out.By + ": nobody is told of it."
	}
	if s.At != nil && s.Value != nil {
		r.Value, r.Age = t.value(s.Quantity, *s.Value), t.ago(*s.At)
		late := t.now.Sub(*s.At).Seconds()
		r.Stale = r.Stale || s.Due > 0 && late > 3*s.Due && late > 90
	}
	if s.At == nil && s.LastKnown != nil {
		r.Value, r.Age = t.value(s.Quantity, *s.LastKnown), "last known, of unknown age"
	}
	if s.Last != nil {
		r.LastRejected = &rejectedRow{Payload: s.Last.Payload, Reason: s.Last.Reason, Age: t.ago(s.Last.At), Topic: s.Last.Topic}
	}
	return r
}

// alertBox is an alert as the page shows it: what to do comes first.
type alertBox struct {
	ID, Mark, Name, Action string
	Severity               alerts.Severity
	Grave                  bool   // so grave that nothing of it is folded away
	First, Rest            string // of the advice
	Summary                string
	About, Href            string
	Since                  string
	Readings               []string // how old what is known of it is
	Seen                   string   // what a person did about it; empty = nothing yet
	Shelve                 string   // where it can be put away; empty = it can't
	Back                   string   // the page to come back to; empty = all lots
}

func (t teller) alert(v *engine.View, a alerts.Alert) alertBox {
	b := alertBox{ID: a.ID, Severity: a.Severity, Mark: mark(a.Severity), Name: spaced(a.Name), Grave: a.Severity == alerts.Danger,
		Summary: t.gloss(a.Summary), Since: t.since(a),
		Action: "/alerts/" + url.PathEscape(a.ID) + "/acknowledge", About: a.Sensor}
	if b.About == "" {
		b.About = a.Lot
	}
	b.First, b.Rest = alerts.FirstStep(t.gloss(a.Advice))
	if l, ok := findLot(v, a.Lot); ok {
		b.About, b.Href = l.Document.Name, "/lots/"+url.PathEscape(a.Lot)
		for _, s := range t.card(v, l).Sensors {
			b.Readings = append(b.Readings, s.Name+" "+s.Age)
		}
	}
	switch a.State {
	case alerts.Acknowledged:
		b.Seen = "Seen by " + a.By + ". It stays open until its cause is gone."
	case alerts.Shelved:
		b.Seen = "Put away by " + a.By + " until " + t.moment(*a.Until) + "."
	case alerts.Returned:
		b.First, b.Rest = "Its cause is gone. Say that you have seen it.", t.gloss(a.Advice)
	}
	if a.State == alerts.Raised && a.Severity != alerts.Danger {
		b.Shelve = "/alerts/" + url.PathEscape(a.ID) + "/shelve"
	}
	return b
}

// since says when an alert began, and when it was last put in words.
func (t teller) since(a alerts.Alert) string {
	s := "Since " + t.moment(a.Since) + " (" + t.ago(a.Since) + ")"
	if a.Time.Sub(a.Since) > time.Minute {
		s += ", in the words of " + t.moment(a.Time)
	}
	return s
}

// spaced is an alert's name in plain words.
func spaced(n alerts.Name) string { return strings.ReplaceAll(string(n), "-", " ") }

// mark says the severity in a word, so that colour isn't needed.
func mark(s alerts.Severity) string {
	switch s {
	case alerts.Danger:
		return "Danger"
	case alerts.Warning:
		return "Warning"
	}
	return "Notice"
}
