package quantity

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// The expected values are exact decimals or expressions of exact definitions,
// and Parse promises the nearest float64, so most rows are compared exactly.
func TestParseAccepts(t *testing.T) {
	const (
		inch  = 0.0254
		pound = 0.45359237
		rUS   = 0.3048 * 0.3048 * 3600 * 5 / 9 / 1055.05585262 // exact constant arithmetic
	)
	tests := []struct {
		text string
		kind Kind
		want float64
	}{
		{"3 in", Length, 3 * inch},
		{"3in", Length, 3 * inch},
		{"3 in.", Length, 3 * inch},
		{"3 inches", Length, 3 * inch},
		{"1-1/2 in", Length, 1.5 * inch},
		{"1 1/2 in", Length, 1.5 * inch},
		{"1½ in", Length, 1.5 * inch},
		{"5½\"", Length, 5.5 * inch},
		{"½ in", Length, 0.5 * inch},
		{"3/4 in", Length, 0.75 * inch},
		{"3⁄4 in", Length, 0.75 * inch},
		{`3/4"`, Length, 0.75 * inch},
		{"3/4″", Length, 0.75 * inch},
		{"-1-1/2 in", Length, -1.5 * inch},
		{"38 mm", Length, 0.038},
		{"38 MM", Length, 0.038},
		{"38\u00a0mm", Length, 0.038},
		{"38\u202fmm", Length, 0.038},
		{"38 millimetres", Length, 0.038},
		{"3.8cm", Length, 0.038},
		{".5 m", Length, 0.5},
		{"5. mm", Length, 0.005},
		{"2e3 mm", Length, 2},
		{"2E-3 m", Length, 0.002},
		{"+38 mm", Length, 0.038},
		{"2 ft", Length, 24 * inch},
		{"5 ft 3 in", Length, 63 * inch},
		{"5ft3in", Length, 63 * inch},
		{"5 ft. 3 in.", Length, 63 * inch},
		{`5' 3"`, Length, 63 * inch},
		{`5'3"`, Length, 63 * inch},
		{"5′ 3″", Length, 63 * inch},
		{`5'-3"`, Length, 63 * inch},
		{`5' 3-1/2"`, Length, 63.5 * inch},
		{"5 ft 3 1/2 in", Length, 63.5 * inch},
		{"-5 ft 3 in", Length, -63 * inch},
		{"1 m 20 cm", Length, 1.2},
		{"50 µm", Length, 50e-6},
		{"50 um", Length, 50e-6},
		{"1 mile", Length, 1609.344},
		{"0", Length, 0},
		{"-0.0", Mass, 0},

		{"5 mm²", Area, 5e-6},
		{"5 mm2", Area, 5e-6},
		{"5 mm^2", Area, 5e-6},
		{"7 cm2", Area, 7e-4},
		{"4 sq in", Area, 4 * inch * inch},
		{"4 sq. in.", Area, 4 * inch * inch},
		{"4 in²", Area, 4 * inch * inch},
		{"1 sq ft", Area, 144 * inch * inch},

		{"0.5 L", Volume, 0.0005},
		{"0,5 l", Volume, 0.0005},
		{"1 gal", Volume, 0.003785411784},
		{"4 qt", Volume, 0.003785411784},
		{"1 gal 2 qt", Volume, 1.5 * 0.003785411784},
		{"16 fl. oz.", Volume, 0.003785411784 / 8},
		{"1 imp gal", Volume, 0.00454609},

		{"20 lb", Mass, 20 * pound},
		{"20 lbs", Mass, 20 * pound},
		{"20 pounds", Mass, 20 * pound},
		{"1 lb 4 oz", Mass, 1.25 * pound},
		{"9 kg", Mass, 9},
		{"9 KG", Mass, 9},
		{"9 kg 250 g", Mass, 9.25},
		{"500 g", Mass, 0.5},
		{"3,5 kg", Mass, 3.5},
		{"0,125 kg", Mass, 0.125},
		{"12,50 kg", Mass, 12.5},
		{"1.500 kg", Mass, 1.5},

		{"41 F", Temperature, 5},
		{"41F", Temperature, 5},
		{"41 f", Temperature, 5},
		{"41 °F", Temperature, 5},
		{"41 ° F", Temperature, 5},
		{"41 deg F", Temperature, 5},
		{"41 degrees Fahrenheit", Temperature, 5},
		{"41 ℉", Temperature, 5},
		{"-40 °F", Temperature, -40},
		{"-5 C", Temperature, -5},
		{"- 5 °C", Temperature, -5},
		{"−5 °C", Temperature, -5},
		{"–5 ºC", Temperature, -5},
		{"-5 degC", Temperature, -5},
		{"268.15 K", Temperature, -5},
		{"0 K", Temperature, -273.15},
		{"9 °F", TemperatureDifference, 5},
		{"5 K", TemperatureDifference, 5},
		{"5 °C", TemperatureDifference, 5},

		{"12 W", Power, 12},
		{"12 mW", Power, 0.012},
		{"12 MW", Power, 12e6},
		{"12 kw", Power, 12e3},
		{"2 kWh", Energy, 7.2e6},
		{"2 kW·h", Energy, 7.2e6},
		{"5 MJ", Energy, 5e6},
		{"1 Btu", Energy, 1055.05585262},

		{"R-11", Resistance, 11 * rUS},
		{"R11", Resistance, 11 * rUS},
		{"r 11", Resistance, 11 * rUS},
		{"R–11", Resistance, 11 * rUS},
		{"R-11 US", Resistance, 11 * rUS},
		{"R-3.5", Resistance, 3.5 * rUS},
		{"11 ft²·°F·h/Btu", Resistance, 11 * rUS},
		{"11 ft2-h-F/Btu", Resistance, 11 * rUS},
		{"11 h·ft²·°F/Btu", Resistance, 11 * rUS},
		{"RSI 1.94", Resistance, 1.94},
		{"RSI-1.94", Resistance, 1.94},
		{"RSI1,94", Resistance, 1.94},
		{"1.94 m2K/W", Resistance, 1.94},
		{"1.94 m²·K/W", Resistance, 1.94},
		{"1.94 m² K / W", Resistance, 1.94},
		{"1.94 m^2*K/W", Resistance, 1.94},

		{"0.13 W/mK", Conductivity, 0.13},
		{"0.13 W/(m·K)", Conductivity, 0.13},
		{"0.13 W/m/K", Conductivity, 0.13},
		{"0.13 W/(m °C)", Conductivity, 0.13},
		{"0.13 W m-1 K-1", Conductivity, 0.13},
		{"0.5 W/m2K", Transmittance, 0.5},
		{"0.5 W/(m²·K)", Transmittance, 0.5},
		{"0.5 W per m2 per K", Transmittance, 0.5},
		{"2 W/K", Conductance, 2},

		{"5 L/s", Flow, 0.005},
		{"36 m3/h", Flow, 0.01},
		{"36 m³/h", Flow, 0.01},
		{"6 m³/min", Flow, 0.1},
		{"60 L/min", Flow, 0.001},
		{"3600 L/h", Flow, 0.001},
		{"86.4 L/day", Flow, 1e-6},
		{"60 mL/min", Flow, 1e-6},
		{"3600 mL/h", Flow, 1e-6},
		{"1 m³/(h·m²·Pa)", Permeance, 1. / 3600},
		{"8.64 MJ/(m²·d)", Irradiance, 100},
		{"2.4 kWh/(m²·day)", Irradiance, 100},
		{"3.6 kg/h", MassFlow, 0.001},
		{"86.4 kg/d", MassFlow, 0.001},
		{"604.8 kg/week", MassFlow, 0.001},
		{"86.4 g/day", MassFlow, 1e-6},
		{"3.6 mg/h", MassFlow, 1e-9},
		{"60 cfm", Flow, 0.3048 * 0.3048 * 0.3048},
		{"60 ft³/min", Flow, 0.3048 * 0.3048 * 0.3048},
		{"36 g/h", MassFlow, 1e-5},
		{"24 lb/day", MassFlow, pound / 3600},
		{"36 km/h", Speed, 10},
		{"10 mph", Speed, 4.4704},
		{"10 m/s", Speed, 10},
		{"36 knots", Speed, 18.52},
		{"36 kn", Speed, 18.52},

		{"40 %", Fraction, 0.4},
		{"40%", Fraction, 0.4},
		{"40 percent", Fraction, 0.4},
		{"420 ppm", Fraction, 0.00042},
		{"0", Fraction, 0},

		{"90 min", Duration, 5400},
		{"1h30min", Duration, 5400},
		{"1 h 30 min", Duration, 5400},
		{"2 hours", Duration, 7200},
		{"1 week 2 d 3 h 4 min 5 s", Duration, 788645},
		{"15 deg", Angle, 15},
		{"15°", Angle, 15},
		{"-15 degrees", Angle, -15},

		{"1013 hPa", Pressure, 101300},
		{"1013 mbar", Pressure, 101300},
		{"1.013 bar", Pressure, 101300},
		{"4 Pa", Pressure, 4},
		{"4 MPa", Pressure, 4e6},
		{"4 mPa", Pressure, 0.004},
		{"500 kg/m3", Density, 500},
		{"1.4 g/cm³", Density, 1400},
		{"350 g/dm²", AreaDensity, 35},
		{"1600 J/(kg K)", SpecificHeat, 1600},
		{"1.6 kJ/kgK", SpecificHeat, 1600},
		{"13 MJ/kg", SpecificEnergy, 13e6},
		{"1300 kJ/100 g", SpecificEnergy, 13e6},
		{"0.5 cm²/m", AreaPerLength, 5e-5},
		{"2e-4 m³/(s·m²·Pa)", Permeance, 2e-4},
		{"0.2 L/(s m2 Pa)", Permeance, 2e-4},
		{"600 W/m²", Irradiance, 600},
		{"600 W m⁻²", Irradiance, 600},
	}
	for _, test := range tests {
		t.Run(test.kind.String()+" "+test.text, func(t *testing.T) {
			got, err := Parse(test.text, test.kind)
			if err != nil {
				t.Fatal(err)
			}
			if got != test.want || math.Signbit(got) != math.Signbit(test.want) {
				t.Errorf("got %v %s, want %v", got, test.kind.Unit(), test.want)
			}
		})
	}
}

