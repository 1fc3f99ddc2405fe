package season

import (
	"fmt"
	"math"

	"hackle/airflow"
	"hackle/hive"
	"hackle/wall"
)

// strips is the number of height strips that an upright opening is cut into, so
// that air can enter below and leave above through the same hole.
const strips = 4

// dischargeDefault is the discharge coefficient of a small sharp-edged opening.
// Handbooks give 0.6 to 0.65 for sharp edges; the passage through a wall adds
// its own friction. [-]
const dischargeDefault = 0.62

// innerDischarge belongs to wide passages between free spaces. [-]
const innerDischarge = 0.8

// nodes gives the network its air nodes.
func (c *compiler) nodes() []airflow.Node {
	out := make([]airflow.Node, len(c.cells))
	for i, cl := range c.cells {
		if i == c.lidCell {
			out[i].Height = c.height + c.hive.Lid.Space/2
			continue
		}
		out[i].Height = c.slabs[cl.slab].middle()
	}
	return out
}

func (c *compiler) link(from, to int, height, area float64, law airflow.Law, face int, f flow) {
	c.areas = append(c.areas, area)
	c.still = append(c.still, 0)
	c.links = append(c.links, airflow.Link{From: from, To: to, Height: height, Law: law, WindFace: face})
	c.flows = append(c.flows, f)
}

// seamLaw is laminar flow through parallel plates: what count gaps of a width
// and opening gap let through over length.
type plates struct {
	width float64 // sum of count·width·gap³ [m⁴]
}

func (p *plates) add(count, width, gap float64) {
	if gap > 0 {
		p.width += count * width * gap * gap * gap
	}
}

// law returns the viscous law over length. [m]
func (p plates) law(length float64) airflow.Law {
	return airflow.Law{Viscous: 12 * length / p.width}
}

// upright is how freely air rises through a column of a slab: by seams in comb,
// by its whole area elsewhere.
func (c *compiler) upright(k, col int) (p plates, area float64) {
	s := c.slabs[k]
	b := &c.hive.Bodies[s.body]
	d := c.split(s)
	area = d.area[col]
	if !s.comb {
		return plates{}, area
	}
	f := b.Frames
	gap := f.Pitch - f.CombThickness
	p.add(1, d.seam[col], gap)
	if missing := 1 - f.DrawnShare; missing > 0 {
		// Frames without comb leave their whole breadth open.
		p.add(missing, d.seam[col], f.CombThickness)
	}
	fo := c.follower(s.body)
	switch {
	case col == flank:
		p.add(2, d.width[core]+d.width[flank], b.FrameEndGap())
		n := 2.0
		if fo != nil {
			n = 1
			p.add(1, f.Length, gap)
		}
		p.add(n, f.Length, b.SideGap())
	case col == beyond:
		p.add(2, d.width[beyond], b.FrameEndGap())
		if fo != nil {
			p.add(1, f.Length, b.SideGap())
			if d.seam[beyond] == 0 {
				return plates{}, area
			}
		}
	}
	return p, area
}

func (c *compiler) makeLinks() {
	for k := range c.slabs {
		if k+1 < len(c.slabs) {
			for col := range c.columns {
				c.rise(k, col)
			}
		}
		for col := 0; col+1 < c.columns; col++ {
			c.sideways(k, col)
		}
	}
	c.openingLinks()
	c.crackLinks()
	c.floorLinks()
	c.lidLinks()
}

// rise joins a cell with the one above it.
func (c *compiler) rise(k, col int) {
	low, high := c.slabs[k], c.slabs[k+1]
	pl, al := c.upright(k, col)
	ph, ah := c.upright(k+1, col)
	var law airflow.Law
	if pl.width > 0 {
		law.Viscous += pl.law(low.height() / 2).Viscous
	}
	if ph.width > 0 {
		law.Viscous += ph.law(high.height() / 2).Viscous
	}
	if col == core && pl.width > 0 {
		// The sheet speeds up as it rises: over its whole way it spends one
		// velocity head, which it gives up in the free space above.
		free := c.seamArea(k, col)
		way := max(0.05, c.combTop()-c.warmAt)
		if dz := high.middle() - low.middle(); low.top > c.warmAt {
			law.Inertial = min(1, dz/way) / (2 * free * free)
		}
	}
	if pl.width == 0 && ph.width == 0 {
		law = airflow.Orifice(min(al, ah), innerDischarge, low.height()/2+high.height()/2, math.Sqrt(min(al, ah)))
	}
	c.link(c.at(k, col), c.at(k+1, col), low.top, min(al, ah), law, -1,
		flow{kind: flowInner, slab: k, upper: k + 1, core: col == core && c.columns > 1 && (low.comb || high.comb)})
	// Where air stands still it conducts and diffuses: area over distance.
	a := min(c.cells[c.at(k, col)].volume/low.height(), c.cells[c.at(k+1, col)].volume/high.height())
	c.still[len(c.still)-1] = a / (high.middle() - low.middle())
}

