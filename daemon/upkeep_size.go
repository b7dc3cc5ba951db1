package daemon

import (
	"context"
	"strings"
	"time"
)

// unneeded is the instant, at most the one given, before which no open lot needs
// a reading.
func (d *Daemon) unneeded(by time.Time) time.Time {
	for _, l := range d.View().Lots {
		if begun := l.Document.PackagedAt.Add(-before); l.ClosedAt == nil && begun.Before(by) {
			by = begun
		}
	}
	return by
}

// fit the journal into journal.max_mb. The oldest day goes first, though never
// what an open lot or a restart needs. A follower that is away keeps its entries
// as long as there is room for them: a full disk would cost everybody. What that
// leaves wrong, people are told.
func (d *Daemon) fit(ctx context.Context) {
	limit := int64(d.config.Journal.MaxMB) * 1e6
	used, oldest, err := d.journal.Used(ctx)
	for n := int64(1); err == nil && used > limit && n > 0; used, oldest, err = d.journal.Used(ctx) {
		if n, err = d.dropDay(ctx, oldest); err != nil {
			break
		}
	}
	if err != nil && ctx.Err() == nil {
		d.log.Error("the journal couldn't be brought to its size", "err", err)
	}
	d.tight.Store(used > limit)
}

// dropDay deletes the oldest day and returns how many rows that were.
func (d *Daemon) dropDay(ctx context.Context, oldest time.Time) (rows int64, err error) {
	end := d.unneeded(oldest.Truncate(24 * time.Hour).Add(24 * time.Hour))
	seq, _, err := d.journal.Kept(ctx, snapshotName)
	if err != nil {
		return 0, err
	}
	last, err := d.journal.LastBefore(ctx, end)
	if err != nil {
		return 0, err
	}
	d.miss(min(seq, last))
	rows, err = d.journal.Prune(ctx, end, seq)
	if rows > 0 {
		d.log.Info("old entries deleted from the journal for its size", "before", end, "rows", rows)
	}
	return rows, err
}

// miss notes up to which entry some will be missing to the followers that have
// not come so far.
func (d *Daemon) miss(seq int64) {
	for _, f := range d.followers {
		if f.State().Delivered < seq {
			d.missed.Store(seq)
			return
		}
	}
}

// sizeProblem says what journal.max_mb costs; empty = nothing.
func (d *Daemon) sizeProblem() string {
	if d.tight.Load() {
		return "it is larger than journal.max_mb, and open lots need what is in it: raise the limit, or close lots that are done"
	}
	var names []string
	for _, f := range d.followers {
		if f.State().Delivered < d.missed.Load() {
			names = append(names, f.Name)
		}
	}
	if len(names) == 0 {
		return ""
	}
	return "old entries were deleted by journal.max_mb before they were carried to " + strings.Join(names, ", ") + ": raise the limit, or see why that takes nothing"
}
