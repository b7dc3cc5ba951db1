package notify

import (
	"cmp"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/smtp"
	"net/textproto"
	"os"
	"strconv"
	"strings"
	"time"

	"conditiond/alerts"
)

// SMTP sends mail, over TLS only: from the first byte on port 465, by STARTTLS
// on every other. A server that doesn't offer it is given nothing.
type SMTP struct {
	Server       string   `yaml:"server"` // host:port
	From         string   `yaml:"from"`
	To           []string `yaml:"to"`
	Username     string   `yaml:"username"`      // absent = From
	PasswordFile Secret   `yaml:"password_file"` // empty = no authentication
	CAFile       string   `yaml:"ca_file"`       // who signed the server's certificate; empty = the system's authorities
}

const smtpTimeout = 30 * time.Second

// Notify sends m as one mail to all recipients, with the same Message-ID over
// retries. When the server takes it for some of them only, it is not sent
// again: the error names the others.
func (s *SMTP) Notify(ctx context.Context, m alerts.Message) error {
	return s.Illustrate(ctx, m, nil)
}

// Illustrate does the same with a picture in the mail, unless that is nil.
func (s *SMTP) Illustrate(ctx context.Context, m alerts.Message, picture []byte) error {
	_, port, _ := net.SplitHostPort(s.Server)
	return s.send(ctx, m, picture, port == "465")
}

func (s *SMTP) send(ctx context.Context, m alerts.Message, picture []byte, tlsFirst bool) error {
	ctx, cancel := context.WithTimeout(ctx, smtpTimeout)
	defer cancel()
	refused, err := s.converse(ctx, s.mail(m, picture, time.Now()), tlsFirst)
	switch {
	case err != nil && ctx.Err() != nil:
		return temporary("send the mail", ctx.Err())
	case err != nil:
		return failed(err)
	case len(refused) > 0:
		return &Error{Problem: "the mail server refused " + strings.Join(refused, ", "), Permanent: true, Partly: true}
	}
	return nil
}

func (s *SMTP) converse(ctx context.Context, mail []byte, tlsFirst bool) (refused []string, err error) {
	client, err := s.connect(ctx, tlsFirst)
	if err != nil {
		return nil, fmt.Errorf("reach the mail server: %w", err)
	}
	defer client.Close()
	if err := s.login(client); err != nil {
		return nil, fmt.Errorf("log in to the mail server: %w", err)
	}
	if err := client.Mail(s.From); err != nil {
		return nil, fmt.Errorf("name the sender: %w", err)
	}
	if refused, err = s.recipients(client); err != nil {
		return nil, fmt.Errorf("name the recipients: %w", err)
	}
	if err := write(client, mail); err != nil {
		return nil, fmt.Errorf("send the mail: %w", err)
	}
	client.Quit() // the mail is taken; how the goodbye goes doesn't matter
	return refused, nil
}

// connect and be on TLS.
func (s *SMTP) connect(ctx context.Context, tlsFirst bool) (*smtp.Client, error) {
	host, _, err := net.SplitHostPort(s.Server)
	if err != nil {
		return nil, err
	}
	config, err := s.tls(host)
	if err != nil {
		return nil, err
	}
	conn, err := new(net.Dialer).DialContext(ctx, "tcp", s.Server)
	if err != nil {
		return nil, err
	}
	context.AfterFunc(ctx, func() { conn.Close() }) // net/smtp has no time-outs of its own
	if tlsFirst {
		conn = tls.Client(conn, config)
	}
	client, err := greet(conn, host, config, tlsFirst)
	if err != nil {
		conn.Close()
	}
	return client, err
}

func greet(conn net.Conn, host string, config *tls.Config, secured bool) (*smtp.Client, error) {
	client, err := smtp.NewClient(conn, host)
	if err != nil || secured {
		return client, err
	}
	if offered, _ := client.Extension("STARTTLS"); !offered {
		return nil, errors.New("it doesn't offer STARTTLS, and mail goes over TLS only")
	}
	return client, client.StartTLS(config)
}

func (s *SMTP) tls(host string) (*tls.Config, error) {
	config := &tls.Config{ServerName: host, MinVersion: tls.VersionTLS12}
	if s.CAFile == "" {
		return config, nil
	}
	pem, err := os.ReadFile(s.CAFile)
	if err != nil {
		return nil, err
	}
	config.RootCAs = x509.NewCertPool()
	if !config.RootCAs.AppendCertsFromPEM(pem) {
		return nil, errors.New("ca_file holds no certificate")
	}
	return config, nil
}

func (s *SMTP) login(client *smtp.Client) error {
	if s.PasswordFile == "" {
		return nil
	}
	password, err := s.PasswordFile.Read()
	if err != nil {
		return err
	}
	host, _, _ := net.SplitHostPort(s.Server)
	return client.Auth(smtp.PlainAuth("", cmp.Or(s.Username, s.From), password, host))
}

// recipients that were refused; an error when none was taken.
func (s *SMTP) recipients(client *smtp.Client) (refused []string, err error) {
	for _, to := range s.To {
		if e := client.Rcpt(to); e != nil {
			refused, err = append(refused, fmt.Sprintf("%s (%s)", to, code(e))), e
		}
	}
	if len(refused) < len(s.To) {
		err = nil
	}
	return refused, err
}

func write(client *smtp.Client, mail []byte) error {
	w, err := client.Data()
	if err != nil {
		return err
	}
	if _, err := w.Write(mail); err != nil {
		return err
	}
	return w.Close()
}

// failed keeps the server's code and drops its text, which may repeat what it
// was sent. A 5xx is final, but for those about the log-in.
func failed(err error) *Error {
	var answer *textproto.Error
	if !errors.As(err, &answer) {
		return &Error{Problem: err.Error()}
	}
	doing := strings.TrimSuffix(err.Error(), answer.Error())
	login := answer.Code == 530 || answer.Code == 534 || answer.Code == 535
	return &Error{Problem: doing + "it answered " + code(err), Permanent: answer.Code/100 == 5 && !login}
}

func code(err error) string {
	var answer *textproto.Error
	if errors.As(err, &answer) {
		return strconv.Itoa(answer.Code)
	}
	return "no answer"
}
