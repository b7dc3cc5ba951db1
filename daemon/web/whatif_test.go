package web

import (
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"conditiond/model"
	"conditiond/model/estimate"
)

// soon is a lot of the fake's that an estimator has followed for two days at
// 16 °C.
func soon(f *fake) string {
	l := &f.view.Lots[0]
	e := estimate.New(estimate.Setup{Lot: l.Document, Station: model.Atmosphere, Thermometer: "air"})
	for h := range 48 {
		e.Observe(model.Reading{Sensor: "air", Quantity: model.Temperature, Value: 16, At: l.Document.PackagedAt.Add(time.Duration(h) * time.Hour)})
	}
	e.Advance(l.Document.PackagedAt.Add(48 * time.Hour))
	now := e.Estimate()
	l.Estimate, l.Prospect = &now, e.Prospect()
	return l.Document.ID
}

func TestWhatIfItStoodWarmer(t *testing.T) {
	f := newFake()
	id := soon(f)
	base := serve(t, f, "")
	r, body := ask(t, http.MethodGet, base+"/api/v1/lots/"+id+"/whatif?at=22", "")
	var a whatIfAnswer
	if err := json.Unmarshal([]byte(body), &a); err != nil || r.StatusCode != http.StatusOK {
		t.Fatal(r.Status, body, err)
	}
	if a.WhatIf == nil || !a.WhatIf.ReadyAt.P50.Before(*a.AsItIs.ReadyAt.P50) || a.WhatIf.PeakBar.P50 <= a.AsItIs.PeakBar.P50 {
		t.Errorf("at 22 °C instead of 16 it isn't ready sooner with more pressure: %s", body)
	}
	for _, q := range []string{"", "?at=warm", "?at=90", "?at=NaN", "?at=22&from=today", "?at=22&from=2026-03-02T00:00:00Z&until=2026-03-01T00:00:00Z"} {
		if r, body := ask(t, http.MethodGet, base+"/api/v1/lots/"+id+"/whatif"+q, ""); r.StatusCode != http.StatusBadRequest {
			t.Errorf("%q: %s %s", q, r.Status, body)
		}
	}
	if r, _ := ask(t, http.MethodGet, base+"/api/v1/lots/nobody/whatif?at=22", ""); r.StatusCode != http.StatusNotFound {
		t.Errorf("a lot that isn't there: %s", r.Status)
	}
}
