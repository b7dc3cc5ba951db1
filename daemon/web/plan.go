package web

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"time"

	"conditiond/daemon/engine"
	"conditiond/model"
	"conditiond/model/plan"
)

type planData struct {
	frame
	Groups   []fieldGroup
	Problems []planFault // all of them, for the list at the top
	Notice   string
	Sheet    template.HTML // empty before there is a plan
	Hold     bool
	Known    bool  // what went in stands in the form
	Added    field // what really went in, as proposed
	ID       string
	Filled   string // in which units and in whose time
	Seen     string // mark of the lot that the sheet is about
}

// planFault is what is wrong with a field; one without a name has none.
type planFault struct{ Name, Label, Problem string }

// plan answers a lot's document with its plan.
func (s *Server) plan(w http.ResponseWriter, r *http.Request) {
	var lot model.Lot
	if !s.body(w, r, &lot, true) {
		return
	}
	if faults := plan.Check(lot); len(faults) > 0 {
		s.failed(w, r, &LotFault{faults})
		return
	}
	p, err := plan.New(lot, s.site(lot.Space))
	if err != nil {
		s.failed(w, r, err)
		return
	}
	s.answer(w, http.StatusOK, p)
}

// site is where a lot will stand, as warm as it is there now.
func (s *Server) site(space string) plan.Site {
	site := plan.Site{AltitudeM: s.config.Altitude}
	for _, x := range s.daemon.View().Sensors {
		if x.Space == space && space != "" && x.Quantity == model.Temperature && x.Value != nil && *x.Value >= 1 && *x.Value <= 45 {
			site.RoomC = model.Celsius(math.Round(2**x.Value) / 2) // no more is known of the weeks to come
		}
	}
	return site
}

func (s *Server) planPage(w http.ResponseWriter, r *http.Request) {
	f := s.newPlanForm(r, nil)
	s.renderPlan(w, r, http.StatusOK, f, planData{})
}

// planForm plans what a form says, and opens the lot when that is asked for and
// the plan of this very lot was seen.
func (s *Server) planForm(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	f := s.newPlanForm(r, r.PostForm)
	opening := r.PostForm.Get("do") == "open"
	if opening {
		f.merge(r.PostForm.Get("added"))
	}
	lot := f.lot(s.daemon.View())
	if f.check(plan.Check(lot)); len(f.faults) > 0 {
		s.renderPlan(w, r, http.StatusUnprocessableEntity, f, planData{})
		return
	}
	p, err := plan.New(lot, s.site(lot.Space))
	if err != nil {
		s.failed(w, r, err)
		return
	}
	d := planData{Hold: p.Hold, ID: lot.ID, Known: f.amount() != "" || len(p.Priming) == 0, Added: f.added(p)}
	if d.Sheet, err = p.Sheet().Article(); err != nil {
		s.failed(w, r, err)
		return
	}
	d.Sheet = template.HTML(f.gloss(string(d.Sheet))) // digits and signs alone are added
	if f.amount() == "" {
		lot.Priming = proposed(lot, p)
	}
	d.Seen = seal(lot)
	switch {
	case opening && d.Seen == r.PostForm.Get("seen"):
		s.openPlanned(w, r, f, d, lot)
	case opening:
		d.Notice = "Something is different from the plan you saw. Look at this one, then open the lot."
		s.renderPlan(w, r, http.StatusConflict, f, d)
	default:
		s.renderPlan(w, r, http.StatusOK, f, d)
	}
}

// openPlanned takes the way of every opened lot.
func (s *Server) openPlanned(w http.ResponseWriter, r *http.Request, f *planForm, d planData, lot model.Lot) {
	if lot.PackagedAt.IsZero() {
		lot.PackagedAt = s.daemon.Health().Now.UTC().Truncate(time.Minute)
	}
	err := s.daemon.Do(r.Context(), engine.Input{Open: &engine.Open{Lot: lot}})
	var fault *LotFault
	switch {
	case errors.As(err, &fault):
		f.check(fault.Faults)
		s.renderPlan(w, r, http.StatusUnprocessableEntity, f, d)
	case errors.Is(err, ErrConflict):
		f.wrong("id", "is "+lot.ID+"; "+err.Error())
		s.renderPlan(w, r, http.StatusConflict, f, d)
	case err != nil:
		s.failed(w, r, err)
	default:
		http.Redirect(w, r, "/lots/"+url.PathEscape(lot.ID), http.StatusSeeOther)
	}
}

func (s *Server) renderPlan(w http.ResponseWriter, r *http.Request, status int, f *planForm, d planData) {
	t := s.tellerTo(r)
	d.Filled = f.filled()
	d.frame = s.frame(planTitle, t, s.daemon.View())
	d.Groups = f.groups(s.daemon.View())
	for _, g := range d.Groups {
		for _, x := range g.Fields {
			if x.Problem != "" {
				d.Problems = append(d.Problems, planFault{x.Name, x.Label, f.gloss(x.Problem)})
			}
		}
	}
	d.Problems = append(d.Problems, f.unplaced(d.Groups)...)
	s.render(w, status, "plan.html", d)
}

// proposed is the priming of the form with the amount that the plan gives it.
func proposed(l model.Lot, p *plan.Plan) []model.Priming {
	if len(p.Priming) == 0 {
		return nil
	}
	x, d := model.Priming{Sugar: p.Priming[0].Sugar}, p.Priming[0]
	if len(l.Priming) > 0 {
		x = l.Priming[0]
	}
	x.MassG, x.VolumeL, x.PerBottle = model.Grams(d.MassG), model.Litres(d.VolumeL), d.PerBottle
	return []model.Priming{x}
}

// seal marks a lot, but for when it was packaged.
func seal(l model.Lot) string {
	l.PackagedAt = time.Time{}
	b, err := json.Marshal(l)
	if err != nil {
		return "" // never: a checked lot has only numbers in it
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}
