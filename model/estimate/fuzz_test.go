package estimate

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"conditiond/model"
)

// FuzzReadings plays a script, an hour a byte, to a lot's estimator: whatever a
// gauge and a thermometer may say, what is said of the lot makes sense.
func FuzzReadings(f *testing.F) {
	f.Add([]byte("\x00\x00\x00\x00\x10\x20\x30\x40\x50\x60\x70\x80\x90\xa0\xb0\xc0\xd0\xe0\xf0"))
	f.Add([]byte("\x03\x13\x23\x33\x43\x53\x63\x73\x83\x93\xa3\xb3\xc3\xd3\xe3\xf3"))
	f.Fuzz(func(t *testing.T, script []byte) {
		p := newPlayer()
		for i, b := range script {
			if p.hour(b); p.at.After(day(longestPlayed)) {
				break
			}
			if i%12 == 11 {
				checkPlain(t, p.e.Estimate())
			}
		}
		checkPlain(t, p.e.Estimate())
		checkLost(t, p)
	})
}

// checkLost takes the gauge away for half a day: that lowers no risk, that of a
// given heat at least; what the room will do may be known better by then.
func checkLost(t *testing.T, p *player) {
	t.Helper()
	was, x := p.e.Estimate(), p.e.Clone()
	x.Advance(p.at.Add(12 * time.Hour))
	now := x.Estimate()
	const slight = 0.02 // stories that would have shown by now
	if a, b := was.Signs.RichWorstShare.P95, now.Signs.RichWorstShare.P95; b < a-slight {
		t.Errorf("without its gauge the richest bottle sinks from %.3f to %.3f of its rating", a, b)
	}
}

// longestPlayed in days keeps a script cheap.
const longestPlayed = 3

// player gives an estimator what a script says.
type player struct {
	e        *Estimator
	at       time.Time
	bar, c   float64
	unit     float64 // what a bar is read as
	stuck    bool
	readings []model.Reading
}

func newPlayer() *player {
	_, _, s := lot(0, 1)
	s.FullScale = 6
	return &player{e: New(s), at: day(-0.25), c: 20, unit: 1}
}

// wild are values that no sensor should send, and some do.
var wild = [...]float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, 85, -127, 39.99, 6, 0, 5e-324, -0.9, 59.9, -29.9, 0.3, 4}

// hour by a byte: what happens by its low half, how much by its high half.
func (p *player) hour(b byte) {
	what, much := b&15, float64(b>>4)
	if !p.stuck {
		p.bar = math.Max(0, p.bar+0.004*much)
	}
	times, room := 2, true
	switch what {
	case 4: // garbage from the gauge
		p.say(model.Pressure, wild[b>>4], 0)
	case 5: // and from the thermometer
		p.say(model.Temperature, wild[b>>4], 0)
	case 6: // a gap
		p.at, times = p.at.Add(time.Duration(much)*time.Hour), 0
	case 7: // an old reading again, out of order
		for i := 0; i < len(p.readings) && i < 4; i++ {
			p.e.Observe(p.readings[len(p.readings)-1-i])
		}
	case 8: // a step of the gauge
		p.bar = math.Max(0, p.bar+0.25*(much-8))
	case 9: // kPa, mbar or psi for bar
		p.unit = [...]float64{1, 100, 1000, 14.5}[(b>>4)&3]
	case 10:
		p.stuck = !p.stuck
	case 11: // at its end
		p.say(model.Pressure, 6, 0)
		times = 0
	case 12:
		p.c = 35 - 3*much
	case 13: // the gauge is silent
		times = 0
	case 14: // the thermometer is
		room = false
	case 15:
		p.done(b >> 4)
	}
	for i := range times {
		wobble := 0.003 * float64(i)
		if p.stuck {
			wobble = 0
		}
		p.say(model.Pressure, (p.bar+wobble)*p.unit, i)
	}
	if room {
		p.say(model.Temperature, p.c+0.1*math.Mod(much, 5), 1)
	}
	p.at = p.at.Add(time.Hour)
	p.e.Advance(p.at)
}

// done to the bottles: rarely, since it is for good.
func (p *player) done(how byte) {
	switch how {
	case 14:
		p.e.Event(Event{At: p.at, Kind: ChilledAll})
	case 15:
		p.e.Event(Event{At: p.at, Kind: LotClosed})
	}
}

func (p *player) say(q model.Quantity, v float64, tenth int) {
	l := p.e.setup.Lot
	r := model.Reading{Sensor: p.e.setup.Thermometer, Quantity: q, Value: v, At: p.at.Add(time.Duration(6*tenth) * time.Minute)}
	if q == model.Pressure {
		r.Sensor = l.GaugeBottle.Sensor
	}
	p.readings = append(p.readings, r)
	p.e.Observe(r)
}

// checkPlain holds an estimate against what is true of all of them.
func checkPlain(t *testing.T, x Estimate) {
	t.Helper()
	for what, i := range map[string]*Interval{
		"co2": x.CO2Volumes, "progress": x.Progress, "final": x.FinalVolumes, "peak": x.PeakBar, "worst": x.WorstCaseBar,
		"gas a day": x.Signs.GasPerDay, "rich peak": &x.Signs.RichPeakShare, "rich worst": &x.Signs.RichWorstShare,
	} {
		if i != nil {
			check(t, what, i)
		}
	}
	if p := x.Progress; p != nil && (p.P05 < 0 || p.P95 > 1) {
		t.Errorf("progress is %v", *p)
	}
	g := x.Signs
	for what, p := range map[string]float64{"over-pressure": x.OverPressure.Probability, "ready": g.Ready, "leak": g.Leak, "away": g.Away, "astray": g.Astray, "stalled": g.Stalled, "unexpected": g.Unexpected, "over": g.Over} {
		if !(p >= 0 && p <= 1+1e-9) {
			t.Errorf("the chance of %s is %v", what, p)
		}
	}
	if _, err := json.Marshal(x); err != nil { // NaN and Inf can't be said
		t.Error(err)
	}
	for what, w := range map[string]*When{"ready": x.ReadyAt, "crosses": x.OverPressure.CrossesAt} {
		if w != nil && !inOrder(w) {
			t.Errorf("%s at %v, %v, %v", what, w.P05, w.P50, w.P95)
		}
	}
}

// inOrder says that no bound lies before an earlier one; nil is beyond all.
func inOrder(w *When) bool {
	last := time.Time{}
	open := false
	for _, at := range []*time.Time{w.P05, w.P50, w.P95} {
		if at == nil {
			open = true
			continue
		}
		if open || at.Before(last) {
			return false
		}
		last = *at
	}
	return true
}
