package verify

import (
	"context"
	"fmt"

	"hackle/air"
	"hackle/sun"
)

func evaporationChecks(ctx context.Context) ([]Check, error) {
	return climaticChecks(ctx, "09_evaporation_mass.json", "Evaporation", []climaticCase{
		{"EV-01", latentHeat},
		{"EV-02", evaporativePower},
		{"EV-03", lewisRelation},
		{"EV-04", cooledWetSurface},
		{"EV-05", radiatingWetSurface},
		{"EV-06", humidifiedStream},
		{"EV-07", stefanTube},
		{"EV-08", ventilatedBox},
		{"EV-09", openWater},
	})
}

// kgPerHour is one kilogram per hour [kg/s]; gramPerHour one gram.
const (
	kgPerHour   = 1.0 / 3600
	gramPerHour = kgPerHour / 1000
)

func latentHeat(c openCase) ([]Row, error) {
	var in, want climaticAmounts
	if err := decodeClimatic(c, &in, &want, nil); err != nil {
		return nil, err
	}
	temps := in.list("t_C")
	steam, formula := want.list("hfg_kJ_per_kg_steam_table"), want.list("hfg_2501_minus_2.361t")
	if len(steam) != len(temps) || len(formula) != len(temps) {
		return nil, fmt.Errorf("%d temperatures, %d and %d expected values", len(temps), len(steam), len(formula))
	}
	var rows []Row
	for i, t := range temps {
		got := air.LatentEvaporation(t) / 1000
		rows = append(rows,
			Row{Quantity: fmt.Sprintf("latent heat against the steam table at %g °C", t), Unit: "kJ/kg", Computed: got, Expected: steam[i], Tolerance: 4},
			Row{Quantity: fmt.Sprintf("latent heat at %g °C", t), Unit: "kJ/kg", Computed: got, Expected: formula[i], Tolerance: relative(1e-6, formula[i])},
		)
	}
	return append(rows, Row{
		Quantity: "heat of one gram at 35 °C", Unit: "J/g",
		Computed: air.LatentEvaporation(35) / 1000, Expected: want.of("energy_J_per_g_at_35C"), Tolerance: 4,
	}), nil
}

func evaporativePower(c openCase) ([]Row, error) {
	var in, want climaticAmounts
	if err := decodeClimatic(c, &in, &want, nil); err != nil {
		return nil, err
	}
	rates, temps, powers := in.list("rate_g_per_h"), in.list("t_C"), want.list("P_W")
	if len(temps) != len(rates) || len(powers) != len(rates) {
		return nil, fmt.Errorf("%d rates, %d temperatures, %d powers", len(rates), len(temps), len(powers))
	}
	var rows []Row
	for i, rate := range rates {
		rows = append(rows, Row{
			Quantity: fmt.Sprintf("heat taken by %g g/h at %g °C", rate, temps[i]), Unit: "W",
			Computed: rate * gramPerHour * air.LatentEvaporation(temps[i]), Expected: powers[i], Tolerance: relative(3e-3, powers[i]),
		})
	}
	return rows, nil
}

func lewisRelation(c openCase) ([]Row, error) {
	var in, want climaticGrid
	if err := decodeClimatic(c, &in, &want, nil); err != nil {
		return nil, err
	}
	const p = air.StandardPressure
	var rows []Row
	for i, row := range in.Rows {
		h, t := row[0], row[1]
		expected := want.Rows[i]
		lewis := air.LewisNumber(t)
		ratio := air.RatioTransferCoefficient(h, lewis)
		for k, value := range []struct {
			name, unit string
			computed   float64
		}{
			{"thermal diffusivity", "m²/s", air.ThermalDiffusivity(t, p)},
			{"vapour diffusivity", "m²/s", air.VapourDiffusivity(t, p)},
			{"Lewis number", "-", lewis},
			{"transfer coefficient", "m/s", air.MassTransferCoefficient(h, t, p, lewis)},
			{"transfer coefficient with a Lewis number of one", "m/s", air.MassTransferCoefficient(h, t, p, 1)},
			{"transfer coefficient by humidity ratio", "kg/(m²·s)", ratio},
			{"transfer coefficient by vapour pressure", "1e-9 kg/(m²·s·Pa)", 1e9 * air.LewisVapourCoefficient(h, t, p)},
		} {
			rows = append(rows, Row{
				Quantity: fmt.Sprintf("%s at %g °C, film %g W/(m²·K)", value.name, t, h), Unit: value.unit,
				Computed: value.computed, Expected: expected[2+k], Tolerance: relative(0.01, expected[2+k]),
			})
		}
	}
	return rows, nil
}

