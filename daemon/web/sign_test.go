package web

import (
	"net/http"
	"strings"
	"testing"

	"conditiond/alerts"
)

// TestSign: a danger leads to the sign for the door, which says all of it
// without a script.
func TestSign(t *testing.T) {
	f := newFake()
	f.view = inDanger(pantry())
	url := serve(t, f, "")
	if _, page := ask(t, http.MethodGet, url, ""); !strings.Contains(page, `href="/sign"`) {
		t.Error("the danger doesn't lead to the sign")
	}
	answer, page := ask(t, http.MethodGet, url+"/sign", "")
	if answer.StatusCode != http.StatusOK || strings.Contains(page, "<script") {
		t.Errorf("%s, with a script: %v", answer.Status, strings.Contains(page, "<script"))
	}
	for _, line := range append(alerts.Sign(), alerts.Household()...) {
		if !strings.Contains(page, strings.ReplaceAll(line, "'", "&#39;")) {
			t.Errorf("it doesn't say %q", line)
		}
	}
}
