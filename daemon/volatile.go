package daemon

import (
	"os"
	"path/filepath"
	"syscall"
)

// Kinds of file system that are gone with the power (statfs(2)).
const (
	inMemory = 0x01021994 // tmpfs
	overlaid = 0x794c7630 // overlayfs, as on a card that is made read-only
)

// volatile says whether what is written in a folder, which need not exist yet,
// is gone after a restart of the machine. An overlay may lie on a disk; it is
// named all the same.
func volatile(dir string) bool {
	for {
		var fs syscall.Statfs_t
		switch err := syscall.Statfs(dir, &fs); {
		case err == nil:
			return int64(fs.Type) == inMemory || int64(fs.Type) == overlaid
		case !os.IsNotExist(err) || dir == filepath.Dir(dir):
			return false
		}
		dir = filepath.Dir(dir)
	}
}
