package alerts

import (
	"fmt"
	"time"
)

// Part is something that the watch itself leans on, and what is wrong with it.
type Part struct {
	Name    string `json:"name"`
	Problem string `json:"problem"`
	// Spare says that hearing, keeping and telling go on without it.
	Spare bool `json:"spare,omitempty"`
}

// impairedFor is how long a part may be out of order before people are told.
const impairedFor = 15 * time.Minute

// Impaired are the findings of the watch about itself: it can't hear, keep or
// tell, and says so by what is left.
func Impaired(parts []Part) []Finding {
	var out []Finding
	for _, p := range parts {
		out = append(out, Finding{
			Name: WatchImpaired, Sensor: p.Name, Severity: Warning, After: impairedFor,
			Summary: fmt.Sprintf("The watch itself is impaired, %s: %s.", p.Name, p.Problem),
			Advice:  p.advice(),
		})
	}
	return out
}

func (p Part) advice() string {
	if p.Spare {
		return "See to it when you can: the watch goes on, and the journal has all of it."
	}
	return "See to it soon: what happens in the bottles meanwhile may not be heard, kept or told."
}
