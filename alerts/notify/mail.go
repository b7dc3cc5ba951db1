package notify

import (
	"bytes"
	"fmt"
	"mime"
	"mime/quotedprintable"
	"strings"
	"time"

	"conditiond/alerts"
)

// mail is the whole message (RFC 5322), as it was written at an instant.
func (s *SMTP) mail(m alerts.Message, at time.Time) []byte {
	var out bytes.Buffer
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
	header("Content-Type", "text/plain; charset=utf-8")
	header("Content-Transfer-Encoding", "quoted-printable")
	out.WriteString("\r\n")
	body := quotedprintable.NewWriter(&out)
	body.Write([]byte(Body(m) + "\n")) // a bytes.Buffer takes all
	body.Close()
	return out.Bytes()
}

// messageID in the sender's domain; what may not stand in one becomes a dash.
func messageID(id, from string) string {
	plain := strings.Map(func(r rune) rune {
		if r == '-' || r == '.' || '0' <= r && r <= '9' || 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z' {
			return r
		}
		return '-'
	}, id)
	return "<" + plain + "@" + from[strings.LastIndex(from, "@")+1:] + ">"
}
