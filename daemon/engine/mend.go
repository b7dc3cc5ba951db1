package engine

import (
	"fmt"
	"time"

	"conditiond/alerts"
	"conditiond/model"
)

// Mend says that what was dated by a clock that nobody had set yet has been
// dated again.
type Mend struct {
	By       time.Duration `json:"by"`       // how far it was moved; negative = back
	From     time.Time     `json:"from"`     // the first instant of it, as it is now
	Readings int           `json:"readings"` // that were moved
}

// Words for a lot's record.
func (m Mend) Words() string {
	way, by := "ahead", m.By.Round(time.Second)
	if by < 0 {
		way, by = "back", -by
	}
	return fmt.Sprintf("The machine's clock was not set when it was started, and then went %s by %s. What came meanwhile was moved by as much: %d readings.", way, by, m.Readings)
}

func (e *Engine) applyMend(en Entry) {
	for _, l := range e.ordered() {
		if l.ClosedAt == nil {
			l.Notes = append(l.Notes, NoteView{At: en.At, Text: en.Mend.Words()})
			l.estimator.Advance(en.At)
			l.sayAgain()
		}
	}
}

// Blank is an engine of the same configuration that knows nothing yet.
func (e *Engine) Blank() (*Engine, error) { return New(e.c) }

// Moved is an entry of after from, with its times moved. What a person said of
// times stays as said; estimates, having been made for the wrong time, go. The
// entry itself is used up.
func (en Entry) Moved(from time.Time, by time.Duration) Entry {
	move := func(t *time.Time) {
		if !t.Before(from) {
			*t = t.Add(by)
		}
	}
	move(&en.At)
	moveReadings(en.Readings, move)
	if en.Open != nil {
		moveReadings(en.Open.Past, move)
	}
	for i := range en.Rejected {
		move(&en.Rejected[i].At)
	}
	for i := range en.Alerts {
		move(&en.Alerts[i].Time)
		move(&en.Alerts[i].Since)
	}
	moveMessages(en.Messages, move)
	en.Estimates = nil
	return en
}

func moveReadings(list []model.Reading, move func(*time.Time)) {
	for i := range list {
		move(&list[i].At)
	}
}

func moveMessages(list []alerts.Message, move func(*time.Time)) {
	for i := range list {
		move(&list[i].Time)
		moveMessages(list[i].Merged, move)
	}
}
