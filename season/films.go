package season

import (
	"math"

	"hackle/air"
	"hackle/wall"
)

// films sets the convective and radiative conductances of all faces from the
// last temperatures, with the properties of air at their mean.
func (e *engine) films() {
	mean := 0.0
	for _, t := range e.temp {
		mean += t
	}
	g := gasAt(mean / float64(len(e.temp)))
	e.wallFilms()
	for i := range e.faces {
		f := &e.faces[i]
		if f.kind == filmUpright && f.cell != e.lidCell {
			e.rad[i] = f.factor * e.blackFilm(e.face[i])
			continue
		}
		e.film[i] = e.filmAt(g, f, e.temp[f.cell], e.face[i], f.kind, f.gap)
		if f.far >= 0 {
			kind, gap := f.kind, f.gap
			if f.farZone >= 0 {
				kind, gap = filmBelow, f.farGap
			}
			e.farFilm[i] = e.filmAt(g, f, e.temp[f.far], e.farFace[i], kind, gap)
			e.farRad[i] = f.farFact * e.blackFilm(e.farFace[i])
		}
		e.rad[i] = f.factor * e.blackFilm(e.face[i])
	}
	if p := &e.plume; p.power > 0 {
		e.ceiling()
	}
}

// blackFilm is the linearised long-wave exchange of black surfaces near t. [W/(m²·K)]
func (e *engine) blackFilm(t float64) float64 {
	if e.ideal.NoRadiation {
		return 0
	}
	return wall.RadiativeFilm(1, t)
}

// plateFactor is the Prandtl number's share in the laminar film of an upright
// plate, 0.670/(1+(0.492/Pr)^(9/16))^(4/9), for air. Pr stays within 0.5 % of
// 0.71 over a hive's temperatures. [-]
const plateFactor = 0.5150

// uprightPlate is wall.NusseltVerticalLaminar for air.
func uprightPlate(rayleigh float64) float64 {
	return 0.68 + plateFactor*math.Sqrt(math.Sqrt(rayleigh))
}

func gasAt(t float64) wall.Gas {
	const p = 101325
	return wall.Gas{
		Conductivity:       air.Conductivity(t),
		KinematicViscosity: air.KinematicViscosity(t, p),
		Diffusivity:        air.ThermalDiffusivity(t, p),
		Expansion:          1 / (t + kelvin),
	}
}

// filmAt is the convective film between air and a face. [W/(m²·K)]
//
//   - Beside combs the air flows in a narrow channel of which the other side is
//     close to the air's own temperature: fully developed laminar flow, or the
//     free plate's film where the channel is wide.
//   - Beside free space: a free upright plate.
//   - Under a lid, over a floor: through a shallow layer, the air's reference
//     lying half way, as in an enclosure heated from below (twice its Nusselt
//     number over the depth), or by conduction where the layer lies stable. A
//     deep space uses the horizontal plate.
func (e *engine) filmAt(g wall.Gas, f *surface, ta, ts float64, kind filmKind, gap float64) float64 {
	switch kind {
	case filmChannel, filmUpright:
		ra := g.Rayleigh(ta-ts, f.height)
		plate := g.Film(uprightPlate(ra), f.height)
		if kind == filmUpright {
			return plate
		}
		return max(plate, wall.ChannelFilm(wall.NusseltChannelOne, g.Conductivity, gap))
	}
	// How far the layer tends to overturn. Between still and overturning the film
	// goes over within a tenth of a kelvin, so that rounds do not flip about it.
	lean := ta - ts
	if kind == filmBelow {
		lean = -lean
	}
	mixed := clamp(0.5+lean/0.2, 0, 1)
	const shallow = 0.06            // m
	length := math.Sqrt(f.area) / 4 // area over perimeter of a square
	var still, turning float64
	if gap >= shallow {
		ra := g.Rayleigh(lean, length)
		still = g.Film(wall.NusseltStable(ra), length)
		turning = g.Film(wall.NusseltUnstable(ra), length)
	} else {
		// The layer from the combs (as warm as its middle is above the face again)
		// to the face: twice the difference across the whole depth.
		still = 2 * g.Conductivity / gap
		turning = 2 * g.Film(wall.NusseltEnclosure(g.Rayleigh(2*lean, gap), 0), gap)
	}
	return still + mixed*(turning-still)
}

