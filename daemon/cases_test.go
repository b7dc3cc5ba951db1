package daemon

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/model"
	"conditiond/model/estimate"
)

// The cases are invented lots with the answer that a careful practitioner would
// defend (common practice, no source), told by short hand-made recordings. The
// practitioner's sums take the gauge for CO2 in beer alone; the model counts
// trapped air, water vapour and the headspace's own gas too, and that is what
// is asserted here: `holds` is the model's volumes for a gauge at rest.

var packed = time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC)

// curve is a course by days since packaging.
type curve func(day float64) float64

// tale is what a lot's sensors have to tell.
type tale struct {
	lot        model.Lot
	from, to   float64 // days of recording
	room       curve   // °C by the thermometer
	beer       curve   // °C; nil = the room's
	gas        curve   // volumes in beer and headspace together; nil = told by bar
	bar        curve   // what the gauge shows; nil = by gas, or no gauge
	off        float64 // bar that the gauge shows too much
	full       float64 // bar, end of the gauge's scale; 0 = 10
	everything bool    // estimates are wanted from each hour, not each sixth
}

// ale is a lot that is primed for a target, in glass of unknown strength.
func ale(target model.Volumes) model.Lot {
	l := model.Lot{
		ID: "invented-ale", Name: "Invented ale", Space: "closet", PackagedAt: packed, Yeast: model.Ale, Capped: model.Purged,
		Beer:          model.Beer{VolumeL: 19, OriginalGravity: 1.048, FinalGravity: 1.012, LimitGravity: 1.012, WarmestC: 20},
		TargetVolumes: target, WorstCaseC: 30,
		Bottles:     []model.Bottles{{Kind: model.UnknownGlass, VolumeML: 330, HeadspaceML: 13, Count: 57}},
		GaugeBottle: &model.GaugeBottle{Sensor: "closet-gauge", VolumeML: 330, HeadspaceML: 13, Stands: model.Alone},
	}
	return l.Primed(model.Atmosphere)
}

// live is a drink that is to be stopped at a mark, in plastic.
func live(l model.Lot, stop model.Volumes, grams model.Grams) model.Lot {
	l.Name, l.TargetVolumes, l.StopAtVolumes, l.Yeast = "Invented live drink", 0, stop, model.Wine
	l.Priming = nil
	if grams > 0 {
		l.Priming = []model.Priming{{Sugar: model.Sucrose, MassG: grams}}
	}
	l.Bottles = []model.Bottles{{Kind: model.PET, VolumeML: 2000, HeadspaceML: 80, Count: 9}}
	l.GaugeBottle = &model.GaugeBottle{Sensor: "closet-gauge", VolumeML: 2000, HeadspaceML: 80, Stands: model.Alone}
	return l
}

func steady(v float64) curve { return func(float64) float64 { return v } }

// through points of day and value, in straight lines.
func through(p ...float64) curve {
	return func(d float64) float64 {
		for i := 2; i < len(p); i += 2 {
			if d <= p[i] {
				return p[i-1] + (p[i+1]-p[i-1])*math.Max(0, d-p[i-2])/(p[i]-p[i-2])
			}
		}
		return p[len(p)-1]
	}
}

// grown is gas that comes after a day's lag and is nearly all there after ten.
func grown(from, to float64) curve {
	return func(d float64) float64 { return to - (to-from)*math.Min(1, math.Exp(-(d-1)/2.2)) }
}

func sealed(l model.Lot) model.Sealed { return l.Sealed(l.GaugeBottle.Bottle(), model.Atmosphere) }

// holds is the gas in a gauge bottle at rest, its oxygen spent.
func (s tale) holds(bar model.BarGauge, t model.Celsius) float64 {
	b := sealed(s.lot)
	b.Air = b.Air.Spent()
	return float64(b.CO2(bar, t))
}

const cadence = 10 * time.Minute

// lines are the tale as a stock subscriber prints it. The gauge bottle's beer
// follows the room by 1.5 h, and its headspace the beer by 4 h, where the tale
// doesn't say what they do.
func (s tale) lines() (out []string) {
	rng := rand.New(rand.NewPCG(7, 11))
	steps := int((s.to - s.from) * 24 * 6)
	bottle, beer, shows := model.Sealed{}, s.room(s.from), math.NaN()
	if s.lot.GaugeBottle != nil {
		bottle = sealed(s.lot)
	}
	for i := range steps + 1 {
		day := s.from + float64(i)/144
		at := packed.Add(time.Duration(math.Round(day*24*60)) * time.Minute)
		room := s.room(day)
		beer += (room - beer) / 9
		if s.beer != nil {
			beer = s.beer(day)
		}
		out = append(out, message(at, s.lot.Space+"/air", room+0.04*rng.NormFloat64(), "%.2f"))
		bar := math.NaN()
		switch {
		case s.bar != nil:
			bar = s.bar(day)
		case s.gas != nil && bottle.Beer > 0:
			rest := float64(bottle.Gauge(model.Volumes(s.gas(day)), model.Celsius(beer)))
			if math.IsNaN(shows) || s.beer != nil {
				shows = rest
			}
			shows += (rest - shows) / 24
			bar = shows
		}
		if day < 0 {
			bar = 0
		}
		if !math.IsNaN(bar) {
			full := s.full
			if full == 0 {
				full = 10
			}
			out = append(out, message(at.Add(time.Second), s.lot.Space+"/gauge", math.Min(full, bar+s.off+0.004*rng.NormFloat64()), "%.3f"))
		}
	}
	return out
}

