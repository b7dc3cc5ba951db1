package web

import (
	"math"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"conditiond/model"
)

// Figures of a reader's units, from outside: 1 bar = 14.5038 psi, 1 psi = 6.894757
// kPa and 20 °C = 68 °F (NIST SP 811, from memory); a volume of CO2 weighs
// 1.96 to 1.98 g/L (by the molar mass over the ideal and the real gas's volume).
func TestUnits(t *testing.T) {
	psi := units{Pressure: "psi"}.pressure()
	kpa := units{Pressure: "kPa"}.pressure()
	for _, c := range []struct{ got, want, by float64 }{
		{psi.of(1), 14.5038, 0.0001}, {kpa.of(1) / psi.of(1), 6.894757, 0.00001}, {units{Temperature: "degF"}.temperature().of(20), 68, 1e-9},
		{units{Temperature: "degF"}.temperature().back(68), 20, 1e-9}, {units{Gas: "g/L"}.gas().of(1), 1.97, 0.011},
		{units{}.pressure().of(3), 3, 0}, {units{Temperature: "kelvin"}.temperature().of(3), 3, 0},
	} {
		if math.Abs(c.got-c.want) > c.by {
			t.Errorf("%v, want %v", c.got, c.want)
		}
	}
	u := units{Pressure: "psi", Temperature: "degF", Gas: "g/L"}
	for _, c := range []struct{ got, want string }{
		{u.bar(5), "72.5 psi"}, {u.celsius(-1), "30.2 °F"}, {u.volumes(2.5), "4.9"}, {u.value(model.Pressure, 1), "14.5 psi"},
		{units{Pressure: "kPa"}.bar(1.12), "112 kPa"}, {units{}.value(model.Temperature, 19.55), "19.6 °C"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

// Words that were written for everybody keep what they say; a reader's own units
// stand in brackets behind.
func TestGloss(t *testing.T) {
	u := units{Pressure: "psi", Temperature: "degF", Gas: "g/L"}
	for text, want := range map[string]string{
		"The gauge read 4.31 bar at 18:59.":          "The gauge read 4.31 bar (62.5\u00a0psi) at 18:59.",
		"stands at 9.9 °C, slow":                     "stands at 9.9 °C (49.8\u00a0°F), slow",
		"at −1.5 °C":                                 "at −1.5 °C (29.3\u00a0°F)",
		"Warm it to 20–22 °C.":                       "Warm it to 20–22 °C (68.0–71.6\u00a0°F).",
		"done at 2.3 (2.2 to 2.4) volumes, by it":    "done at 2.3 (2.2 to 2.4) volumes (4.5, 4.3 to 4.7\u00a0g/L), by it",
		"<td>2.1\u00a0bar</td>":                      "<td>2.1\u00a0bar (30.5\u00a0psi)</td>",
		"3 barrels, 2 days, the barometer at lot-04": "3 barrels, 2 days, the barometer at lot-04",
	} {
		if got := u.gloss(text); got != want {
			t.Errorf("%q, want %q", got, want)
		}
		if got := (units{}).gloss(text); got != text {
			t.Errorf("in our own units: %q", got)
		}
	}
}

// chooses a reader's units and zone on the settings page and returns the cookie.
func chooses(t *testing.T, base string, form url.Values) string {
	t.Helper()
	a, body := ask(t, http.MethodPost, base+"/settings", form.Encode(), "Content-Type", formType)
	if a.StatusCode != http.StatusSeeOther {
		t.Fatal(a.Status, body)
	}
	c := a.Cookies()
	if len(c) != 1 || !c[0].HttpOnly || c[0].SameSite != http.SameSiteLaxMode || c[0].MaxAge < 300*86400 {
		t.Fatalf("%+v", c)
	}
	return c[0].Name + "=" + c[0].Value
}

// TestReader: what somebody chose holds on every page, and on no answer to a
// program.
func TestReader(t *testing.T) {
	f := newFake()
	f.view = inDanger(pantry())
	base := serve(t, f, "")
	cookie := chooses(t, base, url.Values{"pressure": {"psi"}, "temperature": {"degF"}, "gas": {"g/L"}, "zone": {"other"}, "name": {"America/New_York"}})
	for path, wants := range map[string][]string{
		"/":                          {"16.2 psi", "67.1 °F", "3.7</span> g/L", "62.5\u00a0psi", "Sun 8 Mar, 15:00"}, // 1.12 bar, 19.5 °C, 1.85 volumes, 4.31 bar; 19:00 UTC is 15:00 there, in summer time since that morning
		"/lots/spruce-tip-04":        {"target 4.9 g/L", "72.5 psi", "86.0 °F", "America/New_York", "CO2 in the beer, g/L"},
		"/lots/spruce-tip-04?days=2": {"72.5 psi"},
		"/plan":                      {`value="68"`, `value="86"`, `value="4.74"`, "°F", "psi", "time of America/New_York"},
		"/settings":                  {`<option value="psi" selected>`, `value="America/New_York"`},
	} {
		_, body := ask(t, http.MethodGet, base+path, "", "Cookie", cookie)
		for _, want := range wants {
			if !strings.Contains(body, want) {
				t.Errorf("%s doesn't say %q", path, want)
			}
		}
	}
	for _, path := range []string{"/api/v1/lots", "/api/v1/alerts", "/api/v1/lots/spruce-tip-04/series", "/api/v1/readings?sensor=gauge-a", "/api/v1/lots/spruce-tip-04/chart.svg"} {
		_, plain := ask(t, http.MethodGet, base+path, "")
		if _, body := ask(t, http.MethodGet, base+path, "", "Cookie", cookie); body != plain {
			t.Errorf("%s is another for a reader", path)
		}
	}
}

// TestZones: a choice goes before what the device says, and that before the
// site's; nonsense is nobody's zone.
func TestZones(t *testing.T) {
	base := serve(t, newFake(), "")
	device := zoneCookie + "=Asia/Tokyo"
	site := chooses(t, base, url.Values{"zone": {"site"}})
	other := chooses(t, base, url.Values{"zone": {"other"}, "name": {"Europe/Oslo"}})
	for _, c := range []struct{ cookies, want string }{
		{"", "20:00"}, {device, "04:00"}, {device + "; " + site, "20:00"}, {device + "; " + other, "20:00"}, {zoneCookie + "=America/Denver; " + other, "20:00"},
		{zoneCookie + "=America/Denver", "13:00"}, {zoneCookie + "=../../etc/passwd", "20:00"}, {zoneCookie + "=Local", "20:00"},
		{readerCookie + "=%zz&zone=;;", "20:00"},
	} {
		if _, body := ask(t, http.MethodGet, base+"/", "", "Cookie", c.cookies); !strings.Contains(body, c.want+" (just now)") {
			t.Errorf("with %q it isn't %s", c.cookies, c.want)
		}
	}
	a, body := ask(t, http.MethodPost, base+"/settings", "zone=other&name=Atlantis", "Content-Type", formType)
	if a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(body, "is Atlantis") || len(a.Cookies()) > 0 {
		t.Error(a.Status, a.Cookies())
	}
	a, _ = ask(t, http.MethodPost, base+"/settings", "pressure=%3Cscript%3E&back=//evil.example", "Content-Type", formType)
	if a.Header.Get("Location") != "/" || strings.Contains(a.Header.Get("Set-Cookie"), "script") {
		t.Error(a.Header)
	}
}

// TestPlanInAReadersUnits: what is typed in a reader's units plans the same lot,
// whoever's cookie comes with it, and the sheet tells them beside its own.
func TestPlanInAReadersUnits(t *testing.T) {
	base := serve(t, newFake(), "")
	_, _, plain := post(t, base, bucket())
	form := with(bucket(), "beer.warmest_c", "68", "worst_case_c", "86", "target_volumes", "4.9425", "bottles[0].rated_bar", "72.51887",
		"reader", reader{units: units{Pressure: "psi", Temperature: "degF", Gas: "g/L"}}.String())
	status, _, body := post(t, base, form)
	if status != 200 || seen(t, body) != seen(t, plain) {
		t.Errorf("%d: another lot than in bar, °C and volumes", status)
	}
	if !strings.Contains(body, "86 °C") && !strings.Contains(body, "30 °C (86.0") {
		t.Error("the sheet has no °F beside its °C")
	}
}
