package daemon

import (
	"bytes"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// converter is a kernel's tree with one analogue input.
type converter struct{ root, raw string }

func newConverter(t *testing.T, volts float64) converter {
	t.Helper()
	root := t.TempDir()
	dir := filepath.Join(root, "bus/iio/devices/iio:device0")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	c := converter{root, filepath.Join(dir, "in_voltage0_raw")}
	for name, text := range map[string]string{"name": "ads1115", "in_voltage0_scale": "1"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	c.set(t, volts)
	return c
}

func (c converter) set(t *testing.T, volts float64) {
	t.Helper()
	if err := os.WriteFile(c.raw, strconv.AppendFloat(nil, volts*1000, 'f', 3, 64), 0o644); err != nil {
		t.Fatal(err)
	}
}

// person presses Enter, and before each answer changes what is on the gauge.
type person struct {
	answers []string
	before  []func()
}

func (p *person) Read(b []byte) (int, error) {
	if len(p.answers) == 0 {
		return 0, io.EOF
	}
	p.before[0]()
	n := copy(b, p.answers[0]+"\n")
	p.answers, p.before = p.answers[1:], p.before[1:]
	return n, nil
}

// A transmitter of 0.5 to 4.5 V for 0 to 10 bar has 2.5 bar to the volt, and
// −1.25 bar at none: arithmetic.
func TestGuideTwoPoints(t *testing.T) {
	for name, c := range map[string]struct {
		zero, known float64
		answer      string
		fault       string
	}{
		"straight":       {0.5, 2.1, "4.0", ""},
		"decimal comma":  {0.5, 2.1, "4,0", ""},
		"swapped wires":  {2.1, 0.5, "4.0", "falls when the pressure rises"},
		"nothing on it":  {0.5, 0.5, "4.0", "0.0000 V apart"},
		"no number":      {0.5, 2.1, "much", `"much": a number above 0`},
		"below nothing":  {0.5, 2.1, "-4", "a number above 0"},
		"not a number":   {0.5, 2.1, "nan", "a number above 0"},
		"without bounds": {0.5, 2.1, "inf", "a number above 0"},
	} {
		t.Run(name, func(t *testing.T) {
			adc := newConverter(t, 9)
			var out bytes.Buffer
			err := Guide{Sysfs: adc.root, Name: "ads1115/voltage0", Unit: "bar", Times: 3, Out: &out,
				In: &person{[]string{"", c.answer}, []func(){func() { adc.set(t, c.zero) }, func() { adc.set(t, c.known) }}}}.Run(t.Context())
			if c.fault != "" {
				if err == nil || !strings.Contains(err.Error(), c.fault) || strings.Contains(out.String(), "calibration:") {
					t.Errorf("%v, want %q\n%s", err, c.fault, &out)
				}
				return
			}
			m := regexp.MustCompile(`calibration: \{scale: (\S+), offset: (\S+)\}`).FindStringSubmatch(out.String())
			if err != nil || m == nil {
				t.Fatalf("%v\n%s", err, &out)
			}
			scale, _ := strconv.ParseFloat(m[1], 64)
			offset, _ := strconv.ParseFloat(m[2], 64)
			if math.Abs(scale-2.5) > 1e-4 || math.Abs(offset+1.25) > 1e-4 {
				t.Errorf("scale %v, offset %v; want 2.5 and -1.25", scale, offset)
			}
		})
	}
}

func TestSlopeOfNoise(t *testing.T) {
	if _, err := slope(point{0.5, 0.01, 0}, point{0.9, 0.001, 1}); err == nil {
		t.Error("points 0.4 V apart that move by 0.01 V make a scale")
	}
	if v, err := slope(point{0.5, 0.001, 0}, point{0.9, 0.001, 1}); err != nil || math.Abs(v-2.5) > 1e-9 {
		t.Errorf("%v, %v; want 2.5", v, err)
	}
}
