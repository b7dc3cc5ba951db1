package estimate

import (
	"hash/fnv"
	"math"
	"time"

	"conditiond/model"
)

// Estimator follows one lot. It isn't safe for use by several goroutines.
type Estimator struct {
	setup  Setup
	belief *belief // never changes
	laws   climate // never changes
	seed   uint64

	next    int // the window that ends next, counted from packaging
	waiting pending
	now     frame
	past    *past   // nil unless it is behind
	lesson  *Lesson // of another lot; nil = none. Never changes

	chilledAt, closedAt time.Time
}

// frame is what was thought when a window ended.
type frame struct {
	history history
	cloud   *cloud // replaced, never changed, so clones share it
	taught  *cloud // the same by the lesson; nil without one
	gauge   ear
	said    Estimate
}

// New starts an estimator before the first reading.
func New(s Setup) *Estimator {
	b := newBelief(s)
	id := fnv.New64a()
	id.Write([]byte(s.Lot.ID))
	e := &Estimator{setup: s, belief: b, laws: newClimate(s.Lot.Yeast, b.vessel, s.Lot.ABV()), seed: id.Sum64(), next: -before, waiting: pending{}}
	return e
}

// at is the window that an instant lies in.
func (e *Estimator) at(t time.Time) int {
	return int(math.Floor(float64(t.Sub(e.setup.Lot.PackagedAt)) / float64(window)))
}

// Observe takes in a reading of the lot's thermometer or gauge, in °C or bar
// gauge, in any order. Those of windows that have ended, of more than a day
// before packaging, of other sensors, and those that can't be are ignored.
// While it is before packaging, the gauge is open to the air.
func (e *Estimator) Observe(r model.Reading) {
	if !plain(r) || !e.listens(r) {
		return
	}
	if k := e.at(r.At); k >= e.next && k < e.next+2*365*24 {
		e.waiting.add(k, r)
	}
}

func (e *Estimator) listens(r model.Reading) bool {
	switch r.Quantity {
	case model.Temperature:
		return r.Sensor == e.setup.Thermometer || e.setup.Thermometer == ""
	case model.Pressure:
		g := e.setup.Lot.GaugeBottle
		return g != nil && r.Sensor == g.Sensor
	}
	return false
}

// Event says what was done to the bottles.
func (e *Estimator) Event(v Event) {
	switch v.Kind {
	case ChilledAll:
		e.chilledAt = v.At
	case LotClosed:
		e.closedAt = v.At
	}
}

// longest is how many windows a lot is followed.
const longest = 2 * 365 * 24

// Advance ends all windows that are over at an instant; one that is behind waits.
func (e *Estimator) Advance(to time.Time) {
	if e.Behind() {
		return
	}
	last := min(e.at(to), longest)
	if last <= 0 {
		e.next = max(e.next, last)
		return
	}
	if e.now.cloud != nil && e.next >= last {
		return
	}
	if e.now.cloud == nil {
		e.begin()
	} else {
		e.now.cloud, e.now.taught = e.now.cloud.clone(), e.now.taught.clone()
	}
	for ; e.next < last; e.next++ {
		e.end(e.waiting[e.next])
		delete(e.waiting, e.next)
	}
	e.now.said = e.answer()
}

// begin caps the bottle: what was read before says where it stands.
func (e *Estimator) begin() {
	var room, open []float64
	for k := -before; k < 0; k++ {
		h := e.waiting[k]
		if h == nil {
			continue
		}
		if k >= -3 {
			room = append(room, h.temperature...)
		}
		open = append(open, h.pressure...)
		delete(e.waiting, k)
	}
	for k := 0; len(room) == 0 && k < 12; k++ {
		if w := e.waiting[k]; w != nil {
			room = w.temperature
		}
	}
	e.next = 0
	h := &e.now.history
	h.capC = usualC
	if len(room) > 0 {
		h.capC = median(room)
	}
	if v := median(open); len(open) >= 3 && math.Abs(v) < 0.3 {
		h.open, h.opens = v, true
	}
	e.now.cloud = newCloud(e.belief, e.laws, h, e.seed)
	e.teach()
}

const (
	usualC = 19.0 // °C, of a room that was never read
	cold   = 5.0  // °C, how warm a chilled lot is taken to be
)

// end ends a window.
func (e *Estimator) end(w *heap) {
	if w == nil {
		w = new(heap)
	}
	h := &e.now.history
	room, seen := h.temperature(w.temperature)
	gauge := e.now.gauge.hear(w.pressure, float64(e.setup.FullScale))
	if e.chilled() {
		room, gauge = math.Min(room, cold), math.NaN()
	}
	e.live(float64(float32(room)), float64(float32(gauge)), seen)
}

// live through an hour: move all possible bottles, weigh them by the gauge if it
// said something, and look for others.
func (e *Estimator) live(room, gauge float64, seen bool) {
	h, c := &e.now.history, e.now.cloud
	c.step(e.belief, e.laws, room)
	if e.now.taught != nil {
		e.now.taught.step(e.belief, e.laws, room)
	}
	doubt := 1.0
	if gauge == gauge {
		doubt = float64(float32(math.Max(c.unsettled(e.belief, e.laws, h, gauge), c.doubts(e.belief, e.laws, gauge))))
		c.startle(e.belief, e.laws, h, gauge)
		c.weigh(e.belief, e.laws, gauge, doubt)
	}
	h.add(room, gauge, doubt, seen)
	if gauge == gauge {
		c.offer(e.belief, e.laws, h, e.seed)
		c.renew(e.belief, e.laws, h, e.seed)
	}
}

// chilled says whether the lot was in the cold when the window ended.
func (e *Estimator) chilled() bool {
	return !e.chilledAt.IsZero() && e.next >= e.at(e.chilledAt)
}

// Estimate is what is thought as of the last Advance.
func (e *Estimator) Estimate() Estimate {
	out := e.now.said
	if e.now.cloud == nil {
		out = Estimate{Lot: e.setup.Lot.ID, Time: e.setup.Lot.PackagedAt.UTC(), Phase: Conditioning}
		out.OverPressure.LimitBar, _ = e.setup.Lot.Limit(model.Bar(e.belief.station))
	}
	if !e.chilledAt.IsZero() {
		out.Phase = Chilled
	}
	if !e.closedAt.IsZero() {
		out.Phase = Closed
	}
	return out
}

// Clone is an estimator that goes its own way from here.
func (e *Estimator) Clone() *Estimator {
	out := *e
	out.waiting = e.waiting.clone()
	out.now.history = e.now.history.clip()
	out.past = e.past.clone()
	return &out
}
