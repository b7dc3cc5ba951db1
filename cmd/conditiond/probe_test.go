package main

import (
	"bufio"
	"encoding/json"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"conditiond/daemon/mqtt/mosquittotest"
)

// overheard follows what a real subscriber prints: topic, then payload.
func overheard(t *testing.T, broker *mosquittotest.Mosquitto, topic string) <-chan string {
	t.Helper()
	host, port, _ := net.SplitHostPort(broker.Addr)
	cmd := exec.Command("mosquitto_sub", "-h", host, "-p", port, "-t", topic, "-v")
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Skip("did without a subscriber: ", err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	lines := make(chan string, 100)
	go func() {
		defer close(lines)
		for s := bufio.NewScanner(out); s.Scan(); {
			lines <- s.Text()
		}
	}()
	return lines
}

// heard waits for a line that has all of these in it.
func heard(t *testing.T, lines <-chan string, want ...string) string {
	t.Helper()
	deadline := time.After(20 * time.Second)
	for {
		select {
		case line := <-lines:
			missing := false
			for _, w := range want {
				missing = missing || !strings.Contains(line, w)
			}
			if !missing {
				return line
			}
		case <-deadline:
			t.Fatalf("nobody said %q", want)
		}
	}
}

// TestProbe: a probe beside a daemon, at a real broker. Readings arrive; a
// fault comes as such and is no reading; a killed probe is offline.
func TestProbe(t *testing.T) {
	if testing.Short() {
		t.Skip("starts processes")
	}
	broker := mosquittotest.New(t)
	lines := overheard(t, broker, "probe/#")
	c := newCloset(t, broker.URL(), "")
	b, err := os.ReadFile(c.config)
	if err != nil {
		t.Fatal(err)
	}
	c.write("config.yaml", strings.Replace(string(b), "topic: stairs/climate, pointer: /bme/temperature", "topic: probe/28-00000invented, pointer: /value", 1))
	c.start()
	w1 := filepath.Join(c.dir, "sys/bus/w1/devices/28-00000invented")
	if err := os.MkdirAll(w1, 0o755); err != nil {
		t.Fatal(err)
	}
	says := func(verdict, thousandths string) {
		// in one step, as the kernel does
		c.write("next", "4b 01 4b 46 7f ff 05 10 e1 : crc=e1 "+verdict+"\n4b 01 4b 46 7f ff 05 10 e1 t="+thousandths+"\n")
		if err := os.Rename(filepath.Join(c.dir, "next"), filepath.Join(w1, "w1_slave")); err != nil {
			t.Fatal(err)
		}
	}
	says("YES", "20687")
	cmd := exec.Command(c.bin, "probe", "--config", c.config, "--sysfs", filepath.Join(c.dir, "sys"), "--interval", "1s")
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	heard(t, lines, "probe/status online")
	line := heard(t, lines, `probe/28-00000invented {"value":20.687,"unit":"C","time":"`, `"seq":2}`)
	var m struct{ Time time.Time }
	if err := json.Unmarshal([]byte(line[strings.IndexByte(line, '{'):]), &m); err != nil || time.Since(m.Time).Abs() > time.Minute {
		t.Errorf("%s: %v, its time is %v", line, err, m.Time)
	}
	readings := func() int {
		var list []struct {
			C float64 `json:"temperature_c"`
		}
		c.get("/api/v1/readings?sensor=stairs-air&from=2020-01-01T00:00:00Z", &list)
		for _, r := range list {
			if r.C != 20.687 {
				t.Errorf("a reading of %v", r.C)
			}
		}
		return len(list)
	}
	c.until("two readings are journalled", func() bool { return readings() >= 2 })
	says("NO", "20687")
	heard(t, lines, `{"value":null,"unit":"C"`, `"error":"the checksum is wrong`)
	says("YES", "85000")
	heard(t, lines, `{"value":null,"unit":"C"`, `"error":"85 °C is what`)
	broker.Stop()
	broker.Start()
	lines = overheard(t, broker, "probe/#")
	heard(t, lines, "probe/status online")
	heard(t, lines, `{"value":null`)
	cmd.Process.Kill() // the broker finds the connection closed
	heard(t, lines, "probe/status offline")
}
