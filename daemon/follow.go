package daemon

import (
	"context"
	"errors"
	"log/slog"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"time"

	"conditiond/daemon/journal"
)

// Follower carries the journal outward, entry after entry, each at least once:
// what a delivery holds up waits in the journal, not in memory.
type Follower struct {
	Name    string // of its cursor
	Journal *journal.Journal
	// Deliver carries entries out. After an error it gets the same ones again.
	// An error may say when, with a method RetryAfter.
	Deliver func(context.Context, []journal.Entry) error
	// Flush, unless nil, sends out what Deliver only gathers: once all there is
	// is gathered. What can't be sent stays gathered, and Flush is called again.
	Flush func(context.Context) error
	// News is for people: the past is none, and to hear it twice is a nuisance.
	// So a follower that the journal doesn't know yet begins with what comes
	// next, and Deliver gets one entry at a time unless it only gathers.
	News bool
	// Aside tells what was left out since the start, being refused for good, and
	// why the last of it was; nil = nothing ever is.
	Aside func() (n int64, reason string)
	// Held, unless nil, is the last entry that may be carried for now; what comes
	// after it may still be written anew.
	Held func() int64
	Log  *slog.Logger

	mu    sync.Mutex
	begun bool
	seq   int64 // the last entry delivered
	read  int64 // the last entry that Deliver took; later than seq while Flush is to come
	err   error
	since time.Time
	told  time.Time // when the error was last logged
}

// FollowerState is how a follower is doing.
type FollowerState struct {
	Behind    int64     // committed entries that are not delivered yet, without those held back
	Err       error     // of the last attempt; nil = it went well
	Since     time.Time // since when it goes well, or doesn't; zero = nothing tried yet
	Delivered int64     // the last entry delivered
}

const (
	atOnce    = 500 // entries in a delivery
	firstWait = time.Second
	longest   = 5 * time.Minute
	remind    = time.Hour // a lasting error is logged again
)

// Begin finds where the follower is. Run does it too; a new follower of news
// misses what is committed before.
func (f *Follower) Begin(ctx context.Context) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.begun {
		return nil
	}
	seq, err := f.Journal.Cursor(ctx, f.Name)
	if err != nil {
		return err
	}
	if seq < 0 {
		seq = 0
		if f.News {
			seq = f.Journal.Last()
		}
		err = f.Journal.SetCursor(f.Name, seq)
	}
	f.seq, f.read, f.begun = seq, seq, err == nil
	return err
}

// Run delivers what is committed, and waits for more, until the context ends.
// What can't be delivered is tried again for ever.
func (f *Follower) Run(ctx context.Context) error {
	wait := firstWait
	for ctx.Err() == nil {
		committed := f.Journal.Committed()
		n, err := f.step(ctx)
		switch {
		case ctx.Err() != nil:
		case err != nil:
			f.failed(err)
			pause(ctx, between(wait, err))
			wait = min(2*wait, longest)
		case n > 0:
			f.went()
			wait = firstWait
		default:
			select {
			case <-committed:
			case <-ctx.Done():
			}
		}
	}
	return nil
}

// step delivers the next entries and says how many they were.
func (f *Follower) step(ctx context.Context) (int, error) {
	if err := f.Begin(ctx); err != nil {
		return 0, err
	}
	if f.Flush != nil {
		return f.gather(ctx)
	}
	held := f.held() // asked before: once it is let go, all is as it stays
	entries, err := f.Journal.After(ctx, f.read, atOnce)
	if err != nil {
		return 0, err
	}
	entries = slices.DeleteFunc(entries, func(e journal.Entry) bool { return e.Seq > held })
	size := atOnce
	if f.News {
		size = 1
	}
	for some := range slices.Chunk(entries, size) {
		if err := f.Deliver(ctx, some); err != nil {
			return 0, err
		}
		if err := f.moveTo(some[len(some)-1].Seq); err != nil {
			return 0, err
		}
	}
	return len(entries), nil
}

func (f *Follower) held() int64 {
	if f.Held == nil {
		return math.MaxInt64
	}
	return f.Held()
}

// gather all entries there are, and flush.
func (f *Follower) gather(ctx context.Context) (int, error) {
	for {
		entries, err := f.Journal.After(ctx, f.read, atOnce)
		if err == nil && len(entries) > 0 {
			err = f.Deliver(ctx, entries)
		}
		if err != nil {
			return 0, err
		}
		if len(entries) > 0 {
			f.read = entries[len(entries)-1].Seq
		}
		if len(entries) < atOnce {
			break
		}
	}
	n := int(f.read - f.State().Delivered)
	if n == 0 {
		return 0, nil
	}
	if err := f.Flush(ctx); err != nil {
		return 0, err
	}
	return n, f.moveTo(f.read)
}

func (f *Follower) moveTo(seq int64) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.seq, f.read = seq, seq
	return f.Journal.SetCursor(f.Name, seq)
}

// between is how long to wait after an error: at least what it asks for, never
// longer than the longest, and not in step with others.
func between(wait time.Duration, err error) time.Duration {
	var told interface{ RetryAfter() time.Duration }
	if errors.As(err, &told) {
		wait = max(wait, told.RetryAfter())
	}
	wait = min(wait, longest)
	return wait - rand.N(wait/4)
}

func pause(ctx context.Context, d time.Duration) {
	select {
	case <-time.After(d):
	case <-ctx.Done():
	}
}

// failed logs an error when it is new and when it lasts.
func (f *Follower) failed(err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	now := time.Now()
	if f.err == nil {
		f.since = now
	}
	if f.err == nil || now.Sub(f.told) >= remind {
		f.told = now
		f.Log.Warn("entries can't be delivered; they wait in the journal", "follower", f.Name, "behind", f.Journal.Last()-f.seq, "since", f.since, "err", err)
	}
	f.err = err
}

func (f *Follower) went() {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.err != nil {
		f.Log.Info("entries are delivered again", "follower", f.Name, "after", time.Since(f.since).Round(time.Second))
	}
	if f.err != nil || f.since.IsZero() {
		f.since = time.Now()
	}
	f.err = nil
}

// State says how the follower is doing.
func (f *Follower) State() FollowerState {
	f.mu.Lock()
	defer f.mu.Unlock()
	return FollowerState{Behind: max(0, min(f.Journal.Last(), f.held())-f.seq), Err: f.err, Since: f.since, Delivered: f.seq}
}
