package web

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/model"
)

// decoded reads a JSON answer into maps, as a script would.
func decoded(t *testing.T, body string) map[string]any {
	t.Helper()
	var v map[string]any
	if err := json.Unmarshal([]byte(body), &v); err != nil {
		t.Fatalf("%v in %s", err, body)
	}
	return v
}

func TestLots(t *testing.T) {
	url := serve(t, newFake(), "")
	a, body := ask(t, "GET", url+"/api/v1/lots", "")
	var lots []map[string]any
	if err := json.Unmarshal([]byte(body), &lots); err != nil || len(lots) != 1 {
		t.Fatal(err, body)
	}
	if a.StatusCode != 200 || a.Header.Get("Content-Type") != "application/json" || lots[0]["id"] != "spruce-tip-04" {
		t.Error(a.Status, a.Header, body)
	}
}

func TestLot(t *testing.T) {
	f := newFake()
	f.view = inDanger(pantry())
	_, body := ask(t, "GET", serve(t, f, "")+"/api/v1/lots/spruce-tip-04", "")
	lot := decoded(t, body)
	estimate := lot["estimate"].(map[string]any)
	if v := estimate["co2_volumes"].(map[string]any)["p50"]; v != 1.85 {
		t.Errorf("co2_volumes.p50 = %v", v)
	}
	if v := lot["document"].(map[string]any)["target_volumes"]; v != 2.5 {
		t.Errorf("document.target_volumes = %v", v)
	}
	if v := lot["alerts"].([]any)[0].(map[string]any)["alert"]; v != "over-pressure" {
		t.Errorf("alerts[0].alert = %v", v)
	}
}

func TestListsAreNeverNull(t *testing.T) {
	f := newFake()
	f.view = pantry()
	f.view.Lots[0].Notes, f.view.Lots[0].Alerts = nil, nil
	url := serve(t, f, "")
	if _, body := ask(t, "GET", url+"/api/v1/alerts", ""); strings.TrimSpace(body) != "[]" {
		t.Error(body)
	}
	if _, body := ask(t, "GET", url+"/api/v1/lots/spruce-tip-04", ""); !strings.Contains(body, `"alerts":[]`) || !strings.Contains(body, `"notes":[]`) {
		t.Error(body)
	}
}

func TestSeries(t *testing.T) {
	f := newFake()
	url := serve(t, f, "")
	_, body := ask(t, "GET", url+"/api/v1/lots/spruce-tip-04/series?from=2026-03-01T01:00:00%2B01:00&to=2026-03-08T00:00:00Z&points=200", "")
	s := decoded(t, body)
	if s["lot"] != "spruce-tip-04" || len(s["estimates"].([]any)) == 0 || len(s["pressure_bar"].([]any)) == 0 {
		t.Error(body)
	}
	if !f.asked[0].Equal(time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)) || f.limit != 200 {
		t.Error(f.asked, f.limit)
	}
}

func TestReadings(t *testing.T) {
	f := newFake()
	url := serve(t, f, "")
	_, body := ask(t, "GET", url+"/api/v1/readings?sensor=gauge-a", "")
	if body != `[{"time":"2026-03-08T19:00:00Z","sensor":"gauge-a","quantity":"pressure","pressure_bar":1.12}]`+"\n" {
		t.Error(body)
	}
	if f.limit != 1000 { // contract: the default
		t.Error("limit", f.limit)
	}
	if _, body := ask(t, "GET", url+"/api/v1/readings?sensor=pantry-air&limit=100000", ""); !strings.Contains(body, `"temperature_c":19.5`) || f.limit != 100000 {
		t.Error(body, f.limit)
	}
}

// TestFaultyQuestions: each names the field and what would be right.
func TestFaultyQuestions(t *testing.T) {
	url := serve(t, newFake(), "")
	for _, c := range []struct {
		path   string
		status int
		says   string
	}{
		{"/api/v1/readings", 400, `"field":"sensor"`},
		{"/api/v1/readings?sensor=nose", 404, `"value":"nose"`},
		{"/api/v1/readings?sensor=gauge-a&limit=100001", 400, "a whole number from 1 to 100000"},
		{"/api/v1/readings?sensor=gauge-a&limit=0", 400, `"value":"0"`},
		{"/api/v1/readings?sensor=gauge-a&from=yesterday", 400, "RFC 3339"},
		{"/api/v1/readings?sensor=gauge-a&from=2026-03-02T00:00:00Z&to=2026-03-01T00:00:00Z", 400, "later than from"},
		{"/api/v1/lots/none", 404, `"value":"none"`},
		{"/api/v1/lots/none/series", 404, `"value":"none"`},
		{"/api/v1/lots/spruce-tip-04/series?points=many", 400, `"field":"points"`},
		{"/api/v1/beer", 404, "/api/v1/beer"},
	} {
		a, body := ask(t, "GET", url+c.path, "")
		if a.StatusCode != c.status || !strings.Contains(body, c.says) || a.Header.Get("Content-Type") != "application/problem+json" {
			t.Errorf("%s: %s %s", c.path, a.Status, body)
		}
	}
}