// wallFilms sets the films of upright walls beside free space, a zone at a time.
// The boundary layer runs down the whole wall through air that is cooler below
// than above. In linearly stratified air
//
//	Nu/Nu_uniform = (1 + S/2)^0.29 for S up to 2, 1.18 S^(1/4) beyond,
//	S = L/(mean difference) · dT/dz,
//
// for air, with Nu_uniform at the mean difference. Source: Natural convection
// from a vertical surface to a thermally stratified fluid, Journal of Heat
// Transfer 98 (1976); constants for Pr 0.7 from handbooks (from memory).
func (e *engine) wallFilms() {
	for i := range e.zones {
		z := &e.zones[i]
		if z.first >= len(e.slabs) {
			continue
		}
		var da, area, length float64
		for j := range e.faces {
			f := &e.faces[j]
			if f.kind == filmUpright && f.cell != e.lidCell && e.slabs[e.cells[f.cell].slab].zone == i {
				da += (e.temp[f.cell] - e.face[j]) * f.area
				area += f.area
				length = f.height
			}
		}
		if area == 0 {
			continue
		}
		mean := math.Abs(da / area)
		low, high := e.temp[e.at(z.first, min(flank, e.columns-1))], e.temp[e.at(z.last, min(flank, e.columns-1))]
		g := gasAt((low + high) / 2)
		h := g.Film(uprightPlate(g.Rayleigh(mean, length)), length)
		if mean > 1e-3 && high > low {
			s := (high - low) / mean
			if s <= 2 {
				h *= math.Pow(1+s/2, 0.29)
			} else {
				h *= 1.18 * math.Sqrt(math.Sqrt(s))
			}
		}
		for j := range e.faces {
			f := &e.faces[j]
			if f.kind == filmUpright && f.cell != e.lidCell && e.slabs[e.cells[f.cell].slab].zone == i {
				e.film[j] = h
			}
		}
	}
}

// Wax and wood of one comb, per area of comb face.
const (
	waxPerFace  = 0.5    // 1 g of wax carries 20 cm² of comb face, common practice, no source [kg/m²]
	waxHeat     = 2500.0 // [J/(kg·K)]
	frameWood   = 0.25   // wood of one deep frame, common practice, no source [kg]
	woodHeat    = 1600.0 // [J/(kg·K)]
	honeyHeat   = 2350.0 // 17 % water at 20 °C [J/(kg·K)]
	emptyK      = 0.151  // empty comb, through it [W/(m·K)]
	honeyK      = 0.44   // honey; sources give 0.33 and 0.54 [W/(m·K)]
	seamNusselt = wall.NusseltChannelBoth
)

// readCombs works out what the combs conduct and store with what they hold now.
func (e *engine) readCombs() {
	for i := range e.combs {
		c := &e.combs[i]
		e.seam[i] = c.faceArea * e.seamFilm(c)
		e.store[i] = e.combHeat(i)
		e.aside[i] = e.lateral(i)
		if up := e.above[i]; up >= 0 {
			e.upward[i] = e.uprightComb(i, up)
		}
	}
}

// combHeat is the heat capacity of the comb of a cell with what it holds. [J/K]
func (e *engine) combHeat(i int) float64 {
	c := &e.combs[i]
	s := e.slabs[e.cells[c.cell].slab]
	b := &e.plan.Hive.Bodies[s.body]
	wood := frameWood * c.count * s.height() / max(b.Frames.Depth, s.height())
	return c.faceArea*waxPerFace*waxHeat + wood*woodHeat + e.honey[i]*honeyHeat
}

func (e *engine) combK(i int) float64 {
	c := &e.combs[i]
	if c.capacity <= 0 {
		return emptyK
	}
	return emptyK + clamp(e.honey[i]/c.capacity, 0, 1)*(honeyK-emptyK)
}

// seamFilm between comb and the air of its seams. [W/(m²·K)]
func (e *engine) seamFilm(c *combNode) float64 {
	s := e.slabs[e.cells[c.cell].slab]
	f := &e.plan.Hive.Bodies[s.body].Frames
	return wall.ChannelFilm(seamNusselt, 0.0247, f.Pitch-f.CombThickness)
}

// lateral conductance between the core's and the flank's combs of a slab, comb
// after comb and across the seams between them by radiation and still air. [W/K]
func (e *engine) lateral(i int) float64 {
	c := &e.combs[i]
	cl := e.cells[c.cell]
	if cl.column != core || e.columns == 1 {
		return 0
	}
	j := e.cells[e.at(cl.slab, flank)].comb
	if j < 0 {
		return 0
	}
	s := e.slabs[cl.slab]
	f := &e.plan.Hive.Bodies[s.body].Frames
	gap := f.Pitch - f.CombThickness
	pitch := f.CombThickness/e.combK(i) + 1/(e.blackFilm(e.comb[i])*0.9+0.0247/gap)
	combs := (c.abreast + e.combs[j].abreast) / 4
	g := 2 * c.count / c.abreast * f.Length * s.height() / (combs * pitch)
	if !e.ideal.NoUpright {
		// Along the combs, from their middle to their ends.
		g += 2 * c.abreast * f.CombThickness * s.height() * e.combK(i) / (f.Length / 4)
	}
	return g
}

