package verify

import (
	"context"
	"fmt"
	"math"
	"strconv"

	"hackle/air"
	"hackle/wall"
)

var moistureTitles = [...]thermalTitle{
	{"GL-01", "Indoor climate by month and the least surface temperature factor", "EN 15026:2007 annex C, EN ISO 13788:2012; TSG-1-004:2022 control example"},
	{"GL-02", "Condensation between concrete and insulation, month by month", "EN ISO 13788:2012 clause 6; TSG-1-004:2022 tables 8.2 and 8.3"},
	{"GL-03", "Flat roof of timber without a vapour barrier", "EN ISO 13788:2012 clause 6; active set of the obstacle problem"},
	{"GL-04", "Wall with two condensation planes", "EN ISO 13788:2012 clause 6; active set of the obstacle problem"},
	{"GL-05", "A winter of constant climate", "EN ISO 13788:2012, constant climate of 90 days"},
	{"HM-01", "Heat and moisture entering a half-space together", "EN 15026:2007, annex A, limits of tables A.1 and A.2; 400 cells"},
	{"HM-02", "Vapour entering a half-space of linear sorption", "Conduction of Heat in Solids, section 2.4; error function"},
	{"HM-03", "Vapour entering a board through a film", "The Mathematics of Diffusion, slab with surface evaporation; series"},
	{"HM-04", "Moisture buffered in a day of 8 h humid and 16 h dry", "Nordtest moisture buffer value, 2005; Fourier series"},
}

// moistureChecks computes condensation by the monthly method, and unsteady
// moisture with the moisture chain and the coupled solver.
func moistureChecks(ctx context.Context) ([]Check, error) {
	compute := map[string]func(openCase) ([]Row, error){
		"GL-01": roomClimateRows, "GL-02": sandwichRows, "GL-03": planesRows, "GL-04": planesRows, "GL-05": winterBlockRows,
		"HM-01": halfSpaceMoistureRows, "HM-02": vapourStepRows, "HM-03": filmBoardRows, "HM-04": bufferRows,
	}
	return thermalTopic(ctx, "04_moisture.json", "Moisture in walls", moistureTitles[:],
		func(c openCase) ([]Row, string, error) {
			rows, err := compute[c.ID](c)
			return rows, "", err
		})
}

var monthNames = [...]string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"}

const gram = 1e-3 // [kg]

