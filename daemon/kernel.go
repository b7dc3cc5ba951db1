package daemon

import (
	"cmp"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"
)

// unsynced is STA_UNSYNC of adjtimex(2).
const unsynced = 0x40

// timesync is systemd-timesyncd's folder while that runs; once the clock was set
// it holds a file of that name (systemd-time-wait-sync(8)).
const timesync = "/run/systemd/timesync"

// synchronised says whether the kernel takes its clock for set by the network.
// Our unit's ProtectClock= forbids asking the kernel, along with setting the
// clock: then systemd-timesyncd says it. Where neither can be asked, the clock is
// taken as it is, and so it is where CONDITIOND_CLOCK=set says that something
// sets it without telling them.
func synchronised() bool {
	if os.Getenv("CONDITIOND_CLOCK") == "set" {
		return true
	}
	var t syscall.Timex
	_, err := syscall.Adjtimex(&t)
	if err != nil {
		return setBy(timesync)
	}
	return t.Status&unsynced == 0
}

// setBy systemd-timesyncd, by what is in its folder; true without the folder.
func setBy(folder string) bool {
	if _, err := os.Stat(folder); err != nil {
		return true
	}
	_, err := os.Stat(filepath.Join(folder, "synchronized"))
	return err == nil
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
