package daemon

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync/atomic"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/journal"
)

// loop is the one goroutine that owns the engine and writes the journal: an
// input in, what follows journalled, then made so. What was said in one group
// becomes durable together; only then are messages acknowledged and people
// answered.
type loop struct {
	engine   *engine.Engine
	journal  *journal.Journal
	pace     Pace
	pause    time.Duration // longest that readings wait for company
	messages <-chan arrival
	requests <-chan request
	board    *board
	log      *slog.Logger
	// bypass takes notices while the journal can't be written.
	bypass func([]alerts.Message)

	lost    string // what the journal no longer holds; empty = nothing
	group   group
	trouble error // of the last commit
	seq     int64 // of the last entry
	kept    time.Time

	doubt *doubt                // nil = the clock is set
	moved time.Duration         // how far the clock's time was moved, as far as the engine knows
	hold  atomic.Pointer[int64] // the last entry before the doubt; nil = nothing is held back

	turn atomic.Pointer[time.Time] // when the loop last turned; nil = not yet
}

// group is what waits to become durable.
type group struct {
	began   time.Time // by the clock; zero = empty
	urgent  bool
	waiting int // messages
	done    []func()
	answers []func(error)
	notices []alerts.Message
}

// request is a command, and where its answer goes.
type request struct {
	in     engine.Input
	answer chan<- error
}

// companions cut the pause short: a stock broker sends no more than 20
// unacknowledged messages.
const companions = 20

// retry is how long a failed commit waits at most.
const retry = time.Second

// run until the context ends, which is the end of input; what was taken in is
// then finished.
func (l *loop) run(ctx context.Context) error {
	l.feed(engine.Input{At: l.now(), Start: &engine.Start{Version: version(), Lost: l.lost}})
	timer := time.NewTimer(time.Hour)
	defer timer.Stop()
	pet := time.NewTicker(cmp.Or(watchdog(), time.Minute))
	defer pet.Stop()
	for {
		l.turn.Store(new(time.Now()))
		wait := l.wait()
		timer.Reset(wait)
		slept := time.Now()
		select {
		case <-ctx.Done():
			return l.finish()
		case <-pet.C:
			tellSystemd(alive)
		case m := <-l.messages:
			l.hear(m)
		case r := <-l.requests:
			l.serve(r)
		case <-timer.C:
			if time.Since(slept) > wait+overslept {
				l.waking(ctx)
			}
			l.catchUp()
		}
		l.more()
		l.ticks(l.now())
		l.commitIfDue()
		if errors.Is(l.trouble, journal.ErrOther) {
			return l.trouble // whoever runs us starts us again
		}
	}
}

// overslept is how late the loop may come before it must be that the whole
// machine stood still; wake is how long it then listens before it says that
// somebody was silent.
const (
	overslept = 5 * time.Second
	wake      = 2 * time.Second
)

// waking lets what waits at the door come in first.
func (l *loop) waking(ctx context.Context) {
	l.log.Warn("the machine seems to have stood still")
	end := time.After(wake)
	for {
		select {
		case m := <-l.messages:
			l.hear(m)
		case <-end:
			return
		case <-ctx.Done():
			return
		}
	}
}

// stuckAfter without a turn of the loop, which turns every minute at least, the
// measuring has stopped.
const stuckAfter = 2 * time.Minute

// stuck says since when the loop stands still; zero = it turns.
func (l *loop) stuck() time.Time {
	if last := l.turn.Load(); last != nil && time.Since(*last) > stuckAfter {
		return *last
	}
	return time.Time{}
}

// flood is the most that is taken in before it is made durable.
const flood = 500

// more takes what else has come, so that a flood is written in large groups.
func (l *loop) more() {
	for range flood {
		select {
		case m := <-l.messages:
			l.hear(m)
		default:
			return
		}
	}
}

// catchUp lives through an hour of a lot's past, where an upgrade made that
// needed. So messages, rules and notices go on meanwhile.
func (l *loop) catchUp() {
	if !l.engine.Behind() {
		return
	}
	l.engine.CatchUp()
	if !l.engine.Behind() {
		l.log.Info("lots are up to date again")
		l.kept = time.Time{} // so that nothing of it is done twice
		l.feed(engine.Input{At: l.now(), Tick: true})
	}
}

// hear one message, after everything that was due before it came.
func (l *loop) hear(m arrival) {
	m.at = l.settled(m.at, m.moved)
	l.ticks(m.at)
	l.group.waiting++
	if err := l.feed(m.input()); err == nil {
		l.group.done = append(l.group.done, m.Done)
	}
}

func (l *loop) serve(r request) {
	r.in.At = l.now()
	l.ticks(r.in.At)
	if err := l.feed(r.in); err != nil {
		r.answer <- err
		return
	}
	l.group.answers = append(l.group.answers, func(err error) { r.answer <- err })
	l.group.urgent = true
}

// ticks run what is due by now, each at its own instant. Where the clock
// jumped ahead nothing was due in between: to the engine it is a new start, so
// nobody is called silent for time that nobody could have spoken in.
func (l *loop) ticks(now time.Time) {
	if l.pace.jumped(now) {
		l.feed(engine.Input{At: now, Start: &engine.Start{Version: version()}})
	}
	for next := l.engine.Next(); !next.IsZero() && !next.After(now); next = l.engine.Next() {
		l.feed(engine.Input{At: next, Tick: true})
	}
}

