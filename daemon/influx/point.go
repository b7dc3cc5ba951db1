package influx

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/write"
)

// Point is what is known of a series at an instant.
type Point struct {
	Measurement string
	Tags        map[string]string // an empty one is left out
	Fields      map[string]any    // float64, bool or string; a NaN or an infinity is left out
	At          time.Time         // from 2000 to 2261; sent to the nanosecond
}

// String names the point, without its values.
func (p Point) String() string {
	parts := []string{p.Measurement}
	for _, k := range slices.Sorted(maps.Keys(p.Tags)) {
		parts = append(parts, k+"="+p.Tags[k])
	}
	return strings.Join(parts, ",") + " at " + p.At.UTC().Format(time.RFC3339Nano)
}

// line is the point as the client takes it, or why it can't be sent.
func (p Point) line() (*write.Point, error) {
	if p.Measurement == "" {
		return nil, errors.New("it has no measurement")
	}
	// A time far off is a clock that isn't set, and a zero time would be
	// replaced by the server's.
	if y := p.At.Year(); y < 2000 || y > 2261 {
		return nil, fmt.Errorf("its time %v is out of range", p.At)
	}
	tags := maps.Clone(p.Tags)
	maps.DeleteFunc(tags, func(_, v string) bool { return v == "" })
	for k, v := range tags {
		if !writable(k) || !writable(v) {
			return nil, fmt.Errorf("tag %s: the line protocol has no way to write %q", k, v)
		}
	}
	fields, err := p.fields()
	if err != nil {
		return nil, err
	}
	return write.NewPoint(p.Measurement, tags, fields, p.At), nil
}

// writable: the line protocol can't end a tag with a backslash, nor break a
// line in it.
func writable(s string) bool {
	return !strings.HasSuffix(s, `\`) && !strings.ContainsAny(s, "\n\r\t\f")
}

func (p Point) fields() (map[string]any, error) {
	fields := map[string]any{}
	for k, v := range p.Fields {
		switch v := v.(type) {
		case float64:
			if !math.IsNaN(v) && !math.IsInf(v, 0) {
				fields[k] = v
			}
		case bool, string:
			fields[k] = v
		default: // an integer would fix the field's type, and refuse what comes later
			return nil, fmt.Errorf("field %s is a %T", k, v)
		}
	}
	if len(fields) == 0 {
		return nil, errors.New("it has no value")
	}
	return fields, nil
}

// describe names a point that the client has.
func describe(line *write.Point) string {
	p := Point{Measurement: line.Name(), Tags: map[string]string{}, At: line.Time()}
	for _, tag := range line.TagList() {
		p.Tags[tag.Key] = tag.Value
	}
	return p.String()
}
