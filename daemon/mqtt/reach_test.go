package mqtt

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/binary"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"conditiond/daemon/mqtt/mosquittotest"
)

// authority signs certificates that a test needs.
type authority struct {
	t    *testing.T
	dir  string
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

func newAuthority(t *testing.T) *authority {
	a := &authority{t: t, dir: t.TempDir()}
	a.cert = &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "invented authority"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}
	a.key = a.write("ca", a.cert, nil)
	return a
}

// issue a certificate for this machine and for a client of a name.
func (a *authority) issue(name string, from time.Time) {
	a.write(name, &x509.Certificate{SerialNumber: big.NewInt(2), Subject: pkix.Name{CommonName: name},
		NotBefore: from, NotAfter: from.Add(2 * time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth}}, a.key)
}

func (a *authority) write(name string, cert *x509.Certificate, signer *ecdsa.PrivateKey) *ecdsa.PrivateKey {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		a.t.Fatal(err)
	}
	if signer == nil {
		signer = key
	}
	der, err := x509.CreateCertificate(rand.Reader, cert, a.cert, &key.PublicKey, signer)
	if err != nil {
		a.t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		a.t.Fatal(err)
	}
	for file, block := range map[string]*pem.Block{a.path(name): {Type: "CERTIFICATE", Bytes: der}, a.path(name + "-key"): {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(file, pem.EncodeToMemory(block), 0o600); err != nil {
			a.t.Fatal(err)
		}
	}
	return key
}

func (a *authority) path(name string) string { return filepath.Join(a.dir, name+".pem") }

func (a *authority) broker() *mosquittotest.Mosquitto {
	return mosquittotest.New(a.t, "allow_anonymous true", "require_certificate true",
		"cafile "+a.path("ca"), "certfile "+a.path("broker"), "keyfile "+a.path("broker-key"))
}

func TestTLSWithOurCertificate(t *testing.T) {
	a := newAuthority(t)
	a.issue("broker", time.Now().Add(-time.Hour))
	a.issue("daemon", time.Now().Add(-time.Hour))
	m := a.broker()
	c := dialed(t, Config{Broker: "mqtts://" + m.Addr, CAFile: a.path("ca"), CertFile: a.path("daemon"), KeyFile: a.path("daemon-key")})
	ready(t, c)
}

func TestTLSFaultsAreNamed(t *testing.T) {
	a, other := newAuthority(t), newAuthority(t)
	a.issue("daemon", time.Now().Add(-time.Hour))
	for _, x := range []struct {
		name string
		from time.Time
		ca   string
		want string
	}{
		{"not yet valid", time.Now().Add(30 * time.Minute), a.path("ca"), "the clock looks wrong"},
		{"expired", time.Now().Add(-3 * time.Hour), a.path("ca"), "the broker's certificate expired"},
		{"another authority", time.Now().Add(-time.Hour), other.path("ca"), "give it as ca_file"},
	} {
		t.Run(x.name, func(t *testing.T) {
			a.issue("broker", x.from)
			m := a.broker()
			c := dialed(t, Config{Broker: "mqtts://" + m.Addr, CAFile: x.ca, CertFile: a.path("daemon"), KeyFile: a.path("daemon-key")})
			until(t, x.want, func() bool { return strings.Contains(c.State().Problem, x.want) })
		})
	}
}

// tunnel to a broker that can go dead without closing; it then takes no new
// connections either.
type tunnel struct {
	net.Listener
	dead atomic.Bool
}

func newTunnel(t *testing.T, to string) *tunnel {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { ln.Close() })
	tn := &tunnel{Listener: ln}
	go func() {
		for {
			in, err := ln.Accept()
			if err != nil {
				return
			}
			out, err := net.Dial("tcp", to)
			if err != nil || tn.dead.Load() {
				in.Close()
				continue
			}
			go tn.carry(in, out)
			go tn.carry(out, in)
		}
	}()
	return tn
}

func (tn *tunnel) carry(from, to net.Conn) {
	defer to.Close()
	buf := make([]byte, 4096)
	for {
		n, err := from.Read(buf)
		if err != nil {
			return
		}
		if !tn.dead.Load() {
			to.Write(buf[:n])
		}
	}
}

