package main

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"

	"conditiond/daemon/mqtt/mosquittotest"
)

// TestDangerPathUnderFlood: while 5,000 readings a second come in, InfluxDB
// takes a request and never answers, and another recipient's server does the
// same, an over-pressure reaches the webhook within 5 s.
func TestDangerPathUnderFlood(t *testing.T) {
	if testing.Short() {
		t.Skip("a flood of some seconds")
	}
	const lots, perSecond = 12, 5000
	broker, h := mosquittotest.New(t), &hook{}
	well := httptest.NewServer(h)
	defer well.Close()
	release := make(chan struct{})
	hangs := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { <-release }))
	defer hangs.Close()
	defer close(release)
	c := newCloset(t, broker.URL(), fmt.Sprintf(`influxdb: {url: "%s", org: closet, bucket: closet, token_file: "env:TEST_TOKEN"}
notify:
  - {name: brewer, least: warning, webhook: {url_file: "env:TEST_HOOK"}}
  - {name: another, least: warning, webhook: {url_file: "env:TEST_HANGS"}}
`, hangs.URL), "TEST_TOKEN=invented", "TEST_HOOK="+well.URL, "TEST_HANGS="+hangs.URL)
	gauges := ""
	for i := range lots {
		gauges += fmt.Sprintf("  gauge-%d: {topic: flood/gauge-%d, quantity: pressure, unit: bar, reference: gauge, full_scale: 10, interval: 1h}\n", i, i)
	}
	config, err := os.ReadFile(c.config)
	if err != nil {
		t.Fatal(err)
	}
	c.write("config.yaml", strings.Replace(string(config), "spaces:", gauges+"spaces:", 1))
	c.start()
	for i := range lots {
		text := strings.NewReplacer("invented-ale", fmt.Sprintf("invented-%d", i), "gauge-a", fmt.Sprintf("gauge-%d", i)).Replace(inventedLot())
		c.do("lot", "open", c.write("lot.yaml", text))
	}
	ctx, stop := context.WithCancel(t.Context())
	flooded := make(chan int, 1)
	go func() { flooded <- flood(ctx, t, broker, perSecond) }()
	began := time.Now()
	var late []time.Duration
	for i := range lots {
		time.Sleep(300 * time.Millisecond)
		planted := time.Now()
		publish(t, broker, fmt.Sprintf("flood/gauge-%d", i), "5.6")
		publish(t, broker, fmt.Sprintf("flood/gauge-%d", i), "5.6")
		c.until("somebody is told", func() bool { return h.heardOf(fmt.Sprintf("invented-%d", i)) })
		late = append(late, h.when(fmt.Sprintf("invented-%d", i)).Sub(planted))
	}
	took := time.Since(began)
	stop()
	n := <-flooded
	slices.Sort(late)
	t.Logf("%.0f readings a second; from publisher to webhook: median %v, longest of %d %v", float64(n)/took.Seconds(),
		late[lots/2].Round(time.Millisecond), lots, late[lots-1].Round(time.Millisecond))
	if late[lots-1] > 5*time.Second {
		t.Errorf("told after %v", late)
	}
	defer c.kill()
	c.until("the flood is journalled", func() bool {
		var v []struct {
			C float64 `json:"temperature_c"`
		}
		c.get("/api/v1/readings?sensor=counter&limit=100000", &v)
		return len(v) >= min(n, 100_000)
	})
}

// flood publishes so many a second until the context ends, and returns how many
// they were.
func flood(ctx context.Context, t *testing.T, broker *mosquittotest.Mosquitto, perSecond int) (n int) {
	host, port, _ := strings.Cut(broker.Addr, ":")
	pub := exec.Command("mosquitto_pub", "-h", host, "-p", port, "-q", "1", "-t", "test/counter", "-l")
	in, err := pub.StdinPipe()
	if err == nil {
		err = pub.Start()
	}
	if err != nil {
		t.Error(err)
		return 0
	}
	const most = 60_000 // the stock publisher loses count of more than 65,535
	for tick := time.Tick(20 * time.Millisecond); ctx.Err() == nil && n < most; <-tick {
		for range perSecond / 50 {
			fmt.Fprintf(in, "%.4f\n", 290+float64(n)/10_000)
			n++
		}
	}
	in.Close()
	if err := pub.Wait(); err != nil {
		t.Error(err)
	}
	return n
}

// heardOf says whether somebody was told of danger in a lot.
func (h *hook) heardOf(lot string) bool { return !h.when(lot).IsZero() }

// when somebody was first told of danger in a lot; zero = never.
func (h *hook) when(lot string) time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	for i, m := range h.told {
		if m["lot"] == lot && m["alert"] == "over-pressure" && m["severity"] == "danger" {
			return h.at[i]
		}
	}
	return time.Time{}
}
