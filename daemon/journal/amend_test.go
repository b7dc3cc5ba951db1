package journal

import (
	"errors"
	"log/slog"
	"testing"
	"time"
)

// What is written anew moves over itself without loss, together with what is
// appended, or not at all; a commit that is tried again doesn't move it twice.
func TestAmend(t *testing.T) {
	j, err := Open(t.TempDir(), slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	at := time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC)
	add := func(i int) {
		t.Helper()
		on := at.Add(time.Duration(i) * time.Minute)
		if _, err := j.Append(Entry{At: on, Body: []byte{byte(i)}, Readings: []Reading{{"s", on, float64(i)}}}); err != nil {
			t.Fatal(err)
		}
	}
	for i := range 5000 {
		add(i)
	}
	if err := j.Commit(); err != nil {
		t.Fatal(err)
	}
	moves := 0
	move := func(e Entry) (Entry, error) {
		moves++
		if moves == 4000 {
			return e, errors.New("made to fail once")
		}
		e.At = e.At.Add(10 * time.Minute)
		for i := range e.Readings {
			e.Readings[i].At = e.Readings[i].At.Add(10 * time.Minute)
		}
		return e, nil
	}
	holds := func(when string, by time.Duration, n int) {
		t.Helper()
		list, err := j.Readings(t.Context(), Query{Series: "s"})
		if err != nil || len(list) != n {
			t.Fatalf("%s: %d readings, want %d (%v)", when, len(list), n, err)
		}
		entries, err := j.After(t.Context(), 9, 3)
		if err != nil || len(entries) != 3 {
			t.Fatal(when, entries, err)
		}
		for _, want := range []int{10, 11} { // the entries 11 and 12
			on := at.Add(time.Duration(want) * time.Minute)
			if e := entries[want-9]; !e.At.Equal(on.Add(by)) || len(e.Readings) != 1 || !e.Readings[0].At.Equal(on.Add(by)) || e.Body[0] != byte(want) {
				t.Errorf("%s: %+v", when, e)
			}
		}
		if r := list[len(list)-1]; r.Value == 4999 && !r.At.Equal(at.Add(4999*time.Minute+by)) {
			t.Errorf("%s: the last is %+v", when, r)
		}
		if r := list[3]; !r.At.Equal(at.Add(3*time.Minute)) || r.Value != 3 {
			t.Errorf("%s: one that was to stay is %+v", when, r)
		}
	}
	j.Amend(10, move)
	add(6000)
	if err := j.Commit(); err == nil {
		t.Fatal("no error")
	}
	holds("failed", 0, 5000)
	if err := j.Commit(); err != nil {
		t.Fatal(err)
	}
	holds("done", 10*time.Minute, 5001)

	// As after a commit that reached the disk and failed at its very end.
	j.open = group{amended: &amendment{10, 5000, move}, entries: []Entry{{Seq: 5001, At: at}}}
	if err := j.Commit(); err != nil {
		t.Fatal(err)
	}
	holds("tried again", 10*time.Minute, 5001)
}
