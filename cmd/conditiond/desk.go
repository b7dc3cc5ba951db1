package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"syscall"
	"time"

	"conditiond/daemon"
)

// desk is where commands are handed in: the running daemon's API, or, when no
// daemon runs, the same API served here straight on the journal.
type desk struct {
	base     string
	password string
	client   http.Client
	close    func()
}

// openDesk finds the daemon of a configuration.
func openDesk(ctx context.Context, config string, errs io.Writer) (*desk, error) {
	c, _, err := daemon.ReadConfig(config)
	if errors.Is(err, fs.ErrPermission) {
		return nil, forbidden(err)
	}
	if err != nil {
		return nil, fault(err)
	}
	d := &desk{base: "http://" + reachable(c.Web.Listen), client: http.Client{Timeout: 30 * time.Second}, close: func() {}}
	if c.Web.CertificateFile != "" {
		d.base = "https://" + reachable(c.Web.Listen)
		d.client.Transport = pinned(c.Web.CertificateFile)
	}
	if c.Web.PasswordFile != "" {
		if d.password, err = c.Web.PasswordFile.Read(); err != nil {
			return nil, forbidden(fmt.Errorf("web.password_file, without which the daemon tells nothing: %w", err))
		}
	}
	if d.alive() {
		return d, nil
	}
	off, err := daemon.Offline(ctx, c, slog.New(slog.NewTextHandler(errs, &slog.HandlerOptions{Level: slog.LevelWarn})))
	if err != nil {
		return nil, forbidden(fmt.Errorf("no daemon answers at %s, and the journal itself can't be opened: %w", reachable(c.Web.Listen), err))
	}
	d.base, d.password, d.close = "http://"+off.Addr, "", off.Close
	return d, nil
}

// forbidden is what the environment refuses, with what to do when it is a right
// that is missing.
func forbidden(err error) error {
	if errors.Is(err, fs.ErrPermission) {
		err = fmt.Errorf("%w\nThis user may not. Do the same as root, with sudo before it", err)
	}
	return failed(err)
}

// alive says whether something answers where the daemon's page should be.
func (d *desk) alive() bool {
	r, err := d.client.Get(d.base + "/healthz")
	if err != nil {
		return !errors.Is(err, syscall.ECONNREFUSED)
	}
	r.Body.Close()
	return true
}

// reachable turns an address that is listened on into one to call.
func reachable(listen string) string {
	host, port, err := net.SplitHostPort(listen)
	if err != nil {
		return listen
	}
	if ip := net.ParseIP(host); host == "" || ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	return net.JoinHostPort(host, port)
}

// ask sends a request and decodes the answer into out, unless that is nil.
func (d *desk) ask(ctx context.Context, method, path string, body, out any) error {
	a, err := d.send(ctx, method, path, body)
	if err != nil {
		return err
	}
	defer a.Body.Close()
	if out == nil {
		return nil
	}
	return json.NewDecoder(a.Body).Decode(out)
}

// send a request. The answer, to be closed, is no refusal.
func (d *desk) send(ctx context.Context, method, path string, body any) (*http.Response, error) {
	var send io.Reader
	if body != nil {
		b, err := json.Marshal(body)
		if err != nil {
			return nil, err
		}
		send = bytes.NewReader(b)
	}
	r, err := http.NewRequestWithContext(ctx, method, d.base+"/api/v1"+path, send)
	if err != nil {
		return nil, err
	}
	r.Header.Set("Content-Type", "application/json")
	if d.password != "" {
		r.SetBasicAuth("conditiond", d.password)
	}
	a, err := d.client.Do(r)
	if err != nil {
		return nil, failed(fmt.Errorf("asking the daemon: %w", err))
	}
	if a.StatusCode >= 300 {
		defer a.Body.Close()
		return nil, refusal(a)
	}
	return a, nil
}

// refusal is the daemon's problem in words.
func refusal(a *http.Response) error {
	var p struct {
		Title  string `json:"title"`
		Detail string `json:"detail"`
		Errors []struct{ Field, Value, Detail string }
	}
	json.NewDecoder(io.LimitReader(a.Body, 1<<20)).Decode(&p)
	words := []string{p.Detail}
	if p.Detail == "" {
		words = []string{strings.ToLower(a.Status + " " + p.Title)}
	}
	for _, e := range p.Errors {
		words = append(words, fmt.Sprintf("  %s: %s %s", e.Field, e.Value, e.Detail))
	}
	err := errors.New(strings.Join(words, "\n"))
	if a.StatusCode >= 500 {
		return failed(err)
	}
	return fault(err)
}
