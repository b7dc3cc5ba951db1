package engine

import (
	"strings"
	"time"
	"unicode/utf8"

	"conditiond/daemon/intake"
	"conditiond/model"
)

// hear takes a message in: readings, refusals, or nothing when it is known
// already or of an unknown age.
func (e *Engine) hear(en *Entry, m intake.Message, stamped time.Time) {
	en.next = &next{checks: map[string]intake.Check{}}
	if m.ID != 0 {
		k := markOf(m)
		if m.Redelivered && e.marks.known(k) {
			return
		}
		en.Mark = &k
	}
	at := en.At
	if !stamped.IsZero() {
		at = stamped.UTC()
	}
	for _, name := range e.topics[m.Topic] {
		e.decode(en, name, m, at)
	}
	e.lookAfter(en)
}

func (e *Engine) decode(en *Entry, name string, m intake.Message, at time.Time) {
	conf := e.setup[name]
	v, err := conf.Decode(m.Payload)
	r := model.Reading{Sensor: name, At: at, Quantity: conf.Quantity, Value: v.Number, Full: v.AtFullScale}
	if err == nil && !m.Retained {
		if e.sensors[name].repeats(r) {
			return
		}
		en.next.checks[name], err = e.sensors[name].Check.Consider(conf.Sensor, at, v)
	}
	switch {
	case err != nil && e.sensors[name].floods(at):
		en.next.muted = append(en.next.muted, name)
	case err != nil:
		en.Rejected = append(en.Rejected, Rejected{At: at, Topic: m.Topic, Sensor: name, Payload: printable(m.Payload), Reason: err.Error()})
	case m.Retained:
		en.LastKnown = append(en.LastKnown, r)
	default:
		en.Readings = append(en.Readings, r)
	}
}

// lookAfter runs the rules at once where a reading may need a person now: a
// gauge near its limit, a silent sensor that speaks again.
func (e *Engine) lookAfter(en *Entry) {
	for _, l := range e.ordered() {
		if l.ClosedAt == nil && e.urgent(en, l) {
			e.look(en, l, nil)
		}
	}
}

func (e *Engine) urgent(en *Entry, l *lot) bool {
	for _, r := range en.Readings {
		if r.Sensor != l.gauge && r.Sensor != l.thermometer {
			continue
		}
		if e.sensors[r.Sensor].Silent {
			return true
		}
		if r.Sensor == l.gauge && (r.Full || r.Value >= float64(l.limit)) {
			return true
		}
	}
	return false
}

func (e *Engine) observe(r model.Reading) {
	s, ok := e.sensors[r.Sensor]
	if !ok {
		return // a sensor that is configured no more
	}
	e.sensors[r.Sensor] = s.with(r)
	for _, l := range e.lots {
		if l.ClosedAt == nil && (r.Sensor == l.thermometer || r.Sensor == l.gauge) {
			l.estimator.Observe(r)
		}
	}
}

func (e *Engine) refuse(r Rejected) {
	if s, ok := e.sensors[r.Sensor]; ok {
		e.sensors[r.Sensor] = s.refused(r)
	}
}

// printable is the beginning of a payload, as text that can be shown.
func printable(p []byte) string {
	const most = 120
	s := string(p[:min(len(p), most)])
	return strings.Map(func(r rune) rune {
		if r == utf8.RuneError || r < ' ' || r == 0x7f {
			return '·'
		}
		return r
	}, s)
}
