package journal

import (
	"context"
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
