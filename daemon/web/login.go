package web

import (
	"net/http"
	"strconv"
	"strings"
	"time"
)

type loginData struct {
	frame
	Next  string
	Wrong string
}

func (s *Server) loginPage(w http.ResponseWriter, r *http.Request) {
	if s.auth.open() {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	s.renderLogin(w, http.StatusOK, ownPath(r.URL.Query().Get("next")), "")
}

func (s *Server) loginAgain(w http.ResponseWriter, r *http.Request, wait time.Duration) {
	status, wrong := http.StatusUnauthorized, "The password is wrong."
	if wait > 0 {
		seconds := strconv.Itoa(int(wait.Seconds()) + 1)
		w.Header().Set("Retry-After", seconds)
		status, wrong = http.StatusTooManyRequests, "Too many wrong passwords. Try again in "+seconds+" s."
	} else {
		s.log.Warn("web: wrong password", "from", address(r))
	}
	s.renderLogin(w, status, ownPath(r.PostForm.Get("next")), wrong)
}

// renderLogin tells nothing of the site: anybody may see it.
func (s *Server) renderLogin(w http.ResponseWriter, status int, next, wrong string) {
	s.render(w, status, "login.html", loginData{frame: frame{Title: "Log in · conditiond", Assets: assets}, Next: next, Wrong: wrong})
}

func (s *Server) login(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	if s.auth.open() {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	ok, wait := s.auth.check(r, r.PostForm.Get("password"))
	if !ok {
		s.loginAgain(w, r, wait)
		return
	}
	http.SetCookie(w, &http.Cookie{Name: cookieName, Value: s.auth.enter(short(r.PostForm.Get("name"))),
		Path: "/", MaxAge: int(sessionLife.Seconds()), HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: encrypted(r)})
	http.Redirect(w, r, ownPath(r.PostForm.Get("next")), http.StatusSeeOther)
}

func (s *Server) logout(w http.ResponseWriter, r *http.Request) {
	if c, err := r.Cookie(cookieName); err == nil {
		s.auth.leave(c.Value)
	}
	http.SetCookie(w, &http.Cookie{Name: cookieName, Path: "/", MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: encrypted(r)})
	http.Redirect(w, r, "/login", http.StatusSeeOther)
}

// encrypted is whether the browser came by TLS, here or at a proxy in front.
func encrypted(r *http.Request) bool {
	return r.TLS != nil || r.Header.Get("X-Forwarded-Proto") == "https"
}

// ownPath keeps a way back within this page.
func ownPath(next string) string {
	if !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.ContainsAny(next, "\\\r\n\t") {
		return "/"
	}
	return next
}
