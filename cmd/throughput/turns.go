package main

import (
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
	flood, err := b.publisher(broker)
	if err != nil {
		return turn{}, err
	}
	before := usage()
	began := time.Now()
	if err := flood.Start(); err != nil {
		return turn{}, err
	}
	for n.Load() < int64(b.readings) {
		if time.Since(began) > patience {
			return turn{}, fmt.Errorf("only %d of %d came", n.Load(), b.readings)
		}
		time.Sleep(time.Millisecond)
	}
	t := turn{wall: time.Since(began), cpu: usage() - before}
	return t, flood.Wait()
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
	flood, err := b.publisher(broker)
	if err != nil {
		return turn{}, err
	}
	before := usageOf(d.Process.Pid)
	began := time.Now()
	if err := flood.Start(); err != nil {
		return turn{}, err
	}
	for kept(page) < b.readings {
		if time.Since(began) > patience {
			return turn{}, fmt.Errorf("only %d of %d are journalled", kept(page), b.readings)
		}
		time.Sleep(20 * time.Millisecond)
	}
	t := turn{wall: time.Since(began), cpu: usageOf(d.Process.Pid) - before, peak: peakOf(d.Process.Pid)}
	return t, flood.Wait()
}

// kept is how many readings the daemon has journalled and shows.
func kept(page string) int {
	r, err := http.Get("http://" + page + "/metrics")
	if err != nil {
		return 0
	}
	defer r.Body.Close()
	b, _ := io.ReadAll(r.Body)
	return metric(string(b), `conditiond_sensor_readings{sensor="counter"} `)
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

// publisher is the flood, in a process of its own: the stock command-line
// publisher fed with numbers.
func (b *bench) publisher(broker string) (*exec.Cmd, error) {
	path := filepath.Join(b.dir, "numbers")
	f, err := os.Create(path)
	if err != nil {
		return nil, err
	}
	for n := range b.readings {
		fmt.Fprintf(f, "%.4f\n", 290+float64(n%100_000)/10_000)
	}
	if err := f.Close(); err != nil {
		return nil, err
	}
	in, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	host, port, _ := net.SplitHostPort(broker)
	c := exec.Command("mosquitto_pub", "-h", host, "-p", port, "-q", "1", "-t", "bench/counter", "-l")
	c.Stdin, c.Stderr = in, os.Stderr
	return c, nil
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
