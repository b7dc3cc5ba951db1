package web

import (
	"bufio"
	"fmt"
	"io"
	"maps"
	"net"
	"net/http"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

// writes are all addresses that change something, read from the table in
// web.go, so that none is forgotten here.
func writes(t *testing.T) []string {
	t.Helper()
	source, err := os.ReadFile("web.go")
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, m := range regexp.MustCompile(`"(?:POST|PUT|PATCH|DELETE) (/[^"]*)"`).FindAllStringSubmatch(string(source), -1) {
		out = append(out, strings.NewReplacer("{id}", "spruce-tip-04", "{deed}", "note").Replace(m[1]))
	}
	if len(out) < 8 || !slices.Contains(out, "/api/v1/lots") {
		t.Fatalf("found only %q", out)
	}
	return out
}

// body that an address takes, and its kind.
func bodyFor(path string) (body, kind string) {
	if strings.HasPrefix(path, "/api/") {
		return `{"text":"seen"}`, "application/json"
	}
	return "text=seen&back=/", "application/x-www-form-urlencoded"
}

// TestProbeWrites is what somebody tries who has no business here: every write
// without a session, with a wrong password, from another site's page though
// with a session, and with a body that is too large. Nothing gets through.
func TestProbeWrites(t *testing.T) {
	f := newFake()
	address := serve(t, f, "correct horse")
	login, _ := ask(t, "POST", address+"/login", "password=correct+horse&name=Kim", "Content-Type", "application/x-www-form-urlencoded")
	cookie, _, _ := strings.Cut(login.Header.Get("Set-Cookie"), ";")
	if login.StatusCode != http.StatusSeeOther || cookie == "" {
		t.Fatal(login.Status, login.Header)
	}
	for _, path := range writes(t) {
		api := strings.HasPrefix(path, "/api/")
		body, kind := bodyFor(path)
		refused := func(how string, want int, body string, headers ...string) {
			t.Helper()
			a, answer := ask(t, "POST", address+path, body, append([]string{"Content-Type", kind}, headers...)...)
			t.Logf("POST %s %s: %s", path, how, a.Status)
			if a.StatusCode != want {
				t.Errorf("POST %s %s: %s, want %d", path, how, a.Status, want)
			}
			if strings.Contains(answer, "Spruce") || a.Header.Get("Set-Cookie") != "" && want != http.StatusSeeOther {
				t.Errorf("POST %s %s tells or grants something", path, how)
			}
		}
		if path != "/login" {
			refused("without a session", map[bool]int{true: 401, false: 303}[api], body)
			refused("with a made-up session", map[bool]int{true: 401, false: 303}[api], body, "Cookie", cookieName+"=AAAAAAAAAAAAAAAAAAAAAAAAAA")
		}
		for _, h := range [][]string{{"Origin", "https://evil.example"}, {"Origin", "null"}, {"Sec-Fetch-Site", "cross-site"}, {"Sec-Fetch-Site", "same-site"}} {
			refused("from "+strings.Join(h, " "), 403, body, append(h, "Cookie", cookie)...)
		}
		if path != "/logout" { // which reads no body
			refused("with too much", 413, strings.Repeat("x", maxBody+1), "Cookie", cookie)
		}
	}
	if _, n := f.last(); n != 0 {
		t.Errorf("%d things were done", n)
	}
}

// TestProbeGuesses: wrong passwords count together, by whichever door, and
// after five of them the right one doesn't help either for a while.
func TestProbeGuesses(t *testing.T) {
	f := newFake()
	address := serve(t, f, "correct horse")
	byForm := func(password string) int {
		a, _ := ask(t, "POST", address+"/login", "password="+password, "Content-Type", "application/x-www-form-urlencoded")
		return a.StatusCode
	}
	byBasic := func(path, password string) int {
		a, _ := ask(t, "POST", strings.Replace(address, "http://", "http://kim:"+password+"@", 1)+path, `{}`, "Content-Type", "application/json")
		return a.StatusCode
	}
	for i, got := range []int{byForm("a"), byBasic("/api/v1/lots", "b"), byForm("c"), byBasic("/api/v1/lots", "d"), byForm("e")} {
		if got != 401 {
			t.Errorf("guess %d: %d", i, got)
		}
	}
	for i, got := range []int{byForm("correct+horse"), byBasic("/api/v1/lots", "correct%20horse"), byBasic("/api/v1/alerts/x/acknowledge", "correct%20horse")} {
		if got != 429 {
			t.Errorf("after too many, way %d: %d", i, got)
		}
	}
	if _, n := f.last(); n != 0 {
		t.Errorf("%d things were done", n)
	}
}

// TestProbeHeaders prints the headers of each kind of answer, and wants those
// that keep a browser from harm in all of them (OWASP Secure Headers, from
// memory).
func TestProbeHeaders(t *testing.T) {
	address := serve(t, newFake(), "correct horse")
	good := strings.Replace(address, "http://", "http://kim:correct%20horse@", 1)
	for _, url := range []string{good + "/", good + "/lots/spruce-tip-04", good + "/plan", good + "/api/v1/lots", good + "/metrics", good + "/nowhere",
		good + "/api/v1/nowhere", address + "/", address + "/login", address + "/static/page.js", address + "/api/v1/lots", address + "/readyz"} {
		a, _ := ask(t, "GET", url, "")
		var lines []string
		for _, k := range slices.Sorted(maps.Keys(a.Header)) {
			lines = append(lines, k+": "+strings.Join(a.Header[k], ", "))
		}
		path := url[strings.LastIndex(url, "127.0.0.1"):]
		t.Logf("GET %s\n  %s\n  %s", path, a.Status, strings.Join(lines, "\n  "))
		for name, want := range map[string]string{
			"Content-Security-Policy":      policy,
			"X-Content-Type-Options":       "nosniff",
			"Referrer-Policy":              "same-origin",
			"Cross-Origin-Resource-Policy": "same-origin",
		} {
			if got := a.Header.Get(name); got != want {
				t.Errorf("%s: %s is %q", path, name, got)
			}
		}
		if a.Header.Get("Content-Type") == "" && a.StatusCode/100 != 3 || a.Header.Get("Server") != "" || a.Header.Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("%s: %v", path, a.Header)
		}
	}
}

