package web

import (
	"encoding/json"
	"log/slog"
	"net/http/httptest"
	"strings"
	"testing"
)

// FuzzOpen: any body is taken, or refused with a problem that says why.
func FuzzOpen(f *testing.F) {
	s, err := New(Config{Listen: "127.0.0.1:0"}, newFake(), slog.New(slog.DiscardHandler))
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { _ = s.listener.Close() })
	for _, seed := range []string{`{"id":"a"}`, `{"id":1}`, `{"beer":{"volume_l":"x"}}`, "{\n", `[]`, `null`, "\x00", `{"id":"a"}{`, `{"packaged_at":"soon"}`} {
		f.Add(seed)
	}
	h := s.handler()
	f.Fuzz(func(t *testing.T, body string) {
		r := httptest.NewRequest("POST", "http://localhost/api/v1/lots", strings.NewReader(body))
		r.Header.Set("Content-Type", jsonType)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		var p problem
		if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil {
			t.Fatalf("%d: %v", w.Code, err)
		}
		if w.Code != 201 && (p.Detail == "" || p.Status != w.Code) {
			t.Errorf("%d: %s", w.Code, w.Body)
		}
	})
}
