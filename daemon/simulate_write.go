package daemon

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"gopkg.in/yaml.v3"

	"conditiond/model"
	"conditiond/model/synth"
)

// write a lot's folder: config.yaml and lot.yaml as its brewer has them,
// messages.ndjson.gz as a subscriber wrote them down, truth.json for who wants
// to judge. The folder is whole or isn't there.
func (s Simulation) write(sc synth.Scenario, r *synth.Recording) (string, error) {
	folder := filepath.Join(s.Out, sc.Lot.ID)
	if _, err := os.Stat(folder); !errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("write %s: %w; another --out would be right", folder, fs.ErrExist)
	}
	if err := os.MkdirAll(s.Out, 0o755); err != nil {
		return "", fmt.Errorf("write recordings: %w", err)
	}
	part, err := os.MkdirTemp(s.Out, ".part-")
	if err != nil {
		return "", fmt.Errorf("write %s: %w", folder, err)
	}
	defer os.RemoveAll(part)
	if err := errors.Join(s.files(part, sc, r), os.Chmod(part, 0o755)); err != nil {
		return "", fmt.Errorf("write %s: %w", folder, err)
	}
	if err := os.Rename(part, folder); err != nil {
		return "", fmt.Errorf("write %s: %w", folder, err)
	}
	return folder, nil
}

func (s Simulation) files(dir string, sc synth.Scenario, r *synth.Recording) error {
	config, err1 := yaml.Marshal(s.config(sc))
	lot, err2 := yaml.Marshal(local(sc))
	truth, err3 := json.Marshal(r.Truth())
	messages, err4 := pack(r.Lines())
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		return err
	}
	const note = "# Invented: no such beer was brewed.\n"
	var errs []error
	for name, b := range map[string][]byte{"config.yaml": append([]byte(note), config...),
		"lot.yaml": append([]byte(note), lot...), "truth.json": append(truth, '\n'), "messages.ndjson.gz": messages} {
		errs = append(errs, os.WriteFile(filepath.Join(dir, name), b, 0o644))
	}
	return errors.Join(errs...)
}

// local is the document with its brewer's own time.
func local(sc synth.Scenario) model.Lot {
	l := sc.Lot
	if zone, err := time.LoadLocation(sc.Site.Timezone); err == nil {
		l.PackagedAt = l.PackagedAt.In(zone)
	}
	return l
}

// pack the lines of a recording.
func pack(lines [][]byte) ([]byte, error) {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	for _, line := range lines {
		if _, err := z.Write(append(line, '\n')); err != nil {
			return nil, err
		}
	}
	err = z.Close()
	return b.Bytes(), err
}

// config is what a daemon needs to listen to the lot.
func (s Simulation) config(sc synth.Scenario) map[string]any {
	c := map[string]any{
		"site":    map[string]any{"name": sc.Site.Name, "timezone": sc.Site.Timezone, "altitude_m": sc.Site.Altitude},
		"sensors": map[string]any{sc.Thermometer.Name: sensorOf(sc, sc.Thermometer)},
		"spaces":  map[string]any{sc.Lot.Space: map[string]any{"temperature": sc.Thermometer.Name}},
	}
	if sc.Gauge.Name != "" {
		c["sensors"].(map[string]any)[sc.Gauge.Name] = sensorOf(sc, sc.Gauge)
	}
	if s.Broker != "" {
		c["mqtt"] = map[string]any{"broker": s.Broker}
	}
	return c
}

func sensorOf(sc synth.Scenario, d synth.Device) map[string]any {
	m := map[string]any{"topic": d.Topic, "quantity": d.Quantity, "unit": d.Unit, "interval": sc.Interval.String()}
	if d.Pointer != "" {
		m["pointer"] = d.Pointer
	}
	if d.Scale != 0 {
		m["calibration"] = map[string]any{"scale": d.Scale, "offset": d.Offset}
	}
	if d.Quantity == model.Pressure {
		m["reference"], m["full_scale"] = "gauge", d.FullScale
		if d.Absolute {
			m["reference"] = "absolute"
		}
	}
	return m
}
