package engine

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"conditiond/alerts"
	"conditiond/model"
	"conditiond/model/estimate"
)

// What can be wrong with a command.
var (
	ErrNotFound = errors.New("there is no such lot, alert or sensor")
	ErrConflict = errors.New("it can't be done any more")
)

// lot is one filling under watch.
type lot struct {
	Document  model.Lot
	OpenedAt  time.Time
	ChilledAt *time.Time
	ClosedAt  *time.Time
	Notes     []NoteView
	Estimate  *estimate.Estimate
	Lesson    *estimate.Lesson // that it goes by; nil = none
	Taught    *estimate.Lesson // when it was closed; nil = nothing

	estimator   *estimate.Estimator // nil once it is closed: nobody follows it any more
	limit       model.BarGauge
	weakest     string
	ceiling     model.Volumes
	weak        model.Sealed  // one of the weakest
	poorest     model.Volumes // of a hundred bottles, in the end
	richest     model.Volumes
	thermometer string
	gauge       string
}

func (l *lot) sensors() []string {
	if l.gauge == "" {
		return []string{l.thermometer}
	}
	return []string{l.gauge, l.thermometer}
}

// ordered are the lots, first packaged first.
func (e *Engine) ordered() []*lot {
	return slices.SortedFunc(maps.Values(e.lots), func(a, b *lot) int {
		if d := a.Document.PackagedAt.Compare(b.Document.PackagedAt); d != 0 {
			return d
		}
		return strings.Compare(a.Document.ID, b.Document.ID)
	})
}

// fit says what of a lot document doesn't fit this closet.
func (e *Engine) fit(d model.Lot) error {
	if _, ok := e.c.Spaces[d.Space]; !ok {
		return fmt.Errorf("space: %q is not in the configuration; it has %s", d.Space, list(e.c.Spaces))
	}
	if g := d.GaugeBottle; g != nil {
		s, ok := e.setup[g.Sensor]
		if !ok || s.Quantity != model.Pressure {
			return fmt.Errorf("gauge_bottle.sensor: %q is no pressure sensor of the configuration", g.Sensor)
		}
		for _, l := range e.ordered() {
			if l.ClosedAt == nil && l.gauge == g.Sensor {
				return fmt.Errorf("gauge_bottle.sensor: %q already gauges the lot %s, which isn't closed: %w", g.Sensor, l.Document.ID, ErrConflict)
			}
		}
	}
	return nil
}

func list(m map[string]string) string { return strings.Join(slices.Sorted(maps.Keys(m)), ", ") }

func (e *Engine) start(d model.Lot, at time.Time) *lot {
	l := &lot{Document: d, OpenedAt: at, thermometer: e.c.Spaces[d.Space]}
	limit, weak := d.Limit(e.c.Station)
	l.limit, l.ceiling, l.weakest = limit, weak.Ceiling(), fmt.Sprintf("%s %.0f ml", strings.ReplaceAll(string(weak.Kind), "-", " "), weak.VolumeML)
	l.weak = e.filled(d, weak)
	l.poorest, l.richest = d.ByChance(e.c.Station)
	if d.GaugeBottle != nil {
		l.gauge = d.GaugeBottle.Sensor
	}
	return l
}

func (e *Engine) settings(l *lot) estimate.Setup {
	s := estimate.Setup{Lot: l.Document.Primed(e.c.Station), Station: e.c.Station, Thermometer: l.thermometer}
	if g, ok := e.setup[l.gauge]; ok {
		s.FullScale = g.Full()
	}
	return s
}

func (e *Engine) open(en *Entry, o Open) error {
	if _, ok := e.lots[o.Lot.ID]; ok {
		return fmt.Errorf("id: a lot %q exists already; choose another: %w", o.Lot.ID, ErrConflict)
	}
	if err := e.fit(o.Lot); err != nil {
		return err
	}
	en.Open = &o
	l := e.begin(o, en.At)
	en.next = &next{estimators: map[string]*estimate.Estimator{o.Lot.ID: l.estimator}}
	now := l.estimator.Estimate()
	e.look(en, l, &now)
	if !en.At.Before(o.Lot.PackagedAt) {
		en.Estimates = append(en.Estimates, now)
	}
	return nil
}

