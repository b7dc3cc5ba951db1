//go:build endurance

package daemon

import (
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"time"

	"conditiond/daemon/engine"
	"conditiond/daemon/intake"
	"conditiond/daemon/journal"
	"conditiond/model"
)

// inhabited is a closet with one thermometer and ten gauges, each under a lot
// that is replaced after sixty days.
type inhabited struct {
	*testing.T
	*loop
	lots [10]model.Lot
}

func inhabit(t *testing.T, dir string, at time.Time) *inhabited {
	c := defaults()
	c.Sensors = map[string]Sensor{"air": {Topic: "air", Quantity: model.Temperature, Unit: "degC", Interval: time.Minute, Calibration: Calibration{Scale: 1}}}
	for i := range 10 {
		name := fmt.Sprintf("gauge-%d", i)
		c.Sensors[name] = Sensor{Topic: name, Quantity: model.Pressure, Unit: "bar", Reference: "gauge", FullScale: 10, Interval: time.Minute, Calibration: Calibration{Scale: 1}}
	}
	c.Spaces = map[string]Space{"closet": {Temperature: "air"}}
	e, err := engine.New(closet(&c, time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	j, err := journal.Open(dir, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { j.Close() })
	y := &inhabited{T: t, loop: &loop{engine: e, journal: j, pace: handAt(at), board: newBoard(), log: slog.New(slog.DiscardHandler)}}
	y.feed(engine.Input{At: at, Start: &engine.Start{}})
	return y
}

// renew the lot under a gauge.
func (y *inhabited) renew(i int, at time.Time) {
	if old := y.lots[i].ID; old != "" {
		y.must(engine.Input{At: at, Close: &engine.Deed{Lot: old}})
	}
	lot := gauged(at)
	lot.ID, lot.Space = fmt.Sprintf("invented-%s-%d", at.Format("0102"), i), "closet"
	lot.GaugeBottle.Sensor, lot.Bottles[0].RatedBar = fmt.Sprintf("gauge-%d", i), 5
	y.must(engine.Input{At: at, Open: &engine.Open{Lot: lot}})
	y.lots[i] = lot
}

func (y *inhabited) must(in engine.Input) {
	y.Helper()
	if err := y.feed(in); err != nil {
		y.Fatal(err)
	}
}

// minute of a closet: eleven readings.
func (y *inhabited) minute(at time.Time) {
	y.pace.move(at)
	y.ticks(at)
	hears := func(topic string, value float64) {
		y.must(engine.Input{At: at, Stamped: at, Message: &intake.Message{Topic: topic, Payload: fmt.Appendf(nil, "%.3f", value), ID: uint16(at.Unix())}})
	}
	n := at.Unix() / 60
	hears("air", 19+0.01*float64(n%97)+0.3*float64(n/720%2))
	for i, l := range y.lots {
		days := at.Sub(l.PackagedAt).Hours() / 24
		hears(fmt.Sprintf("gauge-%d", i), 0.4+min(1.7, 0.12*days)+0.002*float64((n+int64(i))%5))
	}
}

// TestAYear leaves a year of a busy closet in the folder that CONDITIOND_YEAR
// names, with no stop at its end; deploy/budgets.sh starts a daemon on it.
func TestAYear(t *testing.T) {
	dir := os.Getenv("CONDITIOND_YEAR")
	if dir == "" {
		t.Skip("did without: CONDITIOND_YEAR names no folder for it")
	}
	end := time.Now().UTC().Truncate(time.Minute)
	at := end.Add(-365 * 24 * time.Hour)
	y := inhabit(t, dir, at)
	for m := 0; at.Before(end); m, at = m+1, at.Add(time.Minute) {
		for i := range y.lots { // each six days after the one before
			if (m-i*6*1440)%(60*1440) == 0 || m == 0 {
				y.renew(i, at)
			}
		}
		y.minute(at)
		if m%5 == 0 {
			y.commit()
		}
	}
	y.commit()
	readings := y.engine.View().Sensors[0].Readings * 11
	info, err := os.Stat(filepath.Join(dir, "journal.db"))
	if err != nil || readings < 5_000_000 {
		t.Fatal(readings, err)
	}
	t.Logf("a year of %d readings: %.0f MB", readings, float64(info.Size())/1e6)
}
