// Package influx writes points to an InfluxDB server, 1.8 or 2: each is written
// before Write returns, or Write says why not. A point that the server will
// never take is set aside and counted, so that it doesn't hold up the rest. To
// write a point again does no harm.
package influx

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"time"

	influxdb2 "github.com/influxdata/influxdb-client-go/v2"
	"github.com/influxdata/influxdb-client-go/v2/api"
	ihttp "github.com/influxdata/influxdb-client-go/v2/api/http"
	"github.com/influxdata/influxdb-client-go/v2/api/write"
)

// Config says where the points go.
type Config struct {
	URL    string // http or https, without a token in it
	Org    string // empty for 1.8
	Bucket string // for 1.8 "database/retention-policy"
	Token  string // for 1.8 "user:password"

	Timeout time.Duration // of a request; 0 = 20 s
}

// Sink writes to one bucket.
type Sink struct {
	bucket api.WriteAPIBlocking
	log    *slog.Logger

	mu    sync.Mutex
	aside Aside
}

// Aside is what the server would not take.
type Aside struct {
	Points int64  // since the start
	Reason string // of the last
}

// New makes a sink; it doesn't connect yet.
func New(c Config, log *slog.Logger) (*Sink, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	if c.Timeout == 0 {
		c.Timeout = 20 * time.Second
	}
	options := influxdb2.DefaultOptions().SetApplicationName("conditiond").SetPrecision(time.Nanosecond)
	options.HTTPOptions().SetHTTPDoer(doubter{client: httpClient(c.Timeout), token: c.Token})
	client := influxdb2.NewClientWithOptions(c.URL, c.Token, options)
	return &Sink{bucket: client.WriteAPIBlocking(c.Org, c.Bucket), log: log}, nil
}

func (c Config) check() error {
	u, err := url.Parse(c.URL)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return errors.New("the address of InfluxDB must be like http://127.0.0.1:8086") // it may hold a secret
	}
	if u.User != nil || u.RawQuery != "" {
		return fmt.Errorf("the address of InfluxDB must be %s://%s%s alone: the token comes from its file", u.Scheme, u.Host, u.Path)
	}
	if strings.ContainsFunc(c.Token, func(r rune) bool { return r < ' ' || r == 0x7f }) {
		return errors.New("the token for InfluxDB holds a character that can't be sent: it must be one line")
	}
	return nil
}

// httpClient takes a proxy from the environment for other machines, never for
// this one (http.ProxyFromEnvironment), and follows no redirect: it would turn
// a write into a read, and carry the token elsewhere.
func httpClient(timeout time.Duration) *http.Client {
	return &http.Client{
		Timeout:       timeout,
		Transport:     http.DefaultTransport.(*http.Transport).Clone(),
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

// most points in a request.
const most = 1000

// Write writes the points in their order. The error, when there is one, is an
// *Error and means that some may not be written: write all of them again later.
func (s *Sink) Write(ctx context.Context, points []Point) error {
	var refused refusals
	var lines []*write.Point
	for _, p := range points {
		line, err := p.line()
		if err != nil {
			refused.add(1, p.String(), err)
			continue
		}
		lines = append(lines, line)
	}
	for chunk := range slices.Chunk(lines, most) {
		if err := s.send(ctx, chunk, &refused); err != nil {
			return err
		}
	}
	s.setAside(refused)
	return nil
}

// send halves what is refused until it has found what is bad in it.
func (s *Sink) send(ctx context.Context, lines []*write.Point, refused *refusals) error {
	err := s.bucket.WritePoint(ctx, lines...)
	if err == nil {
		return nil
	}
	why := verdict(err)
	if !why.refused {
		return why
	}
	if why.tooOld > 0 { // the server took the others
		refused.add(why.tooOld, "older than the bucket keeps", why)
		return nil
	}
	if len(lines) == 1 {
		refused.add(1, describe(lines[0]), why)
		return nil
	}
	half := len(lines) / 2
	if err := s.send(ctx, lines[:half], refused); err != nil {
		return err
	}
	return s.send(ctx, lines[half:], refused)
}

// verdict is the doubter's, or what kept the client from asking it.
func verdict(err error) *Error {
	var ours *Error
	if errors.As(err, &ours) {
		return ours
	}
	var unsent *ihttp.Error
	return &Error{text: "sending to InfluxDB: " + err.Error(), refused: !errors.As(err, &unsent)} // else a point can't be encoded
}

// refusals are the points of one Write that are set aside.
type refusals struct {
	points int
	first  string
	reason error
}

func (r *refusals) add(n int, what string, reason error) {
	if r.points == 0 {
		r.first, r.reason = what, reason
	}
	r.points += n
}

func (s *Sink) setAside(r refusals) {
	if r.points == 0 {
		return
	}
	s.log.Warn("points set aside: InfluxDB will not take them", "points", r.points, "first", r.first, "err", r.reason)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.aside.Points += int64(r.points)
	s.aside.Reason = fmt.Sprintf("%s: %v", r.first, r.reason)
}

// Aside tells what was set aside since the start.
func (s *Sink) Aside() Aside {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.aside
}