func TestParseRefuses(t *testing.T) {
	tests := []struct {
		text   string
		kind   Kind
		reason string // part of the message
	}{
		{"", Length, "is empty: a length is wanted, e.g. 38 mm or 1-1/2 in"},
		{"  ", Length, "is empty"},
		{"38", Length, "has no unit: a length is wanted, e.g. 38 mm or 1-1/2 in"},
		{"1-1/2", Length, "has no unit"},
		{"-38", Length, "has no unit"},
		{"0.4", Fraction, "write 40 %"},
		{"0,4", Fraction, "write 40 %"},
		{"2/3", Fraction, "write 66.6666666666667 %"},
		{"1", Fraction, "write 100 %"},
		{"40", Fraction, "has no unit: a share is wanted"},
		{"0", Temperature, "has no unit: a temperature is wanted"},
		{"12 W", Length, `"12 W" is a power, a length is wanted, e.g. 38 mm or 1-1/2 in`},
		{"38 mm", Mass, "is a length, a mass is wanted"},
		{"R-11", Length, "is a thermal resistance, a length"},
		{"5 oz", Volume, "is a mass, a volume"},
		{"5 deg", Temperature, "is an angle, a temperature"},
		{"5 ft 3 in", Area, "is a length, an area"},
		{"5 kg 3 in", Length, "a part in kg, a unit of mass"},
		{"38 mmm", Length, `unknown unit "mmm", did you mean mm?`},
		{"38 Mm", Length, "did you mean mm?"},
		{"3 inhces", Length, "did you mean in?"},
		{"3 pund", Mass, "did you mean lb?"},
		{"3 qqqqqq", Mass, `unknown unit "qqqqqq": a mass is wanted`},
		{"12 mw", Power, "write mW or MW"},
		{"1 mpa", Pressure, "write"},
		{"1,500 g", Mass, "can be read as 1500 or as 1.500"},
		{"125,500 g", Mass, "can be read as 125500 or as 125.500"},
		{"1,234,567 g", Mass, "more than one decimal sign"},
		{"1.2.3 g", Mass, "more than one decimal sign"},
		{"1,234.5 g", Mass, "perhaps 1234.5"},
		{"1.234,5 g", Mass, "perhaps 1234.5"},
		{"1 500 g", Mass, "write 1500"},
		{"1'200 mm", Length, "mm after ft"},
		{"38, mm", Length, "comma without digits"},
		{"1 2 mm", Length, "two numbers"},
		{"3/4/5 in", Length, "cannot be read"},
		{"3/4.5 in", Length, "cannot be read"},
		{"1/0 in", Length, "divides by zero"},
		{"1-1/0 in", Length, "divides by zero"},
		{"1-5/4 in", Length, "fraction of one or more"},
		{"5-6 mm", Length, "is a range"},
		{"5 - 6 mm", Length, "is a range"},
		{"5 ft 3", Length, "has no unit after the last number"},
		{"5 ft 14 in", Length, "more in than make one ft"},
		{"5.5 ft 3 in", Length, "fraction before its last part"},
		{"3 in 5 ft", Length, "do not go together"},
		{"5 ft -3 mm", Length, "unknown unit"},
		{"1 lb -4 oz", Mass, "unknown unit"},
		{"5ft.3in", Length, "unknown unit"},
		{"3 m m", Length, "unknown unit"},
		{"10² mm", Length, "unknown unit"},
		{"--5 mm", Length, "does not start with a number"},
		{"mm", Length, "does not start with a number"},
		{"NaN m", Length, "does not start with a number"},
		{"Inf m", Length, "does not start with a number"},
		{"0x10 mm", Length, "unknown unit"},
		{"1e999 m", Length, "is too large"},
		{"1e308 km", Length, "is too large"},
		{"1e999999999999999999 m", Length, "is too large"},
		{"1e-999999999999999999 m", Length, "is too small"},
		{"1e-330 m", Length, "is too small"},
		{"-300 °C", Temperature, "below absolute zero"},
		{"-1 K", Temperature, "below absolute zero"},
		{"R-1.94 m2K/W", Resistance, "needs no unit"},
		{"R", Resistance, "does not start with a number"},
		{"5 mm\xff", Length, "not valid text"},
		{strings.Repeat("1", 201) + " mm", Length, "too long"},
		{"5 mm", Kind(99), "unknown kind 99"},
	}
	for _, test := range tests {
		t.Run(test.kind.String()+" "+test.text, func(t *testing.T) {
			got, err := Parse(test.text, test.kind)
			if err == nil {
				t.Fatalf("accepted as %v", got)
			}
			if got != 0 {
				t.Errorf("value %v beside an error", got)
			}
			var refusal *Error
			if !errors.As(err, &refusal) {
				t.Fatalf("error of type %T", err)
			}
			if refusal.Text != test.text || refusal.Kind != test.kind {
				t.Errorf("error carries %q, %v", refusal.Text, refusal.Kind)
			}
			if !strings.Contains(err.Error(), test.reason) {
				t.Errorf("message %q lacks %q", err, test.reason)
			}
		})
	}
}

