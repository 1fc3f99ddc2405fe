package wall

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"sync"
)

// Inside and outside of the section of a joint, as indices of its
// environments.
const (
	jointInside  = 0
	jointOutside = 1
)

// A Joint is where plane walls meet or are cut, with the plane losses that the
// caller already counts.
type Joint struct {
	section Section
	inner   float64 // Σ U·length over inner dimensions [W/(m·K)]
	outer   float64 // Σ U·length over outer dimensions [W/(m·K)]
}

// JointLoss is the result of a joint.
type JointLoss struct {
	Coupling          float64 // L2D of the section solved [W/(m·K)]
	Psi               float64 // linear transmittance over inner dimensions [W/(m·K)]
	PsiExternal       float64 // linear transmittance over outer dimensions [W/(m·K)]
	TemperatureFactor float64 // (lowest inner surface − outside)/(inside − outside) [-]
}

// Solve computes the joint's heat loss by two-dimensional conduction. Edges of
// length l with linear transmittance ψ add ψ·l [W/K] to plane walls measured
// over their inner dimensions. Source: ISO 10211:2017 and ISO 14683:2017
// (definitions). The mesh errs by at most 1 % of ψ, or 0.1 mW/(m·K) where ψ is
// nearly nothing (asserted by the tests).
func (j Joint) Solve() (JointLoss, error) {
	f, err := j.section.Solve()
	if err != nil {
		return JointLoss{}, err
	}
	// One kelvin lies between the environments.
	l2d := f.Flow(jointInside)
	lowest, _ := f.SurfaceRange(jointInside)
	return JointLoss{
		Coupling: l2d, Psi: l2d - j.inner, PsiExternal: l2d - j.outer, TemperatureFactor: lowest,
	}, nil
}

// plane is a layered wall as a joint needs it.
type plane struct {
	edges      []float64 // depths of the layers' boundaries, edges[0] = 0 [m]
	lambda     []float64 // [W/(m·K)]
	resistance float64   // [m²·K/W]
	thickness  float64   // [m]
	reach      float64   // along the wall to which a joint is felt [m]
}

func newPlane(name string, layers []Layer, films ...float64) (plane, error) {
	if len(layers) == 0 {
		return plane{}, fmt.Errorf("wall: %s has no layer", name)
	}
	p := plane{edges: []float64{0}}
	sheet := 0.0 // conductance along the wall, per metre of it [W/K]
	for i, l := range layers {
		if err := l.check(); err != nil {
			return plane{}, fmt.Errorf("wall: %s: layer %d: %w", name, i+1, err)
		}
		if l.Thickness == 0 {
			return plane{}, fmt.Errorf("wall: %s: layer %d has no thickness, which a joint needs", name, i+1)
		}
		p.lambda = append(p.lambda, l.conductivity())
		p.thickness += l.Thickness
		p.edges = append(p.edges, p.thickness)
		p.resistance += l.resistance()
		sheet += l.conductivity() * l.Thickness
	}
	weakest := math.Inf(1)
	for _, h := range films {
		if !(h > 0) || math.IsInf(h, 1) {
			return plane{}, fmt.Errorf("wall: film coefficient %v W/(m²·K) of %s is not a positive number", h, name)
		}
		weakest = math.Min(weakest, h)
	}
	// Disturbances decay within the thickness in a plain wall, within the fin
	// length of its skins in one that conducts along them.
	p.reach = 4*p.thickness + 4*math.Sqrt(sheet/weakest)
	return p, nil
}

// jointMesh is as fine as the tests show to be needed for 1 %: a fraction of
// the thinnest wall. Layers thinner than its cells still get two.
func jointMesh(planes ...plane) Mesh {
	thinnest := math.Inf(1)
	for _, p := range planes {
		thinnest = math.Min(thinnest, p.thickness)
	}
	return Mesh{Finest: thinnest / 40, Growth: 1.2}
}

// u returns the plane transmittance between two films [W/(m²·K)].
func (p plane) u(hi, he float64) float64 { return 1 / (1/hi + p.resistance + 1/he) }

// newJoint wraps a section between 1 °C inside and 0 °C outside.
func newJoint(solids []Solid, spaces []Space, mesh Mesh) Joint {
	return Joint{section: Section{Solids: solids, Spaces: spaces, Temperatures: []float64{1, 0}, Mesh: mesh}}
}

// inside and outside return spaces beyond films.
func inside(x0, x1, y0, y1, h float64) Space {
	return Space{Extent: Extent{X0: x0, X1: x1, Y0: y0, Y1: y1}, Environment: jointInside, Resistance: 1 / h}
}

func outside(x0, x1, y0, y1, h float64) Space {
	return Space{Extent: Extent{X0: x0, X1: x1, Y0: y0, Y1: y1}, Environment: jointOutside, Resistance: 1 / h}
}

func block(x0, x1, y0, y1, lambda float64) Solid {
	return Solid{Extent{X0: x0, X1: x1, Y0: y0, Y1: y1}, lambda}
}

