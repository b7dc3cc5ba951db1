package daemon

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"strconv"
	"strings"

	"gopkg.in/yaml.v3"
)

// A document is YAML, or JSON as its subset, read strictly. The decoder alone
// lets too much pass: .nan as a number, an empty value, a second document, 010
// as eight; and it knows no columns. So the tree is compared with the Go type
// first (document_shape.go); only a tree that fits is decoded.
type document struct {
	file     string
	places   map[string]place // by path
	faults   Faults
	warnings Faults
}

// place of a value; a mapping's or a list's is that of its key.
type place struct{ line, column int }

// largest document that is read, in bytes.
const largest = 1 << 20

// read all of a file; "-" is the standard input.
func readDocument(path string) ([]byte, error) {
	if path == "-" {
		return readLimited(os.Stdin)
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return readLimited(file)
}

func readLimited(r io.Reader) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(r, largest+1))
	if err == nil && len(data) > largest {
		return nil, fmt.Errorf("larger than %d bytes: is it the right file?", largest)
	}
	return data, err
}

// decode data into a pointer to a struct, over the defaults it holds. What
// doesn't fit is a fault; the rest is decoded all the same, so that it can be
// checked too.
func (d *document) decode(data []byte, out any) {
	d.places = map[string]place{}
	data = plainEscapes(data)
	root := d.parse(data)
	if root == nil {
		return
	}
	if !d.shape(root, out) {
		return
	}
	if err := root.Decode(out); err != nil && len(d.faults) == 0 {
		d.syntax(err)
	}
}

var jsonEscape = regexp.MustCompile(`\\(u[dD][89abAB]..\\u....|.)`)

// plainEscapes writes out the two escapes of JSON that YAML doesn't have: of the
// slash, and of letters beyond 16 bits in two halves.
func plainEscapes(data []byte) []byte {
	if !json.Valid(data) {
		return data
	}
	return jsonEscape.ReplaceAllFunc(data, func(escape []byte) []byte {
		var letter string
		if escape[1] != '/' && len(escape) == 2 || json.Unmarshal([]byte(`"`+string(escape)+`"`), &letter) != nil {
			return escape
		}
		return []byte(letter)
	})
}

// parse the one document in data; nil when a fault was found.
func (d *document) parse(data []byte) *yaml.Node {
	decoder := yaml.NewDecoder(bytes.NewReader(data))
	var first, second yaml.Node
	err := decoder.Decode(&first)
	if errors.Is(err, io.EOF) {
		d.at(place{1, 1}, "", "nothing in it")
		return nil
	}
	if err != nil {
		d.syntax(err)
		return nil
	}
	if err := decoder.Decode(&second); err == nil {
		d.at(place{second.Line, second.Column}, "", "a second document: a file holds one")
		return nil
	} else if !errors.Is(err, io.EOF) {
		d.syntax(err)
		return nil
	}
	return first.Content[0]
}

var yamlLine = regexp.MustCompile(`line (\d+): `)

// syntax reports what the decoder says, at the line that it says it of.
func (d *document) syntax(err error) {
	text := strings.TrimPrefix(err.Error(), "yaml: ")
	at := place{1, 1}
	if m := yamlLine.FindStringSubmatch(text); m != nil {
		at.line, _ = strconv.Atoi(m[1])
		text = strings.Replace(text, m[0], "", 1)
	}
	if strings.Contains(text, "cannot start any token") {
		text += "; a tab? YAML is indented with spaces"
	}
	d.at(at, "", "not readable as YAML: "+text)
}

func (d *document) at(p place, path, problem string, args ...any) {
	if len(args) > 0 {
		problem = fmt.Sprintf(problem, args...)
	}
	d.faults = append(d.faults, Fault{d.file, p.line, p.column, path, problem})
}

// fault of a value that has the right shape. What is reported already, of it,
// of what it stands in or of what stands in it, is enough.
func (d *document) fault(path, problem string, args ...any) {
	for _, f := range d.faults {
		if f.Path == "" || within(path, f.Path) || within(f.Path, path) {
			return
		}
	}
	d.at(d.find(path), path, problem, args...)
}

// within says whether the path is the outer one, or of something in it.
func within(path, outer string) bool {
	rest, ok := strings.CutPrefix(path, outer)
	return ok && (rest == "" || rest[0] == '.' || rest[0] == '[')
}

// warn of something that works but may surprise.
func (d *document) warn(path, problem string, args ...any) {
	p := d.find(path)
	d.warnings = append(d.warnings, Fault{d.file, p.line, p.column, path, fmt.Sprintf(problem, args...)})
}

// find a place by its path: of a key that isn't there, the place of what it is
// missing in.
func (d *document) find(path string) place {
	for path != "" {
		if p, ok := d.places[path]; ok {
			return p
		}
		path = path[:max(strings.LastIndexAny(path, ".["), 0)]
	}
	return place{1, 1}
}

// given says whether the document has the path.
func (d *document) given(path string) bool {
	_, ok := d.places[path]
	return ok
}

// result is all faults and warnings, in the order of lines.
func (d *document) result() (warnings Faults, err error) {
	d.faults.sort()
	d.warnings.sort()
	if len(d.faults) > 0 {
		err = d.faults
	}
	return d.warnings, err
}
