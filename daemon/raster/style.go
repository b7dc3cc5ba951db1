package raster

import (
	"encoding/xml"
	"errors"
	"fmt"
	"image/color"
	"math"
	"strconv"
	"strings"
)

// attributes of an element that are its own, by name.
type attributes map[string]string

// n is an attribute as a number; 0 when it is absent.
func (a attributes) n(name string) float64 {
	v, _ := strconv.ParseFloat(a[name], 64) // was looked at when it was taken
	return v
}

// style is what elements inherit.
type style struct {
	fill, stroke string // "#rrggbb", "none" or "url(#name)"
	opacity      float64
	width        float64 // of strokes, in pixels whatever the plane
	dash         []float64
	size         float64 // of letters
	bold         bool
	anchor       string // start, middle, end
}

// plain is what the standard has where nothing is said.
var plain = style{fill: "#000000", stroke: "none", opacity: 1, width: 1, size: 16, anchor: "start"}

// unseen are attributes that don't change what is drawn here: words, and what
// is always so.
const unseen = " xmlns id role aria-label font-family preserveAspectRatio vector-effect paint-order patternUnits patternTransform "

// take in attributes: style for all within, the rest for the element itself.
func (e *element) take(list []xml.Attr) (attributes, error) {
	own := attributes{}
	for _, a := range list {
		name, value := a.Name.Local, strings.TrimSpace(a.Value)
		var err error
		switch name {
		case "fill":
			e.fill = value
		case "stroke":
			e.stroke = value
		case "fill-opacity":
			e.opacity, err = number(value)
		case "stroke-width":
			e.width, err = number(value)
		case "font-size":
			e.size, err = number(value)
		case "stroke-dasharray":
			e.dash, err = lengths(value)
		case "font-weight":
			e.bold = value == "bold" || value >= "600"
		case "text-anchor":
			e.anchor = value
		case "d", "viewBox":
			own[name] = value
		case "x", "y", "x1", "x2", "y1", "y2", "width", "height":
			own[name] = value
			_, err = number(value)
		default:
			if !strings.Contains(unseen, " "+name+" ") {
				err = errors.New("this attribute is not known")
			}
			own[name] = value
		}
		if err != nil {
			return nil, fmt.Errorf("%s %q: %w", name, value, err)
		}
	}
	return own, nil
}

// number that can be drawn with.
func number(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(math.Abs(v) < 1e6) {
		return 0, errors.New("a number below a million would be right")
	}
	return v, nil
}

// lengths that stand apart.
func lengths(text string) ([]float64, error) {
	var all []float64
	for _, f := range strings.Fields(text) {
		v, err := number(f)
		if err != nil || v < 1 {
			return nil, errors.New("lengths of 1 or more would be right")
		}
		all = append(all, v)
	}
	return all, nil
}

// colour of a paint that is one.
func colour(text string, opacity float64) (color.NRGBA, error) {
	v, err := strconv.ParseUint(strings.TrimPrefix(text, "#"), 16, 24)
	if err != nil || len(text) != 7 {
		return color.NRGBA{}, fmt.Errorf("paint %q: six digits, such as #8a4b0f, would be right", text)
	}
	return color.NRGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), uint8(255*opacity + 0.5)}, nil
}
