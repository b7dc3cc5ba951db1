package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/model"
)

//go:embed page
var pageFiles embed.FS

var pages = template.Must(template.ParseFS(pageFiles, "page/*.html"))

// frame is what every page has around it.
type frame struct {
	Title   string
	Site    string
	AsOf    string // instant of the view
	Refresh bool   // reload by itself where no script runs
	Guarded bool   // there is a login to leave
	Version string
	Assets  string // hash of script and style
	Zone    string // whose time it shows
}

type homeData struct {
	frame
	Alerts  []alertBox
	Lots    []card
	Closed  []card
	Sensors []sensorRow
	Parts   []partRow
	Trouble []partRow // those that are not well
}

// partRow is a part of the daemon, well or not.
type partRow struct {
	Name, State, Problem string
	OK                   bool
}

func (s *Server) teller() teller { return teller{now: s.daemon.Health().Now, loc: s.config.Location} }

func (s *Server) frame(title string, t teller, v *engine.View) frame {
	return frame{Title: title, Site: s.config.Site, AsOf: t.moment(v.Time) + " (" + t.ago(v.Time) + ")", Guarded: !s.auth.open(),
		Version: s.daemon.Health().Version, Assets: assets, Zone: s.config.Location.String()}
}

func (s *Server) homePage(w http.ResponseWriter, r *http.Request) {
	v, h := s.daemon.View(), s.daemon.Health()
	t := s.teller()
	d := homeData{frame: s.frame("conditiond", t, v), Parts: t.parts(h)}
	d.Refresh = true
	if n := len(v.Alerts); n > 0 {
		d.Title = fmt.Sprintf("(%d) conditiond", n)
	}
	for _, a := range v.Alerts {
		d.Alerts = append(d.Alerts, t.alert(v, a))
	}
	for _, l := range v.Lots {
		if c := t.card(v, l); c.Closed {
			d.Closed = append(d.Closed, c)
		} else {
			d.Lots = append(d.Lots, c)
		}
	}
	for _, x := range v.Sensors {
		d.Sensors = append(d.Sensors, t.sensor(x))
	}
	d.Trouble = unwell(d.Parts)
	s.render(w, http.StatusOK, "home.html", d)
}

// parts of the daemon and how they are.
func (t teller) parts(h Health) []partRow {
	rows := []partRow{t.part("Broker", "connected", h.Broker), t.part("Journal", "written", h.Journal), t.part("Clock", "trusted", h.Clock)}
	for _, f := range h.Followers {
		state := "up to date"
		if f.Behind > 0 {
			state = fmt.Sprintf("%d not carried yet", f.Behind)
		}
		if f.Problem != "" && !f.Since.IsZero() {
			state += ", since " + t.moment(f.Since)
		}
		rows = append(rows, partRow{Name: f.Name, State: state, Problem: f.Problem, OK: f.Problem == ""})
	}
	return rows
}

func (t teller) part(name, well string, p Part) partRow {
	row := partRow{Name: name, State: well, Problem: p.Problem, OK: p.OK && p.Problem == ""}
	if !p.OK {
		row.State = "not " + well
	}
	if !p.Since.IsZero() {
		row.State += " since " + t.moment(p.Since)
	}
	return row
}

func unwell(parts []partRow) []partRow {
	var rows []partRow
	for _, p := range parts {
		if !p.OK {
			rows = append(rows, p)
		}
	}
	return rows
}

type lotData struct {
	frame
	Card    card
	Alerts  []alertBox
	Charts  []chart
	Spans   []spanLink
	Trouble string // why there is no chart
	Record  []recordRow
	Facts   []fact

	Chillable, Closable bool
}

type spanLink struct {
	Words, Href string
	Current     bool
}

// recordRow is a line of what was seen, done and said of a lot.
type recordRow struct {
	At, Text string
	at       time.Time
}

// fact is a line of the lot's document.
type fact struct{ Name, Value string }

// chartPoints are as many as a chart's plane can show.
const chartPoints = 400

