package raster

import (
	"fmt"
	"image"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// line of text, with its runs of one style.
type line struct {
	at     point
	anchor string
	runs   []run
}

type run struct {
	words string
	style
}

// write adds to the text that is open; all space is one.
func (c *canvas) write(words string) {
	if c.text == nil {
		return
	}
	spaced := strings.Join(strings.Fields(words), " ")
	if words != "" && strings.TrimLeft(words, " \n\t") != words && len(c.text.runs) > 0 {
		spaced = " " + spaced
	}
	if strings.TrimRight(words, " \n\t") != words && spaced != " " {
		spaced += " "
	}
	c.text.runs = append(c.text.runs, run{spaced, c.open[len(c.open)-1].style})
}

// set a line.
func (c *canvas) set(l line) error {
	faces := make([]font.Face, len(l.runs))
	wide := fixed.Int26_6(0)
	for i, r := range l.runs {
		var err error
		if faces[i], err = c.fonts.face(r.size, r.bold); err != nil {
			return err
		}
		wide += font.MeasureString(faces[i], r.words)
	}
	dot := fixed.Point26_6{X: fixed.Int26_6(l.at.x * 64), Y: fixed.Int26_6(l.at.y * 64)}
	dot.X -= map[string]fixed.Int26_6{"middle": wide / 2, "end": wide}[l.anchor]
	for i, r := range l.runs {
		var err error
		if dot, err = c.letter(dot, r, faces[i]); err != nil {
			return err
		}
	}
	return nil
}

// letter a run, over a stroke that keeps it apart from what lies below.
func (c *canvas) letter(dot fixed.Point26_6, r run, face font.Face) (fixed.Point26_6, error) {
	d := font.Drawer{Dst: c.image, Face: face}
	if r.stroke != "none" {
		ink, err := colour(r.stroke, 1)
		if err != nil {
			return dot, err
		}
		d.Src = image.NewUniform(ink)
		by := fixed.Int26_6(r.width / 2 * 64)
		for _, off := range []fixed.Point26_6{{X: by}, {X: -by}, {Y: by}, {Y: -by}, {X: by, Y: by}, {X: -by, Y: by}, {X: by, Y: -by}, {X: -by, Y: -by}} {
			d.Dot = dot.Add(off)
			d.DrawString(r.words)
		}
	}
	ink, err := colour(r.fill, r.opacity)
	if err != nil {
		return dot, err
	}
	d.Src, d.Dot = image.NewUniform(ink), dot
	d.DrawString(r.words)
	return d.Dot, nil
}

// fonts that are in use, by size and weight.
type fonts map[fontKey]font.Face

type fontKey struct {
	size float64
	bold bool
}

func (f *fonts) face(size float64, bold bool) (font.Face, error) {
	k := fontKey{size, bold}
	if face := (*f)[k]; face != nil {
		return face, nil
	}
	ttf := goregular.TTF
	if bold {
		ttf = gobold.TTF
	}
	parsed, err := opentype.Parse(ttf)
	if err != nil {
		return nil, fmt.Errorf("reading the font: %w", err)
	}
	face, err := opentype.NewFace(parsed, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		return nil, fmt.Errorf("making letters of size %g: %w", size, err)
	}
	if *f == nil {
		*f = fonts{}
	}
	(*f)[k] = face
	return face, nil
}
