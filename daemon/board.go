package daemon

import (
	"sync"

	"conditiond/daemon/engine"
)

// board shows the latest view to whoever looks, and says when it changes.
type board struct {
	mu      sync.Mutex
	view    *engine.View
	journal error
	changed chan struct{}
}

func newBoard() *board { return &board{view: &engine.View{}, changed: make(chan struct{})} }

func (b *board) show(v *engine.View, journal error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.view, b.journal = v, journal
	close(b.changed)
	b.changed = make(chan struct{})
}

func (b *board) look() (*engine.View, <-chan struct{}, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.view, b.changed, b.journal
}
