package web

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"conditiond/daemon/raster"

	"github.com/chromedp/chromedp"
)

// TestPNG: the picture as PNG is what a browser makes of the SVG, but for the
// letters, whose fonts differ, and where the hatching's lines lie.
func TestPNG(t *testing.T) {
	url := serve(t, twelve(), "") + "/api/v1/lots/spruce-tip-04/chart"
	a, body := ask(t, http.MethodGet, url+".png", "")
	if _, err := png.Decode(strings.NewReader(body)); err != nil || a.Header.Get("Content-Type") != "image/png" {
		t.Fatal(a.Header, err)
	}
	if folder := os.Getenv("CONDITIOND_SHOTS"); folder != "" {
		if err := errors.Join(os.MkdirAll(folder, 0o755), os.WriteFile(filepath.Join(folder, "chart-sent.png"), []byte(body), 0o644)); err != nil {
			t.Fatal(err)
		}
	}
	_, svg := ask(t, http.MethodGet, url+".svg", "")
	mute := strings.ReplaceAll(regexp.MustCompile(`(?s)<text.*?</text>`).ReplaceAllString(svg, ""), "url(#hatch)", "none")
	b, err := raster.PNG([]byte(mute))
	if err != nil {
		t.Fatal(err)
	}
	ours, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if far, ink := differ(ours, browsersPicture(t, mute, ours.Bounds().Size())); far > 0.05*ink || ink == 0 {
		t.Errorf("of %.0f pixels that aren't white %.0f are of another colour", ink, far)
	}
	if far, ink := differ(ours, image.NewUniform(color.White)); far < 0.2*ink {
		t.Errorf("a white sheet differs in %.0f of %.0f: the comparison sees nothing", far, ink)
	}
}

// TestPNGOfAll: nothing that a lot's picture may show is unknown to raster.
func TestPNGOfAll(t *testing.T) {
	f := newFake()
	url := serve(t, f, "")
	for name, v := range scenes() {
		f.show(v)
		for _, l := range v.Lots {
			if a, body := ask(t, http.MethodGet, url+"/api/v1/lots/"+l.Document.ID+"/chart.png", ""); a.StatusCode != http.StatusOK {
				t.Errorf("%s, %s: %s %s", name, l.Document.ID, a.Status, body)
			}
		}
	}
}

// browsersPicture is an SVG document as a browser draws it.
func browsersPicture(t *testing.T, svg string, size image.Point) image.Image {
	t.Helper()
	ctx := browser(t)
	file := filepath.Join(t.TempDir(), "picture.svg")
	if err := os.WriteFile(file, []byte(svg), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(int64(size.X), int64(size.Y)), chromedp.Navigate("file://"+file)); err != nil {
		t.Fatal(err)
	}
	theirs, err := png.Decode(bytes.NewReader(run(t, ctx, chromedp.FullScreenshot(100))))
	if err != nil {
		t.Fatal(err)
	}
	if theirs.Bounds().Size() != size {
		t.Fatalf("a browser makes it %v large, not %v", theirs.Bounds().Size(), size)
	}
	return theirs
}

// differ counts the pixels that are far from each other, and those that aren't
// white.
func differ(a, b image.Image) (far, ink float64) {
	for y := range a.Bounds().Dy() {
		for x := range a.Bounds().Dx() {
			r1, g1, b1, _ := a.At(x, y).RGBA()
			r2, g2, b2, _ := b.At(x, y).RGBA()
			if r1+g1+b1 < 3*0xffff || r2+g2+b2 < 3*0xffff {
				ink++
			}
			if max(r1, r2)-min(r1, r2) > 0x4000 || max(g1, g2)-min(g1, g2) > 0x4000 || max(b1, b2)-min(b1, b2) > 0x4000 {
				far++
			}
		}
	}
	return far, ink
}

func BenchmarkPNG(b *testing.B) {
	f := twelve()
	s := &Server{daemon: f}
	s.config.Location = now.Location()
	for b.Loop() {
		if _, err := s.Picture(b.Context(), "spruce-tip-04"); err != nil {
			b.Fatal(err)
		}
	}
}
