// Package comb computes whether a comb holds in heat: the weight that hangs on
// it, what its attachments, wires and sticks can carry at a temperature, how far
// the wax has stretched, and what gives way first.
//
// A [Frame] describes one comb in its frame. [New] makes an immutable [Panel] of
// it; [Panel.Under] puts a [Load] on it; [Loaded.Utilisation] is load over
// capacity at a temperature; a [State] adds up creep hour by hour. docs/comb.md
// explains the model and its numbers.
//
// The strength of comb in heat has not been measured in any source that could be
// read. Every answer is therefore a [Range] from low, middle and high strength,
// and the middle one alone means little.
package comb

import (
	"fmt"
	"math"
)

// Gravity. [m/s²] CODATA, standard acceleration, rounded.
const gravity = 9.80665

// Figures of comb.
const (
	// WaxDensity is the density of beeswax. [kg/m³] FAO Agricultural Services
	// Bulletin 124: 958 to 970 at 15 °C (read).
	WaxDensity = 960.0
	// WaxMass is the wax in a comb per area of comb, both faces together.
	// [kg/m²] 100 g in a deep frame of 0.087 m² (FAO Agricultural Services
	// Bulletin 124, read), 1.12 from 1.4 kg in 2.5 m² of comb face, 1.0 from 1 g
	// per 20 cm² of comb face (both read). As a plate of solid wax it is 1.2 mm thick.
	WaxMass = 1.15
	// cocoonMass is what several broods leave in a comb. [kg/m²] 150 g in a comb
	// of 0.076 m² (trade journal, read; area derived).
	cocoonMass = 2.0
	// HoneyMass is capped honey per area of comb, both faces together. [kg/m²]
	// 333 to 350 g/dm² (two beekeeping books, read).
	HoneyMass = 35.0
	// honeyDensity at 17.5 % water and 20 °C. [kg/m³] Published table, from memory.
	honeyDensity = 1420.0
	// broodMass is sealed and open brood per area of comb. [kg/m²] 80,000 cells
	// on both faces of a square metre (750 to 950 per dm², read), 0.15 g each
	// (from memory).
	broodMass = 12.0
)

// Age tells wax that has held brood from fresh wax.
type Age string

// Ages of comb, in the words of the hive file.
const (
	Fresh Age = "fresh"
	Brood Age = "brood"
)

// index of the age in a table: 0 for fresh comb and anything unknown.
func (a Age) index() int {
	if a == Brood {
		return 1
	}
	return 0
}

// Support is the pattern that carries a comb inside its frame.
type Support string

// Support patterns, in the words of the hive file.
const (
	None      Support = "none"
	Upright   Support = "upright wires"
	Level     Support = "level wires"
	Crossed   Support = "crossed wires"
	Sticks    Support = "sticks"
	StiffCore Support = "stiff foundation"
)

// Frame is one comb in its frame, or under its bar.
type Frame struct {
	Width  float64 // of the comb, along the top bar [m]
	Height float64 // of the comb, from the top bar down [m]
	// Bars is true for a top bar alone, without side bars and bottom bar.
	Bars       bool
	Foundation bool // the comb was built on a sheet of wax
	Age        Age
	Support    Support
	// Lines is the number of wires (of diagonals when crossed, two making a
	// cross) or sticks, 0 for as many as the trade puts in: see DefaultLines.
	Lines int
	// Joined says how much of the comb's edges is joined to wood, nil for
	// JoinedBy(Age, Foundation, Bars).
	Joined *Joined
	// Wax is the wax per area of comb, both faces together, 0 for WaxMass. [kg/m²]
	Wax float64
	// Wire is the wire used, nil for StandardWire.
	Wire *Wire
	// Stick is the stick used, nil for StandardStick.
	Stick *Stick
}

// Joined is the share of a comb's edges that is joined to wood.
type Joined struct {
	Top    float64 // of the length of the top bar [-]
	Side   float64 // of the comb's height, from the top down, at both side bars [-]
	Bottom float64 // of the length of the bottom bar [-]
}

// JoinedBy returns what is usually joined. Judgement, no source: fresh comb
// starts at the top bar, reaches the side bars later and the bottom bar last;
// comb that has held brood is joined almost all round.
func JoinedBy(age Age, foundation, bars bool) Joined {
	j := Joined{Top: 0.9, Side: 0.3}
	if foundation {
		j = Joined{Top: 1, Side: 0.5}
	}
	if age == Brood {
		j = Joined{Top: 1, Side: 0.9, Bottom: 0.5}
	}
	if bars {
		j.Side, j.Bottom = 0, 0
	}
	return j
}

// Wire is what level and crossed wires are made of.
type Wire struct {
	Diameter float64 // [m]
	Strength float64 // tensile stress it can stand without slipping or stretching on [Pa]
	// Sag is how far a span of wire may be drawn down. [m]
	Sag float64
}

// StandardWire returns wire as the trade uses it: 0.4 mm (hive plans, read), 500
// MPa (annealed steel wire, from memory), sag 8 mm: a bee space, after which the
// comb stands on the bottom bar (judgement).
func StandardWire() Wire { return Wire{Diameter: 0.4e-3, Strength: 500e6, Sag: 8e-3} }

// Stick is a round wooden stick across the frame, level, through the comb.
type Stick struct {
	Diameter float64 // [m]
	Strength float64 // bending strength [Pa]
}

