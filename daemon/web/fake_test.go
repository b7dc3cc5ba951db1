package web

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/model"
	"conditiond/model/estimate"

	"github.com/prometheus/client_golang/prometheus"
)

// now is the fake daemon's clock: an invented evening.
var now = time.Date(2026, 3, 8, 19, 0, 0, 0, time.UTC)

// fake is a daemon in memory. Its lots are invented.
type fake struct {
	mu      sync.Mutex
	view    *engine.View
	changed chan struct{}
	did     []engine.Input
	err     error // of the next Do
	health  Health
	asked   [2]time.Time // of the last Readings or Series
	limit   int
}

func newFake() *fake {
	return &fake{view: pantry(), changed: make(chan struct{}), health: Health{Now: now, Version: "test", Ready: true,
		Broker: Part{OK: true, Since: now.Add(-50 * time.Hour)}, Watch: Part{OK: true}, Journal: Part{OK: true}, Clock: Part{OK: true},
		Followers: []Follower{{Name: "InfluxDB", Behind: 3}}}}
}

func (f *fake) View() *engine.View {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.view
}

func (f *fake) Changed() <-chan struct{} {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.changed
}

func (f *fake) show(v *engine.View) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.view = v
	close(f.changed)
	f.changed = make(chan struct{})
}

func (f *fake) Do(ctx context.Context, in engine.Input) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.did = append(f.did, in)
	return f.err
}

// last is what was done last, and how much in all.
func (f *fake) last() (engine.Input, int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if len(f.did) == 0 {
		return engine.Input{}, 0
	}
	return f.did[len(f.did)-1], len(f.did)
}

// note what was asked; browsers ask for several things at once.
func (f *fake) note(from, to time.Time, limit int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.asked, f.limit = [2]time.Time{from, to}, limit
}

func (f *fake) Readings(ctx context.Context, sensor string, from, to time.Time, limit int) ([]model.Reading, error) {
	f.note(from, to, limit)
	switch sensor {
	case "pantry-air":
		return []model.Reading{{Sensor: sensor, At: now, Quantity: model.Temperature, Value: 19.5}}, nil
	case "gauge-a":
		return []model.Reading{{Sensor: sensor, At: now, Quantity: model.Pressure, Value: 1.12}}, nil
	}
	return nil, ErrNotFound
}

func (f *fake) Series(ctx context.Context, lot string, from, to time.Time, points int) (Series, error) {
	f.note(from, to, points)
	if _, ok := findLot(f.View(), lot); !ok {
		return Series{}, fmt.Errorf("lot %s: %w", lot, ErrNotFound)
	}
	s := Series{Lot: lot, From: now.Add(-7 * 24 * time.Hour), To: now}
	for h := 0; h < 168; h++ {
		if h > 90 && h < 110 {
			continue // a silence
		}
		at, share := s.From.Add(time.Duration(h)*time.Hour), float64(h)/168
		v, c := 0.9+share, 19+float64(h%24)/12
		s.Estimates = append(s.Estimates, Point{Time: at, BeerC: &c, CO2Volumes: &estimate.Interval{P05: v - 0.1, P50: v, P95: v + 0.12}})
		s.Pressure = append(s.Pressure, Sample{at, share * 1.2})
		s.Temperature = append(s.Temperature, Sample{at, c + 0.3})
	}
	return s, nil
}

func (f *fake) Health() Health {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.health
}

func interval(a, b, c float64) *estimate.Interval { return &estimate.Interval{P05: a, P50: b, P95: c} }

func when(days ...float64) *estimate.When {
	at := func(d float64) *time.Time { t := now.Add(time.Duration(d * 24 * float64(time.Hour))); return &t }
	return &estimate.When{P05: at(days[0]), P50: at(days[1]), P95: at(days[2])}
}

