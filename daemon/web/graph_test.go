package web

import (
	"encoding/json"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/model"
	"conditiond/model/estimate"
)

// underway is the pantry with a lot that an estimator has followed for a week, as
// its invented readings have it, and to which things happened.
func underway() *engine.View {
	v := pantry()
	l := &v.Lots[0]
	l.Estimate = nil
	e := estimate.New(estimate.Setup{Lot: l.Document, Station: model.Atmosphere, Thermometer: "pantry-air"})
	for h := range 7 * 24 {
		at, share := l.Document.PackagedAt.Add(time.Duration(h)*time.Hour+30*time.Minute), float64(h)/168
		e.Observe(model.Reading{Sensor: "pantry-air", At: at, Quantity: model.Temperature, Value: 19 + float64(h%24)/24})
		e.Observe(model.Reading{Sensor: "gauge-a", At: at, Quantity: model.Pressure, Value: 2 * (1 - math.Exp(-4*share))})
	}
	e.Advance(now)
	said := e.Estimate()
	said.ReadyAt = when(3, 4.5, 7)
	l.Estimate, l.Prospect = &said, e.Prospect()
	day := func(d float64) time.Time { return now.Add(time.Duration(d * 24 * float64(time.Hour))) }
	l.Notes = []engine.NoteView{{At: day(-5), Text: "The bottles were moved", Saw: alerts.Moved}, {At: day(-2), Text: "One was opened: not ready yet. Hisses a little.", Saw: alerts.OpenedFlat},
		{At: day(-1), Text: "One cap looks a little domed."}}
	v.Recent = []alerts.Alert{{ID: "too-cold/spruce-tip-04", Time: day(-3), Since: day(-3), Lot: "spruce-tip-04", Name: alerts.TooCold, Severity: alerts.Notice, State: alerts.Cleared}}
	return v
}

func graphOf(t *testing.T, base, query, cookie string) drawing {
	t.Helper()
	a, body := ask(t, http.MethodGet, base+"/lots/spruce-tip-04/graph"+query, "", "Cookie", cookie)
	var d drawing
	if err := json.Unmarshal([]byte(body), &d); err != nil || a.StatusCode != 200 {
		t.Fatal(a.Status, err, body)
	}
	return d
}

// TestGraph: the picture is of what was with its band, then of what is expected,
// with the target, the days of ready, the limits, and what happened.
func TestGraph(t *testing.T) {
	f := newFake()
	f.view = underway()
	base := serve(t, f, "")
	d := graphOf(t, base, "", "")
	if len(d.Panels) != 3 || d.Now != now.Unix() || d.To <= d.Now+2*86400 || d.Ready == nil || d.Ready.First > d.Ready.Last {
		t.Fatalf("%d panels, from %d to %d, ready %+v", len(d.Panels), d.Now, d.To, d.Ready)
	}
	volumes, pressure, temperature := d.Panels[0], d.Panels[1], d.Panels[2]
	for name, c := range map[string]drawnCourse{"volumes so far": volumes.Past, "volumes ahead": volumes.Ahead, "pressure so far": pressure.Past,
		"pressure ahead": pressure.Ahead, "beer": temperature.Past, "thermometer": temperature.Readings} {
		if len(c.T) < 20 || len(c.Mid) != len(c.T) || len(c.Low) != len(c.High) {
			t.Errorf("%s: %d instants", name, len(c.T))
		}
	}
	if a := volumes.Ahead; a.T[0] > d.Now || *a.Low[39] >= *a.Mid[39] || *a.Mid[39] >= *a.High[39] || *a.Mid[39] < *a.Mid[0] {
		t.Errorf("the fan: %v to %v", *a.Mid[0], *a.Mid[39])
	}
	if l := volumes.Levels; len(l) != 2 || l[0].At != 2.5 || !l[1].Limit || l[1].At < 3 {
		t.Errorf("levels of the volumes: %+v", l)
	}
	if l := pressure.Levels; len(l) != 1 || l[0].At != 5 || !l[0].Limit {
		t.Errorf("levels of the pressure: %+v", l)
	}
	var kinds []string
	for _, e := range d.Events {
		kinds = append(kinds, e.Kind)
	}
	if got := strings.Join(kinds, " "); got != "packaged moved alert opened note" {
		t.Errorf("marked: %s", got)
	}
	holes := 0
	for _, v := range volumes.Past.Mid {
		if v == nil {
			holes++
		}
	}
	if holes != 1 { // the fake is silent once
		t.Errorf("%d holes", holes)
	}
}

