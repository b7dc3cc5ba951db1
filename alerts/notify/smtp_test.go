package notify

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"encoding/pem"
	"errors"
	"io"
	"math/big"
	"mime"
	"mime/quotedprintable"
	"net"
	"net/mail"
	"net/textproto"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// mailServer is as much of a mail server (RFC 5321, 3207, 4954) as one notice
// needs. It answers by `answers`, of which the longest beginning that fits a
// command counts, and 250 to all else.
type mailServer struct {
	address, caFile string
	answers         map[string]string
	tlsFirst        bool
	config          *tls.Config

	commands []string // as they came, the mail's text not among them
	data     []byte
	secured  bool
	ended    chan struct{} // the one conversation is over
}

func newMailServer(t *testing.T, tlsFirst bool, answers map[string]string) *mailServer {
	certificate, caFile := selfSigned(t)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s := &mailServer{address: listener.Addr().String(), caFile: caFile, answers: answers, tlsFirst: tlsFirst,
		config: &tls.Config{Certificates: []tls.Certificate{certificate}}, ended: make(chan struct{})}
	go func() {
		defer close(s.ended)
		conn, err := listener.Accept()
		if err == nil {
			defer conn.Close()
			s.converse(conn)
		}
	}()
	t.Cleanup(func() { listener.Close(); <-s.ended })
	return s
}

func (s *mailServer) converse(conn net.Conn) {
	if s.tlsFirst {
		conn, s.secured = tls.Server(conn, s.config), true
	}
	if s.answers["greeting"] == "silence" {
		io.Copy(io.Discard, conn)
		return
	}
	text := textproto.NewConn(conn)
	text.PrintfLine("220 stub ready")
	for {
		line, err := text.ReadLine()
		if err != nil {
			return
		}
		s.commands = append(s.commands, line)
		text.PrintfLine("%s", s.answer(line))
		switch {
		case line == "STARTTLS":
			secure := tls.Server(conn, s.config)
			conn, text, s.secured = secure, textproto.NewConn(secure), true
		case line == "DATA":
			s.data, _ = text.ReadDotBytes()
			text.PrintfLine("%s", s.answer("."))
		case line == "QUIT":
			return
		}
	}
}

func (s *mailServer) answer(line string) string {
	best, answer := -1, "250 fine"
	for prefix, a := range s.answers {
		if strings.HasPrefix(line, prefix) && len(prefix) > best {
			best, answer = len(prefix), a
		}
	}
	switch {
	case best >= 0:
		return answer
	case strings.HasPrefix(line, "EHLO"):
		return "250-stub\r\n250-STARTTLS\r\n250 AUTH PLAIN"
	case line == "STARTTLS":
		return "220 go on"
	case strings.HasPrefix(line, "AUTH"):
		return "235 welcome"
	case line == "DATA":
		return "354 go on"
	}
	return answer
}

// told joins the commands of an ended conversation.
func (s *mailServer) told() string {
	<-s.ended
	return strings.Join(s.commands, "\n")
}

func selfSigned(t *testing.T) (tls.Certificate, string) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := x509.Certificate{SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, &template, &template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "ca.pem")
	if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600); err != nil {
		t.Fatal(err)
	}
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, path
}

func (s *mailServer) client(t *testing.T) *SMTP {
	return &SMTP{Server: s.address, From: "pi@example.net", To: []string{"me@example.net", "you@example.net"},
		PasswordFile: secretFile(t, token+"\n"), CAFile: s.caFile}
}

func TestMailIsSent(t *testing.T) {
	for name, tlsFirst := range map[string]bool{"STARTTLS": false, "TLS first": true} {
		t.Run(name, func(t *testing.T) {
			s := newMailServer(t, tlsFirst, nil)
			if err := s.client(t).send(t.Context(), notice(), nil, tlsFirst); err != nil {
				t.Fatal(err)
			}
			login := "AUTH PLAIN " + base64.StdEncoding.EncodeToString([]byte("\x00pi@example.net\x00"+token))
			for _, want := range []string{login, "MAIL FROM:<pi@example.net>", "RCPT TO:<me@example.net>\nRCPT TO:<you@example.net>", "QUIT"} {
				if !strings.Contains(s.told(), want) {
					t.Errorf("not told %q in\n%s", want, s.told())
				}
			}
			if !s.secured {
				t.Error("sent in the clear")
			}
			checkMail(t, s.data)
		})
	}
}

