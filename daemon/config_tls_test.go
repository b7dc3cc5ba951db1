package daemon

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// issue a certificate of this machine, signed by itself, and its key.
func issue(t *testing.T, dir, name string, from, until time.Time, hosts ...string) (certificate, key string) {
	t.Helper()
	secret, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	x := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: from, NotAfter: until, DNSNames: hosts}
	der, err := x509.CreateCertificate(rand.Reader, x, x, &secret.PublicKey, secret)
	if err != nil {
		t.Fatal(err)
	}
	pkcs8, err := x509.MarshalPKCS8PrivateKey(secret)
	if err != nil {
		t.Fatal(err)
	}
	certificate, key = filepath.Join(dir, name+".pem"), filepath.Join(dir, name+".key")
	for path, block := range map[string]*pem.Block{certificate: {Type: "CERTIFICATE", Bytes: der}, key: {Type: "PRIVATE KEY", Bytes: pkcs8}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return certificate, key
}

// What is wrong with the page's certificate is said where it stands, with what
// would be right; one that ran out doesn't keep the daemon from watching.
func TestPageCertificate(t *testing.T) {
	dir, now := t.TempDir(), time.Now()
	good, key := issue(t, dir, "good", now.Add(-time.Hour), now.Add(time.Hour), "pi.example.net")
	_, foreign := issue(t, dir, "foreign", now.Add(-time.Hour), now.Add(time.Hour), "pi.example.net")
	old, oldKey := issue(t, dir, "old", now.Add(-2*time.Hour), now.Add(-time.Hour), "pi.example.net")
	early, earlyKey := issue(t, dir, "early", now.Add(time.Hour), now.Add(2*time.Hour), "pi.example.net")
	nameless, namelessKey := issue(t, dir, "nameless", now.Add(-time.Hour), now.Add(time.Hour))
	text := filepath.Join(dir, "text")
	if err := os.WriteFile(text, []byte("no PEM\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, x := range map[string]struct {
		web   string
		want  string // of a fault, or with lives of a warning
		lives bool
	}{
		"good":           {"certificate_file: " + good + ", key_file: " + key, "", true},
		"no key":         {"certificate_file: " + good, "its key is missing: give key_file too, or neither", false},
		"no certificate": {"key_file: " + key, "2:17: web.key_file: the certificate of this key is missing", false},
		"empty":          {`certificate_file: ""`, "leave both out", false},
		"not there":      {"certificate_file: /nowhere/c.pem, key_file: " + key, "can't be read: no such file", false},
		"no PEM":         {"certificate_file: " + text + ", key_file: " + key, "holds no certificate in PEM form: the file with the whole chain would be right", false},
		"swapped":        {"certificate_file: " + key + ", key_file: " + good, "holds no private key in PEM form", false},
		"another's key":  {"certificate_file: " + good + ", key_file: " + foreign, "not usable with the key in key_file", false},
		"ran out":        {"certificate_file: " + old + ", key_file: " + oldKey, "a renewed one would be right", true},
		"too early":      {"certificate_file: " + early + ", key_file: " + earlyKey, "one that holds now would be right", true},
		"nameless":       {"certificate_file: " + nameless + ", key_file: " + namelessKey, "subjectAltName", true},
	} {
		t.Run(name, func(t *testing.T) {
			document := "site: {name: Under the stairs, timezone: Europe/Oslo}\nweb: {" + x.web + "}\n" +
				"sensors: {a: {topic: a, quantity: temperature, unit: degC}}\nspaces: {s: {temperature: a}}\nnotify: [{name: l, log: {}}]\n"
			_, warnings, err := parseConfig("c.yaml", []byte(document), toRun)
			_, _, told := parseConfig("c.yaml", []byte(document), toTell)
			if (err == nil) != x.lives || (told == nil) != (x.want == "") {
				t.Errorf("to run: %v; to tell: %v", err, told)
			}
			for _, err := range []error{err, told} {
				if err != nil && !strings.Contains(err.Error(), x.want) {
					t.Errorf("%v, want %q", err, x.want)
				}
			}
			if x.lives && x.want != "" && (len(warnings) != 1 || !strings.Contains(warnings[0].Error(), x.want)) {
				t.Errorf("warnings %v, want %q", warnings, x.want)
			}
			var faults Faults
			if told != nil && (!errors.As(told, &faults) || faults[0].Line != 2 || faults[0].Column < 7) {
				t.Errorf("it doesn't say where: %v", told)
			}
		})
	}
}