// CornerJoint returns the upright edge at which walls a and b meet at a right
// angle, with film coefficients hi inside and he outside [W/(m²·K)]. Walls of
// equally many layers are mitred, layer to layer, b's material filling the
// square at the corner of each; otherwise a runs through to the outer face of
// b, which butts against it. Layers need a thickness.
func CornerJoint(a, b []Layer, hi, he float64) (Joint, error) {
	pa, err := newPlane("wall a", a, hi, he)
	if err != nil {
		return Joint{}, err
	}
	pb, err := newPlane("wall b", b, hi, he)
	if err != nil {
		return Joint{}, err
	}
	// The inside is x > 0, y > 0; a lies along x below it, b along y beside it.
	leg := math.Max(pa.reach, pb.reach)
	var solids []Solid
	if len(a) == len(b) {
		for k := len(a) - 1; k >= 0; k-- {
			x, y := -pb.edges[k+1], -pa.edges[k+1]
			solids = append(solids, block(x, leg, y, -pa.edges[k], pa.lambda[k]), block(x, -pb.edges[k], y, leg, pb.lambda[k]))
		}
	} else {
		for k, lambda := range pb.lambda {
			solids = append(solids, block(-pb.edges[k+1], -pb.edges[k], 0, leg, lambda))
		}
		for k, lambda := range pa.lambda {
			solids = append(solids, block(-pb.thickness, leg, -pa.edges[k+1], -pa.edges[k], lambda))
		}
	}
	x, y := -pb.thickness, -pa.thickness
	margin := leg / 10
	j := newJoint(solids, []Space{
		inside(0, leg, 0, leg, hi),
		outside(x-margin, leg, y-margin, y, he),
		outside(x-margin, x, y-margin, leg, he),
	}, jointMesh(pa, pb))
	ua, ub := pa.u(hi, he), pb.u(hi, he)
	j.inner = (ua + ub) * leg
	j.outer = j.inner + ua*pb.thickness + ub*pa.thickness
	return j, nil
}

// CornerPsi returns the linear transmittance [W/(m·K)] over inner dimensions of
// CornerJoint.
func CornerPsi(a, b []Layer, hi, he float64) (float64, error) {
	j, err := CornerJoint(a, b, hi, he)
	if err != nil {
		return 0, err
	}
	loss, err := j.Solve()
	return loss.Psi, err
}

// Rim is the skirt of a lid that reaches down over the outside of the wall.
type Rim struct {
	Depth        float64 // below the underside of the lid [m], 0: no rim
	Thickness    float64 // [m]
	Conductivity float64 // [W/(m·K)]
	Gap          float64 // between rim and wall, 0: they touch [m]
	// GapConductivity is that of the still air in the gap, its radiation
	// included [W/(m·K)]; not read without a gap.
	GapConductivity float64
}

func (r Rim) check() error {
	if r.Depth == 0 {
		return nil
	}
	if !(r.Depth > 0 && r.Thickness > 0 && r.Conductivity > 0 && r.Gap >= 0) || (r.Gap > 0 && !(r.GapConductivity > 0)) {
		return fmt.Errorf("wall: rim %+v lacks a dimension or a conductivity", r)
	}
	return nil
}

// LidJoint returns the edge at which a wall meets the lid that lies on its top
// end and reaches to its outer face, or farther over a rim. hiWall, hiLid and
// he are the film coefficients inside on the wall, under the lid, and outside
// [W/(m²·K)]. The outer dimensions leave the rim out.
func LidJoint(side, lid []Layer, rim Rim, hiWall, hiLid, he float64) (Joint, error) {
	if err := rim.check(); err != nil {
		return Joint{}, err
	}
	return buttJoint("lid", side, lid, rim, 0, hiWall, hiLid, he)
}

// FloorJoint returns the edge at which a wall stands on the floor, which
// reaches to the wall's outer face and projects beyond it [m] (0: flush).
// hiWall, hiFloor and he are the film coefficients inside on the wall and on
// the floor, and outside [W/(m²·K)]. The outer dimensions leave the projection
// out.
func FloorJoint(side, floor []Layer, projection, hiWall, hiFloor, he float64) (Joint, error) {
	if !(projection >= 0) || math.IsInf(projection, 1) {
		return Joint{}, fmt.Errorf("wall: floor projects by %v m", projection)
	}
	return buttJoint("floor", side, floor, Rim{}, projection, hiWall, hiFloor, he)
}