// seamArea is the free section of a column among combs. [m²]
func (c *compiler) seamArea(k, col int) float64 {
	s := c.slabs[k]
	return c.cells[c.at(k, col)].volume / s.height()
}

// combTop is the upper end of the topmost comb. [m]
func (c *compiler) combTop() float64 {
	top := 0.0
	for _, s := range c.slabs {
		if s.comb {
			top = s.top
		}
	}
	return top
}

// sideways joins neighbouring columns of a slab.
//
// In comb, air leaves a core seam along its length at both ends: for inflow
// spread evenly over half the length the mean path is a third of it. In free
// space it crosses under or over the combs between two plates.
func (c *compiler) sideways(k, col int) {
	s := c.slabs[k]
	b := &c.hive.Bodies[s.body]
	f := b.Frames
	d := c.split(s)
	var law airflow.Law
	h := s.height()
	fo := c.follower(s.body)
	switch {
	case col == flank && fo != nil:
		law = airflow.Orifice(max(1e-6, 2*h*fo.Gap), dischargeDefault, 0.02, max(fo.Gap, 1e-3))
		if k == 0 || !s.comb {
			law = airflow.Orifice(max(1e-6, b.Length*min(h, max(fo.Gap, 1e-3))), dischargeDefault, 0.02, max(fo.Gap, 1e-3))
		}
	case s.comb:
		gap := f.Pitch - f.CombThickness
		var p plates
		n := d.abreast[core]
		if col == flank {
			n = max(1, min(d.abreast[flank], d.abreast[beyond]))
		}
		p.add(2*n, h, gap)
		if missing := 1 - f.DrawnShare; missing > 0 {
			p.add(2*n*missing, h, f.CombThickness)
		}
		if col == flank {
			p.add(2, h, b.FrameEndGap()) // past the frame ends
		}
		law = p.law(f.Length / 6)
	default:
		// Out of the core on all four sides, spreading as it goes.
		edge, distance := c.rim(d, col)
		var p plates
		p.add(1, edge, h)
		law = p.law(distance)
		law.Inertial = airflow.Orifice(edge*h, innerDischarge, distance, h).Inertial
	}
	c.link(c.at(k, col), c.at(k, col+1), s.middle(), 0, law, -1, flow{kind: flowInner, slab: k, upper: k})
	if !s.comb {
		edge, distance := c.rim(d, col)
		c.still[len(c.still)-1] = edge * h / distance
	}
}

// rim is the length of the edge between two neighbouring columns of a free slab
// and the distance between their middles. [m]
func (c *compiler) rim(d share, col int) (edge, distance float64) {
	if col == core {
		side := float64(c.coreCombs) * c.pitch
		length := d.area[core] / side
		return 2 * (side + length), min(side, length)/6 + (c.seamLength-length)/6
	}
	b := &c.hive.Bodies[len(c.hive.Bodies)-1]
	return b.Length, max(0.01, (d.width[col]+d.width[col+1])/4)
}

// openColumn is the column that openings of a face lead to.
func (c *compiler) openColumn(o *hive.Opening, s slab) int {
	if c.columns == 1 {
		return core
	}
	if fo := c.follower(s.body); fo != nil && fo.Side == o.Face {
		return beyond
	}
	return flank
}

func (c *compiler) openingLinks() {
	for i := range c.hive.Openings {
		o := &c.hive.Openings[i]
		cd := o.Discharge
		if cd == 0 {
			cd = dischargeDefault
		}
		count := float64(max(1, o.Count))
		mesh := o.MeshShare
		if mesh <= 0 || mesh > 1 {
			mesh = 1
		}
		if o.Face > hive.Right {
			k := len(c.slabs) - 1
			z := c.height
			if o.Face == hive.Bottom {
				k, z = 0, 0
			}
			area := o.Width * o.Height * count
			if o.Shape == hive.Round {
				area = math.Pi / 4 * o.Width * o.Height * count
			}
			col := flank
			if c.columns == 1 {
				col = core
			}
			c.link(c.at(k, col), outOfDoors, z, area*mesh, airflow.Orifice(area*mesh, cd, o.Depth, min(o.Width, o.Height)), sideOf(o.Face),
				flow{kind: flowOpening, opening: i, slab: k, upper: k})
			continue
		}
		for _, st := range airflow.OpeningStrips(shapeOf(o.Shape), o.Sill, o.Width, o.Height, o.Depth, cd, strips) {
			k := c.slabAt(st.Height)
			law := st.Law
			// Equal holes side by side, and the mesh over them, carry count
			// times and mesh times the flow at the same pressure.
			law.Viscous /= count * mesh
			law.Inertial /= count * count * mesh * mesh
			c.link(c.at(k, c.openColumn(o, c.slabs[k])), outOfDoors, st.Height, st.Area*count*mesh, law, int(o.Face),
				flow{kind: flowOpening, opening: i, slab: k, upper: k})
		}
	}
}

