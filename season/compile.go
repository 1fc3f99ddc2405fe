package season

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"hackle/airflow"
	"hackle/hive"
	"hackle/internal/skyline"
	"hackle/wall"
)

// Columns of air inside a hive.
const (
	core   = 0 // seams that hold the cluster
	flank  = 1 // all other seams and the gaps round the frame ends
	beyond = 2 // space past a follower board
)

// Sides of the outer boundary. The first four equal hive.Face.
const (
	roofSide  = 4
	underSide = 5
	sides     = 6
)

// Greatest height of a slab, and the distance under which two boundaries are
// one. A steady state is cheap and is cut finer than a season. [m]
const (
	seasonSlab = 0.08
	heaterSlab = 0.03
	mergeGap   = 0.004
)

// outOfDoors marks the far side of a surface or a flow.
const outOfDoors = airflow.Outside

// slab is one layer of the hive's inside between two heights.
type slab struct {
	bottom, top float64 // [m]
	body        int     // index into Hive.Bodies
	comb        bool    // frames hang here; else free space
	zone        int     // index of the run of free slabs it belongs to, -1 in comb
}

func (s slab) height() float64 { return s.top - s.bottom }
func (s slab) middle() float64 { return (s.top + s.bottom) / 2 }

// cell is one air node: a column of a slab.
type cell struct {
	slab, column int
	volume       float64 // of air [m³]
	comb         int     // index into combs, -1 without
}

// combNode is the comb of one cell, taken as one temperature.
type combNode struct {
	cell     int
	count    float64 // whole combs it amounts to [-]
	abreast  float64 // combs side by side [-]
	faceArea float64 // both faces of all combs [m²]
	section  float64 // horizontal section of wax and stores [m²]
	capacity float64 // honey it can hold [kg]
}

// surface is an inner face of the shell: a patch of wall, floor, lid or board.
type surface struct {
	name    string
	part    part
	side    int // outer boundary, or -1 when its far side is a cell
	cell    int // air it faces
	far     int // cell on the far side of a board between two airs, else -1
	area    float64
	chain   *wall.Chain
	moist   *wall.MoistChain
	offset  int     // first temperature of the chain in the state
	drinks  bool    // draws in water that lies on it
	wetAt   int     // first water content of the moist chain in the state
	gap     float64 // free distance to what it faces [m]
	kind    filmKind
	height  float64 // length of the convective layer [m]
	partner int     // comb or zone it exchanges radiation with
	isZone  bool    // partner is a zone
	factor  float64 // radiative exchange factor per area, near side [-]
	farZone int     // zone that the far side of a board looks into, -1
	farGap  float64 // free distance on the far side [m]
	farFact float64 // radiative exchange factor per area, far side [-]
	inner   float64 // emissivity of the near face [-]
	outer   float64 // emissivity of the far face of a board [-]
	level   float64 // height of its middle [m]
	over    bool    // lies above the cluster's column
}

// part groups surfaces for the ledger.
type part int

const (
	partWall part = iota
	partFloor
	partLid
	partBoard
	partFollower
	partRim // sides of the air space inside the lid
)

// filmKind chooses the convection at a surface.
type filmKind int

const (
	filmChannel filmKind = iota // wall beside combs
	filmUpright                 // wall beside free space
	filmAbove                   // face above air: lid, underside of a board
	filmBelow                   // face below air: floor, upper side of a board
)

// flowKind tells what a link of the pressure network is.
type flowKind int

const (
	flowInner flowKind = iota
	flowOpening
	flowCrack
	flowMesh
	flowBoard
	flowLidVent
)

// flow describes a link of the network.
type flow struct {
	kind    flowKind
	opening int // index into Hive.Openings
	slab    int // for upright seams: slab below and above
	upper   int
	core    bool // lies in the core column, so that bees in the seams narrow it
}

// zone is a run of slabs of free space that exchange radiation as one.
type zone struct {
	first, last int
	members     []member
	thin        bool // so flat that each face sees only what lies opposite
	combs       []combSide
	factors     []float64 // radiative factor of members, then combs, per area [-]
}

// combSide is the upper or lower edge of the combs of a cell, seen from a free
// space.
type combSide struct {
	comb int
	area float64 // [m²]
}

// member is a face of a surface that looks into a zone.
type member struct {
	face int
	far  bool // the far side of a board
}

