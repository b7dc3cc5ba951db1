package synth

import "time"

func (s *Scenario) after(days float64) time.Time {
	return s.Lot.PackagedAt.UTC().Add(time.Duration(days * 24 * float64(time.Hour))).Truncate(time.Second)
}

// befall draws what happens to the lot.
func (s *Scenario) befall(d dice) {
	switch s.Family {
	case LeakStart:
		s.Gauged.Leak = Leak{d.about(0.06, 2.5), 0}
	case LeakLater:
		s.Gauged.Leak = Leak{d.about(0.05, 2.5), d.between(2.5, 12)}
	case Stalled:
		s.Dies = d.between(2, 8)
	case LateAttenuation:
		s.Guest = Guest{From: d.between(11, 24), Sugar: d.between(3.5, 9), Pace: d.about(0.3, 1.5), Grows: d.between(0.25, 0.6), Number: d.between(0.03, 0.12)}
	case HeatWaveLot:
		s.event(d, HeatWave, d.between(5, 16), d.between(3, 7.5), d.between(7, 13))
	case ChilledLot:
		from := d.between(9, float64(s.Days)-4)
		s.Events = append(s.Events, Event{Kind: Chilled, From: s.after(from), Size: d.between(3, 6)})
	case MovedLot:
		s.move(d)
	case SensorDrift:
		s.stray(d)
	case SensorFaults:
		s.breakDown(d)
	}
	if s.Family != MovedLot && d.chance(0.12) {
		s.event(d, ColdSnap, d.between(2, float64(s.Days)-4), d.between(1, 3.5), d.between(3, 7))
	}
	if d.chance(0.15) {
		s.event(d, Shaken, d.between(1, float64(s.Days)), d.between(0.002, 0.007), 0)
	}
}

func (s *Scenario) event(d dice, kind EventKind, from, days, size float64) {
	s.Events = append(s.Events, Event{kind, s.after(from), s.after(from + days), size})
}

// move the lot to another room; carrying shakes it.
func (s *Scenario) move(d dice) {
	from := d.between(4, 14)
	size := d.between(3.5, 8) * pick(d, -1.0, 1)
	s.Events = append(s.Events, Event{Kind: Moved, From: s.after(from), Size: size})
	s.event(d, Shaken, from, d.between(0.003, 0.008), 0)
}

// stray is a gauge that drifts, or was knocked.
func (s *Scenario) stray(d dice) {
	f := SensorFault{Kind: GaugeError, Sensor: s.Gauge.Name, From: s.after(0)}
	if d.chance(0.3) {
		day := d.between(4, float64(s.Days)-6)
		s.Gauge.Err.KnockDay, s.Gauge.Err.Knock = day, d.between(0.15, 0.5)*pick(d, -1.0, 1)
		f.From = s.after(day)
	} else {
		s.Gauge.Err.PerDay = d.between(0.004, 0.025) * pick(d, -1.0, 1)
	}
	s.Faults = append(s.Faults, f)
}

// breakDown draws sensors that stick, fall silent, talk nonsense or are too
// small for the bottle.
func (s *Scenario) breakDown(d dice) {
	s.Gauge.Err.Glitch, s.Thermometer.Err.Glitch = d.between(0, 0.01), d.between(0, 0.01)
	fault := func(kind FaultKind, sensor string, hours float64) {
		from := d.between(2, float64(s.Days)-3)
		s.Faults = append(s.Faults, SensorFault{kind, sensor, s.after(from), s.after(from + hours/24)})
	}
	if d.chance(0.7) {
		fault(Stuck, s.Gauge.Name, d.between(20, 110))
	}
	if d.chance(0.7) || len(s.Faults) == 0 {
		fault(Silent, pick(d, s.Gauge.Name, s.Thermometer.Name), d.between(7, 60))
	}
	if d.chance(0.3) {
		fault(Stuck, s.Thermometer.Name, d.between(30, 90))
	}
	if d.chance(0.3) {
		size, _ := unitOf(s.Gauge.Unit)
		full := d.between(1.2, 2)
		if s.Gauge.Absolute {
			full += 1
		}
		s.Gauge.FullScale = steps(full/size, 0.001)
	}
}

// interrupt draws when sensors, or all of it, pause.
func (s *Scenario) interrupt(d dice) {
	sensors := []string{"*", s.Thermometer.Name}
	if s.Gauge.Name != "" {
		sensors = append(sensors, s.Gauge.Name)
	}
	for at := d.ExpFloat64() * 9; at < float64(s.Days); at += d.ExpFloat64() * 9 {
		who := pick(d, sensors...)
		x := Silence{who, s.after(at), s.after(at + d.between(12, 150)/1440)}
		s.Feed.Silences = append(s.Feed.Silences, x)
		if s.Feed.Together && who != "*" {
			s.Feed.Silences = append(s.Feed.Silences, Silence{s.Gauge.Name, x.From, x.To}, Silence{s.Thermometer.Name, x.From, x.To})
		}
	}
	if s.Feed.Together {
		for _, f := range s.Faults {
			if f.Kind == Silent { // the box is one
				other := s.Gauge.Name
				if f.Sensor == other {
					other = s.Thermometer.Name
				}
				s.Faults = append(s.Faults, SensorFault{Silent, other, f.From, f.To})
			}
		}
	}
}
