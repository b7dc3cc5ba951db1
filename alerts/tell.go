package alerts

import (
	"fmt"
	"maps"
	"slices"
	"time"
)

// telling is how often people were told of an alert, and when they are again.
type telling struct {
	Count int       `json:"count"`
	Due   time.Time `json:"due"` // zero = not again
}

// ackHolds is how long an acknowledged danger stays quiet while it stands.
const ackHolds = 24 * time.Hour

// again is how long after the n-th time people are told once more of an alert
// that nobody has acknowledged; 0 = never. Danger: 10, 30 and 60 minutes after
// the first time, then hourly; a warning daily; a notice once (common practice,
// no source).
func again(s Severity, n int) time.Duration {
	switch s {
	case Danger:
		return []time.Duration{10 * time.Minute, 20 * time.Minute, 30 * time.Minute, time.Hour}[min(n, 4)-1]
	case Warning:
		return 24 * time.Hour
	}
	return 0
}

// Due is when somebody is to be told of something; zero = never.
func (b Book) Due() time.Time {
	var due time.Time
	for _, t := range b.Telling {
		if !t.Due.IsZero() && (due.IsZero() || t.Due.Before(due)) {
			due = t.Due
		}
	}
	return due
}

// Tell says who is told what at an instant, and returns the book as it is then
// with the alerts that changed by it: shelves that end, and acknowledged dangers
// that stand too long.
func (b Book) Tell(c Config, to []Recipient, now time.Time) (Book, []Alert, []Message) {
	b = b.Clone()
	var changes []Alert
	var list []Message
	for _, k := range slices.Sorted(maps.Keys(b.Telling)) {
		t := b.Telling[k]
		if t.Due.IsZero() || t.Due.After(now) {
			continue
		}
		a := b.subject(k)
		if end := c.Quiet.Until(now); !end.IsZero() && a.Severity != Danger {
			t.Due = end
			b.Telling[k] = t
			continue
		}
		if a.State == Acknowledged || a.State == Shelved {
			a.Time, a.State, a.By = now, Raised, ""
			b.Open[k] = a
			changes = append(changes, a)
		}
		list = append(list, messages(to, a, t.Count)...)
		b.told(k, a, now)
	}
	return b, changes, list
}

// subject's alert, standing or ended.
func (b Book) subject(k string) Alert {
	if a, ok := b.Open[k]; ok {
		return a
	}
	return b.Ended[k]
}

// told once more.
func (b Book) told(k string, a Alert, now time.Time) {
	if a.State != Raised {
		delete(b.Telling, k)
		delete(b.Ended, k)
		return
	}
	t := b.Telling[k]
	t.Count++
	t.Due = time.Time{}
	if wait := again(a.Severity, t.Count); wait > 0 {
		t.Due = now.Add(wait)
	}
	b.Telling[k] = t
}

// Recall makes so what the journal kept: alerts that changed at an instant, and
// the messages that went out of them.
func (b Book) Recall(changes []Alert, sent []Message, at time.Time) Book {
	if len(changes)+len(sent) == 0 {
		return b
	}
	b = b.Clone()
	for _, a := range changes {
		b.Record(a)
	}
	for _, m := range sent {
		k := subject(m.Lot, m.Sensor, m.Alert)
		if t, ok := b.Telling[k]; ok && !t.Due.IsZero() && !t.Due.After(at) {
			b.told(k, b.subject(k), at)
		}
	}
	return b
}

// messages to all whom an alert is grave enough for.
func messages(to []Recipient, a Alert, before int) []Message {
	var out []Message
	for _, r := range to {
		if a.Severity.Rank() >= r.Least.Rank() {
			out = append(out, a.message(r.Name, before))
		}
	}
	return out
}

// message of an alert to somebody who was told of it so many times before.
func (a Alert) message(to string, before int) Message {
	m := Message{
		ID: fmt.Sprintf("%s.%s%d.%s%d.%s", a.ID, a.Severity, a.Grade, a.State, before, to), To: to,
		Time: a.Time, Lot: a.Lot, Sensor: a.Sensor, Alert: a.Name,
		Severity: a.Severity, State: a.State, Summary: a.Summary, Advice: a.Advice,
	}
	switch {
	case a.State == Returned:
		m.State = Cleared
		m.Summary, m.Advice = "No longer so, and nobody has said yet that they saw it: "+a.Summary, "Say so on the page. What was advised about handling still holds."
	case a.State == Cleared:
		m.Summary, m.Advice = "No longer so: "+a.Summary, "The watch goes on. What was advised about handling still holds."
	case before > 0:
		m.Summary = "Still so, and nobody has said yet that they saw it: " + a.Summary
	}
	return m
}
