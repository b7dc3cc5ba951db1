package probe

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"regexp"
	"strings"
)

// A kind of channel that is of use here: how the kernel names it, and what its
// processed numbers are worth (the kernel's ABI, testing/sysfs-bus-iio: thousandths of
// a degree, kilopascal, millivolt).
type kind struct {
	name string
	unit Unit
	per  float64
}

func kinds() []kind {
	return []kind{{"temp", DegC, 1e-3}, {"pressure", KPa, 1}, {"voltage", Volt, 1e-3}}
}

// channel of a device: in_<what>_raw or in_<what>_input. A difference between
// two inputs has both of them in its name.
var channel = regexp.MustCompile(`^in_([a-z]+[0-9]*(?:-[a-z]+[0-9]+)?)_(raw|input)$`)

func channels(root string) []Sensor {
	var out []Sensor
	for _, dir := range list(root, "bus/iio/devices/iio:device*") {
		device := deviceName(root, dir)
		seen := map[string]bool{}
		for _, file := range list(dir, "in_*") {
			m := channel.FindStringSubmatch(filepath.Base(file))
			if m == nil || seen[m[1]] {
				continue
			}
			if k, ok := kindOf(m[1]); ok {
				seen[m[1]] = true
				out = append(out, Sensor{Name: device + "/" + m[1], Unit: k.unit, read: func() (float64, error) { return k.read(dir, m[1]) }})
			}
		}
	}
	return out
}

func kindOf(what string) (kind, bool) {
	for _, k := range kinds() {
		if rest, ok := strings.CutPrefix(what, k.name); ok && !strings.ContainsAny(rest[:min(1, len(rest))], "abcdefghijklmnopqrstuvwxyz") {
			return k, true
		}
	}
	return kind{}, false
}

// deviceName is the chip's, with the device's number where there are two of
// them: numbers alone change with the order in which drivers load.
func deviceName(root, dir string) string {
	name, _ := word(filepath.Join(dir, "name"))
	name = strings.Map(topicRune, name)
	twins := 0
	for _, other := range list(root, "bus/iio/devices/iio:device*") {
		if n, _ := word(filepath.Join(other, "name")); strings.Map(topicRune, n) == name {
			twins++
		}
	}
	number := strings.TrimPrefix(filepath.Base(dir), "iio:device")
	switch {
	case name == "":
		return "device" + number
	case twins > 1:
		return name + "-" + number
	}
	return name
}

// topicRune keeps what means something in an MQTT topic out of one.
func topicRune(r rune) rune {
	if strings.ContainsRune("/+#$ \t\x00", r) {
		return '-'
	}
	return r
}

// read a channel: processed where the driver does that, else (raw + offset) ·
// scale, each of which may stand for all channels of its kind.
func (k kind) read(dir, what string) (float64, error) {
	if v, err := number(filepath.Join(dir, "in_"+what+"_input")); !errors.Is(err, fs.ErrNotExist) {
		return v * k.per, reading(what, err)
	}
	raw, err := number(filepath.Join(dir, "in_"+what+"_raw"))
	if err != nil {
		return 0, reading(what, err)
	}
	scale, err := k.property(dir, what, "scale", 1)
	if err != nil {
		return 0, reading(what, err)
	}
	offset, err := k.property(dir, what, "offset", 0)
	return (raw + offset) * scale * k.per, reading(what, err)
}

func reading(what string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("channel %s can't be read: is the chip still on its bus? %w", what, err)
}

// property of a channel, or of all of its kind.
func (k kind) property(dir, what, name string, otherwise float64) (float64, error) {
	for _, of := range []string{what, k.name} {
		v, err := number(filepath.Join(dir, "in_"+of+"_"+name))
		if !errors.Is(err, fs.ErrNotExist) {
			return v, err
		}
	}
	return otherwise, nil
}
