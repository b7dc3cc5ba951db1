package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// TestReplayOutput plays recordings and holds every line against the schema in
// testdata/schema; twice the same bytes. Two invented lots always; with
// CONDITIOND_RECORDINGS the folders there too.
func TestReplayOutput(t *testing.T) {
	schema, err := jsonschema.NewCompiler().Compile("../../testdata/schema/replay.json")
	if err != nil {
		t.Fatal(err)
	}
	var folders []string
	for _, family := range []string{"healthy-gauge", "healthy-no-gauge", "over-primed", "leak-start", "sensor-faults", "chilled"} {
		dir := t.TempDir()
		var out, errs bytes.Buffer
		if code := run([]string{"simulate", "--family", family, "--days", "16", "--out", dir}, nil, &out, &errs); code != done {
			t.Fatalf("simulate %s exits with %d: %s", family, code, &errs)
		}
		folders = append(folders, filepath.Join(dir, "invented-1-000"))
	}
	if more := os.Getenv("CONDITIOND_RECORDINGS"); more != "" {
		found, err := filepath.Glob(filepath.Join(more, "*", "lot.yaml"))
		if err != nil || len(found) == 0 {
			t.Fatalf("no recordings in %s (%v)", more, err)
		}
		for _, lot := range found {
			folders = append(folders, filepath.Dir(lot))
		}
	}
	for _, dir := range folders {
		t.Run(filepath.Base(dir), func(t *testing.T) { replayTwice(t, schema, dir) })
	}
}

func replayTwice(t *testing.T, schema *jsonschema.Schema, dir string) {
	first := playFolder(t, dir)
	if !bytes.Equal(first, playFolder(t, dir)) {
		t.Error("the second time it says something else")
	}
	estimates := 0
	for n, line := range bytes.Split(bytes.TrimSpace(first), []byte("\n")) {
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(line))
		if err == nil {
			err = schema.Validate(v)
		}
		if err != nil {
			t.Fatalf("line %d: %v\n%s", n+1, err, line)
		}
		if bytes.Contains(line, []byte(`"type":"estimate"`)) {
			estimates++
		}
	}
	if estimates < 24 {
		t.Errorf("only %d estimates", estimates)
	}
}

func playFolder(t *testing.T, dir string) []byte {
	t.Helper()
	var out, errs bytes.Buffer
	code := run([]string{"replay", "--config", filepath.Join(dir, "config.yaml"), "--lot", filepath.Join(dir, "lot.yaml"),
		filepath.Join(dir, "messages.ndjson.gz")}, nil, &out, &errs)
	if code != done {
		t.Fatalf("exits with %d: %s", code, &errs)
	}
	return out.Bytes()
}
