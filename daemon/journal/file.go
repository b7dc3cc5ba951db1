package journal

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
)

// lockDir makes this process the only one that writes in dir, until the file
// is closed or the process ends.
func lockDir(dir string, flag int) (*os.File, error) {
	f, err := os.OpenFile(filepath.Join(dir, "journal.lock"), flag, 0o640)
	if err != nil {
		return nil, fmt.Errorf("locking the journal: %w; its folder must be writable for this user", err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		defer f.Close()
		if !errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, fmt.Errorf("locking the journal in %s: %w", dir, err)
		}
		return nil, fmt.Errorf("%w by process %s in %s: stop that one first", ErrInUse, holder(f), dir)
	}
	// The number is only for that message, so a full disk doesn't matter here.
	if f.Truncate(0) == nil {
		fmt.Fprintf(f, "%d\n", os.Getpid())
	}
	return f, nil
}

func holder(f *os.File) string {
	pid, _ := io.ReadAll(io.LimitReader(f, 20))
	if s := strings.TrimSpace(string(pid)); s != "" {
		return s
	}
	return "unknown"
}

// parts are the files that make up a journal.
func parts(path string) []string { return []string{path, path + "-wal", path + "-shm"} }

func exists(path string) bool {
	return slices.ContainsFunc(parts(path), func(name string) bool {
		_, err := os.Lstat(name)
		return !errors.Is(err, fs.ErrNotExist)
	})
}

// same says whether two names are one file.
func same(a, b string) bool {
	x, errX := os.Stat(a)
	y, errY := os.Stat(b)
	return errX == nil && errY == nil && os.SameFile(x, y)
}

func removeParts(path string) error {
	for _, name := range parts(path) {
		if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

// putInPlace gives a finished file its name, durably.
func putInPlace(draft, path string) error {
	if err := syncFile(draft); err != nil {
		return err
	}
	if err := os.Rename(draft, path); err != nil {
		return err
	}
	return syncFile(filepath.Dir(path))
}

func syncFile(name string) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
