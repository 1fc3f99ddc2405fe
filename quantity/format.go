package quantity

import (
	"math"
	"strconv"
	"strings"
)

// System is a family of units that people read.
type System int

// The systems of units.
const (
	Metric System = iota
	US
)

// step is one unit of a scale of units: it serves values from a size upward.
type step struct {
	from   float64 // least absolute value, in the unit of the kind; 0 for the first
	symbol string
	digits int // significant digits
}

// scale returns the units in which values of a kind are shown, smallest first.
// Lengths, masses and resistances in US units are written by functions of their
// own, and temperatures and angles with a fixed decimal.
func scale(kind Kind, system System) []step {
	us := system == US
	one := func(symbol string) []step { return []step{{0, symbol, 3}} }
	either := func(metric, customary string) []step {
		if us {
			return one(customary)
		}
		return one(metric)
	}
	switch kind {
	case Length:
		return []step{{0, "mm", 3}, {1, "m", 3}, {10e3, "km", 3}}
	case Area:
		if us {
			return []step{{0, "in²", 3}, {0.09290304, "ft²", 3}}
		}
		return []step{{0, "mm²", 3}, {1e-4, "cm²", 3}, {0.1, "m²", 3}}
	case Volume:
		if us {
			return []step{{0, "fl oz", 3}, {0.000946352946, "qt", 3}, {0.003785411784, "gal", 3}}
		}
		return []step{{0, "mL", 3}, {1e-3, "L", 3}, {1, "m³", 3}}
	case Mass:
		return []step{{0, "mg", 3}, {1e-3, "g", 3}, {1, "kg", 3}, {10e3, "t", 3}}
	case TemperatureDifference:
		return either("K", "°F")
	case Power:
		return []step{{0, "mW", 3}, {0.1, "W", 3}, {1e3, "kW", 3}, {1e6, "MW", 3}}
	case Energy:
		return []step{{0, "J", 3}, {1e3, "kJ", 3}, {0.36e6, "kWh", 3}, {3.6e9, "MWh", 3}}
	case Resistance:
		return one("m²·K/W")
	case Conductivity:
		return either("W/(m·K)", "Btu·in/(h·ft²·°F)")
	case Transmittance:
		return either("W/(m²·K)", "Btu/(h·ft²·°F)")
	case Conductance:
		return either("W/K", "Btu/(h·°F)")
	case Flow:
		if us {
			return one("cfm")
		}
		return []step{{0, "mL/s", 3}, {1e-4, "L/s", 3}, {1, "m³/s", 3}}
	case MassFlow:
		if us {
			return []step{{0, "oz/h", 3}, {0.45359237 / 3600, "lb/h", 3}}
		}
		return []step{{0, "g/h", 3}, {1. / 3600, "kg/h", 3}, {1, "kg/s", 3}}
	case Speed:
		return either("m/s", "mph")
	case Fraction:
		return one("%")
	case Duration:
		return []step{{0, "s", 3}, {60, "min", 3}, {2 * 3600, "h", 3}, {48 * 3600, "d", 3}}
	case Pressure:
		if us {
			return []step{{0, "Pa", 3}, {5, "inH₂O", 3}, {2500, "psi", 3}, {80e3, "inHg", 4}, {110e3, "psi", 3}}
		}
		return []step{{0, "mPa", 3}, {0.1, "Pa", 3}, {1e3, "kPa", 3}, {80e3, "hPa", 4}, {110e3, "kPa", 3}, {1e6, "MPa", 3}}
	case Density:
		return either("kg/m³", "lb/ft³")
	case AreaDensity:
		return either("kg/m²", "lb/ft²")
	case SpecificHeat:
		if us {
			return one("Btu/(lb·°F)")
		}
		return []step{{0, "J/(kg·K)", 4}}
	case SpecificEnergy:
		if us {
			return one("Btu/lb")
		}
		return []step{{0, "J/kg", 3}, {1e3, "kJ/kg", 3}, {1e6, "MJ/kg", 3}}
	case AreaPerLength:
		if us {
			return one("in²/ft")
		}
		return []step{{0, "mm²/m", 3}, {1e-4, "cm²/m", 3}, {0.1, "m²/m", 3}}
	case Permeance:
		return one("L/(s·m²·Pa)")
	case Irradiance:
		return one("W/m²")
	}
	return nil
}

