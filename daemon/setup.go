package daemon

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"conditiond/alerts/notify"
	"conditiond/daemon/intake"
	"conditiond/daemon/mqtt"
	"conditiond/model"
)

// Setup asks a person what a configuration needs, listens on the broker for
// what there is, and writes the configuration.
type Setup struct {
	Path    string        // of the configuration; it must not exist yet
	Secrets string        // folder where secrets are put, a file each
	Listen  time.Duration // how long to listen
	In      io.Reader
	Out     io.Writer
	Echo    bool // the answers too, where nobody types them

	lines *bufio.Scanner
}

// ServiceSecrets is where the service's unit takes secrets from; the daemon
// then finds them in serviceCredentials.
const (
	ServiceSecrets     = "/etc/conditiond/secrets"
	serviceCredentials = "/run/credentials/conditiond.service"
)

// ErrAnswers means that the answers ended, or that what they ask for can't be
// done.
var ErrAnswers = errors.New("not set up")

func notSetUp(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrAnswers, fmt.Sprintf(format, args...))
}

// chosen is a sensor as it goes into the configuration.
type chosen struct {
	Name  string
	Space string // of a temperature
	Seen  string // what the last message was read as
	Known bool   // its interval was seen
	Sensor
}

// answers to everything.
type answers struct {
	Site    Site
	MQTT    MQTT
	Sensors []chosen
	Web     Web
	Notify  []notify.Config
}

// Run the setup.
func (s *Setup) Run(ctx context.Context) error {
	if _, err := os.Lstat(s.Path); err == nil {
		return notSetUp("%s exists already; move it away, or give another --out", s.Path)
	}
	s.lines = bufio.NewScanner(s.In)
	a := answers{Site: Site{Timezone: "UTC"}}
	for _, step := range []func(context.Context, *answers) error{s.site, s.broker, s.sensors, s.page, s.recipients} {
		if err := step(ctx, &a); err != nil {
			return err
		}
	}
	c, err := s.write(a)
	if err != nil || len(c.Notify) == 0 {
		return err
	}
	return s.notices(ctx, c)
}

// ask until the answer will do. An empty answer is otherwise.
func (s *Setup) ask(question, otherwise string, good func(string) error) (string, error) {
	for {
		fmt.Fprint(s.Out, question)
		if otherwise != "" {
			fmt.Fprintf(s.Out, " [%s]", otherwise)
		}
		fmt.Fprint(s.Out, ": ")
		if !s.lines.Scan() {
			fmt.Fprintln(s.Out)
			return "", notSetUp("the answers ended at %q", question)
		}
		answer := strings.TrimSpace(s.lines.Text())
		if s.Echo {
			fmt.Fprintln(s.Out, answer)
		}
		if answer == "" {
			answer = otherwise
		}
		err := good(answer)
		if err == nil {
			return answer, nil
		}
		fmt.Fprintf(s.Out, "  %v\n", err)
	}
}

func anything(string) error { return nil }

func among(words ...string) func(string) error {
	return func(a string) error {
		if slices.Contains(words, a) {
			return nil
		}
		return fmt.Errorf("%q: %s would be right", a, oneOf(words...))
	}
}

func numberWithin(low, high float64) func(string) error {
	return func(a string) error {
		v, err := strconv.ParseFloat(a, 64)
		if err != nil || !(v >= low && v <= high) {
			return fmt.Errorf("%q: a number from %v to %v would be right", a, low, high)
		}
		return nil
	}
}

func aName(a string) error {
	if !goodName(a) {
		return fmt.Errorf("%q: letters, digits, spaces, '-', '_' and '.' make a name", a)
	}
	return nil
}

func (s *Setup) site(_ context.Context, a *answers) (err error) {
	if a.Site.Name, err = s.ask("A name for the place", "Home", aName); err != nil {
		return err
	}
	zone, err := s.ask("Its time zone, such as Europe/Oslo", systemZone(), func(z string) error {
		if _, err := time.LoadLocation(z); err != nil || z == "" || z == "Local" {
			return fmt.Errorf("%q: a name such as Europe/Oslo would be right", z)
		}
		return nil
	})
	if err != nil {
		return err
	}
	a.Site.Timezone = zone
	height, err := s.ask("How many metres above the sea (the air's pressure follows from it; to the nearest 50 will do)", "", numberWithin(-500, 5000))
	a.Site.Altitude, _ = strconv.ParseFloat(height, 64)
	return err
}