// Factors as NIST SP 811 (2008), appendix B.8 prints them (from memory), to seven
// digits or exactly where it prints them in bold. The tolerance is half a unit of
// the last printed digit.
func TestFactorsAgainstNIST(t *testing.T) {
	tests := []struct {
		kind      Kind
		symbol    string
		factor    float64
		tolerance float64
	}{
		{Length, "in", 2.54e-2, 0},
		{Length, "ft", 3.048e-1, 0},
		{Length, "yd", 9.144e-1, 0},
		{Length, "mi", 1.609344e3, 0},
		{Area, "in²", 6.4516e-4, 0},
		{Area, "ft²", 9.290304e-2, 0},
		{Volume, "in³", 1.638706e-5, 5e-12},
		{Volume, "ft³", 2.831685e-2, 5e-9},
		{Volume, "gal", 3.785412e-3, 5e-10},
		{Volume, "qt", 9.463529e-4, 5e-11},
		{Volume, "pt", 4.731765e-4, 5e-11},
		{Volume, "cup", 2.365882e-4, 5e-11},
		{Volume, "fl oz", 2.957353e-5, 5e-12},
		{Volume, "imp gal", 4.54609e-3, 0},
		{Mass, "lb", 4.535924e-1, 5e-8},
		{Mass, "oz", 2.834952e-2, 5e-9},
		{Mass, "short ton", 9.071847e2, 5e-5},
		{Power, "Btu/h", 2.930711e-1, 5e-8},
		{Energy, "Btu", 1.055056e3, 5e-4},
		{Energy, "kWh", 3.6e6, 0},
		{Resistance, "h·ft²·°F/Btu", 1.761102e-1, 5e-8},
		{Conductivity, "Btu·in/(h·ft²·°F)", 1.442279e-1, 5e-8},
		{Conductivity, "Btu/(h·ft·°F)", 1.730735, 5e-7},
		{Transmittance, "Btu/(h·ft²·°F)", 5.678263, 5e-7},
		{Flow, "cfm", 4.719474e-4, 5e-11},
		{Flow, "gal/min", 6.309020e-5, 5e-12},
		{MassFlow, "lb/h", 1.259979e-4, 5e-11},
		{Speed, "mph", 4.4704e-1, 0},
		{Speed, "knots", 5.144444e-1, 5e-8},
		{Speed, "ft/min", 5.08e-3, 0},
		{Pressure, "atm", 1.01325e5, 0},
		{Pressure, "inHg", 3.386389e3, 5e-4},
		{Pressure, "mmHg", 1.333224e2, 5e-5},
		{Pressure, "inH₂O", 2.490889e2, 5e-5},
		{Pressure, "psi", 6.894757e3, 5e-4},
		{Density, "lb/ft³", 1.601846e1, 5e-6},
		{Density, "lb/gal", 1.198264e2, 5e-5},
		{AreaDensity, "lb/ft²", 4.882428, 5e-7},
		{SpecificHeat, "Btu/(lb·°F)", 4.1868e3, 0},
		{SpecificEnergy, "Btu/lb", 2.326e3, 0},
		{Irradiance, "Btu/(h·ft²)", 3.154591, 5e-7},
		{Angle, "rad", 57.29577951, 5e-9},
		// Not printed there; computed from the rows above, seven digits.
		{Mass, "st", 6.350293e0, 5.01e-7},
		{Volume, "imp qt", 1.136523e-3, 5.01e-10},
		{Volume, "imp pt", 5.682613e-4, 5.01e-11},
		{Conductance, "Btu/(h·°F)", 5.275279e-1, 5.01e-8},
		{Energy, "kcal", 4.184000e3, 5.01e-4},
		{Power, "kcal/h", 1.162222e0, 5.01e-7},
		{Flow, "cfh", 7.865791e-6, 5.01e-13},
		{Flow, "cfs", 2.831685e-2, 5.01e-9},
		{Flow, "gal/h", 1.051503e-6, 5.01e-13},
		{Flow, "gal/d", 4.381264e-8, 5.01e-15},
		{Flow, "qt/d", 1.095316e-8, 5.01e-15},
		{MassFlow, "lb/d", 5.249912e-6, 5.01e-13},
		{MassFlow, "lb/week", 7.499874e-7, 5.01e-14},
		{MassFlow, "oz/h", 7.874868e-6, 5.01e-13},
		{MassFlow, "oz/d", 3.281195e-7, 5.01e-14},
		{Speed, "ft/s", 3.048000e-1, 5.01e-8},
		{AreaDensity, "oz/ft²", 3.051517e-1, 5.01e-8},
		{SpecificHeat, "kcal/(kg·K)", 4.184000e3, 5.01e-4},
		{SpecificEnergy, "kcal/kg", 4.184000e3, 5.01e-4},
		{SpecificEnergy, "kcal/(100 g)", 4.184000e4, 5.01e-3},
		{AreaPerLength, "in²/ft", 2.116667e-3, 5.01e-10},
	}
	found := map[string]Unit{}
	for _, unit := range Units() {
		found[unit.Kind.String()+unit.Symbol] = unit
	}
	for _, test := range tests {
		unit, ok := found[test.kind.String()+test.symbol]
		if !ok {
			t.Errorf("no unit %s of %s", test.symbol, test.kind)
			continue
		}
		if math.Abs(unit.Factor-test.factor) > test.tolerance {
			t.Errorf("%s: factor %.10g, published %.7g", test.symbol, unit.Factor, test.factor)
		}
		delete(found, test.kind.String()+test.symbol)
	}
	// What is left are the units of the SI and of time, parts of one, the degree,
	// the bar, and temperatures, whose factors the tests of Parse cover.
	for _, unit := range found {
		switch {
		case unit.Source == srcSI || unit.Source == srcTime || unit.Source == srcShare:
		case unit.Symbol == "°" || unit.Symbol == "bar" || unit.Symbol == "mbar":
		case unit.Kind == Temperature || unit.Kind == TemperatureDifference:
		default:
			t.Errorf("%s of %s is compared with nothing", unit.Symbol, unit.Kind)
		}
	}
}