func TestWrongMethod(t *testing.T) {
	a, body := ask(t, "DELETE", serve(t, newFake(), "")+"/api/v1/lots", "")
	if a.StatusCode != 405 || !strings.Contains(a.Header.Get("Allow"), "POST") || !strings.Contains(body, "DELETE") {
		t.Error(a.Status, a.Header, body)
	}
}

const jsonType = "application/json"

func TestOpenLot(t *testing.T) {
	f := newFake()
	url := serve(t, f, "")
	a, body := ask(t, "POST", url+"/api/v1/lots", `{"id":"cider-1","name":"Cider","target_volumes":2.2,"packaged_at":"2026-03-01T14:00:00+01:00"}`, "Content-Type", jsonType)
	in, _ := f.last()
	if a.StatusCode != 201 || a.Header.Get("Location") != "/api/v1/lots/cider-1" || in.Open == nil || in.Open.Lot.TargetVolumes != 2.2 {
		t.Errorf("%s %s %+v", a.Status, body, in)
	}
}

func TestLotRefused(t *testing.T) {
	f := newFake()
	url := serve(t, f, "")
	for _, c := range []struct {
		body   string
		err    error
		status int
		says   string
	}{
		{`{"id":"a","colour":"red"}`, nil, 400, `"field":"colour"`},
		{`{"id":"a","target_volumes":"lots"}`, nil, 400, `should be a number`},
		{`{"id":"a"} {}`, nil, 400, "more behind"},
		{"{\"id\":\n\"a\",}", nil, 400, "line 2"},
		{``, nil, 400, "EOF"},
		{`{"name":"` + strings.Repeat("x", maxBody) + `"}`, nil, 413, "65536"},
		{`{"id":"a"}`, &LotFault{[]model.Fault{{Path: "bottles[0].kind", Problem: "is tin"}, {Path: "yeast", Problem: "is missing"}}}, 422, `"field":"bottles[0].kind"`},
		{`{"id":"a"}`, fmt.Errorf("lot a is open already: %w", ErrConflict), 409, "lot a is open already"},
		{`{"id":"a"}`, fmt.Errorf("journal at /secret: full"), 500, "log says why"},
		{`{"id":"a"}`, context.DeadlineExceeded, 503, "in time"},
	} {
		f.err = c.err
		a, body := ask(t, "POST", url+"/api/v1/lots", c.body, "Content-Type", jsonType)
		if a.StatusCode != c.status || !strings.Contains(body, c.says) || strings.Contains(body, "secret") {
			t.Errorf("%.40s: %s %s", c.body, a.Status, body)
		}
	}
}

func TestDeeds(t *testing.T) {
	f := newFake()
	url := serve(t, f, "") + "/api/v1/lots/spruce-tip-04"
	if a, body := ask(t, "POST", url+"/note", `{"text":" a domed cap ","seen":"2026-03-08T10:00:00Z"}`, "Content-Type", jsonType); a.StatusCode != 200 {
		t.Error(a.Status, body)
	}
	if in, _ := f.last(); in.Note == nil || in.Note.Text != "a domed cap" || in.Note.Seen.Hour() != 10 {
		t.Errorf("%+v", in)
	}
	if a, body := ask(t, "POST", url+"/chill", ""); a.StatusCode != 200 || !strings.Contains(body, `"id":"spruce-tip-04"`) {
		t.Error(a.Status, body)
	}
	if in, _ := f.last(); in.Chill == nil || in.Chill.Lot != "spruce-tip-04" {
		t.Errorf("%+v", in)
	}
	if a, _ := ask(t, "POST", url+"/close", `{"text":"drunk"}`, "Content-Type", jsonType); a.StatusCode != 200 {
		t.Error(a.Status)
	}
	if in, _ := f.last(); in.Close == nil || in.Close.Text != "drunk" {
		t.Errorf("%+v", in)
	}
	if a, body := ask(t, "POST", url+"/note", `{"saw":"burst"}`, "Content-Type", jsonType); a.StatusCode != 200 {
		t.Error(a.Status, body)
	}
	if in, _ := f.last(); in.Note == nil || in.Note.Saw != alerts.Burst {
		t.Errorf("%+v", in)
	}
	if a, body := ask(t, "POST", url+"/note", `{"saw":"a ghost"}`, "Content-Type", jsonType); a.StatusCode != 400 || !strings.Contains(body, "domed-cap") {
		t.Error(a.Status, body)
	}
	if a, body := ask(t, "POST", url+"/note", `{"text":"  "}`, "Content-Type", jsonType); a.StatusCode != 400 || !strings.Contains(body, `"field":"text"`) {
		t.Error(a.Status, body)
	}
}