// Format writes a value, in the unit that Parse returns, for people to read:
// three or four significant digits, in a unit that suits its size. In the US
// system lengths are inches with fractions down to 1/16 where the value lies
// within 0.01 in of one, or feet and inches; masses are ounces, pounds and
// ounces, or pounds; thermal resistances are R-values. Energy, power, share,
// duration, angle, air permeance and irradiance look the same in both systems.
// NaN reads "no value" and an infinite value "infinite".
func Format(value float64, kind Kind, system System) string {
	switch {
	case math.IsNaN(value):
		return "no value"
	case math.IsInf(value, 1):
		return "infinite"
	case math.IsInf(value, -1):
		return "minus infinite"
	}
	switch {
	case kind == Temperature && system == US:
		return decimals(value*9/5+32, 1) + " °F"
	case kind == Temperature:
		return decimals(value, 1) + " °C"
	case kind == Angle:
		return decimals(value, 1) + "°"
	case kind == Length && system == US:
		return feetInches(value)
	case kind == Mass && system == US:
		return poundsOunces(value)
	case kind == Resistance && system == US && value >= 0:
		return "R-" + significant(value/factor(Resistance, "h·ft²·°F/Btu"), 3)
	}
	return onScale(value, kind, scale(kind, system))
}

// onScale writes the value in the largest unit that it fills, counting what
// rounding adds: 999.6 mm, shown with three digits, fills 1 m.
func onScale(value float64, kind Kind, units []step) string {
	if len(units) == 0 {
		return strconv.FormatFloat(value, 'g', -1, 64)
	}
	chosen := units[0]
	size := factor(kind, chosen.symbol)
	for _, larger := range units[1:] {
		shown := math.Abs(round(value/size, chosen.digits)) * size
		if shown < larger.from*(1-1e-9) { // the margin covers the product's rounding
			break
		}
		chosen, size = larger, factor(kind, larger.symbol)
	}
	return significant(value/size, chosen.digits) + " " + chosen.symbol
}

// factor returns the size of a unit of the table.
func factor(kind Kind, symbol string) float64 {
	size, _ := ratio(reader{unitTable()}.row(kind, symbol).factor).Float64()
	return size
}

// feetInches writes a length as US carpenters do.
func feetInches(value float64) string {
	const inch, foot, mile = 0.0254, 12, 63360 // [m], [in], [in]
	sign := ""
	inches := value / inch
	if inches < 0 {
		sign, inches = "-", -inches
	}
	switch {
	case inches >= mile:
		return sign + significant(inches/mile, 3) + " mi"
	case inches >= 100*foot:
		return sign + significant(inches/foot, 3) + " ft"
	case inches >= 3*foot:
		// A sixteenth is below 0.1 % here, so all lengths are rounded to it.
		sixteenths := int(math.Round(inches * 16))
		text := sign + strconv.Itoa(sixteenths/(16*foot)) + " ft"
		if rest := sixteenths % (16 * foot); rest > 0 {
			text += " " + mixed(rest) + " in"
		}
		return text
	}
	sixteenths := math.Round(inches * 16)
	if sixteenths > 0 && math.Abs(inches-sixteenths/16) <= 0.01 {
		return sign + mixed(int(sixteenths)) + " in"
	}
	text := significant(inches, 3)
	if text == "0" {
		sign = ""
	}
	return sign + text + " in"
}

// mixed writes a number of sixteenths as whole and reduced fraction, such as
// 1-1/2.
func mixed(sixteenths int) string {
	whole, part, of := sixteenths/16, sixteenths%16, 16
	for part > 0 && part%2 == 0 {
		part, of = part/2, of/2
	}
	switch {
	case part == 0:
		return strconv.Itoa(whole)
	case whole == 0:
		return strconv.Itoa(part) + "/" + strconv.Itoa(of)
	}
	return strconv.Itoa(whole) + "-" + strconv.Itoa(part) + "/" + strconv.Itoa(of)
}

