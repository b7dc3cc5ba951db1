package alerts

import (
	"fmt"
	"strings"
	"time"

	"conditiond/model"
	"conditiond/model/estimate"
)

// All that a person reads of an alert stands here. The advice is lines: first
// what to do, or for danger what not to do; then how sure it is, what would
// settle it, and the cautions. The summary, one line more, says what was
// measured or reckoned, and when. A danger has six lines in all.

func lines(list ...string) string { return strings.Join(list, "\n") }

// FirstStep parts advice after its first line, or else its first sentence.
func FirstStep(advice string) (first, rest string) {
	advice = strings.TrimSpace(advice)
	for _, end := range []string{"\n", ". ", "! "} {
		if i := strings.Index(advice, end); i >= 0 {
			return strings.TrimSpace(advice[:i+1]), strings.TrimSpace(advice[i+1:])
		}
	}
	return advice, ""
}

// leaveAlone is the advice of every danger; what differs is how sure it is.
func leaveAlone(sure string) string {
	return lines("Do not touch, move or open the bottles, and keep people and animals out.",
		sure,
		"Cool the room from outside it: heating off, a window. No ice or cold water on warm glass.",
		"Go near only after a day or two in the cold: face shield or goggles, leather gloves, a thick towel over each bottle. Or leave them there, covered.",
		"The bottle's maker and local rules come first. If anyone is hurt, call the emergency services; do not rub, rinse or press a hurt eye.")
}

// chances in words, without digits that nobody knows.
func chances(p float64) string {
	switch {
	case p > 0.99:
		return "more than 99 in 100"
	case p < 0.01:
		return "less than 1 in 100"
	}
	return fmt.Sprintf("about %.0f in 100", 100*p)
}

func overNow(s Situation) (summary, advice string) {
	g := s.Gauge
	at := "at"
	if g.Full {
		at = "at or above"
	}
	return fmt.Sprintf("%s: the gauge bottle stands %s %.2f bar (%s), and the weakest bottles (%s) are rated %.1f bar.",
			s.Lot.Name, at, g.Value, ago(s.Now, g.Last), s.Weakest, s.Limit),
		leaveAlone("Measured, on one bottle; others may hold more. Do not go and look: cold is what settles it.")
}

func overSeen(s Situation, x Seen) (summary, advice string) {
	return fmt.Sprintf("%s: %s (%s). Whatever the gauge says, the other bottles may be near what they bear.",
			s.Lot.Name, lowerFirst(x.What.Words()), ago(s.Now, x.At)),
		leaveAlone("Nobody can tell which bottle is next. Do not go and look: a calm week in the cold is what settles it.")
}

func overCeiling(s Situation) (summary, advice string) {
	return fmt.Sprintf("%s holds %s volumes%s. The weakest bottles (%s) are taken to bear %.1f. %s",
			s.Lot.Name, level(s), gaugeSays(s), s.Weakest, float64(s.Ceiling), heading(s)),
		leaveAlone("Reckoned; half of the range is above what they are taken to bear. Do not go and look: cold is what settles it.")
}

func overSoon(s Situation) (summary, advice string) {
	return fmt.Sprintf("%s: the weakest bottles (%s, rated %.1f bar) are expected to pass their rating %s. %s",
			s.Lot.Name, s.Weakest, s.Limit, within(s.Now, s.Estimate.OverPressure.CrossesAt), heading(s)),
		leaveAlone("A forecast: " + chances(s.Estimate.OverPressure.Probability) + " that an average bottle passes it. Do not wait to be surer: cold is what settles it.")
}

func overAhead(s Situation) (summary, advice string) {
	when := ""
	if c := s.Estimate.OverPressure.CrossesAt; c != nil {
		when = ", " + within(s.Now, c)
	}
	return fmt.Sprintf("%s is heading past the rating of the weakest bottles (%s, %.1f bar)%s. %s",
			s.Lot.Name, s.Weakest, s.Limit, when, heading(s)),
		intoTheCold("A forecast: " + chances(s.Estimate.OverPressure.Probability) + " that an average bottle passes its rating. Cold slows the yeast and lowers the pressure.")
}

