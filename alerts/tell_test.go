package alerts

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// diary is a book with people who are told, over a time.
type diary struct {
	*testing.T
	c    Config
	b    Book
	to   []Recipient
	told []string // minute after the beginning, recipient, severity and state
}

func newDiary(t *testing.T) *diary {
	return &diary{T: t, c: Config{}.Defaults(), b: NewBook(), to: []Recipient{{"brewer", Warning}}}
}

// until lets time go by: the rules look every hour, and people are told when it
// is due.
func (d *diary) until(s Situation, end time.Duration) Situation {
	stop := s.Now.Add(end)
	for !s.Now.After(stop) {
		d.b, _ = d.b.Look(d.c, s)
		d.tell(s.Now)
		next := s.Now.Truncate(time.Hour).Add(time.Hour)
		if due := d.b.Due(); !due.IsZero() && due.Before(next) {
			next = due
		}
		if !next.After(s.Now) {
			d.Fatalf("at %v something is due that is never done", s.Now)
		}
		s.Now = next
	}
	s.Now = stop
	return s
}

func (d *diary) tell(now time.Time) {
	var list []Message
	d.b, _, list = d.b.Tell(d.c, d.to, now)
	for _, m := range list {
		d.told = append(d.told, now.Sub(packaged.Add(8*24*time.Hour)).String()+" "+string(m.Severity)+" "+string(m.State))
	}
}

func (d *diary) want(list ...string) {
	d.Helper()
	if !slices.Equal(d.told, list) {
		d.Errorf("told %q, want %q", d.told, list)
	}
	d.told = nil
}

func (d *diary) only() Alert {
	d.Helper()
	if len(d.b.Open) != 1 {
		d.Fatalf("%d alerts are open", len(d.b.Open))
	}
	return d.b.Standing("")[0]
}

func over(s Situation, bar float64) Situation {
	s.Gauge.Value = bar
	return s
}

// Danger is told until somebody says that they saw it, and again when it stands
// a day later.
func TestDangerRepeatsUntilAcknowledged(t *testing.T) {
	d := newDiary(t)
	s := d.until(over(calm(), 4.5), 150*time.Minute)
	d.want("0s danger raised", "10m0s danger raised", "30m0s danger raised", "1h0m0s danger raised", "2h0m0s danger raised")
	d.b, _ = d.b.Acknowledge(d.only(), "Kim", s.Now)
	s = d.until(s, 25*time.Hour)
	d.want("26h30m0s danger raised", "26h40m0s danger raised", "27h0m0s danger raised", "27h30m0s danger raised")
	if a := d.only(); a.State != Raised || a.By != "" {
		t.Errorf("a day after it was acknowledged: %+v", a)
	}
}

// A danger whose cause is gone stays until somebody says that they saw it.
func TestDangerLatches(t *testing.T) {
	d := newDiary(t)
	s := d.until(over(calm(), 4.5), time.Minute)
	s = d.until(over(s, 1.8), 13*time.Hour)
	if a := d.only(); a.State != Returned {
		t.Errorf("it is %s", a.State)
	}
	if last := d.told[len(d.told)-1]; !strings.HasSuffix(last, "danger cleared") {
		t.Errorf("the last word was %q", last)
	}
	d.told = nil
	d.until(s, 48*time.Hour)
	d.want()
	id := d.only().ID
	s = d.until(over(s, 4.6), time.Minute)
	if a := d.only(); a.State != Raised || a.ID != id {
		t.Errorf("it came back as %+v", a)
	}
	d.b, _ = d.b.Look(d.c, over(s, 1.8).after(time.Hour))
	d.b, _ = d.b.Look(d.c, over(s, 1.8).after(20*time.Hour))
	b, a := d.b.Acknowledge(d.only(), "Kim", s.Now)
	if a.State != Cleared || len(b.Open) != 0 {
		t.Errorf("acknowledged it is %s, and %d stand", a.State, len(b.Open))
	}
}

// Quiet hours hold back all but danger; what was over by then isn't told.
func TestQuietHours(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		t.Fatal(err)
	}
	d := newDiary(t)
	d.c.Quiet = Quiet{From: 22 * time.Hour, To: 7 * time.Hour, Zone: zone}
	s := calm() // 15:00 in Oslo
	s.Now = s.Now.Add(8 * time.Hour)
	s.Estimate.OverPressure.Probability = 0.4
	s = d.until(s, 7*time.Hour+30*time.Minute)
	d.want() // 06:30
	s = d.until(s, time.Hour)
	d.want("16h0m0s warning raised") // 07:00

	d = newDiary(t)
	d.c.Quiet = Quiet{From: 22 * time.Hour, To: 7 * time.Hour, Zone: zone}
	s = calm()
	s.Now = s.Now.Add(8 * time.Hour)
	d.until(over(s, 4.5), time.Minute)
	d.want("8h0m0s danger raised")
}