// checkMail reads it as a receiver would.
func checkMail(t *testing.T, data []byte) {
	m, err := mail.ReadMessage(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	subject, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
	if err != nil || subject != Subject(notice()) {
		t.Errorf("subject %q, %v", subject, err)
	}
	body, err := io.ReadAll(quotedprintable.NewReader(m.Body))
	if err != nil || strings.TrimSpace(string(body)) != Body(notice()) {
		t.Errorf("body %q, %v", body, err)
	}
	if date, err := m.Header.Date(); err != nil || time.Since(date) > time.Minute {
		t.Errorf("date %v, %v", date, err)
	}
	if id := m.Header.Get("Message-ID"); id != "<spruce-tip-04-over-pressure-7-phone@example.net>" {
		t.Errorf("message id %s", id)
	}
	for _, line := range bytes.Split(data, []byte("\n")) {
		if len(line) > 998 {
			t.Error("a line is longer than RFC 5322 allows")
		}
	}
}

func TestMailFails(t *testing.T) {
	for _, test := range []struct {
		name      string
		answers   map[string]string
		permanent bool
		says      string
	}{
		{"no STARTTLS", map[string]string{"EHLO": "250 stub"}, false, "STARTTLS"},
		{"STARTTLS refused", map[string]string{"STARTTLS": "454 not now"}, false, "454"},
		{"no log-in", map[string]string{"AUTH": "502 what?"}, true, "log in to the mail server: it answered 502"},
		{"wrong password", map[string]string{"AUTH": "535 not " + token}, false, "log in to the mail server: it answered 535"},
		{"sender refused", map[string]string{"MAIL": "553 no"}, true, "name the sender: it answered 553"},
		{"one refused", map[string]string{"RCPT TO:<you": "550 who?"}, true, "refused you@example.net (550)"},
		{"all refused", map[string]string{"RCPT": "550 who?"}, true, "name the recipients: it answered 550"},
		{"greylisted", map[string]string{"RCPT": "451 later"}, false, "451"},
		{"mail refused", map[string]string{".": "554 spam"}, true, "send the mail: it answered 554"},
		{"busy", map[string]string{"DATA": "421 busy"}, false, "421"},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := newMailServer(t, false, test.answers)
			err := s.client(t).Notify(t.Context(), notice())
			e, ok := errors.AsType[*Error](err)
			if !ok || e.Permanent != test.permanent || !strings.Contains(e.Problem, test.says) {
				t.Errorf("got %#v", err)
			}
			silent(t, err)
		})
	}
}

func TestMailKeepsSecretsFromTheClear(t *testing.T) {
	s := newMailServer(t, false, map[string]string{"EHLO": "250-stub\r\n250 AUTH PLAIN"})
	if err := s.client(t).Notify(t.Context(), notice()); err == nil {
		t.Error("no error")
	}
	if told := s.told(); strings.Contains(told, "AUTH") || strings.Contains(told, "MAIL") {
		t.Errorf("told in the clear: %s", told)
	}
}

func TestMailToOneOfTwo(t *testing.T) {
	s := newMailServer(t, false, map[string]string{"RCPT TO:<me": "550 who?"})
	if err := s.client(t).Notify(t.Context(), notice()); err == nil {
		t.Error("no error")
	}
	<-s.ended
	checkMail(t, s.data)
}

func TestMailUnknownAuthority(t *testing.T) {
	s := newMailServer(t, false, nil)
	c := s.client(t)
	c.CAFile = ""
	err := c.Notify(t.Context(), notice())
	if _, ok := errors.AsType[x509.UnknownAuthorityError](err); ok || err == nil || !strings.Contains(err.Error(), "certificate") {
		t.Errorf("got %v", err)
	}
	if strings.Contains(s.told(), "AUTH") {
		t.Error("logged in to a server it doesn't know")
	}
}

// A server that never speaks: port 465 asked without TLS, or a middle box.
func TestMailHangs(t *testing.T) {
	s := newMailServer(t, false, map[string]string{"greeting": "silence"})
	ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond)
	defer cancel()
	began := time.Now()
	err := s.client(t).Notify(ctx, notice())
	if e, ok := errors.AsType[*Error](err); !ok || e.Permanent || !strings.Contains(e.Problem, "deadline") {
		t.Errorf("got %#v", err)
	}
	if waited := time.Since(began); waited > 5*time.Second {
		t.Errorf("waited %v", waited)
	}
}

func TestMailUnreachable(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	listener.Close()
	c := &SMTP{Server: listener.Addr().String(), From: "pi@example.net", To: []string{"me@example.net"}}
	err = c.Notify(t.Context(), notice())
	if e, ok := errors.AsType[*Error](err); !ok || e.Permanent {
		t.Errorf("got %#v", err)
	}
}