// TestProbeSlowClients: who sends a byte now and then is cut, and keeps nobody
// else out.
func TestProbeSlowClients(t *testing.T) {
	if testing.Short() {
		t.Skip("takes as long as the time-outs")
	}
	address := serve(t, newFake(), "")
	host := strings.TrimPrefix(address, "http://")
	for name, x := range map[string]struct {
		begin  string
		within time.Duration
	}{
		"headers": {"GET / HTTP/1.1\r\nHost: localhost\r\nX-A: ", headerTimeout},
		"body":    {"POST /api/v1/lots HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 60000\r\n\r\n{", readTimeout},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			began := time.Now()
			var lines []net.Conn
			for range 50 {
				c, err := net.Dial("tcp", host)
				if err != nil {
					t.Fatal(err)
				}
				defer c.Close()
				fmt.Fprint(c, x.begin)
				lines = append(lines, c)
			}
			if a, _ := ask(t, "GET", address+"/healthz", ""); a.StatusCode != 200 {
				t.Error("beside them: ", a.Status)
			}
			for _, c := range lines {
				c.SetReadDeadline(began.Add(x.within + 5*time.Second))
				if _, err := io.Copy(io.Discard, bufio.NewReader(c)); err != nil {
					t.Fatalf("not cut after %v: %v", time.Since(began), err)
				}
			}
			if d := time.Since(began); d < x.within-time.Second {
				t.Errorf("cut after %v", d)
			}
		})
	}
}

// TestProbeGiantHeaders are refused before they are read.
func TestProbeGiantHeaders(t *testing.T) {
	a, _ := ask(t, "GET", serve(t, newFake(), "")+"/", "", "X-Much", strings.Repeat("x", 64<<10))
	if a.StatusCode != http.StatusRequestHeaderFieldsTooLarge {
		t.Error(a.Status)
	}
}
