package web

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"golang.org/x/crypto/bcrypt"
)

const (
	cookieName  = "conditiond_session"
	sessionLife = 30 * 24 * time.Hour
	maxSessions = 200

	maxFailures   = 5 // wrong passwords from one address in failureWindow
	failureWindow = time.Minute
	maxAddresses  = 1000
)

// auth knows the password's hash, who is logged in, and who guesses.
type auth struct {
	hash []byte        // nil = no password
	slot chan struct{} // one comparison at a time: it is slow on purpose

	mu       sync.Mutex
	sessions map[[sha256.Size]byte]session
	guesses  map[string]guess
}

type session struct {
	name  string // as the person calls themselves
	until time.Time
}

type guess struct {
	count int
	until time.Time
}

func newAuth(password string) (*auth, error) {
	a := &auth{slot: make(chan struct{}, 1), sessions: map[[sha256.Size]byte]session{}, guesses: map[string]guess{}}
	if password == "" {
		return a, nil
	}
	hash, err := bcrypt.GenerateFromPassword(folded(password), bcrypt.DefaultCost)
	if err != nil {
		return nil, fmt.Errorf("web: hashing the password: %w", err)
	}
	a.hash = hash
	return a, nil
}

// folded makes any password fit the 72 bytes that bcrypt reads.
func folded(password string) []byte {
	sum := sha256.Sum256([]byte(password))
	return []byte(base64.RawStdEncoding.EncodeToString(sum[:]))
}

// open is whether no password is needed.
func (a *auth) open() bool { return a.hash == nil }

// check compares a password that came from an address. It returns how long to
// wait when there were too many wrong ones, without looking at this one.
func (a *auth) check(r *http.Request, password string) (ok bool, wait time.Duration) {
	from := address(r)
	select {
	case a.slot <- struct{}{}:
		defer func() { <-a.slot }()
	case <-r.Context().Done():
		return false, 0
	}
	if wait := a.barred(from); wait > 0 {
		return false, wait
	}
	if bcrypt.CompareHashAndPassword(a.hash, folded(password)) != nil {
		a.wrong(from)
		return false, 0
	}
	return true, 0
}

func address(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

func (a *auth) barred(from string) time.Duration {
	a.mu.Lock()
	defer a.mu.Unlock()
	if g := a.guesses[from]; g.count >= maxFailures {
		return time.Until(g.until)
	}
	return 0
}

func (a *auth) wrong(from string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	now := time.Now()
	if len(a.guesses) >= maxAddresses {
		a.guesses = map[string]guess{}
	}
	g := a.guesses[from]
	if now.After(g.until) {
		g = guess{}
	}
	a.guesses[from] = guess{count: g.count + 1, until: now.Add(failureWindow)}
}

// enter starts a session and returns its token. Only a hash of it is kept.
func (a *auth) enter(name string) string {
	token := rand.Text()
	now := time.Now()
	a.mu.Lock()
	defer a.mu.Unlock()
	for k, s := range a.sessions {
		if now.After(s.until) || len(a.sessions) >= maxSessions {
			delete(a.sessions, k)
		}
	}
	a.sessions[sha256.Sum256([]byte(token))] = session{name: name, until: now.Add(sessionLife)}
	return token
}

func (a *auth) leave(token string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	delete(a.sessions, sha256.Sum256([]byte(token)))
}

func (a *auth) session(r *http.Request) (session, bool) {
	c, err := r.Cookie(cookieName)
	if err != nil {
		return session{}, false
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	s, ok := a.sessions[sha256.Sum256([]byte(c.Value))]
	return s, ok && time.Now().Before(s.until)
}

// who asks, by their own word.
func (a *auth) who(r *http.Request) string {
	if name, _, ok := r.BasicAuth(); ok && name != "" {
		return name
	}
	if s, ok := a.session(r); ok && s.name != "" {
		return s.name
	}
	return "someone at " + address(r)
}

// public is what is served to anybody: no more than whether the daemon lives.
func public(path string) bool {
	return path == "/healthz" || path == "/readyz" || path == "/login" || strings.HasPrefix(path, "/static/")
}

func (s *Server) authorized(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if s.auth.open() || public(r.URL.Path) {
			next.ServeHTTP(w, r)
			return
		}
		if _, ok := s.auth.session(r); ok {
			next.ServeHTTP(w, r)
			return
		}
		if _, password, ok := r.BasicAuth(); ok {
			good, wait := s.auth.check(r, password)
			if good {
				next.ServeHTTP(w, r)
				return
			}
			s.turnAway(w, r, wait)
			return
		}
		s.askWho(w, r)
	})
}

// askWho sends people to the login and programs a challenge.
func (s *Server) askWho(w http.ResponseWriter, r *http.Request) {
	if !isAPI(r) {
		http.Redirect(w, r, "/login?next="+url.QueryEscape(r.URL.Path), http.StatusSeeOther)
		return
	}
	// A challenge would make a browser that only waits for events ask for a
	// password in a window of its own.
	if r.Header.Get("Accept") != "text/event-stream" {
		w.Header().Set("WWW-Authenticate", `Basic realm="conditiond"`)
	}
	s.fail(w, r, problem{Status: http.StatusUnauthorized, Detail: "log in on the page, or send the password by Basic authentication with any user name"})
}

func (s *Server) turnAway(w http.ResponseWriter, r *http.Request, wait time.Duration) {
	if wait > 0 {
		seconds := fmt.Sprint(int(wait.Seconds()) + 1)
		w.Header().Set("Retry-After", seconds)
		s.fail(w, r, problem{Status: http.StatusTooManyRequests, Detail: "too many wrong passwords; try again in " + seconds + " s"})
		return
	}
	s.log.Warn("web: wrong password", "from", address(r))
	w.Header().Set("WWW-Authenticate", `Basic realm="conditiond"`)
	s.fail(w, r, problem{Status: http.StatusUnauthorized, Detail: "the password is wrong; it is the one in the file that web.password_file names"})
}
