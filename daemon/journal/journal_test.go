package journal

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"
)

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func open(t testing.TB, dir string) *Journal {
	t.Helper()
	j, err := Open(dir, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { j.Close() }) // a second Close in a test that closed it does no harm
	return j
}

// readings of one minute, an invented sensor each.
func minute(i, sensors int) []Reading {
	var readings []Reading
	for s := range sensors {
		at := noon.Add(time.Duration(i) * time.Minute).Add(time.Duration(s) * time.Millisecond)
		readings = append(readings, Reading{fmt.Sprintf("sensor-%d", s), at, 19 + float64(i%100)/100})
	}
	return readings
}

func add(t testing.TB, j *Journal, e Entry) int64 {
	t.Helper()
	seq, err := j.Append(e)
	if err != nil {
		t.Fatal(err)
	}
	return seq
}

func commit(t testing.TB, j *Journal) {
	t.Helper()
	if err := j.Commit(); err != nil {
		t.Fatal(err)
	}
}

func after(t testing.TB, j *Journal, seq int64, limit int) []Entry {
	t.Helper()
	entries, err := j.After(t.Context(), seq, limit)
	if err != nil {
		t.Fatal(err)
	}
	return entries
}

func TestEntriesComeBackAsTheyWere(t *testing.T) {
	// A folder's name may hold what a URI would take for its own.
	dir := filepath.Join(t.TempDir(), "a b?c#d%20e")
	j := open(t, dir)
	want := []Entry{
		{At: noon, Body: []byte(`{"start":{}}`)},
		{At: noon.Add(time.Nanosecond), Readings: []Reading{
			{"gauge-a", noon.Add(-3 * time.Hour), 1.12},
			{"stairs-air", noon.Add(time.Nanosecond), math.Nextafter(18.4, 19)},
			{"stairs-air", noon.Add(time.Hour), -math.SmallestNonzeroFloat64},
		}},
		{At: noon.Add(time.Second), Body: []byte("x"), Readings: []Reading{{"gauge-a", time.Unix(-5, 7).UTC(), 0}}},
	}
	for i := range want {
		want[i].Seq = add(t, j, want[i])
	}
	if got := after(t, j, 0, 10); got != nil || j.Last() != 0 {
		t.Errorf("before the commit there are %v, last %d", got, j.Last())
	}
	commit(t, j)
	for _, again := range []bool{false, true} {
		if again {
			j.Close()
			j = open(t, dir)
		}
		got := after(t, j, 0, 10)
		for i := range got {
			if len(got[i].Body) == 0 {
				got[i].Body = nil
			}
		}
		if !reflect.DeepEqual(got, want) || j.Last() != 3 {
			t.Errorf("got %+v\nwant %+v, last %d", got, want, j.Last())
		}
	}
	if got := after(t, j, 1, 1); len(got) != 1 || got[0].Seq != 2 {
		t.Errorf("one past 1 is %+v", got)
	}
	if seq := add(t, j, Entry{At: noon}); seq != 4 {
		t.Errorf("after opening again the next is %d, want 4", seq)
	}
}

func TestReadingsByTheirOwnTime(t *testing.T) {
	j := open(t, t.TempDir())
	at := func(s int) time.Time { return noon.Add(time.Duration(s) * time.Second) }
	add(t, j, Entry{At: noon, Readings: []Reading{{"a", at(20), 2}, {"a", at(10), 1}, {"b", at(10), 9}}})
	add(t, j, Entry{At: noon, Readings: []Reading{{"a", at(30), 3}, {"a", at(10), 7}}}) // 10 again
	commit(t, j)
	a := []Reading{{"a", at(10), 1}, {"a", at(20), 2}, {"a", at(30), 3}}
	for _, c := range []struct {
		q    Query
		want []Reading
	}{
		{Query{Series: "a"}, a},
		{Query{Series: "a", From: at(20)}, a[1:]},
		{Query{Series: "a", To: at(20)}, a[:1]},
		{Query{Series: "a", From: at(10), To: at(31), Limit: 2}, a[:2]},
		{Query{Series: "a", Limit: 2, Newest: true}, a[len(a)-2:]},
		{Query{Series: "none"}, nil},
	} {
		got, err := j.Readings(t.Context(), c.q)
		if err != nil || !reflect.DeepEqual(got, c.want) {
			t.Errorf("%+v: %v, %v, want %v", c.q, got, err, c.want)
		}
	}
	if got := after(t, j, 1, 1); len(got[0].Readings) != 2 || got[0].Readings[1].Value != 7 {
		t.Errorf("the log doesn't hold the reading that came again: %+v", got)
	}
}

