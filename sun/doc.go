// Package sun computes where the sun stands, what it and the sky send onto a
// plane, and the heat balance of a plane that faces them, as plain functions of
// numbers.
//
// Angles are in degrees. Latitude is positive north, longitude positive east,
// azimuth clockwise from north, tilt from the horizontal. Irradiance is in W/m²;
// functions that only add and scale it take energy per area as well.
// Temperatures are in degrees Celsius.
//
// No function fails. Arguments that are NaN give NaN.
package sun

import "math"

const (
	// ZeroCelsius is 0 °C on the kelvin scale [K], exact by definition of the
	// Celsius temperature.
	ZeroCelsius = 273.15

	// StefanBoltzmann is the Stefan-Boltzmann constant [W/(m²·K⁴)], SI (2019),
	// rounded.
	StefanBoltzmann = 5.670374419e-8

	// Constant is the solar constant [W/m²] of the World Radiation Center
	// (1981), with which the diffuse and sky models here were fitted. Later
	// measurement gives 1361 W/m²: "A new, lower value of total solar
	// irradiance" (Geophysical Research Letters 38, 2011, DOI
	// 10.1029/2010GL045777), from memory.
	Constant = 1367.0
)

const degree = math.Pi / 180

func sinDeg(x float64) float64 { return math.Sin(x * degree) }
func cosDeg(x float64) float64 { return math.Cos(x * degree) }

// asinDeg and acosDeg take arguments just outside -1 to 1, as rounding leaves
// them, for the ends.
func asinDeg(x float64) float64 { return math.Asin(math.Max(-1, math.Min(x, 1))) / degree }
func acosDeg(x float64) float64 { return math.Acos(math.Max(-1, math.Min(x, 1))) / degree }

// turn brings an angle into 0 to 360 [deg].
func turn(x float64) float64 {
	x = math.Mod(x, 360)
	if x < 0 {
		x += 360
	}
	return x
}

// halfTurn brings an angle into -180 to 180 [deg].
func halfTurn(x float64) float64 {
	return math.Remainder(x, 360)
}
