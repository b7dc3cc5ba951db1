package intake

import (
	"testing"
	"time"
)

// The first three lines are what mosquitto_sub 2.0.11 prints with -F %j in
// Oslo, the next ones with -F %J; the others carry the forms of time of other
// versions.
func TestParseLine(t *testing.T) {
	for _, x := range []struct {
		line, at, topic, payload string
		retained                 bool
		id                       uint16
	}{
		{`{"tst":"2026-11-25T02:38:32.546687Z+0100","topic":"t/x","qos":1,"retain":0,"payloadlen":4,"mid":1,"payload":"18.4"}`,
			"2026-11-25T01:38:32.546687Z", "t/x", "18.4", false, 1},
		{`{"tst":"2026-11-25T02:38:32.574233Z+0100","topic":"t/x y\"z","qos":1,"retain":0,"payloadlen":0,"mid":10,"payload":null}`,
			"2026-11-25T01:38:32.574233Z", `t/x y"z`, "", false, 10},
		{`{"tst":"2026-11-25T02:38:32.580526Z+0100","topic":"t/r","qos":0,"retain":1,"payloadlen":9,"payload":"{\"t\":1e1}"}`,
			"2026-11-25T01:38:32.580526Z", "t/r", `{"t":1e1}`, true, 0},
		{`{"tst":"2026-11-25T01:38:32.553648Z+0000","topic":"t/x","qos":1,"retain":0,"payloadlen":22,"mid":3,"payload":{"a":18.4,"b":[1,2]}}`,
			"2026-11-25T01:38:32.553648Z", "t/x", `{"a":18.4,"b":[1,2]}`, false, 3},
		{`{"tst":"2026-11-25T01:38:32.568125Z+0000","topic":"t/x","qos":1,"retain":0,"payloadlen":4,"mid":8,"payload":null}`,
			"2026-11-25T01:38:32.568125Z", "t/x", "null", false, 8},
		{`{"tst":"2026-03-01T14:00:00.000000+0100","topic":"t","payload":18.4}`, "2026-03-01T13:00:00Z", "t", "18.4", false, 0},
		{`{"tst":"2026-03-01T14:00:00Z","topic":"t","payload":"x"}`, "2026-03-01T14:00:00Z", "t", "x", false, 0},
		{`{"tst":"2026-03-01T14:00:00+01:00","topic":"t","payload":true}`, "2026-03-01T13:00:00Z", "t", "true", false, 0},
		{`{"tst":"2026-03-01T14:00:00.5-0330","topic":"t","payload":""}`, "2026-03-01T17:30:00.5Z", "t", "", false, 0},
		{`{"tst":"2026-03-01T14:00:00+0000","topic":"t"}`, "2026-03-01T14:00:00Z", "t", "", false, 0},
	} {
		at, m, err := ParseLine([]byte(x.line))
		if err != nil {
			t.Errorf("%s: %v", x.line, err)
			continue
		}
		if got := at.Format(time.RFC3339Nano); got != x.at || at.Location() != time.UTC {
			t.Errorf("%s: at %s, want %s", x.line, got, x.at)
		}
		if m.Topic != x.topic || string(m.Payload) != x.payload || m.Retained != x.retained || m.ID != x.id {
			t.Errorf("%s: %+v", x.line, m)
		}
	}
}

func TestParseLineRefuses(t *testing.T) {
	for _, line := range []string{
		"", "18.4", "Error: Message payload is not valid JSON on topic t/x.",
		`{"tst":"2026-03-01T14:00:00Z","topic":"t","payload":"18.4"`,
		`{"tst":"2026-03-01T14:00:00Z","payload":"18.4"}`,
		`{"topic":"t","payload":"18.4"}`,
		`{"tst":"2026-03-01 14:00","topic":"t","payload":"18.4"}`,
		`{"tst":"2026-13-01T14:00:00Z","topic":"t","payload":"18.4"}`,
		`{"tst":1772373600,"topic":"t","payload":"18.4"}`,
		`{"tst":"2026-03-01T14:00:00Z","topic":"t","payload":"18.4"} {}`,
	} {
		if at, m, err := ParseLine([]byte(line)); err == nil {
			t.Errorf("%s: taken as %v %+v", line, at, m)
		}
	}
}

func FuzzParseLine(f *testing.F) {
	f.Add([]byte(`{"tst":"2026-11-25T02:38:32.546687Z+0100","topic":"t/x","qos":1,"retain":0,"payloadlen":4,"mid":1,"payload":"18.4"}`))
	f.Add([]byte(`{"tst":"2026-03-01T14:00:00Z","topic":"t","payload":{"a":[1]}}`))
	f.Fuzz(func(t *testing.T, line []byte) {
		at, m, err := ParseLine(line)
		if err == nil && (m.Topic == "" || at.Location() != time.UTC) {
			t.Errorf("%q: %v %+v", line, at, m)
		}
	})
}

func BenchmarkParseLine(b *testing.B) {
	line := []byte(`{"tst":"2026-11-25T02:38:32.546687Z+0100","topic":"closet/air","qos":1,"retain":0,"payloadlen":4,"mid":1,"payload":"18.4"}`)
	for b.Loop() {
		if _, _, err := ParseLine(line); err != nil {
			b.Fatal(err)
		}
	}
}
