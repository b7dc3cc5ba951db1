package alerts

import (
	"strings"
	"testing"
	"time"
)

// What a person saw counts whatever the gauge says; one gusher and a hard
// plastic bottle are nothing, and two gushers a notice.
func TestWhatAPersonSaw(t *testing.T) {
	for _, c := range []struct {
		seen []Sighting
		want string
	}{
		{[]Sighting{Squeeze, Squeeze, Gusher}, ""},
		{[]Sighting{Moved, OpenedFlat, OpenedReady, Decided}, ""},
		{[]Sighting{Gusher, Gusher}, "over-carbonation notice raised"},
		{[]Sighting{DomedCap}, "over-pressure danger raised"},
		{[]Sighting{WetCarton}, "over-pressure danger raised"},
		{[]Sighting{Bang}, "over-pressure danger raised"},
		{[]Sighting{Squeeze, Burst}, "over-pressure danger raised"},
	} {
		s := calm()
		for _, what := range c.seen {
			s.Seen = append(s.Seen, Seen{What: what, At: s.Now})
		}
		look(t, NewBook(), s, c.want)
	}
}

// A sighting is danger for a week, and one of long ago is none.
func TestSightingsGetOld(t *testing.T) {
	s := calm()
	s.Seen = []Seen{{What: Bang, At: s.Now}}
	b := look(t, NewBook(), s, "over-pressure danger raised")
	b = look(t, b, s.after(6*24*time.Hour), "")
	b = look(t, b, s.after(7*24*time.Hour), "")
	look(t, b, s.after(7*24*time.Hour+12*time.Hour), "over-pressure danger returned")
	s.Seen[0].At = s.Now.Add(-8 * 24 * time.Hour)
	look(t, NewBook(), s, "")
}

// The gauge at the limit is told on top of a sighting.
func TestGaugeAfterASighting(t *testing.T) {
	s := calm()
	s.Seen = []Seen{{What: WetCarton, At: s.Now}}
	b := look(t, NewBook(), s, "over-pressure danger raised")
	s.Gauge.Value = 4.1
	_, changes := b.Look(Config{}.Defaults(), s.after(time.Hour))
	if states(changes) != "over-pressure danger raised" || !strings.Contains(changes[0].Summary, "4.10 bar") {
		t.Errorf("told %+v", changes)
	}
}

func TestSightingsHaveWords(t *testing.T) {
	for _, g := range Sightings() {
		if g.Words() == "" {
			t.Errorf("%s has none", g)
		}
	}
	if Sighting("a ghost").Words() != "" {
		t.Error("an unknown sighting has words")
	}
}
