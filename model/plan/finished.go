package plan

import (
	"fmt"
	"math"

	"conditiond/model"
)

// points are thousandths of specific gravity.
func points(from, to float64) float64 { return (from - to) * 1000 }

// pointsLeft hold the bottling. One is what a hydrometer can't tell.
const pointsLeft = 1.5

// unfinished holds the bottling from two points above the limit.
func (d desk) unfinished() []caution {
	b := d.lot.Beer
	gap := points(b.FinalGravity, b.LimitGravity)
	if d.live() || b.LimitGravity == 0 || gap < 0.25 {
		return nil
	}
	if gap < pointsLeft {
		return warn("The beer stands at %.3f, its limit is %.3f. If that last point ferments it adds %.1f volumes: %s. "+
			"A hydrometer hardly tells one point; measure again in three days, or count on it.",
			b.FinalGravity, b.LimitGravity, float64(d.lot.Unfinished()), d.would(d.potential()))
	}
	return hold("Do not bottle yet", ": the beer stands at %.3f, but its limit is %.3f. What is left would add %.1f volumes: %s. "+
		"A gravity that stands still isn't finished. Warm the beer, rouse the yeast, wait, and measure again until it meets the limit.",
		b.FinalGravity, b.LimitGravity, float64(d.lot.Unfinished()), d.would(d.potential()))
}

// span of days in words.
func span(days float64) string {
	switch days {
	case 0:
		return "nothing"
	case 1:
		return "1 day"
	}
	return fmt.Sprintf("%g days", days)
}

func (d desk) stableDays() float64 {
	if w := d.lot.Fermentation; w != nil {
		return w.StableDays
	}
	return 0
}

// limitUnknown asks for the test that finds the limit; a gravity that was
// watched for less than two days holds the bottling.
func (d desk) limitUnknown() []caution {
	if d.live() || d.lot.Beer.LimitGravity > 0 || d.lot.Yeast == model.Mixed {
		return nil
	}
	const test = "A forced-fermentation test (a small sample, much yeast, warm) finds where it ends. " +
		"Each point (0.001) still to ferment adds half a volume."
	b := d.lot.Beer
	switch days := d.stableDays(); {
	case days > 0 && days < 2:
		return hold("Do not bottle yet", ": the gravity was watched for %s only, and no limit gravity is known. "+
			"Wait until it stands still for three days at fermentation temperature. %s", span(days), test)
	case days > 0:
		return warn("The gravity has stood still for %s, but no limit gravity is known: that is evidence, not proof. %s", span(days), test)
	case points(b.OriginalGravity, b.FinalGravity) < 0.6*points(b.OriginalGravity, 1):
		return warn("From %.3f to %.3f is little for a finished beer, and no limit gravity is known. "+
			"Make sure before bottling. %s", b.OriginalGravity, b.FinalGravity, test)
	}
	return warn("No limit gravity is known, so this plan takes the beer as finished. "+
		"Bottle only after the same gravity on at least two days, three days apart. %s", test)
}

// belowLimit finds a beer that ferments what its test said it couldn't.
func (d desk) belowLimit() []caution {
	b := d.lot.Beer
	if b.LimitGravity == 0 || points(b.LimitGravity, b.FinalGravity) < 1.5 {
		return nil
	}
	return warn("The beer stands at %.3f, below its limit of %.3f. Either the test wasn't run to its end, or something ferments "+
		"what this yeast leaves: a wild or a diastatic strain. Watch the gravity for some weeks before bottling, and use heavy bottles.",
		b.FinalGravity, b.LimitGravity)
}

// mixedStable is how long a mixed culture's gravity should stand still, days
// (common practice, no source).
const mixedStable = 60

// mixedCulture holds one that hasn't been watched for two months.
func (d desk) mixedCulture() []caution {
	if d.lot.Yeast != model.Mixed || d.live() {
		return nil
	}
	fg := d.lot.Beer.FinalGravity
	more := model.Fermented(d.lot.Beer.OriginalGravity, fg, fg-0.004).Volumes()
	if days := d.stableDays(); days < mixedStable {
		return hold("Do not bottle yet", ": a mixed culture stands still and then goes on, and two months of the same gravity are asked of it; "+
			"noted is %s (fermentation.stable_days). If it fell another 4 points, to %.3f, the bottles would come to %s. "+
			"Use heavy bottles even then.", span(days), fg-0.004, d.would(d.expected()+more))
	}
	return warn("A mixed culture may go on for months. If it fell another 4 points, to %.3f, the bottles would come to %s. "+
		"Use heavy bottles, stand them in something closed, and keep watching.", fg-0.004, d.would(d.expected()+more))
}

// hopReserve is kept for the sugar that hop enzymes free, in volumes (common
// practice, no source).
const hopReserve = 0.5

// dryHopped keeps a reserve.
func (d desk) dryHopped() []caution {
	w := d.lot.Fermentation
	if w == nil || w.DryHopGPerL == 0 {
		return nil
	}
	return warn("Hops added after fermentation (%g g/L) bring enzymes that free more sugar, for weeks. Keep half a volume in reserve: "+
		"the worst is then %s. Measure again at least five days after the hops went in; or plan %.1f volumes, or take stronger bottles. Watch for six weeks.",
		w.DryHopGPerL, d.would(d.expected()+hopReserve), math.Max(1.5, float64(d.target())-0.3))
}

func (d desk) farmhouse() []caution {
	if d.lot.Yeast != model.Farmhouse || d.live() {
		return nil
	}
	return warn("Many farmhouse strains slowly ferment what other yeast leaves. If yours is diastatic, or you don't know, " +
		"wait until the gravity has stood still for two weeks and use heavy bottles.")
}