func message(at time.Time, topic string, v float64, form string) string {
	return fmt.Sprintf(`{"tst":"%s","topic":"%s","qos":1,"retain":0,"payload":"`+form+`"}`, at.Format("2006-01-02T15:04:05.000000Z0700"), topic, v)
}

// told is what a replay said of one lot.
type told struct {
	*testing.T
	lot       string
	estimates []estimate.Estimate
	alerts    []alertLine
	replay    *Replay
}

// tell plays tales together and says what was told of each. A lot's id is what
// the estimator's chances are drawn from; CONDITIOND_DRAW is added to it, so that
// other draws can be tried.
func tell(t *testing.T, tales ...tale) []*told {
	t.Helper()
	if testing.Short() {
		t.Skip("plays weeks")
	}
	t.Parallel()
	c := defaults()
	c.Site.Altitude, c.Sensors, c.Spaces = 0, map[string]Sensor{}, map[string]Space{}
	r := &Replay{Config: &c, Every: 6 * time.Hour, Unread: func(n int, err error) { t.Errorf("line %d: %v", n, err) }}
	var lines []string
	for i := range tales {
		tales[i].lot.ID += os.Getenv("CONDITIOND_DRAW")
		s := tales[i]
		if s.everything {
			r.Every = time.Hour
		}
		full := s.full
		if full == 0 {
			full = 10
		}
		c.Spaces[s.lot.Space] = Space{Temperature: s.lot.Space + "-air"}
		c.Sensors[s.lot.Space+"-air"] = Sensor{Topic: s.lot.Space + "/air", Quantity: model.Temperature, Unit: "degC", Interval: cadence, Calibration: Calibration{Scale: 1}}
		c.Sensors[s.lot.Space+"-gauge"] = Sensor{Topic: s.lot.Space + "/gauge", Quantity: model.Pressure, Unit: "bar", Reference: "gauge", FullScale: full, Interval: cadence, Calibration: Calibration{Scale: 1}}
		r.Lots = append(r.Lots, s.lot)
		lines = append(lines, s.lines()...)
	}
	slices.Sort(lines) // each begins with its instant
	var out bytes.Buffer
	if err := r.Run(strings.NewReader(strings.Join(lines, "\n")), &out); err != nil {
		t.Fatal(err)
	}
	var all []*told
	for _, s := range tales {
		x := &told{T: t, lot: s.lot.ID, replay: r}
		x.read(out.String(), s.lot.ID)
		all = append(all, x)
	}
	return all
}

func (o *told) read(text, lot string) {
	o.Helper()
	for line := range strings.Lines(text) {
		var a alertLine
		if err := json.Unmarshal([]byte(line), &a); err != nil {
			o.Fatal(err)
		}
		switch {
		case a.Lot != lot:
		case a.Type == "alert":
			o.alerts = append(o.alerts, a)
			o.Logf("day %.2f: %s %s %s: %s | %s", days(a.Time), a.Alert, a.Severity, a.State, a.Summary, a.Advice)
		default:
			var e estimateLine
			if err := json.Unmarshal([]byte(line), &e); err != nil {
				o.Fatal(err)
			}
			o.estimates = append(o.estimates, e.Estimate)
		}
	}
}

func days(at time.Time) float64 { return at.Sub(packed).Hours() / 24 }

// on is the estimate of a day.
func (o *told) on(day float64) estimate.Estimate {
	o.Helper()
	for _, e := range slices.Backward(o.estimates) {
		if days(e.Time) <= day+1e-6 {
			return e
		}
	}
	o.Fatalf("nothing was said by day %.2f", day)
	return estimate.Estimate{}
}

func (o *told) last() estimate.Estimate { return o.estimates[len(o.estimates)-1] }

// raised is the first such alert, of at least a severity, with text in its
// words.
func (o *told) raised(n alerts.Name, least alerts.Severity, says ...string) alertLine {
	o.Helper()
	for _, a := range o.alerts {
		if a.Alert != n || a.State != alerts.Raised || a.Severity.Rank() < least.Rank() {
			continue
		}
		for _, text := range says {
			if !strings.Contains(a.Summary+" "+a.Advice, text) {
				o.Errorf("%s doesn't say %q: %s | %s", n, text, a.Summary, a.Advice)
			}
		}
		return a
	}
	o.Errorf("no %s of at least %s", n, least)
	return alertLine{}
}

// never such alerts, of at least a severity.
func (o *told) never(least alerts.Severity, names ...alerts.Name) {
	o.Helper()
	for _, a := range o.alerts {
		if a.State == alerts.Raised && a.Severity.Rank() >= least.Rank() && slices.Contains(names, a.Alert) {
			o.Errorf("day %.2f: %s %s: %s", days(a.Time), a.Severity, a.Alert, a.Summary)
		}
	}
}

