package verify

import (
	"context"
	"encoding/json"
	"fmt"
	"math"

	"hackle/air"
	"hackle/airflow"
)

// airflowCase ties a case to its computation and to a citation by title.
type airflowCase struct {
	id, source string
	run        func(in, want, published *airflowValues) ([]Row, error)
}

const (
	airflowHandbook  = "ASHRAE Handbook of Fundamentals, ventilation and infiltration"
	airflowNetwork   = "pressure network method (" + airflowHandbook + "); independent root finding"
	airflowDoorway   = `"Natural convection through rectangular openings in partitions - 1: vertical partitions", International Journal of Heat and Mass Transfer 5, 1962; CIBSE Guide A, single-sided ventilation`
	airflowLid       = `"Buoyancy-driven exchange flow through small openings in horizontal partitions", Journal of Heat Transfer 110, 1988`
	airflowEmptying  = `"Emptying filling boxes: the fluid mechanics of natural ventilation", Journal of Fluid Mechanics 212, 1990, doi:10.1017/S0022112090001987`
	airflowPlumes    = `"Turbulent gravitational convection from maintained and instantaneous sources", Proceedings of the Royal Society A 234, 1956, doi:10.1098/rspa.1956.0011`
	airflowTransient = `"Time-dependent flows in an emptying filling box", Journal of Fluid Mechanics 520, 2004`
)

func airflowChecks(ctx context.Context) ([]Check, error) {
	const file = "06_airflow.json"
	cases, err := loadCases(file)
	if err != nil {
		return nil, err
	}
	list := []airflowCase{
		{"AF-01", "orifice equation, " + airflowHandbook, airflowOrifice},
		{"AF-02", `"Air flow through cracks", Building Services Engineering Research and Technology, 1987`, airflowSlotCrack},
		{"AF-03", airflowHandbook + " (Bernoulli with hydrostatic pressures)", airflowStack},
		{"AF-04", airflowHandbook + " (Bernoulli with hydrostatic pressures)", airflowStack},
		{"AF-05", airflowHandbook + " (increase of flow by unequal openings)", airflowUnequal},
		{"AF-06", airflowNetwork, airflowOpenings},
		{"AF-07", airflowNetwork, airflowOpenings},
		{"AF-08", airflowNetwork, airflowOpenings},
		{"AF-09", "energy balance with Bernoulli flow; independent root finding", airflowHeatedBox},
		{"AF-10", airflowDoorway, airflowTwoWay},
		{"AF-11", airflowDoorway, airflowTwoWay},
		{"AF-12", airflowLid, airflowLidFroude},
		{"AF-13", airflowLid, airflowLidVent},
		{"AF-14", airflowPlumes + "; " + airflowEmptying, airflowPlumeConstant},
		{"AF-15", airflowEmptying, airflowInterface},
		{"AF-16", airflowEmptying, airflowDisplacement},
		{"AF-17", airflowEmptying, airflowDisplacement},
		{"AF-17b", airflowEmptying, airflowDisplacement},
		{"AF-18", airflowTransient + "; long-time limit: " + airflowEmptying, airflowFilling},
		{"AF-19", airflowEmptying, airflowDraining},
		{"AF-20", airflowEmptying, airflowLineSource},
		{"AF-21", "first-order tracer balance (basis of ASTM E741)", airflowTracer},
	}
	var checks []Check
	for _, a := range list {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		c, ok := cases[a.id]
		if !ok {
			return nil, fmt.Errorf("verify: %s: no case %s", file, a.id)
		}
		var in, want, published airflowValues
		for _, part := range []struct {
			text json.RawMessage
			into *airflowValues
		}{{c.Inputs, &in}, {c.Expected, &want}, {c.Published, &published}} {
			if len(part.text) == 0 {
				continue
			}
			if err := json.Unmarshal(part.text, part.into); err != nil {
				return nil, fmt.Errorf("verify: %s: %w", a.id, err)
			}
		}
		rows, err := a.run(&in, &want, &published)
		if err == nil {
			err = in.err
		}
		if err == nil {
			err = want.err
		}
		if err != nil {
			return nil, fmt.Errorf("verify: %s: %w", a.id, err)
		}
		checks = append(checks, Check{ID: a.id, Topic: "Air flow", What: c.Description, Source: a.source, FromMemory: c.FromMemory, Rows: rows})
	}
	return checks, nil
}

