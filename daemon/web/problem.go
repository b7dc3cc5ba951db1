package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"unicode/utf8"

	"conditiond/daemon/engine"
)

// problem is an answer of RFC 9457.
type problem struct {
	Type   string       `json:"type"`
	Title  string       `json:"title"`
	Status int          `json:"status"`
	Detail string       `json:"detail,omitempty"`
	Errors []fieldFault `json:"errors,omitempty"`
}

// fieldFault names a field, what came in it, and what would be right.
type fieldFault struct {
	Field  string `json:"field"`
	Value  string `json:"value,omitempty"`
	Detail string `json:"detail"`
}

// bad is a request at fault in one field.
func bad(field, value, right string) problem {
	return problem{Status: http.StatusBadRequest, Detail: field + ": " + right,
		Errors: []fieldFault{{Field: field, Value: short(value), Detail: right}}}
}

// short keeps an echoed value to a readable length.
func short(v string) string {
	const most = 120
	if utf8.RuneCountInString(v) <= most {
		return v
	}
	return string([]rune(v)[:most]) + "…"
}

// isAPI is whether a program asks, rather than a person at the page.
func isAPI(r *http.Request) bool {
	return strings.HasPrefix(r.URL.Path, "/api/") || r.URL.Path == "/metrics" ||
		r.URL.Path == "/healthz" || r.URL.Path == "/readyz"
}

// fail answers with a problem: JSON to programs, a page to people.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, p problem) {
	p.Type, p.Title = "about:blank", http.StatusText(p.Status)
	if !isAPI(r) {
		s.problemPage(w, p)
		return
	}
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(p.Status)
	s.sent(json.NewEncoder(w).Encode(p))
}

// failed answers with what the daemon returned.
func (s *Server) failed(w http.ResponseWriter, r *http.Request, err error) {
	s.fail(w, r, s.problemOf(err))
}

func (s *Server) problemOf(err error) problem {
	var lot *LotFault
	var unfit *engine.Unfit
	switch {
	case errors.As(err, &lot):
		return lotProblem(lot)
	case errors.As(err, &unfit):
		return bad(unfit.Field, unfit.Value, unfit.Right)
	case errors.Is(err, ErrNotFound):
		return problem{Status: http.StatusNotFound, Detail: err.Error()}
	case errors.Is(err, ErrConflict):
		return problem{Status: http.StatusConflict, Detail: err.Error()}
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return problem{Status: http.StatusServiceUnavailable, Detail: "the daemon did not answer in time; whether it took effect shows on the page"}
	}
	s.log.Error("web request failed", "error", err)
	return problem{Status: http.StatusInternalServerError, Detail: "it could not be done; the daemon's log says why"}
}

func lotProblem(lot *LotFault) problem {
	p := problem{Status: http.StatusUnprocessableEntity, Detail: fmt.Sprintf("the lot document has %d faults", len(lot.Faults))}
	if len(lot.Faults) == 1 {
		p.Detail = "the lot document has a fault"
	}
	for _, f := range lot.Faults {
		p.Errors = append(p.Errors, fieldFault{Field: f.Path, Detail: f.Problem})
	}
	return p
}

// answer sends JSON.
func (s *Server) answer(w http.ResponseWriter, status int, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		s.log.Error("web answer can't be written as JSON", "error", err)
		http.Error(w, "it could not be written as JSON", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Content-Length", strconv.Itoa(len(b)+1))
	w.WriteHeader(status)
	_, err = w.Write(append(b, '\n'))
	s.sent(err)
}

// sent notes an answer that did not arrive: nobody else can act on it.
func (s *Server) sent(err error) {
	if err != nil {
		s.log.Debug("web answer not delivered", "error", err)
	}
}
