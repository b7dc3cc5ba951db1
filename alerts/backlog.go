package alerts

import (
	"cmp"
	"slices"
	"strings"
	"time"
)

// Backlog is what waits to be told to one recipient. It is bounded by what
// there is to be told of: of each alert it keeps the first word and the last.
// The zero value is empty.
type Backlog struct {
	runs []run // in the order of their first words
}

// run is what waits of one alert.
type run struct {
	first, last Message
	count       int
	due         time.Time // when the first was to be told
	told        string    // the id of the last word that was told
}

// LateAfter is when a notice says that it is late, and from when on several
// that wait become one.
const LateAfter = time.Minute

// Add a notice that was to be told at an instant.
func (b *Backlog) Add(m Message, due time.Time) {
	k := subject(m.Lot, m.Sensor, m.Alert)
	for i := range b.runs {
		r := &b.runs[i]
		if subject(r.first.Lot, r.first.Sensor, r.first.Alert) == k {
			r.last = m
			r.count++
			return
		}
	}
	b.runs = append(b.runs, run{first: m, last: m, count: 1, due: due})
}

// Told says that a notice, alone or merged from several, was told, or refused
// for good.
func (b *Backlog) Told(m Message) {
	for _, part := range append(m.Merged, m) {
		for i := range b.runs {
			if r := &b.runs[i]; r.last.ID == part.ID || r.first.ID == part.ID {
				r.told = part.ID
			}
		}
	}
}

// Clear what was told, when nothing is left to be.
func (b *Backlog) Clear() { b.runs = nil }

// Notices are what is to be told now, in this order. In time each is told by
// itself. Late, dangers that stand are told whole, one after the other; of all
// else there is one notice. stands says whether an alert still does.
func (b *Backlog) Notices(now time.Time, stands func(Message) bool) []Message {
	waiting := slices.DeleteFunc(slices.Clone(b.runs), func(r run) bool { return r.told == r.last.ID })
	slices.SortStableFunc(waiting, func(x, y run) int { return y.urgency() - x.urgency() })
	var whole []Message
	var rest []line
	for _, r := range waiting {
		standing := r.last.State == Raised && stands(r.last)
		switch {
		case now.Sub(r.due) <= LateAfter:
			whole = append(whole, r.each()...)
		case standing && r.last.Severity == Danger:
			whole = append(whole, r.last.late(now))
		default:
			rest = append(rest, line{r, standing})
		}
	}
	switch {
	case len(rest) == 1 && rest[0].alone():
		whole = append(whole, rest[0].last.late(now))
	case len(rest) > 0:
		whole = append(whole, merge(rest, now))
	}
	return whole
}

// urgency orders what waits: dangers first.
func (r run) urgency() int {
	if r.last.Severity == Danger && r.last.State == Raised {
		return 1
	}
	return 0
}

// each word that is not told.
func (r run) each() []Message {
	if r.count == 1 || r.told == r.first.ID {
		return []Message{r.last}
	}
	return []Message{r.first, r.last}
}

// late says how long ago it happened.
func (m Message) late(now time.Time) Message {
	m.DelayedS = max(0, int64(now.Sub(m.Time).Seconds()))
	return m
}

// line of a merged notice.
type line struct {
	run
	standing bool
}

// alone: its last word says all.
func (l line) alone() bool {
	return l.standing || l.last.Alert == DigestName || l.count == 1 && l.last.State != Raised
}

// merge what waits into one notice. Its id is that of the newest word in it, so
// it stays the same as long as nothing is added. Merged are the last words
// themselves, for programs.
func merge(lines []line, now time.Time) Message {
	slices.SortStableFunc(lines, func(x, y line) int {
		return cmp.Or(y.rank()-x.rank(), x.first.Time.Compare(y.first.Time))
	})
	oldest := slices.MinFunc(lines, func(x, y line) int { return x.first.Time.Compare(y.first.Time) }).first
	m := Message{To: oldest.To, Time: oldest.Time, Lot: oldest.Lot, Alert: Several, Severity: lines[0].last.Severity, State: Cleared}
	newest := lines[0].last
	for _, l := range lines {
		if l.standing {
			m.State = Raised
		} else if m.State == Cleared && l.last.Severity.Rank() > m.Severity.Rank() {
			m.Severity = l.last.Severity
		}
		if l.last.Lot != m.Lot {
			m.Lot = ""
		}
		if l.last.Time.After(newest.Time) {
			newest = l.last
		}
		m.Merged = append(m.Merged, l.last.late(now))
	}
	m.ID = strings.Join([]string{"several", string(m.State), newest.ID}, ".")
	m.Summary, m.Advice = several(lines, now)
	return m.late(now)
}

// rank of a line: what stands first, the gravest first.
func (l line) rank() int {
	if l.standing {
		return l.last.Severity.Rank()
	}
	return 0
}
