//go:build chaos

package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"conditiond/daemon/influx/influxdtest"
	"conditiond/daemon/mqtt"
	"conditiond/daemon/mqtt/mosquittotest"
)

// chaosLots have a gauge each, on which one over-pressure is planted.
const chaosLots = 6

// chaos is a closet with all that it talks to behind wires.
type chaos struct {
	*closet
	rng                        *rand.Rand
	broker                     *mosquittotest.Mosquitto
	db                         *influxdtest.Server
	hook                       *hook
	toBroker, toInflux, toHook *wire
	disk                       string
}

// TestChaos lets real Mosquitto, InfluxDB and a webhook go through kills,
// stops, cut and held links and a full disk, at 50 readings a second, for
// CHAOS_MINUTES (10). What was acknowledged to the publisher is in the journal
// once, InfluxDB equals the journal, and every planted over-pressure was told.
//
//	go test -tags chaos -run TestChaos -timeout 30m -v ./cmd/conditiond
func TestChaos(t *testing.T) {
	minutes, seed := 10.0, uint64(time.Now().UnixNano())
	if s := os.Getenv("CHAOS_MINUTES"); s != "" {
		minutes, _ = strconv.ParseFloat(s, 64)
	}
	if s := os.Getenv("CHAOS_SEED"); s != "" {
		seed, _ = strconv.ParseUint(s, 10, 64)
	}
	t.Logf("seed %d, %v minutes", seed, minutes)
	c := newChaos(t, seed)
	ctx, stop := context.WithCancel(t.Context())
	acked := make(chan []int, 1)
	go func() { acked <- count(ctx, t, c.broker) }()

	planted := map[int]time.Time{}
	began, length := time.Now(), time.Duration(minutes*float64(time.Minute))
	for time.Since(began) < length {
		if i := len(planted); i < chaosLots && time.Since(began) > length*time.Duration(i+1)/(chaosLots+2) {
			planted[i] = time.Now()
			c.plant(i)
		}
		c.mishap()
		time.Sleep(time.Duration(c.rng.IntN(4000)) * time.Millisecond)
	}
	stop()
	c.check(<-acked, planted)
}

