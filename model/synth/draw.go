package synth

import (
	"fmt"
	"math"
	"time"

	"conditiond/model"
)

// invented is the year in which drawn lots are packaged: not yet come.
var invented = time.Date(2031, 1, 4, 0, 0, 0, 0, time.UTC)

// Draw a lot: the same for the same seed and index. Families take turns.
func Draw(seed uint64, index int) Scenario {
	f := Families()
	return DrawFamily(seed, index, f[index%len(f)])
}

// DrawFamily draws a lot of one family.
func DrawFamily(seed uint64, index int, family Family) Scenario {
	d := cast(seed, index, forLot)
	s := &Scenario{Family: family, Seed: seed, Index: index}
	s.place(d)
	s.Lot.ID = fmt.Sprintf("invented-%d-%03d", seed, index)
	s.Lot.Space = pick(d, "pantry", "loft", "workshop", "laundry", "landing")
	s.Lot.PackagedAt = invented.Add(time.Duration(d.IntN(350*24*12)) * 5 * time.Minute)
	s.Days = s.daysToSee(d)
	s.Before = time.Duration(30+d.IntN(120)) * step
	s.Spread = d.between(0.015, 0.05)
	s.Room = room(d, family, s.Room.Zone)
	b := brew{dice: d, Scenario: s}
	b.draw()
	s.Lot.Name = fmt.Sprintf("Invented %s %d", b.called(), index)
	s.devices(d)
	s.befall(d)
	s.rate(d)
	s.interrupt(d)
	return *s
}

// place draws where the lot stands: zones without summer time, so that local
// stamps have one offset.
func (s *Scenario) place(d dice) {
	type zone struct {
		name  string
		hours int
	}
	z := pick(d, zone{"Africa/Nairobi", 3}, zone{"America/Bogota", -5}, zone{"Atlantic/Reykjavik", 0}, zone{"Asia/Tokyo", 9},
		zone{"Africa/Lagos", 1}, zone{"America/Phoenix", -7}, zone{"Australia/Brisbane", 10}, zone{"Africa/Johannesburg", 2})
	s.Room.Zone = z.hours
	s.Site = Site{"Invented " + pick(d, "larder", "tool shed", "back room", "half-landing", "wash house"), z.name, steps(d.between(0, 700), 5)}
	if s.Family == HighAltitude {
		s.Site.Altitude = steps(d.between(1200, 2600), 5)
	}
	s.Station = model.StationPressure(s.Site.Altitude)
}

// called is the sort of beer, for its name.
func (b *brew) called() string {
	switch b.Lot.Yeast {
	case model.Lager:
		return pick(b.dice, "amber lager", "smoked lager")
	case model.Wheat:
		return pick(b.dice, "spelt beer", "white beer")
	case model.Farmhouse:
		return "barn ale"
	case model.Wine:
		return "heather ale"
	case model.Mixed:
		return "wild ale"
	}
	return pick(b.dice, "juniper ale", "brown beer", "table beer", "heather stout", "copper ale")
}

func (s *Scenario) daysToSee(d dice) int {
	switch s.Family {
	case ColdCloset, StrongOld, LagerLot:
		return 38 + d.IntN(23)
	case LateAttenuation:
		return 38 + d.IntN(12)
	case LeakStart, LeakLater, Stalled, Unfinished:
		return 27 + d.IntN(20)
	}
	return 20 + d.IntN(18)
}

func room(d dice, f Family, zone int) Room {
	r := Room{Mean: d.between(17.5, 22.5), Trend: d.normal(0, 1), Wander: d.between(0.2, 0.9), Swing: d.between(0.1, 1), Weather: d.between(0.005, 0.009), Zone: zone}
	if d.chance(0.25) {
		r.SetBack = d.between(1.5, 4)
	}
	switch f {
	case ColdCloset:
		r.Mean = d.between(9, 14)
	case Warm:
		r.Mean = d.between(24, 28.5)
	case LagerLot:
		r.Mean = d.between(11, 18)
	case DailySwing:
		r.Swing = d.between(2, 4.5)
	case StrongOld:
		r.Mean = d.between(18, 23)
	}
	return r
}