// box is a hive compiled for the engine: geometry only, no state.
type box struct {
	plan      hive.Plan
	height    float64 // floor to underside of what closes the top [m]
	slabs     []slab
	columns   int
	cells     []cell
	lidCell   int // the air space inside the lid, -1 without
	combs     []combNode
	zones     []zone
	faces     []surface
	states    int // temperatures held in all chains
	wetStates int // water contents held in all moist chains

	links []airflow.Link
	flows []flow
	areas []float64 // free area of each link where it is an opening [m²]
	still []float64 // air section over distance along each inner link [m]
	net   *airflow.Network

	edges      []edge
	noEdge     int // joints whose layers have no thickness to draw
	coreCombs  int
	pitch, gap float64 // of the frames where the cluster sits [m]
	combThick  float64 // [m]
	seamLength float64 // of whole combs [m]
	coreLength float64 // of the part of them in the core [m]
	warmAt     float64 // usual height of the warm body's middle [m]

	// Positions in the heat system.
	cellRow, combRow, zoneRow, faceRow, farRow []int
	rows                                       int
	heat, gas                                  *skyline.Matrix
	heatAt, gasAt                              []linkPlace
}

// edge is a linear thermal bridge between a cell and outdoors.
type edge struct {
	cell        int
	conductance float64 // [W/K]
}

// at returns the air node of a slab and column.
func (b *box) at(slab, column int) int { return slab*b.columns + column }

// compiler builds a box; split in steps that read like the hive is built.
type compiler struct {
	box
	hive  *hive.Hive
	date  time.Time
	ideal Ideal
	joint *wall.Cache
	grid  wall.Grid

	wood wall.Isotherm // of one kilogram of wood in a cubic metre
}

// nest is what compile must know of the warm body among the combs.
type nest struct {
	breadth float64 // of the body across the combs [m]
	power   float64 // usual heat [W]
	centre  float64 // usual height of its middle, 0: half way up [m]
	slab    float64 // greatest height of a slab [m]
	cells   int     // multiplies the cells of layers, 0: once
}

// compile turns a plan into a box for the state of wraps and trays on date.
func compile(plan hive.Plan, date time.Time, warm nest, ideal Ideal, joints *wall.Cache) (*box, error) {
	c := compiler{hive: &plan.Hive, date: date, ideal: ideal, joint: joints}
	c.plan = plan
	c.grid.MinCells = 2 * max(1, warm.cells)
	if len(plan.Hive.Bodies) == 0 {
		return nil, fmt.Errorf("season: the hive %q has no body", plan.Hive.Name)
	}
	c.height = plan.Hive.Height()
	c.warmAt = warm.centre
	if c.warmAt == 0 {
		c.warmAt = c.height / 2
	}
	c.chooseColumns(warm)
	c.cutSlabs(warm.slab)
	c.makeCells()
	if err := c.makeSurfaces(); err != nil {
		return nil, err
	}
	if err := c.pairRadiation(); err != nil {
		return nil, err
	}
	c.makeLinks()
	net, err := airflow.NewNetwork(c.nodes(), c.links)
	if err != nil {
		return nil, fmt.Errorf("season: air paths of %q: %w", plan.Hive.Name, err)
	}
	c.net = net
	c.number()
	if err := c.couple(); err != nil {
		return nil, err
	}
	c.bridges()
	b := c.box
	return &b, nil
}

// frameBody is the uppermost body with frames; the cluster's column has the
// pitch of its combs. It returns -1 when the hive is empty.
func (c *compiler) frameBody() int {
	for i := len(c.hive.Bodies) - 1; i >= 0; i-- {
		if c.hive.Bodies[i].Frames.Count > 0 {
			return i
		}
	}
	return -1
}

func (c *compiler) chooseColumns(warm nest) {
	i := c.frameBody()
	if i < 0 {
		c.columns = 1
		return
	}
	f := c.hive.Bodies[i].Frames
	c.pitch, c.combThick = f.Pitch, f.CombThickness
	c.gap = f.Pitch - f.CombThickness
	c.seamLength = f.Length
	count := f.Count
	c.columns = 2
	for _, w := range c.hive.Followers {
		c.columns = 3
		if w.Body == i {
			count = w.Frames
		}
	}
	n := int(math.Round(warm.breadth / f.Pitch))
	c.coreCombs = max(1, min(n, max(1, count-2)))
	c.coreLength = clamp(c.plumeWidth(warm), 0.01, 0.9*f.Length)
}

