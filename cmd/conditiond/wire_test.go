package main

import (
	"net"
	"sync"
	"testing"
)

// wire is a TCP proxy that can be cut, and can hold everything back without
// closing.
type wire struct {
	addr, to string

	mu    sync.Mutex
	conns []net.Conn
	held  chan struct{} // closed: let through
	down  bool
}

func newWire(t *testing.T, to string) *wire {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	open := make(chan struct{})
	close(open)
	w := &wire{addr: l.Addr().String(), to: to, held: open}
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go w.carry(c)
		}
	}()
	return w
}

func (w *wire) carry(c net.Conn) {
	w.mu.Lock()
	down := w.down
	w.mu.Unlock()
	far, err := net.Dial("tcp", w.to)
	if down || err != nil {
		c.Close()
		return
	}
	w.mu.Lock()
	w.conns = append(w.conns, c, far)
	w.mu.Unlock()
	go w.copy(far, c)
	w.copy(c, far)
}

func (w *wire) copy(to, from net.Conn) {
	defer to.Close()
	defer from.Close()
	for b := make([]byte, 16<<10); ; {
		n, err := from.Read(b)
		w.mu.Lock()
		held := w.held
		w.mu.Unlock()
		<-held
		if n > 0 {
			if _, err := to.Write(b[:n]); err != nil {
				return
			}
		}
		if err != nil {
			return
		}
	}
}

// sever it: connections die, and none come through until it is mended.
func (w *wire) sever() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.down = true
	for _, c := range w.conns {
		c.Close()
	}
	w.conns = nil
}

func (w *wire) mend() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.down = false
}
