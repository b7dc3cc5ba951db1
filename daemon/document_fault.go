package daemon

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Fault is one thing wrong with a document, where it stands, and what would be
// right.
type Fault struct {
	File         string
	Line, Column int    // from 1; columns count characters
	Path         string // sensors.gauge-a.unit, bottles[0].kind
	Problem      string
}

// Error is the fault as one line: file:line:column: path: problem.
func (f Fault) Error() string {
	at := fmt.Sprintf("%s:%d:%d: ", f.File, f.Line, f.Column)
	if f.Path == "" {
		return at + f.Problem
	}
	return at + f.Path + ": " + f.Problem
}

// Faults of a document, in the order of its lines.
type Faults []Fault

// Error has a line for each.
func (fs Faults) Error() string {
	lines := make([]string, len(fs))
	for i, f := range fs {
		lines[i] = f.Error()
	}
	return strings.Join(lines, "\n")
}

func (fs Faults) sort() {
	slices.SortStableFunc(fs, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column), cmp.Compare(a.Path, b.Path))
	})
}
