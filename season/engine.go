package season

import (
	"math"

	"hackle/air"
	"hackle/airflow"
	"hackle/internal/skyline"
	"hackle/wall"
)

const (
	gravity = airflow.Gravity // [m/s²]
	dryHeat = 1006.0          // of dry air [J/(kg·K)]
	ambient = 420e-6          // CO2 outdoors, volume fraction [-]
	massCO2 = 44.01 / 28.96
	kelvin  = 273.15
	// What faces hold before it runs or drips: films of a tenth and a twentieth
	// of a millimetre. Estimates; drops on wood and wax start to run in that range.
	filmHold = 0.10 // upright [kg/m²]
	dripHold = 0.05 // overhead [kg/m²]
	// dripAngle is the slope from which water under a board runs to the low edge
	// and no longer drips; an estimate. [deg]
	dripAngle = 10.0
	// floorHold is what a floor keeps as puddle before it runs out of the
	// entrance; an estimate. [kg/m²]
	floorHold = 0.5
	stillK    = 0.0247 // conductivity of air near 5 °C [W/(m·K)]
	stillVap  = 2.4e-5 // diffusivity of vapour in air near 5 °C [m²/s]
	stillCO2  = 1.5e-5 // diffusivity of CO2 in air near 5 °C [m²/s]
	// molarRatio of water to dry air. [-]
	molarRatio = 0.621945
)

// Ideal switches parts of the physics off, to compare with simpler references.
// The zero value is the full physics.
type Ideal struct {
	NoRadiation bool // no long wave inside the hive
	NoEdges     bool // no thermal bridges
	Tight       bool // no cracks
	NoUpright   bool // combs conduct sideways only
	NoSorption  bool // walls, boards and lid neither take up vapour nor let it through
	// OuterFilm fixes the conductance at every outer face, 0 for the weather's. [W/(m²·K)]
	OuterFilm float64
}

// outdoors is the boundary of one step.
type outdoors struct {
	temp     float64        // [°C]
	ratio    float64        // humidity ratio [kg/kg]
	pressure float64        // [Pa]
	wind     float64        // at the hive [m/s]
	push     [sides]float64 // wind pressure by side [Pa]
	film     [sides]float64 // conductance at the outer face, radiation included [W/(m²·K)]
	blown    [sides]float64 // convective part of it [W/(m²·K)]
	feels    [sides]float64 // temperature that conductance leads to: air, sky and sun together [°C]
	bank     *bank          // snow round the walls, nil without
}