// systemZone as the link says that every Linux has.
func systemZone() string {
	link, err := os.Readlink("/etc/localtime")
	_, zone, ok := strings.Cut(link, "zoneinfo/")
	if err != nil || !ok || zone == "Etc/UTC" {
		return "UTC"
	}
	return zone
}

// brokerHere is the broker that listens on this machine, if one does.
func brokerHere() string {
	const usual = "127.0.0.1:1883"
	c, err := net.DialTimeout("tcp", usual, time.Second)
	if err != nil {
		return none
	}
	c.Close()
	return "mqtt://" + usual
}

// none is the answer that there is no such thing.
const none = "none"

func (s *Setup) broker(_ context.Context, a *answers) (err error) {
	a.MQTT.Broker, err = s.ask("The MQTT broker, such as mqtt://127.0.0.1:1883, or none for one of conditiond's own", brokerHere(), func(b string) error {
		if b == none || strings.HasPrefix(b, "mqtt://") || strings.HasPrefix(b, "mqtts://") {
			return nil
		}
		return fmt.Errorf("%q: mqtt://host:1883 would be right, or mqtts://host:8883", b)
	})
	if err != nil {
		return err
	}
	if a.MQTT.Broker == none {
		a.MQTT.Broker, a.MQTT.Listen = "", "0.0.0.0:1883"
	}
	if a.MQTT.Username, err = s.ask("The username there, or none", none, anything); err != nil {
		return err
	}
	if a.MQTT.Username == none {
		a.MQTT.Username = ""
		return nil
	}
	a.MQTT.PasswordFile, err = s.secret("mqtt", "The password")
	return err
}

// secret that a person types, or that is there already: a file of its own,
// which its owner alone can read. What is returned is where the daemon finds it.
func (s *Setup) secret(name, question string) (Secret, error) {
	path := filepath.Join(s.Secrets, name)
	if _, err := os.Stat(path); err == nil {
		fmt.Fprintf(s.Out, "%s: taken from %s, which is there. (For another one, delete that file and begin again.)\n", question, path)
		return s.inService(name), nil
	}
	text, err := s.ask(question+" (it shows while you type, and goes into "+path+")", "", func(a string) error {
		if a == "" {
			return errors.New("it can't be empty")
		}
		return nil
	})
	if err != nil {
		return "", err
	}
	if err := os.MkdirAll(s.Secrets, 0o700); err != nil {
		return "", fmt.Errorf("the folder for secrets: %w", err)
	}
	if err := os.WriteFile(path, []byte(text+"\n"), 0o600); err != nil {
		return "", fmt.Errorf("keep the secret %s: %w", name, err)
	}
	return s.inService(name), nil
}

func (s *Setup) inService(name string) Secret {
	if s.Secrets == ServiceSecrets {
		return Secret(filepath.Join(serviceCredentials, name))
	}
	return Secret(filepath.Join(s.Secrets, name))
}

// hear what there is on the broker, which may be one of our own for the while.
func (s *Setup) hear(ctx context.Context, m MQTT) ([]candidate, error) {
	conf := mqtt.Config{Broker: m.Broker, Username: m.Username, ClientID: fmt.Sprintf("conditiond-setup-%d", os.Getpid())}
	if m.PasswordFile != "" {
		b, err := Secret(filepath.Join(s.Secrets, "mqtt")).Read()
		if err != nil {
			return nil, fmt.Errorf("the broker's password: %w", err)
		}
		conf.Password = b
	}
	if m.Broker == "" {
		own := conf
		own.Listen = m.Listen
		b, err := mqtt.Listen(own, slog.New(slog.DiscardHandler))
		if err != nil {
			return nil, fmt.Errorf("%w: if a broker runs there already, give its address", err)
		}
		defer b.Close(ctx)
		conf.Broker = "mqtt://" + callable(b.Addr())
		fmt.Fprintf(s.Out, "A broker of our own listens at port 1883 now: let your sensors send to it.\n")
	}
	fmt.Fprintf(s.Out, "Listening for %s …\n", s.Listen)
	ctx, cancel := context.WithTimeout(ctx, s.Listen)
	defer cancel()
	e := &ear{topics: map[string]*overheard{}}
	err := mqtt.Overhear(ctx, conf, e.take)
	return e.candidates(), err
}

