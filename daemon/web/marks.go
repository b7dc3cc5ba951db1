package web

import (
	"slices"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
)

// event is what happened to a lot, as its charts mark it.
type event struct {
	At    time.Time
	Kind  string // packaged, chilled, closed, moved, opened, seen, note, alert
	Words string
	Grave bool
}

// events of a lot, oldest first.
func (t teller) events(l engine.LotView, recent []alerts.Alert) []event {
	all := []event{{At: l.Document.PackagedAt, Kind: "packaged", Words: "Packaged"}}
	if l.ChilledAt != nil {
		all = append(all, event{At: *l.ChilledAt, Kind: "chilled", Words: "Put in the cold"})
	}
	if l.ClosedAt != nil {
		all = append(all, event{At: *l.ClosedAt, Kind: "closed", Words: "Closed"})
	}
	for _, n := range l.Notes {
		if !deedNote(l, n) {
			all = append(all, event{At: n.At, Kind: noteKind(n.Saw), Words: n.Text})
		}
	}
	all = append(all, alertEvents(l, append(slices.Clip(recent), l.Alerts...))...)
	slices.SortStableFunc(all, func(a, b event) int { return a.At.Compare(b.At) })
	return all
}

// alertEvents are those of a lot and of its sensors, each as it was raised.
func alertEvents(l engine.LotView, list []alerts.Alert) []event {
	var all []event
	marked := map[string]bool{}
	for _, a := range list {
		mine := a.Lot == l.Document.ID || a.Lot == "" && a.Sensor != "" && (a.Sensor == l.Thermometer || a.Sensor == l.Gauge)
		key := a.ID + a.Since.String()
		if !mine || marked[key] || a.Since.Before(l.Document.PackagedAt) {
			continue
		}
		marked[key] = true
		words := mark(a.Severity) + ": " + spaced(a.Name)
		if a.Lot == "" {
			words += ", " + a.Sensor
		}
		all = append(all, event{At: a.Since, Kind: "alert", Words: words, Grave: a.Severity == alerts.Danger})
	}
	return all
}

// deedNote is the line that the engine writes itself when a lot is chilled or
// closed.
func deedNote(l engine.LotView, n engine.NoteView) bool {
	return n.Text == "Chilled." && l.ChilledAt != nil && n.At.Equal(*l.ChilledAt) ||
		n.Text == "Closed." && l.ClosedAt != nil && n.At.Equal(*l.ClosedAt)
}

func noteKind(saw alerts.Sighting) string {
	switch saw {
	case "", alerts.Decided:
		return "note"
	case alerts.Moved:
		return "moved"
	case alerts.OpenedFlat, alerts.OpenedReady:
		return "opened"
	}
	return "seen"
}
