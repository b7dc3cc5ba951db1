package daemon

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"conditiond/alerts"
	"conditiond/alerts/notify"
	"conditiond/daemon/journal"
)

// teller carries the journal's notices to one recipient, in order, each until
// it is taken or refused for good.
type teller struct {
	name string
	to   notify.Notifier
	pace Pace
	log  *slog.Logger
}

func (t teller) deliver(ctx context.Context, entries []journal.Entry) error {
	for _, kept := range entries {
		if len(kept.Body) == 0 || kept.Body[0] == markTag && len(kept.Body) == markSize {
			continue // bare readings: nobody is told of them
		}
		en, err := recall(kept)
		if err != nil {
			return err
		}
		for _, m := range en.Messages {
			if m.To != t.name {
				continue
			}
			if err := t.tell(ctx, m); err != nil {
				return err
			}
		}
	}
	return nil
}

// lateAfter is when a notice says that it is late.
const lateAfter = time.Minute

func (t teller) tell(ctx context.Context, m alerts.Message) error {
	if late := t.pace.Now().Sub(m.Time); late > lateAfter {
		m.DelayedS = int64(late.Seconds())
	}
	m.To = "" // who it is for is nobody else's business
	err := t.to.Notify(ctx, m)
	var refused *notify.Error
	if errors.As(err, &refused) && refused.Permanent {
		t.log.Error("a notice was refused for good", "recipient", t.name, "notice", m.ID, "err", err)
		return nil
	}
	return err
}