func TestQuietHoursOfNightsThatChangeTheClock(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	q := Quiet{From: 22 * time.Hour, To: 7 * time.Hour, Zone: zone}
	for _, c := range []struct{ at, want string }{
		{"2026-03-29T01:30:00+01:00", "2026-03-29T07:00:00+02:00"}, // a night of 23 hours
		{"2026-10-25T02:30:00+02:00", "2026-10-25T07:00:00+01:00"}, // a night of 25 hours
		{"2026-10-24T23:00:00+02:00", "2026-10-25T07:00:00+01:00"},
		{"2026-10-25T07:00:00+01:00", "0001-01-01T00:00:00Z"},
		{"2026-10-25T21:59:00+01:00", "0001-01-01T00:00:00Z"},
	} {
		at, _ := time.Parse(time.RFC3339, c.at)
		want, _ := time.Parse(time.RFC3339, c.want)
		if got := q.Until(at); !got.Equal(want) {
			t.Errorf("%s: quiet until %v, want %v", c.at, got, want)
		}
	}
}

// A shelved alert is silent until its time, or until it gets graver.
func TestShelf(t *testing.T) {
	d := newDiary(t)
	s := calm()
	s.Estimate.OverPressure.Probability = 0.4
	s = d.until(s, time.Minute)
	d.want("0s warning raised")
	d.b, _ = d.b.Shelve(d.only(), "Kim", s.Now.Add(48*time.Hour), s.Now)
	s = d.until(s, 47*time.Hour)
	d.want()
	s = d.until(s, 2*time.Hour)
	d.want("48h1m0s warning raised")
	d.b, _ = d.b.Shelve(d.only(), "Kim", s.Now.Add(48*time.Hour), s.Now)
	d.until(over(s, 4.5), time.Minute)
	if a := d.only(); a.State != Raised || a.Severity != Danger {
		t.Errorf("it got graver on the shelf, and is %+v", a)
	}
}

// The watch tells of itself when a part of it has been out of order for long.
func TestWatchImpaired(t *testing.T) {
	b := NewBook()
	parts := []Part{{Name: "broker", Problem: "connection refused"}}
	b, changes := b.Settle("", Impaired(parts), packaged)
	if len(changes) != 0 {
		t.Errorf("at once: %q", states(changes))
	}
	b, changes = b.Settle("", Impaired(parts), packaged.Add(15*time.Minute))
	if states(changes) != "watch-impaired warning raised" {
		t.Errorf("after a quarter of an hour: %q", states(changes))
	}
	_, changes = b.Settle("", nil, packaged.Add(16*time.Minute))
	if states(changes) != "watch-impaired warning cleared" {
		t.Errorf("when it is well: %q", states(changes))
	}
}

// What the journal kept gives the same book as living through it.
func TestRecall(t *testing.T) {
	d := newDiary(t)
	s := over(calm(), 4.5)
	live, kept := NewBook(), NewBook()
	for _, after := range []time.Duration{0, 10 * time.Minute, 30 * time.Minute} {
		s.Now = packaged.Add(8*24*time.Hour + after)
		b, changes := live.Look(d.c, s)
		b, more, sent := b.Tell(d.c, d.to, s.Now)
		live, kept = b, kept.Recall(append(changes, more...), sent, s.Now)
	}
	if !live.Due().Equal(kept.Due()) || live.Telling["invented-ale//over-pressure"] != kept.Telling["invented-ale//over-pressure"] {
		t.Errorf("lived through: %+v, read back: %+v", live.Telling, kept.Telling)
	}
}

func TestFigures(t *testing.T) {
	b := NewBook()
	for i := range 4 {
		b.raised("a", packaged.Add(time.Duration(i)*time.Minute))
	}
	b.raised("b", packaged.Add(5*time.Hour))
	if f := b.Figures(packaged.Add(6 * time.Hour)); f != (Figures{LastDay: 5, Burst: 4, Chattering: 1}) {
		t.Errorf("%+v", f)
	}
	if f := b.Figures(packaged.Add(48 * time.Hour)); f != (Figures{}) {
		t.Errorf("two days later %+v", f)
	}
}
