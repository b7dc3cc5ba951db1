package web

import (
	"context"
	"encoding/json"
	"net/http"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// violation of a rule, as axe-core tells it.
type violation struct {
	ID, Impact, Help string
	Nodes            []struct {
		Target []any
		HTML   string
	}
}

// TestAxe lets axe-core look at every page in every scene. It isn't part of the
// tree: `npm install axe-core` in a folder elsewhere, and CONDITIOND_AXE is the
// path of its axe.min.js. With CONDITIOND_PAGE it looks at the pages of a
// running daemon, such as the demo's at http://127.0.0.1:8080, instead.
func TestAxe(t *testing.T) {
	file := os.Getenv("CONDITIOND_AXE")
	if file == "" {
		t.Skip("no axe-core on this machine: CONDITIOND_AXE names none")
	}
	script, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	ctx := browser(t)
	if page := os.Getenv("CONDITIOND_PAGE"); page != "" {
		for _, path := range pathsOf(t, page) {
			axe(t, ctx, string(script), page+path, "as it is")
		}
		return
	}
	f := newFake()
	url := serve(t, f, "")
	for name, v := range scenes() {
		f.show(v)
		for _, path := range []string{"/", "/lots/spruce-tip-04"} {
			axe(t, ctx, string(script), url+path, name)
		}
	}
	f.show(drunk())
	for _, path := range []string{"/plan", "/sign", "/records", "/settings", "/no-such-page"} {
		axe(t, ctx, string(script), url+path, "")
	}
	axe(t, ctx, string(script), serve(t, newFake(), "correct horse")+"/login", "")
}

// pathsOf a running daemon's pages.
func pathsOf(t *testing.T, page string) []string {
	t.Helper()
	_, body := ask(t, http.MethodGet, page+"/api/v1/lots", "")
	var lots []struct{ ID string }
	if err := json.Unmarshal([]byte(body), &lots); err != nil {
		t.Fatal(err)
	}
	paths := []string{"/", "/plan", "/sign", "/records", "/settings", "/no-such-page"}
	for _, l := range lots {
		paths = append(paths, "/lots/"+l.ID)
	}
	return paths
}

func axe(t *testing.T, ctx context.Context, script, url, scene string) {
	t.Helper()
	for _, scheme := range []string{"light", "dark"} {
		look(t, ctx, url, 390, scheme, "")
		run(t, ctx, chromedp.Evaluate[chromedp.Void](script+";0"))
		found := run(t, ctx, chromedp.Evaluate[string](`axe.run().then((r) => JSON.stringify({violations: r.violations, passed: r.passes.length}))`, chromedp.EvalAwaitPromise))
		var said struct {
			Violations []violation
			Passed     int
		}
		if err := json.Unmarshal([]byte(found), &said); err != nil {
			t.Fatal(err)
		}
		if said.Passed < 10 {
			t.Errorf("%s: only %d rules found something to look at", url, said.Passed)
		}
		for _, v := range said.Violations {
			for _, n := range v.Nodes {
				t.Errorf("%s, %s, %s: %s (%s) at %v: %.200s", strings.TrimPrefix(url, "http://"), scene, scheme, v.Help, v.Impact, n.Target, n.HTML)
			}
		}
	}
}
