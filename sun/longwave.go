package sun

import "math"

// Emissivities of the sky [-]: long wave from the whole sky onto the level over
// that of a black body at the temperature of the air near the ground. They are
// fits to measurements of some places and scatter by several percent.

// BerdahlMartinSky returns the emissivity of a clear sky at dew point [°C], mean
// of day and night.
//
//	0.711 + 0.56 (td/100) + 0.73 (td/100)²
//
// Source: "Emissivity of clear skies" (Solar Energy 32, 1984, DOI
// 10.1016/0038-092X(84)90144-0), from memory; dew points of -20 to 30 °C.
func BerdahlMartinSky(dewPoint float64) float64 {
	x := dewPoint / 100
	return 0.711 + x*(0.56+x*0.73)
}

// BerdahlMartinSkyAt returns the emissivity of a clear sky at dew point [°C] and
// solar time [h]: [BerdahlMartinSky] and a daily swing of 0.013, highest at
// midnight.
func BerdahlMartinSkyAt(dewPoint, hour float64) float64 {
	return BerdahlMartinSky(dewPoint) + 0.013*cosDeg(15*hour)
}

// BerdahlFrombergNightSky returns the emissivity of a clear sky by night at dew
// point [°C].
//
//	0.741 + 0.0062 td
//
// Source: "The thermal radiance of clear skies" (Solar Energy 29, 1982, DOI
// 10.1016/0038-092X(82)90245-6), from memory.
func BerdahlFrombergNightSky(dewPoint float64) float64 {
	return 0.741 + 0.0062*dewPoint
}

// BrutsaertSky returns the emissivity of a clear sky at vapour pressure pv [Pa]
// and air temperature [°C].
//
//	1.24 (pv/T)^(1/7), pv in hPa
//
// Source: "On a derivable formula for long-wave radiation from clear skies"
// (Water Resources Research 11, 1975, DOI 10.1029/WR011i005p00742), from memory.
func BrutsaertSky(pv, tempAir float64) float64 {
	return 1.24 * math.Pow(pv/100/(tempAir+ZeroCelsius), 1.0/7)
}

// ClarkAllenSky returns the emissivity of a clear sky at dew point [°C].
//
//	0.787 + 0.764 ln(Td/273.15 K)
//
// It lies above the other fits here by 0.08 at a dew point of 0 °C and by 0.10
// at -15 °C, 25 W/m² and more, and nears them in humid heat.
//
// Source: "The estimation of atmospheric radiation for clear and cloudy skies"
// (Second National Passive Solar Conference, 1978), from memory.
func ClarkAllenSky(dewPoint float64) float64 {
	return 0.787 + 0.764*math.Log((dewPoint+ZeroCelsius)/ZeroCelsius)
}

// WaltonClouds returns the factor on the emissivity of a clear sky under a cloud
// cover of 0 to 1 [-].
//
//	1 + 0.0224 N - 0.0035 N² + 0.00028 N³, N in tenths
//
// Source: "Thermal Analysis Research Program Reference Manual" (NBSIR 83-2655,
// 1983), from memory. Cover below 0 counts as 0, above 1 as 1.
func WaltonClouds(cover float64) float64 {
	n := 10 * math.Max(0, math.Min(cover, 1))
	return 1 + n*(0.0224+n*(-0.0035+n*0.00028))
}

// MartinBerdahlSky returns the emissivity of a sky of which cover, 0 to 1 [-], is
// opaque cloud with its base at height [m] above the ground, given the
// emissivity of the clear sky.
//
//	e + (1 - e) cover exp(-height/8200 m)
//
// Source: "Characteristics of infrared sky radiation in the United States"
// (Solar Energy 33, 1984, DOI 10.1016/0038-092X(84)90162-2), from memory. Cover
// below 0 counts as 0, above 1 as 1.
func MartinBerdahlSky(clear, cover, height float64) float64 {
	return clear + (1-clear)*math.Max(0, math.Min(cover, 1))*math.Exp(-height/8200)
}

// SwinbankSkyTemp returns the temperature of a clear sky from that of the air
// alone [°C].
//
//	0.0552 T^1.5
//
// Source: "Long-wave radiation from clear skies" (Quarterly Journal of the Royal
// Meteorological Society 89, 1963, DOI 10.1002/qj.49708938105), from memory.
func SwinbankSkyTemp(tempAir float64) float64 {
	tK := tempAir + ZeroCelsius
	return 0.0552*tK*math.Sqrt(tK) - ZeroCelsius
}

// BlackBody returns what a black body at t emits [W/m²].
func BlackBody(t float64) float64 {
	tK := t + ZeroCelsius
	return StefanBoltzmann * tK * tK * tK * tK
}

