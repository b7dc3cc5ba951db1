package journal

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
)

// TestMain plays the process that is killed, or recorded, when it is told to.
func TestMain(m *testing.M) {
	if dir := os.Getenv("JOURNAL_TEST_LIVES"); dir != "" {
		if err := writeTwoLives(dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if dir := os.Getenv("JOURNAL_TEST_DIR"); dir != "" {
		fmt.Println(writeForEver(dir))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// numbered is the entry that the killed process writes as seq.
func numbered(seq int64) Entry {
	return Entry{Seq: seq, At: noon, Body: fmt.Append(nil, seq), Readings: minute(int(seq), int(seq)%4+1)}
}

// writeForEver prints what it has committed.
func writeForEver(dir string) error {
	j, err := Open(dir, slog.New(slog.DiscardHandler))
	if err != nil {
		return err
	}
	for seq := j.Last() + 1; ; seq++ {
		if _, err := j.Append(numbered(seq)); err != nil {
			return err
		}
		j.SetCursor("a", seq)
		if seq%7 == 0 {
			if err := j.Commit(); err != nil {
				return err
			}
			fmt.Println(seq)
		}
	}
}

func TestKilled(t *testing.T) {
	dir := t.TempDir()
	for range 6 {
		told := killed(t, dir, 1+rand.IntN(300))
		j := open(t, dir)
		cursor, err := j.Cursor(t.Context(), "a")
		if err != nil || j.Last() < told || cursor != j.Last() || j.Last()%7 != 0 {
			t.Errorf("told that %d are durable, there are %d, cursor %d, %v", told, j.Last(), cursor, err)
		}
		if err := j.Check(t.Context()); err != nil {
			t.Error(err)
		}
		for i, e := range after(t, j, 0, 1e6) {
			if !reflect.DeepEqual(e, numbered(int64(i)+1)) {
				t.Fatalf("entry %d is %+v", i+1, e)
			}
		}
		j.Close()
	}
}

// killed runs a process that writes, kills it after some commits and returns
// the last entry that it called durable.
func killed(t *testing.T, dir string, commits int) (told int64) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "JOURNAL_TEST_DIR="+dir)
	out, err := cmd.StdoutPipe()
	if err := errors.Join(err, cmd.Start()); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	for n := 0; lines.Scan(); n++ {
		if told, err = strconv.ParseInt(lines.Text(), 10, 64); err != nil {
			t.Fatal(lines.Text())
		}
		if n == commits {
			cmd.Process.Kill()
		}
	}
	cmd.Wait()
	return told
}

// mounted is a small file system in memory.
func mounted(t *testing.T, options string) string {
	t.Helper()
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", options, "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("did without a small file system: mount: %v %s", err, out)
	}
	t.Cleanup(func() { exec.Command("umount", "-l", dir).Run() })
	return dir
}

func TestDiskFull(t *testing.T) {
	dir := mounted(t, "size=1m")
	j := open(t, dir)
	filler := filepath.Join(dir, "filler")
	full := func() {
		if err := os.WriteFile(filler, make([]byte, 2<<20), 0o600); err == nil {
			t.Fatal("the disk doesn't get full")
		}
	}
	seq, failed := int64(0), 0
	for i := range 60 {
		switch i {
		case 20:
			full()
		case 40:
			os.Remove(filler)
		}
		seq++
		add(t, j, numbered(seq))
		if err := j.Commit(); err != nil {
			failed++
			if !strings.Contains(err.Error(), "full") {
				t.Errorf("commit: %v", err)
			}
		}
		if got := len(after(t, j, 0, 100)); int64(got) != j.Last() {
			t.Errorf("%d entries to be read, last %d", got, j.Last())
		}
	}
	if failed == 0 || j.Last() != seq {
		t.Errorf("%d commits failed; last %d, want %d", failed, j.Last(), seq)
	}
	full()
	j.Close()
	os.Remove(filler)
	j = open(t, dir)
	for i, e := range after(t, j, 0, 100) {
		if !reflect.DeepEqual(e, numbered(int64(i)+1)) {
			t.Errorf("entry %d is %+v", i+1, e)
		}
	}
}

func TestReadOnly(t *testing.T) {
	dir := mounted(t, "size=1m")
	open(t, dir).Close()
	if err := exec.Command("mount", "-o", "remount,ro", dir).Run(); err != nil {
		t.Fatal(err)
	}
	_, err := Open(dir, slog.New(slog.DiscardHandler))
	var u *Unusable
	if err == nil || errors.As(err, &u) || !strings.Contains(err.Error(), "writable") {
		t.Errorf("opening on a read-only disk: %v", err)
	}
}

// TestCutDuringCheckpoint cuts the power while pages move from the -wal into the
// file. SQLite syncs the one before it writes to the other, and starts the -wal
// anew only when the file is synced (https://www.sqlite.org/wal.html). So
// whatever part of the file's writes reached the card, in whatever order, all is
// there; and whatever part of the first new frames, at most the newest entry is
// missing.
func TestCutDuringCheckpoint(t *testing.T) {
	j := open(t, t.TempDir())
	for i := range 60 {
		add(t, j, Entry{At: noon, Body: fmt.Append(nil, i), Readings: minute(i, 3)})
		commit(t, j)
	}
	before, wal := read(t, j.Path), read(t, j.Path+"-wal")
	if _, err := j.db.Exec(`PRAGMA wal_checkpoint(PASSIVE)`); err != nil {
		t.Fatal(err)
	}
	file := read(t, j.Path)
	add(t, j, Entry{At: noon, Body: []byte("newest"), Readings: minute(60, 3)})
	commit(t, j)
	all, next := after(t, j, 0, 100), read(t, j.Path+"-wal")
	if len(all) != 61 || len(file) <= len(before) || len(next) != len(wal) {
		t.Fatalf("the model doesn't hold: %d entries, file %d then %d bytes, wal %d then %d", len(all), len(before), len(file), len(wal), len(next))
	}
	cut := func(what string, file, wal []byte, least int) {
		t.Helper()
		dir := t.TempDir()
		write(t, filepath.Join(dir, fileName), file)
		write(t, filepath.Join(dir, fileName+"-wal"), wal)
		j, err := Open(dir, slog.New(slog.DiscardHandler))
		if err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		defer j.Close()
		if got := after(t, j, 0, 100); len(got) < least || !reflect.DeepEqual(got, all[:len(got)]) {
			t.Fatalf("%s: %d entries, want %d", what, len(got), least)
		}
	}
	for at := 0; at <= len(file); at += sector {
		cut(fmt.Sprintf("file written to %d", at), append(bytes.Clone(file[:at]), before[min(at, len(before)):]...), wal, 60)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for range 60 {
		some := bytes.Clone(file)
		for at := 0; at+sector <= len(before); at += sector {
			if rng.IntN(2) == 0 {
				copy(some[at:at+sector], before[at:])
			}
		}
		cut("file written in parts", some, wal, 60)
	}
	for at := 0; at <= min(len(next), 16<<10); at += sector {
		cut(fmt.Sprintf("new wal written to %d", at), file, append(bytes.Clone(next[:at]), wal[at:]...), 60)
	}
}
