package web

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"
)

// A session ends by itself, and nobody goes on by the token of an old one.
func TestSessionEnds(t *testing.T) {
	a, err := newAuth("correct horse")
	if err != nil {
		t.Fatal(err)
	}
	token := a.enter("Kim")
	r, _ := http.NewRequest("GET", "/", nil)
	r.AddCookie(&http.Cookie{Name: cookieName, Value: token})
	if s, ok := a.session(r); !ok || time.Until(s.until) > sessionLife {
		t.Errorf("a new session: %v, until %v", ok, s.until)
	}
	for k, s := range a.sessions {
		s.until = time.Now().Add(-time.Second)
		a.sessions[k] = s
	}
	if _, ok := a.session(r); ok {
		t.Error("it goes on after its end")
	}
	for range 2 * maxSessions {
		a.enter("")
	}
	if n := len(a.sessions); n > maxSessions {
		t.Errorf("%d sessions are kept", n)
	}
}

// More event streams than there is room for are turned away at once.
func TestStreamsAreBounded(t *testing.T) {
	s, err := New(Config{Listen: "127.0.0.1:0"}, newFake(), slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	defer s.listener.Close()
	for range maxStreams {
		s.streams <- struct{}{}
	}
	r := httptest.NewRequest("GET", "http://127.0.0.1/api/v1/events", nil)
	w := httptest.NewRecorder()
	s.handler().ServeHTTP(w, r)
	if w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") == "" {
		t.Errorf("one more: %d %s", w.Code, w.Body)
	}
}
