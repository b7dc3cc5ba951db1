package main

import (
	"bytes"
	"encoding/pem"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// TestDeskByTLS: commands find a page behind TLS, and believe only whoever shows
// the certificate of the configuration.
func TestDeskByTLS(t *testing.T) {
	page := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		io.WriteString(w, "[]")
	}))
	page.Config.ErrorLog = nil
	page.StartTLS()
	defer page.Close()
	dir := t.TempDir()
	file, config := filepath.Join(dir, "page.pem"), filepath.Join(dir, "config.yaml")
	show := func(der []byte) {
		if err := os.WriteFile(file, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	text := fmt.Sprintf(invented, dir, strings.TrimPrefix(page.URL, "https://"), ", certificate_file: "+file+", key_file: /not/for/us")
	if err := os.WriteFile(config, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	status := func() (int, string) {
		var out, errs bytes.Buffer
		code := run([]string{"status", "--json", "--config", config}, nil, &out, &errs)
		return code, out.String() + errs.String()
	}
	show(page.Certificate().Raw)
	if code, said := status(); code != done || said != "[]\n" {
		t.Errorf("exit %d: %s", code, said)
	}
	show(append([]byte{0}, page.Certificate().Raw...))
	if code, said := status(); code != environment || !strings.Contains(said, "doesn't show the certificate") {
		t.Errorf("another's certificate: exit %d: %s", code, said)
	}
}

// invented is a configuration: the journal's folder, where the page listens, and
// more of the page.
const invented = `site: {name: Invented closet, timezone: UTC}
journal: {dir: %s}
web: {listen: "%s"%s}
sensors: {air: {topic: air, quantity: temperature, unit: degC}}
spaces: {closet: {temperature: air}}
`

// TestForbidden: an ordinary user who may not read is told what to do. The
// program runs as nobody (user and group 65534).
func TestForbidden(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("did without another user: to become one needs root")
	}
	dir := opened(t, t.TempDir())
	program := filepath.Join(dir, "conditiond")
	own, err := os.ReadFile(os.Args[0])
	if err != nil {
		t.Fatal(err)
	}
	private := filepath.Join(dir, "private")
	for path, x := range map[string]struct {
		text string
		mode os.FileMode
	}{
		program:                             {string(own), 0o755},
		filepath.Join(dir, "password"):      {"correct horse", 0o600},
		filepath.Join(dir, "hidden.yaml"):   {fmt.Sprintf(invented, private, "127.0.0.1:1", ""), 0o600},
		filepath.Join(dir, "journal.yaml"):  {fmt.Sprintf(invented, private, "127.0.0.1:1", ""), 0o644},
		filepath.Join(dir, "password.yaml"): {fmt.Sprintf(invented, private, "127.0.0.1:1", ", password_file: "+filepath.Join(dir, "password")), 0o644},
	} {
		if err := os.WriteFile(path, []byte(x.text), x.mode); err != nil {
			t.Fatal(err)
		}
	}
	if code := run([]string{"status", "--config", filepath.Join(dir, "journal.yaml")}, nil, io.Discard, os.Stderr); code != done { // as root: it makes the journal
		t.Fatal(code)
	}
	if err := os.Chmod(private, 0o750); err != nil {
		t.Fatal(err)
	}
	for config, want := range map[string]string{
		"hidden":   "read the configuration: open " + filepath.Join(dir, "hidden.yaml") + ": permission denied",
		"password": "web.password_file, without which the daemon tells nothing",
		"journal":  "no daemon answers at 127.0.0.1:1, and the journal itself can't be opened",
	} {
		c := exec.CommandContext(t.Context(), program, "status", "--config", filepath.Join(dir, config+".yaml"))
		c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		c.Dir = dir
		out, _ := c.CombinedOutput()
		if c.ProcessState.ExitCode() != environment || !strings.Contains(string(out), want) || !strings.Contains(string(out), "with sudo before it") {
			t.Errorf("%s: exit %d: %s", config, c.ProcessState.ExitCode(), out)
		}
	}
}

// opened is a folder that everybody may look into.
func opened(t *testing.T, dir string) string {
	t.Helper()
	for d := dir; d != os.TempDir() && d != "/"; d = filepath.Dir(d) {
		if err := os.Chmod(d, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}
