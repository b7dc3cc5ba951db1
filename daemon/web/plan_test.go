package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"conditiond/daemon/engine"
	"conditiond/model"
	"conditiond/model/plan"

	"github.com/chromedp/chromedp"
)

const formType = "application/x-www-form-urlencoded"

// bucket is a form as somebody fills it beside the bucket; the beer is
// invented.
func bucket() url.Values {
	return url.Values{"name": {"Spruce tip ale, second"}, "space": {"pantry"}, "yeast": {"ale"},
		"beer.volume_l": {"19,0"}, "beer.original_gravity": {"1.050"}, "beer.final_gravity": {"1.012"}, "beer.limit_gravity": {"1.012"}, "beer.warmest_c": {"20"},
		"target_volumes": {"2.5"}, "priming[0].sugar": {"dextrose"}, "worst_case_c": {"30"},
		"bottles[0].kind": {"standard-glass"}, "bottles[0].volume_ml": {"330"}, "bottles[0].count": {"57"}, "bottles[0].rated_bar": {"5"}}
}

func with(v url.Values, pairs ...string) url.Values {
	for i := 0; i < len(pairs); i += 2 {
		v.Set(pairs[i], pairs[i+1])
	}
	return v
}

func post(t *testing.T, base string, v url.Values) (status int, location, body string) {
	t.Helper()
	a, body := ask(t, "POST", base+"/plan", v.Encode(), "Content-Type", formType)
	return a.StatusCode, a.Header.Get("Location"), strings.ReplaceAll(body, "\u00a0", " ")
}

var hidden = regexp.MustCompile(`name="seen" value="([0-9a-f]{64})"`)

// seen is the mark of the plan on a page.
func seen(t *testing.T, body string) string {
	t.Helper()
	m := hidden.FindStringSubmatch(body)
	if m == nil {
		t.Fatalf("no plan to open:\n%s", body)
	}
	return m[1]
}

func TestPlanFormOffersWhatIsThere(t *testing.T) {
	a, body := ask(t, "GET", serve(t, newFake(), "")+"/plan", "")
	if a.StatusCode != 200 || a.Header.Get("Content-Security-Policy") != policy {
		t.Fatal(a.Status, a.Header)
	}
	for _, s := range []string{`<option value="pantry"`, `<option value="gauge-a"`, `inputmode="decimal"`, `<option value="decorative-glass"`, "wheat and fruit beers 3.3–4.5"} {
		if !strings.Contains(body, s) {
			t.Errorf("the form has no %s", s)
		}
	}
	if strings.Contains(body, "<script>") || strings.Contains(body, "style=") {
		t.Error("what the policy forbids stands in the page")
	}
}

// TestPlanOnThePage: the numbers are those of the plan itself, commas are
// points, and what was typed stays.
func TestPlanOnThePage(t *testing.T) {
	status, _, body := post(t, serve(t, newFake(), ""), bucket())
	lot := model.Lot{ID: "x", Yeast: model.Ale, Beer: model.Beer{VolumeL: 19, OriginalGravity: 1.05, FinalGravity: 1.012, LimitGravity: 1.012, WarmestC: 20},
		TargetVolumes: 2.5, Bottles: []model.Bottles{{Kind: model.StandardGlass, VolumeML: 330, HeadspaceML: 13, Count: 57, RatedBar: 5}}, WorstCaseC: 30}
	p, err := plan.New(lot, plan.Site{RoomC: 19.5}) // the pantry, as warm as it is
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{p.First + ".", p.Sheet().Racks[0].Says, p.Notes[0], `value="19,0"`, `value="142.4"`, "spruce-tip-ale-second"} {
		if !strings.Contains(body, s) {
			t.Errorf("%d: no %q in\n%s", status, s, body)
		}
	}
}

