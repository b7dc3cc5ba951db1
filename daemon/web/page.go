package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"html/template"
	"net/http"
	"strconv"
	"strings"

	"conditiond/daemon/engine"
)

//go:embed page
var pageFiles embed.FS

// style stands in the page itself: to fetch it would hold up the first paint by
// a round trip.
var style = template.CSS(embedded("page/page.css"))

var pages = template.Must(template.New("").Funcs(template.FuncMap{"style": func() template.CSS { return style }}).ParseFS(pageFiles, "page/*.html"))

func embedded(name string) []byte {
	b, err := pageFiles.ReadFile(name)
	if err != nil {
		panic(err) // a bug of the build
	}
	return b
}

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
	Places  []spanLink
	Drawing bool // a script draws the charts
}

// teller tells things as they are now, at the site.
func (s *Server) teller() teller { return teller{now: s.daemon.Health().Now, loc: s.config.Location} }

// tellerTo tells them to somebody, as they chose.
func (s *Server) tellerTo(r *http.Request) teller {
	t := s.teller()
	who, loc := s.reader(r)
	t.units, t.loc = who.units, loc
	return t
}

func (s *Server) frame(title string, t teller, v *engine.View) frame {
	return frame{Title: title, Site: s.config.Site, AsOf: t.moment(v.Time) + " (" + t.ago(v.Time) + ")", Guarded: !s.auth.open(),
		Version: s.daemon.Health().Version, Assets: assets, Zone: t.loc.String(), Places: places(title)}
}

// places are the pages that every page leads to.
func places(title string) []spanLink {
	all := []spanLink{{Words: "Lots", Href: "/"}, {Words: "Plan", Href: "/plan"}, {Words: "Records", Href: "/records"}, {Words: "Settings", Href: "/settings"}}
	for i, name := range []string{homeTitle, planTitle, recordsTitle, settingsTitle} {
		all[i].Current = name == title
	}
	return all
}

// Titles of the pages that have a place of their own.
const (
	homeTitle     = "conditiond"
	planTitle     = "Bottling day"
	recordsTitle  = "Records"
	settingsTitle = "Settings"
)

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

// assets changes whenever a file that browsers may fetch does, so they may keep
// them.
var assets = hashOf("page/page.js", "page/chart.js", "page/mark.svg", "page/mark-180.png", "page/mark-192.png", "page/mark-512.png",
	"page/app.webmanifest", "page/uplot/uPlot.iife.min.js", "page/uplot/uPlot.min.css")

func hashOf(names ...string) string {
	sum := sha256.New()
	for _, n := range names {
		sum.Write(embedded(n))
	}
	return hex.EncodeToString(sum.Sum(nil)[:6])
}

// mediaType of an embedded file that browsers may fetch; empty for others.
func mediaType(name string) string {
	switch name {
	case "page.js", "chart.js", "uPlot.iife.min.js":
		return "text/javascript; charset=utf-8"
	case "uPlot.min.css":
		return "text/css; charset=utf-8"
	case "mark.svg":
		return "image/svg+xml"
	case "mark-180.png", "mark-192.png", "mark-512.png":
		return "image/png"
	case "app.webmanifest":
		return "application/manifest+json"
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
	if strings.HasPrefix(name, "uPlot.") {
		name = "uplot/" + name
	}
	b, err := pageFiles.ReadFile("page/" + name)
	if err != nil {
		s.failed(w, r, err)
		return
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Length", strconv.Itoa(len(b)))
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	_, err = w.Write(b)
	s.sent(err)
}
