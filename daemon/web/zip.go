package web

import (
	"compress/gzip"
	"mime"
	"net/http"
	"slices"
	"strconv"
	"strings"
)

// leastZipped is the shortest answer, in bytes, that is worth it.
const leastZipped = 1000

// zipped compresses text for those who take it; over a slow line that is most
// of the wait. No page holds a secret that its length could give away.
func zipped(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/api/v1/events" || r.URL.Path == "/metrics" || !takesGzip(r.Header.Get("Accept-Encoding")) {
			next.ServeHTTP(w, r)
			return
		}
		z := &zipper{ResponseWriter: w}
		defer z.end()
		next.ServeHTTP(z, r)
	})
}

// takesGzip is whether a list of codings names gzip with a weight that isn't 0
// (RFC 9110, 12.5.3).
func takesGzip(list string) bool {
	return slices.ContainsFunc(strings.Split(list, ","), func(coding string) bool {
		name, weight, _ := strings.Cut(coding, ";")
		q, err := strconv.ParseFloat(strings.TrimPrefix(strings.TrimSpace(weight), "q="), 64)
		return strings.TrimSpace(name) == "gzip" && (err != nil || q > 0)
	})
}

// zipper compresses one answer, if its head says that it is long and text.
type zipper struct {
	http.ResponseWriter
	began bool
	zip   *gzip.Writer // nil = it goes as it is
}

func (z *zipper) WriteHeader(status int) {
	if !z.began && worthZipping(z.Header()) {
		z.Header().Set("Content-Encoding", "gzip")
		z.Header().Del("Content-Length")
		z.zip = gzip.NewWriter(z.ResponseWriter)
	}
	z.began = true
	z.Header().Set("Vary", "Accept-Encoding")
	z.ResponseWriter.WriteHeader(status)
}

func worthZipping(h http.Header) bool {
	kind, _, _ := mime.ParseMediaType(h.Get("Content-Type"))
	n, err := strconv.Atoi(h.Get("Content-Length"))
	return err == nil && n >= leastZipped && (strings.HasPrefix(kind, "text/") || kind == "application/json" || kind == "image/svg+xml")
}

func (z *zipper) Write(b []byte) (int, error) {
	if !z.began {
		z.WriteHeader(http.StatusOK)
	}
	if z.zip != nil {
		return z.zip.Write(b)
	}
	return z.ResponseWriter.Write(b)
}

// end of the answer. One that can't be delivered nobody waits for.
func (z *zipper) end() {
	if z.zip != nil {
		_ = z.zip.Close()
	}
}
