package daemon

import (
	"context"
	"fmt"
	"net"
	"net/mail"
	"path/filepath"
	"slices"
	"strings"

	"conditiond/alerts"
	"conditiond/alerts/notify"
)

// ways in which a person can be told, in the order in which they are offered.
var ways = [...]string{"ntfy", "mail", "webhook"}

// recipients until there are enough: two ways that don't depend on each other
// are better than one.
func (s *Setup) recipients(_ context.Context, a *answers) error {
	question, enough := "How are you told", none
	for left := slices.Clone(ways[:]); len(left) > 0; {
		how, err := s.ask(question+": "+strings.Join(left, ", ")+", or "+enough, enough, among(append(left, enough)...))
		if err != nil || how == enough {
			return err
		}
		n, err := s.way(how)
		if err != nil {
			return err
		}
		a.Notify = append(a.Notify, n)
		left = slices.DeleteFunc(left, func(w string) bool { return w == how })
		question, enough = "Another way, should that one fail", "done"
	}
	return nil
}

func (s *Setup) way(how string) (n notify.Config, err error) {
	n = notify.Config{Name: how, Least: alerts.Warning}
	switch how {
	case "ntfy":
		n.Ntfy, err = s.ntfy()
	case "mail":
		n.SMTP, err = s.smtp()
	default:
		n.Webhook = new(notify.Webhook)
		n.Webhook.URLFile, err = s.secret("hook", "Its address")
	}
	return n, err
}

func (s *Setup) ntfy() (*notify.Ntfy, error) {
	n := new(notify.Ntfy)
	var err error
	n.URL, err = s.ask("The server and the topic, such as https://push.example.net/closet", "", func(a string) error {
		_, _, err := (&notify.Ntfy{URL: a}).Topic()
		return err
	})
	if err == nil {
		n.TokenFile, err = s.secretIf("Does the topic need a token", "no", "push", "The token")
	}
	return n, err
}

func (s *Setup) smtp() (*notify.SMTP, error) {
	n := new(notify.SMTP)
	var err error
	n.Server, err = s.ask("The mail server and its port, such as mail.example.net:587", "", func(a string) error {
		if host, port, err := net.SplitHostPort(a); err != nil || host == "" || port == "" {
			return fmt.Errorf("%q: a host and a port, such as mail.example.net:587, would be right", a)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if n.From, err = s.ask("The address it is sent from, by which to log in there", "", mailbox); err != nil {
		return nil, err
	}
	to, err := s.ask("The address it is sent to", n.From, mailbox)
	if err != nil {
		return nil, err
	}
	n.To = []string{to}
	n.PasswordFile, err = s.secretIf("Does the server need a password", "yes", "mail", "The password")
	return n, err
}

func mailbox(a string) error {
	if x, err := mail.ParseAddress(a); err != nil || x.Address != a {
		return fmt.Errorf("%q: a bare address, such as pi@example.net, would be right", a)
	}
	return nil
}

// secretIf it is needed.
func (s *Setup) secretIf(needed, otherwise, name, question string) (Secret, error) {
	yes, err := s.ask(needed+": yes or no", otherwise, among("yes", "no"))
	if err != nil || yes == "no" {
		return "", err
	}
	return s.secret(name, question)
}

// notices for a test, if the person wants them. That one failed is said, and
// spoils nothing.
func (s *Setup) notices(ctx context.Context, c *Config) error {
	want, err := s.ask("Send a test notice now: yes or no", "yes", among("yes", "no"))
	if err != nil || want == "no" {
		return err
	}
	for _, n := range c.Notify {
		if err := TestNotice(ctx, c, s.now(n)); err != nil {
			fmt.Fprintf(s.Out, "  %s: it failed: %v\n", n.Name, err)
			continue
		}
		fmt.Fprintf(s.Out, "  %s: it was taken. Look whether it arrived.\n", n.Name)
	}
	return nil
}

// now is a recipient with secrets as they are here; the service's are not there
// yet.
func (s *Setup) now(n notify.Config) notify.Config {
	here := func(x Secret) Secret {
		if x == "" {
			return ""
		}
		return Secret(filepath.Join(s.Secrets, filepath.Base(string(x))))
	}
	switch {
	case n.Webhook != nil:
		n.Webhook = &notify.Webhook{URLFile: here(n.Webhook.URLFile)}
	case n.Ntfy != nil:
		n.Ntfy = &notify.Ntfy{URL: n.Ntfy.URL, TokenFile: here(n.Ntfy.TokenFile)}
	case n.SMTP != nil:
		mail := *n.SMTP
		mail.PasswordFile = here(mail.PasswordFile)
		n.SMTP = &mail
	}
	return n
}
