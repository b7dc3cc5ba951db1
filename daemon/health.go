package daemon

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"conditiond/daemon/mqtt"
	"conditiond/daemon/web"
)

// Health is how the daemon itself is.
func (d *Daemon) Health() web.Health {
	h := web.Health{Now: d.pace.Now(), Version: version(), Broker: d.brokerPart(), Watch: d.loop.part(), Journal: d.journalPart(), Clock: d.pace.part()}
	for _, f := range d.followers {
		s := f.State()
		w := web.Follower{Name: f.Name, Behind: s.Behind, Since: s.Since}
		if s.Err != nil {
			w.Problem = s.Err.Error()
		}
		if f.Aside != nil {
			w.Aside, w.Refusal = f.Aside()
		}
		h.Followers = append(h.Followers, w)
	}
	h.Ready = h.Broker.OK && h.Watch.OK && h.Journal.OK
	return h
}

func (d *Daemon) brokerPart() web.Part {
	if d.link == nil {
		return web.Part{Problem: "no daemon runs: these are the journal's own words"}
	}
	s := d.link.State()
	p := web.Part{OK: s.Connected, Since: s.Since, Problem: s.Problem}
	switch names := d.unheard(s); {
	case p.Problem != "":
	case s.Connected && len(names) > 0:
		p.Problem = "connected, but never heard of " + strings.Join(names, ", ") + " since the start: check topic, device, and the broker's access list"
	case s.Lost > 0:
		p.Problem = fmt.Sprintf("%d messages at QoS 0 were lost in a flood: publish at QoS 1", s.Lost)
	}
	return p
}

// unheard are sensors whose readings are overdue since the connection stands,
// with their topics, and of which nothing ever came.
func (d *Daemon) unheard(s mqtt.State) []string {
	var out []string
	for _, name := range slices.Sorted(maps.Keys(d.config.Sensors)) {
		x := d.config.Sensors[name]
		if slices.Contains(s.Unheard, x.Topic) && time.Since(s.Since) > 2*x.Interval {
			out = append(out, name+" ("+x.Topic+")")
		}
	}
	return out
}

func (d *Daemon) journalPart() web.Part {
	_, _, trouble := d.board.look()
	switch {
	case trouble != nil:
		return web.Part{Problem: trouble.Error()}
	case d.unsound.Load():
		return web.Part{OK: true, Problem: "it failed its nightly check: restore a backup"}
	case d.lost != "":
		return web.Part{OK: true, Problem: d.lost}
	case d.sizeProblem() != "":
		return web.Part{OK: true, Problem: d.sizeProblem()}
	}
	return web.Part{OK: true}
}

func (l *loop) part() web.Part {
	if since := l.stuck(); !since.IsZero() {
		return web.Part{Since: since, Problem: "the loop that takes readings in stands still; if it doesn't go on, start the program anew"}
	}
	return web.Part{OK: true}
}

// part of a hand is always well.
func (p Pace) part() web.Part {
	if p.hand != nil {
		return web.Part{OK: true}
	}
	problem, since := p.clock.problem()
	_, unsure := p.clock.found() // nobody is told of it: it passes
	return web.Part{OK: problem == "" || unsure, Since: since, Problem: problem}
}
