package engine

import (
	"slices"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/intake"
	"conditiond/model"
	"conditiond/model/estimate"
)

// Config is what an engine needs to know of its closet.
type Config struct {
	Site       string
	Station    model.Bar // the air's pressure there
	Sensors    []intake.Sensor
	Spaces     map[string]string // space → its thermometer
	Every      time.Duration     // how often estimates are written down
	Alerts     alerts.Config
	Recipients []alerts.Recipient
}

// step is the longest time between two looks at a lot.
const step = time.Hour

// Engine is the state. It belongs to one goroutine.
type Engine struct {
	c       Config
	topics  map[string][]string // topic → names of sensors
	setup   map[string]intake.Decoder
	now     time.Time
	started time.Time
	sensors map[string]sensor
	lots    map[string]*lot
	behind  []*lot // see Behind
	book    alerts.Book
	recent  []alerts.Alert // newest first
	parts   []alerts.Part  // of the watch itself that are out of order
	marks   marks
}

// next is what Step worked out and Apply makes so.
type next struct {
	checks     map[string]intake.Check
	muted      []string // sensors that were refused once more than is kept
	estimators map[string]*estimate.Estimator
	book       *alerts.Book
}

// New makes an engine that knows no lot yet. It fails on a sensor whose
// configuration is unsound.
func New(c Config) (*Engine, error) {
	c.Alerts = c.Alerts.Defaults()
	if c.Every == 0 {
		c.Every = step
	}
	e := &Engine{c: c, topics: map[string][]string{}, setup: map[string]intake.Decoder{},
		sensors: map[string]sensor{}, lots: map[string]*lot{}, book: alerts.NewBook()}
	for _, s := range c.Sensors {
		d, err := intake.NewDecoder(s)
		if err != nil {
			return nil, err
		}
		e.topics[s.Topic] = append(e.topics[s.Topic], s.Name)
		e.setup[s.Name] = d
		e.sensors[s.Name] = sensor{}
	}
	return e, nil
}

// Now is the instant of the last input.
func (e *Engine) Now() time.Time { return e.now }

// Next is when something is due without any message: the next look at the lots,
// or the moment at which a sensor has been silent for too long.
func (e *Engine) Next() time.Time {
	if e.now.IsZero() {
		return time.Time{}
	}
	every := min(e.c.Every, step)
	due := e.now.Truncate(every).Add(every)
	for _, name := range e.watched() {
		if s := e.sensors[name]; !s.Silent {
			if t := e.silentAt(name); t.Before(due) {
				due = t
			}
		}
	}
	if tell := e.book.Due(); !tell.IsZero() && tell.Before(due) {
		due = latest(tell, e.now)
	}
	if digest := e.c.Alerts.Digest.Next(e.now); !digest.IsZero() && digest.Before(due) {
		due = digest
	}
	return due
}

// silentAt is when a sensor that says nothing more becomes silent.
func (e *Engine) silentAt(name string) time.Time {
	since := latest(e.sensors[name].At, e.started)
	return latest(since.Add(e.c.Alerts.Silence(e.setup[name].Interval)), e.now)
}

