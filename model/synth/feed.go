package synth

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"conditiond/model"
)

// Message is a publication as a subscriber got it.
type Message struct {
	At      time.Time
	Topic   string
	QoS     int
	Retain  bool
	Payload string
}

// Feed is how messages come.
type Feed struct {
	Together   bool // both sensors in one message
	QoS        int
	Keeps      bool    // the broker keeps the last value
	Jitter     float64 // s; 0 = devices keep time
	Duplicates float64 // chance that a message comes twice
	Swaps      float64 // chance that a message comes after the next
	Others     int     // messages of other devices
	Silences   []Silence
	Page       Page
}

// Silence of a sensor, or of the whole feed when Sensor is "*".
type Silence struct {
	Sensor string    `json:"sensor"`
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
}

// sample is one value of one device, as it prints it.
type sample struct {
	*Device
	at   time.Time
	said string
	told model.Reading
	ok   bool
}

// samples of both devices over the whole recording.
func (r *Recording) samples() []sample {
	s := r.scenario
	out := r.listen(&s.Thermometer, forThermometer, s.phase(forThermometer))
	if s.Gauge.Name != "" {
		out = append(out, r.listen(&s.Gauge, forGauge, s.phase(forGauge))...)
	}
	slices.SortStableFunc(out, func(a, b sample) int { return a.at.Compare(b.at) })
	return out
}

// phase is how long after the whole interval a device speaks: none when it
// keeps time, the same for both when they are one box.
func (s *Scenario) phase(purpose uint64) time.Duration {
	if s.Feed.Jitter == 0 {
		return 0
	}
	if s.Feed.Together {
		purpose = forFeed
	}
	return time.Duration(cast(s.Seed, s.Index, purpose+150).between(0, s.interval().Seconds())) * time.Second
}

func (s *Scenario) interval() time.Duration { return cmp.Or(s.Interval, 5*time.Minute) }

func (r *Recording) listen(d *Device, purpose uint64, phase time.Duration) []sample {
	s := r.scenario
	dice := cast(s.Seed, s.Index, purpose)
	shake := cast(s.Seed, s.Index, forFeed)
	if !s.Feed.Together {
		shake = cast(s.Seed, s.Index, purpose+100)
	}
	var out []sample
	last, felt := "", r.climate.room[0]
	for at := r.climate.start.Add(phase); !at.After(r.end()); at = at.Add(s.interval()) {
		when := at.Add(time.Duration(s.Feed.Jitter * shake.NormFloat64() * float64(time.Second))).Round(time.Microsecond)
		felt = r.feels(d, at, felt)
		said := d.says(dice, r.truthFor(d, at, felt), r.climate.room[r.climate.index(at)], at.Sub(s.Lot.PackagedAt).Hours()/24)
		if last != "" && s.faulty(Stuck, d.Name, at) {
			said = last
		}
		if last = said; s.quiet(d.Name, at) {
			continue
		}
		x := sample{Device: d, at: when, said: said}
		x.told, x.ok = d.reading(said, when, s.Station)
		out = append(out, x)
	}
	return out
}

func (s *Scenario) faulty(kind FaultKind, sensor string, at time.Time) bool {
	return slices.ContainsFunc(s.Faults, func(f SensorFault) bool { return f.holds(kind, sensor, at) })
}

func (s *Scenario) quiet(sensor string, at time.Time) bool {
	return s.faulty(Silent, sensor, at) || slices.ContainsFunc(s.Feed.Silences, func(x Silence) bool {
		return (x.Sensor == "*" || x.Sensor == sensor) && !at.Before(x.From) && at.Before(x.To)
	})
}

// feels is the temperature of a thermometer's body.
func (r *Recording) feels(d *Device, at time.Time, before float64) float64 {
	air := r.climate.room[r.climate.index(at)]
	if d.Slow == 0 {
		return air
	}
	return before + (air-before)*(1-math.Exp(-r.scenario.interval().Hours()/24/d.Slow))
}

// truthFor a device: a thermometer's body, or the pressure at the gauge, which
// is open to the air until the bottle is capped.
func (r *Recording) truthFor(d *Device, at time.Time, felt float64) float64 {
	if d.Quantity == model.Temperature {
		return felt
	}
	p := 0.0
	if since := at.Sub(r.scenario.Lot.PackagedAt); since >= 0 {
		i := int(since / step)
		part := float64(since%step) / float64(step)
		p = r.told.gauge[i] + part*(r.told.gauge[min(i+1, len(r.told.gauge)-1)]-r.told.gauge[i])
	}
	if d.Absolute {
		p += r.climate.barometer[r.climate.index(at)]
	}
	return p
}

func readings(samples []sample) []model.Reading {
	out := make([]model.Reading, 0, len(samples))
	for _, x := range samples {
		if x.ok {
			out = append(out, x.told)
		}
	}
	return out
}

// post puts samples into messages, and does to them what networks do.
func (s *Scenario) post(samples []sample) []Message {
	d := cast(s.Seed, s.Index, forPage)
	var out []Message
	for i := 0; i < len(samples); i++ {
		x := samples[i]
		members := []string{}
		if x.Pointer != "" {
			members = append(members, x.member(x.said))
		}
		if s.Feed.Together && i+1 < len(samples) && samples[i+1].at.Equal(x.at) {
			i++
			members = append(members, samples[i].member(samples[i].said))
		}
		if x.Beside != "" {
			members = append(members, x.Beside)
		}
		payload := x.said
		if len(members) > 0 && x.Pointer != "" {
			payload = "{" + strings.Join(members, ",") + "}"
		}
		out = append(out, Message{x.at, x.Topic, s.Feed.QoS, false, payload})
	}
	out = append(out, s.strangers(d)...)
	slices.SortStableFunc(out, func(a, b Message) int { return a.At.Compare(b.At) })
	return s.mangle(d, out)
}

// strangers are other devices on the same broker.
func (s *Scenario) strangers(d dice) []Message {
	var out []Message
	for range s.Feed.Others {
		at := s.Lot.PackagedAt.Add(time.Duration(d.between(0, float64(s.Days)*24) * float64(time.Hour))).Round(time.Microsecond)
		out = append(out, pick(d, Message{at, "house/doorbell", 0, false, "pressed"},
			Message{at, "house/fan", 0, false, `{"on":true,"speed":2}`}, Message{at, "attic/climate", 0, false, "31.5"}))
	}
	return out
}

// mangle repeats and swaps messages, and hands over what the broker kept when
// the feed comes back.
func (s *Scenario) mangle(d dice, list []Message) []Message {
	kept := map[string]Message{}
	var out []Message
	for i, m := range list {
		if s.Feed.Keeps && i > 0 && s.returned(list[i-1].At, m.At) {
			for _, topic := range []string{s.Thermometer.Topic, s.Gauge.Topic} {
				if k, ok := kept[topic]; ok {
					k.At, k.Retain = m.At.Add(-time.Second), true
					out = append(out, k)
					delete(kept, topic)
				}
			}
		}
		kept[m.Topic] = m
		out = append(out, m)
		if d.chance(s.Feed.Duplicates) {
			out = append(out, m)
		}
		if n := len(out); n > 1 && d.chance(s.Feed.Swaps) {
			out[n-1], out[n-2] = out[n-2], out[n-1]
		}
	}
	return out
}

// returned says whether the whole feed came back between two instants.
func (s *Scenario) returned(before, at time.Time) bool {
	return slices.ContainsFunc(s.Feed.Silences, func(x Silence) bool {
		return x.Sensor == "*" && before.Before(x.To) && !at.Before(x.To)
	})
}
