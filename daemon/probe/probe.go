// Package probe reads the sensors that the kernel of this machine knows: 1-Wire
// thermometers and the channels of industrial I/O (air pressure, temperature,
// analogue inputs), as files below /sys. It knows no broker and no beer.
//
// A sensor that can't be believed gives an error, never a number.
package probe

import (
	"cmp"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Sysfs is where the kernel shows its devices.
const Sysfs = "/sys"

// Unit of a sensor's numbers.
type Unit string

const (
	DegC Unit = "C"   // °C
	KPa  Unit = "kPa" // absolute: these chips measure the air
	Volt Unit = "V"
)

// Sensor that is there.
type Sensor struct {
	Name string // stable over restarts, and fit for a topic: 28-00000a1b2c3d, or ads1115/voltage0
	Unit Unit
	read func() (float64, error)
}

// Read the sensor now. A thermometer takes most of a second.
func (s Sensor) Read() (float64, error) { return s.read() }

// Find all sensors that are there now, by name. The root is Sysfs, or that of
// another tree.
func Find(root string) []Sensor {
	found := append(thermometers(root), channels(root)...)
	slices.SortFunc(found, func(a, b Sensor) int { return cmp.Compare(a.Name, b.Name) })
	return found
}

// number that a file holds.
func number(path string) (float64, error) {
	text, err := word(path)
	if err != nil {
		return 0, err
	}
	v, err := strconv.ParseFloat(text, 64)
	if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
		err = fmt.Errorf("%q is no number", text)
	}
	return v, err
}

func word(path string) (string, error) {
	b, err := os.ReadFile(path)
	return strings.TrimSpace(string(b)), err
}

// list files by a pattern that is sound.
func list(root string, pattern ...string) []string {
	found, _ := filepath.Glob(filepath.Join(append([]string{root}, pattern...)...))
	return found
}
