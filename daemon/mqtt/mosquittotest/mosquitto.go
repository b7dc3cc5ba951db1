// Package mosquittotest runs a real Mosquitto for tests, on a free loopback
// port and with its store in a temporary folder.
package mosquittotest

import (
	"bytes"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// Mosquitto is a broker that can be stopped, killed and started again at the
// same address.
type Mosquitto struct {
	Addr string // host:port
	Dir  string // its configuration and store

	t   testing.TB
	bin string
	cmd *exec.Cmd
	out *output
}

// output of a process that is still writing.
type output struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (o *output) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.buf.Write(p)
}

func (o *output) String() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.buf.String()
}

// New broker, running until the test ends. Further lines of configuration may
// be given; without any, everybody may do everything. Where no Mosquitto is
// installed the test is skipped, or fails if CONDITIOND_REQUIRE names
// mosquitto.
func New(t testing.TB, lines ...string) *Mosquitto {
	t.Helper()
	m := &Mosquitto{t: t, bin: find(t), Addr: freeAddr(t), Dir: t.TempDir(), out: &output{}}
	if len(lines) == 0 {
		lines = []string{"allow_anonymous true"}
	}
	_, port, _ := net.SplitHostPort(m.Addr)
	conf := append([]string{"user root", // in effect when root runs the tests
		"listener " + port + " 127.0.0.1",
		"persistence true", "persistence_location " + m.Dir + "/", "log_dest stderr", "max_queued_messages 0", "max_inflight_messages 100"}, lines...)
	if err := os.WriteFile(m.conf(), []byte(strings.Join(conf, "\n")+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(m.Kill)
	m.Start()
	return m
}

// URL for a client.
func (m *Mosquitto) URL() string { return "mqtt://" + m.Addr }

// Output of its log so far.
func (m *Mosquitto) Output() string { return m.out.String() }

// Start it again, and wait until it listens.
func (m *Mosquitto) Start() {
	m.t.Helper()
	m.cmd = exec.Command(m.bin, "-c", m.conf())
	m.cmd.Stdout, m.cmd.Stderr = m.out, m.out
	if err := m.cmd.Start(); err != nil {
		m.t.Fatalf("starting mosquitto: %v", err)
	}
	deadline := time.Now().Add(10 * time.Second)
	for time.Now().Before(deadline) {
		if c, err := net.Dial("tcp", m.Addr); err == nil {
			c.Close()
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	m.t.Fatalf("mosquitto doesn't listen at %s:\n%s", m.Addr, m.Output())
}

// Stop it in order, so that it saves its store.
func (m *Mosquitto) Stop() { m.end(os.Interrupt) }

// Kill it, as a power cut does.
func (m *Mosquitto) Kill() { m.end(os.Kill) }

// Forget its store.
func (m *Mosquitto) Forget() {
	if err := os.Remove(filepath.Join(m.Dir, "mosquitto.db")); err != nil && !os.IsNotExist(err) {
		m.t.Errorf("deleting the broker's store: %v", err)
	}
}

func (m *Mosquitto) end(how os.Signal) {
	if m.cmd == nil {
		return
	}
	m.cmd.Process.Signal(how)
	m.cmd.Wait()
	m.cmd = nil
}

func (m *Mosquitto) conf() string { return filepath.Join(m.Dir, "mosquitto.conf") }

func find(t testing.TB) string {
	for _, name := range []string{"mosquitto", "/usr/sbin/mosquitto"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if strings.Contains(os.Getenv("CONDITIOND_REQUIRE"), "mosquitto") {
		t.Fatal("no mosquitto here, and CONDITIOND_REQUIRE wants one")
	}
	t.Skip("no mosquitto here")
	return ""
}

func freeAddr(t testing.TB) string {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(fmt.Errorf("looking for a free port: %w", err))
	}
	defer ln.Close()
	return ln.Addr().String()
}