func roomClimateRows(c openCase) ([]Row, error) {
	var in struct {
		T []float64 `json:"T_e"`
	}
	type climate struct {
		T      []float64 `json:"T_i"`
		RH     []float64 `json:"RH_i_pct"`
		Factor []float64 `json:"f_Rsi_min"`
	}
	var want, printed climate
	outdoors, err := outdoorVapour(c)
	if err != nil {
		return nil, err
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	if len(want.T) != 12 || len(want.RH) != 12 || len(want.Factor) != 12 || len(printed.Factor) != 12 || len(in.T) != 12 || len(outdoors) != 12 {
		return nil, fmt.Errorf("not twelve months")
	}
	var rows []Row
	for i, tOut := range in.T {
		t, phi := wall.RoomClimate(tOut)
		factor := wall.LeastSurfaceFactor(t, phi*wall.Saturation13788(t), tOut, 0.8)
		rows = append(rows,
			Row{Quantity: "indoor temperature, " + monthNames[i], Unit: "°C", Computed: t, Expected: want.T[i], Tolerance: 1e-9},
			Row{Quantity: "indoor humidity, " + monthNames[i], Unit: "%", Computed: 100 * phi, Expected: want.RH[i], Tolerance: 1e-9},
			Row{Quantity: "least surface factor, " + monthNames[i], Unit: "-", Computed: factor, Expected: want.Factor[i], Tolerance: 1e-3,
				Published: &printed.Factor[i]},
		)
	}
	return rows, nil
}

// outdoorVapour returns the vapour pressures of a case's outdoor months [Pa].
func outdoorVapour(c openCase) ([]float64, error) {
	var in struct {
		T  []float64 `json:"T_e"`
		RH []float64 `json:"RH_e_pct"`
	}
	if err := thermalDecode(c.Inputs, &in); err != nil {
		return nil, err
	}
	if len(in.T) != len(in.RH) {
		return nil, fmt.Errorf("%d temperatures, %d humidities", len(in.T), len(in.RH))
	}
	pv := make([]float64, len(in.T))
	for i := range pv {
		pv[i] = in.RH[i] / 100 * wall.Saturation13788(in.T[i])
	}
	return pv, nil
}

// vapourLayers are a case's layers, turned to run from the inside.
type vapourLayers []struct {
	D      float64 `json:"d"`
	Lambda float64 `json:"lambda"`
	Mu     float64 `json:"mu"`
}

func (l vapourLayers) inward() []wall.VapourLayer {
	out := make([]wall.VapourLayer, len(l))
	for i, v := range l {
		out[len(l)-1-i] = wall.VapourLayer{Resistance: v.D / v.Lambda, Sd: v.D * v.Mu}
	}
	return out
}

// plane returns the index, from the inside, of the plane that lies a given
// vapour resistance below the outer surface [m].
func (l vapourLayers) plane(sd float64) (int, error) {
	sum := 0.0
	for i, v := range l {
		sum += v.D * v.Mu
		if math.Abs(sum-sd) < 1e-6*sd {
			return len(l) - 1 - i, nil
		}
	}
	return 0, fmt.Errorf("no plane at sd %v m", sd)
}

// vapourYear is a case of the monthly method.
type vapourYear struct {
	Layers vapourLayers `json:"layers_outside_to_inside"`
	Rsi    float64      `json:"Rsi"`
	Rse    float64      `json:"Rse"`
	TOut   []float64    `json:"T_e"`
	RHOut  []float64    `json:"RH_e_pct"`
	TIn    []float64    `json:"T_i"`
	RHIn   []float64    `json:"RH_i_pct"`
	Delta  float64      `json:"delta0"`
	Days   []float64    `json:"days"`
}

// run computes twelve months from the month of index first on, and returns
// them in calendar order.
func (y vapourYear) run(first int) ([]wall.PlaneMoisture, error) {
	if len(y.Days) != 12 || len(y.TIn) != 12 || len(y.TOut) != 12 || len(y.RHIn) != 12 || len(y.RHOut) != 12 {
		return nil, fmt.Errorf("not twelve months")
	}
	if y.Delta != wall.AirPermeability {
		return nil, fmt.Errorf("permeability of air %v", y.Delta)
	}
	var periods []wall.VapourPeriod
	for k := range 12 {
		i := (first + k) % 12
		periods = append(periods, wall.VapourPeriod{
			Duration: y.Days[i] * 86400,
			TIn:      y.TIn[i], PvIn: y.RHIn[i] / 100 * wall.Saturation13788(y.TIn[i]),
			TOut: y.TOut[i], PvOut: y.RHOut[i] / 100 * wall.Saturation13788(y.TOut[i]),
		})
	}
	got, err := wall.InterstitialCondensation(y.Layers.inward(), y.Rsi, y.Rse, periods)
	if err != nil {
		return nil, err
	}
	year := make([]wall.PlaneMoisture, 12)
	for k := range got {
		year[(first+k)%12] = got[k]
	}
	return year, nil
}

func sandwichRows(c openCase) ([]Row, error) {
	var in vapourYear
	var want struct {
		Change  []float64 `json:"gc_g_per_m2"`
		Stored  []float64 `json:"Ma_g_per_m2"`
		April   float64   `json:"april_potential_evaporation_g_per_m2"`
		Surface []float64 `json:"T_si"`
		Plane   float64   `json:"plane_sd_from_outside_m"`
	}
	var printed struct {
		Change  map[string]float64 `json:"gc_rounded"`
		Surface []float64          `json:"T_si"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	year, err := in.run(10)
	if err != nil {
		return nil, err
	}
	plane, err := in.Layers.plane(want.Plane)
	if err != nil {
		return nil, err
	}
	if len(want.Change) != 12 || len(want.Stored) != 12 || len(want.Surface) != 12 || len(printed.Surface) != 12 {
		return nil, fmt.Errorf("not twelve months expected")
	}
	const april = 3
	rows := []Row{{Quantity: "drying that April offers", Unit: "g/m²", Computed: year[april].Offered[plane] / gram, Expected: want.April, Tolerance: 0.1,
		Published: thermalPrinted(printed.Change, "Apr")}}
	for i, m := range year {
		condensed := Row{Quantity: "condensed in " + monthNames[i], Unit: "g/m²", Computed: m.Change[plane] / gram, Expected: want.Change[i], Tolerance: 0.1}
		if i != april {
			condensed.Published = thermalPrinted(printed.Change, monthNames[i][:3])
		}
		rows = append(rows, condensed,
			Row{Quantity: "condensate at the end of " + monthNames[i], Unit: "g/m²", Computed: m.Stored[plane] / gram, Expected: want.Stored[i], Tolerance: 0.3},
			Row{Quantity: "inner surface, " + monthNames[i], Unit: "°C", Computed: m.Temp[0], Expected: want.Surface[i], Tolerance: 0.05,
				Published: &printed.Surface[i]})
		for k := range m.Stored {
			if k != plane {
				rows = append(rows, Row{Quantity: fmt.Sprintf("condensate at plane %d from inside, %s", k+1, monthNames[i]), Unit: "g/m²",
					Computed: m.Stored[k] / gram, Expected: 0, Tolerance: 1e-9})
			}
		}
	}
	return rows, nil
}

func planesRows(c openCase) ([]Row, error) {
	var in vapourYear
	var want struct {
		Planes []float64   `json:"planes_sd_from_outside_m"`
		Change [][]float64 `json:"gc_g_per_m2_by_plane"`
		Stored [][]float64 `json:"Ma_g_per_m2_by_plane"`
		U      float64     `json:"U"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	year, err := in.run(9)
	if err != nil {
		return nil, err
	}
	resistance := in.Rsi + in.Rse
	for _, l := range in.Layers {
		resistance += l.D / l.Lambda
	}
	rows := []Row{{Quantity: "transmittance", Unit: "W/(m²·K)", Computed: 1 / resistance, Expected: want.U, Tolerance: relative(1e-6, want.U)}}
	if len(want.Change) != len(want.Planes) || len(want.Stored) != len(want.Planes) {
		return nil, fmt.Errorf("%d planes, %d and %d expected", len(want.Planes), len(want.Change), len(want.Stored))
	}
	named := map[int]bool{}
	for k, sd := range want.Planes {
		plane, err := in.Layers.plane(sd)
		if err != nil {
			return nil, err
		}
		named[plane] = true
		if len(want.Change[k]) != 12 || len(want.Stored[k]) != 12 {
			return nil, fmt.Errorf("plane %d: not twelve months expected", k+1)
		}
		most := func(v []float64) float64 {
			m := 0.0
			for _, x := range v {
				m = math.Max(m, math.Abs(x))
			}
			return m
		}
		changeLimit := math.Max(0.2, 0.005*most(want.Change[k]))
		storedLimit := math.Max(0.3, 0.01*most(want.Stored[k]))
		for i, m := range year {
			rows = append(rows,
				Row{Quantity: fmt.Sprintf("condensed at sd %.4g m in %s", sd, monthNames[i]), Unit: "g/m²",
					Computed: m.Change[plane] / gram, Expected: want.Change[k][i], Tolerance: changeLimit},
				Row{Quantity: fmt.Sprintf("condensate at sd %.4g m at the end of %s", sd, monthNames[i]), Unit: "g/m²",
					Computed: m.Stored[plane] / gram, Expected: want.Stored[k][i], Tolerance: storedLimit})
		}
	}
	for k := range in.Layers {
		if named[k] {
			continue
		}
		most := 0.0
		for _, m := range year {
			most = math.Max(most, m.Stored[k])
		}
		rows = append(rows, Row{Quantity: fmt.Sprintf("most condensate at plane %d from inside", k+1), Unit: "g/m²", Computed: most / gram, Expected: 0, Tolerance: 1e-9})
	}
	return rows, nil
}

func winterBlockRows(c openCase) ([]Row, error) {
	var in struct {
		Layers vapourLayers `json:"layers_outside_to_inside"`
		Rsi    float64      `json:"Rsi"`
		Rse    float64      `json:"Rse"`
		TIn    float64      `json:"T_i"`
		RHIn   float64      `json:"RH_i"`
		TOut   float64      `json:"T_e"`
		RHOut  float64      `json:"RH_e"`
		Days   float64      `json:"days"`
	}
	var want struct {
		T          []float64 `json:"T_nodes_outside_to_inside"`
		Saturation []float64 `json:"psat_nodes_Pa"`
		P          []float64 `json:"p_nodes_Pa"`
		Nodes      []int     `json:"condensation_nodes"`
		Condensate []float64 `json:"condensate_g_per_m2"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	got, err := wall.InterstitialCondensation(in.Layers.inward(), in.Rsi, in.Rse, []wall.VapourPeriod{{
		Duration: in.Days * 86400,
		TIn:      in.TIn, PvIn: in.RHIn / 100 * wall.Saturation13788(in.TIn),
		TOut: in.TOut, PvOut: in.RHOut / 100 * wall.Saturation13788(in.TOut),
	}})
	if err != nil {
		return nil, err
	}
	m := got[0]
	n := len(m.Temp)
	if len(want.T) != n || len(want.Saturation) != n || len(want.P) != n || len(want.Nodes) != len(want.Condensate) {
		return nil, fmt.Errorf("%d planes, expected %d", n, len(want.T))
	}
	condensate := make([]float64, n)
	for k, node := range want.Nodes {
		condensate[node] = want.Condensate[k]
	}
	var rows []Row
	for k := range n {
		i := n - 1 - k // from inside
		rows = append(rows,
			Row{Quantity: fmt.Sprintf("plane %d from outside", k), Unit: "°C", Computed: m.Temp[i], Expected: want.T[k], Tolerance: 0.01},
			Row{Quantity: fmt.Sprintf("saturation pressure at plane %d", k), Unit: "Pa", Computed: wall.Saturation13788(m.Temp[i]), Expected: want.Saturation[k], Tolerance: relative(1e-3, want.Saturation[k])},
			Row{Quantity: fmt.Sprintf("vapour pressure at plane %d", k), Unit: "Pa", Computed: m.Pressure[i], Expected: want.P[k], Tolerance: relative(1e-3, want.P[k])},
			Row{Quantity: fmt.Sprintf("condensate at plane %d", k), Unit: "g/m²", Computed: m.Stored[i] / gram, Expected: condensate[k], Tolerance: math.Max(1e-9, relative(5e-3, condensate[k]))},
		)
	}
	return rows, nil
}

// benchmarkMedium is the material of EN 15026:2007, annex A.
func benchmarkMedium() *wall.Medium {
	const (
		full = 146.0 // [kg/m³]
		a    = 8e-8  // [1/Pa]
		n, m = 1.6, 0.375
		ref  = 20.0          // temperature of the isotherm [°C]
		r    = 8.314 / 0.018 // gas constant of vapour [J/(kg·K)]
	)
	content := func(phi, _ float64) (w, slope float64) {
		s, rise := wall.KelvinSuction(phi, ref)
		x := math.Pow(a*s, n)
		w = full * math.Pow(1+x, -m)
		return w, -m * w / (1 + x) * n * x / s * rise
	}
	return &wall.Medium{
		Content: content,
		Vapour: func(phi, t float64) float64 {
			w, _ := content(phi, ref)
			dry := 1 - w/full
			return 26.1e-6 / (200 * r * (t + 273.15)) * dry / (0.503*dry*dry + 0.497)
		},
		Suction: func(phi float64) (s, slope float64) { return wall.KelvinSuction(phi, ref) },
		Liquid: func(phi float64) float64 {
			w, _ := content(phi, ref)
			u := w - 73
			return math.Exp(-39.2619 + u*(0.0704+u*(-1.7420e-4+u*(-2.7953e-6+u*(-1.1566e-7+u*2.5969e-9)))))
		},
		Conductivity: func(w float64) float64 { return 1.5 + 0.0158*w },
		HeatCapacity: 1.824e6,
	}
}

func halfSpaceMoistureRows(c openCase) ([]Row, error) {
	var in struct {
		T0     thermalNumber `json:"T0"`
		RH0    thermalNumber `json:"RH0"`
		Ts     thermalNumber `json:"Ts"`
		RHs    thermalNumber `json:"RHs"`
		Days   []float64
		XWater map[string][]float64 `json:"x_w_m"`
		XTemp  []float64            `json:"x_T_m"`
	}
	var want struct {
		Water   map[string][]float64 `json:"w_kg_per_m3"`
		Temp    map[string][]float64 `json:"T_C"`
		Initial float64              `json:"w_initial"`
		Surface float64              `json:"w_surface"`
	}
	type band struct {
		X   []float64 `json:"x_m"`
		Min []float64 `json:"min"`
		Max []float64 `json:"max"`
	}
	var printed struct {
		Water map[string]band `json:"w_limits"`
		Temp  map[string]band `json:"T_limits"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	medium := benchmarkMedium()
	var cells []wall.CoupledCell
	var middle []float64
	// Half a millimetre at the face, growing inwards by 3 % of the depth.
	depth := 0.0
	for thickness := 5e-4; depth < 25; thickness *= 1.03 {
		cells = append(cells, wall.CoupledCell{Thickness: thickness, Medium: medium})
		middle = append(middle, depth+thickness/2)
		depth += thickness
	}
	half, err := wall.NewCoupled(cells, float64(in.RH0)/100, float64(in.T0))
	if err != nil {
		return nil, err
	}
	face := wall.CoupledFace{T: float64(in.Ts), Phi: float64(in.RHs) / 100, Film: math.Inf(1), Vapour: math.Inf(1)}
	surface, _ := medium.Content(face.Phi, face.T)
	rows := []Row{
		{Quantity: "water at the start", Unit: "kg/m³", Computed: half.Content(0), Expected: want.Initial, Tolerance: 1e-3},
		{Quantity: "water at the surface", Unit: "kg/m³", Computed: surface, Expected: want.Surface, Tolerance: 1e-3},
	}
	before := half.Water()
	at, steps := 0.0, 0
	for _, day := range in.Days {
		n, err := half.Run((day-at)*86400, 1, 0.01, face, wall.CoupledFace{})
		if err != nil {
			return nil, err
		}
		at = day
		steps += n
		key := strconv.FormatFloat(day, 'f', -1, 64)
		compare := func(name, unit string, value func(int) float64, x, expected []float64, limits band, tolerance float64) error {
			if len(x) != len(expected) || len(limits.Min) != len(x) || len(limits.Max) != len(x) {
				return fmt.Errorf("day %s: %d places, %d expected", key, len(x), len(expected))
			}
			for k, at := range x {
				i := 1
				for middle[i] < at {
					i++
				}
				f := (at - middle[i-1]) / (middle[i] - middle[i-1])
				got := value(i-1)*(1-f) + value(i)*f
				centre, width := (limits.Min[k]+limits.Max[k])/2, (limits.Max[k]-limits.Min[k])/2
				where := fmt.Sprintf("%s at %g m after %s d", name, at, key)
				rows = append(rows,
					Row{Quantity: where, Unit: unit, Computed: got, Expected: expected[k], Tolerance: tolerance},
					Row{Quantity: where + ", published limits", Unit: unit, Computed: got, Expected: centre, Tolerance: width,
						Note: fmt.Sprintf("%g to %g", limits.Min[k], limits.Max[k])})
			}
			return nil
		}
		if err := compare("water", "kg/m³", half.Content, in.XWater[key], want.Water[key], printed.Water[key], 1); err != nil {
			return nil, err
		}
		if err := compare("temperature", "°C", func(i int) float64 { return half.Temp[i] }, in.XTemp, want.Temp[key], printed.Temp[key], 0.1); err != nil {
			return nil, err
		}
	}
	rows = append(rows, Row{Quantity: "water entered less water stored", Unit: "kg/m²", Computed: half.Entered - half.Left - (half.Water() - before), Expected: 0,
		Tolerance: 1e-6 * half.Entered, Note: fmt.Sprintf("%d cells, %d steps, %.3g kg/m² entered", len(cells), steps, half.Entered)})
	return rows, nil
}

// vapourRun carries a moisture chain of one linear material, all at one
// temperature, through time.
type vapourRun struct {
	chain         *wall.MoistChain
	content, temp []float64
	depth         []float64 // of the cell middles [m]
	work          wall.MoistWork
	saturation    float64 // [Pa]
	slope         float64 // [kg/m³]
	face          float64 // vapour pressure at the face [Pa]
	flux          float64 // into the face [kg/(m²·s)]
}

func newVapourRun(thicknesses []float64, cells int, permeability, slope, t, phi float64) (*vapourRun, error) {
	var layers []wall.Layer
	var moist []wall.Moist
	isotherm := wall.LinearIsotherm(slope)
	for _, thickness := range thicknesses {
		layers = append(layers, massive(thickness, 0.1, 1e6))
		moist = append(moist, wall.Moist{MuDry: wall.AirPermeability / permeability, Sorption: isotherm})
	}
	heat, err := wall.NewChain(layers, wall.Grid{MinCells: cells})
	if err != nil {
		return nil, err
	}
	chain, err := wall.NewMoistChain(heat, layers, moist)
	if err != nil {
		return nil, err
	}
	r := &vapourRun{chain: chain, saturation: air.SaturationPressureFast(t), slope: slope}
	r.content, r.temp = make([]float64, chain.Cells()), make([]float64, chain.Cells())
	for i := range r.temp {
		r.temp[i] = t
		r.depth = append(r.depth, heat.Depth(i))
	}
	chain.FillHumidity(r.content, phi, r.temp)
	return r, nil
}

// step advances by dt [s] with air of humidity phi [-] behind a film
// [kg/(m²·s·Pa)] before the face; the other face is sealed.
func (r *vapourRun) step(dt, film, phi float64) {
	g, s := r.chain.Condense(dt, r.content, r.temp, 0, 0, &r.work)
	r.face = phi * r.saturation
	if !math.IsInf(film, 1) {
		r.face = (film*r.face + s) / (film + g)
	}
	r.flux = g*r.face - s
	r.chain.Advance(r.content, r.face, &r.work)
}

// until goes from one time to another [s], in steps that are a share of the
// time that has passed since the change at 0 [-].
func (r *vapourRun) until(from, to, share, film, phi float64) {
	for at := from; at < to; {
		dt := math.Min(math.Max(share*at, share), to-at)
		r.step(dt, film, phi)
		at += dt
	}
}

// humidity returns the relative humidity at a depth [m], linear between cells.
func (r *vapourRun) humidity(x float64) float64 {
	x0, phi0 := 0.0, r.face/r.saturation
	for i, x1 := range r.depth {
		phi1 := r.content[i] / r.slope
		if x <= x1 {
			return phi0 + (phi1-phi0)*(x-x0)/(x1-x0)
		}
		x0, phi0 = x1, phi1
	}
	return phi0
}

func vapourStepRows(c openCase) ([]Row, error) {
	var in struct {
		Delta thermalNumber `json:"delta_p"`
		Xi    thermalNumber `json:"xi"`
		T     thermalNumber `json:"T"`
		Phi0  float64       `json:"phi0"`
		PhiS  float64       `json:"phi_surface"`
		Times []float64     `json:"times_s"`
		X     []float64     `json:"x_m"`
	}
	var want struct {
		D      thermalNumber `json:"D"`
		Phi    [][]float64   `json:"phi_profiles_by_time"`
		Uptake []float64     `json:"uptake_kg_per_m2"`
		Flux   []float64     `json:"surface_flux_kg_per_m2s"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	if len(want.Phi) != len(in.Times) || len(want.Uptake) != len(in.Times) || len(want.Flux) != len(in.Times) {
		return nil, fmt.Errorf("%d times, expected %d", len(in.Times), len(want.Phi))
	}
	r, err := newVapourRun([]float64{0.005, 0.02, 0.075, 0.15}, 60, float64(in.Delta), float64(in.Xi), float64(in.T), in.Phi0)
	if err != nil {
		return nil, err
	}
	d := float64(in.Delta) * r.saturation / float64(in.Xi)
	rows := []Row{{Quantity: "diffusivity of moisture", Unit: "m²/s", Computed: d, Expected: float64(want.D), Tolerance: relative(0.01, float64(want.D))}}
	start, from := r.chain.Water(r.content), 0.0
	for k, at := range in.Times {
		r.until(from, at, 0.002, math.Inf(1), in.PhiS)
		from = at
		for j, x := range in.X {
			rows = append(rows, Row{Quantity: fmt.Sprintf("humidity at %g mm after %g h", x*1000, at/3600), Unit: "-", Computed: r.humidity(x), Expected: want.Phi[k][j], Tolerance: 0.002})
		}
		rows = append(rows,
			Row{Quantity: fmt.Sprintf("uptake after %g h", at/3600), Unit: "kg/m²", Computed: r.chain.Water(r.content) - start, Expected: want.Uptake[k], Tolerance: relative(0.01, want.Uptake[k])},
			Row{Quantity: fmt.Sprintf("flux after %g h", at/3600), Unit: "kg/(m²·s)", Computed: r.flux, Expected: want.Flux[k], Tolerance: relative(0.01, want.Flux[k])})
	}
	return rows, nil
}

func filmBoardRows(c openCase) ([]Row, error) {
	var in struct {
		L      thermalNumber `json:"L"`
		Delta  thermalNumber `json:"delta_p"`
		Xi     thermalNumber `json:"xi"`
		T      thermalNumber `json:"T"`
		Phi0   float64       `json:"phi0"`
		PhiAir float64       `json:"phi_air"`
		Beta   thermalNumber `json:"beta"`
		Times  []float64     `json:"times_s"`
	}
	var want struct {
		Bi       float64       `json:"Bi_m"`
		D        thermalNumber `json:"D"`
		Fraction []float64     `json:"fraction"`
		Phi      []float64     `json:"phi_surface"`
		Gain     thermalNumber `json:"equilibrium_gain_kg_per_m2"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	if len(want.Fraction) != len(in.Times) || len(want.Phi) != len(in.Times) {
		return nil, fmt.Errorf("%d times, expected %d", len(in.Times), len(want.Fraction))
	}
	// Both faces take up alike: half the board, sealed in its middle.
	r, err := newVapourRun([]float64{float64(in.L)}, 100, float64(in.Delta), float64(in.Xi), float64(in.T), in.Phi0)
	if err != nil {
		return nil, err
	}
	dry, _ := r.chain.Sd()
	start := r.chain.Water(r.content)
	full := make([]float64, len(r.content))
	r.chain.FillHumidity(full, in.PhiAir, r.temp)
	gain := r.chain.Water(full) - start
	d := float64(in.Delta) * r.saturation / float64(in.Xi)
	rows := []Row{
		{Quantity: "film number", Unit: "-", Computed: float64(in.Beta) * dry / wall.AirPermeability, Expected: want.Bi, Tolerance: relative(1e-9, want.Bi)},
		{Quantity: "diffusivity of moisture", Unit: "m²/s", Computed: d, Expected: float64(want.D), Tolerance: relative(0.01, float64(want.D))},
		// The expected gain is that of the whole board.
		{Quantity: "gain of the board in balance", Unit: "kg/m²", Computed: 2 * gain, Expected: float64(want.Gain), Tolerance: relative(1e-9, float64(want.Gain))},
	}
	from := 0.0
	for k, at := range in.Times {
		r.until(from, at, 0.002, float64(in.Beta), in.PhiAir)
		from = at
		rows = append(rows,
			Row{Quantity: fmt.Sprintf("share of the uptake after %g h", at/3600), Unit: "-", Computed: (r.chain.Water(r.content) - start) / gain, Expected: want.Fraction[k], Tolerance: 0.003},
			Row{Quantity: fmt.Sprintf("humidity at the surface after %g h", at/3600), Unit: "-", Computed: r.face / r.saturation, Expected: want.Phi[k], Tolerance: 0.003})
	}
	return rows, nil
}

func bufferRows(c openCase) ([]Row, error) {
	var in struct {
		Delta  thermalNumber `json:"delta_p"`
		Xi     thermalNumber `json:"xi"`
		T      thermalNumber `json:"T"`
		High   float64       `json:"RH_high"`
		Low    float64       `json:"RH_low"`
		Period thermalNumber `json:"period"`
		Share  float64       `json:"high_fraction"`
	}
	var want struct {
		B   thermalNumber `json:"b_m"`
		G   thermalNumber `json:"G"`
		MBV thermalNumber `json:"MBV"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	mean := (in.High*in.Share + in.Low*(1-in.Share)) / 100
	r, err := newVapourRun([]float64{0.005, 0.055}, 60, float64(in.Delta), float64(in.Xi), float64(in.T), mean)
	if err != nil {
		return nil, err
	}
	period := float64(in.Period)
	high := in.Share * period
	exchanged := 0.0
	const days = 20
	for range days {
		// Steps grow from each change of the air on.
		dry := r.chain.Water(r.content)
		r.until(0, high, 0.004, math.Inf(1), in.High/100)
		exchanged = r.chain.Water(r.content) - dry
		r.until(0, period-high, 0.004, math.Inf(1), in.Low/100)
	}
	b := wall.MoistureEffusivity(float64(in.Delta), float64(in.Xi), r.saturation)
	g := exchanged / gram
	return []Row{
		{Quantity: "moisture effusivity", Unit: "kg/(m²·Pa·√s)", Computed: b, Expected: float64(want.B), Tolerance: relative(0.015, float64(want.B))},
		{Quantity: "moisture exchanged in a day", Unit: "g/m²", Computed: g, Expected: float64(want.G), Tolerance: relative(0.015, float64(want.G))},
		{Quantity: "moisture buffer value", Unit: "g/(m²·%)", Computed: g / (in.High - in.Low), Expected: float64(want.MBV), Tolerance: relative(0.015, float64(want.MBV))},
	}, nil
}
