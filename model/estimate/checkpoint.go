package estimate

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"time"
)

// form of a checkpoint. It changes with what is believed, too: possible bottles
// are only as good as the beliefs they come from. From a form since the first
// that is read still, the history is taken, and lived through again.
const (
	form  uint16 = 6
	first uint16 = 1
)

// MarshalBinary is a checkpoint: what was seen, and where the possible bottles
// are. Their courses follow from that.
func (e *Estimator) MarshalBinary() ([]byte, error) {
	var w bytes.Buffer
	put := func(v any) { binary.Write(&w, binary.LittleEndian, v) } // a buffer takes everything
	h, version := &e.now.history, form
	if e.Behind() {
		h, version = &e.past.all, first
	}
	put(version)
	put(int64(e.next))
	put(instant(e.chilledAt))
	put(instant(e.closedAt))
	put(e.now.gauge.record())
	put(e.now.cloud != nil || e.Behind())
	e.waiting.save(put)
	if e.now.cloud == nil && !e.Behind() {
		return w.Bytes(), nil
	}
	put(int64(h.hours()))
	put(h.room)
	put(h.gauge)
	put(h.doubt)
	put(h.seen)
	put([]float64{h.capC, h.open})
	put(h.opens)
	if e.Behind() {
		return w.Bytes(), nil
	}
	put(e.now.cloud.proof[:])
	put(int64(e.now.cloud.startled))
	for _, list := range e.now.cloud.members {
		for i := range list {
			put(list[i].at[:])
			put(list[i].weight)
		}
	}
	return w.Bytes(), nil
}

func instant(t time.Time) int64 {
	if t.IsZero() {
		return math.MinInt64
	}
	return t.UnixNano()
}

func instantOf(n int64) time.Time {
	if n == math.MinInt64 {
		return time.Time{}
	}
	return time.Unix(0, n).UTC()
}

func (p pending) save(put func(any)) {
	put(int64(len(p)))
	for _, k := range slices.Sorted(maps.Keys(p)) {
		put(int64(k))
		for _, v := range [][]float64{p[k].temperature, p[k].pressure} {
			put(int64(len(v)))
			put(v)
		}
	}
}

// earRecord is an ear in fixed size.
type earRecord struct {
	Heard, Still, Stillest int64
	Last, Latest           float64
	Full, Has              bool
}

func (g *ear) record() earRecord {
	return earRecord{int64(g.heard), int64(g.still), int64(g.stillest), g.last, g.latest, g.full, g.has}
}

// errCheckpoint is what a checkpoint that can't be read is called.
var errCheckpoint = errors.New("not a checkpoint of this lot by this version; replay its readings instead")

// loader reads in order and remembers the first error.
type loader struct {
	r   io.Reader
	err error
}

func (l *loader) get(v any) {
	if l.err == nil {
		l.err = binary.Read(l.r, binary.LittleEndian, v)
	}
}

// size reads a length, which can't be more than there is.
func (l *loader) size(most int) int {
	var n int64
	l.get(&n)
	if n < 0 || n > int64(most) {
		l.err = errCheckpoint
		return 0
	}
	return int(n)
}

// Restore goes on from a checkpoint of a lot, with the same setup, to the same
// bytes as if there had been no break. From one of an earlier form the estimator
// is Behind.
func Restore(s Setup, state []byte) (*Estimator, error) {
	e := New(s)
	l := &loader{r: bytes.NewReader(state)}
	var version uint16
	if l.get(&version); l.err == nil && (version < first || version > form) {
		l.err = errCheckpoint
	}
	e.load(l, len(state), version == form)
	if l.err != nil {
		return nil, fmt.Errorf("restore estimate of lot %q: %w", s.Lot.ID, errors.Join(errCheckpoint, l.err))
	}
	return e, nil
}

func (e *Estimator) load(l *loader, most int, cloud bool) {
	var next, chilled, closed int64
	var ears earRecord
	var begun bool
	for _, v := range []any{&next, &chilled, &closed, &ears, &begun} {
		l.get(v)
	}
	e.next, e.chilledAt, e.closedAt = int(next), instantOf(chilled), instantOf(closed)
	e.now.gauge = ear{int(ears.Heard), ears.Last, int(ears.Still), int(ears.Stillest), ears.Full, ears.Latest, ears.Has}
	e.waiting.load(l, most)
	if l.err != nil || !begun {
		return
	}
	var past history
	past.load(l, most)
	switch {
	case l.err != nil:
		return
	case cloud:
		e.now.history = past
		e.loadCloud(l)
	default:
		e.relive(past)
		return
	}
	if l.err == nil {
		e.now.said = e.answer()
	}
}

func (p pending) load(l *loader, most int) {
	for n := l.size(most); n > 0 && l.err == nil; n-- {
		var k int64
		l.get(&k)
		h := new(heap)
		for _, v := range []*[]float64{&h.temperature, &h.pressure} {
			*v = make([]float64, l.size(most/8))
			l.get(*v)
		}
		p[int(k)] = h
	}
}

func (h *history) load(l *loader, most int) {
	n := l.size(most / 13)
	h.room, h.gauge, h.doubt, h.seen = make([]float32, n), make([]float32, n), make([]float32, n), make([]bool, n)
	ends := make([]float64, 2)
	for _, v := range []any{h.room, h.gauge, h.doubt, h.seen, ends, &h.opens} {
		l.get(v)
	}
	h.capC, h.open = ends[0], ends[1]
}

func (e *Estimator) loadCloud(l *loader) {
	c := new(cloud)
	l.get(c.proof[:])
	var startled int64
	l.get(&startled)
	c.startled = int(startled)
	for r := range c.members {
		list := make([]member, crowd[r])
		for i := range list {
			l.get(list[i].at[:])
			l.get(&list[i].weight)
			if l.err == nil {
				list[i].live(e.belief, e.laws, &e.now.history, regime(r))
			}
		}
		c.members[r] = list
	}
	e.now.cloud = c
}
