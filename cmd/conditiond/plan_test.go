package main

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
)

// planned is what scripts read of a plan.
type planned struct {
	Hold     bool    `json:"hold"`
	First    string  `json:"first"`
	Residual float64 `json:"residual_volumes"`
	Expected float64 `json:"expected_volumes"`
	Priming  []dosed `json:"priming"`
	Choices  []dosed `json:"priming_choices"`
	Bottles  []struct {
		BarAtC  map[string]float64 `json:"bar_at_c"`
		Verdict string             `json:"verdict"`
	} `json:"per_bottle"`
	Unfinished *float64 `json:"unfinished_volumes"`
	Warnings   []string `json:"warnings"`
	Notes      []string `json:"notes"`
}

type dosed struct {
	Sugar   string  `json:"sugar"`
	MassG   float64 `json:"mass_g"`
	VolumeL float64 `json:"volume_l"`
	GPerL   float64 `json:"mass_g_per_l"`
}

// dose of a sugar, proposed or among the choices.
func (p planned) dose(sugar string) dosed {
	for _, d := range append(p.Priming, p.Choices...) {
		if d.Sugar == sugar {
			return d
		}
	}
	return dosed{}
}

// figure of a plan against a brewer's sum.
type figure struct {
	name      string
	of        func(planned) float64
	want, tol float64
}

func grams(sugar string, want float64) figure {
	return figure{"g of " + sugar, func(p planned) float64 { return p.dose(sugar).MassG }, want, 0.05 * want}
}
func litres(sugar string, want, share float64) figure {
	return figure{"L of " + sugar, func(p planned) float64 { return p.dose(sugar).VolumeL }, want, share * want}
}
func perLitre(want, share float64) figure {
	return figure{"g/L of sucrose", func(p planned) float64 { return p.dose("sucrose").GPerL }, want, share * want}
}
func bar(at string, want float64) figure {
	return figure{"bar at " + at, func(p planned) float64 { return p.Bottles[0].BarAtC[at] }, want, 0.10}
}
func residual(want float64) figure {
	return figure{"residual", func(p planned) float64 { return p.Residual }, want, 0.10}
}
func ends(want float64) figure {
	return figure{"expected", func(p planned) float64 { return p.Expected }, want, 0.10}
}

// planCases are lots with the answer that a careful brewer's sums give: common
// practice, no source. The sums take 1.97 g/L to a volume, beer that holds 0.97
// of what water does, and forget the water vapour over the beer and the
// headspace. The model takes 1.977, 0.96 and both, so that its residual is
// 0.06 volumes lower and its doses 4 to 5 % higher: that is why they have 5 %
// here, where the sums would allow themselves 4.
var planCases = map[string]struct {
	room     string // --room
	hold     bool
	first    string // of the text, after HOLD
	verdicts []string
	figures  []figure
	says     []string // in warnings or notes
	never    []string
}{
	"pale-ale": {first: "For 19.5 L: 139.6 g dextrose", verdicts: []string{"fits"},
		figures: []figure{residual(0.85), grams("sucrose", 115), grams("dextrose", 134), bar("20", 1.84)}},
	"lager-after-a-rest": {first: "For 18 L", verdicts: []string{"fits"},
		figures: []figure{residual(0.96), grams("dextrose", 123), grams("sucrose", 107)},
		// At 1 °C the sums say 68 g and 1.8 volumes.
		says: []string{"counted from 1 °C it would be 73 g of dextrose, and end at 1.8 volumes", "Add fresh yeast", "18 to 20 °C for two to three weeks"}},
	"lager-never-warm": {first: "For 18 L",
		figures: []figure{residual(1.15), grams("dextrose", 108), grams("sucrose", 93)}, says: []string{"counted from 11 °C"}},
	"sachet": {first: "Use 107.1 g dextrose (7.1 g/L), not 130 g of dextrose", verdicts: []string{"tight"},
		figures: []figure{ends(2.83), grams("dextrose", 103)},
		says:    []string{"add beer", "stronger bottles", "would suit 18.2 L; you have 15 L", "can't be left out of single bottles"}, never: []string{"leave some out"}},
	"four-points-left": {hold: true, first: "Do not bottle yet", verdicts: []string{"exceeds"},
		figures: []figure{ends(4.4), bar("20", 4.2)},
		says:    []string{"would add 2.0 volumes", "Warm the beer, rouse the yeast, wait, and measure again", "stands still isn't finished"}},
	"dry-hopped": {first: "For 19 L", says: []string{"half a volume in reserve", "3.0 volumes", "five days", "2.2 volumes", "stronger bottles", "six weeks"}},
	"mixed-culture": {hold: true, first: "Do not bottle yet",
		says: []string{"two months", "to 1.002", "4.8 volumes, 4.7 bar at 20 °C", "Use heavy bottles even then"}},
	"speise":   {first: "For 20 L: 1.91 L wort", figures: []figure{litres("wort", 1.9, 0.08), ends(2.6)}},
	"kraeusen": {first: "For 20 L: 2.42 L fermenting-beer", figures: []figure{litres("fermenting-beer", 2.4, 0.10), ends(2.5)}},
	"honey": {first: "For 19 L", figures: []figure{{"honey for 120 g of sucrose",
		func(p planned) float64 { return 120 * p.dose("honey").MassG / p.dose("sucrose").MassG }, 158, 0.04 * 158}},
		says: []string{"0.2 volumes more or less", "a gravity of the dissolved sugar"}},
	// The target counts beer and headspace together: 5.9 g/L. The sums' 6.5 are for
	// 2.4 volumes in the beer itself; the warning says so, with 6.7.
	"keg":         {first: "For 17 L", verdicts: []string{"fits"}, figures: []figure{perLitre(6.5, 0.10)}, says: []string{"take 6.7 g/L of sucrose", "matter of foam, not of chemistry"}},
	"cans":        {first: "For 19 L", verdicts: []string{"fits"}, figures: []figure{bar("40", 4.1)}, says: []string{"3 points of unfermented gravity would be enough", "strict about the beer being finished"}},
	"cans-lively": {hold: true, first: "Do not fill can of 355 mL", verdicts: []string{"exceeds"}, figures: []figure{bar("40", 6.9)}},
	// The sums say 4.96 bar at 30 °C; the headspace takes 0.1 of it.
	"wheat-in-three-glasses": {hold: true, first: "Do not fill standard-glass of 500 mL", verdicts: []string{"exceeds", "tight", "fits"},
		figures: []figure{perLitre(11.2, 0.04), bar("30", 4.86)}},
	"twice-the-sugar": {hold: true, first: "Act today: open all bottles and move the beer to PET, a keg or stronger bottles; or put them all in the cold now",
		verdicts: []string{"exceeds"}, figures: []figure{ends(3.9), grams("sucrose", 120)},
		says:  []string{"no pressure yet", "by day 3 (4 March), a middling lot by day", "Don't count on venting later"},
		never: []string{"vent the bottles"}},
	"ginger-beer": {room: "25", first: "Chill or stop it at 2.2 volumes, 2.0", verdicts: []string{"fits"},
		// The fridge of the sums is at 4 °C: 0.54 bar for 2.19 volumes.
		figures: []figure{bar("5", 0.58)}, says: []string{"could come to 27 volumes", "never done by itself", "place in the fridge before you fill", "within days", "goes on slowly in the cold"}},
	// 5.9 and 5.1 kg by the sums.
	"brewery": {first: "For 800 L", figures: []figure{grams("dextrose", 5900), grams("sucrose", 5100)}},
	// 1.80 and 1.46 bar by the sums.
	"sweet-cider": {room: "18", first: "Chill or stop it at 2.5 volumes, 1.81 bar", says: []string{"Get ready at 2.2 volumes, 1.48 bar", "no advice on heating"}},
	"kombucha": {room: "24", hold: true, first: "Do not fill decorative-glass of 500 mL", verdicts: []string{"exceeds"},
		says: []string{"could come to 6 volumes", "2 to 4 days", "Chill or stop it at 2.5 volumes", "place in the fridge before you fill", "plastic bottles for carbonated drinks"}},
	"club": {first: "For 60 L", verdicts: []string{"fits"}, figures: []figure{bar("20", 1.84), residual(0.88)}},
}

