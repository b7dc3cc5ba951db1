package main

import (
	"bytes"
	"flag"
	"io"
	"os"
	"testing"

	"conditiond/daemon"
	"conditiond/model/synth"
)

var update = flag.Bool("update", false, "write testdata/few.golden anew")

// A few invented lots, so that a change of the estimator shows as a diff. What
// it means is for the large sets to say (testdata/figures.md).
func TestFewLots(t *testing.T) {
	if testing.Short() {
		t.Skip("plays weeks")
	}
	dir := t.TempDir()
	for i, f := range []synth.Family{synth.HealthyGauge, synth.LeakLater, synth.Unfinished} {
		s := daemon.Simulation{Family: f, Seed: uint64(5 + i), Lots: 1, Days: 20, Out: dir}
		if err := s.Run(t.Context(), io.Discard); err != nil {
			t.Fatal(err)
		}
	}
	var out bytes.Buffer
	if err := run(&out, io.Discard, []string{dir}, ""); err != nil {
		t.Fatal(err)
	}
	const golden = "testdata/few.golden"
	if *update {
		if err := os.WriteFile(golden, out.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(out.Bytes(), want) {
		t.Errorf("the figures changed; if they may, go test ./cmd/coverage -update, and judge the large sets:\n%s\nwas\n%s", out.Bytes(), want)
	}
}

func TestPlot(t *testing.T) {
	var a tally
	a.add([]check{{"healthy-gauge", 1.2, "co2", true}, {"healthy-gauge", 5, "co2", false}})
	var svg bytes.Buffer
	if err := a.draw(&svg); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"healthy-gauge (1)", "from day 4 (1)", ">50<", `class="poor"`} {
		if !bytes.Contains(svg.Bytes(), []byte(want)) {
			t.Errorf("no %q in the plot:\n%s", want, svg.Bytes())
		}
	}
}