// airflowValues reads named amounts of a case, plain or with a unit, and keeps the
// first thing that went wrong.
type airflowValues struct {
	fields map[string]json.RawMessage
	err    error
}

func (v *airflowValues) UnmarshalJSON(text []byte) error { return json.Unmarshal(text, &v.fields) }

func (v *airflowValues) read(name string, into any) {
	text, ok := v.fields[name]
	if !ok {
		v.fail(fmt.Errorf("no %q", name))
		return
	}
	if err := json.Unmarshal(text, into); err != nil {
		v.fail(fmt.Errorf("%q: %w", name, err))
	}
}

func (v *airflowValues) fail(err error) {
	if v.err == nil {
		v.err = err
	}
}

func (v *airflowValues) has(name string) bool { _, ok := v.fields[name]; return ok }

func (v *airflowValues) of(name string) float64 {
	var amount struct{ Value *float64 }
	if json.Unmarshal(v.fields[name], &amount) == nil && amount.Value != nil {
		return *amount.Value
	}
	x := math.NaN()
	v.read(name, &x)
	return x
}

// list returns a list of a known length, NaN where it is shorter.
func (v *airflowValues) list(name string, length int) []float64 {
	var x []float64
	v.read(name, &x)
	if length >= 0 && len(x) != length {
		v.fail(fmt.Errorf("%q has %d values, want %d", name, len(x), length))
	}
	for len(x) < length {
		x = append(x, math.NaN())
	}
	return x
}

// row compares with a relative tolerance.
func airflowRow(quantity, unit string, computed, expected, share float64) Row {
	return Row{Quantity: quantity, Unit: unit, Computed: computed, Expected: expected, Tolerance: relative(share, expected)}
}

// airflowDry returns the density [kg/m³] of dry air at standard pressure.
func airflowDry(t float64) float64 { return air.Density(t, air.StandardPressure, 0) }

func airflowOrifice(in, want, _ *airflowValues) ([]Row, error) {
	drops := in.list("dp_Pa", -1)
	flows := want.list("Q_m3_per_s", len(drops))
	law := airflow.Orifice(in.of("A"), in.of("Cd"), 0, 0)
	rho := airflowDry(20)
	rows := []Row{airflowRow("density of dry air at 20 °C", "kg/m³", rho, want.of("rho"), 1e-3)}
	for i, dp := range drops {
		rows = append(rows, airflowRow(fmt.Sprintf("flow at %g Pa", dp), "m³/s", law.Flow(dp, rho, air.Viscosity(20)), flows[i], 1e-3))
	}
	return rows, in.err
}

func airflowSlotCrack(in, want, _ *airflowValues) ([]Row, error) {
	const viscosity, density = 1.81e-5, 1.204 // stated in the case's description
	drops := in.list("dp_Pa", -1)
	flows := want.list("Q_m3_per_s", len(drops))
	exponents := want.list("local_exponent_between", max(0, len(drops)-1))
	law := airflow.SlotCrack(in.of("w"), in.of("L"), in.of("depth"), int(in.of("bends")))
	var rows []Row
	var before float64
	for i, dp := range drops {
		q := law.Flow(dp, density, viscosity)
		rows = append(rows, airflowRow(fmt.Sprintf("flow at %g Pa", dp), "m³/s", q, flows[i], 1e-3))
		if i > 0 {
			rows = append(rows, airflowRow(fmt.Sprintf("exponent between %g and %g Pa", drops[i-1], dp), "-",
				math.Log(q/before)/math.Log(dp/drops[i-1]), exponents[i-1], 1e-3))
		}
		before = q
	}
	return rows, nil
}