func TestDeadLinkIsNoticed(t *testing.T) {
	m := mosquittotest.New(t)
	tn := newTunnel(t, m.Addr)
	c := dialed(t, Config{Broker: "mqtt://" + tn.Addr().String(), KeepAlive: 2 * time.Second})
	ready(t, c)
	tn.dead.Store(true)
	began := time.Now()
	until(t, "the loss is seen", func() bool { return !c.State().Connected })
	if took := time.Since(began); took > 6*time.Second { // one and a half times the keep-alive, the wait for the answer, and one check
		t.Errorf("noticed after %v", took)
	}
	says(t, stranger(t, m.Addr, "sensor", nil), "closet/air", "18.4", 1, false)
	tn.dead.Store(false)
	gets(t, c, "18.4").Done()
}

// The broker announces a quarter of a gigabyte; five bytes suffice (MQTT
// 3.1.1, 2.2.3: the longest length).
func TestFramesBoundWhatIsAnnounced(t *testing.T) {
	packet := func(kind byte, body []byte) []byte { return append(header(kind, int64(len(body))), body...) }
	small := packet(0x30, []byte("\x00\x01tsmall"))
	giant := packet(0x32, append([]byte("\x00\x01t\x00\x07"), bytes.Repeat([]byte("7"), 1<<20)...))
	stream := append(append(append([]byte{}, small...), giant...), small...)
	got, err := io.ReadAll(framed(stream))
	if err != nil {
		t.Fatal(err)
	}
	cut := packet(0x32, giant[4:4+longest])
	if want := append(append(append([]byte{}, small...), cut...), small...); !bytes.Equal(got, want) {
		t.Errorf("%d bytes came through, want %d", len(got), len(want))
	}
	if _, err := io.ReadAll(framed([]byte{0x90, 0xff, 0xff, 0xff, 0x7f})); err == nil {
		t.Error("a giant that is no message was let through")
	}
	if _, err := io.ReadAll(framed([]byte{0x30, 0xff, 0xff, 0xff, 0xff, 0x01})); err == nil {
		t.Error("a length of five bytes was let through")
	}
}

func framed(stream []byte) io.Reader { return bound(fixed{Reader: bytes.NewReader(stream)}) }

// fixed is a connection that only reads.
type fixed struct {
	net.Conn
	io.Reader
}

func (f fixed) Read(p []byte) (int, error) { return f.Reader.Read(p) }

func TestOutboxIsBounded(t *testing.T) {
	o := newOutbox()
	var full error
	for range 10_000 {
		full = o.add(outgoing{"conditiond/alerts/x", []byte("{}"), false})
	}
	if full == nil || len(o.once) > mostOnce {
		t.Errorf("%d are waiting, and no complaint", len(o.once))
	}
	for range 10_000 {
		if err := o.add(outgoing{"conditiond/status", []byte("online"), true}); err != nil {
			t.Fatal(err)
		}
	}
	if m, ok := o.take(); !ok || m.topic != "conditiond/status" {
		t.Errorf("first is %+v", m)
	}
	if m, _ := o.take(); m.retained {
		t.Error("one retained topic is due more than once")
	}
}

// Whatever a broker sends, what comes through is a row of packets of bounded
// length, the last one perhaps torn.
func FuzzFrames(f *testing.F) {
	f.Add([]byte("\x30\x05\x00\x01t18\x32\xff\xff\x7f"))
	f.Fuzz(func(t *testing.T, stream []byte) {
		got, _ := io.ReadAll(framed(stream))
		if len(got) > len(stream) {
			t.Fatalf("%d bytes of %d", len(got), len(stream))
		}
		for len(got) > 0 {
			length, n := binary.Uvarint(got[1:]) // the same form as MQTT's
			if n <= 0 || length > longest {
				t.Fatalf("a packet of %d bytes", length)
			}
			got = got[min(len(got), 1+n+int(length)):]
		}
	})
}

func TestFloodKeepsNobodyElseOut(t *testing.T) {
	in := newInbox([]string{"closet/air"})
	for range 10 * room {
		in.offer(Delivery{})
	}
	for range room / 2 {
		in.put(Delivery{}) // would block were there no room
	}
	var s State
	if in.tell(&s); s.Lost != 10*room-room/2 {
		t.Errorf("lost %d", s.Lost)
	}
}
