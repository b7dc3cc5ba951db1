// Command throughput measures what the whole way of a reading costs, as a ratio:
// numbered QoS-1 readings flat out through one Mosquitto, taken in turn by a bare
// subscriber that discards them and by the real daemon (journal durable before it
// acknowledges, engine, InfluxDB follower). For developers; it needs Mosquitto,
// and InfluxDB's binary where -influxd names one.
package main

import (
	"cmp"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"
)

func main() {
	var b bench
	flag.IntVar(&b.readings, "readings", 200_000, "readings in a turn")
	flag.IntVar(&b.rounds, "rounds", 5, "rounds of one turn each")
	flag.StringVar(&b.daemon, "daemon", "", "the conditiond binary")
	flag.StringVar(&b.influxd, "influxd", "", "InfluxDB 1.8's influxd; empty = without the follower")
	flag.Parse()
	if b.daemon == "" || flag.NArg() > 0 {
		fmt.Fprintln(os.Stderr, "usage: throughput -daemon FILE [-influxd FILE] [-readings N] [-rounds N]")
		os.Exit(2)
	}
	if err := b.run(); err != nil {
		fmt.Fprintln(os.Stderr, "throughput:", err)
		os.Exit(1)
	}
}

// bench is the whole measurement.
type bench struct {
	readings, rounds int
	daemon, influxd  string
	dir              string
}

// turn is what one took.
type turn struct {
	wall time.Duration
	cpu  time.Duration
	peak int64 // bytes, resident
}

func (b *bench) run() error {
	var err error
	if b.dir, err = os.MkdirTemp("", "throughput-"); err != nil {
		return err
	}
	defer os.RemoveAll(b.dir)
	var bare, whole []turn
	for round := range b.rounds {
		for who, take := range map[*[]turn]func(string) (turn, error){&bare: b.bare, &whole: b.whole} {
			dir := filepath.Join(b.dir, fmt.Sprint(round, len(*who), who == &bare))
			if err := os.MkdirAll(dir, 0o755); err != nil {
				return err
			}
			t, err := b.onBroker(dir, take)
			if err != nil {
				return err
			}
			*who = append(*who, t)
			fmt.Printf("round %d, %s: %.0f readings/s, %.1f µs of CPU each, peak %.1f MiB (load %s)\n", round+1,
				map[bool]string{true: "bare", false: "whole"}[who == &bare], b.rate(t), b.each(t), float64(t.peak)/(1<<20), load())
		}
	}
	b.report(bare, whole)
	return nil
}

func (b *bench) rate(t turn) float64 { return float64(b.readings) / t.wall.Seconds() }
func (b *bench) each(t turn) float64 { return t.cpu.Seconds() * 1e6 / float64(b.readings) }

func (b *bench) report(bare, whole []turn) {
	var rates, costs []float64
	var peak int64
	for i := range bare {
		rates = append(rates, b.rate(whole[i])/b.rate(bare[i]))
		costs = append(costs, b.each(whole[i])/b.each(bare[i]))
		peak = max(peak, whole[i].peak)
	}
	fmt.Printf("\nrate, whole to bare:        %s\nCPU a reading, whole to bare: %s\npeak memory of the daemon:  %.1f MiB\n",
		spread(rates), spread(costs), float64(peak)/(1<<20))
}

// spread is the median with the range.
func spread(v []float64) string {
	slices.SortFunc(v, cmp.Compare)
	return fmt.Sprintf("%.2f (%.2f to %.2f)", v[len(v)/2], v[0], v[len(v)-1])
}

func load() string {
	b, _ := os.ReadFile("/proc/loadavg")
	return string(b[:max(0, min(4, len(b)))])
}
