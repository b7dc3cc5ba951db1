package intake

import (
	"bytes"
	"encoding/json"
	"errors"
	"iter"
	"strconv"
	"strings"
)

// pointer is a JSON pointer (RFC 6901), split and unescaped.
type pointer []string

// parsePointer of a configuration. Empty means the whole document.
func parsePointer(s string) (pointer, error) {
	if s == "" {
		return nil, nil
	}
	if s[0] != '/' {
		return nil, errors.New("a pointer begins with a slash, like /bme/temperature")
	}
	p := strings.Split(s[1:], "/")
	for i, token := range p {
		if rest := strings.NewReplacer("~0", "", "~1", "").Replace(token); strings.Contains(rest, "~") {
			return nil, errors.New("in a pointer, ~ is written ~0 and / within a name ~1")
		}
		p[i] = strings.NewReplacer("~0", "~", "~1", "/").Replace(token)
	}
	return p, nil
}

// find the value that p points at within a valid JSON document. Names are
// matched exactly, as encoding/json does not, and one that comes twice on the
// way is refused rather than guessed. Nil when there is nothing.
func (p pointer) find(doc []byte) ([]byte, error) {
	value := trim(doc)
	for _, token := range p {
		var err error
		switch {
		case len(value) > 0 && value[0] == '{':
			value, err = member(value, token)
		case len(value) > 0 && value[0] == '[':
			value = element(value, token)
		default:
			value = nil
		}
		if value == nil || err != nil {
			return nil, err
		}
	}
	return value, nil
}

// member of a valid object by its name.
func member(object []byte, name string) ([]byte, error) {
	var found []byte
	for key, value := range members(object) {
		if !isName(key, name) {
			continue
		}
		if found != nil {
			return nil, because(Ambiguous, "%q comes twice in one object", name)
		}
		found = value
	}
	return found, nil
}

// members of a valid object: quoted names with their values.
func members(object []byte) iter.Seq2[[]byte, []byte] {
	return func(yield func([]byte, []byte) bool) {
		rest := trim(object[1:])
		for rest[0] != '}' {
			key, after := cut(rest)
			value, next := cut(trim(trim(after)[1:])) // past the colon
			if !yield(key, value) {
				return
			}
			rest = afterComma(next)
		}
	}
}

// element of a valid array by its index in decimal, without leading zeros.
func element(array []byte, index string) []byte {
	n, err := strconv.Atoi(index)
	if err != nil || n < 0 || strconv.Itoa(n) != index {
		return nil
	}
	rest := trim(array[1:])
	for rest[0] != ']' {
		value, next := cut(rest)
		if n == 0 {
			return value
		}
		n--
		rest = afterComma(next)
	}
	return nil
}

// isName compares a quoted key with a name.
func isName(quoted []byte, name string) bool {
	if bytes.IndexByte(quoted, '\\') < 0 {
		return string(quoted[1:len(quoted)-1]) == name
	}
	var key string
	return json.Unmarshal(quoted, &key) == nil && key == name
}

// cut a valid text after the value that it begins with.
func cut(s []byte) (value, rest []byte) {
	end := 0
	switch s[0] {
	case '"':
		end = stringEnd(s)
	case '{', '[':
		end = nestedEnd(s)
	default:
		end = scalarEnd(s)
	}
	return s[:end], s[end:]
}

// stringEnd is the length of the string that s begins with.
func stringEnd(s []byte) int {
	for i := 1; ; i++ {
		switch s[i] {
		case '\\':
			i++
		case '"':
			return i + 1
		}
	}
}

// scalarEnd is the length of the number or word that s begins with.
func scalarEnd(s []byte) int {
	for i, c := range s {
		switch c {
		case ',', ']', '}', ' ', '\t', '\r', '\n':
			return i
		}
	}
	return len(s)
}

// nestedEnd is the length of the object or array that s begins with.
func nestedEnd(s []byte) int {
	depth := 0
	for i := 0; ; i++ {
		switch s[i] {
		case '"':
			i += stringEnd(s[i:]) - 1
		case '{', '[':
			depth++
		case '}', ']':
			if depth--; depth == 0 {
				return i + 1
			}
		}
	}
}

// afterComma is what follows a member: the next one, or the closing bracket.
func afterComma(s []byte) []byte {
	if s = trim(s); s[0] == ',' {
		return trim(s[1:])
	}
	return s
}

// trim the space that JSON allows before a value.
func trim(s []byte) []byte {
	for len(s) > 0 && (s[0] == ' ' || s[0] == '\t' || s[0] == '\r' || s[0] == '\n') {
		s = s[1:]
	}
	return s
}
