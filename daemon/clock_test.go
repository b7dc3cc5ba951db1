package daemon

import (
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/intake"
	"conditiond/daemon/mqtt"
)

// A31: a machine that starts again without a network has a clock that is nine
// hours behind. What comes is taken in its order: a danger is seen and told
// once, nothing falls, nobody is called silent, and all of it is kept.
func TestCaseClockThatIsBehind(t *testing.T) {
	w := watch(t, t.TempDir())
	at := w.hand.Now()
	w.feed(engine.Input{At: at, Start: &engine.Start{}})
	w.feed(engine.Input{At: at, Open: &engine.Open{Lot: gauged(at.Add(-5 * 24 * time.Hour))}})
	said := 0
	say := func(at time.Time, gauge string) {
		for topic, v := range map[string]string{"t/air": "20.1", "t/gauge": gauge} {
			said++
			w.hear(arrival{at, mqtt.Delivery{Message: intake.Message{Topic: topic, Payload: []byte(v)}, Done: func() {}}})
			at = at.Add(time.Millisecond)
		}
	}
	for m := range 10 {
		say(at.Add(time.Duration(m)*time.Minute), "1.5")
	}
	behind := at.Add(10*time.Minute - 9*time.Hour)
	for m := range 5 {
		say(behind.Add(time.Duration(m)*time.Minute), "4.5")
	}
	v := w.engine.View()
	if len(v.Alerts) != 1 || v.Alerts[0].Severity != alerts.Danger {
		t.Fatalf("behind its time it says %+v", v.Alerts)
	}
	for m := 15; m < 80; m++ { // the clock is right again
		say(at.Add(time.Duration(m)*time.Minute), "4.5")
	}
	v = w.engine.View()
	if len(v.Recent) != 1 {
		t.Errorf("it told of %+v", v.Recent)
	}
	if n := v.Sensors[0].Readings + v.Sensors[1].Readings; n != int64(said) {
		t.Errorf("%d of %d readings were kept", n, said)
	}
	if e := v.Lots[0].Estimate; e.GaugeBar == nil || *e.GaugeBar < 4 {
		t.Errorf("the estimate goes by %v bar", e.GaugeBar)
	}
}
