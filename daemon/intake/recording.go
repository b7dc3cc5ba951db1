package intake

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// ParseLine reads one recorded message, as the stock subscriber prints it with
// its JSON formats: a payload is a string, or JSON that stands for itself. The
// instant is UTC.
func ParseLine(line []byte) (time.Time, Message, error) {
	line = trim(line)
	if !json.Valid(line) || line[0] != '{' {
		return time.Time{}, Message{}, fmt.Errorf("%s is not a recorded message in JSON", shown(line))
	}
	var at, topic, length string
	var payload []byte
	var m Message
	for key, value := range members(line) {
		switch string(key) {
		case `"tst"`:
			at = text(value)
		case `"topic"`:
			topic = text(value)
		case `"retain"`:
			m.Retained = string(value) == "1" || string(value) == "true"
		case `"mid"`:
			id, _ := strconv.ParseUint(string(value), 10, 16) // 0 = none
			m.ID = uint16(id)
		case `"payloadlen"`:
			length = string(value)
		case `"payload"`:
			payload = value
		}
	}
	if topic == "" {
		return time.Time{}, Message{}, errors.New("a recorded message without a topic")
	}
	m.Topic, m.Payload = topic, recorded(payload, length)
	instant, err := parseTime(at)
	return instant, m, err
}

// recorded is the payload as it was sent. An empty one is recorded as null,
// and only its length tells it from the word null.
func recorded(value []byte, length string) []byte {
	switch {
	case string(value) == "null" && (length == "" || length == "0"):
		return nil
	case len(value) > 0 && value[0] == '"':
		return []byte(text(value))
	}
	return bytes.Clone(value)
}

// text of a valid JSON string; empty for any other value.
func text(value []byte) string {
	if value[0] != '"' {
		return ""
	}
	if bytes.IndexByte(value, '\\') < 0 {
		return string(value[1 : len(value)-1])
	}
	var s string
	if json.Unmarshal(value, &s) != nil {
		return ""
	}
	return s
}

// parseTime in every form that subscribers print: RFC 3339, an offset without
// a colon, and a Z before such an offset, where the offset holds.
func parseTime(s string) (time.Time, error) {
	layout := "2006-01-02T15:04:05Z0700"
	switch n := len(s); {
	case n > 6 && s[n-6] == 'Z':
		layout = "2006-01-02T15:04:05Z-0700"
	case strings.HasSuffix(s, "Z") || n > 3 && s[n-3] == ':':
		layout = time.RFC3339
	}
	at, err := time.Parse(layout, s)
	if err != nil {
		return time.Time{}, fmt.Errorf("tst %q is not a time like 2026-03-01T14:00:00Z", s)
	}
	return at.UTC(), nil
}
