package journal

import (
	"bufio"
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

// TestMain plays the process that is killed, when it is told to.
func TestMain(m *testing.M) {
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