// engine advances one compiled hive. It owns all scratch; nothing is shared.
type engine struct {
	*box
	ideal Ideal
	state
	heat, gas *skyline.Matrix
	work      []wall.Work
	damp      []wall.MoistWork
	rhs       []float64
	net       *airflow.State
	old       state     // at the start of the step
	combNew   []float64 // comb temperatures of the last round [°C]
	past      past
	cond      airflow.Conditions

	mass     []float64 // air through each link, relaxed [kg/s]
	residual []float64 // what the last pressures asked for beyond it [kg/s]
	taken    float64   // share of that which was taken [-]
	extra    []exchange
	swapped  []float64 // air overturned at each link [kg/s]

	film     []float64 // convective film of each surface [W/(m²·K)]
	farFilm  []float64
	rad      []float64 // radiative conductance per area [W/(m²·K)]
	farRad   []float64
	law      []faceLaw
	face     []float64 // temperature of each near face [°C]
	farFace  []float64
	outer    []float64   // temperature of each outer face [°C]
	vapour   []vapourLaw // of each surface
	pNear    []float64   // vapour pressure at each near face [Pa]
	pFar     []float64   // at each far face [Pa]
	owed     []float64   // vapour that walls took beyond what the air of each cell gave [kg]
	wetting  []float64   // water that came to each face in the last solution [kg/s]
	farWet   []float64
	combWet  []float64
	near     []latentHeat // heat of that water at each near face
	distant  []latentHeat // at each far face of a board
	onComb   []latentHeat
	mode     []wetMode
	mould    []wall.Mould
	combMode []wetMode
	farMode  []wetMode
	last     []float64 // temperatures of the previous round, for convergence
	zoneTemp []float64

	seam     []float64 // conductance from each comb to the air of its seams [W/K]
	store    []float64 // heat capacity of each comb with its stores [J/K]
	aside    []float64 // conductance from a core comb to the flank's of its slab [W/K]
	upward   []float64 // conductance to the comb above [W/K]
	above    []int     // that comb, -1 without
	wetFaces []wetFace

	source    []float64 // heat into each cell [W]
	swing     []float64 // its change with the cell's temperature, never positive [W/K]
	radiant   []float64 // heat into each zone [W]
	moisture  []float64 // vapour into each cell [kg/s]
	carbon    []float64 // CO2 into each cell [kg/s]
	ripening  []float64 // water that nectar gives to each cell in dry air [kg/s]
	drying    []float64 // its fall with the humidity ratio [kg/s]
	ripeSlope []float64 // its rise with the cell's temperature [kg/(s·K)]
	imposed   []float64 // air into each cell by fans and plumes [kg/s]
	fanOut    []float64 // air fanned out of each cell to outdoors [kg/s]
	plume     plume

	dt        float64 // of the present step [s]
	pressure  float64 // outdoors in it [Pa]
	faceTie   []tieAt
	combTie   []combTies
	larders   []larder
	dryChain  []*wall.Chain // of each surface as compiled, once it has been moistened
	conducts  []float64     // scratch of moisten, by wall cell [-]
	airVolume float64       // of all cells below the lid's own [m³]

	openWays []float64 // scales of the links without snow, nil while none narrows them

	rounds, newton int64 // work done, for the statistics
}

// past is the step before the present one, from which the stores of heat with
// long memory, shell and combs, are carried on to second order: the backward
// differentiation formula
//
//	C (3/2 T_n - 2 T_(n-1) + 1/2 T_(n-2)) = dt q_n
//
// which is an implicit Euler step of 2/3 dt from (4 T_(n-1) - T_(n-2))/3, so that
// everything made for Euler serves it. It damps what is stiff as Euler does.
// Source: Integration of stiff equations, PNAS 38 (1952) 235,
// doi:10.1073/pnas.38.3.235 (from memory; the order is tested).
type past struct {
	dt    float64   // length of that step, 0: none, and the step is Euler's [s]
	chain []float64 // wall cells at its start [°C]
	comb  []float64 // combs at its start [°C]
	from  []float64 // combs from which the present step sets out [°C]
	heat  float64   // gained by shell and combs in it [J]
}

// second reports whether a step of dt may lean on the one before.
func (p *past) second(dt float64) bool { return p.dt == dt && !math.IsInf(dt, 1) }

// euler is the length of the Euler step that a step of dt is made of. [s]
func (e *engine) euler(dt float64) float64 {
	if e.past.second(dt) {
		return dt * 2 / 3
	}
	return dt
}

// setOut turns the temperatures now into those from which the step sets out, and
// keeps them as past.
func (p *past) setOut(dt float64, now, before, out []float64) {
	if !p.second(dt) {
		copy(before, now)
		copy(out, now)
		return
	}
	for i, t := range now {
		out[i], before[i] = t+(t-before[i])/3, t
	}
}

// state is what a hive carries from one step to the next.
type state struct {
	temp    []float64 // air of each cell [°C]
	comb    []float64 // comb and stores [°C]
	chain   []float64 // wall cells, chain after chain [°C]
	content []float64 // water in the shell, moist chain after moist chain [kg/m³]
	ratio   []float64 // humidity ratio of each cell [kg/kg]
	co2     []float64 // mass fraction of each cell [kg/kg]
	water   []float64 // on each near face [kg]
	farWat  []float64 // on each far face of a board [kg]
	combWat []float64 // on comb faces [kg]
	ice     []float64 // frozen part of water [kg]
	farIce  []float64 // of farWat [kg]
	combIce []float64 // of combWat [kg]
	honey   []float64 // in the comb of each cell [kg]
}

