package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"
)

// Backup writes a consistent copy of what is committed to path, whole or not at
// all, while the journal goes on. An older file there is replaced.
func (j *Journal) Backup(ctx context.Context, path string) error {
	return backup(ctx, j.Path, path)
}

// BackupDir does the same for the journal in dir, which any process may have
// open.
func BackupDir(ctx context.Context, dir, path string) error {
	from := filepath.Join(dir, fileName)
	if err := identify(from); err != nil {
		return judge(from, err)
	}
	return backup(ctx, from, path)
}

func backup(ctx context.Context, from, path string) error {
	if same(from, path) {
		return fmt.Errorf("backing the journal up to %s: that is the journal itself; name another file", path)
	}
	draft := path + ".part"
	err := removeParts(draft)
	if err == nil {
		err = vacuumInto(ctx, from, draft)
	}
	if err == nil {
		err = putInPlace(draft, path)
	}
	if err != nil {
		return fmt.Errorf("backing the journal up to %s: %w", path, errors.Join(err, removeParts(draft)))
	}
	return nil
}

func vacuumInto(ctx context.Context, from, to string) error {
	db, err := sql.Open("sqlite", source(from)) // to SQLite a write, so no reader of ours does
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, `VACUUM INTO ?`, to)
	return errors.Join(err, db.Close())
}

// Check reads the whole file and tells any damage as an *Unusable.
func (j *Journal) Check(ctx context.Context) error { return check(ctx, j.Path, j.read.Load()) }

func check(ctx context.Context, path string, db *sql.DB) error {
	var verdict string
	err := db.QueryRowContext(ctx, `PRAGMA quick_check(1)`).Scan(&verdict)
	if err == nil && verdict != "ok" {
		return &Unusable{Path: path, Err: errors.New(verdict)}
	}
	if err != nil {
		return judge(path, err)
	}
	return nil
}

// Restore puts the backup in from in the place of the journal in dir, which is
// set aside; aside is its new name, empty when there was none. Nothing changes
// when the backup is no sound journal. Only while no process has the journal.
func Restore(ctx context.Context, dir, from string, at time.Time) (aside string, err error) {
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return "", fmt.Errorf("making the journal's folder: %w", err)
	}
	lock, err := lockDir(dir, os.O_RDWR|os.O_CREATE)
	if err != nil {
		return "", err
	}
	defer lock.Close()
	path := filepath.Join(dir, fileName)
	if same(from, path) {
		return "", fmt.Errorf("restoring %s: that is the journal itself; name a backup of it", from)
	}
	draft := path + ".new"
	if err := errors.Join(removeParts(draft), copyFile(from, draft)); err != nil {
		return "", fmt.Errorf("copying the backup: %w", err)
	}
	if err := sound(ctx, draft); err != nil {
		return "", fmt.Errorf("restoring %s: %w", from, errors.Join(err, removeParts(draft)))
	}
	if aside, err = setAside(dir, at); err != nil {
		return "", err
	}
	return aside, putInPlace(draft, path)
}

// sound opens the file as a journal, bringing it to the newest version, and
// checks all of it.
func sound(ctx context.Context, path string) error {
	if err := identify(path); err != nil {
		return err
	}
	db, err := connect(path)
	if err != nil {
		return err
	}
	err = migrate(db, steps())
	if err == nil {
		err = check(ctx, path, db)
	}
	return errors.Join(err, db.Close())
}

func copyFile(from, to string) error {
	src, err := os.Open(from)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o640)
	if err != nil {
		return err
	}
	_, err = io.Copy(dst, src)
	return errors.Join(err, dst.Close())
}
