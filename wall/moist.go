package wall

import (
	"errors"
	"fmt"
	"math"

	"hackle/air"
)

// AirPermeability is the permeability of still air to vapour [kg/(m·s·Pa)]: a
// material of resistance factor mu passes AirPermeability/mu, and sd metres of
// still air have the resistance sd/AirPermeability. Source: EN ISO 13788:2012.
// It holds near sea level between -10 and 30 °C; it goes as 1/pressure.
const AirPermeability = 2e-10

// Moist is what a layer does with water. It goes with the Layer of the same
// place in a wall.
type Moist struct {
	// MuDry and MuWet are the layer's vapour resistance factors in dry and in
	// humid air [-]. Between 25 and 75 % relative humidity, the means of the dry
	// and the wet cup of ISO 12572, the permeability goes linearly from one to
	// the other. MuWet 0: as MuDry. A layer that stores no heat takes the mean
	// of the two permeabilities.
	MuDry, MuWet float64
	// Sd, when positive, is the resistance of the whole layer as metres of still
	// air, instead of mu times thickness (a foil, a sheet) [m].
	Sd float64
	// InnerFilm and OuterFilm are resistances of coats on the layer's faces, as
	// metres of still air: propolis, paint [m].
	InnerFilm, OuterFilm float64
	// Sorption is the water that the material holds in humid air.
	Sorption Isotherm
	// Free is the content that fills the pores that water can reach [kg/m³]; 0:
	// not known, and nothing is ever surplus.
	Free float64
	// LiquidUptake is the water absorption coefficient A [kg/(m²·√s)]; 0: no
	// liquid moves.
	LiquidUptake float64
	// Conducts is the exponent by which water raises the conductivity,
	// exp(Conducts·(volume share of water − that in air of 50 %)) (EN ISO 10456:2007,
	// clause 7) [-]; 0: it does not.
	Conducts float64
}

func (m Moist) check() error {
	for _, v := range [...]float64{m.MuDry, m.MuWet, m.Sd, m.InnerFilm, m.OuterFilm, m.Free, m.LiquidUptake, m.Conducts} {
		if !(v >= 0) || math.IsInf(v, 1) {
			return fmt.Errorf("negative or not a finite number: mu %v and %v, sd %v, films %v and %v, free %v, uptake %v",
				m.MuDry, m.MuWet, m.Sd, m.InnerFilm, m.OuterFilm, m.Free, m.LiquidUptake)
		}
	}
	if m.LiquidUptake > 0 && !(m.Free > 0) {
		return errors.New("liquid uptake without a free content")
	}
	return nil
}

// sd returns the layer's resistance without its films when dry and when wet, as
// metres of still air [m].
func (m Moist) sd(thickness float64) (dry, wet float64) {
	dry, wet = m.MuDry*thickness, m.MuWet*thickness
	if m.MuWet == 0 {
		wet = dry
	}
	if m.Sd > 0 {
		if dry > 0 {
			wet *= m.Sd / dry
		} else {
			wet = m.Sd
		}
		dry = m.Sd
	}
	return dry, wet
}

// Humidities at which the dry and the wet resistance factor hold [-]: the means
// of the dry cup (0 and 50 %) and the wet cup (50 and 100 %) of ISO 12572 (from
// memory).
const (
	dryCup = 0.25
	wetCup = 0.75
)

// LiquidFrom is the relative humidity above whose equilibrium liquid moves [-]:
// below, the pores that hold water do not hang together (common practice, no
// source).
const LiquidFrom = 0.95

// moistCell is one cell of a MoistChain.
type moistCell struct {
	curve      *sorptionCurve // nil: stores nothing in humid air
	perContent float64        // table steps per content [m³/kg]
	capacity   float64        // thickness in table steps per content: thickness·perContent⁻¹ [kg/m²]
	thickness  float64        // [m]
	// Conductance of half the cell: open + rise·phi, within dry and wet.
	open, rise, dry, wet float64 // [kg/(m²·s·Pa)]
}

// liquidRun is a run of cells of one layer in which liquid may move.
type liquidRun struct {
	first, last int     // cells [first, last)
	from        float64 // content above which liquid moves [kg/m³]
	free        float64 // [kg/m³]
	diffusivity float64 // 3.8·(A/free)² [m²/s]
}

