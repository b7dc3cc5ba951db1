package web

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/model"
	"conditiond/model/estimate"
)

// record is what remains of a closed lot: what was planned, what came out, what
// people saw.
type record struct {
	Lot          string             `json:"lot"`
	Name         string             `json:"name"`
	Space        string             `json:"space"`
	PackagedAt   time.Time          `json:"packaged_at"`
	ChilledAt    *time.Time         `json:"chilled_at"`
	ClosedAt     time.Time          `json:"closed_at"`
	Bottles      int                `json:"bottles"`
	BeerL        float64            `json:"beer_l"`
	Priming      []model.Priming    `json:"priming"`
	Target       float64            `json:"target_volumes"` // for a live drink, where it was to be stopped
	CO2Volumes   *estimate.Interval `json:"co2_volumes"`    // by the last estimate
	FinalVolumes *estimate.Interval `json:"final_volumes"`
	ReadyAt      *estimate.When     `json:"ready_at"`       // by the last estimate
	ReadyNotedAt *time.Time         `json:"ready_noted_at"` // when a person opened one and found it ready; null = nobody said
	ReadyNotedD  *float64           `json:"ready_noted_after_d"`
	Notes        []engine.NoteView  `json:"notes"`
}

// recordsOf the closed lots of a view, in its order.
func recordsOf(v *engine.View) []record {
	all := []record{}
	for _, l := range v.Lots {
		if l.ClosedAt != nil {
			all = append(all, recordOf(l))
		}
	}
	return all
}

func recordOf(l engine.LotView) record {
	d := l.Document
	r := record{Lot: d.ID, Name: d.Name, Space: d.Space, PackagedAt: d.PackagedAt.UTC(), ClosedAt: l.ClosedAt.UTC(), BeerL: float64(d.Beer.VolumeL),
		Priming: append([]model.Priming{}, d.Priming...), Target: aim(d), Notes: append([]engine.NoteView{}, l.Notes...)}
	for _, b := range d.Bottles {
		r.Bottles += b.Count
	}
	if l.ChilledAt != nil {
		r.ChilledAt = orNull(*l.ChilledAt)
	}
	if e := l.Estimate; e != nil {
		r.CO2Volumes, r.FinalVolumes, r.ReadyAt = e.CO2Volumes, e.FinalVolumes, e.ReadyAt
	}
	for _, n := range l.Notes {
		if n.Saw == alerts.OpenedReady && (r.ReadyNotedAt == nil || n.At.Before(*r.ReadyNotedAt)) {
			r.ReadyNotedAt = orNull(n.At)
		}
	}
	if w := r.ReadyAt; w != nil && w.P50 != nil && r.ReadyNotedAt != nil {
		days := float64(r.ReadyNotedAt.Sub(*w.P50).Round(time.Hour)/time.Hour) / 24
		r.ReadyNotedD = &days
	}
	return r
}

func (s *Server) records(w http.ResponseWriter, r *http.Request) {
	s.answerNew(w, r, recordsOf(s.daemon.View()))
}