// faceLaw is a wall condensed to its faces for one step.
type faceLaw struct {
	g, s          float64 // single-sided: flux in = g·T − s
	gAA, gAB, gBB float64
	sA, sB        float64
}

// vapourLaw is a wall condensed to its faces for vapour: flux in = g·p − s
// [kg/(m²·s)] by the pressure at the face [Pa].
type vapourLaw struct {
	g, s          float64 // single-sided
	gAA, gAB, gBB float64
	sA, sB        float64
}

// exchange is air swapped between a cell and another or outdoors, without net
// flow: wind turbulence at openings, overturning in free space.
type exchange struct {
	from, to int
	mass     float64 // [kg/s]
	opening  int     // index into Hive.Openings, -1 inside
}

// latentHeat is the heat that water sets free at a face as heat's solution takes
// it: linear in the face temperature, from the water of the round before. What
// the water of the last round sets free beyond that is owed, and paid in the
// next step, so that heat closes with water over time.
type latentHeat struct {
	base  float64 // at 0 °C [W]
	slope float64 // fall per kelvin of face temperature [W/K]
	debt  float64 // owed from earlier steps [J]
	short float64 // what the last round gave too little [J]
	// Vapour that the wall behind took and kept counts with the water: sorbed as the
	// last round had it, less what it passed on outward in the last step. [kg/s]
	sorbed, leaving float64
}

func (l *latentHeat) at(t float64) float64 { return l.base - l.slope*t }

// tieAt is where the two entries between a pair of unknowns lie in the values of
// the heat system.
type tieAt struct{ lower, upper int }

func placeTie(m *skyline.Matrix, i, j int) tieAt { return tieAt{m.Position(i, j), m.Position(j, i)} }

// combTies are the places of a comb's ties to its air, to the flank's comb and to
// the comb above.
type combTies struct{ air, aside, above tieAt }

// placeTies finds where faces and combs stand in the heat system, once for all.
func (e *engine) placeTies() {
	e.faceTie, e.combTie = make([]tieAt, len(e.faces)), make([]combTies, len(e.combs))
	for i := range e.faces {
		if p := e.partnerRow(&e.faces[i]); p >= 0 {
			e.faceTie[i] = placeTie(e.heat, e.cellRow[e.faces[i].cell], p)
		}
	}
	for i := range e.combs {
		r, cl := e.combRow[i], e.cells[e.combs[i].cell]
		t := &e.combTie[i]
		t.air = placeTie(e.heat, r, e.cellRow[e.combs[i].cell])
		if cl.column == core && e.columns > 1 {
			if j := e.cells[e.at(cl.slab, flank)].comb; j >= 0 {
				t.aside = placeTie(e.heat, r, e.combRow[j])
			}
		}
		if up := e.above[i]; up >= 0 {
			t.above = placeTie(e.heat, r, e.combRow[up])
		}
	}
}

// wetMode says how a face stands towards water in a step.
type wetMode uint8

const (
	dry      wetMode = iota
	wet              // exchanges vapour at its saturation pressure
	emptying         // gives off its last water in this step
)

