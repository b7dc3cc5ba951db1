package estimate

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"conditiond/model"
)

// A break at any instants, before packaging, within a window, in the cold,
// changes no byte of what is said afterwards.
func TestBreaksChangeNothing(t *testing.T) {
	_, r, s := lot(2, 2)
	for seed := range 12 { // more take too long; rapid.Check has no count of its own
		minutes := rapid.SliceOfN(rapid.IntRange(-24*60, 2*24*60), 1, 4).Example(seed)
		chill := rapid.IntRange(-1, 2*24).Example(seed)
		whole, broken := New(s), New(s)
		i := 0
		for h := -24; h < 2*24; h++ {
			from := packaged.Add(time.Duration(h) * time.Hour)
			if h >= 0 && h == chill {
				whole.Event(Event{At: from, Kind: ChilledAll})
				broken.Event(Event{At: from, Kind: ChilledAll})
			}
			for ; i < len(r.Readings) && r.Readings[i].At.Before(from.Add(time.Hour)); i++ {
				x := r.Readings[i]
				broken = atBreak(t, s, broken, minutes, r.Readings[max(0, i-1)], x)
				whole.Observe(x)
				broken.Observe(x)
			}
			whole.Advance(from.Add(time.Hour))
			broken.Advance(from.Add(time.Hour))
		}
		if a, b := said(t, whole), said(t, broken); a != b {
			t.Fatalf("with breaks after %v min it says\n%s\nnot\n%s", minutes, b, a)
		}
	}
}

// atBreak restores an estimator from its own checkpoint, if a break lies between
// two readings.
func atBreak(t *testing.T, s Setup, e *Estimator, minutes []int, last, next model.Reading) *Estimator {
	for _, m := range minutes {
		at := packaged.Add(time.Duration(m) * time.Minute)
		if !at.After(last.At) || at.After(next.At) {
			continue
		}
		state, err := e.MarshalBinary()
		if err != nil {
			t.Fatal(err)
		}
		if e, err = Restore(s, state); err != nil {
			t.Fatal(err)
		}
	}
	return e
}
