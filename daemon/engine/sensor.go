package engine

import (
	"hash/fnv"
	"slices"
	"time"

	"conditiond/daemon/intake"
	"conditiond/model"
)

// sensor is what is known of one: its last readings, and what was refused.
type sensor struct {
	At        time.Time // of the newest good reading
	Last      [3]float64
	Near      [16]point // the last few, to know repeats
	N         int64     // good readings
	LastKnown *float64
	Silent    bool
	Out       *Out // of service
	Rejected  int64
	InARow    int // refused since the last good one
	Refused   *Rejected
	Check     intake.Check
}

type point struct {
	At    time.Time
	Value float64
}

// with is the sensor after a reading.
func (s sensor) with(r model.Reading) sensor {
	s.Near[s.N%int64(len(s.Near))] = point{r.At, r.Value}
	if s.N == 0 {
		s.Last = [3]float64{r.Value, r.Value, r.Value}
	}
	s.N++
	s.InARow = 0
	if r.At.Before(s.At) {
		return s
	}
	s.At, s.Last = r.At, [3]float64{s.Last[1], s.Last[2], r.Value}
	s.Silent = false
	s.Check = s.Check.Accept(r.At, r.Value)
	return s
}

func (s sensor) refused(r Rejected) sensor {
	s.Rejected++
	s.InARow++
	s.Refused = &r
	return s
}

// floods says that a sensor has been refused so often that one refusal a minute
// is enough to keep: a journal must not fill with what is wrong.
func (s sensor) floods(at time.Time) bool {
	const many = 20
	return s.InARow >= many && s.Refused != nil && at.Sub(s.Refused.At) < time.Minute
}

// repeats says that this very reading is known.
func (s sensor) repeats(r model.Reading) bool {
	return slices.ContainsFunc(s.Near[:min(s.N, int64(len(s.Near)))], func(p point) bool {
		return p.Value == r.Value && p.At.Equal(r.At)
	})
}

// middle of the last three values: one wild reading can't move it.
func (s sensor) middle() float64 {
	v := s.Last
	slices.Sort(v[:])
	return v[1]
}

// Mark is what a delivered message is known by when it comes again.
type Mark struct {
	ID  uint16
	Sum uint32
}

func markOf(m intake.Message) Mark {
	h := fnv.New32a()
	h.Write([]byte(m.Topic))
	h.Write([]byte{0})
	h.Write(m.Payload)
	return Mark{m.ID, h.Sum32()}
}

// marks are the last messages taken in. A broker may hold some thousand
// unacknowledged; more than that are never sent again.
type marks struct {
	Ring []Mark
	At   int
}

const marksKept = 4096

func (m *marks) add(k Mark) {
	if len(m.Ring) < marksKept {
		m.Ring = append(m.Ring, k)
		return
	}
	m.Ring[m.At] = k
	m.At = (m.At + 1) % marksKept
}

func (m *marks) known(k Mark) bool { return slices.Contains(m.Ring, k) }