// plumeWidth is how broad, along a seam, the sheet of air is that rises over a
// warm body. [m]
//
// Between parallel plates air moves at u = a·T with a = gap²/12·g·beta·rho/mu,
// so the sheet obeys the equations of the plane laminar jet of constant
// momentum M = a·q/(rho cp gap), q being the heat per seam, with the diffusivity
// of heat in place of viscosity: its flow per gap is (36 M kappa z)^(1/3), its
// breadth that flow squared over M. Source: the plane laminar jet of
// boundary-layer texts (Bickley), carried over to a seam by the identity of the
// equations. Heat spreads along the combs far more than in the air, so kappa
// counts both, over what air alone carries.
func (c *compiler) plumeWidth(warm nest) float64 {
	const t = 5.0 // °C
	g := gasAt(t)
	rho := moistDensity(t, 0.004, 101325)
	mobility := c.gap * c.gap / 12 * gravity * g.Expansion / g.KinematicViscosity
	m := mobility * warm.power / float64(c.coreCombs) / (rho * dryHeat * c.gap)
	spread := g.Conductivity * c.gap
	if !c.ideal.NoUpright {
		const fill = 0.5 // of the combs with honey, over a winter
		spread += (emptyK + fill*(honeyK-emptyK)) * c.combThick
	}
	kappa := spread / (rho * dryHeat * c.gap)
	z := max(0.05, (c.height-c.warmAt)/2)
	flow := math.Cbrt(36 * m * kappa * z)
	if m <= 0 {
		return warm.breadth
	}
	return flow * flow / m
}

// follower returns the board of a body, if it has one.
func (c *compiler) follower(body int) *hive.Follower {
	for i := range c.hive.Followers {
		if c.hive.Followers[i].Body == body {
			return &c.hive.Followers[i]
		}
	}
	return nil
}

// cutSlabs lays slab boundaries at body joints, at the lower and upper ends of
// frames and at the sill and head of every opening, and cuts what is thicker
// than limit.
func (c *compiler) cutSlabs(limit float64) {
	h := c.hive
	marks := []float64{0, c.height}
	type span struct{ low, high float64 }
	var framed []span
	for i := range h.Bodies {
		base := h.BodyBase(i)
		marks = append(marks, base)
		if h.Bodies[i].Frames.Count == 0 {
			continue
		}
		low := base + h.Bodies[i].BottomSpace()
		high := base + h.Bodies[i].Height - h.Bodies[i].TopSpace
		framed = append(framed, span{low, high})
		marks = append(marks, low, high)
	}
	for i := range h.Openings {
		o := &h.Openings[i]
		if o.Face <= hive.Right {
			marks = append(marks, clamp(o.Sill, 0, c.height), clamp(o.Sill+o.Height, 0, c.height))
		}
	}
	sort.Float64s(marks)
	bounds := marks[:1:1]
	for _, m := range marks[1:] {
		if m-bounds[len(bounds)-1] < mergeGap {
			continue
		}
		bounds = append(bounds, m)
	}
	bounds[len(bounds)-1] = c.height
	inFrames := func(z float64) bool {
		for _, s := range framed {
			if z > s.low && z < s.high {
				return true
			}
		}
		return false
	}
	zoneOpen := false
	add := func(low, high float64) {
		mid := (low + high) / 2
		s := slab{bottom: low, top: high, body: h.BodyAt(mid), comb: inFrames(mid), zone: -1}
		if !s.comb {
			if !zoneOpen {
				c.zones = append(c.zones, zone{first: len(c.slabs)})
				zoneOpen = true
			}
			s.zone = len(c.zones) - 1
			c.zones[s.zone].last = len(c.slabs)
		} else {
			zoneOpen = false
		}
		c.slabs = append(c.slabs, s)
	}
	for i := 1; i < len(bounds); i++ {
		low, high := bounds[i-1], bounds[i]
		n := max(1, int(math.Ceil((high-low)/limit-1e-9)))
		for j := range n {
			add(low+(high-low)*float64(j)/float64(n), low+(high-low)*float64(j+1)/float64(n))
		}
	}
}

// share is how a slab of a body is divided over the columns.
type share struct {
	abreast [3]float64 // combs side by side [-]
	comb    [3]float64 // length of all combs together [m]
	seam    [3]float64 // length of all seams together [m]
	area    [3]float64 // floor area [m²]
	width   [3]float64 // area over the body's length [m]
}

