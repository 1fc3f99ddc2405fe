package wall

import (
	"errors"
	"fmt"
	"math"
)

// Part is the share of a layer's area that one material takes.
type Part struct {
	Fraction     float64 // of the layer's area [-]
	Thickness    float64 // [m]
	Conductivity float64 // [W/(m·K)], not read when Resistance > 0
	Resistance   float64 // [m²·K/W], 0: Thickness/Conductivity
}

// Combined is the transmittance of a component with bridged layers.
type Combined struct {
	Upper        float64 // upper limit of the total resistance [m²·K/W]
	Lower        float64 // lower limit of the total resistance [m²·K/W]
	Resistance   float64 // total resistance, surfaces included [m²·K/W]
	U            float64 // thermal transmittance [W/(m²·K)]
	LargestError float64 // half of the distance of the limits, as a share of Resistance [-]
}

// CombinedTransmittance computes a component of layers that may each consist of
// several materials side by side, between the surface resistances rsi and rse
// [m²·K/W]. Order of the layers does not matter.
//
// The upper limit takes every combination of parts as a section of its own,
// from surface to surface, whose area is the product of the fractions; the
// lower limit joins the parts of each layer in parallel; the total resistance
// is their mean. Source: ISO 6946:2017 (combined method; checked against
// printed examples). The standard holds the method good while Upper/Lower is at
// most 1.5 and no metal bridges the insulation; beyond that a Section is the
// better tool.
//
// Errors: no layer, fractions of a layer that do not sum to 1 within 1e-6,
// resistances that are not positive.
func CombinedTransmittance(layers [][]Part, rsi, rse float64) (Combined, error) {
	if len(layers) == 0 {
		return Combined{}, errors.New("wall: no layer")
	}
	if !(rsi >= 0) || !(rse >= 0) {
		return Combined{}, fmt.Errorf("wall: surface resistances %v and %v m²·K/W must not be negative", rsi, rse)
	}
	resistance := func(p Part) float64 {
		if p.Resistance > 0 {
			return p.Resistance
		}
		return p.Thickness / p.Conductivity
	}
	lower := rsi + rse
	for i, parts := range layers {
		area, conductance := 0.0, 0.0
		for _, p := range parts {
			r := resistance(p)
			if !(r > 0) || math.IsInf(r, 1) || !(p.Fraction >= 0) {
				return Combined{}, fmt.Errorf("wall: layer %d: part without a positive resistance or fraction: %+v", i+1, p)
			}
			area += p.Fraction
			conductance += p.Fraction / r
		}
		if !(math.Abs(area-1) <= 1e-6) {
			return Combined{}, fmt.Errorf("wall: layer %d: fractions sum to %v, not 1", i+1, area)
		}
		lower += 1 / conductance
	}
	var sections func(i int, fraction, sum float64) float64
	sections = func(i int, fraction, sum float64) float64 {
		if i == len(layers) {
			return fraction / sum
		}
		u := 0.0
		for _, p := range layers[i] {
			u += sections(i+1, fraction*p.Fraction, sum+resistance(p))
		}
		return u
	}
	upper := 1 / sections(0, 1, rsi+rse)
	total := (upper + lower) / 2
	return Combined{
		Upper: upper, Lower: lower, Resistance: total, U: 1 / total,
		LargestError: (upper - lower) / (2 * total),
	}, nil
}

// Transmittance returns the thermal transmittance of plain layers between the
// surface resistances rsi and rse [m²·K/W], in W/(m²·K). Source: ISO 6946:2017.
func Transmittance(layers []Layer, rsi, rse float64) float64 {
	r := rsi + rse
	for _, l := range layers {
		r += l.resistance()
	}
	return 1 / r
}

// HeatDirection is the direction of heat through an air layer.
type HeatDirection int

// Directions of heat flow.
const (
	Upward HeatDirection = iota
	Horizontal
	Downward
)

