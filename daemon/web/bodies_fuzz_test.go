package web

import (
	"encoding/json"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
)

// bare is a server that doesn't listen for longer than it takes to make it.
func bare(f *testing.F) (http.Handler, *fake) {
	d := newFake()
	s, err := New(Config{Listen: "127.0.0.1:0"}, d, slog.New(slog.DiscardHandler))
	if err != nil {
		f.Fatal(err)
	}
	s.listener.Close()
	return s.handler(), d
}

// FuzzBodies: whatever is posted wherever is done, or refused as the sender's
// fault; the API says why in its own form.
func FuzzBodies(f *testing.F) {
	var paths []string
	for pattern := range new(Server).routes() {
		if path, ok := strings.CutPrefix(pattern, "POST "); ok {
			paths = append(paths, strings.NewReplacer("{id}", "spruce-tip-04", "{deed}", "note", "{name}", "gauge-a").Replace(path))
		}
	}
	if len(paths) < 10 {
		f.Fatal(paths)
	}
	for _, path := range paths {
		for _, body := range []string{`{"text":"seen"}`, `{"by":"Kim","until":"2026-03-08T12:00:00Z"}`, `{"out":true}`, `{"saw":"bang"}`, `{"volumes":2.92}`, `{"bar":1e999,"beer_c":4}`, "volumes=2,9&reader=gas%3Dg/L", "text=seen&back=/", "until=soon", `[]`, "\x00", `{"text":{}}`, "%zz"} {
			f.Add(path, body)
		}
	}
	h, d := bare(f)
	f.Fuzz(func(t *testing.T, path, body string) {
		d.did = nil
		target, err := url.ParseRequestURI(path)
		if err != nil || target.Host != "" || !strings.HasPrefix(path, "/") {
			return
		}
		kind := "application/x-www-form-urlencoded"
		if strings.HasPrefix(path, "/api/") {
			kind = jsonType
		}
		r := httptest.NewRequest("POST", "http://localhost/", strings.NewReader(body))
		r.URL, r.RequestURI = target, path
		r.Header.Set("Content-Type", kind)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		said(t, "POST "+path, w)
	})
}

// FuzzQuestions: whatever is asked of the API has an answer, or a reason.
func FuzzQuestions(f *testing.F) {
	for _, q := range []string{"/api/v1/readings?sensor=gauge-a&limit=9", "/api/v1/readings?sensor=gauge-a&from=2026-01-01T00:00:00Z&to=x",
		"/api/v1/lots/spruce-tip-04/series?points=1e9", "/api/v1/lots/spruce-tip-04/series?from=2026-03-01T00:00:00%2B01:00&points=3",
		"/api/v1/lots/spruce-tip-04/whatif?at_c=22", "/api/v1/lots/../../x", "/lots/%00", "/api/v1/lots/spruce-tip-04/chart.svg?width=-1", "/plan?volume_l=nan", "/login?next=//x", "/static/../web.go"} {
		f.Add(q)
	}
	h, d := bare(f)
	f.Fuzz(func(t *testing.T, q string) {
		d.did = nil
		target, err := url.ParseRequestURI(q)
		if err != nil || target.Host != "" || !strings.HasPrefix(q, "/") || strings.HasPrefix(target.Path, "/api/v1/events") {
			return
		}
		r := httptest.NewRequest("GET", "http://localhost/", nil)
		r.URL, r.RequestURI = target, q
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		said(t, "GET "+q, w)
	})
}

// said is an answer that is nobody's fault here.
func said(t *testing.T, what string, w *httptest.ResponseRecorder) {
	t.Helper()
	if w.Code >= 500 {
		t.Fatalf("%s: %d %s", what, w.Code, w.Body)
	}
	if kind := w.Header().Get("Content-Type"); w.Code >= 400 && strings.HasPrefix(kind, "application/problem+json") {
		var p problem
		if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil || p.Detail == "" || p.Status != w.Code {
			t.Errorf("%s: %d %s", what, w.Code, w.Body)
		}
	}
}
