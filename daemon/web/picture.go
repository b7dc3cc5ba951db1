package web

import (
	"bytes"
	"context"
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"time"

	"conditiond/daemon/engine"
	"conditiond/daemon/raster"
)

var pictures = template.Must(template.ParseFS(pageFiles, "page/chart.svg"))

// poster is a lot's charts as one SVG that stands alone.
type poster struct {
	Name, Stands, Said string
	Head               string // as much of the name as fits
	Panels             []panel
	Ready              string
	Events             []lettering // as they are numbered in the panels
	High, Last         int
}

// panel is a chart with its place and its lettering.
type panel struct {
	chart
	Caption, Top, Foot int
	Heights            []lettering
	Days               []lettering
	Said               []lettering // at the levels
	Tallies            []lettering // of the events
}

type lettering struct {
	At, Words, Anchor string
	Foot              int
}

const (
	panelsFrom = 100 // below the head
	panelHigh  = 280
	eventHigh  = 20
	headFits   = 60 // letters
)

// chartSVG answers with a lot's charts, as the page shows them, to be kept or
// sent.
func (s *Server) chartSVG(w http.ResponseWriter, r *http.Request) {
	s.answerPicture(w, r, "image/svg+xml", func(svg []byte) ([]byte, error) { return svg, nil })
}

// chartPNG answers with the same for what shows no SVG.
func (s *Server) chartPNG(w http.ResponseWriter, r *http.Request) {
	s.answerPicture(w, r, "image/png", raster.PNG)
}

func (s *Server) answerPicture(w http.ResponseWriter, r *http.Request, kind string, as func([]byte) ([]byte, error)) {
	l, ok := findLot(s.daemon.View(), r.PathValue("id"))
	if !ok {
		s.fail(w, r, noLot(r.PathValue("id")))
		return
	}
	from, to, ok := s.span(w, r)
	if !ok {
		return
	}
	b, err := s.picture(r.Context(), l, from, to)
	if err == nil {
		b, err = as(b)
	}
	if err != nil {
		s.failed(w, r, err)
		return
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Length", strconv.Itoa(len(b)))
	_, err = w.Write(b)
	s.sent(err)
}

// Picture is a lot's charts as PNG, as it goes out with notices. An unknown lot
// is ErrNotFound.
func (s *Server) Picture(ctx context.Context, lot string) ([]byte, error) {
	l, ok := findLot(s.daemon.View(), lot)
	if !ok {
		return nil, fmt.Errorf("lot %q: %w", lot, ErrNotFound)
	}
	svg, err := s.picture(ctx, l, time.Time{}, time.Time{})
	if err != nil {
		return nil, err
	}
	return raster.PNG(svg)
}

// picture of a lot as SVG, in the closet's units.
func (s *Server) picture(ctx context.Context, l engine.LotView, from, to time.Time) ([]byte, error) {
	t := s.teller()
	g, err := s.graph(ctx, t, l, from, to, 0)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := pictures.ExecuteTemplate(&b, "chart.svg", t.poster(g, l)); err != nil {
		return nil, fmt.Errorf("drawing lot %s: %w", l.Document.ID, err)
	}
	return b.Bytes(), nil
}

func (t teller) poster(g graph, l engine.LotView) poster {
	p := poster{Name: l.Document.Name, Stands: standing(l) + ", packaged " + t.moment(l.Document.PackagedAt),
		Said: "conditiond, " + t.moment(t.now) + ", times of " + t.loc.String() + ". Advice from one bottle and a thermometer."}
	if p.Name == "" {
		p.Name = l.Document.ID
	}
	p.Head = p.Name
	if letters := []rune(p.Name); len(letters) > headFits {
		p.Head = string(letters[:headFits]) + "…"
	}
	if g.Ready != nil {
		p.Ready = g.Ready.Words
	}
	for i, c := range t.charts(g) {
		p.Panels = append(p.Panels, placed(c, panelsFrom+i*panelHigh))
	}
	p.Last = panelsFrom + len(p.Panels)*panelHigh
	for _, e := range t.eventRows(g) {
		p.Events = append(p.Events, lettering{Words: e.N + "  " + e.At + "  " + short(e.Text), Foot: p.Last})
		p.Last += eventHigh
	}
	p.Last += eventHigh / 2
	p.High = p.Last + 20
	return p
}

// placed puts a chart so far down, with its lettering beside it.
func placed(c chart, down int) panel {
	p := panel{chart: c, Caption: down, Top: down + 14, Foot: down + 14 + int(chartHigh) + 22}
	for i, y := range c.Rules {
		p.Heights = append(p.Heights, lettering{At: lower(p.Top, y, 5), Words: c.YLabels[i]})
	}
	for _, l := range c.Levels {
		side := "end"
		if l.Limit {
			side = "start"
		}
		p.Said = append(p.Said, lettering{At: lower(p.Top, l.Y, -6), Words: l.Words, Anchor: side})
	}
	for _, m := range c.Marks {
		x, _ := strconv.ParseFloat(m.X, 64)
		p.Tallies = append(p.Tallies, lettering{At: coord(74 + 0.9*x), Words: strconv.Itoa(m.N), Foot: p.Top + int(chartHigh) - 5 - 13*(m.N%2)})
	}
	for i, words := range c.XLabels {
		p.Days = append(p.Days, lettering{At: strconv.Itoa(70 + 450*i), Words: words, Anchor: []string{"start", "middle", "end"}[i], Foot: p.Foot})
	}
	return p
}

// lower is a height of the drawing, put down to where its panel is.
func lower(top int, y string, by float64) string {
	at, _ := strconv.ParseFloat(y, 64)
	return coord(float64(top) + at + by)
}
