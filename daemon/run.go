package daemon

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"sync/atomic"
	"time"

	"golang.org/x/sync/errgroup"

	"conditiond/daemon/engine"
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
	lost      string       // what the journal no longer holds, and why; empty = nothing
	unsound   atomic.Bool  // the journal failed its nightly check
	tight     atomic.Bool  // it is larger than it may be
	missed    atomic.Int64 // the last entry that was deleted before all had it
	loop      *loop
	board     *board
	requests  chan request
	link      link // nil without a broker
	hub       *hub // nil unless it was asked for
	followers []*Follower
	side      []*teller
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
	modest()
	if volatile(c.Journal.Dir) {
		log.Warn("the journal lies in memory or on an overlay: it may not survive a restart of this machine", "dir", c.Journal.Dir)
	}
	d, err := open(ctx, c, Pace{}, journal.OpenAnyway, log)
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
	d, err := open(ctx, &own, Pace{}, journal.Open, log)
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
func open(ctx context.Context, c *Config, pace Pace, how opener, log *slog.Logger) (*Daemon, error) {
	d := &Daemon{config: c, log: log, board: newBoard(), requests: make(chan request)}
	var err error
	if d.journal, d.lost, err = openJournal(ctx, c.Journal, how, log); err != nil {
		return nil, err
	}
	var kept time.Time
	e, err := engine.New(closet(c, time.Hour))
	if err == nil {
		kept, err = recoverEngine(ctx, e, d.journal, log)
	}
	if err != nil {
		return nil, errors.Join(err, d.journal.Close())
	}
	if pace.hand == nil {
		pace.clock = watchClock(e.Now(), log)
	}
	d.pace = pace
	d.loop = &loop{engine: e, journal: d.journal, pace: pace, pause: c.Journal.Pause, requests: d.requests,
		board: d.board, log: log, bypass: d.bypass, seq: d.journal.Last(), kept: kept, lost: d.lost}
	if pace.hand == nil {
		if err := d.loop.doubtClock(ctx, bootID(), synchronised(), uptime()); err != nil {
			return nil, errors.Join(err, d.journal.Close())
		}
	}
	d.board.show(e.View(), nil)
	return d, nil
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
		d.group.Go(func() error { return source(in, d.link.Messages(), d.pace, stamped, d.hub) })
	}
	d.group.Go(func() error {
		defer giveUp()
		err := d.orStop(d.loop.run(in))
		d.drain()
		return err
	})
	d.group.Go(func() error { return d.orStop(d.page.Serve(in)) })
	for _, f := range d.followers {
		d.group.Go(func() error { return f.Run(out) })
	}
	if d.hub != nil {
		d.group.Go(func() error { return d.hub.run(in) })
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
	d.slim()
	d.log.Info("watching", "page", d.page.URL(), "lots", len(d.View().Lots))
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
