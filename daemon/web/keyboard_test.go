package web

import (
	"context"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// reachable are all that a person can act on, as long as it shows, in the order
// of the page as it is now.
const reachable = `[...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")]
	.filter((e) => e.checkVisibility({visibilityProperty: true}) && !e.disabled)`

const names = reachable + `.map((e) => (e.textContent || e.name || e.id).trim().slice(0, 40))`

// focused is the place of what has the focus, -1 when nothing has, and whether
// that can be seen.
const focused = `(() => {
	const e = document.activeElement, style = getComputedStyle(e);
	return {Place: ` + reachable + `.indexOf(e), Seen: parseFloat(style.outlineWidth) > 0 && style.outlineStyle !== "none"};
})()`

// TestKeyboardReachesEverything goes through every page with the Tab key alone:
// all that can be acted on gets the focus, in the order of the page, and shows
// that it has it.
func TestKeyboardReachesEverything(t *testing.T) {
	ctx := browser(t)
	f := newFake()
	f.view = scenes()["many"]
	url, guarded := serve(t, f, ""), serve(t, newFake(), "correct horse")
	for _, page := range []string{url, url + "/lots/spruce-tip-04", url + "/plan", url + "/sign", url + "/records", url + "/settings", guarded + "/login"} {
		look(t, ctx, page, 1280, "light", "")
		names := run(t, ctx, chromedp.Evaluate[[]string](names))
		if len(names) < 2 {
			t.Fatalf("%s: only %q can be acted on", page, names)
		}
		from := run(t, ctx, chromedp.Evaluate[focus](focused)).Place + 1 // the login begins at its password
		for i, name := range names[from:] {
			i += from
			at := press(t, ctx, kb.Tab)
			for n := 0; n < 8 && i > 0 && at.Place == i-1; n++ { // a date has stops of its own
				at = press(t, ctx, kb.Tab)
			}
			if at.Place != i || !at.Seen {
				t.Fatalf("%s: Tab %d came to %+v, not to %q", page, i, at, name)
			}
		}
	}
}

type focus struct {
	Place int
	Seen  bool
}

func press(t *testing.T, ctx context.Context, key string) focus {
	t.Helper()
	if err := chromedp.Do(ctx, chromedp.KeyEvent(key)); err != nil {
		t.Fatal(err)
	}
	return run(t, ctx, chromedp.Evaluate[focus](focused))
}

// TestKeyboardAcknowledges says "seen" of a danger without a pointer, and the
// way past the head of the page is the first stop.
func TestKeyboardAcknowledges(t *testing.T) {
	ctx := browser(t)
	f := newFake()
	f.view = inDanger(pantry())
	look(t, ctx, serve(t, f, ""), 390, "light", "")
	press(t, ctx, kb.Tab)
	if first := run(t, ctx, chromedp.Evaluate[string](`document.activeElement.getAttribute("href")`)); first != "#main" {
		t.Errorf("the first stop is %q", first)
	}
	for range 20 {
		press(t, ctx, kb.Tab)
		if run(t, ctx, chromedp.Evaluate[bool](`document.activeElement.id.startsWith("seen-")`)) {
			if err := chromedp.Do(ctx, chromedp.KeyEvent(kb.Enter)); err != nil {
				t.Fatal(err)
			}
			if in := f.awaitDeed(t); in.Acknowledge == nil {
				t.Errorf("Enter did %+v", in)
			}
			return
		}
	}
	t.Error("Tab never came to the button")
}