// airflowBox is a one-node box with sharp openings, solved by the network.
type airflowBox struct {
	net   *airflow.Network
	state *airflow.State
	cond  airflow.Conditions
}

// airflowNewBox makes the box: openings into it from outdoors, with the wind
// pressure on each [Pa].
func airflowNewBox(links []airflow.Link, wind []float64, tOut float64) (*airflowBox, error) {
	net, err := airflow.NewNetwork([]airflow.Node{{Height: 0}}, links)
	if err != nil {
		return nil, err
	}
	return &airflowBox{net: net, state: net.NewState(), cond: airflow.Conditions{
		Density: make([]float64, 1), Viscosity: make([]float64, 1), WindPressure: wind,
		OutdoorDensity: airflowDry(tOut), OutdoorViscosity: air.Viscosity(tOut),
	}}, nil
}

// at solves for an indoor temperature [°C].
func (b *airflowBox) at(tIn float64) error {
	b.cond.Density[0], b.cond.Viscosity[0] = airflowDry(tIn), air.Viscosity(tIn)
	_, err := b.net.Solve(b.cond, b.state)
	return err
}

// neutral returns the height where the pressures in and out are equal [m].
func (b *airflowBox) neutral() float64 {
	return b.state.Pressure[0] / ((b.cond.Density[0] - b.cond.OutdoorDensity) * airflow.Gravity)
}

// airflowInlet is a sharp opening into the box.
func airflowInlet(height, area, cd float64, face int) airflow.Link {
	return airflow.Link{From: airflow.Outside, To: 0, Height: height, Law: airflow.Orifice(area, cd, 0, 0), WindFace: face}
}

func airflowStack(in, want, _ *airflowValues) ([]Row, error) {
	a1, a2, cd1, cd2, rise := in.of("A1"), in.of("A2"), in.of("Cd1"), in.of("Cd2"), in.of("H")
	tIn, tOut := in.of("t_in"), in.of("t_out")
	if in.err != nil {
		return nil, in.err
	}
	box, err := airflowNewBox([]airflow.Link{airflowInlet(0, a1, cd1, -1), airflowInlet(rise, a2, cd2, -1)}, nil, tOut)
	if err != nil {
		return nil, err
	}
	if err := box.at(tIn); err != nil {
		return nil, err
	}
	rhoIn, rhoOut := airflowDry(tIn), airflowDry(tOut)
	m, height := want.of("m"), want.of("neutral_height")
	boussinesq := want.of("Q_boussinesq")
	return []Row{
		airflowRow("stack pressure", "Pa", (rhoOut-rhoIn)*airflow.Gravity*rise, want.of("dp_total"), 2e-3),
		airflowRow("mass flow, network", "kg/s", box.state.MassFlow[0], m, 2e-3),
		airflowRow("mass flow, closed form", "kg/s", airflow.TwoOpeningStack(cd1*a1, cd2*a2, rise, rhoIn, rhoOut), m, 2e-3),
		airflowRow("volume flow in at the bottom, network", "m³/s", box.state.MassFlow[0]/rhoOut, want.of("Q_in_at_bottom"), 2e-3),
		airflowRow("volume flow out at the top, network", "m³/s", -box.state.MassFlow[1]/rhoIn, want.of("Q_out_at_top"), 2e-3),
		{Quantity: "neutral level, network", Unit: "m", Computed: box.neutral(), Expected: height, Tolerance: 0.01 * rise},
		{Quantity: "neutral level, closed form", Unit: "m", Computed: airflow.NeutralHeight(cd1*a1, cd2*a2, rise, rhoIn, rhoOut), Expected: height, Tolerance: 0.01 * rise},
		airflowRow("volume flow, Boussinesq form", "m³/s", airflow.TwoOpeningStackBoussinesq(cd1*a1, cd2*a2, rise, rhoIn, rhoOut), boussinesq, 0.03),
	}, nil
}

