package yard

import (
	"errors"
	"fmt"
	"strings"
)

// Fault is one thing wrong with something to be kept.
type Fault struct {
	Field  string `json:"field"`          // as JSON and CSV name it
	Found  string `json:"found"`          // what stands there
	Wanted string `json:"wanted"`         // what may stand there
	Hint   string `json:"hint,omitempty"` // how to mend it, may be empty
}

// String gives the fault in one line.
func (f Fault) String() string {
	found := f.Found
	if found == "" {
		found = "nothing"
	}
	s := fmt.Sprintf("%s: found %s, wanted %s", f.Field, found, f.Wanted)
	if f.Hint != "" {
		s += "; " + f.Hint
	}
	return s
}

// Faults is the error of a thing that breaks the rules: everything wrong at once.
type Faults struct {
	Of   string // what it is: "hive", "record of kind weight"
	List []Fault
}

// Error prints one fault a line.
func (fs *Faults) Error() string {
	lines := make([]string, len(fs.List))
	for i, f := range fs.List {
		lines[i] = f.String()
		if fs.Of != f.Field {
			lines[i] = fs.Of + ": " + lines[i]
		}
	}
	return strings.Join(lines, "\n")
}

// add notes a fault.
func (fs *Faults) add(field, found, wanted, hint string) {
	fs.List = append(fs.List, Fault{Field: field, Found: found, Wanted: wanted, Hint: hint})
}

// err returns the faults as an error, nil when there are none.
func (fs *Faults) err() error {
	if len(fs.List) == 0 {
		return nil
	}
	return fs
}

// FaultsIn returns the faults that err tells of, nil when it is another error.
func FaultsIn(err error) []Fault {
	var fs *Faults
	if errors.As(err, &fs) {
		return fs.List
	}
	return nil
}
