package main

import (
	"bytes"
	"encoding/json"
	"image/png"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"conditiond/daemon/mqtt/mosquittotest"
)

// TestStory is a lot's life as its brewer sees it, in a browser, with the real
// binary and a real Mosquitto: planned and opened on the page; a reading comes;
// the line to the page is cut, and the danger of that time is there when it is
// back; the danger is acknowledged, another alert put away; what was seen is
// written down; the lot is chilled and closed.
func TestStory(t *testing.T) {
	v := newVisitor(t)
	if v == nil {
		t.Skip("no chromium on this machine")
	}
	broker := mosquittotest.New(t)
	h, p := &hook{}, &phone{}
	server, push := httptest.NewServer(h), httptest.NewServer(p)
	defer server.Close()
	defer push.Close()
	c := newCloset(t, broker.URL(), `notify:
  - {name: brewer, least: warning, webhook: {url_file: "env:TEST_HOOK"}}
  - {name: phone, least: danger, ntfy: {url: "`+push.URL+`/closet"}}
`, "TEST_HOOK="+server.URL)
	c.start()
	line := newWire(t, c.page)

	v.do("open the page", chromedp.Navigate("http://"+line.addr))
	v.planALot()

	v.see("Invented story ale", "Waiting for the first reading")
	v.stay()
	publish(t, broker, "stairs/climate", `{"bme":{"temperature":19.37},"rh":60}`)
	v.see("stairs-air", "19.4 °C")
	v.stayed()

	line.sever()
	for range refusals {
		publish(t, broker, "stairs/climate", "ERR")
	}
	for _, bar := range []string{"5.011", "5.012", "5.013"} {
		publish(t, broker, "stairs/gauge-a", bar)
	}
	c.until("the webhook is told of the danger", func() bool { return h.heard("over-pressure", "danger") != nil })
	c.until("the telephone has a picture of it", p.hasPicture)
	p.dangerFirst(t)
	v.see("What you see is old")
	if shown := v.shown(); strings.Contains(shown, "Do not touch") {
		t.Errorf("over a line that is cut the page learned:\n%s", shown)
	}
	line.mend()
	v.see("Danger", "Do not touch")
	v.until("recover", func(shown string) bool { return !strings.Contains(shown, "What you see is old") })
	v.stayed()

	v.pressAt("I have seen this", alertOf("danger"))
	v.see("It stays open until its cause is gone")
	v.pressAt("Again in a day", alertOf("warning"))
	v.see("Put away by", "Record") // on the lot's page still
	c.stand(map[string]string{"over-pressure": "acknowledged", "sensor-fault": "shelved"})

	v.fill("text", "One cap looks domed.")
	v.press("Write it down")
	v.see("One cap looks domed.")
	v.press("All bottles went into the cold, or none are left")
	v.press("All are in the cold now")
	v.see("Put in the cold")
	v.press("All bottles went into the cold, or none are left")
	v.press("Close this lot")
	v.until("be of a closed lot", func(shown string) bool { return !strings.Contains(shown, "none are left") })
	c.ended("invented-story-ale", "One cap looks domed.")
	c.stop()
}

// refusals are more than glitches.
const refusals = 11

// planALot on the page, and open it from its plan.
func (v *visitor) planALot() {
	v.t.Helper()
	v.press("Plan a bottling day")
	v.see("Work it out")
	for id, value := range map[string]string{
		"name": "Invented story ale", "beer.volume_l": "19", "beer.original_gravity": "1.050", "beer.final_gravity": "1.012",
		"bottles[0].count": "57", "bottles[0].headspace_ml": "14", "bottles[0].rated_bar": "5", "gauge_bottle.sensor": "gauge-a",
	} {
		v.fill(id, value)
	}
	v.press("Work it out")
	v.see("Open this lot", "invented-story-ale")
	v.press("Open this lot")
}

// alertOf a severity, as an XPath.
func alertOf(severity string) string {
	return `//article[contains(@class, "alert ` + severity + `")]`
}

// stand wants these alerts, by name and state, from the API.
func (c *closet) stand(want map[string]string) {
	c.t.Helper()
	var open []struct{ Alert, State string }
	c.get("/api/v1/alerts", &open)
	got := map[string]string{}
	for _, a := range open {
		got[a.Alert] = a.State
	}
	if !maps.Equal(got, want) {
		c.t.Errorf("the alerts stand as %v, want %v", got, want)
	}
}

// ended wants a lot chilled and closed, with this note, from the API.
func (c *closet) ended(lot, note string) {
	c.t.Helper()
	var l struct {
		Chilled time.Time `json:"chilled_at"`
		Closed  time.Time `json:"closed_at"`
		Notes   []struct{ Text string }
	}
	c.get("/api/v1/lots/"+lot, &l)
	if l.Chilled.IsZero() || l.Closed.Before(l.Chilled) || len(l.Notes) == 0 || l.Notes[0].Text != note {
		c.t.Errorf("the lot ended as %+v", l)
	}
}

// phone is a server of push notices that remembers what it was told.
type phone struct {
	mu       sync.Mutex
	loud     []bool // whether each was of the highest priority
	pictures int
}

func (p *phone) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	b, _ := io.ReadAll(r.Body)
	var plain struct{ Priority int }
	p.mu.Lock()
	defer p.mu.Unlock()
	if r.Header.Get("Filename") == "" && json.Unmarshal(b, &plain) == nil {
		p.loud = append(p.loud, plain.Priority == 5)
	} else if _, err := png.Decode(bytes.NewReader(b)); err == nil {
		p.loud, p.pictures = append(p.loud, r.Header.Get("Priority") == "5"), p.pictures+1
	}
	io.WriteString(w, `{"id":"invented"}`)
}

func (p *phone) hasPicture() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.pictures > 0
}

// dangerFirst: the danger rang, and its picture came after it.
func (p *phone) dangerFirst(t *testing.T) {
	t.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(p.loud) != 2 || !p.loud[0] || p.loud[1] {
		t.Errorf("the telephone was told %v, with %d pictures", p.loud, p.pictures)
	}
}
