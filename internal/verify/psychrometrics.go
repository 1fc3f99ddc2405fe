package verify

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"

	"hackle/air"
)

const moistAir = "Moist air"

// climaticAmounts are named numbers of a case of moist air, sun or evaporation,
// written as {"value": 1, "unit": "Pa"} or bare. Text and lists are left out.
type climaticAmounts map[string]json.RawMessage

// of returns the number called name, or NaN, which every row counts as a miss:
// a misspelt name must not read as zero.
func (a climaticAmounts) of(name string) float64 {
	text, ok := a[name]
	if !ok {
		return math.NaN()
	}
	var number float64
	if json.Unmarshal(text, &number) == nil {
		return number
	}
	pair := struct {
		Value float64 `json:"value"`
	}{math.NaN()}
	if json.Unmarshal(text, &pair) != nil {
		return math.NaN()
	}
	return pair.Value
}

// list returns the numbers called name, or nil.
func (a climaticAmounts) list(name string) []float64 {
	var numbers []float64
	if json.Unmarshal(a[name], &numbers) != nil {
		return nil
	}
	return numbers
}

// print returns the published number called name in the unit of its row, which
// is scale times smaller.
func (a climaticAmounts) print(name string, scale float64) *float64 {
	value := a.of(name) * scale
	return &value
}

// climaticGrid is a table of numbers with named columns.
type climaticGrid struct {
	Columns   []string    `json:"columns"`
	ColumnsIn []string    `json:"columns_in"`
	Rows      [][]float64 `json:"rows"`
}

// climaticCase computes one case into rows.
type climaticCase struct {
	id   string
	rows func(openCase) ([]Row, error)
}

// climaticChecks runs checkers over the cases of file in order.
func climaticChecks(ctx context.Context, file, topic string, checkers []climaticCase) ([]Check, error) {
	cases, err := loadCases(file)
	if err != nil {
		return nil, err
	}
	checks := make([]Check, 0, len(checkers))
	for _, checker := range checkers {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		c, ok := cases[checker.id]
		if !ok {
			return nil, fmt.Errorf("verify: %s has no case %s", file, checker.id)
		}
		rows, err := checker.rows(c)
		if err != nil {
			return nil, fmt.Errorf("verify: case %s: %w", checker.id, err)
		}
		checks = append(checks, Check{
			ID: c.ID, Topic: topic, What: c.Description, Source: c.Source, FromMemory: c.FromMemory, Rows: rows,
		})
	}
	return checks, nil
}

// decodeClimatic reads inputs, expected and published values of a case; any may
// be nil.
func decodeClimatic(c openCase, inputs, expected, published any) error {
	for _, part := range []struct {
		name string
		text json.RawMessage
		into any
	}{{"inputs", c.Inputs, inputs}, {"expected", c.Expected, expected}, {"published", c.Published, published}} {
		if part.into == nil {
			continue
		}
		if err := json.Unmarshal(part.text, part.into); err != nil {
			return fmt.Errorf("%s: %w", part.name, err)
		}
	}
	return nil
}

func psychrometricsChecks(ctx context.Context) ([]Check, error) {
	return climaticChecks(ctx, "01_psychrometrics.json", moistAir, []climaticCase{
		{"PSY-01", psychrometricGrid},
		{"PSY-02", saturationLine},
		{"PSY-03", saturatedAir},
		{"PSY-04", stateFromWetBulb},
		{"PSY-05", airInRoom},
		{"PSY-06", slingPsychrometer},
		{"PSY-07", mixedStreams},
		{"PSY-08", coldSurface},
	})
}

