package wall

import (
	"errors"
	"fmt"
	"math"

	"hackle/air"
)

// Medium is a porous material as functions of its state, for Coupled. Relative
// humidity phi lies between 0 and 1.
type Medium struct {
	// Content returns the water content [kg/m³] and its slope by humidity
	// [kg/m³] in equilibrium with phi at t [°C]; it must rise with phi.
	Content func(phi, t float64) (content, slope float64)
	// Vapour returns the permeability to vapour at phi and t [°C] [kg/(m·s·Pa)].
	Vapour func(phi, t float64) float64
	// Suction returns the suction of the pore water at phi and its slope by
	// humidity, which is negative [Pa]. Nil: liquid does not move.
	Suction func(phi float64) (suction, slope float64)
	// Liquid returns the permeability to liquid at phi, of a flux along the
	// gradient of suction [s]. Nil with Suction.
	Liquid func(phi float64) float64
	// Conductivity returns the conductivity to heat at a content [kg/m³]
	// [W/(m·K)].
	Conductivity func(content float64) float64
	// HeatCapacity is that of the dry material [J/(m³·K)].
	HeatCapacity float64
}

// KelvinSuction returns the suction [Pa] of pore water in equilibrium with
// relative humidity phi at t [°C], −ρ·R·T·ln phi, and its slope by humidity
// [Pa]. It takes 1000 kg/m³ and 8.314/0.018 J/(kg·K), as EN 15026:2007 does.
func KelvinSuction(phi, t float64) (suction, slope float64) {
	const r = 1000 * 8.314 / 0.018 // [Pa/K]
	k := r * (t + 273.15)
	return -k * math.Log(phi), -k / phi
}

// CoupledCell is a slice of a wall for Coupled.
type CoupledCell struct {
	Thickness float64 // [m]
	Medium    *Medium
}

// CoupledFace is what stands before a face of a Coupled wall. A film of +Inf
// holds the face itself at the air's state; then liquid passes too.
type CoupledFace struct {
	T      float64 // [°C]
	Phi    float64 // [-]
	Film   float64 // to heat [W/(m²·K)], 0: adiabatic
	Vapour float64 // film to vapour [kg/(m²·s·Pa)], 0: sealed
}

// Constants of EN 15026:2007, annex A.
const (
	coupledLatent = 2.5e6  // [J/kg]
	coupledWater  = 4180.0 // [J/(kg·K)]
)

// Coupled carries heat and moisture, vapour and liquid, through a wall together,
// by finite volumes and implicit steps of second order. It is slower and more general than
// MoistChain by far and serves to check it: materials are functions, nothing is
// linearised beyond the iteration of a step. Its state, humidity and temperature,
// reaches up to saturation but not beyond. Source of the equations: EN
// 15026:2007 without air flow; heat moves by conduction and with vapour's latent
// heat, and water in the material adds to its heat capacity.
//
// A Coupled is not safe for concurrent use.
type Coupled struct {
	Phi  []float64 // relative humidity of each cell [-]
	Temp []float64 // [°C]

	// Water that entered at the inner, and left at the outer face [kg/m²].
	Entered, Left float64

	cells                []CoupledCell
	phi, temp            []float64 // iterate
	temp0, stage1        []float64
	content0, content    []float64
	slope                []float64
	suction, suctionRise []float64
	vapour, liquid       []float64
	heat                 []float64
	ps, psSlope          []float64
	lower, diag, upper   []float64
	right                []float64
}

