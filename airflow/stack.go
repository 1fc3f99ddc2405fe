package airflow

import "math"

// SeriesArea returns the effective area [m²] of two openings that the same air
// passes one after the other, from their effective areas (discharge coefficient
// times area) [m²]: 1/sqrt(1/a² + 1/b²).
func SeriesArea(a, b float64) float64 { return a * b / math.Hypot(a, b) }

// ReducedArea returns A* = sqrt(2) a b/sqrt(a² + b²) [m²] of a lower and an upper
// effective area [m²], the measure of displacement ventilation.
func ReducedArea(a, b float64) float64 { return math.Sqrt2 * SeriesArea(a, b) }

// TwoOpeningStack returns the mass flow [kg/s] through a box of uniform density
// with a lower and an upper opening of the effective areas cdLow, cdHigh [m²]
// (discharge coefficient times area), rise [m] apart:
//
//	m = sqrt(2 g rise |rho_o - rho_i| / (1/(rho_a cdLow²) + 1/(rho_b cdHigh²)))
//
// with rho_a the density of what passes the lower and rho_b of what passes the
// upper opening: outdoor air below and indoor air above when it is warmer
// indoors, the reverse when colder. The flow is positive upwards through the
// box. Source: ASHRAE Handbook of Fundamentals, ventilation and infiltration
// (Bernoulli with hydrostatic pressures).
func TwoOpeningStack(cdLow, cdHigh, rise, rhoIn, rhoOut float64) float64 {
	low, high := rhoOut, rhoIn
	if rhoIn > rhoOut {
		low, high = high, low
	}
	drop := Gravity * rise * math.Abs(rhoOut-rhoIn)
	m := math.Sqrt(2 * drop / (1/(low*cdLow*cdLow) + 1/(high*cdHigh*cdHigh)))
	if rhoIn > rhoOut {
		return -m
	}
	return m
}

// TwoOpeningStackBoussinesq returns the volume flow [m³/s] of TwoOpeningStack with
// one mean density for both openings.
func TwoOpeningStackBoussinesq(cdLow, cdHigh, rise, rhoIn, rhoOut float64) float64 {
	return SeriesArea(cdLow, cdHigh) * math.Sqrt(2*rise*ReducedGravity(rhoIn, rhoOut))
}

// NeutralHeight returns the height above the lower opening [m] at which the
// pressures in and out are equal, of a warm box with two openings rise [m] apart:
//
//	h = rise/(1 + (cdLow/cdHigh)² rho_o/rho_i)
//
// Source: as TwoOpeningStack.
func NeutralHeight(cdLow, cdHigh, rise, rhoIn, rhoOut float64) float64 {
	r := cdLow / cdHigh
	return rise / (1 + r*r*rhoOut/rhoIn)
}

// UnequalOpeningGain returns by what share [-] the stack flow of two openings
// grows over that of two of the smaller size when one is ratio times the other:
// sqrt(2/(1 + 1/ratio²)) - 1, up to 0.414. Ratios below 1 count as their inverse.
func UnequalOpeningGain(ratio float64) float64 {
	if ratio < 1 {
		ratio = 1 / ratio
	}
	return math.Sqrt(2/(1+1/(ratio*ratio))) - 1
}

// MixedConcentration returns the volume share of a tracer [-] in a well mixed
// space after a time [s], for the volume [m³], air flow and source [m³/s], the
// share at the start and that of the entering air [-]. With no flow it rises in
// proportion to time.
func MixedConcentration(start, entering, volume, flow, source, time float64) float64 {
	if flow == 0 {
		return start + source*time/volume
	}
	steady := entering + source/flow
	return steady + (start-steady)*math.Exp(-flow*time/volume)
}

// HeatedBox returns the steady temperature [°C] and the mass flow [kg/s] of a well
// mixed box that a heat source [W] warms over the outdoor temperature [°C], while
// its shell loses loss [W/K] and air rises through a lower and an upper opening
// (TwoOpeningStack):
//
//	power = (loss + cp m) (t - outdoors)
//
// rhoOut is the outdoor density [kg/m³]; the density indoors follows from the
// temperature at equal pressure and composition. cp is the specific heat
// [J/(kg·K)]. A power of 0 or less returns the outdoor temperature and no flow;
// a box without loss and without openings has no steady state and returns +Inf.
func HeatedBox(power, loss, cdLow, cdHigh, rise, outdoors, rhoOut, cp float64) (temperature, flow float64) {
	if !(power > 0) {
		return outdoors, 0
	}
	kelvin := outdoors + 273.15
	moved := func(excess float64) float64 {
		if cdLow <= 0 || cdHigh <= 0 {
			return 0
		}
		return TwoOpeningStack(cdLow, cdHigh, rise, rhoOut*kelvin/(kelvin+excess), rhoOut)
	}
	// Heat lost rises with the excess: double until it is enough, then bisect.
	lo, hi := 0.0, 1.0
	for (loss+cp*moved(hi))*hi < power {
		lo, hi = hi, 2*hi
		if hi > 1e6 {
			return math.Inf(1), moved(hi)
		}
	}
	for range 60 {
		mid := (lo + hi) / 2
		if (loss+cp*moved(mid))*mid < power {
			lo = mid
		} else {
			hi = mid
		}
	}
	return outdoors + hi, moved(hi)
}
