package web

import (
	"net/http"
	"strconv"
	"time"

	"conditiond/model/estimate"
)

// whatIfAnswer is a lot's estimate beside what it would be.
type whatIfAnswer struct {
	Lot    string             `json:"lot"`
	AtC    float64            `json:"at_c"`
	From   *time.Time         `json:"from"`  // null = from now on
	Until  *time.Time         `json:"until"` // null = for good
	AsItIs *estimate.Estimate `json:"as_it_is"`
	WhatIf *estimate.Estimate `json:"what_if"` // null where nothing is known yet
}

// Temperatures that can be asked for, in °C: where beer is liquid and yeast
// isn't killed at once.
const (
	coldest = -2.0
	hottest = 45.0
)

// whatIf answers what a lot would come to at another temperature.
func (s *Server) whatIf(w http.ResponseWriter, r *http.Request) {
	l, ok := findLot(s.daemon.View(), r.PathValue("id"))
	if !ok {
		s.fail(w, r, noLot(r.PathValue("id")))
		return
	}
	at, err := strconv.ParseFloat(r.URL.Query().Get("at"), 64)
	if err != nil || !(at >= coldest && at <= hottest) {
		s.fail(w, r, bad("at", r.URL.Query().Get("at"), "a temperature in °C, from -2 to 45"))
		return
	}
	spell := estimate.Spell{AtC: at}
	for name, to := range map[string]*time.Time{"from": &spell.From, "until": &spell.Until} {
		v := r.URL.Query().Get(name)
		if v == "" {
			continue
		}
		if *to, err = time.Parse(time.RFC3339, v); err != nil {
			s.fail(w, r, bad(name, v, "an RFC 3339 time, such as 2026-03-01T14:00:00Z"))
			return
		}
	}
	if !spell.Until.IsZero() && !spell.From.Before(spell.Until) {
		s.fail(w, r, bad("until", r.URL.Query().Get("until"), "later than from"))
		return
	}
	a := whatIfAnswer{Lot: l.Document.ID, AtC: at, From: orNull(spell.From), Until: orNull(spell.Until), AsItIs: l.Estimate}
	if l.Prospect != nil && l.Estimate != nil {
		then := l.Prospect.WhatIf(spell)
		then.Phase = l.Estimate.Phase
		a.WhatIf = &then
	}
	s.answer(w, http.StatusOK, a)
}

func orNull(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = t.UTC()
	return &t
}