// between two days.
func (o *told) between(a alertLine, from, to float64) {
	o.Helper()
	if d := days(a.Time); a.Alert != "" && (d < from || d > to) {
		o.Errorf("%s on day %.2f, not %g to %g", a.Alert, d, from, to)
	}
}

func near(t *testing.T, what string, got *estimate.Interval, want, tol float64) {
	t.Helper()
	if got == nil || !(math.Abs(got.P50-want) <= tol) {
		t.Errorf("%s is %+v, want %.2f ± %.2f", what, got, want, tol)
	}
}

// Worries are all that may be wrong with a lot that does what was planned.
var worries = []alerts.Name{alerts.OverPressure, alerts.OverCarbonation, alerts.Leak, alerts.Stalled, alerts.UnexpectedFermentation, alerts.SensorFault, alerts.SensorSilent, alerts.TooWarm}

// A01: at target on day 9, and still rising at the limit of what counts as flat.
// What comes before is ours: a bottle just capped shows nothing.
func TestCaseReadingAtTargetIsNotReadyYet(t *testing.T) {
	s := tale{lot: ale(2.4), to: 9, room: steady(20), bar: through(0, 0, 1, 0.2, 3, 1.2, 5, 1.65, 6, 1.78, 7, 1.85, 8, 1.88, 9, 1.90)}
	o := tell(t, s)[0]
	o.never(alerts.Notice, append(worries, alerts.Ready)...)
	near(t, "volumes", o.last().CO2Volumes, s.holds(1.90, 20), 0.10) // 2.45 by the sums
}

// A02: the closet cycles daily; nothing is made or lost.
func TestCaseWarmDaysAndColdNights(t *testing.T) {
	s := tale{lot: ale(2.4), to: 13, gas: grown(0.86, 2.4), room: func(d float64) float64 { return 20.5 + 2.5*math.Sin(2*math.Pi*d) }}
	o := tell(t, s)[0]
	near(t, "volumes", o.last().CO2Volumes, 2.4, 0.10)
	o.never(alerts.Notice, worries...)
	o.raised(alerts.Ready, alerts.Notice, "Chill one bottle")
}

// A03: more gas than the glass is taken to bear, from beer that wasn't finished.
// The gas is told, not the gauge, so that it begins with the residual that the
// model gives at 20 °C: (1.013 − 0.023) bar × 1.63 g/(L bar) / 1.977 g/L = 0.82,
// by 0.96 of Weiss 1974.
// With the practitioner's 0.86 its first days would show 0.05 bar more than a
// purged bottle has, which would be taken for air. A tenth of the air is taken to
// be in there anyway, which he doesn't: 0.09 bar, 0.08 volumes.
func TestCaseUnfinishedBeerInUnknownGlass(t *testing.T) {
	l := ale(2.4)
	l.Beer.FinalGravity, l.Beer.LimitGravity = 1.014, 0
	s := tale{lot: l, to: 6, room: steady(21), gas: through(0, 0.82, 0.7, 0.88, 2, 1.90, 3, 2.44, 4, 2.81, 5, 3.05, 6, 3.20)}
	o := tell(t, s)[0]
	near(t, "volumes", o.last().CO2Volumes, 3.20-0.08, 0.10) // 3.2 by the sums
	if g := o.last().GaugeBar; g == nil || math.Abs(*g-2.90) > 0.05 {
		t.Errorf("the gauge shows %v, not 2.90", g)
	}
	a := o.raised(alerts.OverPressure, alerts.Danger, "unknown glass")
	if !strings.HasPrefix(a.Advice, "Do not touch, move or open the bottles, and keep people") || !strings.Contains(a.Advice, "Cool the room") {
		t.Errorf("the first line is %.80q", a.Advice)
	}
	o.never(alerts.Notice, alerts.Ready)
}

// A04: slow in the cold is not stalled. The practitioner says where it stands on
// day 14 and that it gains 0.02 bar a day; what came before is drawn so that it
// slows evenly, for one that slows all at once may leak.
func TestCaseColdCloset(t *testing.T) {
	s := tale{lot: ale(2.4), to: 14, room: steady(14), bar: through(0, 0, 1, 0.02, 2, 0.08, 4, 0.23, 6, 0.36, 8, 0.47, 10, 0.56, 12, 0.64, 13, 0.675, 14, 0.70)}
	o := tell(t, s)[0]
	near(t, "volumes", o.last().CO2Volumes, s.holds(0.70, 14), 0.10) // 1.72 by the sums
	near(t, "progress", o.last().Progress, 0.55, 0.10)
	if w := o.last().ReadyAt; w == nil || w.P50 == nil || days(*w.P50) < 14+5 || w.P05 == nil || !w.P05.Before(*w.P50) {
		t.Errorf("ready at %v: weeks, as a range, would be right", w)
	}
	o.raised(alerts.TooCold, alerts.Notice, "slow, not failed", "20–22 °C")
	o.never(alerts.Notice, append(worries, alerts.Ready)...)
}

