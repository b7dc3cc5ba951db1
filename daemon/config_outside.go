package daemon

import (
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"net"
	"net/mail"
	"net/url"
	"os"
	"strings"
	"time"

	"conditiond/alerts"
	"conditiond/alerts/notify"
)

func (c configCheck) mqtt() {
	m := c.MQTT
	c.text("mqtt.client_id", m.ClientID)
	if m.PasswordFile != "" && m.Username == "" {
		c.fault("mqtt.username", "missing: a password needs one")
	}
	c.secret("mqtt.password_file", m.PasswordFile)
	if c.given("mqtt.discovery") && m.Discovery != hubPrefix {
		c.fault("mqtt.discovery", "%s: must be %s; or leave it out", brief(m.Discovery), hubPrefix)
	}
	reachable := c.listen("mqtt.listen", m.Listen)
	if m.Broker == "" {
		if reachable && m.PasswordFile == "" {
			c.warn("mqtt.listen", "%s: without username and password_file anyone on the network can send readings", brief(m.Listen))
		}
		c.noTLS("without a broker to call they have no use")
		return
	}
	c.broker(m)
	c.queue()
}

func (c configCheck) broker(m MQTT) {
	u, err := url.Parse(m.Broker)
	switch {
	case err == nil && u.User != nil:
		c.fault("mqtt.broker", "a secret may not stand here: write username and password_file instead")
	case err != nil || u.Hostname() == "" || u.Scheme != "mqtt" && u.Scheme != "mqtts":
		c.fault("mqtt.broker", "%s: must be mqtt://host:1883, or mqtts://host:8883 for TLS", brief(m.Broker))
	case u.Scheme == "mqtt":
		c.noTLS("they are for mqtts://")
		if m.PasswordFile != "" && !loopback(u.Hostname()) {
			c.warn("mqtt.broker", "%s: the password crosses the network in the clear; mqtts:// would hide it", brief(m.Broker))
		}
	default:
		c.certificates(m)
	}
}

func (c configCheck) noTLS(why string) {
	for _, key := range []string{"ca_file", "cert_file", "key_file"} {
		if path := "mqtt." + key; c.given(path) {
			c.fault(path, "%s: take the line out, or give a broker with mqtts://", why)
		}
	}
}

func (c configCheck) certificates(m MQTT) {
	c.authority("mqtt.ca_file", m.CAFile)
	if (m.CertFile == "") != (m.KeyFile == "") {
		c.fault("mqtt", "cert_file and key_file go together: give both or neither")
	} else if c.here && m.CertFile != "" {
		if _, err := tls.LoadX509KeyPair(m.CertFile, m.KeyFile); err != nil {
			c.fault("mqtt.cert_file", "%s: not usable with its key: %v", brief(m.CertFile), err)
		}
	}
}

func (c configCheck) authority(path, file string) {
	if !c.here || file == "" {
		return
	}
	pem, err := os.ReadFile(file)
	if err != nil {
		c.fault(path, "not readable: %v", err)
	} else if !x509.NewCertPool().AppendCertsFromPEM(pem) {
		c.fault(path, "%s: holds no certificate in PEM form", brief(file))
	}
}

// queue warns when a stock broker would lose readings while the daemon is away
// for a day.
func (c configCheck) queue() {
	const stock = 1000 // messages a common broker keeps for an absent client (mosquitto.conf(5), max_queued_messages)
	perHour := 0.0
	fastest := map[string]time.Duration{}
	for _, s := range c.Sensors {
		if s.Interval > 0 && (fastest[s.Topic] == 0 || s.Interval < fastest[s.Topic]) {
			fastest[s.Topic] = s.Interval
		}
	}
	for _, interval := range fastest {
		perHour += float64(time.Hour) / float64(interval)
	}
	if hours := stock / perHour; hours < 24 {
		c.warn("mqtt.broker", "these sensors send %.0f messages an hour, and a broker with stock limits keeps %d of them: %.0f h of absence. If it hasn't max_queued_messages 0 yet, give it the lines of mosquitto.conf (in deploy, or /usr/share/doc/conditiond/examples)", perHour, stock, hours)
	}
}

func (c configCheck) influxdb() {
	i := c.InfluxDB
	if i == nil {
		return
	}
	c.address("influxdb.url", i.URL)
	c.text("influxdb.org", i.Org)
	c.text("influxdb.bucket", i.Bucket)
	c.required("influxdb.token_file", i.TokenFile)
}

func (c configCheck) web() {
	if c.listen("web.listen", c.Web.Listen) && c.Web.PasswordFile == "" {
		c.fault("web.listen", "%s: other machines can reach it, so password_file is required; or listen on 127.0.0.1", brief(c.Web.Listen))
	}
	c.secret("web.password_file", c.Web.PasswordFile)
	c.pageCertificate()
}

