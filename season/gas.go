package season

import (
	"math"

	"hackle/air"
	"hackle/airflow"
)

// gasMatrix fills the transport part that all gases share: storage, and inflow
// from other cells. The outdoor share is left to the caller through take.
func (e *engine) gasMatrix(dt, diffusivity float64, take func(cell int, mass float64)) []float64 {
	m := e.gas
	m.Clear()
	val := m.Values()
	diag := func(i int, g float64) { val[i] += g } // the diagonal lies first
	for i, cl := range e.cells {
		diag(i, cl.volume*e.cond.Density[i]/dt)
	}
	for i, mass := range e.mass {
		at := &e.gasAt[i]
		if mass >= 0 {
			if at.to < 0 {
				continue
			}
			val[at.to] += mass
			if at.from < 0 {
				take(at.toRow, mass)
			} else {
				val[at.toFrom] -= mass
			}
		} else if at.from >= 0 {
			val[at.from] -= mass
			if at.to < 0 {
				take(at.fromRow, -mass)
			} else {
				val[at.fromTo] += mass
			}
		}
	}
	for i, still := range e.still {
		if still > 0 {
			at := &e.gasAt[i]
			g := still * diffusivity * (e.cond.Density[at.fromRow] + e.cond.Density[at.toRow]) / 2
			val[at.from] += g
			val[at.to] += g
			val[at.toFrom] -= g
			val[at.fromTo] -= g
		}
	}
	for _, x := range e.extra {
		diag(x.from, x.mass)
		if x.to < 0 {
			take(x.from, x.mass)
			continue
		}
		diag(x.to, x.mass)
		val[m.Position(x.from, x.to)] -= x.mass
		val[m.Position(x.to, x.from)] -= x.mass
	}
	for k, mass := range e.plume.taken {
		if mass == 0 || k == e.plume.spreads {
			continue
		}
		diag(e.plume.spreads, mass)
		val[m.Position(e.plume.spreads, k)] -= mass
	}
	return val
}

// wetFace is one face as the vapour solution sees it.
type wetFace struct {
	cell  int
	temp  float64  // [°C]
	beta  float64  // vapour passage of the film [kg/(s·Pa)]
	g, s  float64  // vapour into the wall behind: g·p − s [kg/(s·Pa), kg/s]
	sat   float64  // saturation pressure at the face [Pa]
	water float64  // at the start of the step [kg]
	mode  *wetMode // found in the last round, the start of the next
	came  *float64 // water that comes to the face [kg/s]
	heat  *latentHeat
	p     *float64 // vapour pressure at the face [Pa]
}

// through is the passage from the air into the wall behind a face without a
// film of water: film and wall in series. [kg/(s·Pa)]
func (f *wetFace) through() float64 {
	if f.g <= 0 {
		return 0
	}
	return f.beta * f.g / (f.beta + f.g)
}

// collectWetFaces lists every face that water can lie on.
func (e *engine) collectWetFaces(pressure float64) {
	e.wetFaces = e.wetFaces[:0]
	add := func(cell int, area, film, temp, water float64, mode *wetMode, came *float64, heat *latentHeat, g, s float64, p *float64) {
		e.wetFaces = append(e.wetFaces, wetFace{cell, temp,
			air.LewisVapourCoefficient(film, temp, pressure) * area, g * area, s * area, saturation(temp), water, mode, came, heat, p})
	}
	for i := range e.faces {
		f := &e.faces[i]
		l := &e.vapour[i]
		if f.far < 0 {
			add(f.cell, f.area, e.film[i], e.face[i], e.old.water[i], &e.mode[i], &e.wetting[i], &e.near[i], l.g, l.s, &e.pNear[i])
			continue
		}
		// The two sides of a board are joined by the pressures of the last round;
		// what that leaves out is owed by the air in the next step.
		near, far := l.sA+l.gAB*e.pFar[i], l.sB+l.gAB*e.pNear[i]
		add(f.cell, f.area, e.film[i], e.face[i], e.old.water[i], &e.mode[i], &e.wetting[i], &e.near[i], l.gAA, near, &e.pNear[i])
		add(f.far, f.area, e.farFilm[i], e.farFace[i], e.old.farWat[i], &e.farMode[i], &e.farWet[i], &e.distant[i], l.gBB, far, &e.pFar[i])
	}
	for i := range e.combs {
		c := &e.combs[i]
		add(c.cell, c.faceArea, e.seam[i]/c.faceArea, e.combNew[i], e.old.combWat[i], &e.combMode[i], &e.combWet[i], &e.onComb[i], 0, 0, nil)
	}
}

