package journal

import (
	"database/sql"
	"errors"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"syscall"
	"testing"
)

// left is a folder in which a process was killed: the newest entries are in the
// -wal alone.
func left(t *testing.T, dir string) {
	t.Helper()
	live := t.TempDir()
	j := open(t, live)
	for seq := range int64(20) {
		add(t, j, numbered(seq+1))
		commit(t, j)
	}
	for _, name := range []string{fileName, fileName + "-wal"} {
		write(t, filepath.Join(dir, name), read(t, filepath.Join(live, name)))
	}
}

func anyway(t *testing.T, dir string) *Journal {
	t.Helper()
	j, err := OpenAnyway(dir, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { j.Close() })
	return j
}

// closedWell is a folder in which a process ended by itself: there is no -wal.
func closedWell(t *testing.T, dir string) {
	t.Helper()
	j := open(t, dir)
	for seq := range int64(20) {
		add(t, j, numbered(seq+1))
	}
	j.Close()
}

// goesOn without a disk, and has all of it on the disk when that is back.
func goesOn(t *testing.T, j *Journal, word string, back func()) {
	t.Helper()
	if got := after(t, j, 0, 100); len(got) != 20 || !reflect.DeepEqual(got[19], numbered(20)) {
		t.Fatalf("without the disk it knows %d entries", len(got))
	}
	j.SetCursor("a", 20)
	add(t, j, numbered(21))
	for range 2 {
		if err := j.Commit(); err == nil || !strings.Contains(err.Error(), word) {
			t.Errorf("commit: %v, want a word of %q", err, word)
		}
	}
	if _, err := j.Prune(t.Context(), noon, 5); err == nil {
		t.Error("it pruned what it can't write")
	}
	back()
	add(t, j, numbered(22))
	commit(t, j)
	if got := after(t, j, 0, 100); len(got) != 22 || !reflect.DeepEqual(got[21], numbered(22)) {
		t.Errorf("with the disk again there are %d entries", len(got))
	}
	if cursor, err := j.Cursor(t.Context(), "a"); cursor != 20 {
		t.Errorf("cursor %d, %v", cursor, err)
	}
	locked(t, j)
	j.Close()
	if got := after(t, open(t, filepath.Dir(j.Path)), 0, 100); len(got) != 22 {
		t.Errorf("opened again it has %d entries", len(got))
	}
}

// locked: another process that opens the file and closes it does not take itself
// for the last one and delete the -wal.
func locked(t *testing.T, j *Journal) {
	t.Helper()
	if out, err := exec.Command("sqlite3", j.Path, "SELECT count(*) FROM entry").CombinedOutput(); err != nil {
		t.Logf("did without a process that reads it: %v %s", err, out)
	}
	if _, err := os.Stat(j.Path + "-wal"); err != nil {
		t.Error(err)
	}
}

// A start on a full disk, or one that is read-only: what the journal knows is
// known, and from the moment it can be written it is.
func TestOpenedWithoutTheDisk(t *testing.T) {
	for name, before := range map[string]func(*testing.T, string){"after a kill": left, "after a stop": closedWell} {
		t.Run("full "+name, func(t *testing.T) {
			dir := mounted(t, "size=300k")
			before(t, dir)
			filler := filepath.Join(dir, "filler")
			if err := os.WriteFile(filler, make([]byte, 1<<20), 0o600); err == nil {
				t.Fatal("the disk doesn't get full")
			}
			goesOn(t, anyway(t, dir), "space", func() { os.Remove(filler) })
		})
		t.Run("read-only "+name, func(t *testing.T) {
			dir := mounted(t, "size=1m")
			before(t, dir)
			remount := func(how string) {
				if err := exec.Command("mount", "-o", "remount,"+how, dir).Run(); err != nil {
					t.Fatal(err)
				}
			}
			remount("ro")
			goesOn(t, anyway(t, dir), "read-only", func() { remount("rw") })
		})
	}
}

// Another program holds the file's lock at the start.
func TestOpenedWhileLocked(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	left(t, dir)
	other, err := sql.Open("sqlite", source(filepath.Join(dir, fileName), "locking_mode(exclusive)"))
	if err == nil {
		_, err = other.Exec(`INSERT INTO cursor VALUES ('theirs', 1)`)
	}
	if err != nil {
		t.Fatal(err)
	}
	goesOn(t, anyway(t, dir), "locked", func() { other.Close() })
}

// What can't be read is no empty journal: when it can be, one starts anew. And
// where another process has it, nothing is opened.
func TestOpenedUnread(t *testing.T) {
	dir := t.TempDir()
	left(t, dir)
	path := filepath.Join(dir, fileName)
	hidden := path + ".hidden"
	if err := errors.Join(os.Rename(path, hidden), os.Mkdir(path, 0o700)); err != nil { // a read of it fails
		t.Fatal(err)
	}
	j := anyway(t, dir)
	if j.Last() != 0 || len(after(t, j, 0, 10)) != 0 {
		t.Errorf("last %d", j.Last())
	}
	add(t, j, numbered(1))
	if err := j.Commit(); err == nil || errors.Is(err, ErrOther) {
		t.Errorf("commit: %v", err)
	}
	if _, err := OpenAnyway(dir, slog.New(slog.DiscardHandler)); !errors.Is(err, ErrInUse) {
		t.Errorf("a second one: %v", err)
	}
	if err := errors.Join(os.Remove(path), os.Rename(hidden, path)); err != nil {
		t.Fatal(err)
	}
	if err := j.Commit(); !errors.Is(err, ErrOther) {
		t.Errorf("commit over entries that it doesn't know: %v", err)
	}
	j.Close()
	if got := after(t, open(t, dir), 0, 100); len(got) != 20 {
		t.Errorf("%d entries are left of 20", len(got))
	}
}

// Where there is no journal, and this user may make none, there is nothing to
// watch: the error says what would be right.
func TestNoJournalAndNoRight(t *testing.T) {
	dir, err := os.MkdirTemp("/tmp", "journal-of-another-")
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	if os.Getuid() == 0 { // may write anywhere: be nobody for a moment
		if err := syscall.Seteuid(65534); err != nil {
			t.Fatal(err)
		}
		defer syscall.Seteuid(0)
	}
	for _, sub := range []string{"", "none"} {
		_, err := OpenAnyway(filepath.Join(dir, sub), slog.New(slog.DiscardHandler))
		if err == nil || !strings.Contains(err.Error(), dir) || !strings.Contains(err.Error(), "permission") {
			t.Errorf("%v", err)
		}
	}
}
