package daemon

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"conditiond/daemon/journal"
)

// later is an error that says when to try again.
type later time.Duration

func (later) Error() string               { return "later" }
func (l later) RetryAfter() time.Duration { return time.Duration(l) }
func quiet() *slog.Logger                 { return slog.New(slog.DiscardHandler) }
func textTo(w io.Writer) *slog.Logger     { return slog.New(slog.NewTextHandler(w, nil)) }
func say(t *testing.T, j *journal.Journal, n int) {
	t.Helper()
	for range n {
		if _, err := j.Append(journal.Entry{At: time.Now()}); err != nil {
			t.Fatal(err)
		}
	}
	if err := j.Commit(); err != nil {
		t.Fatal(err)
	}
}

// outside is where a follower delivers to.
type outside struct {
	got   []int64
	tries []time.Time
	err   error
}

func (o *outside) deliver(_ context.Context, entries []journal.Entry) error {
	o.tries = append(o.tries, time.Now())
	if o.err != nil {
		return o.err
	}
	for _, e := range entries {
		o.got = append(o.got, e.Seq)
	}
	return nil
}

// following runs f in a bubble, and stops it and the journal after the test.
func following(t *testing.T, dir string, f *Follower, test func(j *journal.Journal)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		j, err := journal.Open(dir, quiet())
		if err != nil {
			t.Fatal(err)
		}
		f.Name, f.Journal = "outside", j
		if f.Log == nil {
			f.Log = quiet()
		}
		ctx, stop := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- f.Run(ctx) }()
		test(j)
		stop()
		if err := errors.Join(<-done, j.Close()); err != nil {
			t.Error(err)
		}
	})
}

func upTo(n int64) []int64 {
	var all []int64
	for i := range n {
		all = append(all, i+1)
	}
	return all
}

// eventually gives the journal's real disk the time it takes.
func eventually(t *testing.T, what string, is func() bool) {
	t.Helper()
	for range 2000 {
		synctest.Wait()
		if is() {
			return
		}
		time.Sleep(time.Millisecond)
	}
	t.Fatalf("never: %s", what)
}

func TestFollowerDeliversEachEntryOnceAndGoesOn(t *testing.T) {
	dir, o := t.TempDir(), &outside{}
	for life := range int64(3) {
		f := &Follower{Deliver: o.deliver}
		following(t, dir, f, func(j *journal.Journal) {
			say(t, j, 700)
			say(t, j, 300)
			eventually(t, "all delivered", func() bool { return f.State().Delivered == (life+1)*1000 })
			if s := f.State(); s.Behind != 0 || s.Err != nil || s.Since.IsZero() {
				t.Errorf("state %+v", s)
			}
		})
	}
	if !slices.Equal(o.got, upTo(3000)) {
		t.Errorf("delivered %d entries", len(o.got))
	}
}

func TestFollowerOfNews(t *testing.T) {
	dir, o := t.TempDir(), &outside{}
	f := &Follower{News: true, Deliver: o.deliver}
	following(t, dir, f, func(*journal.Journal) {
		if err := f.Begin(context.Background()); err != nil {
			t.Error(err)
		}
	})
	f = &Follower{News: true, Deliver: o.deliver}
	following(t, dir, f, func(j *journal.Journal) { // known by now, though nothing was ever delivered
		say(t, j, 5)
		eventually(t, "all delivered", func() bool { return f.State().Delivered == 5 })
	})
	if !slices.Equal(o.got, upTo(5)) {
		t.Errorf("delivered %v", o.got)
	}
	synctest.Test(t, func(t *testing.T) {
		j, err := journal.Open(dir, quiet())
		if err != nil {
			t.Fatal(err)
		}
		defer j.Close()
		f := &Follower{Name: "another", News: true, Journal: j}
		if err := f.Begin(t.Context()); err != nil || f.State().Delivered != 5 {
			t.Errorf("%v, %+v", err, f.State())
		}
	})
}

func TestNewsIsNotToldTwice(t *testing.T) {
	var told []int64
	tries := 0
	f := &Follower{News: true, Deliver: func(_ context.Context, entries []journal.Entry) error {
		if tries++; tries%3 == 0 {
			return errors.New("busy")
		}
		for _, e := range entries {
			told = append(told, e.Seq)
		}
		return nil
	}}
	following(t, t.TempDir(), f, func(j *journal.Journal) {
		if err := f.Begin(context.Background()); err != nil {
			t.Error(err)
		}
		say(t, j, 20)
		eventually(t, "all told", func() bool { time.Sleep(time.Second); return f.State().Behind == 0 })
	})
	if !slices.Equal(told, upTo(20)) {
		t.Errorf("told %v", told)
	}
}

func TestFollowerWaitsLongerEachTime(t *testing.T) {
	for name, c := range map[string]struct {
		err         error
		first, last time.Duration // at most; at least three quarters of it
	}{
		"unreachable":       {errors.New("no route"), time.Second, 5 * time.Minute},
		"told":              {fmt.Errorf("write: %w", later(90*time.Second)), 90 * time.Second, 5 * time.Minute},
		"told for too long": {later(time.Hour), 5 * time.Minute, 5 * time.Minute},
		"told nonsense":     {later(-time.Hour), time.Second, 5 * time.Minute},
	} {
		t.Run(name, func(t *testing.T) {
			log := new(bytes.Buffer)
			o := &outside{err: c.err}
			f := &Follower{Deliver: o.deliver, Log: slog.New(slog.NewTextHandler(log, nil))}
			following(t, t.TempDir(), f, func(j *journal.Journal) {
				say(t, j, 10)
				time.Sleep(6 * time.Hour)
				eventually(t, "tried", func() bool { return len(o.tries) > 60 })
				within := func(what string, got, want time.Duration) {
					if got > want+time.Second || got < want*3/4 {
						t.Errorf("%s wait %v, want %v", what, got, want)
					}
				}
				n := len(o.tries)
				within("first", o.tries[1].Sub(o.tries[0]), c.first)
				within("last", o.tries[n-1].Sub(o.tries[n-2]), c.last)
				if s := f.State(); s.Behind != 10 || !errors.Is(s.Err, c.err) {
					t.Errorf("state %+v", s)
				}
				o.err = nil
				eventually(t, "recovered", func() bool { time.Sleep(time.Second); return f.State().Behind == 0 })
			})
			warned, again := strings.Count(log.String(), "can't be delivered"), strings.Count(log.String(), "delivered again")
			if warned < 5 || warned > 7 || again != 1 || !slices.Equal(o.got, upTo(10)) {
				t.Errorf("warned %d times, recovered %d, delivered %v", warned, again, o.got)
			}
		})
	}
}
