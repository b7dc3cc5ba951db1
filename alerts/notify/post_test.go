package notify

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
)

// received is what a stub server was sent.
type received struct {
	method, path string
	header       http.Header
	body         []byte
}

// server answers everything with a status and a body, and keeps what it gets.
func server(t *testing.T, status int, header, body string) (*httptest.Server, *[]received) {
	var got []received
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		text, _ := io.ReadAll(r.Body)
		got = append(got, received{r.Method, r.URL.RequestURI(), r.Header.Clone(), text})
		if name, value, ok := strings.Cut(header, ": "); ok {
			w.Header().Set(name, value)
		}
		w.WriteHeader(status)
		io.WriteString(w, body)
	}))
	t.Cleanup(s.Close)
	return s, &got
}

func webhook(t *testing.T, url string) *Webhook { return &Webhook{URLFile: secretFile(t, url+"\n")} }

func TestWebhookSends(t *testing.T) {
	s, got := server(t, http.StatusNoContent, "", "")
	m := notice()
	m.DelayedS = 90
	for range 2 { // a retry
		if err := webhook(t, s.URL+"/hook/"+token+"?a=b").Notify(t.Context(), m); err != nil {
			t.Fatal(err)
		}
	}
	const want = `{"id":"spruce-tip-04/over-pressure/7 phone","time":"2026-07-01T12:02:00Z","lot":"spruce-tip-04",` +
		`"alert":"over-pressure","severity":"danger","state":"raised",` +
		`"summary":"Spruce tip ale: the gauge bottle stands at 4.90 bar – rated 5.0.",` +
		`"advice":"Do not touch the bottles. Cool the room from outside it.","delayed_s":90}`
	for _, r := range *got {
		if string(r.body) != want {
			t.Errorf("body %s, want %s", r.body, want)
		}
		if r.method != "POST" || r.path != "/hook/"+token+"?a=b" || r.header.Get("Content-Type") != "application/json" || r.header.Get("Idempotency-Key") != m.ID {
			t.Errorf("got %+v", r)
		}
	}
	if len(*got) != 2 {
		t.Errorf("%d requests", len(*got))
	}
}

// A notice of several is one request, with each of them in it, times in UTC.
func TestWebhookSendsSeveral(t *testing.T) {
	s, got := server(t, http.StatusNoContent, "", "")
	one := notice()
	m := alerts.Message{ID: "several." + one.ID, Time: one.Time, Alert: alerts.Several, Severity: alerts.Warning, State: alerts.Raised,
		Summary: "2 alerts", DelayedS: 7200, Merged: []alerts.Message{one, one}}
	if err := webhook(t, s.URL).Notify(t.Context(), m); err != nil || len(*got) != 1 {
		t.Fatal(err, len(*got))
	}
	var back alerts.Message
	if err := json.Unmarshal((*got)[0].body, &back); err != nil || len(back.Merged) != 2 || back.Merged[1].ID != one.ID || back.Alert != "several" {
		t.Errorf("%v, %s", err, (*got)[0].body)
	}
	if strings.Contains(string((*got)[0].body), "+02:00") || m.Merged[0].Time.Location() == time.UTC {
		t.Errorf("times in %s", (*got)[0].body)
	}
}

// Which answers are final, and how long to wait: RFC 9110 15 and 10.2.3.
func TestWebhookAnswers(t *testing.T) {
	for _, test := range []struct {
		status    int
		header    string
		permanent bool
		wait      time.Duration
	}{
		{302, "Location: /elsewhere", false, 0},
		{400, "", true, 0},
		{401, "", false, 0},
		{403, "", false, 0},
		{404, "", true, 0},
		{408, "", false, 0},
		{410, "", true, 0},
		{413, "", true, 0},
		{425, "", false, 0},
		{429, "Retry-After: 120", false, 2 * time.Minute},
		{429, "Retry-After: 99999999", false, time.Hour},
		{500, "", false, 0},
		{503, "Retry-After: -5", false, 0},
		{503, "Retry-After: soon", false, 0},
		{503, "Retry-After: Wed, 21 Oct 2015 07:28:00 GMT", false, 0},
	} {
		s, got := server(t, test.status, test.header, token)
		err := webhook(t, s.URL+"/"+token).Notify(t.Context(), notice())
		e, ok := errors.AsType[*Error](err)
		if !ok || e.Permanent != test.permanent || e.RetryAfter != test.wait {
			t.Errorf("%d %s: got %+v", test.status, test.header, e)
		}
		if len(*got) != 1 {
			t.Errorf("%d: %d requests", test.status, len(*got))
		}
		silent(t, err)
	}
}

