package daemon

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"time"

	"conditiond/daemon/journal"
)

// opener is journal.Open, or for a watch that goes on without the disk,
// journal.OpenAnyway.
type opener func(dir string, log *slog.Logger) (*journal.Journal, error)

// openJournal sets a journal aside that can't be used, for the watch must go on:
// its newest copy takes its place, or an empty one. What is lost by that, it
// says.
func openJournal(ctx context.Context, c Journal, how opener, log *slog.Logger) (j *journal.Journal, lost string, err error) {
	j, err = how(c.Dir, log)
	var unusable *journal.Unusable
	if !errors.As(err, &unusable) {
		return j, "", err
	}
	now := time.Now()
	from, aside := restoreNewest(ctx, c, now, log)
	if from == "" {
		if aside, err = journal.SetAside(c.Dir, now); err != nil {
			return nil, "", errors.Join(unusable, err)
		}
	}
	if j, err = how(c.Dir, log); err != nil {
		return nil, "", errors.Join(unusable, err)
	}
	lost = "the old journal couldn't be used and was set aside as " + aside
	if from == "" {
		lost += "; open the lots again, or restore a backup"
	} else {
		lost += "; its copy " + from + " took its place, so what happened from " + ended(ctx, j).Format("2006-01-02 15:04 MST") + " until this start is missing: look at each lot"
	}
	log.Error(lost, "err", unusable)
	return j, lost, nil
}

// restoreNewest puts the newest copy that is sound in the journal's place. Both
// results are empty when there is none.
func restoreNewest(ctx context.Context, c Journal, now time.Time, log *slog.Logger) (from, aside string) {
	for _, name := range c.copies() {
		aside, err := journal.Restore(ctx, c.Dir, name, now)
		if err == nil {
			return name, aside
		}
		log.Error("a copy of the journal can't be used", "err", err)
	}
	return "", ""
}

// Where the package keeps the journal, and puts its nightly copies.
const (
	packageDir     = "/var/lib/conditiond"
	packageBackups = "/var/backups/conditiond"
)

// copies of the journal, newest first.
func (c Journal) copies() []string {
	dir := c.Backups
	if dir == "" && c.Dir == packageDir {
		dir = packageBackups
	}
	if dir == "" {
		return nil
	}
	names, _ := filepath.Glob(filepath.Join(dir, "*.db"))
	made := func(name string) time.Time {
		info, err := os.Stat(name)
		if err != nil {
			return time.Time{}
		}
		return info.ModTime()
	}
	slices.SortFunc(names, func(a, b string) int { return made(b).Compare(made(a)) })
	return names
}

// ended is when the last thing happened that a journal knows; zero = nothing.
func ended(ctx context.Context, j *journal.Journal) time.Time {
	last, err := j.After(ctx, j.Last()-1, 1)
	if err != nil || len(last) == 0 {
		return time.Time{}
	}
	return last[0].At
}
