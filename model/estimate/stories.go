package estimate

import (
	"math"
	"math/rand/v2"
	"slices"
)

// A story that begins only now is hard to find for a cloud that was drawn
// before it. So, now and then, each regime is offered bottles that were sound
// until lately, as the sound ones are known by now, and whose story began in
// the last days. What they explain better counts by importance weight.
const (
	daily     = 24  // hours between offers
	often     = 6   // while it is open what goes on
	undecided = 0.6 // chance of the likeliest regime below which it is open
	startling = 3.0 // standard deviations from what is foretold
	aftermath = 8   // hours after a startling one in which offers are hourly
)

// offered is how new stories are drawn.
type offered struct {
	recent   float64 // days in which they may have begun
	tries    int     // for each member
	searches int     // about the good ones
}

// A leak may show within hours, which is a narrow mark; all else takes its time.
var (
	usualOffer  = offered{2.5, 1, 1}
	suddenOffer = offered{0.75, 4, 3}
)

// offer offers new stories to all regimes but the sound one.
func (c *cloud) offer(b *belief, laws climate, h *history, seed uint64) {
	p := c.chances()
	n, every := h.hours(), daily
	switch {
	case c.stirred(h):
		every = 1
	case slices.Max(p[:]) < undecided:
		every = often
	}
	if n < 24 || n%every != 0 {
		return
	}
	from := sounds{c.members[sound], c.proof[sound]}
	if every == 1 {
		from = c.calm(b, laws, h)
	}
	for r := leaking; r < regimes; r++ {
		o := usualOffer
		if every == 1 && r == leaking {
			o = suddenOffer
		}
		rng := source(seed, h.hours(), int(regimes)+int(r))
		c.tell(r, o, from, b, laws, h, rng)
	}
}

// sounds are the sound bottles that new stories are drawn from, and the evidence
// for them.
type sounds struct {
	members []member
	proof   float64
}

// calm is what was thought of sound bottles before the gauge startled: what it
// said since has made the least unlikely of them count, which are no better
// for it.
func (c *cloud) calm(b *belief, laws climate, h *history) sounds {
	past := h.first(c.startled)
	list := slices.Clone(c.members[sound])
	now := total(list)
	for i := range list {
		m := &list[i]
		late := m.evidence
		m.live(b, laws, &past, sound)
		m.weight += m.evidence - late
	}
	return sounds{list, c.proof[sound] - now + total(list)}
}

// stirred says that the gauge startled lately.
func (c *cloud) stirred(h *history) bool { return c.startled > 0 && h.hours()-c.startled <= aftermath }

// startle notes whether the gauge is far from what the likeliest story foretells.
func (c *cloud) startle(b *belief, laws climate, h *history, gauge float64) {
	if c.stirred(h) {
		return
	}
	list := c.members[c.likeliest()]
	sum, n := 0.0, 0.0
	for i := 0; i < len(list); i += max(1, len(list)/16) {
		s := &list[i].course
		sum += s.misses(b, laws, gauge, b.airShows(s.age))
		n++
	}
	if sum > startling*n {
		c.startled = h.hours()
	}
}

// tell one regime's new stories.
func (c *cloud) tell(r regime, o offered, known sounds, b *belief, laws climate, h *history, rng *rand.Rand) {
	age := float64(h.hours()) * hour
	low, high := b.whenBegins(r, age-o.recent), b.whenBegins(r, age-hour)
	if high-low < 1e-6 {
		return
	}
	list := c.members[r]
	scale := known.proof + math.Log(chance[r]/chance[sound]) - math.Log(float64(o.tries*len(list))) + math.Log(high-low)
	from := resample(known.members, rng)
	var fresh []member
	for range o.tries * len(list) {
		base := &from[rng.IntN(len(from))]
		m := member{at: base.at}
		u := low + (high-low)*rng.Float64()
		m.at[onset], m.at[size], m.at[quickness] = u, rng.NormFloat64(), rng.NormFloat64()
		aimed := 0.0
		if r == leaking {
			aimed = m.aim(base.holding(b, laws, h), rng)
		}
		m.live(b, laws, h, r)
		m.weight = scale + m.evidence - base.evidence - 0.5*u*u - 0.5*math.Log(2*math.Pi) + aimed
		fresh = append(fresh, m)
	}
	if c.merge(r, fresh, low, high, rng) {
		for range o.searches {
			search(c.members[r], b, laws, h, r, rng)
		}
	}
}

// holding is the place on the axis of sizes of a leak that would by now hold the
// gauge where it stands, against what the sound bottle makes expected; NaN when
// it stands higher than that.
func (m *member) holding(b *belief, laws climate, h *history) float64 {
	s, gauge := &m.course, float64(h.gauge[h.hours()-1])
	now := s.observe(b, laws, gauge, b.airShows(s.age))
	z := s.sums.draw(&linear{})
	lacks := -now.y
	for i, x := range now.terms {
		lacks += x * z[i]
	}
	lag := -hour / math.Log(m.bottle.gauge) // days
	return leakAxis(b.holds * lacks / lag / math.Max(0.05, gauge))
}

// aim takes half of all leaks near a place on the axis of sizes; says the
// logarithm of what that does to their weight.
func (m *member) aim(at float64, rng *rand.Rand) float64 {
	const near = 0.3
	if math.IsNaN(at) || math.Abs(at) > 3 {
		return 0
	}
	if rng.IntN(2) == 0 {
		m.at[size] = at + near*rng.NormFloat64()
	}
	u := m.at[size]
	d := (u - at) / near
	return -math.Log(0.5 + 0.5/near*math.Exp(0.5*(u*u-d*d)))
}

// merge takes in new stories. The old ones of the same days stand for the same
// chance, so the two are two trials of one sum, and each counts by how many equal
// stories it is worth: one that fits by luck doesn't outweigh all others. The
// weights of the new are absolute. Says whether the new count at all.
func (c *cloud) merge(r regime, fresh []member, low, high float64, rng *rand.Rand) bool {
	all := total(c.members[r])
	within, rest := []member(nil), []member(nil)
	for _, m := range c.members[r] {
		m.weight += c.proof[r] - all
		if m.at[onset] > low && m.at[onset] < high {
			within = append(within, m)
		} else {
			rest = append(rest, m)
		}
	}
	now, was := worth(fresh), worth(within)
	count(fresh, now/(now+was))
	count(within, was/(now+was))
	both := slices.Concat(rest, within, fresh)
	c.proof[r] = total(both)
	c.members[r] = draw(both, crowd[r], rng)
	return now > 0
}

// count a part of what members weigh.
func count(list []member, part float64) {
	for i := range list {
		list[i].weight += math.Log(part)
	}
}

// whenBegins is the place on the axis of onsets at which a regime's story
// begins at an age.
func (b *belief) whenBegins(r regime, age float64) float64 {
	low, high := -4.0, 4.0
	for range 40 {
		mid := (low + high) / 2
		p, x := point{onset: mid}, bottle{regime: r}
		b.story(&p, &x)
		if x.begins < age {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}
