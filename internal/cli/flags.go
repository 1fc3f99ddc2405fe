package cli

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"hackle/hive"
	"hackle/quantity"
)

// unitsFlag is the system of units that text is written in.
type unitsFlag quantity.System

func (u *unitsFlag) String() string {
	if quantity.System(*u) == quantity.US {
		return "us"
	}
	return "metric"
}

func (u *unitsFlag) Set(s string) error {
	switch strings.ToLower(s) {
	case "metric":
		*u = unitsFlag(quantity.Metric)
	case "us":
		*u = unitsFlag(quantity.US)
	default:
		return fmt.Errorf("%q is no system of units: metric or us", s)
	}
	return nil
}

func (u *unitsFlag) Type() string { return "metric|us" }

// amount is a flag that takes a quantity with its unit.
type amount struct {
	kind  quantity.Kind
	bare  string // unit of a number that has none, empty: such a number is refused
	value float64
	text  string
	given bool
}

func (a *amount) String() string { return a.text }

func (a *amount) Set(s string) error {
	text := s
	if _, err := strconv.ParseFloat(strings.TrimSpace(s), 64); err == nil && a.bare != "" {
		text = strings.TrimSpace(s) + " " + a.bare
	}
	v, err := quantity.Parse(text, a.kind)
	if err != nil {
		return err
	}
	a.value, a.text, a.given = v, s, true
	return nil
}

func (a *amount) Type() string { return a.kind.String() }

// dayFlag is a flag that takes a day, of every year when it names none.
type dayFlag struct {
	day   hive.Day
	given bool
}

func (d *dayFlag) String() string { return d.day.String() }

func (d *dayFlag) Set(s string) error {
	day, err := hive.ParseDay(s)
	if err != nil {
		return err
	}
	d.day, d.given = day, true
	return nil
}

func (d *dayFlag) Type() string { return "day" }

// wordsFlag takes some of a few words, separated by commas.
type wordsFlag struct {
	known []string
	words []string
}

func (w *wordsFlag) String() string { return strings.Join(w.words, ",") }

func (w *wordsFlag) Set(s string) error {
	w.words = nil
	for part := range strings.SplitSeq(s, ",") {
		part = strings.TrimSpace(part)
		if !slices.Contains(w.known, part) {
			return fmt.Errorf("%q is none of %s", part, list(w.known))
		}
		w.words = append(w.words, part)
	}
	return nil
}

func (w *wordsFlag) Type() string { return strings.Join(w.known, ",") }

func (w *wordsFlag) has(word string) bool { return slices.Contains(w.words, word) }
