package raster

import (
	"image"
	"image/color"
)

// few colours, of sixteen steps of each primary the first that is met, make a
// picture a third as large. One with more than a palette holds stays as it is.
func few(full *image.RGBA) image.Image {
	var known [4096]int // 1 + place in the palette
	out := image.NewPaletted(full.Rect, nil)
	for i := range out.Pix {
		r, g, b := full.Pix[4*i], full.Pix[4*i+1], full.Pix[4*i+2]
		k := int(r>>4)<<8 | int(g>>4)<<4 | int(b>>4)
		if known[k] == 0 {
			if len(out.Palette) == 256 {
				return full
			}
			out.Palette = append(out.Palette, color.RGBA{r, g, b, 255})
			known[k] = len(out.Palette)
		}
		out.Pix[i] = uint8(known[k] - 1)
	}
	return out
}