func (c configCheck) notify() {
	if len(c.Notify) == 0 {
		c.warn("notify", "nobody is told of anything: the page alone shows alerts")
	}
	seen := map[string]bool{}
	for i, n := range c.Notify {
		path := fmt.Sprintf("notify[%d]", i)
		c.text(path+".name", n.Name)
		if seen[n.Name] {
			c.fault(path+".name", "%s: another entry has this name", brief(n.Name))
		}
		seen[n.Name] = true
		if n.Least.Rank() == 0 {
			c.fault(path+".least", "%s: must be %s", brief(string(n.Least)), oneOf(alerts.Notice, alerts.Warning, alerts.Danger))
		}
		c.kind(path, n)
	}
}

func (c configCheck) kind(path string, n notify.Config) {
	if count := len(n.Kinds()); count != 1 {
		c.fault(path, "has %d kinds: exactly one of webhook, ntfy, smtp and log would be right", count)
	}
	if n.Webhook != nil {
		c.secretURL(path+".webhook.url_file", n.Webhook.URLFile)
	}
	if n.Ntfy != nil {
		if server, _, err := n.Ntfy.Topic(); err != nil {
			c.fault(path+".ntfy.url", "%v", err)
		} else {
			c.noSecret(path+".ntfy.url", server)
		}
		c.secret(path+".ntfy.token_file", n.Ntfy.TokenFile)
	}
	if n.SMTP != nil {
		c.smtp(path+".smtp", *n.SMTP)
	}
}

func (c configCheck) smtp(path string, s notify.SMTP) {
	if host, port, err := net.SplitHostPort(s.Server); err != nil || host == "" || port == "" {
		c.fault(path+".server", "%s: must be a host and a port, such as mail.example.net:587", brief(s.Server))
	}
	c.mailbox(path+".from", s.From)
	if len(s.To) == 0 {
		c.fault(path+".to", "missing: at least one address")
	}
	for i, to := range s.To {
		c.mailbox(fmt.Sprintf("%s.to[%d]", path, i), to)
	}
	c.authority(path+".ca_file", s.CAFile)
	c.secret(path+".password_file", s.PasswordFile)
}

func (c configCheck) mailbox(path, text string) {
	if address, err := mail.ParseAddress(text); err != nil || address.Address != text {
		c.fault(path, "%s: must be a bare mail address, such as pi@example.net", brief(text))
	}
}

func (c configCheck) heartbeat() {
	if h := c.Heartbeat; h != nil {
		c.secretURL("heartbeat.url_file", h.URLFile)
		c.between("heartbeat.every", h.Every, 10*time.Second, 24*time.Hour)
	}
}

// address of a web service, without a secret in it.
func (c configCheck) address(path, text string) {
	u, err := notify.ParseURL(text)
	if err != nil {
		c.fault(path, "%v", err)
		return
	}
	c.noSecret(path, u)
}

func (c configCheck) noSecret(path string, u *url.URL) {
	if u.User != nil {
		c.fault(path, "a secret may not stand here: write token_file instead")
	}
}

// secretURL is a required secret that holds the address of a web service.
func (c configCheck) secretURL(path string, s notify.Secret) {
	if !c.required(path, s) || !c.here {
		return
	}
	if text, err := s.Read(); err == nil {
		if _, err := notify.ParseURL(text); err != nil {
			c.fault(path, "what it names holds %v", err)
		}
	}
}

func (c configCheck) required(path string, s notify.Secret) bool {
	if s == "" {
		c.fault(path, "missing: the file that holds it")
		return false
	}
	c.secret(path, s)
	return true
}

// secret must be there.
func (c configCheck) secret(path string, s notify.Secret) {
	switch {
	case s == "":
		if c.given(path) {
			c.fault(path, "empty: the path of a file, or env:NAME, would be right")
		}
	case c.here:
		_, err := s.Read()
		if err != nil && onlyInService(s) {
			c.warn(path, "%s: it is there only while the service runs, so it can't be looked at here", brief(string(s)))
		} else if err != nil {
			c.fault(path, "%s%v", pathOf(s), err)
		} else if s.Exposed() {
			c.warn(path, "%severy user of this machine can read the file: chmod 600 would be right", pathOf(s))
		}
	}
}

// onlyInService says whether systemd puts the secret there for the service, and
// this is not the service (systemd.exec(5), LoadCredential).
func onlyInService(s notify.Secret) bool {
	return strings.HasPrefix(string(s), "/run/credentials/") && os.Getenv("CREDENTIALS_DIRECTORY") == ""
}

// pathOf quotes where a secret is kept when that is a path for certain. It may
// be the secret itself, put there by mistake.
func pathOf(s notify.Secret) string {
	first, _, more := strings.Cut(strings.TrimPrefix(string(s), "/"), "/")
	if _, err := os.Stat("/" + first); !more || err != nil || s[0] != '/' {
		return ""
	}
	return brief(string(s)) + ": "
}
