package web

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"io"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// issue writes a certificate for this machine, signed by itself, and its key.
func issue(t *testing.T, certificate, key string, serial int64, life time.Duration) {
	t.Helper()
	secret, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	x := &x509.Certificate{SerialNumber: big.NewInt(serial), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(life),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}
	der, err := x509.CreateCertificate(rand.Reader, x, x, &secret.PublicKey, secret)
	if err != nil {
		t.Fatal(err)
	}
	pkcs8, err := x509.MarshalPKCS8PrivateKey(secret)
	if err != nil {
		t.Fatal(err)
	}
	for path, block := range map[string]*pem.Block{certificate: {Type: "CERTIFICATE", Bytes: der}, key: {Type: "PRIVATE KEY", Bytes: pkcs8}} {
		if path == "" {
			continue
		}
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// secret is a page behind TLS.
type secret struct {
	*Server
	certificate, key string
	log              *bytes.Buffer
}

func serveTLS(t *testing.T, life time.Duration) secret {
	t.Helper()
	dir := t.TempDir()
	s := secret{certificate: filepath.Join(dir, "page.pem"), key: filepath.Join(dir, "page.key"), log: new(bytes.Buffer)}
	issue(t, s.certificate, s.key, 1, life)
	var err error
	s.Server, err = New(Config{Listen: "127.0.0.1:0", Password: "correct horse", CertificateFile: s.certificate, KeyFile: s.key},
		newFake(), slog.New(slog.NewTextHandler(s.log, nil)))
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
	return s
}

// calls with one handshake each, and says who answered.
func (s secret) calls(t *testing.T, method, path, body string) (*http.Response, int64) {
	t.Helper()
	client := http.Client{Transport: &http.Transport{DisableKeepAlives: true, TLSClientConfig: &tls.Config{InsecureSkipVerify: true}},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	r, err := http.NewRequest(method, s.URL()+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	a, err := client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	a.Body.Close()
	return a, a.TLS.PeerCertificates[0].SerialNumber.Int64()
}

// A renewed certificate is shown without a restart. While only one of its two
// files is written, or what is written is no certificate, the old one goes on.
func TestRenewedCertificate(t *testing.T) {
	s := serveTLS(t, time.Hour)
	serial := func(want int64, when string) {
		t.Helper()
		if _, got := s.calls(t, "GET", "/healthz", ""); got != want {
			t.Errorf("%s: certificate %d, want %d", when, got, want)
		}
	}
	serial(1, "at the start")
	later := s.key + ".later"
	issue(t, s.certificate, later, 2, time.Hour)
	serial(1, "half written")
	if err := os.Rename(later, s.key); err != nil {
		t.Fatal(err)
	}
	serial(2, "renewed")
	if err := os.WriteFile(s.certificate, []byte("nothing"), 0o600); err != nil {
		t.Fatal(err)
	}
	serial(2, "damaged")
	serial(2, "damaged")
	if n := strings.Count(s.log.String(), "can't be used yet"); n != 2 {
		t.Errorf("said %d times, want once for each change:\n%s", n, s.log)
	}
	if strings.Contains(s.log.String(), "PRIVATE") {
		t.Error("the log has the key")
	}
}

// By TLS the cookie never goes out in the clear, and the browser stays with it;
// without, neither is promised.
func TestCookieAndTLS(t *testing.T) {
	s := serveTLS(t, time.Hour)
	a, _ := s.calls(t, "POST", "/login", "password=correct+horse&name=Kim")
	if set := a.Header.Get("Set-Cookie"); a.StatusCode != 303 || !strings.Contains(set, "Secure") || !strings.Contains(set, "SameSite=Strict") {
		t.Errorf("%s, cookie %q", a.Status, set)
	}
	if got := a.Header.Get("Strict-Transport-Security"); got != "max-age=2592000" {
		t.Errorf("Strict-Transport-Security: %q", got)
	}
	plain, _ := ask(t, "POST", serve(t, newFake(), "correct horse")+"/login", "password=correct+horse", "Content-Type", "application/x-www-form-urlencoded")
	if set := plain.Header.Get("Set-Cookie"); set == "" || strings.Contains(set, "Secure") || plain.Header.Get("Strict-Transport-Security") != "" {
		t.Errorf("without TLS: %v", plain.Header)
	}
}

// Nothing older than TLS 1.2 (RFC 8996), nothing in the clear, and whoever tries
// says nothing in the log.
func TestOnlyGoodTLS(t *testing.T) {
	s := serveTLS(t, time.Hour)
	for version, good := range map[uint16]bool{tls.VersionTLS10: false, tls.VersionTLS11: false, tls.VersionTLS12: true, tls.VersionTLS13: true} {
		c, err := tls.Dial("tcp", s.Addr(), &tls.Config{InsecureSkipVerify: true, MinVersion: version, MaxVersion: version})
		if (err == nil) != good {
			t.Errorf("%s: %v", tls.VersionName(version), err)
		}
		if err == nil {
			c.Close()
		}
	}
	a, err := http.Get("http://" + s.Addr() + "/")
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	if body, _ := io.ReadAll(a.Body); a.StatusCode != 400 || strings.Contains(string(body), "<html") {
		t.Errorf("in the clear: %s %s", a.Status, body)
	}
	if s.log.Len() > 0 {
		t.Errorf("the log says %s", s.log)
	}
}

// A certificate near its end is told of, and one that isn't right is refused at
// the start.
func TestCertificateTrouble(t *testing.T) {
	if got := serveTLS(t, 30*24*time.Hour).Trouble(); got != "" {
		t.Error(got)
	}
	s := serveTLS(t, 3*24*time.Hour)
	if got := s.Trouble(); !strings.Contains(got, "renew it") {
		t.Errorf("%q", got)
	}
	issue(t, "", s.key, 3, time.Hour) // another's
	if _, err := New(Config{Listen: "127.0.0.1:0", CertificateFile: s.certificate, KeyFile: s.key}, newFake(), slog.New(slog.DiscardHandler)); err == nil {
		t.Error("a key that doesn't fit is taken")
	}
}
