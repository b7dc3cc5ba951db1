package main

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// visitor looks at pages with a real browser, and acts on what shows there.
type visitor struct {
	t   *testing.T
	ctx context.Context
}

// newVisitor starts Chromium; nil where there is none and none is demanded.
func newVisitor(t *testing.T) *visitor {
	t.Helper()
	const chromium = "/usr/bin/chromium"
	if _, err := os.Stat(chromium); err != nil {
		if strings.Contains(os.Getenv("CONDITIOND_REQUIRE"), "chromium") {
			t.Fatal("chromium is required: ", err)
		}
		return nil
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-component-update", true), chromedp.NoFirstRun, chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewExecAllocator(ctx, options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(func() { _ = chromedp.Cancel(ctx); cancel() })
	if err := chromedp.Do(ctx); err != nil { // starts it, for as long as this context
		t.Fatal(err)
	}
	return &visitor{t, ctx}
}

// do what should be done soon; tried again, since what is about to be clicked
// may just have been replaced by a newer one.
func (v *visitor) do(what string, actions ...chromedp.Action[chromedp.Void]) {
	v.t.Helper()
	var err error
	for range 3 {
		if err = v.attempt(actions); err == nil {
			return
		}
	}
	v.t.Fatalf("%s: %v; the page says:\n%s", what, err, v.shown())
}

func (v *visitor) attempt(actions []chromedp.Action[chromedp.Void]) error {
	ctx, cancel := context.WithTimeout(v.ctx, 10*time.Second)
	defer cancel()
	return chromedp.Do(ctx, actions...)
}

// press the one button, link or fold of these words.
func (v *visitor) press(words string) {
	v.t.Helper()
	v.pressAt(words, "")
}

// pressAt presses a button within what an XPath finds.
func (v *visitor) pressAt(words, within string) {
	v.t.Helper()
	v.do("press "+words, chromedp.Click(fmt.Sprintf(`%s//*[self::a or self::button or self::summary][normalize-space()=%q]`, within, words)))
}

// fill in a field of this id, or choose from it.
func (v *visitor) fill(id, value string) {
	v.t.Helper()
	v.do("fill in "+id, chromedp.SetValue(chromedp.CSS(fmt.Sprintf("[id=%q]", id)), value))
}

// shown is the text that can be read on the page now.
func (v *visitor) shown() string {
	ctx, cancel := context.WithTimeout(v.ctx, 5*time.Second)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.body.innerText`))
	if err != nil {
		return err.Error() // between two pages there is none
	}
	return text
}

// see waits until all these words show.
func (v *visitor) see(words ...string) {
	v.t.Helper()
	v.until(fmt.Sprintf("show %q", words), func(shown string) bool {
		for _, w := range words {
			if !strings.Contains(shown, w) {
				return false
			}
		}
		return true
	})
}

// until waits for a page that is as it should be.
func (v *visitor) until(what string, is func(shown string) bool) {
	v.t.Helper()
	for end := time.Now().Add(20 * time.Second); !is(v.shown()); time.Sleep(100 * time.Millisecond) {
		if time.Now().After(end) {
			v.t.Fatalf("the page doesn't %s, but says:\n%s", what, v.shown())
		}
	}
}

// stay marks the page; stayed wants it to be the same one still.
func (v *visitor) stay() {
	v.t.Helper()
	v.do("mark the page", chromedp.Evaluate[chromedp.Void](`window.stayed = true`))
}

func (v *visitor) stayed() {
	v.t.Helper()
	if stayed, err := chromedp.Run(v.ctx, chromedp.Evaluate[bool](`window.stayed === true`)); err != nil || !stayed {
		v.t.Errorf("the page was reloaded (%v)", err)
	}
}