// StandardStick returns a round stick of 6 mm with 50 MPa bending strength (a
// cautious figure for straight-grained softwood, from memory).
func StandardStick() Stick { return Stick{Diameter: 6e-3, Strength: 50e6} }

// DefaultLines returns how many wires or sticks a comb of a height [m] has when
// nobody says otherwise: two level wires up to 170 mm (a super; hive plans, read)
// and four in deeper frames (common practice, no source), two diagonals, one
// stick up to 170 mm and two above (common practice, no source), four upright
// wires (hive plans, read).
func DefaultLines(support Support, height float64) int {
	const shallow = 0.17 // [m]
	switch {
	case support == Upright, support == Level && height > shallow:
		return 4
	case support == Level, support == Crossed, support == Sticks && height > shallow:
		return 2
	case support == Sticks:
		return 1
	}
	return 0
}

// Validate reports what is wrong with the frame, nil when nothing is.
func (f Frame) Validate() error {
	within := func(what string, value, low, high float64, unit string) error {
		if !(value >= low && value <= high) {
			return fmt.Errorf("%s %g %s is not between %g and %g", what, value, unit, low, high)
		}
		return nil
	}
	checks := []error{
		within("comb width", f.Width, 0.05, 1.5, "m"),
		within("comb height", f.Height, 0.02, 1.5, "m"),
		within("lines", float64(f.Lines), 0, 50, ""),
		within("wax", f.wax(), 0.2, 10, "kg/m²"),
	}
	j := f.joined()
	checks = append(checks,
		within("joined share of the top bar", j.Top, 0, 1, ""),
		within("joined share of the side bars", j.Side, 0, 1, ""),
		within("joined share of the bottom bar", j.Bottom, 0, 1, ""))
	w, s := f.wire(), f.stick()
	checks = append(checks,
		within("wire diameter", w.Diameter, 0.05e-3, 5e-3, "m"),
		within("wire strength", w.Strength, 1e6, 5e9, "Pa"),
		within("wire sag", w.Sag, 1e-4, 0.05, "m"),
		within("stick diameter", s.Diameter, 0.5e-3, 0.03, "m"),
		within("stick strength", s.Strength, 1e5, 1e9, "Pa"))
	for _, err := range checks {
		if err != nil {
			return err
		}
	}
	switch f.Age {
	case Fresh, Brood:
	default:
		return fmt.Errorf("age %q is neither %q nor %q", f.Age, Fresh, Brood)
	}
	switch f.Support {
	case None, Upright, StiffCore:
	case Level, Crossed, Sticks:
		if f.Bars {
			return fmt.Errorf("%s need side bars, and there is a top bar alone", f.Support)
		}
		if f.Support == Crossed && f.Lines%2 != 0 {
			return fmt.Errorf("%d crossed wires: they come in pairs", f.Lines)
		}
	default:
		return fmt.Errorf("unknown support %q", f.Support)
	}
	if f.Bars && (j.Side > 0 || j.Bottom > 0) {
		return fmt.Errorf("comb joined to side or bottom bars under a top bar alone")
	}
	return nil
}

func (f Frame) joined() Joined {
	if f.Joined != nil {
		return *f.Joined
	}
	return JoinedBy(f.Age, f.Foundation, f.Bars)
}

func (f Frame) wax() float64 {
	if f.Wax == 0 {
		return WaxMass
	}
	return f.Wax
}

func (f Frame) wire() Wire {
	if f.Wire != nil {
		return *f.Wire
	}
	return StandardWire()
}

func (f Frame) stick() Stick {
	if f.Stick != nil {
		return *f.Stick
	}
	return StandardStick()
}

// SolidWaxThickness returns the thickness of a plate of solid wax that holds as
// much wax per area as a comb with wax [kg/m²] on both faces together. [m]
func SolidWaxThickness(wax float64) float64 { return wax / WaxDensity }

// LevelWireLoad returns the even load per length that a wire of a length [m],
// drawn to a tension [N], carries at a sag [m]: the parabola of a cable. [N/m]
//
//	p = 8·T·f/ℓ²
func LevelWireLoad(tension, length, sag float64) float64 {
	return 8 * tension * sag / (length * length)
}

// CrossedWireLoad returns the even load per level length [N/m] that each of two
// wires carries that cross in the middle of a frame of a width and a height [m]
// and may be drawn to a tension [N] at a sag [m] of each half.
//
// Each half spans from corner to crossing and sags like a cable; half of the load
// goes to the crossing, which hangs from the two upper halves as from a V:
//
//	T = p·(ℓ/2)²/(8·f) + p·W/(2·sin θ),   ℓ² = W² + H²,   sin θ = H/ℓ
//
// The load on a length of wire stands square to it; its upright part per level
// length is the same p.
func CrossedWireLoad(tension, width, height, sag float64) float64 {
	length := math.Hypot(width, height)
	return tension / (length*length/4/(8*sag) + width*length/(2*height))
}

// StickLoad returns the even load per length that a round stick of a diameter
// [m], a bending strength [Pa] and a length [m] carries between two supports. [N/m]
//
//	p = 8·M/ℓ²,   M = σ·π·d³/32
func StickLoad(diameter, strength, length float64) float64 {
	moment := strength * math.Pi * diameter * diameter * diameter / 32
	return 8 * moment / (length * length)
}
