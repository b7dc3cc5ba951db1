package web

import (
	"net/http"
	"net/url"
	"time"
)

// A reader's choices are kept by their browser; a program that asks the API
// has none.
const (
	readerCookie = "conditiond_reader" // what was chosen
	zoneCookie   = "conditiond_zone"   // what the page's script says of the device
	readerLife   = 400 * 24 * time.Hour
)

// reader is who looks at a page: in which units, and where.
type reader struct {
	units
	zone string // an IANA name; empty = the device's, where it is known, or the site's
}

// siteZone stands for the site's own zone among a reader's choices.
const siteZone = "site"

// reader who asks.
func (s *Server) reader(r *http.Request) (reader, *time.Location) {
	var who reader
	if c, err := r.Cookie(readerCookie); err == nil {
		who = readerOf(c.Value)
	}
	return who, s.location(r, who)
}

// readerOf what a cookie or a form holds. What isn't understood isn't chosen.
func readerOf(text string) reader {
	v, err := url.ParseQuery(text)
	if err != nil {
		return reader{}
	}
	return reader{zone: v.Get("zone"), units: units{Pressure: v.Get("pressure"), Temperature: v.Get("temperature"), Gas: v.Get("gas")}}
}

// String is what the cookie holds.
func (w reader) String() string {
	return url.Values{"zone": {w.zone}, "pressure": {w.pressure().Key}, "temperature": {w.temperature().Key}, "gas": {w.gas().Key}}.Encode()
}

// location whose time a reader is told.
func (s *Server) location(r *http.Request, who reader) *time.Location {
	if who.zone == siteZone {
		return s.config.Location
	}
	if loc := zoneNamed(who.zone); loc != nil {
		return loc
	}
	if c, err := r.Cookie(zoneCookie); err == nil {
		if loc := zoneNamed(c.Value); loc != nil {
			return loc
		}
	}
	return s.config.Location
}

// zoneNamed is nil where there is none of this name. The machine's own is
// nobody's choice.
func zoneNamed(name string) *time.Location {
	if name == "" || name == "Local" || len(name) > 60 {
		return nil
	}
	loc, err := time.LoadLocation(name)
	if err != nil {
		return nil
	}
	return loc
}

// readerForm keeps what a reader chose in their browser.
func (s *Server) readerForm(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	who := readerOf(r.PostForm.Encode())
	switch {
	case who.zone == "other":
		who.zone = r.PostForm.Get("name")
		if zoneNamed(who.zone) == nil {
			s.renderSettings(w, r, http.StatusUnprocessableEntity, "is "+short(who.zone)+"; give the name of a time zone, such as Europe/Oslo")
			return
		}
	case who.zone != siteZone:
		who.zone = ""
	}
	http.SetCookie(w, &http.Cookie{Name: readerCookie, Value: who.String(), Path: "/", MaxAge: int(readerLife.Seconds()),
		HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: encrypted(r)})
	http.Redirect(w, r, ownPath(r.PostForm.Get("back")), http.StatusSeeOther)
}