// SkyLongWave returns the long wave from the sky onto the level [W/m²] from the
// air temperature [°C], the dew point [°C] and the cloud cover, 0 to 1 [-], by
// [ClarkAllenSky] and [WaltonClouds], the usual choice where a weather file has
// none. [BerdahlMartinLongWave] gives colder clear skies.
func SkyLongWave(tempAir, dewPoint, cover float64) float64 {
	return ClarkAllenSky(dewPoint) * WaltonClouds(cover) * BlackBody(tempAir)
}

// BerdahlMartinLongWave returns the long wave from the sky onto the level [W/m²]
// from the air temperature [°C], the dew point [°C], the solar time [h] and the
// cover, 0 to 1 [-], of opaque cloud with its base at height [m], by
// [BerdahlMartinSkyAt] and [MartinBerdahlSky]. Low cloud has its base at 500 to
// 2000 m.
func BerdahlMartinLongWave(tempAir, dewPoint, hour, cover, height float64) float64 {
	return MartinBerdahlSky(BerdahlMartinSkyAt(dewPoint, hour), cover, height) * BlackBody(tempAir)
}

// SkyTemperature returns the temperature [°C] of a black sky that sends
// longWave [W/m²] onto the level. Less than nothing counts as nothing.
func SkyTemperature(longWave float64) float64 {
	return math.Sqrt(math.Sqrt(math.Max(0, longWave)/StefanBoltzmann)) - ZeroCelsius
}

// RadiantExchange returns the long wave that a surface of an emissivity at t
// [°C] gains from black surroundings at from [°C] [W/m²].
func RadiantExchange(emissivity, from, t float64) float64 {
	return emissivity * (BlackBody(from) - BlackBody(t))
}

// LongWaveGain returns the long wave that the plane of an emissivity at t [°C]
// gains on balance [W/m²] from a sky that sends skyLongWave onto the level
// [W/m²] and from black ground and surroundings at ground [°C].
func (p Plane) LongWaveGain(emissivity, skyLongWave, ground, t float64) float64 {
	return emissivity * (p.SkyView()*skyLongWave + p.GroundView()*BlackBody(ground) - BlackBody(t))
}

// SolAir returns the sol-air temperature [°C]: that of air which would give a
// surface as much heat by its film alone as the air, the sun and the sky do.
//
//	te = t + (absorptance irradiance - deficit)/film
//
// The film is that of convection and radiation together [W/(m²·K)], deficit is
// how much less long wave the surface gets than from surroundings at air
// temperature, times its emissivity [W/m²].
//
// Source: ASHRAE Handbook Fundamentals, "Nonresidential Cooling and Heating Load
// Calculations".
func SolAir(tempAir, absorptance, irradiance, deficit, film float64) float64 {
	return tempAir + (absorptance*irradiance-deficit)/film
}

// Face is an outer surface in a steady balance.
type Face struct {
	Plane       Plane
	TempAir     float64 // [°C]
	SkyLongWave float64 // onto the level [W/m²]
	TempGround  float64 // of ground and surroundings [°C]
	Irradiance  float64 // sunlight onto the plane [W/m²]
	Absorptance float64 // for sunlight [-]
	Emissivity  float64 // for long wave [-]
	Film        float64 // convection alone [W/(m²·K)]
	Conductance float64 // from inside to the surface [W/(m²·K)]
	TempInside  float64 // [°C]
}

// Balance returns the heat that the face at t [°C] gains on balance [W/m²].
func (f Face) Balance(t float64) float64 {
	return f.Absorptance*f.Irradiance + f.Plane.LongWaveGain(f.Emissivity, f.SkyLongWave, f.TempGround, t) +
		f.Film*(f.TempAir-t) + f.FromInside(t)
}

// FromInside returns the heat that reaches the face at t [°C] from inside
// [W/m²].
func (f Face) FromInside(t float64) float64 {
	return f.Conductance * (f.TempInside - t)
}

// Temp returns the temperature at which the face neither gains nor loses heat
// [°C]. NaN when nothing couples the face to anything.
func (f Face) Temp() float64 {
	t := f.TempAir
	for range 50 {
		tK := t + ZeroCelsius
		slope := 4*f.Emissivity*StefanBoltzmann*tK*tK*tK + f.Film + f.Conductance
		step := f.Balance(t) / slope
		// The balance falls with t and bends down: Newton may overshoot from
		// below but comes back from above without. Absolute zero is kept away.
		t = math.Max(t+step, -200)
		if math.Abs(step) < 1e-9 {
			return t
		}
	}
	return math.NaN()
}
