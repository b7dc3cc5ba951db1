package daemon

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"conditiond/alerts/notify"
	"conditiond/daemon/influx/influxdtest"
	"conditiond/daemon/journal"
	"conditiond/model/synth"
)

// dashboard as a test reads it.
type dashboard struct {
	UID        string
	Title      string
	Templating struct {
		List []struct{ Name, Type, Query string }
	}
	Panels []struct {
		ID         int
		Title      string
		Datasource dataSource
		Targets    []struct {
			Query      string
			Datasource dataSource
		}
	}
}

type dataSource struct{ Type, UID string }

func readDashboard(t *testing.T, kind string) dashboard {
	t.Helper()
	b, err := os.ReadFile("../deploy/grafana/dashboards/lots-" + kind + ".json")
	if err != nil {
		t.Fatal(err)
	}
	var d dashboard
	if err := json.Unmarshal(b, &d); err != nil {
		t.Fatal(err)
	}
	if d.UID == "" || d.Title == "" || len(d.Panels) == 0 {
		t.Fatalf("%s is no dashboard: %+v", kind, d)
	}
	return d
}

// TestDashboards plays the demo's lot that is over-pressured into a real
// InfluxDB and runs every query of the dashboards there, with the variables in
// place as Grafana puts them: each must give rows.
func TestDashboards(t *testing.T) {
	server := influxdtest.Start(t)
	from, to := demoInto(t, server)
	flux := strings.NewReplacer("${bucket}", server.Bucket, "${lot}", "demo-over", "v.timeRangeStart", from.Format(time.RFC3339),
		"v.timeRangeStop", to.Format(time.RFC3339), "v.windowPeriod", "6h")
	influxql := strings.NewReplacer("$lot", "demo-over", "$__interval", "6h",
		"$timeFilter", fmt.Sprintf("time >= '%s' AND time < '%s'", from.Format(time.RFC3339), to.Format(time.RFC3339)))
	for kind, rows := range map[string]func(string) int{
		"flux":     func(q string) int { return len(server.Query(t, flux.Replace(q))) },
		"influxql": func(q string) int { return countInfluxQL(t, server, influxql.Replace(q)) },
	} {
		d := readDashboard(t, kind)
		least := 80 // of 30 days by six hours
		for _, p := range d.Panels {
			if p.Title == "Alerts" {
				least = 1
			}
			for _, q := range p.Targets {
				n := rows(q.Query)
				if n < least {
					t.Errorf("%s, %s: %d rows", kind, p.Title, n)
				}
				t.Logf("%s, %s: %d rows", kind, p.Title, n)
			}
		}
		for _, v := range d.Templating.List {
			if v.Type == "query" && rows(v.Query) != 1 {
				t.Errorf("%s: not one %s", kind, v.Name)
			}
		}
	}
	if n := countInfluxQL(t, server, `SELECT "beer_f" FROM "estimate"`); n != 0 {
		t.Errorf("%d rows of what isn't there", n)
	}
}

// demoInto lives through a demo with one lot, mirrored into a server, and says
// from when to when it was.
func demoInto(t *testing.T, server *influxdtest.Server) (from, to time.Time) {
	t.Helper()
	t.Setenv("CONDITIOND_TEST_TOKEN", server.Token)
	m := Demo{Day: 50 * time.Millisecond, Listen: "127.0.0.1:0", Out: io.Discard}
	lot := synth.Demo(time.Now().UTC().Truncate(time.Hour).AddDate(0, 0, -2*demoDays))[1]
	lot.Interval = time.Hour
	stories := []story{{lot, lot.Play()}}
	c := m.config(t.TempDir(), stories)
	c.InfluxDB = &InfluxDB{URL: server.URL, Org: server.Org, Bucket: server.Bucket, TokenFile: notify.Secret("env:CONDITIOND_TEST_TOKEN")}
	packaged := stories[0].Lot.PackagedAt
	d, err := open(t.Context(), c, handAt(packaged.Add(-stories[0].Before)), journal.Open, quiet())
	if err != nil {
		t.Fatal(err)
	}
	if err := d.outside(t.Context()); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- m.play(ctx, d, stories) }()
	end := packaged.AddDate(0, 0, demoDays-1)
	f := d.followers[slices.IndexFunc(d.followers, func(f *Follower) bool { return f.Name == "influxdb" })]
	for start := time.Now(); d.View().Time.Before(end) || f.State().Behind > 0; time.Sleep(20 * time.Millisecond) {
		if time.Since(start) > 2*time.Minute {
			t.Fatalf("at %v, %+v", d.View().Time, f.State())
		}
	}
	cancel()
	if err := <-done; err != nil {
		t.Fatal(err)
	}
	return packaged, packaged.AddDate(0, 0, demoDays+1)
}

// countInfluxQL runs a question of InfluxQL and counts the rows.
func countInfluxQL(t *testing.T, server *influxdtest.Server, q string) (n int) {
	t.Helper()
	ask := server.URL + "/query?" + url.Values{"q": {q}, "db": {"conditioning"}}.Encode()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, ask, nil)
	if err != nil {
		t.Fatal(err)
	}
	user, password, _ := strings.Cut(server.Token, ":")
	r.SetBasicAuth(user, password)
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	var answer struct {
		Results []struct {
			Error  string
			Series []struct{ Values [][]any }
		}
	}
	if err := json.NewDecoder(a.Body).Decode(&answer); err != nil || len(answer.Results) != 1 || answer.Results[0].Error != "" {
		t.Fatalf("%s: %v %+v", q, err, answer)
	}
	for _, s := range answer.Results[0].Series {
		n += len(s.Values)
	}
	return n
}

// A dashboard names only the source that is provisioned for it, and no panel
// twice.
func TestDashboardsNameTheirSource(t *testing.T) {
	provisioned, err := os.ReadFile("../deploy/grafana/provisioning/datasources/conditiond.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, kind := range []string{"flux", "influxql"} {
		d, ids := readDashboard(t, kind), map[int]bool{}
		want := dataSource{"influxdb", "conditiond-" + kind}
		if !regexp.MustCompile(`(?m)^ +uid: ` + want.UID + `$`).Match(provisioned) {
			t.Errorf("%s isn't provisioned", want.UID)
		}
		for _, p := range d.Panels {
			if p.Datasource != want || p.Targets[0].Datasource != want || ids[p.ID] {
				t.Errorf("%s, %s: %+v", kind, p.Title, p)
			}
			ids[p.ID] = true
		}
	}
}
