package web

import (
	"log/slog"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"conditiond/daemon/engine"
)

func TestPasswordNeeded(t *testing.T) {
	log := slog.New(slog.DiscardHandler)
	for _, listen := range []string{"0.0.0.0:0", ":0", "[::]:0", "192.0.2.1:80", "pi.local:80"} {
		if _, err := New(Config{Listen: listen}, newFake(), log); err == nil || !strings.Contains(err.Error(), "password_file") {
			t.Errorf("%s: %v", listen, err)
		}
	}
}

func TestNothingWithoutPassword(t *testing.T) {
	url := serve(t, newFake(), "correct horse")
	for _, path := range []string{"/api/v1/lots", "/api/v1/lots/spruce-tip-04", "/api/v1/readings?sensor=gauge-a", "/api/v1/alerts", "/api/v1/events", "/metrics"} {
		a, body := ask(t, "GET", url+path, "")
		if a.StatusCode != 401 || !strings.HasPrefix(a.Header.Get("WWW-Authenticate"), "Basic") || strings.Contains(body, "Spruce") {
			t.Errorf("%s: %s", path, a.Status)
		}
	}
	for _, path := range []string{"/", "/lots/spruce-tip-04"} {
		a, body := ask(t, "GET", url+path, "")
		if a.StatusCode != 303 || !strings.HasPrefix(a.Header.Get("Location"), "/login?next=") || strings.Contains(body, "Spruce") {
			t.Errorf("%s: %s %s", path, a.Status, a.Header.Get("Location"))
		}
	}
	if _, body := ask(t, "GET", url+"/login", ""); strings.Contains(body, "Pantry") {
		t.Error("the login tells the site's name")
	}
}

func TestBasic(t *testing.T) {
	f := newFake()
	address := serve(t, f, "correct horse")
	good := strings.Replace(address, "http://", "http://kim:correct%20horse@", 1)
	if a, _ := ask(t, "GET", good+"/api/v1/lots", ""); a.StatusCode != 200 {
		t.Error(a.Status)
	}
	if a, _ := ask(t, "POST", good+"/api/v1/alerts/x/acknowledge", ""); a.StatusCode != 200 {
		t.Error(a.Status)
	}
	if in, _ := f.last(); in.Acknowledge == nil || in.Acknowledge.By != "kim" {
		t.Errorf("%+v", in.Acknowledge)
	}
}

func TestGuessing(t *testing.T) {
	address := serve(t, newFake(), "correct horse")
	guess := func(password string) int {
		a, _ := ask(t, "GET", strings.Replace(address, "http://", "http://x:"+password+"@", 1)+"/api/v1/lots", "")
		return a.StatusCode
	}
	for i := range maxFailures {
		if got := guess("wrong"); got != 401 {
			t.Fatalf("guess %d: %d", i, got)
		}
	}
	if got := guess("correct%20horse"); got != 429 {
		t.Error("after the last allowed guess: ", got)
	}
}

func TestGuessesAreForgotten(t *testing.T) {
	a, err := newAuth("correct horse")
	if err != nil {
		t.Fatal(err)
	}
	a.guesses["192.0.2.1"] = guess{count: maxFailures, until: time.Now().Add(-time.Second)}
	if a.barred("192.0.2.1") > 0 {
		t.Error("still barred after the time is over")
	}
	a.wrong("192.0.2.1")
	if n := a.guesses["192.0.2.1"].count; n != 1 {
		t.Error("count goes on from ", n)
	}
}

func TestLogin(t *testing.T) {
	f := newFake()
	address := serve(t, f, "correct horse")
	form := url.Values{"password": {"correct horse"}, "name": {"Kim"}, "next": {"/lots/spruce-tip-04"}}
	a, _ := ask(t, "POST", address+"/login", form.Encode(), "Content-Type", "application/x-www-form-urlencoded")
	if a.StatusCode != 303 || a.Header.Get("Location") != "/lots/spruce-tip-04" {
		t.Fatal(a.Status, a.Header)
	}
	set := a.Header.Get("Set-Cookie")
	if !strings.Contains(set, "HttpOnly") || !strings.Contains(set, "SameSite=Strict") {
		t.Error(set)
	}
	cookie := strings.SplitN(set, ";", 2)[0]
	if a, body := ask(t, "GET", address+"/", "", "Cookie", cookie); a.StatusCode != 200 || !strings.Contains(body, "Spruce tip ale") {
		t.Error(a.Status)
	}
	if a, _ := ask(t, "POST", address+"/alerts/x/acknowledge", "back=/", "Cookie", cookie, "Content-Type", "application/x-www-form-urlencoded"); a.StatusCode != 303 {
		t.Error(a.Status)
	}
	if in, _ := f.last(); in.Acknowledge == nil || in.Acknowledge.By != "Kim" {
		t.Errorf("%+v", in)
	}
	ask(t, "POST", address+"/logout", "", "Cookie", cookie)
	if a, _ := ask(t, "GET", address+"/", "", "Cookie", cookie); a.StatusCode != 303 {
		t.Error("the session outlived the logout: ", a.Status)
	}
}

func TestWrongLogin(t *testing.T) {
	a, body := ask(t, "POST", serve(t, newFake(), "correct horse")+"/login", "password=correct+house", "Content-Type", "application/x-www-form-urlencoded")
	if a.StatusCode != 401 || a.Header.Get("Set-Cookie") != "" || !strings.Contains(body, "wrong") || strings.Contains(body, "house") {
		t.Error(a.Status, body)
	}
}

