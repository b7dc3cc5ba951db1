package mqtt

import (
	"bytes"
	"slices"
	"sync"

	"conditiond/daemon/intake"
)

// room is how many deliveries may wait. QoS 0 gets half, so that a flood of it
// can't keep out what the sender would have to send again.
const room = 1024

// inbox is where deliveries wait for their consumer.
type inbox struct {
	queue chan Delivery
	ended chan struct{} // closed: nothing more is taken in

	mu      sync.Mutex
	topics  map[string]bool // configured; true = heard
	lost    int64
	endOnce sync.Once
}

func newInbox(topics []string) *inbox {
	in := &inbox{queue: make(chan Delivery, room), ended: make(chan struct{}), topics: map[string]bool{}}
	for _, t := range topics {
		in.topics[t] = false
	}
	return in
}

// wants tells whether a topic is configured.
func (in *inbox) wants(topic string) bool {
	in.mu.Lock()
	defer in.mu.Unlock()
	_, ok := in.topics[topic]
	return ok
}

// offer a delivery without waiting.
func (in *inbox) offer(d Delivery) {
	if len(in.queue) < room/2 {
		in.put(d)
		return
	}
	in.mu.Lock()
	in.lost++
	in.mu.Unlock()
}

// put a delivery, waiting for room. What comes after the end is forgotten, and
// so never acknowledged.
func (in *inbox) put(d Delivery) {
	in.mu.Lock()
	in.topics[d.Topic] = true
	in.mu.Unlock()
	select {
	case <-in.ended:
		return
	default:
	}
	select {
	case in.queue <- d:
	case <-in.ended:
	}
}

func (in *inbox) end() { in.endOnce.Do(func() { close(in.ended) }) }

// tell what the inbox knows of its state.
func (in *inbox) tell(s *State) {
	in.mu.Lock()
	defer in.mu.Unlock()
	s.Lost = in.lost
	for t, heard := range in.topics {
		if !heard {
			s.Unheard = append(s.Unheard, t)
		}
	}
	slices.Sort(s.Unheard)
}

// bounded is a payload of our own, no longer than needed to see that it is too
// long.
func bounded(payload []byte) []byte {
	return bytes.Clone(payload[:min(len(payload), intake.MaxPayload+1)])
}
