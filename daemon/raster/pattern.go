package raster

import (
	"fmt"
	"image"
	"image/color"
)

// pattern is a hatching: lines from lower left to upper right on a ground.
type pattern struct {
	apart  float64 // pixels between lines
	ground color.NRGBA
	line   color.NRGBA
}

// weave what stands in a pattern into it.
func (c *canvas) weave(of, e *element) error {
	name := of.attributes["id"]
	p := c.patterns[name]
	if p == nil {
		p = &pattern{apart: of.n("width")}
		c.patterns[name] = p
	}
	var err error
	switch e.name {
	case "pattern":
		if of.attributes["patternTransform"] != "rotate(45)" || !(p.apart >= 2) {
			err = fmt.Errorf("only lines at 45 degrees, 2 pixels apart or more, are drawn")
		}
	case "rect":
		p.ground, err = colour(e.fill, e.opacity)
	case "line":
		p.line, err = colour(e.stroke, 0.5) // the other half of it lies outside of its tile
	default:
		err = fmt.Errorf("only a ground and a line are drawn in a pattern")
	}
	return err
}

func (c *canvas) hatch(shapes [][]point, name string) error {
	p := c.patterns[name]
	if p == nil {
		return fmt.Errorf("there is no pattern %q", name)
	}
	c.mask(shapes, p)
	return nil
}

// ColorModel, Bounds and At make it an image without end.
func (p *pattern) ColorModel() color.Model { return color.NRGBAModel }

func (p *pattern) Bounds() image.Rectangle { return image.Rect(-1e9, -1e9, 1e9, 1e9) }

func (p *pattern) At(x, y int) color.Color {
	const root2 = 1.4142135623730951
	span := int(p.apart*root2 + 0.5) // along a row
	if ((x+y)%span+span)%span < 1 {
		return p.line
	}
	return p.ground
}