func psychrometricGrid(c openCase) ([]Row, error) {
	var in, want climaticGrid
	if err := decodeClimatic(c, &in, &want, nil); err != nil {
		return nil, err
	}
	if len(in.Rows) != len(want.Rows) {
		return nil, fmt.Errorf("%d rows in, %d expected", len(in.Rows), len(want.Rows))
	}
	var rows []Row
	for i, state := range in.Rows {
		t, rh, p := state[0], state[1]/100, state[2]
		expected := want.Rows[i]
		at := fmt.Sprintf("%g °C, %g %%", t, state[1])
		pv := rh * air.SaturationPressure(t)
		w := air.HumidityRatio(pv, p)
		wetBulb := 0.05
		if t < 0 && state[1] == 5 {
			wetBulb = 0.1
		}
		rows = append(rows,
			Row{Quantity: "vapour pressure at " + at, Unit: "Pa", Computed: pv, Expected: expected[3], Tolerance: relative(3e-4, expected[3])},
			Row{Quantity: "humidity ratio at " + at, Unit: "kg/kg", Computed: w, Expected: expected[4], Tolerance: relative(3e-4, expected[4])},
			Row{Quantity: "dew or frost point at " + at, Unit: "°C", Computed: air.DewPoint(pv), Expected: expected[5], Tolerance: 0.01},
			Row{Quantity: "wet bulb at " + at, Unit: "°C", Computed: air.WetBulb(t, w, p), Expected: expected[6], Tolerance: wetBulb},
			Row{Quantity: "enthalpy at " + at, Unit: "J/kg", Computed: air.Enthalpy(t, w), Expected: expected[7], Tolerance: 30},
			Row{Quantity: "specific volume at " + at, Unit: "m³/kg", Computed: air.SpecificVolume(t, w, p), Expected: expected[8], Tolerance: relative(3e-4, expected[8])},
			Row{Quantity: "density at " + at, Unit: "kg/m³", Computed: air.Density(t, p, w), Expected: expected[9], Tolerance: relative(3e-4, expected[9])},
		)
	}
	return rows, nil
}

func saturationLine(c openCase) ([]Row, error) {
	var in struct {
		Temps []float64 `json:"t_C"`
	}
	var want climaticGrid
	var published map[string][][2]float64 // printed tables of temperature [°C] and pressure [Pa]
	if err := decodeClimatic(c, &in, &want, &published); err != nil {
		return nil, err
	}
	var rows []Row
	for i, t := range in.Temps {
		expected := want.Rows[i]
		// The extrapolated fit over supercooled water may be off by 0.5 %.
		liquid := 3e-4
		if t < 0 {
			liquid = 5e-3
		}
		at := fmt.Sprintf("%g °C", t)
		got := air.SaturationPressure(t)
		rows = append(rows,
			Row{Quantity: "saturation pressure at " + at, Unit: "Pa", Computed: got, Expected: expected[1], Tolerance: relative(3e-4, expected[1])},
			Row{Quantity: "fast saturation pressure at " + at, Unit: "Pa", Computed: air.SaturationPressureFast(t), Expected: expected[1], Tolerance: relative(3e-4, expected[1])},
			Row{Quantity: "saturation pressure over liquid at " + at, Unit: "Pa", Computed: air.SaturationPressureLiquid(t), Expected: expected[2], Tolerance: relative(liquid, expected[2])},
			Row{Quantity: "saturation pressure against IAPWS at " + at, Unit: "Pa", Computed: got, Expected: expected[3], Tolerance: relative(2e-3, expected[3])},
		)
	}
	// The printed tables rest on later formulations: 0.1 %, and the rounding of
	// 1.08 Pa.
	for _, table := range slices.Sorted(maps.Keys(published)) {
		for _, pair := range published[table] {
			rows = append(rows, Row{
				Quantity: fmt.Sprintf("saturation pressure against a printed table at %g °C", pair[0]), Unit: "Pa",
				Computed: air.SaturationPressure(pair[0]), Expected: pair[1], Tolerance: relative(1e-3, pair[1]) + 0.005,
				Published: &pair[1], Note: table,
			})
		}
	}
	return rows, nil
}

