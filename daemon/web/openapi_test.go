package web

import (
	"bytes"
	"encoding/json"
	"maps"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

// description is the OpenAPI document as a test reads it. In it every object is
// closed, so that a field that isn't described is a fault.
type description struct {
	compiler *jsonschema.Compiler
	paths    map[string]any
}

// described is compiled once: it is the same for all tests.
var described = sync.OnceValues(func() (*description, error) {
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(openapiDocument))
	if err != nil {
		return nil, err
	}
	closeObjects(v)
	d := &description{jsonschema.NewCompiler(), v.(map[string]any)["paths"].(map[string]any)}
	d.compiler.AssertFormat()
	return d, d.compiler.AddResource("openapi.json", v)
})

func closeObjects(v any) {
	switch v := v.(type) {
	case map[string]any:
		_, open := v["additionalProperties"]
		if _, ok := v["properties"].(map[string]any); ok && v["type"] == "object" && !open {
			v["additionalProperties"] = false
		}
		for _, x := range v {
			closeObjects(x)
		}
	case []any:
		for _, x := range v {
			closeObjects(x)
		}
	}
}

// isDescribed is a path that programs ask.
func isDescribed(path string) bool { return isAPI(&http.Request{URL: &url.URL{Path: path}}) }

// operation that answers a request; nil where there is none.
func (d *description) operation(method, path string) (template string, responses map[string]any) {
	for template, item := range d.paths {
		if o, ok := item.(map[string]any)[strings.ToLower(method)]; ok && matches(template, path) {
			return template, o.(map[string]any)["responses"].(map[string]any)
		}
	}
	return "", nil
}

func matches(template, path string) bool {
	t, p := strings.Split(template, "/"), strings.Split(path, "/")
	return slices.EqualFunc(t, p, func(a, b string) bool { return a == b || strings.HasPrefix(a, "{") && b != "" })
}

// describes holds an answer against the document: its status, its media type,
// its ETag and its body.
func describes(t *testing.T, r *http.Request, a *http.Response, body []byte) {
	t.Helper()
	if !isDescribed(r.URL.Path) {
		return
	}
	d, err := described()
	if err != nil {
		t.Fatal(err)
	}
	kind, _, _ := mime.ParseMediaType(a.Header.Get("Content-Type"))
	at := []string{"components", "responses", "Problem", "content", "application/problem+json", "schema"}
	template, responses := d.operation(r.Method, r.URL.EscapedPath())
	status := strconv.Itoa(a.StatusCode)
	if said, ok := responses[status]; ok {
		if d.told(t, r, a, said, kind) {
			return
		}
		at = []string{"paths", template, strings.ToLower(r.Method), "responses", status, "content", kind, "schema"}
	} else if a.StatusCode < 400 || kind != "application/problem+json" {
		t.Errorf("%s %s: %d %s is not described", r.Method, r.URL, a.StatusCode, kind)
		return
	}
	d.check(t, at, body)
}

// told looks at the headers, and says whether that is all there is to look at.
func (d *description) told(t *testing.T, r *http.Request, a *http.Response, said any, kind string) bool {
	t.Helper()
	if headers, ok := said.(map[string]any)["headers"].(map[string]any); ok && headers["ETag"] != nil && a.Header.Get("ETag") == "" {
		t.Errorf("%s %s: no ETag", r.Method, r.URL)
	}
	content, ok := said.(map[string]any)["content"].(map[string]any)
	if !ok {
		return true
	}
	if content[kind] == nil {
		t.Errorf("%s %s: %d with %q, which is not described", r.Method, r.URL, a.StatusCode, kind)
		return true
	}
	return kind != "application/json"
}

// check a body against the schema at a place in the document.
func (d *description) check(t *testing.T, at []string, body []byte) {
	t.Helper()
	for i, s := range at {
		at[i] = url.PathEscape(strings.NewReplacer("~", "~0", "/", "~1").Replace(s))
	}
	schema, err := d.compiler.Compile("openapi.json#/" + strings.Join(at, "/"))
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(body))
	if err == nil {
		err = schema.Validate(v)
	}
	if err != nil {
		t.Errorf("%v\nin %.2000s", err, body)
	}
}

