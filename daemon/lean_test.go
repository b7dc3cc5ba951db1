package daemon

import (
	"fmt"
	"os"
	"runtime"
	"runtime/debug"
	"strings"
	"testing"
)

// Pages of the program are given back, and it runs on.
func TestLean(t *testing.T) {
	before := residentOf(t, "RssFile:")
	if err := lean(); err != nil {
		t.Fatal(err)
	}
	if after := residentOf(t, "RssFile:"); after >= before {
		t.Errorf("%d kB of files were in memory, then %d kB", before, after)
	}
}

// Memory is held where it is little, and never at less than the collector needs
// to rest.
func TestModest(t *testing.T) {
	t.Setenv("GOMEMLIMIT", "")
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(-1))
	use := make([]byte, 60<<20)
	runtime.GC()
	modest()
	if limit := debug.SetMemoryLimit(-1); limit < 2*int64(len(use)) || limit > 3*int64(len(use)) {
		t.Errorf("%d MiB in use are held at %d MiB", len(use)>>20, limit>>20)
	}
	runtime.KeepAlive(use)
	runtime.GC()
	modest()
	if limit := debug.SetMemoryLimit(-1); limit != frugal {
		t.Errorf("little is held at %d MiB", limit>>20)
	}
	t.Setenv("GOMEMLIMIT", "64MiB")
	debug.SetMemoryLimit(64 << 20)
	if modest(); debug.SetMemoryLimit(-1) != 64<<20 {
		t.Error("what GOMEMLIMIT said doesn't hold")
	}
}

// residentOf this process, in kB, by its name in /proc/self/status.
func residentOf(t *testing.T, name string) (kB int) {
	t.Helper()
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(status), name)
	if _, err := fmt.Sscan(rest, &kB); err != nil {
		t.Fatal(err)
	}
	return kB
}
