package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"strings"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/model"
)

const (
	maxBody = 64 << 10
	maxText = 4000 // bytes of a note
)

func (s *Server) open(w http.ResponseWriter, r *http.Request) {
	var lot model.Lot
	if !s.body(w, r, &lot, true) {
		return
	}
	if err := s.daemon.Do(r.Context(), engine.Input{Open: &engine.Open{Lot: lot}}); err != nil {
		s.failed(w, r, err)
		return
	}
	w.Header().Set("Location", "/api/v1/lots/"+url.PathEscape(lot.ID))
	s.answerLot(w, lot.ID, http.StatusCreated)
}

// words is what a person says with a deed.
type words struct {
	Text string          `json:"text"`
	Saw  alerts.Sighting `json:"saw"`  // of a note; absent = nothing of the kinds that are told apart
	Seen time.Time       `json:"seen"` // of a note; absent = now
	// Of a note, what was measured in one bottle: its gas, or its pressure and
	// how warm its beer was; absent = nothing.
	Volumes *model.Volumes  `json:"volumes"`
	Bar     *model.BarGauge `json:"bar"`
	BeerC   *model.Celsius  `json:"beer_c"`
}

func (s *Server) note(w http.ResponseWriter, r *http.Request) {
	var said words
	if !s.body(w, r, &said, true) {
		return
	}
	note := engine.Note{Lot: r.PathValue("id"), Text: strings.TrimSpace(said.Text), Saw: said.Saw, Seen: said.Seen,
		Volumes: said.Volumes, Bar: said.Bar, BeerC: said.BeerC}
	if p := badNote(note); p != nil {
		s.fail(w, r, *p)
		return
	}
	s.deed(w, r, engine.Input{Note: &note})
}

// badNote says what of a note can't be taken; nil = nothing.
func badNote(n engine.Note) *problem {
	var p problem
	switch {
	case n.Saw != "" && n.Saw.Words() == "":
		p = bad("saw", string(n.Saw), "one of "+sightings())
	case n.Text == "" && n.Saw == "" && !n.Pulled() || len(n.Text) > maxText:
		p = bad("text", n.Text, fmt.Sprintf("what was seen or done, 1 to %d bytes", maxText))
	default:
		return nil
	}
	return &p
}

func sightings() string {
	var names []string
	for _, g := range alerts.Sightings() {
		names = append(names, string(g))
	}
	return strings.Join(names, ", ")
}

func (s *Server) chill(w http.ResponseWriter, r *http.Request) {
	if d, ok := s.readDeed(w, r); ok {
		s.deed(w, r, engine.Input{Chill: d})
	}
}

func (s *Server) close(w http.ResponseWriter, r *http.Request) {
	if d, ok := s.readDeed(w, r); ok {
		s.deed(w, r, engine.Input{Close: d})
	}
}

func (s *Server) readDeed(w http.ResponseWriter, r *http.Request) (*engine.Deed, bool) {
	var said struct {
		Text string `json:"text"`
	}
	if !s.body(w, r, &said, false) {
		return nil, false
	}
	if len(said.Text) > maxText {
		s.fail(w, r, bad("text", said.Text, fmt.Sprintf("at most %d bytes", maxText)))
		return nil, false
	}
	return &engine.Deed{Lot: r.PathValue("id"), Text: strings.TrimSpace(said.Text)}, true
}

// deed is done, and answered with the lot as it then stands.
func (s *Server) deed(w http.ResponseWriter, r *http.Request, in engine.Input) {
	if err := s.daemon.Do(r.Context(), in); err != nil {
		s.failed(w, r, err)
		return
	}
	s.answerLot(w, r.PathValue("id"), http.StatusOK)
}

// answerLot answers with the lot, or its bare id where the view has not caught
// up yet.
func (s *Server) answerLot(w http.ResponseWriter, id string, status int) {
	if l, ok := findLot(s.daemon.View(), id); ok {
		s.answer(w, status, answerOf(l))
		return
	}
	s.answer(w, status, map[string]string{"id": id})
}

func (s *Server) acknowledge(w http.ResponseWriter, r *http.Request) {
	var said struct {
		By string `json:"by"`
	}
	if !s.body(w, r, &said, false) {
		return
	}
	if said.By == "" {
		said.By = s.auth.who(r)
	}
	id := r.PathValue("id")
	s.change(w, r, id, engine.Input{Acknowledge: &engine.Acknowledge{Alert: id, By: short(said.By)}})
}