// NewCoupled returns a wall of cells from the inside to the outside, all at phi
// [-] and t [°C]. It returns an error if a cell is not a slice of a medium, or
// phi is not between 0 and 1.
func NewCoupled(cells []CoupledCell, phi, t float64) (*Coupled, error) {
	if len(cells) == 0 {
		return nil, errors.New("wall: no cell")
	}
	if !(phi > 0 && phi < 1) {
		return nil, fmt.Errorf("wall: relative humidity %v is not between 0 and 1", phi)
	}
	for i, c := range cells {
		if !(c.Thickness > 0) || c.Medium == nil || !(c.Medium.HeatCapacity > 0) {
			return nil, fmt.Errorf("wall: cell %d: no thickness, medium or heat capacity", i+1)
		}
		if (c.Medium.Suction == nil) != (c.Medium.Liquid == nil) {
			return nil, fmt.Errorf("wall: cell %d: suction and liquid go together", i+1)
		}
	}
	n := len(cells)
	c := &Coupled{cells: append([]CoupledCell(nil), cells...)}
	for _, v := range [...]*[]float64{&c.Phi, &c.Temp, &c.phi, &c.temp, &c.temp0, &c.stage1, &c.content0, &c.content, &c.slope, &c.suction, &c.suctionRise,
		&c.vapour, &c.liquid, &c.heat, &c.ps, &c.psSlope, &c.lower, &c.diag, &c.upper, &c.right} {
		*v = make([]float64, n)
	}
	for i := range n {
		c.Phi[i], c.Temp[i] = phi, t
	}
	return c, nil
}

// Content returns the water content of cell i [kg/m³].
func (c *Coupled) Content(i int) float64 {
	w, _ := c.cells[i].Medium.Content(c.Phi[i], c.Temp[i])
	return w
}

// Water returns the water in the wall [kg/m²].
func (c *Coupled) Water() float64 {
	sum := 0.0
	for i := range c.cells {
		sum += c.cells[i].Thickness * c.Content(i)
	}
	return sum
}

// medium evaluates the materials at the iterate.
func (c *Coupled) medium() {
	for i := range c.cells {
		m := c.cells[i].Medium
		phi, t := c.phi[i], c.temp[i]
		c.content[i], c.slope[i] = m.Content(phi, t)
		c.vapour[i] = m.Vapour(phi, t)
		c.heat[i] = m.Conductivity(c.content[i])
		c.ps[i], c.psSlope[i] = air.SaturationFast(t)
		if m.Suction != nil {
			c.suction[i], c.suctionRise[i] = m.Suction(phi)
			c.liquid[i] = m.Liquid(phi)
		}
	}
}

// coupledLink is what joins two places: conductances to vapour pressure
// [kg/(m²·s·Pa)], suction [s/m] and temperature [W/(m²·K)].
type coupledLink struct{ vapour, liquid, heat float64 }

// between returns the link of cells i-1 and i.
func (c *Coupled) between(i int) coupledLink {
	a, b := c.cells[i-1].Thickness/2, c.cells[i].Thickness/2
	l := coupledLink{
		vapour: 1 / (a/c.vapour[i-1] + b/c.vapour[i]),
		heat:   1 / (a/c.heat[i-1] + b/c.heat[i]),
	}
	if c.cells[i-1].Medium.Suction != nil && c.cells[i].Medium.Suction != nil {
		// The mean of the permeabilities: their product with the slope of
		// suction changes little from cell to cell, they themselves by decades.
		l.liquid = (a*c.liquid[i-1] + b*c.liquid[i]) / ((a + b) * (a + b))
	}
	return l
}

// at returns the link of cell i to a face, with the state beyond: suction [Pa],
// which only a face held at the state has.
func (c *Coupled) at(i int, f CoupledFace) (l coupledLink, pressure, suction float64) {
	half := c.cells[i].Thickness / 2
	m := c.cells[i].Medium
	pressure = f.Phi * air.SaturationPressureFast(f.T)
	series := func(film, material float64) float64 {
		if math.IsInf(film, 1) {
			return material
		}
		return film * material / (film + material)
	}
	vapour := c.vapour[i]
	if math.IsInf(f.Vapour, 1) {
		vapour = (vapour + m.Vapour(f.Phi, f.T)) / 2
		if m.Suction != nil {
			suction, _ = m.Suction(f.Phi)
			l.liquid = (c.liquid[i] + m.Liquid(f.Phi)) / 2 / half
		}
	}
	l.vapour = series(f.Vapour, vapour/half)
	l.heat = series(f.Film, c.heat[i]/half)
	return l, pressure, suction
}

