package air

import "math"

// HumidityRatio returns the mass of water vapour per mass of dry air [kg/kg] of
// air with vapour pressure pv at total pressure p; +Inf where pv reaches p.
//
//	w = 0.621945 pv/(p - pv)
func HumidityRatio(pv, p float64) float64 {
	if pv >= p {
		return math.Inf(1)
	}
	return MassRatio * pv / (p - pv)
}

// VapourPressure returns the vapour pressure [Pa] of air with humidity ratio w
// at total pressure p, the inverse of [HumidityRatio].
func VapourPressure(w, p float64) float64 {
	return p * w / (MassRatio + w)
}

// SaturationRatio returns the humidity ratio of saturated air [kg/kg] at
// temperature t and pressure p; +Inf at and above the boiling point.
func SaturationRatio(t, p float64) float64 {
	return HumidityRatio(SaturationPressure(t), p)
}

// RelHumidity returns the relative humidity as a fraction [-] of air at
// temperature t with vapour pressure pv: over ice below the triple point, over
// liquid above. It exceeds one in supersaturated air.
func RelHumidity(t, pv float64) float64 {
	return pv / SaturationPressure(t)
}

// RelHumidityLiquid returns the relative humidity over liquid water as a
// fraction [-], the convention of weather stations at all temperatures.
func RelHumidityLiquid(t, pv float64) float64 {
	return pv / SaturationPressureLiquid(t)
}

// Enthalpy returns the enthalpy of moist air per mass of dry air [J/kg],
// counted from dry air and liquid water at 0 °C.
//
//	h = 1006 t + w (2501e3 + 1860 t)
func Enthalpy(t, w float64) float64 {
	return SpecificHeatDry*t + w*EnthalpyVapour(t)
}

// TemperatureFromEnthalpy returns the temperature [°C] of air with enthalpy h
// per mass of dry air [J/kg] and humidity ratio w, the inverse of [Enthalpy].
func TemperatureFromEnthalpy(h, w float64) float64 {
	return (h - w*latentEvaporationZero) / SpecificHeat(w)
}

// SpecificHeat returns the heat capacity of moist air per mass of dry air
// [J/(kg·K)].
func SpecificHeat(w float64) float64 {
	return SpecificHeatDry + w*SpecificHeatVapour
}

// SpecificVolume returns the volume of moist air per mass of dry air [m³/kg].
func SpecificVolume(t, w, p float64) float64 {
	return GasConstantDry * (t + ZeroCelsius) * (1 + w/MassRatio) / p
}

// Density returns the mass of moist air, dry air and vapour together, per
// volume [kg/m³].
func Density(t, p, w float64) float64 {
	return (1 + w) / SpecificVolume(t, w, p)
}

// DryDensity returns the mass of the dry air alone per volume of moist air
// [kg/m³].
func DryDensity(t, p, w float64) float64 {
	return 1 / SpecificVolume(t, w, p)
}

// DensityRespired returns the density [kg/m³] of moist air in which carbon
// dioxide at mole fraction co2 [-] of the dry air has taken the place of as
// many moles of oxygen, as breathing on sugar does (respiratory quotient one).
// One percent makes air heavier by 0.4 %, as much as cooling by 1.2 K.
func DensityRespired(t, p, w, co2 float64) float64 {
	heavier := co2 * (MolarMassCarbonDioxide - MolarMassOxygen) / MolarMassDry
	return Density(t, p, w) + heavier*DryDensity(t, p, w)
}

// CarbonDioxideDensity returns the mass of carbon dioxide per volume [kg/m³] at
// mole fraction co2 [-] of the whole gas.
func CarbonDioxideDensity(co2, t, p float64) float64 {
	return co2 * p / (GasConstantCarbonDioxide * (t + ZeroCelsius))
}

// CarbonDioxideFraction returns the mole fraction [-] of the whole gas that
// density [kg/m³] of carbon dioxide makes, the inverse of
// [CarbonDioxideDensity].
func CarbonDioxideFraction(density, t, p float64) float64 {
	return density * GasConstantCarbonDioxide * (t + ZeroCelsius) / p
}

// PressureAtHeight returns the pressure of the standard atmosphere [Pa] at
// height h [m] above sea level.
//
// Source: ASHRAE Handbook Fundamentals (2017), chapter 1, equation 3; valid
// from -5000 to 11000 m. Above 44 km, where the expression has no real value,
// it returns 0.
func PressureAtHeight(h float64) float64 {
	base := 1 - 2.25577e-5*h
	if base <= 0 {
		return 0
	}
	return StandardPressure * math.Pow(base, 5.2559)
}

// Stream is a flow of moist air.
type Stream struct {
	DryMassFlow   float64 // dry air, not negative [kg/s]
	Temp          float64 // [°C]
	HumidityRatio float64 // [kg/kg]
}

// Mix returns the stream that streams make when they mix without exchange of
// heat with anything else. Dry air, vapour and enthalpy are conserved; the
// result may be supersaturated (a fog), which is left as it is. Without any
// flow the state of the result is NaN.
func Mix(streams ...Stream) Stream {
	var mass, vapour, enthalpy float64
	for _, s := range streams {
		mass += s.DryMassFlow
		vapour += s.DryMassFlow * s.HumidityRatio
		enthalpy += s.DryMassFlow * Enthalpy(s.Temp, s.HumidityRatio)
	}
	w := vapour / mass
	return Stream{DryMassFlow: mass, Temp: TemperatureFromEnthalpy(enthalpy/mass, w), HumidityRatio: w}
}