// A18: the gauge bottle loses gas; the lot's own risk and end stay as they were.
func TestCaseGaugeBottleLeaks(t *testing.T) {
	s := tale{lot: ale(2.4), to: 6.5, room: steady(20), bar: through(0, 0.1, 1, 0.2, 2, 0.8, 3, 1.3, 4, 1.5, 6.5, 1.0)}
	o := tell(t, s)[0]
	o.raised(alerts.Leak, alerts.Warning, "chill another bottle", "risk is not lowered")
	near(t, "final volumes", o.last().FinalVolumes, 2.4, 0.20)
	o.never(alerts.Notice, alerts.Ready, alerts.Stalled, alerts.SensorFault)
}

// A19: somebody moved the gauge bottle, and it mixed. The practitioner takes the
// new level at once; the model, for which a gauge may also drift, within two
// days, and until then holds it possible.
func TestCaseMixedByMoving(t *testing.T) {
	s := tale{lot: ale(2.4), to: 9, room: steady(20), bar: through(0, 0.02, 1, 0.10, 2, 0.37, 3, 0.68, 4, 0.94, 5, 1.14, 6, 1.29, 7, 1.40, 7.0035, 1.62, 9, 1.64)}
	o := tell(t, s)[0]
	want := s.holds(1.62, 20) // 2.21 by the sums
	if v := o.on(7.5).CO2Volumes; v == nil || v.P05 > want || v.P95 < want {
		t.Errorf("half a day later it holds %+v, which leaves out %.2f", v, want)
	}
	near(t, "volumes", o.last().CO2Volumes, want, 0.10)
	o.never(alerts.Notice, worries...)
}

// A20: the bottle comes from a garage at 12 °C into a room at 20 °C: nothing is
// concluded while it warms.
func TestCaseCarriedIntoTheWarm(t *testing.T) {
	s := tale{lot: ale(2.4), from: 12, to: 14, room: steady(20), gas: steady(2.4), everything: true,
		beer: func(d float64) float64 { return 20 - 8*math.Exp(-(d-12)*24/4) }}
	o := tell(t, s)[0]
	if v := o.on(12 + 3.0/24).CO2Volumes; v == nil || v.P05 > 2.4 || v.P95 < 2.4 {
		t.Errorf("%+v while it warms, which leaves out the 2.4 that are true", v)
	}
	near(t, "volumes", o.last().CO2Volumes, 2.4, 0.12)
	for _, a := range o.alerts {
		if days(a.Time) < 12.5 {
			t.Errorf("a verdict while it warms: %s %s", a.Alert, a.Summary)
		}
	}
}

// What is heard late and is high is no reason to wait: it may be danger.
func TestCaseHighWhenFirstHeard(t *testing.T) {
	o := tell(t, tale{lot: ale(2.4), from: 5, to: 6, room: steady(20), bar: steady(3.2), everything: true})[0]
	o.between(o.raised(alerts.OverPressure, alerts.Danger, "Do not touch"), 5, 5.2)
}

// A22: the gauge bottle has three times the headspace of the lot's bottles, so
// its beer holds less of the same gas.
func TestCaseFittingsTakeRoom(t *testing.T) {
	l := ale(2.5)
	l.GaugeBottle.HeadspaceML = 0.12 * 330
	o := tell(t, tale{lot: l, to: 14, room: steady(20), gas: grown(0.86, 2.5)})[0]
	near(t, "volumes", o.last().CO2Volumes, 2.5, 0.10)
	near(t, "final volumes", o.last().FinalVolumes, 2.5, 0.10)
	o.never(alerts.Notice, worries...)
	o.raised(alerts.Ready, alerts.Notice)
	// In the beer itself, by the mass balance: 2.22 in the test bottle is 2.4 in
	// the lot's.
	dissolved := func(b model.Bottle) float64 {
		p := b.CO2Pressure(2.5, 20, model.BeerSolubility)
		return float64(model.GramsPerLitre(float64(p) * model.Solubility(20, model.BeerSolubility)).Volumes())
	}
	if r := dissolved(l.GaugeBottle.Bottle()) / dissolved(l.Bottles[0].Bottle()); math.Abs(r-0.925) > 0.01 {
		t.Errorf("the beer holds %.3f of what the lot's does, want 0.925", r)
	}
}

// A23: heat, without new gas.
func TestCaseHeatWithoutNewGas(t *testing.T) {
	l := ale(2.6)
	l.WorstCaseC = 38
	s := tale{lot: l, to: 25, gas: grown(0.86, 2.6), room: through(0, 20, 21, 20, 22, 30, 23.5, 34, 25, 34)}
	o := tell(t, s)[0]
	o.raised(alerts.TooWarm, alerts.Warning, "No new gas", "At 38 °C it would be about 3.", "Do not handle warm bottles", "slowly")
	near(t, "volumes", o.last().CO2Volumes, 2.6, 0.12)
	o.never(alerts.Notice, alerts.OverCarbonation, alerts.UnexpectedFermentation, alerts.Leak, alerts.Stalled, alerts.SensorFault)
	o.never(alerts.Danger, alerts.OverPressure)
	for at, want := range map[model.Celsius]float64{20: 2.08, 34: 3.47, 38: 3.89} {
		if got := float64(sealed(l).Gauge(2.6, at)); math.Abs(got-want) > 0.10 {
			t.Errorf("2.6 volumes show %.2f bar at %g °C, want %.2f", got, float64(at), want)
		}
	}
}

