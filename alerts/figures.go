package alerts

import "time"

// Figures say whether the alerts themselves are in order: too many of them, and
// people stop looking (ISA-18.2 and IEC 62682 ask for such figures, from
// memory).
type Figures struct {
	LastDay    int `json:"last_day"`   // raised within a day
	Burst      int `json:"burst"`      // most raised within ten minutes, in that day
	Stale      int `json:"stale"`      // standing for more than a day
	Chattering int `json:"chattering"` // subjects raised three times or more in that day
}

const (
	day      = 24 * time.Hour
	burst    = 10 * time.Minute
	chatter  = 3
	remember = 7 * day
)

// raised keeps that an alert was raised, for a week.
func (b *Book) raised(k string, at time.Time) {
	first := 0
	for first < len(b.Raises) && at.Sub(b.Raises[first].At) > remember {
		first++
	}
	b.Raises = append(b.Raises[first:], Raise{At: at, Subject: k})
}

// Figures at an instant.
func (b Book) Figures(now time.Time) Figures {
	var f Figures
	times := map[string]int{}
	for i, r := range b.Raises {
		if now.Sub(r.At) > day {
			continue
		}
		f.LastDay++
		if times[r.Subject]++; times[r.Subject] == chatter {
			f.Chattering++
		}
		n := 0
		for _, later := range b.Raises[i:] {
			if later.At.Sub(r.At) <= burst {
				n++
			}
		}
		f.Burst = max(f.Burst, n)
	}
	for _, a := range b.Open {
		if now.Sub(a.Since) > day {
			f.Stale++
		}
	}
	return f
}
