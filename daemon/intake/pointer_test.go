package intake

import (
	"encoding/json"
	"testing"
)

// The examples of RFC 6901, section 5.
func TestPointersOfTheStandard(t *testing.T) {
	doc := []byte(`{"foo":["bar","baz"],"":0,"a/b":1,"c%d":2,"e^f":3,"g|h":4,"i\\j":5,"k\"l":6," ":7,"m~n":8}`)
	for text, want := range map[string]string{
		"": string(doc), "/foo": `["bar","baz"]`, "/foo/0": `"bar"`, "/": "0", "/a~1b": "1", "/c%d": "2",
		"/e^f": "3", "/g|h": "4", `/i\j`: "5", `/k"l`: "6", "/ ": "7", "/m~0n": "8",
		// and what isn't there
		"/foo/2": "", "/foo/-": "", "/foo/00": "", "/foo/+1": "", "/foo/x": "", "/Foo": "", "/foo/0/1": "", "/m~01n": "",
	} {
		p, err := parsePointer(text)
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		if got, err := p.find(doc); err != nil || string(got) != want {
			t.Errorf("%q: %s, %v; want %s", text, got, err, want)
		}
	}
	for _, bad := range []string{"foo", "/a~", "/a~2b", "/~~"} {
		if _, err := parsePointer(bad); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
}

// Where names are plain and come once, encoding/json must agree.
func FuzzPointer(f *testing.F) {
	f.Add([]byte(`{"a":[{"b":1}]}`), "a", "b")
	f.Add([]byte(` { "a\u0062" : { "" : "\"}" } , "c":[] } `), "ab", "")
	f.Fuzz(func(t *testing.T, doc []byte, first, second string) {
		var all map[string]json.RawMessage
		if !json.Valid(doc) || json.Unmarshal(doc, &all) != nil {
			return
		}
		got, err := pointer{first}.find(doc)
		want, there := all[first]
		if err != nil {
			return // the name comes twice
		}
		if (got != nil) != there || string(got) != string(want) {
			t.Errorf("%s at %q: %s, want %s", doc, first, got, want)
		}
		pointer{first, second}.find(doc)
		pointer{first, "0"}.find(doc)
	})
}