func airflowUnequal(in, want, published *airflowValues) ([]Row, error) {
	ratios := in.list("r", -1)
	gains := want.list("increase_pct", len(ratios))
	var rows []Row
	add := func(quantity, key string, ratio, expected float64) {
		row := Row{Quantity: quantity, Unit: "%", Computed: 100 * airflow.UnequalOpeningGain(ratio), Expected: expected, Tolerance: 0.1}
		if published.has(key) {
			p := published.of(key)
			row.Published = &p
		}
		rows = append(rows, row)
	}
	for i, r := range ratios {
		add(fmt.Sprintf("gain at ratio %g", r), fmt.Sprint(r), r, gains[i])
	}
	add("gain at an endless ratio", "limit", math.Inf(1), want.of("limit_pct"))
	return rows, published.err
}

func airflowOpenings(in, want, _ *airflowValues) ([]Row, error) {
	var openings []struct {
		Height float64 `json:"z_m"`
		Area   float64 `json:"CdA_m2"`
		Cp     float64
	}
	in.read("openings", &openings)
	tIn, tOut, speed := in.of("t_in"), in.of("t_out"), in.of("U")
	if in.err != nil {
		return nil, in.err
	}
	var links []airflow.Link
	var wind []float64
	for i, o := range openings {
		links = append(links, airflowInlet(o.Height, o.Area, 1, i))
		wind = append(wind, airflow.WindPressure(o.Cp, airflowDry(tOut), speed))
	}
	box, err := airflowNewBox(links, wind, tOut)
	if err != nil {
		return nil, err
	}
	if err := box.at(tIn); err != nil {
		return nil, err
	}
	total, flows := want.of("total_inflow"), want.list("m_kg_per_s", len(openings))
	rows := []Row{{Quantity: "pressure indoors at height 0, network", Unit: "Pa", Computed: box.state.Pressure[0], Expected: want.of("p_inside_z0"), Tolerance: 1e-3}}
	inflow := 0.0
	for i, o := range openings {
		m := box.state.MassFlow[i]
		inflow += math.Max(0, m)
		rows = append(rows, Row{Quantity: fmt.Sprintf("inflow through the opening at %g m, network", o.Height), Unit: "kg/s",
			Computed: m, Expected: flows[i], Tolerance: 0.01 * total})
	}
	return append(rows, airflowRow("total inflow, network", "kg/s", inflow, total, 0.01)), nil
}

func airflowHeatedBox(in, want, _ *airflowValues) ([]Row, error) {
	power, loss, cd, rise := in.of("P"), in.of("UA"), in.of("Cd"), in.of("H")
	a1, a2, tOut, cp := in.of("A1"), in.of("A2"), in.of("t_out"), in.of("cp")
	if in.err != nil {
		return nil, in.err
	}
	box, err := airflowNewBox([]airflow.Link{airflowInlet(0, a1, cd, -1), airflowInlet(rise, a2, cd, -1)}, nil, tOut)
	if err != nil {
		return nil, err
	}
	// The heat lost rises with the temperature: bisect on it.
	lo, hi := tOut, tOut+power/loss
	for range 50 {
		t := (lo + hi) / 2
		if err := box.at(t); err != nil {
			return nil, err
		}
		if (loss+cp*box.state.MassFlow[0])*(t-tOut) < power {
			lo = t
		} else {
			hi = t
		}
	}
	t, m := (lo+hi)/2, box.state.MassFlow[0]
	tClosed, mClosed := airflow.HeatedBox(power, loss, cd*a1, cd*a2, rise, tOut, airflowDry(tOut), cp)
	wantT, wantM, wantHeat := want.of("t_in"), want.of("m"), want.of("ventilation_heat")
	return []Row{
		{Quantity: "temperature indoors, network", Unit: "°C", Computed: t, Expected: wantT, Tolerance: 0.1},
		{Quantity: "temperature indoors, closed form", Unit: "°C", Computed: tClosed, Expected: wantT, Tolerance: 0.1},
		airflowRow("mass flow, network", "kg/s", m, wantM, 0.01),
		airflowRow("mass flow, closed form", "kg/s", mClosed, wantM, 0.01),
		{Quantity: "neutral level, network", Unit: "m", Computed: box.neutral(), Expected: want.of("neutral_height"), Tolerance: 0.01 * rise},
		airflowRow("heat carried by the air, network", "W", cp*m*(t-tOut), wantHeat, 0.01),
	}, nil
}

