package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"conditiond/daemon/influx/influxdtest"
	"conditiond/daemon/mqtt/mosquittotest"
)

// hook is a webhook that remembers what it was told.
type hook struct {
	mu   sync.Mutex
	told []map[string]any
	at   []time.Time // when
}

func (h *hook) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var m map[string]any
	if err := json.NewDecoder(r.Body).Decode(&m); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.told, h.at = append(h.told, m), append(h.at, time.Now())
}

func (h *hook) heard(alert, severity string) map[string]any {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, m := range h.told {
		if m["alert"] == alert && m["severity"] == severity {
			return m
		}
	}
	return nil
}

// publish with the stock command-line publisher.
func publish(t *testing.T, broker *mosquittotest.Mosquitto, topic, payload string) {
	t.Helper()
	host, port, _ := strings.Cut(broker.Addr, ":")
	out, err := exec.Command("mosquitto_pub", "-h", host, "-p", port, "-q", "1", "-t", topic, "-m", payload).CombinedOutput()
	if err != nil {
		t.Fatalf("mosquitto_pub: %v: %s", err, out)
	}
}

// TestEndToEnd goes the whole way with real servers: a reading published over
// MQTT is journalled, moves an estimate, raises an alert, reaches a person, and
// stands in InfluxDB.
func TestEndToEnd(t *testing.T) {
	broker := mosquittotest.New(t)
	db := influxdtest.Start(t)
	h := &hook{}
	server := httptest.NewServer(h)
	defer server.Close()

	c := newCloset(t, broker.URL(), fmt.Sprintf(`influxdb: {url: "%s", org: "%s", bucket: "%s", token_file: "env:TEST_TOKEN"}
notify:
  - {name: brewer, least: warning, webhook: {url_file: "env:TEST_HOOK"}}
`, db.URL, "closet", db.Bucket), "TEST_TOKEN="+db.Token, "TEST_HOOK="+server.URL)
	c.start()
	c.do("lot", "open", c.write("lot.yaml", inventedLot()))
	seen := watchPage(t, c.page)

	before := time.Now()
	publish(t, broker, "stairs/climate", `{"bme":{"temperature":19.37},"rh":60}`)
	for _, bar := range []string{"5.011", "5.012", "5.013"} {
		publish(t, broker, "stairs/gauge-a", bar)
	}
	after := time.Now()

	// In the journal, by the API.
	var readings []struct {
		Time time.Time
		Bar  float64 `json:"pressure_bar"`
	}
	c.until("the readings are journalled", func() bool {
		c.get("/api/v1/readings?sensor=gauge-a", &readings)
		return len(readings) == 3
	})
	if readings[0].Bar != 5.011 || readings[0].Time.Before(before) || readings[0].Time.After(after) {
		t.Errorf("journalled %+v, published 5.011 between %v and %v", readings[0], before, after)
	}

	// At the webhook.
	c.until("the webhook is told of the danger", func() bool { return h.heard("over-pressure", "danger") != nil })
	m := h.heard("over-pressure", "danger")
	if m["lot"] != "invented-ale" || m["state"] != "raised" || m["id"] == "" || !strings.HasPrefix(m["advice"].(string), "Do not touch") {
		t.Errorf("the webhook was told %v", m)
	}

	// In InfluxDB, value and time right to the digit.
	var points []map[string]any
	c.until("InfluxDB has the readings", func() bool {
		points = db.Query(t, fmt.Sprintf(`from(bucket:"%s") |> range(start:-1h) |> filter(fn:(r)=>r._measurement=="reading" and r.sensor=="gauge-a" and r._field=="pressure_bar") |> sort(columns:["_time"])`, db.Bucket))
		return len(points) == 3
	})
	for i, p := range points {
		if p["_value"] != readings[i].Bar || !p["_time"].(time.Time).Equal(readings[i].Time) {
			t.Errorf("InfluxDB has %v at %v, the journal %v at %v", p["_value"], p["_time"], readings[i].Bar, readings[i].Time)
		}
	}

	// Retained on MQTT.
	host, port, _ := strings.Cut(broker.Addr, ":")
	out, err := exec.Command("mosquitto_sub", "-h", host, "-p", port, "-t", "conditiond/lots/+/estimate", "-C", "1", "-W", "20").CombinedOutput()
	var e struct {
		Lot   string
		Phase string
	}
	if err != nil || json.Unmarshal(out, &e) != nil || e.Lot != "invented-ale" || e.Phase != "conditioning" {
		t.Errorf("the retained estimate is %s (%v)", out, err)
	}
	status, err := exec.Command("mosquitto_sub", "-h", host, "-p", port, "-t", "conditiond/status", "-C", "1", "-W", "20").CombinedOutput()
	if strings.TrimSpace(string(status)) != "online" {
		t.Errorf("conditiond/status is %q (%v)", status, err)
	}

	seen() // on the page, without a reload
	c.stop()
}

