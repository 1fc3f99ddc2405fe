// Package logger reads what loggers and scales write and packs it: the columns of
// their files, their clocks with daylight saving time, their faults; a compact form
// for many years of readings; means by the hour; and the steps on a scale that come
// from lifting a super and not from bees.
//
// It knows no files and no database. docs/measure.md tells the rules.
package logger

import (
	"fmt"
	"math"
	"strings"

	"hackle/quantity"
)

// Quantity is what a sensor measures.
type Quantity uint8

// The quantities, with the unit they are kept in.
const (
	Temperature Quantity = iota + 1 // of the air [°C]
	Humidity                        // relative [-]
	Weight                          // [kg]
	CO2                             // volume fraction [-]
	Power                           // of a heater [W]
)

// quantities is the table of all.
var quantities = [...]struct {
	name      string
	kind      quantity.Kind
	unit      string
	low, high float64 // beyond these a reading is a fault
	steps     float64 // readings are kept to a unit over this
	jump      float64 // a single reading that stands off by more from both neighbours is a fault
}{
	Temperature: {"temperature", quantity.Temperature, "°C", -60, 100, 1e4, 8},
	Humidity:    {"humidity", quantity.Fraction, "-", 0, 1.1, 1e5, 0.4},
	Weight:      {"weight", quantity.Mass, "kg", -20, 1000, 1e4, 1},
	CO2:         {"carbon dioxide", quantity.Fraction, "-", 0, 0.3, 1e7, 0.02},
	Power:       {"power", quantity.Power, "W", -1, 10000, 1e3, 1e4},
}

// Quantities returns all of them.
func Quantities() []Quantity { return []Quantity{Temperature, Humidity, Weight, CO2, Power} }

// Valid reports whether q is one of them.
func (q Quantity) Valid() bool { return q >= Temperature && q <= Power }

// String returns the word of the column map for the quantity.
func (q Quantity) String() string {
	if !q.Valid() {
		return fmt.Sprintf("quantity %d", uint8(q))
	}
	return quantities[q].name
}

// Unit returns the unit in which readings are kept.
func (q Quantity) Unit() string { return quantities[q].unit }

// Kind returns the kind of quantity that package quantity reads and writes.
func (q Quantity) Kind() quantity.Kind { return quantities[q].kind }

// Resolution is the step to which readings are kept, in the unit of the quantity.
func (q Quantity) Resolution() float64 { return 1 / quantities[q].steps }

// ParseQuantity reads the word for a quantity.
func ParseQuantity(text string) (Quantity, error) {
	for _, q := range Quantities() {
		if strings.EqualFold(strings.TrimSpace(text), q.String()) {
			return q, nil
		}
	}
	var names []string
	for _, q := range Quantities() {
		names = append(names, q.String())
	}
	return 0, fmt.Errorf("quantity %q, accepted: %s", text, strings.Join(names, ", "))
}

// fault reports whether a value cannot be a reading, and mends what only stands a
// little beyond an end.
func (q Quantity) fault(v float64) (float64, bool) {
	l := &quantities[q]
	if !(v >= l.low && v <= l.high) {
		return v, true
	}
	if q == Humidity && v > 1 {
		v = 1
	}
	return v, false
}

// Check returns a value as it can be a reading, and an error when it cannot be one.
func (q Quantity) Check(v float64) (float64, error) {
	mended, fault := q.fault(v)
	if fault {
		l := &quantities[q]
		return v, fmt.Errorf("%s %g %s, accepted: %g to %g", q, v, q.Unit(), l.low, l.high)
	}
	return mended, nil
}

// Reading is one value of a sensor.
type Reading struct {
	At    int64   // Unix time [s]
	Value float64 // in the unit of the quantity
}

// Round returns the value as it is kept.
func (q Quantity) Round(v float64) float64 {
	r := quantities[q].steps
	return math.Round(v*r) / r
}

// Merged counts what became of readings that were added to others.
type Merged struct {
	Added     int // new instants
	Same      int // instants that were there with the same value
	Differing int // instants that were there with another value
}

// Plus adds counts.
func (m Merged) Plus(o Merged) Merged {
	return Merged{m.Added + o.Added, m.Same + o.Same, m.Differing + o.Differing}
}

// Merge joins two series that each rise in time. Where both have an instant the old
// value stays, or goes when replace is set; both counts say so.
func Merge(old, added []Reading, resolution float64, replace bool) ([]Reading, Merged) {
	var m Merged
	if len(old) == 0 {
		m.Added = len(added)
		return added, m
	}
	if len(added) > 0 && added[0].At > old[len(old)-1].At {
		m.Added = len(added)
		return append(old, added...), m
	}
	out := make([]Reading, 0, len(old)+len(added))
	i, j := 0, 0
	for i < len(old) || j < len(added) {
		switch {
		case j == len(added) || i < len(old) && old[i].At < added[j].At:
			out = append(out, old[i])
			i++
		case i == len(old) || added[j].At < old[i].At:
			out = append(out, added[j])
			m.Added++
			j++
		default:
			kept := old[i]
			if math.Abs(old[i].Value-added[j].Value) > resolution {
				m.Differing++
				if replace {
					kept = added[j]
				}
			} else {
				m.Same++
			}
			out = append(out, kept)
			i++
			j++
		}
	}
	return out, m
}
