package web

import (
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/model"
)

// onHold is the pantry with a lot in which a bottle was measured that is out. The
// words are invented.
func onHold(v *engine.View) *engine.View {
	gas := model.Volumes(2.92)
	v.Lots[0].Hold = &alerts.Hold{Summary: "1 of 3 bottles measured is out, with 2.92 volumes.", Advice: "Measure six more.\nSomebody decides."}
	v.Lots[0].Notes = append(v.Lots[0].Notes, engine.NoteView{At: now, Text: "A bottle was measured: 2.92 volumes.", Volumes: &gas})
	return v
}

func TestPullByTheAPI(t *testing.T) {
	f := newFake()
	url := serve(t, f, "") + "/api/v1/lots/spruce-tip-04"
	if a, body := ask(t, "POST", url+"/note", `{"volumes":2.92,"text":"last crate"}`, "Content-Type", jsonType); a.StatusCode != 200 {
		t.Error(a.Status, body)
	}
	if in, _ := f.last(); in.Note == nil || in.Note.Volumes == nil || *in.Note.Volumes != 2.92 || in.Note.Bar != nil {
		t.Errorf("%+v", in)
	}
	if a, body := ask(t, "POST", url+"/note", `{"bar":2.1,"beer_c":0}`, "Content-Type", jsonType); a.StatusCode != 200 {
		t.Error(a.Status, body)
	}
	if in, _ := f.last(); *in.Note.Bar != 2.1 || *in.Note.BeerC != 0 || in.Note.Volumes != nil {
		t.Errorf("%+v", in)
	}
	f.err = &engine.Unfit{Field: "volumes", Value: "29.2", Right: "0 to 10"}
	if a, body := ask(t, "POST", url+"/note", `{"volumes":29.2}`, "Content-Type", jsonType); a.StatusCode != 400 || !strings.Contains(body, `{"field":"volumes","value":"29.2","detail":"0 to 10"}`) {
		t.Error(a.Status, body)
	}
	f.show(onHold(pantry()))
	if _, body := ask(t, http.MethodGet, url, ""); !strings.Contains(body, `"volumes":2.92`) || !strings.Contains(body, `"hold":{"summary":"1 of 3`) {
		t.Error(body)
	}
}

// What is filled in is in the units of who did it: 40 °F are 4.444 °C, 15 psi are
// 1.034 bar, 5 g/L are 5/1.977 volumes.
func TestPullByTheForm(t *testing.T) {
	f := newFake()
	url := serve(t, f, "") + "/lots/spruce-tip-04/note"
	for _, c := range []struct {
		form               string
		volumes, bar, warm float64 // 0 = none
	}{
		{"volumes=2%2C92&bar=&beer_c=&text=", 2.92, 0, 0},
		{"volumes=5&reader=gas%3Dg%2FL", 5 / 1.977, 0, 0},
		{"bar=15&beer_c=40&reader=pressure%3Dpsi%26temperature%3DdegF", 0, 1.034, 4.444},
	} {
		if a, body := ask(t, "POST", url, c.form, "Content-Type", formType); a.StatusCode != http.StatusSeeOther {
			t.Fatal(a.Status, body)
		}
		in, _ := f.last()
		if n := in.Note; !is((*float64)(n.Volumes), c.volumes) || !is((*float64)(n.Bar), c.bar) || !is((*float64)(n.BeerC), c.warm) {
			t.Errorf("%s: %+v", c.form, n)
		}
	}
	if a, body := ask(t, "POST", url, "volumes=much", "Content-Type", formType); a.StatusCode != 400 || !strings.Contains(body, "give a number") {
		t.Error(a.Status, body)
	}
}

func is(got *float64, want float64) bool {
	if want == 0 {
		return got == nil
	}
	return got != nil && math.Abs(*got-want) < 0.002
}

// A lot on hold says so in place of when it is ready, and why, unless an alert
// says that in the same words.
func TestHoldOnThePage(t *testing.T) {
	f := newFake()
	f.show(onHold(pantry()))
	url := serve(t, f, "")
	_, body := ask(t, http.MethodGet, url+"/lots/spruce-tip-04", "", "Cookie", readerCookie+"=gas=g%2FL")
	for _, want := range []string{"On hold until somebody decides", "on hold: see what was measured", "Measure six more.", "2.92 volumes (5.8\u00a0g/L)", "eye protection"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page doesn't say %q", want)
		}
	}
	v := onHold(pantry())
	v.Lots[0].Alerts = []alerts.Alert{{ID: "x", Lot: "spruce-tip-04", Name: alerts.OverCarbonation, Severity: alerts.Notice, State: alerts.Raised,
		Since: now, Time: now, Summary: v.Lots[0].Hold.Summary, Advice: v.Lots[0].Hold.Advice}}
	f.show(v)
	if _, body := ask(t, http.MethodGet, url+"/lots/spruce-tip-04", ""); strings.Count(body, `"first">Measure six more.`) != 1 {
		t.Error("it is said twice, or not at all")
	}
	if _, body := ask(t, http.MethodGet, url+"/", ""); !strings.Contains(body, "On hold") {
		t.Error("the first page doesn't say it")
	}
}

// What was measured stands in the record of a closed lot, in the reader's units.
func TestPullsInTheRecord(t *testing.T) {
	f := newFake()
	v := onHold(pantry())
	closed := now.Add(-time.Hour)
	v.Lots[0].ClosedAt, v.Lots[0].Hold = &closed, nil
	f.show(v)
	url := serve(t, f, "")
	if _, body := ask(t, http.MethodGet, url+"/records", ""); !strings.Contains(body, "<dt>Measured in bottles</dt><dd>2.92 volumes</dd>") {
		t.Error(body)
	}
	if _, body := ask(t, http.MethodGet, url+"/api/v1/records", ""); !strings.Contains(body, `"volumes":2.92`) {
		t.Error(body)
	}
}
