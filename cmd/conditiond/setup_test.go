package main

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"conditiond/daemon/mqtt"
	"conditiond/daemon/mqtt/mosquittotest"
)

// setupShapes are payloads by topic: bare numbers, flat and nested JSON, one
// with a unit beside, one in a list.
var setupShapes = map[string]string{
	"attic/temperature":   "20.41",
	"cellar/probe/SENSOR": `{"Time":"2031-03-01T14:00:00","Probe":{"Id":"00000invented","Temperature":68.5},"TempUnit":"F"}`,
	"stairs/climate":      `{"battery":87,"humidity":51.2,"linkquality":102,"temperature":19.63}`,
	"stairs/gauge-a":      `{"channels":[{"id":0,"psi":"12.5"}],"seq":4}`,
	"stairs/status":       `{"temperature:100":{"id":100,"tC":19.2,"tF":66.5}}`,
}

// chatter publishes all shapes, several times a second, until the test ends.
func chatter(t *testing.T, broker *mosquittotest.Mosquitto) {
	t.Helper()
	p, err := mqtt.NewPublisher(t.Context(), mqtt.Config{Broker: broker.URL(), ClientID: "chatter"})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() {
		defer close(done)
		defer p.Close()
		for tick := time.NewTicker(200 * time.Millisecond); ; {
			for topic, payload := range setupShapes {
				p.Publish(ctx, topic, []byte(payload))
			}
			select {
			case <-tick.C:
			case <-ctx.Done():
				tick.Stop()
				return
			}
		}
	}()
	t.Cleanup(func() { stop(); <-done })
}

// TestSetup answers the questions by a script beside a real broker where five
// shapes of payload pass, and starts the daemon on what was written.
func TestSetup(t *testing.T) {
	if testing.Short() {
		t.Skip("starts processes")
	}
	broker := mosquittotest.New(t)
	chatter(t, broker)
	c := newCloset(t, broker.URL(), "")
	config := filepath.Join(c.dir, "written.yaml")
	// The values are listed by topic and pointer:
	//  1 attic/temperature                     2 cellar/probe/SENSOR /Probe/Temperature
	//  3-6 stairs/climate battery humidity linkquality temperature
	//  7-8 stairs/gauge-a /channels/0/id /channels/0/psi   9 /seq
	//  10-12 stairs/status id tC tF
	answers := c.write("answers", strings.Join([]string{
		"Invented closet", "Europe/Oslo", "high", "90", // a height that is no number is asked again
		"127.0.0.1", broker.URL(), "",
		"6", "stairs-air", "temperature", "degF", "closet", // 19.63 °F would be −6.9 °C: it is believed, so the person must look
		"1", "attic-air", "temperature", "degC", "attic",
		"2", "cellar-air", "temperature", "degC", "cellar", // the payload says F, and is believed
		"11", "outlet", "temperature", "degC", "outlet",
		"8", "gauge-a", "pressure", "celsius", "psi", "gauge", "100",
		"done", "here", "none",
	}, "\n")+"\n")
	cmd := exec.Command(c.bin, "setup", "--out", config, "--answers", answers, "--listen", "3s", "--secrets", filepath.Join(c.dir, "secrets"))
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, want := range []string{
		`"high": a number from -500 to 5000`,
		`"127.0.0.1": mqtt://host:1883 would be right`,
		"stairs/climate  /temperature  19.63  (looks like a temperature in degC)",
		"stairs/climate  /battery  87\n",
		"cellar/probe/SENSOR  /Probe/Temperature  68.5  (looks like a temperature in degF)",
		"stairs/gauge-a  /channels/0/psi  12.5  (looks like a pressure in psi)",
		"19.63 is read as -6.872 °C", // (19.63 − 32)/1.8
		"68.5 is read as 20.28 °C",
		"12.5 is read as 0.8618 bar above the air's", // 12.5 × 0.06894757
		"nothing is wrong with it",
		"conditiond check --config " + config,
	} {
		if !strings.Contains(string(out), want) {
			t.Errorf("it doesn't say %q", want)
		}
	}
	b, err := os.ReadFile(config)
	if err != nil {
		t.Fatal(err)
	}
	if t.Failed() {
		t.Fatalf("%s\n%s", out, b)
	}
	if out, err := exec.Command(c.bin, "check", "--config", config).CombinedOutput(); err != nil || !strings.Contains(string(out), "nothing wrong") {
		t.Errorf("check: %v\n%s\n%s", err, out, b)
	}
	again, err := exec.Command(c.bin, "setup", "--out", config, "--answers", answers).CombinedOutput()
	if exitCode(err) != "1" || !strings.Contains(string(again), "exists already") {
		t.Errorf("a second time: %v\n%s", err, again)
	}
	if same, _ := os.ReadFile(config); string(same) != string(b) {
		t.Error("the second time wrote over the configuration")
	}

	c.config = c.write("moved.yaml", strings.Replace(string(b), "127.0.0.1:8080", c.page, 1)+"\njournal: {dir: "+filepath.Join(c.dir, "journal")+", pause: 100ms}\n")
	c.start()
	for _, sensor := range []string{"stairs-air", "attic-air", "cellar-air", "outlet", "gauge-a"} {
		c.until(sensor+" is journalled", func() bool {
			var list []any
			c.get("/api/v1/readings?from=2020-01-01T00:00:00Z&sensor="+sensor, &list)
			return len(list) > 0
		})
	}
}

