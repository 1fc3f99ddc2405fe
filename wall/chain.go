package wall

import (
	"errors"
	"fmt"
	"math"
)

// Layer is one homogeneous layer of a wall.
//
// A layer conducts either by Thickness and Conductivity or, when Resistance is
// positive, by that resistance (an air space, a film, a board known only by its
// rating). It stores Thickness·Density·SpecificHeat; if that product is zero
// the layer is massless.
type Layer struct {
	Thickness    float64 // [m]
	Conductivity float64 // [W/(m·K)], not read when Resistance > 0
	Density      float64 // [kg/m³]
	SpecificHeat float64 // [J/(kg·K)]
	Resistance   float64 // [m²·K/W], 0: Thickness/Conductivity
}

// resistance returns the layer's resistance [m²·K/W].
func (l Layer) resistance() float64 {
	if l.Resistance > 0 {
		return l.Resistance
	}
	return l.Thickness / l.Conductivity
}

// capacity returns the heat that the layer stores per kelvin [J/(m²·K)].
func (l Layer) capacity() float64 { return l.Thickness * l.Density * l.SpecificHeat }

// conductivity returns the layer's conductivity [W/(m·K)]; Thickness must be
// positive.
func (l Layer) conductivity() float64 { return l.Thickness / l.resistance() }

// check reports a layer that does not describe a conductor.
func (l Layer) check() error {
	for _, v := range [...]float64{l.Thickness, l.Conductivity, l.Density, l.SpecificHeat, l.Resistance} {
		if !(v >= 0) || math.IsInf(v, 1) {
			return fmt.Errorf("negative or not a finite number: %+v", l)
		}
	}
	if l.Resistance == 0 && !(l.Thickness > 0 && l.Conductivity > 0) {
		return fmt.Errorf("neither a resistance nor both thickness and conductivity: %+v", l)
	}
	return nil
}

// Grid tells how finely a Chain is cut into cells. The zero value gives two
// cells to each layer that stores heat.
type Grid struct {
	// Step is the time step that the chain should resolve [s]. No cell is
	// thicker than the depth √(a·Step) that heat penetrates in one step, a
	// being the layer's diffusivity: coarser cells blur what the step could
	// follow, finer ones add nothing that the step does not blur. 0: unlimited.
	Step float64
	// MinCells is the least number of cells in a layer that stores heat [-],
	// 2 when smaller.
	MinCells int
	// MaxCells is the greatest number of cells that Step may ask for in one
	// layer [-], 16 when 0.
	MaxCells int
}

// Chain is a layered wall cut into finite volumes, one-dimensional, per square
// metre of its area. Temperatures sit in the middles of the cells; both faces
// are nodes without capacity. A Chain is immutable and may be shared between
// goroutines; what changes during a step is in the caller's state and Work.
//
// The scheme conserves heat: what enters at the faces is what the cells store,
// to round-off. In a steady state it is exact for any number of cells.
type Chain struct {
	capacity   []float64 // per cell [J/(m²·K)]
	link       []float64 // between neighbours, link[0] and link[n] to the faces [W/(m²·K)]
	depth      []float64 // of the cell middles below the inner face [m]
	half       []float64 // resistance of half of each cell [m²·K/W]
	between    []float64 // resistance of massless layers before each cell, and behind the last [m²·K/W]
	thickness  float64   // [m]
	resistance float64   // [m²·K/W]
	heat       float64   // [J/(m²·K)]
}

