package intake

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
)

// ParseLine reads one recorded message, as the stock subscriber prints it with
// its JSON formats: a payload is a string, or JSON that stands for itself. The
// instant is UTC.
func ParseLine(line []byte) (time.Time, Message, error) {
	var l struct {
		At      string          `json:"tst"`
		Topic   string          `json:"topic"`
		Retain  int             `json:"retain"`
		Length  *int            `json:"payloadlen"`
		ID      uint16          `json:"mid"`
		Payload json.RawMessage `json:"payload"`
	}
	if err := json.Unmarshal(line, &l); err != nil {
		return time.Time{}, Message{}, fmt.Errorf("not a recorded message in JSON: %w", err)
	}
	if l.Topic == "" {
		return time.Time{}, Message{}, errors.New("a recorded message without a topic")
	}
	at, err := parseTime(l.At)
	if err != nil {
		return time.Time{}, Message{}, err
	}
	m := Message{Topic: l.Topic, Payload: recorded(l.Payload, l.Length), Retained: l.Retain != 0, ID: l.ID}
	return at, m, nil
}

// recorded is the payload as it was sent. An empty one is recorded as null,
// and only its length tells it from the word null.
func recorded(raw json.RawMessage, length *int) []byte {
	if bytes.Equal(raw, []byte("null")) && (length == nil || *length == 0) {
		return nil
	}
	var text string
	if len(raw) > 0 && raw[0] == '"' && json.Unmarshal(raw, &text) == nil {
		return []byte(text)
	}
	return raw
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
