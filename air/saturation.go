package air

import "math"

// SaturationPressure returns the vapour pressure of water in equilibrium with
// its ice below the triple point (0.01 °C) and with liquid water above [Pa].
//
// Source: "Formulations for the thermodynamic properties of the saturated
// phases of H2O from 173.15 K to 473.15 K" (ASHRAE Transactions 89, 1983), as
// printed in the ASHRAE Handbook Fundamentals (2017), chapter 1, equations 5
// and 6. Valid from -100 to 200 °C; outside it continues the same expressions.
// At the triple point the two branches differ by 6e-9 of their value.
func SaturationPressure(t float64) float64 {
	if t <= TriplePoint {
		return saturationIce(t)
	}
	return SaturationPressureLiquid(t)
}

// Coefficients of the saturation pressure over ice, -100 to 0 °C: ASHRAE
// Handbook Fundamentals (2017), chapter 1, equation 5, for kelvin and Pa.
const (
	iceInverse = -5.6745359e3
	ice0       = 6.3925247
	ice1       = -9.677843e-3
	ice2       = 6.2215701e-7
	ice3       = 2.0747825e-9
	ice4       = -9.484024e-13
	iceLog     = 4.1635019
)

// Coefficients of the saturation pressure over liquid water, 0 to 200 °C:
// ASHRAE Handbook Fundamentals (2017), chapter 1, equation 6, for kelvin and Pa.
const (
	liquidInverse = -5.8002206e3
	liquid0       = 1.3914993
	liquid1       = -4.8640239e-2
	liquid2       = 4.1764768e-5
	liquid3       = -1.4452093e-8
	liquidLog     = 6.5459673
)

func saturationIce(t float64) float64 {
	return math.Exp(logIce(t + ZeroCelsius))
}

func logIce(tK float64) float64 {
	return iceInverse/tK + ice0 + tK*(ice1+tK*(ice2+tK*(ice3+tK*ice4))) + iceLog*math.Log(tK)
}

func logIceSlope(tK float64) float64 {
	return -iceInverse/(tK*tK) + ice1 + tK*(2*ice2+tK*(3*ice3+tK*4*ice4)) + iceLog/tK
}

func logLiquid(tK float64) float64 {
	return liquidInverse/tK + liquid0 + tK*(liquid1+tK*(liquid2+tK*liquid3)) + liquidLog*math.Log(tK)
}

func logLiquidSlope(tK float64) float64 {
	return -liquidInverse/(tK*tK) + liquid1 + tK*(2*liquid2+tK*3*liquid3) + liquidLog/tK
}

// SaturationPressureLiquid returns the vapour pressure of water in equilibrium
// with liquid water, supercooled below 0 °C [Pa].
//
// Source: as [SaturationPressure], equation 6, fitted from 0 to 200 °C. Below
// 0 °C it is an extrapolation that stays within 0.5 % down to -40 °C.
func SaturationPressureLiquid(t float64) float64 {
	return math.Exp(logLiquid(t + ZeroCelsius))
}

// SaturationSlope returns the derivative of [SaturationPressure] with respect
// to temperature [Pa/K], analytically.
func SaturationSlope(t float64) float64 {
	return SaturationPressure(t) * saturationLogSlope(t)
}

// saturationLogSlope returns d ln(psat)/dt [1/K].
func saturationLogSlope(t float64) float64 {
	if t <= TriplePoint {
		return logIceSlope(t + ZeroCelsius)
	}
	return logLiquidSlope(t + ZeroCelsius)
}

// Polynomials in u, -1 to 1 over their range, for the eighth root of the
// saturation pressure [Pa^(1/8)]. The eighth root turns four to six decades
// into less than one, so that a polynomial of degree six follows it. They
// interpolate the two branches of SaturationPressure at Chebyshev-Lobatto
// points; TestFastCoefficients computes them anew.
const (
	fastLow  = -60.0 // [°C]
	fastHigh = 80.0  // [°C]

	fastIce0 = 1.5758815872665677
	fastIce1 = 0.6149168289726633
	fastIce2 = 0.044045986671345884
	fastIce3 = -0.004864759490606267
	fastIce4 = 3.088226404284434e-05
	fastIce5 = 3.912199146127958e-05
	fastIce6 = -5.319300062000479e-06

	fastLiquid0 = 3.044717214184803
	fastLiquid1 = 0.8115444930577588
	fastLiquid2 = -0.009986406784396036
	fastLiquid3 = -0.00581849492955295
	fastLiquid4 = 0.0009762694658533178
	fastLiquid5 = -6.559883444683981e-05
	fastLiquid6 = -2.3475820555019238e-06
)

