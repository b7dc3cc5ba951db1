package notify

import (
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
)

// An invented notice, in summer time of a zone an hour and more from UTC.
func notice() alerts.Message {
	return alerts.Message{
		ID:       "spruce-tip-04/over-pressure/7 phone",
		Time:     time.Date(2026, 7, 1, 14, 2, 0, 0, time.FixedZone("CEST", 2*3600)),
		Lot:      "spruce-tip-04",
		Alert:    alerts.OverPressure,
		Severity: alerts.Danger,
		State:    alerts.Raised,
		Summary:  "Spruce tip ale: the gauge bottle stands at 4.90 bar – rated 5.0.",
		Advice:   "Do not touch the bottles. Cool the room from outside it.",
	}
}

func TestSubject(t *testing.T) {
	for _, test := range []struct {
		name   string
		change func(*alerts.Message)
		want   string
	}{
		{"what to do", func(*alerts.Message) {}, "Do not touch the bottles – spruce-tip-04"},
		{"a sensor's", func(m *alerts.Message) { m.Lot, m.Sensor = "", "gauge-a" }, "Do not touch the bottles – gauge-a"},
		{"one sentence", func(m *alerts.Message) { m.Advice = "Wait." }, "Wait – spruce-tip-04"},
		{"no advice", func(m *alerts.Message) { m.Advice = "" }, "over-pressure – spruce-tip-04"},
		{"cleared", func(m *alerts.Message) { m.State = alerts.Cleared }, "No longer over-pressure: spruce-tip-04"},
		{"several", func(m *alerts.Message) {
			m.Alert, m.Summary = alerts.Several, "3 alerts, 1 still so.\n13:05: it leaks."
		}, "3 alerts, 1 still so"},
		{"a line end", func(m *alerts.Message) { m.Advice = "Wait\r\nBcc: all" }, "Wait – spruce-tip-04"},
		{"long", func(m *alerts.Message) { m.Advice = strings.Repeat("é", 200) }, strings.Repeat("é", 119) + "…"},
	} {
		t.Run(test.name, func(t *testing.T) {
			m := notice()
			test.change(&m)
			if got := Subject(m); got != test.want {
				t.Errorf("got %q, want %q", got, test.want)
			}
		})
	}
}

func TestBody(t *testing.T) {
	m := notice()
	if got, want := Body(m), "Do not touch the bottles.\n"+m.Summary+"\nCool the room from outside it."; got != want {
		t.Errorf("in time: got %q, want %q", got, want)
	}
	m.DelayedS = 3 * 3600
	if got, want := Body(m), "Do not touch the bottles.\nLate: this happened 14:02, 3 h ago. "+m.Summary+"\n"; !strings.HasPrefix(got, want) {
		t.Errorf("late: got %q, want it to begin %q", got, want)
	}
	m.Alert = alerts.Several
	if got, want := Body(m), "Do not touch the bottles.\nLate: the first of it happened 14:02, 3 h ago. "+m.Summary+"\n"; !strings.HasPrefix(got, want) {
		t.Errorf("several: got %q, want it to begin %q", got, want)
	}
	m.Advice = ""
	if got := Body(m); strings.HasPrefix(got, "\n") || strings.HasSuffix(got, "\n") {
		t.Errorf("without advice: %q", got)
	}
}

func TestHappened(t *testing.T) {
	for _, test := range []struct {
		delay time.Duration
		want  string
	}{
		{7 * time.Minute, "happened 14:02, 7 min ago"},
		{2*time.Hour + 55*time.Minute, "happened 14:02, 2 h 55 min ago"},
		{9*time.Hour + 58*time.Minute, "happened Wed 1 Jul 14:02, 9 h 58 min ago"},
		{27 * time.Hour, "happened Wed 1 Jul 14:02, 1 d 3 h ago"},
		{48 * time.Hour, "happened Wed 1 Jul 14:02, 2 d ago"},
		{365 * 24 * time.Hour, "happened Wed 1 Jul 14:02, 365 d ago"},
	} {
		if got := happened(notice().Time, test.delay); got != test.want {
			t.Errorf("%v: got %q, want %q", test.delay, got, test.want)
		}
	}
}
