package journal

import (
	"context"
	"encoding/json"
	"fmt"
	"time"
)

// Bucket sums up a series' readings from an instant until the next bucket's.
type Bucket struct {
	From           time.Time
	Min, Mean, Max float64
	Count          int // at least 1
}

// Series thins each of some series to at most points buckets of equal length
// between from and to (not included), oldest first. A bucket without readings is
// left out. The file is in the order of time, so that asking for many at once
// costs little more than asking for one.
func (j *Journal) Series(ctx context.Context, names []string, from, to time.Time, points int) (map[string][]Bucket, error) {
	if !storable(from) || !storable(to) || !from.Before(to) || points < 1 {
		return nil, fmt.Errorf("thinning %s to %d points from %v to %v: there is no such span", names, points, from, to)
	}
	n := int64(points)
	width := (to.UnixNano() - from.UnixNano() + n - 1) / n
	all, err := j.buckets(ctx, names, from.UnixNano(), to.UnixNano(), width)
	if err != nil {
		return nil, fmt.Errorf("thinning %s: %w", names, err)
	}
	return all, nil
}

// buckets of a width in nanoseconds. The driver is asked to look the names up
// first: else it might go through all readings for each of them.
func (j *Journal) buckets(ctx context.Context, names []string, from, to, width int64) (map[string][]Bucket, error) {
	list, err := json.Marshal(names)
	if err != nil {
		return nil, err
	}
	rows, err := j.read.Load().QueryContext(ctx, `SELECT (SELECT name FROM series WHERE id = series),
			(at - ?1) / ?2 AS bucket, min(value), avg(value), max(value), count(*)
		FROM reading
		WHERE at >= ?1 AND at < ?3 AND +series IN (SELECT id FROM series WHERE name IN (SELECT value FROM json_each(?4)))
		GROUP BY series, bucket ORDER BY series, bucket`, from, width, to, string(list))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := map[string][]Bucket{}
	for rows.Next() {
		var i int64
		var name string
		var b Bucket
		if err := rows.Scan(&name, &i, &b.Min, &b.Mean, &b.Max, &b.Count); err != nil {
			return nil, err
		}
		b.From = instant(from + i*width)
		all[name] = append(all[name], b)
	}
	return all, rows.Err()
}
