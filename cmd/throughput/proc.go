package main

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// usage of this process so far.
func usage() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// tick is the unit of CPU time in /proc (USER_HZ, 100 on Linux).
const tick = 10 * time.Millisecond

// usageOf another process.
func usageOf(pid int) time.Duration {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(b), ") ")
	f := strings.Fields(rest)
	user, _ := strconv.Atoi(f[11])
	system, _ := strconv.Atoi(f[12])
	return time.Duration(user+system) * tick
}

// peakOf another process's resident memory, in bytes.
func peakOf(pid int) int64 {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(b)) {
		if v, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			kb, _ := strconv.ParseInt(strings.Fields(v)[0], 10, 64)
			return kb << 10
		}
	}
	return 0
}

// metric finds a value in the metrics' text.
func metric(text, name string) int {
	_, rest, ok := strings.Cut(text, name)
	if !ok {
		return 0
	}
	number, _, _ := strings.Cut(rest, "\n")
	v, _ := strconv.ParseFloat(strings.TrimSpace(number), 64)
	return int(v)
}
