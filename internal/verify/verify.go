// Package verify recomputes published and independently computed cases with
// hackle's own code and lays the numbers side by side. `hackle verify` prints
// them, the tests assert them, and docs/verification.md is generated from them.
package verify

import (
	"context"
	"embed"
	"encoding/json"
	"fmt"
	"math"
)

//go:embed cases/*.json
var caseFiles embed.FS

// Row compares one computed number with the number it is expected to be.
type Row struct {
	Quantity  string   // what is compared, with its place or time
	Unit      string   // unit of Computed and Expected, "-" for none
	Computed  float64  //
	Expected  float64  // reference value
	Tolerance float64  // allowed |Computed-Expected|, in Unit
	Published *float64 // the figure as printed in the literature, when it differs from Expected
	Note      string   //
}

// Miss reports whether the row lies outside its tolerance.
func (r Row) Miss() bool {
	if math.IsInf(r.Expected, 0) {
		return r.Computed != r.Expected
	}
	return !(math.Abs(r.Computed-r.Expected) <= r.Tolerance)
}

// Check is one case with all its rows.
type Check struct {
	ID     string // "PSY-01"
	Topic  string // "Moist air"
	What   string // one sentence
	Source string // standard, handbook, paper or program that the expected values come from
	// FromMemory tells that a published value or constant was recalled, not read.
	FromMemory bool
	// Report marks a comparison with measured hives: it is printed as it is and
	// a miss is not a failure of the code.
	Report bool
	Rows   []Row
	// Left names parts of the case that are not computed here, with the reason.
	Left string
}

// Misses counts the rows outside their tolerance.
func (c Check) Misses() int {
	n := 0
	for _, r := range c.Rows {
		if r.Miss() {
			n++
		}
	}
	return n
}

// suite computes the checks of one topic.
type suite struct {
	name string
	run  func(context.Context) ([]Check, error)
}

// openCase is one case as stored in cases/*.json.
type openCase struct {
	ID          string          `json:"id"`
	Description string          `json:"description"`
	Inputs      json.RawMessage `json:"inputs"`
	Expected    json.RawMessage `json:"expected"`
	Published   json.RawMessage `json:"published"`
	Source      string          `json:"source"`
	FromMemory  bool            `json:"from_memory"`
	Notes       string          `json:"notes"`
}

// loadCases reads one file of cases and returns them by identifier.
func loadCases(file string) (map[string]openCase, error) {
	text, err := caseFiles.ReadFile("cases/" + file)
	if err != nil {
		return nil, err
	}
	var set struct {
		Cases []openCase `json:"cases"`
	}
	if err := json.Unmarshal(text, &set); err != nil {
		return nil, fmt.Errorf("verify: %s: %w", file, err)
	}
	byID := make(map[string]openCase, len(set.Cases))
	for _, c := range set.Cases {
		byID[c.ID] = c
	}
	return byID, nil
}

// relative returns a tolerance of share times the magnitude of expected.
func relative(share, expected float64) float64 { return share * math.Abs(expected) }
