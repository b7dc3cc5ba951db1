package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"time"

	"github.com/robfig/cron/v3"
)

// upkeep runs the chores of the clock until the context ends: the heartbeat to
// an outside watcher, the watch's look at itself, and the nightly one at the
// journal.
func (d *Daemon) upkeep(ctx context.Context) error {
	zone, err := d.config.Site.Location()
	if err != nil {
		return err
	}
	c := upkeepCron(zone, d.log)
	c.Schedule(nightly{3*time.Hour + 30*time.Minute, zone}, cron.FuncJob(func() { d.tend(ctx) }))
	if d.config.Journal.MaxMB > 0 {
		if _, err := c.AddFunc("@every 1h", func() { d.fit(ctx) }); err != nil {
			return fmt.Errorf("schedule the look at the journal's size: %w", err)
		}
	}
	self := &self{d: d}
	if _, err := c.AddFunc("@every 1m", func() { self.look(ctx) }); err != nil {
		return fmt.Errorf("schedule the look at ourselves: %w", err)
	}
	if _, err := c.AddFunc("@every 1m", d.slim); err != nil {
		return fmt.Errorf("schedule the giving back of memory: %w", err)
	}
	if h := d.config.Heartbeat; h != nil {
		if _, err := c.AddFunc("@every "+h.Every.String(), func() { d.beat(ctx, h) }); err != nil {
			return fmt.Errorf("schedule the heartbeat: %w", err)
		}
	}
	c.Start()
	<-ctx.Done()
	<-c.Stop().Done()
	return nil
}

// upkeepCron runs each chore once at a time, and outlives its panics. They are
// recovered within: outside, the library would take the chore for running still.
func upkeepCron(zone *time.Location, to *slog.Logger) *cron.Cron {
	log := cronLog{to}
	return cron.New(cron.WithLocation(zone), cron.WithLogger(log), cron.WithChain(cron.SkipIfStillRunning(log), cron.Recover(log)))
}

// nightly is a time of day in a zone, once on every date. Where clocks are put
// forward over it, or back, cron's own schedules leave it out or run it twice.
type nightly struct {
	clock time.Duration // since midnight by the clock on the wall
	zone  *time.Location
}

// Next is the first such instant after t.
func (n nightly) Next(t time.Time) time.Time {
	y, m, d := t.In(n.zone).Date()
	for {
		if at := n.on(y, m, d); at.After(t) {
			return at
		}
		d++
	}
}

func (n nightly) on(y int, m time.Month, d int) time.Time {
	at := time.Date(y, m, d, 0, 0, 0, int(n.clock), n.zone)
	if at.Day() != time.Date(y, m, d, 12, 0, 0, 0, n.zone).Day() { // a date without midnight
		at = at.Add(time.Hour)
	}
	return at
}

// tend the journal: look at all of it, and delete what is old when it is sound.
func (d *Daemon) tend(ctx context.Context) {
	err := d.journal.Check(ctx)
	if ctx.Err() != nil {
		return
	}
	d.unsound.Store(err != nil)
	if err != nil {
		d.log.Error("the journal fails its check: restore a backup", "err", err)
	}
	if err == nil && d.config.Journal.Keep > 0 {
		d.prune(ctx)
	}
}

// prune what is older than the journal is to be kept, but for what somebody
// still needs: a follower that has not carried it, a restart that begins at the
// kept state, an open lot.
func (d *Daemon) prune(ctx context.Context) {
	seq, _, err := d.journal.Kept(ctx, snapshotName)
	for _, f := range d.followers {
		seq = min(seq, f.State().Delivered)
	}
	old := d.unneeded(d.pace.Now().Add(-d.config.Journal.Keep))
	var rows int64
	if err == nil {
		rows, err = d.journal.Prune(ctx, old, seq)
	}
	switch {
	case err != nil && ctx.Err() == nil:
		d.log.Error("old entries couldn't be deleted from the journal", "err", err)
	case rows > 0:
		d.log.Info("old entries deleted from the journal", "before", old, "rows", rows)
	}
}

// beat calls the outside watcher, but only while the measuring goes on: the
// watcher hears nothing when the loop is stuck, not only when the process is
// dead.
func (d *Daemon) beat(ctx context.Context, h *Heartbeat) {
	if since := d.loop.stuck(); !since.IsZero() {
		d.log.Error("no heartbeat: the loop stands still", "since", since)
		return
	}
	url, err := h.URLFile.Read()
	if err != nil {
		d.log.Error("heartbeat.url_file", "err", err)
		return
	}
	ctx, cancel := context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
	if err != nil {
		d.log.Error("the heartbeat's address can't be used")
		return
	}
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		d.log.Warn("the heartbeat didn't get through") // the error would print the address
		return
	}
	a.Body.Close()
}

// cronLog lets cron speak through our log.
type cronLog struct{ log *slog.Logger }

func (c cronLog) Info(string, ...any) {}

func (c cronLog) Error(err error, msg string, args ...any) {
	c.log.Error("upkeep: "+msg, append([]any{"err", err}, args...)...)
}
