package journal

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

var (
	// ErrInUse: another process has the journal.
	ErrInUse = errors.New("the journal is in use")
	// ErrNewer: a newer version of the program wrote the journal, so this one
	// leaves it alone.
	ErrNewer = errors.New("the journal was written by a newer version of this program: install that one again, or a later one")
	// ErrOther: what was opened without the disk is not what the disk holds.
	ErrOther = errors.New("the journal can be opened again and holds more than was known: start anew")
	// ErrFull: so much waits in memory to be written that no more is taken.
	ErrFull = errors.New("too much waits to be written to the journal")

	errForeign = errors.New("it holds no journal")
	errStep    = errors.New("bringing the journal to version")
)

// Unusable is a journal that is there and can't be used: damaged, or something
// else under its name.
type Unusable struct {
	Path string
	Err  error
}

// Error says what is wrong and what a person can do.
func (u *Unusable) Error() string {
	return fmt.Sprintf("the journal %s can't be used: %v; restore a backup, or set it aside and go on with an empty one", u.Path, u.Err)
}

func (u *Unusable) Unwrap() error { return u.Err }

// judge tells damage from an environment that is at fault.
func judge(path string, err error) error {
	var u *Unusable
	if errors.As(err, &u) {
		return err
	}
	if damaged(err) {
		return &Unusable{Path: path, Err: err}
	}
	return fmt.Errorf("opening the journal %s: %w", path, err)
}

func damaged(err error) bool {
	if errors.Is(err, errForeign) || errors.Is(err, errTorn) {
		return true
	}
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return false
	}
	switch e.Code() & 0xff { // the primary code
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
		return true
	case sqlite3.SQLITE_ERROR: // a table is not there; in a step it is the step that is wrong
		return !errors.Is(err, errStep)
	}
	return false
}

// SetAside renames the journal in dir, with all that belongs to it, so that the
// next Open makes an empty one. It returns the new name, empty when there was
// none to set aside. Only while no process has the journal.
func SetAside(dir string, at time.Time) (string, error) {
	lock, err := lockDir(dir, os.O_RDWR|os.O_CREATE)
	if err != nil {
		return "", err
	}
	defer lock.Close()
	return setAside(dir, at)
}

func setAside(dir string, at time.Time) (string, error) {
	path := filepath.Join(dir, fileName)
	aside := freeName(path + ".aside-" + at.UTC().Format("20060102T150405Z"))
	found := false
	for i, old := range parts(path) {
		err := os.Rename(old, parts(aside)[i])
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", fmt.Errorf("setting the journal aside: %w", err)
		}
		found = found || err == nil
	}
	if !found {
		return "", nil
	}
	return aside, syncFile(dir)
}

func freeName(name string) string {
	free := name
	for n := 2; exists(free); n++ {
		free = fmt.Sprintf("%s-%d", name, n)
	}
	return free
}
