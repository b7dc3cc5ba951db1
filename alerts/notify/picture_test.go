package notify

import (
	"bytes"
	"encoding/base64"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"slices"
	"strings"
	"testing"
)

// figure is as many bytes as a picture has, of every value.
var figure = bytes.Repeat([]byte("\x89PNG\r\n\x1a\n\x00\xff.\r\n..\r\n"), 3000)

// Which channels take a picture.
func TestIllustrators(t *testing.T) {
	for _, n := range (Config{Webhook: &Webhook{}, Ntfy: &Ntfy{}, SMTP: &SMTP{}, Log: &Log{}}).Kinds() {
		_, takes := n.(Illustrator)
		switch n.(type) {
		case *SMTP, *Ntfy:
			if !takes {
				t.Errorf("%T takes no picture", n)
			}
		default:
			if takes {
				t.Errorf("%T takes a picture, for which its form has no place", n)
			}
		}
	}
}

// TestMailWithPicture reads it as a receiver would (RFC 2046): the text first,
// then the picture whole.
func TestMailWithPicture(t *testing.T) {
	s := newMailServer(t, false, nil)
	if err := s.client(t).send(t.Context(), notice(), figure, false); err != nil {
		t.Fatal(err)
	}
	<-s.ended
	m, err := mail.ReadMessage(bytes.NewReader(s.data))
	if err != nil {
		t.Fatal(err)
	}
	kind, values, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/mixed" {
		t.Fatal(kind, err)
	}
	parts := multipart.NewReader(m.Body, values["boundary"])
	text, err := parts.NextRawPart()
	if err != nil {
		t.Fatal(err)
	}
	if body, err := io.ReadAll(quotedprintable.NewReader(text)); err != nil || strings.TrimSpace(string(body)) != Body(notice()) {
		t.Errorf("text %q, %v", body, err)
	}
	picture, err := parts.NextRawPart()
	if err != nil {
		t.Fatal(err)
	}
	if picture.FileName() != "spruce-tip-04.png" || picture.Header.Get("Content-Type") != "image/png" {
		t.Errorf("%v", picture.Header)
	}
	if body, err := io.ReadAll(base64.NewDecoder(base64.StdEncoding, picture)); err != nil || !bytes.Equal(body, figure) {
		t.Errorf("%d bytes of %d, %v", len(body), len(figure), err)
	}
	if _, err := parts.NextRawPart(); !errors.Is(err, io.EOF) {
		t.Errorf("a third part: %v", err)
	}
	long := func(line []byte) bool { return len(line) > 998 }
	if slices.ContainsFunc(bytes.Split(s.data, []byte("\n")), long) {
		t.Error("a line is longer than RFC 5322 allows")
	}
}

// TestNtfyWithPicture: the file is the body; title, text and priority are what
// they are without one, once the header is decoded as the server does.
func TestNtfyWithPicture(t *testing.T) {
	s, got := server(t, 200, "", `{"id":"abc","event":"message"}`)
	if err := ntfy(t, s.URL+"/push/closet").Illustrate(t.Context(), notice(), figure); err != nil {
		t.Fatal(err)
	}
	r := (*got)[0]
	header := func(name string) string {
		text, err := new(mime.WordDecoder).DecodeHeader(r.header.Get(name))
		if err != nil {
			t.Error(name, err)
		}
		return strings.ReplaceAll(text, `\n`, "\n")
	}
	want := publish("closet", notice())
	if r.path != "/push/closet" || !bytes.Equal(r.body, figure) || r.header.Get("Authorization") != "Bearer "+token {
		t.Errorf("%s with %d bytes and %v", r.path, len(r.body), r.header)
	}
	if header("Title") != want.Title || header("Message") != want.Message || header("Priority") != "5" || header("Tags") != want.Tags[0] || header("Filename") != "spruce-tip-04.png" {
		t.Errorf("%q", r.header)
	}
}

// A text that no header holds goes out without the picture; a server without
// room for files says so.
func TestNtfyWithoutPicture(t *testing.T) {
	s, got := server(t, 200, "", `{"id":"abc","event":"message"}`)
	m := notice()
	m.Summary = strings.Repeat("é", 1000)
	if err := ntfy(t, s.URL+"/closet").Illustrate(t.Context(), m, figure); err != nil || (*got)[0].path != "/" || !strings.Contains(string((*got)[0].body), m.Summary) {
		t.Errorf("%v, %.80q", err, (*got)[0].body)
	}
	full, _ := server(t, 413, "", `{"code":41301,"error":"attachment too large"}`)
	err := ntfy(t, full.URL+"/closet").Illustrate(t.Context(), notice(), figure)
	if e, ok := errors.AsType[*Error](err); !ok || !strings.Contains(e.Problem, "413") {
		t.Errorf("%v", err)
	}
	silent(t, err)
}