func TestPlanOpensTheLot(t *testing.T) {
	f := newFake()
	base := serve(t, f, "")
	_, _, body := post(t, base, bucket())
	v := with(bucket(), "id", "spruce-tip-ale-second", "bottles[0].headspace_ml", "13", "do", "open", "seen", seen(t, body), "added", "142.4")
	status, location, body := post(t, base, v)
	if status != 303 || location != "/lots/spruce-tip-ale-second" {
		t.Fatalf("%d %s\n%s", status, location, body)
	}
	in, n := f.last()
	if n != 1 || in.Open == nil {
		t.Fatalf("%d inputs, %+v", n, in)
	}
	l := in.Open.Lot
	if !l.PackagedAt.Equal(now) || l.Space != "pantry" || len(l.Priming) != 1 || l.Priming[0].MassG != 142.4 || len(l.Check()) > 0 {
		t.Errorf("%+v: %v", l, l.Check())
	}
}

// TestPlanMustBeSeen: what differs from the plan that was looked at is shown
// before it is opened, and nothing is lost.
func TestPlanMustBeSeen(t *testing.T) {
	f := newFake()
	base := serve(t, f, "")
	_, _, body := post(t, base, bucket())
	v := with(bucket(), "do", "open", "seen", seen(t, body), "added", "285")
	status, _, body := post(t, base, v)
	if _, n := f.last(); status != 409 || n != 0 {
		t.Fatalf("%d, %d inputs", status, n)
	}
	for _, s := range []string{"different from the plan you saw", "HOLD.", "Act today", `value="285"`, "Open the lot only if its bottles are capped already"} {
		if !strings.Contains(body, s) {
			t.Errorf("no %q", s)
		}
	}
	v = with(bucket(), "do", "open", "seen", seen(t, body), "priming[0].mass_g", "285", "packaged_at", "2026-03-08T12:00")
	if status, _, body := post(t, base, v); status != 303 {
		t.Fatal(status, body)
	}
	in, _ := f.last()
	if l := in.Open.Lot; l.Priming[0].MassG != 285 || !l.PackagedAt.Equal(time.Date(2026, 3, 8, 11, 0, 0, 0, time.UTC)) {
		t.Errorf("%+v", l)
	}
}

// TestPlanFaults stand beside their fields, with what would be right.
func TestPlanFaults(t *testing.T) {
	base := serve(t, newFake(), "")
	for name, c := range map[string]struct{ field, value, says string }{
		"no number":        {"beer.volume_l", "about twenty", "give a number, such as 19.5"},
		"not a number":     {"beer.volume_l", "NaN", "give a number"},
		"missing":          {"beer.volume_l", "", "is missing or 0; give 0.1 to 20000 L"},
		"points":           {"beer.original_gravity", "1050", "give it as specific gravity, 1.05"},
		"degrees Plato":    {"beer.final_gravity", "3", "looks like degrees Plato"},
		"half a bottle":    {"bottles[0].count", "5.5", "give a whole number"},
		"no such kind":     {"bottles[0].kind", "bucket", "give one of standard-glass"},
		"half a row":       {"bottles[2].count", "12", "is missing"},
		"a bad name":       {"id", "Ale 1", "lower-case letters"},
		"no day":           {"packaged_at", "yesterday", "leave it empty for now"},
		"drops of no mass": {"priming[0].sugar", "drops", "is missing"},
		"far too warm":     {"worst_case_c", "99", "give 1 to 60 °C"},
		"a script":         {"name", "<script>alert(1)</script>", ""},
	} {
		status, _, body := post(t, base, with(bucket(), c.field, c.value))
		if name == "a script" {
			if status != 200 || strings.Contains(body, "<script>alert") {
				t.Errorf("%s: %d", name, status)
			}
			continue
		}
		if status != 422 || !strings.Contains(body, c.says) || !strings.Contains(body, "Please look at") || !strings.Contains(body, `class="problem"`) {
			t.Errorf("%s: %d, no %q", name, status, c.says)
		}
		if c.value != "" && c.field != "bottles[0].kind" && !strings.Contains(body, `value="`+c.value) {
			t.Errorf("%s: what was typed is lost", name)
		}
	}
	status, _, body := post(t, base, with(bucket(), "bottles[2].count", "12"))
	if status != 422 || !strings.Contains(body, `id="bottles[2].kind-wrong"`) || !strings.Contains(body, `id="bottles[2].volume_ml-wrong"`) {
		t.Error("the third row's faults don't stand in the third row")
	}
}

