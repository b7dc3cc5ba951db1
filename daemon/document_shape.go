package daemon

import (
	"encoding"
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"gopkg.in/yaml.v3"
)

// shape compares a tree with the type of *out, notes every place, reports all
// that doesn't fit and cuts it off. What is left can be decoded.
func (d *document) shape(root *yaml.Node, out any) (fits bool) {
	return d.value(root, reflect.TypeOf(out).Elem(), "")
}

// value is one node with all that stands in it.
func (d *document) value(n *yaml.Node, t reflect.Type, path string) (fits bool) {
	if !d.given(path) {
		d.places[path] = place{n.Line, n.Column}
	}
	kind := t.Kind()
	if kind == reflect.Pointer {
		return d.value(n, t.Elem(), path)
	}
	problem := ""
	switch {
	case n.Kind == yaml.AliasNode || n.Anchor != "" || n.Style&yaml.TaggedStyle != 0:
		problem = "anchors, aliases and tags are not read here: write it out"
	case n.Kind == yaml.ScalarNode && n.Tag == "!!null":
		problem = "empty: give it a value or take the line out"
	case isScalar(t):
		problem = misread(n, t)
	case kind == reflect.Slice && n.Kind != yaml.SequenceNode:
		problem = "must be a list, each entry after a dash"
	case kind == reflect.Slice:
		return d.list(n, t, path)
	case n.Kind != yaml.MappingNode:
		problem = "must hold keys with their values, " + keyList(t)
	default:
		d.mapping(n, t, path)
	}
	if problem != "" {
		d.at(d.find(path), path, "%s", problem)
	}
	return problem == ""
}

// list without one of its entries would number the others anew, so it fits as
// a whole or not at all.
func (d *document) list(n *yaml.Node, t reflect.Type, path string) (fits bool) {
	fits = true
	for i, item := range n.Content {
		fits = d.value(item, t.Elem(), fmt.Sprintf("%s[%d]", path, i)) && fits
	}
	return fits
}

// mapping is a struct, or a map whose keys are the person's names.
func (d *document) mapping(n *yaml.Node, t reflect.Type, path string) {
	seen := map[string]int{}
	var fitting []*yaml.Node
	for i := 0; i < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		if problem := misplaced(key, t, seen); problem != "" {
			d.at(place{key.Line, key.Column}, join(path, key.Value), "%s", problem)
			continue
		}
		seen[key.Value] = key.Line
		inner, _ := fieldType(t, key.Value)
		below := join(path, key.Value)
		if value.Kind != yaml.ScalarNode || value.Tag == "!!null" {
			d.places[below] = place{key.Line, key.Column}
		}
		if d.value(value, inner, below) {
			fitting = append(fitting, key, value)
		}
	}
	n.Content = fitting
}

// misplaced says why a key can't stand here; empty when it can.
func misplaced(key *yaml.Node, t reflect.Type, seen map[string]int) string {
	_, known := fieldType(t, key.Value)
	switch {
	case key.Kind != yaml.ScalarNode || key.Anchor != "" || key.Value == "":
		return "a key must be a plain word"
	case seen[key.Value] > 0:
		return fmt.Sprintf("given twice, first in line %d", seen[key.Value])
	case !known:
		return unknown(t, key.Value)
	}
	return ""
}

func join(path, name string) string {
	if path == "" && name != "" {
		return name
	}
	return path + "." + name
}

// unknown says what was probably meant.
func unknown(t reflect.Type, name string) string {
	keys := fieldNames(t)
	if slices.Contains(keys, name+"_file") {
		return fmt.Sprintf("a secret may not stand here: put it in a file and write %s_file: /path/of/it", name)
	}
	if digits.MatchString(name) {
		return "no key: a number has a point, not a comma"
	}
	if key := nearest(name, keys); key != "" {
		return "no such key: did you mean " + key + "?"
	}
	return "no such key: " + keyList(t)
}

func keyList(t reflect.Type) string {
	if t.Kind() == reflect.Map {
		return "a name of your own for each"
	}
	return "there are " + strings.Join(fieldNames(t), ", ")
}