// split divides a slab. The core is as broad as coreCombs and as long as the
// sheet of air that rises over the cluster, in the middle of its seams; cool air
// comes down at their ends, which belong to the flank.
func (c *compiler) split(s slab) (d share) {
	b := &c.hive.Bodies[s.body]
	f := b.Frames
	defer func() {
		for i := range d.width {
			d.width[i] = d.area[i] / b.Length
		}
	}()
	if c.columns == 1 {
		d.area[core] = b.Width * b.Length
		return
	}
	pitch, length := c.pitch, c.seamLength
	if f.Count > 0 {
		pitch, length = f.Pitch, f.Length
	}
	bees := float64(f.Count)
	breadth := b.Width
	if fo := c.follower(s.body); fo != nil && c.columns == 3 {
		bees = float64(fo.Frames)
		breadth = min(b.Width, b.SideGap()+bees*pitch)
		n := float64(f.Count) - bees
		d.abreast[beyond], d.comb[beyond], d.seam[beyond] = n, n*length, max(0, n)*length
		d.area[beyond] = (b.Width - breadth) * b.Length
	} else if c.columns == 3 {
		// Another body holds the board; here the beyond column is a token strip.
		d.area[beyond] = 0.02 * b.Width * b.Length
		breadth *= 0.98
	}
	n := float64(c.coreCombs)
	if f.Count > 0 {
		n = min(n, bees)
	}
	coreLength := min(c.coreLength, length)
	d.area[core] = min(n*pitch, 0.8*breadth) * coreLength
	d.area[flank] = breadth*b.Length - d.area[core]
	if f.Count == 0 {
		return
	}
	d.abreast[core], d.abreast[flank] = n, bees-n
	d.comb[core] = n * coreLength
	d.comb[flank] = bees*length - d.comb[core]
	d.seam[core] = n * coreLength
	d.seam[flank] = max(0, (bees-1)*length-d.seam[core])
	return
}

func (c *compiler) makeCells() {
	for k, s := range c.slabs {
		b := &c.hive.Bodies[s.body]
		d := c.split(s)
		for col := range c.columns {
			cl := cell{slab: k, column: col, comb: -1, volume: d.area[col] * s.height()}
			if s.comb && d.comb[col] > 0 {
				f := b.Frames
				built := d.comb[col] * f.DrawnShare
				solid := built * f.CombThickness * s.height()
				if built > 0 {
					cl.comb = len(c.combs)
					c.combs = append(c.combs, combNode{
						cell: len(c.cells), count: built / f.Length, abreast: d.abreast[col],
						faceArea: 2 * built * s.height(),
						section:  built * f.CombThickness,
						capacity: built / f.Length * f.HoneyPerFrame * s.height() / f.Depth,
					})
				}
				cl.volume = max(cl.volume-solid, 0.02*cl.volume)
			}
			c.cells = append(c.cells, cl)
		}
	}
	c.lidCell = -1
	if c.hive.TopBoard != nil && c.hive.Lid.Space > 0 {
		top := &c.hive.Bodies[len(c.hive.Bodies)-1]
		c.lidCell = len(c.cells)
		c.cells = append(c.cells, cell{slab: len(c.slabs), column: flank, comb: -1,
			volume: top.Length * top.Width * c.hive.Lid.Space})
	}
}

// sheet is one layer as the engine sees it.
type sheet struct {
	heat  wall.Layer
	moist wall.Moist
}

func heats(sheets []sheet) []wall.Layer {
	out := make([]wall.Layer, len(sheets))
	for i, s := range sheets {
		out[i] = s.heat
	}
	return out
}

func moists(sheets []sheet) []wall.Moist {
	out := make([]wall.Moist, len(sheets))
	for i, s := range sheets {
		out[i] = s.moist
	}
	return out
}

// Water that wood of a hive takes up as liquid across its grain, and the content
// that fills its pores, as a share of the pore space left by cell walls of
// 1,530 kg/m³. Uptake borrowed from a record for building wood, pores from memory.
const (
	woodUptake = 0.0017 // [kg/(m²·√s)]
	woodSolid  = 1530.0 // [kg/m³]
	// Cloth, straw, shavings and the like draw in all that hangs on them within the
	// hour; an estimate. Hive wood does not, though bare wood could: bees varnish it,
	// and water pearls off wax and propolis (common practice, no source).
	clothUptake = 0.05 // [kg/(m²·√s)]
)

// fibrous reports whether a layer draws in water that lies on it: light stuff of
// plants, wool or paper, open to air (cork and felt are not).
func fibrous(l hive.Layer) bool {
	m := &l.Material
	return l.Resistance == 0 && m.Sorption > 0 && m.Density <= 300 && m.MuDry < 10
}