// NewChain cuts layers, given from the inside to the outside, into cells. It
// returns an error if there is no layer, or if a layer has a negative or
// non-finite property or nothing that fixes its resistance. A chain of massless
// layers has no cell and is a pure resistance.
func NewChain(layers []Layer, opts Grid) (*Chain, error) {
	if len(layers) == 0 {
		return nil, errors.New("wall: a chain needs at least one layer")
	}
	if !(opts.Step >= 0) || math.IsInf(opts.Step, 1) {
		return nil, fmt.Errorf("wall: time step %v s of a grid is not a finite number of at least 0", opts.Step)
	}
	atLeast, atMost := max(opts.MinCells, 2), opts.MaxCells
	if atMost <= 0 {
		atMost = 16
	}
	atMost = max(atMost, atLeast)

	c := &Chain{}
	pending := 0.0 // resistance since the last cell middle, or since the inner face [m²·K/W]
	bare := 0.0    // the part of it that is massless layers [m²·K/W]
	for i, l := range layers {
		if err := l.check(); err != nil {
			return nil, fmt.Errorf("wall: layer %d: %w", i+1, err)
		}
		r, heat := l.resistance(), l.capacity()
		c.resistance += r
		c.heat += heat
		if heat == 0 {
			pending += r
			bare += r
			c.thickness += l.Thickness
			continue
		}
		cells := atLeast
		if opts.Step > 0 {
			// Thickness / √(a·Step), with a = (Thickness/r)/(heat/Thickness).
			want := math.Ceil(math.Sqrt(r * heat / opts.Step))
			cells = int(math.Min(math.Max(want, float64(atLeast)), float64(atMost)))
		}
		n := float64(cells)
		for k := range cells {
			c.link = append(c.link, 1/(pending+r/(2*n)))
			c.half = append(c.half, r/(2*n))
			c.between = append(c.between, bare)
			bare = 0
			c.capacity = append(c.capacity, heat/n)
			c.depth = append(c.depth, c.thickness+l.Thickness*(float64(k)+0.5)/n)
			pending = r / (2 * n)
		}
		c.thickness += l.Thickness
	}
	c.link = append(c.link, 1/pending)
	c.between = append(c.between, bare)
	return c, nil
}

// Conducting returns the chain with the conductivity of every cell multiplied by a
// factor above 0 [-], as moisture changes it. Cells, depths and capacities stay
// those of the chain.
func (c *Chain) Conducting(factor []float64) *Chain {
	n := len(c.capacity)
	if n == 0 {
		return c
	}
	d := &Chain{capacity: c.capacity, depth: c.depth, half: c.half, between: c.between,
		thickness: c.thickness, heat: c.heat, link: make([]float64, n+1)}
	pending := 0.0
	for i := range n {
		half := c.half[i] / factor[i]
		d.link[i] = 1 / (pending + c.between[i] + half)
		d.resistance += c.between[i] + 2*half
		pending = half
	}
	d.link[n] = 1 / (pending + c.between[n])
	d.resistance += c.between[n]
	return d
}

// Cells returns the number of cells, which is the length of a state.
func (c *Chain) Cells() int { return len(c.capacity) }

// Resistance returns the resistance from face to face [m²·K/W].
func (c *Chain) Resistance() float64 { return c.resistance }

// HeatCapacity returns the heat that the chain stores per kelvin [J/(m²·K)].
func (c *Chain) HeatCapacity() float64 { return c.heat }

// Thickness returns the sum of the layers' thicknesses [m].
func (c *Chain) Thickness() float64 { return c.thickness }

// Depth returns how far the middle of cell i lies below the inner face [m].
func (c *Chain) Depth(i int) float64 { return c.depth[i] }

// Heat returns the heat stored in state above 0 °C [J/m²].
func (c *Chain) Heat(state []float64) float64 {
	sum := 0.0
	for i, t := range state[:len(c.capacity)] {
		sum += c.capacity[i] * t
	}
	return sum
}

// WarmOuter adds heat [J/m²] to the outermost cell of state, or takes it where heat is
// negative, and reports whether the chain has a cell that could.
func (c *Chain) WarmOuter(state []float64, heat float64) bool {
	n := len(c.capacity)
	if n == 0 || !(c.capacity[n-1] > 0) {
		return false
	}
	state[n-1] += heat / c.capacity[n-1]
	return true
}

// FillSteady writes into state the steady temperatures between the face
// temperatures tA (inner) and tB (outer) [°C].
func (c *Chain) FillSteady(state []float64, tA, tB float64) {
	flux := (tA - tB) / c.resistance
	r := 0.0
	for i := range c.capacity {
		r += 1 / c.link[i]
		state[i] = tA - flux*r
	}
}

