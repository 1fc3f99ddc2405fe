package material

import "math"

// Direction is the direction in which heat flows through a layer.
type Direction int

// The directions of EN ISO 6946; Horizontal serves up to 30° from level.
const (
	Up Direction = iota
	Horizontal
	Down
)

// AirLayerResistance returns the thermal resistance of an unventilated air
// layer between surfaces of high emissivity (at least 0.8). [m²·K/W]
//
// The values are those of EN ISO 6946:2007, Table 2, linear between its
// thicknesses (read in a secondary copy). They hold for layers that are wide
// against their thickness and differ by at most 5 K from face to face. Above
// 300 mm the value of 300 mm is returned, where the standard asks for a heat
// balance of the space; a negative thickness or an unknown direction gives NaN.
func AirLayerResistance(thickness float64, direction Direction) float64 {
	type row struct{ thickness, up, horizontal, down float64 } // [m], [m²·K/W]
	table := [...]row{
		{0, 0, 0, 0},
		{0.005, 0.11, 0.11, 0.11},
		{0.007, 0.13, 0.13, 0.13},
		{0.010, 0.15, 0.15, 0.15},
		{0.015, 0.16, 0.17, 0.17},
		{0.025, 0.16, 0.18, 0.19},
		{0.050, 0.16, 0.18, 0.21},
		{0.100, 0.16, 0.18, 0.22},
		{0.300, 0.16, 0.18, 0.23},
	}
	if !(thickness >= 0) {
		return math.NaN()
	}
	value := func(r row) float64 {
		switch direction {
		case Up:
			return r.up
		case Horizontal:
			return r.horizontal
		case Down:
			return r.down
		}
		return math.NaN()
	}
	for i := 1; i < len(table); i++ {
		low, high := table[i-1], table[i]
		if thickness <= high.thickness {
			share := (thickness - low.thickness) / (high.thickness - low.thickness)
			return value(low) + share*(value(high)-value(low))
		}
	}
	return value(table[len(table)-1])
}

// AirLayerResistanceOf returns the thermal resistance of an unventilated air
// layer between surfaces of any emissivity, such as foil. [m²·K/W]
//
//	R  = 1/(ha + hr)
//	hr = 4 σ T³ / (1/ε1 + 1/ε2 − 1)
//	ha = max(A, 0.025/d)                                   [W/(m²·K)]
//	A  = 1.95 upward, 1.25 level, 0.12 d^−0.44 downward           ΔT ≤ 5 K
//	A  = 1.14 ΔT^⅓, 0.73 ΔT^⅓, 0.09 ΔT^0.187 d^−0.44              ΔT > 5 K
//
// thickness d in m, emissivities ε [-], mean temperature T of the layer in °C and
// temperature difference ΔT between its faces in K, of either sign.
// Source: EN ISO 6946:2017 Annex D (2007: Annex B), from memory; the equations
// for 5 K reproduce the standard's own table to its two decimals.
//
// It holds for 0 < d ≤ 0.3 m; thicker layers are computed with d = 0.3 m. A
// thickness of 0 has no resistance. A negative thickness, an emissivity outside
// 0 to 1, a temperature below absolute zero or an unknown direction gives NaN.
func AirLayerResistanceOf(thickness float64, direction Direction, emissivity1, emissivity2, meanTemperature, difference float64) float64 {
	const (
		stefanBoltzmann = 5.67e-8 // [W/(m²·K⁴)] as the standard rounds it
		kelvin          = 273.15  // 0 °C [K]
		thickest        = 0.3     // [m]
		mild            = 5       // difference up to which convection counts as constant [K]
	)
	tK := meanTemperature + kelvin
	difference = math.Abs(difference)
	if !(thickness >= 0) || !(emissivity1 >= 0 && emissivity1 <= 1) || !(emissivity2 >= 0 && emissivity2 <= 1) ||
		!(tK >= 0) || math.IsNaN(difference) {
		return math.NaN()
	}
	if thickness == 0 && (direction == Up || direction == Horizontal || direction == Down) {
		return 0
	}
	d := min(thickness, thickest)
	var convection float64 // [W/(m²·K)]
	strong := difference > mild
	switch {
	case direction == Up && strong:
		convection = 1.14 * math.Cbrt(difference)
	case direction == Up:
		convection = 1.95
	case direction == Horizontal && strong:
		convection = 0.73 * math.Cbrt(difference)
	case direction == Horizontal:
		convection = 1.25
	case direction == Down && strong:
		convection = 0.09 * math.Pow(difference, 0.187) * math.Pow(d, -0.44)
	case direction == Down:
		convection = 0.12 * math.Pow(d, -0.44)
	default:
		return math.NaN()
	}
	ha := max(convection, 0.025/d)
	hr := 0.0
	if emissivity1 > 0 && emissivity2 > 0 {
		hr = 4 * stefanBoltzmann * tK * tK * tK / (1/emissivity1 + 1/emissivity2 - 1)
	}
	return 1 / (ha + hr)
}