// paintFilm is the resistance of a coat of paint to vapour: between emulsion,
// 0.1 m, and gloss, 3 m of still air (EN ISO 10456, from memory). It lets no rain
// in. [m]
const paintFilm = 1.0

// painted reports whether the outer face of a side carries paint on the compile
// date, as its finish says.
func (c *compiler) painted(side int) bool {
	h := c.hive
	f := h.Finish
	face := hive.Face(side)
	switch side {
	case roofSide:
		face = hive.Top
		if h.Lid.Finish != nil {
			f = *h.Lid.Finish
		}
	case underSide:
		return false
	}
	for i := range h.Wraps {
		if w := &h.Wraps[i]; w.OnAt(c.date) && slices.Contains(w.Faces, face) {
			f = hive.Finish{}
			if w.Finish != nil {
				f = *w.Finish
			}
		}
	}
	return strings.Contains(f.Name, "paint")
}

// moistOf is what a layer does with water. A layer known by its thermal
// resistance alone passes vapour as still air of its thickness does.
func (c *compiler) moistOf(l hive.Layer) wall.Moist {
	m := l.Material
	w := wall.Moist{MuDry: max(1, m.MuDry), MuWet: max(1, m.MuWet), Conducts: m.MoistureExponent}
	if l.Resistance > 0 || m.Sorption <= 0 {
		return w
	}
	if !c.wood.Stores() {
		c.wood = wall.WoodIsotherm(1, 1)
	}
	w.Sorption = c.wood.Times(m.Density * m.Sorption)
	w.Free = max(100, 0.9*1000*(1-m.Density/woodSolid))
	switch {
	case fibrous(l):
		w.LiquidUptake = clothUptake
	case m.Density > 300:
		w.LiquidUptake = woodUptake
	}
	return w
}

// layersOf turns a shell from the file's order (outside to inside) to the
// engine's (inside to outside).
func (c *compiler) layersOf(shell []hive.Layer) []sheet {
	out := make([]sheet, 0, len(shell))
	for i := len(shell) - 1; i >= 0; i-- {
		l := shell[i]
		w := wall.Layer{Thickness: l.Thickness, Resistance: l.Resistance}
		if l.Resistance == 0 {
			w.Conductivity = l.Material.Conductivity
			w.Density = l.Material.Density
			w.SpecificHeat = l.Material.SpecificHeat
		}
		out = append(out, sheet{w, c.moistOf(l)})
	}
	return out
}

// shell returns the layers of one upright face of a body on the compile date,
// wraps included, inside to outside.
func (c *compiler) shell(body int, face hive.Face) []sheet {
	layers := c.layersOf(c.hive.Bodies[body].Walls[face])
	return append(layers, c.wrapsOn(face)...)
}

// shellOf is shell by number of the face.
func (c *compiler) shellOf(body, face int) []wall.Layer {
	return heats(c.shell(body, hive.Face(face)))
}

// faceWidth is the inside breadth of an upright face. [m]
func faceWidth(b *hive.Body, face int) float64 { return b.FaceWidth(hive.Face(face)) }

func (c *compiler) wrapsOn(face hive.Face) []sheet {
	var out []sheet
	for i := range c.hive.Wraps {
		w := &c.hive.Wraps[i]
		if !w.OnAt(c.date) {
			continue
		}
		for _, f := range w.Faces {
			if f == face {
				out = append(out, c.layersOf(w.Layers)...)
			}
		}
	}
	return out
}

func (c *compiler) addSurface(s surface, shell []hive.Layer, layers []sheet) error {
	if s.area <= 0 {
		return nil
	}
	s.inner, s.outer = emissivities(shell)
	heat := heats(layers)
	ch, err := wall.NewChain(heat, c.grid)
	if err != nil {
		return fmt.Errorf("season: %s: %w", s.name, err)
	}
	s.chain = ch
	// Moisture goes a millimetre or two into wood in a day: the inner face, and
	// both faces of a board, get cells as thin.
	skin := wall.Skin{Inner: 2}
	if s.far >= 0 {
		skin.Outer = 2
	}
	damp := moists(layers)
	if s.far < 0 && len(damp) > 0 && c.painted(s.side) {
		damp[len(damp)-1].OuterFilm = paintFilm
	}
	if coat := c.hive.InsideCoat; len(damp) > 0 && coat > 0 {
		damp[0].InnerFilm = coat
	}
	if s.moist, err = wall.NewSkinnedMoistChain(ch, heat, damp, skin); err != nil {
		return fmt.Errorf("season: %s: %w", s.name, err)
	}
	s.drinks = len(shell) > 0 && fibrous(shell[len(shell)-1]) && c.hive.InsideCoat == 0
	s.wetAt = c.wetStates
	c.wetStates += s.moist.Cells()
	s.offset = c.states
	c.states += ch.Cells()
	c.faces = append(c.faces, s)
	return nil
}