// A24: a plateau of two weeks, and then it creeps by 0.02 bar a day. The
// practitioner, who sees no noise, would say so in a few days. Noise of 0.03 bar
// that lasts half a day leaves a slope over n days uncertain by
// √(12 × 2 × 0.03² × 0.5 / n³): 0.009 bar a day after five days, 0.005 after
// eight. At the odds of such a thing in a lot that is done it takes some four of
// those, so eight or nine days, and half a day that it must hold. That noise and
// the odds are the estimator's own (judgement, no source). So is a good gauge's
// creep of 0.002 bar a day, by which the same reading may hold 0.07 volumes more or
// less after six weeks. The 3.0 volumes of the glass are two weeks away still.
func TestCaseLateRise(t *testing.T) {
	s := tale{lot: ale(2.5), to: 44, room: steady(20), bar: through(0, 0.1, 1, 0.2, 3, 1.1, 5, 1.55, 8, 1.86, 12, 1.95, 14, 1.96, 30, 1.96, 44, 2.24)}
	o := tell(t, s)[0]
	near(t, "volumes", o.last().CO2Volumes, s.holds(2.24, 20), 0.12) // 2.74 by the sums
	a := o.raised(alerts.UnexpectedFermentation, alerts.Warning, "Chill one bottle", "gravity")
	o.between(a, 32, 40)
	o.raised(alerts.Ready, alerts.Notice)
	o.never(alerts.Danger, worries...)
}

// A36: a plastic bottle is hard on day 4: noted, and nothing changes.
// N02 of the trade: what a person sees is danger even with a normal gauge.
func TestCaseWhatAPersonSaw(t *testing.T) {
	s := tale{lot: ale(2.4), to: 4, room: steady(20), bar: through(0, 0.1, 1, 0.15, 2, 0.4, 3, 0.67, 4, 0.90)}
	o := tell(t, s)[0]
	near(t, "volumes", o.last().CO2Volumes, s.holds(0.90, 20), 0.10) // 1.6 by the sums
	near(t, "progress", o.last().Progress, 0.48, 0.08)
	if got := o.note(alerts.Squeeze); len(got) > 0 {
		t.Errorf("a squeeze raised %+v", got)
	}
	if got := o.note(alerts.Gusher); len(got) > 0 {
		t.Errorf("one gusher raised %+v", got)
	}
	if got := o.note(alerts.Gusher); len(got) != 1 || got[0].Alert != alerts.OverCarbonation || got[0].Severity != alerts.Notice {
		t.Errorf("two gushers raised %+v", got)
	}
	got := o.note(alerts.Burst)
	if len(got) != 1 || got[0].Alert != alerts.OverPressure || got[0].Severity != alerts.Danger || !strings.HasPrefix(got[0].Advice, "Do not touch") {
		t.Errorf("a burst bottle raised %+v", got)
	}
}

// note what was seen after the recording, and say what that raises.
func (o *told) note(saw alerts.Sighting) []alertLine {
	o.Helper()
	return o.write(engine.Note{Saw: saw})
}

// write a note of the lot after the recording, and say what that changes.
func (o *told) write(n engine.Note) []alertLine {
	o.Helper()
	n.Lot = o.lot
	var out bytes.Buffer
	o.replay.out = json.NewEncoder(&out)
	if err := o.replay.step(engine.Input{At: o.replay.engine.Now(), Note: &n}); err != nil {
		o.Fatal(err)
	}
	was := len(o.alerts)
	o.read(out.String(), o.lot)
	return o.alerts[was:]
}

// A37: low carbonation, where low is what was wanted.
func TestCaseBitterIsReadyLow(t *testing.T) {
	l := ale(2.4)
	l.Beer.WarmestC, l.TargetVolumes, l.Priming = 18, 1.6, nil
	o := tell(t, tale{lot: l.Primed(model.Atmosphere), to: 21, room: steady(12), gas: func(d float64) float64 { return grown(0.92, 1.6)(d / 1.6) }})[0]
	near(t, "volumes", o.last().CO2Volumes, 1.6, 0.10)
	if g := o.last().GaugeBar; g == nil || math.Abs(*g-0.48) > 0.10 {
		t.Errorf("the gauge shows %v, not 0.48", *g)
	}
	o.raised(alerts.Ready, alerts.Notice)
	o.never(alerts.Notice, worries...)
}

// A38: day 5, all as planned; a warm spell is foreseen. The tenth of the air that
// a purge leaves adds 0.09 bar to the practitioner's 2.84.
func TestCaseLeavingForAWarmSpell(t *testing.T) {
	l := ale(2.4)
	l.WorstCaseC = 31
	s := tale{lot: l, to: 5, room: steady(20), bar: through(0, 0.1, 1, 0.2, 2, 0.5, 3, 0.78, 5, 1.10)}
	o := tell(t, s)[0]
	near(t, "final volumes", o.last().FinalVolumes, 2.4, 0.10)
	near(t, "bar at 31 °C", o.last().WorstCaseBar, 2.84+0.09, 0.10)
	o.never(alerts.Notice, worries...)
}

