// Package web serves the page and the API. It is the only one that listens
// for HTTP. It shows what a Daemon says and hands back what people do; it keeps
// nothing of its own but who is logged in.
//
// Start with Server.routes, the table of all that is served. Each request
// passes guard (headers, whose page may write) and auth (who may see).
package web

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// Config of the page.
type Config struct {
	// Listen is host:port. Without a password it must be a loopback address.
	Listen   string
	Password string
	// CertificateFile and KeyFile, in PEM form, make it TLS; both or neither.
	CertificateFile, KeyFile string

	Site     string         // its name, for the page's head
	Location *time.Location // of the site, for times on the page; nil = UTC
	Altitude float64        // of the site in metres, for plans
	Metrics  prometheus.Gatherer
	Sections []Section // of the configuration, to be shown; without secrets
}

const (
	headerTimeout = 5 * time.Second
	readTimeout   = 15 * time.Second
	writeTimeout  = 30 * time.Second
	answerTimeout = 20 * time.Second // shorter than writeTimeout, so that we can say so
	idleTimeout   = 2 * time.Minute
	stopTimeout   = 5 * time.Second
	maxHeader     = 16 << 10
)

// Server answers HTTP. Serve may be called once.
type Server struct {
	config Config
	daemon Daemon
	log    *slog.Logger
	auth   *auth
	mux    *http.ServeMux
	// certificate is nil without TLS.
	certificate *certificate

	listener net.Listener
	stopping chan struct{} // closed when event streams should end
	streams  chan struct{} // a slot for each open stream
}

// New listens, but answers only from Serve on. A password may be missing only
// on a loopback address.
func New(config Config, d Daemon, log *slog.Logger) (*Server, error) {
	if config.Location == nil {
		config.Location = time.UTC
	}
	if config.Password == "" && !loopback(config.Listen) {
		return nil, fmt.Errorf("web: listen %q can be reached from other machines and there is no password: set password_file, or listen on 127.0.0.1", config.Listen)
	}
	a, err := newAuth(config.Password)
	if err != nil {
		return nil, err
	}
	var c *certificate
	if config.CertificateFile != "" || config.KeyFile != "" {
		if c, err = readCertificate(config.CertificateFile, config.KeyFile, log); err != nil {
			return nil, err
		}
	}
	l, err := net.Listen("tcp", config.Listen)
	if err != nil {
		return nil, fmt.Errorf("web: listening on %q: %w", config.Listen, err)
	}
	s := &Server{config: config, daemon: d, log: log, auth: a, mux: http.NewServeMux(), certificate: c, listener: l,
		stopping: make(chan struct{}), streams: make(chan struct{}, maxStreams)}
	for pattern, answer := range s.routes() {
		s.mux.HandleFunc(pattern, answer)
	}
	return s, nil
}

// loopback is whether only this machine can reach an address.
func loopback(listen string) bool {
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		return false
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// Addr is where it listens, host:port.
func (s *Server) Addr() string { return s.listener.Addr().String() }

// Serve answers until ctx ends, then lets what is under way finish for a few
// seconds.
func (s *Server) Serve(ctx context.Context) error {
	server := &http.Server{
		Handler:           s.handler(),
		ReadHeaderTimeout: headerTimeout,
		ReadTimeout:       readTimeout,
		WriteTimeout:      writeTimeout,
		IdleTimeout:       idleTimeout,
		MaxHeaderBytes:    maxHeader,
		ErrorLog:          serverLog(s.log),
	}
	stopped := make(chan error, 1)
	stop := context.AfterFunc(ctx, func() { stopped <- s.stop(server) })
	err := server.Serve(s.encrypted())
	if stop() || !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("web: serving: %w", err)
	}
	return <-stopped
}

// encrypted is the listener, behind TLS where that is set up.
func (s *Server) encrypted() net.Listener {
	if s.certificate == nil {
		return s.listener
	}
	return tls.NewListener(s.listener, s.certificate.config())
}

// URL of the page.
func (s *Server) URL() string {
	if s.certificate == nil {
		return "http://" + s.Addr()
	}
	return "https://" + s.Addr()
}

func (s *Server) stop(server *http.Server) error {
	close(s.stopping)
	ctx, cancel := context.WithTimeout(context.Background(), stopTimeout)
	defer cancel()
	err := server.Shutdown(ctx)
	if errors.Is(err, context.DeadlineExceeded) { // a browser may keep one open that it never used
		err = server.Close()
	}
	if err != nil {
		return fmt.Errorf("web: stopping: %w", err)
	}
	return nil
}

// routes is all that is served, by method and path.
func (s *Server) routes() map[string]http.HandlerFunc {
	r := map[string]http.HandlerFunc{
		"GET /{$}":                      s.homePage,
		"GET /lots/{id}":                s.lotPage,
		"GET /lots/{id}/graph":          s.lotGraph,
		"GET /records":                  s.recordsPage,
		"GET /settings":                 s.settingsPage,
		"POST /settings":                s.readerForm,
		"GET /sign":                     s.signPage,
		"GET /plan":                     s.planPage,
		"POST /plan":                    s.planForm,
		"POST /lots/{id}/{deed}":        s.lotForm,
		"POST /alerts/{id}/acknowledge": s.acknowledgeForm,
		"POST /alerts/{id}/shelve":      s.shelveForm,
		"POST /sensors/{name}/service":  s.serviceForm,
		"GET /login":                    s.loginPage,
		"POST /login":                   s.login,
		"POST /logout":                  s.logout,
		"GET /static/{file}":            s.static,

		"GET /api/v1/lots":                     s.lots,
		"POST /api/v1/lots":                    s.open,
		"POST /api/v1/plan":                    s.plan,
		"GET /api/v1/lots/{id}":                s.lot,
		"GET /api/v1/lots/{id}/series":         s.series,
		"GET /api/v1/lots/{id}/whatif":         s.whatIf,
		"GET /api/v1/lots/{id}/forecast":       s.forecast,
		"POST /api/v1/lots/{id}/note":          s.note,
		"POST /api/v1/lots/{id}/chill":         s.chill,
		"POST /api/v1/lots/{id}/close":         s.close,
		"GET /api/v1/lots/{id}/chart.svg":      s.chartSVG,
		"GET /api/v1/lots/{id}/chart.png":      s.chartPNG,
		"GET /api/v1/records":                  s.records,
		"GET /api/v1/records.csv":              s.recordsTable,
		"GET /api/v1/readings":                 s.readings,
		"GET /api/v1/alerts":                   s.alerts,
		"POST /api/v1/alerts/{id}/acknowledge": s.acknowledge,
		"POST /api/v1/alerts/{id}/shelve":      s.shelve,
		"POST /api/v1/sensors/{name}/service":  s.service,
		"GET /api/v1/events":                   s.events,
		"GET /api/v1/openapi.json":             s.openapi,

		"GET /healthz": s.healthz,
		"GET /readyz":  s.readyz,
	}
	if s.config.Metrics != nil {
		r["GET /metrics"] = metrics(s.config.Metrics).ServeHTTP
	}
	return r
}
