package daemon

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"time"

	"conditiond/alerts"
	"conditiond/alerts/notify"
	"conditiond/daemon/journal"
)

// teller carries the journal's notices to one recipient, each until it is taken
// or refused for good. What waits while the recipient is away becomes one
// notice, but for dangers that stand.
type teller struct {
	name   string
	to     notify.Notifier
	zone   *time.Location // of the times in notices that people read
	pace   Pace
	stands func(alerts.Message) bool
	draw   func(ctx context.Context, lot string) ([]byte, error) // a PNG; nil = none are drawn
	log    *slog.Logger

	waiting alerts.Backlog
	refused *aside
	showing sync.Mutex // pictures of dangers
}

// aside is what was refused for good.
type aside struct {
	mu     sync.Mutex
	n      int64
	reason string
}

func (a *aside) add(n int, reason string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.n, a.reason = a.n+int64(n), reason
}

func (a *aside) tell() (int64, string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.n, a.reason
}

// gather the recipient's notices out of entries.
func (t *teller) gather(_ context.Context, entries []journal.Entry) error {
	for _, en := range recallAll(entries, t.log) {
		for _, m := range en.Messages {
			if m.To == t.name {
				t.waiting.Add(t.local(m), en.At)
			}
		}
	}
	return nil
}

// local is a notice as its recipient gets it.
func (t *teller) local(m alerts.Message) alerts.Message {
	m.To, m.Time = "", m.Time.In(t.zone)
	return m
}

// flush tells all that waits.
func (t *teller) flush(ctx context.Context) error {
	var dangers []alerts.Message
	for _, m := range t.waiting.Notices(t.pace.Now(), t.stands) {
		if err := t.tell(ctx, m); err != nil {
			return err
		}
		t.waiting.Told(m)
		if urgent(m) {
			dangers = append(dangers, m)
		}
	}
	t.waiting.Clear()
	t.show(ctx, dangers)
	return nil
}

// tell one notice. What is refused for good is told: nothing can be done.
func (t *teller) tell(ctx context.Context, m alerts.Message) error {
	err := t.send(ctx, m)
	var refused *notify.Error
	if errors.As(err, &refused) && refused.Permanent {
		t.refused.add(max(1, len(m.Merged)), err.Error())
		t.log.Error("a notice was refused for good", "recipient", t.name, "notice", m.ID, "err", err)
		return nil
	}
	if refused != nil && refused.RetryAfter > 0 {
		return askedFor{err, refused.RetryAfter}
	}
	return err
}

// askedFor is an error whose other side said when to come again.
type askedFor struct {
	error
	after time.Duration
}

// RetryAfter is what a follower asks for.
func (a askedFor) RetryAfter() time.Duration { return a.after }

// TestNotice sends a notice that says it is only a test.
func TestNotice(ctx context.Context, c *Config, to notify.Config) error {
	zone, err := c.Site.Location()
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	now := time.Now().In(zone)
	return to.Kinds()[0].Notify(ctx, alerts.Message{
		ID: "test." + now.UTC().Format("20060102T150405"), Time: now, Alert: "test", Severity: alerts.Notice, State: alerts.Raised,
		Summary: "A test notice from " + c.Site.Name + ". Nothing is wrong.",
		Advice:  "Nothing to do: this way of telling you works.",
	})
}