func saturatedAir(c openCase) ([]Row, error) {
	var in struct {
		Temps    []float64 `json:"t_C"`
		Pressure float64   `json:"P_Pa"`
	}
	var want, published climaticGrid
	if err := decodeClimatic(c, &in, &want, &published); err != nil {
		return nil, err
	}
	const realGas = "table of the real gas"
	var rows []Row
	for i, t := range in.Temps {
		expected, table := want.Rows[i], published.Rows[i]
		at := fmt.Sprintf(" at %g °C", t)
		w := air.SaturationRatio(t, in.Pressure)
		h := air.Enthalpy(t, w)
		rows = append(rows,
			Row{Quantity: "saturation ratio" + at, Unit: "kg/kg", Computed: w, Expected: expected[1], Tolerance: relative(5e-4, expected[1])},
			Row{Quantity: "enthalpy" + at, Unit: "J/kg", Computed: h, Expected: expected[2], Tolerance: relative(5e-4, expected[2])},
			Row{Quantity: "saturation ratio against the table" + at, Unit: "kg/kg", Computed: w, Expected: table[1], Tolerance: relative(7e-3, table[1]), Published: &table[1], Note: realGas},
			Row{Quantity: "enthalpy against the table" + at, Unit: "J/kg", Computed: h, Expected: table[2], Tolerance: max(relative(5e-3, table[2]), 40), Published: &table[2], Note: realGas},
		)
	}
	return rows, nil
}

func stateFromWetBulb(c openCase) ([]Row, error) {
	var in, want, published climaticAmounts
	if err := decodeClimatic(c, &in, &want, &published); err != nil {
		return nil, err
	}
	t, p := in.of("t"), in.of("P")
	w := air.RatioFromWetBulb(t, in.of("t_wb"), p)
	pv := air.VapourPressure(w, p)
	const chart = "published value read off a chart"
	return []Row{
		{Quantity: "humidity ratio", Unit: "kg/kg", Computed: w, Expected: want.of("W"), Tolerance: relative(1e-3, want.of("W")), Published: published.print("W", 1), Note: chart},
		{Quantity: "enthalpy", Unit: "J/kg", Computed: air.Enthalpy(t, w), Expected: want.of("h"), Tolerance: 50, Published: published.print("h_J_per_kg", 1), Note: chart},
		{Quantity: "dew point", Unit: "°C", Computed: air.DewPoint(pv), Expected: want.of("t_dew"), Tolerance: 0.05, Published: published.print("t_dew_C", 1), Note: chart},
		{Quantity: "relative humidity", Unit: "%", Computed: 100 * air.RelHumidity(t, pv), Expected: want.of("RH"), Tolerance: 0.05, Published: published.print("RH_pct", 1), Note: chart},
		{Quantity: "specific volume", Unit: "m³/kg", Computed: air.SpecificVolume(t, w, p), Expected: want.of("v"), Tolerance: relative(5e-4, want.of("v")), Published: published.print("v", 1), Note: chart},
		{Quantity: "wet bulb, back", Unit: "°C", Computed: air.WetBulb(t, w, p), Expected: in.of("t_wb"), Tolerance: 1e-6},
	}, nil
}

func airInRoom(c openCase) ([]Row, error) {
	var in, want, published climaticAmounts
	if err := decodeClimatic(c, &in, &want, &published); err != nil {
		return nil, err
	}
	t, p, volume := in.of("t"), in.of("P"), in.of("V")
	pv := in.of("RH") / 100 * air.SaturationPressure(t)
	w := air.HumidityRatio(pv, p)
	dry := volume * air.DryDensity(t, p, w)
	row := func(name, unit, key string, computed float64, print string, scale float64) Row {
		return Row{Quantity: name, Unit: unit, Computed: computed, Expected: want.of(key), Tolerance: relative(2e-3, want.of(key)), Published: published.print(print, scale)}
	}
	return []Row{
		row("vapour pressure", "Pa", "pv", pv, "pv_kPa", 1000),
		row("humidity ratio", "kg/kg", "W", w, "W", 1),
		row("enthalpy", "J/kg", "h", air.Enthalpy(t, w), "h_kJ_per_kg", 1000),
		row("mass of dry air", "kg", "m_dry", dry, "m_dry_kg", 1),
		row("mass of vapour", "kg", "m_vap", dry*w, "m_vap_kg", 1),
	}, nil
}

