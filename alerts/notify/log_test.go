package notify

import (
	"bytes"
	"log/slog"
	"strings"
	"testing"
)

func TestLogWrites(t *testing.T) {
	var out bytes.Buffer
	l := &Log{Logger: slog.New(slog.NewTextHandler(&out, nil))}
	if err := l.Notify(t.Context(), notice()); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"level=WARN", "lot=spruce-tip-04", "alert=over-pressure", "severity=danger", notice().Summary} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in %s", want, out.String())
		}
	}
}
