package daemon

import (
	"context"
	"errors"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"conditiond/alerts"
	"conditiond/alerts/notify"
)

// album is a recipient who takes pictures, or not, as a test says.
type album struct {
	phone
	shut     error
	pictures []string
}

func (a *album) Illustrate(_ context.Context, m alerts.Message, picture []byte) error {
	if a.shut != nil {
		return a.shut
	}
	a.pictures = append(a.pictures, string(m.Alert)+" "+string(picture))
	return nil
}

// drawing tells what is drawn, or why nothing is.
type drawing func(ctx context.Context, lot string) ([]byte, error)

var drawingOf drawing = func(_ context.Context, lot string) ([]byte, error) { return []byte("PNG of " + lot), nil }

func (a *album) teller(d drawing) *teller {
	return &teller{name: "album", to: a, draw: d, zone: time.UTC, pace: handAt(time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC)), log: quiet(),
		refused: new(aside), stands: func(alerts.Message) bool { return true }}
}

func leak() alerts.Message {
	return alerts.Message{ID: "invented", Lot: "invented-ale", Alert: alerts.Leak, Severity: alerts.Warning, State: alerts.Raised, Summary: "It leaks.", Advice: "Look."}
}

func danger() alerts.Message {
	m := leak()
	m.Alert, m.Severity, m.Advice = alerts.OverPressure, alerts.Danger, "Do not touch it. Wait."
	return m
}

func TestNoticeWithPicture(t *testing.T) {
	var a album
	if err := a.teller(drawingOf).tell(t.Context(), leak()); err != nil || !slices.Equal(a.pictures, []string{"leak PNG of invented-ale"}) || len(a.told) > 0 {
		t.Errorf("%v, pictures %q, told %v", err, a.pictures, a.told)
	}
	sensor := leak()
	sensor.Lot, sensor.Sensor = "", "gauge-a"
	if err := a.teller(drawingOf).tell(t.Context(), sensor); err != nil || len(a.told) != 1 {
		t.Errorf("%v, told %v of no lot", err, a.told)
	}
}

// TestNoticeWithoutPicture: whatever becomes of the picture, the notice goes out,
// once.
func TestNoticeWithoutPicture(t *testing.T) {
	broken := func(context.Context, string) ([]byte, error) { return nil, errors.New("no journal") }
	bug := func(context.Context, string) ([]byte, error) { panic("a bug") }
	giant := func(context.Context, string) ([]byte, error) { return make([]byte, mostPicture+1), nil }
	stuck := func(ctx context.Context, _ string) ([]byte, error) { time.Sleep(time.Hour); return nil, ctx.Err() }
	for name, c := range map[string]struct {
		draw drawing
		shut error
	}{
		"can't be drawn":         {broken, nil},
		"a bug":                  {bug, nil},
		"too large":              {giant, nil},
		"never ready":            {stuck, nil},
		"refused for good":       {drawingOf, &notify.Error{Problem: "too large", Permanent: true}},
		"refused for now":        {drawingOf, &notify.Error{Problem: "quota", RetryAfter: time.Hour}},
		"pictures are not drawn": {nil, nil},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				a, began := album{shut: c.shut}, time.Now()
				if err := a.teller(c.draw).tell(t.Context(), leak()); err != nil || len(a.told) != 1 || len(a.pictures) > 0 {
					t.Errorf("%v, told %v", err, a.told)
				}
				if waited := time.Since(began); waited > drawnWithin {
					t.Errorf("waited %v", waited)
				}
				time.Sleep(2 * time.Hour) // until the last of it has ended
			})
		})
	}
}

// One of two recipients of a mail refused it: the other has it, and doesn't get
// it again.
func TestPartlyRefusedIsNotSentAgain(t *testing.T) {
	a := album{shut: &notify.Error{Problem: "refused you@example.net", Permanent: true, Partly: true}}
	tell := a.teller(drawingOf)
	if err := tell.tell(t.Context(), leak()); err != nil || len(a.told) != 0 {
		t.Errorf("%v, told %v", err, a.told)
	}
	if n, _ := tell.refused.tell(); n != 1 {
		t.Errorf("%d left out", n)
	}
}

// TestDangerWaitsForNoPicture: it is told at once, however long a picture takes;
// the picture comes after it, as a notice that rings no bell.
func TestDangerWaitsForNoPicture(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var a album
		tell := a.teller(func(ctx context.Context, lot string) ([]byte, error) {
			time.Sleep(drawnWithin / 2)
			return drawingOf(ctx, lot)
		})
		began := time.Now()
		for range 2 {
			tell.waiting.Add(danger(), tell.pace.Now())
			if err := tell.flush(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
		if waited := time.Since(began); waited != 0 || len(a.told) != 2 {
			t.Errorf("after %v told %v", waited, a.told)
		}
		time.Sleep(drawnWithin)
		synctest.Wait()
		if !slices.Equal(a.pictures, []string{"over-pressure PNG of invented-ale"}) {
			t.Errorf("pictures %q", a.pictures)
		}
	})
	if m := pictureOf(danger()); m.ID == danger().ID || m.Severity != alerts.Notice || m.Advice != "Do not touch it." {
		t.Errorf("%+v", m)
	}
}