// coupledRounds is the most that a step iterates.
const coupledRounds = 60

// errUnsettled tells of a step that does not converge.
var errUnsettled = errors.New("wall: the step does not converge")

// Step advances by dt [s] with the inner and the outer face held as they are, by
// two implicit stages of second order (see SecondStage). It iterates each until
// humidity changes by less than 1e-9 and temperature by less than 1e-7 K. If
// that fails, or a cell would be saturated, it returns an error and the state is
// as before.
func (c *Coupled) Step(dt float64, inner, outer CoupledFace) error {
	const stage = StageFraction
	copy(c.phi, c.Phi)
	copy(c.temp, c.Temp)
	c.medium()
	copy(c.content0, c.content)
	copy(c.temp0, c.temp)
	in1, out1, err := c.stage(stage*dt, inner, outer)
	if err != nil {
		return err
	}
	copy(c.stage1, c.content)
	SecondStage(c.content0, c.stage1)
	copy(c.content0, c.stage1)
	copy(c.stage1, c.temp)
	SecondStage(c.temp0, c.stage1)
	copy(c.temp0, c.stage1)
	in2, out2, err := c.stage(stage*dt, inner, outer)
	if err != nil {
		return err
	}
	c.Entered += dt * ((1-stage)*in1 + stage*in2)
	c.Left += dt * ((1-stage)*out1 + stage*out2)
	copy(c.Phi, c.phi)
	copy(c.Temp, c.temp)
	return nil
}