// Skin says into how many cells more than the heat chain's the cells at the
// faces are cut, each three times as thick as its neighbour on the face's side.
// Moisture goes into wood by one or two millimetres in a day, heat by some
// hundred: without a skin a face's cell is too thick for humidity at the surface
// to follow the air as it does. Two at a face that matters are enough: through a
// winter behind 22 mm of pine, humidity at the inner surface differs from that of
// the coupled equations by 0.004 (RMS) with them and 0.03 without. The zero value
// leaves the heat chain's cells.
type Skin struct {
	Inner, Outer int
}

// MoistChain carries water vapour through a layered wall, on the cells of the
// heat Chain of the same layers, or on parts of them (Skin). It is immutable and may be shared between
// goroutines.
//
// The state is the water content of each cell, bound and free, liquid and ice
// [kg/m³ of the cell]. Vapour pressure is the saturation pressure times the
// relative humidity of the isotherm at that content; over ice it is that of ice
// and humidity is relative to it. A cell with more than the isotherm holds at
// saturation is wet: it stays at the saturation pressure until what is free has
// dried, whatever the amount. Thus it condenses, holds, freezes and dries
// again. What lies above Free is surplus, which Drain takes out. A material that
// takes up nothing from humid air holds the vapour in the air of its pores, as
// if it were all pores.
//
// A step is implicit Euler with the isotherm linearised about the content at
// its start. The content changes by the fluxes alone, so water closes to
// round-off. A cell never gives off more than it holds. For that, a cell whose
// free water could all go within one step counts as less than held at
// saturation, and takes up too little in the first steps of condensation.
type MoistChain struct {
	cells    []moistCell
	moist    []Moist   // of each layer
	layer    []int     // of each cell
	heat     []int     // cell of the heat chain in which each cell lies
	depth    []float64 // of the cell middles [m]
	heated   int       // cells of the heat chain
	film     []float64 // resistance between neighbours beyond their halves, at the faces too [m²·s·Pa/kg]
	liquid   []liquidRun
	sdDry    float64 // [m]
	sdWet    float64 // [m]
	tInverse float64 // conductance of a chain without cells [kg/(m²·s·Pa)]
}

// NewMoistChain returns the vapour side of the wall whose heat side is heat, on
// the same cells: layers must be those that heat was made of, and moist says
// what each does with water. Layers that store no heat have no cells and are
// resistances; an air space may have none. It returns an error if the layers do
// not fit the heat chain, a property is negative or not finite, or a layer with
// cells has no vapour resistance.
func NewMoistChain(heat *Chain, layers []Layer, moist []Moist) (*MoistChain, error) {
	return NewSkinnedMoistChain(heat, layers, moist, Skin{})
}