// SaturationPressureFast returns [SaturationPressure] within 2e-7 of its value
// from -60 to 80 °C at a fraction of the cost [Pa]. Outside that range it calls
// SaturationPressure.
func SaturationPressureFast(t float64) float64 {
	var q float64
	switch {
	case t > TriplePoint && t <= fastHigh:
		const mid, half = (fastHigh + TriplePoint) / 2, (fastHigh - TriplePoint) / 2
		u := (t - mid) * (1 / half)
		q = fastLiquid0 + u*(fastLiquid1+u*(fastLiquid2+u*(fastLiquid3+u*(fastLiquid4+u*(fastLiquid5+u*fastLiquid6)))))
	case t <= TriplePoint && t >= fastLow:
		const mid, half = (TriplePoint + fastLow) / 2, (TriplePoint - fastLow) / 2
		u := (t - mid) * (1 / half)
		q = fastIce0 + u*(fastIce1+u*(fastIce2+u*(fastIce3+u*(fastIce4+u*(fastIce5+u*fastIce6)))))
	default:
		return SaturationPressure(t)
	}
	q *= q
	q *= q
	return q * q
}

// SaturationFast returns the saturation pressure [Pa] and its slope [Pa/K]
// together: the pressure of [SaturationPressureFast], and its exact derivative,
// which lies within 1e-6 of [SaturationSlope] from -60 to 80 °C. Outside that
// range it takes both from the exact expressions.
func SaturationFast(t float64) (pressure, slope float64) {
	var q, dq float64
	switch {
	case t > TriplePoint && t <= fastHigh:
		const mid, half = (fastHigh + TriplePoint) / 2, (fastHigh - TriplePoint) / 2
		u := (t - mid) * (1 / half)
		q = fastLiquid0 + u*(fastLiquid1+u*(fastLiquid2+u*(fastLiquid3+u*(fastLiquid4+u*(fastLiquid5+u*fastLiquid6)))))
		dq = (fastLiquid1 + u*(2*fastLiquid2+u*(3*fastLiquid3+u*(4*fastLiquid4+u*(5*fastLiquid5+u*6*fastLiquid6))))) * (1 / half)
	case t <= TriplePoint && t >= fastLow:
		const mid, half = (TriplePoint + fastLow) / 2, (TriplePoint - fastLow) / 2
		u := (t - mid) * (1 / half)
		q = fastIce0 + u*(fastIce1+u*(fastIce2+u*(fastIce3+u*(fastIce4+u*(fastIce5+u*fastIce6)))))
		dq = (fastIce1 + u*(2*fastIce2+u*(3*fastIce3+u*(4*fastIce4+u*(5*fastIce5+u*6*fastIce6))))) * (1 / half)
	default:
		pressure = SaturationPressure(t)
		return pressure, pressure * saturationLogSlope(t)
	}
	q2 := q * q
	q4 := q2 * q2
	return q4 * q4, 8 * q4 * q2 * q * dq
}

const (
	dewLow  = -100.0 // [°C]
	dewHigh = 200.0  // [°C]

	// triplePressure is SaturationPressure at the triple point [Pa].
	triplePressure = 611.65702439087659
)

// DewPoint returns the temperature at which pv is the saturation pressure: the
// frost point below the triple point, the dew point above [°C]. It inverts
// [SaturationPressure] to 1e-9 K.
//
// Vapour pressures below that of ice at -100 °C, zero and less among them,
// give -100 °C, and those above that of water at 200 °C give 200 °C: the range
// of the equation.
func DewPoint(pv float64) float64 {
	if math.IsNaN(pv) {
		return pv
	}
	if pv <= 0 {
		return dewLow
	}
	// The Magnus forms of the World Meteorological Organization (WMO-No. 8) lie
	// within 0.2 K in the weather's range, so that Newton's method in ln(pv),
	// nearly a straight line in 1/T, needs two or three steps.
	target := math.Log(pv)
	var t float64
	ice := pv <= triplePressure
	if ice {
		y := target - math.Log(611.2)
		t = 272.62 * y / (22.46 - y)
	} else {
		y := math.Min(target-math.Log(611.2), 9)
		t = 243.12 * y / (17.62 - y)
	}
	for range 20 {
		t = math.Max(dewLow-1, math.Min(t, dewHigh+1))
		var logp, slope float64
		tK := t + ZeroCelsius
		if ice {
			logp, slope = logIce(tK), logIceSlope(tK)
		} else {
			logp, slope = logLiquid(tK), logLiquidSlope(tK)
		}
		step := (target - logp) / slope
		t += step
		if math.Abs(step) < 1e-6 { // quadratic: the next step would be 1e-14
			break
		}
	}
	return math.Max(dewLow, math.Min(t, dewHigh))
}