func (s *Server) lotPage(w http.ResponseWriter, r *http.Request) {
	v := s.daemon.View()
	l, ok := findLot(v, r.PathValue("id"))
	if !ok {
		s.fail(w, r, noLot(r.PathValue("id")))
		return
	}
	t := s.teller()
	d := lotData{frame: s.frame(l.Document.Name, t, v), Card: t.card(v, l), Facts: t.facts(l.Document)}
	d.Card.Full = true
	for _, a := range l.Alerts {
		d.Alerts = append(d.Alerts, t.alert(v, a))
	}
	d.Record = t.record(v, l)
	d.Chillable, d.Closable = l.ChilledAt == nil, l.ClosedAt == nil
	s.addCharts(&d, r, t, l)
	s.render(w, http.StatusOK, "lot.html", d)
}

func (s *Server) addCharts(d *lotData, r *http.Request, t teller, l engine.LotView) {
	days, _ := strconv.Atoi(r.URL.Query().Get("days"))
	d.Spans = spans(d.Card.Href, days)
	var from time.Time
	if days > 0 && days < 1000 {
		from = t.now.AddDate(0, 0, -days)
	}
	series, err := s.daemon.Series(r.Context(), l.Document.ID, from, time.Time{}, chartPoints)
	if err != nil {
		s.log.Warn("web: no chart", "lot", l.Document.ID, "error", err)
		d.Trouble = "The readings could not be fetched from the journal; the daemon's log says why."
		return
	}
	var marks []time.Time
	for _, n := range l.Notes {
		marks = append(marks, n.At)
	}
	d.Charts = t.charts(series, l.Document, l.LimitBar, marks)
}

func spans(href string, days int) []spanLink {
	var links []spanLink
	for _, l := range []struct {
		words string
		days  int
	}{{"2 days", 2}, {"7 days", 7}, {"all of it", 0}} {
		link := spanLink{Words: l.words, Href: href, Current: l.days == days}
		if l.days > 0 {
			link.Href += fmt.Sprintf("?days=%d", l.days)
		}
		links = append(links, link)
	}
	return links
}

// record is all that is remembered of a lot, newest first.
func (t teller) record(v *engine.View, l engine.LotView) []recordRow {
	var rows []recordRow
	add := func(at *time.Time, text string) {
		if at != nil {
			rows = append(rows, recordRow{At: t.moment(*at), Text: text, at: *at})
		}
	}
	add(&l.OpenedAt, "Opened")
	add(l.ChilledAt, "Put in the cold")
	add(l.ClosedAt, "Closed")
	for _, n := range l.Notes {
		add(&n.At, n.Text)
	}
	for _, a := range v.Recent {
		if a.Lot == l.Document.ID {
			add(&a.Time, alertWords(a))
		}
	}
	slices.SortStableFunc(rows, func(a, b recordRow) int { return b.at.Compare(a.at) })
	return rows
}

func alertWords(a alerts.Alert) string {
	name := strings.ReplaceAll(string(a.Name), "-", " ")
	words := fmt.Sprintf("%s: %s, %s", mark(a.Severity), name, a.State)
	if a.By != "" {
		words += " by " + a.By
	}
	if a.State == alerts.Raised && a.Summary != "" {
		words += ". " + a.Summary
	}
	return words
}

func (t teller) facts(l model.Lot) []fact {
	facts := []fact{
		{"Packaged", t.moment(l.PackagedAt)},
		{"Space", l.Space},
		{"Yeast", strings.TrimSpace(string(l.Yeast) + " " + string(l.YeastState))},
		{"Beer", fmt.Sprintf("%g L, OG %.3f, FG %.3f", l.Beer.VolumeL, l.Beer.OriginalGravity, l.Beer.FinalGravity)},
		{"Target", volumes(aim(l)) + " volumes"},
	}
	for _, p := range l.Priming {
		facts = append(facts, fact{"Priming", priming(p)})
	}
	for _, b := range l.Bottles {
		facts = append(facts, fact{"Bottles", bottles(b)})
	}
	if g := l.GaugeBottle; g != nil {
		facts = append(facts, fact{"Test bottle", fmt.Sprintf("%g ml with %g ml headspace, sensor %s", g.VolumeML, g.HeadspaceML, g.Sensor)})
	}
	return append(facts, fact{"Warmest foreseen", celsius(float64(l.WorstCaseC))})
}

