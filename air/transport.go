package air

import "math"

// Viscosity returns the dynamic viscosity of air [Pa·s] at any pressure near
// one atmosphere.
//
//	mu = 1.458e-6 T^1.5/(T + 110.4)
//
// Source: Sutherland's law with the constants of the U.S. Standard Atmosphere
// (1976), equation 51; within 1 % from -100 to 500 °C for dry air.
func Viscosity(t float64) float64 {
	tK := t + ZeroCelsius
	return 1.458e-6 * tK * math.Sqrt(tK) / (tK + 110.4)
}

// Conductivity returns the thermal conductivity of dry air [W/(m·K)].
//
//	lambda = 0.02436 (T/273.15 K)^0.85
//
// A power law through handbook values (from memory), within 1 % from -50 to
// 100 °C.
func Conductivity(t float64) float64 {
	return 0.02436 * math.Pow((t+ZeroCelsius)/ZeroCelsius, 0.85)
}

// KinematicViscosity returns the kinematic viscosity of dry air [m²/s].
func KinematicViscosity(t, p float64) float64 {
	return Viscosity(t) / Density(t, p, 0)
}

// ThermalDiffusivity returns the thermal diffusivity of dry air [m²/s].
func ThermalDiffusivity(t, p float64) float64 {
	return Conductivity(t) / (Density(t, p, 0) * SpecificHeatDry)
}

// Prandtl returns the Prandtl number of dry air [-].
func Prandtl(t float64) float64 {
	return SpecificHeatDry * Viscosity(t) / Conductivity(t)
}

// VapourDiffusivity returns the diffusion coefficient of water vapour in air
// [m²/s].
//
//	D = 1.87e-10 T^2.072 (101325 Pa/p)
//
// Source: "Gaseous diffusion coefficients" (Journal of Physical and Chemical
// Reference Data 1, 1972, DOI 10.1063/1.3253094), from memory; 9 to 177 °C, and
// used below. Other sources differ by up to 8 %.
func VapourDiffusivity(t, p float64) float64 {
	return 1.87e-10 * math.Pow(t+ZeroCelsius, 2.072) * StandardPressure / p
}

// LatentEvaporation returns the heat of evaporation of water at t [J/kg].
//
//	L = 2501e3 - 2361 t
//
// Within 2 kJ/kg of steam tables from 0 to 50 °C; continued below 0 °C for
// supercooled water.
func LatentEvaporation(t float64) float64 {
	return latentEvaporationZero - 2361*t
}

// LatentSublimation returns the heat of sublimation of ice at t [J/kg]: that of
// evaporation and of melting at 0 °C, and from there with the difference of the
// specific heats of vapour and ice. Within 2 kJ/kg of steam tables from -40 to
// 0 °C.
func LatentSublimation(t float64) float64 {
	return latentEvaporationZero + LatentFusion + (SpecificHeatVapour-SpecificHeatIce)*t
}

// EnthalpyVapour returns the enthalpy of water vapour [J/kg], counted from
// liquid water at 0 °C.
func EnthalpyVapour(t float64) float64 {
	return latentEvaporationZero + SpecificHeatVapour*t
}

// EnthalpyLiquid returns the enthalpy of liquid water [J/kg], counted from 0 °C,
// as what [EnthalpyVapour] leaves when [LatentEvaporation] is taken away. It
// makes evaporation close an energy balance exactly, at the price of a specific
// heat of 4221 J/(kg·K), 0.8 % above that of water.
func EnthalpyLiquid(t float64) float64 {
	return EnthalpyVapour(t) - LatentEvaporation(t)
}

// EnthalpyIce returns the enthalpy of ice [J/kg], counted from liquid water at
// 0 °C, as what [EnthalpyVapour] leaves when [LatentSublimation] is taken away.
func EnthalpyIce(t float64) float64 {
	return EnthalpyVapour(t) - LatentSublimation(t)
}
