package estimate

import (
	"math"
	"math/rand/v2"
)

const (
	tooFew = 0.5  // effective share of members below which a regime is renewed
	faint  = 1e-4 // chance below which a regime is renewed only now and then
	seldom = 48   // hours
)

// searches is how many times each member is offered another place: often while
// the history is short and the cloud has far to go, less when it is long.
func searches(hours int) int { return min(12, max(3, 2000/(1+hours))) }

// renew draws the members of regimes anew where few carry all the weight, and
// moves them about without leaving what is probable; those of the likeliest story
// that isn't sound daily even so, for all of them may weigh the same and have
// missed what explains more.
func (c *cloud) renew(b *belief, laws climate, h *history, seed uint64) {
	chances, best := c.chances(), c.likeliest()
	for r := range c.members {
		list := c.members[r]
		if chances[r] < faint && h.hours()%seldom != 0 {
			continue
		}
		due := regime(r) == best && best != sound && h.hours()%daily == 0
		if even(list) >= tooFew && !due || regime(r) == sound && c.stirred(h) {
			continue
		}
		rng := source(seed, h.hours(), int(r))
		c.members[r] = resample(list, rng)
		for range searches(h.hours()) {
			search(c.members[r], b, laws, h, regime(r), rng)
		}
	}
}

// resample draws members by weight, evenly spaced.
func resample(list []member, rng *rand.Rand) []member { return draw(list, len(list), rng) }

// draw n members by weight, evenly spaced.
func draw(list []member, n int, rng *rand.Rand) []member {
	out := make([]member, 0, n)
	t := total(list)
	sum, next := 0.0, rng.Float64()
	for i := range list {
		sum += math.Exp(list[i].weight-t) * float64(n)
		for ; next < sum && len(out) < n; next++ {
			out = append(out, list[i])
		}
	}
	for len(out) < n {
		out = append(out, list[len(list)-1])
	}
	for i := range out {
		out[i].weight = 0
	}
	return out
}

// search offers each member another place: along the difference of two others,
// which goes where the cloud is long, or a step that the prior is indifferent
// to.
func search(list []member, b *belief, laws climate, h *history, r regime, rng *rand.Rand) {
	was := make([]point, len(list))
	for i := range list {
		was[i] = list[i].at
	}
	for i := range list {
		m := &list[i]
		try := member{at: m.at}
		bias := 0.0
		if rng.IntN(3) > 0 {
			along(&try.at, was, rng)
			bias = 0.5 * (norm2(&m.at) - norm2(&try.at))
		} else {
			aside(&try.at, rng)
		}
		try.live(b, laws, h, r)
		if math.Log(rng.Float64()) < try.evidence-m.evidence+bias {
			*m = try
		}
	}
}

// along moves some axes by the difference of two members (ter Braak 2006,
// differential evolution Markov chain; subsets after Vrugt et al. 2009).
func along(p *point, was []point, rng *rand.Rand) {
	x, y := &was[rng.IntN(len(was))], &was[rng.IntN(len(was))]
	part := [...]float64{0.25, 0.5, 1}[rng.IntN(3)]
	var which []int
	for a := range p {
		if rng.Float64() < part {
			which = append(which, a)
		}
	}
	stride := 2.38 / math.Sqrt(2*math.Max(1, float64(len(which))))
	if rng.IntN(10) == 0 {
		stride = 1
	}
	for _, a := range which {
		p[a] += stride*(x[a]-y[a]) + 0.02*rng.NormFloat64()
	}
}

// aside moves some axes so that standard normals stay standard normals
// (preconditioned Crank–Nicolson; Cotter et al. 2013).
func aside(p *point, rng *rand.Rand) {
	far := [...]float64{0.2, 0.5, 1}[rng.IntN(3)]
	near := math.Sqrt(1 - far*far)
	for a := range p {
		if rng.Float64() < 0.3 {
			p[a] = near*p[a] + far*rng.NormFloat64()
		}
	}
}

func norm2(p *point) (s float64) {
	for _, u := range p {
		s += u * u
	}
	return s
}