// A39: frost in the shed. A gauge that falls with the cold is no leak.
func TestCaseFrost(t *testing.T) {
	s := tale{lot: ale(2.4), to: 17, gas: grown(0.86, 2.4), room: through(0, 20, 12, 20, 13, 4, 15, -1.5, 17, -4)}
	o := tell(t, s)[0]
	a := o.raised(alerts.TooCold, alerts.Warning, "freezes at about -2.0 °C", "bursts bottles")
	if b := o.on(days(a.Time)).BeerC; b == nil || *b > -0.8 || *b < -1.6 {
		t.Errorf("told at %v °C", *b)
	}
	o.never(alerts.Notice, alerts.Leak, alerts.SensorFault, alerts.OverPressure, alerts.UnexpectedFermentation)
}

// A40: the gauge showed 0.12 bar in open air.
func TestCaseGaugeThatIsOff(t *testing.T) {
	s := tale{lot: ale(2.4), from: -0.5, to: 14, off: 0.12, room: steady(20), bar: through(0, 0.05, 1, 0.1, 3, 1.0, 5, 1.5, 8, 1.72, 11, 1.78, 14, 1.78)}
	o := tell(t, s)[0]
	near(t, "volumes", o.last().CO2Volumes, s.holds(1.78, 20), 0.10) // 2.35 by the sums, not 2.45
	o.never(alerts.Notice, worries...)
}

// A40: a gauge at its end says "at least".
func TestCaseGaugeAtItsEnd(t *testing.T) {
	l := ale(2.4)
	l.Bottles[0].Kind = model.SparklingGlass
	o := tell(t, tale{lot: l, to: 8, full: 4, room: steady(20), bar: through(0, 0.1, 1, 0.3, 3, 2.0, 5, 3.0, 7, 4.2, 8, 5)})[0]
	o.raised(alerts.OverPressure, alerts.Danger, "at or above 4.00 bar", "Do not touch")
	o.raised(alerts.SensorFault, alerts.Warning, "or more")
	o.never(alerts.Notice, alerts.Ready)
}

// A32: ginger beer has no end, only a mark.
func TestCaseGingerBeer(t *testing.T) {
	l := live(ale(2.4), 2.2, 1900) // 100 g/L
	l.Beer = model.Beer{VolumeL: 19, OriginalGravity: 1.001, FinalGravity: 1.001, LimitGravity: 1.001, WarmestC: 25}
	s := tale{lot: l, to: 2.5, room: steady(25), bar: through(0, 0.05, 0.25, 0.4, 1.25, 1.2, 2.5, 2.2), everything: true}
	o := tell(t, s)[0]
	first := o.raised(alerts.OverCarbonation, alerts.Warning, "comes near its mark", "Chill it within", " to ")
	o.between(first, 0.3, 1.35)
	mark := o.again(alerts.OverCarbonation, "comes to its mark now", "Chill it now", "doesn't end it", "No advice on heating")
	// The mark, 2.2 volumes, is 2.0 bar by the sums, and 0.54 bar at 4 °C.
	if g := s.bar(days(mark.Time)); math.Abs(g-2.0) > 0.10 {
		t.Errorf("told of the mark at %.2f bar", g)
	}
	if cold := float64(sealed(l).Gauge(2.19, 4)); math.Abs(cold-0.54) > 0.10 {
		t.Errorf("in the fridge it would show %.2f bar", cold)
	}
	o.never(alerts.Notice, alerts.Ready, alerts.OverPressure, alerts.Stalled, alerts.TooCold)
}

// again is the second of an alert: graver.
func (o *told) again(n alerts.Name, says ...string) alertLine {
	o.Helper()
	for i, a := range o.alerts {
		if a.Alert == n && a.State == alerts.Raised {
			rest := &told{T: o.T, alerts: o.alerts[i+1:]}
			return rest.raised(n, a.Severity, says...)
		}
	}
	o.Errorf("no %s at all", n)
	return alertLine{}
}

// A41: sweet cider to be stopped at 2.5 volumes.
func TestCaseSweetCider(t *testing.T) {
	l := live(ale(2.4), 2.5, 0)
	l.Beer = model.Beer{VolumeL: 19, OriginalGravity: 1.050, FinalGravity: 1.010, LimitGravity: 0.998, WarmestC: 18}
	s := tale{lot: l, to: 9, room: steady(18), bar: through(0, 0.05, 1, 0.15, 7, 1.60, 9, 2.05), everything: true}
	o := tell(t, s)[0]
	first := o.raised(alerts.OverCarbonation, alerts.Warning, "comes near its mark")
	if g := s.bar(days(first.Time)); math.Abs(g-1.46) > 0.15 { // a day ahead of the mark may come first
		t.Errorf("told at %.2f bar to get ready, want 1.46", g)
	}
	mark := o.again(alerts.OverCarbonation, "Chill it now", "stop it now", "No advice on heating")
	if g := s.bar(days(mark.Time)); math.Abs(g-1.80) > 0.10 {
		t.Errorf("told of the mark at %.2f bar, want 1.80", g)
	}
	o.never(alerts.Notice, alerts.Ready, alerts.Stalled)
}

