package alerts

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// word of an invented alert, so many minutes after packaging.
func word(minute int, n Name, s Severity, state State) Message {
	a := Alert{ID: "invented-ale." + string(n), Time: packaged.Add(time.Duration(minute) * time.Minute), Lot: "invented-ale",
		Name: n, Severity: s, State: state, Summary: string(n) + " it was.", Advice: "Do this.\nThen that."}
	m := a.message("phone", 0)
	m.ID += fmt.Sprint(minute)
	return m
}

func backlog(list ...Message) *Backlog {
	b := new(Backlog)
	for _, m := range list {
		b.Add(m, m.Time)
	}
	return b
}

// stand are the alerts that still do.
func stand(names ...Name) func(Message) bool {
	return func(m Message) bool { return slices.Contains(names, m.Alert) }
}

func brief(list []Message) string {
	var out []string
	for _, m := range list {
		out = append(out, fmt.Sprintf("%s %s %s", m.Alert, m.Severity, m.State))
	}
	return strings.Join(out, ", ")
}

var later = packaged.Add(3 * time.Hour)

// In time everything is told by itself; after an outage what still endangers is
// told whole and first, and of all else there is one notice.
func TestBacklog(t *testing.T) {
	for name, x := range map[string]struct {
		words  []Message
		stands []Name
		after  time.Duration
		want   string
	}{
		"in time": {[]Message{word(0, Leak, Warning, Raised), word(0, OverPressure, Danger, Raised)}, nil, time.Second,
			"over-pressure danger raised, leak warning raised"},
		"raised and cleared within a minute": {[]Message{word(0, Leak, Warning, Raised), word(0, Leak, Warning, Cleared)}, nil, time.Second,
			"leak warning raised, leak warning cleared"},
		"one late": {[]Message{word(0, Leak, Warning, Raised)}, []Name{Leak}, time.Hour, "leak warning raised"},
		"a danger repeated": {[]Message{word(0, OverPressure, Danger, Raised), word(10, OverPressure, Danger, Raised), word(30, OverPressure, Danger, Raised)},
			[]Name{OverPressure}, time.Hour, "over-pressure danger raised"},
		"danger and others": {[]Message{word(0, Leak, Warning, Raised), word(3, SensorSilent, Warning, Raised), word(5, OverPressure, Danger, Raised), word(9, SensorSilent, Warning, Cleared)},
			[]Name{OverPressure, Leak}, time.Hour, "over-pressure danger raised, several warning raised"},
		"a danger that was":            {[]Message{word(0, OverPressure, Danger, Raised), word(9, OverPressure, Danger, Cleared)}, nil, time.Hour, "several danger cleared"},
		"a danger that a person ended": {[]Message{word(0, OverPressure, Danger, Raised)}, nil, time.Hour, "several danger cleared"},
		"cleared, and raised before":   {[]Message{word(9, Leak, Warning, Cleared)}, nil, time.Hour, "leak warning cleared"},
		"digests":                      {[]Message{word(0, DigestName, Notice, Raised), word(9, DigestName, Notice, Raised)}, nil, time.Hour, "digest notice raised"},
		"nothing":                      {nil, nil, time.Hour, ""},
	} {
		if got := brief(backlog(x.words...).Notices(packaged.Add(x.after), stand(x.stands...))); got != x.want {
			t.Errorf("%s: got %q, want %q", name, got, x.want)
		}
	}
}

