package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/alerts/notify"
	"conditiond/daemon/engine"
	"conditiond/daemon/intake"
	"conditiond/daemon/journal"
	"conditiond/daemon/mqtt"
)

// phone is a recipient who is away, or refuses for good, as a test says.
type phone struct {
	err  error
	only alerts.Name // the error is of this alone; empty = of all
	told []alerts.Message
}

func (p *phone) Notify(_ context.Context, m alerts.Message) error {
	if p.err != nil && (p.only == "" || p.only == m.Alert) {
		return p.err
	}
	p.told = append(p.told, m)
	return nil
}

func (p *phone) names() (out []string) {
	for _, m := range p.told {
		out = append(out, string(m.Alert)+" "+string(m.State))
	}
	return out
}

// notices that the journal holds for a phone, and the phone's follower.
type notices struct {
	*testing.T
	dir     string
	hand    Pace
	journal *journal.Journal
	follow  *Follower
	tell    *teller
	open    map[alerts.Name]bool
	n       int
}

func newNotices(t *testing.T, to notify.Notifier) *notices {
	n := &notices{T: t, dir: t.TempDir(), hand: handAt(time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC)), open: map[alerts.Name]bool{}}
	n.start(to)
	t.Cleanup(func() { n.journal.Close() })
	return n
}

// start what a new life of the daemon has of it.
func (n *notices) start(to notify.Notifier) {
	n.Helper()
	if n.journal != nil {
		n.journal.Close()
	}
	var err error
	if n.journal, err = journal.Open(n.dir, quiet()); err != nil {
		n.Fatal(err)
	}
	n.tell = &teller{name: "phone", to: to, zone: time.UTC, pace: n.hand, log: quiet(), refused: new(aside),
		stands: func(m alerts.Message) bool { return n.open[m.Alert] }}
	n.follow = &Follower{Name: "notify phone", Journal: n.journal, News: true, Deliver: n.tell.gather, Flush: n.tell.flush,
		Aside: n.tell.refused.tell, Log: slog.New(slog.DiscardHandler)}
	if err := n.follow.Begin(n.Context()); err != nil {
		n.Fatal(err)
	}
}

// happens something, after so many entries in which nothing is told.
func (n *notices) happens(a alerts.Name, s alerts.Severity, state alerts.State, after int) {
	n.Helper()
	n.open[a] = state == alerts.Raised
	n.hand.move(n.hand.Now().Add(10 * time.Minute))
	n.n++
	en := engine.Entry{At: n.hand.Now(), Messages: []alerts.Message{{ID: fmt.Sprintf("invented.%d", n.n), To: "phone", Time: n.hand.Now(),
		Lot: "invented-ale", Alert: a, Severity: s, State: state, Summary: "It is " + string(a) + ".", Advice: "Look."}}}
	for range after {
		n.journal.Append(journal.Entry{At: n.hand.Now()})
	}
	kept, err := record(en)
	if err == nil {
		_, err = n.journal.Append(kept)
	}
	if err = errors.Join(err, n.journal.Commit()); err != nil {
		n.Fatal(err)
	}
}

// tries to deliver, as often as the follower does of itself.
func (n *notices) tries() (err error) {
	for range 3 {
		_, err = n.follow.step(n.Context())
	}
	return err
}

// A phone that was away for half a day, while forty notices came to wait for it
// behind thousands of readings, and the daemon started anew: the danger first,
// and of all else one notice.
func TestMergedAfterAnOutage(t *testing.T) {
	p := &phone{err: &notify.Error{Problem: "no route"}}
	n := newNotices(t, p)
	for i := range 18 {
		n.happens(alerts.SensorSilent, alerts.Warning, alerts.Raised, 100)
		n.happens(alerts.SensorSilent, alerts.Warning, alerts.Cleared, 0)
		if i == 9 {
			n.start(p)
		}
		if n.tries() == nil || n.follow.State().Behind == 0 {
			t.Fatal("delivered to a phone that is away")
		}
	}
	n.happens(alerts.OverPressure, alerts.Danger, alerts.Raised, 700)
	n.happens(alerts.OverPressure, alerts.Danger, alerts.Raised, 0)
	n.happens(alerts.TooWarm, alerts.Notice, alerts.Raised, 0)
	n.happens(alerts.Ready, alerts.Notice, alerts.Raised, 0)
	n.hand.move(n.hand.Now().Add(time.Hour))
	p.err = nil
	if err := n.tries(); err != nil || n.follow.State().Behind != 0 {
		t.Fatal(err, n.follow.State())
	}
	if got := p.names(); !slices.Equal(got, []string{"over-pressure raised", "several raised"}) {
		t.Fatalf("told %q", got)
	}
	danger, rest := p.told[0], p.told[1]
	if danger.DelayedS != 80*60 || len(rest.Merged) != 3 || rest.DelayedS != 450*60 {
		t.Errorf("late by %d s and %d s, merged %d", danger.DelayedS, rest.DelayedS, len(rest.Merged))
	}
	if !strings.Contains(rest.Summary, "14:10 to 20:00: It is sensor-silent.") {
		t.Errorf("it says %q", rest.Summary)
	}
	n.happens(alerts.Leak, alerts.Warning, alerts.Raised, 3)
	n.happens(alerts.Leak, alerts.Warning, alerts.Cleared, 3)
	if err := n.tries(); err != nil || len(p.told) != 3 { // the first of them is late by now
		t.Fatal(err, p.names())
	}
}

