package estimate

import (
	"math"
	"slices"
	"time"

	"conditiond/model"
)

// fates of all members, with their weights.
func (e *Estimator) fates(elsewhere *spell) []fate {
	o := e.expected(elsewhere)
	k := e.kinds()
	var out []fate
	e.likely(func(m *member, lu *luck, weight float64) {
		f := e.fate(m, &o, k, lu)
		f.weight = weight
		out = append(out, f)
	})
	return out
}

// expected temperatures of the bottles.
func (e *Estimator) expected(elsewhere *spell) outlook {
	o := e.now.history.outlook()
	if e.chilled() {
		o = outlook{mean: cold, dev: 0.5, wander: 0.5, lately: cold}
	}
	o.spell = elsewhere
	return o
}

// likely visits the members that are worth a forecast.
func (e *Estimator) likely(visit func(m *member, lu *luck, weight float64)) {
	c := e.now.cloud
	p := c.chances()
	lu := lucks(e.seed, crowd[sound])
	for r := range c.members {
		list := c.members[r]
		all := total(list)
		every := 1
		if p[r] < unlikely {
			every = 4
		}
		for i := 0; i < len(list); i += every {
			if w := p[r] * math.Exp(list[i].weight-all) * float64(every); !(w < negligible) {
				visit(&list[i], &lu[i], w)
			}
		}
	}
}

const (
	unlikely   = 0.05 // chance of a regime that a part of its members may stand for
	negligible = 1e-5 // weight of a member that isn't worth a forecast
)

// answer is what is thought, the bottles being left where they are.
func (e *Estimator) answer() Estimate { return e.answerFor(nil) }

// answerFor is the answer if the bottles went elsewhere for a spell; nil = they
// don't. It is that of the lesson, where there is one, but for what is feared.
func (e *Estimator) answerFor(elsewhere *spell) Estimate {
	out := e.asTaught().reads(elsewhere)
	if e.now.taught != nil {
		own := e.reads(elsewhere)
		out.dread(&own)
	}
	return out
}

// asTaught is the estimator with the possible bottles that its lesson has.
func (e *Estimator) asTaught() *Estimator {
	if e.now.taught == nil {
		return e
	}
	out := *e
	out.now.cloud = e.now.taught
	return &out
}

// reads the answer off the cloud.
func (e *Estimator) reads(elsewhere *spell) Estimate {
	packaged := e.setup.Lot.PackagedAt.UTC()
	out := Estimate{Time: packaged.Add(time.Duration(e.next) * window), Lot: e.setup.Lot.ID, Phase: Conditioning}
	out.OverPressure.LimitBar, _ = e.setup.Lot.Limit(model.Bar(e.belief.station))
	if e.deaf() {
		return out
	}
	all := e.fates(elsewhere)
	out.BeerC = e.beer()
	if g := e.now.gauge; g.has {
		v := round(g.latest, 4)
		out.GaugeBar = &v
	}
	q := newQuantiles(all)
	out.CO2Volumes = q.of(func(f *fate) float64 { return f.co2 })
	out.Progress = q.of(func(f *fate) float64 { return f.progress })
	if p := out.Progress; p != nil { // finer than half a percent it isn't known
		p.P05, p.P95 = math.Max(0, p.P05-0.005), math.Min(1, p.P95+0.005)
	}
	out.FinalVolumes = q.of(func(f *fate) float64 { return f.final })
	out.PeakBar = q.of(func(f *fate) float64 { return f.peak })
	out.WorstCaseBar = q.of(func(f *fate) float64 { return f.worst })
	early := soonUngauged
	if e.belief.gauged {
		early = soonGauged
	}
	out.ReadyAt = q.when(packaged, early, func(f *fate) float64 { return f.ready })
	out.OverPressure.Probability = round(q.risk(), 4)
	if w := q.when(packaged, tail, func(f *fate) float64 { return f.crosses }); w.P50 != nil {
		out.OverPressure.CrossesAt = w
	}
	out.Signs = e.signs(all, q)
	if out.Signs.Done && out.Signs.Flat {
		out.Phase = Ready
	}
	return out
}

