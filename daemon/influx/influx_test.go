package influx

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"
)

const token = "sesame-8f3a2c"

var noon = time.Date(2026, 3, 1, 12, 0, 0, 123456789, time.UTC)

// stub answers writes as the test says and remembers the lines it took.
type stub struct {
	*httptest.Server
	answer   func(w http.ResponseWriter, lines []string) bool // whether it took them
	taken    []string
	requests int
}

func serve(t *testing.T, answer func(w http.ResponseWriter, lines []string) bool) *stub {
	s := &stub{answer: answer}
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		lines := strings.Split(strings.TrimSpace(string(body)), "\n")
		s.requests++
		if got := r.Method + " " + r.URL.String() + " " + r.Header.Get("Authorization"); got != "POST /api/v2/write?bucket=cellar&org=home&precision=ns Token "+token {
			t.Errorf("asked %s", got)
		}
		if s.answer(w, lines) {
			s.taken = append(s.taken, lines...)
		}
	}))
	t.Cleanup(s.Close)
	return s
}

func took(w http.ResponseWriter, _ []string) bool {
	w.WriteHeader(http.StatusNoContent)
	return true
}

// sink writes to url; what it logs is in the buffer.
func sink(t *testing.T, url string) (*Sink, *bytes.Buffer) {
	t.Helper()
	log := new(bytes.Buffer)
	s, err := New(Config{URL: url, Org: "home", Bucket: "cellar", Token: token, Timeout: 2 * time.Second},
		slog.New(slog.NewTextHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug})))
	if err != nil {
		t.Fatal(err)
	}
	return s, log
}

// points are n readings of an invented sensor, a second apart.
func points(n int) []Point {
	var points []Point
	for i := range n {
		points = append(points, reading("stairs-air", noon.Add(time.Duration(i)*time.Second), 18.4))
	}
	return points
}

func reading(sensor string, at time.Time, celsius float64) Point {
	return Point{"reading", map[string]string{"sensor": sensor, "quantity": "temperature", "space": ""},
		map[string]any{"temperature_c": celsius}, at}
}