// intoTheCold is the advice of every warning of pressure.
func intoTheCold(sure string) string {
	return lines("While pressure is still low, put the whole lot in the cold, 4 °C or less, in a closed box, and keep it there.",
		sure,
		"To settle it: after a day in the cold open one bottle over a sink, wrapped, cap away from the face.",
		"Wear eye protection and gloves, cover the bottles, and handle none that is warm and already hard.",
		"What the bottle's maker says about its rating comes first.")
}

func overMeasured(s Situation) (summary, advice string) {
	advice = leaveAlone("Measured, on one bottle; those filled around it may hold as much. Do not go and look: cold is what settles it.")
	x, _ := s.highest()
	if s.Ceiling > 0 && *x.Volumes > s.Ceiling {
		return fmt.Sprintf("%s: a bottle was measured at %.2f volumes (%s). The weakest bottles (%s) are taken to bear %.1f.",
			s.Lot.Name, float64(*x.Volumes), ago(s.Now, x.At), s.Weakest, float64(s.Ceiling)), advice
	}
	return measuredAt(s, model.Celsius(*s.Estimate.BeerC)), advice
}

func overInTheWarm(s Situation) (summary, advice string) {
	return measuredAt(s, s.Lot.WorstCaseC),
		intoTheCold("Measured, on one bottle; those filled around it may hold as much. Cold lowers the pressure.")
}

// measuredAt says what the richest pull comes to at a temperature.
func measuredAt(s Situation, t model.Celsius) string {
	x, _ := s.highest()
	return fmt.Sprintf("%s: a bottle was measured at %.2f volumes (%s). At %.0f °C that is about %.1f bar; the weakest bottles (%s) are rated %.1f.",
		s.Lot.Name, float64(*x.Volumes), ago(s.Now, x.At), float64(t), float64(s.Weak.Gauge(*x.Volumes, t)), s.Weakest, s.Limit)
}

func overTarget(s Situation) (summary, advice string) {
	f := s.Estimate.FinalVolumes
	return fmt.Sprintf("%s is expected to end at %.1f volumes (%.1f to %.1f), against a target of %.1f.",
			s.Lot.Name, f.P50, f.P05, f.P95, float64(s.Lot.TargetVolumes)),
		lines("Keep it watched, and chill the whole lot when it has the carbonation you want.",
			"The range has nine chances in ten of being right. A cold bottle, opened slowly over a sink and tasted, tells more.",
			"Look at sugar and volume in your notes again: one of them was probably off.")
}

func gushed(s Situation) (summary, advice string) {
	return fmt.Sprintf("%s: %d bottles gushed. %s", s.Lot.Name, s.gushers(), heading(s)),
		lines("Open a third bottle only after two days in the cold, over a sink, with eye protection.",
			"Was it warm or shaken? Is there grit, hops or a ring at the neck? Is it sour or thin?",
			"To settle it, measure its gravity: if that is lower than at packaging, something ferments on, and the whole lot belongs in the cold.",
			"If it isn't, gas alone doesn't explain it.")
}

func onHold(s Situation, handsOff bool) (summary, advice string) {
	all, out := s.pulls(), s.out()
	are := "is"
	if len(out) > 1 {
		are = "are"
	}
	hides := ""
	if m := mean(all); m >= s.Poorest && m <= s.Richest {
		hides = fmt.Sprintf(" The mean, %.2f volumes, hides it.", float64(m))
	}
	return fmt.Sprintf("%s is on hold: %d of %d bottles measured %s out, with %s. By chance alone 98 in 100 end with %.2f to %.2f volumes.%s",
			s.Lot.Name, len(out), len(all), are, between(out), float64(s.Poorest), float64(s.Richest), hides),
		lines(nextOfHold(s, handsOff),
			"Suspect that the sugar was not mixed; if all are out the same way, that sugar or volume was noted wrong.",
			"Write down who decides on the lot, and what, as “decided”: until then it isn't called ready.",
			"Open or pierce only cold bottles, wrapped, with eye protection and gloves. If over-pressure is told too, touch nothing and follow that.")
}