// A42: kombucha, in plastic: two to four days to its mark.
func TestCaseKombuchaInPlastic(t *testing.T) {
	l := live(ale(2.4), 2.5, 0)
	l.Yeast = model.Mixed
	l.Beer = model.Beer{VolumeL: 19, OriginalGravity: 1.020, FinalGravity: 1.008, LimitGravity: 1.000, WarmestC: 24}
	s := tale{lot: l, to: 4, room: steady(24), bar: through(0, 0.05, 0.4, 0.2, 3, 2.2, 4, 2.9), everything: true}
	o := tell(t, s)[0]
	o.between(o.raised(alerts.OverCarbonation, alerts.Warning, "comes near its mark", "make room in the fridge"), 0.8, 2.9)
	o.between(o.again(alerts.OverCarbonation, "Chill it now"), 2, 4)
	o.never(alerts.Notice, alerts.Ready, alerts.Stalled)
}

// club is how many times slower than grown the club's beer ferments: so slowly that
// its gauged closet is called ready on day 13, as the case has it.
const club = 1.4

// A43: one batch in three closets, and one gauge.
func TestCaseClub(t *testing.T) {
	place := func(space string, at float64, gauged bool) tale {
		l := ale(2.4)
		l.ID, l.Space = "club-"+space, space
		if l.GaugeBottle.Sensor = space + "-gauge"; !gauged {
			l.GaugeBottle = nil
		}
		return tale{lot: l, to: 21, room: steady(at), gas: func(d float64) float64 { return grown(0.86, 2.4)(d / club) }}
	}
	other := func(p tale) tale { // beer, of which nobody gauges a bottle
		p.lot.Beer.OriginalGravity = 1.049
		return p
	}
	list := tell(t, place("cool", 17, false), place("usual", 20, true), place("warm", 24, false), other(place("cool-other", 17, false)), other(place("warm-other", 24, false)))
	cool, usual, warm := list[0], list[1], list[2]
	const asked = 13.0
	usual.between(usual.raised(alerts.Ready, alerts.Notice, "looks done", "by the gauge"), asked-1, asked+1)
	warm.raised(alerts.Ready, alerts.Notice, "probably ready", "temperature alone", "as brisk as in “club-usual", "Chill one bottle")
	for _, a := range cool.alerts {
		if a.Alert == alerts.Ready && days(a.Time) <= asked {
			t.Errorf("the cool closet is called ready on day %.1f", days(a.Time))
		}
	}
	if w := cool.on(asked).ReadyAt; w == nil || w.P95 == nil || days(*w.P95) < asked {
		t.Errorf("the cool closet is ready at %v: perhaps not by now would be right", w)
	}
	if w := warm.on(asked).ReadyAt; w == nil || w.P50 == nil || days(*w.P50) > asked {
		t.Errorf("the warm closet is ready at %v: probably by now would be right", w)
	}
	for _, o := range []*told{cool, warm} {
		near(t, "final volumes", o.on(asked).FinalVolumes, usual.on(asked).FinalVolumes.P50, 0.10)
		if w := o.on(asked).ReadyAt; w == nil || w.P05 == nil || w.P95 == nil || w.P95.Sub(*w.P05) < 24*time.Hour {
			t.Errorf("without a gauge it is ready at %+v: a range would be right", w)
		}
		o.never(alerts.Notice, worries...)
	}
	narrower(t, cool, list[3], 17)
	narrower(t, warm, list[4], 24)
	for at, want := range map[model.Celsius]float64{17: 1.61, 20: 1.84, 24: 2.20} {
		if got := float64(sealed(ale(2.4)).Gauge(2.4, at)); math.Abs(got-want) > 0.10 {
			t.Errorf("settled at %g °C the gauge would read %.2f bar, want %.2f", float64(at), got, want)
		}
	}
}

// narrower is the range of a lot at a temperature, for the gauge of its batch, than
// that of another beer there, and it holds the truth: progress of 0.95, which
// grown has at 20 °C after a day and three of its 2.2 days, and the club's beer so
// many times later, goes by the yeast's pace.
func narrower(t *testing.T, batch, other *told, at model.Celsius) {
	t.Helper()
	truth := club * (1 + 2.2*math.Log(20)) / model.TemperatureFactor(model.Ale, at)
	for _, day := range []float64{3 * club, 5 * club, 8 * club} {
		a, b := batch.on(day).ReadyAt, other.on(day).ReadyAt
		if a.P95 == nil || b.P95 != nil && a.P95.Sub(*a.P05) > b.P95.Sub(*b.P05)/2 || days(*a.P05) > truth || days(*a.P95) < truth {
			t.Errorf("at %g °C on day %g it is ready from %v to %v: day %.1f, and half as wide as from %v to %v, would be right", float64(at), day, a.P05, a.P95, truth, b.P05, b.P95)
		}
	}
}

