package daemon

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"golang.org/x/sync/errgroup"

	"conditiond/alerts"
	"conditiond/alerts/notify"
	"conditiond/daemon/engine"
	"conditiond/daemon/influx"
	"conditiond/daemon/journal"
	"conditiond/daemon/mqtt"
	"conditiond/daemon/web"
)

// Daemon is the running program.
type Daemon struct {
	Addr string // of the page

	config    *Config
	pace      Pace
	log       *slog.Logger
	journal   *journal.Journal
	aside     string // where a journal that couldn't be used was put; empty = none
	loop      *loop
	board     *board
	requests  chan request
	link      link // nil without a broker
	followers []*Follower
	side      []teller
	page      *web.Server
	group     *errgroup.Group
	stop      context.CancelFunc
}

// link is the way to and from a broker: another's, or the built-in one.
type link interface {
	Messages() <-chan mqtt.Delivery
	Publish(topic string, payload []byte, retained bool) error
	State() mqtt.State
	Close(context.Context) error
}

// Run is the daemon until the context ends.
func Run(ctx context.Context, c *Config, log *slog.Logger) error {
	d, err := open(ctx, c, Pace{}, log)
	if err != nil {
		return err
	}
	if err := d.outside(ctx); err != nil {
		return errors.Join(err, d.journal.Close())
	}
	return d.live(ctx)
}

// Offline serves the API straight on the journal, without broker or followers,
// for commands while no daemon runs. Close it.
func Offline(ctx context.Context, c *Config, log *slog.Logger) (*Daemon, error) {
	own := *c
	own.Web = Web{Listen: "127.0.0.1:0"}
	d, err := open(ctx, &own, Pace{}, log)
	if err != nil {
		return nil, err
	}
	if err := d.serve(); err != nil {
		return nil, errors.Join(err, d.journal.Close())
	}
	d.start(ctx)
	return d, nil
}

// Close ends an Offline daemon.
func (d *Daemon) Close() {
	d.stop()
	if err := d.wait(); err != nil {
		d.log.Error("ending", "err", err)
	}
}

// open takes the journal and brings the engine to where it ends. Pace{} is the
// clock.
func open(ctx context.Context, c *Config, pace Pace, log *slog.Logger) (*Daemon, error) {
	d := &Daemon{config: c, log: log, board: newBoard(), requests: make(chan request)}
	var err error
	if d.journal, d.aside, err = openJournal(c.Journal.Dir, log); err != nil {
		return nil, err
	}
	e, err := engine.New(closet(c, time.Hour))
	if err == nil {
		err = recoverEngine(ctx, e, d.journal)
	}
	if err != nil {
		return nil, errors.Join(err, d.journal.Close())
	}
	if pace.hand == nil {
		pace.clock = watchClock(e.Now(), log)
	}
	d.pace = pace
	d.loop = &loop{engine: e, journal: d.journal, pace: pace, pause: c.Journal.Pause, requests: d.requests,
		board: d.board, log: log, bypass: d.bypass, seq: d.journal.Last()}
	d.board.show(e.View(), nil)
	return d, nil
}

// openJournal sets a journal aside that can't be used and begins an empty one,
// for the watch must go on; it says so.
func openJournal(dir string, log *slog.Logger) (*journal.Journal, string, error) {
	j, err := journal.Open(dir, log)
	var unusable *journal.Unusable
	if !errors.As(err, &unusable) {
		return j, "", err
	}
	aside, err := journal.SetAside(dir, time.Now())
	if err != nil {
		return nil, "", errors.Join(unusable, err)
	}
	log.Error("the journal can't be used; it was set aside and an empty one begun: open the lots again, or restore a backup", "aside", aside, "err", unusable)
	j, err = journal.Open(dir, log)
	return j, aside, err
}

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
	if err := os.WriteFile(path, []byte(id+"\n"), 0o640); err != nil {
		return "", fmt.Errorf("keep the MQTT client id: %w", err)
	}
	return given + "-" + id, nil
}

// follow makes what carries the journal outward.
func (d *Daemon) follow() error {
	d.add("mqtt", true, announcer{d.link, d.log}.deliver)
	if c := d.config.InfluxDB; c != nil {
		token, err := c.TokenFile.Read()
		if err != nil {
			return fmt.Errorf("influxdb.token_file: %w", err)
		}
		sink, err := influx.New(influx.Config{URL: c.URL, Org: c.Org, Bucket: c.Bucket, Token: token}, d.log)
		if err != nil {
			return err
		}
		d.add("influxdb", false, mirror{sink, d.spaces(), d.log}.deliver).Aside = func() (int64, string) {
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
	t := teller{name: n.Name, to: n.Kinds()[0], zone: zone, pace: d.pace, log: d.log, refused: new(aside)}
	d.side = append(d.side, t)
	d.add("notify "+n.Name, true, t.deliver).Aside = t.refused.tell
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
					if err := t.tell(ctx, m); err != nil {
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
	conf := web.Config{Listen: w.Listen, Site: d.config.Site.Name, Location: zone, Altitude: d.config.Site.Altitude, Metrics: d.metrics()}
	if w.PasswordFile != "" {
		if conf.Password, err = w.PasswordFile.Read(); err != nil {
			return fmt.Errorf("web.password_file: %w", err)
		}
	}
	if d.page, err = web.New(conf, d, d.log); err != nil {
		return err
	}
	d.Addr = d.page.Addr()
	return nil
}

// drained is how long the followers may take for the last entries.
const drained = 5 * time.Second

// start sets everything going. Two contexts: the first ends what comes in; when
// the loop has written that down, the second ends what goes out.
func (d *Daemon) start(ctx context.Context) {
	in, stop := context.WithCancel(ctx)
	out, giveUp := context.WithCancel(context.WithoutCancel(ctx))
	d.stop = stop
	d.group = new(errgroup.Group)
	if d.link != nil {
		stamped := make(chan arrival, flood)
		d.loop.messages = stamped
		d.group.Go(func() error { return source(in, d.link.Messages(), d.pace, stamped) })
	}
	d.group.Go(func() error {
		defer giveUp()
		err := d.loop.run(in)
		d.drain()
		return err
	})
	d.group.Go(func() error { return d.orStop(d.page.Serve(in)) })
	for _, f := range d.followers {
		d.group.Go(func() error { return f.Run(out) })
	}
	d.group.Go(func() error { return d.upkeep(in) })
}

// orStop ends everything when a part of it has failed.
func (d *Daemon) orStop(err error) error {
	if err != nil && !errors.Is(err, context.Canceled) {
		d.stop()
	}
	return err
}

func (d *Daemon) live(ctx context.Context) error {
	d.start(ctx)
	tellSystemd(ready)
	d.log.Info("watching", "page", "http://"+d.Addr, "lots", len(d.View().Lots))
	return d.wait()
}

func (d *Daemon) wait() error {
	err := d.group.Wait()
	tellSystemd(stopping)
	closers := []func() error{d.journal.Close}
	if d.link != nil {
		closers = append(closers, func() error {
			ctx, cancel := context.WithTimeout(context.Background(), drained)
			defer cancel()
			return d.link.Close(ctx)
		})
	}
	slices.Reverse(closers)
	for _, c := range closers {
		err = errors.Join(err, c())
	}
	return err
}

// drain lets the followers carry the last entries, for a short while.
func (d *Daemon) drain() {
	end := time.Now().Add(drained)
	for time.Now().Before(end) {
		if !slices.ContainsFunc(d.followers, func(f *Follower) bool { return f.State().Behind > 0 && f.State().Err == nil }) {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
}
