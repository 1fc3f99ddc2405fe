package sun

import (
	"math"
	"time"
)

// Pos is where the sun stands.
type Pos struct {
	Zenith    float64 // from straight up [deg]
	Elevation float64 // above the horizon, 90 less Zenith [deg]
	Azimuth   float64 // clockwise from north, 0 to 360 [deg]
}

// Up reports whether the centre of the sun is above the level horizon.
func (p Pos) Up() bool { return p.Elevation > 0 }

// Ephemeris is what the sun does at one time for all places.
type Ephemeris struct {
	Declination    float64 // apparent [deg]
	RightAscension float64 // apparent [deg]
	EquationOfTime float64 // solar time ahead of mean time [min]
	Distance       float64 // from the earth [au]
	// greenwich is the hour angle of the sun at longitude 0 [deg].
	greenwich float64
}

// At returns the ephemeris at t.
//
// Source: Astronomical Algorithms, 2nd edition (1998, with the 2009
// corrections), chapter 12 for sidereal time, 22 for the obliquity, 25 for the
// sun "of low accuracy", 0.01° in longitude, and 28 for the equation of time;
// from memory. Terrestrial time is taken as 69 s ahead of universal time, its
// value about 2020; over 1970 to 2050 that moves the sun by less than 0.0004°.
// Valid within a few centuries of 2000.
func At(t time.Time) Ephemeris {
	const (
		epoch     = 946728000 // 2000-01-01 12:00 UTC, Julian day 2451545, in Unix time [s]
		day       = 86400.0   // [s]
		century   = 36525.0   // [days]
		dynamical = 69.0      // terrestrial less universal time [s]
	)
	seconds := float64(t.Unix()-epoch) + float64(t.Nanosecond())*1e-9
	days := seconds / day
	u := days / century              // universal time
	c := u + dynamical/(day*century) // terrestrial time
	mean := 280.46646 + c*(36000.76983+c*0.0003032)
	anomaly := (357.52911 + c*(35999.05029-c*0.0001537)) * degree
	eccentricity := 0.016708634 - c*(0.000042037+c*0.0000001267)
	sin1, cos1 := math.Sincos(anomaly)
	sin2 := 2 * sin1 * cos1
	sin3 := sin1 * (3 - 4*sin1*sin1)
	centre := (1.914602-c*(0.004817+c*0.000014))*sin1 + (0.019993-c*0.000101)*sin2 + 0.000289*sin3
	trueAnomaly := anomaly + centre*degree
	distance := 1.000001018 * (1 - eccentricity*eccentricity) / (1 + eccentricity*math.Cos(trueAnomaly))

	// Nutation to its largest term, and aberration.
	sinNode, cosNode := math.Sincos((125.04 - 1934.136*c) * degree)
	nutation := -0.00478 * sinNode
	longitude := mean + centre - 0.00569 + nutation
	obliquity := 23.43929111 - c*(0.013004167+c*(1.639e-7-c*5.036e-7)) + 0.00256*cosNode
	sinLong, cosLong := math.Sincos(longitude * degree)
	sinObl, cosObl := math.Sincos(obliquity * degree)
	ascension := math.Atan2(cosObl*sinLong, cosLong) / degree

	// Days are counted from noon; a whole turn a day is split off so that the
	// fraction keeps its digits.
	_, fraction := math.Modf(days)
	sidereal := 280.46061837 + 360*fraction + 0.98564736629*days + u*u*0.000387933 + nutation*cosObl
	return Ephemeris{
		Declination:    asinDeg(sinObl * sinLong),
		RightAscension: turn(ascension),
		EquationOfTime: 4 * halfTurn(mean-0.0057183-ascension+nutation*cosObl),
		Distance:       distance,
		greenwich:      sidereal - ascension,
	}
}

// HourAngle returns the hour angle of the sun at longitude, 0 when it stands
// highest and positive after [deg].
func (e Ephemeris) HourAngle(longitude float64) float64 {
	return halfTurn(e.greenwich + longitude)
}

// Extraterrestrial returns the irradiance of a plane that faces the sun outside
// the atmosphere [W/m²].
func (e Ephemeris) Extraterrestrial() float64 {
	return Constant / (e.Distance * e.Distance)
}

// Position returns where the sun stands at time t, seen from the ground at
// latitude and longitude, without refraction. It is good to 0.01° (see [At]).
// [Pos.Refracted] adds what the air does.
func Position(t time.Time, latitude, longitude float64) Pos {
	return At(t).Position(latitude, longitude)
}

