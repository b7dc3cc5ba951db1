package raster

import (
	"image"
	"math"
	"strings"
)

// paint an element's courses: filled first, then stroked.
func (c *canvas) paint(e *element, courses []course) error {
	if len(courses) == 0 {
		return nil
	}
	for i, x := range courses {
		moved := make([]point, len(x.points))
		for k, p := range x.points {
			moved[k] = e.at(p)
		}
		courses[i].points = moved
	}
	if e.fill != "none" && len(courses[0].points) > 2 {
		if err := c.fill(e, courses); err != nil {
			return err
		}
	}
	if e.stroke == "none" {
		return nil
	}
	var strokes [][]point
	for _, x := range courses {
		if x.closed {
			x.points = append(x.points, x.points[0])
		}
		for _, d := range dashed(x, e.dash) {
			strokes = append(strokes, stroked(d.points, e.width/2)...)
		}
	}
	return c.cover(strokes, e.stroke, 1)
}

func (c *canvas) fill(e *element, courses []course) error {
	var shapes [][]point
	for _, x := range courses {
		shapes = append(shapes, x.points)
	}
	if name, ok := strings.CutPrefix(e.style.fill, "url(#"); ok {
		return c.hatch(shapes, strings.TrimSuffix(name, ")"))
	}
	return c.cover(shapes, e.style.fill, e.opacity)
}

// cover shapes with a colour.
func (c *canvas) cover(shapes [][]point, paint string, opacity float64) error {
	colour, err := colour(paint, opacity)
	if err != nil {
		return err
	}
	c.mask(shapes, image.NewUniform(colour))
	return nil
}

// band is as many rows as are rasterized at a time, to need little memory.
const band = 256

// mask lets an image through where shapes are. Only as much is rasterized as
// they take.
func (c *canvas) mask(shapes [][]point, through image.Image) {
	box := bounds(shapes).Intersect(c.image.Rect)
	for top := box.Min.Y; top < box.Max.Y; top += band {
		c.maskIn(image.Rect(box.Min.X, top, box.Max.X, min(top+band, box.Max.Y)), shapes, through)
	}
}

func (c *canvas) maskIn(box image.Rectangle, shapes [][]point, through image.Image) {
	if box.Empty() {
		return
	}
	c.vector.Reset(box.Dx(), box.Dy())
	for _, s := range shapes {
		for i, p := range s {
			x, y := float32(p.x-float64(box.Min.X)), float32(p.y-float64(box.Min.Y))
			if i == 0 {
				c.vector.MoveTo(x, y)
			} else {
				c.vector.LineTo(x, y)
			}
		}
		c.vector.ClosePath()
	}
	c.vector.Draw(c.image, box, through, box.Min)
}

func bounds(shapes [][]point) image.Rectangle {
	low, high := point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	for _, s := range shapes {
		for _, p := range s {
			low = point{math.Min(low.x, p.x), math.Min(low.y, p.y)}
			high = point{math.Max(high.x, p.x), math.Max(high.y, p.y)}
		}
	}
	if low.x > high.x {
		return image.Rectangle{}
	}
	return image.Rect(int(math.Floor(low.x)), int(math.Floor(low.y)), int(math.Ceil(high.x)), int(math.Ceil(high.y)))
}

// stroked is a shape for each piece of a line, all turned the same way, so that
// they add up where they meet.
func stroked(points []point, half float64) [][]point {
	var shapes [][]point
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		long := math.Hypot(b.x-a.x, b.y-a.y)
		if long == 0 {
			a, b, long = point{a.x - half, a.y}, point{b.x + half, b.y}, 2*half // a lone value shows
		}
		nx, ny := (a.y-b.y)/long*half, (b.x-a.x)/long*half
		shapes = append(shapes, []point{{a.x + nx, a.y + ny}, {b.x + nx, b.y + ny}, {b.x - nx, b.y - ny}, {a.x - nx, a.y - ny}})
		if i > 1 && half > 0.75 {
			shapes = append(shapes, elbow(a, half))
		}
	}
	return shapes
}

// elbow rounds where two pieces meet.
func elbow(at point, half float64) []point {
	const corners = 8
	shape := make([]point, corners)
	for i := range shape {
		sin, cos := math.Sincos(-2 * math.Pi * float64(i) / corners)
		shape[i] = point{at.x + half*cos, at.y + half*sin}
	}
	return shape
}
