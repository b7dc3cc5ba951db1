package journal

import (
	"bytes"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
)

// appID in its header marks a file as a journal: "cond".
const appID = 0x636f6e64

// steps bring a journal from any version to the newest; a journal's
// user_version is how many of them it has seen. A step that was released is
// never changed: add another.
func steps() []string {
	return []string{`
CREATE TABLE series (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);

-- The log. The entry's readings ride in it compactly (see code.go), so a
-- follower reads one table in order.
CREATE TABLE entry (
	seq INTEGER PRIMARY KEY,
	at INTEGER NOT NULL, -- nanoseconds since 1970
	body BLOB NOT NULL,
	readings BLOB NOT NULL);

-- Time first: neighbours in time share a page, so a group touches few.
CREATE TABLE reading (
	at INTEGER NOT NULL,
	series INTEGER NOT NULL,
	value REAL NOT NULL,
	PRIMARY KEY (at, series)) WITHOUT ROWID;

CREATE TABLE cursor (name TEXT PRIMARY KEY, seq INTEGER NOT NULL) WITHOUT ROWID;
CREATE TABLE kept (name TEXT PRIMARY KEY, seq INTEGER NOT NULL, state BLOB NOT NULL);
`}
}

// makeIfAbsent makes an empty journal where there is none. It appears whole
// under its name or not at all, so a file of that name that holds no journal is
// never one of ours half made.
func makeIfAbsent(path string, log *slog.Logger) error {
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if _, err := os.Stat(path + "-wal"); err == nil {
		return &Unusable{Path: path, Err: errors.New("the file is missing, yet its -wal file is there")}
	}
	draft := path + ".new"
	if err := errors.Join(removeParts(draft), makeNew(draft)); err != nil {
		return fmt.Errorf("making a journal in %s: %w", filepath.Dir(path), err)
	}
	log.Info("no journal yet: a new one", "path", path)
	return putInPlace(draft, path)
}

func makeNew(path string) error {
	db, err := connect(path)
	if err != nil {
		return err
	}
	_, err = db.Exec(fmt.Sprintf(`PRAGMA application_id = %d`, appID))
	if err == nil {
		err = migrate(db, steps())
	}
	return errors.Join(err, db.Close())
}

// identify looks at the file's header before SQLite, which would write to it.
// Format: https://www.sqlite.org/fileformat2.html#the_database_header
func identify(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	header := make([]byte, 100)
	if _, err := io.ReadFull(f, header); errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return errForeign
	} else if err != nil {
		return err
	}
	version, id := int32(binary.BigEndian.Uint32(header[60:])), binary.BigEndian.Uint32(header[68:])
	if !bytes.HasPrefix(header, []byte("SQLite format 3\x00")) || id != appID || version < 1 {
		return errForeign
	}
	return nil
}

// migrate takes the steps that the journal has not seen yet, each whole or not
// at all.
func migrate(db *sql.DB, steps []string) error {
	var version int
	if err := db.QueryRow(`PRAGMA user_version`).Scan(&version); err != nil {
		return err
	}
	if version > len(steps) {
		return fmt.Errorf("%w: its version is %d, this program knows %d", ErrNewer, version, len(steps))
	}
	for v := version; v < len(steps); v++ {
		if err := take(db, steps[v], v+1); err != nil {
			return fmt.Errorf("%w %d: %w", errStep, v+1, err)
		}
	}
	return nil
}

func take(db *sql.DB, step string, version int) error {
	tx, err := db.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if _, err := tx.Exec(step); err != nil {
		return err
	}
	if _, err := tx.Exec(fmt.Sprintf(`PRAGMA user_version = %d`, version)); err != nil {
		return err
	}
	return tx.Commit()
}