// NewSkinnedMoistChain is NewMoistChain with a skin, for walls whose surface
// humidity matters. It also returns an error if skin is negative or more than 8
// cells at a face.
func NewSkinnedMoistChain(heat *Chain, layers []Layer, moist []Moist, skin Skin) (*MoistChain, error) {
	if min(skin.Inner, skin.Outer) < 0 || max(skin.Inner, skin.Outer) > 8 {
		return nil, fmt.Errorf("wall: skin of %d and %d cells", skin.Inner, skin.Outer)
	}
	if len(layers) != len(moist) {
		return nil, fmt.Errorf("wall: %d layers and %d sets of moisture properties", len(layers), len(moist))
	}
	m := &MoistChain{moist: append([]Moist(nil), moist...), heated: heat.Cells()}
	deep, resistance, next := 0.0, 0.0, 0
	pending := 0.0 // resistance since the last half cell, or since the inner face [m²·s·Pa/kg]
	for i, l := range layers {
		if err := l.check(); err != nil {
			return nil, fmt.Errorf("wall: layer %d: %w", i+1, err)
		}
		p := moist[i]
		if err := p.check(); err != nil {
			return nil, fmt.Errorf("wall: moisture of layer %d: %w", i+1, err)
		}
		dry, wet := p.sd(l.Thickness)
		m.sdDry += dry + p.InnerFilm + p.OuterFilm
		m.sdWet += wet + p.InnerFilm + p.OuterFilm
		pending += p.InnerFilm / AirPermeability
		first := next
		if l.capacity() > 0 {
			for next < heat.Cells() && heat.depth[next] < deep+l.Thickness {
				next++
			}
			if next == first {
				return nil, fmt.Errorf("wall: the heat chain has no cell in layer %d", i+1)
			}
		}
		inner := deep
		deep += l.Thickness
		resistance += l.resistance()
		n := float64(next - first)
		if n == 0 {
			if dry > 0 {
				pending += 2 / (1/dry + 1/wet) / AirPermeability
			}
			pending += p.OuterFilm / AirPermeability
			continue
		}
		if !(dry > 0) {
			return nil, fmt.Errorf("wall: layer %d stores heat and has no vapour resistance", i+1)
		}
		start := len(m.cells)
		for k := first; k < next; k++ {
			for _, share := range skin.cut(k == 0, k == heat.Cells()-1) {
				c := moistCell{thickness: share * l.Thickness / n}
				c.dry, c.wet = 2*n*AirPermeability/(share*dry), 2*n*AirPermeability/(share*wet)
				c.rise = (c.wet - c.dry) / (wetCup - dryCup)
				c.open = c.dry - c.rise*dryCup
				if s := p.Sorption; s.curve != nil {
					c.curve = s.curve
					c.perContent = curveSteps / s.full
					c.capacity = c.thickness * s.full / curveSteps
				}
				m.cells = append(m.cells, c)
				m.layer = append(m.layer, i)
				m.heat = append(m.heat, k)
				m.depth = append(m.depth, inner+c.thickness/2)
				m.film = append(m.film, pending)
				inner += c.thickness
				pending = 0
			}
		}
		pending = p.OuterFilm / AirPermeability
		if p.LiquidUptake > 0 {
			a := p.LiquidUptake / p.Free
			m.liquid = append(m.liquid, liquidRun{
				first: start, last: len(m.cells), free: p.Free,
				diffusivity: 3.8 * a * a, from: p.Sorption.Content(LiquidFrom, isothermTemp),
			})
		}
	}
	if next != heat.Cells() || math.Abs(deep-heat.thickness) > 1e-9*deep || math.Abs(resistance-heat.resistance) > 1e-9*resistance {
		return nil, fmt.Errorf("wall: layers of %d cells, %v m and %v m²·K/W do not make up a heat chain of %d cells, %v m and %v m²·K/W",
			next, deep, resistance, heat.Cells(), heat.thickness, heat.resistance)
	}
	m.film = append(m.film, pending)
	if next == 0 {
		if !(pending > 0) {
			return nil, errors.New("wall: no layer resists vapour")
		}
		m.tInverse = 1 / pending
	}
	return m, nil
}

// cut returns the shares of a heat cell's thickness that the moisture cells in it
// have, by whether it lies at the inner and at the outer face [-].
func (s Skin) cut(inner, outer bool) []float64 {
	shares := []float64{1}
	if inner {
		for range s.Inner {
			shares = append([]float64{shares[0] / 3}, shares...)
		}
	}
	if outer {
		for range s.Outer {
			shares = append(shares, shares[len(shares)-1]/3)
		}
	}
	sum := 0.0
	for _, v := range shares {
		sum += v
	}
	for i := range shares {
		shares[i] /= sum
	}
	return shares
}

// Cells returns the number of cells, which is the length of a state.
func (m *MoistChain) Cells() int { return len(m.cells) }

// HeatCell returns the index of the heat chain's cell in which cell i lies.
func (m *MoistChain) HeatCell(i int) int { return m.heat[i] }

// Depth returns how far the middle of cell i lies below the inner face [m].
func (m *MoistChain) Depth(i int) float64 { return m.depth[i] }

// Layer returns the index of the layer in which cell i lies.
func (m *MoistChain) Layer(i int) int { return m.layer[i] }

// Thickness returns the thickness of cell i [m].
func (m *MoistChain) Thickness(i int) float64 { return m.cells[i].thickness }

// Sd returns the vapour resistance from face to face as metres of still air,
// with all materials dry and with all wet [m].
func (m *MoistChain) Sd() (dry, wet float64) { return m.sdDry, m.sdWet }

// Water returns the water in the wall [kg/m²].
func (m *MoistChain) Water(content []float64) float64 {
	sum := 0.0
	for i := range m.cells {
		sum += m.cells[i].thickness * content[i]
	}
	return sum
}

// gasConstant is that of water vapour [J/(kg·K)], kelvin the temperature of 0 °C
// [K].
const (
	gasConstant = 461.5
	kelvin      = 273.15
)

// FillHumidity writes into content what is in equilibrium with relative
// humidity phi, from 0 to 1, at the temperatures temp of the heat chain's cells
// [°C].
func (m *MoistChain) FillHumidity(content []float64, phi float64, temp []float64) {
	for i := range m.cells {
		t := temp[m.heat[i]]
		if s := m.moist[m.layer[i]].Sorption; s.curve != nil {
			content[i] = s.Content(phi, t)
		} else {
			content[i] = phi * air.SaturationPressureFast(t) / (gasConstant * (t + kelvin))
		}
	}
}

