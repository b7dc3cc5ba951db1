package estimate

import (
	"math"
	"slices"
)

// history is what was seen, an hour at a time since packaging; 32 bits are
// finer than any sensor. It is only ever appended to.
type history struct {
	room  []float32 // °C
	gauge []float32 // bar, NaN = nothing was said, or nothing to be trusted
	doubt []float32 // factor on the variance
	seen  []bool    // whether the room was read, and not carried over

	capC  float64 // °C when the bottle was capped
	open  float64 // bar, what the gauge said while open to the air
	opens bool
}

// clip makes appending copy, so that clones don't write over each other.
func (h history) clip() history {
	h.room, h.gauge, h.doubt, h.seen = slices.Clip(h.room), slices.Clip(h.gauge), slices.Clip(h.doubt), slices.Clip(h.seen)
	return h
}

func (h *history) add(room, gauge, doubt float64, seen bool) {
	h.room = append(h.room, float32(room))
	h.gauge = append(h.gauge, float32(gauge))
	h.doubt = append(h.doubt, float32(doubt))
	h.seen = append(h.seen, seen)
}

// temperature of a window: what was read, or for half a day the last, and then
// the last days' mean.
func (h *history) temperature(read []float64) (t float64, seen bool) {
	if len(read) > 0 {
		return median(read), true
	}
	n := h.hours()
	if n == 0 {
		return h.capC, false
	}
	if slices.Contains(h.seen[max(0, n-12):], true) {
		return float64(h.room[n-1]), false
	}
	return h.mean(72), false
}

func (h *history) hours() int { return len(h.room) }

// last n hours' mean room temperature.
func (h *history) mean(n int) float64 {
	from := max(0, len(h.room)-n)
	sum := 0.0
	for _, t := range h.room[from:] {
		sum += float64(t)
	}
	return sum / math.Max(1, float64(len(h.room)-from))
}

// run is the course of a bottle through all of it.
func (h *history) run(b *belief, x *bottle, c climate) course {
	s := b.begin(x, c, h.capC, h.open, h.opens)
	for i, room := range h.room {
		s.step(b, x, c, float64(room))
		if g := h.gauge[i]; g == g {
			s.weigh(b, c, float64(g), float64(h.doubt[i]), b.airShows(s.age))
		}
	}
	return s
}

// first hours of it, without what came after.
func (h *history) first(n int) history {
	out := *h
	out.room, out.gauge, out.doubt, out.seen = h.room[:n], h.gauge[:n], h.doubt[:n], h.seen[:n]
	return out
}