func TestSeriesThinned(t *testing.T) {
	j := open(t, t.TempDir())
	var readings []Reading
	for i, v := range []float64{1, 3, 2, 8, 4} { // at 0 s, 1 s, 2 s, 3 s and 9 s
		s := []int{0, 1, 2, 3, 9}[i]
		at := noon.Add(time.Duration(s) * time.Second)
		readings = append(readings, Reading{"a", at, v}, Reading{"lot/x", at, -v}, Reading{"not asked for", at, 0})
	}
	add(t, j, Entry{At: noon, Readings: readings})
	commit(t, j)
	got, err := j.Series(t.Context(), []string{"a", "lot/x", "absent"}, noon, noon.Add(9*time.Second), 3)
	want := map[string][]Bucket{ // by hand
		"a":     {{noon, 1, 2, 3, 3}, {noon.Add(3 * time.Second), 8, 8, 8, 1}},
		"lot/x": {{noon, -3, -2, -1, 3}, {noon.Add(3 * time.Second), -8, -8, -8, 1}},
	}
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("got %v, %v, want %v", got, err, want)
	}
	if _, err := j.Series(t.Context(), []string{"a"}, noon, noon, 3); err == nil {
		t.Error("a span of nothing was taken")
	}
}

func TestCursorsAndStateRideWithTheGroup(t *testing.T) {
	dir := t.TempDir()
	j := open(t, dir)
	check := func(wantCursor, wantSeq int64, wantState string) {
		t.Helper()
		cursor, err := j.Cursor(t.Context(), "influxdb")
		seq, state, err2 := j.Kept(t.Context(), "engine")
		if err = errors.Join(err, err2); err != nil || cursor != wantCursor || seq != wantSeq || string(state) != wantState {
			t.Errorf("cursor %d, kept %d %q, %v; want %d, %d %q", cursor, seq, state, err, wantCursor, wantSeq, wantState)
		}
	}
	check(-1, 0, "")
	j.SetCursor("influxdb", 5)
	j.SetCursor("influxdb", 7)
	j.Keep("engine", 6, []byte("state"))
	check(7, 0, "")
	commit(t, j) // with no entry
	check(7, 6, "state")
	j.SetCursor("influxdb", 8)
	j.Close() // commits
	j = open(t, dir)
	check(8, 6, "state")
}

func TestCommittedWakesFollowers(t *testing.T) {
	j := open(t, t.TempDir())
	woken := j.Committed()
	j.SetCursor("a", 1)
	commit(t, j)
	select {
	case <-woken:
		t.Error("a cursor alone woke the followers")
	default:
	}
	add(t, j, Entry{At: noon})
	commit(t, j)
	<-woken
	if j.Last() != 1 {
		t.Errorf("woken before Last moved: %d", j.Last())
	}
}

func TestWhatCannotBeStoredFailsAlone(t *testing.T) {
	j := open(t, t.TempDir())
	for _, e := range []Entry{
		{},
		{At: time.Date(2300, 1, 1, 0, 0, 0, 0, time.UTC)},
		{At: noon, Readings: []Reading{{"a", time.Time{}, 1}}},
		{At: noon, Readings: []Reading{{"a", noon, math.NaN()}}},
		{At: noon, Readings: []Reading{{"a", noon, math.Inf(1)}}},
		{At: noon, Readings: []Reading{{"", noon, 1}}},
	} {
		if _, err := j.Append(e); err == nil {
			t.Errorf("taken: %+v", e)
		}
	}
	if seq := add(t, j, Entry{At: noon}); seq != 1 {
		t.Errorf("the next is %d", seq)
	}
	commit(t, j)
}

func TestWhatWaitsIsBounded(t *testing.T) {
	j := open(t, t.TempDir())
	body := make([]byte, 1<<20)
	n := 0
	var err error
	for ; err == nil && n < 100; n++ {
		_, err = j.Append(Entry{At: noon, Body: body})
	}
	if !errors.Is(err, ErrFull) || n != 32 {
		t.Fatalf("entry %d of 1 MiB: %v", n, err)
	}
	commit(t, j)
	if seq := add(t, j, Entry{At: noon}); seq != 32 {
		t.Errorf("after the commit the next is %d", seq)
	}
	if got := after(t, j, 0, 100); len(got) != 8 {
		t.Errorf("After read %d MiB at once", len(got))
	}
}

