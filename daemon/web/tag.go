package web

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"slices"
	"strconv"
	"strings"
)

// answerNew sends JSON, unless the client holds the same already.
func (s *Server) answerNew(w http.ResponseWriter, r *http.Request, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		s.failed(w, r, err)
		return
	}
	s.answerTagged(w, r, append(b, '\n'))
}

// answerTagged sends a JSON document with an ETag (RFC 9110, 8.8.3), or 304
// where the client sent that very tag.
func (s *Server) answerTagged(w http.ResponseWriter, r *http.Request, body []byte) {
	sum := sha256.Sum256(body)
	tag := `"` + hex.EncodeToString(sum[:12]) + `"`
	w.Header().Set("ETag", "W/"+tag)                     // the same for every coding
	w.Header().Set("Cache-Control", "private, no-cache") // ask each time
	if held(r.Header.Get("If-None-Match"), tag) {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Content-Length", strconv.Itoa(len(body)))
	_, err := w.Write(body)
	s.sent(err)
}

// held is whether a list of tags holds one, compared weakly (RFC 9110, 13.1.2).
func held(list, tag string) bool {
	return slices.ContainsFunc(strings.Split(list, ","), func(t string) bool {
		t = strings.TrimSpace(t)
		return t == "*" || strings.TrimPrefix(t, "W/") == tag
	})
}