// recordsTable is the same for a spreadsheet, a line a lot.
func (s *Server) recordsTable(w http.ResponseWriter, r *http.Request) {
	var b bytes.Buffer
	c := csv.NewWriter(&b)
	rows := [][]string{recordHead()}
	for _, x := range recordsOf(s.daemon.View()) {
		rows = append(rows, x.row())
	}
	if err := c.WriteAll(rows); err != nil {
		s.failed(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="conditiond-records.csv"`)
	w.Header().Set("Content-Length", strconv.Itoa(b.Len()))
	_, err := w.Write(b.Bytes())
	s.sent(err)
}

func recordHead() []string {
	return strings.Split("lot,name,space,packaged_at,chilled_at,closed_at,bottles,beer_l,priming,target_volumes,"+
		"co2_volumes_p05,co2_volumes_p50,co2_volumes_p95,final_volumes_p05,final_volumes_p50,final_volumes_p95,"+
		"ready_at_p05,ready_at_p50,ready_at_p95,ready_noted_at,ready_noted_after_d,notes", ",")
}

func (r record) row() []string {
	row := []string{r.Lot, cell(r.Name), r.Space, stamp(&r.PackagedAt), stamp(r.ChilledAt), stamp(&r.ClosedAt), strconv.Itoa(r.Bottles),
		figure(&r.BeerL), primed(r.Priming), figure(&r.Target)}
	for _, i := range []*estimate.Interval{r.CO2Volumes, r.FinalVolumes} {
		if i == nil {
			row = append(row, "", "", "")
			continue
		}
		row = append(row, figure(&i.P05), figure(&i.P50), figure(&i.P95))
	}
	ready := r.ReadyAt
	if ready == nil {
		ready = &estimate.When{}
	}
	row = append(row, stamp(ready.P05), stamp(ready.P50), stamp(ready.P95), stamp(r.ReadyNotedAt), figure(r.ReadyNotedD))
	var notes []string
	for _, n := range r.Notes {
		notes = append(notes, stamp(&n.At)+" "+n.Text)
	}
	return append(row, cell(strings.Join(notes, "\n")))
}

// cell is a text that a spreadsheet doesn't take for a formula (OWASP, CSV
// injection, from memory).
func cell(text string) string {
	if strings.ContainsAny(text[:min(1, len(text))], "=+-@\t\r") {
		return "'" + text
	}
	return text
}

func stamp(at *time.Time) string {
	if at == nil {
		return ""
	}
	return at.UTC().Format(time.RFC3339)
}

func figure(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'f', -1, 64)
}

func primed(list []model.Priming) string {
	var words []string
	for _, p := range list {
		words = append(words, priming(p))
	}
	return strings.Join(words, "; ")
}

type recordsData struct {
	frame
	Records []recordBox
	Open    int // lots that are still watched
}

// recordBox is a record in words.
type recordBox struct {
	Name, Href string
	Facts      []fact
	Seen       []recordRow
}

func (s *Server) recordsPage(w http.ResponseWriter, r *http.Request) {
	v, t := s.daemon.View(), s.tellerTo(r)
	d := recordsData{frame: s.frame(recordsTitle, t, v)}
	for _, x := range recordsOf(v) {
		d.Records = append(d.Records, t.recordBox(x))
	}
	d.Open = len(v.Lots) - len(d.Records)
	s.render(w, http.StatusOK, "records.html", d)
}

func (t teller) recordBox(r record) recordBox {
	b := recordBox{Name: r.Name, Href: "/lots/" + url.PathEscape(r.Lot)}
	if b.Name == "" {
		b.Name = r.Lot
	}
	say := func(name, value string) { b.Facts = append(b.Facts, fact{name, value}) }
	say("Filled", fmt.Sprintf("%s, %d bottles, %g L", t.day(r.PackagedAt), r.Bottles, r.BeerL))
	say("Planned", strings.TrimSuffix(t.gas().words(r.Target)+", "+primed(r.Priming), ", "))
	say("Came out", t.cameOut(r.CO2Volumes))
	if m := t.pulls(r.Notes); m != "" {
		say("Measured in bottles", m)
	}
	say("Ready, reckoned", t.reckoned(r.ReadyAt))
	say("Ready, noted", t.noted(r))
	if r.ChilledAt != nil {
		say("Put in the cold", t.day(*r.ChilledAt))
	}
	say("Closed", t.day(r.ClosedAt))
	for _, n := range r.Notes {
		if n.Saw != "" {
			b.Seen = append(b.Seen, recordRow{At: t.moment(n.At), Text: n.Text})
		}
	}
	return b
}

// pulls are what was measured in bottles, one after the other.
func (t teller) pulls(notes []engine.NoteView) string {
	var all []string
	for _, n := range notes {
		if n.Volumes != nil {
			all = append(all, t.volumes(float64(*n.Volumes)))
		}
	}
	if len(all) == 0 {
		return ""
	}
	return strings.Join(all, ", ") + " " + t.gas().Sign
}

func (t teller) cameOut(i *estimate.Interval) string {
	if i == nil {
		return "nobody knows: nothing was heard"
	}
	return t.gas().words(i.P50) + " (" + between(*i, t.volumes) + ")"
}

func (t teller) reckoned(w *estimate.When) string {
	if w == nil || w.P50 == nil {
		return "not known"
	}
	s := t.day(*w.P50)
	if w.P05 != nil && w.P95 != nil && t.day(*w.P05) != t.day(*w.P95) {
		s += " (" + t.day(*w.P05) + " to " + t.day(*w.P95) + ")"
	}
	return s
}

// noted says when a person found it ready, and how far that is from what was
// reckoned.
func (t teller) noted(r record) string {
	if r.ReadyNotedAt == nil {
		return "nobody said"
	}
	s := t.day(*r.ReadyNotedAt)
	switch d := r.ReadyNotedD; {
	case d == nil:
	case *d >= 0.5:
		s += ", " + daysOff(*d) + " after"
	case *d <= -0.5:
		s += ", " + daysOff(-*d) + " before"
	default:
		s += ", the same day"
	}
	return s
}

func daysOff(d float64) string {
	if d < 1.5 {
		return "1 day"
	}
	return fmt.Sprintf("%.0f days", d)
}
