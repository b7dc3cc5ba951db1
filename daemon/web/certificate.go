package web

import (
	"crypto/tls"
	"fmt"
	"log"
	"log/slog"
	"net/http"
	"os"
	"strings"
	"sync"
	"time"
)

// certificate is what the page shows of itself, with its key. Its files are
// looked at for each caller, so a renewed one holds without a restart; while
// the new pair doesn't fit, as between the writing of the two, the old one
// goes on.
type certificate struct {
	file, key string
	log       *slog.Logger

	mu    sync.Mutex
	pair  *tls.Certificate
	state string // of both files when they were last read
}

func readCertificate(file, key string, log *slog.Logger) (*certificate, error) {
	c := &certificate{file: file, key: key, log: log, state: stateOf(file, key)}
	pair, err := tls.LoadX509KeyPair(file, key)
	if err != nil {
		return nil, fmt.Errorf("web: certificate_file and key_file: %w", err)
	}
	c.pair = &pair
	return c, nil
}

// stateOf files changes whenever one of them is written or replaced.
func stateOf(files ...string) string {
	var out strings.Builder
	for _, f := range files {
		if info, err := os.Stat(f); err == nil {
			fmt.Fprintln(&out, info.ModTime().UnixNano(), info.Size())
		} else {
			fmt.Fprintln(&out, err)
		}
	}
	return out.String()
}

// now is the pair that holds now.
func (c *certificate) now(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	state := stateOf(c.file, c.key)
	if state == c.state {
		return c.pair, nil
	}
	c.state = state
	pair, err := tls.LoadX509KeyPair(c.file, c.key)
	if err != nil {
		c.log.Warn("web: the new certificate can't be used yet; the old one goes on", "err", err)
		return c.pair, nil
	}
	c.log.Info("web: a new certificate", "until", pair.Leaf.NotAfter)
	c.pair = &pair
	return c.pair, nil
}

// config is for the listener. HTTP/1.1 alone: it is what all time-outs and
// limits here are tested with.
func (c *certificate) config() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: c.now, NextProtos: []string{"http/1.1"}}
}

// runsOut is how long before its end a certificate is told of: those that are
// renewed by a machine are renewed a month before (common practice, no source).
const runsOut = 7 * 24 * time.Hour

// Trouble says what will soon keep people from the page; empty = nothing.
func (s *Server) Trouble() string {
	if s.certificate == nil {
		return ""
	}
	pair, _ := s.certificate.now(nil)
	if end := pair.Leaf.NotAfter; time.Until(end) < runsOut {
		return "its certificate holds until " + end.UTC().Format("2006-01-02 15:04") + " UTC: renew it"
	}
	return ""
}

// stayEncrypted tells browsers that came by TLS to come by nothing else for a month.
// It counts for the name at every port.
func stayEncrypted(w http.ResponseWriter, r *http.Request) {
	if r.TLS != nil {
		w.Header().Set("Strict-Transport-Security", "max-age=2592000")
	}
}

// serverLog is where net/http speaks. What strangers can make it say at will is
// for those who look for it.
func serverLog(to *slog.Logger) *log.Logger { return log.New(serverWords{to}, "", 0) }

type serverWords struct{ to *slog.Logger }

func (s serverWords) Write(b []byte) (int, error) {
	words := strings.TrimSpace(string(b))
	if strings.Contains(words, "TLS handshake error") {
		s.to.Debug(words)
	} else {
		s.to.Warn(words)
	}
	return len(b), nil
}
