package quantity

import (
	"math/big"
	"strings"
)

// Unit is one accepted unit of one kind.
type Unit struct {
	Symbol string   // as written in messages and output
	Names  []string // further spellings; "·" marks where a space or dot may stand
	Kind   Kind     // what it measures
	// Factor and Zero give the value in the unit of the kind:
	// (number − Zero) · Factor. Zero is not 0 only for temperatures.
	Factor float64
	Zero   float64
	Source string // where the factor comes from
}

// Units returns every accepted unit, by kind, in the order of the table.
func Units() []Unit {
	rows := unitTable()
	units := make([]Unit, len(rows))
	for i, row := range rows {
		factor, _ := ratio(row.factor).Float64()
		zero, _ := ratio(row.offset()).Float64()
		units[i] = Unit{row.symbol, strings.Fields(row.names), row.kind, factor, zero, row.source}
	}
	return units
}

// chain groups units that may follow one another in one quantity, such as
// feet and inches.
type chain int

const (
	alone chain = iota
	metricLength
	footLength
	metricMass
	poundMass
	clock
	usLiquid
)

// unitRow is one line of the table. Symbols and names are in the canonical form
// of canon, except that symbols keep their raised digits, dots and brackets.
type unitRow struct {
	kind   Kind
	symbol string
	names  string // separated by spaces
	factor string // product and quotient of decimals, see ratio
	zero   string // "" for 0
	chain  chain
	source string
}

// offset returns the zero of the scale as ratio takes it.
func (r unitRow) offset() string {
	if r.zero == "" {
		return "0"
	}
	return r.zero
}

// Sources of the factors. All factors are exact by definition of the unit
// unless the source says otherwise; the published decimals of NIST SP 811
// (2008), appendix B.8, are checked in the tests (those decimals from memory).
const (
	srcSI      = "SI"
	srcTime    = "unit accepted with the SI: 1 h = 3600 s, 1 d = 86400 s"
	srcFoot    = "exact: international foot, 1 ft = 0.3048 m (1959)"
	srcPound   = "exact: international avoirdupois pound, 0.45359237 kg (1959)"
	srcUSgal   = "exact: US gallon of 231 in³ (NIST SP 811 B.8)"
	srcImpgal  = "exact: imperial gallon, 4.54609 L (NIST SP 811 B.8)"
	srcMile    = "exact: international mile of 5280 ft"
	srcNaut    = "exact: nautical mile of 1852 m"
	srcFahr    = "exact: t/°C = (t/°F − 32)·5/9"
	srcKelvin  = "exact: t/°C = T/K − 273.15"
	srcBtu     = "exact: International Table Btu, 1055.05585262 J (NIST SP 811 B.8)"
	srcCal     = "exact: thermochemical kilocalorie, 4184 J (NIST SP 811 B.8)"
	srcMercury = "conventional: mercury of 13595.1 kg/m³ at 9.80665 m/s² (NIST SP 811 B.8)"
	srcWater   = "conventional: water of 1000 kg/m³ at 9.80665 m/s² (NIST SP 811 B.8)"
	srcPsi     = "exact: pound-force per square inch at 9.80665 m/s²"
	srcAtm     = "exact: standard atmosphere, 101325 Pa"
	srcShare   = "parts of one"
	srcAngle   = "180/π, 32 digits"
)