// devices draws the sensors: what they are called, how they speak, how they err.
func (s *Scenario) devices(d dice) {
	space := s.Lot.Space
	s.Interval = pick(d, 5*time.Minute, 5*time.Minute, 10*time.Minute, 15*time.Minute)
	s.Thermometer = thermometer(d, space)
	s.Gauge = gauge(d, space)
	if s.Family == HealthyNoGauge || d.chance(0.3) && benign(s.Family) {
		s.Gauge, s.Gauged, s.Lot.GaugeBottle = Device{}, nil, nil
	} else {
		s.Lot.GaugeBottle.Sensor = s.Gauge.Name
	}
	s.Feed = Feed{QoS: d.IntN(2), Keeps: d.chance(0.4), Jitter: d.between(0.1, 2), Duplicates: d.between(0, 0.006),
		Swaps: d.between(0, 0.004), Others: d.IntN(40),
		Page: Page{Stamp: pick(d, UTCMicros, LocalMicros, UTCSeconds), Raw: d.chance(0.4), Cut: d.IntN(4)}}
	if s.Gauge.Name != "" && d.chance(0.3) {
		s.together()
	}
}

// together: one box carries both sensors.
func (s *Scenario) together() {
	s.Feed.Together = true
	s.Thermometer.Topic = "box/" + s.Lot.Space
	s.Gauge.Topic = s.Thermometer.Topic
	s.Thermometer.Pointer, s.Gauge.Pointer = "/warm", "/press"
}

// benign families are told without a gauge too.
func benign(f Family) bool {
	switch f {
	case ColdCloset, DailySwing, Warm, StrongOld, LagerLot, MixedSugars, DropsLot, HighAltitude:
		return true
	}
	return false
}

func thermometer(d dice, space string) Device {
	x := Device{Name: pick(d, "shelf-air", "wall-probe", "dummy-bottle"), Topic: "rooms/" + space + "/warmth", Quantity: model.Temperature,
		Unit: pick(d, "degC", "degC", "degC", "degF", "K"), Digits: pick(d, 1, 2, 3), Pointer: pick(d, "", "", "/t", "/sht/temperature", "/list/0/deg")}
	x.Text = x.Pointer != "" && d.chance(0.3)
	if x.Pointer != "" && d.chance(0.5) {
		x.Beside = `"rh":52`
	}
	x.Slow = 3.0 / 1440
	if x.Name == "dummy-bottle" {
		x.Slow = d.between(0.9, 2) / 24
	}
	x.Err = Err{Offset: d.normal(0, 0.25), Span: d.normal(0, 0.003), Noise: d.between(0.02, 0.1), Grain: pick(d, 0.0625, 0.1, 0.01), Glitch: pick(d, 0, 1.0/3000, 1.0/1200)}
	return x
}

func gauge(d dice, space string) Device {
	x := Device{Name: pick(d, "press-one", "marked-bottle", "brown-gauge"), Topic: "rooms/" + space + "/pressure", Quantity: model.Pressure,
		Unit: pick(d, "bar", "bar", "psi", "psi", "kPa", "hPa", "MPa"), Absolute: d.chance(0.3), Pointer: pick(d, "", "/p", "/pressure", "/bottle/bar")}
	x.Text = x.Pointer != "" && d.chance(0.3)
	size, _ := unitOf(x.Unit)
	full := pick(d, 6.0, 6.895, 10)
	x.FullScale = steps(full/size, 0.001)
	x.Err = Err{Offset: d.normal(0, 0.004*full), Span: d.normal(0, 0.006), PerKelvin: d.normal(0, 0.0002*full), PerDay: d.normal(0, 0.0003),
		Noise: d.between(0.001, 0.008), Grain: full / pick(d, 1023.0, 4095, 16000) / size, Glitch: pick(d, 0, 1.0/3000, 1.0/1200)}
	x.Digits = int(math.Round(3 + math.Log10(size))) // a thousandth of a bar or better
	x.calibrate(d, size)
	return x
}

// calibrate as some brewers do: the zero, read open to the air, or the span.
func (x *Device) calibrate(d dice, size float64) {
	switch {
	case d.chance(0.3):
		x.Scale, x.Offset = 1, steps(-(x.Err.Offset+d.normal(0, 0.006))/size, 0.001)
	case d.chance(0.1):
		x.Scale = steps(1/(1+x.Err.Span)+d.normal(0, 0.002), 0.001)
	}
}

// rate gives the bottles their ratings: lots in trouble stand in weaker glass.
func (s *Scenario) rate(d dice) {
	ratings := []model.BarGauge{4, 4, 5, 5, 5, 6, 7}
	switch s.Family {
	case OverPrimed, Unfinished, LateAttenuation, HeatWaveLot:
		ratings = []model.BarGauge{3, 3.5, 3.5, 4, 4.5, 5}
	}
	need := model.BarGauge(float64(s.Lot.TargetVolumes)*1.28 - 0.5) // what it will press with, and a margin
	for i := range s.Lot.Bottles {
		r := pick(d, ratings...)
		for r < need {
			r += 0.5
		}
		s.Lot.Bottles[i].RatedBar = r
	}
}
