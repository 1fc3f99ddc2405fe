package sun

import "math"

// CooperDeclination returns the declination of the sun on day of the year n
// (1 January is 1) by a sine through the year [deg], within 1.1° of [Declination];
// for hand calculation and for comparison with work that used it.
//
//	23.45 sin(360 (284 + n)/365)
//
// Source: "The absorption of radiation in solar stills" (Solar Energy 12, 1969,
// DOI 10.1016/0038-092X(69)90047-4), from memory.
func CooperDeclination(n float64) float64 {
	return 23.45 * sinDeg(360*(284+n)/365)
}

// SpencerEquationOfTime returns the equation of time on day of the year n
// [min], within 0.7 min of [EquationOfTime].
//
// Source: Fourier series of "Fourier series representation of the position of
// the sun" (Search 2, 1971), from memory.
func SpencerEquationOfTime(n float64) float64 {
	sin1, cos1 := math.Sincos((n - 1) * 360 / 365 * degree)
	sin2, cos2 := 2*sin1*cos1, cos1*cos1-sin1*sin1
	return 229.2 * (0.000075 + 0.001868*cos1 - 0.032077*sin1 - 0.014615*cos2 - 0.04089*sin2)
}

// SolarTime returns solar time [h] at zone time [h], of which the zone's
// meridian and the place's longitude are given [deg east], and the equation of
// time [min].
func SolarTime(zoneTime, meridian, longitude, equationOfTime float64) float64 {
	return zoneTime + (4*(longitude-meridian)+equationOfTime)/60
}

// HourAngleAt returns the hour angle at solar time [h]: 15 degrees an hour from
// noon [deg].
func HourAngleAt(solarTime float64) float64 {
	return 15 * (solarTime - 12)
}

// SunsetHourAngle returns the hour angle at which the centre of the sun crosses
// the level horizon [deg]: 0 where it stays down, 180 where it stays up.
func SunsetHourAngle(latitude, declination float64) float64 {
	return acosDeg(-math.Tan(latitude*degree) * math.Tan(declination*degree))
}

// ExtraterrestrialOnDay returns the irradiance of a plane that faces the sun
// outside the atmosphere on day of the year n [W/m²], within 0.3 % of
// [Ephemeris.Extraterrestrial].
//
//	1367 (1 + 0.033 cos(360 n/365))
func ExtraterrestrialOnDay(n float64) float64 {
	return Constant * (1 + 0.033*cosDeg(360*n/365))
}

// ExtraterrestrialBetween returns the energy on a level plane outside the
// atmosphere between two hour angles [deg], both by day [J/m²], given the
// irradiance normal to the sun [W/m²].
func ExtraterrestrialBetween(normal, latitude, declination, from, to float64) float64 {
	const secondsPerDegree = 240
	return normal * secondsPerDegree * (cosDeg(latitude)*cosDeg(declination)*(sinDeg(to)-sinDeg(from))/degree +
		(to-from)*sinDeg(latitude)*sinDeg(declination))
}

// ExtraterrestrialDaily returns the energy of one day on a level plane outside
// the atmosphere [J/m²].
func ExtraterrestrialDaily(normal, latitude, declination float64) float64 {
	set := SunsetHourAngle(latitude, declination)
	return ExtraterrestrialBetween(normal, latitude, declination, -set, set)
}
