package model

import "math"

// StationPressure is the air's mean pressure at an altitude h in metres, −500
// to 5,000 (ISO 2533, troposphere): 101,325 Pa (1 − 0.0065 h/288.15)^5.25588.
// The weather moves it by 0.03 bar either way.
func StationPressure(altitude float64) Bar {
	return Atmosphere * Bar(math.Pow(1-0.0065*altitude/288.15, 5.25588))
}
