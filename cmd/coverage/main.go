// Command coverage plays lots whose truth is known and says how often the truth
// lay within the 90 % interval: by kind of lot, and by day of conditioning, as a
// table and as a plot. For developers; `conditiond simulate --out` writes such
// lots.
package main

import (
	"cmp"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync/atomic"

	"golang.org/x/sync/errgroup"
)

func main() {
	plot := flag.String("o", "", "also write the plot to this SVG file")
	flag.Parse()
	if flag.NArg() == 0 {
		fmt.Fprintln(os.Stderr, "usage: coverage [-o FILE.svg] FOLDER…   (of lots, each with config.yaml, lot.yaml, messages.ndjson.gz and truth.json)")
		os.Exit(2)
	}
	if err := run(os.Stdout, os.Stderr, flag.Args(), *plot); err != nil {
		fmt.Fprintln(os.Stderr, "coverage:", err)
		os.Exit(1)
	}
}

func run(out, progress io.Writer, folders []string, plot string) error {
	var t tally
	for _, folder := range folders {
		lots, err := filepath.Glob(filepath.Join(folder, "*", "truth.json"))
		if err != nil || len(lots) == 0 {
			return cmp.Or(err, fmt.Errorf("%s: no lots with a truth.json in it", folder))
		}
		slices.Sort(lots)
		all, err := playAll(lots, func(done int32) { fmt.Fprintf(progress, "\r%s: %d of %d", folder, done, len(lots)) })
		if err != nil {
			return err
		}
		fmt.Fprintln(progress)
		for _, checks := range all {
			t.add(checks)
		}
	}
	t.table(out)
	if plot == "" {
		return nil
	}
	f, err := os.Create(plot)
	if err != nil {
		return err
	}
	if err := t.draw(f); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// playAll plays lots, as many at once as there are processors.
func playAll(lots []string, tell func(done int32)) ([][]check, error) {
	out := make([][]check, len(lots))
	var g errgroup.Group
	var done atomic.Int32
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i, l := range lots {
		g.Go(func() (err error) {
			out[i], err = play(filepath.Dir(l))
			tell(done.Add(1))
			return err
		})
	}
	return out, g.Wait()
}