func newEngine(b *box, ideal Ideal) *engine {
	e := &engine{box: b, ideal: ideal}
	n, f, m := len(b.cells), len(b.faces), len(b.combs)
	e.heat, e.gas = b.heat.Clone(), b.gas.Clone()
	e.rhs = make([]float64, max(b.rows, n))
	e.work = make([]wall.Work, f)
	e.damp, e.mould = make([]wall.MoistWork, f), make([]wall.Mould, f)
	e.vapour = make([]vapourLaw, f)
	e.owed = make([]float64, n)
	e.content = make([]float64, b.wetStates)
	e.net = b.net.NewState()
	e.cond = airflow.Conditions{
		Tolerance: 1e-7, Density: make([]float64, n), Viscosity: make([]float64, n),
		WindPressure: make([]float64, sides), Imposed: make([]float64, n), Scale: make([]float64, len(b.links)),
	}
	for i := range e.cond.Scale {
		e.cond.Scale[i] = 1
	}
	e.mass, e.residual, e.swapped = make([]float64, len(b.links)), make([]float64, len(b.links)), make([]float64, len(b.links))
	for _, s := range []*[]float64{&e.film, &e.farFilm, &e.rad, &e.farRad, &e.face, &e.farFace, &e.outer, &e.pNear, &e.pFar, &e.wetting, &e.farWet, &e.water, &e.farWat, &e.ice, &e.farIce} {
		*s = make([]float64, f)
	}
	e.law = make([]faceLaw, f)
	e.near, e.distant, e.onComb = make([]latentHeat, f), make([]latentHeat, f), make([]latentHeat, m)
	e.mode, e.farMode, e.combMode = make([]wetMode, f), make([]wetMode, f), make([]wetMode, m)
	for _, s := range []*[]float64{&e.temp, &e.ratio, &e.co2, &e.last, &e.source, &e.swing, &e.moisture, &e.carbon, &e.ripening, &e.drying, &e.ripeSlope, &e.imposed, &e.fanOut} {
		*s = make([]float64, n)
	}
	for _, s := range []*[]float64{&e.old.temp, &e.old.ratio, &e.old.co2} {
		*s = make([]float64, n)
	}
	e.old.water, e.old.farWat = make([]float64, f), make([]float64, f)
	for _, s := range []*[]float64{&e.seam, &e.store, &e.aside, &e.upward, &e.comb, &e.combNew, &e.old.combWat, &e.combWat, &e.combIce, &e.honey, &e.combWet} {
		*s = make([]float64, m)
	}
	e.above = make([]int, m)
	for i := range e.above {
		e.above[i] = b.combAbove(i)
	}
	e.radiant = make([]float64, len(b.zones))
	e.zoneTemp = make([]float64, len(b.zones))
	e.dryChain, e.conducts = make([]*wall.Chain, f), make([]float64, b.states)
	e.chain, e.past.chain = make([]float64, b.states), make([]float64, b.states)
	e.past.comb, e.past.from = make([]float64, m), make([]float64, m)
	e.placeTies()
	for i, cl := range b.cells {
		if i != b.lidCell {
			e.airVolume += cl.volume
		}
	}
	return e
}

// start sets every temperature and the air to outdoor conditions.
func (e *engine) start(o outdoors) {
	fill := func(x []float64, v float64) {
		for i := range x {
			x[i] = v
		}
	}
	fill(e.temp, o.temp)
	fill(e.comb, o.temp)
	fill(e.chain, o.temp)
	fill(e.face, o.temp)
	fill(e.farFace, o.temp)
	fill(e.outer, o.temp)
	fill(e.zoneTemp, o.temp)
	fill(e.ratio, o.ratio)
	fill(e.pNear, air.VapourPressure(o.ratio, o.pressure))
	fill(e.pFar, air.VapourPressure(o.ratio, o.pressure))
	fill(e.co2, ambient*massCO2)
}

// Rounds of one step: flows and temperatures are made consistent by turns.
const (
	maxRounds      = 30
	roundTolerance = 0.25 // largest change of an air temperature between rounds [K]
	// lean is how far the first round takes the air to go on as it did in the step
	// before: half way saves most rounds, all the way swings about. [-]
	lean = 0.5
	// still is the share of roundTolerance within which a first round leaves its
	// flows as they are. [-]
	still   = 0.5
	unready = 1.0 // change above which a step's last round counts as not agreed [K]
)

