package engine

import (
	"encoding/json"
	"testing"
	"time"

	"conditiond/alerts"
)

// earlier is a snapshot whose estimates are of an earlier form: a checkpoint
// begins with that form's number.
func earlier(t *testing.T, e *Engine) []byte {
	t.Helper()
	state, err := e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	var k kept
	if err := json.Unmarshal(state, &k); err != nil {
		t.Fatal(err)
	}
	for i := range k.Lots {
		k.Lots[i].Estimator[0] = 1
	}
	if state, err = json.Marshal(k); err != nil {
		t.Fatal(err)
	}
	return state
}

// After an upgrade the past is lived through again: meanwhile the last estimate
// stands, readings are taken in and a danger is told; afterwards it is as if
// there had been no upgrade.
func TestWhatAnUpgradeLivesThroughAgain(t *testing.T) {
	old, now := play(t), &player{T: t, e: closet(t)}
	for d := time.Duration(0); d < 36*time.Hour; d += 10 * time.Minute {
		old.at(d, reading(20, 0.5+d.Hours()/100))
	}
	said := *old.e.View().Lots[0].Estimate
	if err := now.e.Restore(earlier(t, old.e)); err != nil {
		t.Fatal(err)
	}
	for _, p := range []*player{old, now} {
		for m := range 3 {
			p.at(36*time.Hour+time.Duration(m)*30*time.Minute, reading(20, 4.2))
			p.e.CatchUp() // an hour of the past is too little
		}
	}
	v := now.e.View()
	if !now.e.Behind() || !v.Lots[0].Estimate.Time.Equal(said.Time) {
		t.Errorf("behind: %v; the estimate is of %v, want %v", now.e.Behind(), v.Lots[0].Estimate.Time, said.Time)
	}
	if len(v.Alerts) != 1 || v.Alerts[0].Severity != alerts.Danger {
		t.Errorf("over the limit, behind: %+v", v.Alerts)
	}
	for now.e.Behind() {
		now.e.CatchUp()
	}
	old.e.put(t)
	now.e.put(t)
	if a, b := old.e.View().Lots[0].Estimate, now.e.View().Lots[0].Estimate; !sameJSON(t, a, b) {
		t.Errorf("without the upgrade %+v, with it %+v", a, b)
	}
}

func sameJSON(t *testing.T, a, b any) bool {
	t.Helper()
	x, errA := json.Marshal(a)
	y, errB := json.Marshal(b)
	if errA != nil || errB != nil {
		t.Fatal(errA, errB)
	}
	return string(x) == string(y)
}

// A lot that is closed while it is behind is followed no more.
func TestClosedWhileBehind(t *testing.T) {
	old, now := play(t), &player{T: t, e: closet(t)}
	old.at(5*time.Hour, reading(20, 0.5))
	if err := now.e.Restore(earlier(t, old.e)); err != nil {
		t.Fatal(err)
	}
	now.e.CatchUp()
	now.put(Input{At: packaged.Add(6 * time.Hour), Close: &Deed{Lot: "invented-ale"}})
	for i := 0; now.e.Behind(); i++ {
		if now.e.CatchUp(); i > 1 {
			t.Fatal("a closed lot is still lived through")
		}
	}
}
