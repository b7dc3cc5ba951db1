package alerts

import (
	"fmt"
	"strings"
	"time"

	"conditiond/model/estimate"
)

// Digest is a word at a set time, though nothing happened: where each lot
// stands, and that the watch goes on. The zero value is none.
type Digest struct {
	At     time.Duration // since midnight
	Weekly bool          // on Mondays only
	Zone   *time.Location
}

// Next is the first digest after an instant; zero = never.
func (d Digest) Next(after time.Time) time.Time {
	if d.Zone == nil {
		return time.Time{}
	}
	local := after.In(d.Zone)
	for day := range 9 {
		at := time.Date(local.Year(), local.Month(), local.Day()+day, 0, int(d.At.Minutes()), 0, 0, d.Zone)
		if at.After(after) && (!d.Weekly || at.Weekday() == time.Monday) {
			return at.UTC()
		}
	}
	return time.Time{}
}

// Messages of a digest at an instant, to all who are told of notices. Lots that
// are closed are left out.
func (d Digest) Messages(to []Recipient, lots []Situation, f Figures, now time.Time) []Message {
	var out []Message
	summary := d.summary(lots, f)
	for _, r := range to {
		if r.Least.Rank() > Notice.Rank() {
			continue
		}
		out = append(out, Message{
			ID: "digest." + now.UTC().Format("20060102T150405") + "." + r.Name, To: r.Name, Time: now,
			Alert: DigestName, Severity: Notice, State: Raised, Summary: summary,
			Advice: "Nothing to do but what open alerts ask for. When this stops coming, the watch has stopped.",
		})
	}
	return out
}

func (d Digest) summary(lots []Situation, f Figures) string {
	var words []string
	for _, s := range lots {
		if s.Phase != estimate.Closed {
			words = append(words, s.brief())
		}
	}
	if len(words) == 0 {
		words = []string{"no lot is open"}
	}
	told := "no alert in the last day"
	if f.LastDay > 0 {
		told = fmt.Sprintf("%d alerts in the last day", f.LastDay)
	}
	return "The watch goes on. " + strings.Join(append(words, told), "; ") + "."
}

// brief says in a few words where a lot stands.
func (s Situation) brief() string {
	words := s.Lot.Name + " " + string(s.Phase)
	if s.Estimate == nil {
		return words + ", nothing heard yet"
	}
	if v := s.Estimate.CO2Volumes; v != nil {
		words += fmt.Sprintf(", %.1f volumes (%.1f to %.1f)", v.P50, v.P05, v.P95)
	}
	if s.held() {
		words += ", on hold"
	}
	if s.Gauge != nil && s.Gauge.Silent || s.Thermometer.Silent {
		words += ", a sensor is silent"
	}
	return words
}
