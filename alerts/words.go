package alerts

import (
	"fmt"
	"strings"
	"time"

	"conditiond/model/estimate"
)

// All that a person reads of an alert stands here. The advice says first what
// to do, or for danger what not to do; the summary says what was measured or
// reckoned, and when.

const leaveAlone = "Do not touch, move or open the bottles, and keep people and animals out. " +
	"Cool the room from outside it: heating off, a window, no ice or cold water on warm glass. " +
	"Later, and only once they have been cold for a day or two: eye protection or a face shield, leather gloves, a thick towel over each bottle; or leave them covered where they are. " +
	"What the bottle's maker and local rules say comes first. If anyone is hurt, call the emergency services; do not rub, rinse or press a hurt eye."

func overNow(s Situation) (summary, advice string) {
	g := s.Gauge
	at := "at"
	if g.Full {
		at = "at or above"
	}
	return fmt.Sprintf("%s: the gauge bottle stands %s %.2f bar (%s), and the weakest bottles (%s) are rated %.1f bar.",
		s.Lot.Name, at, g.Value, ago(s.Now, g.Last), s.Weakest, s.Limit), leaveAlone
}

func overSeen(s Situation, x Seen) (summary, advice string) {
	return fmt.Sprintf("%s: %s (%s). Whatever the gauge says, the other bottles may be near what they bear.",
		s.Lot.Name, lowerFirst(x.What.Words()), ago(s.Now, x.At)), leaveAlone
}

func overCeiling(s Situation) (summary, advice string) {
	return fmt.Sprintf("%s holds %s volumes%s. The weakest bottles (%s) are taken to bear %.1f. %s",
		s.Lot.Name, level(s), gaugeSays(s), s.Weakest, float64(s.Ceiling), heading(s)), leaveAlone
}

func overSoon(s Situation) (summary, advice string) {
	return fmt.Sprintf("%s: the weakest bottles (%s, rated %.1f bar) are expected to pass their rating %s. %s",
		s.Lot.Name, s.Weakest, s.Limit, within(s.Now, s.Estimate.OverPressure.CrossesAt), heading(s)), leaveAlone
}

func overAhead(s Situation) (summary, advice string) {
	when := ""
	if c := s.Estimate.OverPressure.CrossesAt; c != nil {
		when = " The rating would be passed " + within(s.Now, c) + "."
	}
	return fmt.Sprintf("%s is heading for more pressure than the weakest bottles (%s) are rated for: %.1f bar. %s%s",
			s.Lot.Name, s.Weakest, s.Limit, heading(s), when),
		"While pressure is still low: put the whole lot in the cold, 4 °C or less, in a closed box, and keep it there; cold slows the yeast and lowers the pressure. " +
			"Wear eye protection and gloves, cover the bottles, and handle none that is warm and already hard. " +
			"Then open one cold bottle over a sink, wrapped, cap away from the face. What the bottle's maker says about its rating comes first."
}

func overTarget(s Situation) (summary, advice string) {
	f := s.Estimate.FinalVolumes
	return fmt.Sprintf("%s is expected to end at %.1f volumes (%.1f to %.1f), against a target of %.1f.",
			s.Lot.Name, f.P50, f.P05, f.P95, float64(s.Lot.TargetVolumes)),
		"Keep it watched. When it has the carbonation you want, chill the whole lot and keep it cold; open cold bottles slowly, over a sink. Weigh the sugar and the volume again in the notes: one of them was probably off."
}

func gushed(s Situation) (summary, advice string) {
	return fmt.Sprintf("%s: %d bottles gushed. %s", s.Lot.Name, s.gushers(), heading(s)),
		"Open a third bottle only after two days in the cold, over a sink, with eye protection. " +
			"Was it warm or shaken? Is there grit, hops or a ring at the neck? Is it sour or thin? Then measure its gravity: " +
			"if that is lower than at packaging, something ferments on, and the whole lot belongs in the cold. If not, gas alone doesn't explain it."
}

func markReached(s Situation) (summary, advice string) {
	return fmt.Sprintf("%s comes to its mark now: %s of %.1f volumes%s. It goes on by itself.", s.Lot.Name, level(s), float64(s.Lot.StopAtVolumes), gaugeSays(s)),
		"Chill it now, all bottles, or stop it now the way you planned; then tell the lot: chill. Cold slows it and doesn't end it: drink it within days. " +
			"No advice on heating is given here."
}

