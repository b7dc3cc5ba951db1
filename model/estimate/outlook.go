package estimate

import "math"

// outlook is what the bottles' temperature is expected to be: the room's own
// pattern, as the beer and the gauge follow it.
type outlook struct {
	mean, dev float64 // °C, of the days to come, and how unsure that is
	swing     float64 // K, half the daily swing
	wander    float64 // K, s.d. of the days' means
	lately    float64 // °C, where the beer stands now
	rising    float64 // K, how much more that may become if a day's rise goes on
	spell     *spell  // of another temperature; nil = none
}

// outlook of a room from its last ten days.
func (h *history) outlook() outlook {
	days := math.Max(0.2, float64(min(h.hours(), 10*24))/24)
	swing, wander, usual, now := h.pattern(10)
	rising := math.Max(0, h.mean(6)-h.mean(30))
	day := h.mean(24)
	o := outlook{mean: 0.7*day + 0.3*usual, lately: now, rising: rising}
	const guess, weight = 0.7, 2.0 // K, and as many days' worth
	o.swing = (swing*days + 0.4*weight) / (days + weight)
	o.wander = (wander*days + guess*weight) / (days + weight)
	o.dev = math.Hypot(o.wander*math.Sqrt(0.5+1/(1+days)), 0.4*(day-usual))
	return o
}

// pattern of the last days: half the daily swing of temperatures smoothed as beer
// and headspace smooth them, by 3 and 5 hours, how far the days' means stray, and the last temperature.
// Strays are taken from day to day, by their median, so that a change of season
// or a heat wave counts once.
func (h *history) pattern(days int) (swing, wander, usual, now float64) {
	n := min(h.hours()/24, days)
	if n == 0 {
		return 0, 0, h.mean(24), h.mean(6)
	}
	from := h.hours() - n*24
	now = float64(h.room[from])
	beer := now
	var swings, strays, means []float64
	last := math.NaN()
	for d := range n {
		low, high, mean := math.Inf(1), math.Inf(-1), 0.0
		for _, t := range h.room[from+d*24 : from+d*24+24] {
			beer += (float64(t) - beer) / 3
			now += (beer - now) / 5
			low, high = math.Min(low, now), math.Max(high, now)
			mean += float64(t) / 24
		}
		swings = append(swings, (high-low)/2)
		if last == last {
			strays = append(strays, math.Abs(mean-last))
		}
		last = mean
		means = append(means, mean)
	}
	wander = 0.7
	if len(strays) > 0 {
		wander = 1.4 * median(strays)
	}
	return median(swings), wander, median(means), now
}

// warmest that is to be expected within days, above their mean, with a standard
// normal for luck: from hardly anything, in a room that is cooling down, to all
// that such a room does.
func (o *outlook) warmest(days, luck float64) float64 {
	free := math.Max(1, days/2) // days that go their own way
	high := 1.5 * math.Sqrt(2*math.Log(1+free))
	return (o.swing + o.wander*high) * (0.05 + 1.2*share(luck))
}