func TestRetryAfterDate(t *testing.T) {
	wait := retryAfter(time.Now().Add(10 * time.Minute).UTC().Format(http.TimeFormat))
	if wait < 9*time.Minute || wait > 10*time.Minute {
		t.Errorf("got %v", wait)
	}
}

// dead are servers that don't answer; none of them is a reason to give up.
func TestWebhookUnreachable(t *testing.T) {
	closed := httptest.NewServer(nil)
	closed.Close()
	release := make(chan struct{})
	hangs := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { <-release }))
	defer hangs.Close()
	defer close(release)
	for name, w := range map[string]*Webhook{
		"refused":   webhook(t, closed.URL+"/"+token),
		"hangs":     webhook(t, hangs.URL+"/"+token),
		"no URL":    webhook(t, token),
		"bad URL":   webhook(t, "https://hook.invalid/%zz"+token),
		"bad port":  webhook(t, "https://hook.invalid:"+token+"/"),
		"scheme":    webhook(t, "ftp://hook.invalid/"+token),
		"no secret": {URLFile: "/nowhere/hook"},
	} {
		t.Run(name, func(t *testing.T) {
			ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
			defer cancel()
			err := w.Notify(ctx, notice())
			if e, ok := errors.AsType[*Error](err); !ok || e.Permanent {
				t.Errorf("got %#v", err)
			}
			silent(t, err)
		})
	}
}

func ntfy(t *testing.T, url string) *Ntfy { return &Ntfy{URL: url, TokenFile: secretFile(t, token)} }

// The fields, priorities 1 to 5 and the root address are ntfy's:
// docs.ntfy.sh/publish, "Publish as JSON".
func TestNtfyPublishes(t *testing.T) {
	for _, test := range []struct {
		name     string
		severity alerts.Severity
		state    alerts.State
		priority int
		tag      string
	}{
		{"danger", alerts.Danger, alerts.Raised, 5, "rotating_light"},
		{"warning", alerts.Warning, alerts.Raised, 4, "warning"},
		{"notice", alerts.Notice, alerts.Raised, 3, "information_source"},
		{"cleared", alerts.Danger, alerts.Cleared, 3, "information_source"},
	} {
		t.Run(test.name, func(t *testing.T) {
			s, got := server(t, 200, "", `{"id":"abc","event":"message"}`)
			m := notice()
			m.Severity, m.State = test.severity, test.state
			if err := ntfy(t, s.URL+"/push/closet").Notify(t.Context(), m); err != nil {
				t.Fatal(err)
			}
			r := (*got)[0]
			if r.path != "/push/" || r.header.Get("Authorization") != "Bearer "+token {
				t.Errorf("got %+v", r)
			}
			var p publication
			if err := json.Unmarshal(r.body, &p); err != nil {
				t.Fatal(err)
			}
			if p.Topic != "closet" || p.Title != Subject(m) || p.Message != Body(m) || p.Priority != test.priority || p.Tags[0] != test.tag {
				t.Errorf("got %+v", p)
			}
		})
	}
}

func TestNtfyLongText(t *testing.T) {
	m := notice()
	m.Summary = strings.Repeat("é", 5000)
	p := publish("closet", m)
	if len(p.Message) > 4096 || !strings.HasSuffix(p.Message, "é…") {
		t.Errorf("%d bytes, ending %q", len(p.Message), p.Message[len(p.Message)-8:])
	}
}

func TestNtfyFails(t *testing.T) {
	portal, _ := server(t, 200, "", "<html>Welcome to the guest network</html>")
	forbids, _ := server(t, 403, "", token)
	gone, _ := server(t, 404, "", token)
	for _, test := range []struct {
		name, url string
		permanent bool
	}{
		{"log-in page", portal.URL + "/closet-" + token, false},
		{"wrong token", forbids.URL + "/closet-" + token, false},
		{"no such place", gone.URL + "/closet-" + token, true},
		{"no topic", portal.URL, false},
		{"no URL", token, false},
	} {
		t.Run(test.name, func(t *testing.T) {
			err := ntfy(t, test.url).Notify(t.Context(), notice())
			if e, ok := errors.AsType[*Error](err); !ok || e.Permanent != test.permanent {
				t.Errorf("got %#v", err)
			}
			silent(t, err)
		})
	}
}
