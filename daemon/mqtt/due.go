package mqtt

import "sync"

// due are acknowledgements that are to be given, in order. It never blocks and
// loses none: there can't be more of them than messages that their senders
// still keep, and one that was lost would be one that the broker waits for as
// long as the connection holds.
type due[T any] struct {
	mu   sync.Mutex
	list []T
	more chan struct{} // something was added
}

func newDue[T any]() *due[T] { return &due[T]{more: make(chan struct{}, 1)} }

func (d *due[T]) add(v T) {
	d.mu.Lock()
	d.list = append(d.list, v)
	d.mu.Unlock()
	select {
	case d.more <- struct{}{}:
	default:
	}
}

func (d *due[T]) take() []T {
	d.mu.Lock()
	defer d.mu.Unlock()
	list := d.list
	d.list = nil
	return list
}

// give all that come, and when it has ended those that are left.
func (d *due[T]) give(ended <-chan struct{}, give func(T)) {
	for over := false; !over; {
		select {
		case <-d.more:
		case <-ended:
			over = true
		}
		for _, v := range d.take() {
			give(v)
		}
	}
}