// watchPage opens the page in a real browser; the function it returns waits
// until the danger has appeared there without a reload.
func watchPage(t *testing.T, address string) func() {
	t.Helper()
	v := newVisitor(t)
	if v == nil {
		t.Log("did without chromium: the page isn't looked at")
		return func() {}
	}
	v.do("open the page", chromedp.Navigate("http://"+address), chromedp.WaitVisible(chromedp.CSS(".lot")))
	v.stay()
	return func() {
		t.Helper()
		v.do("see the danger", chromedp.WaitVisible(chromedp.CSS(".alert.danger")))
		v.stayed()
	}
}

// TestKilledInTheMiddle publishes 600 numbered messages at QoS 1 and kills the
// daemon three times among them: every number stands exactly once in the
// journal and in InfluxDB.
func TestKilledInTheMiddle(t *testing.T) {
	broker := mosquittotest.New(t)
	db := influxdtest.Start(t)
	c := newCloset(t, broker.URL(), fmt.Sprintf(`influxdb: {url: "%s", org: "%s", bucket: "%s", token_file: "env:TEST_TOKEN"}
`, db.URL, "closet", db.Bucket), "TEST_TOKEN="+db.Token)
	c.start()

	const numbers = 600
	host, port, _ := strings.Cut(broker.Addr, ":")
	pub := exec.Command("mosquitto_pub", "-h", host, "-p", port, "-q", "1", "-t", "test/counter", "-l")
	in, err := pub.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := pub.Start(); err != nil {
		t.Fatal(err)
	}
	for n := range numbers {
		// Numbers as kelvins around a room's: 290.000, 290.001, …
		fmt.Fprintf(in, "%.3f\n", 290+float64(n)/1000)
		time.Sleep(5 * time.Millisecond)
		if n == 150 || n == 300 || n == 450 {
			c.kill()
			c.start()
		}
	}
	in.Close()
	if err := pub.Wait(); err != nil {
		t.Fatal(err)
	}

	counted := func(list []float64) map[string]int {
		out := map[string]int{}
		for _, v := range list {
			out[fmt.Sprintf("%.3f", v+273.15)]++
		}
		return out
	}
	want := func(where string, got map[string]int) {
		t.Helper()
		for n := range numbers {
			k := fmt.Sprintf("%.3f", 290+float64(n)/1000)
			if got[k] != 1 {
				t.Errorf("%s: %s stands %d times", where, k, got[k])
			}
		}
	}
	journalled := func() []float64 {
		var list []struct {
			C float64 `json:"temperature_c"`
		}
		c.get("/api/v1/readings?sensor=counter&limit=2000", &list)
		var out []float64
		for _, r := range list {
			out = append(out, r.C)
		}
		return out
	}
	mirrored := func() []float64 {
		var out []float64
		for _, p := range db.Query(t, fmt.Sprintf(`from(bucket:"%s") |> range(start:-1h) |> filter(fn:(r)=>r._measurement=="reading" and r.sensor=="counter")`, db.Bucket)) {
			out = append(out, p["_value"].(float64))
		}
		return out
	}
	c.within(5*time.Second, func() bool { return len(journalled()) >= numbers })
	want("journal", counted(journalled()))
	c.until("everything is in InfluxDB", func() bool { return len(mirrored()) >= numbers })
	want("InfluxDB", counted(mirrored()))
	t.Logf("%d numbers once each in journal and InfluxDB, over three kills", numbers)
	c.stop()
}