// wetRounds bounds the search for which faces are wet.
const wetRounds = 6

// solveVapour finds the humidity of every cell and the water that settles on or
// leaves each face, for the present flows and temperatures.
//
// A face that holds water, or whose saturation pressure lies below the air's, is
// wet: it exchanges vapour by the Lewis relation at its own saturation
// pressure. A wet face cannot give off more than it holds in the step; then it
// gives that off evenly. Which face is in which state is found by trial: the
// states of the last round are tried first.
func (e *engine) solveVapour(dt float64, o *outdoors) error {
	kappa := o.pressure / molarRatio // vapour pressure per humidity ratio, to first order
	e.collectWetFaces(o.pressure)
	for trial := 0; ; trial++ {
		b := e.rhs[:len(e.cells)]
		clear(b)
		val := e.gasMatrix(dt, stillVap, func(cell int, mass float64) { b[cell] += mass * o.ratio })
		for i, cl := range e.cells {
			val[i] += e.drying[i] // the diagonal comes first
			b[i] += e.moisture[i] + e.ripening[i] - e.owed[i]/dt + cl.volume*e.cond.Density[i]/dt*e.old.ratio[i]
		}
		for i := range e.larders {
			l := &e.larders[i]
			cell := e.combs[l.comb].cell
			val[cell] += l.passage * kappa
			b[cell] += l.passage * l.pressure
		}
		for i := range e.wetFaces {
			f := &e.wetFaces[i]
			own := f.cell // the diagonal lies first
			switch *f.mode {
			case wet:
				val[own] += f.beta * kappa
				b[f.cell] += f.beta * f.sat
			default: // the wall takes through·p − share·given
				given := f.s
				if *f.mode == emptying {
					given += f.water / dt
				}
				val[own] += f.through() * kappa
				b[f.cell] += f.beta / (f.beta + f.g) * given
			}
		}
		if err := e.gas.Factor(); err != nil {
			return err
		}
		e.gas.Solve(b)
		changed := false
		for i := range e.wetFaces {
			f := &e.wetFaces[i]
			pv := kappa * b[f.cell]
			given := f.s
			if *f.mode == emptying {
				given += f.water / dt
			}
			p := (f.beta*pv + given) / (f.beta + f.g)
			next := *f.mode
			switch *f.mode {
			case dry:
				*f.came = 0
				if p > f.sat*(1+1e-9) || f.water > 0 {
					next = wet
				}
			case wet:
				p = f.sat
				*f.came = f.beta*(pv-p) - (f.g*p - f.s)
				if *f.came < 0 && -*f.came*dt > f.water {
					next = emptying
					if f.water <= 0 {
						next = dry
					}
				}
			case emptying:
				*f.came = -f.water / dt
				if p > f.sat*(1+1e-9) {
					next = wet
				}
			}
			if f.p != nil {
				*f.p = p
			}
			if next != *f.mode {
				changed = true
				if trial < wetRounds {
					*f.mode = next
				}
			}
		}
		if !changed || trial >= wetRounds {
			for i := range e.cells {
				e.ratio[i] = max(0, b[i])
			}
			break
		}
	}
	for i := range e.wetFaces {
		f := &e.wetFaces[i]
		l := latentAt(f.temp)
		f.heat.sorbed = -f.heat.leaving
		if f.p != nil {
			f.heat.sorbed += f.g**f.p - f.s
		}
		q := l**f.came + latentWater*f.heat.sorbed
		f.heat.short = (q - f.heat.at(f.temp)) * dt
		f.heat.slope = 0
		if *f.mode == wet {
			_, ds := air.SaturationFast(f.temp)
			f.heat.slope = l * f.beta * ds
		}
		f.heat.base = q + f.heat.slope*f.temp + f.heat.debt/dt
	}
	return nil
}

