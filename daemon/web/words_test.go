package web

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/model/estimate"
)

func at(days float64) *time.Time {
	t := now.Add(time.Duration(days * 24 * float64(time.Hour)))
	return &t
}

func TestReadyInWords(t *testing.T) {
	tell := teller{now: now, loc: time.UTC}
	for _, c := range []struct {
		when *estimate.When
		want string
	}{
		{nil, "too early to say"},
		{&estimate.When{}, "too early to say"},
		{&estimate.When{P05: at(4), P50: at(9)}, "too early to say; not before Thu 12 Mar"},
		{&estimate.When{P05: at(1), P50: at(9), P95: at(40)}, "too early to say; not before Mon 9 Mar"},
		{&estimate.When{P05: at(3), P50: at(4), P95: at(7)}, "Wed 11 Mar to Sun 15 Mar"},
		{&estimate.When{P05: at(3), P50: at(3), P95: at(3.1)}, "about Wed 11 Mar"},
		{&estimate.When{P05: at(-1), P50: at(0), P95: at(2)}, "now to Tue 10 Mar"},
		{&estimate.When{P05: at(-3), P50: at(-2), P95: at(-1)}, "about now"},
		{&estimate.When{P05: at(299), P50: at(300), P95: at(302)}, "Fri 1 Jan 2027 to Mon 4 Jan 2027"},
	} {
		l := lotNamed("a", "A")
		l.Estimate.ReadyAt = c.when
		if got := tell.ready(l); got != c.want {
			t.Errorf("%+v: %q, want %q", c.when, got, c.want)
		}
	}
}

// TestLiveDrinkIsNeverReady: what is stopped, not finished, has no end.
func TestLiveDrinkIsNeverReady(t *testing.T) {
	l := lotNamed("ginger", "Ginger beer")
	l.Document.StopAtVolumes = 2
	if got := (teller{now: now, loc: time.UTC}).ready(l); got != "never by itself: chill it at 2.00 volumes" {
		t.Error(got)
	}
}

func TestAges(t *testing.T) {
	tell := teller{now: now, loc: time.UTC}
	for _, c := range []struct {
		age  time.Duration
		want string
	}{
		{0, "just now"}, {-30 * time.Second, "just now"}, {89 * time.Second, "just now"}, {5 * time.Minute, "5 min ago"},
		{3 * time.Hour, "3 h ago"}, {47 * time.Hour, "47 h ago"}, {72 * time.Hour, "3 days ago"},
		{-time.Hour, "dated in the future: Sun 8 Mar, 20:00"},
	} {
		if got := tell.ago(now.Add(-c.age)); got != c.want {
			t.Errorf("%v: %q", c.age, got)
		}
	}
}

func TestStaleShows(t *testing.T) {
	v := pantry()
	v.Sensors[0].At = at(-0.125) // three hours, and the engine has not said so yet
	c := (teller{now: now, loc: time.UTC}).card(v, v.Lots[0])
	if c.Old != "gauge-a: last reading 3 h ago" || c.PressureAge != "3 h ago" {
		t.Errorf("%q %q", c.Old, c.PressureAge)
	}
}

// TestRetainedIsLastKnown: a retained value is never shown as a reading.
func TestRetainedIsLastKnown(t *testing.T) {
	s := pantry().Sensors[1]
	s.LastKnown, s.At, s.Value = s.Value, nil, nil
	if r := (teller{now: now, loc: time.UTC}).sensor(s); r.Value != "19.5 °C" || r.Age != "last known, of unknown age" || !r.Stale {
		t.Errorf("%+v", r)
	}
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{number(-0.004, 2), "0.00"}, {number(-1.25, 1), "−1.2"}, {number(math.NaN(), 1), "–"}, {units{}.bar(1.123), "1.12 bar"},
		{percent(.634), "63 %"}, {percent(.9979), "99 %"}, {percent(.58), "58 %"}, {percent(1), "100 %"}, {chance(0.0003), "less than 1 in 100"}, {chance(.425), "about 42 in 100"}, {chance(1), "more than 99 in 100"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

// TestAboveTheLimit: the page says so, whatever the alerts say.
func TestAboveTheLimit(t *testing.T) {
	v := pantry()
	over := 5.01
	v.Lots[0].Estimate.GaugeBar = &over
	if c := (teller{now: now, loc: time.UTC}).card(v, v.Lots[0]); !c.Above {
		t.Error("5.01 bar is not above 5.00")
	}
}

func TestGravest(t *testing.T) {
	s, words := gravest([]alerts.Alert{{Name: alerts.TooCold, Severity: alerts.Warning}, {Name: alerts.OverPressure, Severity: alerts.Danger}})
	if s != alerts.Danger || words != "too cold, over pressure" {
		t.Error(s, words)
	}
}

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		want      string
	}{{0, 2.6, "[0 1 2 3]"}, {0, 5, "[0 2 4 6]"}, {18.9, 21.3, "[18 19 20 21 22]"}, {20, 20, ""}, {-0.3, 0.2, ""}} {
		ticks := niceTicks(c.low, c.high)
		if n := len(ticks); n < 2 || n > 7 || ticks[0] > c.low || ticks[n-1] < c.high {
			t.Errorf("%v to %v: %v", c.low, c.high, ticks)
		}
		if c.want != "" && fmt.Sprint(ticks) != c.want {
			t.Errorf("%v to %v: %v", c.low, c.high, ticks)
		}
	}
}

