// Package journal keeps what happened: entries in the order in which they
// happened, the readings in them, and how far each follower has come. It is one
// SQLite file in a folder, written by one process, and it knows no beer.
//
// Entries are appended to an open group in memory and become durable together
// when the group is committed; that is what keeps the wear on a memory card
// low. A commit that fails leaves the group as it is, to be tried again.
// What was committed is changed only by Amend, and deleted only by Prune; a
// damaged journal is set aside only when the caller says so.
package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"modernc.org/sqlite"
)

// Reading is a value of a series at an instant.
type Reading struct {
	Series string
	At     time.Time // to the nanosecond; from 1678 to 2262
	Value  float64   // finite
}

// Entry is one thing that happened. Body is the caller's and may be empty.
type Entry struct {
	Seq      int64 // 1, 2, 3, …
	At       time.Time
	Body     []byte
	Readings []Reading
}

const (
	fileName = "journal.db"

	// pageSize in bytes: a commit rewrites whole pages, and in a quiet home it
	// holds three readings. Those cost 2.9 kB each on the device with pages of
	// 1 kB, 4.1 kB with 2 kB, 6.2 kB with 4 kB (BenchmarkCommit).
	pageSize = 1024

	// checkFor bounds the check at the start; upkeep checks a large journal.
	checkFor = time.Second
)

// Journal is an open journal. Its methods may be called from any goroutine.
type Journal struct {
	Path string // of the file

	log  *slog.Logger
	lock *os.File // nil while there can be none
	read atomic.Pointer[sql.DB]

	unread bool // it is there and can't be read

	last atomic.Int64 // committed

	writing              sync.Mutex // held during a commit; guards what follows
	db                   *sql.DB    // the one writer; nil while the disk can't be written
	addEntry, addReading *sql.Stmt
	ids                  map[string]int64 // of the series

	mu        sync.Mutex // guards what follows
	next      int64      // the next entry's
	open      group
	waiting   int // bytes in memory that aren't durable yet, those being written included
	committed chan struct{}
}

// Open opens the journal in dir for this process alone, and makes folder and
// journal when there are none. The error is an *Unusable when there is a
// journal that can't be used, and wraps ErrInUse when another process has it.
func Open(dir string, log *slog.Logger) (*Journal, error) {
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return nil, fmt.Errorf("making the journal's folder: %w", err)
	}
	lock, err := lockDir(dir, os.O_RDWR|os.O_CREATE)
	if err != nil {
		return nil, err
	}
	j, err := openFile(filepath.Join(dir, fileName), log)
	if err != nil {
		return nil, errors.Join(err, lock.Close())
	}
	j.lock = lock
	return j, nil
}

func openFile(path string, log *slog.Logger) (*Journal, error) {
	// fdatasync keeps a commit as durable as fsync does and spares the file
	// system a write of the modification time. It holds for the whole process,
	// and is not to be had everywhere.
	if _, err := sqlite.Fdatasync(true); err != nil && !errors.Is(err, sqlite.ErrFdatasyncUnavailable) {
		return nil, fmt.Errorf("setting up the journal: %w", err)
	}
	if err := makeIfAbsent(path, log); err != nil {
		return nil, err
	}
	j := unopened(path, log)
	err := j.start()
	if err == nil {
		err = j.checkAtStart()
	}
	if err != nil {
		j.closeFiles()
		return nil, judge(path, err)
	}
	log.Info("journal open", "path", path, "last", j.last.Load())
	return j, nil
}

func unopened(path string, log *slog.Logger) *Journal {
	return &Journal{Path: path, log: log, ids: map[string]int64{}, committed: make(chan struct{})}
}

func (j *Journal) start() (err error) {
	if err := identify(j.Path); err != nil {
		return err
	}
	found := frames(j.Path + "-wal")
	if j.db, err = connect(j.Path); err != nil {
		return err
	}
	if err := j.tellCut(found); err != nil {
		return err
	}
	if err := migrate(j.db, steps()); err != nil {
		return err
	}
	read, err := sql.Open("sqlite", source(j.Path, "query_only(1)"))
	if err != nil {
		return err
	}
	read.SetMaxOpenConns(4)
	j.read.Store(read)
	if j.addEntry, err = j.db.Prepare(`INSERT INTO entry (seq, at, body, readings) VALUES (?, ?, ?, ?)`); err != nil {
		return err
	}
	// The same reading again is kept once, as it came first.
	if j.addReading, err = j.db.Prepare(`INSERT INTO reading (at, series, value) VALUES (?, ?, ?)
		ON CONFLICT DO NOTHING`); err != nil {
		return err
	}
	return j.recall(j.db)
}

func (j *Journal) checkAtStart() error {
	ctx, cancel := context.WithTimeout(context.Background(), checkFor)
	defer cancel()
	err := j.Check(ctx)
	if ctx.Err() != nil {
		j.log.Info("journal too large to be checked at the start", "path", j.Path)
		return nil
	}
	return err
}

// recall reads where the journal stands.
func (j *Journal) recall(from querier) error {
	last, err := lastSeq(from)
	if err != nil {
		return err
	}
	j.last.Store(last)
	j.next = last + 1
	names, err := seriesNames(from)
	for id, name := range names {
		j.ids[name] = id
	}
	return err
}

// connect opens the one connection that writes.
func connect(path string) (*sql.DB, error) {
	// A page size counts only before WAL. The driver sorts its _pragma values by
	// name and runs _journal_mode after them.
	db, err := sql.Open("sqlite", source(path, fmt.Sprintf("page_size(%d)", pageSize),
		"synchronous(FULL)", "journal_size_limit(4194304)")+"&_journal_mode=WAL&_txlock=immediate")
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	return db, nil
}

// source names the file with the settings that every connection to it gets. Up
// to half a megabyte of pages each is remembered; SQLite's own two megabytes gain
// no speed (cmd/throughput).
func source(path string, pragmas ...string) string {
	q := url.Values{"_pragma": append([]string{"busy_timeout(5000)", "cell_size_check(1)", "cache_size(-512)"}, pragmas...)}
	return fileURL(path) + "?" + q.Encode()
}

func fileURL(path string) string { return "file:" + (&url.URL{Path: path}).EscapedPath() }

// Last is the last committed entry's Seq; 0 when there is none.
func (j *Journal) Last() int64 { return j.last.Load() }

// Committed is closed when the next entries have been committed. Take it before
// looking for entries, so that none slips in between.
func (j *Journal) Committed() <-chan struct{} {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.committed
}

// Size is what the journal takes on the disk, in bytes.
func (j *Journal) Size() (int64, error) {
	var sum int64
	for _, name := range parts(j.Path) {
		info, err := os.Stat(name)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return 0, fmt.Errorf("measuring the journal: %w", err)
		}
		sum += info.Size()
	}
	return sum, nil
}

// Close commits what is open and lets go of the file.
func (j *Journal) Close() error {
	err := errors.Join(j.Commit(), j.closeFiles())
	if j.lock != nil {
		err = errors.Join(err, j.lock.Close())
	}
	return err
}

func (j *Journal) closeFiles() error {
	var errs []error
	for _, db := range []*sql.DB{j.read.Load(), j.db} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	return errors.Join(errs...)
}
