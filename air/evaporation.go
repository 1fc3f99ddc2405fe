package air

import "math"

// LewisNumber returns the thermal diffusivity of air over the diffusivity of
// water vapour in it [-]. Pressure cancels.
func LewisNumber(t float64) float64 {
	return ThermalDiffusivity(t, StandardPressure) / VapourDiffusivity(t, StandardPressure)
}

// MassTransferCoefficient returns the vapour transfer coefficient h_m [m/s],
// driven by vapour concentration [kg/m³], that belongs to a convective film h
// [W/(m²·K)] by the analogy of heat and mass transfer.
//
//	h_m = h/(rho c_p Le^(2/3))
//
// Lewis is the Lewis number, normally [LewisNumber]; 1 gives the simplified
// Lewis relation.
func MassTransferCoefficient(h, t, p, lewis float64) float64 {
	return RatioTransferCoefficient(h, lewis) / Density(t, p, 0)
}

// RatioTransferCoefficient returns the vapour transfer coefficient
// [kg/(m²·s)], driven by humidity ratio [kg/kg], of a convective film h
// [W/(m²·K)].
//
//	h_w = h/(c_p Le^(2/3))
func RatioTransferCoefficient(h, lewis float64) float64 {
	return h / (SpecificHeatDry * math.Cbrt(lewis*lewis))
}

// LewisVapourCoefficient returns the vapour transfer coefficient
// [kg/(m²·s·Pa)], driven by vapour pressure, that belongs to a convective film h
// [W/(m²·K)] without its radiation, at film temperature t and pressure p.
//
//	beta = 0.621945 h/(c_p Le^(2/3) p)
//
// With the power laws of [Conductivity] and [VapourDiffusivity] Le varies as
// T^-0.222, so Le^(-2/3) as T^0.148, which is taken from five terms of its
// binomial series: within 1e-4 of the expression above from -60 to 80 °C. At
// 20 °C and one atmosphere beta is 6.6e-9 h; standards for buildings use 7e-9 h.
func LewisVapourCoefficient(h, t, p float64) float64 {
	const (
		exponent = 2.0 / 3.0 * (2.072 - 0.85 - 1)
		// Le^(-2/3) at 0 °C; tested against LewisNumber.
		atZero = 1.0754008447533254
	)
	x := t / ZeroCelsius
	power := 1 + exponent*x*(1+(exponent-1)/2*x*(1+(exponent-2)/3*x*(1+(exponent-3)/4*x)))
	return MassRatio / SpecificHeatDry * atZero * power * h / p
}

// Driving names the potential that drives vapour off a wet surface.
type Driving uint8

const (
	// ByPressure drives with the difference of vapour pressure.
	ByPressure Driving = iota
	// ByRatio drives with the difference of humidity ratio, which counts the
	// flow of the vapour itself; a few percent more at 30 °C.
	ByRatio
)

// WetSurface is a surface of water, or of ice below 0 °C, in moving air.
type WetSurface struct {
	TempAir        float64 // [°C]
	VapourPressure float64 // of the air [Pa]
	Pressure       float64 // total [Pa]
	Film           float64 // convection, without radiation [W/(m²·K)]
	Lewis          float64 // Lewis number, 0 means that at TempAir [-]
	Driving        Driving // what drives the vapour
	// Gain is the heat that reaches the surface other than by convection, at
	// surface temperature t [W/m²]; it must not rise with t. Nil means none.
	Gain func(t float64) float64
}

// Evaporation returns the flux of vapour off the surface at temperature t
// [kg/(m²·s)], negative when it condenses.
func (s WetSurface) Evaporation(t float64) float64 {
	lewis := s.Lewis
	if lewis == 0 {
		lewis = LewisNumber(s.TempAir)
	}
	coefficient := RatioTransferCoefficient(s.Film, lewis)
	psat := SaturationPressure(t)
	if s.Driving == ByRatio {
		return coefficient * (HumidityRatio(psat, s.Pressure) - HumidityRatio(s.VapourPressure, s.Pressure))
	}
	return coefficient * MassRatio * (psat - s.VapourPressure) / s.Pressure
}