// A person reads of each alert a line; a program finds each with its id.
func TestMerged(t *testing.T) {
	b := backlog(word(0, OverPressure, Danger, Raised), word(5, Leak, Warning, Raised), word(20, OverPressure, Danger, Cleared), word(30, Stalled, Warning, Raised))
	m := b.Notices(later, stand(Leak))[0]
	const want = `3 alerts that you could not be told of in time, 1 of them still so.
14:05: leak it was. Do this.
14:00 to 14:20: No longer so: over-pressure it was.
14:30: No longer so: stalled it was.`
	if m.Summary != want {
		t.Errorf("got\n%s\nwant\n%s", m.Summary, want)
	}
	if m.Advice != "See to what is still so: the page shows all of it.\nSay on the page that you saw the danger that was. What was advised about handling still holds." {
		t.Errorf("advice %q", m.Advice)
	}
	if got := brief(m.Merged); got != "leak warning raised, over-pressure danger cleared, stalled warning raised" {
		t.Errorf("merged %q", got)
	}
	if m.DelayedS != 3*3600 || m.Merged[1].DelayedS != 3*3600-20*60 || !m.Time.Equal(packaged) || m.Lot != "invented-ale" {
		t.Errorf("%+v", m)
	}
	one, err := json.Marshal(word(0, Leak, Warning, Raised))
	if err != nil || strings.Contains(string(one), "merged") {
		t.Errorf("a single notice is %s (%v)", one, err)
	}
}

// The id stays as long as nothing new waits, over a restart too.
func TestMergedID(t *testing.T) {
	list := []Message{word(0, Leak, Warning, Raised), word(5, TooCold, Notice, Raised)}
	id := func(list []Message) string { return backlog(list...).Notices(later, stand())[0].ID }
	again := slices.Clone(list)
	if id(list) != id(again) || id(list) == id(append(list, word(6, Leak, Warning, Cleared))) {
		t.Errorf("ids %s, %s", id(list), id(append(list, word(6, Leak, Warning, Cleared))))
	}
}

// What was told isn't told again when the rest must wait.
func TestBacklogTold(t *testing.T) {
	b := backlog(word(0, OverPressure, Danger, Raised), word(5, Leak, Warning, Raised), word(6, TooCold, Notice, Raised))
	stands := stand(OverPressure, Leak)
	first := b.Notices(later, stands)
	b.Told(first[0])
	if got := brief(b.Notices(later, stands)); got != "several warning raised" {
		t.Errorf("then %q", got)
	}
	b.Add(word(180, OverPressure, Danger, Raised), later) // said again
	again := b.Notices(later.Add(time.Hour), stands)
	if got := brief(again); got != "over-pressure danger raised, several warning raised" {
		t.Errorf("later %q", got)
	}
	for _, m := range again {
		b.Told(m)
	}
	if rest := b.Notices(later, stands); len(rest) > 0 {
		t.Errorf("left %q", brief(rest))
	}
}

// Whatever waits: few notices, each danger that stands among them, every alert
// in one of them, and nothing is left once they are told.
func TestBacklogIsBounded(t *testing.T) {
	names := []Name{OverPressure, Leak, Stalled, TooCold, SensorSilent, Ready, DigestName}
	rapid.Check(t, func(t *rapid.T) {
		b, waits := new(Backlog), map[Name]bool{}
		standing := rapid.SliceOfDistinct(rapid.SampledFrom(names), func(n Name) Name { return n }).Draw(t, "standing")
		for i := range rapid.IntRange(0, 60).Draw(t, "words") {
			n := rapid.SampledFrom(names).Draw(t, "name")
			waits[n] = true
			b.Add(word(i, n, rapid.SampledFrom([]Severity{Notice, Warning, Danger}).Draw(t, "severity"),
				rapid.SampledFrom([]State{Raised, Cleared}).Draw(t, "state")), packaged.Add(time.Duration(i)*time.Minute))
		}
		list := b.Notices(later, stand(standing...))
		var merged int
		for _, m := range list {
			if m.Alert == Several {
				merged++
			}
			for _, part := range append(m.Merged, m) {
				delete(waits, part.Alert)
			}
			b.Told(m)
		}
		if len(waits) > 0 || merged > 1 || len(list) > len(names) || len(b.Notices(later, stand(standing...))) > 0 {
			t.Errorf("not told %v, %d merged, in all %s", waits, merged, brief(list))
		}
	})
}
