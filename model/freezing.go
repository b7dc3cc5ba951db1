package model

// Freezing is where beer of an alcohol content in percent by volume begins to
// freeze: 0.42 K below 0 °C for each percent, which gives the usual "about
// −2 °C at 5 %" (common practice, no source). What extract adds is left out:
// less than 0.3 K in finished beer.
func Freezing(abv float64) Celsius { return Celsius(0 - 0.42*abv) }
