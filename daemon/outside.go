package daemon

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"conditiond/alerts"
	"conditiond/alerts/notify"
	"conditiond/daemon/influx"
	"conditiond/daemon/journal"
	"conditiond/daemon/mqtt"
	"conditiond/daemon/web"
)

// outside makes everything that talks to others: the broker, the page, the
// followers.
func (d *Daemon) outside(ctx context.Context) error {
	if err := d.listen(); err != nil {
		return err
	}
	if err := d.follow(); err != nil {
		return err
	}
	for _, f := range d.followers {
		if err := f.Begin(ctx); err != nil {
			return err
		}
	}
	return d.serve()
}

func (d *Daemon) listen() error {
	conf, err := d.mqttConfig()
	if err != nil {
		return err
	}
	if d.config.MQTT.Broker == "" {
		b, err := mqtt.Listen(conf, d.log)
		if err != nil {
			return err
		}
		d.link = b
		d.loop.pause = min(d.loop.pause, publishersWait)
	} else {
		c, err := mqtt.Dial(conf, d.log)
		if err != nil {
			return err
		}
		d.link = c
	}
	return nil
}

// publishersWait: behind the built-in broker a sensor waits for its reading to
// be journalled, so the pause is short.
const publishersWait = 250 * time.Millisecond

func (d *Daemon) mqttConfig() (mqtt.Config, error) {
	m := d.config.MQTT
	conf := mqtt.Config{Broker: m.Broker, Listen: m.Listen, Username: m.Username,
		CAFile: m.CAFile, CertFile: m.CertFile, KeyFile: m.KeyFile}
	for _, s := range d.config.Sensors {
		conf.Topics = append(conf.Topics, s.Topic)
	}
	if m.Discovery != "" {
		conf.Topics = append(conf.Topics, hubStatus)
	}
	slices.Sort(conf.Topics)
	conf.Topics = slices.Compact(conf.Topics)
	var err error
	if m.PasswordFile != "" {
		if conf.Password, err = m.PasswordFile.Read(); err != nil {
			return conf, fmt.Errorf("mqtt.password_file: %w", err)
		}
	}
	conf.ClientID, err = clientID(m.ClientID, d.config.Journal.Dir)
	return conf, err
}

// clientID is stable for an installation and differs between two: a copied
// configuration must not throw the other off the broker.
func clientID(given, dir string) (string, error) {
	path := filepath.Join(dir, "client-id")
	if b, err := os.ReadFile(path); err == nil && len(b) > 0 {
		return given + "-" + strings.TrimSpace(string(b)), nil
	}
	b := make([]byte, 4)
	rand.Read(b)
	id := hex.EncodeToString(b)
	if err := os.WriteFile(path, []byte(id+"\n"), 0o640); err != nil && !errors.Is(err, syscall.ENOSPC) && !errors.Is(err, syscall.EROFS) {
		return "", fmt.Errorf("keep the MQTT client id: %w", err)
	}
	return given + "-" + id, nil // without the disk it holds for this run
}

// follow makes what carries the journal outward.
func (d *Daemon) follow() error {
	d.add("mqtt", true, announcer{d.link, d.log}.deliver)
	if d.config.MQTT.Discovery != "" {
		d.hub = d.newHub()
	}
	if c := d.config.InfluxDB; c != nil {
		token, err := c.TokenFile.Read()
		if err != nil {
			return fmt.Errorf("influxdb.token_file: %w", err)
		}
		sink, err := influx.New(influx.Config{URL: c.URL, Org: c.Org, Bucket: c.Bucket, Token: token}, d.log)
		if err != nil {
			return err
		}
		f := d.add("influxdb", false, mirror{sink, d.spaces(), d.log}.deliver)
		f.Held = d.loop.held
		f.Aside = func() (int64, string) {
			a := sink.Aside()
			return a.Points, a.Reason
		}
	}
	zone, err := d.config.Site.Location()
	if err != nil {
		return err
	}
	for _, n := range d.config.Notify {
		d.tell(n, zone)
	}
	return nil
}

func (d *Daemon) spaces() map[string]string {
	out := map[string]string{}
	for name, s := range d.config.Spaces {
		out[s.Temperature] = name
	}
	return out
}

func (d *Daemon) tell(n notify.Config, zone *time.Location) {
	t := &teller{name: n.Name, to: n.Kinds()[0], zone: zone, pace: d.pace, stands: d.stands, draw: d.draw, log: d.log, refused: new(aside)}
	d.side = append(d.side, t)
	f := d.add("notify "+n.Name, true, t.gather)
	f.Flush, f.Aside = t.flush, t.refused.tell
}

// draw a lot as the page shows it.
func (d *Daemon) draw(ctx context.Context, lot string) ([]byte, error) {
	return d.page.Picture(ctx, lot)
}

// stands says whether what a notice is about is still so.
func (d *Daemon) stands(m alerts.Message) bool {
	return slices.ContainsFunc(d.View().Alerts, func(a alerts.Alert) bool {
		return a.Lot == m.Lot && a.Sensor == m.Sensor && a.Name == m.Alert && a.State != alerts.Returned
	})
}

// add a follower. One of news begins with what comes next, not with the past.
func (d *Daemon) add(name string, news bool, deliver func(context.Context, []journal.Entry) error) *Follower {
	f := &Follower{Name: name, Journal: d.journal, Deliver: deliver, Log: d.log, News: news}
	d.followers = append(d.followers, f)
	return f
}

// bypass tells everybody without the journal, each in its own time.
func (d *Daemon) bypass(list []alerts.Message) {
	for _, t := range d.side {
		for _, m := range list {
			if m.To == t.name {
				go func() {
					ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
					defer cancel()
					if err := t.tell(ctx, t.local(m)); err != nil {
						d.log.Error("a notice could not be delivered while the journal can't be written", "recipient", t.name, "notice", m.ID, "err", err)
					}
				}()
			}
		}
	}
}

func (d *Daemon) serve() error {
	w := d.config.Web
	zone, err := d.config.Site.Location()
	if err != nil {
		return err
	}
	conf := web.Config{Listen: w.Listen, Site: d.config.Site.Name, Location: zone, Altitude: d.config.Site.Altitude,
		CertificateFile: w.CertificateFile, KeyFile: w.KeyFile, Metrics: d.metrics()}
	if w.PasswordFile != "" {
		if conf.Password, err = w.PasswordFile.Read(); err != nil {
			return fmt.Errorf("web.password_file: %w", err)
		}
	}
	if conf.Sections, err = d.config.sections(); err != nil {
		return err
	}
	if d.page, err = web.New(conf, d, d.log); err != nil {
		return err
	}
	d.Addr = d.page.Addr()
	return nil
}
