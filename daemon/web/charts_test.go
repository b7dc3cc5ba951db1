package web

import (
	"strings"
	"sync"
	"testing"

	"conditiond/daemon/engine"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// TestChartsAreDrawn: the script draws all panels in place of the still ones,
// breaks no rule of the page, and who has no pointer goes through time by keys
// and hears what the charts say.
func TestChartsAreDrawn(t *testing.T) {
	ctx := browser(t)
	var mu sync.Mutex
	var complaints []string
	err := chromedp.Listen(ctx, func(ev any) {
		mu.Lock()
		defer mu.Unlock()
		switch ev := ev.(type) {
		case *log.EventEntryAdded:
			complaints = append(complaints, ev.Entry.Text)
		case *runtime.EventExceptionThrown:
			complaints = append(complaints, ev.ExceptionDetails.Text)
		case *runtime.EventConsoleAPICalled:
			complaints = append(complaints, string(ev.Type))
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	f := newFake()
	f.view = underway()
	look(t, ctx, serve(t, f, "")+"/lots/spruce-tip-04", 390, "light", "")
	if n := run(t, ctx, chromedp.Evaluate[int64](`document.querySelectorAll("#drawn canvas").length`)); n != 3 {
		t.Errorf("%d charts", n)
	}
	if run(t, ctx, chromedp.Evaluate[bool](`document.getElementById("still").checkVisibility()`)) {
		t.Error("the still charts show, too")
	}
	inked := `[...document.querySelectorAll("#drawn canvas")].map((c) => new Set(new Uint32Array(c.getContext("2d").getImageData(0, 0, c.width, c.height).data.buffer)).size).every((n) => n > 20)`
	if !run(t, ctx, chromedp.Evaluate[bool](inked)) {
		t.Error("a chart is empty")
	}
	said := func() string {
		return run(t, ctx, chromedp.Evaluate[string](`document.getElementById("instant").getAttribute("aria-valuetext")`))
	}
	now := said()
	if err := chromedp.Do(ctx, chromedp.Focus(chromedp.CSS("#instant")), chromedp.KeyEvent(kb.End)); err != nil {
		t.Fatal(err)
	}
	ahead := said()
	if err := chromedp.Do(ctx, chromedp.KeyEvent(kb.Home), chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowRight)); err != nil {
		t.Fatal(err)
	}
	first := said()
	if !strings.Contains(ahead, "expected: CO2 in the beer ") || !strings.Contains(first, "1 Mar") || strings.Contains(first, "expected") || first == now ||
		!strings.Contains(first, " bar") || !strings.Contains(first, "°C") {
		t.Errorf("now %q, in the end %q, at first %q", now, ahead, first)
	}
	mu.Lock()
	defer mu.Unlock()
	if len(complaints) > 0 {
		t.Errorf("the browser complains: %q", complaints)
	}
}

// TestChartsStayStill where the numbers don't come.
func TestChartsStayStill(t *testing.T) {
	ctx := browser(t)
	f := newFake()
	f.view = underway()
	url := serve(t, f, "") + "/lots/spruce-tip-04"
	broken := `fetch = (what) => { if (what.endsWith("/graph")) window.asked = true; return Promise.reject(new Error("none")); }`
	if _, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: broken}); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(ctx, chromedp.Navigate(url)); err != nil {
		t.Fatal(err)
	}
	run(t, ctx, chromedp.Poll[bool]("window.asked"))
	if err := chromedp.Do(ctx, chromedp.WaitVisible(chromedp.CSS("#still svg.panel"))); err != nil {
		t.Fatal(err)
	}
	if run(t, ctx, chromedp.Evaluate[bool](`document.getElementById("drawn").checkVisibility()`)) {
		t.Error("an empty place shows")
	}
}

// TestTimesOfTheDevice: who chose nothing reads in their device's time, with the
// script's help and without leaving the page.
func TestTimesOfTheDevice(t *testing.T) {
	ctx := browser(t)
	if _, err := chromedp.Call(ctx, emulation.SetTimezoneOverride, emulation.SetTimezoneOverrideParams{TimezoneID: "Asia/Tokyo"}); err != nil {
		t.Fatal(err)
	}
	f := newFake()
	v := pantry()
	f.show(&engine.View{Time: now, Site: "Pantry", Lots: v.Lots, Sensors: v.Sensors})
	url := serve(t, f, "")
	if err := chromedp.Do(ctx, chromedp.Navigate(url)); err != nil {
		t.Fatal(err)
	}
	run(t, ctx, chromedp.Poll[bool](`document.getElementById("asof").textContent.includes("Mon 9 Mar, 04:00") && document.getElementById("times-of").textContent.includes("Asia/Tokyo")`))
}
