package daemon

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"conditiond/daemon/intake"
	"conditiond/model"
)

// ear remembers what passes the broker: of each topic the last payload, and
// how far its messages are apart.
type ear struct {
	mu     sync.Mutex
	topics map[string]*overheard
}

type overheard struct {
	payload     []byte
	live        int // messages that weren't retained
	first, last time.Time
}

// take a message. It keeps a bounded number of topics, and none of our own.
func (e *ear) take(m intake.Message) {
	const most = 5000
	e.mu.Lock()
	defer e.mu.Unlock()
	o := e.topics[m.Topic]
	if o == nil {
		if len(e.topics) >= most || strings.HasPrefix(m.Topic, "conditiond/") {
			return
		}
		o = &overheard{}
		e.topics[m.Topic] = o
	}
	o.payload = m.Payload[:min(len(m.Payload), intake.MaxPayload)]
	if now := time.Now(); !m.Retained {
		if o.live++; o.live == 1 {
			o.first = now
		}
		o.last = now
	}
}

// candidate is a number that a device publishes.
type candidate struct {
	topic, pointer string
	payload        []byte
	number         float64
	every          time.Duration // 0 = not seen twice
	retained       bool          // only as the broker's last known
}

// candidates in order of topic and pointer.
func (e *ear) candidates() []candidate {
	e.mu.Lock()
	defer e.mu.Unlock()
	var out []candidate
	for _, topic := range slices.Sorted(maps.Keys(e.topics)) {
		o := e.topics[topic]
		every := time.Duration(0)
		if o.live > 1 {
			every = o.last.Sub(o.first) / time.Duration(o.live-1)
		}
		for _, n := range numbers(o.payload) {
			out = append(out, candidate{topic, n.pointer, o.payload, n.value, every, o.live == 0})
		}
	}
	return out
}

type numberAt struct {
	pointer string
	value   float64
}

// numbers in a payload, with their JSON pointers; a bare number has none.
func numbers(payload []byte) []numberAt {
	if v, ok := plainNumber(string(payload)); ok {
		return []numberAt{{"", v}}
	}
	d := json.NewDecoder(bytes.NewReader(payload))
	d.UseNumber()
	var doc any
	if d.Decode(&doc) != nil {
		return nil
	}
	var out []numberAt
	walk(doc, "", func(p string, v float64) {
		if p != "" {
			out = append(out, numberAt{p, v})
		}
	})
	slices.SortFunc(out, func(a, b numberAt) int { return cmp.Compare(a.pointer, b.pointer) })
	return out
}

func walk(v any, at string, found func(string, float64)) {
	switch v := v.(type) {
	case map[string]any:
		for name, inner := range v {
			walk(inner, at+"/"+strings.NewReplacer("~", "~0", "/", "~1").Replace(name), found)
		}
	case []any:
		for i, inner := range v {
			walk(inner, at+"/"+strconv.Itoa(i), found)
		}
	case json.Number:
		if n, err := v.Float64(); err == nil {
			found(at, n)
		}
	case string:
		if n, ok := plainNumber(v); ok {
			found(at, n)
		}
	}
}

func plainNumber(s string) (float64, bool) {
	s = strings.TrimSpace(s)
	if strings.Trim(s, "+-.0123456789eE") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// guess what a number may be, from its names and its size; empty = no idea. It
// is shown and never taken.
func (c candidate) guess() string {
	name := strings.ToLower(c.topic + c.pointer)
	says := func(words ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(name, w) })
	}
	within := func(low, high float64) bool { return c.number >= low && c.number <= high }
	temperature := says("temp", "climate", "/t", "degc", "celsius")
	switch {
	case says("battery", "rssi", "linkquality", "humid", "volt", "uptime", "seq", "time"):
		return ""
	case says("psi"):
		return "a pressure in psi"
	case says("pressure", "baro") && within(800, 1100):
		return "the air's pressure in hPa"
	case says("pressure", "baro") && within(80, 110):
		return "the air's pressure in kPa"
	case says("pressure", "gauge", "bar") && within(-0.5, 12):
		return "a pressure in bar"
	case says("pressure", "gauge"):
		return "a pressure"
	case temperature && within(-10, 38):
		return "a temperature in degC"
	case temperature && within(38, 110):
		return "a temperature in degF"
	case temperature && within(260, 315):
		return "a temperature in K"
	}
	return ""
}

func (c candidate) String() string {
	where := c.topic
	if c.pointer != "" {
		where += "  " + c.pointer
	}
	text := fmt.Sprintf("%s  %v", where, c.number)
	if g := c.guess(); g != "" {
		text += "  (looks like " + g + ")"
	}
	if c.retained {
		text += "  (last known, nothing new came)"
	}
	return text
}

// interval is a round one, no shorter than what was seen.
func (c candidate) interval() time.Duration {
	steps := []time.Duration{time.Second, 10 * time.Second, 30 * time.Second, time.Minute, 2 * time.Minute, 5 * time.Minute, 10 * time.Minute, 15 * time.Minute, 30 * time.Minute, time.Hour}
	if c.every == 0 {
		return 5 * time.Minute
	}
	for _, s := range steps {
		if c.every <= s+s/10 {
			return s
		}
	}
	return 24 * time.Hour
}

// reading that the last payload is to the daemon, in °C or bar.
func (c candidate) reading(s Sensor) (string, error) {
	conf := intake.Sensor{Name: "it", Topic: c.topic, Pointer: c.pointer, Quantity: s.Quantity, Unit: s.Unit, Reference: s.Reference, FullScale: s.FullScale, Scale: 1}
	if s.Quantity == model.Pressure {
		conf.Station = model.StationPressure(0)
	}
	d, err := intake.NewDecoder(conf)
	if err != nil {
		return "", err
	}
	v, err := d.Decode(c.payload)
	if err != nil {
		return "", err
	}
	if s.Quantity == model.Temperature {
		return fmt.Sprintf("%.4g °C", v.Number), nil
	}
	return fmt.Sprintf("%.4g bar above the air's", v.Number), nil
}