// humidity returns the relative humidity of cell i, more than 1 where it is wet,
// and its slope by content [m³/kg].
func (m *MoistChain) humidity(i int, content, t float64) (phi, slope float64) {
	if s := m.moist[m.layer[i]].Sorption; s.curve != nil {
		return s.Humidity(content, t)
	}
	slope = gasConstant * (t + kelvin) / air.SaturationPressureFast(t)
	return content * slope, slope
}

// Humidity returns the relative humidity in cell i at temperature t [°C]: 1
// where it is wet.
func (m *MoistChain) Humidity(i int, content, t float64) float64 {
	phi, _ := m.humidity(i, content, t)
	return math.Max(0, math.Min(1, phi))
}

// wettest is the volume share of water up to which the law of conductivity is
// taken; its source stops there or before (from memory). [-]
const wettest = 0.15

// soaked is the most by which water multiplies a conductivity: pores full of water
// conduct about as water and a light insulation's frame together; an estimate. [-]
const soaked = 4.0

// Conductivity writes into factor, a number a heat cell, by what the water in it
// multiplies the conductivity [-], and reports whether any differs from 1.
func (m *MoistChain) Conductivity(content []float64, factor []float64) bool {
	differs := false
	var water, thick float64
	for i := range m.cells {
		water += content[i] * m.cells[i].thickness
		thick += m.cells[i].thickness
		if i+1 < len(m.cells) && m.heat[i+1] == m.heat[i] {
			continue
		}
		p := &m.moist[m.layer[i]]
		factor[m.heat[i]] = 1
		if p.Conducts > 0 {
			dry := 0.0
			if p.Sorption.curve != nil {
				dry = p.Sorption.Content(0.5, isothermTemp)
			}
			share := math.Min(wettest, water/thick/1000) - math.Min(wettest, dry/1000)
			factor[m.heat[i]] = math.Min(soaked, math.Exp(p.Conducts*share))
			differs = differs || share != 0
		}
		water, thick = 0, 0
	}
	return differs
}

// FreeWater returns the water in cell i beyond what its material holds in
// saturated air at t [°C], per square metre of the wall: condensate, or ice
// below 0 °C [kg/m²].
func (m *MoistChain) FreeWater(i int, content, t float64) float64 {
	// Far from full no temperature of a hive leaves any of it free: saturated wood
	// holds a sixth less at 60 °C than at 0 °C.
	if c := &m.cells[i]; c.curve != nil && content*c.perContent < 0.7*curveSteps {
		return 0
	}
	phi, slope := m.humidity(i, content, t)
	return math.Max(0, (phi-1)/slope) * m.cells[i].thickness
}

// Drain takes out of every cell whose layer has a free content what lies above
// it, and returns the sum [kg/m²].
func (m *MoistChain) Drain(content []float64) float64 {
	sum := 0.0
	for i := range m.cells {
		if free := m.moist[m.layer[i]].Free; free > 0 && content[i] > free {
			sum += (content[i] - free) * m.cells[i].thickness
			content[i] = free
		}
	}
	return sum
}

// Soak lets a face that is wet with liquid for dt [s] draw water into its cell,
// up to offered [kg/m²], and returns what it took [kg/m²]; the rest runs off. It
// follows the law of the square root of time, taken on from what the cell
// already holds beyond the next one in, until the pores are full; with a skin
// the parts of the cell fill one after the other. A coat of more than 0.5 m
// of still air on the face lets no liquid in (common practice, no source), nor
// does a material without LiquidUptake.
func (m *MoistChain) Soak(dt float64, content []float64, outer bool, offered float64) float64 {
	if len(m.cells) == 0 || !(offered > 0) {
		return 0
	}
	first, step, film := 0, 1, m.film[0]
	if outer {
		first, step, film = len(m.cells)-1, -1, m.film[len(m.cells)]
	}
	p := m.moist[m.layer[first]]
	if p.LiquidUptake == 0 || film*AirPermeability > 0.5 {
		return 0
	}
	// The cells within the heat chain's cell at the face, and the one beyond:
	// a layer has two heat cells at least, so that is of the same material.
	end := first
	for m.heat[end] == m.heat[first] {
		end += step
	}
	soaked := 0.0
	for i := first; i != end; i += step {
		soaked += math.Max(0, content[i]-content[end]) * m.cells[i].thickness
	}
	left := math.Min(offered, math.Sqrt(soaked*soaked+p.LiquidUptake*p.LiquidUptake*dt)-soaked)
	taken := 0.0
	for i := first; i != end && left > 0; i += step {
		part := math.Max(0, math.Min(left, (p.Free-content[i])*m.cells[i].thickness))
		content[i] += part / m.cells[i].thickness
		left -= part
		taken += part
	}
	return taken
}

