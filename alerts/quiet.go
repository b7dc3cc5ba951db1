package alerts

import "time"

// Quiet hours hold back all but danger. The zero value is none.
type Quiet struct {
	From, To time.Duration  // since midnight; may pass it
	Zone     *time.Location // whose midnight
}

// Until is when the quiet hours that an instant lies in are over; zero when it
// lies in none.
func (q Quiet) Until(at time.Time) time.Time {
	if q.From == q.To || q.Zone == nil {
		return time.Time{}
	}
	local := at.In(q.Zone)
	for _, day := range []int{-1, 0} {
		from, to := q.onDay(local, day, q.From), q.onDay(local, day, q.To)
		if q.To < q.From {
			to = q.onDay(local, day+1, q.To)
		}
		if !local.Before(from) && local.Before(to) {
			return to.UTC()
		}
	}
	return time.Time{}
}

// onDay is a time of day on a day beside another's, by the clock on the wall:
// also where a night has 23 or 25 hours.
func (q Quiet) onDay(t time.Time, plus int, d time.Duration) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day()+plus, 0, int(d.Minutes()), 0, 0, q.Zone)
}
