// Package quantity reads and writes physical quantities with their units, as
// people write them, at the edges of the program. Inside, every value is a
// float64 in SI, with three exceptions: temperatures are in degrees Celsius,
// angles in degrees, and shares (relative humidity, open share) are fractions.
//
// [Parse] turns text such as "1-1/2 in", "20 lb", "R-11" or "−5 °C" into such a
// value, [Format] makes it readable again in metric or US units, and
// [FormatExact] writes it without loss for files. [Units] lists every unit with
// its factor and the source of that factor.
package quantity

import "fmt"

// Kind says what a quantity measures.
type Kind int

// The kinds of quantity. The unit in brackets is the one Parse returns and
// Format takes.
const (
	Length                Kind = iota // [m], also depth of rain and snow, sd values and heights
	Area                              // [m²]
	Volume                            // [m³]
	Mass                              // [kg]
	Temperature                       // [°C]
	TemperatureDifference             // [K]
	Power                             // [W]
	Energy                            // [J]
	Resistance                        // thermal resistance [m²·K/W]
	Conductivity                      // thermal conductivity, also linear transmittance [W/(m·K)]
	Transmittance                     // thermal transmittance or film coefficient [W/(m²·K)]
	Conductance                       // thermal conductance of a whole part [W/K]
	Flow                              // volume flow [m³/s]
	MassFlow                          // mass flow [kg/s]
	Speed                             // [m/s]
	Fraction                          // [-]
	Duration                          // [s]
	Angle                             // [deg]
	Pressure                          // also stress [Pa]
	Density                           // [kg/m³]
	AreaDensity                       // mass per area, such as honey per area of comb [kg/m²]
	SpecificHeat                      // [J/(kg·K)]
	SpecificEnergy                    // energy per mass [J/kg]
	AreaPerLength                     // leakage area per metre of joint [m²/m]
	Permeance                         // volume flow of air per area and pressure [m³/(s·m²·Pa)]
	Irradiance                        // also heat flux [W/m²]
)

// kindCount is the number of kinds.
const kindCount = Irradiance + 1

// kindInfo is what people need to know of a kind.
type kindInfo struct {
	name     string // for people, without article
	article  string // "a" or "an"
	unit     string // symbol of the unit of the float64 value
	examples string // how to write one, joined by "or"
}

// kindTable returns the facts of every kind, indexed by Kind.
func kindTable() [kindCount]kindInfo {
	return [...]kindInfo{
		Length:                {"length", "a", "m", "38 mm or 1-1/2 in"},
		Area:                  {"area", "an", "m²", "25 cm² or 4 sq in"},
		Volume:                {"volume", "a", "m³", "2.5 L or 1 gal"},
		Mass:                  {"mass", "a", "kg", "9 kg or 20 lb"},
		Temperature:           {"temperature", "a", "°C", "-5 °C or 23 °F"},
		TemperatureDifference: {"temperature difference", "a", "K", "2 K or 4 °F"},
		Power:                 {"power", "a", "W", "12 W or 41 Btu/h"},
		Energy:                {"energy", "an", "J", "1.5 kWh or 5.4 MJ"},
		Resistance:            {"thermal resistance", "a", "m²·K/W", "1.94 m²·K/W, RSI 1.94 or R-11"},
		Conductivity:          {"thermal conductivity", "a", "W/(m·K)", "0.13 W/(m·K) or 0.9 Btu·in/(h·ft²·°F)"},
		Transmittance:         {"thermal transmittance", "a", "W/(m²·K)", "0.5 W/(m²·K) or 0.09 Btu/(h·ft²·°F)"},
		Conductance:           {"thermal conductance", "a", "W/K", "2 W/K or 3.8 Btu/(h·°F)"},
		Flow:                  {"volume flow", "a", "m³/s", "0.5 L/s or 1 cfm"},
		MassFlow:              {"mass flow", "a", "kg/s", "20 g/h or 1 lb/day"},
		Speed:                 {"speed", "a", "m/s", "3 m/s or 7 mph"},
		Fraction:              {"share", "a", "1", "40 % or 420 ppm"},
		Duration:              {"duration", "a", "s", "90 min or 2 h"},
		Angle:                 {"angle", "an", "deg", "15° or 15 deg"},
		Pressure:              {"pressure", "a", "Pa", "1013 hPa or 29.9 inHg"},
		Density:               {"density", "a", "kg/m³", "500 kg/m³ or 31 lb/ft³"},
		AreaDensity:           {"mass per area", "a", "kg/m²", "35 kg/m² or 350 g/dm²"},
		SpecificHeat:          {"specific heat", "a", "J/(kg·K)", "1600 J/(kg·K) or 0.38 Btu/(lb·°F)"},
		SpecificEnergy:        {"energy per mass", "an", "J/kg", "13 MJ/kg or 5600 Btu/lb"},
		AreaPerLength:         {"area per length", "an", "m²/m", "0.5 cm²/m or 0.02 in²/ft"},
		Permeance:             {"air permeance", "an", "m³/(s·m²·Pa)", "0.2 L/(s·m²·Pa) or 0.7 m³/(h·m²·Pa)"},
		Irradiance:            {"irradiance", "an", "W/m²", "600 W/m² or 190 Btu/(h·ft²)"},
	}
}

// Kinds returns every kind in the order of the constants.
func Kinds() []Kind {
	kinds := make([]Kind, kindCount)
	for i := range kinds {
		kinds[i] = Kind(i)
	}
	return kinds
}

// info returns the facts of k; an unknown kind describes itself.
func (k Kind) info() kindInfo {
	if k < 0 || k >= kindCount {
		return kindInfo{name: fmt.Sprintf("quantity of unknown kind %d", int(k)), article: "a"}
	}
	return kindTable()[k]
}

// String returns the name of the kind for people, such as "length".
func (k Kind) String() string { return k.info().name }

// Unit returns the symbol of the unit of the float64 value that Parse returns,
// such as "m²·K/W"; "1" for Fraction. It is empty for an unknown kind.
func (k Kind) Unit() string { return k.info().unit }

// Examples tells how a quantity of this kind may be written, such as
// "38 mm or 1-1/2 in". It is empty for an unknown kind.
func (k Kind) Examples() string { return k.info().examples }
