package raster

import (
	"bytes"
	"image/color"
	"image/png"
	"strings"
	"testing"
)

// head of a document of 100 by 100 pixels.
const head = `<svg xmlns="http://www.w3.org/2000/svg" width="100" height="100" viewBox="0 0 100 100">`

// TestPixels: each kind of element is where the standard (SVG 1.1) puts it.
func TestPixels(t *testing.T) {
	black, white := color.RGBA{0, 0, 0, 255}, color.RGBA{255, 255, 255, 255}
	grey, half := color.RGBA{128, 128, 128, 255}, color.RGBA{127, 127, 127, 255}
	for name, c := range map[string]struct {
		svg  string
		want map[[2]int]color.RGBA
	}{
		"nothing":        {"", map[[2]int]color.RGBA{{50, 50}: white}},
		"a rectangle":    {`<rect x="10" y="20" width="30" height="40"/>`, map[[2]int]color.RGBA{{10, 20}: black, {39, 59}: black, {40, 40}: white, {20, 19}: white}},
		"half through":   {`<rect width="50" height="50" fill="#000000" fill-opacity="0.5"/>`, map[[2]int]color.RGBA{{20, 20}: half, {60, 20}: white}},
		"a line":         {`<line x1="0" x2="100" y1="50" y2="50" stroke="#000000" stroke-width="2"/>`, map[[2]int]color.RGBA{{30, 49}: black, {30, 50}: black, {30, 48}: white, {30, 51}: white}},
		"a line with a":  {`<path d="M0 50L100 50" fill="none" stroke="#000000" stroke-width="2" stroke-dasharray="10 20"/>`, map[[2]int]color.RGBA{{5, 50}: black, {15, 50}: white, {29, 50}: white, {35, 50}: black, {45, 50}: white}},
		"a lone value":   {`<path d="M50 50h0" fill="none" stroke="#000000" stroke-width="4"/>`, map[[2]int]color.RGBA{{50, 50}: black, {49, 49}: black, {56, 50}: white}},
		"an area":        {`<path d="M10 10L90 10L90 90L10 90Z" fill="#808080"/>`, map[[2]int]color.RGBA{{50, 50}: grey, {5, 50}: white}},
		"two areas":      {`<path d="M0 0L20 0L20 20L0 20ZM50 50L70 50L70 70L50 70Z"/>`, map[[2]int]color.RGBA{{10, 10}: black, {30, 30}: white, {60, 60}: black}},
		"one in another": {`<svg x="50" y="50" width="50" height="25" viewBox="0 0 10 10" preserveAspectRatio="none"><rect x="4" y="4" width="2" height="2"/></svg>`, map[[2]int]color.RGBA{{71, 61}: black, {79, 63}: black, {81, 62}: white, {75, 59}: white}},
		"inherited":      {`<svg width="100" height="100" viewBox="0 0 100 100" fill="none"><rect width="9" height="9"/></svg><rect x="20" width="9" height="9"/>`, map[[2]int]color.RGBA{{5, 5}: white, {25, 5}: black}},
		"hatched":        {`<defs><pattern id="h" width="8" height="8" patternTransform="rotate(45)"><rect width="8" height="8" fill="#e0e0e0"/><line y2="8" stroke="#000000"/></pattern></defs><rect width="50" height="50" fill="url(#h)"/>`, map[[2]int]color.RGBA{{0, 0}: half, {11, 0}: half, {4, 0}: {224, 224, 224, 255}, {60, 0}: white}},
		"outside":        {`<line x1="-500" x2="5000" y1="-3" y2="-3" stroke="#000000"/>`, map[[2]int]color.RGBA{{50, 0}: white}},
		"comes over":     {`<rect width="50" height="50"/><rect width="50" height="50" fill="#808080"/>`, map[[2]int]color.RGBA{{5, 5}: grey}},
	} {
		t.Run(name, func(t *testing.T) {
			im := drawn(t, head+c.svg+"</svg>")
			for at, want := range c.want {
				if got := color.RGBAModel.Convert(im(at[0], at[1])); got != want {
					t.Errorf("at %v: %v, want %v", at, got, want)
				}
			}
		})
	}
}

