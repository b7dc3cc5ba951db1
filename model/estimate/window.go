package estimate

import (
	"math"
	"slices"
	"time"

	"conditiond/model"
)

// window is how much data time is averaged into one observation.
const window = time.Hour

// Readings are kept from this long before packaging, and this many a window;
// more say nothing new.
const (
	before = 24
	most   = 4096
)

// pending are readings of windows that haven't ended, by the window's number
// since packaging; negative before.
type pending map[int]*heap

// heap is what came in a window.
type heap struct{ temperature, pressure []float64 }

func (p pending) add(k int, r model.Reading) {
	h := p[k]
	if h == nil {
		h = new(heap)
		p[k] = h
	}
	to := &h.temperature
	if r.Quantity == model.Pressure {
		to = &h.pressure
	}
	if len(*to) < most {
		*to = append(*to, r.Value)
	}
}

func (p pending) clone() pending {
	out := make(pending, len(p))
	for k, h := range p {
		out[k] = &heap{slices.Clone(h.temperature), slices.Clone(h.pressure)}
	}
	return out
}

// median of values; NaN of none.
func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := slices.Clone(v)
	slices.Sort(s)
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// plain says that a value can be taken for a measurement at all.
func plain(r model.Reading) bool {
	if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
		return false
	}
	switch r.Quantity {
	case model.Temperature:
		return r.Value > -30 && r.Value < 60 && r.Value != 85
	case model.Pressure:
		return r.Value > -0.9 && r.Value < 40
	}
	return false
}
