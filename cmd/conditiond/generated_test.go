package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"conditiond/daemon/mqtt/mosquittotest"
)

// TestGeneratedClient takes the description that a running daemon gives of its
// API, has it checked by a validator, has a client generated from it, and asks
// for the lots with that. Validator and generator are others' programs, in a
// module of their own: testdata/client.
func TestGeneratedClient(t *testing.T) {
	m := newClientModule(t)
	broker := mosquittotest.New(t)
	c := newCloset(t, broker.URL(), "")
	c.start()
	c.do("lot", "open", c.write("lot.yaml", inventedLot()))
	for _, bar := range []string{"5.011", "5.012", "5.013"} {
		publish(t, broker, "stairs/gauge-a", bar)
	}

	var description json.RawMessage
	c.get("/api/v1/openapi.json", &description)
	m.validates(description)
	m.must("tool", "oapi-codegen", "-generate", "types,client", "-package", "main", "-o", "generated.go", "openapi.json")

	var lots []lotSeen
	c.until("there is an estimate and an alert", func() bool {
		c.get("/api/v1/lots", &lots)
		return len(lots) == 1 && lots[0].Estimate.Phase != "" && len(lots[0].Alerts) > 0
	})
	var typed []lotTyped
	if err := json.Unmarshal(m.must("run", ".", "http://"+c.page), &typed); err != nil {
		t.Fatal(err)
	}
	if want := []lotTyped{lots[0].typed()}; !reflect.DeepEqual(typed, want) {
		t.Errorf("the generated client read %+v, the API says %+v", typed, want)
	}
	c.stop()
}

// lotSeen is a part of a lot as the contract names it.
type lotSeen struct {
	ID       string
	OpenedAt time.Time `json:"opened_at"`
	LimitBar float64   `json:"limit_bar"`
	Document struct {
		Beer struct {
			OriginalGravity float64 `json:"original_gravity"`
		}
		Bottles []struct{ Count int }
	}
	Estimate struct {
		CO2Volumes *struct{ P50 float64 } `json:"co2_volumes"` // not known in the first hour
		Phase      string
	}
	Alerts []struct{ Alert string }
}

// lotTyped is what testdata/client prints.
type lotTyped struct {
	ID       string
	Opened   time.Time
	Gravity  float64
	Bottles  int
	LimitBar float64
	Unknown  bool
	Phase    string
	Alerts   []string
}

func (l lotSeen) typed() lotTyped {
	x := lotTyped{ID: l.ID, Opened: l.OpenedAt, Gravity: l.Document.Beer.OriginalGravity, LimitBar: l.LimitBar,
		Bottles: l.Document.Bottles[0].Count, Unknown: l.Estimate.CO2Volumes == nil, Phase: l.Estimate.Phase}
	for _, a := range l.Alerts {
		x.Alerts = append(x.Alerts, a.Alert)
	}
	return x
}

// clientModule is a copy of testdata/client.
type clientModule struct {
	t   *testing.T
	dir string
}

// newClientModule skips where its modules can't be had and aren't demanded.
func newClientModule(t *testing.T) clientModule {
	t.Helper()
	m := clientModule{t, t.TempDir()}
	if err := os.CopyFS(m.dir, os.DirFS("testdata/client")); err != nil {
		t.Fatal(err)
	}
	if out, err := m.run("list", "-deps", "tool", "github.com/oapi-codegen/runtime"); err != nil {
		if strings.Contains(os.Getenv("CONDITIOND_REQUIRE"), "generator") {
			t.Fatalf("the generator is required: %v\n%s", err, out)
		}
		t.Skip("no modules of the generator on this machine")
	}
	return m
}

func (m clientModule) run(args ...string) ([]byte, error) {
	cmd := exec.Command("go", args...)
	cmd.Dir = m.dir
	cmd.Stderr = m.t.Output()
	return cmd.Output()
}

func (m clientModule) must(args ...string) []byte {
	m.t.Helper()
	out, err := m.run(args...)
	if err != nil {
		m.t.Fatalf("go %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return out
}

// validates a description, and wants the validator to see what is wrong with a
// spoiled one.
func (m clientModule) validates(description []byte) {
	m.t.Helper()
	spoiled := strings.Replace(string(description), `"#/components/schemas/Lot"`, `"#/components/schemas/Lost"`, 1)
	for name, text := range map[string]string{"openapi.json": string(description), "spoiled.json": spoiled} {
		if err := os.WriteFile(filepath.Join(m.dir, name), []byte(text), 0o600); err != nil {
			m.t.Fatal(err)
		}
	}
	m.must("tool", "validate", "openapi.json")
	if out, err := m.run("tool", "validate", "spoiled.json"); err == nil {
		m.t.Errorf("a reference to nothing is valid, too: the validator sees nothing\n%s", out)
	}
}
