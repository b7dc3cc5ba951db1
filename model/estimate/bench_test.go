package estimate

import (
	"runtime"
	"testing"
	"time"
)

// BenchmarkMemory is what open lots of thirty days hold.
func BenchmarkMemory(b *testing.B) {
	_, r, s := lot(0, 30)
	for b.Loop() {
		before := held()
		var lots [8]*Estimator
		for i := range lots {
			lots[i] = New(s)
			feed(lots[i], r.Readings, day(-1), day(30))
		}
		b.ReportMetric(float64(held()-before)/float64(len(lots)), "B/lot")
		runtime.KeepAlive(lots)
	}
}

func held() int64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// BenchmarkTenThousandLots is an hour of 10,000 open lots of up to 19 days on
// one core: 60 readings of the gauge and an end of the window for each. A clone
// shares its past with the others until its first hour ends, and is dropped
// after it, so that memory doesn't decide.
func BenchmarkTenThousandLots(b *testing.B) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	const lots = 10_000
	_, r, s := lot(0, 21)
	var warm []*Estimator
	e, was := New(s), day(-1)
	for k := range 24 { // each hour of the day once, since not all cost the same
		to := packaged.Add(time.Duration(12+19*k) * time.Hour)
		feed(e, r.Readings, was, to)
		warm, was = append(warm, e.Clone()), to
	}
	gauge := r.Readings[0]
	gauge.Sensor, gauge.Quantity = s.Lot.GaugeBottle.Sensor, "pressure"
	for b.Loop() {
		for i := range lots {
			from := warm[i%len(warm)]
			e := from.Clone()
			start := packaged.Add(time.Duration(e.next) * window)
			gauge.Value = e.now.gauge.latest
			for m := range 60 {
				gauge.At = start.Add(time.Duration(m) * time.Minute)
				gauge.Value += 1e-4
				e.Observe(gauge)
			}
			e.Advance(start.Add(window))
		}
	}
	hour := b.Elapsed().Seconds() / float64(b.N)
	b.ReportMetric(hour, "s/hour")
	b.ReportMetric(100*hour/3600, "%core")
}
