package web

import (
	"encoding/csv"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
)

// drunk is the pantry with a second, invented lot, that is closed: it was
// reckoned ready a day before somebody found it so.
func drunk() *engine.View {
	v := pantry()
	l := lotNamed("plum-porter-01", "=Plum porter")
	l.ChilledAt, l.ClosedAt = at(-1), at(-0.5)
	l.Estimate.ReadyAt = when(-5, -4, -3.5)
	l.Notes = []engine.NoteView{
		{At: now.AddDate(0, 0, -6), Text: "A bottle gushed", Saw: alerts.Gusher},
		{At: now.AddDate(0, 0, -3), Text: "One was opened: it is ready. Fine, \"dry\".", Saw: alerts.OpenedReady},
		{At: now.AddDate(0, 0, -2), Text: "One was opened: it is ready", Saw: alerts.OpenedReady},
		{At: *l.ClosedAt, Text: "Closed."},
	}
	unheard := lotNamed("cider-02", "")
	unheard.ClosedAt, unheard.Estimate, unheard.Notes = at(-9), nil, nil
	v.Lots = append(v.Lots, l, unheard)
	return v
}

func TestRecords(t *testing.T) {
	f := newFake()
	f.view = drunk()
	base := serve(t, f, "")
	_, body := ask(t, http.MethodGet, base+"/api/v1/records", "")
	var list []record
	if err := json.Unmarshal([]byte(body), &list); err != nil || len(list) != 2 {
		t.Fatal(err, body)
	}
	r := list[0]
	if r.Lot != "plum-porter-01" || r.Target != 2.5 || r.CO2Volumes.P50 != 1.85 || r.Bottles != 40 || !r.ReadyNotedAt.Equal(now.AddDate(0, 0, -3)) || *r.ReadyNotedD != 1 || len(r.Notes) != 4 {
		t.Errorf("%+v", r)
	}
	if u := list[1]; u.CO2Volumes != nil || u.ReadyAt != nil || u.ReadyNotedAt != nil || u.ChilledAt != nil {
		t.Errorf("of a lot that was never heard: %+v", u)
	}
}

func TestRecordsTable(t *testing.T) {
	f := newFake()
	f.view = drunk()
	a, body := ask(t, http.MethodGet, serve(t, f, "")+"/api/v1/records.csv", "")
	rows, err := csv.NewReader(strings.NewReader(body)).ReadAll() // as strict as RFC 4180
	if err != nil || len(rows) != 3 || !strings.HasPrefix(a.Header.Get("Content-Disposition"), "attachment") {
		t.Fatal(err, a.Header, body)
	}
	of := func(row int, name string) string { return rows[row][slices.Index(rows[0], name)] }
	for name, want := range map[string]string{"lot": "plum-porter-01", "name": "'=Plum porter", "target_volumes": "2.5", "co2_volumes_p50": "1.85",
		"priming": "142 g of dextrose", "ready_at_p50": now.AddDate(0, 0, -4).Format(time.RFC3339), "ready_noted_after_d": "1", "closed_at": "2026-03-08T07:00:00Z"} {
		if got := of(1, name); got != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	if !strings.Contains(of(1, "notes"), "Fine, \"dry\".") || of(2, "co2_volumes_p50") != "" || of(2, "ready_noted_at") != "" {
		t.Error(body)
	}
}

func TestRecordsPage(t *testing.T) {
	f := newFake()
	f.view = drunk()
	base := serve(t, f, "")
	_, body := ask(t, http.MethodGet, base+"/records", "")
	for _, want := range []string{"=Plum porter", "2.50 volumes, 142 g of dextrose", "1.85 volumes (1.78 to 1.93)", "Wed 4 Mar (Tue 3 Mar to Thu 5 Mar)",
		"Thu 5 Mar, 1 day after", "A bottle gushed", "cider-02", "nobody knows: nothing was heard", "nobody said", `href="/api/v1/records.csv"`} {
		if !strings.Contains(body, want) {
			t.Errorf("no %q", want)
		}
	}
	f.show(pantry())
	if _, body := ask(t, http.MethodGet, base+"/records", ""); !strings.Contains(body, "No lot is closed yet") {
		t.Error("an empty page teaches nothing")
	}
}
