package daemon

import (
	"cmp"
	"os"
	"strings"
	"syscall"
	"time"
)

// unsynced is STA_UNSYNC of adjtimex(2).
const unsynced = 0x40

// synchronised says whether the kernel takes its clock for set by the network.
// Where it may not be asked, its clock is taken as it is, and so it is where
// CONDITIOND_CLOCK=set says that it is set by something that doesn't tell the
// kernel.
func synchronised() bool {
	if os.Getenv("CONDITIOND_CLOCK") == "set" {
		return true
	}
	var t syscall.Timex
	_, err := syscall.Adjtimex(&t)
	return err != nil || t.Status&unsynced == 0
}

// uptime since the machine was started, its sleep included, in whole seconds;
// 0 = not known.
func uptime() time.Duration {
	var s syscall.Sysinfo_t
	if syscall.Sysinfo(&s) != nil {
		return 0
	}
	return time.Duration(s.Uptime) * time.Second
}

// bootID differs from start to start of the machine; empty = not known. Our unit
// hides the kernel's file, and hands it over.
func bootID() string {
	id, _ := os.ReadFile("/proc/sys/kernel/random/boot_id")
	return strings.ReplaceAll(cmp.Or(os.Getenv("CONDITIOND_BOOT"), strings.TrimSpace(string(id))), "-", "")
}