func drawn(t *testing.T, svg string) func(x, y int) color.Color {
	t.Helper()
	b, err := PNG([]byte(svg))
	if err != nil {
		t.Fatal(err)
	}
	im, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return im.At
}

// TestLetters: text stands left, about or right of its place, and bold is
// heavier.
func TestLetters(t *testing.T) {
	ink := func(attributes string) (left, right int, sum float64) {
		at := drawn(t, head+`<text x="50" y="50" `+attributes+`>Ale</text></svg>`)
		left = -1
		for x := range 100 {
			for y := range 100 {
				if v, _, _, _ := at(x, y).RGBA(); v < 0xffff {
					if left < 0 {
						left = x
					}
					right, sum = x, sum+1-float64(v)/0xffff
				}
			}
		}
		return left, right, sum
	}
	left, right, light := ink("")
	if left < 50 || right-left < 15 || right-left > 40 {
		t.Errorf("from %d to %d", left, right)
	}
	if _, right, _ := ink(`text-anchor="end"`); right > 50 {
		t.Errorf("an end at %d", right)
	}
	if left, right, _ := ink(`text-anchor="middle"`); left+right < 97 || left+right > 103 {
		t.Errorf("a middle of %d and %d", left, right)
	}
	if _, _, heavy := ink(`font-weight="600"`); heavy < 1.1*light {
		t.Errorf("bold has %g of ink, plain %g", heavy, light)
	}
	if _, _, large := ink(`font-size="32"`); large < 3*light {
		t.Errorf("twice as large has %g of ink, plain %g", large, light)
	}
}

// TestRefuses what it would draw wrong.
func TestRefuses(t *testing.T) {
	for name, c := range map[string]struct{ svg, want string }{
		"no XML":              {"PNG?", "EOF"},
		"an unknown element":  {head + `<circle r="4"/></svg>`, `circle`},
		"an unknown property": {head + `<rect width="4" height="4" transform="rotate(45)"/></svg>`, `transform "rotate(45)"`},
		"a named colour":      {head + `<rect width="4" height="4" fill="teal"/></svg>`, `paint "teal"`},
		"a curve":             {head + `<path d="M0 0C1 1 2 2 3 3"/></svg>`, `step "C"`},
		"a broken path":       {head + `<path d="M0 0L1"/></svg>`, `"L" can't stand there`},
		"an unknown pattern":  {head + `<rect width="4" height="4" fill="url(#x)"/></svg>`, `no pattern "x"`},
		"a giant":             {`<svg width="100000" height="100000" viewBox="0 0 1 1"></svg>`, "at most"},
		"no size":             {`<svg width="NaN" height="5" viewBox="0 0 1 1"></svg>`, `width "NaN"`},
		"another document":    {`<rect width="4" height="4"/>`, "one svg"},
		"no end":              {head, "unexpected EOF"},
	} {
		if _, err := PNG([]byte(c.svg)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", name, err, c.want)
		}
	}
}

// FuzzPNG: whatever comes, it is drawn or refused.
func FuzzPNG(f *testing.F) {
	f.Add(`<text x="5" y="9" stroke="#ffffff" stroke-width="4">Ale <tspan font-weight="600">x</tspan></text>`)
	f.Add(`<path d="M0 50L100 50h0Z" fill="#808080" stroke="#000000" stroke-dasharray="3 4"/>`)
	f.Add(`<defs><pattern id="h" width="8"><rect/><line stroke="#000000"/></pattern></defs><rect fill="url(#h)" width="5" height="900000"/>`)
	f.Fuzz(func(t *testing.T, inside string) {
		b, err := PNG([]byte(head + inside + "</svg>"))
		if (b == nil) == (err == nil) {
			t.Errorf("%d bytes and %v", len(b), err)
		}
	})
}
