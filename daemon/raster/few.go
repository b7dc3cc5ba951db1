package raster

import (
	"image"
	"image/color"
)

// few colours, one for each sixteenth of each primary, make a picture a third as
// large. It is one that fills, rather than one of an edge. A picture with more
// than a palette holds stays as it is.
func few(full *image.RGBA) image.Image {
	var known [4096]int // 1 + place in the palette
	var before color.RGBA
	out := image.NewPaletted(full.Rect, nil)
	for i := range out.Pix {
		c := color.RGBA{full.Pix[4*i], full.Pix[4*i+1], full.Pix[4*i+2], 255}
		k := int(c.R>>4)<<8 | int(c.G>>4)<<4 | int(c.B>>4)
		switch {
		case known[k] == 0 && len(out.Palette) == 256:
			return full
		case known[k] == 0:
			out.Palette = append(out.Palette, c)
			known[k] = len(out.Palette)
		case c == before:
			out.Palette[known[k]-1] = c
		}
		out.Pix[i], before = uint8(known[k]-1), c
	}
	return out
}
