package synth

import (
	"math"
	"time"

	"conditiond/model"
)

// instrument errs: scale and offset for good, noise each time, and now and
// then wildly.
type instrument struct{ offset, scale, noise, least float64 }

func (i instrument) says(w *world, truth float64) float64 {
	v := truth*i.scale + i.offset + i.noise*w.rng.NormFloat64()
	if w.rng.IntN(1500) == 0 {
		v += 3 * w.rng.NormFloat64()
	}
	return math.Round(v/i.least) * i.least
}

// open lets the room go by before the bottle is capped.
func (w *world) open(at time.Time) {
	w.isOpen = true
	w.air(at)
}

// read appends what the sensors say at a time.
func (w *world) read(list []model.Reading, at time.Time) []model.Reading {
	list = append(list, model.Reading{Sensor: w.s.Thermometer, At: at, Quantity: model.Temperature, Value: w.thermo.says(w, w.room)})
	g := w.s.Lot.GaugeBottle
	if g == nil || w.s.Story == Silent && w.pastEvent(at) {
		return list
	}
	bar := 0.0
	if !w.isOpen {
		bar = w.inside() - w.around()
	}
	return append(list, model.Reading{Sensor: g.Sensor, At: at, Quantity: model.Pressure, Value: w.gauge.says(w, bar)})
}