// feed is the way of every input. An error means that it wasn't taken, or
// couldn't be kept: the engine goes on with it all the same.
func (l *loop) feed(in engine.Input) error {
	en, err := l.step(in)
	if err != nil {
		return err
	}
	kept := l.keep(&en)
	if kept != nil {
		en.Mark = nil // should the message come again, it is new
		l.fail(kept)
	}
	l.engine.Apply(en)
	return kept
}

// step survives a bug: that input is kept as rejected, and the watch goes on.
func (l *loop) step(in engine.Input) (en engine.Entry, err error) {
	defer func() {
		if r := recover(); r != nil {
			l.log.Error("a bug in the engine", "panic", r)
			lost := engine.Rejected{At: in.At, Reason: fmt.Sprintf("a bug in the engine: %v", r)}
			if in.Message != nil {
				lost.Topic = in.Message.Topic
			}
			en, err = engine.Entry{At: in.At, Rejected: []engine.Rejected{lost}}, nil
		}
	}()
	return l.engine.Step(in)
}

// keep appends an entry to the open group.
func (l *loop) keep(en *engine.Entry) error {
	if l.group.began.IsZero() {
		l.group.began = time.Now()
	}
	l.group.urgent = l.group.urgent || en.Urgent()
	l.group.notices = append(l.group.notices, en.Messages...)
	if en.Empty() {
		return nil
	}
	kept, err := record(*en)
	if err != nil {
		return err
	}
	if en.Seq, err = l.journal.Append(kept); err == nil {
		l.seq = en.Seq
	}
	return err
}

// wait is how long the loop has nothing to do without being asked.
func (l *loop) wait() time.Duration {
	if l.engine.Behind() {
		return 0
	}
	idle := l.pace.Until(l.engine.Next())
	if l.group.began.IsZero() {
		return idle
	}
	if l.trouble != nil {
		return min(idle, retry)
	}
	return min(idle, max(0, l.pause-time.Since(l.group.began)))
}

func (l *loop) commitIfDue() {
	g := l.group
	if g.began.IsZero() {
		return
	}
	if g.urgent || g.waiting >= companions || time.Since(g.began) >= l.pause {
		l.commit()
	}
}

func (l *loop) commit() {
	l.snapshot()
	if err := l.journal.Commit(); err != nil {
		l.fail(err)
		return
	}
	if l.trouble != nil {
		l.log.Info("the journal is written again")
	}
	l.trouble = nil
	if l.doubt == nil {
		l.hold.Store(nil)
	}
	l.board.show(l.engine.View(), nil) // before anybody is answered, who may look at once
	for _, done := range l.group.done {
		done()
	}
	for _, answer := range l.group.answers {
		answer(nil)
	}
	l.group = group{}
}

// fail goes on without the disk: notices leave by the side door, nothing is
// acknowledged, and everybody who looks is told.
func (l *loop) fail(err error) {
	if l.trouble == nil {
		l.log.Error("the journal can't be written; the watch goes on in memory and acknowledges nothing", "err", err)
	}
	l.trouble = err
	if len(l.group.notices) > 0 {
		l.bypass(l.group.notices)
	}
	l.board.show(l.engine.View(), err)
	for _, answer := range l.group.answers {
		answer(fmt.Errorf("it is done, but couldn't be written to the journal: %w", err))
	}
	l.group.answers, l.group.notices, l.group.urgent = nil, nil, false
}

// snapshotEvery spares a restart the reading of the whole journal.
const snapshotEvery = 6 * time.Hour

func (l *loop) snapshot() {
	if l.engine.Now().Sub(l.kept) < snapshotEvery {
		return
	}
	l.keepState()
}

func (l *loop) keepState() {
	state, err := l.engine.Snapshot()
	if err == nil {
		err = l.journal.Keep(snapshotName, l.seq, state)
	}
	if err != nil {
		l.log.Error("the state couldn't be kept", "err", err)
		return
	}
	l.kept = l.engine.Now()
}

func (l *loop) finish() error {
	l.feed(engine.Input{At: l.now(), Stop: true})
	l.keepState()
	l.commit()
	return l.trouble
}

const snapshotName = "engine"

// recoverEngine brings an engine to where the journal ends. An entry that can't
// be read is told and left out: without it the watch goes on. It says of when
// the kept state is that it began with.
func recoverEngine(ctx context.Context, e *engine.Engine, j *journal.Journal, log *slog.Logger) (kept time.Time, err error) {
	seq, state, err := j.Kept(ctx, snapshotName)
	if err != nil {
		return kept, err
	}
	if state != nil {
		if err := e.Restore(state); err != nil {
			seq = 0 // the entries hold all of it
			log.Warn("the kept state can't be read: the journal is read from its first entry, which may take long", "err", err)
		}
		kept = e.Now()
	}
	if e.Behind() {
		log.Info("lots are lived through again, as this version sees them: until that is done their last estimates stand")
	}
	for {
		tellSystemd(busy)
		entries, err := j.After(ctx, seq, 1000)
		if err != nil || len(entries) == 0 {
			return kept, err
		}
		for _, en := range recallAll(entries, log) {
			e.Apply(en)
		}
		seq = entries[len(entries)-1].Seq
	}
}
