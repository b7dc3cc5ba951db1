package web

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/model"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

const (
	defaultReadings = 1000
	maxReadings     = 100_000
	defaultPoints   = 500
	maxPoints       = 5000
)

// lotAnswer is a lot as the API shows it.
type lotAnswer struct {
	ID string `json:"id"`
	engine.LotView
}

func answerOf(l engine.LotView) lotAnswer {
	l.Alerts = append([]alerts.Alert{}, l.Alerts...) // [] rather than null
	l.Notes = append([]engine.NoteView{}, l.Notes...)
	return lotAnswer{ID: l.Document.ID, LotView: l}
}

func (s *Server) lots(w http.ResponseWriter, r *http.Request) {
	answer := []lotAnswer{}
	for _, l := range s.daemon.View().Lots {
		answer = append(answer, answerOf(l))
	}
	s.answerNew(w, r, answer)
}

func (s *Server) lot(w http.ResponseWriter, r *http.Request) {
	l, ok := findLot(s.daemon.View(), r.PathValue("id"))
	if !ok {
		s.fail(w, r, noLot(r.PathValue("id")))
		return
	}
	s.answerNew(w, r, answerOf(l))
}

func findLot(v *engine.View, id string) (engine.LotView, bool) {
	for _, l := range v.Lots {
		if l.Document.ID == id {
			return l, true
		}
	}
	return engine.LotView{}, false
}

func noLot(id string) problem {
	return problem{Status: http.StatusNotFound, Detail: "there is no lot of this id",
		Errors: []fieldFault{{Field: "id", Value: short(id), Detail: "GET /api/v1/lots lists those there are"}}}
}

func (s *Server) series(w http.ResponseWriter, r *http.Request) {
	from, to, ok := s.span(w, r)
	if !ok {
		return
	}
	points, ok := s.number(w, r, "points", defaultPoints, maxPoints)
	if !ok {
		return
	}
	series, err := s.daemon.Series(r.Context(), r.PathValue("id"), from, to, points)
	if errors.Is(err, ErrNotFound) {
		s.fail(w, r, noLot(r.PathValue("id")))
		return
	}
	if err != nil {
		s.failed(w, r, err)
		return
	}
	series.Estimates = append([]Point{}, series.Estimates...)
	series.Temperature = append([]Sample{}, series.Temperature...)
	series.Pressure = append([]Sample{}, series.Pressure...)
	s.answer(w, http.StatusOK, series)
}

// readingAnswer has the value under the name that carries its unit.
type readingAnswer struct {
	Time         time.Time      `json:"time"`
	Sensor       string         `json:"sensor"`
	Quantity     model.Quantity `json:"quantity"`
	TemperatureC *float64       `json:"temperature_c,omitempty"`
	PressureBar  *float64       `json:"pressure_bar,omitempty"` // gauge
}

func (s *Server) readings(w http.ResponseWriter, r *http.Request) {
	sensor := r.URL.Query().Get("sensor")
	if sensor == "" {
		s.fail(w, r, bad("sensor", "", "name a sensor of the configuration"))
		return
	}
	from, to, ok := s.span(w, r)
	if !ok {
		return
	}
	limit, ok := s.number(w, r, "limit", defaultReadings, maxReadings)
	if !ok {
		return
	}
	readings, err := s.daemon.Readings(r.Context(), sensor, from, to, limit)
	if errors.Is(err, ErrNotFound) {
		s.fail(w, r, problem{Status: http.StatusNotFound, Detail: "there is no sensor of this name",
			Errors: []fieldFault{{Field: "sensor", Value: short(sensor), Detail: "name a sensor of the configuration"}}})
		return
	}
	if err != nil {
		s.failed(w, r, err)
		return
	}
	if n := len(readings); n == limit && !from.IsZero() {
		w.Header().Set("Link", "<"+nextPage(r.URL, readings[n-1].At)+`>; rel="next"`)
	}
	s.answer(w, http.StatusOK, readingAnswers(readings))
}

// nextPage asks the same from behind the last instant that was answered.
func nextPage(asked *url.URL, last time.Time) string {
	q := asked.Query()
	q.Set("from", last.Add(1).UTC().Format(time.RFC3339Nano))
	return asked.Path + "?" + q.Encode()
}

func readingAnswers(readings []model.Reading) []readingAnswer {
	answer := make([]readingAnswer, 0, len(readings))
	for _, r := range readings {
		a := readingAnswer{Time: r.At.UTC(), Sensor: r.Sensor, Quantity: r.Quantity}
		if r.Quantity == model.Pressure {
			a.PressureBar = &r.Value
		} else {
			a.TemperatureC = &r.Value
		}
		answer = append(answer, a)
	}
	return answer
}

// span reads from and to; an absent one is zero.
func (s *Server) span(w http.ResponseWriter, r *http.Request) (from, to time.Time, ok bool) {
	for _, p := range []struct {
		name string
		to   *time.Time
	}{{"from", &from}, {"to", &to}} {
		v := r.URL.Query().Get(p.name)
		if v == "" {
			continue
		}
		t, err := time.Parse(time.RFC3339, v)
		if err != nil {
			s.fail(w, r, bad(p.name, v, "an RFC 3339 time, such as 2026-03-01T14:00:00Z"))
			return from, to, false
		}
		*p.to = t.UTC()
	}
	if !from.IsZero() && !to.IsZero() && !from.Before(to) {
		s.fail(w, r, bad("to", r.URL.Query().Get("to"), "later than from"))
		return from, to, false
	}
	return from, to, true
}

// number reads a whole number from 1 to most.
func (s *Server) number(w http.ResponseWriter, r *http.Request, name string, absent, most int) (int, bool) {
	v := r.URL.Query().Get(name)
	if v == "" {
		return absent, true
	}
	n, err := strconv.Atoi(v)
	if err != nil || n < 1 || n > most {
		s.fail(w, r, bad(name, v, "a whole number from 1 to "+strconv.Itoa(most)))
		return 0, false
	}
	return n, true
}

func (s *Server) alerts(w http.ResponseWriter, r *http.Request) {
	s.answer(w, http.StatusOK, append([]alerts.Alert{}, s.daemon.View().Alerts...))
}

// healthz says that the process lives and can answer.
func (s *Server) healthz(w http.ResponseWriter, r *http.Request) {
	s.answer(w, http.StatusOK, map[string]string{"status": "lives"})
}

// readyz says whether readings come in and are kept. Why not is told on the
// page, to those who may see it.
func (s *Server) readyz(w http.ResponseWriter, r *http.Request) {
	h := s.daemon.Health()
	if h.Ready {
		s.answer(w, http.StatusOK, map[string]string{"status": "ready"})
		return
	}
	s.answer(w, http.StatusServiceUnavailable, map[string]any{"status": "not ready", "subscribed": h.Broker.OK, "watching": h.Watch.OK, "journalling": h.Journal.OK})
}

func metrics(g prometheus.Gatherer) http.Handler {
	return promhttp.HandlerFor(g, promhttp.HandlerOpts{EnableOpenMetrics: true, MaxRequestsInFlight: 4, Timeout: 10 * time.Second})
}
