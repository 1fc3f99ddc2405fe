package verify

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/cmplx"

	"hackle/wall"
)

var transientTitles = [...]thermalTitle{
	{"TR-01", "Frost depth under a suddenly cold surface of soil", "Fundamentals of Heat and Mass Transfer, example 5.6; error function"},
	{"TR-02", "Semi-infinite solid: surface temperature, surface flux, convection", "Conduction of Heat in Solids, sections 2.4, 2.7 and 2.9"},
	{"TR-03", "First eigenvalue and coefficient of a plane wall with convection", "Fundamentals of Heat and Mass Transfer, table 5.1"},
	{"TR-04", "Pipe wall heated by oil", "Fundamentals of Heat and Mass Transfer, example 5.5; series"},
	{"TR-05", "Slab cooled on both faces, wood-like", "Conduction of Heat in Solids, section 3.11; series"},
	{"TR-06", "Slab cooled on both faces, honey-like", "Conduction of Heat in Solids, section 3.11; series"},
	{"TR-07", "Multilayer box wall, step of outdoor temperature", "Matrix exponential of 300 to 600 cells, extrapolated"},
	{"TR-08", "Light roof, period of a day", "ISO 13786:2017; TSG-1-004:2022, table 8.4"},
	{"TR-09", "Concrete wall, period of a day", "ISO 13786:2017, matrix method"},
	{"TR-10", "Insulated box wall, period of a day", "ISO 13786:2017, matrix method"},
	{"TR-11", "Pine wall, period of an hour", "ISO 13786:2017, matrix method"},
	{"TR-12", "Yearly wave in the ground", "Conduction of Heat in Solids, section 2.6"},
	{"TR-13", "Small sphere in hot gas, lumped", "Fundamentals of Heat and Mass Transfer, example 5.1"},
	{"TR-14", "Box of one capacity with a daily wave outdoors", "First-order response, closed form"},
}

// transientChecks computes the unsteady cases with the finite-volume chain.
func transientChecks(ctx context.Context) ([]Check, error) {
	compute := map[string]func(openCase) ([]Row, error){
		"TR-01": frostRows, "TR-02": halfSpaceRows, "TR-03": eigenRows, "TR-04": pipeRows,
		"TR-05": slabRows, "TR-06": slabRows, "TR-07": stepRows,
		"TR-08": periodicRows, "TR-09": periodicRows, "TR-10": periodicRows, "TR-11": periodicRows,
		"TR-12": groundRows, "TR-13": sphereRows, "TR-14": boxRows,
	}
	return thermalTopic(ctx, "05_transient_conduction.json", "Transient conduction", transientTitles[:],
		func(c openCase) ([]Row, string, error) {
			rows, err := compute[c.ID](c)
			return rows, "", err
		})
}

// What the inner face of a chain obeys, given the law q = g·T − s of the flux
// into it and the time: each returns the face's temperature.
type faceLaw func(g, s, at float64) float64

func heldFace(t float64) faceLaw { return func(_, _, _ float64) float64 { return t } }
func fluxFace(q float64) faceLaw { return func(g, s, _ float64) float64 { return (q + s) / g } }
func filmFace(h float64, t func(at float64) float64) faceLaw {
	return func(g, s, at float64) float64 { return (h*t(at) + s) / (h + g) }
}
func always(t float64) func(float64) float64 { return func(float64) float64 { return t } }

// chainRun carries a chain through time with steps of second order.
type chainRun struct {
	chain  *wall.Chain
	inner  faceLaw
	outerH float64               // [W/(m²·K)]
	outerT func(float64) float64 // [°C]

	at             float64 // [s]
	state, start   []float64
	work           wall.Work
	tInner, tOuter float64 // [°C]
	qIn, qOut      float64 // into the inner, out of the outer face [W/m²]
}

func newChainRun(layers []wall.Layer, cells int, t0 float64, inner faceLaw, outerH float64, outerT func(float64) float64) (*chainRun, error) {
	chain, err := wall.NewChain(layers, wall.Grid{MinCells: cells})
	if err != nil {
		return nil, err
	}
	r := &chainRun{chain: chain, inner: inner, outerH: outerH, outerT: outerT}
	r.state, r.start = make([]float64, chain.Cells()), make([]float64, chain.Cells())
	for i := range r.state {
		r.state[i] = t0
	}
	return r, nil
}

