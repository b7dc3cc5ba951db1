package journal

import (
	"context"
	"fmt"
	"time"
)

// Bucket sums up a series' readings from an instant until the next bucket's.
type Bucket struct {
	From           time.Time
	Min, Mean, Max float64
	Count          int // at least 1
}

// Series thins a series to at most points buckets of equal length between from
// and to (not included), oldest first. A bucket without readings is left out.
func (j *Journal) Series(ctx context.Context, series string, from, to time.Time, points int) ([]Bucket, error) {
	if !storable(from) || !storable(to) || !from.Before(to) || points < 1 {
		return nil, fmt.Errorf("thinning %s to %d points from %v to %v: there is no such span", series, points, from, to)
	}
	n := int64(points)
	width := (to.UnixNano() - from.UnixNano() + n - 1) / n
	rows, err := j.read.Load().QueryContext(ctx, `SELECT (at - ?1) / ?2 AS bucket, min(value), avg(value), max(value), count(*)
		FROM reading
		WHERE at >= ?1 AND at < ?3 AND series = (SELECT id FROM series WHERE name = ?4)
		GROUP BY bucket ORDER BY bucket`, from.UnixNano(), width, to.UnixNano(), series)
	if err != nil {
		return nil, fmt.Errorf("thinning %s: %w", series, err)
	}
	defer rows.Close()
	var buckets []Bucket
	for rows.Next() {
		var i int64
		var b Bucket
		if err := rows.Scan(&i, &b.Min, &b.Mean, &b.Max, &b.Count); err != nil {
			return nil, fmt.Errorf("thinning %s: %w", series, err)
		}
		b.From = instant(from.UnixNano() + i*width)
		buckets = append(buckets, b)
	}
	return buckets, rows.Err()
}