func lotNamed(id, name string) engine.LotView {
	beer, gauge := 19.6, 1.12
	return engine.LotView{
		Document: model.Lot{ID: id, Name: name, Space: "pantry", PackagedAt: now.AddDate(0, 0, -7), Yeast: model.Ale,
			Beer: model.Beer{VolumeL: 19, OriginalGravity: 1.05, FinalGravity: 1.012, WarmestC: 20}, TargetVolumes: 2.5,
			Priming:     []model.Priming{{Sugar: model.Dextrose, MassG: 142}},
			Bottles:     []model.Bottles{{Kind: model.StandardGlass, VolumeML: 330, HeadspaceML: 14, Count: 40, RatedBar: 5}},
			GaugeBottle: &model.GaugeBottle{Sensor: "gauge-a", VolumeML: 330, HeadspaceML: 14}, WorstCaseC: 30},
		Estimate: &estimate.Estimate{Time: now, Lot: id, BeerC: &beer, GaugeBar: &gauge, CO2Volumes: interval(1.78, 1.85, 1.93),
			Progress: interval(.58, .63, .69), ReadyAt: when(3, 4.5, 7), FinalVolumes: interval(2.3, 2.45, 2.6),
			PeakBar: interval(1.9, 2.2, 2.5), WorstCaseBar: interval(2.9, 3.2, 3.5),
			OverPressure: estimate.OverPressure{LimitBar: 5, Probability: .001}, Phase: estimate.Conditioning},
		LimitBar: 5, Weakest: "standard-glass 330 ml", Thermometer: "pantry-air", Gauge: "gauge-a", OpenedAt: now.AddDate(0, 0, -7),
		Notes: []engine.NoteView{{At: now.AddDate(0, 0, -2), Text: "One cap looks a little domed."}},
	}
}

// pantry is a view with one lot that goes well.
func pantry() *engine.View {
	at, air, gauge := now.Add(-40*time.Second), 19.5, 1.12
	return &engine.View{Time: now, Site: "Pantry", Lots: []engine.LotView{lotNamed("spruce-tip-04", "Spruce tip ale")},
		Sensors: []engine.SensorView{
			{Name: "gauge-a", Topic: "pantry/gauge-a", Quantity: model.Pressure, At: &at, Value: &gauge, Due: 60, Readings: 10080, Rejected: 1,
				Last: &engine.Rejected{At: now.Add(-5 * time.Hour), Topic: "pantry/gauge-a", Payload: "ERR 12", Reason: "no number"}},
			{Name: "pantry-air", Topic: "pantry/climate", Quantity: model.Temperature, Space: "pantry", At: &at, Value: &air, Due: 60, Readings: 10080},
		}}
}

// inDanger adds an alert of the gravest kind to a view's first lot.
func inDanger(v *engine.View) *engine.View {
	a := alerts.Alert{ID: "over-pressure/" + v.Lots[0].Document.ID, Time: v.Time, Since: v.Time.Add(-20 * time.Minute), Lot: v.Lots[0].Document.ID,
		Name: alerts.OverPressure, Severity: alerts.Danger, State: alerts.Raised,
		Summary: "The gauge read 4.31 bar at 18:59; the weakest bottles are rated 5.00 bar and the pressure is still rising.",
		Advice:  "Do not touch, move or open any bottle.\nKeep people and animals out and close the door.\nCool the room: heating off, window open.\nCome near only with a face shield, gloves and a thick jacket."}
	v.Alerts = append([]alerts.Alert{a}, v.Alerts...)
	v.Lots[0].Alerts = []alerts.Alert{a}
	v.Recent = []alerts.Alert{a}
	return v
}

// serve runs a server until the test ends and returns its address.
func serve(t *testing.T, d Daemon, password string) string {
	t.Helper()
	return serveWith(t, Config{Password: password}, d)
}

func serveWith(t *testing.T, c Config, d Daemon) string {
	t.Helper()
	registry := prometheus.NewRegistry()
	registry.MustRegister(prometheus.NewGauge(prometheus.GaugeOpts{Name: "conditiond_lots", Help: "Open lots."}))
	log := slog.New(slog.DiscardHandler)
	c.Listen, c.Site, c.Location, c.Metrics = "127.0.0.1:0", "Pantry", time.FixedZone("UTC+1", 3600), registry
	s, err := New(c, d, log)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
	return "http://" + s.Addr()
}

// ask sends a request with headers given in pairs and returns the answer with
// its body.
func ask(t *testing.T, method, url, body string, headers ...string) (*http.Response, string) {
	t.Helper()
	r, err := http.NewRequest(method, url, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(headers); i += 2 {
		if headers[i] == "Host" {
			r.Host = headers[i+1]
		}
		r.Header.Set(headers[i], headers[i+1])
	}
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }, Timeout: 10 * time.Second}
	a, err := client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		t.Fatal(err)
	}
	describes(t, r, a, b)
	return a, string(b)
}

// awaitDeed waits for the first thing that is done.
func (f *fake) awaitDeed(t *testing.T) engine.Input {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if in, n := f.last(); n > 0 {
			return in
		}
	}
	t.Fatal("nothing was done")
	return engine.Input{}
}