func TestOneProcessAtATime(t *testing.T) {
	dir := t.TempDir()
	j := open(t, dir)
	_, err := Open(dir, slog.New(slog.DiscardHandler))
	if !errors.Is(err, ErrInUse) || !strings.Contains(err.Error(), fmt.Sprint(os.Getpid())) {
		t.Errorf("opening twice: %v", err)
	}
	if _, err := SetAside(dir, noon); !errors.Is(err, ErrInUse) {
		t.Errorf("setting aside an open journal: %v", err)
	}
	j.Close()
	open(t, dir)
}

func TestReadersDuringWrites(t *testing.T) {
	j := open(t, t.TempDir())
	ctx, cancel := context.WithCancel(t.Context())
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for seq := int64(0); ctx.Err() == nil; {
				entries, err := j.After(context.WithoutCancel(ctx), seq, 50)
				if err != nil {
					t.Error(err)
					return
				}
				for _, e := range entries {
					if seq++; e.Seq != seq || len(e.Readings) != 3 {
						t.Errorf("entry %d with %d readings, want %d", e.Seq, len(e.Readings), seq)
					}
				}
			}
		})
	}
	for i := range 500 {
		add(t, j, Entry{At: noon, Readings: minute(i, 3)})
		commit(t, j)
	}
	cancel()
	wg.Wait()
	if size, err := j.Size(); err != nil || size > 8<<20 {
		t.Errorf("500 small commits left %d bytes, %v", size, err)
	}
}

// A reader that stays keeps the -wal from starting anew; when it is gone the
// -wal is as small as before.
func TestWalShrinksAfterALongReader(t *testing.T) {
	j := open(t, t.TempDir())
	rows := 0
	some := func(n int) {
		for range n {
			add(t, j, Entry{At: noon, Body: make([]byte, 2000), Readings: minute(rows, 3)})
			commit(t, j)
			rows++
		}
	}
	some(10)
	tx, err := j.read.Load().BeginTx(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := lastSeq(tx); err != nil { // it stays at this instant
		t.Fatal(err)
	}
	some(1500)
	grown := len(read(t, j.Path+"-wal"))
	if err := tx.Rollback(); err != nil {
		t.Fatal(err)
	}
	some(5)
	if now := len(read(t, j.Path+"-wal")); grown < 6<<20 || now > 4<<20 {
		t.Errorf("%d bytes, and after the reader was gone %d", grown, now)
	}
	if j.Last() != int64(rows) {
		t.Errorf("%d of %d entries", j.Last(), rows)
	}
}

func TestBackupAndRestore(t *testing.T) {
	dir, copied := t.TempDir(), filepath.Join(t.TempDir(), "it's a copy.db")
	j := open(t, dir)
	for i := range 100 {
		add(t, j, Entry{At: noon, Readings: minute(i, 3)})
	}
	j.SetCursor("a", 42)
	commit(t, j)
	if err := errors.Join(os.WriteFile(copied, []byte("old"), 0o600), j.Backup(t.Context(), copied)); err != nil {
		t.Fatal(err)
	}
	add(t, j, Entry{At: noon})
	commit(t, j)
	other := filepath.Join(t.TempDir(), "other.db")
	if err := BackupDir(t.Context(), dir, other); err != nil { // as another process would
		t.Error(err)
	}
	if err := BackupDir(t.Context(), t.TempDir(), other); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("backing up no journal: %v", err)
	}
	if err := BackupDir(t.Context(), dir, j.Path); err == nil {
		t.Error("the journal was backed up onto itself")
	}
	j.Close()
	if _, err := Restore(t.Context(), dir, j.Path, noon); err == nil {
		t.Error("the journal was restored from itself")
	}
	if aside, err := Restore(t.Context(), t.TempDir(), other, noon); aside != "" || err != nil {
		t.Error(aside, err)
	}

	aside, err := Restore(t.Context(), dir, copied, noon)
	if err != nil || filepath.Base(aside) != "journal.db.aside-20260301T120000Z" {
		t.Fatal(aside, err)
	}
	j = open(t, dir)
	cursor, _ := j.Cursor(t.Context(), "a")
	if j.Last() != 100 || cursor != 42 || j.Check(t.Context()) != nil {
		t.Errorf("restored: last %d, cursor %d", j.Last(), cursor)
	}
	var size int
	if err := j.db.QueryRow(`PRAGMA page_size`).Scan(&size); err != nil || size != pageSize {
		t.Errorf("page size %d, %v", size, err)
	}
	j.Close()

	bad := filepath.Join(t.TempDir(), "bad.db")
	os.WriteFile(bad, []byte("no journal"), 0o600)
	if _, err := Restore(t.Context(), dir, bad, noon); err == nil {
		t.Error("restored what is no journal")
	}
	if j = open(t, dir); j.Last() != 100 {
		t.Error("a failed restore changed the journal")
	}
}