// deaf says that nothing was ever heard.
func (e *Estimator) deaf() bool {
	return !slices.Contains(e.now.history.seen, true) && e.now.gauge.heard == 0
}

// beer is its temperature, as most of the cloud has it.
func (e *Estimator) beer() *float64 {
	if !slices.Contains(e.now.history.seen, true) {
		return nil
	}
	list := e.now.cloud.members[sound]
	v := make([]float64, len(list))
	for i := range list {
		v[i] = list[i].course.beerC
	}
	t := round(median(v), 3)
	return &t
}

func round(v float64, digits int) float64 {
	s := math.Pow(10, float64(digits))
	return math.Round(v*s) / s
}

// quantiles of weighted fates.
type quantiles struct {
	all   []fate
	order []int
	v     []float64
	sum   float64
}

func newQuantiles(all []fate) *quantiles {
	q := &quantiles{all: all, order: make([]int, len(all)), v: make([]float64, len(all))}
	for i := range all {
		q.sum += all[i].weight
	}
	return q
}

// at a share of the weight, a half of it, and tail from the top.
func (q *quantiles) at(least float64, get func(*fate) float64) (out [3]float64) {
	for i := range q.all {
		q.order[i], q.v[i] = i, get(&q.all[i])
	}
	slices.SortFunc(q.order, func(a, b int) int {
		switch {
		case q.v[a] < q.v[b]:
			return -1
		case q.v[a] > q.v[b]:
			return 1
		}
		return a - b
	})
	sum, k := 0.0, 0
	marks := [...]float64{least, 0.5, 1 - tail}
	for _, i := range q.order {
		sum += q.all[i].weight
		for k < len(marks) && sum >= marks[k]*q.sum {
			out[k] = q.v[i]
			k++
		}
	}
	for ; k < len(marks); k++ {
		out[k] = q.v[q.order[len(q.order)-1]]
	}
	return out
}

func (q *quantiles) of(get func(*fate) float64) *Interval {
	v := q.at(tail, get)
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return nil
		}
	}
	return &Interval{round(v[0], 4), round(v[1], 4), round(v[2], 4)}
}

// A range leaves out this share of the possible bottles on either side; of when a
// lot is ready, another share on the early side (by trials on invented lots): a
// leak that nobody sees looks like a slow yeast, and a gauged lot may be ready
// before nearly all of them say so, while of those that temperature alone carries
// too many are ready sooner than any real one.
const (
	tail         = 0.05
	soonGauged   = 0.025
	soonUngauged = 0.10
)

func (q *quantiles) when(from time.Time, least float64, get func(*fate) float64) *When {
	v := q.at(least, get)
	at := func(d float64) *time.Time {
		if !(d < 3*year) {
			return nil
		}
		t := from.Add(time.Duration(d * 24 * float64(time.Hour))).Truncate(time.Minute)
		return &t
	}
	return &When{at(v[0]), at(v[1]), at(v[2])}
}

// risk is the chance that an average bottle passes its rating. That the gauge
// may show too much lowers it only when hardly anything else is believed.
func (q *quantiles) risk() float64 {
	crosses := func(f *fate) bool { return !math.IsInf(f.crosses, 1) }
	believed := q.chance(func(f *fate) bool { return f.believed })
	if believed < 0.05 {
		return q.chance(crosses)
	}
	return max(q.chance(crosses), q.chance(func(f *fate) bool { return f.believed && crosses(f) })/believed)
}

// chance of something.
func (q *quantiles) chance(is func(*fate) bool) float64 {
	p := 0.0
	for i := range q.all {
		if is(&q.all[i]) {
			p += q.all[i].weight
		}
	}
	return p / q.sum
}
