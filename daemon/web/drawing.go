package web

import (
	"math"
	"net/http"
	"time"
)

// drawing is a graph as the page's script draws it: times in Unix seconds, null
// where nothing was heard.
type drawing struct {
	Zone   string         `json:"zone"` // whose time it shows; empty = the browser's
	From   int64          `json:"from"`
	Now    int64          `json:"now"`
	To     int64          `json:"to"`
	Ready  *drawnReady    `json:"ready"`
	Events []drawnEvent   `json:"events"`
	Panels []drawingPanel `json:"panels"`
}

type drawnReady struct {
	First  int64  `json:"first"`
	Middle int64  `json:"middle"`
	Last   int64  `json:"last"`
	Words  string `json:"words"`
}

type drawnEvent struct {
	At    int64  `json:"at"`
	Kind  string `json:"kind"`
	Words string `json:"words"`
	Grave bool   `json:"grave"`
}

type drawingPanel struct {
	Title    string       `json:"title"`
	Unit     string       `json:"unit"`
	Decimals int          `json:"decimals"`
	Low      float64      `json:"low"`  // of its scale
	High     float64      `json:"high"` // of its scale
	Past     drawnCourse  `json:"past"`
	Ahead    drawnCourse  `json:"ahead"`
	Readings drawnCourse  `json:"readings"`
	Levels   []drawnLevel `json:"levels"`
}

// drawnCourse is a line with or without a band.
type drawnCourse struct {
	T    []int64    `json:"t"`
	Low  []*float64 `json:"low,omitempty"`
	Mid  []*float64 `json:"mid"`
	High []*float64 `json:"high,omitempty"`
}

type drawnLevel struct {
	At    float64 `json:"at"`
	Words string  `json:"words"`
	Limit bool    `json:"limit"`
}

// lotGraph answers the script on a lot's page, in the reader's units.
func (s *Server) lotGraph(w http.ResponseWriter, r *http.Request) {
	l, ok := findLot(s.daemon.View(), r.PathValue("id"))
	if !ok {
		s.fail(w, r, noLot(r.PathValue("id")))
		return
	}
	t := s.tellerTo(r)
	g, err := s.graph(r.Context(), t, l, time.Time{}, time.Time{}, daysOf(r))
	if err != nil {
		s.failed(w, r, err)
		return
	}
	s.answer(w, http.StatusOK, t.drawing(g))
}

func (t teller) drawing(g graph) drawing {
	d := drawing{Zone: t.loc.String(), From: g.From.Unix(), Now: g.Now.Unix(), To: g.To.Unix()}
	if r := g.Ready; r != nil {
		d.Ready = &drawnReady{r.First.Unix(), r.Middle.Unix(), r.Last.Unix(), r.Words}
	}
	for _, e := range g.Events {
		d.Events = append(d.Events, drawnEvent{e.At.Unix(), e.Kind, t.moment(e.At) + ": " + t.gloss(e.Words), e.Grave})
	}
	for _, l := range g.Panels {
		if len(l.past.mid)+len(l.ahead.mid)+len(l.readings) > 0 {
			d.Panels = append(d.Panels, l.drawn(silence(g.From, g.To)))
		}
	}
	return d
}

func (l lines) drawn(gap time.Duration) drawingPanel {
	ticks := niceTicks(l.reach())
	p := drawingPanel{Title: l.title, Unit: l.unit.Sign, Decimals: l.unit.Decimals, Low: ticks[0], High: ticks[len(ticks)-1],
		Past: l.past.drawn(gap), Ahead: l.ahead.drawn(mostSeen), Readings: course{mid: l.readings}.drawn(gap)}
	for _, x := range l.levels {
		p.Levels = append(p.Levels, drawnLevel(x))
	}
	return p
}

// drawn has a hole in every gap, so that no line crosses it.
func (c course) drawn(gap time.Duration) drawnCourse {
	var d drawnCourse
	for i, m := range c.mid {
		if i > 0 && m.Time.Sub(c.mid[i-1].Time) > gap {
			d.add(c.mid[i-1].Time.Unix()+1, nil, nil, nil)
		}
		if len(c.low) == 0 {
			d.add(m.Time.Unix(), nil, &m.Value, nil)
			continue
		}
		d.add(m.Time.Unix(), &c.low[i].Value, &m.Value, &c.high[i].Value)
	}
	if len(c.low) == 0 {
		d.Low, d.High = nil, nil
	}
	return d
}

func (d *drawnCourse) add(at int64, low, mid, high *float64) {
	d.T, d.Low, d.Mid, d.High = append(d.T, at), append(d.Low, fine(low)), append(d.Mid, fine(mid)), append(d.High, fine(high))
}

// fine is as much of a number as a chart can show.
func fine(v *float64) *float64 {
	if v == nil {
		return nil
	}
	short := math.Round(*v*1000) / 1000
	return &short
}