func saturation(t float64) float64 { return air.SaturationPressureFast(t) }

// latentAt is the heat set free when vapour settles at t: as water above 0 °C,
// as frost below. [J/kg]
//
// The engine counts vapour's enthalpy at its latent heat at 0 °C alone, so that
// heat closes with the water; the 2.4 kJ/(kg·K) by which the latent heat falls
// with temperature are left out (3 % at 30 °C).
func latentAt(t float64) float64 {
	if t < 0 {
		return latentIce
	}
	return latentWater
}

const (
	latentWater = 2.501e6           // [J/kg] at 0 °C
	latentIce   = 2.501e6 + 0.334e6 // [J/kg] at 0 °C
)

// solveCarbon finds the CO2 of every cell at the end of the step.
func (e *engine) solveCarbon(dt float64, o *outdoors) error {
	b := e.rhs[:len(e.cells)]
	clear(b)
	e.gasMatrix(dt, stillCO2, func(cell int, mass float64) { b[cell] += mass * ambient * massCO2 })
	for i, cl := range e.cells {
		b[i] += e.carbon[i]
		b[i] += cl.volume * e.cond.Density[i] / dt * e.old.co2[i]
	}
	if err := e.gas.Factor(); err != nil {
		return err
	}
	e.gas.Solve(b)
	copy(e.co2, b)
	return nil
}

// mixing collects air that is swapped without net flow: wind gusts at openings,
// and overturning where cold air lies on warm in free space or at the hole of
// the top board.
func (e *engine) mixing(o *outdoors) {
	e.extra = e.extra[:0]
	for i := range e.links {
		l, f := &e.links[i], &e.flows[i]
		scale := e.cond.Scale[i]
		switch f.kind {
		case flowOpening, flowMesh, flowLidVent:
			if o.wind <= 0 || scale <= 0 {
				continue
			}
			q := airflow.SingleSidedWind(e.areas[i]*scale, o.wind)
			x := exchange{from: l.From, to: outOfDoors, mass: q * e.cond.OutdoorDensity, opening: -1}
			if f.kind == flowOpening {
				x.opening = f.opening
			}
			e.extra = append(e.extra, x)
		case flowBoard:
			if e.plan.Hive.TopBoard.Permeance > 0 || scale <= 0 {
				continue
			}
			e.overturn(i, e.areas[i]*scale)
		case flowInner:
			if f.upper == f.slab || e.slabs[f.slab].comb || e.slabs[f.upper].comb {
				continue
			}
			e.overturn(i, e.areas[i])
		}
	}
}

// overturn swaps air through a level opening where the air above is the denser.
// The swap follows its law by halves from round to round: at the point where two
// layers weigh the same its slope has no bound.
func (e *engine) overturn(link int, area float64) {
	l := &e.links[link]
	low, high := e.cond.Density[l.From], e.cond.Density[l.To]
	want := 0.0
	if high > low {
		want = low * airflow.HorizontalExchange(math.Sqrt(4/math.Pi*area), 0.01, low, high)
	}
	e.swapped[link] += 0.5 * (want - e.swapped[link])
	if e.swapped[link] > 1e-12 {
		e.extra = append(e.extra, exchange{l.From, l.To, e.swapped[link], -1})
	}
}
