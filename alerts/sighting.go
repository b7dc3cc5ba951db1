package alerts

import (
	"time"

	"conditiond/model"
)

// Sighting is what a person saw of a lot's bottles.
type Sighting string

const (
	DomedCap  Sighting = "domed-cap"
	WetCarton Sighting = "wet-carton"
	Bang      Sighting = "bang"
	Burst     Sighting = "burst"
	Gusher    Sighting = "gusher"
	Squeeze   Sighting = "squeeze"

	// What was done to the bottles: it calls nobody, and stands in the record
	// and on the chart.
	Moved       Sighting = "moved"
	OpenedFlat  Sighting = "opened-flat"
	OpenedReady Sighting = "opened-ready"

	// Decided says that somebody decided on a lot that was on hold; the words of
	// the note say who, and what.
	Decided Sighting = "decided"
)

// Sightings are all of them, gravest first, as a person would pick one.
func Sightings() []Sighting {
	return []Sighting{Burst, Bang, DomedCap, WetCarton, Gusher, Squeeze, Moved, OpenedFlat, OpenedReady, Decided}
}

// Words of a sighting; empty for an unknown one.
func (g Sighting) Words() string {
	switch g {
	case DomedCap:
		return "A cap is domed"
	case WetCarton:
		return "A carton or shelf is wet"
	case Bang:
		return "A bang was heard"
	case Burst:
		return "A bottle burst"
	case Gusher:
		return "A bottle gushed"
	case Squeeze:
		return "A plastic bottle is hard"
	case Moved:
		return "The bottles were moved"
	case OpenedFlat:
		return "One was opened: not ready yet"
	case OpenedReady:
		return "One was opened: it is ready"
	case Decided:
		return "Decided on the lot"
	}
	return ""
}

// grave sightings come before the next bottle bursts, whatever the gauge says:
// it is on another bottle. A hard plastic bottle is hard at any pressure, and a
// gusher may have other reasons than gas.
func (g Sighting) grave() bool {
	return g == DomedCap || g == WetCarton || g == Bang || g == Burst
}

// Seen is what a person saw or measured, and when it was.
type Seen struct {
	What    Sighting       // empty = nothing but what was measured
	At      time.Time      // when, by the person's word
	Volumes *model.Volumes // measured in one bottle of the lot; nil = nothing was
}

// How long sightings count (judgement): grave ones until a calm week has gone
// by, gushers over two.
const (
	graveFor  = 7 * 24 * time.Hour
	gusherFor = 14 * 24 * time.Hour
)

// graveSeen is the newest grave sighting that still counts.
func (s Situation) graveSeen() (last Seen, ok bool) {
	for _, x := range s.Seen {
		if x.What.grave() && s.Now.Sub(x.At) < graveFor && !x.At.Before(last.At) {
			last, ok = x, true
		}
	}
	return last, ok
}

// gushers that still count.
func (s Situation) gushers() (n int) {
	for _, x := range s.Seen {
		if x.What == Gusher && s.Now.Sub(x.At) < gusherFor {
			n++
		}
	}
	return n
}
