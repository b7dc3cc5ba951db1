package web

import (
	"net/http"
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