// airflowStrips is the number of height strips for the two-way openings: the
// exchange is then within 0.2 % of the integral over the height.
const airflowStrips = 20

func airflowTwoWay(in, want, _ *airflowValues) ([]Row, error) {
	w, h, cd, tIn, tOut := in.of("W"), in.of("H"), in.of("Cd"), in.of("t_in"), in.of("t_out")
	if in.err != nil {
		return nil, in.err
	}
	strips := airflow.OpeningStrips(airflow.Slot, 0, w, h, 0, cd, airflowStrips)
	box, err := airflowNewBox(airflow.Links(strips, airflow.Outside, 0, -1, 0, "opening"), nil, tOut)
	if err != nil {
		return nil, err
	}
	if err := box.at(tIn); err != nil {
		return nil, err
	}
	inflow := 0.0
	for _, m := range box.state.MassFlow {
		inflow += math.Max(0, m)
	}
	rhoIn, rhoOut := airflowDry(tIn), airflowDry(tOut)
	g := airflow.ReducedGravity(rhoIn, rhoOut)
	m, neutral := airflow.DoorwayMassFlow(w, h, cd, rhoIn, rhoOut)
	wantM, wantNeutral := want.of("m"), want.of("neutral_height")
	q := airflow.DoorwayExchange(w, h, cd, g)
	return []Row{
		airflowRow(fmt.Sprintf("mass flow each way, network of %d strips", airflowStrips), "kg/s", inflow, wantM, 0.01),
		airflowRow("mass flow each way, closed form", "kg/s", m, wantM, 0.01),
		{Quantity: "neutral level, network", Unit: "m", Computed: box.neutral(), Expected: wantNeutral, Tolerance: 0.01 * h},
		{Quantity: "neutral level, closed form", Unit: "m", Computed: neutral, Expected: wantNeutral, Tolerance: 0.01 * h},
		airflowRow("reduced gravity", "m/s²", g, want.of("g_prime"), 0.01),
		airflowRow("volume flow, Boussinesq form", "m³/s", q, want.of("Q_boussinesq"), 0.01),
		airflowRow("volume flow, single-sided formula", "m³/s", q, want.of("Q_cibse_form"), 0.01),
	}, nil
}

func airflowLidFroude(in, want, _ *airflowValues) ([]Row, error) {
	ratios := in.list("L_over_D", -1)
	expected := want.list("Fr", len(ratios))
	var rows []Row
	for i, r := range ratios {
		rows = append(rows, airflowRow(fmt.Sprintf("exchange number at L/D %g", r), "-", airflow.HorizontalFroude(r), expected[i], 0.01))
	}
	return rows, nil
}

func airflowLidVent(in, want, _ *airflowValues) ([]Row, error) {
	d, l, tIn, tOut := in.of("D"), in.of("L"), in.of("t_in"), in.of("t_out")
	rhoIn, rhoOut := airflowDry(tIn), airflowDry(tOut)
	q := airflow.HorizontalExchange(d, l, rhoIn, rhoOut)
	return []Row{
		airflowRow("exchange number", "-", airflow.HorizontalFroude(l/d), want.of("Fr"), 0.02),
		airflowRow("exchange flow", "m³/s", q, want.of("Q_exchange"), 0.02),
		airflowRow("heat lost, at the mean density", "W", q*(rhoIn+rhoOut)/2*air.SpecificHeatDry*(tIn-tOut), want.of("heat_loss"), 0.02),
	}, nil
}