func TestWayBackStaysHere(t *testing.T) {
	for _, next := range []string{"", "https://evil.example", "//evil.example", "/\\evil.example", "/\t/evil.example", "javascript:alert(1)"} {
		if got := ownPath(next); got != "/" {
			t.Errorf("%q leads to %q", next, got)
		}
	}
	if got := ownPath("/lots/a?days=2"); got != "/lots/a?days=2" {
		t.Error(got)
	}
}

// TestForeignPages may not write, by either of the headers that browsers send.
func TestForeignPages(t *testing.T) {
	f := newFake()
	address := serve(t, f, "")
	path := address + "/alerts/x/acknowledge"
	for _, h := range [][]string{{"Origin", "https://evil.example"}, {"Origin", "null"}, {"Sec-Fetch-Site", "cross-site"}, {"Sec-Fetch-Site", "same-site"}} {
		a, _ := ask(t, "POST", path, "", h...)
		if _, n := f.last(); a.StatusCode != 403 || n != 0 {
			t.Errorf("%v: %s, %d done", h, a.Status, n)
		}
	}
	if a, _ := ask(t, "POST", path, "", "Origin", address); a.StatusCode != 303 {
		t.Error("our own page: ", a.Status)
	}
}

func TestFormsDontReachTheAPI(t *testing.T) {
	f := newFake()
	a, body := ask(t, "POST", serve(t, f, "")+"/api/v1/lots", `{"id":"a"}`, "Content-Type", "text/plain")
	if _, n := f.last(); a.StatusCode != 415 || n != 0 || !strings.Contains(body, "application/json") {
		t.Error(a.Status, n, body)
	}
}

// TestForeignNames: a name rebound to the loopback address reads nothing.
func TestForeignNames(t *testing.T) {
	address := serve(t, newFake(), "")
	if a, body := ask(t, "GET", address+"/", "", "Host", "evil.example"); a.StatusCode != http.StatusMisdirectedRequest || strings.Contains(body, "Spruce") {
		t.Error(a.Status)
	}
	for _, host := range []string{"localhost:8080", "127.0.0.1", "[::1]:80"} {
		if a, _ := ask(t, "GET", address+"/", "", "Host", host); a.StatusCode != 200 {
			t.Error(host, a.Status)
		}
	}
}

func TestHeaders(t *testing.T) {
	a, body := ask(t, "GET", serve(t, newFake(), "")+"/", "")
	policy := a.Header.Get("Content-Security-Policy")
	if !strings.Contains(policy, "default-src 'none'") || strings.Contains(policy, "unsafe") || a.Header.Get("X-Content-Type-Options") != "nosniff" {
		t.Error(a.Header)
	}
	for _, never := range []string{" style=", " onclick=", "http://", "https://", "<script>"} {
		if strings.Contains(body, never) {
			t.Errorf("the page has %q", never)
		}
	}
	styles := regexp.MustCompile(`(?s)<style[^>]*>(.*?)</style>`).FindAllStringSubmatch(body, -1)
	if len(styles) != 1 || len(styles[0][1]) < 1000 || !strings.Contains(policy, "'"+hashed(styles[0][1])+"'") {
		t.Errorf("%d styles, and not the one that %q lets pass", len(styles), policy)
	}
}

// TestHostileWords: whatever a sensor or a person writes is text on the page.
func TestHostileWords(t *testing.T) {
	const evil = `"><script>alert(1)</script><img src=x onerror=alert(1)>`
	f := newFake()
	f.view = inDanger(pantry())
	l, s := &f.view.Lots[0], &f.view.Sensors[0]
	l.Document.Name, l.Document.Space, l.Weakest = evil, evil, evil
	l.Notes = []engine.NoteView{{At: now, Text: evil}}
	l.Document.ID = `a/../"><script>`
	s.Name, s.Topic, s.Last.Payload, s.Last.Reason = evil, evil, evil, evil
	f.view.Alerts[0].ID, f.view.Alerts[0].Lot, f.view.Alerts[0].Summary, f.view.Alerts[0].Advice = evil, l.Document.ID, evil, evil
	l.Alerts = f.view.Alerts
	f.health.Broker = Part{Problem: evil}
	address := serve(t, f, "")
	for _, path := range []string{"/", "/lots/" + url.PathEscape(l.Document.ID), "/lots/" + url.PathEscape(evil)} {
		_, body := ask(t, "GET", address+path, "")
		if strings.Contains(body, "<script>") || strings.Contains(body, "<img src=x") {
			t.Errorf("%s: a hostile word became markup", path)
		}
	}
	if _, body := ask(t, "GET", address+"/", ""); !strings.Contains(body, "&lt;script&gt;") {
		t.Error("the hostile words are not shown at all")
	}
}

// TestNothingCalledSafe: the word is never used of bottles (trade rule).
func TestNothingCalledSafe(t *testing.T) {
	for name, v := range scenes() {
		f := newFake()
		f.view = v
		address := serve(t, f, "")
		if _, body := ask(t, "GET", address+"/", ""); strings.Contains(strings.ToLower(body), "safe") {
			t.Error(name)
		}
	}
}
