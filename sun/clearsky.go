package sun

import "math"

// AirMass returns the relative optical air mass [-] at the sun's elevation
// [deg]; below the horizon that of the horizon, 38.
//
//	m = 1/(sin e + 0.50572 (e + 6.07995)^-1.6364)
//
// Source: "Revised optical air mass tables and approximation formula" (Applied
// Optics 28, 1989, DOI 10.1364/AO.28.004735), from memory.
func AirMass(elevation float64) float64 {
	e := math.Max(0, elevation)
	return 1 / (sinDeg(e) + 0.50572*math.Pow(e+6.07995, -1.6364))
}

// ErbsDiffuseFraction returns the diffuse share of the global irradiance [-]
// for the hourly clearness index kt, global over extraterrestrial on the level.
//
// Source: "Estimation of the diffuse radiation fraction for hourly, daily and
// monthly-average global radiation" (Solar Energy 28, 1982, DOI
// 10.1016/0038-092X(82)90302-4). Below 0 it is that at 0, above 0.8 a constant.
func ErbsDiffuseFraction(kt float64) float64 {
	switch {
	case kt <= 0:
		return 1
	case kt <= 0.22:
		return 1 - 0.09*kt
	case kt <= 0.80:
		return 0.9511 + kt*(-0.1604+kt*(4.388+kt*(-16.638+kt*12.336)))
	case kt > 0.80:
		return 0.165
	}
	return math.NaN()
}

// Split divides a global irradiance on the level [W/m²] into beam, on a plane
// that faces the sun, and diffuse, on the level [W/m²], by
// [ErbsDiffuseFraction], given the extraterrestrial irradiance on a plane that
// faces the sun [W/m²]. With the sun lower than 1° all is diffuse; the beam is
// never more than the extraterrestrial irradiance.
func Split(global float64, pos Pos, extraterrestrial float64) (beam, diffuse float64) {
	const lowest = 1.0 // [deg]
	if pos.Elevation < lowest || global <= 0 {
		return 0, math.Max(0, global)
	}
	level := sinDeg(pos.Elevation)
	diffuse = global * ErbsDiffuseFraction(global/(extraterrestrial*level))
	beam = math.Min((global-diffuse)/level, extraterrestrial)
	return beam, global - beam*level
}

// HottelClimate holds the factors by which the Hottel model differs between
// climates.
type HottelClimate struct {
	R0, R1, RK float64 // on a0, a1 and k [-]
}

// Climates of the Hottel model, table 1 of its paper, from memory.

// HottelTropical is the tropics.
func HottelTropical() HottelClimate { return HottelClimate{0.95, 0.98, 1.02} }

// HottelMidLatitudeSummer is summer in middle latitudes.
func HottelMidLatitudeSummer() HottelClimate { return HottelClimate{0.97, 0.99, 1.02} }

// HottelSubarcticSummer is summer in the subarctic.
func HottelSubarcticSummer() HottelClimate { return HottelClimate{0.99, 0.99, 1.01} }

// HottelMidLatitudeWinter is winter in middle latitudes.
func HottelMidLatitudeWinter() HottelClimate { return HottelClimate{1.03, 1.01, 1.00} }

// Coefficients returns a0, a1 and k of the transmittance a0 + a1 exp(-k/cos z)
// of a clear sky with 23 km of sight, at a height above sea level [m] up to
// 2500 m.
//
// Source: "A simple model for estimating the transmittance of direct solar
// radiation through clear atmospheres" (Solar Energy 18, 1976, DOI
// 10.1016/0038-092X(76)90045-1), from memory.
func (c HottelClimate) Coefficients(height float64) (a0, a1, k float64) {
	km := height / 1000
	square := func(x float64) float64 { return x * x }
	a0 = c.R0 * (0.4237 - 0.00821*square(6-km))
	a1 = c.R1 * (0.5055 + 0.00595*square(6.5-km))
	k = c.RK * (0.2711 + 0.01858*square(2.5-km))
	return a0, a1, k
}

// BeamTransmittance returns the share of the beam that a clear sky lets pass
// [-]; see [HottelClimate.Coefficients]. Below the horizon it is 0.
func (c HottelClimate) BeamTransmittance(pos Pos, height float64) float64 {
	cosZenith := cosDeg(pos.Zenith)
	if cosZenith <= 0 {
		return 0
	}
	a0, a1, k := c.Coefficients(height)
	return a0 + a1*math.Exp(-k/cosZenith)
}

// LiuJordanDiffuse returns the diffuse irradiance on the level under a clear
// sky over the extraterrestrial on the level [-], given the transmittance of
// the beam.
//
//	0.271 - 0.294 tau
//
// Source: "The interrelationship and characteristic distribution of direct,
// diffuse and total solar radiation" (Solar Energy 4, 1960, DOI
// 10.1016/0038-092X(60)90062-1), from memory.
func LiuJordanDiffuse(beamTransmittance float64) float64 {
	return 0.271 - 0.294*beamTransmittance
}

// ClearDay holds the three numbers of the older clear-sky model of the ASHRAE
// Handbook Fundamentals (1993) for one day of the year.
type ClearDay struct {
	A float64 // apparent irradiance outside the air [W/m²]
	B float64 // optical depth [-]
	C float64 // diffuse on the level over beam [-]
}

// ClearDayOf returns the numbers for day of the year n, by sines through the
// year, within a few percent of the handbook's monthly table.
//
// Source: "Renewable and Efficient Electric Power Systems" (2004), chapter 7.
func ClearDayOf(n float64) ClearDay {
	const perDay = 360.0 / 365
	wave := sinDeg(perDay * (n - 100))
	return ClearDay{
		A: 1160 + 75*sinDeg(perDay*(n-275)),
		B: 0.174 + 0.035*wave,
		C: 0.095 + 0.04*wave,
	}
}

// Irradiance returns beam, on a plane that faces the sun, and diffuse, on the
// level [W/m²]; nothing with the sun down.
func (d ClearDay) Irradiance(pos Pos) (beam, diffuse float64) {
	if pos.Elevation <= 0 {
		return 0, 0
	}
	beam = d.A * math.Exp(-d.B/sinDeg(pos.Elevation))
	return beam, d.C * beam
}

// ClearSky holds the two optical depths of the clear-sky model of the ASHRAE
// Handbook Fundamentals (2013 and later), which it tabulates by place and month.
type ClearSky struct {
	TauBeam    float64 // pseudo-optical depth for the beam [-]
	TauDiffuse float64 // pseudo-optical depth for the diffuse light [-]
}

// Exponents returns the exponents of the air mass for beam and diffuse light
// [-].
//
// Source: ASHRAE Handbook Fundamentals (2013), chapter 14, from memory.
func (s ClearSky) Exponents() (beam, diffuse float64) {
	b, d := s.TauBeam, s.TauDiffuse
	return 1.454 - 0.406*b - 0.268*d + 0.021*b*d, 0.507 + 0.205*b - 0.080*d - 0.190*b*d
}

// Irradiance returns beam, on a plane that faces the sun, and diffuse, on the
// level [W/m²], given the extraterrestrial irradiance on a plane that faces the
// sun [W/m²]; nothing with the sun down.
func (s ClearSky) Irradiance(pos Pos, extraterrestrial float64) (beam, diffuse float64) {
	if pos.Elevation <= 0 {
		return 0, 0
	}
	m := AirMass(pos.Elevation)
	forBeam, forDiffuse := s.Exponents()
	return extraterrestrial * math.Exp(-s.TauBeam*math.Pow(m, forBeam)),
		extraterrestrial * math.Exp(-s.TauDiffuse*math.Pow(m, forDiffuse))
}
