package daemon

import (
	"context"
	"errors"
	"fmt"
	"time"

	"conditiond/alerts"
	"conditiond/alerts/notify"
)

// A notice carries a picture of its lot where the recipient's channel takes one.
// No notice is kept back for a picture or fails because of one: it goes out
// plain. A danger goes out plain first, always; its picture comes after it.
const (
	drawnWithin = 3 * time.Second
	sentWithin  = 10 * time.Second // with a picture; then without
	mostPicture = 1 << 20          // bytes
)

// send a notice, with a picture where that may be.
func (t *teller) send(ctx context.Context, m alerts.Message) error {
	if urgent(m) {
		return t.to.Notify(ctx, m)
	}
	without, err := t.illustrate(ctx, m)
	if without == nil {
		return err
	}
	if err = t.to.Notify(ctx, m); err == nil && !errors.Is(without, errNone) {
		t.log.Info("a notice went out without its picture", "recipient", t.name, "notice", m.ID, "err", without)
	}
	return err
}

func urgent(m alerts.Message) bool {
	return m.Severity == alerts.Danger && m.State == alerts.Raised
}

// errNone is why most notices have no picture.
var errNone = errors.New("no picture belongs to it")

// illustrate a notice. Unless it went out, at least to some, it says why it must
// go without.
func (t *teller) illustrate(ctx context.Context, m alerts.Message) (without, err error) {
	to, ok := t.to.(notify.Illustrator)
	if !ok || t.draw == nil || m.Lot == "" {
		return errNone, nil
	}
	picture, err := t.drawn(ctx, m.Lot)
	if err != nil {
		return err, nil
	}
	ctx, cancel := context.WithTimeout(ctx, sentWithin)
	defer cancel()
	err = to.Illustrate(ctx, m, picture)
	var failed *notify.Error
	if err == nil || errors.As(err, &failed) && failed.Partly {
		return nil, err
	}
	return err, nil
}

// drawn is a picture, or why there is none in time.
func (t *teller) drawn(ctx context.Context, lot string) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, drawnWithin)
	defer cancel()
	type result struct {
		picture []byte
		err     error
	}
	done := make(chan result, 1)
	go func() {
		var r result
		defer func() {
			if bug := recover(); bug != nil {
				r = result{err: fmt.Errorf("a bug: %v", bug)}
			}
			done <- r
		}()
		r.picture, r.err = t.draw(ctx, lot)
	}()
	select {
	case <-ctx.Done():
		return nil, fmt.Errorf("drawing lot %s: %w", lot, ctx.Err())
	case r := <-done:
		if len(r.picture) > mostPicture {
			return nil, fmt.Errorf("drawing lot %s: %d bytes are too many", lot, len(r.picture))
		}
		return r.picture, r.err
	}
}

// show the pictures of dangers that were told. Nobody waits for it, and what it
// can't do isn't done; while it shows some it takes no others.
func (t *teller) show(ctx context.Context, told []alerts.Message) {
	if len(told) == 0 || !t.showing.TryLock() {
		return
	}
	go func() {
		defer t.showing.Unlock()
		for _, m := range told {
			if without, err := t.illustrate(ctx, pictureOf(m)); errors.Join(without, err) != nil && !errors.Is(without, errNone) {
				t.log.Info("a danger's picture wasn't sent", "recipient", t.name, "notice", m.ID, "err", errors.Join(without, err))
			}
		}
	}()
}

// pictureOf a danger: a notice of its own, that rings no bell.
func pictureOf(m alerts.Message) alerts.Message {
	m.ID += ".picture"
	m.Severity = alerts.Notice
	m.Summary = "How it came to this, drawn."
	m.Advice, _ = alerts.FirstStep(m.Advice)
	return m
}