// Balance returns the heat that the surface at temperature t gains on balance
// [W/m²]: by convection and Gain, less what its vapour takes away, which is the
// heat of sublimation below 0 °C.
func (s WetSurface) Balance(t float64) float64 {
	return s.balance(t, t < 0)
}

func (s WetSurface) balance(t float64, ice bool) float64 {
	latent := LatentEvaporation(t)
	if ice {
		latent = LatentSublimation(t)
	}
	q := s.Film*(s.TempAir-t) - latent*s.Evaporation(t)
	if s.Gain != nil {
		q += s.Gain(t)
	}
	return q
}

// Temp returns the temperature [°C] at which the surface neither gains nor
// loses heat, within 1e-9 K; 0 °C when ice melts there under a gain that water
// would lose; NaN when there is none between -100 °C and the boiling point.
func (s WetSurface) Temp() float64 {
	// The balance falls with temperature on either side of 0 °C.
	low, high := dewLow, DewPoint(s.Pressure)
	ice := s.balance(0, false) < 0
	if ice {
		if s.balance(0, true) >= 0 {
			return 0
		}
		high = 0
	} else {
		low = 0
	}
	if !(s.balance(low, ice) >= 0 && s.balance(high, ice) <= 0) {
		return math.NaN()
	}
	for high-low > 1e-9 {
		mid := (low + high) / 2
		if s.balance(mid, ice) >= 0 {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// StefanFlux returns the flux of vapour [kg/(m²·s)] through a still column of
// air of length [m] at one temperature, from a wet end with vapour pressure
// from [Pa] to one with vapour pressure to [Pa], when air itself cannot pass
// the wet end (Stefan diffusion). It is +Inf where from reaches p.
//
//	g = D p/(R_v T l) ln((p - to)/(p - from))
func StefanFlux(t, p, length, from, to float64) float64 {
	if from >= p {
		return math.Inf(1)
	}
	return VapourDiffusivity(t, p) * p / (GasConstantVapour * (t + ZeroCelsius) * length) * math.Log((p-to)/(p-from))
}

// FickFlux returns the flux of vapour [kg/(m²·s)] through still air of length
// [m] by diffusion alone, from vapour pressure from to vapour pressure to [Pa];
// the limit of [StefanFlux] for small vapour pressures.
func FickFlux(t, p, length, from, to float64) float64 {
	return VapourDiffusivity(t, p) / (GasConstantVapour * (t + ZeroCelsius) * length) * (from - to)
}

// VentilatedRatio returns the humidity ratio [kg/kg] of a well-mixed space
// after some time [s], when it started at start, air enters with humidity ratio
// inlet at massFlow of dry air [kg/s], mass of dry air is held [kg], and source
// [kg/s] of vapour is given off in it. Without flow the ratio rises in
// proportion to time.
//
//	mass dw/dt = source - massFlow (w - inlet)
func VentilatedRatio(start, inlet, source, massFlow, mass, time float64) float64 {
	if massFlow == 0 {
		return start + source*time/mass
	}
	steady := VentilatedSteadyRatio(inlet, source, massFlow)
	return steady + (start-steady)*math.Exp(-massFlow*time/mass)
}

// VentilatedSteadyRatio returns the humidity ratio [kg/kg] that
// [VentilatedRatio] tends to; +Inf with a source and no flow.
func VentilatedSteadyRatio(inlet, source, massFlow float64) float64 {
	if massFlow == 0 && source == 0 {
		return inlet
	}
	return inlet + source/massFlow
}

// OpenWaterEvaporation returns the flux of vapour [kg/(m²·s)] off still open
// water with vapour pressure surface [Pa] and temperature t, under air with
// vapour pressure pv [Pa] that moves at speed v [m/s].
//
//	g = (surface - pv) (0.089 + 0.0782 v)/L, in kPa and kJ/kg
//
// Source: ASHRAE Handbook HVAC Applications, natatoriums, from memory; for pools
// and speeds up to about 0.7 m/s. It rests on the size of pools: on the small
// surfaces of a hive use [WetSurface].
func OpenWaterEvaporation(t, surface, pv, v float64) float64 {
	return (surface - pv) * (0.089 + 0.0782*v) / LatentEvaporation(t)
}