// Work is the scratch of one chain during a step. The zero value is ready. It
// keeps the factors of the last step length, so a caller who gives each chain
// its own Work pays for them once; it allocates only when it first meets a
// chain longer than any before. A Work must not be shared between goroutines.
type Work struct {
	chain *Chain
	dt    float64 // [s]

	rate   []float64 // capacity/dt [W/(m²·K)]
	mult   []float64 // link[i]/pivot[i-1] [-]
	pivot  []float64 // reciprocal pivots [m²·K/W]
	fromA  []float64 // new temperature per kelvin at face A [-]
	fromB  []float64 // new temperature per kelvin at face B [-]
	stored []float64 // new temperature with both faces at 0 °C [°C]

	gAA, gAB, gBB float64 // [W/(m²·K)]
	sA, sB        float64 // [W/m²]

	outer, outerTemp float64 // conductance [W/(m²·K)] and temperature [°C] beyond face B
}

// factor prepares everything that depends on the chain and the step alone.
func (w *Work) factor(c *Chain, dt float64) {
	n := len(c.capacity)
	if cap(w.rate) < n {
		block := make([]float64, 6*n)
		w.rate, w.mult, w.pivot = block[:n:n], block[n:2*n:2*n], block[2*n:3*n:3*n]
		w.fromA, w.fromB, w.stored = block[3*n:4*n:4*n], block[4*n:5*n:5*n], block[5*n:]
	}
	w.rate, w.mult, w.pivot = w.rate[:n], w.mult[:n], w.pivot[:n]
	w.fromA, w.fromB, w.stored = w.fromA[:n], w.fromB[:n], w.stored[:n]
	w.chain, w.dt = c, dt
	if n == 0 {
		w.gAB = c.link[0]
		w.gAA, w.gBB = w.gAB, w.gAB
		return
	}
	for i := range n {
		w.rate[i] = c.capacity[i] / dt // 0 for an endless step
		diagonal := w.rate[i] + c.link[i] + c.link[i+1]
		if i > 0 {
			w.mult[i] = c.link[i] * w.pivot[i-1]
			diagonal -= c.link[i] * w.mult[i]
		}
		w.pivot[i] = 1 / diagonal
		w.fromA[i], w.fromB[i] = 0, 0
	}
	w.fromA[0] = c.link[0]
	w.fromB[n-1] = c.link[n]
	w.solve(w.fromA)
	w.solve(w.fromB)
	// The columns of the step matrix sum to the storage rates, so the
	// conductances are written as what passes plus what is stored: heat then
	// closes to round-off however stiff the chain is.
	w.gAB = c.link[n] * w.fromA[n-1]
	w.gAA, w.gBB = w.gAB, w.gAB
	for i := range n {
		w.gAA += w.rate[i] * w.fromA[i]
		w.gBB += w.rate[i] * w.fromB[i]
	}
}

// solve replaces the right-hand side x [W/m²] by the temperatures [°C].
func (w *Work) solve(x []float64) {
	n := len(x)
	mult, pivot := w.mult[:n], w.pivot[:n]
	for i := 1; i < n; i++ {
		x[i] += mult[i] * x[i-1]
	}
	x[n-1] *= pivot[n-1]
	for i := n - 2; i >= 0; i-- {
		x[i] = x[i]*pivot[i] + mult[i+1]*x[i+1]
	}
}

// CondenseBoth reduces an implicit step of length dt [s] from state [°C] to the
// two faces. Into the wall flow, at the inner face A and the outer face B,
//
//	qA = gAA·TA − gAB·TB − sA
//	qB = gBB·TB − gAB·TA − sB    [W/m²]
//
// with the face temperatures TA, TB at the end of the step [°C]. dt = +Inf is
// the steady state. The scheme is implicit Euler: first order, never
// oscillating; see SecondStage for one of second order. AdvanceBoth finishes
// the step. A dt that is not positive gives NaN.
func (c *Chain) CondenseBoth(dt float64, state []float64, work *Work) (gAA, gAB, gBB, sA, sB float64) {
	if work.chain != c || work.dt != dt {
		if !(dt > 0) {
			dt = math.NaN()
		}
		work.factor(c, dt)
	}
	n := len(c.capacity)
	if n == 0 {
		work.sA, work.sB = 0, 0
		return work.gAA, work.gAB, work.gBB, 0, 0
	}
	state, rate, x := state[:n], work.rate[:n], work.stored[:n]
	mult, pivot := work.mult[:n], work.pivot[:n]
	last := 0.0
	for i := range x {
		last = rate[i]*state[i] + mult[i]*last // mult[0] is 0
		x[i] = last
	}
	last *= pivot[n-1]
	x[n-1] = last
	for i := n - 2; i >= 0; i-- {
		last = x[i]*pivot[i] + mult[i+1]*last
		x[i] = last
	}
	work.sA, work.sB = c.link[0]*x[0], c.link[n]*x[n-1]
	return work.gAA, work.gAB, work.gBB, work.sA, work.sB
}

