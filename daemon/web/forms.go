package web

import (
	"net/http"
	"net/url"
	"strings"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
)

// form reads a form's fields; false = answered already.
func (s *Server) form(w http.ResponseWriter, r *http.Request) bool {
	r.Body = http.MaxBytesReader(w, r.Body, maxBody)
	if err := r.ParseForm(); err != nil {
		s.fail(w, r, unread(err))
		return false
	}
	return true
}

func (s *Server) acknowledgeForm(w http.ResponseWriter, r *http.Request) {
	if s.form(w, r) {
		s.done(w, r, engine.Input{Acknowledge: &engine.Acknowledge{Alert: r.PathValue("id"), By: s.auth.who(r)}}, ownPath(r.PostForm.Get("back")))
	}
}

// aDay is how long the page puts an alert away.
const aDay = 24 * time.Hour

func (s *Server) shelveForm(w http.ResponseWriter, r *http.Request) {
	if s.form(w, r) {
		put := engine.Shelve{Alert: r.PathValue("id"), By: s.auth.who(r), Until: s.daemon.Health().Now.Add(aDay)}
		s.done(w, r, engine.Input{Shelve: &put}, ownPath(r.PostForm.Get("back")))
	}
}

func (s *Server) serviceForm(w http.ResponseWriter, r *http.Request) {
	if s.form(w, r) {
		in := engine.Service{Sensor: r.PathValue("name"), Out: r.PostForm.Get("out") != "", By: s.auth.who(r)}
		s.done(w, r, engine.Input{Service: &in}, "/")
	}
}

// lotForm is what a person says or does at a lot's page.
func (s *Server) lotForm(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	note := engine.Note{Lot: r.PathValue("id"), Text: strings.TrimSpace(r.PostForm.Get("text")), Saw: alerts.Sighting(r.PostForm.Get("saw"))}
	in, p := lotInput(r.PathValue("deed"), note)
	if p != nil {
		s.fail(w, r, *p)
		return
	}
	s.done(w, r, in, "/lots/"+url.PathEscape(note.Lot))
}

func lotInput(deed string, n engine.Note) (engine.Input, *problem) {
	if p := badNote(n); p != nil && (deed == "note" || n.Text != "") {
		return engine.Input{}, p
	}
	switch deed {
	case "note":
		return engine.Input{Note: &n}, nil
	case "chill":
		return engine.Input{Chill: &engine.Deed{Lot: n.Lot, Text: n.Text}}, nil
	case "close":
		return engine.Input{Close: &engine.Deed{Lot: n.Lot, Text: n.Text}}, nil
	}
	return engine.Input{}, &problem{Status: http.StatusNotFound, Detail: "there is nothing to do by this name"}
}

// done hands an input in and leads back to a page.
func (s *Server) done(w http.ResponseWriter, r *http.Request, in engine.Input, back string) {
	if err := s.daemon.Do(r.Context(), in); err != nil {
		s.failed(w, r, err)
		return
	}
	http.Redirect(w, r, back, http.StatusSeeOther)
}
