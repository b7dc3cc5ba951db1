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
	log := cronLog{d.log}
	c := cron.New(cron.WithLocation(zone), cron.WithLogger(log), cron.WithChain(cron.Recover(log), cron.SkipIfStillRunning(log)))
	if _, err := c.AddFunc("30 3 * * *", func() { d.checkJournal(ctx) }); err != nil {
		return fmt.Errorf("schedule the check of the journal: %w", err)
	}
	self := &self{d: d}
	if _, err := c.AddFunc("@every 1m", func() { self.look(ctx) }); err != nil {
		return fmt.Errorf("schedule the look at ourselves: %w", err)
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

func (d *Daemon) checkJournal(ctx context.Context) {
	if err := d.journal.Check(ctx); err != nil && ctx.Err() == nil {
		d.log.Error("the journal fails its check: restore a backup", "err", err)
	}
}

// stuckAfter without a turn of the loop the measuring has stopped.
const stuckAfter = 2 * time.Minute

// beat calls the outside watcher, but only while the measuring goes on: the
// watcher hears nothing when the loop is stuck, not only when the process is
// dead.
func (d *Daemon) beat(ctx context.Context, h *Heartbeat) {
	if time.Since(d.loop.turned()) > stuckAfter {
		d.log.Error("no heartbeat: the loop stands still", "since", d.loop.turned())
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