// unitTable returns every unit. It is a function so that nobody can alter it.
func unitTable() []unitRow {
	return []unitRow{
		{Length, "mm", "millimetre millimeter", "0.001", "", metricLength, srcSI},
		{Length, "cm", "centimetre centimeter", "0.01", "", metricLength, srcSI},
		{Length, "dm", "decimetre decimeter", "0.1", "", metricLength, srcSI},
		{Length, "m", "metre meter", "1", "", metricLength, srcSI},
		{Length, "km", "kilometre kilometer", "1000", "", alone, srcSI},
		{Length, "µm", "um micrometre micrometer micron", "0.000001", "", alone, srcSI},
		{Length, "in", "inch inches \"", "0.0254", "", footLength, srcFoot},
		{Length, "ft", "foot feet '", "0.3048", "", footLength, srcFoot},
		{Length, "yd", "yard", "0.9144", "", footLength, srcFoot},
		{Length, "mi", "mile", "1609.344", "", alone, srcMile},

		{Area, "mm²", "sq·mm square·millimetre square·millimeter", "0.000001", "", alone, srcSI},
		{Area, "cm²", "sq·cm square·centimetre square·centimeter", "0.0001", "", alone, srcSI},
		{Area, "dm²", "sq·dm square·decimetre square·decimeter", "0.01", "", alone, srcSI},
		{Area, "m²", "sq·m square·metre square·meter", "1", "", alone, srcSI},
		{Area, "ha", "hectare", "10000", "", alone, srcSI},
		{Area, "in²", "sq·in square·inch square·inches inch2", "0.0254*0.0254", "", alone, srcFoot},
		{Area, "ft²", "sq·ft square·foot square·feet", "0.3048*0.3048", "", alone, srcFoot},

		{Volume, "mL", "ml millilitre milliliter cm3 cc cubic·centimetre cubic·centimeter", "0.000001", "", alone, srcSI},
		{Volume, "cL", "cl centilitre centiliter", "0.00001", "", alone, srcSI},
		{Volume, "L", "l litre liter dm3", "0.001", "", alone, srcSI},
		{Volume, "m³", "cubic·metre cubic·meter", "1", "", alone, srcSI},
		{Volume, "mm³", "cubic·millimetre cubic·millimeter", "0.000000001", "", alone, srcSI},
		{Volume, "in³", "cu·in cubic·inch cubic·inches", "0.0254*0.0254*0.0254", "", alone, srcFoot},
		{Volume, "ft³", "cu·ft cubic·foot cubic·feet", "0.3048*0.3048*0.3048", "", alone, srcFoot},
		{Volume, "gal", "gallon US·gal US·gallon", "231*0.0254*0.0254*0.0254", "", usLiquid, srcUSgal},
		{Volume, "qt", "quart US·qt US·quart", "231*0.0254*0.0254*0.0254/4", "", usLiquid, srcUSgal},
		{Volume, "pt", "pint US·pt US·pint", "231*0.0254*0.0254*0.0254/8", "", usLiquid, srcUSgal},
		{Volume, "cup", "US·cup", "231*0.0254*0.0254*0.0254/16", "", usLiquid, srcUSgal},
		{Volume, "fl oz", "fl·oz fluid·ounce US·fl·oz", "231*0.0254*0.0254*0.0254/128", "", usLiquid, srcUSgal},
		{Volume, "imp gal", "imp·gal imperial·gallon UK·gal UK·gallon", "0.00454609", "", alone, srcImpgal},
		{Volume, "imp qt", "imp·qt imperial·quart UK·qt UK·quart", "0.00454609/4", "", alone, srcImpgal},
		{Volume, "imp pt", "imp·pt imperial·pint UK·pt UK·pint", "0.00454609/8", "", alone, srcImpgal},

		{Mass, "mg", "milligram milligramme", "0.000001", "", alone, srcSI},
		{Mass, "g", "gram gramme", "0.001", "", metricMass, srcSI},
		{Mass, "kg", "kilogram kilogramme kilo", "1", "", metricMass, srcSI},
		{Mass, "t", "tonne metric·ton", "1000", "", metricMass, srcSI},
		{Mass, "oz", "ounce", "0.45359237/16", "", poundMass, srcPound},
		{Mass, "lb", "pound", "0.45359237", "", poundMass, srcPound},
		{Mass, "st", "stone", "0.45359237*14", "", poundMass, srcPound},
		{Mass, "short ton", "short·ton US·ton", "0.45359237*2000", "", alone, srcPound},

		{Temperature, "°C", "C °·C deg·C degree·C degrees·C celsius degrees·celsius centigrade", "1", "", alone, srcSI},
		{Temperature, "°F", "F °·F deg·F degree·F degrees·F fahrenheit degrees·fahrenheit", "5/9", "32", alone, srcFahr},
		{Temperature, "K", "kelvin", "1", "273.15", alone, srcKelvin},

		{TemperatureDifference, "K", "kelvin", "1", "", alone, srcSI},
		{TemperatureDifference, "°C", "C °·C deg·C degree·C degrees·C celsius", "1", "", alone, srcSI},
		{TemperatureDifference, "°F", "F °·F deg·F degree·F degrees·F fahrenheit", "5/9", "", alone, srcFahr},

		{Power, "W", "watt J/s", "1", "", alone, srcSI},
		{Power, "mW", "milliwatt", "0.001", "", alone, srcSI},
		{Power, "kW", "kilowatt", "1000", "", alone, srcSI},
		{Power, "MW", "megawatt", "1000000", "", alone, srcSI},
		{Power, "Btu/h", "Btu/hr BTUH", "1055.05585262/3600", "", alone, srcBtu},
		{Power, "kcal/h", "kcal/hr", "4184/3600", "", alone, srcCal},

		{Energy, "J", "joule W·s", "1", "", alone, srcSI},
		{Energy, "mJ", "millijoule", "0.001", "", alone, srcSI},
		{Energy, "kJ", "kilojoule", "1000", "", alone, srcSI},
		{Energy, "MJ", "megajoule", "1000000", "", alone, srcSI},
		{Energy, "GJ", "gigajoule", "1000000000", "", alone, srcSI},
		{Energy, "Wh", "W·h watt·hour", "3600", "", alone, srcTime},
		{Energy, "kWh", "kW·h kilowatt·hour", "3600000", "", alone, srcTime},
		{Energy, "MWh", "MW·h megawatt·hour", "3600000000", "", alone, srcTime},
		{Energy, "Btu", "", "1055.05585262", "", alone, srcBtu},
		{Energy, "kcal", "kilocalorie", "4184", "", alone, srcCal},

		{Resistance, "m²·K/W", "m2·C/W K·m2/W", "1", "", alone, srcSI},
		{Resistance, "h·ft²·°F/Btu", "ft2·F·h/Btu ft2·h·F/Btu h·F·ft2/Btu F·ft2·h/Btu F·h·ft2/Btu hr·ft2·F/Btu ft2·F·hr/Btu ft2·hr·F/Btu sq·ft·h·F/Btu",
			"0.3048*0.3048*3600*5/9/1055.05585262", "", alone, srcBtu},

		{Conductivity, "W/(m·K)", "W/m·C W/K·m W·m-1·K-1", "1", "", alone, srcSI},
		{Conductivity, "mW/(m·K)", "mW/m·C", "0.001", "", alone, srcSI},
		{Conductivity, "Btu·in/(h·ft²·°F)", "Btu·in/hr·ft2·F Btu·in/ft2·h·F Btu·in/ft2·hr·F",
			"1055.05585262*0.0254*9/3600/0.3048/0.3048/5", "", alone, srcBtu},
		{Conductivity, "Btu/(h·ft·°F)", "Btu/hr·ft·F Btu/ft·h·F", "1055.05585262*9/3600/0.3048/5", "", alone, srcBtu},

		{Transmittance, "W/(m²·K)", "W/m2·C W/K·m2 W·m-2·K-1", "1", "", alone, srcSI},
		{Transmittance, "Btu/(h·ft²·°F)", "Btu/hr·ft2·F Btu/ft2·h·F Btu/ft2·hr·F Btu/h·F·ft2",
			"1055.05585262*9/3600/0.3048/0.3048/5", "", alone, srcBtu},

		{Conductance, "W/K", "W/C W·K-1", "1", "", alone, srcSI},
		{Conductance, "mW/K", "mW/C", "0.001", "", alone, srcSI},
		{Conductance, "Btu/(h·°F)", "Btu/hr·F Btu/F·h", "1055.05585262*9/3600/5", "", alone, srcBtu},

		{Flow, "m³/s", "", "1", "", alone, srcSI},
		{Flow, "m³/min", "", "1/60", "", alone, srcTime},
		{Flow, "m³/h", "m3/hr cmh", "1/3600", "", alone, srcTime},
		{Flow, "L/s", "l/s dm3/s", "0.001", "", alone, srcSI},
		{Flow, "L/min", "l/min lpm", "0.001/60", "", alone, srcTime},
		{Flow, "L/h", "l/h L/hr", "0.001/3600", "", alone, srcTime},
		{Flow, "L/d", "l/d L/day", "0.001/86400", "", alone, srcTime},
		{Flow, "mL/s", "ml/s cm3/s", "0.000001", "", alone, srcSI},
		{Flow, "mL/min", "ml/min cm3/min", "0.000001/60", "", alone, srcTime},
		{Flow, "mL/h", "ml/h mL/hr", "0.000001/3600", "", alone, srcTime},
		{Flow, "cfm", "ft3/min cu·ft/min", "0.3048*0.3048*0.3048/60", "", alone, srcFoot},
		{Flow, "cfh", "ft3/h ft3/hr cu·ft/h", "0.3048*0.3048*0.3048/3600", "", alone, srcFoot},
		{Flow, "cfs", "ft3/s cu·ft/s", "0.3048*0.3048*0.3048", "", alone, srcFoot},
		{Flow, "gal/min", "gpm", "231*0.0254*0.0254*0.0254/60", "", alone, srcUSgal},
		{Flow, "gal/h", "gal/hr gph", "231*0.0254*0.0254*0.0254/3600", "", alone, srcUSgal},
		{Flow, "gal/d", "gal/day", "231*0.0254*0.0254*0.0254/86400", "", alone, srcUSgal},
		{Flow, "qt/d", "qt/day", "231*0.0254*0.0254*0.0254/4/86400", "", alone, srcUSgal},

		{MassFlow, "kg/s", "", "1", "", alone, srcSI},
		{MassFlow, "kg/h", "kg/hr", "1/3600", "", alone, srcTime},
		{MassFlow, "kg/d", "kg/day", "1/86400", "", alone, srcTime},
		{MassFlow, "kg/week", "kg/wk", "1/604800", "", alone, srcTime},
		{MassFlow, "g/s", "", "0.001", "", alone, srcSI},
		{MassFlow, "g/h", "g/hr", "0.001/3600", "", alone, srcTime},
		{MassFlow, "g/d", "g/day", "0.001/86400", "", alone, srcTime},
		{MassFlow, "mg/s", "", "0.000001", "", alone, srcSI},
		{MassFlow, "mg/h", "mg/hr", "0.000001/3600", "", alone, srcTime},
		{MassFlow, "lb/h", "lb/hr lbs/h lbs/hr", "0.45359237/3600", "", alone, srcPound},
		{MassFlow, "lb/d", "lb/day lbs/d lbs/day", "0.45359237/86400", "", alone, srcPound},
		{MassFlow, "lb/week", "lb/wk lbs/week lbs/wk", "0.45359237/604800", "", alone, srcPound},
		{MassFlow, "oz/h", "oz/hr", "0.45359237/16/3600", "", alone, srcPound},
		{MassFlow, "oz/d", "oz/day", "0.45359237/16/86400", "", alone, srcPound},

		{Speed, "m/s", "mps m·s-1", "1", "", alone, srcSI},
		{Speed, "km/h", "kph km/hr kmh", "1/3.6", "", alone, srcTime},
		{Speed, "cm/s", "", "0.01", "", alone, srcSI},
		{Speed, "mm/s", "", "0.001", "", alone, srcSI},
		{Speed, "mph", "mi/h mile/h miles/h miles/hour", "1609.344/3600", "", alone, srcMile},
		{Speed, "knots", "knot kn kt", "1852/3600", "", alone, srcNaut},
		{Speed, "ft/s", "fps", "0.3048", "", alone, srcFoot},
		{Speed, "ft/min", "fpm", "0.3048/60", "", alone, srcFoot},

		{Fraction, "%", "percent per·cent pct", "0.01", "", alone, srcShare},
		{Fraction, "‰", "permille per·mille", "0.001", "", alone, srcShare},
		{Fraction, "ppm", "", "0.000001", "", alone, srcShare},

		{Duration, "s", "sec second", "1", "", clock, srcSI},
		{Duration, "min", "minute", "60", "", clock, srcTime},
		{Duration, "h", "hr hour", "3600", "", clock, srcTime},
		{Duration, "d", "day", "86400", "", clock, srcTime},
		{Duration, "week", "wk", "604800", "", clock, srcTime},

		{Angle, "°", "deg degree", "1", "", alone, "degree, the unit of angles here"},
		{Angle, "rad", "radian", "57.295779513082320876798154814105", "", alone, srcAngle},

		{Pressure, "Pa", "pascal N/m2", "1", "", alone, srcSI},
		{Pressure, "mPa", "millipascal", "0.001", "", alone, srcSI},
		{Pressure, "hPa", "hectopascal", "100", "", alone, srcSI},
		{Pressure, "kPa", "kilopascal", "1000", "", alone, srcSI},
		{Pressure, "MPa", "megapascal N/mm2", "1000000", "", alone, srcSI},
		{Pressure, "mbar", "mb millibar", "100", "", alone, "exact: 1 bar = 100 kPa"},
		{Pressure, "bar", "", "100000", "", alone, "exact: 1 bar = 100 kPa"},
		{Pressure, "atm", "", "101325", "", alone, srcAtm},
		{Pressure, "mmHg", "mm·Hg", "13595.1*9.80665/1000", "", alone, srcMercury},
		{Pressure, "inHg", "in·Hg", "13595.1*9.80665*0.0254", "", alone, srcMercury},
		{Pressure, "inH₂O", "in·H2O in·w·c in·wg", "1000*9.80665*0.0254", "", alone, srcWater},
		{Pressure, "psi", "lb/in2 lbf/in2", "0.45359237*9.80665/0.0254/0.0254", "", alone, srcPsi},

		{Density, "kg/m³", "g/L g/l", "1", "", alone, srcSI},
		{Density, "g/cm³", "g/mL g/ml kg/L kg/l g/cc kg/dm3", "1000", "", alone, srcSI},
		{Density, "g/m³", "", "0.001", "", alone, srcSI},
		{Density, "lb/ft³", "lbs/ft3 lb/cu·ft pcf", "0.45359237/0.3048/0.3048/0.3048", "", alone, srcPound},
		{Density, "lb/gal", "lbs/gal", "0.45359237/231/0.0254/0.0254/0.0254", "", alone, srcPound},

		{AreaDensity, "kg/m²", "", "1", "", alone, srcSI},
		{AreaDensity, "g/m²", "gsm", "0.001", "", alone, srcSI},
		{AreaDensity, "g/dm²", "", "0.1", "", alone, srcSI},
		{AreaDensity, "g/cm²", "", "10", "", alone, srcSI},
		{AreaDensity, "lb/ft²", "lbs/ft2 lb/sq·ft psf", "0.45359237/0.3048/0.3048", "", alone, srcPound},
		{AreaDensity, "oz/ft²", "oz/sq·ft", "0.45359237/16/0.3048/0.3048", "", alone, srcPound},

		{SpecificHeat, "J/(kg·K)", "J/kg·C", "1", "", alone, srcSI},
		{SpecificHeat, "kJ/(kg·K)", "kJ/kg·C J/g·K J/g·C", "1000", "", alone, srcSI},
		{SpecificHeat, "kcal/(kg·K)", "kcal/kg·C", "4184", "", alone, srcCal},
		{SpecificHeat, "Btu/(lb·°F)", "Btu/lbm·F", "1055.05585262*9/0.45359237/5", "", alone, srcBtu},

		{SpecificEnergy, "J/kg", "", "1", "", alone, srcSI},
		{SpecificEnergy, "kJ/kg", "J/g", "1000", "", alone, srcSI},
		{SpecificEnergy, "MJ/kg", "kJ/g", "1000000", "", alone, srcSI},
		{SpecificEnergy, "kWh/kg", "kW·h/kg", "3600000", "", alone, srcTime},
		{SpecificEnergy, "kcal/kg", "", "4184", "", alone, srcCal},
		{SpecificEnergy, "kJ/(100 g)", "kJ/100·g", "10000", "", alone, srcSI},
		{SpecificEnergy, "kcal/(100 g)", "kcal/100·g", "41840", "", alone, srcCal},
		{SpecificEnergy, "Btu/lb", "", "1055.05585262/0.45359237", "", alone, srcBtu},

		{AreaPerLength, "m²/m", "", "1", "", alone, srcSI},
		{AreaPerLength, "cm²/m", "", "0.0001", "", alone, srcSI},
		{AreaPerLength, "mm²/m", "", "0.000001", "", alone, srcSI},
		{AreaPerLength, "in²/ft", "sq·in/ft", "0.0254*0.0254/0.3048", "", alone, srcFoot},

		{Permeance, "m³/(s·m²·Pa)", "m3/m2·s·Pa m/s·Pa", "1", "", alone, srcSI},
		{Permeance, "m³/(h·m²·Pa)", "m3/m2·h·Pa", "1/3600", "", alone, srcTime},
		{Permeance, "L/(s·m²·Pa)", "l/s·m2·Pa L/m2·s·Pa mm/s·Pa", "0.001", "", alone, srcSI},

		{Irradiance, "W/m²", "W·m-2", "1", "", alone, srcSI},
		{Irradiance, "kW/m²", "", "1000", "", alone, srcSI},
		{Irradiance, "MJ/(m²·d)", "MJ/m2·day", "1000000/86400", "", alone, srcTime},
		{Irradiance, "kWh/(m²·d)", "kWh/m2·day", "3600000/86400", "", alone, srcTime},
		{Irradiance, "Btu/(h·ft²)", "Btu/hr·ft2 Btu/ft2·h", "1055.05585262/3600/0.3048/0.3048", "", alone, srcBtu},
	}
}

// ratio evaluates a product and quotient of decimals from left to right, such as
// "0.45359237*9.80665/0.0254/0.0254", as an exact fraction. The tests evaluate
// every factor of the table; a malformed one counts as 0.
func ratio(expression string) *big.Rat {
	value := big.NewRat(1, 1)
	divide := false
	for expression != "" {
		term := expression
		next := strings.IndexAny(expression, "*/")
		if next >= 0 {
			term = expression[:next]
		}
		factor, ok := new(big.Rat).SetString(term)
		if !ok || divide && factor.Sign() == 0 {
			return new(big.Rat)
		}
		if divide {
			factor.Inv(factor)
		}
		value.Mul(value, factor)
		if next < 0 {
			break
		}
		divide = expression[next] == '/'
		expression = expression[next+1:]
	}
	return value
}
