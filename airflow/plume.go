package airflow

import "math"

// EntrainmentPoint is a usual top-hat entrainment coefficient of a round plume
// [-] ("Emptying filling boxes: the fluid mechanics of natural ventilation",
// Journal of Fluid Mechanics 212, 1990, doi:10.1017/S0022112090001987).
// Measurements range from 0.09 to 0.13.
const EntrainmentPoint = 0.1

// EntrainmentLine is a usual top-hat entrainment coefficient of a line plume [-].
// Measurements range from 0.10 to 0.16 (from memory).
const EntrainmentLine = 0.11

// BuoyancyFlux returns g power/(density cp temperature) [m⁴/s³] of a convective
// heat flow [W] into air of the density [kg/m³], specific heat [J/(kg·K)] and
// temperature [°C].
func BuoyancyFlux(power, density, cp, temperature float64) float64 {
	return Gravity * power / (density * cp * (temperature + 273.15))
}

// PlumeConstant returns C of PlumeFlow for a top-hat entrainment coefficient
// alpha [-]: (6 alpha/5)(9 alpha/10)^(1/3) pi^(2/3). Source: "Turbulent
// gravitational convection from maintained and instantaneous sources",
// Proceedings of the Royal Society A 234, 1956, doi:10.1098/rspa.1956.0011.
func PlumeConstant(alpha float64) float64 {
	return 6 * alpha / 5 * math.Cbrt(9*alpha/10) * math.Cbrt(math.Pi*math.Pi)
}

// PlumeFlow returns the volume flow [m³/s] of a turbulent round plume in uniform
// air at a height z [m] over its (virtual) point source of buoyancy flux [m⁴/s³]:
// C B^(1/3) z^(5/3). It is 0 at and below the source and without buoyancy.
func PlumeFlow(buoyancy, z, alpha float64) float64 {
	if z <= 0 || buoyancy <= 0 {
		return 0
	}
	return PlumeConstant(alpha) * math.Cbrt(buoyancy) * z * math.Cbrt(z*z)
}

// PlumeGravity returns the mean reduced gravity B/Q [m/s²] of that plume, +Inf at
// the source.
func PlumeGravity(buoyancy, z, alpha float64) float64 {
	if buoyancy <= 0 {
		return 0
	}
	return buoyancy / PlumeFlow(buoyancy, z, alpha)
}

// VirtualOrigin returns how far below a round source of the given radius [m] the
// point source lies whose plume has this radius there [m]: 5 radius/(6 alpha),
// from the cone radius 6 alpha z/5 of a pure plume. A source that gives off heat
// but no momentum draws in somewhat more air close by than this says.
func VirtualOrigin(radius, alpha float64) float64 { return 5 * radius / (6 * alpha) }

// LinePlumeFlow returns the volume flow [m²/s] per length of a turbulent line plume
// at a height z [m] over its source of buoyancy flux per length [m³/s³]:
// (2 alpha)^(2/3) B^(1/3) z. Source: as EntrainmentPoint.
func LinePlumeFlow(buoyancy, z, alpha float64) float64 {
	if z <= 0 || buoyancy <= 0 {
		return 0
	}
	return math.Cbrt(4*alpha*alpha*buoyancy) * z
}

// LinePlumeGravity returns the mean reduced gravity [m/s²] of that plume.
func LinePlumeGravity(buoyancy, z, alpha float64) float64 {
	if buoyancy <= 0 {
		return 0
	}
	return buoyancy / LinePlumeFlow(buoyancy, z, alpha)
}
