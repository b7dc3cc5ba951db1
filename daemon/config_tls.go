package daemon

import (
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"os"
	"strings"
	"time"

	"conditiond/alerts/notify"
)

// pageCertificate checks the certificate of the page and its key: both or
// neither, and that they fit each other.
func (c configCheck) pageCertificate() {
	const certificate, key = "web.certificate_file", "web.key_file"
	w := c.Web
	switch {
	case w.CertificateFile == "" && w.KeyFile == "":
		for _, path := range []string{certificate, key} {
			if c.given(path) {
				c.fault(path, "empty: the path of a file would be right; or leave both out")
			}
		}
	case w.KeyFile == "":
		c.fault(certificate, "%s: its key is missing: give key_file too, or neither", brief(w.CertificateFile))
	case w.CertificateFile == "":
		c.fault(key, "the certificate of this key is missing: give certificate_file too, or neither")
	case c.here:
		chain := c.pem(certificate, w.CertificateFile, "CERTIFICATE", "the file with the whole chain")
		secret := c.pem(key, w.KeyFile, "PRIVATE KEY", "the key that belongs to the certificate")
		if chain == nil || secret == nil {
			return
		}
		pair, err := tls.X509KeyPair(chain, secret)
		if err != nil {
			c.fault(certificate, "%s: not usable with the key in key_file (%v): both files of one renewal would be right, the page's own certificate first", brief(w.CertificateFile), err)
			return
		}
		c.holds(certificate, pair.Leaf)
		if notify.Secret(w.KeyFile).Exposed() {
			c.warn(key, "every user of this machine can read the file: chmod 640 would be right")
		}
	}
}

// pem is what a file holds, when it holds something of the kind. The file's name
// isn't quoted where a key may stand in its place.
func (c configCheck) pem(path, file, kind, right string) []byte {
	data, err := os.ReadFile(file)
	if err != nil {
		if pathErr, ok := err.(*os.PathError); ok {
			err = pathErr.Err
		}
		c.fault(path, "%sthe file can't be read: %v; the path of one that the service's user may read would be right", pathOf(notify.Secret(file)), err)
		return nil
	}
	for rest := data; ; {
		var block *pem.Block
		if block, rest = pem.Decode(rest); block == nil {
			c.fault(path, "%sholds no %s in PEM form: %s would be right", pathOf(notify.Secret(file)), strings.ToLower(kind), right)
			return nil
		} else if strings.HasSuffix(block.Type, kind) {
			return data
		}
	}
}

// holds: a certificate must be of now and of some name. The daemon lives with
// one that isn't, for the watch goes before the page; who asks is told that it
// is a fault.
func (c configCheck) holds(path string, x *x509.Certificate) {
	say := c.warn
	if c.strict {
		say = c.fault
	}
	const day = "2006-01-02 15:04 MST"
	switch now := time.Now(); {
	case now.After(x.NotAfter):
		say(path, "%s: it held until %s: a renewed one would be right", brief(c.Web.CertificateFile), x.NotAfter.UTC().Format(day))
	case now.Before(x.NotBefore):
		say(path, "%s: it holds only from %s, and this machine's clock says %s: one that holds now would be right", brief(c.Web.CertificateFile), x.NotBefore.UTC().Format(day), now.UTC().Format(day))
	case len(x.DNSNames)+len(x.IPAddresses) == 0:
		say(path, "%s: it is for no host, and browsers refuse that: one with the name by which you open the page (subjectAltName) would be right", brief(c.Web.CertificateFile))
	}
}