// TestLinesBreakAtSilence: nothing is drawn over what was not heard.
func TestLinesBreakAtSilence(t *testing.T) {
	p := plane{from: now, to: now.Add(48 * time.Hour), low: 0, high: 2}
	hour := func(h int) dot { return dot{now.Add(time.Duration(h) * time.Hour), 1} }
	path := p.path([]dot{hour(0), hour(1), hour(2), hour(20), hour(21)})
	if n := strings.Count(path, "M"); n != 2 {
		t.Errorf("%d pieces in %s", n, path)
	}
	low := []dot{hour(0), hour(1), hour(20), hour(21)}
	if n := strings.Count(p.area(low, low), "Z"); n != 2 {
		t.Errorf("%d patches", n)
	}
}

func TestEmptyChart(t *testing.T) {
	if c := (teller{now: now, loc: time.UTC}).chart(graph{From: now, Now: now, To: now}, lines{title: "Pressure"}); !c.Empty || c.Line != "" {
		t.Errorf("%+v", c)
	}
}

// TestContrast works out every pair of colours that carries text, in both
// schemes. At least 4.5 to 1, and 3 to 1 for what is drawn (WCAG 2.1, 1.4.3
// and 1.4.11; luminance by its definition there).
func TestContrast(t *testing.T) {
	css, err := pageFiles.ReadFile("page/page.css")
	if err != nil {
		t.Fatal(err)
	}
	blocks := regexp.MustCompile(`:root \{([^}]*)\}`).FindAllSubmatch(css, -1)
	if len(blocks) != 2 {
		t.Fatal(len(blocks), "schemes")
	}
	for i, scheme := range []string{"light", "dark"} {
		colours := map[string]float64{}
		for _, m := range regexp.MustCompile(`--([a-z-]+): #([0-9a-f]{6})`).FindAllStringSubmatch(string(blocks[i][1]), -1) {
			colours[m[1]] = luminance(t, m[2])
		}
		for _, pair := range []struct {
			over, on string
			least    float64
		}{
			{"ink", "paper", 4.5}, {"ink", "card", 4.5}, {"soft", "paper", 4.5}, {"soft", "card", 4.5}, {"accent", "paper", 4.5}, {"accent", "card", 4.5},
			{"danger", "danger-paper", 4.5}, {"ink", "danger-paper", 4.5}, {"warning", "warning-paper", 4.5}, {"ink", "warning-paper", 4.5},
			{"notice", "notice-paper", 4.5}, {"ink", "notice-paper", 4.5}, {"danger", "card", 4.5}, {"danger", "paper", 4.5}, {"warning", "card", 4.5},
			{"button-ink", "button", 4.5}, {"ink", "line", 3}, {"ink", "fill", 3}, {"accent", "paper", 3},
		} {
			if got := contrast(colours[pair.over], colours[pair.on]); got < pair.least {
				t.Errorf("%s: %s on %s is %.2f to 1", scheme, pair.over, pair.on, got)
			}
		}
	}
}

func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	n, err := strconv.ParseUint(hex, 16, 32)
	if err != nil {
		t.Fatal(err)
	}
	linear := func(shift uint) float64 {
		c := float64(n>>shift&0xff) / 255
		if c <= 0.03928 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(16) + 0.7152*linear(8) + 0.0722*linear(0)
}

func contrast(a, b float64) float64 {
	return (math.Max(a, b) + 0.05) / (math.Min(a, b) + 0.05)
}

// A lot without a gauge says whose tells of its yeast, on its page and by the API.
func TestWhoseGaugeALotGoesBy(t *testing.T) {
	f := newFake()
	v := pantry()
	v.Lots[0].Document.GaugeBottle, v.Lots[0].Gauge, v.Lots[0].YeastAsIn = nil, "", "Invented stout"
	f.view = v
	url := serve(t, f, "")
	if _, body := ask(t, "GET", url+"/lots/spruce-tip-04", ""); !strings.Contains(body, "none; its yeast is taken to be as brisk as in “Invented stout”") {
		t.Error("the page doesn't say it")
	}
	if _, body := ask(t, "GET", url+"/api/v1/lots/spruce-tip-04", ""); !strings.Contains(body, `"yeast_as_in":"Invented stout"`) {
		t.Error("the API doesn't say it")
	}
}