func sideOf(f hive.Face) int {
	switch f {
	case hive.Top:
		return roofSide
	case hive.Bottom:
		return underSide
	}
	return int(f)
}

func (c *compiler) slabAt(z float64) int {
	for k, s := range c.slabs {
		if z < s.top {
			return k
		}
	}
	return len(c.slabs) - 1
}

// jointLaw is the law of a joint of some length whose leakage area at 4 Pa is
// known. A joint of two boards is a slit as deep as the wall; its breadth follows
// from the leakage area, and so does the flow at the tenths of a pascal that
// drive a hive, where a power law fitted at 4 Pa and more need not hold.
func jointLaw(leakArea, length, depth float64) airflow.Law {
	const (
		dp    = 4.0 // Pa
		bends = 0
	)
	want := leakArea * math.Sqrt(2*dp/airflow.ReferenceDensity)
	low, high := 1e-6, 1e-2 // m
	for range 60 {
		gap := math.Sqrt(low * high)
		law := airflow.SlotCrack(gap, length, depth, bends)
		if law.Flow(dp, airflow.ReferenceDensity, airflow.ReferenceViscosity) < want {
			low = gap
		} else {
			high = gap
		}
	}
	return airflow.SlotCrack(math.Sqrt(low*high), length, depth, bends)
}

// crackLinks puts the joints between floor, bodies and lid round the hive, each
// side apart, since wind presses on one and pulls at the others.
func (c *compiler) crackLinks() {
	h := c.hive
	if h.LeakArea <= 0 || c.ideal.Tight {
		return
	}
	var joints []float64
	for i := range h.Bodies {
		joints = append(joints, h.BodyBase(i))
	}
	joints = append(joints, c.height)
	for j, z := range joints {
		k := c.slabAt(z)
		if j == len(joints)-1 {
			k = len(c.slabs) - 1
		}
		b := &h.Bodies[c.slabs[k].body]
		for f := hive.Front; f <= hive.Right; f++ {
			length := b.Width
			ends, _ := faceRoles(b)
			if f != ends[0] && f != ends[1] {
				length = b.Length
			}
			cell := c.at(k, min(flank, c.columns-1))
			if j == len(joints)-1 && c.lidCell >= 0 {
				// The joint under the lid opens into the lid's space only when the
				// board seals the bodies; half of it lies below the board.
				length /= 2
			}
			c.link(cell, outOfDoors, z, h.LeakArea*length, jointLaw(h.LeakArea*length, length, max(0.01, b.WallThickness(f))), int(f),
				flow{kind: flowCrack, slab: k, upper: k})
		}
	}
	if c.lidCell >= 0 {
		b := &h.Bodies[len(h.Bodies)-1]
		length := b.Length + b.Width
		c.link(c.lidCell, outOfDoors, c.height, h.LeakArea*length, jointLaw(h.LeakArea*length, length, max(0.01, b.WallThickness(hive.Front))), -1,
			flow{kind: flowCrack, slab: len(c.slabs), upper: len(c.slabs)})
	}
}

// floorLinks lets air through a mesh floor.
func (c *compiler) floorLinks() {
	h := c.hive
	if !h.Floor.Mesh || h.Floor.MeshArea <= 0 || h.Floor.TrayOn(c.date) {
		return
	}
	area := c.footprint(c.slabs[0])
	total := area[0] + area[1] + area[2]
	for col := range c.columns {
		a := h.Floor.MeshArea * area[col] / total
		if a <= 0 {
			continue
		}
		// Wires of half a millimetre: the free area acts as many small orifices.
		c.link(c.at(0, col), outOfDoors, 0, a, airflow.Orifice(a, dischargeDefault, 0.0005, 0.0027), underSide,
			flow{kind: flowMesh, slab: 0, upper: 0})
	}
}