// stage solves an implicit Euler step from content0 and temp0, starting the
// iteration at phi and temp, and returns the fluxes of water that enter at the
// inner and leave at the outer face [kg/(m²·s)].
func (c *Coupled) stage(dt float64, inner, outer CoupledFace) (entering, leaving float64, err error) {
	n := len(c.cells)
	for range coupledRounds {
		in, pIn, sIn := c.at(0, inner)
		out, pOut, sOut := c.at(n-1, outer)

		// Water: Newton in the storage and the suction, coefficients of the
		// last iterate.
		for i := range n {
			store := c.cells[i].Thickness / dt
			c.diag[i] = store * c.slope[i]
			c.right[i] = store * (c.content0[i] - c.content[i] + c.slope[i]*c.phi[i])
			c.lower[i], c.upper[i] = 0, 0
		}
		for i := 1; i < n; i++ {
			l := c.between(i)
			// Flux outwards = l.vapour·(p − p') + l.liquid·(s' − s), suction
			// linear about the iterate.
			a := l.vapour*c.ps[i-1] - l.liquid*c.suctionRise[i-1]
			b := l.vapour*c.ps[i] - l.liquid*c.suctionRise[i]
			rest := l.liquid * ((c.suction[i] - c.suctionRise[i]*c.phi[i]) - (c.suction[i-1] - c.suctionRise[i-1]*c.phi[i-1]))
			c.diag[i-1] += a
			c.upper[i-1] -= b
			c.right[i-1] -= rest
			c.diag[i] += b
			c.lower[i] -= a
			c.right[i] += rest
		}
		for _, e := range [...]struct {
			i    int
			l    coupledLink
			p, s float64
		}{{0, in, pIn, sIn}, {n - 1, out, pOut, sOut}} {
			c.diag[e.i] += e.l.vapour*c.ps[e.i] - e.l.liquid*c.suctionRise[e.i]
			c.right[e.i] += e.l.vapour*e.p + e.l.liquid*((c.suction[e.i]-c.suctionRise[e.i]*c.phi[e.i])-e.s)
		}
		c.solve()
		moved := 0.0
		for i := range n {
			next := c.right[i]
			// Halfway at most towards dry and towards saturated, so that the
			// material functions are never asked beyond.
			next = math.Max(c.phi[i]/2, math.Min(next, (c.phi[i]+1)/2))
			moved = math.Max(moved, math.Abs(next-c.phi[i]))
			c.phi[i] = next
		}

		// Fluxes of vapour at the new humidity; their change with temperature
		// is taken into the heat balance.
		for i := range n {
			store := c.cells[i].Thickness / dt * (c.cells[i].Medium.HeatCapacity + coupledWater*c.content[i])
			c.diag[i], c.right[i] = store, store*c.temp0[i]
			c.lower[i], c.upper[i] = 0, 0
		}
		couple := func(i int, by float64) (here, rest float64) {
			// Latent flux by·p(T) = here·T + rest.
			here = coupledLatent * by * c.phi[i] * c.psSlope[i]
			return here, coupledLatent*by*c.phi[i]*c.ps[i] - here*c.temp[i]
		}
		for i := 1; i < n; i++ {
			l := c.between(i)
			a, restA := couple(i-1, l.vapour)
			b, restB := couple(i, l.vapour)
			c.diag[i-1] += l.heat + a
			c.upper[i-1] -= l.heat + b
			c.right[i-1] -= restA - restB
			c.diag[i] += l.heat + b
			c.lower[i] -= l.heat + a
			c.right[i] += restA - restB
		}
		for _, e := range [...]struct {
			i    int
			l    coupledLink
			p, t float64
		}{{0, in, pIn, inner.T}, {n - 1, out, pOut, outer.T}} {
			here, rest := couple(e.i, e.l.vapour)
			c.diag[e.i] += e.l.heat + here
			c.right[e.i] += e.l.heat*e.t + coupledLatent*e.l.vapour*e.p - rest
		}
		c.solve()
		warmed := 0.0
		for i := range n {
			warmed = math.Max(warmed, math.Abs(c.right[i]-c.temp[i]))
			c.temp[i] = c.right[i]
		}
		if !(warmed < 1e6) {
			return 0, 0, errUnsettled
		}
		c.medium()
		if moved < 1e-9 && warmed < 1e-7 {
			in, pIn, _ = c.at(0, inner)
			out, pOut, _ = c.at(n-1, outer)
			return in.vapour*(pIn-c.phi[0]*c.ps[0]) + in.liquid*(c.suction[0]-sIn),
				out.vapour*(c.phi[n-1]*c.ps[n-1]-pOut) + out.liquid*(sOut-c.suction[n-1]), nil
		}
	}
	return 0, 0, errUnsettled
}

// Run advances by duration [s] in steps that humidity changes by about change
// [-] in, starting with a step of first [s], with faces that stay as they are.
// It returns the number of steps, or an error where steps of a millionth of
// first still fail.
func (c *Coupled) Run(duration, first, change float64, inner, outer CoupledFace) (steps int, err error) {
	before := make([]float64, len(c.Phi))
	dt, at := first, 0.0
	for at < duration {
		dt = math.Min(dt, duration-at)
		copy(before, c.Phi)
		if err := c.Step(dt, inner, outer); err != nil {
			dt /= 4
			if dt < first*1e-6 {
				return steps, fmt.Errorf("after %v s: %w", at, err)
			}
			continue
		}
		steps++
		at += dt
		moved := 0.0
		for i, phi := range c.Phi {
			moved = math.Max(moved, math.Abs(phi-before[i]))
		}
		dt *= math.Max(0.5, math.Min(1.5, change/math.Max(moved, 1e-12)))
	}
	return steps, nil
}

// solve solves the tridiagonal system; the result is in right.
func (c *Coupled) solve() {
	n := len(c.right)
	for i := 1; i < n; i++ {
		f := c.lower[i] / c.diag[i-1]
		c.diag[i] -= f * c.upper[i-1]
		c.right[i] -= f * c.right[i-1]
	}
	c.right[n-1] /= c.diag[n-1]
	for i := n - 2; i >= 0; i-- {
		c.right[i] = (c.right[i] - c.upper[i]*c.right[i+1]) / c.diag[i]
	}
}