// step advances the hive by dt [s] under the outdoors o; bees is called once a
// round to set sources from the state of the air. dt = +Inf finds the steady
// state of heat and flow, in air of the humidity it has. It returns the largest change of the last round. [K]
func (e *engine) step(dt float64, o *outdoors, rounds int, tolerance float64, sources func()) (float64, error) {
	steady := math.IsInf(dt, 1)
	e.dt, e.pressure = dt, o.pressure
	e.remember(dt)
	e.readCombs()
	e.condense(dt, o)
	if !steady {
		e.openLarders(dt)
	}
	change := math.Inf(1)
	for round := 0; round < rounds; round++ {
		e.rounds++
		sources()
		e.spreadPlume(o)
		if err := e.flow(o, round); err != nil {
			return change, err
		}
		e.mixing(o)
		if round == 0 || steady {
			e.films()
		}
		copy(e.last, e.temp)
		if err := e.solveHeat(dt, o); err != nil {
			return change, err
		}
		if !steady {
			if err := e.solveVapour(dt, o); err != nil {
				return change, err
			}
		}
		change = 0
		for i, t := range e.temp {
			change = max(change, math.Abs(t-e.last[i]))
		}
		// A first round that moves things so little leaves its flows as they are.
		if change < tolerance && (round > 0 || change < still*tolerance && !steady) {
			break
		}
	}
	if steady {
		return change, nil // a sealed box has no steady humidity
	}
	for _, f := range e.wetFaces {
		f.heat.debt += f.heat.short
	}
	return change, e.solveCarbon(dt, o)
}

// remember keeps the state at the start of a step of dt [s].
func (e *engine) remember(dt float64) {
	if e.past.second(dt) {
		// Rounds set out from where the air would come to if it went on as it did.
		for i, t := range e.temp {
			e.temp[i], e.old.temp[i] = t+lean*(t-e.old.temp[i]), t
		}
		for i, x := range e.ratio {
			e.ratio[i], e.old.ratio[i] = max(0, x+lean*(x-e.old.ratio[i])), x
		}
	} else {
		copy(e.old.temp, e.temp)
		copy(e.old.ratio, e.ratio)
	}
	copy(e.old.co2, e.co2)
	copy(e.old.water, e.water)
	copy(e.old.farWat, e.farWat)
	copy(e.old.combWat, e.combWat)
	copy(e.combNew, e.comb)
	e.past.setOut(dt, e.comb, e.past.comb, e.past.from)
}

// wetOf is the water content of a surface's moist chain. [kg/m³]
func (e *engine) wetOf(f *surface) []float64 {
	return e.content[f.wetAt : f.wetAt+f.moist.Cells()]
}

// condense reduces every wall to its faces for the step. It leaves in e.chain the
// temperatures from which heat sets out.
func (e *engine) condense(dt float64, o *outdoors) {
	e.condenseVapour(dt, o) // by the temperatures at the start of the step
	e.past.setOut(dt, e.chain, e.past.chain, e.chain)
	dt = e.euler(dt)
	for i := range e.faces {
		f := &e.faces[i]
		st := e.chain[f.offset : f.offset+f.chain.Cells()]
		l := &e.law[i]
		if f.far >= 0 {
			l.gAA, l.gAB, l.gBB, l.sA, l.sB = f.chain.CondenseBoth(dt, st, &e.work[i])
		} else {
			met := e.boundOf(f, o)
			l.g, l.s = f.chain.Condense(dt, st, met.film, met.feels, &e.work[i])
		}
	}
}

// condenseVapour does the same for water.
func (e *engine) condenseVapour(dt float64, o *outdoors) {
	if e.ideal.NoSorption || math.IsInf(dt, 1) {
		return
	}
	// Vapour moves through walls as warm as they were when the step began.
	outside := air.VapourPressure(o.ratio, o.pressure)
	for i := range e.faces {
		f := &e.faces[i]
		st, in := e.chain[f.offset:f.offset+f.chain.Cells()], e.wetOf(f)
		l := &e.vapour[i]
		if f.far >= 0 {
			l.gAA, l.gAB, l.gBB, l.sA, l.sB = f.moist.CondenseBoth(dt, in, st, &e.damp[i])
		} else {
			beta := air.LewisVapourCoefficient(e.boundOf(f, o).blown, o.temp, o.pressure)
			l.g, l.s = f.moist.Condense(dt, in, st, beta, outside, &e.damp[i])
		}
	}
}

