package journal

import (
	"fmt"
	"log/slog"
	"os"
	"testing"
	"time"
)

// written is what this process has caused to be written to the device so far.
func written(b *testing.B) (bytes int64) {
	text, err := os.ReadFile("/proc/self/io")
	if err != nil {
		b.Skip("without /proc there is nothing to measure")
	}
	var n [7]int64
	if _, err := fmt.Sscanf(string(text), "rchar: %d\nwchar: %d\nsyscr: %d\nsyscw: %d\nread_bytes: %d\nwrite_bytes: %d",
		&n[0], &n[1], &n[2], &n[3], &n[4], &n[5]); err != nil {
		b.Fatal(err)
	}
	return n[5]
}

// BenchmarkCommit commits groups of entries of one reading each, with two
// cursors that follow, and shows what goes to the device and stays in the file
// for each reading.
func BenchmarkCommit(b *testing.B) {
	for _, n := range []int{1, 3, 20, 100, 1000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			j := open(b, b.TempDir())
			at, rows := noon, 0
			before := written(b)
			for b.Loop() {
				for i := range n {
					at = at.Add(6 * time.Second) // ten sensors, a minute each
					add(b, j, Entry{At: at, Readings: []Reading{{fmt.Sprint("sensor-", i%10), at, 18.4}}})
				}
				j.SetCursor("influxdb", j.Last())
				j.SetCursor("brewer", j.Last())
				commit(b, j)
				rows += n
			}
			device := float64(written(b) - before)
			size, err := j.Size()
			if err != nil {
				b.Fatal(err)
			}
			b.ReportMetric(device/float64(rows), "device-B/reading")
			b.ReportMetric(float64(size)/float64(rows), "file-B/reading")
			b.ReportMetric(float64(rows)/b.Elapsed().Seconds(), "readings/s")
		})
	}
}

// filled is a journal of n entries of one reading each.
func filled(b *testing.B, dir string, n int) *Journal {
	j := open(b, dir)
	for i := range n {
		at := noon.Add(time.Duration(i) * 6 * time.Second)
		add(b, j, Entry{At: at, Readings: []Reading{{fmt.Sprint("sensor-", i%10), at, 18.4}}})
		if i%1000 == 999 {
			commit(b, j)
		}
	}
	commit(b, j)
	return j
}

func BenchmarkAfter(b *testing.B) {
	j := filled(b, b.TempDir(), 100_000)
	rows := 0
	for b.Loop() {
		rows += len(after(b, j, int64(rows%99_000), 500))
	}
	b.ReportMetric(float64(rows)/b.Elapsed().Seconds(), "entries/s")
}

// BenchmarkMillion opens, reads through, checks and charts a journal of a
// million entries: ten weeks of ten sensors a minute.
func BenchmarkMillion(b *testing.B) {
	dir := b.TempDir()
	filled(b, dir, 1_000_000).Close()
	b.Run("open", func(b *testing.B) {
		for b.Loop() {
			open(b, dir).Close()
		}
	})
	j, err := Open(dir, slog.New(slog.DiscardHandler))
	if err != nil {
		b.Fatal(err)
	}
	defer j.Close()
	b.Run("after all", func(b *testing.B) {
		for b.Loop() {
			for seq := int64(0); seq < j.Last(); {
				entries := after(b, j, seq, 1000)
				seq = entries[len(entries)-1].Seq
			}
		}
	})
	b.Run("check", func(b *testing.B) {
		for b.Loop() {
			if err := j.Check(b.Context()); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("chart of three weeks", func(b *testing.B) {
		for b.Loop() {
			buckets, err := j.Series(b.Context(), []string{"sensor-3"}, noon, noon.AddDate(0, 0, 21), 500)
			if err != nil || len(buckets) != 500 {
				b.Fatal(len(buckets), err)
			}
		}
	})
	size, _ := j.Size()
	b.Logf("%d bytes a reading", size/1_000_000)
}