// A34: three bottles of one tank, 2.6 ± 0.15 volumes wanted, each with a gauge of
// its own. The mean, 2.70, is within and hides the last, which a gauge alone shows
// less well than three measured bottles: 0.1 volumes each for what it may be off
// and for the sugar that was meant put it between the two. By the mass balance
// that one isn't chance: a residual of 0.87 at 18 °C (0.93 by the sums) leaves
// 1.73 for the priming, whose richest bottle of a hundred, 2.33 × 6 % above, has
// 2.84. The residual is Weiss 1974 × 0.96 less water vapour, the 6 % a judgement,
// no source. The sugar for the tank is among the cases of the plan.
func TestCaseTankThatWasNotMixed(t *testing.T) {
	l := ale(2.6)
	l.Beer.VolumeL, l.Beer.WarmestC, l.Priming = 800, 18, nil
	l.Bottles[0].Kind, l.Bottles[0].Count = model.StandardGlass, 2400
	l = l.Primed(model.Atmosphere)
	pull := func(space string, gas float64) tale {
		one, gauge := l, *l.GaugeBottle
		gauge.Sensor = space + "-gauge"
		one.ID, one.Space, one.GaugeBottle = "tank-"+space, space, &gauge
		return tale{lot: one, to: 14, room: steady(22), gas: grown(0.87, gas)}
	}
	pulls := []float64{2.55, 2.62, 2.92}
	list := tell(t, pull("first", pulls[0]), pull("middle", pulls[1]), pull("last", pulls[2]))
	mean := 0.0
	for i, o := range list {
		v := o.last().CO2Volumes
		if v == nil || v.P05 > pulls[i] || v.P95 < pulls[i] {
			t.Fatalf("%+v leaves out the %.2f that are true", v, pulls[i])
		}
		mean += v.P50 / 3
	}
	first, middle, last := list[0], list[1], list[2]
	near(t, "volumes", first.last().CO2Volumes, pulls[0], 0.10)
	near(t, "volumes", middle.last().CO2Volumes, pulls[1], 0.10)
	near(t, "volumes", last.last().CO2Volumes, (2.6+pulls[2])/2, (pulls[2]-2.6)/2)
	if math.Abs(mean-2.6) > 0.15 {
		t.Errorf("%.2f on average: that is within", mean)
	}
	if _, rich := l.ByChance(model.Atmosphere); math.Abs(float64(rich)-2.84) > 0.01 {
		t.Errorf("the richest bottle has %.2f, not 2.84", rich)
	}
	first.raised(alerts.Ready, alerts.Notice, "Chill one bottle")
	last.never(alerts.Notice, alerts.Ready)
}

// A34, as one lot whose gauge bottle is as it should be, and three pulls that
// were measured apart: on hold, because the last is out. Six more don't end it;
// whoever decides does.
func TestCaseOneLotOnHold(t *testing.T) {
	l := ale(2.6)
	l.Beer.VolumeL, l.Beer.WarmestC, l.Priming = 800, 18, nil
	l.Bottles[0].Kind, l.Bottles[0].Count = model.StandardGlass, 2400
	s := tale{lot: l.Primed(model.Atmosphere), to: 14, room: steady(22), gas: grown(0.87, 2.6)}
	o := tell(t, s)[0]
	o.raised(alerts.Ready, alerts.Notice, "Chill one bottle")
	o.never(alerts.Notice, worries...)
	for _, gas := range []model.Volumes{2.55, 2.62} {
		if got := o.write(engine.Note{Volumes: &gas}); len(got) > 0 {
			t.Errorf("%.2f raised %+v", gas, got)
		}
	}
	out, within := model.Volumes(2.92), model.Volumes(2.6)
	got := o.write(engine.Note{Volumes: &out})
	if len(got) != 2 || got[0].Alert != alerts.OverCarbonation || got[0].State != alerts.Raised || got[1].Alert != alerts.Ready || got[1].State != alerts.Cleared {
		t.Fatalf("2.92 changed %+v", got)
	}
	held := &told{T: t, alerts: got[:1]}
	held.raised(alerts.OverCarbonation, alerts.Notice, "on hold", "1 of 3", "2.92", "mean, 2.70", "hides it", "not mixed", "at least 6 more", "across the whole run", "Set aside", "who decides")
	for range 6 {
		if got := o.write(engine.Note{Volumes: &within}); len(got) > 0 {
			t.Errorf("one more raised %+v", got)
		}
	}
	if h := o.replay.engine.View().Lots[0].Hold; h == nil || !strings.Contains(h.Advice, "Decide on the lot") {
		t.Errorf("after six more it is held by %+v", h)
	}
	got = o.write(engine.Note{Saw: alerts.Decided, Text: "Kim: the last 300 stay here, the rest goes out."})
	if len(got) != 2 || got[0].State != alerts.Cleared || got[1].Alert != alerts.Ready || got[1].State != alerts.Raised {
		t.Errorf("the decision changed %+v", got)
	}
	if v := o.replay.engine.View().Lots[0]; v.Hold != nil || *v.Notes[2].Volumes != 2.92 {
		t.Errorf("then: %+v, %+v", v.Hold, v.Notes)
	}
}
