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
	var behind []*lot
	for _, old := range k.Lots {
		l, err := e.revive(old)
		if err != nil {
			return err
		}
		lots[l.Document.ID] = l
		if l.estimator != nil && l.estimator.Behind() {
			behind = append(behind, l)
		}
	}
	e.now, e.lots, e.book, e.recent, e.parts, e.marks = k.Now, lots, k.Book.Clone(), k.Recent, k.Parts, k.Marks
	e.behind = behind
	for name := range e.sensors {
		e.sensors[name] = k.Sensors[name]
	}
	return nil
}

func (e *Engine) revive(old keptLot) (*lot, error) {
	l := e.start(old.Document, old.OpenedAt)
	l.ChilledAt, l.ClosedAt, l.Notes, l.Lesson, l.Taught = old.ChilledAt, old.ClosedAt, old.Notes, old.Lesson, old.Taught
	if l.ClosedAt != nil {
		l.Estimate, l.estimator = old.Estimate, nil
		return l, nil
	}
	est, err := estimate.Restore(e.settings(l), old.Estimator)
	if err != nil {
		return nil, fmt.Errorf("the estimate of %s: %w", old.Document.ID, err)
	}
	if l.Lesson != nil {
		est.Learn(l.Lesson)
	}
	l.estimator, l.Estimate = est, old.Estimate
	l.sayAgain()
	return l, nil
}

// sayAgain what was said, with the signs, which are not written down.
func (l *lot) sayAgain() {
	if l.Estimate != nil && !l.estimator.Behind() {
		now := l.estimator.Estimate()
		l.Estimate = &now
	}
}

// Behind says whether there are lots whose past is lived through again, because
// what was thought of it is an earlier version's. Their last estimates stand
// meanwhile, and all rules go on.
func (e *Engine) Behind() bool { return len(e.behind) > 0 }

// CatchUp lives through one more hour of one of them.
func (e *Engine) CatchUp() {
	if !e.Behind() {
		return
	}
	l := e.behind[0]
	if l.estimator != nil && l.estimator.Behind() {
		l.estimator.CatchUp()
		return
	}
	e.behind = e.behind[1:]
	if l.estimator != nil {
		l.sayAgain()
	}
}