func (s *Setup) sensors(ctx context.Context, a *answers) error {
	list, err := s.hear(ctx, a.MQTT)
	if err != nil {
		return err
	}
	if len(list) == 0 {
		return notSetUp("no number passed the broker in %s: do the sensors send to it? A longer --listen may help", s.Listen)
	}
	for i, c := range list {
		fmt.Fprintf(s.Out, "%3d  %s\n", i+1, c)
	}
	fmt.Fprint(s.Out, "What it looks like is a guess. Look at the device or its manual for the unit.\n")
	for {
		otherwise := ""
		if slices.ContainsFunc(a.Sensors, func(c chosen) bool { return c.Quantity == model.Temperature }) {
			otherwise = "done"
		}
		n, err := s.ask("The number of a sensor to use: a thermometer beside the bottles, a gauge", otherwise, func(n string) error {
			if n == "done" && otherwise != "" {
				return nil
			}
			return numberWithin(1, float64(len(list)))(n)
		})
		if err != nil || n == "done" {
			return err
		}
		i, err := strconv.Atoi(n)
		if err != nil {
			continue
		}
		c, err := s.choose(list[i-1])
		if err != nil {
			return err
		}
		a.Sensors = append(a.Sensors, c)
	}
}

// choose what a number is. The unit is asked for, never assumed.
func (s *Setup) choose(c candidate) (chosen, error) {
	out := chosen{Known: c.every > 0, Sensor: Sensor{Topic: c.topic, Pointer: c.pointer, Interval: c.interval()}}
	var err error
	if out.Name, err = s.ask("A name for it", "", aName); err != nil {
		return out, err
	}
	for {
		what, err := s.ask("Does it measure temperature or pressure", "", among("temperature", "pressure"))
		if err != nil {
			return out, err
		}
		out.Quantity = model.Quantity(what)
		units := []string{"degC", "degF", "K"}
		if out.Quantity == model.Pressure {
			units = []string{"bar", "kPa", "hPa", "MPa", "psi"}
		}
		unit, err := s.ask("In which unit does it send: "+oneOf(units...), "", among(units...))
		if err != nil {
			return out, err
		}
		out.Unit = intake.Unit(unit)
		if err := s.particulars(&out); err != nil {
			return out, err
		}
		seen, err := c.reading(out.Sensor)
		if err == nil {
			fmt.Fprintf(s.Out, "  %v is read as %s.\n", c.number, seen)
			out.Seen = seen
			return out, nil
		}
		fmt.Fprintf(s.Out, "  that can't be: %v\n", err)
	}
}

// particulars of a pressure, or of a temperature.
func (s *Setup) particulars(c *chosen) (err error) {
	if c.Quantity == model.Temperature {
		c.Reference, c.FullScale = "", 0
		c.Space, err = s.ask("A name for the space where it hangs", "closet", aName)
		return err
	}
	reference, err := s.ask("Open to the air, does it show nought (gauge) or about one bar (absolute)", "", among("gauge", "absolute"))
	if err != nil {
		return err
	}
	c.Reference, c.Space = intake.Reference(reference), ""
	full, err := s.ask("The end of its range, in "+string(c.Unit), "", numberWithin(0.001, 10000))
	c.FullScale, _ = strconv.ParseFloat(full, 64)
	return err
}

func (s *Setup) page(_ context.Context, a *answers) error {
	who, err := s.ask("Who may see the page: this machine alone (here), or the network, with a password (network)", "here", among("here", "network"))
	if err != nil || who == "here" {
		a.Web.Listen = "127.0.0.1:8080"
		return err
	}
	a.Web.Listen = "0.0.0.0:8080"
	a.Web.PasswordFile, err = s.secret("web", "The page's password")
	return err
}

// write the configuration, unless it wouldn't pass the check.
func (s *Setup) write(a answers) (*Config, error) {
	text := new(bytes.Buffer)
	if err := setupTemplate().Execute(text, a); err != nil {
		return nil, err
	}
	c, warnings, err := parseConfig(s.Path, text.Bytes(), asWritten)
	if err != nil {
		return nil, notSetUp("these answers make no sound configuration, and nothing is written:\n%v", err)
	}
	f, err := os.OpenFile(s.Path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return nil, fmt.Errorf("write the configuration: %w", err)
	}
	_, err = f.Write(text.Bytes())
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return nil, fmt.Errorf("write the configuration: %w", err)
	}
	fmt.Fprintf(s.Out, "\n%s is written, and nothing is wrong with it.\n", s.Path)
	for _, w := range warnings {
		fmt.Fprintln(s.Out, "warning:", w)
	}
	return c, nil
}