func markNear(s Situation, left way) (summary, advice string) {
	return fmt.Sprintf("%s comes near its mark: %s of %.1f volumes%s, at the pace of now %s.",
			s.Lot.Name, level(s), float64(s.Lot.StopAtVolumes), gaugeSays(s), left.words()),
		left.todo() + " You will be told again at the mark."
}

func (w way) todo() string {
	if w.p50 == longTime {
		return "Make room in the fridge now."
	}
	return "Chill it within " + Span(w.p50) + ": make room in the fridge now."
}

// words of the time to the mark, as a range.
func (w way) words() string {
	if w.p50 == longTime {
		return "it can't be told when"
	}
	if w.p95 == longTime {
		return "in " + Span(w.p05) + " or more"
	}
	return "in " + Span(w.p05) + " to " + Span(w.p95)
}

func moreGas(s Situation) (summary, advice string) {
	return fmt.Sprintf("%s makes more gas than the sugar that was entered can give. %s", s.Lot.Name, heading(s)),
		"Do not call it ready. The beer may not have been finished, or something else is fermenting: wild yeast, or sugar freed by hops. " +
			"Chill one bottle for a day, open it with eye protection, taste it and measure its gravity: if that is lower than at packaging, put the whole lot in the cold and drink it soon."
}

func gaugeLeaks(s Situation) (summary, advice string) {
	return fmt.Sprintf("The gauge bottle of %s loses gas: the carbon dioxide in it falls while the temperature doesn't explain it.", s.Lot.Name),
		"Trust the gauge no longer for this lot: from here the estimate goes by sugar and temperature alone, and the lot's risk is not lowered by it. " +
			"Tighten the fitting only when the bottle is cold, with eye protection. To know where the lot stands, chill another bottle for a day or more and open it."
}

func standsStill(s Situation) (summary, advice string) {
	t := ""
	if s.Estimate.BeerC != nil {
		t = fmt.Sprintf(" at %.0f °C", *s.Estimate.BeerC)
	}
	return fmt.Sprintf("%s is slow or has stopped%s: hardly any gas is being made, and %s.", s.Lot.Name, t, sofar(s)),
		"Warm it to 20–22 °C and turn the bottles over once, gently, to rouse the yeast, then wait a week. Add no sugar: what is in there still counts. If nothing moves, chill one and taste."
}

func coldBeer(s Situation) (summary, advice string) {
	return fmt.Sprintf("%s stands at %.1f °C, where its yeast hardly works: slow, not failed.", s.Lot.Name, *s.Estimate.BeerC),
		"Move it somewhere at 20–22 °C if it should be ready sooner; otherwise wait. Keep watching when it warms up: it goes on where it stopped."
}

func mayFreeze(s Situation) (summary, advice string) {
	return fmt.Sprintf("%s stands at %.1f °C and freezes at about %.1f °C. Ice takes room and bursts bottles.", s.Lot.Name, *s.Estimate.BeerC, float64(s.freezing())),
		"Warm the room, or cover the bottles and leave them where they are. Do not handle bottles in which there may be ice: thaw them slowly in a closed box. " +
			"A gauge that falls now shows the cold, not a leak."
}

func warmBeer(s Situation) (summary, advice string) {
	out := fmt.Sprintf("%s stands at %.1f °C. %s", s.Lot.Name, *s.Estimate.BeerC, whyPressure(s))
	if b := s.Estimate.GaugeBar; b != nil && s.signs().Leak <= 0.5 {
		out += fmt.Sprintf(" The gauge shows %.1f bar.", *b)
	}
	if w := s.Estimate.WorstCaseBar; w != nil {
		out += fmt.Sprintf(" At %.0f °C it would be about %.1f bar; the weakest bottles (%s) are rated %.1f.", float64(s.Lot.WorstCaseC), w.P50, s.Weakest, s.Limit)
	}
	return out, "Do not handle warm bottles. Cool the room slowly: shade, a fan, an open window at night; no ice or cold water on warm glass."
}

func nothingHeard(s Situation, x Sensor) (summary, advice string) {
	last := "nothing since watching began"
	if !x.Last.IsZero() {
		last = fmt.Sprintf("last reading %s, %s", ago(s.Now, x.Last), value(s, x))
	}
	return fmt.Sprintf("%s says nothing: %s. The lot is not being watched by it.", x.Name, last),
		"Look at the sensor's power and network, and at the topic " + x.Topic + ". Silence is no sign that all is well; until it speaks again the estimate goes by what is left."
}

