package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/model"
)

type lotData struct {
	frame
	Card    card
	Alerts  []alertBox
	Hold    *holdBox // nil = none, or an alert says it
	Charts  []chart
	Events  []numbered // as they are numbered in the charts
	Ready   string
	Table   []tableRow
	Query   string // which days, for the script that draws
	Spans   []spanLink
	Trouble string // why there is no chart
	Record  []recordRow
	Facts   []fact

	Sightings []alerts.Sighting // that can be picked
	Pull      []field           // what can be told of a bottle that was measured
	Filled    string            // in which units

	Chillable, Closable bool
}

// holdBox is why a lot waits for somebody to decide, what to do first.
type holdBox struct{ First, Summary, Rest string }

func (t teller) hold(l engine.LotView) *holdBox {
	h := l.Hold
	if h == nil || slices.ContainsFunc(l.Alerts, func(a alerts.Alert) bool { return a.Summary == h.Summary && a.Advice == h.Advice }) {
		return nil
	}
	b := holdBox{Summary: t.gloss(h.Summary)}
	b.First, b.Rest = alerts.FirstStep(t.gloss(h.Advice))
	return &b
}

// pull is asked of a bottle that was measured.
func (t teller) pull() []field {
	return []field{
		{Name: "volumes", Label: "Its carbonation", Unit: t.gas().Sign},
		{Name: "bar", Label: "or its pressure at rest", Unit: t.pressure().Sign},
		{Name: "beer_c", Label: "with its beer at", Unit: t.temperature().Sign},
	}
}

type spanLink struct {
	Words, Href string
	Current     bool
}

// recordRow is a line of what was seen, done and said of a lot.
type recordRow struct {
	At, Text string
	at       time.Time
}

// fact is a line of the lot's document.
type fact struct{ Name, Value string }

// chartPoints are as many as a chart's plane can show.
const chartPoints = 400

func (s *Server) lotPage(w http.ResponseWriter, r *http.Request) {
	v := s.daemon.View()
	l, ok := findLot(v, r.PathValue("id"))
	if !ok {
		s.fail(w, r, noLot(r.PathValue("id")))
		return
	}
	t := s.tellerTo(r)
	d := lotData{frame: s.frame(l.Document.Name, t, v), Card: t.card(v, l), Facts: t.facts(l.Document, l.YeastAsIn), Sightings: alerts.Sightings()}
	d.Card.Full, d.Drawing = true, true
	for _, a := range l.Alerts {
		box := t.alert(v, a)
		box.Back = d.Card.Href
		if a.Lot == l.Document.ID { // the page's own head says it
			box.About, box.Href = "", ""
		}
		d.Alerts = append(d.Alerts, box)
	}
	d.Hold, d.Pull, d.Filled = t.hold(l), t.pull(), reader{units: t.units}.String()
	d.Record = t.record(v, l)
	d.Chillable, d.Closable = l.ChilledAt == nil, l.ClosedAt == nil
	s.addCharts(&d, r, t, l)
	s.render(w, http.StatusOK, "lot.html", d)
}

func (s *Server) addCharts(d *lotData, r *http.Request, t teller, l engine.LotView) {
	days := daysOf(r)
	if days > 0 {
		d.Query = fmt.Sprintf("?days=%d", days)
	}
	d.Spans = spans(d.Card.Href, days)
	g, err := s.graph(r.Context(), t, l, time.Time{}, time.Time{}, days)
	if err != nil {
		s.log.Warn("web: no chart", "lot", l.Document.ID, "error", err)
		d.Trouble = "The readings could not be fetched from the journal; the daemon's log says why."
		return
	}
	d.Charts, d.Events, d.Table = t.charts(g), t.eventRows(g), t.table(g)
	if g.Ready != nil {
		d.Ready = g.Ready.Words
	}
}

// daysOf a graph that are asked for; 0 = all of them.
func daysOf(r *http.Request) int {
	days, err := strconv.Atoi(r.URL.Query().Get("days"))
	if err != nil || days < 0 || days >= 1000 {
		return 0
	}
	return days
}