// uprightComb is the conductance from the comb of a cell to the one above it. [W/K]
func (e *engine) uprightComb(i, up int) float64 {
	if e.ideal.NoUpright {
		return 0
	}
	a, b := &e.combs[i], &e.combs[up]
	sa, sb := e.slabs[e.cells[a.cell].slab], e.slabs[e.cells[b.cell].slab]
	area := min(a.section, b.section)
	r := sa.height()/2/(e.combK(i)*area) + sb.height()/2/(e.combK(up)*area)
	if gap := sb.bottom - sa.top; gap > mergeGap/2 {
		r += 1 / (area * (e.blackFilm(e.comb[i])*0.9 + 0.0247/gap))
	}
	return 1 / r
}

// Standard films for the joints' two-dimensional fields: inner and outer
// surfaces of ISO 6946, 1/0.13 and 1/0.04. [W/(m²·K)]
const (
	jointInner = 1 / 0.13
	jointOuter = 1 / 0.04
)

// Frame rest: lugs lie 10 mm into the wall on a step 20 mm high (drawings of a
// square hive in a beekeepers' article of 1948). [m]
const (
	restDepth  = 0.010
	restHeight = 0.020
)

// bridges adds what edges and joints lose beyond the plane faces.
func (c *compiler) bridges() {
	if c.ideal.NoEdges {
		return
	}
	h := c.hive
	add := func(cell int, length float64, j wall.Joint, err error) {
		if err != nil {
			c.noEdge++
			return
		}
		loss, err := c.joint.Solve(j)
		if err != nil || !(loss.Psi > 0) {
			if err != nil {
				c.noEdge++
			}
			return
		}
		c.edges = append(c.edges, edge{cell, loss.Psi * length})
	}
	side := min(flank, c.columns-1)
	for k, s := range c.slabs {
		corners := [][2]int{{0, 2}, {0, 3}, {1, 2}, {1, 3}}
		for _, f := range corners {
			j, err := wall.CornerJoint(c.shellOf(s.body, f[0]), c.shellOf(s.body, f[1]), jointInner, jointOuter)
			add(c.at(k, side), s.height(), j, err)
		}
	}
	for i := range h.Bodies {
		b := &h.Bodies[i]
		if b.Frames.Count == 0 || b.Frames.TopBar <= b.Frames.Length {
			continue
		}
		// The rest for the frame lugs thins the wall at both ends of the frames, as
		// far as the inmost board allows.
		ends, _ := faceRoles(b)
		k := c.slabAt(h.BodyBase(i) + b.Height - restHeight/2)
		for _, f := range ends {
			layers := b.Walls[f]
			if len(layers) == 0 {
				continue
			}
			depth := min(restDepth, 0.6*layers[len(layers)-1].Thickness)
			j, err := wall.RecessJoint(heats(c.shell(i, f)), wall.Recess{Depth: depth, Height: restHeight, Film: jointInner}, jointInner, jointOuter)
			add(c.at(k, side), b.FaceWidth(f), j, err)
		}
	}
	low, top := &h.Bodies[0], &h.Bodies[len(h.Bodies)-1]
	lid := heats(append(c.layersOf(h.Lid.Layers), c.wrapsOn(4)...))
	lidAt := c.at(len(c.slabs)-1, side)
	if c.lidCell >= 0 {
		lidAt = c.lidCell
	} else if h.TopBoard != nil {
		lid = append(heats(c.layersOf(h.TopBoard.Layers)), lid...)
	}
	rim := wall.Rim{}
	for f := range 4 {
		j, err := wall.LidJoint(c.shellOf(len(h.Bodies)-1, f), lid, rim, jointInner, jointInner, jointOuter)
		add(lidAt, faceWidth(top, f), j, err)
		if h.Floor.Mesh && !h.Floor.TrayOn(c.date) {
			continue
		}
		j, err = wall.FloorJoint(c.shellOf(0, f), heats(c.layersOf(h.Floor.Layers)), 0, jointInner, jointInner, jointOuter)
		add(c.at(0, side), faceWidth(low, f), j, err)
	}
}