func cooledWetSurface(c openCase) ([]Row, error) {
	var in, want, published climaticAmounts
	if err := decodeClimatic(c, &in, &want, &published); err != nil {
		return nil, err
	}
	t := in.of("t_air")
	pv := in.of("RH") / 100 * air.SaturationPressure(t)
	surface := air.WetSurface{
		TempAir: t, VapourPressure: pv, Pressure: air.StandardPressure,
		Film:  10, // cancels without radiation
		Lewis: in.of("Le"),
	}
	const guess = 20.0
	singlePass := t - air.LatentEvaporation(guess)*surface.Evaporation(guess)/surface.Film
	return []Row{
		{Quantity: "surface temperature from one pass at 20 °C", Unit: "°C", Computed: singlePass, Expected: want.of("t_surface_single_pass_from_20C"), Tolerance: 0.15, Published: published.print("t", 1)},
		{Quantity: "surface temperature", Unit: "°C", Computed: surface.Temp(), Expected: want.of("t_surface"), Tolerance: 0.15},
		{Quantity: "thermodynamic wet bulb", Unit: "°C", Computed: air.WetBulb(t, air.HumidityRatio(pv, air.StandardPressure), air.StandardPressure), Expected: want.of("t_wetbulb"), Tolerance: 0.15},
	}, nil
}

func radiatingWetSurface(c openCase) ([]Row, error) {
	var in, want climaticAmounts
	if err := decodeClimatic(c, &in, &want, nil); err != nil {
		return nil, err
	}
	t := in.of("t_air")
	radiant, emissivity := in.of("t_radiant"), in.of("eps")
	surface := air.WetSurface{
		TempAir: t, VapourPressure: in.of("RH") / 100 * air.SaturationPressure(t), Pressure: air.StandardPressure,
		Film: in.of("hc"), Lewis: in.of("Le"), Driving: air.ByRatio,
		Gain: func(ts float64) float64 { return sun.RadiantExchange(emissivity, radiant, ts) },
	}
	ts := surface.Temp()
	rate := surface.Evaporation(ts) / gramPerHour
	return []Row{
		{Quantity: "surface temperature", Unit: "°C", Computed: ts, Expected: want.of("t_surface"), Tolerance: 0.05},
		{Quantity: "evaporation", Unit: "g/(m²·h)", Computed: rate, Expected: want.of("evaporation"), Tolerance: relative(0.01, want.of("evaporation"))},
	}, nil
}

func humidifiedStream(c openCase) ([]Row, error) {
	var in, want climaticAmounts
	if err := decodeClimatic(c, &in, &want, nil); err != nil {
		return nil, err
	}
	const p, tWater = air.StandardPressure, 20.0
	t, water := in.of("t"), in.of("water_per_kgda")
	w := air.HumidityRatio(in.of("RH")/100*air.SaturationPressure(t), p)
	out := w + water
	tOut := air.TemperatureFromEnthalpy(air.Enthalpy(t, w)+water*air.SpecificHeatWater*tWater, out)
	return []Row{
		{Quantity: "temperature after humidifying", Unit: "°C", Computed: tOut, Expected: want.of("t_out"), Tolerance: 0.02},
		{Quantity: "relative humidity after humidifying", Unit: "%", Computed: 100 * air.RelHumidity(tOut, air.VapourPressure(out, p)), Expected: want.of("RH_out"), Tolerance: 0.2},
	}, nil
}

