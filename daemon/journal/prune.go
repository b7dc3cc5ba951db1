package journal

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// atOnce rows of a table are deleted in a transaction, so that readings need
// not wait long.
const atOnce = 2000

// Prune deletes what is from before an instant: readings, and entries up to
// seq. The newest entry stays in any case. It returns how many rows that were.
// The file doesn't shrink; what is freed is used again.
func (j *Journal) Prune(ctx context.Context, before time.Time, seq int64) (rows int64, err error) {
	if !storable(before) {
		return 0, fmt.Errorf("pruning the journal: there is no such time: %v", before)
	}
	seq = min(seq, j.Last()-1)
	for n := int64(1); n > 0 && err == nil && ctx.Err() == nil; rows += n {
		n, err = j.pruneSome(before.UnixNano(), seq)
	}
	if err != nil {
		return rows, fmt.Errorf("pruning the journal: %w", err)
	}
	return rows, ctx.Err()
}

func (j *Journal) pruneSome(before, seq int64) (rows int64, err error) {
	j.writing.Lock()
	defer j.writing.Unlock()
	if j.db == nil {
		return 0, errNoDisk
	}
	tx, err := j.db.Begin()
	if err != nil {
		return 0, err
	}
	defer tx.Rollback()
	entries, err := tx.Exec(`DELETE FROM entry WHERE seq IN
		(SELECT seq FROM entry WHERE seq <= ? AND at < ? ORDER BY seq LIMIT ?)`, seq, before, atOnce)
	if err != nil {
		return 0, err
	}
	readings, err := tx.Exec(`DELETE FROM reading WHERE (at, series) IN
		(SELECT at, series FROM reading WHERE at < ? ORDER BY at LIMIT ?)`, before, atOnce)
	if err != nil {
		return 0, err
	}
	n, _ := entries.RowsAffected() // the driver always knows
	m, _ := readings.RowsAffected()
	return n + m, tx.Commit()
}

// Used is how many bytes the file needs for what is in it, apart from room that
// was freed, and the time of the oldest of that; zero = it is empty.
func (j *Journal) Used(ctx context.Context) (bytes int64, oldest time.Time, err error) {
	var pages, free int64
	var at sql.NullInt64
	for query, into := range map[string]any{
		`PRAGMA page_count`:     &pages,
		`PRAGMA freelist_count`: &free,
		`SELECT min(a) FROM (SELECT min(at) AS a FROM reading UNION SELECT at FROM (SELECT at FROM entry ORDER BY seq LIMIT 1))`: &at,
	} {
		if err := j.read.Load().QueryRowContext(ctx, query).Scan(into); err != nil {
			return 0, time.Time{}, fmt.Errorf("measuring the journal: %w", err)
		}
	}
	if at.Valid {
		oldest = instant(at.Int64)
	}
	return (pages - free) * pageSize, oldest, nil
}

// LastBefore is the last entry from before an instant; 0 when there is none.
func (j *Journal) LastBefore(ctx context.Context, at time.Time) (seq int64, err error) {
	if err := j.read.Load().QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM entry WHERE at < ?`, at.UnixNano()).Scan(&seq); err != nil {
		return 0, fmt.Errorf("reading the journal before %v: %w", at, err)
	}
	return seq, nil
}
