package daemon

import (
	"context"
	"time"

	"conditiond/daemon/journal"
)

// Backup copies a configuration's journal to a file, also while a daemon runs.
func Backup(ctx context.Context, c *Config, path string) error {
	return journal.BackupDir(ctx, c.Journal.Dir, path)
}

// Restore puts a backup in the journal's place, while no daemon runs. It
// returns where what was there is kept.
func Restore(ctx context.Context, c *Config, path string) (aside string, err error) {
	return journal.Restore(ctx, c.Journal.Dir, path, time.Now())
}
