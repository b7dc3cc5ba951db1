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
)

// Container is what is assumed of a kind whose maker's rating isn't known: a
// ceiling in volumes, or a pressure for those that are limited by pressure.
type Container struct {
	Kind    Kind
	Ceiling Volumes  // 0 = limited by pressure instead
	Rated   BarGauge // 0 = limited by volumes instead
	Why     string   // where the default comes from
}

// Containers are cautious defaults by kind. All of them are common practice,
// no source, unless said otherwise; the bottle maker's rating always wins.
var containers = [...]Container{
	{StandardGlass, 3.0, 0, "ordinary one-way beer glass; common practice, no source"},
	{HeavyGlass, 4.0, 0, "heavy returnable glass; common practice, no source"},
	{SparklingGlass, 6.0, 0, "sparkling-wine bottle with a punt and the right closure; common practice, no source"},
	{SwingTop, 3.0, 0, "as the glass, which is unknown; common practice, no source"},
	{UnknownGlass, 3.0, 0, "unknown, light or reused glass; common practice, no source"},
	{PET, 4.0, 0, "undamaged bottle for carbonated drinks, kept cool; common practice, no source"},
	{Can, 0, 6.2, "buckle pressure of a drinks can; common practice, no source"},
	{Keg, 0, 4.1, "cautious working pressure of a small keg; common practice, no source"},
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

// ceilingAt is the temperature at which a ceiling in volumes becomes a
// pressure.
const ceilingAt Celsius = 30

// Rating of these bottles: the maker's if given, else what the ceiling in
// volumes exerts at 30 °C, else the kind's cautious default.
func (b Bottles) Rating(station Bar) BarGauge {
	if b.RatedBar > 0 {
		return b.RatedBar
	}
	ceiling := b.CeilingVolumes
	if ceiling == 0 {
		c, ok := ContainerOf(b.Kind)
		if !ok {
			c, _ = ContainerOf(UnknownGlass)
		}
		if c.Rated > 0 {
			return c.Rated
		}
		ceiling = c.Ceiling
	}
	p := GramsPerLitre(ceiling.GramsPerLitre())
	return Bar(float64(p) / Solubility(ceilingAt, BeerSolubility)).Gauge(station)
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
