package journal

import (
	"cmp"
	"database/sql"
	"fmt"
	"maps"
	"math"
	"time"
)

// maxWaiting bounds what may wait in memory while the disk can't be written,
// in bytes.
const maxWaiting = 32 << 20

// group is what becomes durable together.
type group struct {
	amended *amendment // nil = nothing is written anew
	entries []Entry
	cursors map[string]int64
	kept    map[string]snapshot
	size    int // of the entries, in bytes
}

type snapshot struct {
	seq   int64
	state []byte
}

func (g group) empty() bool {
	return len(g.entries) == 0 && len(g.cursors) == 0 && len(g.kept) == 0
}

// then is g followed by later.
func (g group) then(later group) group {
	return group{
		amended: cmp.Or(later.amended, g.amended),
		entries: append(g.entries, later.entries...),
		cursors: merged(g.cursors, later.cursors),
		kept:    merged(g.kept, later.kept),
		size:    g.size + later.size,
	}
}

func merged[V any](a, b map[string]V) map[string]V {
	m := map[string]V{}
	maps.Copy(m, a)
	maps.Copy(m, b)
	return m
}

// Append puts e into the open group and returns the Seq that it got. It is not
// durable yet. The journal holds on to e's slices: leave them alone.
func (j *Journal) Append(e Entry) (int64, error) {
	if err := fit(e); err != nil {
		return 0, fmt.Errorf("appending to the journal: %w", err)
	}
	size := 100 + len(e.Body) + 60*len(e.Readings) // about what it takes in memory
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.waiting+size > maxWaiting {
		return 0, ErrFull
	}
	e.Seq = j.next
	j.next++
	j.open.entries = append(j.open.entries, e)
	j.open.size += size
	j.waiting += size
	return e.Seq, nil
}

// fit finds what couldn't be stored, so that it fails alone and not with its
// group.
func fit(e Entry) error {
	if !storable(e.At) {
		return fmt.Errorf("an entry's time is out of range: %v", e.At)
	}
	for _, r := range e.Readings {
		if r.Series == "" {
			return fmt.Errorf("a reading at %v has no series", r.At)
		}
		if !storable(r.At) {
			return fmt.Errorf("a reading of %s has a time out of range: %v", r.Series, r.At)
		}
		if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
			return fmt.Errorf("a reading of %s at %v is %v", r.Series, r.At, r.Value)
		}
	}
	return nil
}

// storable: nanoseconds since 1970 hold it in 64 bits.
func storable(t time.Time) bool { return t.Year() >= 1678 && t.Year() < 2262 }

// SetCursor notes how far the follower of that name has come. It rides with the
// next commit.
func (j *Journal) SetCursor(name string, seq int64) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.open.cursors = merged(j.open.cursors, map[string]int64{name: seq})
	return nil
}

// Keep notes the caller's state as of seq under a name, in place of what was
// kept under it before. It rides with the next commit.
func (j *Journal) Keep(name string, seq int64, state []byte) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.open.kept = merged(j.open.kept, map[string]snapshot{name: {seq, state}})
	return nil
}

// Commit makes the open group durable before it returns. After an error the
// group waits to be tried again, and more can be appended to it.
func (j *Journal) Commit() error {
	j.writing.Lock()
	defer j.writing.Unlock()
	g := j.take()
	if g.empty() {
		return nil
	}
	err := j.write(g)
	j.settle(g, err == nil)
	if err != nil {
		return fmt.Errorf("writing the journal %s, %d entries wait: %w", j.Path, len(g.entries), err)
	}
	return nil
}

func (j *Journal) take() group {
	j.mu.Lock()
	defer j.mu.Unlock()
	g := j.open
	j.open = group{}
	return g
}

func (j *Journal) settle(g group, done bool) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if !done {
		j.open = g.then(j.open)
		return
	}
	j.waiting -= g.size
	if n := len(g.entries); n > 0 {
		j.last.Store(g.entries[n-1].Seq)
		close(j.committed)
		j.committed = make(chan struct{})
	}
}

func (j *Journal) write(g group) error {
	if j.db == nil {
		if err := j.regain(); err != nil {
			return err
		}
	}
	tx, err := j.db.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if err := j.amend(tx, g.amended); err != nil {
		return err
	}
	fresh, err := j.writeEntries(tx, g.entries)
	if err != nil {
		return err
	}
	if err := writeNotes(tx, g); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	maps.Copy(j.ids, fresh)
	return nil
}

// writeEntries returns the numbers of the series that were new.
func (j *Journal) writeEntries(tx *sql.Tx, entries []Entry) (map[string]int64, error) {
	if len(entries) == 0 {
		return nil, nil
	}
	// A commit that failed at its very end may have reached the disk after all.
	have, err := lastSeq(tx)
	if err != nil {
		return nil, err
	}
	ids, fresh := maps.Clone(j.ids), map[string]int64{}
	entry, reading := tx.Stmt(j.addEntry), tx.Stmt(j.addReading)
	for _, e := range entries {
		if e.Seq <= have {
			continue
		}
		if err := addSeries(tx, e.Readings, ids, fresh); err != nil {
			return nil, err
		}
		body := append([]byte{}, e.Body...) // not nil, which would be stored as NULL
		if _, err := entry.Exec(e.Seq, e.At.UnixNano(), body, encode(e.Readings, e.At, ids)); err != nil {
			return nil, err
		}
		for _, r := range e.Readings {
			if _, err := reading.Exec(r.At.UnixNano(), ids[r.Series], r.Value); err != nil {
				return nil, err
			}
		}
	}
	return fresh, nil
}

func addSeries(tx *sql.Tx, readings []Reading, ids, fresh map[string]int64) error {
	for _, r := range readings {
		if _, ok := ids[r.Series]; ok {
			continue
		}
		var id int64
		if err := tx.QueryRow(`INSERT INTO series (name) VALUES (?) RETURNING id`, r.Series).Scan(&id); err != nil {
			return err
		}
		ids[r.Series], fresh[r.Series] = id, id
	}
	return nil
}

func writeNotes(tx *sql.Tx, g group) error {
	for name, seq := range g.cursors {
		if _, err := tx.Exec(`INSERT OR REPLACE INTO cursor (name, seq) VALUES (?, ?)`, name, seq); err != nil {
			return err
		}
	}
	for name, k := range g.kept {
		state := append([]byte{}, k.state...)
		if _, err := tx.Exec(`INSERT OR REPLACE INTO kept (name, seq, state) VALUES (?, ?, ?)`, name, k.seq, state); err != nil {
			return err
		}
	}
	return nil
}