// shelve puts an alert away until a time.
func (s *Server) shelve(w http.ResponseWriter, r *http.Request) {
	var said struct {
		By    string    `json:"by"`
		Until time.Time `json:"until"`
	}
	if !s.body(w, r, &said, true) {
		return
	}
	if said.By == "" {
		said.By = s.auth.who(r)
	}
	id := r.PathValue("id")
	s.change(w, r, id, engine.Input{Shelve: &engine.Shelve{Alert: id, By: short(said.By), Until: said.Until}})
}

// service takes a sensor out of service, or puts it back.
func (s *Server) service(w http.ResponseWriter, r *http.Request) {
	var said struct {
		By  string `json:"by"`
		Out *bool  `json:"out"`
	}
	if !s.body(w, r, &said, true) {
		return
	}
	if said.Out == nil {
		s.fail(w, r, bad("out", "", "true to take it out of service, false to put it back"))
		return
	}
	if said.By == "" {
		said.By = s.auth.who(r)
	}
	name := r.PathValue("name")
	in := engine.Input{Service: &engine.Service{Sensor: name, Out: *said.Out, By: short(said.By)}}
	if err := s.daemon.Do(r.Context(), in); err != nil {
		s.failed(w, r, err)
		return
	}
	s.answer(w, http.StatusOK, map[string]string{"id": name})
}

// change an alert, and answer with it as it then stands.
func (s *Server) change(w http.ResponseWriter, r *http.Request, id string, in engine.Input) {
	if err := s.daemon.Do(r.Context(), in); err != nil {
		s.failed(w, r, err)
		return
	}
	for _, a := range s.daemon.View().Alerts {
		if a.ID == id {
			s.answer(w, http.StatusOK, a)
			return
		}
	}
	s.answer(w, http.StatusOK, map[string]string{"id": id})
}

// body reads strict JSON into v: unknown fields and anything behind the value
// are refused. It may be absent unless demanded. False = answered already.
func (s *Server) body(w http.ResponseWriter, r *http.Request, v any, demanded bool) bool {
	b, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
	if err != nil {
		s.fail(w, r, unread(err))
		return false
	}
	if len(bytes.TrimSpace(b)) == 0 && !demanded {
		return true
	}
	if kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type")); kind != "application/json" {
		s.fail(w, r, problem{Status: http.StatusUnsupportedMediaType, Detail: "the body must be JSON",
			Errors: []fieldFault{{Field: "Content-Type", Value: short(r.Header.Get("Content-Type")), Detail: "application/json"}}})
		return false
	}
	if err := strict(b, v); err != nil {
		s.fail(w, r, undecoded(b, err))
		return false
	}
	return true
}

func strict(b []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return errors.New("there is more behind the JSON value")
	}
	return nil
}

func unread(err error) problem {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return problem{Status: http.StatusRequestEntityTooLarge, Detail: fmt.Sprintf("the body is larger than %d bytes", large.Limit)}
	}
	return problem{Status: http.StatusBadRequest, Detail: "the body could not be read to its end"}
}

// undecoded says which field of a body is wrong, where that is known.
func undecoded(b []byte, err error) problem {
	var kind *json.UnmarshalTypeError
	if errors.As(err, &kind) {
		return bad(kind.Field, kind.Value, "should be a "+plain(kind.Type.Kind().String()))
	}
	if name, ok := strings.CutPrefix(err.Error(), "json: unknown field "); ok {
		return bad(strings.Trim(name, `"`), "", "there is no such field; see the lot document in the manual")
	}
	var syntax *json.SyntaxError
	if errors.As(err, &syntax) {
		line := 1 + bytes.Count(b[:min(int(syntax.Offset), len(b))], []byte("\n"))
		return problem{Status: http.StatusBadRequest, Detail: fmt.Sprintf("line %d is no JSON: %v", line, err)}
	}
	return problem{Status: http.StatusBadRequest, Detail: "the body is no JSON as it should be: " + strings.TrimPrefix(err.Error(), "json: ")}
}

// plain is a kind of Go value in a user's words.
func plain(kind string) string {
	switch kind {
	case "float64", "float32":
		return "number"
	case "int", "int64":
		return "whole number"
	case "struct", "map":
		return "group of fields"
	case "slice":
		return "list"
	case "string":
		return "text"
	}
	return kind
}
