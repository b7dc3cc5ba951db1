package daemon

import "runtime/debug"

// version of the program, as the build recorded it.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	rev := info.Main.Version
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && (rev == "" || rev == "(devel)") {
			rev = s.Value[:min(12, len(s.Value))]
		}
	}
	return rev
}
