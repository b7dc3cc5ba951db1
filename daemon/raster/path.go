package raster

import (
	"fmt"
	"math"
	"regexp"
)

type point struct{ x, y float64 }

// course is a line through points.
type course struct {
	points []point
	closed bool
}

// plane is where an element's coordinates lie in the picture.
type plane struct{ sx, sy, x, y float64 }

func (p plane) at(q point) point { return point{p.x + q.x*p.sx, p.y + q.y*p.sy} }

var pathWord = regexp.MustCompile(`[A-Za-z]|[-+]?[0-9]*\.?[0-9]+`)

// parsePath reads the steps that our pictures take: M, L, h and Z.
func parsePath(d string) ([]course, error) {
	var all []course
	words := pathWord.FindAllString(d, -1)
	for len(words) > 0 {
		step, n := words[0], map[string]int{"M": 2, "L": 2, "h": 1}[words[0]]
		if len(words) <= n || step != "M" && len(all) == 0 {
			return nil, fmt.Errorf("path: %q can't stand there", step)
		}
		var v [2]float64
		for i := range n {
			var err error
			if v[i], err = number(words[1+i]); err != nil {
				return nil, fmt.Errorf("path: %q: %w", words[1+i], err)
			}
		}
		words = words[1+n:]
		if step == "M" {
			all = append(all, course{})
		}
		last := &all[len(all)-1]
		switch step {
		case "M", "L":
			last.points = append(last.points, point{v[0], v[1]})
		case "h":
			from := last.points[len(last.points)-1]
			last.points = append(last.points, point{from.x + v[0], from.y})
		case "Z":
			last.closed = true
		default:
			return nil, fmt.Errorf("path: step %q is not known", step)
		}
	}
	return all, nil
}

// dashed cuts a course into its dashes.
func dashed(c course, dash []float64) []course {
	if len(dash) == 0 {
		return []course{c}
	}
	var all []course
	i, left := 0, dash[0]
	now := course{points: c.points[:1:1]}
	for k := 1; k < len(c.points); k++ {
		a, b := c.points[k-1], c.points[k]
		for long := math.Hypot(b.x-a.x, b.y-a.y); long > left; long = math.Hypot(b.x-a.x, b.y-a.y) {
			a = point{a.x + (b.x-a.x)*left/long, a.y + (b.y-a.y)*left/long}
			if i%2 == 0 {
				all = append(all, course{points: append(now.points, a)})
			}
			now = course{points: []point{a}}
			i++
			left = dash[i%len(dash)]
		}
		left -= math.Hypot(b.x-a.x, b.y-a.y)
		now.points = append(now.points, b)
	}
	if i%2 == 0 {
		all = append(all, now)
	}
	return all
}