// watched are the sensors that an open lot relies on, in order.
func (e *Engine) watched() []string {
	var out []string
	for _, l := range e.lots {
		if l.ClosedAt == nil {
			out = append(out, l.sensors()...)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Step says what follows from an input, and changes nothing. An error refuses
// it: nothing follows.
func (e *Engine) Step(in Input) (Entry, error) {
	at := latest(in.At.UTC(), e.now)
	en := Entry{At: at, Start: in.Start, Stop: in.Stop}
	var err error
	switch {
	case in.Message != nil:
		e.hear(&en, *in.Message, in.Stamped)
	case in.Tick:
		e.tick(&en)
	case in.Open != nil:
		err = e.open(&en, *in.Open)
	case in.Note != nil:
		err = e.note(&en, *in.Note)
	case in.Chill != nil:
		err = e.chill(&en, *in.Chill)
	case in.Close != nil:
		err = e.close(&en, *in.Close)
	case in.Acknowledge != nil:
		err = e.acknowledge(&en, *in.Acknowledge)
	case in.Shelve != nil:
		err = e.shelve(&en, *in.Shelve)
	case in.Service != nil:
		err = e.service(&en, *in.Service)
	case in.Mend != nil:
		en.Mend = in.Mend
	case in.Parts != nil:
		en.Parts = in.Parts
		e.lookAtWatch(&en)
	}
	if err != nil {
		return Entry{}, err
	}
	if en.next != nil && en.next.book != nil {
		e.tell(&en)
	}
	return en, nil
}

// tell whoever is to be told by now.
func (e *Engine) tell(en *Entry) {
	book, changes, list := en.next.book.Tell(e.c.Alerts, e.c.Recipients, en.At)
	en.next.book = &book
	en.Alerts = append(en.Alerts, changes...)
	en.Messages = append(list, e.digest(en)...)
}

// digest, when one is due by the entry's instant.
func (e *Engine) digest(en *Entry) []alerts.Message {
	d := e.c.Alerts.Digest
	if due := d.Next(e.now); !en.Tick || due.IsZero() || due.After(en.At) {
		return nil
	}
	var lots []alerts.Situation
	for _, l := range e.ordered() {
		lots = append(lots, e.situation(en, l, nil))
	}
	return d.Messages(e.c.Recipients, lots, e.bookOf(en).Figures(en.At), en.At)
}

// book as it stands after what the entry says so far.
func (e *Engine) bookOf(en *Entry) alerts.Book {
	if en.next != nil && en.next.book != nil {
		return *en.next.book
	}
	return e.book
}

// turn the page: the book after a change, and what changed.
func (en *Entry) turn(b alerts.Book, changes ...alerts.Alert) {
	if en.next == nil {
		en.next = &next{}
	}
	en.next.book = &b
	en.Alerts = append(en.Alerts, changes...)
}

// lookAtWatch takes in what is out of order of the watch itself.
func (e *Engine) lookAtWatch(en *Entry) {
	parts := e.parts
	if en.Parts != nil {
		parts = *en.Parts
	}
	book, changes := e.bookOf(en).Settle("", alerts.Impaired(parts), en.At)
	en.turn(book, changes...)
}

// Apply makes an entry so: one that Step just said, or one that the journal
// kept.
func (e *Engine) Apply(en Entry) {
	e.now = latest(e.now, en.At)
	if en.Start != nil {
		e.started = en.At
	}
	if en.Mark != nil {
		e.marks.add(*en.Mark)
	}
	for _, r := range en.Readings {
		e.observe(r)
	}
	for _, r := range en.Rejected {
		e.refuse(r)
	}
	e.applyLots(en)
	if en.Tick {
		e.advance(en)
	}
	e.applyLessons(en)
	for i := range en.Estimates {
		if l := e.lots[en.Estimates[i].Lot]; l != nil {
			l.Estimate = &en.Estimates[i]
		}
	}
	e.applyAlerts(en)
	if en.Mend != nil {
		e.applyMend(en)
	}
}

func (e *Engine) applyAlerts(en Entry) {
	if en.Parts != nil {
		e.parts = *en.Parts
	}
	if en.next != nil && en.next.book != nil {
		e.book = *en.next.book
	} else {
		e.book = e.book.Recall(en.Alerts, en.Messages, en.At)
	}
	for _, a := range en.Alerts {
		e.recent = append([]alerts.Alert{a}, e.recent...)
	}
	e.recent = e.recent[:min(len(e.recent), 100)]
}

// tick looks at everything: sensors that fell silent, lots that moved on.
func (e *Engine) tick(en *Entry) {
	en.Tick = true
	en.next = &next{estimators: map[string]*estimate.Estimator{}}
	e.lookAtWatch(en)
	write := en.At.Equal(en.At.Truncate(e.c.Every))
	for _, l := range e.ordered() {
		if l.ClosedAt != nil {
			continue
		}
		if l.estimator.Behind() {
			e.look(en, l, nil)
			continue
		}
		est := l.estimator.Clone()
		est.Advance(en.At)
		e.learn(en, l, est)
		en.next.estimators[l.Document.ID] = est
		now := est.Estimate()
		e.look(en, l, &now)
		if write && !en.At.Before(l.Document.PackagedAt) {
			en.Estimates = append(en.Estimates, now)
		}
	}
}

// look runs the rules over a lot and puts what changed into the entry.
func (e *Engine) look(en *Entry, l *lot, now *estimate.Estimate) {
	book, changes := e.bookOf(en).Look(e.c.Alerts, e.situation(en, l, now))
	en.turn(book, changes...)
	if now != nil {
		now.Phase = phase(l, book)
	}
}

// phase is what the engine knows better than the estimator: what was done, and
// what a person was told.
func phase(l *lot, b alerts.Book) estimate.Phase {
	switch {
	case l.ClosedAt != nil:
		return estimate.Closed
	case l.ChilledAt != nil:
		return estimate.Chilled
	case b.Severity(l.Document.ID)(alerts.Ready, "") != "":
		return estimate.Ready
	}
	return estimate.Conditioning
}

func (e *Engine) situation(en *Entry, l *lot, now *estimate.Estimate) alerts.Situation {
	if now == nil {
		now = l.Estimate
	}
	s := alerts.Situation{
		Now: en.At, Lot: l.Document, Limit: l.limit, Weakest: l.weakest, Ceiling: l.ceiling, Opened: l.OpenedAt,
		Phase: phase(l, e.book), Estimate: now, Seen: l.seenOf(en),
		Weak: l.weak, Poorest: l.poorest, Richest: l.richest,
		Thermometer: e.seen(en, l.thermometer), YeastAsIn: e.yeastAsIn(l, l.goesBy(en)),
	}
	if l.gauge == "" {
		s.Kin = e.kin(l)
		return s
	}
	g := e.seen(en, l.gauge)
	s.Gauge = &g
	return s
}

// seen is a sensor as it stands after the entry's readings.
func (e *Engine) seen(en *Entry, name string) alerts.Sensor {
	s := e.sensors[name]
	for _, r := range en.Readings {
		if r.Sensor == name {
			s = s.with(r)
		}
	}
	for _, r := range en.Rejected {
		if r.Sensor == name {
			s = s.refused(r)
		}
	}
	out := alerts.Sensor{Name: name, Topic: e.setup[name].Topic, Last: s.At, Value: s.middle(), Rejected: s.InARow, Out: s.Out != nil}
	out.Silent = !en.At.Before(e.silentAfter(name, s))
	if full := e.setup[name].Full(); full > 0 && s.N > 0 {
		out.Full = out.Value >= float64(full)
	}
	if s.Refused != nil {
		out.Reason = s.Refused.Reason
	}
	return out
}

func (e *Engine) silentAfter(name string, s sensor) time.Time {
	return latest(s.At, e.started).Add(e.c.Alerts.Silence(e.setup[name].Interval))
}

// advance moves the lots and the sensors' silence to the entry's instant.
func (e *Engine) advance(en Entry) {
	for id, l := range e.lots {
		if l.ClosedAt != nil {
			continue
		}
		if en.next != nil && en.next.estimators[id] != nil {
			l.estimator = en.next.estimators[id]
		} else {
			l.estimator.Advance(en.At)
		}
	}
	for _, name := range e.watched() {
		if s := e.sensors[name]; !s.Silent && !en.At.Before(e.silentAfter(name, s)) {
			s.Silent = true
			e.sensors[name] = s
		}
	}
}

func latest(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}
