package influx

import (
	"errors"
	"fmt"
	"log/slog"
	"math"
	"strings"
	"testing"
	"time"

	"conditiond/daemon/influx/influxdtest"
)

func sinkTo(t *testing.T, server *influxdtest.Server, token string) *Sink {
	t.Helper()
	s, err := New(Config{URL: server.URL, Org: server.Org, Bucket: server.Bucket, Token: token}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestRealServer writes to a real InfluxDB and asks it what it keeps.
func TestRealServer(t *testing.T) {
	server := influxdtest.Start(t)
	s := sinkTo(t, server, server.Token)
	t.Run("exact", func(t *testing.T) { exact(t, server, s) })
	t.Run("type conflict", func(t *testing.T) { conflict(t, server, s) })
	t.Run("too old", func(t *testing.T) { tooOld(t, server) })
	t.Run("token and bucket", func(t *testing.T) { refusedAltogether(t, server) })
}

func query(server *influxdtest.Server, filter string) string {
	return fmt.Sprintf(`from(bucket: %q) |> range(start: 2000-01-01T00:00:00Z, stop: 2261-01-01T00:00:00Z)
		|> filter(fn: (r) => %s)`, server.Bucket, filter)
}

// exact: value right to the digit, time to the nanosecond, and no harm in
// writing again.
func exact(t *testing.T, server *influxdtest.Server, s *Sink) {
	values := []float64{18.4, 0.1 + 0.2, math.Nextafter(1, 2), -math.MaxFloat64, math.SmallestNonzeroFloat64, 0, 1e22}
	var points []Point
	for i, v := range values {
		points = append(points, Point{"reading", map[string]string{"sensor": "a b,c=d", "quantity": "pressure"},
			map[string]any{"pressure_bar": v}, noon.Add(time.Duration(i))})
	}
	for range 2 {
		if err := s.Write(t.Context(), points); err != nil {
			t.Fatal(err)
		}
	}
	records := server.Query(t, query(server, `r._measurement == "reading" and r._field == "pressure_bar" and r.sensor == "a b,c=d"`))
	if len(records) != len(values) {
		t.Fatalf("%d of %d kept: %v", len(records), len(values), records)
	}
	for i, r := range records {
		at := noon.Add(time.Duration(i))
		if r["_value"] != values[i] || !r["_time"].(time.Time).Equal(at) || r["quantity"] != "pressure" {
			t.Errorf("kept %v, want %v at %v", r, values[i], at)
		}
	}
}

func conflict(t *testing.T, server *influxdtest.Server, s *Sink) {
	if err := s.Write(t.Context(), []Point{{"mixed", nil, map[string]any{"x": "18.4"}, noon}}); err != nil {
		t.Fatal(err)
	}
	var points []Point
	for i := range 49 {
		points = append(points, Point{"mixed", nil, map[string]any{"y": float64(i)}, noon.Add(time.Duration(i))})
	}
	points = append(points, Point{"mixed", nil, map[string]any{"x": 18.4}, noon.Add(time.Hour)})
	err := s.Write(t.Context(), points)
	kept := server.Query(t, query(server, `r._measurement == "mixed" and r._field == "y"`))
	if err != nil || len(kept) != 49 || s.Aside().Points != 1 || !strings.Contains(s.Aside().Reason, "field type conflict") {
		t.Errorf("%v, %d kept, aside %+v", err, len(kept), s.Aside())
	}
}

func tooOld(t *testing.T, server *influxdtest.Server) {
	server.Do(t, `CREATE RETENTION POLICY hour ON conditioning DURATION 1h REPLICATION 1`)
	short := *server
	short.Bucket = "conditioning/hour"
	s := sinkTo(t, &short, server.Token)
	now := time.Now()
	var points []Point
	for i := range 50 { // 30 of them two hours old or more
		points = append(points, reading("a", now.Add(-time.Duration(i-20)*time.Minute-2*time.Hour*time.Duration(min(i/20, 1))), 18.4))
	}
	err := s.Write(t.Context(), points)
	kept := server.Query(t, fmt.Sprintf(`from(bucket: %q) |> range(start: -1d, stop: 1d)`, short.Bucket))
	if err != nil || len(kept) != 20 || s.Aside().Points != 30 {
		t.Errorf("%v, %d kept, aside %+v", err, len(kept), s.Aside())
	}
}

func refusedAltogether(t *testing.T, server *influxdtest.Server) {
	elsewhere := *server
	elsewhere.Bucket = "nowhere/autogen"
	for name, s := range map[string]*Sink{
		"token":  sinkTo(t, server, "tester:wrong"),
		"bucket": sinkTo(t, &elsewhere, server.Token),
	} {
		err := s.Write(t.Context(), points(3))
		var e *Error
		if !errors.As(err, &e) || !e.Unhealthy || strings.Contains(err.Error(), "wrong") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
