package web

import (
	"fmt"
	"net/http"
)

type homeData struct {
	frame
	Alerts  []alertBox
	Lots    []card
	Closed  []card
	Spaces  []spaceRow
	Sensors []sensorRow
	Parts   []partRow
	Trouble []partRow // those that are not well
}

// partRow is a part of the daemon, well or not.
type partRow struct {
	Name, State, Problem string
	OK                   bool
}

func (s *Server) homePage(w http.ResponseWriter, r *http.Request) {
	v, h := s.daemon.View(), s.daemon.Health()
	t := s.tellerTo(r)
	d := homeData{frame: s.frame(homeTitle, t, v), Parts: t.parts(h)}
	d.Refresh = true
	if n := len(v.Alerts); n > 0 {
		d.Title = fmt.Sprintf("(%d) conditiond", n)
	}
	for _, a := range v.Alerts {
		d.Alerts = append(d.Alerts, t.alert(v, a))
	}
	for _, l := range v.Lots {
		if c := t.card(v, l); c.Closed {
			d.Closed = append(d.Closed, c)
		} else {
			d.Lots = append(d.Lots, c)
		}
	}
	for _, x := range v.Sensors {
		d.Sensors = append(d.Sensors, t.sensor(x))
	}
	d.Spaces = spaces(d.Sensors, d.Lots)
	d.Trouble = unwell(d.Parts)
	s.render(w, http.StatusOK, "home.html", d)
}

// parts of the daemon and how they are.
func (t teller) parts(h Health) []partRow {
	rows := []partRow{t.part("Broker", "connected", h.Broker), t.part("Readings", "taken in", h.Watch), t.part("Journal", "written", h.Journal), t.part("Clock", "trusted", h.Clock)}
	for _, f := range h.Followers {
		state := "up to date"
		if f.Behind > 0 {
			state = fmt.Sprintf("%d not carried yet", f.Behind)
		}
		if f.Problem != "" && !f.Since.IsZero() {
			state += ", since " + t.moment(f.Since)
		}
		if f.Aside > 0 {
			state += fmt.Sprintf("; %d left out since the start, the last because: %s", f.Aside, f.Refusal)
		}
		rows = append(rows, partRow{Name: f.Name, State: state, Problem: f.Problem, OK: f.Problem == ""})
	}
	return rows
}

func (t teller) part(name, well string, p Part) partRow {
	row := partRow{Name: name, State: well, Problem: p.Problem, OK: p.OK && p.Problem == ""}
	if !p.OK {
		row.State = "not " + well
	}
	if !p.Since.IsZero() {
		row.State += " since " + t.moment(p.Since)
	}
	return row
}

func unwell(parts []partRow) []partRow {
	var rows []partRow
	for _, p := range parts {
		if !p.OK {
			rows = append(rows, p)
		}
	}
	return rows
}

// spaceRow is a place where lots stand, as warm as it is.
type spaceRow struct {
	Name, Air, Age string // of its thermometer
	Stale          bool
	Lots           []card
}

// spaces of the thermometers, with the open lots that stand in them.
func spaces(sensors []sensorRow, lots []card) []spaceRow {
	var rows []spaceRow
	for _, s := range sensors {
		if s.Space == "" {
			continue
		}
		row := spaceRow{Name: s.Space, Air: s.Value, Age: s.Age, Stale: s.Stale}
		for _, l := range lots {
			if l.Space == s.Space {
				row.Lots = append(row.Lots, l)
			}
		}
		rows = append(rows, row)
	}
	return rows
}
