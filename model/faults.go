package model

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// faults collects what is wrong.
type faults []Fault

func (f *faults) add(path, format string, values ...any) {
	*f = append(*f, Fault{path, fmt.Sprintf(format, values...)})
}

const idLetters = "abcdefghijklmnopqrstuvwxyz0123456789-"

// id stands in topics and in URLs.
func (f *faults) id(id string) {
	switch {
	case id == "":
		f.add("id", "is missing; give lower-case letters, digits and hyphens, like spruce-tip-04")
	case len(id) > 64 || strings.Trim(id, idLetters) != "":
		f.add("id", "is %q; use 1 to 64 lower-case letters, digits and hyphens, like spruce-tip-04", id)
	}
}

func (f *faults) given(path, v, what string) {
	if strings.TrimSpace(v) == "" {
		f.add(path, "is missing; give %s", what)
	}
}

// within low and high; NaN isn't, nor is what was left out.
func (f *faults) within(path string, v, low, high float64, unit string) {
	switch {
	case v == 0 && low > 0:
		f.add(path, "is missing or 0; give %s to %s %s", digits(low), digits(high), unit)
	case !(v >= low && v <= high):
		f.add(path, "is %g; give %s to %s %s", v, digits(low), digits(high), unit)
	}
}

// digits of a bound, never 1e+06.
func digits(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func (f *faults) optional(path string, v, low, high float64, unit string) {
	if v != 0 {
		f.within(path, v, low, high, unit)
	}
}

func (f *faults) gravity(path string, v float64) {
	switch {
	case v == 0:
		f.add(path, "is missing; give a specific gravity, 0.98 to 1.2, like 1.012")
	case v >= 980 && v <= 1200:
		f.add(path, "is %g; give it as specific gravity, %.4g", v, v/1000)
	case v > 1.2 && v <= 40:
		f.add(path, "is %g, which looks like degrees Plato; give a specific gravity, about %.3f", v, Plato(v).Gravity())
	case !(v >= 0.98 && v <= 1.2):
		f.add(path, "is %g; give a specific gravity, 0.98 to 1.2, like 1.012", v)
	}
}

// fill of a bottle. One without headspace bursts when it warms.
func (f *faults) fill(path string, volume, headspace float64) {
	f.within(path+".volume_ml", volume, 20, 1e6, "mL, the beer in it")
	f.within(path+".headspace_ml", headspace, 0.1, math.Max(0.1, 3*volume), "mL, on top of the beer")
}

func oneOf[T ~string](f *faults, path string, v T, valid []T) {
	switch {
	case v == "":
		f.add(path, "is missing; give one of %s", list(valid))
	case !slices.Contains(valid, v):
		f.add(path, "is %q; give one of %s", v, list(valid))
	}
}

func optionalOneOf[T ~string](f *faults, path string, v T, valid []T) {
	if v != "" {
		oneOf(f, path, v, valid)
	}
}

func list[T ~string](valid []T) string {
	var s []string
	for _, v := range valid {
		s = append(s, string(v))
	}
	return strings.Join(s, ", ")
}
