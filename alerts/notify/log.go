package notify

import (
	"context"
	"log/slog"

	"conditiond/alerts"
)

// Log writes notices to the program's own log: for a first try, and beside
// another kind.
type Log struct {
	Logger *slog.Logger `yaml:"-"` // nil = the default one
}

// Notify never fails.
func (l *Log) Notify(ctx context.Context, m alerts.Message) error {
	logger := l.Logger
	if logger == nil {
		logger = slog.Default()
	}
	logger.WarnContext(ctx, m.Summary, "notice", m.ID, "lot", m.Lot, "sensor", m.Sensor,
		"alert", m.Alert, "severity", m.Severity, "state", m.State, "time", m.Time, "advice", m.Advice)
	return nil
}