// Position returns where the sun stands seen from latitude and longitude; see
// the function of that name.
func (e Ephemeris) Position(latitude, longitude float64) Pos {
	p := PositionAt(latitude, e.Declination, e.HourAngle(longitude))
	// Seen from the ground and not from the centre of the earth: the parallax
	// of the sun, 8.794 seconds of arc, lowers it.
	p.Zenith += 8.794 / 3600 * sinDeg(p.Zenith) / e.Distance
	p.Elevation = 90 - p.Zenith
	return p
}

// PositionAt returns where the sun stands at latitude, given its declination
// and hour angle [deg].
func PositionAt(latitude, declination, hourAngle float64) Pos {
	sinLat, cosLat := math.Sincos(latitude * degree)
	sinDec, cosDec := math.Sincos(declination * degree)
	sinHour, cosHour := math.Sincos(hourAngle * degree)
	// Components of the sun's direction: up, north, east. The arc tangent keeps
	// its digits near the zenith, where an arc cosine would lose them.
	up := sinLat*sinDec + cosLat*cosDec*cosHour
	north := cosLat*sinDec - sinLat*cosDec*cosHour
	east := -cosDec * sinHour
	zenith := math.Atan2(math.Hypot(north, east), up) / degree
	return Pos{Zenith: zenith, Elevation: 90 - zenith, Azimuth: turn(math.Atan2(east, north) / degree)}
}

// Refracted returns where the sun appears to stand in air of pressure [Pa] and
// temperature t [°C] near the ground. Below -0.8333°, when its upper edge has
// set, it returns the position as it is.
//
// Source: "Solar Position Algorithm for Solar Radiation Applications"
// (NREL/TP-560-34302, revised 2008), equation 42.
func (p Pos) Refracted(pressure, t float64) Pos {
	if p.Elevation < -rim {
		return p
	}
	arc := p.Elevation + 10.3/(p.Elevation+5.11)
	p.Elevation += pressure / 101000 * 283 / (ZeroCelsius + t) * 1.02 / (60 * math.Tan(arc*degree))
	p.Zenith = 90 - p.Elevation
	return p
}

// rim is how far the centre of the sun lies below the horizon at sunrise and
// sunset, its radius of 0.2667° and the usual refraction of 0.5667° [deg]:
// NREL/TP-560-34302, appendix A.2.
const rim = 0.8333

// Day is the course of the sun over one day at one place.
type Day struct {
	Rise    time.Time // upper edge in sight; zero when it does not rise
	Transit time.Time // sun highest
	Set     time.Time // upper edge out of sight; zero when it does not set
	Length  time.Duration
}

// Daylight returns sunrise, transit and sunset of the day whose local noon, in
// the zone of date, is nearest in date's calendar day. The horizon is level and
// refraction the usual one; good to half a minute below 65° of latitude. Where
// the sun stays up the length is 24 h, where it stays down 0.
func Daylight(date time.Time, latitude, longitude float64) Day {
	year, month, number := date.Date()
	noon := time.Date(year, month, number, 12, 0, 0, 0, date.Location())
	// The time at which the hour angle is what it should be: the sun moves by
	// 15° an hour, and each pass corrects for how it moved meanwhile.
	when := func(guess time.Time, wanted func(Ephemeris) float64) time.Time {
		for range 4 {
			e := At(guess)
			off := halfTurn(wanted(e) - e.HourAngle(longitude))
			guess = guess.Add(time.Duration(off / 15 * float64(time.Hour)))
		}
		return guess
	}
	cosHorizon := func(e Ephemeris) float64 {
		return (sinDeg(-rim) - sinDeg(latitude)*sinDeg(e.Declination)) / (cosDeg(latitude) * cosDeg(e.Declination))
	}
	day := Day{Transit: when(noon, func(Ephemeris) float64 { return 0 })}
	if c := cosHorizon(At(day.Transit)); c >= 1 {
		return day
	} else if c <= -1 {
		day.Length = 24 * time.Hour
		return day
	}
	half := func(e Ephemeris) float64 { return acosDeg(cosHorizon(e)) }
	span := time.Duration(half(At(day.Transit)) / 15 * float64(time.Hour))
	day.Rise = when(day.Transit.Add(-span), func(e Ephemeris) float64 { return -half(e) })
	day.Set = when(day.Transit.Add(span), half)
	day.Length = day.Set.Sub(day.Rise)
	return day
}

// Declination returns the declination of the sun at t [deg].
func Declination(t time.Time) float64 { return At(t).Declination }

// EquationOfTime returns how far solar time is ahead of mean time at t [min].
func EquationOfTime(t time.Time) float64 { return At(t).EquationOfTime }
