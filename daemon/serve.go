package daemon

import (
	"context"
	"errors"
	"fmt"
	"time"

	"conditiond/daemon/engine"
	"conditiond/daemon/journal"
	"conditiond/daemon/web"
	"conditiond/model"
	"conditiond/model/estimate"
)

// What follows is what the page and the API ask of the daemon; web.Daemon says
// what each of it means.

// View is the latest.
func (d *Daemon) View() *engine.View {
	v, _, _ := d.board.look()
	return v
}

// Changed is closed at the next change.
func (d *Daemon) Changed() <-chan struct{} {
	_, changed, _ := d.board.look()
	return changed
}

// Do hands a command to the loop and waits until it is journalled.
func (d *Daemon) Do(ctx context.Context, in engine.Input) error {
	if in.Open != nil {
		if faults := in.Open.Lot.Check(); len(faults) > 0 {
			return &web.LotFault{Faults: faults}
		}
		past, err := d.past(ctx, in.Open.Lot)
		if err != nil {
			return err
		}
		in.Open.Past = past
	}
	answer := make(chan error, 1)
	select {
	case d.requests <- request{in, answer}:
	case <-ctx.Done():
		return ctx.Err()
	}
	select {
	case err := <-answer:
		return outward(err)
	case <-ctx.Done():
		return ctx.Err()
	}
}

// outward gives the engine's refusals the page's names.
func outward(err error) error {
	switch {
	case errors.Is(err, engine.ErrNotFound):
		return fmt.Errorf("%w: %w", web.ErrNotFound, err)
	case errors.Is(err, engine.ErrConflict):
		return fmt.Errorf("%w: %w", web.ErrConflict, err)
	}
	return err
}

// before is how long before packaging the gauge's readings tell of its zero,
// being open to the air.
const before = 24 * time.Hour

// past is what the journal holds of a lot's sensors from before it was opened.
func (d *Daemon) past(ctx context.Context, l model.Lot) ([]model.Reading, error) {
	names := []string{d.config.Spaces[l.Space].Temperature}
	if l.GaugeBottle != nil {
		names = append(names, l.GaugeBottle.Sensor)
	}
	var out []model.Reading
	for _, n := range names {
		q := journal.Query{Series: d.series(n), From: l.PackagedAt.Add(-before), Limit: 1 << 20}
		list, err := d.journal.Readings(ctx, q)
		if err != nil {
			return nil, err
		}
		for _, r := range list {
			out = append(out, reading(r))
		}
	}
	return out, nil
}

func (d *Daemon) series(sensor string) string {
	return string(d.config.Sensors[sensor].Quantity) + "/" + sensor
}

// Readings of a sensor.
func (d *Daemon) Readings(ctx context.Context, sensor string, from, to time.Time, limit int) ([]model.Reading, error) {
	if _, ok := d.config.Sensors[sensor]; !ok {
		return nil, fmt.Errorf("sensor %q: %w", sensor, web.ErrNotFound)
	}
	list, err := d.journal.Readings(ctx, journal.Query{Series: d.series(sensor), From: from, To: to, Limit: limit, Newest: from.IsZero()})
	if err != nil {
		return nil, err
	}
	out := make([]model.Reading, len(list))
	for i, r := range list {
		out[i] = reading(r)
	}
	return out, nil
}

// Series of a lot, from its packaging until now or its closing.
func (d *Daemon) Series(ctx context.Context, id string, from, to time.Time, points int) (web.Series, error) {
	l, ok := d.lot(id)
	if !ok {
		return web.Series{}, fmt.Errorf("lot %q: %w", id, web.ErrNotFound)
	}
	if from.IsZero() {
		from = l.Document.PackagedAt
	}
	if to.IsZero() {
		to = d.View().Time.Add(time.Second)
		if l.ClosedAt != nil { // its gauge may be another lot's since
			to = l.ClosedAt.Add(time.Second)
		}
	}
	out := web.Series{Lot: id, From: from, To: to}
	if !from.Before(to) {
		return out, nil // nothing has happened yet
	}
	names := []string{d.series(l.Thermometer)}
	if l.Gauge != "" {
		names = append(names, d.series(l.Gauge))
	}
	all, err := d.journal.Series(ctx, append(names, coursesOf(id)...), from, to, points)
	out.Temperature = samples(all[d.series(l.Thermometer)])
	if l.Gauge != "" {
		out.Pressure = samples(all[d.series(l.Gauge)])
	}
	get := func(figure string) []web.Sample { return samples(all[courseOf(id, figure)]) }
	out.Estimates = joined(get("co2_p05"), get("co2_p50"), get("co2_p95"), get("gauge_bar"), get("beer_c"))
	return out, err
}

func (d *Daemon) lot(id string) (engine.LotView, bool) {
	for _, l := range d.View().Lots {
		if l.Document.ID == id {
			return l, true
		}
	}
	return engine.LotView{}, false
}

// samples are the buckets' means.
func samples(list []journal.Bucket) []web.Sample {
	out := make([]web.Sample, len(list))
	for i, b := range list {
		out[i] = web.Sample{Time: b.From, Value: b.Mean}
	}
	return out
}

// joined joins what an estimate said at an instant.
func joined(low, middle, high, gauge, beer []web.Sample) []web.Point {
	index := map[time.Time]int{}
	var out []web.Point
	for i, m := range middle {
		index[m.Time] = i
		p := web.Point{Time: m.Time, CO2Volumes: &estimate.Interval{P50: m.Value, P05: m.Value, P95: m.Value}}
		out = append(out, p)
	}
	each := func(list []web.Sample, set func(*web.Point, float64)) {
		for _, s := range list {
			if i, ok := index[s.Time]; ok {
				set(&out[i], s.Value)
			}
		}
	}
	each(low, func(p *web.Point, v float64) { p.CO2Volumes.P05 = v })
	each(high, func(p *web.Point, v float64) { p.CO2Volumes.P95 = v })
	each(gauge, func(p *web.Point, v float64) { p.GaugeBar = &v })
	each(beer, func(p *web.Point, v float64) { p.BeerC = &v })
	return out
}
