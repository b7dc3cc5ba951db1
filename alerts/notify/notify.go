// Package notify delivers notices, and nothing else: whom to tell, what and
// when is decided in alerts. Each kind of delivery has a file of its own, where
// one struct is its configuration and the notifier. To add one, write that file
// and name it in Config.
//
// A delivery is at least once. A failed one says whether trying again can help;
// no error holds a secret, or a URL, which may be one.
package notify

import (
	"context"

	"conditiond/alerts"
)

// Notifier delivers one notice. A nil error means that the other side has
// taken it over; any other is an *Error.
type Notifier interface {
	Notify(ctx context.Context, m alerts.Message) error
}

// Illustrator is a notifier whose notices can carry a picture.
type Illustrator interface {
	Notifier
	// Illustrate delivers m with a PNG of its lot. After an error the notice
	// may still go out without.
	Illustrate(ctx context.Context, m alerts.Message, picture []byte) error
}

// Config is one recipient: from which severity on it is told, and exactly one
// kind of delivery.
type Config struct {
	Name    string          `yaml:"name"`
	Least   alerts.Severity `yaml:"least"`
	Webhook *Webhook        `yaml:"webhook"`
	Ntfy    *Ntfy           `yaml:"ntfy"`
	SMTP    *SMTP           `yaml:"smtp"`
	Log     *Log            `yaml:"log"`
}

// Kinds that are set. A sound entry has one.
func (c Config) Kinds() []Notifier {
	var kinds []Notifier
	if c.Webhook != nil {
		kinds = append(kinds, c.Webhook)
	}
	if c.Ntfy != nil {
		kinds = append(kinds, c.Ntfy)
	}
	if c.SMTP != nil {
		kinds = append(kinds, c.SMTP)
	}
	if c.Log != nil {
		kinds = append(kinds, c.Log)
	}
	return kinds
}
