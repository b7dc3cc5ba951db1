package web

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

const chromium = "/usr/bin/chromium"

// browser starts Chromium, or skips where there is none and none is demanded.
func browser(t *testing.T) context.Context {
	t.Helper()
	if _, err := os.Stat(chromium); err != nil {
		if strings.Contains(os.Getenv("CONDITIOND_REQUIRE"), "chromium") {
			t.Fatal("chromium is required and not there: ", err)
		}
		t.Skip("no chromium on this machine")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-component-update", true), chromedp.NoFirstRun, chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := context.WithTimeout(context.Background(), 90*time.Second)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewExecAllocator(ctx, options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(func() { _ = chromedp.Cancel(ctx); cancel() })
	if err := chromedp.Do(ctx); err != nil {
		t.Fatal(err)
	}
	return ctx
}

// TestPageUpdatesByItself sees a danger appear without a reload.
func TestPageUpdatesByItself(t *testing.T) {
	ctx := browser(t)
	f := newFake()
	url := serve(t, f, "")
	err := chromedp.Do(ctx, chromedp.Navigate(url), chromedp.WaitVisible(chromedp.CSS(".lot")),
		chromedp.Evaluate[chromedp.Void](`document.querySelector(".lot a").focus(); window.stayed = true`))
	if err != nil {
		t.Fatal(err)
	}
	v := pantry()
	v.Time = now.Add(time.Minute)
	f.show(inDanger(v))
	// Sooner than the script would look without being told.
	soon, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	if err := chromedp.Do(soon, chromedp.WaitVisible(chromedp.CSS(".alert.danger"))); err != nil {
		t.Fatal(err)
	}
	stayed := run(t, ctx, chromedp.Evaluate[bool](`window.stayed === true`))
	focused := run(t, ctx, chromedp.Evaluate[string](`document.activeElement.getAttribute("href") || ""`))
	first := run(t, ctx, chromedp.Text(chromedp.CSS(".alert .first")))
	if !stayed || focused != "/lots/spruce-tip-04" || !strings.HasPrefix(first, "Do not") {
		t.Errorf("stayed %v, focus on %q, first step %q", stayed, focused, first)
	}
}

// TestSilentDaemonShows: a page that hears nothing says so, and an open stream
// does not keep the server from stopping.
func TestSilentDaemonShows(t *testing.T) {
	ctx := browser(t)
	s, err := New(Config{Listen: "127.0.0.1:0"}, newFake(), slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	serving, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Serve(serving) }()
	err = chromedp.Do(ctx, chromedp.Navigate("http://"+s.Addr()), chromedp.WaitVisible(chromedp.CSS(".lot")), chromedp.WaitNotVisible(chromedp.CSS("#lost")))
	stop()
	if err := errors.Join(err, <-done); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(ctx, chromedp.WaitVisible(chromedp.CSS("#lost"))); err != nil {
		t.Fatal(err)
	}
}

// run does what a page that keeps itself current may hinder: what was found can
// be replaced before it is used, and is then looked for again.
func run[T any](t *testing.T, ctx context.Context, a chromedp.Action[T]) T {
	t.Helper()
	v, err := chromedp.Run(ctx, a)
	for again := 0; err != nil && again < 3 && ctx.Err() == nil; again++ {
		v, err = chromedp.Run(ctx, a)
	}
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestAcknowledgeInBrowser presses the button.
func TestAcknowledgeInBrowser(t *testing.T) {
	ctx := browser(t)
	f := newFake()
	f.view = inDanger(pantry())
	run(t, ctx, chromedp.Navigate(serve(t, f, "")))
	run(t, ctx, chromedp.Click(chromedp.CSS(".alert button")))
	wait(t, ctx, ".lot")
	acknowledged(t, f)
}

// TestPressOutlivesRefresh: news that come while the button is held down don't
// take it away from under the finger.
func TestPressOutlivesRefresh(t *testing.T) {
	ctx := browser(t)
	f := newFake()
	f.view = inDanger(pantry())
	run(t, ctx, chromedp.Navigate(serve(t, f, "")))
	wait(t, ctx, ".alert button")
	run(t, ctx, chromedp.Evaluate[string](`document.querySelector(".alert button").scrollIntoView({block: "center"}); ""`))
	at := run(t, ctx, chromedp.Evaluate[[]float64](`(() => { const b = document.querySelector(".alert button").getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2] })()`))
	run(t, ctx, chromedp.MouseEvent(chromedp.MousePressed, at[0], at[1], chromedp.Button("left"), chromedp.ClickCount(1)))
	next := pantry()
	next.Time = now.Add(time.Minute)
	next = inDanger(next)
	next.Alerts[0].Summary = "The gauge read 4.35 bar at 19:19."
	next.Lots[0].Document.Name = "Spruce tip, later"
	f.show(next)
	run(t, ctx, chromedp.WaitVisible(`//*[@id="lots"]//*[contains(text(), "Spruce tip, later")]`))
	run(t, ctx, chromedp.MouseEvent(chromedp.MouseReleased, at[0], at[1], chromedp.Button("left"), chromedp.ClickCount(1)))
	acknowledged(t, f)
}

// acknowledged waits until the daemon has been told of it, once.
func acknowledged(t *testing.T, f *fake) {
	t.Helper()
	deadline := time.Now().Add(10 * time.Second)
	for {
		if in, n := f.last(); n == 1 && in.Acknowledge != nil && in.Acknowledge.Alert == "over-pressure/spruce-tip-04" {
			return
		}
		if time.Now().After(deadline) {
			t.Fatal("no acknowledgement came")
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// scenes are what the page must show well.
func scenes() map[string]*engine.View {
	long := pantry()
	long.Lots[0].Document.Name = "Grandmother's_unfiltered_double_dry_hopped_farmhouse_ale_with_spruce_tips_and_" + strings.Repeat("very_", 12) + "long_name"
	stale := pantry()
	was := now.Add(-3 * time.Hour)
	for i := range stale.Sensors {
		stale.Sensors[i].At, stale.Sensors[i].Silent = &was, true
	}
	young := pantry()
	young.Lots[0].Estimate = nil
	for i := range young.Sensors {
		young.Sensors[i].At, young.Sensors[i].Value, young.Sensors[i].Readings = nil, nil, 0
	}
	many := inDanger(pantry())
	many.Alerts = append(many.Alerts, alerts.Alert{ID: "c", Name: alerts.TooCold, Severity: alerts.Warning, Lot: "lot-03", Since: now.Add(-26 * time.Hour), State: alerts.Acknowledged, By: "Kim",
		Summary: "The pantry has been below 15 °C for a day.", Advice: "It is slow, not failed. Move the heater, not the bottles."})
	for i := range 11 {
		many.Lots = append(many.Lots, lotNamed("lot-"+string(rune('a'+i)), "Lot "+string(rune('A'+i))))
	}
	return map[string]*engine.View{"calm": pantry(), "danger": inDanger(pantry()), "stale": stale, "long": long, "young": young,
		"many": many, "underway": underway(), "empty": {Time: now, Site: "Pantry"}}
}

// TestNothingCutOff looks at every scene on a phone and a desk, in light and
// dark, and demands that nothing is wider than the screen. With
// CONDITIOND_SHOTS it leaves pictures there.
func TestNothingCutOff(t *testing.T) {
	ctx := browser(t)
	f := newFake()
	url := serve(t, f, "")
	shots := os.Getenv("CONDITIOND_SHOTS")
	for name, v := range scenes() {
		for _, path := range []string{"/", "/lots/spruce-tip-04"} {
			if path != "/" && len(v.Lots) == 0 {
				continue
			}
			f.show(v)
			for _, width := range []int64{390, 1280} {
				for _, scheme := range []string{"light", "dark"} {
					look(t, ctx, url+path, width, scheme, picture(shots, name, path, width, scheme))
				}
			}
		}
	}
}

// TestTroubleFits is the same for a daemon that is unwell, and for the login.
func TestTroubleFits(t *testing.T) {
	ctx := browser(t)
	f := newFake()
	f.health.Broker = Part{Since: now.Add(-9 * time.Minute), Problem: "mqtt://192.0.2.7:1883 refused the connection; see that the broker runs and listens there"}
	f.health.Followers[0].Problem = "401 Unauthorized: the token in token_file is not accepted"
	url, guarded := serve(t, f, ""), serve(t, f, "correct horse")
	for _, width := range []int64{390, 1280} {
		look(t, ctx, url, width, "light", picture(os.Getenv("CONDITIOND_SHOTS"), "trouble", "/", width, "light"))
		look(t, ctx, guarded, width, "dark", picture(os.Getenv("CONDITIOND_SHOTS"), "login", "/", width, "dark"))
	}
}

func picture(folder, name, path string, width int64, scheme string) string {
	if folder == "" {
		return ""
	}
	kind := "home"
	if path != "/" {
		kind = "lot"
	}
	size := "phone"
	if width > 1000 {
		size = "desk"
	}
	return filepath.Join(folder, strings.Join([]string{name, kind, size, scheme}, "-")+".png")
}

// drawnCharts waits until the script has drawn what there is to draw.
const drawnCharts = `new Promise((done) => {
	const drawn = document.getElementById("drawn");
	if (!drawn || !document.querySelector("#still svg.panel")) { done(false); return; }
	const look = () => document.getElementById("instant") ? requestAnimationFrame(() => requestAnimationFrame(() => done(true))) : setTimeout(look, 20);
	look();
})`

func look(t *testing.T, ctx context.Context, url string, width int64, scheme, file string) {
	t.Helper()
	height := int64(844)
	if width > 1000 {
		height = 800
	}
	media := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}
	if _, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, media); err != nil {
		t.Fatal(err)
	}
	err := chromedp.Do(ctx, chromedp.EmulateViewport(width, height), chromedp.Navigate(url), chromedp.WaitVisible(chromedp.CSS("main")))
	if err != nil {
		t.Fatal(err)
	}
	run(t, ctx, chromedp.Evaluate[bool](drawnCharts, chromedp.EvalAwaitPromise))
	if wide := run(t, ctx, chromedp.Evaluate[int64](`document.documentElement.scrollWidth`)); wide > width {
		t.Errorf("%s at %d: %d wide", url, width, wide)
	}
	if file == "" {
		return
	}
	if err := os.WriteFile(file, run(t, ctx, chromedp.FullScreenshot(100)), 0o644); err != nil {
		t.Fatal(err)
	}
}
