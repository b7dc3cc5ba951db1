package notify

import (
	"context"
	"slices"

	"conditiond/alerts"
)

// Webhook posts the notice as JSON. Any 2xx is success; a repeat has the same
// id, in the body and as Idempotency-Key. A notice of several has the alert
// "several", and those merged in it, each with its own id, under "merged".
type Webhook struct {
	URLFile Secret `yaml:"url_file"` // the URL is a secret: whoever has it can post
}

// Notify posts m.
func (w *Webhook) Notify(ctx context.Context, m alerts.Message) error {
	text, err := w.URLFile.Read()
	if err != nil {
		return temporary("read the webhook's URL", err)
	}
	to, err := ParseURL(text)
	if err != nil {
		return temporary("read the webhook's URL", err)
	}
	if _, failed := post(ctx, to, "", m.ID, outward(m)); failed != nil {
		return failed
	}
	return nil
}

// outward has all times in UTC.
func outward(m alerts.Message) alerts.Message {
	m.Time = m.Time.UTC()
	m.Merged = slices.Clone(m.Merged)
	for i, part := range m.Merged {
		m.Merged[i] = outward(part)
	}
	return m
}
