// Package influxdtest runs a real InfluxDB for tests; only tests import it. It
// builds the server once from its module, which takes about a minute, and keeps
// the binary in the user's cache folder.
package influxdtest

import (
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	influxdb2 "github.com/influxdata/influxdb-client-go/v2"
)

const version = "v1.8.10"

// Server is a running server with an empty bucket.
type Server struct {
	URL, Org, Bucket, Token string
}

const (
	user     = "tester"
	password = "a-password-for-tests"
)

// Start starts a server on a free loopback port and stops it when the test
// ends. Without a server the test is skipped, or fails when CONDITIOND_REQUIRE
// names influxd.
func Start(t testing.TB) *Server {
	t.Helper()
	path, err := build(testing.Short())
	if err != nil {
		if strings.Contains(os.Getenv("CONDITIOND_REQUIRE"), "influxd") {
			t.Fatal(err)
		}
		t.Skipf("did without influxd: %v", err)
	}
	s, err := start(t, path)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// build returns the path of the server's binary. One process builds, others
// wait for it.
func build(short bool) (string, error) {
	cache, err := os.UserCacheDir()
	if err != nil {
		return "", err
	}
	dir := filepath.Join(cache, "conditiond-test", "influxd-"+version)
	path := filepath.Join(dir, "influxd")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", err
	}
	lock, err := os.Create(filepath.Join(dir, "lock"))
	if err != nil {
		return "", err
	}
	defer lock.Close()
	if err := syscall.Flock(int(lock.Fd()), syscall.LOCK_EX); err != nil {
		return "", err
	}
	if _, err := os.Stat(path); err == nil {
		return path, nil
	}
	if short {
		return "", errors.New("it isn't built yet, and -short doesn't build it")
	}
	return path, install(dir)
}

func install(dir string) error {
	cmd := exec.Command("go", "install", "github.com/influxdata/influxdb/cmd/influxd@"+version)
	cmd.Dir = dir // outside of any module
	cmd.Env = append(os.Environ(), "GOBIN="+dir, "GOFLAGS=")
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("building influxd: %w: %s", err, out)
	}
	return nil
}

func start(t testing.TB, path string) (*Server, error) {
	dir := t.TempDir()
	web, rpc := freePort(t), freePort(t)
	config := filepath.Join(dir, "influxd.conf")
	text := fmt.Sprintf(settings, rpc, filepath.Join(dir, "meta"), filepath.Join(dir, "data"), filepath.Join(dir, "wal"), web)
	if err := os.WriteFile(config, []byte(text), 0o600); err != nil {
		return nil, err
	}
	log, err := os.Create(filepath.Join(dir, "log"))
	if err != nil {
		return nil, err
	}
	defer log.Close()
	cmd := exec.Command(path, "-config", config)
	cmd.Stdout, cmd.Stderr = log, log
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	t.Cleanup(func() {
		cmd.Process.Kill()
		cmd.Wait()
	})
	s := &Server{URL: "http://" + web, Bucket: "conditioning/autogen", Token: user + ":" + password}
	if err := s.ready(); err != nil {
		words, _ := os.ReadFile(log.Name())
		return nil, fmt.Errorf("starting influxd: %w\n%s", err, words)
	}
	s.Do(t, `CREATE USER `+user+` WITH PASSWORD '`+password+`' WITH ALL PRIVILEGES`)
	s.Do(t, `CREATE DATABASE conditioning`)
	return s, nil
}

const settings = `reporting-disabled = true
bind-address = %q
[meta]
dir = %q
[data]
dir = %q
wal-dir = %q
query-log-enabled = false
[monitor]
store-enabled = false
[http]
bind-address = %q
auth-enabled = true
flux-enabled = true
log-enabled = false
`

func freePort(t testing.TB) string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// ready waits until the server answers.
func (s *Server) ready() error {
	var err error
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		var answer *http.Response
		if answer, err = http.Get(s.URL + "/ping"); err == nil {
			return answer.Body.Close()
		}
	}
	return err
}

// Do runs a statement of InfluxQL, such as CREATE DATABASE.
func (s *Server) Do(t testing.TB, statement string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.URL+"/query?"+url.Values{"q": {statement}}.Encode(), nil)
	if err != nil {
		t.Fatal(err)
	}
	r.SetBasicAuth(user, password)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK || strings.Contains(string(body), `"error"`) {
		t.Fatalf("%s: %s %s %v", statement, answer.Status, body, err)
	}
}

// Query runs a Flux query and returns its records, in order: columns by name,
// among them _time (time.Time), _value, _field, _measurement and the tags.
func (s *Server) Query(t testing.TB, flux string) []map[string]any {
	t.Helper()
	client := influxdb2.NewClient(s.URL, s.Token)
	defer client.Close()
	result, err := client.QueryAPI(s.Org).Query(t.Context(), flux)
	if err != nil {
		t.Fatalf("%s: %v", flux, err)
	}
	defer result.Close()
	var records []map[string]any
	for result.Next() {
		records = append(records, result.Record().Values())
	}
	if result.Err() != nil {
		t.Fatalf("%s: %v", flux, result.Err())
	}
	return records
}
