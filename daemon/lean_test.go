package daemon

import (
	"fmt"
	"os"
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