// held is the capacity of a cell that stays at the saturation pressure
// [kg/(m²·Pa)]: no flux moves it.
const held = 1e30

// MoistWork is the scratch of one MoistChain during a step. The zero value is
// ready; it allocates only when it first meets a chain longer than any before.
// A MoistWork must not be shared between goroutines.
type MoistWork struct {
	chain *MoistChain
	dt    float64 // [s]

	saturation []float64 // [Pa]
	start      []float64 // vapour pressure at the start [Pa]
	rate       []float64 // capacity/dt [kg/(m²·s·Pa)]
	link       []float64 // between neighbours; link[0] to the inner face, link[n] to the outer [kg/(m²·s·Pa)]
	source     []float64 // of the elimination from outside inwards [kg/(m²·s)]
	pass       []float64 // link/(link + what lies behind) [-]
	pressure   []float64 // at the end [Pa]
	flux       []float64 // through the links, positive outwards [kg/(m²·s)]

	outer         float64 // conductance from the last cell to the outer pressure [kg/(m²·s·Pa)]
	outerPressure float64 // [Pa]

	gAA, gAB, gBB, sA, sB float64
}

func (w *MoistWork) fit(n int) {
	if cap(w.flux) <= n {
		b := make([]float64, 8*n+2)
		w.saturation, w.start, w.rate = b[:n:n], b[n:2*n:2*n], b[2*n:3*n:3*n]
		w.source, w.pass, w.pressure = b[3*n:4*n:4*n], b[4*n:5*n:5*n], b[5*n:6*n:6*n]
		w.link, w.flux = b[6*n:7*n+1:7*n+1], b[7*n+1:]
	}
	w.saturation, w.start, w.rate = w.saturation[:n], w.start[:n], w.rate[:n]
	w.source, w.pass, w.pressure = w.source[:n], w.pass[:n], w.pressure[:n]
	w.link, w.flux = w.link[:n+1], w.flux[:n+1]
}

// prepare evaluates the materials at the state. Beyond the outer face stands a
// conductance [kg/(m²·s·Pa)].
func (m *MoistChain) prepare(dt float64, content, temp []float64, beyond float64, w *MoistWork) {
	n := len(m.cells)
	w.fit(n)
	if !(dt > 0) {
		dt = math.NaN()
	}
	w.chain, w.dt = m, dt
	content, temp = content[:n], temp[:m.heated]
	saturation, start, rate, link := w.saturation[:n], w.start[:n], w.rate[:n], w.link[:n+1]
	film := m.film[:n+1]
	before := 0.0
	for i := range n {
		c := &m.cells[i]
		t := temp[m.heat[i]]
		ps := air.SaturationPressureFast(t)
		saturation[i] = ps
		phi := 0.0
		if c.curve != nil {
			var slope float64
			phi, slope = c.curve.at(content[i]*c.perContent, t-isothermTemp)
			rate[i] = c.capacity / (slope * ps) // still a capacity [kg/(m²·Pa)]
			start[i] = ps * phi
		} else {
			perContent := gasConstant * (t + kelvin)
			rate[i] = c.thickness / perContent
			start[i] = content[i] * perContent
			if start[i] >= ps {
				phi = 1
			} else if c.rise != 0 {
				phi = start[i] / ps
			}
		}
		half := c.open + c.rise*phi
		if half < c.dry {
			half = c.dry
		} else if half > c.wet {
			half = c.wet
		}
		if i == 0 {
			link[0] = half / (1 + film[0]*half)
		} else {
			link[i] = before * half / (before + half + film[i]*before*half)
		}
		before = half
	}
	last := before / (1 + film[n]*before)
	link[n] = last
	if !math.IsInf(beyond, 1) {
		last = last * beyond / (last + beyond)
	}
	w.outer = last

	perStep := 1 / dt
	for i := range n {
		// reach is what the cell can lose per pascal of its own pressure in the
		// step [kg/(m²·Pa)], were there no vapour around it.
		reach := link[i] + last
		if i+1 < n {
			reach = link[i] + link[i+1]
		}
		reach *= dt
		capacity, ps, p := rate[i], saturation[i], start[i]
		water := content[i] * m.cells[i].thickness
		if p >= ps && content[i] > 0 {
			// Wet. The pressure stays at saturation unless the free water could
			// all go within the step; then the capacity is such that just the
			// free water, and what the isotherm gives up, is gone in vacuum.
			free := (p - ps) * capacity
			p = ps
			start[i] = ps
			if most := ps * reach; most > free {
				capacity = reach * (free + capacity*ps) / (most - free)
			} else {
				capacity = held
			}
		}
		// Where the isotherm is steeper than the line to the origin its tangent
		// could give off more than there is.
		if capacity*p*reach > water*(capacity+reach) {
			capacity = water * reach / (p*reach - water)
			if !(capacity > 0) {
				capacity = 0
			}
		}
		rate[i] = capacity * perStep
	}
}

