package model

import "time"

// Yeast is the kind that conditions the lot.
type Yeast string

const (
	Ale       Yeast = "ale"
	Lager     Yeast = "lager"
	Wheat     Yeast = "wheat"
	Farmhouse Yeast = "farmhouse"
	Wine      Yeast = "wine"
	Mixed     Yeast = "mixed"
)

var yeasts = [...]Yeast{Ale, Lager, Wheat, Farmhouse, Wine, Mixed}

// YeastState is what the yeast went through before packaging.
type YeastState string

const (
	Fresh   YeastState = "fresh"
	Settled YeastState = "settled" // cold-crashed, fined or some weeks old
	Aged    YeastState = "aged"    // over three months, none added
	Added   YeastState = "added"   // fresh yeast at packaging
)

var yeastStates = [...]YeastState{Fresh, Settled, Aged, Added}

// Capped is what is in the headspace at capping.
type Capped string

const (
	OverAir Capped = "over-air"
	OnFoam  Capped = "on-foam"
	Purged  Capped = "purged"
)

var cappings = [...]Capped{OverAir, OnFoam, Purged}

// Lot is the document of one filling: what its brewer believes. Optional
// fields are zero when absent, which means not known.
type Lot struct {
	ID         string     `yaml:"id" json:"id"`                                       // lower-case letters, digits, hyphens
	Name       string     `yaml:"name" json:"name"`                                   // optional
	Space      string     `yaml:"space" json:"space"`                                 // where it stands, a name of the configuration
	PackagedAt time.Time  `yaml:"packaged_at" json:"packaged_at"`                     // when it was capped
	Yeast      Yeast      `yaml:"yeast" json:"yeast"`                                 // that conditions it
	YeastState YeastState `yaml:"yeast_state,omitempty" json:"yeast_state,omitempty"` // optional
	Capped     Capped     `yaml:"capped,omitempty" json:"capped,omitempty"`           // optional: half of the headspace is taken as air
	Beer       Beer       `yaml:"beer" json:"beer"`
	// TargetVolumes are CO2 in beer and headspace when all is done, 0.5 to 8.
	TargetVolumes Volumes `yaml:"target_volumes" json:"target_volumes"`
	// Priming that went in. None: what meets the target is taken (Primed).
	Priming     []Priming    `yaml:"priming,omitempty" json:"priming,omitempty"`
	Bottles     []Bottles    `yaml:"bottles" json:"bottles"`                               // at least one kind
	GaugeBottle *GaugeBottle `yaml:"gauge_bottle,omitempty" json:"gauge_bottle,omitempty"` // optional
	WorstCaseC  Celsius      `yaml:"worst_case_c" json:"worst_case_c"`                     // the warmest that the bottles may meet, 1 to 60 °C
	// StopAtVolumes makes it a live drink, one that is stopped before it is
	// finished; optional, and the target may then be absent.
	StopAtVolumes Volumes     `yaml:"stop_at_volumes,omitempty" json:"stop_at_volumes,omitempty"`
	Fermentation  *Fermenting `yaml:"fermentation,omitempty" json:"fermentation,omitempty"` // optional
}

// Fermenting is how the fermentation ended, as far as its brewer noted it.
type Fermenting struct {
	StableDays  float64 `yaml:"stable_days,omitempty" json:"stable_days,omitempty"`         // for which the gravity hasn't moved
	DryHopGPerL float64 `yaml:"dry_hop_g_per_l,omitempty" json:"dry_hop_g_per_l,omitempty"` // of hops added after fermentation
}

// Beer as measured at packaging. Gravities are specific and apparent, 20/20
// (1.012), 0.98 to 1.2.
type Beer struct {
	VolumeL         Litres  `yaml:"volume_l" json:"volume_l"`                               // in the bucket, without wort that primes it
	OriginalGravity float64 `yaml:"original_gravity" json:"original_gravity"`               // before fermentation
	FinalGravity    float64 `yaml:"final_gravity" json:"final_gravity"`                     // at packaging, before priming
	LimitGravity    float64 `yaml:"limit_gravity,omitempty" json:"limit_gravity,omitempty"` // from a forced-fermentation test; optional
	WarmestC        Celsius `yaml:"warmest_c" json:"warmest_c"`                             // since fermentation ended: sets the residual CO2
}