// nextOfHold is what to do about it first, in two lines.
func nextOfHold(s Situation, handsOff bool) string {
	if handsOff {
		return lines("Do not touch, move or open the bottles now: over-pressure comes first.",
			fmt.Sprintf("When that is over and they are cold: measure at least %d more, and set aside those filled around any that is out.", morePulls))
	}
	first := fmt.Sprintf("Hold the lot: chill, open and measure at least %d more bottles, from across the whole run.", morePulls)
	if n := s.since(); n >= morePulls {
		first = fmt.Sprintf("Decide on the lot: the %d bottles measured since are as they should be.", n)
	}
	return lines(first, "Set aside and mark the bottles filled around any that is out, cold and covered; give none of them away.")
}

// between the lowest and the highest of some pulls.
func between(list []Seen) string {
	low, high := *list[0].Volumes, *list[0].Volumes
	for _, x := range list {
		low, high = min(low, *x.Volumes), max(high, *x.Volumes)
	}
	if low == high {
		return fmt.Sprintf("%.2f volumes", float64(low))
	}
	return fmt.Sprintf("%.2f to %.2f volumes", float64(low), float64(high))
}

func markReached(s Situation) (summary, advice string) {
	return fmt.Sprintf("%s comes to its mark now: %s of %.1f volumes%s. It goes on by itself.", s.Lot.Name, level(s), float64(s.Lot.StopAtVolumes), gaugeSays(s)),
		lines("Chill it now, all bottles, or stop it now the way you planned; then tell the lot: chill.",
			"Cold slows it and doesn't end it: drink it within days.",
			"No advice on heating is given here.")
}

func markNear(s Situation, left way) (summary, advice string) {
	return fmt.Sprintf("%s comes near its mark: %s of %.1f volumes%s, at the pace of now %s.",
			s.Lot.Name, level(s), float64(s.Lot.StopAtVolumes), gaugeSays(s), left.words()),
		lines(left.todo(), "You will be told again at the mark.")
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
	summary = fmt.Sprintf("%s makes more gas than the sugar that was entered can give. %s", s.Lot.Name, heading(s))
	if s.Kin != "" {
		summary = fmt.Sprintf("%s has no gauge, and “%s”, a part of the same batch, makes more gas than the sugar that was entered can give. Expect the same here.", s.Lot.Name, s.Kin)
	}
	return summary,
		lines("Do not call it ready. If over-pressure is told too, touch nothing and follow that.",
			"Chill one bottle for a day if it isn't, open it over a sink, wrapped, with eye protection, taste it and measure its gravity.",
			"If that is lower than at packaging, put the whole lot in the cold and drink it soon; if not, it is not settled yet.",
			"The beer may not have been finished, or something else ferments: wild yeast, or sugar freed by hops.",
			"Handle no bottle that is warm and hard.")
}

func gaugeLeaks(s Situation) (summary, advice string) {
	return fmt.Sprintf("The gauge bottle of %s loses gas: the carbon dioxide in it falls while the temperature doesn't explain it.", s.Lot.Name),
		lines("Trust the gauge no longer for this lot.",
			"From here the estimate goes by sugar and temperature alone; the other bottles are as tight as before, and their risk is not lowered.",
			"To know where the lot stands, chill another bottle for a day or more and open it.",
			"Tighten the fitting only when the bottle is cold, with eye protection.")
}

