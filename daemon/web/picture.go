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
	Panels             []panel
	High, Last         int
}

// panel is a chart with its place and its lettering.
type panel struct {
	chart
	Caption, Top, Foot int
	Heights            []lettering
	Days               []lettering
}

type lettering struct {
	At, Words, Anchor string
	Foot              int
}

const (
	panelsFrom = 100 // below the head
	panelHigh  = 280
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
	series, err := s.daemon.Series(ctx, l.Document.ID, from, to, chartPoints)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := pictures.ExecuteTemplate(&b, "chart.svg", t.poster(series, l)); err != nil {
		return nil, fmt.Errorf("drawing lot %s: %w", l.Document.ID, err)
	}
	return b.Bytes(), nil
}

func (t teller) poster(series Series, l engine.LotView) poster {
	var marks []time.Time
	for _, n := range l.Notes {
		marks = append(marks, n.At)
	}
	p := poster{Name: l.Document.Name, Stands: standing(l) + ", packaged " + t.moment(l.Document.PackagedAt),
		Said: "conditiond, " + t.moment(t.now) + ", times of " + t.loc.String() + ". Advice from one bottle and a thermometer."}
	if p.Name == "" {
		p.Name = l.Document.ID
	}
	for i, c := range t.charts(series, l.Document, l.LimitBar, marks) {
		p.Panels = append(p.Panels, placed(c, panelsFrom+i*panelHigh))
	}
	p.Last = panelsFrom + len(p.Panels)*panelHigh
	p.High = p.Last + 20
	return p
}

// placed puts a chart so far down, with its lettering beside it.
func placed(c chart, down int) panel {
	p := panel{chart: c, Caption: down, Top: down + 14, Foot: down + 14 + int(chartHigh) + 22}
	for i, y := range c.Rules {
		at, _ := strconv.ParseFloat(y, 64)
		p.Heights = append(p.Heights, lettering{At: coord(float64(p.Top) + at + 5), Words: c.YLabels[i]})
	}
	for i, words := range c.XLabels {
		p.Days = append(p.Days, lettering{At: strconv.Itoa(70 + 450*i), Words: words, Anchor: []string{"start", "middle", "end"}[i], Foot: p.Foot})
	}
	return p
}