func TestTable(t *testing.T) {
	type name struct {
		kind Kind
		text string
	}
	seen := map[name]string{}
	ones := map[Kind]bool{}
	for _, unit := range Units() {
		if unit.Factor <= 0 || unit.Source == "" {
			t.Errorf("%s of %s: factor %v, source %q", unit.Symbol, unit.Kind, unit.Factor, unit.Source)
		}
		if unit.Factor == 1 && unit.Zero == 0 {
			ones[unit.Kind] = true
		}
		// Every spelling is read as this unit, and names no second one.
		for _, text := range append([]string{unit.Symbol}, unit.Names...) {
			value, err := Parse("3"+text, unit.Kind)
			want := (3 - unit.Zero) * unit.Factor
			if err != nil || math.Abs(value-want) > 1e-15*math.Abs(want) {
				t.Errorf("3%s as %s: %v, %v; want %v", text, unit.Kind, value, err, want)
			}
			key := name{unit.Kind, canon(text)}
			if other, twice := seen[key]; twice && other != unit.Symbol {
				t.Errorf("%s names %s and %s", text, other, unit.Symbol)
			}
			seen[key] = unit.Symbol
		}
	}
	for _, kind := range Kinds() {
		if !ones[kind] && kind != Fraction {
			t.Errorf("%s has no unit of size 1", kind)
		}
		if kind.Unit() == "" || kind.String() == "" {
			t.Errorf("kind %d lacks a name or unit", kind)
		}
		// Each example of the messages must itself be accepted.
		for example := range strings.SplitSeq(strings.ReplaceAll(kind.Examples(), ", ", " or "), " or ") {
			if _, err := Parse(example, kind); err != nil {
				t.Errorf("example of %s: %v", kind, err)
			}
		}
	}
}

