package daemon

import (
	"fmt"
	"maps"
	"net"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"conditiond/model"
)

// configCheck looks at what each value means. What would be right stands in
// each fault, after the value that is wrong.
type configCheck struct {
	*document
	*Config
	here   bool // on the machine where it will run: look at files too
	strict bool // what the daemon would live with is a fault
}

func (c configCheck) all() {
	c.site()
	c.mqtt()
	c.sensors()
	c.spaces()
	c.journal()
	c.influxdb()
	c.web()
	c.thresholds()
	c.notify()
	c.heartbeat()
}

func (c configCheck) site() {
	c.text("site.name", c.Site.Name)
	if _, err := c.Site.Location(); err != nil || c.Site.Timezone == "" || c.Site.Timezone == "Local" {
		c.fault("site.timezone", "%s: no time zone; a name such as Europe/Oslo would be right", brief(c.Site.Timezone))
	}
	if a := c.Site.Altitude; a < -500 || a > 5000 {
		c.fault("site.altitude_m", "%v: must be metres above the sea, -500 to 5000", a)
	}
}

func (c configCheck) spaces() {
	if len(c.Spaces) == 0 {
		c.fault("spaces", "missing: name at least one space and the sensor of its temperature")
	}
	for _, name := range slices.Sorted(maps.Keys(c.Spaces)) {
		path := "spaces." + name
		c.name(path, name)
		sensor := c.Spaces[name].Temperature
		if sensor == "" {
			c.fault(path+".temperature", "missing: the name of a temperature sensor")
			continue
		}
		c.refers(path+".temperature", sensor, model.Temperature)
	}
}

// refers checks that a sensor exists and measures the quantity.
func (c configCheck) refers(path, name string, quantity model.Quantity) {
	sensor, ok := c.Sensors[name]
	switch {
	case !ok && c.given("sensors."+name): // it is at fault itself
	case !ok:
		c.fault(path, "%s: no such sensor%s", brief(name), meant(name, slices.Sorted(maps.Keys(c.Sensors))))
	case sensor.Quantity != quantity:
		c.fault(path, "%s: must be a %s sensor, and this one measures %s", brief(name), quantity, sensor.Quantity)
	}
}

// meant names the nearest of the names, or all of them.
func meant(name string, names []string) string {
	if near := nearest(name, names); near != "" {
		return "; did you mean " + near + "?"
	}
	if len(names) == 0 {
		return ""
	}
	return "; there are " + strings.Join(names, ", ")
}

func (c configCheck) journal() {
	c.text("journal.dir", c.Journal.Dir)
	c.between("journal.pause", c.Journal.Pause, 0, 5*time.Minute)
	if c.given("journal.keep") {
		c.between("journal.keep", c.Journal.Keep, 30*24*time.Hour, 100*365*24*time.Hour)
	}
	if n := c.Journal.MaxMB; c.given("journal.max_mb") && (n < 50 || n > 1_000_000) {
		c.fault("journal.max_mb", "%d: must be 50 to 1000000", n)
	}
	if c.given("journal.backups") {
		c.text("journal.backups", c.Journal.Backups)
	}
}

func (c configCheck) thresholds() {
	a := c.Alerts
	c.thresholdC("alerts.too_cold_c", a.TooCold)
	c.thresholdC("alerts.too_warm_c", a.TooWarm)
	if c.given("alerts.too_cold_c") && c.given("alerts.too_warm_c") && a.TooCold >= a.TooWarm {
		c.fault("alerts.too_warm_c", "%v: must be above too_cold_c, %v", a.TooWarm, a.TooCold)
	}
	c.wait("alerts.cold_for", a.ColdFor)
	c.wait("alerts.warm_for", a.WarmFor)
	c.wait("alerts.silent_after", a.SilentAfter)
	c.quiet(a.Quiet)
	c.digest(a.Digest)
	if n := a.SilentIntervals; c.given("alerts.silent_intervals") && (n < 2 || n > 1000) {
		c.fault("alerts.silent_intervals", "%v: must be 2 to 1000", n)
	}
}

func (c configCheck) quiet(q *Quiet) {
	if q == nil {
		return
	}
	for path, s := range map[string]string{"alerts.quiet.from": q.From, "alerts.quiet.to": q.To} {
		if _, err := sinceMidnight(s); err != nil {
			c.fault(path, "%s: must be a time of day such as 22:00, in quotes", brief(s))
		}
	}
	if q.From == q.To {
		c.fault("alerts.quiet.to", "%s: must be another time than from", brief(q.To))
	}
}

func (c configCheck) digest(d *Digest) {
	if d == nil {
		return
	}
	if _, err := sinceMidnight(d.At); err != nil {
		c.fault("alerts.digest.at", "%s: must be a time of day such as 08:00, in quotes", brief(d.At))
	}
	if d.Every != "" && d.Every != "day" && d.Every != "week" {
		c.fault("alerts.digest.every", "%s: must be day or week", brief(d.Every))
	}
}

func (c configCheck) thresholdC(path string, v float64) {
	if c.given(path) && (v < 1 || v > 60) {
		c.fault(path, "%v: must be in °C, 1 to 60", v)
	}
}

func (c configCheck) wait(path string, d time.Duration) {
	if c.given(path) {
		c.between(path, d, time.Minute, 30*24*time.Hour)
	}
}

func (c configCheck) between(path string, d, least, most time.Duration) {
	if d < least || d > most {
		c.fault(path, "%s: must be %s to %s", short(d), short(least), short(most))
	}
}

// short is a duration without its empty parts: 5m, not 5m0s.
func short(d time.Duration) string {
	text := d.String()
	for _, empty := range []string{"m0s", "h0m"} {
		if rest, ok := strings.CutSuffix(text, empty); ok {
			text = rest + empty[:1]
		}
	}
	return text
}

// text must be there, on one line.
func (c configCheck) text(path, text string) {
	switch {
	case text == "":
		c.fault(path, "missing")
	case strings.ContainsFunc(text, func(r rune) bool { return r < ' ' || r == 0x7f }):
		c.fault(path, "%s: must be a single line of text", brief(text))
	}
}

// goodName says whether it is made of what a name may be made of. As a regular
// expression it took 2.5 MB and some milliseconds of every start.
func goodName(s string) bool {
	letter := func(r rune) bool { return unicode.IsLetter(r) || unicode.IsNumber(r) }
	first, _ := utf8.DecodeRuneInString(s)
	return letter(first) && utf8.RuneCountInString(s) <= 64 &&
		!strings.ContainsFunc(s, func(r rune) bool { return !letter(r) && !strings.ContainsRune(" ._-", r) })
}

// name of a sensor or space: it becomes a part of topics, tags and addresses.
func (c configCheck) name(path, name string) {
	if !goodName(name) {
		c.fault(path, "%s: a name is made of letters, digits, spaces, '-', '_' and '.', at most 64", brief(name))
	}
}

// listen is host:port. Its result says whether other machines can reach it.
func (c configCheck) listen(path, address string) (reachable bool) {
	host, port, err := net.SplitHostPort(address)
	n, bad := strconv.Atoi(port)
	if err != nil || bad != nil || n < 0 || n > 65535 {
		c.fault(path, "%s: must be an address and a port, such as 127.0.0.1:8080", brief(address))
		return false
	}
	return !loopback(host)
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// oneOf lists the words that are allowed.
func oneOf[T ~string](words ...T) string {
	list := make([]string, len(words))
	for i, w := range words {
		list[i] = string(w)
	}
	last := len(list) - 1
	return fmt.Sprintf("%s or %s", strings.Join(list[:last], ", "), list[last])
}
