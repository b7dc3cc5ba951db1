package model

// Kind of container.
type Kind string

const (
	StandardGlass  Kind = "standard-glass"
	HeavyGlass     Kind = "heavy-glass"
	SparklingGlass Kind = "sparkling-glass"
	SwingTop       Kind = "swing-top"
	UnknownGlass   Kind = "unknown-glass"
	PET            Kind = "pet"
	Can            Kind = "can"
	Keg            Kind = "keg"

	// Not made to hold pressure.
	StillWineBottle Kind = "still-wine-bottle"
	Jar             Kind = "jar"
	Growler         Kind = "growler"
	SquareGlass     Kind = "square-glass"
	DecorativeGlass Kind = "decorative-glass"
	ThinScrewTop    Kind = "thin-screw-top"
)

// Container is what is assumed of a kind whose maker's rating isn't known: a
// ceiling in volumes, or a pressure for those that are limited by pressure.
type Container struct {
	Kind    Kind
	Ceiling Volumes  // 0 = limited by pressure instead
	Rated   BarGauge // 0 = limited by volumes instead
	Refused bool     // not made to hold pressure: nothing should ferment in it
	Why     string   // where the default comes from
}

// Cautious defaults by kind; the bottle maker's rating always wins. What isn't
// made to hold pressure has no figure: its ceiling is that of a beer without
// priming, so that a lot in it is always over its limit.
var containers = [...]Container{
	{StandardGlass, 3.0, 0, false, "ordinary one-way beer glass; common practice, no source"},
	{HeavyGlass, 4.0, 0, false, "heavy returnable glass; common practice, no source"},
	{SparklingGlass, 6.0, 0, false, "sparkling-wine bottle with a punt and the right closure; common practice, no source"},
	{SwingTop, 3.0, 0, false, "as the glass, which is unknown; common practice, no source"},
	{UnknownGlass, 3.0, 0, false, "unknown, light or reused glass; common practice, no source"},
	{PET, 4.0, 0, false, "undamaged bottle for carbonated drinks, kept cool; common practice, no source"},
	{Can, 0, 6.2, false, "buckle pressure of a drinks can; common practice, no source"},
	{Keg, 0, 4.1, false, "cautious working pressure of a small keg; common practice, no source"},
	{StillWineBottle, 1.5, 0, true, "made for still wine; common practice, no source"},
	{Jar, 1.5, 0, true, "made for preserving, not for pressure; common practice, no source"},
	{Growler, 1.5, 0, true, "made for serving, not for pressure; common practice, no source"},
	{SquareGlass, 1.5, 0, true, "flat sides bend under pressure and break first; common practice, no source"},
	{DecorativeGlass, 1.5, 0, true, "coloured or shaped for looks, strength unknown; common practice, no source"},
	{ThinScrewTop, 1.5, 0, true, "thin glass with a screw thread; common practice, no source"},
}

// ContainerOf a kind; false when the kind isn't known.
func ContainerOf(k Kind) (Container, bool) {
	for _, c := range containers {
		if c.Kind == k {
			return c, true
		}
	}
	return Container{}, false
}

// Kinds are all that a lot's document may name.
func Kinds() []Kind {
	var all []Kind
	for _, c := range containers {
		all = append(all, c.Kind)
	}
	return all
}

// Refused is true for bottles that aren't made to hold pressure, unless their
// maker's rating says otherwise.
func (b Bottles) Refused() bool {
	c, _ := ContainerOf(b.Kind)
	return c.Refused && b.RatedBar == 0
}

// ceilingAt is the temperature at which a ceiling in volumes becomes a
// pressure.
const ceilingAt Celsius = 30

// Rating of these bottles: the maker's if given, else what the ceiling in
// volumes exerts at 30 °C, else the kind's cautious default.
func (b Bottles) Rating(station Bar) BarGauge {
	if b.RatedBar > 0 {
		return b.RatedBar
	}
	ceiling := b.Ceiling()
	if ceiling == 0 {
		c, _ := ContainerOf(b.Kind)
		return c.Rated
	}
	return Bar(float64(ceiling.GramsPerLitre()) / Solubility(ceilingAt, BeerSolubility)).Gauge(station)
}

// Ceiling in volumes of these bottles; 0 when it is a pressure that limits them.
func (b Bottles) Ceiling() Volumes {
	if b.RatedBar > 0 {
		return 0
	}
	if b.CeilingVolumes > 0 {
		return b.CeilingVolumes
	}
	c, ok := ContainerOf(b.Kind)
	if !ok {
		c, _ = ContainerOf(UnknownGlass)
	}
	return c.Ceiling
}

// Limit is the lowest rating among a lot's bottles, and which it is.
func (l Lot) Limit(station Bar) (BarGauge, Bottles) {
	var low BarGauge
	var weak Bottles
	for i, b := range l.Bottles {
		if r := b.Rating(station); i == 0 || r < low {
			low, weak = r, b
		}
	}
	return low, weak
}