func fieldType(t reflect.Type, name string) (reflect.Type, bool) {
	if t.Kind() == reflect.Map {
		return t.Elem(), true
	}
	for f := range t.Fields() {
		if key := yamlName(f); key == name && key != "-" {
			return f.Type, true
		}
	}
	return nil, false
}

func fieldNames(t reflect.Type) []string {
	var names []string
	for f := range t.Fields() {
		if key := yamlName(f); key != "-" {
			names = append(names, key)
		}
	}
	return names
}

func yamlName(f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("yaml"), ",")
	return name
}

// nearest of the keys, when it is near enough to be a slip of the pen.
func nearest(name string, keys []string) string {
	best, least := "", 1+max(1, len(name)/3)
	for _, key := range keys {
		if n := distance(strings.ToLower(name), key); n < least {
			best, least = key, n
		}
	}
	return best
}

// distance is the number of letters to change, add or drop (Levenshtein).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		corner := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := corner
			if a[i] != b[j] {
				change++
			}
			corner = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

var (
	textType     = reflect.TypeFor[encoding.TextUnmarshaler]()
	durationType = reflect.TypeFor[time.Duration]()
	timeType     = reflect.TypeFor[time.Time]()
)

func isScalar(t reflect.Type) bool {
	switch t.Kind() {
	case reflect.String, reflect.Float64, reflect.Int, reflect.Int64:
		return true
	}
	return reflect.PointerTo(t).Implements(textType)
}

// misread says why a text is none of the type; empty when it is one.
func misread(n *yaml.Node, t reflect.Type) string {
	problem := ""
	switch {
	case n.Kind != yaml.ScalarNode:
		return "must be a single value"
	case t == durationType:
		if _, err := time.ParseDuration(n.Value); err != nil {
			problem = "must be a time with its unit, such as 90s, 5m or 1h30m"
		}
	case t == timeType:
		if _, err := time.Parse(time.RFC3339, n.Value); err != nil {
			problem = "must be a date and time with its zone, such as 2026-03-01T14:00:00+01:00"
		}
	case t.Kind() == reflect.Float64:
		problem = number(n, decimal, "a number")
	case t.Kind() == reflect.Int:
		problem = number(n, whole, "a whole number")
	}
	if problem == "" {
		return ""
	}
	return brief(n.Value) + ": " + problem
}

var (
	decimal = regexp.MustCompile(`^[-+]?(0|[1-9]\d*|)(\.\d*)?([eE][-+]?\d{1,3})?$`)
	whole   = regexp.MustCompile(`^[-+]?(0|[1-9]\d{0,8})$`)
	digits  = regexp.MustCompile(`^\d+$`)
	comma   = regexp.MustCompile(`^[-+]?\d+,\d+$`)
	special = regexp.MustCompile(`(?i)^[-+]?\.?(nan|inf|infinity)$`)
	padded  = regexp.MustCompile(`^[-+]?0\d+(\.\d*)?$`)
)

// number says why a text isn't of the form.
func number(n *yaml.Node, form *regexp.Regexp, what string) string {
	text := n.Value
	_, err := strconv.ParseFloat(text, 64)
	switch {
	case comma.MatchString(text):
		return fmt.Sprintf("must be %s, with a point: %s", what, strings.Replace(text, ",", ".", 1))
	case special.MatchString(text) || errors.Is(err, strconv.ErrRange):
		return fmt.Sprintf("must be %s that can be measured", what)
	case padded.MatchString(text):
		return fmt.Sprintf("must be %s without leading zeros", what)
	case !form.MatchString(text) || err != nil:
		return "must be " + what
	case n.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle|yaml.LiteralStyle|yaml.FoldedStyle) != 0:
		return fmt.Sprintf("must be %s without quotes", what)
	}
	return ""
}

// brief is a value as it is shown in a fault.
func brief(text string) string {
	const most = 60
	if runes := []rune(text); len(runes) > most {
		text = string(runes[:most]) + "…"
	}
	return strconv.Quote(text)
}
