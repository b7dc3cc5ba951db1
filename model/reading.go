package model

import "time"

// Quantity is what a sensor measures.
type Quantity string

const (
	Temperature Quantity = "temperature" // values in °C
	Pressure    Quantity = "pressure"    // values in bar gauge
)

// Reading is one value of one sensor, in the units of its quantity.
type Reading struct {
	Sensor   string
	At       time.Time // when it was measured, UTC
	Quantity Quantity
	Value    float64
	Full     bool // at or above the sensor's full scale: the true value may be higher
}