// eliminate reduces the chain from the outside inwards to what stands behind
// the inner link: a conductance [kg/(m²·s·Pa)] and a source [kg/(m²·s)]. It
// leaves the factors of the way back.
func (w *MoistWork) eliminate(outer, fromOuter float64) (behind, source float64) {
	n := len(w.rate)
	rate, start, link := w.rate[:n], w.start[:n], w.link[:n+1]
	sources, pass := w.source[:n], w.pass[:n]
	behind, source = outer, fromOuter
	for i := n - 1; i >= 0; i-- {
		behind += rate[i]
		source += rate[i] * start[i]
		all := 1 / (link[i] + behind)
		sources[i] = source * all
		t := link[i] * all
		pass[i] = t
		if i > 0 {
			// Seen through the link: all terms are positive, nothing cancels.
			behind *= t
			source *= t
		}
	}
	return behind, source
}

// Condense reduces an implicit step of length dt [s] from content [kg/m³], with
// the heat chain's cells at the temperatures temp [°C] of the step's end, to the
// inner face.
// The outer face exchanges vapour through outerCoefficient [kg/(m²·s·Pa)] with
// air of vapour pressure outerPressure [Pa]; 0 seals it. It returns the law of
// the vapour flux into the wall at the inner face,
//
//	flux = g·pvFace − s    [kg/(m²·s)]
//
// with the vapour pressure pvFace at the inner surface, inside of its film of
// propolis or paint [Pa]. Advance finishes the step. A dt that is not positive
// gives NaN.
func (m *MoistChain) Condense(dt float64, content, temp []float64, outerCoefficient, outerPressure float64, work *MoistWork) (g, s float64) {
	if len(m.cells) == 0 {
		work.fit(0)
		work.chain, work.dt = m, dt
		work.outer, work.outerPressure = m.tInverse, outerPressure
		if !math.IsInf(outerCoefficient, 1) {
			work.outer = m.tInverse * outerCoefficient / (m.tInverse + outerCoefficient)
		}
		return work.outer, work.outer * outerPressure
	}
	m.prepare(dt, content, temp, outerCoefficient, work)
	work.outerPressure = outerPressure
	behind, source := work.eliminate(work.outer, work.outer*outerPressure)
	return work.pass[0] * behind, work.pass[0] * source
}

// Advance finishes the step begun by Condense with the same work: it changes
// content [kg/m³] by the fluxes of the step, given the vapour pressure at the
// inner face, pvFace [Pa], and returns the flux that leaves the wall at the
// outer face [kg/(m²·s)]. What entered at the inner face is g·pvFace − s, what
// is stored the difference of the two times dt. It panics if work was last
// condensed for another chain.
func (m *MoistChain) Advance(content []float64, pvFace float64, work *MoistWork) (leaving float64) {
	if work.chain != m {
		panic("wall: Advance without Condense of the same chain")
	}
	n := len(m.cells)
	if n == 0 {
		flux := work.outer * (pvFace - work.outerPressure)
		work.flux[0] = flux
		return flux
	}
	work.back(pvFace)
	flux, p := work.flux[:n+1], work.pressure[:n]
	flux[0] = work.link[0] * (pvFace - p[0])
	flux[n] = work.outer * (p[n-1] - work.outerPressure)
	m.store(content, work)
	return flux[n]
}

