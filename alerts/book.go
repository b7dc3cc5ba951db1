package alerts

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// Book holds the alerts that stand, and the findings that wait to become or
// cease to be one.
type Book struct {
	Open    map[string]Alert     `json:"open"`              // by subject: lot, sensor, name
	Rising  map[string]time.Time `json:"rising,omitempty"`  // found since, not yet raised
	Falling map[string]time.Time `json:"falling,omitempty"` // gone since, not yet cleared
}

// NewBook is empty.
func NewBook() Book {
	return Book{Open: map[string]Alert{}, Rising: map[string]time.Time{}, Falling: map[string]time.Time{}}
}

// Clone copies it. A book that was read from JSON has no maps where nothing was
// in them; its clone has.
func (b Book) Clone() Book {
	c := NewBook()
	maps.Copy(c.Open, b.Open)
	maps.Copy(c.Rising, b.Rising)
	maps.Copy(c.Falling, b.Falling)
	return c
}

func subject(lot, sensor string, n Name) string { return lot + "/" + sensor + "/" + string(n) }

// Severity at which an alert stands; empty when it doesn't.
func (b Book) Severity(lot string) func(Name, string) Severity {
	return func(n Name, sensor string) Severity { return b.Open[subject(lot, sensor, n)].Severity }
}

// Look runs the rules over a lot's situation and returns the book as it is
// then, with the alerts that changed.
func (b Book) Look(c Config, s Situation) (Book, []Alert) {
	b = b.Clone()
	open := b.Severity(s.Lot.ID)
	var changes []Alert
	found := map[string]bool{}
	for _, rule := range Rules() {
		for _, f := range rule(c, s, open) {
			k := subject(s.Lot.ID, f.Sensor, f.Name)
			found[k] = true
			if a, ok := b.find(k, f, s); ok {
				changes = append(changes, a)
			}
		}
	}
	for _, k := range slices.Sorted(maps.Keys(b.Open)) {
		a := b.Open[k]
		if a.Lot != s.Lot.ID || found[k] {
			continue
		}
		if b.lost(k, a, s.Now) {
			a.Time, a.State = s.Now, Cleared
			changes = append(changes, a)
			b.Record(a)
		}
	}
	maps.DeleteFunc(b.Rising, func(k string, _ time.Time) bool {
		return strings.HasPrefix(k, s.Lot.ID+"/") && !found[k]
	})
	return b, changes
}

// find takes a finding in: it raises an alert, makes an open one graver, or
// waits.
func (b Book) find(k string, f Finding, s Situation) (Alert, bool) {
	delete(b.Falling, k)
	a, stands := b.Open[k]
	if stands && !f.graver(a) {
		return a, false
	}
	if !stands {
		since, ok := b.Rising[k]
		if !ok {
			since = s.Now
			b.Rising[k] = since
		}
		if s.Now.Sub(since) < f.After {
			return a, false
		}
		a = Alert{ID: name(f, s.Lot.ID, s.Now), Since: since, Lot: s.Lot.ID, Sensor: f.Sensor, Name: f.Name}
	}
	a.Time, a.State, a.Severity, a.Grade, a.Summary, a.Advice, a.By = s.Now, Raised, f.Severity, f.Grade, f.Summary, f.Advice, ""
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
func (b Book) lost(k string, a Alert, now time.Time) bool {
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
	case SensorSilent, Ready:
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

// Record makes a change so.
func (b Book) Record(a Alert) {
	k := subject(a.Lot, a.Sensor, a.Name)
	delete(b.Rising, k)
	delete(b.Falling, k)
	if a.State == Cleared {
		delete(b.Open, k)
		return
	}
	b.Open[k] = a
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
	about := lot
	if f.Sensor != "" {
		about += "." + f.Sensor
	}
	return fmt.Sprintf("%s.%s.%s", about, f.Name, at.UTC().Format("20060102T150405"))
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