// An interrupt at a question ends it, and nothing is written.
func TestSetupInterrupted(t *testing.T) {
	if testing.Short() {
		t.Skip("starts processes")
	}
	c := newCloset(t, "", "")
	config := filepath.Join(c.dir, "written.yaml")
	cmd := exec.Command(c.bin, "setup", "--out", config)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err == nil {
		_, err = out.Read(make([]byte, 1)) // the first question
	}
	if err != nil {
		t.Fatal(err)
	}
	kill := time.AfterFunc(10*time.Second, func() { cmd.Process.Kill() })
	defer kill.Stop()
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	cmd.Wait()
	if s, ok := cmd.ProcessState.Sys().(syscall.WaitStatus); !ok || s.Signal() != syscall.SIGINT {
		t.Errorf("it ended by %v, not by the interrupt", cmd.ProcessState)
	}
	if _, err := os.Stat(config); err == nil {
		t.Error("a configuration was written")
	}
}

// A secret goes into a file that its owner alone can read, and nowhere else.
func TestSetupSecrets(t *testing.T) {
	if testing.Short() {
		t.Skip("starts processes")
	}
	told, pushed := &hook{}, &hook{}
	server := httptest.NewServer(told)
	defer server.Close()
	push := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		pushed.ServeHTTP(w, r)
		if r.Header.Get("Authorization") == "Bearer invented-token" {
			io.WriteString(w, `{"id":"invented"}`)
		}
	}))
	defer push.Close()
	broker := mosquittotest.New(t)
	chatter(t, broker)
	c := newCloset(t, broker.URL(), "")
	config, secrets := filepath.Join(c.dir, "written.yaml"), filepath.Join(c.dir, "secrets")
	answers := c.write("answers", strings.Join([]string{"", "UTC", "90", broker.URL(), "me", "invented-password",
		"1", "attic-air", "temperature", "degC", "attic", "done",
		"network", "invented-word",
		"pigeon", "webhook", server.URL + "/invented-hook",
		"webhook", "ntfy", push.URL, push.URL + "/closet", "yes", "invented-token",
		"mail", "127.0.0.1", "127.0.0.1:1", "Pi <pi@example.net>", "pi@example.net", "me@example.net", "yes", "invented-mail-word",
		"yes"}, "\n")+"\n")
	out, err := exec.Command(c.bin, "setup", "--out", config, "--answers", answers, "--listen", "2s", "--secrets", secrets).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	b, err := os.ReadFile(config)
	if err != nil || strings.Contains(string(b), "invented-") {
		t.Errorf("%v; a secret stands in the configuration:\n%s", err, b)
	}
	for name, want := range map[string]string{"mqtt": "invented-password", "web": "invented-word", "hook": server.URL + "/invented-hook",
		"push": "invented-token", "mail": "invented-mail-word"} {
		path := filepath.Join(secrets, name)
		info, err := os.Stat(path)
		got, _ := os.ReadFile(path)
		if err != nil || info.Mode().Perm() != 0o600 || strings.TrimSpace(string(got)) != want {
			t.Errorf("%s: %v %v %q", name, err, info, got)
		}
	}
	if out, err := exec.Command(c.bin, "check", "--config", config).CombinedOutput(); err != nil {
		t.Errorf("check: %v\n%s", err, out)
	}
	for _, want := range []string{
		`"pigeon": ntfy, mail, webhook or none would be right`,
		`"webhook": ntfy, mail or done would be right`, // it is one of the ways already
		"no topic at the end of the URL",
		`"127.0.0.1": a host and a port`,
		`"Pi <pi@example.net>": a bare address`,
		"webhook: it was taken",
		"ntfy: it was taken",
		"mail: it failed: reach the mail server", // nothing listens there; the rest stands
	} {
		if !strings.Contains(string(out), want) {
			t.Errorf("it doesn't say %q", want)
		}
	}
	if len(told.told) != 1 || len(pushed.told) != 1 || pushed.told[0]["topic"] != "closet" {
		t.Errorf("test notices: %v, %v", told.told, pushed.told)
	}
	if t.Failed() {
		t.Logf("%s\n%s", out, b)
	}
}