// AdvanceBoth finishes the step begun by CondenseBoth (or Condense) with the
// same work: it writes the temperatures at its end into state, given those of
// the faces, tA (inner) and tB (outer) [°C]. It panics if work was last
// condensed for another chain.
func (c *Chain) AdvanceBoth(state []float64, tA, tB float64, work *Work) {
	if work.chain != c {
		panic("wall: Advance without Condense of the same chain")
	}
	n := len(c.capacity)
	state, x, fromA, fromB := state[:n], work.stored[:n], work.fromA[:n], work.fromB[:n]
	for i := range state {
		state[i] = x[i] + fromA[i]*tA + fromB[i]*tB
	}
}

// Condense reduces an implicit step of length dt [s] from state [°C] to the
// inner face when the outer face exchanges heat through outerConductance
// [W/(m²·K)] with outerTemp [°C], which stands for air, sun and sky together.
// It returns the law of the heat flux into the wall at the inner face,
//
//	q = g·Tface − s    [W/m²]
//
// dt = +Inf is the steady state, outerConductance = 0 an adiabatic and +Inf an
// isothermal outer face. Advance finishes the step.
func (c *Chain) Condense(dt float64, state []float64, outerConductance, outerTemp float64, work *Work) (g, s float64) {
	gAA, gAB, gBB, sA, sB := c.CondenseBoth(dt, state, work)
	work.outer, work.outerTemp = outerConductance, outerTemp
	if math.IsInf(outerConductance, 1) {
		return gAA, sA + gAB*outerTemp
	}
	share := gAB / (outerConductance + gBB)
	// gAA - gAB·share, so written that a steady adiabatic wall gives exactly 0.
	g = (gAA - gAB) + share*(outerConductance+(gBB-gAB))
	return g, sA + share*(outerConductance*outerTemp+sB)
}

// Advance finishes the step begun by Condense with the same work: it writes the
// temperatures at its end into state, given the inner face's, tFace [°C], and
// returns the outer face's temperature [°C] and the heat flux that leaves the
// wall there [W/m²]. It panics if work was last condensed for another chain.
func (c *Chain) Advance(state []float64, tFace float64, work *Work) (tOuter, leaving float64) {
	if math.IsInf(work.outer, 1) {
		tOuter = work.outerTemp
	} else {
		tOuter = (work.outer*work.outerTemp + work.gAB*tFace + work.sB) / (work.outer + work.gBB)
	}
	c.AdvanceBoth(state, tFace, tOuter, work)
	return tOuter, work.gAB*tFace + work.sB - work.gBB*tOuter
}

// StageFraction is the share of a step that each of the two stages of
// SecondStage takes [-]: 1 − 1/√2. Source: Diagonally implicit Runge-Kutta
// methods for stiff O.D.E.'s, SIAM Journal on Numerical Analysis 14 (1977),
// doi:10.1137/0714068 (coefficients from memory; their order is tested).
const StageFraction = 1 - 1/math.Sqrt2

// SecondStage turns two implicit Euler stages into a step of second order that
// damps stiff parts as strongly as Euler does (singly diagonally implicit,
// L-stable). A step of length dt from state start:
//
//  1. condense and advance by StageFraction·dt, with the boundaries as they are
//     at that moment of the step; the state is then first;
//  2. SecondStage(start, first) makes of first the state to start the second
//     stage from, which again takes StageFraction·dt, with the boundaries as
//     they are at the end of the step.
//
// Heat through a face over the step is dt·((1−StageFraction)·q1 +
// StageFraction·q2), q1 and q2 being its fluxes in the two stages; with these
// weights heat closes to round-off as it does for Euler.
func SecondStage(start, first []float64) {
	const gain = (1 - StageFraction) / StageFraction
	for i, t := range start[:len(first)] {
		first[i] = t + gain*(first[i]-t)
	}
}