func slingPsychrometer(c openCase) ([]Row, error) {
	var in, want, published climaticAmounts
	if err := decodeClimatic(c, &in, &want, &published); err != nil {
		return nil, err
	}
	t, tw, p := in.of("t"), in.of("t_wb"), in.of("P")
	w := air.RatioFromWetBulb(t, tw, p)
	ws := want.of("Ws_at_wb")
	return []Row{
		{Quantity: "humidity ratio", Unit: "kg/kg", Computed: w, Expected: want.of("W"), Tolerance: relative(2e-3, want.of("W")), Published: published.print("W", 1)},
		{Quantity: "relative humidity", Unit: "%", Computed: 100 * air.RelHumidity(t, air.VapourPressure(w, p)), Expected: want.of("RH"), Tolerance: 0.1, Published: published.print("RH_pct", 1)},
		{Quantity: "enthalpy", Unit: "J/kg", Computed: air.Enthalpy(t, w), Expected: want.of("h"), Tolerance: 60, Published: published.print("h_kJ_per_kg", 1000)},
		{Quantity: "saturation ratio at the wet bulb", Unit: "kg/kg", Computed: air.SaturationRatio(tw, p), Expected: ws, Tolerance: relative(2e-3, ws), Published: published.print("Ws", 1)},
	}, nil
}

func mixedStreams(c openCase) ([]Row, error) {
	var in, want climaticAmounts
	if err := decodeClimatic(c, &in, &want, nil); err != nil {
		return nil, err
	}
	p := in.of("P")
	stream := func(n string) air.Stream {
		t := in.of("t" + n)
		return air.Stream{
			DryMassFlow:   in.of("m" + n),
			Temp:          t,
			HumidityRatio: air.HumidityRatio(in.of("RH"+n)/100*air.SaturationPressure(t), p),
		}
	}
	mixed := air.Mix(stream("1"), stream("2"))
	t, w := mixed.Temp, mixed.HumidityRatio
	return []Row{
		{Quantity: "humidity ratio", Unit: "kg/kg", Computed: w, Expected: want.of("W"), Tolerance: relative(1e-3, want.of("W"))},
		{Quantity: "enthalpy", Unit: "J/kg", Computed: air.Enthalpy(t, w), Expected: want.of("h"), Tolerance: 40},
		{Quantity: "temperature", Unit: "°C", Computed: t, Expected: want.of("t"), Tolerance: 0.02},
		{Quantity: "relative humidity", Unit: "%", Computed: 100 * air.RelHumidity(t, air.VapourPressure(w, p)), Expected: want.of("RH"), Tolerance: 0.2},
	}, nil
}

func coldSurface(c openCase) ([]Row, error) {
	var in, want climaticAmounts
	if err := decodeClimatic(c, &in, &want, nil); err != nil {
		return nil, err
	}
	t, surface, p := in.of("t_air"), in.of("t_surf"), in.of("P")
	pv := in.of("RH") / 100 * air.SaturationPressure(t)
	excess := air.HumidityRatio(pv, p) - air.SaturationRatio(surface, p)
	rh := want.of("surface_RH_unclamped")
	return []Row{
		{Quantity: "dew point", Unit: "°C", Computed: air.DewPoint(pv), Expected: want.of("t_dew"), Tolerance: 0.02},
		{Quantity: "relative humidity at the surface, unclamped", Unit: "%", Computed: 100 * air.RelHumidity(surface, pv), Expected: rh, Tolerance: relative(1e-3, rh)},
		{Quantity: "water beyond saturation at the surface", Unit: "kg/kg", Computed: excess, Expected: want.of("excess_W"), Tolerance: relative(2e-3, want.of("excess_W"))},
	}, nil
}
