// Package raster turns the pictures that daemon/web draws as SVG into PNG, for
// mail and telephones that show no SVG. It knows as much of SVG as those
// pictures use, and refuses the rest rather than draw it wrong.
package raster

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io"

	"golang.org/x/image/vector"
)

// most pixels that are drawn: a Pi is small.
const most = 3 << 20

// PNG of an SVG document at its own size, on white.
func PNG(svg []byte) ([]byte, error) {
	c := canvas{patterns: map[string]*pattern{}}
	if err := c.read(xml.NewDecoder(bytes.NewReader(svg))); err != nil {
		return nil, fmt.Errorf("drawing an SVG: %w", err)
	}
	var b bytes.Buffer
	if err := png.Encode(&b, few(c.image)); err != nil {
		return nil, fmt.Errorf("writing a PNG: %w", err)
	}
	return b.Bytes(), nil
}

// canvas is what is drawn on, and how far the document is read.
type canvas struct {
	image    *image.RGBA
	vector   vector.Rasterizer
	fonts    fonts
	patterns map[string]*pattern
	open     []element // those that aren't closed yet, outermost first
	text     *line     // inside of a text
}

// element with all that it has and inherits.
type element struct {
	name string
	attributes
	style
	plane
}

func (c *canvas) read(d *xml.Decoder) error {
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) && c.image != nil {
			return nil
		}
		if err != nil {
			return err
		}
		switch x := token.(type) {
		case xml.StartElement:
			err = c.begin(x)
		case xml.EndElement:
			err = c.end()
		case xml.CharData:
			c.write(string(x))
		}
		if err != nil {
			return err
		}
	}
}

func (c *canvas) begin(x xml.StartElement) error {
	e := element{name: x.Name.Local, style: plain, plane: plane{1, 1, 0, 0}}
	if n := len(c.open); n > 0 {
		e.style, e.plane = c.open[n-1].style, c.open[n-1].plane
	} else if e.name != "svg" || c.image != nil {
		return fmt.Errorf("%s: one svg around all would be right", e.name)
	}
	var err error
	if e.attributes, err = e.take(x.Attr); err == nil {
		c.open = append(c.open, e)
		err = c.draw(&c.open[len(c.open)-1])
	}
	if err != nil {
		return fmt.Errorf("%s: %w", e.name, err)
	}
	return nil
}

func (c *canvas) end() error {
	e := c.open[len(c.open)-1]
	c.open = c.open[:len(c.open)-1]
	if e.name != "text" || c.text == nil {
		return nil
	}
	err := c.set(*c.text)
	c.text = nil
	return err
}

// within says whether an element of this name is open.
func (c *canvas) within(name string) *element {
	for i := range c.open {
		if c.open[i].name == name {
			return &c.open[i]
		}
	}
	return nil
}

func (c *canvas) draw(e *element) error {
	if p := c.within("pattern"); p != nil {
		return c.weave(p, e)
	}
	switch e.name {
	case "svg":
		return c.place(e)
	case "rect":
		x, y, w, h := e.n("x"), e.n("y"), e.n("width"), e.n("height")
		return c.paint(e, []course{{points: []point{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}, closed: true}})
	case "line":
		return c.paint(e, []course{{points: []point{{e.n("x1"), e.n("y1")}, {e.n("x2"), e.n("y2")}}}})
	case "path":
		courses, err := parsePath(e.attributes["d"])
		if err != nil {
			return err
		}
		return c.paint(e, courses)
	case "text":
		at := e.at(point{e.n("x"), e.n("y")})
		c.text = &line{at: at, anchor: e.anchor}
	case "tspan", "title", "defs", "g":
	default:
		return errors.New("this element is not known")
	}
	return nil
}

// place a document, or one within it.
func (c *canvas) place(e *element) error {
	w, h := e.n("width"), e.n("height")
	if c.image == nil {
		if !(w >= 1 && h >= 1 && w*h <= most) {
			return fmt.Errorf("%g by %g pixels; at most %d are drawn", w, h, most)
		}
		c.image = image.NewRGBA(image.Rect(0, 0, int(w), int(h)))
		draw.Draw(c.image, c.image.Rect, image.White, image.Point{}, draw.Src)
	}
	var x, y, wide, high float64
	if _, err := fmt.Sscan(e.attributes["viewBox"], &x, &y, &wide, &high); err != nil || !(wide > 0 && high > 0) {
		return fmt.Errorf("viewBox %q: four numbers would be right", e.attributes["viewBox"])
	}
	sx, sy := w/wide, h/high
	corner := e.at(point{e.n("x"), e.n("y")})
	e.plane = plane{e.sx * sx, e.sy * sy, corner.x - x*e.sx*sx, corner.y - y*e.sy*sy}
	return nil
}
