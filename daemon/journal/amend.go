package journal

import (
	"context"
	"database/sql"
)

// amendment of the entries past after and up to upto.
type amendment struct {
	after, upto int64
	change      func(Entry) (Entry, error)
}

// Amend writes the committed entries past seq anew, each as change says, with
// the next commit: all of them and what is appended until then, or nothing. An
// entry keeps its Seq, and gets no series that is new. It is for what was dated
// by a clock that turns out wrong, and must be followed by an Append.
func (j *Journal) Amend(seq int64, change func(Entry) (Entry, error)) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.open.amended = &amendment{seq, j.next - 1, change}
}

// amend in two rounds, so that a reading that moves to where another was before
// doesn't meet it there.
func (j *Journal) amend(tx *sql.Tx, a *amendment) error {
	have, err := lastSeq(tx)
	if a == nil || have > a.upto || err != nil { // a commit that failed at its very end has done it
		return err
	}
	if err := eachEntry(tx, a.after, func(e Entry) error { return j.rewrite(tx, e, a.change) }); err != nil {
		return err
	}
	add := tx.Stmt(j.addReading)
	return eachEntry(tx, a.after, func(e Entry) error {
		for _, r := range e.Readings {
			if _, err := add.Exec(r.At.UnixNano(), j.ids[r.Series], r.Value); err != nil {
				return err
			}
		}
		return nil
	})
}

// rewrite an entry, and take its readings out.
func (j *Journal) rewrite(tx *sql.Tx, old Entry, change func(Entry) (Entry, error)) error {
	for _, r := range old.Readings {
		if _, err := tx.Exec(`DELETE FROM reading WHERE at = ? AND series = ?`, r.At.UnixNano(), j.ids[r.Series]); err != nil {
			return err
		}
	}
	e, err := change(old)
	if err == nil {
		err = fit(e)
	}
	if err != nil {
		return err
	}
	body := append([]byte{}, e.Body...) // not nil, which would be stored as NULL
	_, err = tx.Exec(`UPDATE entry SET at = ?, body = ?, readings = ? WHERE seq = ?`,
		e.At.UnixNano(), body, encode(e.Readings, e.At, j.ids), old.Seq)
	return err
}

func eachEntry(tx *sql.Tx, seq int64, do func(Entry) error) error {
	for {
		entries, err := entriesAfter(context.Background(), tx, seq, atOnce)
		if err != nil || len(entries) == 0 {
			return err
		}
		for _, e := range entries {
			if err := do(e); err != nil {
				return err
			}
		}
		seq = entries[len(entries)-1].Seq
	}
}
