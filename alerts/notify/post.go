package notify

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/url"
	"time"
)

const (
	httpTimeout = 10 * time.Second
	mostAnswer  = 64 << 10 // bytes of an answer that are read
)

// post sends JSON and returns the body of a 2xx answer.
func post(ctx context.Context, to *url.URL, token, id string, body any) ([]byte, *Error) {
	data, err := json.Marshal(body)
	if err != nil {
		return nil, &Error{Problem: "write the notice as JSON: " + err.Error(), Permanent: true}
	}
	return send(ctx, to, token, id, http.Header{"Content-Type": {"application/json"}}, data)
}

// send posts data with a header. The id, the same over retries, lets the
// receiver drop a repeat.
func send(ctx context.Context, to *url.URL, token, id string, header http.Header, data []byte) ([]byte, *Error) {
	ctx, cancel := context.WithTimeout(ctx, httpTimeout)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, to.String(), bytes.NewReader(data))
	if err != nil {
		return nil, temporary("prepare the request", err)
	}
	request.Header = header
	request.Header.Set("Idempotency-Key", id)
	if token != "" {
		request.Header.Set("Authorization", "Bearer "+token)
	}
	return answer(request)
}

func answer(request *http.Request) ([]byte, *Error) {
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	response, err := client.Do(request)
	if err != nil {
		return nil, temporary("send the notice", err)
	}
	defer response.Body.Close()
	body, err := io.ReadAll(io.LimitReader(response.Body, mostAnswer))
	if response.StatusCode/100 != 2 {
		return nil, answered(response)
	}
	if err != nil {
		return nil, temporary("read the answer", err)
	}
	return body, nil
}

// ParseURL reads the address of a web service. Its error doesn't quote it.
func ParseURL(text string) (*url.URL, error) {
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" {
		return nil, errors.New("no URL that begins with https:// or http://")
	}
	return u, nil
}
