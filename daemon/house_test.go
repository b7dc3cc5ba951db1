package daemon

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// room is what a package may import of ours and of the outside (std is free
// unless the room is pure), and whether it is pure.
type room struct {
	pure    bool
	ours    []string
	outside []string
}

// house is the whole plan: a package that isn't here may not exist.
var house = map[string]room{
	"model":                     {pure: true},
	"model/estimate":            {pure: true, ours: []string{"model"}},
	"model/plan":                {pure: true, ours: []string{"model"}},
	"model/synth":               {pure: true, ours: []string{"model"}},
	"alerts":                    {pure: true, ours: []string{"model", "model/estimate"}},
	"alerts/notify":             {ours: []string{"alerts"}},
	"daemon/intake":             {pure: true, ours: []string{"model"}},
	"daemon/engine":             {pure: true, ours: []string{"alerts", "daemon/intake", "model", "model/estimate"}},
	"daemon/journal":            {outside: []string{"modernc.org/sqlite"}},
	"daemon/mqtt":               {ours: []string{"daemon/intake"}, outside: []string{"github.com/eclipse/paho.mqtt.golang", "github.com/mochi-mqtt/server/v2"}},
	"daemon/mqtt/mosquittotest": {},
	"daemon/probe":              {},
	"daemon/influx":             {outside: []string{"github.com/influxdata/influxdb-client-go/v2"}},
	"daemon/influx/influxdtest": {outside: []string{"github.com/influxdata/influxdb-client-go/v2"}},
	"daemon/raster":             {pure: true, outside: []string{"golang.org/x/image"}},
	"daemon/web":                {ours: []string{"alerts", "daemon/engine", "daemon/raster", "model", "model/estimate", "model/plan"}, outside: []string{"github.com/prometheus/client_golang", "golang.org/x/crypto"}},
	"daemon": {ours: []string{"alerts", "alerts/notify", "daemon/engine", "daemon/influx", "daemon/intake", "daemon/journal", "daemon/mqtt", "daemon/probe", "daemon/web", "model", "model/estimate", "model/plan", "model/synth"},
		outside: []string{"gopkg.in/yaml.v3", "github.com/robfig/cron/v3", "golang.org/x/sync", "github.com/prometheus/client_golang", "github.com/coreos/go-systemd/v22"}},
	"cmd/coverage":   {ours: []string{"daemon", "model", "model/estimate", "model/synth"}, outside: []string{"golang.org/x/sync/errgroup"}}, // a developers' tool
	"cmd/throughput": {outside: []string{"github.com/eclipse/paho.mqtt.golang"}},                                                            // a developers' tool
	"cmd/conditiond": {ours: []string{"daemon", "daemon/engine", "daemon/intake", "model", "model/plan", "model/synth"}, outside: []string{"github.com/spf13/cobra"}},
}

// impure is what a pure package has no business with.
var impure = []string{"os", "net", "log", "log/slog", "context", "sync", "sync/atomic", "net/http", "database/sql", "io/fs", "syscall"}

// nowhere are names that say nothing of what is inside.
var nowhere = []string{"util", "utils", "common", "types", "helpers", "misc"}

const module = "conditiond"

func TestHouse(t *testing.T) {
	for _, fault := range houseFaults(t, "..") {
		t.Error(fault)
	}
}

// A test that can't fail proves nothing: each rule is broken here on purpose.
func TestHouseFailsWhenBroken(t *testing.T) {
	for name, c := range map[string]struct{ file, text, want string }{
		"a clock in model":       {"model/x.go", "package model\nimport \"time\"\nvar _ = time.Now\n", "reads the clock"},
		"a goroutine in engine":  {"daemon/engine/x.go", "// Package engine.\npackage engine\nfunc f() { go f() }\n", "starts a goroutine"},
		"an init":                {"daemon/influx/x.go", "// Package influx.\npackage influx\nfunc init() {}\n", "has an init"},
		"a util package":         {"daemon/util/x.go", "// Package util.\npackage util\n", "says nothing"},
		"an unknown package":     {"daemon/cellar/x.go", "// Package cellar.\npackage cellar\n", "is not in the plan"},
		"files in model":         {"model/x.go", "// Package model.\npackage model\nimport _ \"os\"\n", "may not import os"},
		"an arrow back":          {"model/x.go", "// Package model.\npackage model\nimport _ \"conditiond/daemon\"\n", "may not import conditiond/daemon"},
		"a second paho":          {"daemon/web/x.go", "// Package web.\npackage web\nimport _ \"github.com/eclipse/paho.mqtt.golang\"\n", "may not import github.com/eclipse"},
		"no package comment":     {"daemon/influx/x.go", "package influx\n", "package comment"},
		"package without a page": {"model/synth/x.go", "// Package synth.\npackage synth\n", "DEVELOPERS.md"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, c.file)
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, []byte(c.text), 0o644); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, "DEVELOPERS.md"), nil, 0o644); err != nil {
				t.Fatal(err)
			}
			faults := houseFaults(t, dir)
			if !slices.ContainsFunc(faults, func(f string) bool { return strings.Contains(f, c.want) }) {
				t.Errorf("no fault with %q among %q", c.want, faults)
			}
		})
	}
}