// TestPlanRefusals: what the daemon says of the lot stands in the form.
func TestPlanRefusals(t *testing.T) {
	f := newFake()
	base := serve(t, f, "")
	_, _, body := post(t, base, bucket())
	v := with(bucket(), "id", "spruce-tip-ale-second", "do", "open", "seen", seen(t, body))
	f.err = &LotFault{[]model.Fault{{Path: "space", Problem: "is pantry; there is no such space"}}}
	if status, _, body := post(t, base, v); status != 422 || !strings.Contains(body, "there is no such space") || !strings.Contains(body, `id="sheet"`) {
		t.Error(status)
	}
	f.err = fmt.Errorf("lot taken: %w", ErrConflict)
	if status, _, body := post(t, base, v); status != 409 || !strings.Contains(body, `id="id-wrong"`) {
		t.Error(status)
	}
}

func TestPlanIDIsFree(t *testing.T) {
	for name, want := range map[string]string{"Spruce tip 04": "spruce-tip-04-2", "Øl": "l", "": "lot-2026-03-08", strings.Repeat("very ", 30): strings.TrimSuffix(strings.Repeat("very-", 12), "-")[:58]} {
		f := &planForm{values: url.Values{"name": {name}}, faults: map[string]string{}, loc: time.UTC}
		if got := f.freeID(pantry()); got != strings.TrimRight(want, "-") {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}

// TestPlanGuarded: the same login and the same refusal of foreign pages.
func TestPlanGuarded(t *testing.T) {
	base := serve(t, newFake(), "correct horse")
	if a, _ := ask(t, "GET", base+"/plan", ""); a.StatusCode != 303 {
		t.Error(a.Status)
	}
	if a, _ := ask(t, "POST", base+"/api/v1/plan", "{}", "Content-Type", "application/json"); a.StatusCode != 401 {
		t.Error(a.Status)
	}
	if a, _ := ask(t, "POST", serve(t, newFake(), "")+"/plan", bucket().Encode(), "Content-Type", formType, "Origin", "http://elsewhere.example", "Sec-Fetch-Site", "cross-site"); a.StatusCode != 403 {
		t.Error(a.Status)
	}
}

func TestPlanAPI(t *testing.T) {
	base := serve(t, newFake(), "")
	lot := `{"id":"x","yeast":"ale","beer":{"volume_l":19,"original_gravity":1.05,"final_gravity":1.012,"warmest_c":20},"target_volumes":2.5,
		"bottles":[{"kind":"standard-glass","volume_ml":330,"headspace_ml":14,"count":57}],"worst_case_c":30}`
	a, body := ask(t, "POST", base+"/api/v1/plan", lot, "Content-Type", "application/json")
	var p plan.Plan
	if err := json.Unmarshal([]byte(body), &p); err != nil || a.StatusCode != 200 || len(p.Priming) != 1 || len(p.PerBottle) != 1 {
		t.Fatal(a.Status, body, err)
	}
	a, body = ask(t, "POST", base+"/api/v1/plan", strings.Replace(lot, "19", "-19", 1), "Content-Type", "application/json")
	if a.StatusCode != 422 || !strings.Contains(body, `"field":"beer.volume_l"`) {
		t.Error(a.Status, body)
	}
}

// opening is a fake daemon whose opened lots appear.
type opening struct{ *fake }

func (o opening) Do(ctx context.Context, in engine.Input) error {
	err := o.fake.Do(ctx, in)
	if in.Open != nil {
		v := pantry()
		l := lotNamed(in.Open.Lot.ID, in.Open.Lot.Name)
		l.Document, l.Estimate = in.Open.Lot, nil
		v.Lots = append(v.Lots, l)
		o.show(v)
	}
	return err
}

// TestPlanInBrowser fills the form on a phone, looks at the plan and opens the
// lot. With CONDITIOND_SHOTS it leaves pictures there.
func TestPlanInBrowser(t *testing.T) {
	ctx := browser(t)
	f := newFake()
	base := serve(t, opening{f}, "")
	shots := os.Getenv("CONDITIOND_SHOTS")
	look(t, ctx, base+"/plan", 1280, "dark", picture(shots, "plan-form", "/", 1280, "dark"))
	look(t, ctx, base+"/plan", 390, "light", picture(shots, "plan-form", "/", 390, "light"))
	fill := func(pairs ...string) {
		t.Helper()
		for i := 0; i < len(pairs); i += 2 {
			sel := chromedp.CSS(`[name="` + pairs[i] + `"]`)
			run(t, ctx, chromedp.SetValue(sel, pairs[i+1]))
		}
	}
	press := func(what string) {
		t.Helper()
		run(t, ctx, chromedp.Click(chromedp.CSS(`button[value="`+what+`"]`)))
	}
	shot := func(name string) {
		t.Helper()
		if wide := run(t, ctx, chromedp.Evaluate[int64](`document.documentElement.scrollWidth`)); wide > 390 {
			t.Errorf("%s: %d wide", name, wide)
		}
		if file := picture(shots, name, "/", 390, "light"); file != "" {
			if err := os.WriteFile(file, run(t, ctx, chromedp.FullScreenshot(100)), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	fill("name", "Phone ale", "beer.volume_l", "19", "beer.original_gravity", "1,050", "beer.final_gravity", "12", "bottles[0].count", "57")
	press("plan")
	wait(t, ctx, ".problem")
	shot("plan-fault")
	fill("beer.final_gravity", "1.012", "beer.limit_gravity", "1.012", "priming[0].mass_g", "285")
	press("plan")
	wait(t, ctx, ".sheet-hold")
	if first := run(t, ctx, chromedp.Text(chromedp.CSS(".sheet-first"))); !strings.HasPrefix(first, "HOLD. Act today") {
		t.Errorf("first line %q", first)
	}
	shot("plan-hold")
	fill("bottles[0].rated_bar", "5")
	run(t, ctx, chromedp.Evaluate[string](`document.getElementsByName("priming[0].mass_g")[0].value = ""`))
	press("plan")
	wait(t, ctx, "#sheet .sheet-checks")
	if first := run(t, ctx, chromedp.Text(chromedp.CSS(".sheet-first"))); !strings.HasPrefix(first, "For 19 L: 133") {
		t.Errorf("first line %q", first)
	}
	if top := run(t, ctx, chromedp.Evaluate[float64](`document.getElementById("sheet").getBoundingClientRect().top`)); top > 400 {
		t.Errorf("the plan begins %g pixels down the screen", top)
	}
	shot("plan-result")
	press("open")
	wait(t, ctx, "#lot")
	if at := run(t, ctx, chromedp.Evaluate[string](`location.pathname`)); at != "/lots/phone-ale" {
		t.Errorf("ended at %s", at)
	}
	shot("plan-opened")
	if in, n := f.last(); n != 1 || in.Open == nil || in.Open.Lot.Priming[0].MassG == 0 || len(in.Open.Lot.Check()) > 0 {
		t.Errorf("%d inputs, %+v", n, in.Open)
	}
}

func wait(t *testing.T, ctx context.Context, sel string) {
	t.Helper()
	soon, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	if err := chromedp.Do(soon, chromedp.WaitVisible(chromedp.CSS(sel))); err != nil {
		t.Fatalf("%s: %v", sel, err)
	}
}
