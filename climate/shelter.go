package climate

import (
	"fmt"
	"math"
	"time"
)

// Windbreak is a hedge, belt of trees or fence as the hive sees it.
type Windbreak struct {
	// From and To are the bearings of its ends from the hive, clockwise from
	// north; it lies clockwise from From to To [deg].
	From, To float64
	Height   float64 // [m]
	Distance float64 // from the hive to the nearest point of its line [m]
	// Porosity is the share of open area in a side view, with the leaves on: about
	// 0 for a wall, 0.2 to 0.4 for a dense hedge, 0.5 for an open one (common
	// practice, no source) [-].
	Porosity float64
	// BarePorosity is the same without leaves; 0 for a windbreak that keeps them.
	BarePorosity float64 // [-]
}

// ShelterFactor returns the wind near the ground behind a windbreak as a share
// of that in the open [-], at a distance behind it in heights of the windbreak,
// negative in front of it, and its porosity [-]:
//
//	1 - exp(-a x²) + b exp(-0.003 (x + c)^d)
//	a = 0.008 - 0.17 p + 0.17 p^1.05, b = 1.35 exp(-0.5 p^0.2), c = 10 (1 - 0.5 p), d = 3 - p
//
// The relation gives friction velocity; near the ground speed follows it. It was
// fitted to porosities up to about 0.9 (higher ones count as 0.9) for wind square
// to a long windbreak; the result is held to 0 to 1.
//
// Source: the wind barrier model of the public wind erosion prediction system of
// the United States, as used in "Spatial modelling of wind speed around
// windbreaks" (Catena 52, 2003, DOI 10.1016/S0341-8162(03)00018-3); the
// coefficients read in open code that implements it.
func ShelterFactor(heights, porosity float64) float64 {
	p := min(max(porosity, 0), 0.9)
	a := 0.008 - 0.17*p + 0.17*math.Pow(p, 1.05)
	b := 1.35 * math.Exp(-0.5*math.Pow(p, 0.2))
	c := 10 * (1 - 0.5*p)
	near := math.Pow(max(heights+c, 0), 3-p)
	return min(max(1-math.Exp(-a*heights*heights)+b*math.Exp(-0.003*near), 0), 1)
}

// Factor returns the wind that the windbreak leaves at the hive [-], for a wind
// from a direction [deg] and a share of leaves [-] (see [Leaves]). Wind that
// comes aslant has the longer way from the windbreak to the hive; beyond its ends the shelter fades
// over 15 degrees, the sway of the wind's direction (common practice, no source). A
// hive to its windward gets the relation's small calming there.
func (b Windbreak) Factor(windFrom, leaves float64) float64 {
	if !(b.Height > 0) || !(b.Distance >= 0) {
		return 1
	}
	porosity := b.Porosity
	if b.BarePorosity > porosity {
		porosity += (b.BarePorosity - b.Porosity) * (1 - min(max(leaves, 0), 1))
	}
	heights := b.Distance / b.Height
	width := clockwise(b.From, b.To)
	across := b.From + width/2 // the bearing square to its line
	// The angle of the wind with the square to the windbreak.
	off := math.Abs(math.Remainder(windFrom-across, 360))
	if off > 90 { // from the other side: the hive is in front of it
		return ShelterFactor(-heights/max(math.Cos((180-off)*math.Pi/180), 0.2), porosity)
	}
	behind := ShelterFactor(heights/max(math.Cos(off*math.Pi/180), 0.2), porosity)
	const fade = 15.0
	outside := max(off-width/2, 0)
	kept := max(1-outside/fade, 0)
	return 1 - (1-behind)*kept
}

// clockwise returns the angle from one bearing on to another, above 0 to 360
// [deg].
func clockwise(from, to float64) float64 {
	w := math.Mod(math.Mod(to-from, 360)+360, 360)
	if w == 0 {
		return 360
	}
	return w
}

// Sheltered returns the weather with the wind that windbreaks leave at the hive,
// in a new Series; where several stand against the same wind the best one
// counts. The wind stays that of 10 m, as if the whole profile were lowered: use
// it with a [WindProfile] whose ShelterFactor is 1, else shelter counts twice.
func (s *Series) Sheltered(breaks []Windbreak, leaves Leaves) *Series {
	w := s.altered()
	if len(breaks) == 0 || len(w.Hours) == 0 {
		return w
	}
	before, after := 0.0, 0.0
	on := 0.0
	for i := range w.Hours {
		if i%24 == 0 {
			on = leaves.Share(s.Start.Add(time.Duration(i) * time.Hour))
		}
		h := &w.Hours[i]
		best := 1.0
		for _, b := range breaks {
			best = min(best, b.Factor(h.WindFrom, on))
		}
		before += h.WindSpeed
		h.WindSpeed *= best
		after += h.WindSpeed
	}
	if before > 0 {
		w.Repairs = append(w.Repairs, Repair{Field: fields[windSpeed].name, Found: fmt.Sprintf("%d windbreaks at the site", len(breaks)),
			Done: fmt.Sprintf("wind cut to %.0f %% of the open in the mean", 100*after/before)})
	}
	return w
}