// The document is OpenAPI 3.1 by the schema of those who wrote that standard.
func TestOpenAPIIsValid(t *testing.T) {
	schema, err := jsonschema.NewCompiler().Compile("../../testdata/schema/openapi-3.1.json")
	if err != nil {
		t.Fatal(err)
	}
	_, body := ask(t, http.MethodGet, serve(t, newFake(), "")+"/api/v1/openapi.json", "")
	v, err := jsonschema.UnmarshalJSON(strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if err := schema.Validate(v); err != nil {
		t.Error(err)
	}
	delete(v.(map[string]any), "info")
	if schema.Validate(v) == nil {
		t.Error("it is valid without its info, too: the schema sees nothing")
	}
}

// Every route for programs is described, and what is described is routed.
func TestOpenAPINamesEveryRoute(t *testing.T) {
	d, err := described()
	if err != nil {
		t.Fatal(err)
	}
	var routed, said []string
	s := Server{config: Config{Metrics: prometheus.NewRegistry()}}
	for pattern := range s.routes() {
		if _, path, _ := strings.Cut(pattern, " "); isDescribed(path) {
			routed = append(routed, pattern)
		}
	}
	for path, item := range d.paths {
		for method := range maps.Keys(item.(map[string]any)) {
			said = append(said, strings.ToUpper(method)+" "+path)
		}
	}
	slices.Sort(routed)
	slices.Sort(said)
	if !slices.Equal(routed, said) {
		t.Errorf("routed:    %q\ndescribed: %q", routed, said)
	}
}

// A check that can't fail proves nothing.
func TestOpenAPISeesFaults(t *testing.T) {
	d, err := described()
	if err != nil {
		t.Fatal(err)
	}
	schema, err := d.compiler.Compile("openapi.json#/components/schemas/Estimate")
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(pantry().Lots[0].Estimate)
	if err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(map[string]any){
		"nothing":            func(map[string]any) {},
		"a field more":       func(v map[string]any) { v["beer_f"] = 68 },
		"a field less":       func(v map[string]any) { delete(v, "phase") },
		"no time":            func(v map[string]any) { v["time"] = "yesterday" },
		"text for a number":  func(v map[string]any) { v["gauge_bar"] = "1.12" },
		"an unknown phase":   func(v map[string]any) { v["phase"] = "drunk" },
		"a chance above one": func(v map[string]any) { v["over_pressure"].(map[string]any)["probability"] = 1.2 },
	} {
		v := decoded(t, string(b))
		spoil(v)
		if err := schema.Validate(v); (err == nil) != (name == "nothing") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestETag(t *testing.T) {
	f := newFake()
	base := serve(t, f, "")
	for _, path := range []string{"/api/v1/lots", "/api/v1/lots/spruce-tip-04"} {
		f.show(pantry())
		first, _ := ask(t, http.MethodGet, base+path, "")
		tag := first.Header.Get("ETag")
		for _, sent := range []string{tag, strings.TrimPrefix(tag, "W/"), `"other", ` + tag, "*"} {
			if a, body := ask(t, http.MethodGet, base+path, "", "If-None-Match", sent); a.StatusCode != http.StatusNotModified || body != "" {
				t.Errorf("%s with %s: %s %s", path, sent, a.Status, body)
			}
		}
		f.show(inDanger(pantry()))
		if a, body := ask(t, http.MethodGet, base+path, "", "If-None-Match", tag); a.StatusCode != http.StatusOK || body == "" || a.Header.Get("ETag") == tag {
			t.Errorf("%s after a change: %s", path, a.Status)
		}
	}
}

// A full page of readings says where the next begins.
func TestReadingsNext(t *testing.T) {
	base := serve(t, newFake(), "")
	a, _ := ask(t, http.MethodGet, base+"/api/v1/readings?sensor=gauge-a&from=2026-03-01T00:00:00Z&limit=1", "")
	want := `</api/v1/readings?from=2026-03-08T19%3A00%3A00.000000001Z&limit=1&sensor=gauge-a>; rel="next"`
	if got := a.Header.Get("Link"); got != want {
		t.Errorf("a full page: %q, want %q", got, want)
	}
	for _, q := range []string{"&from=2026-03-01T00:00:00Z&limit=2", "&limit=1"} {
		if a, _ := ask(t, http.MethodGet, base+"/api/v1/readings?sensor=gauge-a"+q, ""); a.Header.Get("Link") != "" {
			t.Errorf("%s: %q", q, a.Header.Get("Link"))
		}
	}
}
