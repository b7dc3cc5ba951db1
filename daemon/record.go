package daemon

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"log/slog"
	"strings"

	"conditiond/daemon/engine"
	"conditiond/daemon/journal"
	"conditiond/model"
	"conditiond/model/estimate"
)

// An entry's body in the journal: the mark of its message, if it has one (a tag
// byte and six more), then what followed as JSON, if anything did. So an
// ordinary reading costs seven bytes beside itself.
const (
	markTag  = 1
	markSize = 7
)

// seriesOf names a sensor's readings in the journal.
func seriesOf(r model.Reading) string { return string(r.Quantity) + "/" + r.Sensor }

// record is an entry as the journal keeps it.
func record(en engine.Entry) (journal.Entry, error) {
	out := journal.Entry{At: en.At}
	for _, r := range en.Readings {
		out.Readings = append(out.Readings, journal.Reading{Series: seriesOf(r), At: r.At, Value: r.Value})
	}
	for _, e := range en.Estimates {
		out.Readings = append(out.Readings, course(e)...)
	}
	if m := en.Mark; m != nil {
		out.Body = binary.BigEndian.AppendUint16([]byte{markTag}, m.ID)
		out.Body = binary.BigEndian.AppendUint32(out.Body, m.Sum)
	}
	if !en.Bare() {
		body, err := json.Marshal(en)
		if err != nil {
			return out, fmt.Errorf("write an entry down: %w", err)
		}
		out.Body = append(out.Body, body...)
	}
	return out, nil
}

// recall is an entry as the engine said it.
func recall(kept journal.Entry) (engine.Entry, error) {
	var en engine.Entry
	body := kept.Body
	if len(body) >= markSize && body[0] == markTag {
		en.Mark = &engine.Mark{ID: binary.BigEndian.Uint16(body[1:]), Sum: binary.BigEndian.Uint32(body[3:])}
		body = body[markSize:]
	}
	if len(body) > 0 {
		mark := en.Mark
		if err := json.Unmarshal(body, &en); err != nil {
			return en, fmt.Errorf("read entry %d of the journal: %w", kept.Seq, err)
		}
		en.Mark = mark
	}
	en.Seq, en.At = kept.Seq, kept.At
	for _, r := range kept.Readings {
		if !strings.HasPrefix(r.Series, coursePrefix) {
			en.Readings = append(en.Readings, reading(r))
		}
	}
	return en, nil
}

// recallAll leaves out, and tells, what can't be read: one entry must not hold the
// others up for ever.
func recallAll(entries []journal.Entry, log *slog.Logger) []engine.Entry {
	var out []engine.Entry
	for _, kept := range entries {
		en, err := recall(kept)
		if err != nil {
			log.Error("an entry of the journal is left out", "err", err)
			continue
		}
		out = append(out, en)
	}
	return out
}

func reading(r journal.Reading) model.Reading {
	quantity, sensor, _ := strings.Cut(r.Series, "/")
	return model.Reading{Sensor: sensor, At: r.At, Quantity: model.Quantity(quantity), Value: r.Value}
}

// coursePrefix begins the series that hold a lot's course, beside the sensors'
// own, so that a chart need not read every estimate.
const coursePrefix = "lot/"

func courseOf(lot, figure string) string { return coursePrefix + lot + "/" + figure }

// coursesOf a lot are all of them.
func coursesOf(lot string) []string {
	var out []string
	for _, figure := range []string{"co2_p05", "co2_p50", "co2_p95", "gauge_bar", "beer_c"} {
		out = append(out, courseOf(lot, figure))
	}
	return out
}

// course is what a chart shows of an estimate.
func course(e estimate.Estimate) []journal.Reading {
	var out []journal.Reading
	add := func(figure string, v float64) {
		out = append(out, journal.Reading{Series: courseOf(e.Lot, figure), At: e.Time, Value: v})
	}
	if v := e.CO2Volumes; v != nil {
		add("co2_p05", v.P05)
		add("co2_p50", v.P50)
		add("co2_p95", v.P95)
	}
	if e.GaugeBar != nil {
		add("gauge_bar", *e.GaugeBar)
	}
	if e.BeerC != nil {
		add("beer_c", *e.BeerC)
	}
	return out
}
