package journal

import (
	"testing"
	"time"
)

// Only what is both old and carried goes, the newest entry never; the rest is
// as it was, also after opening it again.
func TestPrune(t *testing.T) {
	dir := t.TempDir()
	j := open(t, dir)
	const n = 5000
	for i := range n {
		add(t, j, Entry{At: noon.Add(time.Duration(i) * time.Minute), Readings: minute(i, 2)})
	}
	commit(t, j)
	prune := func(before time.Duration, seq, want int64) {
		t.Helper()
		if rows, err := j.Prune(t.Context(), noon.Add(before*time.Minute), seq); err != nil || rows != want {
			t.Errorf("%d rows, want %d (%v)", rows, want, err)
		}
	}
	prune(-1, n, 0)
	prune(3000, 1000, 1000+2*3000) // entries past 1000 are not carried yet
	prune(3000, n, 2000)
	prune(3000, n, 0)
	entries := after(t, j, 0, n)
	if len(entries) != 2000 || entries[0].Seq != 3001 || len(entries[0].Readings) != 2 {
		t.Fatalf("%d entries, the first %+v", len(entries), entries[0])
	}
	if list, err := j.Readings(t.Context(), Query{Series: "sensor-0"}); err != nil || len(list) != 2000 || !list[0].At.Equal(noon.Add(3000*time.Minute)) {
		t.Errorf("%d readings (%v)", len(list), err)
	}
	prune(2*n, n, 2000-1+2*2000) // everything, but for the newest entry
	j.Close()
	j = open(t, dir)
	if seq := add(t, j, Entry{At: noon}); j.Last() != n || seq != n+1 {
		t.Errorf("last %d, next %d", j.Last(), seq)
	}
}
