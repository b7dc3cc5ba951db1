package web

import (
	"net/http"
	"net/url"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/model"
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
	note, p := s.noteForm(r)
	if p != nil {
		s.fail(w, r, *p)
		return
	}
	in, p := lotInput(r.PathValue("deed"), note)
	if p != nil {
		s.fail(w, r, *p)
		return
	}
	s.done(w, r, in, "/lots/"+url.PathEscape(note.Lot))
}

// noteForm is a note as it was filled in, in the units of who did it.
func (s *Server) noteForm(r *http.Request) (engine.Note, *problem) {
	f := s.newPlanForm(r, r.PostForm)
	n := engine.Note{Lot: r.PathValue("id"), Text: f.text("text"), Saw: alerts.Sighting(f.text("saw"))}
	if f.text("volumes") != "" {
		v := f.gasOf("volumes")
		n.Volumes = &v
	}
	if f.text("bar") != "" {
		v := model.BarGauge(f.of(f.pressure(), "bar"))
		n.Bar = &v
	}
	if f.text("beer_c") != "" {
		v := f.degrees("beer_c")
		n.BeerC = &v
	}
	for _, name := range []string{"volumes", "bar", "beer_c"} {
		if wrong := f.faults[name]; wrong != "" {
			p := bad(name, f.text(name), wrong)
			return n, &p
		}
	}
	return n, nil
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
