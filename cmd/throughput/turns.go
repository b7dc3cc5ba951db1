package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"sync/atomic"
	"syscall"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// onBroker gives a turn a Mosquitto of its own.
func (b *bench) onBroker(dir string, take func(broker string) (turn, error)) (turn, error) {
	addr, err := free()
	if err != nil {
		return turn{}, err
	}
	_, port, _ := net.SplitHostPort(addr)
	conf := filepath.Join(dir, "mosquitto.conf")
	text := "listener " + port + " 127.0.0.1\nallow_anonymous true\nmax_queued_messages 0\nmax_inflight_messages 100\nlog_type none\n"
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		return turn{}, err
	}
	stop, err := start("mosquitto", "-c", conf)
	if err != nil {
		return turn{}, err
	}
	defer stop()
	if err := reachable(addr); err != nil {
		return turn{}, err
	}
	b.dir = dir
	return take(addr)
}

// bare subscribes in this process, whose CPU counts; the flood has a process of
// its own.
func (b *bench) bare(broker string) (turn, error) {
	c := connect(broker, "bare")
	defer c.Disconnect(100)
	var n atomic.Int64
	if t := c.Subscribe("bench/counter", 1, func(paho.Client, paho.Message) { n.Add(1) }); !t.WaitTimeout(5*time.Second) || t.Error() != nil {
		return turn{}, errors.Join(errors.New("subscribe"), t.Error())
	}
	return b.take(broker, func() int { return int(n.Load()) }, usage)
}

const patience = 3 * time.Minute

// whole is the real daemon.
func (b *bench) whole(broker string) (turn, error) {
	page, err := free()
	if err != nil {
		return turn{}, err
	}
	influx, stopInflux, err := b.influx()
	if err != nil {
		return turn{}, err
	}
	defer stopInflux()
	conf := filepath.Join(b.dir, "config.yaml")
	text := fmt.Sprintf(`site: {name: Bench, timezone: UTC, altitude_m: 0}
mqtt: {broker: "mqtt://%s"}
sensors: {counter: {topic: bench/counter, quantity: temperature, unit: K, interval: 1h}}
spaces: {bench: {temperature: counter}}
journal: {dir: "%s"}
web: {listen: "%s"}
notify: [{name: log, least: danger, log: {}}]
%s`, broker, filepath.Join(b.dir, "journal"), page, influx)
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		return turn{}, err
	}
	d := exec.Command(b.daemon, "run", "--config", conf)
	d.Env = append(os.Environ(), "BENCH_TOKEN=bench:bench")
	if err := d.Start(); err != nil {
		return turn{}, err
	}
	defer d.Wait()
	defer d.Process.Kill()
	if err := answers("http://" + page + "/readyz"); err != nil {
		return turn{}, err
	}
	t, err := b.take(broker, func() int { return kept(page) }, func() time.Duration { return usageOf(d.Process.Pid) })
	t.peak = peakOf(d.Process.Pid)
	return t, err
}

// kept is how many readings the daemon has journalled and shows.
func kept(page string) int {
	r, err := http.Get("http://" + page + "/metrics")
	if err != nil {
		return 0
	}
	defer r.Body.Close()
	b, _ := io.ReadAll(r.Body)
	return metric(string(b), `conditiond_sensor_readings_total{sensor="counter"} `)
}

func (b *bench) influx() (config string, stop func(), err error) {
	if b.influxd == "" {
		return "", func() {}, nil
	}
	addr, err := free()
	if err != nil {
		return "", nil, err
	}
	back, err := free()
	if err != nil {
		return "", nil, err
	}
	conf := filepath.Join(b.dir, "influxdb.conf")
	text := fmt.Sprintf("reporting-disabled = true\nbind-address = \"%s\"\n[meta]\ndir = \"%s/meta\"\n[data]\ndir = \"%s/data\"\nwal-dir = \"%s/wal\"\n[http]\nbind-address = \"%s\"\nlog-enabled = false\n", back, b.dir, b.dir, b.dir, addr)
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		return "", nil, err
	}
	if stop, err = start(b.influxd, "-config", conf); err != nil {
		return "", nil, err
	}
	if err := answers("http://" + addr + "/ping"); err != nil {
		stop()
		return "", nil, err
	}
	r, err := http.Post("http://"+addr+"/query?q=CREATE+DATABASE+bench", "", nil)
	if err != nil {
		stop()
		return "", nil, err
	}
	r.Body.Close()
	return fmt.Sprintf(`influxdb: {url: "http://%s", org: bench, bucket: bench/autogen, token_file: "env:BENCH_TOKEN"}`, addr), stop, nil
}

// flood is the stock command-line publisher fed with numbers, so many at a time:
// it loses count of more than 65,535.
const flood = 50_000

// publish all readings, flat out, in processes of their own.
func (b *bench) publish(broker string) error {
	host, port, _ := net.SplitHostPort(broker)
	for from := 0; from < b.readings; from += flood {
		var numbers bytes.Buffer
		for n := from; n < min(from+flood, b.readings); n++ {
			fmt.Fprintf(&numbers, "%.5f\n", 290+float64(n)/20_000)
		}
		c := exec.Command("mosquitto_pub", "-h", host, "-p", port, "-q", "1", "-t", "bench/counter", "-l")
		c.Stdin, c.Stderr = &numbers, os.Stderr
		if err := c.Run(); err != nil {
			return fmt.Errorf("publish: %w", err)
		}
	}
	return nil
}

// take measures from the first reading published to the last one counted.
func (b *bench) take(broker string, counted func() int, used func() time.Duration) (turn, error) {
	published := make(chan error, 1)
	before, began := used(), time.Now()
	go func() { published <- b.publish(broker) }()
	for counted() < b.readings {
		if time.Since(began) > patience {
			return turn{}, fmt.Errorf("only %d of %d came", counted(), b.readings)
		}
		time.Sleep(10 * time.Millisecond)
	}
	return turn{wall: time.Since(began), cpu: used() - before}, <-published
}

func connect(broker, id string) paho.Client {
	c := paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + broker).SetClientID(id).SetCleanSession(false))
	c.Connect().WaitTimeout(5 * time.Second)
	return c
}

func free() (string, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", err
	}
	defer l.Close()
	return l.Addr().String(), nil
}

func start(name string, args ...string) (stop func(), err error) {
	c := exec.Command(name, args...)
	c.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	if err := c.Start(); err != nil {
		return nil, err
	}
	return func() { c.Process.Kill(); c.Wait() }, nil
}

func reachable(addr string) error {
	for range 200 {
		if c, err := net.Dial("tcp", addr); err == nil {
			return c.Close()
		}
		time.Sleep(20 * time.Millisecond)
	}
	return fmt.Errorf("nothing listens at %s", addr)
}

func answers(url string) error {
	for range 500 {
		if r, err := http.Get(url); err == nil {
			r.Body.Close()
			if r.StatusCode < 300 {
				return nil
			}
		}
		time.Sleep(20 * time.Millisecond)
	}
	return fmt.Errorf("no good answer from %s", url)
}