// begin makes a lot with its estimator, brought up to the instant by what is
// known of the past.
func (e *Engine) begin(o Open, at time.Time) *lot {
	l := e.start(o.Lot, at)
	l.estimator = estimate.New(e.settings(l))
	for _, r := range o.Past {
		l.estimator.Observe(r)
	}
	l.estimator.Advance(at)
	return l
}

func (e *Engine) running(id string) (*lot, error) {
	l, ok := e.lots[id]
	if !ok {
		return nil, fmt.Errorf("lot %q: %w", id, ErrNotFound)
	}
	if l.ClosedAt != nil {
		return nil, fmt.Errorf("lot %q is closed: %w", id, ErrConflict)
	}
	return l, nil
}

// note keeps what a person saw, did or measured. Some of it needs a person at
// once, so the rules look at it.
func (e *Engine) note(en *Entry, n Note) error {
	l, ok := e.lots[n.Lot]
	if !ok {
		return fmt.Errorf("lot %q: %w", n.Lot, ErrNotFound)
	}
	n, err := e.measured(n, l.Document)
	if err != nil {
		return err
	}
	if n.Saw == alerts.Decided && e.hold(l) != nil {
		e.end(en, n.Lot, alerts.OverCarbonation)
	}
	en.Note = &n
	if (n.Saw != "" || n.Pulled()) && l.ClosedAt == nil {
		e.look(en, l, nil)
	}
	return nil
}

// hold of a lot as things stand.
func (e *Engine) hold(l *lot) *alerts.Hold {
	return e.situation(&Entry{At: e.now}, l, nil).Hold(e.book.Severity(l.Document.ID))
}

// view of a note that was written at an instant.
func (n Note) view(at time.Time) NoteView {
	if !n.Seen.IsZero() {
		at = n.Seen
	}
	text := strings.TrimSpace(n.measure() + n.Text)
	if w := n.Saw.Words(); w != "" {
		text = strings.TrimSpace(w + ". " + text)
	}
	return NoteView{At: at.UTC(), Text: text, Saw: n.Saw, Volumes: n.Volumes}
}

// seenOf a lot by people, after the entry's note.
func (l *lot) seenOf(en *Entry) []alerts.Seen {
	notes := l.Notes
	if en.Note != nil && en.Note.Lot == l.Document.ID {
		notes = append(slices.Clip(notes), en.Note.view(en.At))
	}
	var out []alerts.Seen
	for _, n := range notes {
		if n.Saw != "" || n.Volumes != nil {
			out = append(out, alerts.Seen{What: n.Saw, At: n.At, Volumes: n.Volumes})
		}
	}
	return out
}

func (e *Engine) chill(en *Entry, d Deed) error {
	l, err := e.running(d.Lot)
	if err != nil {
		return err
	}
	if l.ChilledAt != nil {
		return fmt.Errorf("lot %q is chilled already: %w", d.Lot, ErrConflict)
	}
	en.Chill = &d
	e.end(en, d.Lot, alerts.Ready, alerts.TooCold, alerts.OverCarbonation)
	return nil
}

func (e *Engine) close(en *Entry, d Deed) error {
	l, err := e.running(d.Lot)
	if err != nil {
		return err
	}
	en.Close, en.Taught = &d, l.lastLesson()
	e.end(en, d.Lot)
	return nil
}

// end clears a lot's alerts of these names, or all of them, by what a person
// did.
func (e *Engine) end(en *Entry, id string, names ...alerts.Name) {
	list := slices.DeleteFunc(e.book.Standing(id), func(a alerts.Alert) bool {
		return len(names) > 0 && !slices.Contains(names, a.Name)
	})
	book, changes := e.book.End(list, en.At)
	en.turn(book, changes...)
}

