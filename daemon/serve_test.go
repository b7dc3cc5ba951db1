package daemon

import (
	"testing"
	"time"

	"conditiond/daemon/engine"
	"conditiond/daemon/journal"
	"conditiond/model"
)

// The picture of a closed lot ends when it was closed: its gauge is another's
// then.
func TestClosedLotsSeriesEnd(t *testing.T) {
	c := defaults()
	c.Sensors = map[string]Sensor{"air": {Quantity: model.Temperature}, "gauge": {Quantity: model.Pressure}}
	j, err := journal.Open(t.TempDir(), quiet())
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	filled := time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC)
	for day := range 6 {
		at := filled.AddDate(0, 0, day)
		readings := []journal.Reading{{Series: "temperature/air", At: at, Value: 19}, {Series: "pressure/gauge", At: at, Value: float64(day)}}
		if _, err := j.Append(journal.Entry{At: at, Readings: readings}); err != nil {
			t.Fatal(err)
		}
	}
	if err := j.Commit(); err != nil {
		t.Fatal(err)
	}
	closed := filled.AddDate(0, 0, 3)
	lot := engine.LotView{Document: model.Lot{ID: "invented-ale", PackagedAt: filled}, Thermometer: "air", Gauge: "gauge"}
	d := &Daemon{config: &c, journal: j, board: newBoard()}
	for _, x := range []struct {
		closed *time.Time
		want   int
	}{{nil, 6}, {&closed, 4}} {
		lot.ClosedAt = x.closed
		d.board.show(&engine.View{Time: filled.AddDate(0, 0, 5), Lots: []engine.LotView{lot}}, nil)
		s, err := d.Series(t.Context(), "invented-ale", time.Time{}, time.Time{}, 100)
		if err != nil || len(s.Pressure) != x.want || len(s.Temperature) != x.want {
			t.Errorf("closed %v: %d pressures, %d temperatures, want %d (%v)", x.closed, len(s.Pressure), len(s.Temperature), x.want, err)
		}
	}
}
