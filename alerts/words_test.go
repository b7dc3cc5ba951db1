package alerts

import (
	"flag"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"conditiond/model/estimate"
)

var update = flag.Bool("update", false, "write testdata/words.golden anew, to be read by a person")

// spoken is a situation in which every text has something to say.
func spoken() Situation {
	s := calm()
	from, at, to := s.Now.Add(20*time.Hour), s.Now.Add(30*time.Hour), s.Now.Add(60*time.Hour)
	s.Ceiling = 3
	s.Gauge.Last = s.Now.Add(-4 * time.Minute)
	s.Gauge.Rejected, s.Gauge.Reason = 12, "the payload is no number"
	s.Lot.StopAtVolumes = 2.6
	s.Estimate.OverPressure = estimate.OverPressure{Probability: 0.72, CrossesAt: &estimate.When{P05: &from, P50: &at, P95: &to}}
	s.Estimate.WorstCaseBar = &estimate.Interval{P05: 2, P50: 2.5, P95: 3}
	s.Estimate.CO2Volumes = &estimate.Interval{P05: 2.2, P50: 2.3, P95: 2.4}
	s.Estimate.Signs.GaugeFault = "it has said 1.803 bar for 14 h"
	s.Estimate.Signs.GasPerDay = &estimate.Interval{P05: 0.1, P50: 0.15, P95: 0.2}
	s.Seen = []Seen{{What: Gusher, At: s.Now}, {What: Gusher, At: s.Now}}
	return s
}

// words of every alert, by what it says.
func words() map[string][2]string {
	s := spoken()
	full, bare, silent := *s.Gauge, s, *s.Gauge
	full.Full, full.Value = true, 10
	silent.Last = s.Now.Add(-5 * time.Hour)
	bare.Gauge = nil
	kin := bare
	kin.Kin = "Invented stout"
	short, stopped := s, *s.Estimate
	short.Estimate = &stopped
	stopped.Progress, stopped.Signs.Due = &estimate.Interval{P05: 0.6, P50: 0.99, P95: 1}, 2.8
	sister := bare
	sister.YeastAsIn = "Invented stout"
	pulled := tank().measured(2.55, 2.62, 2.92)
	rated := pulled
	pulled.Ceiling = 3
	part := Impaired([]Part{{Name: "notify phone", Problem: "connection refused"}})[0]
	spare := Impaired([]Part{{Name: "influxdb", Problem: "connection refused", Spare: true}})[0]
	say := func(summary, advice string) [2]string { return [2]string{summary, advice} }
	return map[string][2]string{
		"over-pressure, danger, by the gauge":      say(overNow(s)),
		"over-pressure, danger, seen":              say(overSeen(s, Seen{What: DomedCap, At: s.Now.Add(-time.Hour)})),
		"over-pressure, danger, by volumes":        say(overCeiling(s)),
		"over-pressure, danger, soon":              say(overSoon(s)),
		"over-pressure, warning":                   say(overAhead(s)),
		"over-carbonation, above target":           say(overTarget(s)),
		"over-carbonation, gushers":                say(gushed(s)),
		"over-carbonation, at the mark":            say(markReached(s)),
		"over-carbonation, near the mark":          say(markNear(s, s.toMark())),
		"over-carbonation, near the mark, unknown": say(markNear(s, way{p50: longTime, p95: longTime})),
		"over-carbonation, on hold":                say(onHold(pulled, false)),
		"over-carbonation, on hold, six more":      say(onHold(pulled.measured(2.5, 2.6, 2.6, 2.6, 2.7, 2.7), false)),
		"over-carbonation, on hold, danger":        say(onHold(pulled, true)),
		"over-carbonation, on hold, three":         say(onHold(pulled.measured(2.2, 2.95), false)),
		"over-pressure, danger, measured":          say(overMeasured(pulled.measured(3.1))),
		"over-pressure, danger, measured, in bar":  say(overMeasured(rated.measured(3.1))),
		"over-pressure, warning, measured":         say(overInTheWarm(rated)),
		"unexpected-fermentation":                  say(moreGas(s)),
		"unexpected-fermentation, of the batch":    say(moreGas(kin)),
		"leak":                                     say(gaugeLeaks(s)),
		"stalled":                                  say(standsStill(s)),
		"stalled, short":                           say(standsStill(short)),
		"too-cold, slow":                           say(coldBeer(s)),
		"too-cold, freezing":                       say(mayFreeze(s)),
		"too-warm":                                 say(warmBeer(s)),
		"sensor-silent":                            say(nothingHeard(s, silent)),
		"sensor-silent, from the start":            say(nothingHeard(s, Sensor{Name: "stairs-air", Topic: "stairs/air"})),
		"sensor-fault, full scale":                 say(atFullScale(s, full)),
		"sensor-fault, refused":                    say(keepsBeingRefused(*s.Gauge)),
		"sensor-fault, contradicted":               say(gaugeContradicted(s, *s.Gauge)),
		"sensor-fault, astray":                     say(gaugeAstray(s, *s.Gauge)),
		"ready":                                    say(chillOne(s)),
		"ready, without a gauge":                   say(chillOne(bare)),
		"ready, without a gauge, by another lot's": say(chillOne(sister)),
		"watch-impaired":                           say(part.Summary, part.Advice),
		"watch-impaired, spare":                    say(spare.Summary, spare.Advice),
	}
}