// emissivities of the inner and outer face of a shell given outside to inside.
// Layers known by their resistance alone, and materials without a value, count
// as common building surfaces: 0.9.
func emissivities(shell []hive.Layer) (inner, outer float64) {
	inner, outer = 0.9, 0.9
	if n := len(shell); n > 0 {
		if e := shell[n-1].Material.Emissivity; e > 0 {
			inner = e
		}
		if e := shell[0].Material.Emissivity; e > 0 {
			outer = e
		}
	}
	return
}

var faceNames = [...]string{"front", "back", "left", "right", "lid", "floor"}

// ends and sides of the frames: the faces at the frame ends and those that run
// beside the combs.
func faceRoles(b *hive.Body) (ends, besides [2]hive.Face) {
	if b.Turned {
		return [2]hive.Face{hive.Left, hive.Right}, [2]hive.Face{hive.Front, hive.Back}
	}
	return [2]hive.Face{hive.Front, hive.Back}, [2]hive.Face{hive.Left, hive.Right}
}

func (c *compiler) openingArea(face hive.Face, s slab) float64 {
	a := 0.0
	for i := range c.hive.Openings {
		o := &c.hive.Openings[i]
		if o.Face != face {
			continue
		}
		overlap := min(s.top, o.Sill+o.Height) - max(s.bottom, o.Sill)
		if overlap > 0 {
			a += o.Width * float64(max(1, o.Count)) * overlap
		}
	}
	return a
}

func (c *compiler) makeSurfaces() error {
	h := c.hive
	for k, s := range c.slabs {
		b := &h.Bodies[s.body]
		ends, besides := faceRoles(b)
		width := c.split(s).width
		total := width[0] + width[1] + width[2]
		fo := c.follower(s.body)
		// Walls at the frame ends: shared by flank and beyond.
		for _, f := range ends {
			layers := c.shell(s.body, f)
			open := c.openingArea(f, s)
			for col := range c.columns {
				share := 0.0
				switch {
				case c.columns == 1:
					share = total
				case col == flank:
					share = total - width[beyond]
				case col == beyond:
					share = width[beyond]
				}
				area := share*s.height() - open*share/total
				gap := b.FrameEndGap()
				if err := c.addSurface(c.wallSurface(k, col, f, area, gap), b.Walls[f], layers); err != nil {
					return err
				}
			}
		}
		for _, f := range besides {
			layers := c.shell(s.body, f)
			col := flank
			if c.columns == 1 {
				col = core
			}
			if fo != nil && fo.Side == f {
				col = beyond
			}
			area := b.Length*s.height() - c.openingArea(f, s)
			if err := c.addSurface(c.wallSurface(k, col, f, area, b.SideGap()), b.Walls[f], layers); err != nil {
				return err
			}
		}
		if fo != nil && c.columns == 3 {
			s := surface{name: "follower board", part: partFollower, side: -1,
				cell: c.at(k, flank), far: c.at(k, beyond), area: b.Length * s.height(),
				gap: b.SideGap(), kind: filmChannel, height: b.Height, partner: -1, farZone: -1, level: s.middle()}
			if err := c.addSurface(s, fo.Layers, c.layersOf(fo.Layers)); err != nil {
				return err
			}
		}
	}
	if err := c.makeFloor(); err != nil {
		return err
	}
	return c.makeTop()
}

func (c *compiler) wallSurface(k, col int, f hive.Face, area, gap float64) surface {
	s := c.slabs[k]
	b := &c.hive.Bodies[s.body]
	out := surface{name: faceNames[f], part: partWall, side: int(f), cell: c.at(k, col), far: -1,
		area: area, gap: gap, kind: filmChannel, height: b.Height, partner: -1, farZone: -1, level: s.middle()}
	if !s.comb {
		out.kind = filmUpright
		z := c.zones[s.zone]
		out.height = c.slabs[z.last].top - c.slabs[z.first].bottom
	}
	return out
}

