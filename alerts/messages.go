package alerts

import "fmt"

// Messages are what each recipient is told of changes: everything raised that
// is grave enough for them, and its end.
func Messages(to []Recipient, changes []Alert) []Message {
	var out []Message
	for _, a := range changes {
		for _, r := range to {
			if a.Severity.Rank() < r.Least.Rank() || a.State == Acknowledged {
				continue
			}
			out = append(out, a.message(r.Name))
		}
	}
	return out
}

func (a Alert) message(to string) Message {
	m := Message{
		ID: fmt.Sprintf("%s.%s%d.%s.%s", a.ID, a.Severity, a.Grade, a.State, to), To: to,
		Time: a.Time, Lot: a.Lot, Sensor: a.Sensor, Alert: a.Name,
		Severity: a.Severity, State: a.State, Summary: a.Summary, Advice: a.Advice,
	}
	if a.State == Cleared {
		m.Summary, m.Advice = "No longer so: "+a.Summary, "The watch goes on. What was advised about handling still holds."
	}
	return m
}
