package notify

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"conditiond/alerts"
)

const subjectMax = 120 // letters

// Subject is the one line that a person sees first: what to do, and of what.
func Subject(m alerts.Message) string {
	about := m.Lot
	if about == "" {
		about = m.Sensor
	}
	if m.Alert == alerts.Several {
		head, _ := alerts.FirstStep(m.Summary)
		return oneLine(strings.TrimSuffix(head, "."))
	}
	if m.State == alerts.Cleared {
		return oneLine(fmt.Sprintf("No longer %s: %s", m.Alert, about))
	}
	todo, _ := alerts.FirstStep(m.Advice)
	todo = strings.TrimSuffix(todo, ".")
	if todo == "" {
		todo = string(m.Alert)
	}
	return oneLine(todo + " – " + about)
}

// Body is lines: what to do, what was seen and when, and the rest of what to
// do. A late notice says so before what was seen. Times are in the zone of
// m.Time.
func Body(m alerts.Message) string {
	first, rest := alerts.FirstStep(m.Advice)
	seen := m.Summary
	if delay := time.Duration(m.DelayedS) * time.Second; delay > 0 {
		seen = "Late: " + what(m) + " " + happened(m.Time, delay) + ". " + seen
	}
	list := slices.DeleteFunc([]string{first, seen, rest}, func(s string) bool { return s == "" })
	return strings.Join(list, "\n")
}

// what a late notice is about.
func what(m alerts.Message) string {
	if m.Alert == alerts.Several {
		return "the first of it"
	}
	return "this"
}

// happened says when, with the day when it was another one, and how long ago.
func happened(at time.Time, delay time.Duration) string {
	return "happened " + alerts.Clock(at, at.Add(delay)) + ", " + ago(delay)
}

// ago is an age in the two largest of days, hours and minutes.
func ago(d time.Duration) string {
	minutes := int(d.Round(time.Minute) / time.Minute)
	days, hours, rest := minutes/1440, minutes/60%24, minutes%60
	switch {
	case days > 0:
		return strings.TrimSuffix(fmt.Sprintf("%d d %d h", days, hours), " 0 h") + " ago"
	case hours > 0:
		return strings.TrimSuffix(fmt.Sprintf("%d h %d min", hours, rest), " 0 min") + " ago"
	}
	return fmt.Sprintf("%d min ago", rest)
}

// oneLine has no line ends, which would begin a new header, and isn't long.
func oneLine(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	if runes := []rune(text); len(runes) > subjectMax {
		return string(runes[:subjectMax-1]) + "…"
	}
	return text
}