func (e *Engine) acknowledge(en *Entry, k Acknowledge) error {
	a, ok := e.book.Find(k.Alert)
	if !ok {
		return fmt.Errorf("alert %q: %w", k.Alert, ErrNotFound)
	}
	en.Acknowledge = &k
	book, a := e.book.Acknowledge(a, k.By, en.At)
	en.turn(book, a)
	return nil
}

// longestShelf is how long an alert may be put away.
const longestShelf = 7 * 24 * time.Hour

func (e *Engine) shelve(en *Entry, s Shelve) error {
	a, ok := e.book.Find(s.Alert)
	switch {
	case !ok:
		return fmt.Errorf("alert %q: %w", s.Alert, ErrNotFound)
	case a.Severity == alerts.Danger:
		return fmt.Errorf("a danger can't be put away, only acknowledged: %w", ErrConflict)
	case !s.Until.After(en.At) || s.Until.Sub(en.At) > longestShelf:
		return fmt.Errorf("until %s: a time within the next seven days would be right: %w", s.Until.Format(time.RFC3339), ErrConflict)
	}
	en.Shelve = &s
	book, a := e.book.Shelve(a, s.By, s.Until.UTC(), en.At)
	en.turn(book, a)
	return nil
}

func (e *Engine) service(en *Entry, s Service) error {
	if _, ok := e.setup[s.Sensor]; !ok {
		return fmt.Errorf("sensor %q: %w", s.Sensor, ErrNotFound)
	}
	en.Service = &s
	return nil
}

func (e *Engine) applyService(en Entry) {
	s, ok := e.sensors[en.Service.Sensor]
	if !ok {
		return // configured no more
	}
	s.Out = nil
	if en.Service.Out {
		s.Out = &Out{Since: en.At, By: en.Service.By}
	}
	e.sensors[en.Service.Sensor] = s
}

func (e *Engine) applyLots(en Entry) {
	switch {
	case en.Service != nil:
		e.applyService(en)
	case en.Open != nil:
		e.lots[en.Open.Lot.ID] = e.opened(en)
	case en.Note != nil:
		e.write(en.Note.Lot, en.Note.view(en.At))
	case en.Chill != nil:
		if l := e.lots[en.Chill.Lot]; l != nil { // nil where the journal keeps its opening no more
			l.ChilledAt = &en.At
			l.estimator.Event(estimate.Event{At: en.At, Kind: estimate.ChilledAll})
			e.write(en.Chill.Lot, Note{Text: "Chilled. " + en.Chill.Text}.view(en.At))
		}
	case en.Close != nil:
		if l := e.lots[en.Close.Lot]; l != nil {
			l.ClosedAt, l.Taught, l.estimator = &en.At, en.Taught, nil
			e.write(en.Close.Lot, Note{Text: "Closed. " + en.Close.Text}.view(en.At))
		}
	}
	for _, r := range en.LastKnown {
		s := e.sensors[r.Sensor]
		s.LastKnown = &r.Value
		e.sensors[r.Sensor] = s
	}
	if en.next != nil {
		for _, name := range en.next.muted {
			s := e.sensors[name]
			s.Rejected, s.InARow = s.Rejected+1, s.InARow+1
			e.sensors[name] = s
		}
		for name, c := range en.next.checks {
			s := e.sensors[name]
			s.Check = c
			e.sensors[name] = s
		}
	}
}

func (e *Engine) opened(en Entry) *lot {
	if en.next == nil {
		return e.begin(*en.Open, en.At)
	}
	l := e.start(en.Open.Lot, en.At)
	l.estimator = en.next.estimators[en.Open.Lot.ID]
	return l
}

// write puts a line into a lot's record.
func (e *Engine) write(id string, n NoteView) {
	if l := e.lots[id]; l != nil {
		l.Notes = append(l.Notes, n)
	}
}