// poundsOunces writes a mass in US units.
func poundsOunces(value float64) string {
	const pound = 0.45359237 // [kg]
	sign := ""
	ounces := value / pound * 16
	if ounces < 0 {
		sign, ounces = "-", -ounces
	}
	tenths := math.Round(ounces * 10)
	switch {
	case ounces >= 10*16-0.05:
		return sign + significant(ounces/16, 3) + " lb"
	case tenths >= 160:
		whole := math.Floor(tenths / 160)
		text := sign + plainDecimal(whole) + " lb"
		if rest := tenths - 160*whole; rest > 0 {
			text += " " + plainDecimal(rest/10) + " oz"
		}
		return text
	}
	text := significant(ounces, 3)
	if text == "0" {
		sign = ""
	}
	return sign + text + " oz"
}

// round returns x with the given number of significant digits, but never
// rounds digits before the decimal point away.
func round(x float64, digits int) float64 {
	if x == 0 {
		return 0
	}
	places := max(digits-1-int(math.Floor(math.Log10(math.Abs(x)))), 0)
	text := strconv.FormatFloat(x, 'f', min(places, 330), 64)
	rounded, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return x // cannot be: the text is a decimal made from a finite number
	}
	return rounded + 0 // +0 turns -0 into 0
}

// significant writes x rounded to significant digits.
func significant(x float64, digits int) string { return plainDecimal(round(x, digits)) }

// decimals writes x rounded to a number of decimals, without trailing zeros.
func decimals(x float64, places int) string {
	unit := math.Pow10(places)
	if math.Abs(x) < 1e15 {
		x = math.Round(x*unit)/unit + 0
	}
	return plainDecimal(x)
}

// plainDecimal writes x with all its digits, without exponent between 1e-6 and
// 1e15.
func plainDecimal(x float64) string {
	if size := math.Abs(x); x != 0 && (size < 1e-6 || size >= 1e15) {
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// FormatExact writes a value, in the unit that Parse returns, so that Parse
// returns the very same float64. Lengths below 10 m are in millimetres, areas
// below 1 m² in square centimetres, volumes in litres, flows in litres per
// second and shares in percent; the other kinds use their own unit. The shift of
// the decimal point that this takes is made on the digits and so loses nothing.
// NaN, infinite values and temperatures below absolute zero give text that Parse
// refuses.
func FormatExact(value float64, kind Kind) string {
	symbol, shift := kind.Unit(), 0
	switch kind {
	case Length:
		if math.Abs(value) < 10 {
			symbol, shift = "mm", 3
		}
	case Area:
		if math.Abs(value) < 1 {
			symbol, shift = "cm²", 4
		}
	case Volume:
		symbol, shift = "L", 3
	case Flow:
		symbol, shift = "L/s", 3
	case Fraction:
		symbol, shift = "%", 2
	}
	return shifted(value, shift) + " " + symbol
}

// shifted writes value·10^shift with the shortest digits that identify value.
func shifted(value float64, shift int) string {
	if value == 0 {
		return "0"
	}
	scientific := strconv.FormatFloat(value, 'e', -1, 64)
	mantissa, power, ok := strings.Cut(scientific, "e")
	if !ok {
		return scientific // NaN or Inf
	}
	exponent, err := strconv.Atoi(power)
	if err != nil {
		return scientific // cannot be: FormatFloat writes digits
	}
	exponent += shift
	sign := ""
	if mantissa[0] == '-' {
		sign, mantissa = "-", mantissa[1:]
	}
	digits := strings.Replace(mantissa, ".", "", 1)
	switch {
	case exponent < -6 || exponent > 15:
		return sign + mantissa + "e" + strconv.Itoa(exponent)
	case exponent < 0:
		return sign + "0." + strings.Repeat("0", -exponent-1) + digits
	case len(digits) <= exponent+1:
		return sign + digits + strings.Repeat("0", exponent+1-len(digits))
	}
	return sign + digits[:exponent+1] + "." + digits[exponent+1:]
}
