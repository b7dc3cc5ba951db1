package web

import (
	"compress/gzip"
	"io"
	"net/http"
	"strings"
	"testing"
)

// TestZipped: what is long and text comes compressed to those who ask for it,
// and says the same.
func TestZipped(t *testing.T) {
	url := serve(t, newFake(), "")
	for _, path := range []string{"/", "/static/page.js", "/api/v1/openapi.json"} {
		_, plain := ask(t, http.MethodGet, url+path, "", "Accept-Encoding", "identity")
		r, err := http.NewRequest(http.MethodGet, url+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Accept-Encoding", "br, gzip;q=0.8")
		a, err := http.DefaultTransport.RoundTrip(r)
		if err != nil {
			t.Fatal(err)
		}
		defer a.Body.Close()
		if a.Header.Get("Content-Encoding") != "gzip" || !strings.Contains(a.Header.Get("Vary"), "Accept-Encoding") {
			t.Fatalf("%s: %v", path, a.Header)
		}
		z, err := gzip.NewReader(a.Body)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := io.ReadAll(z); err != nil || string(got) != plain {
			t.Errorf("%s: %v, %d bytes of %d", path, err, len(got), len(plain))
		}
	}
	a, _ := ask(t, http.MethodGet, url+"/healthz", "", "Accept-Encoding", "gzip")
	if a.Header.Get("Content-Encoding") != "" {
		t.Error("a few bytes were compressed")
	}
}

func TestTakesGzip(t *testing.T) {
	for list, want := range map[string]bool{"": false, "gzip": true, "br, gzip": true, "gzip;q=0": false, "gzip; q=0.5": true, "br;q=1": false, "xgzip": false} {
		if takesGzip(list) != want {
			t.Errorf("%q: %v", list, !want)
		}
	}
}