func TestPlanCases(t *testing.T) {
	for name, c := range planCases {
		t.Run(name, func(t *testing.T) {
			args := []string{"plan", "../../testdata/lots/cases/" + name + ".yaml"}
			if c.room != "" {
				args = append(args, "--room", c.room)
			}
			p := planJSON(t, args)
			if p.Hold != c.hold {
				t.Errorf("hold is %v", p.Hold)
			}
			var verdicts []string
			for _, b := range p.Bottles {
				verdicts = append(verdicts, b.Verdict)
			}
			if c.verdicts != nil && !slices.Equal(verdicts, c.verdicts) {
				t.Errorf("verdicts %v, want %v", verdicts, c.verdicts)
			}
			for _, f := range c.figures {
				if got := f.of(p); !(math.Abs(got-f.want) <= f.tol) {
					t.Errorf("%s: %.3f, want %.3f ± %.3f", f.name, got, f.want, f.tol)
				}
			}
			said := strings.Join(append(p.Warnings, p.Notes...), "\n")
			for _, s := range c.says {
				if !strings.Contains(said, s) {
					t.Errorf("nothing says %q:\n%s", s, said)
				}
			}
			for _, s := range append(c.never, "safe") {
				if strings.Contains(said, s) {
					t.Errorf("it says %q:\n%s", s, said)
				}
			}
			first := c.first
			if c.hold {
				first = "HOLD. " + first
			}
			if text := unwrapped(conditiond(t, args...)); !strings.HasPrefix(text, first) {
				t.Errorf("the page begins %.100q, want %q", text, first)
			}
		})
	}
}

// unwrapped is a text in one line.
func unwrapped(s string) string { return strings.Join(strings.Fields(s), " ") }

// conditiond runs the command and wants it to do what it is told, quietly.
func conditiond(t *testing.T, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	if code := run(args, strings.NewReader(""), &out, &errs); code != done || errs.Len() > 0 {
		t.Fatalf("exited with %d: %s", code, errs.String())
	}
	return out.String()
}

func planJSON(t *testing.T, args []string) planned {
	t.Helper()
	var p planned
	if err := json.Unmarshal([]byte(conditiond(t, append(args, "--json")...)), &p); err != nil {
		t.Fatal(err)
	}
	return p
}