// flow solves the pressure network for the present temperatures and moves the
// air flows towards its answer.
func (e *engine) flow(o *outdoors, round int) error {
	c := &e.cond
	c.OutdoorDensity = moistDensity(o.temp, o.ratio, o.pressure)
	c.OutdoorViscosity = air.Viscosity(o.temp)
	copy(c.WindPressure, o.push[:])
	for i := range e.cells {
		c.Density[i] = moistDensity(e.temp[i], e.ratio[i], o.pressure)
		c.Viscosity[i] = air.Viscosity(e.temp[i])
		c.Imposed[i] = e.imposed[i] - e.fanOut[i]
	}
	// The first round of a run finds the flows, further rounds follow them; should
	// they lose the way, now and then one finds them anew.
	solve := e.box.net.Step
	if e.rounds == 1 || round%10 == 9 {
		solve = e.box.net.Solve
	}
	stats, err := solve(*c, e.net)
	e.newton += int64(stats.Iterations)
	if err != nil {
		return err
	}
	// Warm air that flows faster cools and then flows slower: taken whole, the
	// answers of flow and heat would swing about their common solution. How much
	// of a new answer to take follows from how the last two residuals compare
	// (Aitken's relaxation for vectors).
	share := 1.0
	dot, norm := 0.0, 0.0
	for i, m := range e.net.MassFlow {
		res := m - e.mass[i]
		d := res - e.residual[i]
		dot += e.residual[i] * d
		norm += d * d
		e.residual[i] = res
	}
	if round > 0 && norm > 0 {
		share = clamp(-e.taken*dot/norm, 0.01, 1)
	}
	e.taken = share
	for i, res := range e.residual {
		e.mass[i] += share * res
	}
	return nil
}

// moistDensity of air [kg/m³].
func moistDensity(t, ratio, pressure float64) float64 {
	return pressure * (1 + ratio) / (287.042 * (t + kelvin) * (1 + 1.607858*ratio))
}

