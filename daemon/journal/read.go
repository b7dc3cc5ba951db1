package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"
)

// querier is a connection or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRow(query string, args ...any) *sql.Row
	Query(query string, args ...any) (*sql.Rows, error)
}

func lastSeq(q querier) (seq int64, err error) {
	err = q.QueryRow(`SELECT coalesce(max(seq), 0) FROM entry`).Scan(&seq)
	return seq, err
}

func seriesNames(q querier) (map[int64]string, error) {
	rows, err := q.Query(`SELECT id, name FROM series`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	names := map[int64]string{}
	for rows.Next() {
		var id int64
		var name string
		if err := rows.Scan(&id, &name); err != nil {
			return nil, err
		}
		names[id] = name
	}
	return names, rows.Err()
}

// maxBatch bounds what After reads into memory at once, in bytes, apart from
// the one entry that may pass it.
const maxBatch = 8 << 20

// After returns committed entries past seq in order, at most limit of them and
// fewer when they are large. None means that there are none.
func (j *Journal) After(ctx context.Context, seq int64, limit int) ([]Entry, error) {
	return entriesAfter(ctx, j.read.Load(), seq, max(limit, 0))
}

func entriesAfter(ctx context.Context, q querier, seq int64, limit int) ([]Entry, error) {
	entries, packed, err := packedAfter(ctx, q, seq, limit)
	if err != nil {
		return nil, fmt.Errorf("reading the journal after entry %d: %w", seq, err)
	}
	// Read after the entries, so that it names every series in them.
	names, err := seriesNames(q)
	if err != nil {
		return nil, fmt.Errorf("reading the journal's series: %w", err)
	}
	for i := range entries {
		e := &entries[i]
		if e.Readings, err = decode(packed[i], e.At, names); err != nil {
			return nil, fmt.Errorf("reading entry %d of the journal: %w", e.Seq, err)
		}
	}
	return entries, nil
}

func packedAfter(ctx context.Context, q querier, seq int64, limit int) (entries []Entry, packed [][]byte, err error) {
	rows, err := q.QueryContext(ctx, `SELECT seq, at, body, readings FROM entry
		WHERE seq > ? ORDER BY seq LIMIT ?`, seq, limit)
	if err != nil {
		return nil, nil, err
	}
	defer rows.Close()
	for size := 0; size < maxBatch && rows.Next(); {
		var e Entry
		var at int64
		var readings []byte
		if err := rows.Scan(&e.Seq, &at, &e.Body, &readings); err != nil {
			return nil, nil, err
		}
		e.At = instant(at)
		entries, packed = append(entries, e), append(packed, readings)
		size += len(e.Body) + len(readings)
	}
	return entries, packed, rows.Err()
}

// Query asks for a series' readings by their own time.
type Query struct {
	Series string
	From   time.Time // zero = from the first
	To     time.Time // not included; zero = to the last
	Limit  int       // at most this many; 0 = all
	Newest bool      // of more than the limit, the last ones rather than the first
}

// Readings returns the readings asked for, oldest first.
func (j *Journal) Readings(ctx context.Context, q Query) ([]Reading, error) {
	if q.Limit == 0 {
		q.Limit = -1
	}
	from, to := bounds(q.From, q.To)
	rows, err := j.read.Load().QueryContext(ctx, `SELECT at, value FROM reading
		WHERE at >= ? AND at < ? AND series = (SELECT id FROM series WHERE name = ?)
		ORDER BY at `+q.order()+` LIMIT ?`, from, to, q.Series, q.Limit)
	if err != nil {
		return nil, fmt.Errorf("reading the readings of %s: %w", q.Series, err)
	}
	defer rows.Close()
	var readings []Reading
	for rows.Next() {
		var at int64
		r := Reading{Series: q.Series}
		if err := rows.Scan(&at, &r.Value); err != nil {
			return nil, fmt.Errorf("reading the readings of %s: %w", q.Series, err)
		}
		r.At = instant(at)
		readings = append(readings, r)
	}
	if q.Newest {
		slices.Reverse(readings)
	}
	return readings, rows.Err()
}

func (q Query) order() string {
	if q.Newest {
		return "DESC"
	}
	return "ASC"
}

func bounds(from, to time.Time) (int64, int64) {
	a, b := int64(math.MinInt64), int64(math.MaxInt64)
	if storable(from) {
		a = from.UnixNano()
	}
	if storable(to) {
		b = to.UnixNano()
	}
	return a, b
}

// Cursor is how far the follower of that name has come, durably or not yet; -1
// when the journal doesn't know it.
func (j *Journal) Cursor(ctx context.Context, name string) (int64, error) {
	j.writing.Lock() // a group that is being written is in neither place
	defer j.writing.Unlock()
	j.mu.Lock()
	seq, ok := j.open.cursors[name]
	j.mu.Unlock()
	if ok {
		return seq, nil
	}
	err := j.read.Load().QueryRowContext(ctx, `SELECT seq FROM cursor WHERE name = ?`, name).Scan(&seq)
	if errors.Is(err, sql.ErrNoRows) {
		return -1, nil
	}
	if err != nil {
		return 0, fmt.Errorf("reading the cursor of %s: %w", name, err)
	}
	return seq, nil
}

// Kept is what was kept under a name at the last commit; 0 and nil when
// nothing was.
func (j *Journal) Kept(ctx context.Context, name string) (seq int64, state []byte, err error) {
	err = j.read.Load().QueryRowContext(ctx, `SELECT seq, state FROM kept WHERE name = ?`, name).Scan(&seq, &state)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return 0, nil, fmt.Errorf("reading what was kept of %s: %w", name, err)
	}
	return seq, state, nil
}