func TestRatioRefusesNonsense(t *testing.T) {
	for _, expression := range []string{"x", "2*x", "2/0", "*2"} {
		if got := ratio(expression); got.Sign() != 0 {
			t.Errorf("%q = %v", expression, got)
		}
	}
	if got, _ := ratio("6*7/2/3").Float64(); got != 7 {
		t.Errorf("6*7/2/3 = %v", got)
	}
}

// Whatever is written exactly comes back bit for bit.
func TestExactRoundTrip(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, kind := range Kinds() {
		for range 500 {
			value := math.Ldexp(random.Float64()*2-1, random.IntN(1900)-950)
			if random.IntN(2) == 0 {
				value = (random.Float64()*2 - 1) * math.Pow10(random.IntN(8)-4)
			}
			if kind == Temperature {
				value = random.Float64()*400 - 273.15
			}
			text := FormatExact(value, kind)
			back, err := Parse(text, kind)
			if err != nil {
				t.Fatalf("%v: %v", value, err)
			}
			if back != value {
				t.Fatalf("%s: %v written as %q reads %v", kind, value, text, back)
			}
		}
	}
}

// Readable output is read again as the value within its rounding: half a unit
// of the third digit, or a thirty-second of an inch, or a twentieth of an ounce,
// or of a degree.
func TestReadableRoundTrip(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	for _, kind := range Kinds() {
		for _, system := range []System{Metric, US} {
			for range 300 {
				value := (random.Float64()*2 - 1) * math.Pow10(random.IntN(9)-4)
				tolerance := 0.00501 * math.Abs(value)
				switch kind {
				case Temperature:
					value = random.Float64()*80 - 30
					tolerance = 0.051
				case Angle:
					tolerance = 0.051
				case Length:
					if system == US {
						tolerance += 0.0254 / 32
					}
				case Mass:
					if system == US {
						tolerance += 0.0283495 / 20
					}
				}
				text := Format(value, kind, system)
				back, err := Parse(text, kind)
				if err != nil {
					t.Fatalf("%s %v: %v", kind, value, err)
				}
				if math.Abs(back-value) > tolerance {
					t.Fatalf("%s: %v written as %q reads %v", kind, value, text, back)
				}
			}
		}
	}
}