func standsStill(s Situation) (summary, advice string) {
	t := ""
	if s.Estimate.BeerC != nil {
		t = fmt.Sprintf(" at %.0f °C", *s.Estimate.BeerC)
	}
	summary = fmt.Sprintf("%s is slow or has stopped%s: hardly any gas is being made now, and %s.", s.Lot.Name, t, sofar(s))
	if p, v := s.Estimate.Progress, s.Estimate.CO2Volumes; p != nil && v != nil && p.P50 > 0.9 {
		summary = fmt.Sprintf("%s has stopped at %.1f volumes%s; its sugar should give %.1f. The yeast gave up, or less sugar is in there than was written down.", s.Lot.Name, v.P50, t, s.signs().Due)
	}
	return summary,
		lines("Warm it to 20–22 °C, turn the bottles over once, gently, to rouse the yeast, and wait a week.",
			"Add no sugar: what is in there still counts.",
			"If nothing moves then, chill one for a day, open it and taste: sweet is yeast that gave up, dry is done.")
}

func coldBeer(s Situation) (summary, advice string) {
	return fmt.Sprintf("%s stands at %.1f °C, where its yeast hardly works: slow, not failed.", s.Lot.Name, *s.Estimate.BeerC),
		lines("Wait, or move it somewhere at 20–22 °C if it should be ready sooner.",
			"When it warms up it goes on where it stopped.")
}

func mayFreeze(s Situation) (summary, advice string) {
	return fmt.Sprintf("%s stands at %.1f °C and freezes at about %.1f °C. Ice takes room and bursts bottles.", s.Lot.Name, *s.Estimate.BeerC, float64(s.freezing())),
		lines("Warm the room slowly, or cover the bottles and leave them where they are.",
			"Do not handle bottles in which there may be ice: let them thaw slowly where they stand.",
			"A gauge that falls now shows the cold, not a leak.")
}

func warmBeer(s Situation) (summary, advice string) {
	out := fmt.Sprintf("%s stands at %.1f °C. %s", s.Lot.Name, *s.Estimate.BeerC, whyPressure(s))
	if b := s.Estimate.GaugeBar; b != nil && s.signs().Leak <= 0.5 {
		out += fmt.Sprintf(" The gauge shows %.1f bar.", *b)
	}
	if w := s.Estimate.WorstCaseBar; w != nil {
		out += fmt.Sprintf(" At %.0f °C it would be about %.1f bar; the weakest bottles (%s) are rated %.1f.", float64(s.Lot.WorstCaseC), w.P50, s.Weakest, s.Limit)
	}
	return out, lines("Do not handle warm bottles. Cool the room slowly: shade, a fan, an open window at night.",
		"No ice or cold water on warm glass.",
		"What the bottle's maker says about heat comes first.")
}

func nothingHeard(s Situation, x Sensor) (summary, advice string) {
	last := "nothing since watching began"
	if !x.Last.IsZero() {
		last = fmt.Sprintf("last reading %s, %s", ago(s.Now, x.Last), value(s, x))
	}
	return fmt.Sprintf("%s says nothing: %s. The lot is not being watched by it.", x.Name, last),
		lines("See to the sensor's power and network, without touching the bottles.",
			"It is awaited on the topic "+x.Topic+".",
			"Silence is no sign that all is well; until it speaks again the estimate goes by what is left.")
}

func atFullScale(s Situation, x Sensor) (summary, advice string) {
	return fmt.Sprintf("%s is at the end of its scale: the pressure is %.2f bar or more, how much more can't be seen.", x.Name, x.Value),
		leaveAlone("Or the gauge is broken. Until that is known, take it as true, and do not go and look.")
}

func keepsBeingRefused(x Sensor) (summary, advice string) {
	return fmt.Sprintf("%s sends values that can't be believed, %d in a row: %s.", x.Name, x.Rejected, x.Reason),
		lines("Check the sensor's wiring, and its unit and pointer in the configuration.",
			"Refused values are kept and shown, but not used: the lot is watched by what is left.")
}

func gaugeContradicted(s Situation, x Sensor) (summary, advice string) {
	return fmt.Sprintf("What %s says can't be right: %s.", x.Name, s.signs().GaugeFault),
		lines("Trust the gauge less: until this is settled the estimate leans on sugar and temperature.",
			"To settle it, once the bottle is cold and with eye protection: compare it with another gauge, or open to the air, where it should read zero.")
}