// CondenseBoth reduces a step as Condense does, to both faces, for a board
// between two airs:
//
//	fluxA = gAA·pvA − gAB·pvB − sA
//	fluxB = gBB·pvB − gAB·pvA − sB    [kg/(m²·s)], both into the wall
//
// AdvanceBoth finishes the step.
func (m *MoistChain) CondenseBoth(dt float64, content, temp []float64, work *MoistWork) (gAA, gAB, gBB, sA, sB float64) {
	n := len(m.cells)
	if n == 0 {
		work.fit(0)
		work.chain, work.dt, work.outer = m, dt, m.tInverse
		work.gAA, work.gAB, work.gBB, work.sA, work.sB = m.tInverse, m.tInverse, m.tInverse, 0, 0
		return m.tInverse, m.tInverse, m.tInverse, 0, 0
	}
	m.prepare(dt, content, temp, math.Inf(1), work)
	behind, source := work.eliminate(work.outer, 0)
	rate, pass, link := work.rate[:n], work.pass[:n], work.link[:n+1]
	gAA, sA = pass[0]*behind, pass[0]*source
	// By pascal at face A and at face B alone, and by the stores alone.
	fromA, stored := 1.0, 0.0
	for i := range n {
		fromA *= pass[i]
		stored = work.source[i] + pass[i]*stored
	}
	gAB, sB = link[n]*fromA, link[n]*stored
	// The flux from B that reaches A passes every cell; what does not is stored.
	// fromB[i] = own[i] + pass[i]·fromB[i-1], own by the elimination of B's part.
	through := link[n]
	own := work.pressure[:n] // scratch until the way back
	for i := n - 1; i >= 0; i-- {
		own[i] = through * pass[i] / link[i]
		through *= pass[i]
	}
	fromB := 0.0
	gBB = gAB
	for i := range n {
		fromB = own[i] + pass[i]*fromB
		gBB += rate[i] * fromB
	}
	work.gAA, work.gAB, work.gBB, work.sA, work.sB = gAA, gAB, gBB, sA, sB
	return gAA, gAB, gBB, sA, sB
}

// AdvanceBoth finishes the step begun by CondenseBoth, given the vapour
// pressures at the inner face, pvA, and the outer, pvB [Pa].
func (m *MoistChain) AdvanceBoth(content []float64, pvA, pvB float64, work *MoistWork) {
	if work.chain != m {
		panic("wall: AdvanceBoth without CondenseBoth of the same chain")
	}
	n := len(m.cells)
	if n == 0 {
		work.flux[0] = work.outer * (pvA - pvB)
		return
	}
	work.outerPressure = pvB
	work.eliminate(work.outer, work.outer*pvB)
	work.back(pvA)
	flux, p := work.flux[:n+1], work.pressure[:n]
	flux[0] = work.link[0] * (pvA - p[0])
	flux[n] = work.outer * (p[n-1] - pvB)
	m.store(content, work)
}

// back goes outwards from the inner face and finds the pressures.
func (w *MoistWork) back(pvFace float64) {
	p := pvFace
	source, pass, pressure := w.source, w.pass[:len(w.source)], w.pressure[:len(w.source)]
	for i := range source {
		p = source[i] + pass[i]*p
		pressure[i] = p
	}
}

// store changes the content by the fluxes and moves liquid.
func (m *MoistChain) store(content []float64, w *MoistWork) {
	n := len(m.cells)
	content, flux, p, link := content[:n], w.flux[:n+1], w.pressure[:n], w.link[:n+1]
	for i := 1; i < n; i++ {
		flux[i] = link[i] * (p[i-1] - p[i])
	}
	for i := range content {
		content[i] += w.dt * (flux[i] - flux[i+1]) / m.cells[i].thickness
	}
	for i := range m.liquid {
		m.spread(m.liquid[i], content, w)
	}
}

// LiquidDiffusivity returns the diffusivity of liquid water in a porous material
// [m²/s] at a content, with its free content [kg/m³] and its water absorption
// coefficient A [kg/(m²·√s)]:
//
//	D = 3.8·(A/free)²·1000^(content/free − 1)
//
// Above free it is that at free. Source: Simultaneous heat and moisture
// transport in building components, Fraunhofer IRB 1995, suction (from memory).
func LiquidDiffusivity(content, free, uptake float64) float64 {
	a := uptake / free
	return 3.8 * a * a * liquidFall(content/free)
}

// liquidFall returns 1000^(x−1), at most 1.
func liquidFall(x float64) float64 {
	if x >= 1 {
		return 1
	}
	const ln1000 = 6.907755278982137
	return math.Exp(ln1000 * (x - 1))
}

// melting is the saturation pressure at which ice melts [Pa].
const melting = 611.2

