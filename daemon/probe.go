package daemon

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"conditiond/daemon/mqtt"
	"conditiond/daemon/probe"
)

// Probe publishes this machine's own sensors, as any other device would.
type Probe struct {
	Sysfs    string        // root of the kernel's tree; empty = /sys
	Prefix   string        // of the topics: PREFIX/NAME, and PREFIX/status
	Interval time.Duration // between readings
	Rounds   int           // 0 = until the context ends
}

// probed is what is published. Time is this machine's, and Seq counts the
// messages of one sensor since the start, so that a lost one can be seen.
type probed struct {
	Value *float64   `json:"value"` // null with an Error
	Unit  probe.Unit `json:"unit"`
	Time  time.Time  `json:"time"`
	Seq   int        `json:"seq"`
	Error string     `json:"error,omitempty"`
}

// Run until the context ends. Sensors may come and go meanwhile. What is read
// while the broker is away is dropped, not kept: who listens dates a reading by
// when it comes.
func (p Probe) Run(ctx context.Context, c *Config, log *slog.Logger) error {
	conf, err := c.publisher("probe")
	if err != nil {
		return err
	}
	conf.Will = p.Prefix + "/status"
	pub, err := mqtt.NewPublisher(ctx, conf)
	if err != nil {
		return err
	}
	defer pub.Close()
	tellSystemd(ready)
	r := &probing{Probe: p, pub: pub, log: log, seq: map[string]int{}, faults: map[string]string{}}
	tick := time.NewTicker(p.Interval)
	defer tick.Stop()
	for n := 1; ; n++ {
		if err := r.round(ctx); err != nil {
			return err
		}
		if n == p.Rounds {
			return nil
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// publisher is how to reach the broker as somebody else than the daemon. The
// client id holds the machine's name, so that two machines don't throw each
// other out.
func (c *Config) publisher(as string) (mqtt.Config, error) {
	m := c.MQTT
	host, _ := os.Hostname()
	conf := mqtt.Config{Broker: m.Broker, ClientID: m.ClientID + "-" + as + "-" + host, Username: m.Username, CAFile: m.CAFile, CertFile: m.CertFile, KeyFile: m.KeyFile}
	if m.Broker == "" {
		conf.Broker = "mqtt://" + callable(m.Listen)
	}
	var err error
	if m.PasswordFile != "" {
		if conf.Password, err = ownCredential(m.PasswordFile).Read(); err != nil {
			err = fmt.Errorf("mqtt.password_file: %w", err)
		}
	}
	return conf, err
}

// ownCredential is where systemd has put for this service what the
// configuration names for the daemon's.
func ownCredential(s Secret) Secret {
	name, ok := strings.CutPrefix(string(s), serviceCredentials+"/")
	if dir := os.Getenv("CREDENTIALS_DIRECTORY"); ok && dir != "" {
		return Secret(filepath.Join(dir, name))
	}
	return s
}

// callable turns an address that is listened on into one to call.
func callable(listen string) string {
	host, port, _ := net.SplitHostPort(listen)
	if ip := net.ParseIP(host); host == "" || ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	return net.JoinHostPort(host, port)
}

// probing is a Probe at work.
type probing struct {
	Probe
	pub    *mqtt.Publisher
	log    *slog.Logger
	seq    map[string]int
	faults map[string]string // by sensor; empty = reads
	away   bool
}

// round reads and publishes every sensor once.
func (r *probing) round(ctx context.Context) error {
	found := probe.Find(cmp.Or(r.Sysfs, probe.Sysfs))
	if len(found) == 0 && r.faults[""] == "" {
		r.faults[""] = "none"
		r.log.Warn("probe: the kernel shows no sensor; is its overlay loaded?")
	}
	for _, s := range found {
		v, err := s.Read()
		r.remark(s.Name, err)
		if err := r.publish(ctx, s, v, err); err != nil {
			return err
		}
	}
	return nil
}

// remark on what has changed, once.
func (r *probing) remark(name string, err error) {
	fault := ""
	if err != nil {
		fault = err.Error()
	}
	before, known := r.faults[name]
	r.faults[name] = fault
	switch {
	case fault != "" && fault != before:
		r.log.Warn("probe: no reading", "sensor", name, "err", fault)
	case fault == "" && before != "":
		r.log.Info("probe: recovered", "sensor", name)
	case !known:
		r.log.Info("probe: found", "sensor", name, "topic", r.Prefix+"/"+name)
	}
}

func (r *probing) publish(ctx context.Context, s probe.Sensor, v float64, fault error) error {
	r.seq[s.Name]++
	m := probed{Value: &v, Unit: s.Unit, Time: time.Now().UTC().Truncate(time.Millisecond), Seq: r.seq[s.Name]}
	if fault != nil {
		m.Value, m.Error = nil, fault.Error()
	}
	payload, err := json.Marshal(m)
	if err != nil {
		return err
	}
	if !r.reached() {
		return nil
	}
	ctx, cancel := context.WithTimeout(ctx, r.Interval)
	defer cancel()
	err = r.pub.Publish(ctx, r.Prefix+"/"+s.Name, payload)
	if ctx.Err() == context.DeadlineExceeded {
		return nil // the connection will be found lost
	}
	return err
}

// reached tells whether the broker is there, and says so when that changes.
func (r *probing) reached() bool {
	away := !r.pub.Connected()
	switch {
	case away && !r.away:
		r.log.Warn("probe: the broker is away; readings are dropped until it is back")
	case !away && r.away:
		r.log.Info("probe: the broker is back")
	}
	r.away = away
	return !away
}

// List what is there, with what each sensor says now, and the lines that the
// configuration needs for it.
func (p Probe) List(out io.Writer) error {
	found := probe.Find(cmp.Or(p.Sysfs, probe.Sysfs))
	if len(found) == 0 {
		return fmt.Errorf("the kernel shows no sensor below %s: is its overlay loaded, and the sensor plugged in?", cmp.Or(p.Sysfs, probe.Sysfs))
	}
	for _, s := range found {
		v, err := s.Read()
		if err != nil {
			fmt.Fprintf(out, "# %s: %v\n", s.Name, err)
		} else {
			fmt.Fprintf(out, "# %s: %.5g %s\n", s.Name, v, s.Unit)
		}
		p.lines(out, s)
	}
	return nil
}

// lines of the configuration. Only the name is left to a person, and for a
// voltage what it stands for.
func (p Probe) lines(out io.Writer, s probe.Sensor) {
	what := map[probe.Unit]string{
		probe.DegC: "quantity: temperature, unit: degC",
		probe.KPa:  "quantity: pressure, unit: kPa, reference: absolute",
		probe.Volt: "quantity: pressure, unit: bar, full_scale: ASK, calibration: {scale: ASK, offset: ASK}",
	}[s.Unit]
	fmt.Fprintf(out, "  NAME: {topic: %s/%s, pointer: /value, %s, interval: %s}\n", p.Prefix, s.Name, what, short(p.Interval))
}