// step advances by dt [s].
func (r *chainRun) step(dt float64) {
	copy(r.start, r.state)
	stage := wall.StageFraction * dt
	solve := func(at float64) {
		g, s := r.chain.Condense(stage, r.state, r.outerH, r.outerT(at), &r.work)
		r.tInner = r.inner(g, s, at)
		r.qIn = g*r.tInner - s
		r.tOuter, r.qOut = r.chain.Advance(r.state, r.tInner, &r.work)
	}
	solve(r.at + stage)
	wall.SecondStage(r.start, r.state)
	r.at += dt
	solve(r.at)
}

// until advances to a time [s] in equal steps of at most dt [s].
func (r *chainRun) until(at, dt float64) {
	from := r.at
	n := math.Ceil((at - from) / dt * (1 - 1e-12))
	for range int(n) {
		r.step((at - from) / n)
	}
	r.at = at
}

// depth returns the temperature at a depth below the inner face [°C], linear
// between cell middles.
func (r *chainRun) depth(x float64) float64 {
	x0, t0 := 0.0, r.tInner
	for i := range r.state {
		x1, t1 := r.chain.Depth(i), r.state[i]
		if x <= x1 {
			return t0 + (t1-t0)*(x-x0)/(x1-x0)
		}
		x0, t0 = x1, t1
	}
	return t0 + (r.tOuter-t0)*(x-x0)/(r.chain.Thickness()-x0)
}

// massive returns a layer of a volumetric heat capacity [J/(m³·K)].
func massive(thickness, conductivity, rhoC float64) wall.Layer {
	return wall.Layer{Thickness: thickness, Conductivity: conductivity, Density: 1000, SpecificHeat: rhoC / 1000}
}

func gridNote(r *chainRun, dt float64) string {
	return fmt.Sprintf("%d cells, steps of %.3g s", r.chain.Cells(), dt)
}