// solveHeat finds all temperatures at the end of the step for the present flows.
func (e *engine) solveHeat(dt float64, o *outdoors) error {
	m, b := e.heat, e.rhs[:e.rows]
	m.Clear()
	clear(b)
	val := m.Values()
	// The diagonal lies first in the values, by row.
	tieAt := func(i, j int, at tieAt, g float64) { // conductance between two unknowns
		val[i] += g
		val[j] += g
		val[at.lower] -= g
		val[at.upper] -= g
	}
	tie := func(i, j int, g float64) { tieAt(i, j, placeTie(m, i, j), g) }
	// Air: storage and sources.
	for i, cl := range e.cells {
		r := e.cellRow[i]
		c := cl.volume * e.cond.Density[i] * dryHeat / dt
		val[r] += c - e.swing[i]
		b[r] += c*e.old.temp[i] + e.source[i] - e.swing[i]*e.last[i]
	}
	// Air carries heat from where it comes.
	for i, mass := range e.mass {
		at := &e.heatAt[i]
		g := mass * dryHeat
		if mass >= 0 { // From to To
			if at.to < 0 {
				continue
			}
			val[at.to] += g
			if at.from < 0 {
				b[at.toRow] += g * o.temp
			} else {
				val[at.toFrom] -= g
			}
		} else if at.from >= 0 {
			val[at.from] -= g
			if at.to < 0 {
				b[at.fromRow] -= g * o.temp
			} else {
				val[at.fromTo] += g
			}
		}
	}
	for i, still := range e.still {
		if still > 0 {
			at, g := &e.heatAt[i], stillK*still
			val[at.from] += g
			val[at.to] += g
			val[at.toFrom] -= g
			val[at.fromTo] -= g
		}
	}
	for _, x := range e.extra {
		g := x.mass * dryHeat
		if x.to < 0 {
			r := e.cellRow[x.from]
			val[r] += g
			b[r] += g * o.temp
		} else {
			tie(e.cellRow[x.from], e.cellRow[x.to], g)
		}
	}
	for k, mass := range e.plume.taken {
		if mass == 0 || k == e.plume.spreads {
			continue
		}
		g := mass * dryHeat
		r := e.cellRow[e.plume.spreads]
		val[r] += g
		val[m.Position(r, e.cellRow[k])] -= g
	}
	for _, x := range e.edges {
		r := e.cellRow[x.cell]
		val[r] += x.conductance
		b[r] += x.conductance * o.temp
	}
	// Combs.
	long := e.euler(dt)
	for i := range e.combs {
		c := &e.combs[i]
		r, a := e.combRow[i], e.cellRow[c.cell]
		store := e.store[i] / long
		val[r] += store + e.onComb[i].slope
		b[r] += store*e.past.from[i] + e.onComb[i].base
		tieAt(r, a, e.combTie[i].air, e.seam[i])
		if g := e.aside[i]; g > 0 {
			tieAt(r, e.combRow[e.cells[e.at(e.cells[c.cell].slab, flank)].comb], e.combTie[i].aside, g)
		}
		if g := e.upward[i]; g > 0 {
			tieAt(r, e.combRow[e.above[i]], e.combTie[i].above, g)
		}
	}
	// Walls, floor, lid.
	for i := range e.faces {
		f := &e.faces[i]
		a := e.cellRow[f.cell]
		p := e.partnerRow(f)
		hc, hr := e.film[i], e.rad[i]
		if p < 0 {
			hr = 0
		}
		l := &e.law[i]
		if f.far >= 0 {
			r, q := e.faceRow[i], e.farRow[i]
			tie(r, a, hc*f.area)
			if hr > 0 {
				tie(r, p, hr*f.area)
			}
			val[r] += l.gAA*f.area + e.near[i].slope
			val[m.Position(r, q)] -= l.gAB * f.area
			b[r] += l.sA*f.area + e.near[i].base
			tie(q, e.cellRow[f.far], e.farFilm[i]*f.area)
			if f.farZone >= 0 && e.farRad[i] > 0 {
				tie(q, e.zoneRow[f.farZone], e.farRad[i]*f.area)
			}
			val[q] += l.gBB*f.area + e.distant[i].slope
			val[m.Position(q, r)] -= l.gAB * f.area
			b[q] += l.sB*f.area + e.distant[i].base
			continue
		}
		// Eliminate the face: hc(Ta-T) + hr(Tr-T) + latent - slope·T = g·T - s.
		d := hc + hr + l.g + e.near[i].slope/f.area
		s := l.s + e.near[i].base/f.area
		val[a] += f.area * hc * (1 - hc/d)
		b[a] += f.area * hc * s / d
		if hr > 0 {
			val[p] += f.area * hr * (1 - hr/d)
			x := f.area * hc * hr / d
			at := e.faceTie[i]
			val[at.lower] -= x
			val[at.upper] -= x
			b[p] += f.area * hr * s / d
		}
	}
	for i := range e.zones {
		z := &e.zones[i]
		r := e.zoneRow[i]
		if r < 0 {
			continue
		}
		b[r] += e.radiant[i]
		off := len(z.members)
		for j, s := range z.combs {
			tie(r, e.combRow[s.comb], s.area*z.factors[off+j]*e.blackFilm(e.zoneTemp[i]))
		}
		val[r] += 1e-9 // keeps a zone without radiation solvable
		b[r] += 1e-9 * e.zoneTemp[i]
	}
	if err := m.Factor(); err != nil {
		return err
	}
	m.Solve(b)
	for i := range e.cells {
		e.temp[i] = b[e.cellRow[i]]
	}
	for i := range e.combs {
		e.combNew[i] = b[e.combRow[i]]
	}
	for i := range e.zones {
		if r := e.zoneRow[i]; r >= 0 {
			e.zoneTemp[i] = b[r]
		}
	}
	for i := range e.faces {
		f := &e.faces[i]
		if f.far >= 0 {
			e.face[i], e.farFace[i] = b[e.faceRow[i]], b[e.farRow[i]]
			continue
		}
		hc, hr, tr := e.film[i], e.rad[i], 0.0
		if p := e.partnerRow(f); p >= 0 {
			tr = b[p]
		} else {
			hr = 0
		}
		e.face[i] = (hc*e.temp[f.cell] + hr*tr + e.law[i].s + e.near[i].base/f.area) / (hc + hr + e.law[i].g + e.near[i].slope/f.area)
	}
	return nil
}
