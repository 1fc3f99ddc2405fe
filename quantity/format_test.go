package quantity

import (
	"fmt"
	"math"
	"testing"
)

func TestFormat(t *testing.T) {
	const inch, pound, rUS = 0.0254, 0.45359237, 0.1761101837
	tests := []struct {
		value      float64
		kind       Kind
		metric, us string
	}{
		{0, Length, "0 mm", "0 in"},
		{0.0095, Length, "9.5 mm", "3/8 in"},
		{0.010, Length, "10 mm", "0.394 in"},
		{0.038, Length, "38 mm", "1-1/2 in"},
		{0.019, Length, "19 mm", "3/4 in"},
		{0.4651, Length, "465 mm", "18-5/16 in"},
		{0.9996, Length, "1 m", "3 ft 3-3/8 in"},
		{63 * inch, Length, "1.6 m", "5 ft 3 in"},
		{-0.038, Length, "-38 mm", "-1-1/2 in"},
		{-1e-9, Length, "-0.000001 mm", "-3.94e-08 in"},
		{60, Length, "60 m", "197 ft"},
		{20e3, Length, "20 km", "12.4 mi"},
		{24e-4, Area, "24 cm²", "3.72 in²"},
		{5e-5, Area, "50 mm²", "0.0775 in²"},
		{0.3, Area, "0.3 m²", "3.23 ft²"},
		{0.0025, Volume, "2.5 L", "2.64 qt"},
		{0.04, Volume, "40 L", "10.6 gal"},
		{0.25, Mass, "250 g", "8.82 oz"},
		{1.25 * pound, Mass, "567 g", "1 lb 4 oz"},
		{0.9999 * pound, Mass, "454 g", "1 lb"},
		{20 * pound, Mass, "9.07 kg", "20 lb"},
		{9.999 * pound, Mass, "4.54 kg", "10 lb"},
		{-3, Mass, "-3 kg", "-6 lb 9.8 oz"},
		{-5, Temperature, "-5 °C", "23 °F"},
		{34.53, Temperature, "34.5 °C", "94.2 °F"},
		{-0.01, Temperature, "0 °C", "32 °F"},
		{2.5, TemperatureDifference, "2.5 K", "4.5 °F"},
		{12.34, Power, "12.3 W", "12.3 W"},
		{7.2e6, Energy, "2 kWh", "2 kWh"},
		{11 * rUS, Resistance, "1.94 m²·K/W", "R-11"},
		{3.5 * rUS, Resistance, "0.616 m²·K/W", "R-3.5"},
		{-1, Resistance, "-1 m²·K/W", "-1 m²·K/W"},
		{0.13, Conductivity, "0.13 W/(m·K)", "0.901 Btu·in/(h·ft²·°F)"},
		{0.5, Transmittance, "0.5 W/(m²·K)", "0.0881 Btu/(h·ft²·°F)"},
		{0.0005, Flow, "0.5 L/s", "1.06 cfm"},
		{20e-3 / 3600, MassFlow, "20 g/h", "0.705 oz/h"},
		{10, Speed, "10 m/s", "22.4 mph"},
		{0.4, Fraction, "40 %", "40 %"},
		{5400, Duration, "90 min", "90 min"},
		{36 * 3600, Duration, "36 h", "36 h"},
		{15, Angle, "15°", "15°"},
		{101325, Pressure, "1013 hPa", "29.92 inHg"},
		{4, Pressure, "4 Pa", "4 Pa"},
		{0.578e6, Pressure, "578 kPa", "83.8 psi"},
		{5e-5, AreaPerLength, "50 mm²/m", "0.0236 in²/ft"},
		{1600, SpecificHeat, "1600 J/(kg·K)", "0.382 Btu/(lb·°F)"},
		{math.NaN(), Length, "no value", "no value"},
		{math.Inf(1), Mass, "infinite", "infinite"},
		{math.Inf(-1), Mass, "minus infinite", "minus infinite"},
		{1.5, Kind(99), "1.5", "1.5"},
	}
	for _, test := range tests {
		for system, want := range map[System]string{Metric: test.metric, US: test.us} {
			if got := Format(test.value, test.kind, system); got != want {
				t.Errorf("%v %s: %q, want %q", test.value, test.kind, got, want)
			}
		}
	}
}

func TestFormatExact(t *testing.T) {
	tests := []struct {
		value float64
		kind  Kind
		want  string
	}{
		{0.038, Length, "38 mm"},
		{0.0762, Length, "76.2 mm"},
		{-0.0005, Length, "-0.5 mm"},
		{350, Length, "350 m"},
		{0.00175, Area, "17.5 cm²"},
		{0.4, Fraction, "40 %"},
		{0.1, Fraction, "10 %"},
		{-5, Temperature, "-5 °C"},
		{20 * 0.45359237, Mass, "9.0718474 kg"},
		{0, Mass, "0 kg"},
		{1e-9, Permeance, "1e-9 m³/(s·m²·Pa)"},
		{1.5e20, Energy, "1.5e20 J"},
		{15, Angle, "15 deg"},
	}
	for _, test := range tests {
		if got := FormatExact(test.value, test.kind); got != test.want {
			t.Errorf("%v %s: %q, want %q", test.value, test.kind, got, test.want)
		}
	}
	for _, value := range []float64{math.NaN(), math.Inf(1)} {
		if _, err := Parse(FormatExact(value, Length), Length); err == nil {
			t.Errorf("%v is read back", value)
		}
	}
}

// Every symbol that Format and FormatExact use is one of the table.
func TestSymbolsKnown(t *testing.T) {
	in := reader{unitTable()}
	for _, kind := range Kinds() {
		for _, system := range []System{Metric, US} {
			last := -1.0
			for _, unit := range scale(kind, system) {
				if in.row(kind, unit.symbol).symbol == "" {
					t.Errorf("%s: no unit %s", kind, unit.symbol)
				}
				if unit.from <= last {
					t.Errorf("%s: %s does not start above the unit before", kind, unit.symbol)
				}
				last = unit.from
			}
		}
	}
}

func ExampleParse() {
	for _, text := range []string{"1-1/2 in", "38 mm", "12 W", "38"} {
		thickness, err := Parse(text, Length)
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Println(thickness, Length.Unit())
	}
	// Output:
	// 0.0381 m
	// 0.038 m
	// "12 W" is a power, a length is wanted, e.g. 38 mm or 1-1/2 in
	// "38" has no unit: a length is wanted, e.g. 38 mm or 1-1/2 in
}

func ExampleFormat() {
	fmt.Println(Format(0.0381, Length, Metric), "=", Format(0.0381, Length, US))
	fmt.Println(Format(1.937, Resistance, Metric), "=", Format(1.937, Resistance, US))
	// Output:
	// 38.1 mm = 1-1/2 in
	// 1.94 m²·K/W = R-11
}