// The same graph in a reader's units.
func TestGraphInUnits(t *testing.T) {
	f := newFake()
	f.view = underway()
	base := serve(t, f, "")
	plain := graphOf(t, base, "?days=2", "")
	psi := graphOf(t, base, "?days=2", readerCookie+"="+reader{units: units{Pressure: "psi"}, zone: "Europe/Oslo"}.String())
	a, b := *plain.Panels[1].Past.Mid[9], *psi.Panels[1].Past.Mid[9]
	if psi.Panels[1].Unit != "psi" || b/a < 14.4 || b/a > 14.6 || psi.Zone != "Europe/Oslo" || *psi.Panels[0].Past.Mid[9] != *plain.Panels[0].Past.Mid[9] {
		t.Errorf("%v bar are %v %s in %s", a, b, psi.Panels[1].Unit, psi.Zone)
	}
}

// TestStillGraph: without a script the page has the same picture, and its numbers
// in a table.
func TestStillGraph(t *testing.T) {
	f := newFake()
	f.view = underway()
	_, body := ask(t, http.MethodGet, serve(t, f, "")+"/lots/spruce-tip-04", "")
	for _, want := range []string{`class="fan"`, `class="likely"`, `class="now"`, "target 2.50 volumes", "limit of the weakest bottles 5.00 bar", "limit at 30.0 °C",
		"Marked in the charts", "The bottles were moved", "expected</th>", "; expected "} {
		if !strings.Contains(body, want) {
			t.Errorf("no %q", want)
		}
	}
	if n := strings.Count(body, `<th scope="row">`); n < 8 || n > 60 {
		t.Errorf("the table has %d rows", n)
	}
}

// TestForecast: a closed lot has none, and neither has one that was never heard.
func TestForecast(t *testing.T) {
	f := newFake()
	f.view = underway()
	base := serve(t, f, "")
	ahead := func(query string) []any {
		t.Helper()
		a, body := ask(t, http.MethodGet, base+"/api/v1/lots/spruce-tip-04/forecast"+query, "")
		if a.StatusCode != 200 {
			t.Fatal(a.Status, body)
		}
		return decoded(t, body)["ahead"].([]any)
	}
	if n := len(ahead("")); n != 40 {
		t.Errorf("%d instants", n)
	}
	if n := len(ahead("?points=5&until=2026-03-12T00:00:00Z")); n != 5 {
		t.Errorf("%d instants of 5", n)
	}
	for _, query := range []string{"?until=2026-03-01T00:00:00Z", "?until=2027-03-01T00:00:00Z", "?until=soon", "?points=0", "?points=9999"} {
		if a, _ := ask(t, http.MethodGet, base+"/api/v1/lots/spruce-tip-04/forecast"+query, ""); a.StatusCode != 400 {
			t.Errorf("%s: %s", query, a.Status)
		}
	}
	if a, _ := ask(t, http.MethodGet, base+"/api/v1/lots/none/forecast", ""); a.StatusCode != 404 {
		t.Error(a.Status)
	}
	closed := underway()
	closed.Lots[0].ClosedAt = at(0)
	f.show(closed)
	if n := len(ahead("")); n != 0 {
		t.Errorf("a closed lot has %d", n)
	}
	f.show(pantry())
	if n := len(ahead("")); n != 0 {
		t.Errorf("without a prospect there are %d", n)
	}
	young := pantry()
	young.Lots[0].Estimate = nil
	f.show(young)
	if n := len(ahead("")); n != 0 {
		t.Errorf("a lot that was never heard has %d", n)
	}
}
