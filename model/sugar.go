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
	Treacle           Sugar = "treacle"
	Drops             Sugar = "drops"
	Wort              Sugar = "wort"
	FermentingBeer    Sugar = "fermenting-beer"
)

// PrimingSugar is what a kind gives when all of it is fermented.
type PrimingSugar struct {
	Sugar Sugar
	// CO2 in g per g as weighed: Pure times what of it is fermentable sugar.
	CO2 float64
	// Spread is one standard deviation of CO2, relative: purity, moisture,
	// fermentability.
	Spread float64
	// Malt is the share of the gas that comes from malt sugars, which yeast
	// takes slower, or leaves, under pressure.
	Malt float64
	// Pure is the CO2 in g per g of the sugar it consists of.
	Pure float64
	Why  string
}

// CO2 in g per g of pure sugar, C6H12O6 → 2 C2H5OH + 2 CO2 (IUPAC atomic
// weights, from memory). In practice 0 to 8 % less comes; the full yield is the
// cautious side.
const (
	hexoseCO2      = 0.4886 // glucose, fructose
	monohydrateCO2 = 0.4442 // glucose with one water
	disaccharide   = 0.5143 // sucrose, maltose
)

// Honey's composition is White's of 1962, from memory.
var sugars = [...]PrimingSugar{
	{Dextrose, monohydrateCO2, 0.01, 0, hexoseCO2, "glucose with one water of crystallisation"},
	{DextroseAnhydrous, hexoseCO2, 0.01, 0, hexoseCO2, "glucose"},
	{Sucrose, disaccharide, 0.005, 0, disaccharide, "white sugar, at least 99.7 % (Directive 2001/111/EC)"},
	{Fructose, hexoseCO2, 0.01, 0, hexoseCO2, "fructose"},
	{Honey, 0.38, 0.05, 0.07, hexoseCO2, "about 78 % sugars, 17 % water"},
	{DryMaltExtract, 0.28, 0.10, 0.85, disaccharide, "moisture 3–5 %, 55–65 % fermentable; common practice, no source"},
	{LiquidMaltExtract, 0.225, 0.12, 0.85, disaccharide, "18–22 % water; common practice, no source"},
	{BrownSugar, 0.495, 0.02, 0, disaccharide, "95–97 % sucrose; common practice, no source"},
	{MapleSyrup, 0.335, 0.04, 0, disaccharide, "about 66 % sugars; common practice, no source"},
	{Treacle, 0.30, 0.12, 0, disaccharide, "50–65 % sugars; common practice, no source"},
	{Drops, disaccharide, 0.02, 0, disaccharide, "pressed sucrose"},
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

// Sugars are all kinds that a lot's document may name.
func Sugars() []Sugar {
	var all []Sugar
	for _, p := range sugars {
		all = append(all, p.Sugar)
	}
	return append(all, Wort, FermentingBeer)
}