// TestWords compares every text with those that a person has read. After a
// change of words: go test ./alerts -run TestWords -update, and read them aloud.
func TestWords(t *testing.T) {
	var b strings.Builder
	all := words()
	for _, name := range slices.Sorted(maps.Keys(all)) {
		first, rest := FirstStep(all[name][1])
		fmt.Fprintf(&b, "# %s\n%s\n%s\n", name, first, all[name][0])
		if rest != "" {
			fmt.Fprintln(&b, rest)
		}
		fmt.Fprintln(&b)
	}
	for _, g := range Sightings() {
		fmt.Fprintf(&b, "# seen: %s\n%s\n\n", g, g.Words())
	}
	fmt.Fprintf(&b, "# the door sign\n%s\n\n# to the household\n%s\n", lines(Sign()...), lines(Household()...))
	const file = "testdata/words.golden"
	if *update {
		if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("the words have changed; read them, then -update:\n%s", b.String())
	}
}

// A text has six lines at most, none longer than a person reads at a glance. It
// names the lot or the sensor, never uses the one word that nobody can promise,
// and a danger begins with what not to do.
func TestWordsKeepTheirForm(t *testing.T) {
	const longest = 240 // letters of a line
	for name, text := range words() {
		list := append([]string{text[0]}, strings.Split(text[1], "\n")...)
		if len(list) > 6 {
			t.Errorf("%s has %d lines", name, len(list))
		}
		for _, line := range list {
			if n := len([]rune(line)); n > longest || n == 0 || strings.TrimSpace(line) != line {
				t.Errorf("%s: %d letters in %q", name, n, line)
			}
		}
		all := strings.Join(list, " ")
		if !strings.Contains(all, "Invented ale") && !strings.Contains(all, "gauge-a") && !strings.Contains(all, "stairs-air") && !strings.Contains(all, "influxdb") && !strings.Contains(all, "phone") {
			t.Errorf("%s names nothing", name)
		}
		if strings.Contains(all, "%!") || strings.Contains(strings.ToLower(all), "safe") {
			t.Errorf("%s: %s", name, all)
		}
		if strings.Contains(name, "danger") && !strings.HasPrefix(list[1], "Do not touch") {
			t.Errorf("%s begins %q", name, list[1])
		}
	}
}

func TestFirstStep(t *testing.T) {
	for _, c := range []struct{ advice, first, rest string }{
		{"Do not touch anything.\nClose the door.", "Do not touch anything.", "Close the door."},
		{"Do not touch anything. Close the door.", "Do not touch anything.", "Close the door."},
		{"Wait. Then look.\nClose the door.", "Wait. Then look.", "Close the door."},
		{"Wait", "Wait", ""}, {"", "", ""},
	} {
		if f, r := FirstStep(c.advice); f != c.first || r != c.rest {
			t.Errorf("%q: %q, %q", c.advice, f, r)
		}
	}
}