// buttJoint lays a plate across the end of a wall.
func buttJoint(name string, side, plate []Layer, rim Rim, projection, hiSide, hiPlate, he float64) (Joint, error) {
	ps, err := newPlane("wall", side, hiSide, he)
	if err != nil {
		return Joint{}, err
	}
	pp, err := newPlane(name, plate, hiPlate, he)
	if err != nil {
		return Joint{}, err
	}
	// The inside is x > 0, y > 0; the wall lies along y at x < 0, the plate
	// along x at y < 0.
	leg := math.Max(ps.reach, pp.reach) + rim.Depth
	edge := -ps.thickness - projection // of the plate
	if rim.Depth > 0 {
		edge -= rim.Gap + rim.Thickness
	}
	var solids []Solid
	for k, lambda := range ps.lambda {
		solids = append(solids, block(-ps.edges[k+1], -ps.edges[k], 0, leg, lambda))
	}
	for k, lambda := range pp.lambda {
		solids = append(solids, block(edge, leg, -pp.edges[k+1], -pp.edges[k], lambda))
	}
	x, y := -ps.thickness, -pp.thickness
	margin := leg / 10
	far := edge - margin
	spaces := []Space{
		outside(far, leg, y-margin, y, he),
		outside(far, edge, y-margin, leg, he),
	}
	if rim.Depth > 0 {
		solids = append(solids, block(edge, edge+rim.Thickness, 0, rim.Depth, rim.Conductivity))
		if rim.Gap > 0 {
			solids = append(solids, block(edge+rim.Thickness, x, 0, rim.Depth, rim.GapConductivity))
		}
		spaces = append(spaces, outside(edge, x, rim.Depth, leg, he))
	} else if projection > 0 {
		spaces = append(spaces, outside(edge, x, 0, leg, he))
	}
	room := inside(0, leg, 0, leg, hiSide)
	room.ResistanceY = 1 / hiPlate // the plate's face is normal to y
	j := newJoint(solids, append(spaces, room), jointMesh(ps, pp))
	us, up := ps.u(hiSide, he), pp.u(hiPlate, he)
	j.inner = (us + up) * leg
	j.outer = j.inner + us*pp.thickness + up*ps.thickness
	return j, nil
}

// Recess is a groove along a wall's face: the rebate that carries the frames,
// or a hand-hold.
type Recess struct {
	Outside bool    // cut into the outer face, otherwise into the inner one
	Depth   float64 // into the wall [m], less than its thickness
	Height  float64 // along the wall [m]
	Film    float64 // on the surfaces of the recess [W/(m²·K)]
}

// RecessJoint returns the loss that a recess adds to a plane wall over which it
// runs, both parts of the wall going on beyond it. hi and he are the film
// coefficients inside and outside [W/(m²·K)]. A rebate filled by frame lugs has
// a lower Film than the open wall. Inner and outer dimensions are the same.
func RecessJoint(side []Layer, r Recess, hi, he float64) (Joint, error) {
	p, err := newPlane("wall", side, hi, he)
	if err != nil {
		return Joint{}, err
	}
	if !(r.Depth > 0 && r.Depth < p.thickness && r.Height > 0 && r.Film > 0) || math.IsInf(r.Height, 1) || math.IsInf(r.Film, 1) {
		return Joint{}, fmt.Errorf("wall: recess %+v in a wall of %v m", r, p.thickness)
	}
	// The wall lies along y from x = 0, its inner face, to the left.
	top, bottom := r.Height+p.reach, -p.reach
	var solids []Solid
	for k, lambda := range p.lambda {
		solids = append(solids, block(-p.edges[k+1], -p.edges[k], bottom, top, lambda))
	}
	margin := p.thickness
	spaces := []Space{
		inside(0, margin, bottom, top, hi),
		outside(-p.thickness-margin, -p.thickness, bottom, top, he),
	}
	if r.Outside {
		spaces = append(spaces, outside(-p.thickness, -p.thickness+r.Depth, 0, r.Height, r.Film))
	} else {
		spaces = append(spaces, inside(-r.Depth, 0, 0, r.Height, r.Film))
	}
	remains := plane{thickness: math.Min(p.thickness-r.Depth, r.Height)}
	j := newJoint(solids, spaces, jointMesh(p, remains))
	j.inner = p.u(hi, he) * (top - bottom)
	j.outer = j.inner
	return j, nil
}

// Cache remembers the losses of joints by their full description. The zero
// value is ready, and it is safe for concurrent use; it must not be copied
// after first use.
type Cache struct {
	mu    sync.Mutex
	known map[string]JointLoss
}

// Solve returns the loss of j, solved once for equal joints.
func (c *Cache) Solve(j Joint) (JointLoss, error) {
	if len(j.section.Solids) == 0 {
		return JointLoss{}, errors.New("wall: joint without a section")
	}
	key := j.key()
	c.mu.Lock()
	loss, ok := c.known[key]
	c.mu.Unlock()
	if ok {
		return loss, nil
	}
	loss, err := j.Solve()
	if err != nil {
		return JointLoss{}, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.known == nil {
		c.known = make(map[string]JointLoss)
	}
	c.known[key] = loss
	return loss, nil
}

// Len returns the number of joints remembered.
func (c *Cache) Len() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return len(c.known)
}

// key writes every number that the loss depends on.
func (j Joint) key() string {
	var b []byte
	add := func(values ...float64) {
		for _, v := range values {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
	}
	add(float64(len(j.section.Solids)), j.inner, j.outer, j.section.Mesh.Finest, j.section.Mesh.Growth, j.section.Mesh.Coarsest)
	for _, s := range j.section.Solids {
		add(s.X0, s.X1, s.Y0, s.Y1, s.Conductivity)
	}
	for _, s := range j.section.Spaces {
		add(s.X0, s.X1, s.Y0, s.Y1, float64(s.Environment), s.Resistance, s.ResistanceY)
	}
	return string(b)
}