// footprint splits a horizontal face over the columns. [m²]
func (c *compiler) footprint(s slab) [3]float64 {
	return c.split(s).area
}

func (c *compiler) makeFloor() error {
	h := c.hive
	if h.Floor.Mesh && !h.Floor.TrayOn(c.date) {
		return nil
	}
	layers := c.layersOf(h.Floor.Layers)
	layers = append(layers, c.wrapsOn(hive.Bottom)...)
	area := c.footprint(c.slabs[0])
	for col := range c.columns {
		s := surface{name: "floor", part: partFloor, side: underSide, cell: c.at(0, col), far: -1, area: area[col],
			gap: c.slabs[0].height(), kind: filmBelow, partner: -1, farZone: -1, over: col == core}
		if err := c.addSurface(s, h.Floor.Layers, layers); err != nil {
			return err
		}
	}
	return nil
}

// makeTop builds what closes the hive above: the lid on the bodies, or a top
// board with the lid over it. An air space between the two that is sealed is
// still a node of its own, since it may sweat.
func (c *compiler) makeTop() error {
	h := c.hive
	k := len(c.slabs) - 1
	top := c.slabs[k]
	area := c.footprint(top)
	lid := append(c.layersOf(h.Lid.Layers), c.wrapsOn(hive.Top)...)
	board := h.TopBoard
	gap := top.height()
	if c.lidCell < 0 {
		layers, shell := lid, h.Lid.Layers
		if board != nil {
			layers, shell = append(c.layersOf(board.Layers), lid...), board.Layers
		}
		for col := range c.columns {
			s := surface{name: "lid", part: partLid, side: roofSide, cell: c.at(k, col), far: -1, area: area[col],
				gap: gap, kind: filmAbove, partner: -1, farZone: -1, level: c.height, over: col == core}
			if err := c.addSurface(s, shell, layers); err != nil {
				return err
			}
		}
		return nil
	}
	total := 0.0
	for col := range c.columns {
		s := surface{name: "lid", part: partBoard, side: -1, cell: c.at(k, col), far: c.lidCell, area: area[col],
			gap: gap, kind: filmAbove, partner: -1, farZone: -1, level: c.height, over: col == core}
		if board.Hole > 0 && col == flank {
			s.area = max(0, s.area-board.Hole)
		}
		total += s.area
		if err := c.addSurface(s, board.Layers, c.layersOf(board.Layers)); err != nil {
			return err
		}
	}
	body := &h.Bodies[len(h.Bodies)-1]
	s := surface{name: "lid", part: partLid, side: roofSide, cell: c.lidCell, far: -1, area: total,
		gap: h.Lid.Space, kind: filmAbove, partner: -1, farZone: -1, level: c.height + h.Lid.Space}
	if err := c.addSurface(s, h.Lid.Layers, lid); err != nil {
		return err
	}
	// The rim of the lid: the sides of the air space, built like the top body.
	perimeter := 2 * (body.Length + body.Width)
	rim := surface{name: "lid rim", part: partRim, side: int(hive.Front), cell: c.lidCell, far: -1,
		area: perimeter * h.Lid.Space, gap: body.Width / 2, kind: filmUpright, height: h.Lid.Space,
		partner: -1, farZone: -1, level: c.height + h.Lid.Space/2}
	return c.addSurface(rim, body.Walls[hive.Front], c.shell(len(h.Bodies)-1, hive.Front))
}

// number lays the unknowns of the heat system out slab by slab, so that its
// profile stays narrow, with the few far-reaching ones last.
func (c *compiler) number() {
	row := 0
	c.cellRow = make([]int, len(c.cells))
	c.combRow = make([]int, len(c.combs))
	for k := range c.slabs {
		for col := range c.columns {
			a := c.at(k, col)
			c.cellRow[a] = row
			row++
			if j := c.cells[a].comb; j >= 0 {
				c.combRow[j] = row
				row++
			}
		}
	}
	if c.lidCell >= 0 {
		c.cellRow[c.lidCell] = row
		row++
	}
	c.faceRow = make([]int, len(c.faces))
	c.farRow = make([]int, len(c.faces))
	for i := range c.faces {
		c.faceRow[i], c.farRow[i] = -1, -1
		if c.faces[i].far >= 0 {
			c.faceRow[i], c.farRow[i] = row, row+1
			row += 2
		}
	}
	c.zoneRow = make([]int, len(c.zones))
	for i, z := range c.zones {
		c.zoneRow[i] = -1
		if !z.thin {
			c.zoneRow[i] = row
			row++
		}
	}
	c.rows = row
}

