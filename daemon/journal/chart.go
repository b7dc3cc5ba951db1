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

// buckets of a width in nanoseconds. They are summed up here: SQLite would sort
// all readings first, by way of the card.
func (j *Journal) buckets(ctx context.Context, names []string, from, to, width int64) (map[string][]Bucket, error) {
	list, err := json.Marshal(names)
	if err != nil {
		return nil, err
	}
	// Without the plus it might go through all readings once for each name.
	rows, err := j.read.Load().QueryContext(ctx, `SELECT series, at, value FROM reading
		WHERE at >= ? AND at < ? AND +series IN (SELECT id FROM series WHERE name IN (SELECT value FROM json_each(?)))
		ORDER BY at`, from, to, string(list))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := map[int64][]Bucket{}
	for rows.Next() {
		var series, at int64
		var value float64
		if err := rows.Scan(&series, &at, &value); err != nil {
			return nil, err
		}
		begins := instant(at - (at-from)%width)
		all[series] = summed(all[series], begins, value)
	}
	if err := rows.Err(); err != nil {
		return nil, err
	}
	return j.named(all)
}

// summed is a list with one value more, in its last bucket or in a new one.
func summed(list []Bucket, begins time.Time, v float64) []Bucket {
	if n := len(list); n > 0 && list[n-1].From.Equal(begins) {
		b := &list[n-1]
		b.Min, b.Max, b.Count = min(b.Min, v), max(b.Max, v), b.Count+1
		b.Mean += (v - b.Mean) / float64(b.Count)
		return list
	}
	return append(list, Bucket{begins, v, v, v, 1})
}

func (j *Journal) named(all map[int64][]Bucket) (map[string][]Bucket, error) {
	names, err := seriesNames(j.read.Load())
	out := make(map[string][]Bucket, len(all))
	for id, list := range all {
		out[names[id]] = list
	}
	return out, err
}
