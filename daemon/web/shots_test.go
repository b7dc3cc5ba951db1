package web

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/model"
	"conditiond/model/estimate"

	"github.com/chromedp/chromedp"
)

// TestShots takes pictures of every page in four states, on a phone and a desk,
// in light and dark, into the folder that CONDITIOND_SHOTS names: a closet with
// twelve lots, a long name and sixty days of readings.
//
//	CONDITIOND_SHOTS=/tmp/shots go test ./daemon/web -run TestShots
func TestShots(t *testing.T) {
	folder := os.Getenv("CONDITIOND_SHOTS")
	if folder == "" {
		t.Skip("no pictures wanted: CONDITIOND_SHOTS names no folder")
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	for state, f := range closets() {
		t.Run(state, func(t *testing.T) {
			ctx := browser(t)
			url := serve(t, f, "")
			pages := pagesOf(t, url, f)
			for _, size := range []string{"phone", "desk"} {
				for _, scheme := range []string{"light", "dark"} {
					for name, path := range pages {
						file := filepath.Join(folder, strings.Join([]string{state, name, size, scheme}, "-")+".png")
						shoot(t, ctx, url+path, size, scheme, file)
					}
				}
			}
		})
	}
}

// shoot a page as it is, and the plan once more with a plan on it.
func shoot(t *testing.T, ctx context.Context, url, size, scheme, file string) {
	t.Helper()
	width := map[string]int64{"phone": 390, "desk": 1280}[size]
	look(t, ctx, url, width, scheme, "")
	time.Sleep(300 * time.Millisecond) // what scripts draw
	keep(t, ctx, file)
	if strings.HasSuffix(url, "/plan") {
		workOut(t, ctx)
		keep(t, ctx, strings.Replace(file, "-plan-", "-plan-worked-out-", 1))
	}
}

func keep(t *testing.T, ctx context.Context, file string) {
	t.Helper()
	if err := os.WriteFile(file, run(t, ctx, chromedp.FullScreenshot(100)), 0o644); err != nil {
		t.Fatal(err)
	}
}

// workOut a plan of the invented beer on the page.
func workOut(t *testing.T, ctx context.Context) {
	t.Helper()
	b, err := json.Marshal(bucket())
	if err != nil {
		t.Fatal(err)
	}
	run(t, ctx, chromedp.Evaluate[bool](`(() => {
		for (const [name, [value]] of Object.entries(`+string(b)+`)) document.getElementsByName(name)[0].value = value;
		document.querySelector('button[value="plan"]').click();
		return true;
	})()`))
	wait(t, ctx, "#sheet")
}

// pagesOf are all pages that a browser can be led to, by what they are called.
func pagesOf(t *testing.T, url string, f sixty) map[string]string {
	t.Helper()
	pages := map[string]string{"missing": "/no-such-page"}
	for pattern := range new(Server).routes() {
		method, path, _ := strings.Cut(pattern, " ")
		if method != "GET" || isDescribed(path) || strings.Contains(path, "{file}") {
			continue
		}
		name := cmp.Or(strings.ReplaceAll(strings.Trim(strings.NewReplacer("{$}", "", "/{id}", "").Replace(path), "/"), "/", "-"), "home")
		path = strings.NewReplacer("{$}", "", "{id}", f.view.Lots[0].Document.ID).Replace(path)
		if a, _ := ask(t, method, url+path, ""); strings.HasPrefix(a.Header.Get("Content-Type"), "text/html") {
			pages[name] = path
		}
	}
	return pages
}

// sixty is a fake daemon that remembers sixty days of every lot.
type sixty struct{ *fake }

const sixtyDays = 60 * 24 * time.Hour

// Series is an invented course: gas as a lot makes it, a cellar that follows the
// days, a night without readings.
func (s sixty) Series(_ context.Context, lot string, from, to time.Time, points int) (Series, error) {
	begun := now.Add(-sixtyDays)
	if from.Before(begun) {
		from = begun
	}
	if to.IsZero() {
		to = now
	}
	out := Series{Lot: lot, From: from, To: to}
	step := to.Sub(from) / time.Duration(points)
	for at := from; at.Before(to); at = at.Add(step) {
		days := at.Sub(begun).Hours() / 24
		if days > 31.2 && days < 31.9 {
			continue
		}
		out.add(at, days)
	}
	return out, nil
}

func (s *Series) add(at time.Time, days float64) {
	c, bar := course60(days)
	share := 1 - math.Exp(-days/9)
	volumes, wide := 0.86+1.64*share, 0.04+0.12*math.Exp(-days/12)
	s.Estimates = append(s.Estimates, Point{Time: at, BeerC: &c, GaugeBar: &bar, CO2Volumes: interval(volumes-wide, volumes, volumes+wide)})
	s.Pressure = append(s.Pressure, Sample{at, bar})
	s.Temperature = append(s.Temperature, Sample{at, c + 0.4*math.Sin(14*math.Pi*days)})
}

// course60 is the temperature and the gauge pressure so many days on.
func course60(days float64) (c, bar float64) {
	c = 19.5 + 1.2*math.Sin(2*math.Pi*days) + 0.8*math.Sin(days/5)
	return c, 2.1*(1-math.Exp(-days/9)) + 0.06*(c-19.5)
}

// followed is what an estimator says of a lot on that course.
func followed(l engine.LotView) (*estimate.Estimate, *estimate.Prospect) {
	e := estimate.New(estimate.Setup{Lot: l.Document, Station: model.Atmosphere, Thermometer: "pantry-air"})
	for h := range 60 * 24 {
		at := l.Document.PackagedAt.Add(time.Duration(h)*time.Hour + 30*time.Minute)
		c, bar := course60(float64(h) / 24)
		e.Observe(model.Reading{Sensor: "pantry-air", At: at, Quantity: model.Temperature, Value: c})
		e.Observe(model.Reading{Sensor: "gauge-a", At: at, Quantity: model.Pressure, Value: bar})
	}
	e.Advance(now)
	said := e.Estimate()
	return &said, e.Prospect()
}

// closets are the states that every page is looked at in.
func closets() map[string]sixty {
	healthy, warning, danger, stale := twelve(), twelve(), twelve(), twelve()
	said, prospect := followed(healthy.view.Lots[0])
	for _, f := range []sixty{healthy, warning, danger, stale} {
		f.view.Lots[0].Estimate, f.view.Lots[0].Prospect = said, prospect
	}
	warned(warning)
	warned(danger)
	leak := danger.view.Lots[0].Alerts
	danger.view = inDanger(danger.view)
	danger.view.Lots[0].Alerts = append(danger.view.Lots[0].Alerts, leak...)
	gone(stale)
	return map[string]sixty{"healthy": healthy, "warning": warning, "danger": danger, "stale": stale}
}

// twelve lots, the first with a long name, in all phases.
func twelve() sixty {
	f := newFake()
	v := f.view
	name := "Grandmother's unfiltered double-dry-hopped farmhouse ale with spruce tips, " + strings.Repeat("very_", 9) + "long_name"
	v.Lots[0].Document.Name = name
	for i := range 11 {
		v.Lots = append(v.Lots, lotNamed(fmt.Sprintf("invented-%02d", i+1), fmt.Sprintf("Invented lot %d", i+1)))
	}
	for i := range v.Lots {
		v.Lots[i].Document.PackagedAt, v.Lots[i].OpenedAt = now.Add(-sixtyDays), now.Add(-sixtyDays)
		v.Lots[i].Notes = append(v.Lots[i].Notes, engine.NoteView{At: now.AddDate(0, 0, -20), Text: "Two caps were tightened."})
	}
	cold, closed := now.AddDate(0, 0, -9), now.AddDate(0, 0, -2)
	v.Lots[2].Estimate.Phase = estimate.Ready
	v.Lots[3].Estimate.Phase, v.Lots[3].ChilledAt = estimate.Chilled, &cold
	for _, i := range []int{10, 11} {
		v.Lots[i].Estimate.Phase, v.Lots[i].ChilledAt, v.Lots[i].ClosedAt = estimate.Closed, &cold, &closed
	}
	return sixty{f}
}

// warned has two warnings, one of them seen, and a notice.
func warned(f sixty) {
	v := f.view
	told := func(lot int, name alerts.Name, severity alerts.Severity, state alerts.State, summary, advice string) {
		l := &v.Lots[lot]
		a := alerts.Alert{ID: string(name) + "/" + l.Document.ID, Time: now.Add(-time.Hour), Since: now.Add(-26 * time.Hour), Lot: l.Document.ID, Name: name,
			Severity: severity, State: state, Summary: summary, Advice: advice, By: "Kim"}
		l.Alerts, v.Alerts, v.Recent = append(l.Alerts, a), append(v.Alerts, a), append(v.Recent, a)
	}
	told(0, alerts.Leak, alerts.Warning, alerts.Raised, "The gauge bottle has lost 0.31 bar in 26 h while its temperature stood.",
		"Tighten the gauge bottle's cap when the lot allows it.\nThe lot itself is reckoned as if tight.")
	told(1, alerts.TooWarm, alerts.Warning, alerts.Acknowledged, "The beer is at 31.2 °C and has been above 30 °C for two hours.", "Cool the room, not the bottles.")
	told(4, alerts.TooCold, alerts.Notice, alerts.Raised, "The pantry has been below 15 °C for a day.", "It is slow, not failed.\nMove the heater, not the bottles.")
}

// gone is a closet that nothing is heard from, by a daemon that has lost its
// broker.
func gone(f sixty) {
	v, was := f.view, now.Add(-3*time.Hour)
	for i := range v.Sensors {
		s := &v.Sensors[i]
		s.At, s.Silent = &was, true
		a := alerts.Alert{ID: "sensor-silent/" + s.Name, Time: now.Add(-2 * time.Hour), Since: now.Add(-150 * time.Minute), Sensor: s.Name, Name: alerts.SensorSilent,
			Severity: alerts.Warning, State: alerts.Raised, Summary: "Nothing has been heard of " + s.Name + " for 2 h 30 min.", Advice: "Look at its battery and its network."}
		v.Alerts, v.Recent = append(v.Alerts, a), append(v.Recent, a)
		v.Lots[0].Alerts = append(v.Lots[0].Alerts, a)
	}
	f.health.Broker = Part{Since: was, Problem: "mqtt://192.0.2.7:1883 refused the connection; see that the broker runs and listens there"}
	f.health.Ready = false
}