func frostRows(c openCase) ([]Row, error) {
	var in struct {
		Alpha  thermalNumber `json:"alpha"`
		Ti     thermalNumber `json:"Ti"`
		Ts     thermalNumber `json:"Ts"`
		T      thermalNumber `json:"t"`
		Target thermalNumber `json:"T_target"`
	}
	var want struct{ X thermalNumber }
	var printed map[string]float64
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	const rhoC = 1e6
	far := 10 * math.Sqrt(float64(in.Alpha*in.T))
	r, err := newChainRun([]wall.Layer{massive(far, float64(in.Alpha)*rhoC, rhoC)}, 400, float64(in.Ti), heldFace(float64(in.Ts)), 0, always(0))
	if err != nil {
		return nil, err
	}
	dt := float64(in.T) / 500
	r.until(float64(in.T), dt)
	lo, hi := 0.0, far
	for range 60 {
		if mid := (lo + hi) / 2; r.depth(mid) < float64(in.Target) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return []Row{{Quantity: "depth of 0 °C", Unit: "m", Computed: lo, Expected: float64(want.X), Tolerance: relative(5e-3, float64(want.X)),
		Published: thermalPrinted(printed, "x_m"), Note: gridNote(r, dt)}}, nil
}

func halfSpaceRows(c openCase) ([]Row, error) {
	var in struct {
		K     thermalNumber `json:"k"`
		RhoC  thermalNumber `json:"rho_c"`
		H     thermalNumber `json:"h"`
		Ti    thermalNumber `json:"Ti"`
		Tf    thermalNumber `json:"Tf"`
		Q     thermalNumber `json:"q0"`
		Depth []float64     `json:"x_m"`
		Times []float64     `json:"t_s"`
	}
	var want struct {
		A    [][]float64 `json:"a_T"`
		Flux []float64   `json:"a_flux_into_solid"`
		B    [][]float64 `json:"b_T"`
		C    [][]float64 `json:"c_T"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	k, rhoC := float64(in.K), float64(in.RhoC)
	layers := []wall.Layer{massive(0.05, k, rhoC), massive(0.1, k, rhoC), massive(0.3, k, rhoC)}
	const dt = 10
	var rows []Row
	for _, q := range []struct {
		name   string
		inner  faceLaw
		t      [][]float64
		flux   []float64
		degree float64
	}{
		{"surface held", heldFace(float64(in.Tf)), want.A, want.Flux, 0.1},
		{"flux held", fluxFace(float64(in.Q)), want.B, nil, 0.1},
		{"convection", filmFace(float64(in.H), always(float64(in.Tf))), want.C, nil, 0.1},
	} {
		r, err := newChainRun(layers, 100, float64(in.Ti), q.inner, 0, always(0))
		if err != nil {
			return nil, err
		}
		for j, at := range in.Times {
			r.until(at, dt)
			for i, x := range in.Depth {
				rows = append(rows, Row{Quantity: fmt.Sprintf("%s: temperature at %g mm, %g s", q.name, x*1000, at), Unit: "°C",
					Computed: r.depth(x), Expected: q.t[i][j], Tolerance: q.degree, Note: gridNote(r, dt)})
			}
			if q.flux != nil {
				rows = append(rows, Row{Quantity: fmt.Sprintf("%s: flux at %g s", q.name, at), Unit: "W/m²",
					Computed: r.qIn, Expected: q.flux[j], Tolerance: relative(0.01, q.flux[j]), Note: gridNote(r, dt)})
			}
		}
	}
	return rows, nil
}

func eigenRows(c openCase) ([]Row, error) {
	var want, printed thermalTable
	if err := thermalDecode(c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	var rows []Row
	for i, line := range want.Rows {
		// Half a slab of unit thickness, conductivity and capacity: time is the
		// Fourier number, and late in it only the first term is left.
		bi := line[0]
		r, err := newChainRun([]wall.Layer{massive(1, 1, 1)}, 100, 1, filmFace(bi, always(0)), 0, always(0))
		if err != nil {
			return nil, err
		}
		const dt = 0.01
		r.until(2, dt)
		first := r.tOuter
		r.until(3, dt)
		zeta := math.Sqrt(math.Log(first / r.tOuter))
		c1 := r.tOuter * math.Exp(3*zeta*zeta)
		note := "from the decay of a chain; " + gridNote(r, dt)
		rows = append(rows,
			Row{Quantity: fmt.Sprintf("first eigenvalue at Bi %g", bi), Unit: "-", Computed: zeta, Expected: line[1], Tolerance: 1e-4, Published: &printed.Rows[i][1], Note: note},
			Row{Quantity: fmt.Sprintf("first coefficient at Bi %g", bi), Unit: "-", Computed: c1, Expected: line[2], Tolerance: 1e-4, Published: &printed.Rows[i][2], Note: note})
	}
	return rows, nil
}

func pipeRows(c openCase) ([]Row, error) {
	var want struct {
		Bi, Fo    float64
		Insulated thermalNumber `json:"T_insulated"`
		Wetted    thermalNumber `json:"T_wetted"`
		Flux      thermalNumber `json:"flux_oil_side"`
		Q         thermalNumber `json:"Q_per_m"`
	}
	var printed map[string]float64
	if err := thermalDecode(c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	// The figures of the case's description: thickness, k, h, diameter,
	// temperatures and time. It prints k, ρ, c and a rounded diffusivity; the
	// expected values rest on the diffusivity.
	const (
		thick, k, h, alpha  = 0.040, 63.9, 500, 18.8e-6
		start, oil, at, dia = -20, 60, 480, 1
		rho, c0             = 7832, 434
	)
	r, err := newChainRun([]wall.Layer{massive(thick, k, k/alpha)}, 40, start, filmFace(h, always(oil)), 0, always(0))
	if err != nil {
		return nil, err
	}
	const dt = 2
	r.until(at, dt)
	// Energy on the printed ρ and c, as in the source.
	rise := (r.chain.Heat(r.state) - start*r.chain.HeatCapacity()) / r.chain.HeatCapacity()
	note := gridNote(r, dt)
	q := -r.qIn // towards the oil
	row := func(what, unit string, got, v, tolerance float64, key string) Row {
		return Row{Quantity: what, Unit: unit, Computed: got, Expected: v, Tolerance: tolerance, Published: thermalPrinted(printed, key), Note: note}
	}
	return []Row{
		row("Biot number", "-", h*thick/k, want.Bi, relative(1e-4, want.Bi), ""),
		row("Fourier number", "-", alpha*at/(thick*thick), want.Fo, relative(1e-4, want.Fo), ""),
		row("temperature of the insulated face", "°C", r.tOuter, float64(want.Insulated), 0.1, "T_insulated"),
		row("temperature of the wetted face", "°C", r.tInner, float64(want.Wetted), 0.1, ""),
		row("flux at the oil side", "W/m²", q, float64(want.Flux), relative(0.01, float64(want.Flux)), "flux"),
		row("heat per metre of pipe", "J/m", -rho*c0*thick*math.Pi*dia*rise, float64(want.Q), relative(0.01, float64(want.Q)), "Q_per_m"),
	}, nil
}

func slabRows(c openCase) ([]Row, error) {
	var in struct {
		L     thermalNumber `json:"L"`
		K     thermalNumber `json:"k"`
		RhoC  thermalNumber `json:"rho_c"`
		H     thermalNumber `json:"h"`
		Ti    thermalNumber `json:"Ti"`
		Tf    thermalNumber `json:"Tf"`
		Times []float64     `json:"t_s"`
	}
	var want struct {
		Bi       float64
		Fo       []float64
		Centre   []float64 `json:"T_centre"`
		Mid      []float64 `json:"T_mid"`
		Surface  []float64 `json:"T_surface"`
		Fraction []float64 `json:"energy_fraction"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	l, k, rhoC, h := float64(in.L), float64(in.K), float64(in.RhoC), float64(in.H)
	ti, tf := float64(in.Ti), float64(in.Tf)
	dt := in.Times[0] / 60
	r, err := newChainRun([]wall.Layer{massive(l, k, rhoC)}, 30, ti, filmFace(h, always(tf)), 0, always(0))
	if err != nil {
		return nil, err
	}
	rows := []Row{{Quantity: "Biot number", Unit: "-", Computed: h * r.chain.Resistance(), Expected: want.Bi, Tolerance: relative(1e-6, want.Bi)}}
	for i, at := range in.Times {
		r.until(at, dt)
		row := func(what, unit string, got, v, tolerance float64) {
			rows = append(rows, Row{Quantity: fmt.Sprintf("%s at %g s", what, at), Unit: unit, Computed: got, Expected: v, Tolerance: tolerance, Note: gridNote(r, dt)})
		}
		row("Fourier number", "-", at/(r.chain.Resistance()*r.chain.HeatCapacity()), want.Fo[i], relative(1e-6, want.Fo[i]))
		row("temperature of the centre", "°C", r.tOuter, want.Centre[i], 0.05)
		row("temperature half way", "°C", r.depth(l/2), want.Mid[i], 0.05)
		row("temperature of the surface", "°C", r.tInner, want.Surface[i], 0.05)
		stored := r.chain.Heat(r.state) / r.chain.HeatCapacity()
		row("share of the heat given off", "-", (ti-stored)/(ti-tf), want.Fraction[i], 0.003)
	}
	return rows, nil
}

// caseLayers reads layers and turns them from the inside to the outside.
func caseLayers(text json.RawMessage) ([]wall.Layer, error) {
	var in struct {
		Layers []struct {
			D, Lambda float64
			RhoC      float64 `json:"rho_c"`
		} `json:"layers_outside_to_inside"`
	}
	if err := json.Unmarshal(text, &in); err != nil {
		return nil, err
	}
	var layers []wall.Layer
	for i := len(in.Layers) - 1; i >= 0; i-- {
		l := in.Layers[i]
		layers = append(layers, massive(l.D, l.Lambda, l.RhoC))
	}
	return layers, nil
}

func stepRows(c openCase) ([]Row, error) {
	var in struct {
		Hi    float64   `json:"h_i"`
		He    float64   `json:"h_e"`
		T0    float64   `json:"T0"`
		Tin   float64   `json:"T_in"`
		Tout  float64   `json:"T_out"`
		Times []float64 `json:"t_s"`
	}
	var want thermalTable
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	layers, err := caseLayers(c.Inputs)
	if err != nil {
		return nil, err
	}
	r, err := newChainRun(layers, 16, in.T0, filmFace(in.Hi, always(in.Tin)), in.He, always(in.Tout))
	if err != nil {
		return nil, err
	}
	const dt = 10
	var rows []Row
	for i, at := range in.Times {
		r.until(at, dt)
		for k, got := range []float64{r.tInner, r.tOuter, r.qIn, r.qOut} {
			v, tolerance, unit := want.Rows[i][k], 0.05, "°C"
			if k >= 2 {
				tolerance, unit = math.Max(0.3, relative(0.01, v)), "W/m²"
			}
			name := [...]string{"inner surface temperature", "outer surface temperature", "flux into the wall", "flux out of the wall"}[k]
			rows = append(rows, Row{Quantity: fmt.Sprintf("%s at %g s", name, at), Unit: unit, Computed: got, Expected: v, Tolerance: tolerance, Note: gridNote(r, dt)})
		}
	}
	return rows, nil
}

// waves are the complex amplitudes of a run's quantities over one period.
func waves(r *chainRun, period float64, steps int, quantities ...func() float64) []complex128 {
	sums := make([]complex128, len(quantities))
	from := r.at
	for n := range steps {
		r.until(from+period*float64(n+1)/float64(steps), period)
		turn := cmplx.Exp(complex(0, -2*math.Pi*float64(n+1)/float64(steps)))
		for i, q := range quantities {
			sums[i] += complex(q()*2/float64(steps), 0) * turn
		}
	}
	return sums
}

func periodicRows(c openCase) ([]Row, error) {
	var in struct {
		Rsi, Rse float64
		Period   float64 `json:"period_s"`
	}
	var want map[string]thermalNumber
	printed := map[string]float64{}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	if len(c.Published) > 0 {
		if err := thermalDecode(c.Published, &printed); err != nil {
			return nil, err
		}
	}
	layers, err := caseLayers(c.Inputs)
	if err != nil {
		return nil, err
	}
	matrix, err := wall.Dynamic(layers, in.Rsi, in.Rse, in.Period)
	if err != nil {
		return nil, err
	}
	chain, note, err := periodicChain(layers, in.Rsi, in.Rse, in.Period)
	if err != nil {
		return nil, err
	}
	var rows []Row
	for _, by := range []struct {
		name, note string
		d          wall.Dynamics
	}{{"layer matrices", "", matrix}, {"chain", note, chain}} {
		for _, q := range []struct {
			key, quantity, unit string
			value               float64
		}{
			{"U", "transmittance", "W/(m²·K)", by.d.U},
			{"Y11", "inner admittance", "W/(m²·K)", by.d.Y11},
			{"dt_Y11", "lead of the inner admittance", "h", by.d.LeadY11 / 3600},
			{"Y22", "outer admittance", "W/(m²·K)", by.d.Y22},
			{"dt_Y22", "lead of the outer admittance", "h", by.d.LeadY22 / 3600},
			{"Y12", "periodic transmittance", "W/(m²·K)", by.d.Y12},
			{"dt_Y12", "lead of the periodic transmittance", "h", by.d.LeadY12 / 3600},
			{"f", "decrement factor", "-", by.d.Decrement},
			{"kappa1", "areal heat capacity, inside", "J/(m²·K)", by.d.Kappa1},
			{"kappa2", "areal heat capacity, outside", "J/(m²·K)", by.d.Kappa2},
		} {
			v, ok := want[q.key]
			if !ok {
				return nil, fmt.Errorf("%s is not expected", q.key)
			}
			tolerance := relative(1e-3, float64(v))
			if q.unit == "h" {
				tolerance = 0.05
			}
			rows = append(rows, Row{Quantity: q.quantity + ", " + by.name, Unit: q.unit, Computed: q.value, Expected: float64(v),
				Tolerance: tolerance, Published: thermalPrinted(printed, q.key), Note: by.note})
		}
	}
	return rows, nil
}

// periodicChain runs a chain until it swings evenly, driven from the inside and
// then from the outside.
func periodicChain(layers []wall.Layer, rsi, rse, period float64) (wall.Dynamics, string, error) {
	const cells, steps, warmUp = 80, 480, 8
	omega := 2 * math.Pi / period
	swing := func(at float64) float64 { return math.Cos(omega * at) }
	drive := func(inner, outer func(float64) float64) (into, out complex128, r *chainRun, err error) {
		r, err = newChainRun(layers, cells, 0, filmFace(1/rsi, inner), 1/rse, outer)
		if err != nil {
			return 0, 0, nil, err
		}
		r.until(warmUp*period, period/steps)
		q := waves(r, period, steps, func() float64 { return r.qIn }, func() float64 { return r.qOut })
		return q[0], q[1], r, nil
	}
	y11, through, r, err := drive(swing, always(0))
	if err != nil {
		return wall.Dynamics{}, "", err
	}
	back, leaving, _, err := drive(always(0), swing)
	if err != nil {
		return wall.Dynamics{}, "", err
	}
	if cmplx.Abs(through+back) > 1e-6*cmplx.Abs(through) {
		return wall.Dynamics{}, "", errors.New("the chain passes heat differently in its two directions")
	}
	y22, y12 := -leaving, through
	lead := func(y complex128) float64 { return cmplx.Phase(y) / omega }
	d := wall.Dynamics{
		U:   1 / (rsi + r.chain.Resistance() + rse),
		Y11: cmplx.Abs(y11), LeadY11: lead(y11), Y22: cmplx.Abs(y22), LeadY22: lead(y22), Y12: cmplx.Abs(y12), LeadY12: lead(y12),
		Kappa1: cmplx.Abs(y11-y12) / omega, Kappa2: cmplx.Abs(y22-y12) / omega,
	}
	if d.LeadY12 > 0 {
		d.LeadY12 -= period
	}
	d.Decrement = d.Y12 / d.U
	return d, gridNote(r, period/steps), nil
}

func groundRows(c openCase) ([]Row, error) {
	var in struct {
		K      thermalNumber `json:"k"`
		RhoC   thermalNumber `json:"rho_c"`
		A      thermalNumber `json:"A"`
		P      thermalNumber `json:"P"`
		Depths []float64     `json:"depths_m"`
	}
	var want struct {
		Depth     thermalNumber `json:"penetration_depth"`
		Amplitude []float64     `json:"amplitude_K"`
		Lag       []float64     `json:"lag_h"`
		Flux      thermalNumber `json:"flux_amplitude"`
		Lead      float64       `json:"flux_lead_fraction_of_period"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	k, rhoC, a, period := float64(in.K), float64(in.RhoC), float64(in.A), float64(in.P)
	omega := 2 * math.Pi / period
	surface := func(_, _, at float64) float64 { return a * math.Cos(omega*at) }
	// Fine near the surface, and deep enough for the wave to die out.
	const years, steps = 12, 480
	r, err := newChainRun([]wall.Layer{massive(2, k, rhoC), massive(6, k, rhoC), massive(22, k, rhoC)}, 80, 0, surface, math.Inf(1), always(0))
	if err != nil {
		return nil, err
	}
	r.until(years*period, period/steps)
	quantities := []func() float64{func() float64 { return r.qIn }}
	for _, x := range in.Depths {
		quantities = append(quantities, func() float64 { return r.depth(x) })
	}
	w := waves(r, period, steps, quantities...)
	note := fmt.Sprintf("%s, %d years from rest", gridNote(r, period/steps), years)
	depth := wall.PenetrationDepth(k, rhoC/1000, 1000, period)
	rows := []Row{
		{Quantity: "penetration depth", Unit: "m", Computed: depth, Expected: float64(want.Depth), Tolerance: relative(2e-3, float64(want.Depth))},
		{Quantity: "amplitude of the surface flux", Unit: "W/m²", Computed: cmplx.Abs(w[0]), Expected: float64(want.Flux), Tolerance: relative(2e-3, float64(want.Flux)), Note: note},
		{Quantity: "lead of the surface flux", Unit: "periods", Computed: cmplx.Phase(w[0]) / (2 * math.Pi), Expected: want.Lead, Tolerance: relative(2e-3, want.Lead), Note: note},
	}
	for i, x := range in.Depths {
		lag := -cmplx.Phase(w[i+1]) / omega / 3600
		rows = append(rows,
			Row{Quantity: fmt.Sprintf("amplitude at %g m", x), Unit: "K", Computed: cmplx.Abs(w[i+1]), Expected: want.Amplitude[i], Tolerance: relative(2e-3, want.Amplitude[i]), Note: note},
			Row{Quantity: fmt.Sprintf("lag at %g m", x), Unit: "h", Computed: lag, Expected: want.Lag[i], Tolerance: relative(2e-3, want.Lag[i]), Note: note})
	}
	return rows, nil
}

func sphereRows(c openCase) ([]Row, error) {
	var in struct {
		D         thermalNumber
		Rho, C, H float64
	}
	var want struct{ Tau, T thermalNumber }
	var printed map[string]float64
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	// Volume over area of a sphere is D/6; next to no resistance makes it lumped.
	lump := wall.Layer{Thickness: float64(in.D) / 6, Density: in.Rho, SpecificHeat: in.C, Resistance: 1e-7}
	const start, gas, target, dt = 25, 200, 199, 0.005
	r, err := newChainRun([]wall.Layer{lump}, 2, start, filmFace(in.H, always(gas)), 0, always(0))
	if err != nil {
		return nil, err
	}
	// When the surface passes a temperature, between steps on a logarithm.
	pass := func(t float64) float64 {
		before, at := math.Log(gas-start), r.at
		if r.at > 0 {
			before = math.Log(gas - r.tInner)
		}
		for r.tInner < t || r.at == 0 {
			if r.at > 0 {
				before, at = math.Log(gas-r.tInner), r.at
			}
			r.step(dt)
		}
		after := math.Log(gas - r.tInner)
		return at + (r.at-at)*(before-math.Log(gas-t))/(before-after)
	}
	tau := pass(gas - (gas-start)/math.E)
	at := pass(target)
	note := gridNote(r, dt)
	return []Row{
		{Quantity: "time constant, when 1/e of the difference is left", Unit: "s", Computed: tau, Expected: float64(want.Tau), Tolerance: relative(5e-3, float64(want.Tau)), Published: thermalPrinted(printed, "tau_s"), Note: note},
		{Quantity: "time to 199 °C", Unit: "s", Computed: at, Expected: float64(want.T), Tolerance: relative(5e-3, float64(want.T)), Published: thermalPrinted(printed, "t_s"), Note: note},
	}, nil
}

func boxRows(c openCase) ([]Row, error) {
	var in struct {
		C      thermalNumber
		UA     thermalNumber
		P      thermalNumber
		T0     thermalNumber
		Tm     thermalNumber
		A      thermalNumber
		Peak   thermalNumber `json:"t_peak"`
		Period thermalNumber `json:"period"`
		Times  []float64     `json:"t_s"`
	}
	var want struct {
		T   []float64
		Tau thermalNumber
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	outdoors := func(at float64) float64 {
		return float64(in.Tm) + float64(in.A)*math.Cos(2*math.Pi*(at-float64(in.Peak))/float64(in.Period))
	}
	// One square metre of a wall without resistance: the heater feeds its inner
	// face, the box's losses leave at its outer one.
	lump := wall.Layer{Thickness: 1, Density: 1, SpecificHeat: float64(in.C), Resistance: 1e-7}
	const dt = 300
	r, err := newChainRun([]wall.Layer{lump}, 2, float64(in.T0), fluxFace(float64(in.P)), float64(in.UA), outdoors)
	if err != nil {
		return nil, err
	}
	rows := []Row{{Quantity: "time constant", Unit: "s", Computed: r.chain.HeatCapacity() / float64(in.UA), Expected: float64(want.Tau), Tolerance: relative(1e-9, float64(want.Tau))}}
	for i, at := range in.Times {
		r.until(at, dt)
		rows = append(rows, Row{Quantity: fmt.Sprintf("temperature at %g s", at), Unit: "°C", Computed: r.state[0], Expected: want.T[i], Tolerance: 0.01, Note: gridNote(r, dt)})
	}
	return rows, nil
}
