package daemon

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"time"

	"conditiond/daemon/engine"
	"conditiond/daemon/journal"
)

// doubt is kept in the journal from the start of a machine whose clock nobody
// has set yet, until it is set. What comes meanwhile is dated by that clock and
// the seconds that go by. Once the clock is right all of it is moved, and lived
// through again from the state before.
type doubt struct {
	Boot   string    // the machine's start that it belongs to
	Booted time.Time // when that was, by the time that is told
	From   time.Time // the first instant told
	Floor  time.Time // what came before it ended here
	State  []byte    // the engine's, before it
	after  int64     // the last entry before it
}

const (
	doubtName = "doubt"
	// heldFor is how long after the machine's start InfluxDB waits for a right
	// time: a point that was written there stays where it is.
	heldFor = time.Hour
)

// doubtClock begins to doubt a clock that nobody has set in this start of the
// machine, or goes on doubting it where the program was started again meanwhile.
func (l *loop) doubtClock(ctx context.Context, boot string, set bool, up time.Duration) error {
	d, err := keptDoubt(ctx, l.journal)
	if err != nil {
		l.log.Warn("what came before this start keeps its time", "err", err)
	}
	c, again := l.pace.clock, d != nil && boot != "" && d.Boot == boot
	if d != nil && !again {
		l.log.Warn("the machine was started again before anybody had set its clock: what came before keeps its time", "from", d.From)
	}
	switch {
	case again:
		c.told = laterOf(l.engine.Now(), d.Booted.Add(up))
		l.log.Info("the program was started again while nobody has set the clock", "since", d.From)
	case !set && up < patience:
		l.log.Warn("nobody has set this machine's clock since it was started; what comes is dated again once somebody has", "time", c.told)
		if d, err = l.newDoubt(boot, up); err != nil {
			return err
		}
	case d != nil:
		return l.journal.Keep(doubtName, l.seq, nil)
	default:
		return nil
	}
	l.doubt = d
	l.hold.Store(&d.after)
	c.doubt(d.slack())
	return l.keepDoubt()
}

func keptDoubt(ctx context.Context, j *journal.Journal) (*doubt, error) {
	seq, kept, err := j.Kept(ctx, doubtName)
	if err != nil || len(kept) == 0 {
		return nil, err
	}
	d := &doubt{after: seq}
	if err := json.Unmarshal(kept, d); err != nil {
		return nil, fmt.Errorf("read what is kept of the clock: %w", err)
	}
	return d, nil
}

func (l *loop) newDoubt(boot string, up time.Duration) (*doubt, error) {
	state, err := l.engine.Snapshot()
	if err != nil {
		return nil, err
	}
	told := l.pace.clock.told
	return &doubt{Boot: boot, Booted: told.Add(-up), From: told, Floor: l.engine.Now(), State: state, after: l.seq}, nil
}

func (l *loop) keepDoubt() error {
	kept, err := json.Marshal(l.doubt)
	if err != nil {
		return err
	}
	return l.journal.Keep(doubtName, l.doubt.after, kept)
}

// slack is how far back what came may be moved, not to come before what was.
func (d *doubt) slack() time.Duration { return max(0, d.From.Sub(laterOf(d.Floor, written()))) }

// held is the last entry that a mirror may carry.
func (l *loop) held() int64 {
	if after := l.hold.Load(); after != nil {
		return *after
	}
	return math.MaxInt64
}

// now is the instant to go by, after what is known of the clock was settled.
func (l *loop) now() time.Time {
	at, moved := l.pace.stamp()
	return l.settled(at, moved)
}

// settled is an instant as it is, told when the clock's time had been moved so
// far.
func (l *loop) settled(at time.Time, moved time.Duration) time.Time {
	l.settle()
	return at.Add(l.moved - moved)
}

// settle what the clock was found to be.
func (l *loop) settle() {
	moved, unsure := l.pace.found()
	if by := moved - l.moved; by != 0 {
		l.moved = moved
		l.mend(by)
	}
	if l.doubt != nil && !unsure {
		l.log.Info("the clock is taken for right")
		l.endDoubt()
	}
	if l.doubt != nil && l.hold.Load() != nil && l.engine.Now().Sub(l.doubt.Booted) > heldFor {
		l.log.Warn("nobody has set the clock for an hour: InfluxDB gets readings with the time that is known, and keeps them so")
		l.hold.Store(nil)
	}
}

// endDoubt lets the mirror go on with the next commit.
func (l *loop) endDoubt() {
	l.doubt = nil
	if err := l.journal.Keep(doubtName, l.seq, nil); err != nil {
		l.log.Error("that the clock is right couldn't be kept", "err", err)
	}
	l.group.began, l.group.urgent = time.Now(), true
}

// mend what was dated while the clock wasn't set. Where that can't be done, the
// clock has jumped and no more.
func (l *loop) mend(by time.Duration) {
	if l.doubt != nil {
		l.commit() // so that the journal has all of it
		err := l.trouble
		if err == nil {
			err = l.relive(by)
		}
		if err == nil {
			return
		}
		l.log.Error("what came while nobody had set the clock keeps its time", "off by", by, "err", err)
		l.endDoubt()
	}
	l.feed(engine.Input{At: l.engine.Now().Add(max(0, by)), Start: &engine.Start{Version: version()}})
}

// relive what came since the doubt began, moved.
func (l *loop) relive(by time.Duration) error {
	e, err := l.engine.Blank()
	if err == nil {
		err = e.Restore(l.doubt.State)
	}
	if err != nil {
		return err
	}
	from := l.doubt.From
	n, err := l.applyMoved(e, from, by)
	if err != nil {
		return err
	}
	l.engine = e
	l.doubt.From, l.doubt.Booted = from.Add(by), l.doubt.Booted.Add(by)
	l.journal.Amend(l.doubt.after, func(kept journal.Entry) (journal.Entry, error) { return movedEntry(kept, from, by) })
	l.log.Warn("the clock was set: what came before is dated again", "by", by.Round(time.Second), "readings", n)
	l.feed(engine.Input{At: e.Now(), Mend: &engine.Mend{By: by, From: l.doubt.From, Readings: n}})
	if err := l.keepDoubt(); err != nil {
		l.log.Error("what is known of the clock couldn't be kept", "err", err)
	}
	l.keepState()
	l.commit()
	return nil
}

// applyMoved brings an engine from before the doubt to now, and counts readings.
func (l *loop) applyMoved(e *engine.Engine, from time.Time, by time.Duration) (n int, err error) {
	for seq := l.doubt.after; ; {
		tellSystemd(busy)
		entries, err := l.journal.After(context.Background(), seq, 1000)
		if err != nil || len(entries) == 0 {
			return n, err
		}
		for _, en := range recallAll(entries, l.log) {
			n += len(en.Readings)
			e.Apply(en.Moved(from, by))
		}
		seq = entries[len(entries)-1].Seq
	}
}

// movedEntry of the journal; one that can't be read stays as it is.
func movedEntry(kept journal.Entry, from time.Time, by time.Duration) (journal.Entry, error) {
	en, err := recall(kept)
	if err != nil {
		return kept, nil
	}
	return record(en.Moved(from, by))
}

func laterOf(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}
