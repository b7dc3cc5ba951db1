package web

import (
	"encoding/xml"
	"errors"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestPicture: the chart stands alone, is well-formed XML, and says what is on
// it; a name can't break out of it.
func TestPicture(t *testing.T) {
	f := newFake()
	f.view.Lots[0].Document.Name = `Spruce <tip> & "ale"`
	url := serve(t, f, "") + "/api/v1/lots/spruce-tip-04/chart.svg"
	_, body := ask(t, http.MethodGet, url, "")
	d := xml.NewDecoder(strings.NewReader(body))
	paths := 0
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if e, ok := token.(xml.StartElement); ok && e.Name.Local == "path" {
			paths++
		}
	}
	if paths != 5 { // a band and a line of volumes; a line of pressure; a line and the sensor of temperature
		t.Errorf("%d paths", paths)
	}
	for _, want := range []string{"Spruce &lt;tip&gt; &amp; &#34;ale&#34;", "CO2 in the beer", "target 2.50 volumes", "limit of the weakest bottles 5.00 bar", "°C"} {
		if !strings.Contains(body, want) {
			t.Errorf("it doesn't say %q", want)
		}
	}
	if strings.Contains(body, "style") || strings.Contains(body, "ZgotmplZ") {
		t.Error("a style would not show on its own")
	}
	if folder := os.Getenv("CONDITIOND_SHOTS"); folder != "" {
		ctx := browser(t)
		if err := chromedp.Do(ctx, chromedp.EmulateViewport(1000, 1000), chromedp.Navigate(url)); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, "chart.png"), run(t, ctx, chromedp.FullScreenshot(100)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
