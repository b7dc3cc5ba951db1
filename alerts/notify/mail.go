package notify

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/textproto"
	"slices"
	"strings"
	"time"

	"conditiond/alerts"
)

// mail is the whole message (RFC 5322), as it was written at an instant.
func (s *SMTP) mail(m alerts.Message, picture []byte, at time.Time) []byte {
	var out bytes.Buffer // takes all: no error of writing to it is looked at
	header := func(name, value string) { fmt.Fprintf(&out, "%s: %s\r\n", name, value) }
	header("From", s.From)
	header("To", strings.Join(s.To, ", "))
	header("Subject", mime.QEncoding.Encode("utf-8", Subject(m)))
	header("Date", at.Format(time.RFC1123Z))
	header("Message-ID", messageID(m.ID, s.From))
	header("Auto-Submitted", "auto-generated") // RFC 3834: no holiday replies
	if m.Severity == alerts.Danger && m.State != alerts.Cleared {
		header("Importance", "high")
	}
	header("MIME-Version", "1.0")
	if len(picture) == 0 {
		header("Content-Type", textType)
		header("Content-Transfer-Encoding", "quoted-printable")
		out.WriteString("\r\n")
		writeText(&out, m)
		return out.Bytes()
	}
	parts := multipart.NewWriter(&out)
	header("Content-Type", "multipart/mixed; boundary="+parts.Boundary())
	out.WriteString("\r\n")
	part, _ := parts.CreatePart(textproto.MIMEHeader{"Content-Type": {textType}, "Content-Transfer-Encoding": {"quoted-printable"}})
	writeText(part, m)
	part, _ = parts.CreatePart(textproto.MIMEHeader{"Content-Type": {"image/png"}, "Content-Transfer-Encoding": {"base64"},
		"Content-Disposition": {`inline; filename="` + pictureName(m) + `"`}})
	writePicture(part, picture)
	parts.Close()
	return out.Bytes()
}

const textType = "text/plain; charset=utf-8"

func writeText(out io.Writer, m alerts.Message) {
	body := quotedprintable.NewWriter(out)
	body.Write([]byte(Body(m) + "\n"))
	body.Close()
}

// writePicture in lines of 76 letters (RFC 2045).
func writePicture(out io.Writer, picture []byte) {
	const perLine = 57 // bytes
	for some := range slices.Chunk(picture, perLine) {
		fmt.Fprintf(out, "%s\r\n", base64.StdEncoding.EncodeToString(some))
	}
}

// pictureName is what the picture of a notice's lot is kept as.
func pictureName(m alerts.Message) string { return plain(m.Lot) + ".png" }

// messageID in the sender's domain.
func messageID(id, from string) string {
	return "<" + plain(id) + "@" + from[strings.LastIndex(from, "@")+1:] + ">"
}

// plain is a name that may stand anywhere: what may not becomes a dash.
func plain(name string) string {
	return strings.Map(func(r rune) rune {
		if r == '-' || r == '.' || '0' <= r && r <= '9' || 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z' {
			return r
		}
		return '-'
	}, name)
}
