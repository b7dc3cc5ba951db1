package engine

import (
	"encoding/json"
	"fmt"
	"time"

	"conditiond/alerts"
	"conditiond/model/estimate"
)

// kept is the state as it is written down, so that a restart need not begin
// with the first entry.
type kept struct {
	Now     time.Time
	Sensors map[string]sensor
	Lots    []keptLot
	Book    alerts.Book
	Recent  []alerts.Alert
	Parts   []alerts.Part
	Marks   marks
}

type keptLot struct {
	lot
	Estimator []byte
}

// Snapshot of the whole state.
func (e *Engine) Snapshot() ([]byte, error) {
	k := kept{Now: e.now, Sensors: e.sensors, Book: e.book, Recent: e.recent, Parts: e.parts, Marks: e.marks}
	for _, l := range e.ordered() {
		old := keptLot{lot: *l}
		if l.estimator != nil {
			var err error
			if old.Estimator, err = l.estimator.MarshalBinary(); err != nil {
				return nil, fmt.Errorf("keep the estimate of %s: %w", l.Document.ID, err)
			}
		}
		k.Lots = append(k.Lots, old)
	}
	return json.Marshal(k)
}

// Restore a snapshot into a new engine. After an error the engine is as it was.
func (e *Engine) Restore(state []byte) error {
	var k kept
	if err := json.Unmarshal(state, &k); err != nil {
		return fmt.Errorf("read the kept state: %w", err)
	}
	lots := map[string]*lot{}
	for _, old := range k.Lots {
		l, err := e.revive(old)
		if err != nil {
			return err
		}
		lots[l.Document.ID] = l
	}
	e.now, e.lots, e.book, e.recent, e.parts, e.marks = k.Now, lots, k.Book.Clone(), k.Recent, k.Parts, k.Marks
	for name := range e.sensors {
		e.sensors[name] = k.Sensors[name]
	}
	return nil
}

func (e *Engine) revive(old keptLot) (*lot, error) {
	l := e.start(old.Document, old.OpenedAt)
	l.ChilledAt, l.ClosedAt, l.Notes = old.ChilledAt, old.ClosedAt, old.Notes
	if l.ClosedAt != nil {
		l.Estimate, l.estimator = old.Estimate, nil
		return l, nil
	}
	est, err := estimate.Restore(e.settings(l), old.Estimator)
	if err != nil {
		return nil, fmt.Errorf("the estimate of %s: %w", old.Document.ID, err)
	}
	l.estimator = est
	if old.Estimate != nil { // with the signs, which are not written down
		now := est.Estimate()
		l.Estimate = &now
	}
	return l, nil
}