func atFullScale(s Situation, x Sensor) (summary, advice string) {
	return fmt.Sprintf("%s is at the end of its scale: the pressure is %.2f bar or more, how much more can't be seen.", x.Name, x.Value), leaveAlone
}

func keepsBeingRefused(x Sensor) (summary, advice string) {
	return fmt.Sprintf("%s sends values that can't be believed, %d in a row: %s.", x.Name, x.Rejected, x.Reason),
		"Check the sensor's wiring, its unit and its pointer in the configuration. Refused values are kept and shown, but not used."
}

func gaugeContradicted(s Situation, x Sensor) (summary, advice string) {
	return fmt.Sprintf("What %s says can't be right: %s.", x.Name, s.signs().GaugeFault),
		"Compare it with another gauge, or open to air where it should read zero, once the bottle is cold. Until then the estimate leans on sugar and temperature."
}

func chillOne(s Situation) (summary, advice string) {
	how := "by the gauge"
	if s.Gauge == nil {
		how = "by sugar and temperature alone, for it has no gauge"
	} else if s.signs().Leak > 0.5 {
		how = "by sugar and temperature alone, for its gauge bottle leaks"
	}
	at, looks := "", "looks done"
	if s.Gauge == nil || s.signs().Leak > 0.5 {
		looks = "is probably ready"
	} else if s.Estimate.CO2Volumes != nil {
		at = " at " + level(s) + " volumes"
	}
	return fmt.Sprintf("%s %s%s, %s.", s.Lot.Name, looks, at, how),
		"Chill one bottle for a day or more, open it over a sink and taste. If it is as you want it, chill the rest as you need them; the watch goes on until the lot is closed."
}

// whyPressure says whether heat alone moves the gauge.
func whyPressure(s Situation) string {
	if g := s.signs().GasPerDay; g != nil && g.P95 < 0.03 {
		return "No new gas: pressure rises with temperature alone."
	}
	return "Pressure rises with temperature alone, and new gas may come on top."
}

// level of carbonation with its range.
func level(s Situation) string {
	v := s.Estimate.CO2Volumes
	return fmt.Sprintf("%.1f (%.1f to %.1f)", v.P50, v.P05, v.P95)
}

func gaugeSays(s Situation) string {
	if s.Gauge == nil || s.Estimate.GaugeBar == nil {
		return ""
	}
	return fmt.Sprintf(", %.1f bar by the gauge", *s.Estimate.GaugeBar)
}

func lowerFirst(text string) string { return strings.ToLower(text[:1]) + text[1:] }

// heading says where the lot is going.
func heading(s Situation) string {
	e := s.Estimate
	if e == nil || e.FinalVolumes == nil || e.PeakBar == nil {
		return ""
	}
	return fmt.Sprintf("Expected to end at %.1f volumes (%.1f to %.1f), with at most %.1f bar (%.1f to %.1f) in the gauge bottle.",
		e.FinalVolumes.P50, e.FinalVolumes.P05, e.FinalVolumes.P95, e.PeakBar.P50, e.PeakBar.P05, e.PeakBar.P95)
}

func sofar(s Situation) string {
	if p := s.Estimate.Progress; p != nil {
		return fmt.Sprintf("about %.0f %% of the gas is made", 100*p.P50)
	}
	return "how much of the gas is made can't be told"
}

func value(s Situation, x Sensor) string {
	if s.Gauge != nil && x.Name == s.Gauge.Name {
		return fmt.Sprintf("%.2f bar", x.Value)
	}
	return fmt.Sprintf("%.1f °C", x.Value)
}

// ago says how old something is, roughly.
func ago(now, then time.Time) string {
	return Span(now.Sub(then)) + " ago"
}

// Span is a length of time as a person says it: 40 min, 3 h, 5 days.
func Span(d time.Duration) string {
	switch {
	case d < time.Minute:
		return "a moment"
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	case d < 48*time.Hour:
		return fmt.Sprintf("%.0f h", d.Hours())
	}
	return fmt.Sprintf("%.0f days", d.Hours()/24)
}

// within is a range of instants as days from now.
func within(now time.Time, w *estimate.When) string {
	if w == nil || w.P50 == nil {
		return "at a time that can't be told"
	}
	if w.P50.Before(now) {
		return "now, or has already"
	}
	if w.P05 == nil || w.P95 == nil {
		return "in about " + Span(w.P50.Sub(now))
	}
	return fmt.Sprintf("in %s to %s", Span(max(0, w.P05.Sub(now))), Span(w.P95.Sub(now)))
}
