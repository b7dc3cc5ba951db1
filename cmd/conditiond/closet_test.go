package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// closet is an installation for a test: the real binary with a configuration of
// its own.
type closet struct {
	t      *testing.T
	bin    string
	dir    string
	config string
	page   string // address
	env    []string
	cmd    *exec.Cmd
	log    *bytes.Buffer
}

// newCloset builds the binary and writes the configuration; rest is added to
// it.
func newCloset(t *testing.T, broker, rest string, env ...string) *closet {
	t.Helper()
	c := &closet{t: t, dir: t.TempDir(), page: freeAddress(t), env: env}
	c.bin = filepath.Join(c.dir, "conditiond")
	if out, err := exec.Command("go", "build", "-o", c.bin, ".").CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	c.config = filepath.Join(c.dir, "config.yaml")
	text := fmt.Sprintf(`site: {name: Invented closet, timezone: Europe/Oslo, altitude_m: 90}
mqtt: {broker: "%s"}
sensors:
  stairs-air: {topic: stairs/climate, pointer: /bme/temperature, quantity: temperature, unit: degC, interval: 1m}
  gauge-a: {topic: stairs/gauge-a, quantity: pressure, unit: bar, reference: gauge, full_scale: 10, interval: 1m}
  counter: {topic: test/counter, quantity: temperature, unit: K, interval: 1h}
spaces: {stairs: {temperature: stairs-air}}
journal: {dir: "%s", pause: 200ms}
web: {listen: "%s"}
%s`, broker, filepath.Join(c.dir, "journal"), c.page, rest)
	c.write("config.yaml", text)
	t.Cleanup(c.kill)
	return c
}

func (c *closet) write(name, text string) string {
	c.t.Helper()
	path := filepath.Join(c.dir, name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		c.t.Fatal(err)
	}
	return path
}

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// start the daemon and wait until it is ready.
func (c *closet) start() {
	c.t.Helper()
	c.log = new(bytes.Buffer)
	c.cmd = exec.Command(c.bin, "run", "--config", c.config)
	c.cmd.Env = append(os.Environ(), c.env...)
	c.cmd.Stderr = c.log
	if err := c.cmd.Start(); err != nil {
		c.t.Fatal(err)
	}
	c.until("the daemon is ready", func() bool {
		r, err := http.Get("http://" + c.page + "/readyz")
		if err != nil {
			return false
		}
		r.Body.Close()
		return r.StatusCode == http.StatusOK
	})
}

// kill it as a power cut would.
func (c *closet) kill() {
	if c.cmd != nil && c.cmd.Process != nil {
		c.cmd.Process.Kill()
		c.cmd.Wait()
		c.cmd = nil
	}
	if c.t.Failed() && c.log != nil {
		c.t.Logf("its log:\n%s", c.log)
	}
}

// stop it as systemd would, and want a clean end.
func (c *closet) stop() {
	c.t.Helper()
	c.cmd.Process.Signal(os.Interrupt)
	if err := c.cmd.Wait(); err != nil {
		c.t.Errorf("the daemon ended with %v\n%s", err, c.log)
	}
	c.cmd = nil
}

// do runs one of the binary's commands.
func (c *closet) do(args ...string) string {
	c.t.Helper()
	cmd := exec.Command(c.bin, append(args, "--config", c.config)...)
	cmd.Env = append(os.Environ(), c.env...)
	out, err := cmd.CombinedOutput()
	if err != nil {
		c.t.Fatalf("%s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

// get an answer of the API.
func (c *closet) get(path string, out any) {
	c.t.Helper()
	r, err := http.Get("http://" + c.page + path)
	if err != nil {
		c.t.Fatal(err)
	}
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err == nil {
		err = json.Unmarshal(b, out)
	}
	if err != nil {
		c.t.Fatalf("%s: %v: %s", path, err, b)
	}
}

// until something holds, for at most half a minute.
func (c *closet) until(what string, holds func() bool) {
	c.t.Helper()
	if !c.within(30*time.Second, holds) {
		c.t.Fatalf("waited in vain until %s", what)
	}
}

// within a time, does it hold?
func (c *closet) within(d time.Duration, holds func() bool) bool {
	for end := time.Now().Add(d); !holds(); time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			return false
		}
	}
	return true
}

// inventedLot was packaged an hour ago and stands in the closet.
func inventedLot() string {
	return fmt.Sprintf(`id: invented-ale
name: Invented ale
space: stairs
packaged_at: %s
yeast: ale
beer: {volume_l: 19.0, original_gravity: 1.050, final_gravity: 1.012, warmest_c: 20}
target_volumes: 2.4
priming: [{sugar: sucrose, mass_g: 115}]
bottles: [{kind: standard-glass, volume_ml: 330, headspace_ml: 14, count: 57, rated_bar: 5}]
gauge_bottle: {sensor: gauge-a, volume_ml: 330, headspace_ml: 14}
worst_case_c: 30
`, time.Now().Add(-time.Hour).Format(time.RFC3339))
}
