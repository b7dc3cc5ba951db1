package notify

import (
	"context"

	"conditiond/alerts"
)

// Webhook posts the notice as JSON. Any 2xx is success; a repeat has the same
// id, in the body and as Idempotency-Key.
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
	m.Time = m.Time.UTC()
	if _, failed := post(ctx, to, "", m.ID, m); failed != nil {
		return failed
	}
	return nil
}
