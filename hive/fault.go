package hive

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"hackle/internal/spelling"
)

// Severity tells a fault that stops a hive from being computed from one that
// only deserves a look.
type Severity int

// Severities. The zero value is Wrong, so that a fault must be softened on
// purpose.
const (
	Wrong   Severity = iota // the description contradicts itself or cannot be read
	Warning                 // it can be built, but a keeper would hardly want it so
)

// String returns the word printed before a fault.
func (s Severity) String() string {
	if s == Warning {
		return "warning"
	}
	return "fault"
}

// Fault is one thing wrong with a hive description.
type Fault struct {
	Line     int // 1-based, 0 when the description did not come from a file
	Column   int // 1-based in characters, 0 when unknown
	Severity Severity
	Field    string // path in the hive file, list entries counted from 1: "hive.openings[2].width"
	Found    string // what stands there
	Wanted   string // what may stand there
	Hint     string // how to mend it, may be empty
}

// String gives the fault in one line without the name of the file.
func (f Fault) String() string {
	var b strings.Builder
	if f.Line > 0 {
		fmt.Fprintf(&b, "%d:%d: ", f.Line, f.Column)
	}
	if f.Severity == Warning {
		b.WriteString("warning: ")
	}
	if f.Field != "" {
		fmt.Fprintf(&b, "%s: ", f.Field)
	}
	fmt.Fprintf(&b, "found %s, wanted %s", f.Found, f.Wanted)
	if f.Hint != "" {
		fmt.Fprintf(&b, " (%s)", f.Hint)
	}
	return b.String()
}

// maxPrinted is how many faults Faults.Error prints before it only counts.
const maxPrinted = 20

// Faults is the error of a hive description: everything wrong with it at once.
type Faults struct {
	Name string  // of the file, may be empty
	List []Fault // by line and column
}

// Error prints one fault a line, "name:line:column: field: found …, wanted …",
// at most twenty of them and then how many more there are.
func (fs *Faults) Error() string {
	var b strings.Builder
	for i, f := range fs.List {
		if i == maxPrinted {
			fmt.Fprintf(&b, "\n… and %d more", len(fs.List)-i)
			break
		}
		if i > 0 {
			b.WriteByte('\n')
		}
		if fs.Name != "" {
			b.WriteString(fs.Name)
			b.WriteByte(':')
			if f.Line == 0 {
				b.WriteByte(' ')
			}
		}
		b.WriteString(f.String())
	}
	return b.String()
}

// Wrong returns the faults that are more than warnings.
func (fs *Faults) Wrong() []Fault { return only(fs.List, Wrong) }

// Warnings returns the warnings alone.
func (fs *Faults) Warnings() []Fault { return only(fs.List, Warning) }

func only(list []Fault, s Severity) []Fault {
	var out []Fault
	for _, f := range list {
		if f.Severity == s {
			out = append(out, f)
		}
	}
	return out
}

func sortFaults(list []Fault) {
	slices.SortStableFunc(list, func(a, b Fault) int {
		return cmp.Or(
			cmp.Compare(a.Line, b.Line),
			cmp.Compare(a.Column, b.Column),
			cmp.Compare(a.Severity, b.Severity),
			cmp.Compare(a.Field, b.Field),
		)
	})
}

// nearest returns the candidate closest to word in single-letter edits, or ""
// when none is close enough to be meant.
func nearest(word string, candidates []string) string {
	plain := func(s string) string {
		return strings.NewReplacer("_", " ", "-", " ").Replace(strings.ToLower(strings.TrimSpace(s)))
	}
	w := plain(word)
	best, bestDistance := "", 1+max(2, len([]rune(w))/3)
	for _, c := range candidates {
		if d := spelling.Corrections(w, plain(c)); d < bestDistance {
			best, bestDistance = c, d
		}
	}
	return best
}