// lidLinks joins the hive with the space under the lid, and that with outdoors.
func (c *compiler) lidLinks() {
	h := c.hive
	if c.lidCell < 0 {
		return
	}
	k := len(c.slabs) - 1
	t := h.TopBoard
	area := c.footprint(c.slabs[k])
	if t.Hole > 0 {
		c.link(c.at(k, min(flank, c.columns-1)), c.lidCell, c.height, t.Hole,
			airflow.Orifice(t.Hole, dischargeDefault, 0.01, math.Sqrt(t.Hole)), -1,
			flow{kind: flowBoard, slab: k, upper: k})
	}
	if t.Permeance > 0 {
		for col := range c.columns {
			if area[col] > 0 {
				c.link(c.at(k, col), c.lidCell, c.height, area[col],
					airflow.Darcy(t.Permeance*airflow.ReferenceViscosity, area[col]), -1,
					flow{kind: flowBoard, slab: k, upper: k})
			}
		}
	}
	if h.Lid.Vents > 0 {
		// Vents of a lid lie on opposite sides; halves at the two ends.
		z := c.height + h.Lid.Space/2
		for _, f := range []hive.Face{hive.Front, hive.Back} {
			c.link(c.lidCell, outOfDoors, z, h.Lid.Vents/2, airflow.Orifice(h.Lid.Vents/2, dischargeDefault, 0.02, 0.01), int(f),
				flow{kind: flowLidVent, slab: len(c.slabs), upper: len(c.slabs)})
		}
	}
}

// waxEmissivity of comb and bees to long wave. Natural waxes, wood and hair lie
// between 0.9 and 0.97. [-]
const waxEmissivity = 0.95

// pairRadiation decides with what each face exchanges long-wave radiation: a
// wall beside combs with the comb before it, faces of a shallow free space with
// what lies opposite, faces of a deep one with each other through a mean
// radiant temperature.
func (c *compiler) pairRadiation() error {
	for i := range c.zones {
		z := &c.zones[i]
		depth := c.slabs[z.last].top - c.slabs[z.first].bottom
		b := &c.hive.Bodies[c.slabs[z.first].body]
		z.thin = depth < 0.25*min(b.Length, b.Width)
		if z.thin {
			continue
		}
		for col := range c.columns {
			area := c.footprint(c.slabs[z.first])[col]
			if z.first > 0 {
				if j := c.cells[c.at(z.first-1, col)].comb; j >= 0 {
					z.combs = append(z.combs, combSide{j, area})
				}
			}
			if z.last+1 < len(c.slabs) {
				if j := c.cells[c.at(z.last+1, col)].comb; j >= 0 {
					z.combs = append(z.combs, combSide{j, area})
				}
			}
		}
	}
	lidZone := -1
	if c.lidCell >= 0 {
		lidZone = len(c.zones)
		c.zones = append(c.zones, zone{first: len(c.slabs), last: len(c.slabs)})
	}
	join := func(z, face int, far bool) {
		c.zones[z].members = append(c.zones[z].members, member{face, far})
	}
	for i := range c.faces {
		f := &c.faces[i]
		f.partner, f.farZone = -1, -1
		if f.cell == c.lidCell && c.lidCell >= 0 {
			f.partner, f.isZone = lidZone, true
			join(lidZone, i, false)
			continue
		}
		cl := c.cells[f.cell]
		s := c.slabs[cl.slab]
		if f.far >= 0 && f.far == c.lidCell {
			f.farZone = lidZone
			f.farGap = c.hive.Lid.Space
			join(lidZone, i, true)
		}
		if s.comb {
			if f.part != partFollower {
				f.partner = cl.comb
			}
		} else if z := c.zones[s.zone]; !z.thin {
			f.partner, f.isZone = s.zone, true
			join(s.zone, i, false)
		} else if f.kind == filmAbove && z.first > 0 {
			f.partner = c.cells[c.at(z.first-1, cl.column)].comb
		} else if f.kind == filmBelow && z.last+1 < len(c.slabs) {
			f.partner = c.cells[c.at(z.last+1, cl.column)].comb
		}
		if f.partner >= 0 && !f.isZone {
			f.factor = wall.EffectiveEmissivity(f.inner, waxEmissivity, 1)
		}
	}
	for i := range c.zones {
		z := &c.zones[i]
		if z.thin {
			continue
		}
		var areas, emissivities []float64
		for _, m := range z.members {
			f := &c.faces[m.face]
			e := f.inner
			if m.far {
				e = f.outer
			}
			areas, emissivities = append(areas, f.area), append(emissivities, e)
		}
		for _, s := range z.combs {
			areas, emissivities = append(areas, s.area), append(emissivities, waxEmissivity)
		}
		factors, err := wall.MeanRadiantFactors(areas, emissivities)
		if err != nil {
			return fmt.Errorf("season: radiation in the free space of %q: %w", c.hive.Name, err)
		}
		z.factors = factors
		for j, m := range z.members {
			if m.far {
				c.faces[m.face].farFact = factors[j]
			} else {
				c.faces[m.face].factor = factors[j]
			}
		}
	}
	return nil
}

func shapeOf(s hive.Shape) airflow.Shape {
	if s == hive.Round {
		return airflow.Round
	}
	return airflow.Slot
}
