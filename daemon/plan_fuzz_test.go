package daemon

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"conditiond/model"
	"conditiond/model/plan"
)

// FuzzPlan: any document is refused with faults that say where and why, or has a
// plan with only numbers in it, that can be printed. Nothing panics.
func FuzzPlan(f *testing.F) {
	for _, pattern := range []string{"../testdata/lots/cases/*.yaml", "../testdata/lots/good/*", "../testdata/lots/bad/*.yaml"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			f.Fatalf("%s: %v", pattern, err)
		}
		for _, path := range files {
			data, err := os.ReadFile(path)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data, 90.0, 19.0)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte, altitude, room float64) {
		lot, err := (*Config)(nil).parse("lot.yaml", data, plan.Check)
		if err != nil {
			if err.Error() == "" {
				t.Fatal("refused without a word")
			}
			return
		}
		p, err := plan.New(lot, plan.Site{AltitudeM: altitude, RoomC: model.Celsius(room)})
		if err != nil {
			return // of a site that isn't on earth
		}
		if _, err := json.Marshal(p); err != nil { // NaN and infinity don't marshal
			t.Fatal(err)
		}
		if p.First == "" || p.Text(40) == "" || p.HTML(new(bytes.Buffer)) != nil {
			t.Fatal("can't be printed")
		}
	})
}
