package mqtt

import (
	"errors"
	"sync"
)

// outbox holds what we have to say until the broker took it. Of retained
// topics the last word counts; they are remembered and said again on every
// connection, since a broker may have lost them.
type outbox struct {
	mu       sync.Mutex
	retained map[string]said
	order    []string // retained topics, first said first
	once     []outgoing
	wake     chan struct{}
}

type said struct {
	payload []byte
	due     bool // to be sent
}

type outgoing struct {
	topic    string
	payload  []byte
	retained bool
}

const (
	mostTopics = 1000
	mostOnce   = 256
)

func newOutbox() *outbox {
	return &outbox{retained: map[string]said{}, wake: make(chan struct{}, 1)}
}

// add something to say.
func (o *outbox) add(m outgoing) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	defer o.rouse()
	if !m.retained {
		if len(o.once) >= mostOnce {
			return errors.New("too much is waiting for the broker")
		}
		o.once = append(o.once, m)
		return nil
	}
	if _, ok := o.retained[m.topic]; !ok {
		if len(o.order) >= mostTopics {
			return errors.New("too many topics are waiting for the broker")
		}
		o.order = append(o.order, m.topic)
	}
	o.retained[m.topic] = said{m.payload, true}
	return nil
}

// again makes every retained topic due.
func (o *outbox) again() {
	o.mu.Lock()
	defer o.mu.Unlock()
	for t, s := range o.retained {
		o.retained[t] = said{s.payload, true}
	}
	o.rouse()
}

// take what is due next; false when nothing is.
func (o *outbox) take() (outgoing, bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, t := range o.order {
		if s := o.retained[t]; s.due {
			o.retained[t] = said{s.payload, false}
			return outgoing{t, s.payload, true}, true
		}
	}
	if len(o.once) == 0 {
		return outgoing{}, false
	}
	m := o.once[0]
	o.once = o.once[1:]
	return m, true
}

func (o *outbox) rouse() {
	select {
	case o.wake <- struct{}{}:
	default:
	}
}
