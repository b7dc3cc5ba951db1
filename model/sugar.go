package model

// Sugar is a kind of priming.
type Sugar string

const (
	Dextrose          Sugar = "dextrose" // the monohydrate
	DextroseAnhydrous Sugar = "dextrose-anhydrous"
	Sucrose           Sugar = "sucrose"
	Fructose          Sugar = "fructose"
	Honey             Sugar = "honey"
	DryMaltExtract    Sugar = "dry-malt-extract"
	LiquidMaltExtract Sugar = "liquid-malt-extract"
	BrownSugar        Sugar = "brown-sugar"
	MapleSyrup        Sugar = "maple-syrup"
	Drops             Sugar = "drops"
	Wort              Sugar = "wort"
	FermentingBeer    Sugar = "fermenting-beer"
)

// PrimingSugar is what a kind gives when all of it is fermented.
type PrimingSugar struct {
	Sugar Sugar
	// CO2 in g per g as weighed, by stoichiometry.
	CO2 float64
	// Spread is one standard deviation of CO2, relative: purity, moisture,
	// fermentability.
	Spread float64
	// Malt is the share of the gas that comes from malt sugars, which yeast
	// takes slower, or leaves, under pressure.
	Malt float64
	Why  string
}

// Yields by stoichiometry, C6H12O6 → 2 C2H5OH + 2 CO2 (IUPAC atomic weights,
// from memory), times what the material holds.
var sugars = [...]PrimingSugar{
	{Dextrose, 0.4442, 0.01, 0, "glucose with one water of crystallisation"},
	{DextroseAnhydrous, 0.4886, 0.01, 0, "glucose"},
	{Sucrose, 0.5143, 0.005, 0, "white sugar"},
	{Fructose, 0.4886, 0.01, 0, "fructose"},
	{Honey, 0.37, 0.05, 0.07, "about 78 % sugars, 17 % water (White 1962, from memory)"},
	{DryMaltExtract, 0.28, 0.10, 0.85, "moisture 3–5 %, 55–65 % fermentable; common practice, no source"},
	{LiquidMaltExtract, 0.225, 0.12, 0.85, "18–22 % water; common practice, no source"},
	{BrownSugar, 0.495, 0.02, 0, "95–97 % sucrose; common practice, no source"},
	{MapleSyrup, 0.335, 0.04, 0, "about 66 % sugars; common practice, no source"},
	{Drops, 0.5143, 0.02, 0, "pressed sucrose"},
}

// SugarOf a kind; false when it isn't known, or has no yield by mass (wort,
// fermenting beer).
func SugarOf(s Sugar) (PrimingSugar, bool) {
	for _, p := range sugars {
		if p.Sugar == s {
			return p, true
		}
	}
	return PrimingSugar{}, false
}
