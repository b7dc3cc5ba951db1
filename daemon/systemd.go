package daemon

import (
	"time"

	sd "github.com/coreos/go-systemd/v22/daemon"
)

const (
	ready    = sd.SdNotifyReady
	stopping = sd.SdNotifyStopping
	alive    = sd.SdNotifyWatchdog
	// busy asks for two minutes more until ready.
	busy = "EXTEND_TIMEOUT_USEC=120000000"
)

// tellSystemd our state; without systemd it does nothing.
func tellSystemd(state string) { _, _ = sd.SdNotify(false, state) }

// watchdog is how often systemd wants to hear that the loop runs; 0 = never.
func watchdog() time.Duration {
	every, err := sd.SdWatchdogEnabled(false)
	if err != nil {
		return 0
	}
	return every / 3
}