// houseFaults reads a whole tree and says all that breaks the plan.
func houseFaults(t *testing.T, root string) []string {
	t.Helper()
	packages := map[string][]*ast.File{}
	set := token.NewFileSet()
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.IsDir() && d.Name() == "testdata" {
			return fs.SkipDir
		}
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		f, err := parser.ParseFile(set, path, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		dir, err := filepath.Rel(root, filepath.Dir(path))
		packages[filepath.ToSlash(dir)] = append(packages[filepath.ToSlash(dir)], f)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	var faults []string
	for dir, files := range packages {
		faults = append(faults, packageFaults(dir, files)...)
		if !strings.Contains(string(page), "`"+dir+"`") {
			faults = append(faults, dir+" is not named in DEVELOPERS.md")
		}
	}
	for _, m := range regexp.MustCompile("`((?:model|alerts|daemon|cmd)[a-z/]*)`").FindAllStringSubmatch(string(page), -1) {
		if _, ok := packages[m[1]]; !ok {
			faults = append(faults, "DEVELOPERS.md names "+m[1]+", which doesn't exist")
		}
	}
	slices.Sort(faults)
	return faults
}

func packageFaults(dir string, files []*ast.File) []string {
	var faults []string
	fault := func(format string, args ...any) { faults = append(faults, dir+" "+fmt.Sprintf(format, args...)) }
	plan, ok := house[dir]
	if !ok {
		fault("is not in the plan of the house")
	}
	if slices.Contains(nowhere, filepath.Base(dir)) {
		fault("has a name that says nothing")
	}
	comments := 0
	for _, f := range files {
		if f.Doc != nil {
			comments++
		}
		for _, i := range f.Imports {
			if path := strings.Trim(i.Path.Value, `"`); !plan.allows(path) {
				fault("may not import %s", path)
			}
		}
		faults = append(faults, codeFaults(dir, plan, f)...)
	}
	if comments != 1 {
		fault("needs one package comment, has %d", comments)
	}
	return faults
}

func (r room) allows(path string) bool {
	if ours, ok := strings.CutPrefix(path, module+"/"); ok {
		return slices.Contains(r.ours, ours)
	}
	if first, _, _ := strings.Cut(path, "/"); strings.Contains(first, ".") {
		return slices.ContainsFunc(r.outside, func(o string) bool { return path == o || strings.HasPrefix(path, o+"/") })
	}
	return !r.pure || !slices.Contains(impure, path)
}

func codeFaults(dir string, plan room, f *ast.File) []string {
	var faults []string
	ast.Inspect(f, func(n ast.Node) bool {
		switch x := n.(type) {
		case *ast.FuncDecl:
			if x.Name.Name == "init" && x.Recv == nil {
				faults = append(faults, dir+" has an init")
			}
		case *ast.GoStmt:
			if plan.pure {
				faults = append(faults, dir+" starts a goroutine")
			}
		case *ast.SelectorExpr:
			if p, ok := x.X.(*ast.Ident); ok && plan.pure && p.Name == "time" && slices.Contains([]string{"Now", "Since", "Until", "Sleep", "After", "Tick", "NewTimer", "NewTicker"}, x.Sel.Name) {
				faults = append(faults, dir+" reads the clock: time."+x.Sel.Name)
			}
		}
		return true
	})
	return faults
}
