package estimate

import (
	"math"
	"math/rand/v2"
	"slices"
)

// member is a possible bottle with its course so far.
type member struct {
	at       point
	bottle   bottle
	course   course
	evidence float64
	weight   float64 // logarithm, within its regime
}

// cloud is the possible bottles of each regime, and the evidence for each.
type cloud struct {
	members  [regimes][]member
	proof    [regimes]float64 // logarithm
	startled int              // hour at which the gauge last began to be far from what was foretold
}

// source of chance for a lot, at a step and for a purpose.
func source(seed uint64, step, purpose int) *rand.Rand {
	return rand.New(rand.NewPCG(seed, uint64(step)<<8|uint64(purpose)))
}

func newCloud(b *belief, c climate, h *history, seed uint64) *cloud {
	out := new(cloud)
	for r := range regimes {
		rng := source(seed, 0, int(r))
		list := make([]member, crowd[r])
		for i := range list {
			for a := range list[i].at {
				list[i].at[a] = rng.NormFloat64()
			}
			list[i].live(b, c, h, r)
		}
		out.members[r] = list
		out.proof[r] = math.Log(b.chance(r))
	}
	return out
}

// live lets a member live through the history.
func (m *member) live(b *belief, c climate, h *history, r regime) {
	m.bottle = b.bottleAt(r, &m.at)
	m.course = h.run(b, &m.bottle, c)
	m.evidence = m.course.sums.evidence()
}

func (c *cloud) clone() *cloud {
	if c == nil {
		return nil
	}
	out := *c
	for r := range out.members {
		out.members[r] = slices.Clone(c.members[r])
	}
	return &out
}

// step moves all through an hour.
func (c *cloud) step(b *belief, laws climate, room float64) {
	for r := range c.members {
		for i := range c.members[r] {
			m := &c.members[r][i]
			m.course.step(b, &m.bottle, laws, room)
		}
	}
}

// weigh all by what the gauge says.
func (c *cloud) weigh(b *belief, laws climate, gauge, doubt float64) {
	for r := range c.members {
		c.proof[r] += reweigh(c.members[r], b, laws, gauge, doubt)
	}
}

// reweigh a regime's members by the gauge; says the logarithm of how well the
// regime foretold it.
func reweigh(list []member, b *belief, laws climate, gauge, doubt float64) float64 {
	air := b.airShows(list[0].course.age)
	before, after := total(list), 0.0
	for i := range list {
		m := &list[i]
		m.course.weigh(b, laws, gauge, doubt, air)
		now := m.course.sums.evidence()
		m.weight += now - m.evidence
		m.evidence = now
	}
	after = total(list)
	return after - before
}

// total weight, as a logarithm.
func total(list []member) float64 {
	top := math.Inf(-1)
	for i := range list {
		top = math.Max(top, list[i].weight)
	}
	sum := 0.0
	for i := range list {
		sum += math.Exp(list[i].weight - top)
	}
	return top + math.Log(sum)
}

// doubts says by how much the variance of what the gauge says must grow so that
// it isn't beyond belief for all.
func (c *cloud) doubts(b *belief, laws climate, gauge float64) float64 {
	least := math.Inf(1)
	for r := range c.members {
		for i := 0; i < len(c.members[r]); i += 6 {
			s := &c.members[r][i].course
			least = math.Min(least, s.misses(b, laws, gauge, b.airShows(s.age)))
		}
	}
	const bearable = 3.0
	return math.Max(1, least*least/(bearable*bearable))
}

// chances of the regimes now.
func (c *cloud) chances() (p [regimes]float64) {
	top, sum := slices.Max(c.proof[:]), 0.0
	for r := range p {
		p[r] = math.Exp(c.proof[r] - top)
		sum += p[r]
	}
	for r := range p {
		p[r] /= sum
	}
	return p
}

// likeliest regime now.
func (c *cloud) likeliest() regime {
	best := sound
	for r, p := range c.proof {
		if p > c.proof[best] {
			best = regime(r)
		}
	}
	return best
}

// even is the effective share of a regime's members.
func even(list []member) float64 { return worth(list) / float64(len(list)) }

// worth is how many members of equal weight would say as much.
func worth(list []member) float64 {
	t := total(list)
	sq := 0.0
	for i := range list {
		w := math.Exp(list[i].weight - t)
		sq += w * w
	}
	if sq == 0 {
		return 0
	}
	return 1 / sq
}
