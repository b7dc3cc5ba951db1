package daemon

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"conditiond/daemon/intake"
	"conditiond/model/synth"
)

// heard is a sensor's reading at an instant, or why it was refused.
type heard struct {
	intake.Value
	err error
}

// hear a recording's folder with the configuration that lies in it, as the
// daemon would.
func hear(t *testing.T, folder string) map[string]map[time.Time]heard {
	t.Helper()
	c, _, err := ReadConfig(filepath.Join(folder, "config.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.LoadLot(filepath.Join(folder, "lot.yaml")); err != nil {
		t.Fatal(err)
	}
	packed, err := os.ReadFile(filepath.Join(folder, "messages.ndjson.gz"))
	if err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]map[time.Time]heard{}
	for lines := bufio.NewScanner(z); lines.Scan(); {
		at, m, err := intake.ParseLine(lines.Bytes())
		if err != nil {
			t.Fatalf("%v: %s", err, lines.Bytes())
		}
		for _, s := range closet(c, time.Hour).Sensors {
			if s.Topic != m.Topic || m.Retained {
				continue
			}
			d, err := intake.NewDecoder(s)
			if err != nil {
				t.Fatal(err)
			}
			if out[s.Name] == nil {
				out[s.Name] = map[time.Time]heard{}
			}
			v, err := d.Decode(m.Payload)
			out[s.Name][at.UTC()] = heard{v, err}
		}
	}
	return out
}

func TestSimulatedMessagesAreTheReadings(t *testing.T) {
	kinds := map[string]int{}
	for i := range synth.Families() {
		sc := synth.Draw(77, i)
		sc.Days, sc.Feed.Page = 4, synth.Page{Stamp: synth.LocalMicros, Raw: i%2 == 0}
		r := sc.Play()
		folder, err := Simulation{Out: t.TempDir()}.write(sc, r)
		if err != nil {
			t.Fatal(err)
		}
		got := hear(t, folder)
		refused := 0
		for _, x := range r.Readings {
			h, ok := got[x.Sensor][x.At]
			if h.err != nil {
				refused++
				continue
			}
			if !ok || math.Abs(h.Number-x.Value) > 1e-6 && !h.AtFullScale {
				t.Fatalf("%s: %s said %v at %s, heard is %+v", sc.Family, x.Sensor, x.Value, x.At, h)
			}
		}
		if len(r.Readings) < 300 || refused > len(r.Readings)/40 {
			t.Errorf("%s: %d readings, %d of them refused", sc.Family, len(r.Readings), refused)
		}
		for _, d := range []synth.Device{sc.Thermometer, sc.Gauge} {
			kinds[d.Unit]++
			kinds[d.Pointer]++
		}
	}
	for _, k := range []string{"degC", "degF", "K", "bar", "psi", "kPa", "", "/t"} {
		if kinds[k] == 0 {
			t.Errorf("no lot has %q", k)
		}
	}
}

func TestSimulationLeavesNothingHalfWritten(t *testing.T) {
	dir := t.TempDir()
	s := Simulation{Seed: 1, Lots: 1, Days: 2, Out: dir}
	if err := s.Run(t.Context(), new(bytes.Buffer)); err != nil {
		t.Fatal(err)
	}
	if err := s.Run(t.Context(), new(bytes.Buffer)); err == nil {
		t.Error("written over")
	}
	found, err := filepath.Glob(filepath.Join(dir, "*"))
	hidden, err2 := filepath.Glob(filepath.Join(dir, ".*"))
	if err != nil || err2 != nil || len(found) != 1 || len(hidden) != 0 {
		t.Errorf("there are %v and %v", found, hidden)
	}
	if err := (Simulation{Family: "sunken"}).Check(); err == nil {
		t.Error("an unknown family is let through")
	}
}
