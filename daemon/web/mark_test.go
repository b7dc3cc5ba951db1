package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image/png"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// icons are the mark at the sizes that home screens ask for, in its own colours
// to the edge, so that any mask may cut it (the middle four fifths stay:
// w3.org/TR/appmanifest, icon masks).
func icons() map[string]int64 {
	return map[string]int64{"page/mark-180.png": 180, "page/mark-192.png": 192, "page/mark-512.png": 512}
}

// TestIcons: each is as large as it says. With CONDITIOND_ICONS=draw it makes
// them anew from mark.svg.
func TestIcons(t *testing.T) {
	if os.Getenv("CONDITIOND_ICONS") == "draw" {
		drawIcons(t)
	}
	for name, size := range icons() {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		c, err := png.DecodeConfig(bytes.NewReader(b))
		if err != nil || int64(c.Width) != size || int64(c.Height) != size {
			t.Errorf("%s: %d by %d, %v", name, c.Width, c.Height, err)
		}
	}
}

func drawIcons(t *testing.T) {
	t.Helper()
	mark, err := os.ReadFile("page/mark.svg")
	if err != nil {
		t.Fatal(err)
	}
	drawing := strings.Replace(string(mark), "<svg ", `<svg width="100%" height="100%" `, 1)
	page := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		fmt.Fprintf(w, `<body style="margin:0;background:#f6f2ea"><div style="padding:18vmin;height:64vmin;width:64vmin">%s</div>`, drawing)
	}))
	defer page.Close()
	ctx := browser(t)
	for name, size := range icons() {
		if err := chromedp.Do(ctx, chromedp.EmulateViewport(size, size), chromedp.Navigate(page.URL)); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, run(t, ctx, chromedp.FullScreenshot(100)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// TestInstallable: what a browser asks for before it offers a place on the home
// screen (w3.org/TR/appmanifest; the sizes are Chromium's, from memory): it is
// served to anybody, and each icon is there.
func TestInstallable(t *testing.T) {
	base := serve(t, newFake(), "correct horse")
	_, login := ask(t, "GET", base+"/login", "")
	at := strings.Index(login, "/static/app.webmanifest")
	if at < 0 {
		t.Fatal("no manifest is named")
	}
	a, body := ask(t, "GET", base+"/static/app.webmanifest", "")
	var m struct {
		Name, Display string
		StartURL      string `json:"start_url"`
		Icons         []struct{ Src, Sizes, Type, Purpose string }
	}
	if err := json.Unmarshal([]byte(body), &m); err != nil || a.Header.Get("Content-Type") != "application/manifest+json" {
		t.Fatal(err, a.Header)
	}
	sizes := map[string]bool{}
	for _, i := range m.Icons {
		a, _ := ask(t, "GET", base+"/static/"+i.Src, "")
		if a.StatusCode != 200 || a.Header.Get("Content-Type") != i.Type {
			t.Errorf("%s: %s", i.Src, a.Status)
		}
		sizes[i.Sizes+i.Purpose] = true
	}
	if m.Name == "" || m.StartURL != "/" || m.Display != "standalone" || !sizes["192x192any"] || !sizes["512x512maskable"] {
		t.Errorf("%+v", m)
	}
}
