package journal

import (
	"bytes"
	"database/sql"
	"encoding/binary"
	"errors"
	"flag"
	"log/slog"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"
)

var update = flag.Bool("update", false, "write the journals in testdata anew")

// closed is a journal's file with n entries of three readings.
func closed(t testing.TB, n int) []byte {
	t.Helper()
	dir := t.TempDir()
	j := open(t, dir)
	for i := range n {
		add(t, j, Entry{At: noon, Body: []byte("body"), Readings: minute(i, 3)})
	}
	commit(t, j)
	j.Close()
	return read(t, filepath.Join(dir, fileName))
}

func read(t testing.TB, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func write(t testing.TB, path string, data []byte) {
	t.Helper()
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestDamagedIsToldAndSetAside(t *testing.T) {
	whole := closed(t, 1000)
	foreign := filepath.Join(t.TempDir(), "foreign.db")
	db, err := sql.Open("sqlite", foreign)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(`CREATE TABLE t (x)`); err != nil {
		t.Fatal(err)
	}
	db.Close()
	zeroed := func(from, n int) []byte {
		data := bytes.Clone(whole)
		clear(data[from : from+n])
		return data
	}
	for name, data := range map[string][]byte{
		"empty":              {},
		"another file":       []byte("not a database\n"),
		"another database":   read(t, foreign),
		"header zeroed":      zeroed(0, 100),
		"schema zeroed":      zeroed(100, pageSize-100),
		"all zeroed":         zeroed(0, len(whole)),
		"a page zeroed":      zeroed(len(whole)/pageSize/2*pageSize, pageSize),
		"cut in half":        whole[:len(whole)/2],
		"cut within a page":  whole[:len(whole)-100],
		"cut after a page":   whole[:pageSize],
		"cut in the header":  whole[:50],
		"random in a page":   append(append(bytes.Clone(whole[:3*pageSize]), bytes.Repeat([]byte{0xa5, 0x17}, pageSize/2)...), whole[4*pageSize:]...),
		"page count doubled": doubled(whole),
		"version zeroed":     zeroed(60, 4),
		"table renamed":      bytes.ReplaceAll(whole, []byte("TABLE entry"), []byte("TABLE entrz")),
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, fileName)
			write(t, path, data)
			_, err := Open(dir, slog.New(slog.DiscardHandler))
			var u *Unusable
			if !errors.As(err, &u) || !strings.Contains(err.Error(), path) || !strings.Contains(err.Error(), "backup") {
				t.Fatalf("opening it: %v", err)
			}
			if got := read(t, path); len(got) != len(data) {
				t.Errorf("opening it left %d of %d bytes", len(got), len(data))
			}
			aside, err := SetAside(dir, noon)
			if err != nil || len(read(t, aside)) != len(data) {
				t.Fatalf("set aside as %q: %v", aside, err)
			}
			if j := open(t, dir); j.Last() != 0 {
				t.Errorf("the new one has %d entries", j.Last())
			}
		})
	}
}

// doubled claims twice the pages that there are.
func doubled(whole []byte) []byte {
	data := bytes.Clone(whole)
	binary.BigEndian.PutUint32(data[28:], 2*uint32(len(whole)/pageSize))
	return data
}

func TestMissingFileWithAWalIsNoNewJournal(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, fileName+"-wal"), []byte("x"))
	_, err := Open(dir, slog.New(slog.DiscardHandler))
	var u *Unusable
	if !errors.As(err, &u) {
		t.Fatal(err)
	}
	for i, want := range []string{"Z-wal", "Z-2-wal"} { // a second name where the first is taken
		aside, err := SetAside(dir, noon)
		if err != nil || !strings.HasSuffix(aside+"-wal", want) || len(read(t, aside+"-wal")) != 1 {
			t.Errorf("%d: set aside as %q, %v", i, aside, err)
		}
		write(t, filepath.Join(dir, fileName+"-wal"), []byte("y"))
	}
}

