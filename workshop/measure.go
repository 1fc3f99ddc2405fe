package workshop

import (
	"fmt"
	"math"
	"strings"

	"hackle/quantity"
)

// finest is the finest division of an inch on a joiner's rule.
const finest = 32

// Measure writes a length as it is read off a rule: whole millimetres with half
// ones where they matter, or inches with a fraction down to 1/32.
func Measure(m float64, system quantity.System) string {
	if system != quantity.US {
		mm := math.Round(m*2000) / 2
		if mm == math.Trunc(mm) {
			return fmt.Sprintf("%.0f mm", mm)
		}
		return fmt.Sprintf("%.1f mm", mm)
	}
	return fraction(m/0.0254) + " in"
}

// bare is Measure without the unit, for drawings that state it once.
func bare(m float64, system quantity.System) string {
	text := Measure(m, system)
	return text[:strings.LastIndexByte(text, ' ')]
}

// fraction writes inches to the nearest division of the rule.
func fraction(inches float64) string {
	sign := ""
	if inches < 0 {
		sign, inches = "-", -inches
	}
	n := int(math.Round(inches * finest))
	if n == 0 {
		return "0"
	}
	whole, part := n/finest, n%finest
	if part == 0 {
		return fmt.Sprintf("%s%d", sign, whole)
	}
	over := finest
	for part%2 == 0 {
		part, over = part/2, over/2
	}
	if whole == 0 {
		return fmt.Sprintf("%s%d/%d", sign, part, over)
	}
	return fmt.Sprintf("%s%d-%d/%d", sign, whole, part, over)
}