func stefanTube(c openCase) ([]Row, error) {
	var in, want climaticAmounts
	if err := decodeClimatic(c, &in, &want, nil); err != nil {
		return nil, err
	}
	const p = air.StandardPressure
	t, length, area := in.of("t"), in.of("L"), in.of("A")
	wet := air.SaturationPressure(t)
	top := in.of("RH_top") / 100 * wet
	return []Row{
		{Quantity: "Stefan diffusion", Unit: "g/h", Computed: area * air.StefanFlux(t, p, length, wet, top) / gramPerHour, Expected: want.of("m_stefan"), Tolerance: relative(0.01, want.of("m_stefan"))},
		{Quantity: "linear diffusion", Unit: "g/h", Computed: area * air.FickFlux(t, p, length, wet, top) / gramPerHour, Expected: want.of("m_linear"), Tolerance: relative(0.01, want.of("m_linear"))},
	}, nil
}

func ventilatedBox(c openCase) ([]Row, error) {
	var in, want climaticAmounts
	if err := decodeClimatic(c, &in, &want, nil); err != nil {
		return nil, err
	}
	const p = air.StandardPressure
	tIn, tOut := in.of("t_in"), in.of("t_out")
	density := air.DryDensity(tIn, p, 0) // the case counts all air as dry
	flow, mass := in.of("Q_at_inside_T")*density, in.of("V")*density
	inlet := air.HumidityRatio(in.of("RH_out")/100*air.SaturationPressure(tOut), p)
	source := in.of("G") * gramPerHour
	steady := air.VentilatedSteadyRatio(inlet, source, flow)
	rh := func(w float64) float64 { return 100 * air.RelHumidity(tIn, air.VapourPressure(w, p)) }
	rows := []Row{
		{Quantity: "flow of dry air", Unit: "kg/s", Computed: flow, Expected: want.of("m_a"), Tolerance: relative(5e-3, want.of("m_a"))},
		{Quantity: "humidity ratio outdoors", Unit: "kg/kg", Computed: inlet, Expected: want.of("We"), Tolerance: relative(5e-3, want.of("We"))},
		{Quantity: "humidity ratio, steady", Unit: "kg/kg", Computed: steady, Expected: want.of("W_steady"), Tolerance: relative(5e-3, want.of("W_steady"))},
		{Quantity: "relative humidity, steady", Unit: "%", Computed: rh(steady), Expected: want.of("RH_steady_pct"), Tolerance: 0.5},
	}
	times, ratios, humidities := in.list("t_s"), want.list("W_t"), want.list("RH_t_pct")
	if len(ratios) != len(times) || len(humidities) != len(times) {
		return nil, fmt.Errorf("%d times, %d ratios, %d humidities", len(times), len(ratios), len(humidities))
	}
	for i, time := range times {
		w := air.VentilatedRatio(inlet, inlet, source, flow, mass, time)
		rows = append(rows,
			Row{Quantity: fmt.Sprintf("humidity ratio after %g s", time), Unit: "kg/kg", Computed: w, Expected: ratios[i], Tolerance: relative(5e-3, ratios[i])},
			Row{Quantity: fmt.Sprintf("relative humidity after %g s", time), Unit: "%", Computed: rh(w), Expected: humidities[i], Tolerance: 0.5},
		)
	}
	return rows, nil
}

func openWater(c openCase) ([]Row, error) {
	var in, want climaticAmounts
	if err := decodeClimatic(c, &in, &want, nil); err != nil {
		return nil, err
	}
	t := in.of("t_water")
	pv := in.of("RH") / 100 * air.SaturationPressure(in.of("t_air"))
	flux := air.OpenWaterEvaporation(t, air.SaturationPressure(t), pv, in.of("V"))
	return []Row{{
		Quantity: "evaporation", Unit: "kg/h",
		Computed: in.of("A") * flux / kgPerHour, Expected: want.of("w"), Tolerance: relative(5e-3, want.of("w")),
	}}, nil
}
