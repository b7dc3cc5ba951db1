package daemon

import (
	"bytes"
	"errors"
	"io"
	"testing"
	"time"

	"conditiond/daemon/engine"
	"conditiond/daemon/intake"
	"conditiond/daemon/journal"
)

// FuzzEntry: whatever stands in an entry of the journal can be left out or lived
// with: a start never fails for it, and what is read comes back the same.
func FuzzEntry(f *testing.F) {
	at := time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC)
	c := defaults()
	c.Sensors = map[string]Sensor{"air": {Topic: "t/air", Quantity: "temperature", Unit: "degC", Interval: time.Minute, Calibration: Calibration{Scale: 1}}}
	c.Spaces = map[string]Space{"shelf": {Temperature: "air"}}
	lot := gauged(at)
	lot.GaugeBottle = nil
	for _, in := range []engine.Input{{Start: &engine.Start{}}, {Open: &engine.Open{Lot: lot}}, {Tick: true}, {Close: &engine.Deed{Lot: lot.ID}},
		{Note: &engine.Note{Lot: lot.ID, Saw: "bang"}}, {Message: &intake.Message{Topic: "t/air", Payload: []byte("x"), ID: 7}}} {
		e, err := engine.New(closet(&c, time.Hour))
		if err != nil {
			f.Fatal(err)
		}
		for _, x := range []engine.Input{{At: at, Start: &engine.Start{}}, {At: at, Open: &engine.Open{Lot: lot}}} {
			if x.Open != nil && in.Open != nil || x.Start != nil && in.Start != nil {
				continue
			}
			en, err := e.Step(x)
			if err != nil {
				f.Fatal(err)
			}
			e.Apply(en)
		}
		in.At = at.Add(time.Hour)
		en, err := e.Step(in)
		if err != nil {
			f.Fatal(err)
		}
		kept, err := record(en)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(kept.Body)
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		en, err := recall(journal.Entry{Seq: 3, At: at.Add(time.Hour), Body: body})
		if err != nil {
			return
		}
		e, err := engine.New(closet(&c, time.Hour))
		if err != nil {
			t.Fatal(err)
		}
		e.Apply(engine.Entry{At: at, Start: &engine.Start{}})
		e.Apply(engine.Entry{At: at, Open: &engine.Open{Lot: lot}})
		e.Apply(en)
		e.View()
		if kept, err := record(en); err == nil {
			if _, err := recall(kept); err != nil {
				t.Errorf("it doesn't come back: %v", err)
			}
		}
	})
}

// FuzzRecording: a recording of any lines is played to its end, with each line
// that can't be read told.
func FuzzRecording(f *testing.F) {
	c := defaults()
	c.Sensors = map[string]Sensor{"air": {Topic: "t", Quantity: "temperature", Unit: "degC", Interval: time.Hour, Calibration: Calibration{Scale: 1}}}
	c.Spaces = map[string]Space{"shelf": {Temperature: "air"}}
	f.Add([]byte(`{"tst":"2026-11-25T02:38:32.546687Z+0100","topic":"t","qos":1,"retain":0,"payload":"18.4"}` + "\n" + `{"tst":"2026-11-25T03:38:32Z","topic":"t","payload":"18.5"}`))
	f.Add([]byte("\n\n{}\n[]\n"))
	f.Add([]byte{0x1f, 0x8b, 8, 0, 0})
	f.Add([]byte(`{"tst":"1970-01-01T00:00:00Z","topic":"t","payload":"1"}` + "\n" + `{"tst":"2026-11-25T03:38:32Z","topic":"t","payload":"18.5"}`))
	f.Fuzz(func(t *testing.T, recording []byte) {
		lines := bytes.Count(recording, []byte("\n")) + 1
		told := 0
		r := Replay{Config: &c, Every: time.Hour, Unread: func(int, error) { told++ }}
		var out bytes.Buffer
		err := r.Run(bytes.NewReader(recording), &out)
		if err != nil && !bytes.HasPrefix(recording, []byte{0x1f, 0x8b}) && !errors.Is(err, io.ErrUnexpectedEOF) {
			t.Errorf("%v", err)
		}
		if told > lines {
			t.Errorf("%d of %d lines are told", told, lines)
		}
	})
}
