package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"conditiond/daemon/engine"
)

const (
	maxStreams    = 100
	eventsPause   = time.Second      // least time between two looks at the view
	heartbeat     = 20 * time.Second // so that proxies and phones keep the line
	streamTimeout = 10 * time.Second // for one write
)

// events streams what changes: `estimate` and `alert` events carry the same
// documents as everywhere, a `change` follows each look. The first look sends
// all that stands, so a client that reconnects has missed nothing.
func (s *Server) events(w http.ResponseWriter, r *http.Request) {
	select {
	case s.streams <- struct{}{}:
		defer func() { <-s.streams }()
	default:
		w.Header().Set("Retry-After", "30")
		s.fail(w, r, problem{Status: http.StatusServiceUnavailable, Detail: fmt.Sprintf("%d event streams are open already", maxStreams)})
		return
	}
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("X-Accel-Buffering", "no")
	st := &stream{w: w, control: http.NewResponseController(w), last: map[string]time.Time{}}
	s.sent(s.stream(r, st))
}

func (s *Server) stream(r *http.Request, st *stream) error {
	// The server's read timeout would end the stream.
	if err := st.control.SetReadDeadline(time.Time{}); err != nil {
		return err
	}
	if err := st.write("retry: 3000\n\n"); err != nil {
		return err
	}
	for {
		changed := s.daemon.Changed()
		if err := st.look(s.daemon.View()); err != nil {
			return err
		}
		if !s.pause(r) {
			return nil
		}
		if more, err := s.await(r, st, changed); !more {
			return err
		}
	}
}

// pause keeps looks apart; false when the stream should end.
func (s *Server) pause(r *http.Request) bool {
	t := time.NewTimer(eventsPause)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-r.Context().Done():
	case <-s.stopping:
	}
	return false
}

// await returns at the next change, with heartbeats meanwhile.
func (s *Server) await(r *http.Request, st *stream, changed <-chan struct{}) (bool, error) {
	beat := time.NewTicker(heartbeat)
	defer beat.Stop()
	for {
		select {
		case <-changed:
			return true, nil
		case <-beat.C:
			if err := st.write(": alive\n\n"); err != nil {
				return false, err
			}
		case <-r.Context().Done():
			return false, nil
		case <-s.stopping:
			return false, nil
		}
	}
}

// stream is one client's line.
type stream struct {
	w       http.ResponseWriter
	control *http.ResponseController
	last    map[string]time.Time // what was sent, by document, by its time
}

// look sends what is new in a view since the last look.
func (st *stream) look(v *engine.View) error {
	id := v.Time.UnixMilli()
	for _, l := range v.Lots {
		if e := l.Estimate; e != nil && st.isNew("lot "+l.Document.ID, e.Time) {
			if err := st.event(id, "estimate", e); err != nil {
				return err
			}
		}
	}
	for _, a := range append(v.Recent[:len(v.Recent):len(v.Recent)], v.Alerts...) {
		if st.isNew("alert "+a.ID, a.Time) {
			if err := st.event(id, "alert", a); err != nil {
				return err
			}
		}
	}
	return st.event(id, "change", map[string]any{"time": v.Time.UTC()})
}

func (st *stream) isNew(key string, at time.Time) bool {
	if !at.After(st.last[key]) {
		return false
	}
	st.last[key] = at
	return true
}

func (st *stream) event(id int64, kind string, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("writing an event: %w", err)
	}
	return st.write(fmt.Sprintf("id: %d\nevent: %s\ndata: %s\n\n", id, kind, b))
}

func (st *stream) write(s string) error {
	if err := st.control.SetWriteDeadline(time.Now().Add(streamTimeout)); err != nil {
		return err
	}
	if _, err := st.w.Write([]byte(s)); err != nil {
		return err
	}
	return st.control.Flush()
}
