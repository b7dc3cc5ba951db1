package web

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"net"
	"net/http"
	"strings"
)

// policy lets the page use its own script, style and API, and nothing else. Its
// style stands in the page and is known by its hash; that of the charts is a
// file.
var policy = "default-src 'none'; script-src 'self'; style-src 'self' '" + hashed(string(style)) + "'; img-src 'self'; manifest-src 'self'; " +
	"connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// handler is all that a request passes on its way, outermost first.
func (s *Server) handler() http.Handler {
	foreign := http.NewCrossOriginProtection()
	foreign.SetDenyHandler(http.HandlerFunc(s.refuseForeign))
	return zipped(headers(s.ownHost(foreign.Handler(s.authorized(inTime(http.HandlerFunc(s.dispatch)))))))
}

// inTime ends what takes too long, the event streams excepted: no question may
// hold the journal for ever.
func inTime(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/api/v1/events" {
			next.ServeHTTP(w, r)
			return
		}
		ctx, cancel := context.WithTimeout(r.Context(), answerTimeout)
		defer cancel()
		next.ServeHTTP(w, r.WithContext(ctx))
	})
}

func hashed(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}

func headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		// Not no-referrer: browsers would send "Origin: null" with our forms.
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		stayEncrypted(w, r)
		next.ServeHTTP(w, r)
	})
}

// ownHost refuses names that are not this machine's while no password is set:
// a foreign page could rebind its own name to the loopback address and read
// everything.
func (s *Server) ownHost(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if s.auth.open() && !local(r.Host) {
			s.fail(w, r, problem{Status: http.StatusMisdirectedRequest,
				Detail: "without a password this page answers only to localhost and loopback addresses",
				Errors: []fieldFault{{Field: "Host", Value: r.Host, Detail: "ask for 127.0.0.1 or localhost, or set password_file"}}})
			return
		}
		next.ServeHTTP(w, r)
	})
}

func local(host string) bool {
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	ip := net.ParseIP(strings.Trim(host, "[]"))
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func (s *Server) refuseForeign(w http.ResponseWriter, r *http.Request) {
	s.fail(w, r, problem{Status: http.StatusForbidden,
		Detail: "another site's page may not write here",
		Errors: []fieldFault{{Field: "Origin", Value: r.Header.Get("Origin"), Detail: "it must be this page's own address"}}})
}

// dispatch routes, and says in our own form what the mux can't route.
func (s *Server) dispatch(w http.ResponseWriter, r *http.Request) {
	if _, pattern := s.mux.Handler(r); pattern != "" {
		s.mux.ServeHTTP(w, r)
		return
	}
	p := probe{header: http.Header{}}
	s.mux.ServeHTTP(&p, r)
	if allow := p.header.Get("Allow"); allow != "" {
		w.Header().Set("Allow", allow)
		s.fail(w, r, problem{Status: http.StatusMethodNotAllowed, Detail: r.Method + " is not understood here; " + allow + " is"})
		return
	}
	s.fail(w, r, problem{Status: http.StatusNotFound, Detail: "there is nothing at " + r.URL.Path})
}

// probe learns the headers of an answer that is not sent.
type probe struct{ header http.Header }

func (p *probe) Header() http.Header         { return p.header }
func (p *probe) Write(b []byte) (int, error) { return len(b), nil }
func (p *probe) WriteHeader(int)             {}
