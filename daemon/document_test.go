package daemon

import (
	"encoding/json"
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"conditiond/model"
)

func TestBadLots(t *testing.T) {
	config, _, err := ReadConfig("../config.example.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, pattern := range []string{"../testdata/lots/bad/*.yaml", "../testdata/lots/bad/*.json"} {
		everyFile(t, pattern, func(t *testing.T, path string) {
			_, err := config.LoadLot(path)
			compareFaults(t, path, err)
		})
	}
}

func TestGoodLots(t *testing.T) {
	everyFile(t, "../testdata/lots/good/*", func(t *testing.T, path string) {
		lot, err := LoadLot(path)
		if err != nil {
			t.Fatal(err)
		}
		if want := time.Date(2026, 3, 1, 13, 0, 0, 0, time.UTC); lot.PackagedAt != want {
			t.Errorf("packaged at %v, want %v", lot.PackagedAt, want)
		}
		sameAsJSON(t, lot)
	})
}

// sameAsJSON: what is written as JSON is read back as the same document.
func sameAsJSON(t *testing.T, lot model.Lot) {
	data, err := json.Marshal(lot)
	if err != nil {
		t.Fatal(err)
	}
	back, err := ParseLot("lot.json", data)
	if err != nil {
		t.Fatal(err)
	}
	again, err := json.Marshal(back)
	if err != nil || string(again) != string(data) {
		t.Errorf("read back as %s, %v; want %s", again, err, data)
	}
}

func TestLotOfJSONEscapes(t *testing.T) {
	data, err := os.ReadFile("../testdata/lots/good/drops.json")
	if err != nil {
		t.Fatal(err)
	}
	lot, err := ParseLot("drops.json", []byte(strings.Replace(string(data), "Spruce", `\u0041\/\\/B`, 1)))
	if want := `A/\/B tip ale 🌲`; err != nil || lot.Name != want {
		t.Errorf("name %q, %v; want %q", lot.Name, err, want)
	}
}

func TestDocumentTooLarge(t *testing.T) {
	path := t.TempDir() + "/large.yaml"
	if err := os.WriteFile(path, make([]byte, largest+1), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := LoadLot(path); err == nil || !strings.Contains(err.Error(), "right file?") {
		t.Errorf("got %v", err)
	}
}

func TestMissingDocument(t *testing.T) {
	_, err := LoadLot("/nowhere/lot.yaml")
	if !errors.Is(err, os.ErrNotExist) {
		t.Errorf("got %v", err)
	}
}

func FuzzLot(f *testing.F) {
	for _, name := range []string{"good/full.yaml", "good/drops.json", "bad/number.yaml", "bad/unknown-key.yaml"} {
		data, err := os.ReadFile("../testdata/lots/" + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		lot, err := ParseLot("lot", data)
		checkFaults(t, data, err)
		if err == nil {
			sameAsJSON(t, lot)
		}
	})
}

// checkFaults: an error is a list of faults, each of them within the document.
func checkFaults(t *testing.T, data []byte, err error) {
	if err == nil {
		return
	}
	var faults Faults
	if !errors.As(err, &faults) || len(faults) == 0 {
		t.Fatalf("not a list of faults: %v", err)
	}
	for _, f := range faults {
		if f.Line < 1 || f.Column < 1 || f.Line > 2+strings.Count(string(data), "\n")+strings.Count(string(data), "\r") {
			t.Errorf("outside the document: %v", f)
		}
	}
}