// TestTornWal cuts and flips what a crash leaves at many places: all that was
// whole before the place is there, nothing else is.
func TestTornWal(t *testing.T) {
	live := t.TempDir()
	j := open(t, live)
	for i := range 10 {
		add(t, j, Entry{At: noon, Readings: minute(i, 3)})
		commit(t, j)
	}
	file, wal := read(t, j.Path), read(t, j.Path+"-wal")
	entries := after(t, j, 0, 100)
	most := int64(0)
	for at := 0; at <= len(wal); at += 211 {
		for _, flip := range []bool{false, true} {
			torn := bytes.Clone(wal[:at])
			if flip && at < len(wal) {
				torn = bytes.Clone(wal)
				torn[at] ^= 0x10
			}
			dir := t.TempDir()
			write(t, filepath.Join(dir, fileName), file)
			write(t, filepath.Join(dir, fileName+"-wal"), torn)
			j := open(t, dir)
			got := after(t, j, 0, 100)
			if int64(len(got)) != j.Last() || j.Last() > 0 && !reflect.DeepEqual(got, entries[:len(got)]) {
				t.Fatalf("cut or flipped at %d: %d entries, last %d", at, len(got), j.Last())
			}
			most = max(most, j.Last())
			j.Close()
		}
	}
	if most < 9 {
		t.Errorf("never more than %d entries came back", most)
	}
}

func TestMigration(t *testing.T) {
	dir := t.TempDir()
	open(t, dir).Close()
	db, err := connect(filepath.Join(dir, fileName))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	version := func() (v int) {
		if err := db.QueryRow(`PRAGMA user_version`).Scan(&v); err != nil {
			t.Fatal(err)
		}
		return v
	}
	base := len(steps())
	more := append(steps(), `CREATE TABLE a (x)`, `CREATE TABLE b (x); CREATE TABLE a (x)`)
	if err := migrate(db, more); err == nil || damaged(err) || version() != base+1 {
		t.Errorf("a step that fails: %v, version %d", err, version())
	}
	more[base+1] = `CREATE TABLE b (x)` // the failed one left no b behind
	if err := migrate(db, more); err != nil || version() != base+2 {
		t.Errorf("the steps that were left: %v, version %d", err, version())
	}
	db.Close()
	var u *Unusable
	if _, err := Open(dir, slog.New(slog.DiscardHandler)); !errors.Is(err, ErrNewer) || errors.As(err, &u) {
		t.Errorf("a newer journal: %v", err)
	}
}

// TestOldJournals opens one journal of each version that was ever released.
func TestOldJournals(t *testing.T) {
	if *update {
		write(t, "testdata/v1.db", closed(t, 2))
	}
	dir := t.TempDir()
	write(t, filepath.Join(dir, fileName), read(t, "testdata/v1.db"))
	j := open(t, dir)
	got := after(t, j, 0, 10)
	want := []Entry{
		{1, noon, []byte("body"), minute(0, 3)},
		{2, noon, []byte("body"), minute(1, 3)},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %v\nwant %v", got, want)
	}
}

func FuzzOpen(f *testing.F) {
	whole := closed(f, 20)
	f.Add(uint16(0), []byte("SQLite format 3\x00"))
	f.Add(uint16(28), []byte{0, 0, 0, 200})
	f.Add(uint16(100), []byte{0x0d, 0xff, 0xff})
	for page := range len(whole) / pageSize {
		f.Add(uint16(page*pageSize), []byte{0x05, 0, 0, 0xff, 0xff, 0, 1, 2})
		f.Add(uint16(page*pageSize+pageSize-20), bytes.Repeat([]byte{0xff}, 20))
	}
	f.Fuzz(func(t *testing.T, at uint16, patch []byte) {
		dir := t.TempDir()
		path := filepath.Join(dir, fileName)
		data := bytes.Clone(whole)
		copy(data[int(at)%len(data):], patch)
		write(t, path, data)
		j, err := Open(dir, slog.New(slog.DiscardHandler))
		if err != nil {
			if len(read(t, path)) < len(data) {
				t.Error("a journal that doesn't open was cut")
			}
			return
		}
		defer j.Close()
		j.After(t.Context(), 0, 100) // damaged values are an error here, or unseen
		j.Readings(t.Context(), Query{Series: "sensor-0"})
		j.Series(t.Context(), []string{"sensor-0"}, noon, noon.Add(time.Hour), 10)
		j.Append(Entry{At: noon, Readings: minute(99, 3)})
		j.Commit()
	})
}

func FuzzDecode(f *testing.F) {
	ids, names := map[string]int64{"a": 1, "b": 300}, map[int64]string{1: "a", 300: "b"}
	f.Add(encode([]Reading{{"a", noon, 1}, {"b", noon.Add(-time.Hour), -2}}, noon, ids))
	f.Add([]byte{})
	f.Add(bytes.Repeat([]byte{0xff}, 30))
	f.Fuzz(func(t *testing.T, b []byte) {
		readings, err := decode(b, noon, names)
		if err != nil {
			return
		}
		again, err := decode(encode(readings, noon, ids), noon, names)
		if err != nil || len(again) != len(readings) {
			t.Errorf("%v came back as %v, %v", readings, again, err)
		}
	})
}
