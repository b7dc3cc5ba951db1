package alerts

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// Book holds the alerts that stand, and what waits to become or cease to be
// one. All maps are by subject: lot, sensor, name.
//
// An alert is raised, and acknowledged by a person or shelved for a while. When
// its cause is gone it is cleared; a danger that nobody has acknowledged is
// returned instead, and stays until somebody does (the life cycle of ISA-18.2
// and IEC 62682, from memory).
type Book struct {
	Open    map[string]Alert     `json:"open"`
	Rising  map[string]time.Time `json:"rising,omitempty"`  // found since, not yet raised
	Falling map[string]time.Time `json:"falling,omitempty"` // gone since, not yet cleared
	Telling map[string]telling   `json:"telling,omitempty"`
	Ended   map[string]Alert     `json:"ended,omitempty"`  // cleared, and people are yet to be told
	Raises  []Raise              `json:"raises,omitempty"` // of the last week, oldest first
}

// Raise is that an alert was raised.
type Raise struct {
	At      time.Time `json:"at"`
	Subject string    `json:"subject"`
}

// NewBook is empty.
func NewBook() Book {
	return Book{Open: map[string]Alert{}, Rising: map[string]time.Time{}, Falling: map[string]time.Time{},
		Telling: map[string]telling{}, Ended: map[string]Alert{}}
}

// Clone copies it. A book that was read from JSON has no maps where nothing was
// in them; its clone has.
func (b Book) Clone() Book {
	c := NewBook()
	maps.Copy(c.Open, b.Open)
	maps.Copy(c.Rising, b.Rising)
	maps.Copy(c.Falling, b.Falling)
	maps.Copy(c.Telling, b.Telling)
	maps.Copy(c.Ended, b.Ended)
	c.Raises = slices.Clip(b.Raises)
	return c
}

func subject(lot, sensor string, n Name) string { return lot + "/" + sensor + "/" + string(n) }

// Severity at which an alert stands; empty when it doesn't.
func (b Book) Severity(lot string) func(Name, string) Severity {
	return func(n Name, sensor string) Severity {
		if a := b.Open[subject(lot, sensor, n)]; a.State != Returned {
			return a.Severity
		}
		return ""
	}
}

// Look runs the rules over a lot's situation and returns the book as it is
// then, with the alerts that changed.
func (b Book) Look(c Config, s Situation) (Book, []Alert) {
	var found []Finding
	open := b.Severity(s.Lot.ID)
	for _, rule := range Rules() {
		found = append(found, rule(c, s, open)...)
	}
	return b.Settle(s.Lot.ID, found, s.Now)
}

// Settle takes in all that is found of a lot, or with an empty lot of the watch
// itself, and returns the book as it is then, with the alerts that changed.
func (b Book) Settle(lot string, findings []Finding, now time.Time) (Book, []Alert) {
	b = b.Clone()
	var changes []Alert
	found := map[string]bool{}
	for _, f := range findings {
		k := subject(lot, f.Sensor, f.Name)
		found[k] = true
		if a, ok := b.find(k, f, lot, now); ok {
			changes = append(changes, a)
		}
	}
	for _, k := range slices.Sorted(maps.Keys(b.Open)) {
		a := b.Open[k]
		if a.Lot == lot && !found[k] && a.State != Returned && b.lost(k, a, now) {
			changes = append(changes, b.gone(a, now))
		}
	}
	maps.DeleteFunc(b.Rising, func(k string, _ time.Time) bool {
		return strings.HasPrefix(k, lot+"/") && !found[k]
	})
	return b, changes
}

// find takes a finding in: it raises an alert, makes an open one graver, or
// waits.
func (b *Book) find(k string, f Finding, lot string, now time.Time) (Alert, bool) {
	delete(b.Falling, k)
	a, known := b.Open[k]
	stands := known && a.State != Returned
	if stands && !f.graver(a) {
		return a, false
	}
	if !stands {
		since, ok := b.Rising[k]
		if !ok {
			since = now
			b.Rising[k] = since
		}
		if now.Sub(since) < f.After {
			return a, false
		}
		if !known {
			a = Alert{ID: name(f, lot, now), Since: since, Lot: lot, Sensor: f.Sensor, Name: f.Name}
		}
	}
	a.Time, a.State, a.Severity, a.Grade, a.Summary, a.Advice, a.By = now, Raised, f.Severity, f.Grade, f.Summary, f.Advice, ""
	b.Record(a)
	return a, true
}

// graver than what already stands.
func (f Finding) graver(a Alert) bool {
	if d := f.Severity.Rank() - a.Severity.Rank(); d != 0 {
		return d > 0
	}
	return f.Grade > a.Grade
}

