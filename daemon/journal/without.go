package journal

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"log/slog"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"time"

	"modernc.org/sqlite"
)

var errNoDisk = errors.New("its disk can't be written")

// OpenAnyway is Open for a watch that must go on. Where the disk is at fault and
// not the journal (full, read-only, locked, unreadable), it opens what can be
// read: all entries, or none. Each Commit then tries to open it for writing, and
// fails until that can be done. It still fails where Open would for the
// journal's sake, and where there is no journal and this user may not make one.
func OpenAnyway(dir string, log *slog.Logger) (*Journal, error) {
	j, err := Open(dir, log)
	var unusable *Unusable
	if err == nil || errors.As(err, &unusable) || errors.Is(err, ErrInUse) || errors.Is(err, ErrNewer) {
		return j, err
	}
	path := filepath.Join(dir, fileName)
	if _, gone := os.Stat(path); errors.Is(gone, fs.ErrNotExist) && errors.Is(err, fs.ErrPermission) {
		return nil, err
	}
	lock, held := lockDir(dir, os.O_RDONLY) // without the right to write, or none
	if errors.Is(held, ErrInUse) {
		return nil, held
	}
	j = unopened(path, log)
	j.lock = lock
	if unread := j.readWithout(); unread != nil {
		log.Error("the journal can't be read: what it knows of lots isn't known here", "err", unread)
		if err := j.readNothing(); err != nil {
			return nil, err
		}
	}
	log.Error("the journal can't be opened for writing", "last", j.Last(), "err", err)
	return j, nil
}

// readWithout reads the file as it stands, and where it stands.
func (j *Journal) readWithout() error {
	if err := identify(j.Path); err != nil {
		return err
	}
	err := j.openFrozen()
	if err == nil {
		err = j.recall(j.read.Load())
	}
	return err
}

// readNothing has a journal without entries, in memory, to be read.
func (j *Journal) readNothing() error {
	if old := j.read.Load(); old != nil {
		old.Close()
	}
	j.unread = true
	return errors.Join(j.openNothing(), j.recall(j.read.Load()))
}

func (j *Journal) openNothing() error {
	db, err := j.openOne("file::memory:")
	if err == nil {
		_, err = db.Exec(strings.Join(steps(), ""))
	}
	return err
}

// openFrozen opens the file without a lock and without its -shm, for which there
// may be no room. Nobody else writes: this process has the folder's lock, or
// nobody can have it.
func (j *Journal) openFrozen() error {
	if info, err := os.Stat(j.Path + "-wal"); err != nil || info.Size() == 0 {
		_, err := j.openOne(fileURL(j.Path) + "?mode=ro&immutable=1")
		return err
	}
	// No cache_size: it would read the file before the locking mode counts.
	db, err := j.openOne(fileURL(j.Path) + "?mode=ro&vfs=unix-none&_pragma=locking_mode(exclusive)")
	if err != nil {
		return err
	}
	return persistWAL(db)
}

// persistWAL keeps SQLite from deleting the -wal, which it may take for its own,
// when the connection is closed.
func persistWAL(db *sql.DB) error {
	c, err := db.Conn(context.Background())
	if err != nil {
		return err
	}
	defer c.Close()
	return c.Raw(func(driver any) error {
		_, err := driver.(sqlite.FileControl).FileControlPersistWAL("main", 1)
		return err
	})
}

// openOne connection for the readers to share.
func (j *Journal) openOne(source string) (*sql.DB, error) {
	db, err := sql.Open("sqlite", source)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	j.read.Store(db)
	return db, nil
}

// regain opens the file for writing, where the disk can be written again.
func (j *Journal) regain() error {
	if err := hasRoom(filepath.Dir(j.Path)); err != nil {
		return err
	}
	// The system drops a process's locks on a file when it closes any of its
	// handles: so this one is closed before there are locks.
	if err := shut(j.read.Load()); err != nil {
		return err
	}
	whole, err := j.reopened()
	if err != nil {
		return errors.Join(err, j.frozenAgain())
	}
	j.db, j.addEntry, j.addReading = whole.db, whole.addEntry, whole.addReading
	maps.Copy(j.ids, whole.ids)
	j.read.Store(whole.read.Load())
	return nil
}

func (j *Journal) frozenAgain() error {
	if j.unread {
		return j.openNothing()
	}
	return j.openFrozen()
}

// reopened is the journal with all that Open gives it, if it holds what is known.
func (j *Journal) reopened() (whole *Journal, err error) {
	if j.lock == nil {
		if j.lock, err = lockDir(filepath.Dir(j.Path), os.O_RDWR|os.O_CREATE); err != nil {
			return nil, err
		}
	}
	if err := makeIfAbsent(j.Path, j.log); err != nil {
		return nil, err
	}
	whole = unopened(j.Path, j.log)
	if err = whole.start(); err != nil {
		err = judge(j.Path, err)
	} else if whole.Last() != j.Last() {
		err = ErrOther
	}
	if err != nil {
		whole.closeFiles()
	}
	return whole, err
}

// hasRoom tries whether a folder can be written.
func hasRoom(dir string) error {
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return err
	}
	f, err := os.CreateTemp(dir, "room-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(make([]byte, 64<<10)) // about what SQLite needs beside the file
	return errors.Join(err, f.Close())
}

// shut a database, and wait until those who read it are done.
func shut(db *sql.DB) error {
	if err := db.Close(); err != nil {
		return err
	}
	for range 1000 {
		if db.Stats().OpenConnections == 0 {
			return nil
		}
		time.Sleep(time.Millisecond)
	}
	return errors.New("its readers don't end")
}
