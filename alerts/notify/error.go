package notify

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"time"
)

// Error is a delivery that failed, without secrets and without URLs.
type Error struct {
	Problem string
	// Permanent means that the other side has refused this notice for good:
	// sending the same again can't help, a person must look. Everything else
	// is worth trying for ever.
	Permanent bool
	// Partly means that some recipients were told, and the others refused.
	Partly bool
	// RetryAfter is the wait that the other side asked for, at most an hour;
	// zero when it didn't.
	RetryAfter time.Duration
}

func (e *Error) Error() string { return e.Problem }

// temporary is what may be over in a while: network, a full server, a secret
// that is being changed.
func temporary(doing string, err error) *Error {
	return &Error{Problem: doing + ": " + bare(err).Error()}
}

// bare is the cause inside errors that would print a URL.
func bare(err error) error {
	var outer *url.Error
	for errors.As(err, &outer) {
		err = outer.Err
	}
	return err
}

// answered is the error of an HTTP answer other than 2xx.
func answered(r *http.Response) *Error {
	e := &Error{
		Problem:    "the server answered " + strconv.Itoa(r.StatusCode) + " " + http.StatusText(r.StatusCode),
		Permanent:  refusal(r.StatusCode),
		RetryAfter: retryAfter(r.Header.Get("Retry-After")),
	}
	switch {
	case r.StatusCode == http.StatusUnauthorized || r.StatusCode == http.StatusForbidden:
		e.Problem += ": the token or URL in its file isn't accepted"
	case r.StatusCode/100 == 3:
		e.Problem += ": redirects are not followed; the URL must be the final one, and the network may want a log-in"
	case e.Permanent:
		e.Problem += ": it won't take this notice; check the URL"
	}
	return e
}

// refusal says whether a status is final: a 4xx, but for those that waiting or
// a new password cures.
func refusal(status int) bool {
	switch status {
	case http.StatusUnauthorized, http.StatusForbidden, http.StatusRequestTimeout,
		http.StatusTooEarly, http.StatusTooManyRequests:
		return false
	}
	return status/100 == 4
}

// retryAfter reads the header: seconds, or a date.
func retryAfter(header string) time.Duration {
	var wait time.Duration
	if s, err := strconv.Atoi(header); err == nil {
		wait = time.Duration(min(s, 3600)) * time.Second
	} else if at, err := http.ParseTime(header); err == nil {
		wait = time.Until(at)
	}
	return max(0, min(wait, time.Hour))
}