// lost says whether an alert without its finding has been so for long enough.
func (b *Book) lost(k string, a Alert, now time.Time) bool {
	since, ok := b.Falling[k]
	if !ok {
		since = now
		b.Falling[k] = since
	}
	return now.Sub(since) >= linger(a.Name)
}

// linger is how long an alert stays after its cause is gone.
func linger(n Name) time.Duration {
	switch n {
	case SensorSilent, Ready, WatchImpaired:
		return 0
	case SensorFault, TooWarm:
		return 6 * time.Hour
	case OverPressure, TooCold:
		return 12 * time.Hour
	case OverCarbonation, Stalled:
		return 24 * time.Hour
	}
	return 48 * time.Hour
}

// gone is an alert whose cause is: a danger that nobody has acknowledged stays
// in sight.
func (b *Book) gone(a Alert, now time.Time) Alert {
	a.Time = now
	if a.Severity == Danger && a.State != Acknowledged {
		a.State = Returned
	} else {
		a.State = Cleared
	}
	b.Record(a)
	return a
}

// Acknowledge says that a person has seen an alert.
func (b Book) Acknowledge(a Alert, by string, now time.Time) (Book, Alert) {
	b = b.Clone()
	a.Time, a.By = now, by
	if a.State == Returned {
		a.State = Cleared
	} else {
		a.State = Acknowledged
	}
	b.Record(a)
	return b, a
}

// Shelve puts an alert away until an instant. A danger can't be shelved.
func (b Book) Shelve(a Alert, by string, until, now time.Time) (Book, Alert) {
	b = b.Clone()
	a.Time, a.State, a.By, a.Until = now, Shelved, by, &until
	b.Record(a)
	return b, a
}

// End clears alerts because of what a person did: nobody is told.
func (b Book) End(list []Alert, now time.Time) (Book, []Alert) {
	b = b.Clone()
	var changes []Alert
	for _, a := range list {
		a.Time, a.State = now, Cleared
		delete(b.Telling, subject(a.Lot, a.Sensor, a.Name))
		b.Record(a)
		changes = append(changes, a)
	}
	return b, changes
}

// Record makes a change so, and says when people are told of it next.
func (b *Book) Record(a Alert) {
	k := subject(a.Lot, a.Sensor, a.Name)
	delete(b.Rising, k)
	delete(b.Falling, k)
	delete(b.Ended, k)
	b.Open[k] = a
	switch a.State {
	case Raised:
		b.Telling[k] = telling{Due: a.Time}
		b.raised(k, a.Time)
	case Acknowledged:
		b.Telling[k] = telling{Count: b.Telling[k].Count}
		if a.Severity == Danger {
			b.Telling[k] = telling{Due: a.Time.Add(ackHolds)}
		}
	case Shelved:
		b.Telling[k] = telling{Due: *a.Until}
	case Returned, Cleared:
		b.ended(k, a)
	}
}

// ended: whoever was told that it is so is told that it is no longer.
func (b *Book) ended(k string, a Alert) {
	told := b.Telling[k].Count > 0
	delete(b.Telling, k)
	if told {
		b.Telling[k] = telling{Due: a.Time}
	}
	if a.State == Returned {
		return
	}
	delete(b.Open, k)
	if told {
		b.Ended[k] = a
	}
}

// Find an open alert by its id.
func (b Book) Find(id string) (Alert, bool) {
	for _, a := range b.Open {
		if a.ID == id {
			return a, true
		}
	}
	return Alert{}, false
}

// name of a new alert, unique to its raising.
func name(f Finding, lot string, at time.Time) string {
	var about []string
	for _, s := range []string{lot, f.Sensor, string(f.Name)} {
		if s != "" {
			about = append(about, strings.ReplaceAll(s, " ", "-"))
		}
	}
	return fmt.Sprintf("%s.%s", strings.Join(about, "."), at.UTC().Format("20060102T150405"))
}

// Standing are the open alerts of a lot, or all with an empty one, gravest and
// then oldest first.
func (b Book) Standing(lot string) []Alert {
	out := []Alert{}
	for _, a := range b.Open {
		if lot == "" || a.Lot == lot {
			out = append(out, a)
		}
	}
	slices.SortFunc(out, func(x, y Alert) int {
		if d := y.Severity.Rank() - x.Severity.Rank(); d != 0 {
			return d
		}
		if d := x.Since.Compare(y.Since); d != 0 {
			return d
		}
		return strings.Compare(x.ID, y.ID)
	})
	return out
}