// Repetition of what can start a number or end a unit makes the reader try the
// most; all of it is refused, and soon enough not to be noticed here.
func TestParseRepetition(t *testing.T) {
	for _, part := range []string{"1m", "1m ", "1'", "1e9", "1/2", "1-", "9", "1 ft-", "1·"} {
		text := strings.Repeat(part, maxText/len(part))
		if value, err := Parse(text, Length); err == nil {
			t.Errorf("%q accepted as %v", text, value)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, seed := range []string{
		"3 in", "1-1/2 in", "5' 3\"", "1 lb 4 oz", "−5 °C", "268.15 K", "R-11", "RSI 1.94", "40 %", "3,5 kg",
		"1e-3 m", "½ in", "2 h 30 min", "0.5 W/(m²·K)", "1300 kJ/100 g", "1e400 m", "0", "²", "R", "-", "1'-1'",
	} {
		f.Add(seed, 0)
		f.Add(seed, int(Temperature))
		f.Add(seed, int(Resistance))
	}
	f.Fuzz(func(t *testing.T, text string, number int) {
		kind := Kind(number)
		value, err := Parse(text, kind)
		if err != nil {
			if value != 0 || err.Error() == "" {
				t.Fatalf("%q: value %v, error %q", text, value, err)
			}
			return
		}
		if math.IsNaN(value) || math.IsInf(value, 0) {
			t.Fatalf("%q reads %v", text, value)
		}
		exact := FormatExact(value, kind)
		if back, err := Parse(exact, kind); err != nil || back != value {
			t.Fatalf("%q reads %v, written %q reads %v, %v", text, value, exact, back, err)
		}
		for _, system := range []System{Metric, US} {
			if readable := Format(value, kind, system); readable == "" {
				t.Fatalf("%q has no readable form", text)
			}
		}
	})
}