func gaugeAstray(s Situation, x Sensor) (summary, advice string) {
	return fmt.Sprintf("%s seems to be off: what it shows of %s moves as neither gas nor temperature does. It may drift, or have been knocked.", x.Name, s.Lot.Name),
		lines("Until this is settled take a high reading as true, and no low one as reassuring.",
			"The estimate allows for the error, and is less sure for it.",
			"To settle it, once the bottle is cold and with eye protection: compare it with another gauge, or open to the air, where it should read zero.")
}

func chillOne(s Situation) (summary, advice string) {
	how := "by the gauge"
	if s.Gauge == nil {
		how = "by sugar and temperature alone, for it has no gauge" + s.likeness()
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
		lines("Chill one bottle for a day or more, open it over a sink and taste: that settles it.",
			"If it is as you want it, chill the rest as you need them.",
			"The watch goes on until the lot is closed.")
}

// likeness says whose gauge tells of a lot's yeast, where it has none itself.
func (s Situation) likeness() string {
	if s.YeastAsIn == "" {
		return ""
	}
	return fmt.Sprintf("; its yeast is taken to be as brisk as in “%s”", s.YeastAsIn)
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
	where := "a bottle"
	if s.Gauge != nil {
		where = "the gauge bottle"
	}
	return fmt.Sprintf("Expected to end at %.1f volumes (%.1f to %.1f), with at most %.1f bar (%.1f to %.1f) in %s.",
		e.FinalVolumes.P50, e.FinalVolumes.P05, e.FinalVolumes.P95, e.PeakBar.P50, e.PeakBar.P05, e.PeakBar.P95, where)
}

func sofar(s Situation) string {
	if p := s.Estimate.Progress; p != nil {
		return fmt.Sprintf("about %.0f %% of it is there", 100*p.P50)
	}
	return "how much of it is there can't be told"
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

// mostLines of a merged notice; the rest is on the page.
const mostLines = 20

// several notices in one: of each alert a line.
func several(list []line, now time.Time) (summary, advice string) {
	var stand, grave int
	var out []string
	for _, l := range list {
		switch {
		case l.standing:
			stand++
		case l.last.Severity == Danger:
			grave++
		}
		out = append(out, l.words(now))
	}
	if more := len(out) - mostLines; more > 0 {
		out = append(out[:mostLines], fmt.Sprintf("And %d more, on the page.", more))
	}
	head := "An alert that you could not be told of in time."
	if len(list) > 1 {
		head = fmt.Sprintf("%d alerts that you could not be told of in time, %d of them still so.", len(list), stand)
	}
	return lines(append([]string{head}, out...)...), severalAdvice(stand, grave)
}

func severalAdvice(stand, grave int) string {
	var out []string
	if stand > 0 {
		out = append(out, "See to what is still so: the page shows all of it.")
	}
	if grave > 0 {
		out = append(out, "Say on the page that you saw the danger that was. What was advised about handling still holds.")
	}
	if len(out) == 0 {
		out = append(out, "Nothing to do: the page shows what was.")
	}
	return lines(out...)
}

// words of an alert in a line: since when or from when to when, and its last.
func (l line) words(now time.Time) string {
	when, text := Clock(l.first.Time, now), strings.Join(strings.Fields(l.last.Summary), " ")
	if l.last.State == Cleared && l.count > 1 {
		when += " to " + Clock(l.last.Time, now)
	}
	switch first, _ := FirstStep(l.last.Advice); {
	case l.standing:
		text += " " + first
	case l.last.State == Raised && l.last.Alert != DigestName:
		text = "No longer so: " + text
	}
	return when + ": " + text
}

// Clock is a time of day, with the day when it is another than now's; in the
// zone of at.
func Clock(at, now time.Time) string {
	now = now.In(at.Location())
	if now.YearDay() != at.YearDay() || now.Year() != at.Year() {
		return at.Format("Mon 2 Jan 15:04")
	}
	return at.Format("15:04")
}