func spans(href string, days int) []spanLink {
	var links []spanLink
	for _, l := range []struct {
		words string
		days  int
	}{{"2 days", 2}, {"7 days", 7}, {"all of it", 0}} {
		link := spanLink{Words: l.words, Href: href, Current: l.days == days}
		if l.days > 0 {
			link.Href += fmt.Sprintf("?days=%d", l.days)
		}
		links = append(links, link)
	}
	return links
}

// record is all that is remembered of a lot, newest first.
func (t teller) record(v *engine.View, l engine.LotView) []recordRow {
	var rows []recordRow
	add := func(at *time.Time, text string) {
		if at != nil {
			rows = append(rows, recordRow{At: t.moment(*at), Text: text, at: *at})
		}
	}
	add(&l.OpenedAt, "Opened")
	add(l.ChilledAt, "Put in the cold")
	add(l.ClosedAt, "Closed")
	for _, n := range l.Notes {
		if !deedNote(l, n) {
			add(&n.At, t.line(n))
		}
	}
	for _, a := range v.Recent {
		if a.Lot == l.Document.ID {
			add(&a.Time, t.gloss(alertWords(a)))
		}
	}
	slices.SortStableFunc(rows, func(a, b recordRow) int { return b.at.Compare(a.at) })
	return rows
}

// line of a note, with what was measured in the reader's units, too.
func (t teller) line(n engine.NoteView) string {
	if n.Volumes == nil {
		return n.Text
	}
	return t.gloss(n.Text)
}

func alertWords(a alerts.Alert) string {
	words := fmt.Sprintf("%s: %s, %s", mark(a.Severity), spaced(a.Name), a.State)
	if a.By != "" {
		words += " by " + a.By
	}
	if a.State == alerts.Raised && a.Summary != "" {
		words += ". " + a.Summary
	}
	return words
}

// facts of a lot's document, and in whose the gauge is that tells of its yeast.
func (t teller) facts(l model.Lot, yeastAsIn string) []fact {
	facts := []fact{
		{"Packaged", t.moment(l.PackagedAt)},
		{"Space", l.Space},
		{"Yeast", strings.TrimSpace(string(l.Yeast) + " " + string(l.YeastState))},
		{"Beer", fmt.Sprintf("%g L, OG %.3f, FG %.3f", l.Beer.VolumeL, l.Beer.OriginalGravity, l.Beer.FinalGravity)},
		{"Target", t.gas().words(aim(l))},
	}
	for _, p := range l.Priming {
		facts = append(facts, fact{"Priming", priming(p)})
	}
	for _, b := range l.Bottles {
		facts = append(facts, fact{"Bottles", t.bottles(b)})
	}
	if g := l.GaugeBottle; g != nil {
		facts = append(facts, fact{"Test bottle", fmt.Sprintf("%g ml with %g ml headspace, sensor %s", g.VolumeML, g.HeadspaceML, g.Sensor)})
	} else if yeastAsIn != "" {
		facts = append(facts, fact{"Test bottle", fmt.Sprintf("none; its yeast is taken to be as brisk as in “%s”", yeastAsIn)})
	}
	return append(facts, fact{"Warmest foreseen", t.celsius(float64(l.WorstCaseC))})
}

func priming(p model.Priming) string {
	switch {
	case p.VolumeL > 0:
		return fmt.Sprintf("%g L of %s at %.3f", p.VolumeL, p.Sugar, p.Gravity)
	case p.PerBottle > 0:
		return fmt.Sprintf("%g × %g g of %s a bottle", p.PerBottle, p.MassG, p.Sugar)
	}
	return fmt.Sprintf("%g g of %s", p.MassG, p.Sugar)
}

func (t teller) bottles(b model.Bottles) string {
	s := fmt.Sprintf("%d × %s, %g ml", b.Count, b.Kind, b.VolumeML)
	switch {
	case b.RatedBar > 0:
		return s + ", rated " + t.bar(float64(b.RatedBar))
	case b.CeilingVolumes > 0:
		return s + ", ceiling " + t.gas().words(float64(b.CeilingVolumes))
	}
	return s + ", rating unknown: the kind's cautious one"
}