// Priming is what was added: a mass for the lot, or with per_bottle that many
// pieces or spoons for each bottle, of mass_g each. Wort and fermenting beer are
// given as a volume with their gravities.
type Priming struct {
	Sugar       Sugar   `yaml:"sugar" json:"sugar"`
	MassG       Grams   `yaml:"mass_g,omitempty" json:"mass_g,omitempty"`           // for the lot, or of one piece
	PerBottle   float64 `yaml:"per_bottle,omitempty" json:"per_bottle,omitempty"`   // pieces
	Fermentable float64 `yaml:"fermentable,omitempty" json:"fermentable,omitempty"` // share of the mass, where the kind varies
	VolumeL     Litres  `yaml:"volume_l,omitempty" json:"volume_l,omitempty"`       // of wort or fermenting beer
	Gravity     float64 `yaml:"gravity,omitempty" json:"gravity,omitempty"`         // of wort or fermenting beer
	EndGravity  float64 `yaml:"end_gravity,omitempty" json:"end_gravity,omitempty"` // it is heading for
}

// ABV is the alcohol by volume in %, at packaging.
func (l Lot) ABV() float64 { return ABV(l.Beer.OriginalGravity, l.Beer.FinalGravity) }

// Filled is the beer that all bottles hold.
func (l Lot) Filled() Litres {
	var v Litres
	for _, b := range l.Bottles {
		v += b.Bottle().Beer * Litres(b.Count)
	}
	return v
}

// Volume of the beer with the wort or fermenting beer that primes it.
func (l Lot) Volume() Litres {
	v := l.Beer.VolumeL
	for _, p := range l.Priming {
		v += p.VolumeL
	}
	return v
}

// Unfinished is the CO2 that the beer itself will still make on its way down to
// the limit gravity; 0 when no limit is known. A live drink without a known
// limit is taken to go on until no extract is left.
func (l Lot) Unfinished() Volumes {
	b := l.Beer
	limit := b.LimitGravity
	if limit == 0 && l.StopAtVolumes > 0 {
		limit = Dry(b.OriginalGravity)
	}
	if limit == 0 || limit >= b.FinalGravity {
		return 0
	}
	return Fermented(b.OriginalGravity, b.FinalGravity, limit).Volumes()
}

// Bottles of one kind and size. The headspace comes on top of the volume.
type Bottles struct {
	Kind           Kind     `yaml:"kind" json:"kind"`
	VolumeML       float64  `yaml:"volume_ml" json:"volume_ml"` // of beer in one
	HeadspaceML    float64  `yaml:"headspace_ml" json:"headspace_ml"`
	Count          int      `yaml:"count" json:"count"`
	RatedBar       BarGauge `yaml:"rated_bar,omitempty" json:"rated_bar,omitempty"`             // by its maker; optional
	CeilingVolumes Volumes  `yaml:"ceiling_volumes,omitempty" json:"ceiling_volumes,omitempty"` // the same told in volumes; optional
}

// Bottle is one of them as a vessel.
func (b Bottles) Bottle() Bottle {
	return Bottle{Beer: Litres(b.VolumeML / 1000), Headspace: Litres(b.HeadspaceML / 1000)}
}

// GaugeBottle carries the pressure sensor.
type GaugeBottle struct {
	Sensor      string  `yaml:"sensor" json:"sensor"`
	VolumeML    float64 `yaml:"volume_ml" json:"volume_ml"`
	HeadspaceML float64 `yaml:"headspace_ml" json:"headspace_ml"`
	Stands      Stands  `yaml:"stands,omitempty" json:"stands,omitempty"`
}

// Stands says how a bottle meets the air around it.
type Stands string

const (
	Alone  Stands = "alone"
	InCase Stands = "in-case"
)

var places = [...]Stands{Alone, InCase}

// Bottle is the gauge bottle as a vessel.
func (g GaugeBottle) Bottle() Bottle {
	return Bottle{Beer: Litres(g.VolumeML / 1000), Headspace: Litres(g.HeadspaceML / 1000)}
}
