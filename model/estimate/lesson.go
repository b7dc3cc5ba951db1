package estimate

import (
	"math"
	"slices"
)

// Lesson is what a gauge has taught of its lot, for lots without one. It is
// told in standard deviations of what was thought of such a lot before, so it
// means the same for each lot of the same kind and state of yeast.
type Lesson struct {
	From  string    `json:"from"`            // the lot that taught it
	Batch bool      `json:"batch,omitempty"` // who learns it is of the same batch: the same beer, primed and capped together
	Form  uint16    `json:"form"`            // of what is believed; one of another form teaches nothing
	Mean  []float64 `json:"mean"`
	Cov   []float64 `json:"cov"` // covariance, lower triangle row by row
}

// subject is an axis that a lesson is about.
type subject struct {
	axis        int
	lots, batch float64 // correlation of two lots of the same yeast, and of two parts of a batch
}

// subjects of a lesson, and how far two lots are alike on each. A document names a
// kind of yeast and no strain, so between two lots that is half of what one strain
// would give: a lesson from another strain must do little harm. In the logarithm
// of the activity it leaves an s.d. of 0.55 between two lots, and of 0.12 within a
// batch. Growth, which drifts stand for, hangs on air and warmth, too; what the
// sugar gives, on scale and bucket, which a batch shares (all judgement, by trials
// on invented lots).
var subjects = [...]subject{
	{activity, 0.6, 0.985}, {lagTime, 0.5, 0.95}, {halfway, 0.5, 0.95}, {warmth, 0.5, 0.95}, {slowPace, 0.4, 0.9},
	{drift1, 0.35, 0.9}, {drift2, 0.35, 0.9}, {drift3, 0.35, 0.9}, {drift4, 0.35, 0.9}, {priming, 0, 0.8}, {slowPool, 0, 0.8},
}

const (
	trusted = 0.7 // chance that nothing is wrong from which a gauge teaches; no leak among the trials had it
	vague   = 0.8 // s.d. of the activity, against what it was at first, above which it hasn't said enough
)

// Lesson of a lot, from its gauge; false while that has said too little, or may
// mislead.
func (e *Estimator) Lesson() (Lesson, bool) {
	if e.now.cloud == nil || e.Behind() || !e.belief.gauged || e.now.gauge.fault() != "" || e.sound() < trusted {
		return Lesson{}, false
	}
	l := Lesson{From: e.setup.Lot.ID, Form: form}
	list := e.now.cloud.members[sound]
	all := total(list)
	l.Mean = make([]float64, len(subjects))
	for i := range list {
		w := math.Exp(list[i].weight - all)
		for j, s := range subjects {
			l.Mean[j] += w * list[i].at[s.axis]
		}
	}
	l.Cov = make([]float64, len(subjects)*(len(subjects)+1)/2)
	for i := range list {
		w := math.Exp(list[i].weight - all)
		l.spread(&list[i].at, w)
	}
	l.round()
	return l, l.Cov[0] < vague*vague
}

// spread adds a possible bottle's part of the covariance.
func (l *Lesson) spread(p *point, weight float64) {
	k := 0
	for i, a := range subjects {
		for j := range i + 1 {
			l.Cov[k] += weight * (p[a.axis] - l.Mean[i]) * (p[subjects[j].axis] - l.Mean[j])
			k++
		}
	}
}

// round to what is worth writing down.
func (l *Lesson) round() {
	for _, list := range [][]float64{l.Mean, l.Cov} {
		for i, v := range list {
			list[i] = round(v, 3)
		}
	}
}

// sound is the chance that nothing is wrong with the lot, its bottle and gauge.
func (e *Estimator) sound() float64 { return e.now.cloud.chances()[sound] }

// Doubtful says whether the gauge makes it likelier than not that something is
// wrong: what a lot has taught is then to be forgotten.
func (e *Estimator) Doubtful() bool { return e.now.cloud != nil && e.sound() < 0.5 }

// Learn lets a lot without a gauge go by a lesson, in place of an earlier one;
// nil = by none. What it says of over-pressure is never calmer for it.
func (e *Estimator) Learn(l *Lesson) {
	if e.belief.gauged {
		return
	}
	e.lesson = l
	e.teach()
	if e.now.cloud != nil {
		e.now.said = e.answer()
	}
}

// teach draws the possible bottles as the lesson has them, and lets them live
// through what was seen. They are the same bottles moved, so the answer moves
// with the lesson and not by chance.
func (e *Estimator) teach() {
	e.now.taught = nil
	if e.lesson == nil || e.now.cloud == nil || !e.lesson.Current() {
		return
	}
	begun := e.now.history.first(0)
	c := newCloud(e.belief, e.laws, &begun, e.seed)
	mean, root := e.lesson.apply()
	for r := range c.members {
		for i := range c.members[r] {
			m := &c.members[r][i]
			move(&m.at, mean, root)
			m.live(e.belief, e.laws, &e.now.history, regime(r))
		}
	}
	e.now.taught = c
}

// Current says whether a lesson is of what is believed by this version.
func (l *Lesson) Current() bool {
	n := len(subjects)
	return l.Form == form && len(l.Mean) == n && len(l.Cov) == n*(n+1)/2
}

// apply the lesson to a lot that is only alike: with a correlation ρ between two
// standard normals, what is known of the one as m and v is ρm and ρ²v+1−ρ² of
// the other. Says the mean and the Cholesky factor of the covariance.
func (l *Lesson) apply() (mean, root []float64) {
	mean, cov := slices.Clone(l.Mean), slices.Clone(l.Cov)
	k := 0
	for i := range subjects {
		mean[i] *= l.alike(i)
		for j := range i + 1 {
			cov[k] *= l.alike(i) * l.alike(j)
			if i == j {
				cov[k] += 1 - l.alike(i)*l.alike(i)
			}
			k++
		}
	}
	root = make([]float64, len(cov))
	cholesky(root, cov)
	return mean, root
}

func (l *Lesson) alike(i int) float64 {
	if l.Batch {
		return subjects[i].batch
	}
	return subjects[i].lots
}

// move a standard normal to where a lesson has it.
func move(p *point, mean, root []float64) {
	was := *p
	k := 0
	for i, s := range subjects {
		u := mean[i]
		for j := range i + 1 {
			u += root[k] * was[subjects[j].axis]
			k++
		}
		p[s.axis] = u
	}
}

// dread takes the higher of what two estimates fear.
func (x *Estimate) dread(y *Estimate) {
	if y.OverPressure.Probability > x.OverPressure.Probability {
		x.OverPressure = y.OverPressure
	}
	x.Signs.Over = math.Max(x.Signs.Over, y.Signs.Over)
	x.Signs.Unexpected = math.Max(x.Signs.Unexpected, y.Signs.Unexpected)
	x.Signs.RichPeakShare.dread(y.Signs.RichPeakShare)
	x.Signs.RichWorstShare.dread(y.Signs.RichWorstShare)
}

func (i *Interval) dread(o Interval) {
	i.P05, i.P50, i.P95 = math.Max(i.P05, o.P05), math.Max(i.P50, o.P50), math.Max(i.P95, o.P95)
}