func TestShelve(t *testing.T) {
	f := newFake()
	f.view = inDanger(pantry())
	url := serve(t, f, "")
	a, body := ask(t, "POST", url+"/api/v1/alerts/over-pressure%2Fspruce-tip-04/shelve", `{"by":"Kim","until":"2026-03-08T12:00:00Z"}`, "Content-Type", jsonType)
	if in, _ := f.last(); a.StatusCode != 200 || in.Shelve == nil || in.Shelve.By != "Kim" || in.Shelve.Until.Day() != 8 {
		t.Errorf("%s %s: %+v", a.Status, body, in.Shelve)
	}
	if a, _ := ask(t, "POST", url+"/api/v1/alerts/x/shelve", ""); a.StatusCode < 400 {
		t.Errorf("without a time: %s", a.Status)
	}
}

func TestAcknowledge(t *testing.T) {
	f := newFake()
	f.view = inDanger(pantry())
	url := serve(t, f, "")
	_, body := ask(t, "GET", url+"/api/v1/alerts", "")
	var open []alerts.Alert
	if err := json.Unmarshal([]byte(body), &open); err != nil || len(open) != 1 {
		t.Fatal(err, body)
	}
	a, body := ask(t, "POST", url+"/api/v1/alerts/over-pressure%2Fspruce-tip-04/acknowledge", `{"by":"Kim"}`, "Content-Type", jsonType)
	if in, _ := f.last(); a.StatusCode != 200 || in.Acknowledge == nil || in.Acknowledge.Alert != open[0].ID || in.Acknowledge.By != "Kim" {
		t.Errorf("%s %s %+v", a.Status, body, in)
	}
	f.err = ErrNotFound
	if a, _ := ask(t, "POST", url+"/api/v1/alerts/none/acknowledge", ""); a.StatusCode != 404 {
		t.Error(a.Status)
	}
}

func TestHealth(t *testing.T) {
	f := newFake()
	f.health.Journal.Problem = "disk /dev/x full"
	url := serve(t, f, "a password")
	if a, _ := ask(t, "GET", url+"/healthz", ""); a.StatusCode != 200 {
		t.Error(a.Status)
	}
	if a, _ := ask(t, "GET", url+"/readyz", ""); a.StatusCode != 200 {
		t.Error(a.Status)
	}
	f.mu.Lock()
	f.health.Ready, f.health.Journal.OK = false, false
	f.mu.Unlock()
	if a, body := ask(t, "GET", url+"/readyz", ""); a.StatusCode != 503 || !strings.Contains(body, `"journalling":false`) || strings.Contains(body, "/dev/x") {
		t.Error(a.Status, body)
	}
}

func TestMetrics(t *testing.T) {
	a, body := ask(t, "GET", serve(t, newFake(), "")+"/metrics", "", "Accept", "application/openmetrics-text")
	if !strings.HasPrefix(a.Header.Get("Content-Type"), "application/openmetrics-text") || !strings.HasSuffix(body, "# EOF\n") {
		t.Error(a.Header, body)
	}
}

// TestEvents reads the stream as a script would, over a change.
func TestEvents(t *testing.T) {
	f := newFake()
	a, err := http.Get(serve(t, f, "") + "/api/v1/events")
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	if a.Header.Get("Content-Type") != "text/event-stream" {
		t.Error(a.Header)
	}
	lines := bufio.NewScanner(a.Body)
	await(t, lines, "event: estimate")
	await(t, lines, "event: change")
	v := pantry()
	v.Time = now.Add(time.Minute)
	f.show(inDanger(v))
	await(t, lines, "id: "+fmt.Sprint(v.Time.UnixMilli()))
	if got := await(t, lines, "event: "); got != "event: alert" {
		t.Error("after a change of the alerts only came", got)
	}
	if data := await(t, lines, "data: "); !strings.Contains(data, `"severity":"danger"`) {
		t.Error(data)
	}
}

// await reads on to a line that begins so.
func await(t *testing.T, lines *bufio.Scanner, begin string) string {
	t.Helper()
	for lines.Scan() {
		if strings.HasPrefix(lines.Text(), begin) {
			return lines.Text()
		}
	}
	t.Fatal("the stream ended before ", begin)
	return ""
}