func TestLinesAsTheyAreSent(t *testing.T) {
	// The line protocol: https://docs.influxdata.com/influxdb/v2/reference/syntax/line-protocol/
	server := serve(t, took)
	s, _ := sink(t, server.URL)
	err := s.Write(t.Context(), []Point{
		reading("stairs air,b=c", noon.In(time.FixedZone("", 3600)), math.Nextafter(18.4, 19)),
		{"alert", map[string]string{"lot": "l", "alert": "leak", "severity": "warning"},
			map[string]any{"summary": `say "x" \`, "raised": true, "bar": 1e-7, "none": math.NaN()}, noon.Truncate(time.Second)},
		reading("b", noon, -0.5),
	})
	want := []string{
		`reading,quantity=temperature,sensor=stairs\ air\,b\=c temperature_c=18.400000000000002 1772366400123456789`,
		`alert,alert=leak,lot=l,severity=warning bar=0.0000001,raised=true,summary="say \"x\" \\" 1772366400000000000`,
		`reading,quantity=temperature,sensor=b temperature_c=-0.5 1772366400123456789`,
	}
	if err != nil || !slices.Equal(server.taken, want) {
		t.Errorf("%v, sent\n%s\nwant\n%s", err, strings.Join(server.taken, "\n"), strings.Join(want, "\n"))
	}
}

func TestBadPointsAreSetAside(t *testing.T) {
	good := points(99)
	for name, bad := range map[string]Point{
		"NaN":              reading("a", noon, math.NaN()),
		"infinite":         reading("a", noon, math.Inf(-1)),
		"zero time":        reading("a", time.Time{}, 1),
		"1970":             reading("a", time.Unix(20, 0), 1),
		"too late":         reading("a", time.Date(2300, 1, 1, 0, 0, 0, 0, time.UTC), 1),
		"integer":          {"reading", nil, map[string]any{"temperature_c": 18}, noon},
		"no field":         {"reading", nil, nil, noon},
		"no measurement":   {"", nil, map[string]any{"a": 1.0}, noon},
		"line break":       reading("a\nb", noon, 1),
		"backslash at end": reading(`a\`, noon, 1),
	} {
		t.Run(name, func(t *testing.T) {
			server := serve(t, took)
			s, log := sink(t, server.URL)
			err := s.Write(t.Context(), slices.Insert(slices.Clone(good), 50, bad))
			if err != nil || len(server.taken) != 99 || s.Aside().Points != 1 {
				t.Errorf("%v, %d taken, aside %+v", err, len(server.taken), s.Aside())
			}
			if strings.Count(log.String(), "set aside") != 1 {
				t.Errorf("log: %s", log)
			}
		})
	}
}

func TestRefusedBatchIsHalved(t *testing.T) {
	conflict := `{"code":"unprocessable entity","message":"failure writing points to database: partial write: field type conflict: input field \"temperature_c\" on measurement \"reading\" is type float, already exists as type string dropped=1"}`
	for _, status := range []int{400, 422} {
		server := serve(t, func(w http.ResponseWriter, lines []string) bool {
			if slices.ContainsFunc(lines, func(l string) bool { return strings.Contains(l, "sensor=bad") }) {
				w.Header().Set("Content-Type", "application/json")
				w.WriteHeader(status)
				io.WriteString(w, conflict)
				return false
			}
			return took(w, lines)
		})
		s, _ := sink(t, server.URL)
		err := s.Write(t.Context(), slices.Insert(points(49), 17, reading("bad", noon, 1)))
		if err != nil || len(server.taken) != 49 || s.Aside().Points != 1 {
			t.Errorf("%d: %v, %d taken, aside %+v", status, err, len(server.taken), s.Aside())
		}
		if r := s.Aside().Reason; !strings.Contains(r, "sensor=bad") || !strings.Contains(r, "temperature_c") {
			t.Errorf("%d: the reason is %s", status, r)
		}
	}
}

func TestTooLargeIsHalved(t *testing.T) {
	server := serve(t, func(w http.ResponseWriter, lines []string) bool {
		all := strings.Join(lines, "\n")
		if len(all) > 10_000 || strings.Contains(all, "huge") {
			w.WriteHeader(http.StatusRequestEntityTooLarge)
			return false
		}
		return took(w, lines)
	})
	s, _ := sink(t, server.URL)
	err := s.Write(t.Context(), append(points(2500), reading("huge", noon, 1)))
	if err != nil || len(server.taken) != 2500 || s.Aside().Points != 1 {
		t.Errorf("%v, %d taken, aside %+v", err, len(server.taken), s.Aside())
	}
}

func TestTooOldIsNotSearchedFor(t *testing.T) {
	server := serve(t, func(w http.ResponseWriter, lines []string) bool {
		w.WriteHeader(http.StatusUnprocessableEntity)
		io.WriteString(w, `{"code":"unprocessable entity","message":"partial write: points beyond retention policy dropped=30"}`)
		return true
	})
	s, _ := sink(t, server.URL)
	if err := s.Write(t.Context(), points(50)); err != nil || server.requests != 1 || s.Aside().Points != 30 {
		t.Errorf("%v, %d requests, aside %+v", err, server.requests, s.Aside())
	}
}

// answers that are no success, and what is made of them.
func TestAnswersThatAreNoSuccess(t *testing.T) {
	page := "<!DOCTYPE html><html><title>Welcome! Please log in</title></html>"
	for _, c := range []struct {
		name      string
		status    int
		header    string // Name: value
		body      string
		unhealthy bool
		wait      time.Duration
		says      string
	}{
		{"busy", 429, "Retry-After: 3600", "", false, time.Hour, "429"},
		{"negative wait", 429, "Retry-After: -1", "", false, 0, "429"},
		{"no number", 429, "Retry-After: abc", "", false, 0, "429"},
		{"a date", 503, "Retry-After: Thu, 01 Jan 1970 00:00:00 GMT", "", false, 0, "503"},
		{"49 days", 429, "Retry-After: 4294967", "", false, 4294967 * time.Second, "429"},
		{"136 years", 429, "Retry-After: 4294967295", "", false, 4294967295 * time.Second, "429"},
		{"too long to count", 429, "Retry-After: 1000000000000", "", false, 0, "429"},
		{"down", 503, "X-Influxdb-Error: engine stopped", "", false, 0, "engine stopped"},
		{"broken gateway", 502, "", page, false, 0, "text/html"},
		{"token", 401, "", `{"code":"unauthorized","message":"unauthorized access"}`, true, whileUnhealthy, "token must be"},
		{"token repeated", 401, "", "bad token " + token, true, whileUnhealthy, "bad token …"},
		{"may not write", 403, "", `{"error":"not allowed"}`, true, whileUnhealthy, "not allowed"},
		{"bucket", 404, "", `{"message":"bucket \"cellar\" not found"}`, true, whileUnhealthy, `bucket "cellar" not found`},
		{"login page", 200, "", page, true, whileUnhealthy, "login page"},
		{"empty 200", 200, "", "", true, whileUnhealthy, "200"},
		{"redirect", 302, "Location: http://127.0.0.1:1/elsewhere", "", true, whileUnhealthy, "redirect"},
		{"moved", 307, "Location: /elsewhere", "", true, whileUnhealthy, "redirect"},
		{"a long page", 500, "", strings.Repeat("x ", 1<<20), false, 0, "x x"},
	} {
		t.Run(c.name, func(t *testing.T) {
			server := serve(t, func(w http.ResponseWriter, lines []string) bool {
				if name, value, ok := strings.Cut(c.header, ": "); ok {
					w.Header().Set(name, value)
				}
				w.WriteHeader(c.status)
				io.WriteString(w, c.body)
				return false
			})
			s, log := sink(t, server.URL)
			err := s.Write(t.Context(), points(3))
			var e *Error
			if !errors.As(err, &e) || e.Unhealthy != c.unhealthy || e.RetryAfter() != c.wait || e.Status != c.status {
				t.Fatalf("%#v", err)
			}
			if text := err.Error(); !strings.Contains(text, c.says) || len(text) > 700 {
				t.Errorf("it says: %s", text)
			}
			if server.requests != 1 || s.Aside().Points != 0 {
				t.Errorf("%d requests, aside %+v", server.requests, s.Aside())
			}
			if all := log.String() + err.Error() + fmt.Sprintf("%+v %#v", err, err); strings.Contains(all, token) {
				t.Errorf("the token is told: %s", all)
			}
		})
	}
}

func TestServerThatIsNotThere(t *testing.T) {
	server := serve(t, took)
	url := server.URL
	server.Close()
	for _, url := range []string{url, "http://sensor-mirror.invalid:8086"} {
		s, log := sink(t, url)
		err := s.Write(t.Context(), points(1))
		var e *Error
		if !errors.As(err, &e) || e.Unhealthy || e.Status != 0 || strings.Contains(err.Error()+log.String(), token) {
			t.Errorf("%s: %v; log %s", url, err, log)
		}
	}
}

func TestServerThatNeverAnswers(t *testing.T) {
	release := make(chan struct{})
	server := serve(t, func(http.ResponseWriter, []string) bool { <-release; return false })
	t.Cleanup(func() { close(release) })
	s, err := New(Config{URL: server.URL, Org: "home", Bucket: "cellar", Token: token, Timeout: 50 * time.Millisecond}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	var e *Error
	if err := s.Write(t.Context(), points(1)); !errors.As(err, &e) || e.Unhealthy {
		t.Error(err)
	}
}

// TestProxy runs itself again with a proxy in the environment, which a process
// reads only once.
func TestProxy(t *testing.T) {
	if os.Getenv("INFLUX_TEST_PROXY") == "" {
		asked := make(chan string, 10)
		proxy := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			asked <- r.URL.Host
			took(w, nil)
		}))
		defer proxy.Close()
		cmd := exec.Command(os.Args[0], "-test.run=^TestProxy$")
		cmd.Env = append(os.Environ(), "INFLUX_TEST_PROXY=1", "HTTP_PROXY="+proxy.URL, "NO_PROXY=")
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("%v: %s", err, out)
		}
		close(asked)
		if host := <-asked; host != "influx.invalid:8086" || len(asked) > 0 {
			t.Errorf("the proxy was asked for %q and %d more", host, len(asked))
		}
		return
	}
	server := serve(t, took)
	for _, url := range []string{server.URL, "http://influx.invalid:8086"} {
		s, _ := sink(t, url)
		if err := s.Write(t.Context(), points(1)); err != nil {
			t.Error(err)
		}
	}
	if server.requests != 1 {
		t.Errorf("this machine's server was asked %d times", server.requests)
	}
}

func TestConfigThatCannotBe(t *testing.T) {
	for _, c := range []Config{
		{},
		{URL: "127.0.0.1:8086", Token: token},
		{URL: "ftp://127.0.0.1", Token: token},
		{URL: "http://user:" + token + "@127.0.0.1:8086"},
		{URL: "http://127.0.0.1:8086?token=" + token},
		{URL: "http://127.0.0.1:bad" + token},
		{URL: "http://127.0.0.1:8086", Token: token + "\n"},
	} {
		_, err := New(c, slog.New(slog.DiscardHandler))
		if err == nil || strings.Contains(err.Error(), token) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}
