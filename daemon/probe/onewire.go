package probe

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// thermometers on the 1-Wire bus: family 28, the usual digital probe.
func thermometers(root string) []Sensor {
	var out []Sensor
	for _, dir := range list(root, "bus/w1/devices/28-*") {
		out = append(out, Sensor{Name: filepath.Base(dir), Unit: DegC, read: func() (float64, error) { return thermometer(dir) }})
	}
	return out
}

// thermometer reads once more what may have been a bad moment on the wire.
func thermometer(dir string) (float64, error) {
	path := filepath.Join(dir, "w1_slave")
	v, err := scratchpad(path)
	if err != nil {
		v, err = scratchpad(path)
	}
	return v, err
}

// What a probe says that hasn't measured (its data sheet, from memory), and the
// range in which it measures.
const (
	powerOn         = 85000 // thousandths of a degree
	coldest, hotest = -55, 125
)

var (
	errSilent  = errors.New("nothing answers on the wire: is the probe plugged in, and the resistor between data and supply there?")
	errWire    = errors.New("the checksum is wrong: a long or loose wire, or the resistor between data and supply is missing")
	errShort   = errors.New("every bit is nought: data and ground touch")
	errPowerOn = errors.New("85 °C is what the probe says before it has measured: its supply is weak or its wire long")
)

// scratchpad of a probe, as the kernel shows it: nine bytes and whether their
// checksum is right, then the bytes again with the temperature in thousandths.
//
//	4b 01 4b 46 7f ff 05 10 e1 : crc=e1 YES
//	4b 01 4b 46 7f ff 05 10 e1 t=20687
func scratchpad(path string) (float64, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return 0, fmt.Errorf("%w (%w)", errSilent, err)
	}
	first, second, _ := strings.Cut(strings.TrimSpace(string(b)), "\n")
	_, text, ok := strings.Cut(second, "t=")
	switch {
	case len(b) == 0:
		return 0, errSilent
	case strings.HasPrefix(first, "ff ff ff ff ff ff ff ff ff"):
		return 0, errSilent
	case strings.HasPrefix(first, "00 00 00 00 00 00 00 00 00"): // whose checksum is right
		return 0, errShort
	case !strings.HasSuffix(strings.TrimSpace(first), "YES"):
		return 0, errWire
	case !ok:
		return 0, fmt.Errorf("the kernel says no temperature: %q", b)
	}
	return celsius(strings.TrimSpace(text))
}

func celsius(thousandths string) (float64, error) {
	n, err := strconv.Atoi(thousandths)
	switch {
	case err != nil:
		return 0, fmt.Errorf("the kernel's temperature is no number: %q", thousandths)
	case n == powerOn:
		return 0, errPowerOn
	case n < coldest*1000 || n > hotest*1000:
		return 0, fmt.Errorf("%v °C is outside what such a probe measures", float64(n)/1000)
	}
	return float64(n) / 1000, nil
}