// AirLayerConductance returns the convective and conductive part of the
// conductance of an unventilated air layer of thickness d [m] across which the
// temperature falls by at most 5 K, in W/(m²·K). Source: ISO 6946:2017, annex D
// (coefficients from memory): upward max(1.95, 0.025/d), horizontal max(1.25,
// 0.025/d), downward max(0.12 d^-0.44, 0.025/d). The standard confines it to
// layers thinner than 0.3 m and a tenth of their other dimensions.
func AirLayerConductance(d float64, direction HeatDirection) float64 {
	still := 0.025 / d
	switch direction {
	case Upward:
		return math.Max(1.95, still)
	case Downward:
		return math.Max(0.12*math.Pow(d, -0.44), still)
	default:
		return math.Max(1.25, still)
	}
}

// AirLayerResistance returns the resistance [m²·K/W] of an unventilated air
// layer of thickness d [m] at the mean temperature tMean [°C] between surfaces
// of emissivities e1 and e2 [-]: 1/(ha + E·hr0), with AirLayerConductance and
// the effective emissivity of two parallel planes. Source: ISO 6946:2017, annex
// D (from memory).
func AirLayerResistance(d float64, direction HeatDirection, e1, e2, tMean float64) float64 {
	return 1 / (AirLayerConductance(d, direction) + RadiativeFilm(EffectiveEmissivity(e1, e2, 1), tMean))
}

// OuterSurfaceResistance returns the resistance [m²·K/W] of an outer surface of
// emissivity e [-] and mean temperature tMean [°C] at wind speed v [m/s] beside
// it: 1/(4 + 4v + e·hr0). Source: ISO 6946:2017, annex C (from memory).
func OuterSurfaceResistance(v, e, tMean float64) float64 {
	return 1 / (WindFilmStandard(v) + RadiativeFilm(e, tMean))
}

// TaperedRectangle returns the mean transmittance [W/(m²·K)] of a rectangular
// plane whose tapered layer falls from resistance r1 to nothing, r0 being the
// resistance of all the rest, surfaces included [m²·K/W]. Source: ISO
// 6946:2017, annex E (from memory); the tests integrate it.
func TaperedRectangle(r0, r1 float64) float64 {
	x := r1 / r0
	if x < 1e-5 { // the closed form cancels; its series
		return (1 - x/2) / r0
	}
	return math.Log1p(x) / r1
}

// TaperedThickApex returns the mean transmittance [W/(m²·K)] of a triangular
// plane whose tapered layer is thickest at the apex; r0, r1 and source as in
// TaperedRectangle.
func TaperedThickApex(r0, r1 float64) float64 {
	x := r1 / r0
	if x < 1e-3 {
		return (1 - x/3 + x*x/6) / r0
	}
	return 2 / r1 * ((1+1/x)*math.Log1p(x) - 1)
}

// TaperedThinApex returns the mean transmittance [W/(m²·K)] of a triangular
// plane whose tapered layer is thinnest at the apex; r0, r1 and source as in
// TaperedRectangle.
func TaperedThinApex(r0, r1 float64) float64 {
	x := r1 / r0
	if x < 1e-3 {
		return (1 - 2*x/3 + x*x/2) / r0
	}
	return 2 / r1 * (1 - math.Log1p(x)/x)
}

// Fasteners describes metal pins through an insulation layer.
type Fasteners struct {
	Share        float64 // length of the pin within the insulation over the layer's thickness [-]
	Conductivity float64 // of a pin [W/(m·K)]
	Section      float64 // of one pin [m²]
	Number       float64 // per area [1/m²]
	Thickness    float64 // of the insulation layer [m]
	Resistance   float64 // of the insulation layer [m²·K/W]
}

// FastenerCorrection returns what mechanical fasteners add to the transmittance
// of a component whose total resistance without them is total [m²·K/W], in
// W/(m²·K): 0.8·Share·λf·nf·Af/d0·(R1/R)². Source: ISO 6946:2017, annex F
// (from memory). Not for pins that touch metal on both sides.
func FastenerCorrection(f Fasteners, total float64) float64 {
	passed := f.Resistance / total
	return 0.8 * f.Share * f.Conductivity * f.Number * f.Section / f.Thickness * passed * passed
}
