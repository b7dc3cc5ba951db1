package daemon

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// TestUnitIsConfined: the units hand in what deploy/security.md says, by the
// directives themselves and by systemd's own judgement, which is measured
// (exposure times ten, systemd-analyze(1)).
func TestUnitIsConfined(t *testing.T) {
	for unit, most := range map[string]string{"conditiond": "11", "conditiond-probe": "11", "conditiond-backup": "4"} {
		path := "../deploy/" + unit + ".service"
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for _, line := range []string{"CapabilityBoundingSet=", "NoNewPrivileges=yes", "PrivateDevices=yes", "ProtectHome=yes", "ProtectProc=invisible",
			"ProtectSystem=strict", "PrivateTmp=yes", "RestrictNamespaces=yes", "MemoryDenyWriteExecute=yes", "SystemCallFilter=~@privileged @resources"} {
			if !strings.Contains(string(text), "\n"+line+"\n") && !(unit == "conditiond-probe" && line == "PrivateDevices=yes") {
				t.Errorf("%s: no %s", unit, line)
			}
		}
		if _, err := exec.LookPath("systemd-analyze"); err != nil {
			t.Log("did without systemd-analyze")
			continue
		}
		if out, err := exec.Command("systemd-analyze", "security", "--offline=true", "--no-pager", "--threshold="+most, path).CombinedOutput(); err != nil {
			lines := strings.Split(strings.TrimSpace(string(out)), "\n")
			t.Errorf("%s: %v: %s", unit, err, lines[len(lines)-1])
		}
	}
}

// Without a configuration for it, nothing listens for other machines.
func TestListensToThisMachineAlone(t *testing.T) {
	c := defaults()
	for _, listen := range []string{c.Web.Listen, c.MQTT.Listen} {
		if host, _, _ := strings.Cut(listen, ":"); !loopback(host) {
			t.Errorf("listens on %s", listen)
		}
	}
}
