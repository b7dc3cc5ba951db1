package web

import (
	"net/http"
	"time"

	"conditiond/model/estimate"
)

// forecastAnswer is what is expected of a lot, instant by instant.
type forecastAnswer struct {
	Lot   string           `json:"lot"`
	Time  *time.Time       `json:"time"` // of the estimate that it follows from; null before the first
	Ahead []estimate.Ahead `json:"ahead"`
}

// mostAhead is how far a forecast may be asked for, from now.
const mostAhead = 180 * 24 * time.Hour

// forecast answers with a lot's forecast: the fan on its chart. A closed lot has
// none, nor has one that was never heard.
func (s *Server) forecast(w http.ResponseWriter, r *http.Request) {
	l, ok := findLot(s.daemon.View(), r.PathValue("id"))
	if !ok {
		s.fail(w, r, noLot(r.PathValue("id")))
		return
	}
	points, ok := s.number(w, r, "points", fanPoints, 400)
	if !ok {
		return
	}
	now := s.daemon.Health().Now
	until := horizon(l, now, 0)
	if v := r.URL.Query().Get("until"); v != "" {
		at, err := time.Parse(time.RFC3339, v)
		if err != nil || !at.After(now) || at.Sub(now) > mostAhead {
			s.fail(w, r, bad("until", v, "an RFC 3339 time within the next 180 days"))
			return
		}
		until = at
	}
	a := forecastAnswer{Lot: l.Document.ID, Ahead: []estimate.Ahead{}}
	if l.Estimate != nil {
		a.Time = orNull(l.Estimate.Time)
	}
	if l.Prospect != nil && l.ClosedAt == nil {
		a.Ahead = append(a.Ahead, l.Prospect.Fan(until, points)...)
	}
	s.answer(w, http.StatusOK, a)
}