func airflowPlumeConstant(in, want, _ *airflowValues) ([]Row, error) {
	alphas := in.list("alpha", -1)
	c, power := want.list("C", len(alphas)), want.list("C_pow_1.5", len(alphas))
	var rows []Row
	for i, a := range alphas {
		got := airflow.PlumeConstant(a)
		rows = append(rows,
			airflowRow(fmt.Sprintf("C at alpha %g", a), "-", got, c[i], 1e-4),
			airflowRow(fmt.Sprintf("C^1.5 at alpha %g", a), "-", math.Pow(got, 1.5), power[i], 1e-4))
	}
	return rows, nil
}

func airflowInterface(in, want, _ *airflowValues) ([]Row, error) {
	shares, alphas := in.list("xi", -1), in.list("alpha", -1)
	function := want.list("F_of_xi", len(shares))
	var rows []Row
	for _, a := range alphas {
		expected := want.list(fmt.Sprintf("Astar_over_H2_alpha_%g", a), len(shares))
		for i, xi := range shares {
			area := airflow.InterfaceArea(xi, a)
			rows = append(rows,
				airflowRow(fmt.Sprintf("A*/H² at height share %g, alpha %g", xi, a), "-", area, expected[i], 1e-3),
				airflowRow(fmt.Sprintf("sqrt(xi⁵/(1-xi)) at height share %g, alpha %g", xi, a), "-", area/math.Pow(airflow.PlumeConstant(a), 1.5), function[i], 1e-3),
				Row{Quantity: fmt.Sprintf("height share at A*/H² %.4g, alpha %g", expected[i], a), Unit: "-",
					Computed: airflow.InterfaceHeight(expected[i], a), Expected: xi, Tolerance: 0.002})
		}
	}
	return rows, nil
}

func airflowDisplacement(in, want, _ *airflowValues) ([]Row, error) {
	height, tOut, alpha := in.of("H"), in.of("t_out"), in.of("alpha")
	area := airflow.ReducedArea(in.of("Cd_bottom")*in.of("A_bottom"), in.of("Cd_top")*in.of("A_top"))
	buoyancy := airflow.BuoyancyFlux(in.of("P_total"), airflowDry(tOut), in.of("cp"), tOut)
	d := airflow.Displace(area, height, buoyancy, int(in.of("n_sources")), alpha)
	return []Row{
		airflowRow("A*", "m²", area, want.of("A_star"), 0.01),
		airflowRow("buoyancy flux", "m⁴/s³", buoyancy, want.of("B_total"), 0.01),
		{Quantity: "height share of the interface", Unit: "-", Computed: d.Interface / height, Expected: want.of("xi"), Tolerance: 0.005},
		{Quantity: "height of the interface", Unit: "m", Computed: d.Interface, Expected: want.of("h"), Tolerance: 0.005 * height},
		airflowRow("reduced gravity of the warm layer", "m/s²", d.Gravity, want.of("g_prime"), 0.01),
		airflowRow("temperature rise of the warm layer", "K", d.Gravity/airflow.Gravity*(tOut+air.ZeroCelsius), want.of("dT_upper"), 0.01),
		airflowRow("flow", "m³/s", d.Flow, want.of("Q"), 0.01),
		// Not from the table: the openings must pass what the plumes deliver.
		airflowRow("flow that the openings pass", "m³/s", area*math.Sqrt(d.Gravity*(height-d.Interface)), want.of("Q"), 0.01),
	}, nil
}

