package estimate

import "math"

// outlook is what the bottles' temperature is expected to be: the room's own
// pattern, as the beer and the gauge follow it.
type outlook struct {
	mean, dev float64 // °C, of the days to come, and how unsure that is
	swing     float64 // K, half the daily swing
	wander    float64 // K, s.d. of the days' means
}

// outlook of a room from its last ten days.
func (h *history) outlook() outlook {
	var o outlook
	day, week := h.mean(24), h.mean(7*24)
	o.mean = 0.6*day + 0.4*week
	days := math.Max(0.2, float64(min(h.hours(), 10*24))/24)
	swing, wander := h.pattern(10)
	const guess, weight = 0.7, 2.0 // K, and as many days' worth
	o.swing = (swing*days + 0.4*weight) / (days + weight)
	o.wander = math.Sqrt((wander*wander*days + guess*guess*weight) / (days + weight))
	o.dev = o.wander * math.Sqrt(0.3+1/(1+days))
	return o
}

// pattern of the last days: half the daily swing of temperatures smoothed over
// some hours, and the s.d. of the days' means.
func (h *history) pattern(days int) (swing, wander float64) {
	n := min(h.hours()/24, days)
	if n == 0 {
		return 0, 0
	}
	var sum, sq float64
	from := h.hours() - n*24
	smooth := float64(h.room[from])
	for d := range n {
		low, high, mean := math.Inf(1), math.Inf(-1), 0.0
		for _, t := range h.room[from+d*24 : from+d*24+24] {
			smooth += (float64(t) - smooth) / 5
			low, high = math.Min(low, smooth), math.Max(high, smooth)
			mean += float64(t) / 24
		}
		swing += (high - low) / 2 / float64(n)
		sum, sq = sum+mean, sq+mean*mean
	}
	m := sum / float64(n)
	return swing, math.Sqrt(math.Max(0, sq/float64(n)-m*m))
}

// warmest that is to be expected within days, with a standard normal for luck.
func (o *outlook) warmest(days, luck float64) float64 {
	free := math.Max(1, days/2) // days that go their own way
	high := math.Sqrt(2*math.Log(1+free)) * 0.8
	return o.swing + o.wander*math.Max(0, high+0.45*luck)
}