// The phone takes the danger, and then is away again: the danger isn't told a
// second time.
func TestTakenIsNotToldAgain(t *testing.T) {
	p := &phone{err: &notify.Error{Problem: "busy"}, only: alerts.Several}
	n := newNotices(t, p)
	n.happens(alerts.OverPressure, alerts.Danger, alerts.Raised, 0)
	n.happens(alerts.Leak, alerts.Warning, alerts.Raised, 0)
	n.happens(alerts.TooWarm, alerts.Warning, alerts.Raised, 0)
	n.hand.move(n.hand.Now().Add(time.Hour))
	if n.tries() == nil {
		t.Error("all delivered")
	}
	p.err = nil
	if err := n.tries(); err != nil || !slices.Equal(p.names(), []string{"over-pressure raised", "several raised"}) {
		t.Errorf("told %q (%v)", p.names(), err)
	}
}

// A notice of several that is refused for good is said once and not tried again;
// the next goes on.
func TestMergedRefusedForGood(t *testing.T) {
	p := &phone{err: &notify.Error{Problem: "the server answered 413", Permanent: true}, only: alerts.Several}
	n := newNotices(t, p)
	n.happens(alerts.Leak, alerts.Warning, alerts.Raised, 0)
	n.happens(alerts.TooWarm, alerts.Warning, alerts.Raised, 0)
	n.hand.move(n.hand.Now().Add(time.Hour))
	err := n.tries()
	if left, why := n.follow.Aside(); err != nil || left != 2 || !strings.Contains(why, "413") || n.follow.State().Behind != 0 {
		t.Errorf("%v, %d left out because %q, %+v", err, left, why, n.follow.State())
	}
	n.happens(alerts.Ready, alerts.Notice, alerts.Raised, 0)
	if err := n.tries(); err != nil || !slices.Equal(p.names(), []string{"ready raised"}) {
		t.Errorf("told %q (%v)", p.names(), err)
	}
}

// What is told at an instant at which nothing else happens is journalled: the
// reminders of a danger.
func TestRemindersAreJournalled(t *testing.T) {
	f := begin(t, false)
	f.hears("t/gauge", "4.6")
	raised := f.hand.Now()
	for !f.engine.Next().After(raised.Add(65 * time.Minute)) {
		f.feed(engine.Input{At: f.engine.Next(), Tick: true})
	}
	f.commit()
	list, err := f.journal.After(t.Context(), 0, 1000)
	if err != nil {
		t.Fatal(err)
	}
	var told []string
	for _, en := range recallAll(list, quiet()) {
		for _, m := range en.Messages {
			if m.Alert == alerts.OverPressure {
				told = append(told, en.At.Sub(raised).String())
			}
		}
	}
	if !slices.Equal(told, []string{"0s", "10m0s", "30m0s", "1h0m0s"}) {
		t.Errorf("the journal holds notices after %q", told)
	}
}

// A reminder in time doesn't call itself late.
func TestReminderIsNotLate(t *testing.T) {
	p := new(phone)
	n := newNotices(t, p)
	at := n.hand.Now()
	en := engine.Entry{At: at.Add(10 * time.Minute), Messages: []alerts.Message{{ID: "again", To: "phone", Time: at, Alert: alerts.OverPressure, Severity: alerts.Danger, State: alerts.Raised}}}
	n.hand.move(en.At.Add(5 * time.Second))
	kept, _ := record(en)
	n.journal.Append(kept)
	if err := errors.Join(n.journal.Commit(), n.tries()); err != nil || len(p.told) != 1 || p.told[0].DelayedS != 0 {
		t.Errorf("told %+v (%v)", p.told, err)
	}
}

// Nobody can put a danger away, and to say that it was seen silences it for a
// day at most.
func TestDangerIsNotPutAway(t *testing.T) {
	f := begin(t, false)
	f.hears("t/gauge", "4.6")
	danger := f.engine.View().Alerts[0]
	at := f.hand.Now()
	if err := f.feed(engine.Input{At: at, Shelve: &engine.Shelve{Alert: danger.ID, By: "Kim", Until: at.Add(time.Hour)}}); err == nil {
		t.Error("it was shelved")
	}
	if err := f.feed(engine.Input{At: at, Acknowledge: &engine.Acknowledge{Alert: danger.ID, By: "Kim"}}); err != nil {
		t.Fatal(err)
	}
	for end := at.Add(25 * time.Hour); !f.engine.Next().After(end); {
		next := f.engine.Next()
		if next.Minute()%30 == 0 { // it goes on
			f.hear(arrival{next, 0, mqtt.Delivery{Message: intake.Message{Topic: "t/gauge", Payload: []byte("4.6")}, Done: func() {}}})
		}
		f.feed(engine.Input{At: next, Tick: true})
	}
	if a := f.engine.View().Alerts[0]; a.State != alerts.Raised || a.Time.Sub(at) < 23*time.Hour {
		t.Errorf("a day later it is %s since %v", a.State, a.Time)
	}
}