func airflowFilling(in, want, _ *airflowValues) ([]Row, error) {
	tOut := in.of("t_out")
	times := in.list("t_s", -1)
	heights, gravities := want.list("h_m", len(times)), want.list("g_prime", len(times))
	box := airflow.TwoLayer{
		ReducedArea: in.of("A_star"), Height: in.of("H"), Floor: in.of("floor_area"), Alpha: in.of("alpha"),
		Buoyancy: airflow.BuoyancyFlux(in.of("P"), airflowDry(tOut), air.SpecificHeatDry, tOut),
	}
	if in.err != nil {
		return nil, in.err
	}
	var rows []Row
	now := 0.0
	for i, t := range times {
		if err := box.Advance(t - now); err != nil {
			return nil, err
		}
		now = t
		rows = append(rows,
			Row{Quantity: fmt.Sprintf("interface after %g s", t), Unit: "m", Computed: box.Interface(), Expected: heights[i], Tolerance: 0.01 * box.Height},
			airflowRow(fmt.Sprintf("reduced gravity after %g s", t), "m/s²", box.Gravity(), gravities[i], 0.02))
	}
	steady := airflow.Displace(box.ReducedArea, box.Height, box.Buoyancy, 1, box.Alpha)
	return append(rows, Row{Quantity: "steady interface", Unit: "m", Computed: steady.Interface, Expected: want.of("steady_h"), Tolerance: 0.01 * box.Height}), nil
}

func airflowDraining(in, want, _ *airflowValues) ([]Row, error) {
	area, height, floor, gravity := in.of("A_star"), in.of("H"), in.of("floor_area"), in.of("g_prime")
	shares := in.list("t_over_te", -1)
	depths := want.list("d_over_H", len(shares))
	if in.err != nil {
		return nil, in.err
	}
	emptying := airflow.EmptyingTime(area, height, floor, gravity)
	rows := []Row{airflowRow("time to empty", "s", emptying, want.of("t_empty"), 1e-3)}
	box := airflow.TwoLayer{ReducedArea: area, Height: height, Floor: floor, Alpha: airflow.EntrainmentPoint, Depth: height, Content: gravity * height}
	now := 0.0
	for i, share := range shares {
		t := share * emptying
		if err := box.Advance(t - now); err != nil {
			return nil, err
		}
		now = t
		rows = append(rows,
			airflowRow(fmt.Sprintf("depth share at %g of the time, closed form", share), "-", airflow.DrainDepth(height, t, emptying)/height, depths[i], 1e-3),
			airflowRow(fmt.Sprintf("depth share at %g of the time, integrated", share), "-", box.Depth/height, depths[i], 1e-3))
	}
	return rows, nil
}

func airflowLineSource(in, want, _ *airflowValues) ([]Row, error) {
	alpha, height, buoyancy := in.of("alpha"), in.of("H"), in.of("B_per_length")
	xi := airflow.LineInterfaceHeight(in.of("A_star_per_length")/height, alpha)
	return []Row{
		{Quantity: "height share of the interface", Unit: "-", Computed: xi, Expected: want.of("xi"), Tolerance: 0.003},
		airflowRow("reduced gravity", "m/s²", airflow.LinePlumeGravity(buoyancy, xi*height, alpha), want.of("g_prime"), 5e-3),
		airflowRow("flow per length", "m²/s", airflow.LinePlumeFlow(buoyancy, xi*height, alpha), want.of("Q_per_length"), 5e-3),
	}, nil
}

func airflowTracer(in, want, _ *airflowValues) ([]Row, error) {
	start, entering, volume, flow, source := in.of("C0"), in.of("Cout"), in.of("V"), in.of("Q"), in.of("G")
	times := in.list("t_s", -1)
	expected := want.list("C", len(times))
	var rows []Row
	for i, t := range times {
		rows = append(rows, airflowRow(fmt.Sprintf("share after %g s", t), "-", airflow.MixedConcentration(start, entering, volume, flow, source, t), expected[i], 1e-3))
	}
	return append(rows,
		airflowRow("steady share", "-", airflow.MixedConcentration(start, entering, volume, flow, source, math.Inf(1)), want.of("steady"), 1e-3),
		airflowRow("air changes", "1/h", 3600*flow/volume, want.of("air_changes_per_h"), 1e-3)), nil
}
