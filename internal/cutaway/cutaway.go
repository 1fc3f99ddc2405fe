// Package cutaway draws a hive cut open, to scale, from its description: bodies,
// frames with comb and honey, walls in their layers, lid, floor, openings; and, of
// an hour of a run, the warmth of its air, the air that passes its openings, water
// and frost where they lie and the bees where they stand.
//
// [Compact] keeps of a trace what can be drawn, by the hour and in small steps;
// [Draw] makes the picture, [Describe] says the same in words, and [Year.At] tells
// the values of any place in it. A script in a page may move the picture through
// the year: [Year.MarshalJSON] gives it the hours and the rules by which they move
// the drawing, which are those that Draw itself follows. docs/cutaway.md tells of
// both.
//
// Inside the pictures a unit is a millimetre of the hive. x runs to the right from
// the middle of the hive, y downward from the floor's inner face.
package cutaway

import (
	"fmt"
	"time"

	"hackle/hive"
	"hackle/quantity"
)

// Section says where the hive is cut.
type Section string

// The sections. Across cuts from left to right and is seen from behind, so that
// left is left; Along cuts from front to back and is seen from the left, with the
// front at the left hand.
const (
	Across Section = "front"
	Along  Section = "side"
)

// Sections returns both.
func Sections() []Section { return []Section{Across, Along} }

// ParseSection reads the word for a section.
func ParseSection(text string) (Section, error) {
	for _, s := range Sections() {
		if text == string(s) {
			return s, nil
		}
	}
	return "", fmt.Errorf("section %q, accepted: front or side", text)
}

// faces are the walls that a section cuts, the left one of the picture first.
func (s Section) faces() (low, high hive.Face) {
	if s == Across {
		return hive.Left, hive.Right
	}
	return hive.Front, hive.Back
}

// Seen says from where one looks.
func (s Section) Seen() string {
	if s == Across {
		return "cut from left to right, seen from behind"
	}
	return "cut from front to back, seen from the left"
}

// Options say how to draw.
type Options struct {
	Section Section
	Units   quantity.System
	// Dimensions writes the measures of the hive, Names the layers and what they
	// are made of.
	Dimensions, Names bool
	// Alone makes a picture that needs no page around it: with its own style, a
	// ground of paper, a title and the moment that it shows.
	Alone bool
	// ID begins every identifier in the picture, so that several fit on one page;
	// "" for "cut".
	ID string
	// Date is the day whose wraps, trays and entrances are drawn when there is no
	// hour to draw; zero: 1 January.
	Date time.Time
}

func (o Options) id(name string) string {
	if o.ID == "" {
		return "cut-" + name
	}
	return o.ID + "-" + name
}