// spread moves liquid between the cells of one layer, implicitly, where the
// wetter of two neighbours is above the threshold and neither is frozen.
func (m *MoistChain) spread(r liquidRun, content []float64, w *MoistWork) {
	wet := false
	for _, c := range content[r.first:r.last] {
		if c > r.from {
			wet = true
			break
		}
	}
	if !wet {
		return
	}
	// pass[i] and source[i] lead from cell i-1 to the new content of cell i;
	// rate[i] is the exchange of the two in the step [m]. The step's own use of
	// this scratch is over.
	exchange, source, pass := w.rate, w.source, w.pass
	exchange[r.first] = 0
	for i := r.first + 1; i < r.last; i++ {
		exchange[i] = 0
		frozen := w.saturation[i-1] <= melting || w.saturation[i] <= melting
		if a, b := content[i-1], content[i]; !frozen && (a > r.from || b > r.from) {
			distance := (m.cells[i-1].thickness + m.cells[i].thickness) / 2
			exchange[i] = r.diffusivity * w.dt / distance * liquidFall((a+b)/(2*r.free))
		}
	}
	behind, rest := 0.0, 0.0
	for i := r.last - 1; i >= r.first; i-- {
		behind += m.cells[i].thickness
		rest += m.cells[i].thickness * content[i]
		all := 1 / (exchange[i] + behind)
		source[i], pass[i] = rest*all, exchange[i]*all
		behind *= pass[i]
		rest *= pass[i]
	}
	// The new contents, and the change by what they exchange, so that none is
	// lost.
	before := source[r.first]
	for i := r.first + 1; i < r.last; i++ {
		after := source[i] + pass[i]*before
		moved := exchange[i] * (before - after)
		content[i-1] -= moved / m.cells[i-1].thickness
		content[i] += moved / m.cells[i].thickness
		before = after
	}
}

// Pressure returns the vapour pressure in cell i by which the step last advanced
// reckoned [Pa]. In the first steps of condensation it lies above saturation.
func (w *MoistWork) Pressure(i int) float64 { return w.pressure[i] }

// LatentHeat writes into heat, for each cell of the heat chain, what the vapour
// that it took up, or gave off, released in the step last advanced [W/m²]: by the
// latent heat of evaporation, or of sublimation for free water below 0 °C. The
// heat by which bound water exceeds free water is left out; at most a tenth, in
// dry wood (from memory).
func (m *MoistChain) LatentHeat(temp, heat []float64, work *MoistWork) {
	if work.chain != m {
		panic("wall: LatentHeat without a step of the same chain")
	}
	clear(heat[:m.heated])
	for i, k := range m.heat {
		latent := air.LatentEvaporation(temp[k])
		if temp[k] < 0 && work.pressure[i] >= work.saturation[i]*(1-1e-9) {
			latent = air.LatentSublimation(temp[k])
		}
		heat[k] += latent * (work.flux[i] - work.flux[i+1])
	}
}

// MoistureEffusivity returns the moisture effusivity of a material
// [kg/(m²·Pa·√s)], √(permeability·slope/saturation), from its permeability to
// vapour [kg/(m·s·Pa)], the slope of its isotherm [kg/m³] and the saturation
// pressure [Pa]. Source: the Nordtest method of moisture buffering, 2005 (from
// memory).
func MoistureEffusivity(permeability, slope, saturation float64) float64 {
	return math.Sqrt(permeability * slope / saturation)
}

// WoodConductivity returns the conductivity of wood across the grain [W/(m·K)]
// by its specific gravity, oven-dry mass over volume at the moisture [-], and
// its moisture as a share of dry mass [-]. Source: Wood Handbook (FPL-GTR-190),
// chapter 4 (from memory); for moisture below 0.25 and gravity above 0.3.
func WoodConductivity(gravity, moisture float64) float64 {
	return gravity*(0.1941+0.4064*moisture) + 0.01864
}

// MoistureConductivity returns by which factor the conductivity of a material
// changes from one moisture to another [-]: exp(coefficient·(to − from)). The
// moistures are shares of dry mass [-] for a coefficient by mass, or shares of
// volume [-] for one by volume. Source: EN ISO 10456:2007, clause 7 and table 4
// (from memory): by volume 4 for mineral wool and expanded, 2.5 for extruded
// polystyrene, 6 for polyurethane and cork; by mass 0.5 for cellulose. For wood
// WoodConductivity amounts to 1.4 by mass near 12 %.
func MoistureConductivity(coefficient, from, to float64) float64 {
	return math.Exp(coefficient * (to - from))
}
