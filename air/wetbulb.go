package air

import "math"

// RatioFromWetBulb returns the humidity ratio [kg/kg] of air at temperature t
// whose thermodynamic wet-bulb temperature is tw [°C]: of an iced bulb below
// 0 °C, of a wet one at and above.
//
// Source: ASHRAE Handbook Fundamentals (2017), chapter 1, equations 33 and 35.
// It is negative where no air can have that wet bulb.
func RatioFromWetBulb(t, tw, p float64) float64 {
	w, _ := wetBulbRatio(t, tw, p, tw < 0)
	return w
}

// wetBulbRatio returns the humidity ratio [kg/kg] for a wet bulb tw and its
// derivative with respect to tw [1/K].
func wetBulbRatio(t, tw, p float64, ice bool) (w, slope float64) {
	psat := SaturationPressure(tw)
	ws := HumidityRatio(psat, p)
	wsSlope := MassRatio * p * psat * saturationLogSlope(tw) / ((p - psat) * (p - psat))
	// Heat to turn the bulb's water into vapour, and the specific heat of that
	// water. The handbook's 2830 kJ/kg for ice is 4 kJ/kg below the latent heat
	// of sublimation of its own tables; it is kept, as part of the definition.
	latent, water := latentEvaporationZero, SpecificHeatWater
	if ice {
		latent, water = 2830e3, SpecificHeatIce
	}
	falling := water - SpecificHeatVapour
	above := (latent-falling*tw)*ws - SpecificHeatDry*(t-tw)
	below := latent + SpecificHeatVapour*t - water*tw
	w = above / below
	slope = ((latent-falling*tw)*wsSlope - falling*ws + SpecificHeatDry + w*water) / below
	return w, slope
}

// WetBulb returns the thermodynamic wet-bulb temperature [°C] of air at
// temperature t with humidity ratio w: that of a wet bulb at and above 0 °C, of
// an iced one below. Saturated and supersaturated air gives t.
//
// A wet and an iced bulb differ by the heat of melting. Where both could be the
// answer is the wet one, and so the result jumps, by some tenths of a kelvin,
// from 0 °C to below as air gets drier.
// It inverts [RatioFromWetBulb] to 1e-9 K for t up to 200 °C.
func WetBulb(t, w, p float64) float64 {
	if math.IsNaN(t) || math.IsNaN(w) || math.IsNaN(p) {
		return math.NaN()
	}
	// At the boiling point the ratio has a pole; every wet bulb lies below it.
	high := math.Min(t, DewPoint(0.9999*p))
	if w >= SaturationRatio(high, p) {
		return high
	}
	low := math.Min(DewPoint(VapourPressure(math.Max(w, 0), p)), high)
	ice := high < 0
	if !ice && low < 0 {
		if atZero, _ := wetBulbRatio(t, 0, p, false); w < atZero {
			ice, high = true, 0
		} else {
			low = 0
		}
	}
	// Newton from the upper end: the ratio rises and bends upwards with the
	// wet bulb, so it comes down without overshoot; the bracket guards the rest.
	tw := high
	for range 60 {
		ratio, slope := wetBulbRatio(t, tw, p, ice)
		if ratio > w {
			high = math.Min(high, tw)
		} else {
			low = math.Max(low, tw)
		}
		next := tw - (ratio-w)/slope
		if !(next >= low && next <= high) {
			next = (low + high) / 2
		}
		if math.Abs(next-tw) < 1e-10 {
			return next
		}
		tw = next
	}
	return tw
}
