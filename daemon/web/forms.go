package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

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

// lotForm is what a person says or does at a lot's page.
func (s *Server) lotForm(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	id, text := r.PathValue("id"), strings.TrimSpace(r.PostForm.Get("text"))
	in, p := lotInput(r.PathValue("deed"), id, text)
	if p != nil {
		s.fail(w, r, *p)
		return
	}
	s.done(w, r, in, "/lots/"+url.PathEscape(id))
}

func lotInput(deed, id, text string) (engine.Input, *problem) {
	if len(text) > maxText || deed == "note" && text == "" {
		p := bad("text", text, fmt.Sprintf("what was seen or done, 1 to %d bytes", maxText))
		return engine.Input{}, &p
	}
	switch deed {
	case "note":
		return engine.Input{Note: &engine.Note{Lot: id, Text: text}}, nil
	case "chill":
		return engine.Input{Chill: &engine.Deed{Lot: id, Text: text}}, nil
	case "close":
		return engine.Input{Close: &engine.Deed{Lot: id, Text: text}}, nil
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
