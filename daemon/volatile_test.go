package daemon

import (
	"path/filepath"
	"syscall"
	"testing"
)

// A folder in memory is known as such, also before it is there.
func TestVolatileFolders(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Skip("did without a disk in memory: ", err)
	}
	defer syscall.Unmount(dir, syscall.MNT_DETACH)
	for _, in := range []string{dir, filepath.Join(dir, "not", "there", "yet")} {
		if !volatile(in) {
			t.Errorf("%s is called lasting", in)
		}
	}
	if volatile("/proc/self") {
		t.Error("what is neither in memory nor overlaid is called so")
	}
}
