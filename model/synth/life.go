package synth

// life is a bottle's course, a value a step from packaging on.
type life struct {
	bottle
	gauge, co2, celsius, made, sweet []float64 // bar gauge, g/L, °C, g/L of the yeast's own, g/L
	all                              []float64 // g/L made, the guest's too
	capped                           float64   // g/L at capping
}

// live lets a vessel of the lot live to the end of the truth.
func (s *Scenario) live(v Vessel, c *climate) *life {
	first := int(s.Before / step)
	b := s.close(v, s.Nature, c.barometer[first])
	l := &life{capped: b.holding()}
	for i := first; i < len(c.room); i++ {
		l.gauge = append(l.gauge, b.inside()-c.barometer[i])
		l.co2 = append(l.co2, b.holding())
		l.celsius = append(l.celsius, b.celsius)
		l.made = append(l.made, b.made)
		l.all = append(l.all, b.made+b.guestGas)
		l.sweet = append(l.sweet, b.sweetness(s.Nature))
		b.live(s, s.Nature, float64(i-first)*stepDays, c.there[i], c.barometer[i], c.shaken[i])
	}
	l.bottle = *b
	return l
}

// final is the CO2 at capping and all that was made.
func (l *life) final() float64 { return l.capped + l.all[len(l.all)-1] }

// goal is the CO2 that the sugar in reach of a sound yeast gives: all of the
// simple ones, and of malt sugars what the lot's strain takes if it doesn't die.
func (s *Scenario) goal(l *life, c *climate) float64 {
	sound := *s
	sound.Dies, sound.Guest, sound.Nature.Dies = 0, Guest{}, 0
	v := *l.Vessel
	v.Leak = Leak{}
	sweet := s.close(v, s.Nature, c.barometer[0])
	malt := 0.0
	if sweet.malt() > 0 {
		malt = sound.live(v, c).maltTaken
	}
	return s.Nature.Yield * (sweet.simple() + malt)
}
