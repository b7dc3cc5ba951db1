package daemon

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/alerts/notify"
	"conditiond/daemon/mqtt"
)

// stillLink is a broker that says what the test wants of itself.
type stillLink struct{ state mqtt.State }

func (l stillLink) Messages() <-chan mqtt.Delivery     { return nil }
func (l stillLink) Publish(string, []byte, bool) error { return nil }
func (l stillLink) State() mqtt.State                  { return l.state }
func (l stillLink) Close(context.Context) error        { return nil }

// ailing is a daemon around a loop that doesn't run, with a broker.
func ailing(t *testing.T, s mqtt.State) *Daemon {
	w := watch(t, t.TempDir())
	return &Daemon{journal: w.journal, config: &Config{Sensors: map[string]Sensor{
		"air":   {Topic: "t/air", Interval: time.Minute},
		"gauge": {Topic: "t/gauge", Interval: time.Hour},
	}}, log: quiet(), loop: w.loop, board: w.board, pace: w.pace, link: stillLink{s}}
}

// A topic that is configured and never spoke shows when its readings are
// overdue: a broker may grant a subscription and let nothing through.
func TestNeverHeardOf(t *testing.T) {
	for _, x := range []struct {
		since   time.Duration // connected
		unheard []string
		want    string
	}{
		{time.Minute, []string{"t/air", "t/gauge"}, ""},
		{10 * time.Minute, []string{"t/air", "t/gauge"}, "never heard of air (t/air) since"},
		{3 * time.Hour, []string{"t/air", "t/gauge"}, "never heard of air (t/air), gauge (t/gauge) since"},
		{3 * time.Hour, []string{"t/gauge"}, "never heard of gauge (t/gauge) since"},
		{3 * time.Hour, nil, ""},
	} {
		h := ailing(t, mqtt.State{Connected: true, Since: time.Now().Add(-x.since), Unheard: x.unheard}).Health()
		if got := h.Broker.Problem; !h.Broker.OK || !h.Ready || (got != "") != (x.want != "") || !strings.Contains(got, x.want) {
			t.Errorf("%v, unheard %v: %+v", x.since, x.unheard, h.Broker)
		}
	}
}

// Ready is only who hears, takes in and keeps.
func TestReadyOnlyWhenItIs(t *testing.T) {
	well := mqtt.State{Connected: true, Since: time.Now()}
	for name, x := range map[string]struct {
		state mqtt.State
		ail   func(d *Daemon)
	}{
		"no broker":      {mqtt.State{Problem: "no broker listens"}, func(*Daemon) {}},
		"loop is stuck":  {well, func(d *Daemon) { d.loop.turn.Store(new(time.Now().Add(-3 * time.Minute))) }},
		"disk is full":   {well, func(d *Daemon) { d.board.show(d.View(), errors.New("disk is full")) }},
		"no link at all": {well, func(d *Daemon) { d.link = nil }},
	} {
		d := ailing(t, x.state)
		x.ail(d)
		if d.Health().Ready {
			t.Errorf("%s, and it calls itself ready", name)
		}
	}
	if d := ailing(t, well); !d.Health().Ready {
		t.Errorf("well, and not ready: %+v", d.Health())
	}
}

// What is refused for good is not tried again and shows as left out; what may
// pass by is neither.
func TestRefusedForGoodShows(t *testing.T) {
	for _, permanent := range []bool{true, false} {
		tries := 0
		tell := &teller{name: "brewer", zone: time.UTC, pace: handAt(time.Now()), log: quiet(), refused: new(aside), to: notifier(func() error {
			tries++
			return &notify.Error{Problem: "the server answered 404 Not Found", Permanent: permanent}
		})}
		d := ailing(t, mqtt.State{})
		d.add("notify brewer", true, tell.gather).Aside = tell.refused.tell
		err := tell.tell(t.Context(), alerts.Message{To: "brewer", Time: time.Now()})
		f := d.Health().Followers[0]
		if (err == nil) != permanent || (f.Aside == 1) != permanent || permanent && !strings.Contains(f.Refusal, "404") || tries != 1 {
			t.Errorf("permanent %v: %v, %d tries, %+v", permanent, err, tries, f)
		}
	}
}

type notifier func() error

func (n notifier) Notify(context.Context, alerts.Message) error { return n() }