func clamp(x, low, high float64) float64 { return max(low, min(high, x)) }

// couple lays out the two linear systems: heat over all unknowns, and gases
// over the air cells alone.
func (c *compiler) couple() error {
	var heat, gas [][2]int
	pair := func(i, j int) {
		if i >= 0 && j >= 0 && i != j {
			heat = append(heat, [2]int{i, j})
		}
	}
	for _, l := range c.links {
		if l.From >= 0 && l.To >= 0 {
			pair(c.cellRow[l.From], c.cellRow[l.To])
			gas = append(gas, [2]int{l.From, l.To})
		}
	}
	top := len(c.slabs) - 1
	if c.columns == 1 {
		// A plume carries air of every level to the one where it spreads.
		for k := range c.slabs {
			for j := range k {
				pair(c.cellRow[k], c.cellRow[j])
				gas = append(gas, [2]int{k, j})
			}
		}
	}
	for i := range c.combs {
		pair(c.combRow[i], c.cellRow[c.combs[i].cell])
		cl := c.cells[c.combs[i].cell]
		if cl.column == core && c.columns > 1 {
			if j := c.cells[c.at(cl.slab, flank)].comb; j >= 0 {
				pair(c.combRow[i], c.combRow[j])
			}
		}
		if up := c.combAbove(i); up >= 0 {
			pair(c.combRow[i], c.combRow[up])
		}
	}
	for i := range c.faces {
		f := &c.faces[i]
		partner := c.partnerRow(f)
		pair(c.cellRow[f.cell], partner)
		if f.far >= 0 {
			pair(c.faceRow[i], c.cellRow[f.cell])
			pair(c.faceRow[i], partner)
			pair(c.faceRow[i], c.farRow[i])
			pair(c.farRow[i], c.cellRow[f.far])
			if f.farZone >= 0 {
				pair(c.farRow[i], c.zoneRow[f.farZone])
			}
		}
	}
	for i, z := range c.zones {
		for _, s := range z.combs {
			pair(c.zoneRow[i], c.combRow[s.comb])
		}
	}
	if c.lidCell >= 0 {
		for col := range c.columns {
			gas = append(gas, [2]int{c.at(top, col), c.lidCell})
			pair(c.cellRow[c.at(top, col)], c.cellRow[c.lidCell])
		}
	}
	var err error
	if c.heat, err = skyline.New(c.rows, heat); err != nil {
		return err
	}
	if c.gas, err = skyline.New(len(c.cells), gas); err != nil {
		return err
	}
	for _, l := range c.links {
		from, to := l.From, l.To
		c.gasAt = append(c.gasAt, placeOf(c.gas, from, to))
		if from >= 0 {
			from = c.cellRow[from]
		}
		if to >= 0 {
			to = c.cellRow[to]
		}
		c.heatAt = append(c.heatAt, placeOf(c.heat, from, to))
	}
	return nil
}

// linkPlace is where the entries of a link lie in the values of a matrix; -1 for
// an end outdoors.
type linkPlace struct {
	from, to, fromTo, toFrom int
	fromRow, toRow           int
}

func placeOf(m *skyline.Matrix, from, to int) linkPlace {
	p := linkPlace{from: -1, to: -1, fromTo: -1, toFrom: -1, fromRow: from, toRow: to}
	if from >= 0 {
		p.from = m.Position(from, from)
	}
	if to >= 0 {
		p.to = m.Position(to, to)
	}
	if from >= 0 && to >= 0 {
		p.fromTo, p.toFrom = m.Position(from, to), m.Position(to, from)
	}
	return p
}

// partnerRow is the unknown a surface exchanges radiation with, -1 for none.
func (b *box) partnerRow(f *surface) int {
	switch {
	case f.partner < 0:
		return -1
	case f.isZone:
		return b.zoneRow[f.partner]
	}
	return b.combRow[f.partner]
}

// combAbove returns the comb that stands next above comb i in its column, at
// most one shallow free space away, or -1.
func (b *box) combAbove(i int) int {
	cl := b.cells[b.combs[i].cell]
	for k := cl.slab + 1; k < len(b.slabs); k++ {
		if b.slabs[k].comb {
			return b.cells[b.at(k, cl.column)].comb
		}
		if !b.zones[b.slabs[k].zone].thin {
			return -1
		}
	}
	return -1
}
