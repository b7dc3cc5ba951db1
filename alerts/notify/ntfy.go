package notify

import (
	"context"
	"encoding/json"
	"errors"
	"mime"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"conditiond/alerts"
)

// Ntfy publishes to a topic of an ntfy server, as JSON, so that no letter of
// the text has to fit into a header (docs.ntfy.sh/publish).
type Ntfy struct {
	URL       string `yaml:"url"`        // the server's address and the topic
	TokenFile Secret `yaml:"token_file"` // empty = the topic needs none
}

// publication is ntfy's JSON form.
type publication struct {
	Topic    string   `json:"topic"`
	Title    string   `json:"title"`
	Message  string   `json:"message"`
	Priority int      `json:"priority"` // 1 to 5
	Tags     []string `json:"tags"`
}

// Notify publishes m. Success is an answer with the id that the server gave it:
// the log-in page of a network answers 200 too.
func (n *Ntfy) Notify(ctx context.Context, m alerts.Message) error {
	server, topic, token, failed := n.where()
	if failed != nil {
		return failed
	}
	body, failed := post(ctx, server, token, m.ID, publish(topic, m))
	return taken(body, failed)
}

// Illustrate publishes a picture with m in the header, as ntfy takes a file. A
// text that is too long for a header goes out alone, as does one to a server
// that takes no files.
func (n *Ntfy) Illustrate(ctx context.Context, m alerts.Message, picture []byte) error {
	const most = 1500 // bytes; encoded they must fit into the 8 kB of common proxies
	if len(Body(m)) > most {
		return n.Notify(ctx, m)
	}
	server, topic, token, failed := n.where()
	if failed != nil {
		return failed
	}
	body, failed := send(ctx, server.JoinPath(topic), token, m.ID, inHeader(publish(topic, m), pictureName(m)), picture)
	return taken(body, failed)
}

// inHeader is a publication as a header: letters beyond ASCII as in mail (RFC
// 2047), line ends as \n. Both are ntfy's own rules, from memory.
func inHeader(p publication, file string) http.Header {
	said := func(text string) []string {
		return []string{mime.BEncoding.Encode("utf-8", strings.ReplaceAll(text, "\n", `\n`))}
	}
	return http.Header{"Title": said(p.Title), "Message": said(p.Message), "Priority": {strconv.Itoa(p.Priority)},
		"Tags": {strings.Join(p.Tags, ",")}, "Filename": {file}}
}

func (n *Ntfy) where() (server *url.URL, topic, token string, failed *Error) {
	server, topic, err := n.Topic()
	if err != nil {
		return nil, "", "", temporary("read the ntfy URL", err)
	}
	if n.TokenFile != "" {
		if token, err = n.TokenFile.Read(); err != nil {
			return nil, "", "", temporary("read the ntfy token", err)
		}
	}
	return server, topic, token, nil
}

// taken says whether an ntfy server took the notice over.
func taken(answer []byte, failed *Error) error {
	if failed != nil {
		return failed
	}
	var given struct{ ID string }
	if json.Unmarshal(answer, &given) != nil || given.ID == "" {
		return &Error{Problem: "what answered is no ntfy server: a log-in page of the network, or a wrong URL"}
	}
	return nil
}

// Topic splits the URL into the server's address and the topic, its last part.
func (n *Ntfy) Topic() (server *url.URL, topic string, err error) {
	if server, err = ParseURL(n.URL); err != nil {
		return nil, "", err
	}
	path := strings.TrimSuffix(server.Path, "/")
	i := strings.LastIndex(path, "/")
	if i < 0 || path[i+1:] == "" {
		return nil, "", errors.New("no topic at the end of the URL, such as https://push.example.net/closet")
	}
	topic = path[i+1:]
	server.Path, server.RawPath, server.RawQuery, server.Fragment = path[:i+1], "", "", ""
	return server, topic, nil
}

func publish(topic string, m alerts.Message) publication {
	const most = 4000 // bytes; longer than 4096 becomes an attachment
	p := publication{Topic: topic, Title: Subject(m), Message: clip(Body(m), most), Priority: 3,
		Tags: []string{"information_source"}}
	switch {
	case m.State == alerts.Cleared:
	case m.Severity == alerts.Danger:
		p.Priority, p.Tags = 5, []string{"rotating_light"}
	case m.Severity == alerts.Warning:
		p.Priority, p.Tags = 4, []string{"warning"}
	}
	return p
}

// clip a text to so many bytes, between letters.
func clip(text string, most int) string {
	if len(text) <= most {
		return text
	}
	return strings.ToValidUTF8(text[:most], "") + "…"
}
