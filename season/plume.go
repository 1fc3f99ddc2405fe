package season

import (
	"math"

	"hackle/airflow"
	"hackle/wall"
)

// plume is the column of warm air over a heater in an empty box.
type plume struct {
	power   float64 // convective heat of the source [W]
	base    float64 // underside of the heater [m]
	size    float64 // edge of the heater, a cube [m]
	alpha   float64 // entrainment coefficient, top hat [-]
	taken   []float64
	spreads int // slab in which it comes to rest
}

// heaterFilm finds how a cube gives off heat to air and walls at t: the share
// that radiates [-] and the excess of its surface [K].
func heaterFilm(watts, size, t float64, radiates bool) (share, excess float64) {
	area := 6 * size * size
	excess = 50
	for range 60 {
		g := gasAt(t + excess/2)
		conv := g.Film(uprightPlate(g.Rayleigh(excess, size)), size)
		rad := 0.0
		if radiates {
			rad = wall.RadiativeFilmBetween(0.9, t+excess, t)
		}
		next := watts / (area * (conv + rad))
		excess = math.Sqrt(excess * next)
		share = rad / (conv + rad)
	}
	return share, excess
}

// risen is the air that the boundary layers on the sides of the heater carry
// past its upper edge. [m³/s]
//
// Laminar layer on an upright plate by the integral solution,
// delta = 3.93 L Pr^(-1/2) (0.952+Pr)^(1/4) Gr^(-1/4),
// u = 5.17 (nu/L) (0.952+Pr)^(-1/2) Gr^(1/2), flow per breadth u·delta/12.
// Source: standard heat-transfer texts (from memory).
func (p *plume) risen(excess, t float64) float64 {
	g := gasAt(t + excess/2)
	pr := g.Prandtl()
	gr := g.Rayleigh(excess, p.size) / pr
	delta := 3.93 * p.size / math.Sqrt(pr) * math.Pow(0.952+pr, 0.25) * math.Pow(gr, -0.25)
	u := 5.17 * g.KinematicViscosity / p.size / math.Sqrt(0.952+pr) * math.Sqrt(gr)
	return 4 * p.size * u * delta / 12
}

// spreadPlume follows the plume upward: how much air it draws from each slab,
// and where it comes to rest, at the lid or where the air is as warm as itself.
//
// Beside the heater the boundary layers on its sides draw in air, their flow
// growing with the 3/4 power of height. Above it the plume goes on from that
// flow. In still stratified air its buoyancy flux B falls as it leaves cooler
// air below; the flow follows the similarity law differentiated,
//
//	dQ/dz = (5/3) C^(3/5) B^(1/5) Q^(2/5),
//
// which gives Q = C B^(1/3) z^(5/3) for constant B.
func (e *engine) spreadPlume(o *outdoors) {
	p := &e.plume
	if p.power <= 0 {
		return
	}
	if p.taken == nil {
		p.taken = make([]float64, len(e.slabs))
	}
	clear(p.taken)
	clear(e.imposed)
	c := airflow.PlumeConstant(p.alpha)
	last := len(e.slabs) - 1
	edge := p.base + p.size
	_, excess := heaterFilm(p.power, p.size, e.airBeside(p), false)
	side := p.risen(excess, e.airBeside(p))
	q, buoyancy := 0.0, 0.0
	p.spreads = last
	started := false
	for k, s := range e.slabs {
		if s.top <= p.base {
			continue
		}
		rho := moistDensity(e.temp[k], e.ratio[k], o.pressure)
		if !started {
			buoyancy = airflow.BuoyancyFlux(p.power, rho, dryHeat, e.temp[k])
			started = true
		} else {
			// Entering warmer air costs buoyancy.
			buoyancy -= gravity * q * (e.temp[k] - e.temp[k-1]) / (e.temp[k] + kelvin)
		}
		if buoyancy <= 0 {
			p.spreads = k
			break
		}
		if k == last {
			break
		}
		next := q
		if z := min(s.top, edge) - p.base; z > 0 && s.bottom < edge {
			next = side * math.Pow(z/p.size, 0.75)
		}
		if dz := s.top - max(s.bottom, edge); dz > 0 {
			z := math.Pow(next/(c*math.Cbrt(buoyancy)), 0.6) + dz
			next = c * math.Cbrt(buoyancy) * z * math.Cbrt(z*z)
		}
		p.taken[k] = (next - q) * rho
		q = next
	}
	total := 0.0
	for k, m := range p.taken {
		if k == p.spreads {
			p.taken[k] = 0
			continue
		}
		e.imposed[k] -= m
		total += m
	}
	e.imposed[p.spreads] += total
}

// airBeside is the air at the height of the heater's middle. [°C]
func (e *engine) airBeside(p *plume) float64 {
	z := p.base + p.size/2
	for k, s := range e.slabs {
		if z < s.top {
			return e.temp[k]
		}
	}
	return e.temp[len(e.slabs)-1]
}

// ceiling replaces the film under the lid by that of a plume which strikes it,
// averaged over a disc of the lid's area:
//
//	h/h~ = 8.82 Re^(-1/2) Pr^(-2/3)                                   r/H < 0.2
//	h/h~ = 0.283 Re^(-0.3) Pr^(-2/3) (r/H)^(-1.2) (r/H - 0.0771)/(r/H + 0.279)
//	h~ = rho cp sqrt(g H) Q*^(1/3), Re = sqrt(g H) H Q*^(1/3)/nu,
//	Q* = P/(rho cp T sqrt(g H) H²)
//
// Source: Heat transfer from a buoyant plume to an unconfined ceiling, Journal
// of Heat Transfer 104 (1982) (from memory). It holds
// for plumes of Re above some thousand; a heated hive lies at its lower end.
func (e *engine) ceiling() {
	p := &e.plume
	if p.spreads != len(e.slabs)-1 {
		return
	}
	h := e.height - p.base
	if h <= 0 {
		return
	}
	t := e.temp[len(e.slabs)-1]
	rho := e.cond.Density[len(e.slabs)-1]
	g := gasAt(t)
	root := math.Sqrt(gravity * h)
	q := math.Cbrt(p.power / (rho * dryHeat * (t + kelvin) * root * h * h))
	scale := rho * dryHeat * root * q
	re := root * h * q / g.KinematicViscosity
	pr := math.Pow(g.Prandtl(), -2.0/3)
	for i := range e.faces {
		f := &e.faces[i]
		if f.kind != filmAbove || e.cells[f.cell].slab != len(e.slabs)-1 {
			continue
		}
		edge := math.Sqrt(f.area/math.Pi) / h
		const rings = 40
		sum := 0.0
		for j := range rings {
			r := edge * (float64(j) + 0.5) / rings
			x := 8.82 / math.Sqrt(re) * pr
			if r >= 0.2 {
				x = 0.283 * math.Pow(re, -0.3) * pr * math.Pow(r, -1.2) * (r - 0.0771) / (r + 0.279)
			}
			sum += x * r
		}
		mean := scale * sum * 2 * (edge / rings) / (edge * edge)
		e.film[i] = max(e.film[i], mean)
	}
}
