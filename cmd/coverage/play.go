package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"time"

	"conditiond/daemon"
	"conditiond/model"
	"conditiond/model/estimate"
	"conditiond/model/synth"
)

// Quantities whose intervals are looked at.
var quantities = []string{"co2", "final", "ready", "peak", "worst", "progress"}

// check is one look at one interval.
type check struct {
	kind     synth.Family
	day      float64 // since packaging
	quantity string
	inside   bool
}

const (
	first = 24 * time.Hour // before it, nothing is looked at
	every = 6 * time.Hour
)

// play a lot's folder and compare what is said with what was.
func play(dir string) ([]check, error) {
	var t synth.Truth
	b, err := os.ReadFile(filepath.Join(dir, "truth.json"))
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(b, &t); err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	said, err := estimates(dir)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	var out []check
	for _, e := range said {
		if e.Time.Before(t.PackagedAt.Add(first)) || e.Time.After(t.EndsAt) {
			continue
		}
		out = append(out, look(&t, e)...)
	}
	return out, nil
}

// estimates of a recording, every six hours.
func estimates(dir string) ([]estimate.Estimate, error) {
	c, _, err := daemon.ReadConfig(filepath.Join(dir, "config.yaml"))
	if err != nil {
		return nil, err
	}
	lot, err := c.LoadLot(filepath.Join(dir, "lot.yaml"))
	if err != nil {
		return nil, err
	}
	in, err := os.Open(filepath.Join(dir, "messages.ndjson.gz"))
	if err != nil {
		return nil, err
	}
	defer in.Close()
	var lines bytes.Buffer
	r := daemon.Replay{Config: c, Lots: []model.Lot{lot}, Every: every, Unread: func(int, error) {}}
	if err := r.Run(in, &lines); err != nil {
		return nil, err
	}
	var out []estimate.Estimate
	for d := json.NewDecoder(&lines); d.More(); {
		var line struct {
			Type string
			estimate.Estimate
		}
		if err := d.Decode(&line); err != nil {
			return nil, err
		}
		if line.Type == "estimate" {
			out = append(out, line.Estimate)
		}
	}
	return out, nil
}

// look at all intervals of an estimate. What nobody could know isn't asked: what
// a fault of the beer will do before it has begun and can be known, a date or a
// peak that lies behind a heat wave, a move or a chilling, and the pressures of a
// gauge bottle that leaks.
func look(t *synth.Truth, e estimate.Estimate) []check {
	age := e.Time.Sub(t.PackagedAt)
	h := min(int(age/time.Hour), len(t.Hourly.Progress)-1)
	began := func(kinds ...string) bool { s := starts(t, kinds...); return s == nil || !e.Time.Before(*s) }
	leaks := starts(t, "leak") != nil && began("leak")
	var out []check
	add := func(quantity string, i *estimate.Interval, truth float64) {
		if i != nil {
			out = append(out, check{t.Family, age.Hours() / 24, quantity, truth >= i.P05 && truth <= i.P95})
		}
	}
	add("co2", e.CO2Volumes, t.Hourly.CO2Volumes[h])
	add("progress", e.Progress, t.Hourly.Progress[h])
	late := began("late-attenuation", "stalled")
	hidden := late && unknown(t, e.Time, "late-attenuation", "stalled", "unfinished")
	switch {
	case !late:
		add("final", e.FinalVolumes, t.FinalWithoutFault)
	case !hidden:
		add("final", e.FinalVolumes, t.FinalVolumes)
	}
	if !leaks && late && !hidden && !turns(t, e.Time, t.HorizonAt) {
		add("peak", e.PeakBar, t.Hourly.PeakToCome[h])
	}
	if !leaks && starts(t, "late-attenuation") == nil {
		add("worst", e.WorstCaseBar, t.WorstCaseBar)
	}
	if at := t.ReadyAt; at != nil && e.Time.Before(*at) && began("stalled") && !hidden && !turns(t, e.Time, *at) {
		add("ready", days(e.ReadyAt, t.PackagedAt), at.Sub(t.PackagedAt).Hours()/24)
	}
	return out
}

// starts is when the first fault of some kinds begins; nil = there is none.
func starts(t *synth.Truth, kinds ...string) *time.Time {
	var at *time.Time
	for _, f := range t.Faults {
		if slices.Contains(kinds, f.Kind) && (at == nil || f.StartsAt.Before(*at)) {
			at = &f.StartsAt
		}
	}
	return at
}

// unknown says whether there is a fault of some kinds that nobody could know of
// at an instant.
func unknown(t *synth.Truth, at time.Time, kinds ...string) bool {
	return slices.ContainsFunc(t.Faults, func(f synth.Fault) bool {
		return slices.Contains(kinds, f.Kind) && (f.KnowableAt == nil || at.Before(*f.KnowableAt))
	})
}

// turns says whether a turn that nobody can foresee begins between two instants.
func turns(t *synth.Truth, from, to time.Time) bool {
	return slices.ContainsFunc(t.Events, func(e synth.Happening) bool {
		unforeseen := e.Kind == synth.HeatWave || e.Kind == synth.Moved || e.Kind == synth.Chilled
		return unforeseen && e.From.After(from) && e.From.Before(to)
	})
}

// days since packaging; a bound that is never reached is beyond all others.
func days(w *estimate.When, packaged time.Time) *estimate.Interval {
	if w == nil || w.P05 == nil {
		return nil
	}
	at := func(t *time.Time) float64 {
		if t == nil {
			return math.Inf(1)
		}
		return t.Sub(packaged).Hours() / 24
	}
	return &estimate.Interval{P05: at(w.P05), P50: at(w.P50), P95: at(w.P95)}
}
