package daemon

import (
	"fmt"
	"log/slog"
	"sync"
	"time"
)

// clock is the machine's clock, under watch. A Pi has none that runs without
// power: it starts in 1970, or where it was shut down, and jumps when the
// network tells it the time. What is told here never goes back: while the
// clock is behind, time goes on from the last instant told by the monotonic
// clock, which counts seconds and knows no date.
type clock struct {
	log *slog.Logger

	mu     sync.Mutex
	read   time.Time     // the last look, with its monotonic reading
	told   time.Time     // what was told then
	behind time.Duration // how far the clock is behind what was told; 0 = trusted
	since  time.Time     // since when it is trusted, or isn't
	jump   time.Time     // where it jumped ahead to, until somebody asks
	unsure bool          // nobody has set it yet since the machine was started
	moved  time.Duration // how far what was told has been moved since
	slack  time.Duration // how far it may yet be moved back
	up     time.Duration // the machine's uptime at the last look while unsure
}

// leap is how far the clock must move by itself before it is taken for a jump
// (judgement, no source). Less is a clock that is being set right: time stands
// still until it has caught up.
const leap = time.Minute

// patience: a clock that nobody has set a day after the machine's start is taken
// as it is (judgement, no source).
const patience = 24 * time.Hour

// written: the clock of a machine that says less is wrong, for this program is
// not older.
func written() time.Time { return time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC) }

// watchClock that can't be behind what is known already.
func watchClock(known time.Time, log *slog.Logger) *clock {
	c := &clock{log: log, read: time.Now(), told: known}
	if known.Before(written()) {
		c.told = written()
	}
	c.since = c.told
	if now := wall(c.read); now.After(c.told) {
		c.told, c.since = now, now // that time has gone by while we weren't there is no jump
	}
	return c
}

// wall is what the clock says, without the monotonic reading.
func wall(t time.Time) time.Time { return t.Round(0).UTC() }

// now is the instant to go by.
func (c *clock) now() time.Time {
	at, _ := c.stamp()
	return at
}

// stamp is now, with how far the time told was moved by then.
func (c *clock) stamp() (time.Time, time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	read := time.Now()
	passed := read.Sub(c.read)
	c.read = read
	if !c.unsure {
		return c.look(wall(read), passed, true), c.moved
	}
	up := uptime()
	if slept := up - c.up - passed; slept > leap { // the monotonic clock slept too
		passed += slept
	}
	c.up = up
	return c.look(wall(read), passed, up > patience || synchronised()), c.moved
}

// look at a clock that says wall, some time after the last look, and whether it
// is set.
func (c *clock) look(wall time.Time, passed time.Duration, set bool) time.Time {
	if c.unsure {
		c.correct(wall.Sub(c.told.Add(passed)), set)
	}
	on := c.told.Add(passed)
	switch off := wall.Sub(on); {
	case off < -leap:
		c.told = on
		c.distrust(-off)
		return c.told
	case off > leap:
		c.jump = wall
		c.log.Warn("the clock jumped ahead, or the machine slept", "by", off.Round(time.Second), "to", wall)
		c.since = wall
	case c.behind > 0:
		c.since = on
	}
	if c.behind > 0 {
		c.log.Info("the clock is trusted again")
	}
	c.behind = 0
	if wall.After(c.told) {
		c.told = wall
	}
	return c.told
}

// doubt the clock, which may yet be found to have been ahead by as much as slack.
func (c *clock) doubt(slack time.Duration) {
	c.unsure, c.slack, c.up = true, slack, uptime()
}

// correct what was told while the clock was not set, by how far it is off.
func (c *clock) correct(off time.Duration, set bool) {
	c.unsure = !set
	by := max(off, -c.slack)
	if by > leap || set && by < -leap {
		c.told = c.told.Add(by)
		c.moved += by
		c.slack += by
		c.since = c.told
	}
}

func (c *clock) found() (moved time.Duration, unsure bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.moved, c.unsure
}

func (c *clock) distrust(by time.Duration) {
	if c.behind == 0 {
		c.since = c.told
		c.log.Warn("the clock is behind what is known already: time goes on without it", "by", by.Round(time.Second), "from", c.told)
	}
	c.behind = by
}

// jumped tells once of a jump ahead, to whoever has come to where it led.
func (c *clock) jumped(at time.Time) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.jump.IsZero() || at.Before(c.jump) {
		return false
	}
	c.jump = time.Time{}
	return true
}

// problem that a person should know, and since when it is so.
func (c *clock) problem() (string, time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	switch {
	case c.behind == 0 && c.unsure && c.up < heldFor:
		return "nobody has set this machine's clock since it was started: what comes meanwhile is dated again once the network tells the time, and InfluxDB waits for that up to an hour", c.since
	case c.behind == 0:
		return "", c.since
	}
	return fmt.Sprintf("this machine's clock is %s behind what is known already, so time goes on without it; let the machine take its time from the network",
		c.behind.Round(time.Second)), c.since
}