func priming(p model.Priming) string {
	switch {
	case p.VolumeL > 0:
		return fmt.Sprintf("%g L of %s at %.3f", p.VolumeL, p.Sugar, p.Gravity)
	case p.PerBottle > 0:
		return fmt.Sprintf("%g × %g g of %s a bottle", p.PerBottle, p.MassG, p.Sugar)
	}
	return fmt.Sprintf("%g g of %s", p.MassG, p.Sugar)
}

func bottles(b model.Bottles) string {
	s := fmt.Sprintf("%d × %s, %g ml", b.Count, b.Kind, b.VolumeML)
	switch {
	case b.RatedBar > 0:
		return s + ", rated " + bar(float64(b.RatedBar))
	case b.CeilingVolumes > 0:
		return s + ", ceiling " + volumes(float64(b.CeilingVolumes)) + " volumes"
	}
	return s + ", rating unknown: the kind's cautious one"
}

type loginData struct {
	frame
	Next  string
	Wrong string
}

func (s *Server) loginPage(w http.ResponseWriter, r *http.Request) {
	if s.auth.open() {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	s.renderLogin(w, http.StatusOK, ownPath(r.URL.Query().Get("next")), "")
}

func (s *Server) loginAgain(w http.ResponseWriter, r *http.Request, wait time.Duration) {
	status, wrong := http.StatusUnauthorized, "The password is wrong."
	if wait > 0 {
		seconds := strconv.Itoa(int(wait.Seconds()) + 1)
		w.Header().Set("Retry-After", seconds)
		status, wrong = http.StatusTooManyRequests, "Too many wrong passwords. Try again in "+seconds+" s."
	} else {
		s.log.Warn("web: wrong password", "from", address(r))
	}
	s.renderLogin(w, status, ownPath(r.PostForm.Get("next")), wrong)
}

// renderLogin tells nothing of the site: anybody may see it.
func (s *Server) renderLogin(w http.ResponseWriter, status int, next, wrong string) {
	s.render(w, status, "login.html", loginData{frame: frame{Title: "Log in · conditiond", Assets: assets}, Next: next, Wrong: wrong})
}

type problemData struct {
	frame
	Problem problem
}

func (s *Server) problemPage(w http.ResponseWriter, p problem) {
	s.render(w, p.Status, "problem.html", problemData{frame: frame{Title: p.Title + " · conditiond", Assets: assets}, Problem: p})
}

// render writes a page whole or not at all.
func (s *Server) render(w http.ResponseWriter, status int, name string, data any) {
	var b bytes.Buffer
	if err := pages.ExecuteTemplate(&b, name, data); err != nil {
		s.log.Error("web: page can't be written", "page", name, "error", err)
		http.Error(w, "the page could not be written; the daemon's log says why", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Length", strconv.Itoa(b.Len()))
	w.WriteHeader(status)
	_, err := w.Write(b.Bytes())
	s.sent(err)
}

// assets changes whenever script or style do, so browsers may keep them.
var assets = hashOf("page/page.css", "page/page.js")

func hashOf(names ...string) string {
	sum := sha256.New()
	for _, n := range names {
		b, err := pageFiles.ReadFile(n)
		if err != nil {
			panic(err) // embedded: a bug of the build
		}
		sum.Write(b)
	}
	return hex.EncodeToString(sum.Sum(nil)[:6])
}

// mediaType of an embedded file that browsers may fetch; empty for others.
func mediaType(name string) string {
	switch name {
	case "page.css":
		return "text/css; charset=utf-8"
	case "page.js":
		return "text/javascript; charset=utf-8"
	case "mark.svg":
		return "image/svg+xml"
	}
	return ""
}

func (s *Server) static(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("file")
	kind := mediaType(name)
	if kind == "" {
		s.fail(w, r, problem{Status: http.StatusNotFound, Detail: "there is nothing at " + r.URL.Path})
		return
	}
	b, err := pageFiles.ReadFile("page/" + name)
	if err != nil {
		s.failed(w, r, err)
		return
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	_, err = w.Write(b)
	s.sent(err)
}
