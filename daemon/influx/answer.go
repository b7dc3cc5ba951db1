package influx

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// Error is why points could not be written. It holds no secret.
type Error struct {
	Status    int  // of the server's answer; 0 = there was none
	Unhealthy bool // a person must look: it will hardly pass by itself

	text       string
	refused    bool // these points, or one of them, for good
	tooOld     int  // how many are older than the bucket keeps; the others are written
	retryAfter time.Duration
}

func (e *Error) Error() string { return e.text }

// RetryAfter is when to try again at the earliest; 0 = not told.
func (e *Error) RetryAfter() time.Duration { return e.retryAfter }

// whileUnhealthy: a token that is refused isn't tried all the time.
const whileUnhealthy = 5 * time.Minute

// doubter sends the client's requests and believes only one answer to be a
// success: 204 without content, which every InfluxDB gives and a login page, a
// proxy or a wrong server does not.
type doubter struct {
	client *http.Client
	token  string
}

func (d doubter) Do(r *http.Request) (*http.Response, error) {
	answer, err := d.client.Do(r)
	if err != nil {
		return nil, &Error{text: "InfluxDB can't be reached: " + d.clean(err.Error())}
	}
	if answer.StatusCode == http.StatusNoContent {
		return answer, nil
	}
	defer answer.Body.Close()
	body, _ := io.ReadAll(io.LimitReader(answer.Body, 4096)) // what there is of it will do
	e := judge(answer, reason(answer.Header, body))
	e.text = d.clean(e.text)
	return nil, e
}

// clean keeps a server that repeats the token from spreading it, and a long
// text from filling the page.
func (d doubter) clean(text string) string {
	if d.token != "" {
		text = strings.ReplaceAll(text, d.token, "…")
	}
	text = strings.Join(strings.Fields(text), " ")
	if len(text) > 400 {
		text = strings.ToValidUTF8(text[:400], "") + "…"
	}
	return text
}

func judge(answer *http.Response, why string) *Error {
	e := &Error{Status: answer.StatusCode, text: fmt.Sprintf("InfluxDB answers %s: %s", answer.Status, why)}
	switch code := answer.StatusCode; {
	case strings.Contains(why, "beyond retention policy"):
		e.refused, e.tooOld = true, dropped(why)
	case code == 400, code == 413, code == 422:
		e.refused = true
	case code == 429, code >= 500:
		e.retryAfter = seconds(answer.Header.Get("Retry-After"))
	default:
		e.Unhealthy, e.retryAfter = true, whileUnhealthy
		e.text += "; " + remedy(code)
	}
	return e
}

func remedy(code int) string {
	switch {
	case code == 401, code == 403:
		return "the token must be one that may write to the bucket"
	case code == 404:
		return "url, org and bucket must be those of the server"
	}
	return "this is not how InfluxDB answers: url must be its own address, without a login page or a redirect before it"
}

// reason is the server's own words: version 2 says {"code":…,"message":…},
// version 1 {"error":…} and a header.
func reason(h http.Header, body []byte) string {
	var words struct{ Code, Message, Error string }
	if json.Unmarshal(body, &words) == nil {
		for _, s := range []string{words.Message, words.Error, words.Code} {
			if s != "" {
				return s
			}
		}
	}
	if s := h.Get("X-Influxdb-Error"); s != "" {
		return s
	}
	kind := http.DetectContentType(body)
	if strings.HasPrefix(kind, "text/plain") && len(body) > 0 {
		return string(body)
	}
	return fmt.Sprintf("%d bytes of %s", len(body), kind)
}

// dropped is how many points the server says it left out, as in "partial write:
// points beyond retention policy dropped=3"; at least 1.
func dropped(why string) int {
	m := regexp.MustCompile(`dropped=(\d{1,9})`).FindStringSubmatch(why)
	if m == nil {
		return 1
	}
	n, _ := strconv.Atoi(m[1])
	return max(n, 1)
}

// seconds reads a Retry-After in seconds. Anything else is not told; who waits
// has a limit of their own.
func seconds(s string) time.Duration {
	n, err := strconv.ParseUint(s, 10, 32)
	if err != nil {
		return 0
	}
	return time.Duration(n) * time.Second
}
