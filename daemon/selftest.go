package daemon

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net/http"
	"os"
	"strings"
	"time"

	"conditiond/daemon/journal"
	"conditiond/daemon/mqtt"
	"conditiond/model"
)

// SelfTest tries on this machine what the program can't do without, in a
// temporary folder that it removes: published values of the model, a reading
// from a publisher through the built-in broker into the journal, the page, and
// the journal opened again. It says what it did, and the error is what failed
// first.
func SelfTest(ctx context.Context, out io.Writer) error {
	ctx, cancel := context.WithTimeout(ctx, 2*time.Minute) // the smallest boards are slow
	defer cancel()
	if err := published(out); err != nil {
		return fmt.Errorf("the model on this machine: %w", err)
	}
	dir, err := os.MkdirTemp("", "conditiond-selftest-")
	if err != nil {
		return fmt.Errorf("a temporary folder: %w", err)
	}
	defer os.RemoveAll(dir)
	c := selfTestConfig(dir)
	if err := liveOnce(ctx, c, out); err != nil {
		return err
	}
	if err := readBack(ctx, c, out); err != nil {
		return fmt.Errorf("the journal, opened again: %w", err)
	}
	fmt.Fprintln(out, "selftest: all of it works here")
	return nil
}

// published values, with their sources; the model's own tests have many more.
func published(out io.Writer) error {
	for _, v := range []struct {
		what           string
		got, want, tol float64
		source         string
	}{
		{"CO2's solubility in water at 0 °C, mol/(L atm)", model.Henry(0), 0.077580, 1e-5, "Weiss 1974"},
		{"CO2's solubility in water at 20 °C, mol/(L atm)", model.Henry(20), 0.039099, 1e-5, "Weiss 1974"},
		{"CO2's molar volume at 0 °C and 1 atm, L", model.MolarVolume(model.Atmosphere, 0), 22.2605, 0.005, "IUPAC-NIST compiler's note"},
		{"CO2's second virial coefficient at 25 °C, cm³/mol", model.SecondVirial(25), -123.20, 0.05, "Weiss 1974"},
	} {
		if !(math.Abs(v.got-v.want) <= v.tol) {
			return fmt.Errorf("%s is %.6g, published %.6g (%s)", v.what, v.got, v.want, v.source)
		}
		fmt.Fprintf(out, "model: %s: %.6g, published %.6g (%s)\n", v.what, v.got, v.want, v.source)
	}
	return nil
}

const selfTestTopic, selfTestC = "selftest/air", 19.625

func selfTestConfig(dir string) *Config {
	c := defaults()
	c.Site.Name = "Self-test"
	c.MQTT.Listen, c.Web.Listen = "127.0.0.1:0", "127.0.0.1:0"
	c.Journal = Journal{Dir: dir, Pause: 10 * time.Millisecond}
	c.Sensors = map[string]Sensor{"air": {Topic: selfTestTopic, Quantity: model.Temperature, Unit: "degC", Interval: time.Minute, Calibration: Calibration{Scale: 1}}}
	c.Spaces = map[string]Space{"here": {Temperature: "air"}}
	return &c
}

// liveOnce lets the daemon run until one reading has gone all the way.
func liveOnce(ctx context.Context, c *Config, out io.Writer) error {
	d, err := open(ctx, c, Pace{}, journal.Open, slog.New(slog.DiscardHandler))
	if err != nil {
		return fmt.Errorf("the journal: %w", err)
	}
	if err := d.outside(ctx); err != nil {
		return errors.Join(fmt.Errorf("the broker and the page: %w", err), d.journal.Close())
	}
	d.start(ctx)
	err = d.hearOne(ctx, out)
	if err == nil {
		err = pageAnswers(ctx, "http://"+d.Addr, out)
	}
	d.stop()
	return errors.Join(err, ignoreEnd(d.wait()))
}

func (d *Daemon) hearOne(ctx context.Context, out io.Writer) error {
	address := "mqtt://" + d.link.(*mqtt.Broker).Addr()
	p, err := mqtt.NewPublisher(ctx, mqtt.Config{Broker: address, ClientID: "selftest"})
	if err != nil {
		return fmt.Errorf("the built-in broker: %w", err)
	}
	defer p.Close()
	began := time.Now()
	if err := p.Publish(ctx, selfTestTopic, fmt.Append(nil, selfTestC)); err != nil {
		return fmt.Errorf("publishing a reading: %w", err)
	}
	fmt.Fprintf(out, "broker: a reading was published to %s, and acknowledged after %s, when it stood in the journal\n", address, time.Since(began).Round(time.Millisecond))
	return nil
}

// pageAnswers asks the page and the API.
func pageAnswers(ctx context.Context, base string, out io.Writer) error {
	for path, want := range map[string]string{"/healthz": "", "/api/v1/readings?sensor=air": fmt.Sprint(selfTestC)} {
		body, err := fetch(ctx, base+path)
		if err != nil {
			return fmt.Errorf("the page: %w", err)
		}
		if !strings.Contains(body, want) {
			return fmt.Errorf("the page: %s should say %s, and says %s", path, want, body)
		}
	}
	fmt.Fprintf(out, "page: %s answers, and shows the reading\n", base)
	return nil
}

func fetch(ctx context.Context, url string) (string, error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
	if err != nil {
		return "", err
	}
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		return "", err
	}
	defer a.Body.Close()
	b, err := io.ReadAll(io.LimitReader(a.Body, 1<<16))
	if err == nil && a.StatusCode != http.StatusOK {
		err = fmt.Errorf("%s answers %s", url, a.Status)
	}
	return string(b), err
}

func readBack(ctx context.Context, c *Config, out io.Writer) error {
	d, err := Offline(ctx, c, slog.New(slog.DiscardHandler))
	if err != nil {
		return err
	}
	defer d.Close()
	list, err := d.Readings(ctx, "air", time.Time{}, time.Now().Add(time.Hour), 10)
	if err != nil {
		return err
	}
	if len(list) != 1 || list[0].Value != selfTestC {
		return fmt.Errorf("one reading of %v was written, and %v is there", selfTestC, list)
	}
	fmt.Fprintf(out, "journal: closed and opened again in %s, and the reading is there\n", c.Journal.Dir)
	return nil
}
