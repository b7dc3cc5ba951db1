package mqtt

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"syscall"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"
)

// connectWithin bounds opening a connection and being let in.
const connectWithin = 10 * time.Second

// open a connection to the broker. Certificates are read each time, so one
// that was replaced holds from the next connection on.
func (c Config) open(secure bool, address string) (net.Conn, error) {
	dialer := &net.Dialer{Timeout: connectWithin}
	if !secure {
		conn, err := dialer.Dial("tcp", address)
		if err != nil {
			return nil, err
		}
		return bound(conn), nil
	}
	conf, err := c.tls()
	if err != nil {
		return nil, err
	}
	conn, err := tls.DialWithDialer(dialer, "tcp", address, conf)
	if err != nil {
		return nil, err
	}
	return bound(conn), nil
}

func (c Config) tls() (*tls.Config, error) {
	conf := &tls.Config{MinVersion: tls.VersionTLS12}
	if c.CAFile != "" {
		pem, err := os.ReadFile(c.CAFile)
		if err != nil {
			return nil, fmt.Errorf("reading the authority's certificate: %w", err)
		}
		conf.RootCAs = x509.NewCertPool()
		if !conf.RootCAs.AppendCertsFromPEM(pem) {
			return nil, fmt.Errorf("%s holds no certificate in PEM form", c.CAFile)
		}
	}
	if c.CertFile != "" {
		pair, err := tls.LoadX509KeyPair(c.CertFile, c.KeyFile)
		if err != nil {
			return nil, fmt.Errorf("reading our certificate: %w", err)
		}
		conf.Certificates = []tls.Certificate{pair}
	}
	return conf, nil
}

// explain why there is no connection, in words that say what to do.
func explain(broker string, err error) string {
	var invalid x509.CertificateInvalidError
	var unknown x509.UnknownAuthorityError
	var name *net.DNSError
	switch {
	case err == nil || errors.Is(err, io.EOF):
		return "the broker at " + broker + " closed the connection"
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired:
		return validity(invalid.Cert, time.Now())
	case errors.As(err, &unknown):
		return "the broker's certificate is signed by an authority that isn't known here: give it as ca_file"
	case errors.Is(err, packets.ErrorRefusedBadUsernameOrPassword), errors.Is(err, packets.ErrorRefusedNotAuthorised):
		return "the broker refuses us: check username and password_file"
	case errors.Is(err, packets.ErrorRefusedIDRejected):
		return "the broker refuses our client id"
	case errors.As(err, &name):
		return "the name of the broker " + broker + " can't be looked up"
	case errors.Is(err, syscall.ECONNREFUSED):
		return "no broker listens at " + broker
	}
	if op, ok := errors.AsType[*net.OpError](err); ok {
		err = op.Err // without our port, which differs each time
	}
	return fmt.Sprintf("no connection with the broker at %s: %v", broker, err)
}

// validity in words, of a certificate that doesn't hold now.
func validity(cert *x509.Certificate, now time.Time) string {
	if now.Before(cert.NotBefore) {
		return fmt.Sprintf("the clock looks wrong: the broker's certificate holds only from %s, and here it is %s",
			cert.NotBefore.UTC().Format(time.RFC3339), now.UTC().Format(time.RFC3339))
	}
	return "the broker's certificate expired on " + cert.NotAfter.UTC().Format(time.RFC3339) + ": renew it there"
}