func newChaos(t *testing.T, seed uint64) *chaos {
	c := &chaos{rng: rand.New(rand.NewPCG(seed, 1)), broker: mosquittotest.New(t), db: influxdtest.Start(t), hook: &hook{}}
	server := httptest.NewServer(c.hook)
	t.Cleanup(server.Close)
	c.toBroker = newWire(t, c.broker.Addr)
	c.toInflux = newWire(t, strings.TrimPrefix(c.db.URL, "http://"))
	c.toHook = newWire(t, strings.TrimPrefix(server.URL, "http://"))
	c.closet = newCloset(t, "mqtt://"+c.toBroker.addr, fmt.Sprintf(`influxdb: {url: "http://%s", org: closet, bucket: "%s", token_file: "env:TEST_TOKEN"}
notify:
  - {name: brewer, least: warning, webhook: {url_file: "env:TEST_HOOK"}}
`, c.toInflux.addr, c.db.Bucket), "TEST_TOKEN="+c.db.Token, "TEST_HOOK=http://"+c.toHook.addr)
	c.addGauges()
	c.disk = filepath.Join(c.dir, "journal")
	if err := os.Mkdir(c.disk, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("tmpfs", c.disk, "tmpfs", 0, "size=48m"); err != nil {
		t.Skip("did without a small disk of its own: ", err)
	}
	t.Cleanup(func() { syscall.Unmount(c.disk, syscall.MNT_DETACH) })
	c.start()
	for i := range chaosLots {
		text := strings.NewReplacer("invented-ale", fmt.Sprintf("invented-%d", i), "gauge-a", fmt.Sprintf("gauge-%d", i)).Replace(inventedLot())
		c.do("lot", "open", c.write(fmt.Sprintf("lot-%d.yaml", i), text))
	}
	return c
}

func (c *chaos) addGauges() {
	b, err := os.ReadFile(c.config)
	if err != nil {
		c.t.Fatal(err)
	}
	gauges := ""
	for i := range chaosLots {
		gauges += fmt.Sprintf("  gauge-%d: {topic: chaos/gauge-%d, quantity: pressure, unit: bar, reference: gauge, full_scale: 10, interval: 1h}\n", i, i)
	}
	c.write("config.yaml", strings.Replace(string(b), "spaces:", gauges+"spaces:", 1))
}

// mishap is one of many.
func (c *chaos) mishap() {
	d := time.Duration(500+c.rng.IntN(6000)) * time.Millisecond
	happens := func(what string, how func()) {
		c.t.Log(what, " for ", d)
		how()
	}
	switch c.rng.IntN(8) {
	case 0, 1:
		happens("killed", func() { c.kill(); time.Sleep(d); c.start() })
	case 2:
		happens("stopped", func() {
			c.cmd.Process.Signal(syscall.SIGSTOP)
			time.Sleep(d)
			c.cmd.Process.Signal(syscall.SIGCONT)
		})
	case 3:
		happens("broker's link cut", func() { c.toBroker.cut(d) })
	case 4:
		happens("broker's link held", func() { c.toBroker.hold(d) })
	case 5:
		happens("InfluxDB's link cut", func() { c.toInflux.cut(d) })
	case 6:
		happens("webhook's link held", func() { c.toHook.hold(d) })
	case 7:
		happens("disk full", func() { c.fullDisk(d) })
	}
}

func (c *chaos) fullDisk(d time.Duration) {
	path := filepath.Join(c.disk, "stuffing")
	f, err := os.Create(path)
	if err != nil {
		c.t.Error(err)
		return
	}
	for _, size := range []int{1 << 16, 1 << 10, 1} {
		for b := make([]byte, size); ; {
			if _, err := f.Write(b); err != nil {
				break
			}
		}
	}
	f.Close()
	time.Sleep(d)
	os.Remove(path)
}

// count publishes numbers, 50 a second, until the context ends, and returns
// those that were acknowledged.
func count(ctx context.Context, t *testing.T, broker *mosquittotest.Mosquitto) []int {
	p, err := mqtt.NewPublisher(t.Context(), mqtt.Config{Broker: broker.URL(), ClientID: "counter"})
	if err != nil {
		t.Error(err)
		return nil
	}
	defer p.Close()
	var list []int
	for n := 0; ctx.Err() == nil; n++ {
		if err := p.Publish(t.Context(), "test/counter", fmt.Appendf(nil, "%.3f", 280+float64(n)/1000)); err == nil {
			list = append(list, n)
		}
		time.Sleep(20 * time.Millisecond)
	}
	return list
}

func (c *chaos) plant(i int) {
	c.t.Logf("over-pressure in lot %d", i)
	for range 3 {
		publish(c.t, c.broker, fmt.Sprintf("chaos/gauge-%d", i), "5.6")
	}
}

func (c *chaos) check(acked []int, planted map[int]time.Time) {
	c.t.Logf("%d readings acknowledged to the publisher", len(acked))
	if c.cmd == nil {
		c.start()
	}
	c.until("everything acknowledged is journalled", func() bool { return missing(acked, c.counted()) == 0 })
	journal, twice := c.counted(), 0
	for _, n := range journal {
		if n > 1 {
			twice++
		}
	}
	if twice > 0 {
		c.t.Errorf("%d numbers stand twice in the journal", twice)
	}
	if !c.within(3*time.Minute, func() bool { return equal(journal, c.mirrored()) }) {
		c.t.Error("InfluxDB doesn't equal the journal")
	}
	var late []time.Duration
	for i, at := range planted {
		told := c.within(time.Minute, func() bool { _, ok := c.hook.delay(fmt.Sprintf("invented-%d", i), at); return ok })
		if !told {
			c.t.Errorf("nobody was told of the over-pressure of lot %d", i)
			continue
		}
		d, _ := c.hook.delay(fmt.Sprintf("invented-%d", i), at)
		late = append(late, d)
	}
	slices.Sort(late)
	if len(late) > 0 {
		c.t.Logf("%d of %d over-pressures told; from publisher to webhook: median %v, longest %v", len(late), len(planted),
			late[len(late)/2].Round(time.Millisecond), late[len(late)-1].Round(time.Millisecond))
	}
	c.t.Logf("of %d: lost %d, twice %d", len(acked), missing(acked, journal), twice)
}

// numbered turns what the sensor "counter" says back into the number.
func numbered(celsius float64) int { return int((celsius+273.15-280)*1000 + 0.5) }

// counted are the numbers in the journal, by how often each stands there.
func (c *chaos) counted() map[int]int {
	out := map[int]int{}
	for from := "1970-01-01T00:00:00Z"; ; {
		var list []struct {
			Time time.Time
			C    float64 `json:"temperature_c"`
		}
		c.get("/api/v1/readings?sensor=counter&limit=50000&from="+from, &list)
		for _, r := range list {
			out[numbered(r.C)]++
		}
		if len(list) < 50000 {
			return out
		}
		from = list[len(list)-1].Time.Add(time.Nanosecond).Format(time.RFC3339Nano)
	}
}

func (c *chaos) mirrored() map[int]int {
	out := map[int]int{}
	for _, p := range c.db.Query(c.t, fmt.Sprintf(`from(bucket:"%s") |> range(start:-3h) |> filter(fn:(r)=>r._measurement=="reading" and r.sensor=="counter")`, c.db.Bucket)) {
		out[numbered(p["_value"].(float64))]++
	}
	return out
}

func missing(want []int, got map[int]int) int {
	n := 0
	for _, k := range want {
		if got[k] == 0 {
			n++
		}
	}
	return n
}

func equal(a, b map[int]int) bool {
	for k, n := range a {
		if b[k] != n {
			return false
		}
	}
	return len(a) == len(b)
}

// delay from planting to the first word of danger about a lot.
func (h *hook) delay(lot string, planted time.Time) (time.Duration, bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for i, m := range h.told {
		if m["lot"] == lot && m["alert"] == "over-pressure" && m["severity"] == "danger" {
			return h.at[i].Sub(planted), true
		}
	}
	return 0, false
}

// cut it for a while.
func (w *wire) cut(d time.Duration) {
	w.sever()
	time.Sleep(d)
	w.mend()
}

// hold everything back for a while, without closing.
func (w *wire) hold(d time.Duration) {
	stop := make(chan struct{})
	w.mu.Lock()
	w.held = stop
	w.mu.Unlock()
	time.Sleep(d)
	close(stop)
}
