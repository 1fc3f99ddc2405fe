package workshop

import (
	"math"

	"hackle/hive"
	"hackle/material"
	"hackle/quantity"
)

// ring is four boards on edge round a rectangle of outer size length by width:
// two sides over the whole length, two ends between them.
func (b *bench) ring(name string, m material.Material, length, width, thick, height, z float64) {
	b.part(Part{Name: name + " side", Material: m, Count: 2, Length: length, Width: height, Thickness: thick, Grain: true, At: []Solid{
		{blockAt(-width/2, -length/2, z, thick, length, height)},
		{blockAt(width/2-thick, -length/2, z, thick, length, height)},
	}})
	b.part(Part{Name: name + " end", Material: m, Count: 2, Length: width - 2*thick, Width: height, Thickness: thick, Grain: true, At: []Solid{
		{blockAt(-width/2+thick, -length/2, z, width-2*thick, thick, height)},
		{blockAt(-width/2+thick, length/2-thick, z, width-2*thick, thick, height)},
	}})
}

// strips are four strips inside such a ring, lying flat.
func (b *bench) strips(name string, m material.Material, length, width, broad, high, z float64) {
	b.part(Part{Name: name + ", long", Material: m, Count: 2, Length: length, Width: broad, Thickness: high, Grain: true, At: []Solid{
		{blockAt(-width/2, -length/2, z, broad, length, high)},
		{blockAt(width/2-broad, -length/2, z, broad, length, high)},
	}})
	b.part(Part{Name: name + ", short", Material: m, Count: 2, Length: width - 2*broad, Width: broad, Thickness: high, Grain: true, At: []Solid{
		{blockAt(-width/2+broad, -length/2, z, width-2*broad, broad, high)},
		{blockAt(-width/2+broad, length/2-broad, z, width-2*broad, broad, high)},
	}})
}

// screwLength is that of screws that hold a board to another: 2.5 times its
// thickness, rounded up to 5 mm; common practice, no source.
func screwLength(thick float64) float64 { return math.Ceil(thick*2.5/0.005) * 0.005 }

func lidInsulation(b *bench) error {
	b.job.Purpose = "Keeps the warmth under the lid and the underside above the bees above the dew point, so that water does not form over them."
	wood, err := b.wood("frame")
	if err != nil {
		return err
	}
	ply, err := b.find("cover board", "plywood", "plywood")
	if err != nil {
		return err
	}
	m, err := b.find("insulation", b.spec.Material, "mineral wool")
	if err != nil {
		return err
	}
	thick := b.spec.Thickness
	if thick == 0 {
		thick = 0.076
	}
	soft := compressible(m)
	cavity := b.spec.Cavity
	switch {
	case cavity == 0 || cavity == thick:
		cavity = thick
	case cavity > thick:
		b.note("The space of %s is deeper than the %s insulation: an air layer is left above it.", b.l(cavity), b.l(thick))
	case !soft:
		return b.fail("insulation", "%s of %s does not go into a space of %s: it is rigid; give a space as deep", m.Name, b.l(thick), b.l(cavity))
	case cavity < thick/2:
		return b.fail("insulation", "%s of %s pressed into %s is less than half its thickness: take a thinner batt", m.Name, b.l(thick), b.l(cavity))
	}
	s := shellOf(b.h)
	t, cl := b.opt.Board, b.opt.Clearance
	const strip = 0.015
	z := s.boardTop
	insideL, insideW := s.length-2*t, s.width-2*t
	if insideL < 0.1 || insideW < 0.1 {
		return b.fail("frame", "boards of %s leave no room inside %s × %s", b.l(t), b.l(s.length), b.l(s.width))
	}
	// Under the cover bees must find bee space or nothing: on a top board the
	// strips hold it up by one; on bare top bars the space is in the body.
	under := b.opt.BeeSpace
	top := b.h.Bodies[len(b.h.Bodies)-1]
	bare := b.h.TopBoard == nil
	vented := b.h.Lid.Vents > 0 && b.h.Lid.Space > 0
	space := 0.0
	if vented {
		space = b.h.Lid.Space
	}
	if bare {
		under = b.opt.BeeSpace - top.TopSpace
		if under < 0.003 || top.Frames.Bars {
			under = 0
		}
	}
	coverZ := z + under
	height := under + b.opt.Ply + cavity + space
	b.ring("frame", wood, s.length, s.width, t, height, z)
	if under > 0 {
		b.strips("retaining strip", wood, insideL, insideW, strip, under, z)
		b.part(Part{Name: "cover board", Material: ply, Count: 1, Length: insideL - 2*cl, Width: insideW - 2*cl, Thickness: b.opt.Ply, At: []Solid{{blockAt(-insideW/2+cl, -insideL/2+cl, coverZ, insideW-2*cl, insideL-2*cl, b.opt.Ply)}}})
	} else { // the cover goes under the frame's inside edge, held by strips above it
		b.part(Part{Name: "cover board", Material: ply, Count: 1, Length: insideL - 2*cl, Width: insideW - 2*cl, Thickness: b.opt.Ply, At: []Solid{{blockAt(-insideW/2+cl, -insideL/2+cl, coverZ, insideW-2*cl, insideL-2*cl, b.opt.Ply)}},
			Note: "pinned through the frame, flush with its lower edge"})
	}
	batt := Part{Name: "insulation", Material: m, Count: 1, Length: insideL, Width: insideW, Thickness: thick, Soft: soft,
		At: []Solid{{blockAt(-insideW/2, -insideL/2, coverZ+b.opt.Ply, insideW, insideL, min(thick, cavity))}}}
	if soft {
		batt.Over = b.opt.BattOversize
		batt.Note = "cut larger so that it holds itself"
	} else {
		batt.Length, batt.Width = insideL-2*cl, insideW-2*cl
		batt.At = []Solid{{blockAt(-insideW/2+cl, -insideL/2+cl, coverZ+b.opt.Ply, insideW-2*cl, insideL-2*cl, min(thick, cavity))}}
	}
	b.part(batt)
	b.buy("wood screw", 8, screwLength(t), "two to a corner")
	b.buy("panel pin", 20, 0.025, "retaining strips and cover")

	b.step("Cut two frame sides of %s and two ends of %s, all %s high. Screw the ends between the sides and measure both diagonals: they must be equal.", b.l(s.length), b.l(insideW), b.l(height))
	if under > 0 {
		b.step("Pin the retaining strips round the inside, flush with the lower edge. They hold the cover board %s above what lies below.", b.l(under))
		b.step("Lay the cover board of %s × %s on the strips and pin it.", b.l(insideL-2*cl), b.l(insideW-2*cl))
	} else {
		b.step("Set the cover board of %s × %s flush with the lower edge and pin it through the frame. The body's own space above the frames is the bee space.", b.l(insideL-2*cl), b.l(insideW-2*cl))
	}
	if soft {
		l, w := batt.CutSize()
		b.step("Cut the batt %s × %s, %s more than the space each way, and lay it in without folds.", b.l(l), b.l(w), b.l(b.opt.BattOversize))
	} else {
		b.step("Cut the board %s × %s and lay it in; close wide gaps with scraps.", b.l(batt.Length), b.l(batt.Width))
	}
	b.step("Set the frame between %s and the lid. The lid goes over it as before.", map[bool]string{true: "the top body", false: "the top board"}[bare])

	// What bees and vents need.
	if bare {
		b.aboveBars("space between top bars and cover", top, under)
	} else if b.h.TopBoard.Hole > 0 {
		b.beeSpace("space above the hole of the top board", under)
	}
	if vented {
		b.check("air space of the lid's vents kept open", space >= b.h.Lid.Space-1e-9, b.l(space), "at least "+b.l(b.h.Lid.Space)+", as before")
	}
	b.check("the lid still reaches over the joint", b.h.Lid.Rim >= 0.02, b.l(b.h.Lid.Rim)+" of rim over a frame of "+b.l(height), "at least "+b.l(0.020))
	if soft {
		b.check("the batt is held by its own size", b.opt.BattOversize >= 0.004 && b.opt.BattOversize <= 0.06*min(insideL, insideW), b.l(b.opt.BattOversize)+" oversize", b.l(0.004)+" to 6 % of the space")
	}

	// What the engine is told.
	h := &b.job.Plan.Hive
	eff, depth := m, min(thick, cavity)
	if cavity < thick {
		eff = Pressed(m, thick, cavity)
		full, left := thick/m.Conductivity, cavity/eff.Conductivity
		b.note("Pressed from %s to %s the batt keeps %s of %s: %.0f %% is lost, and the hive is computed so.", b.l(thick), b.l(cavity),
			quantity.Format(left, quantity.Resistance, b.opt.System), quantity.Format(full, quantity.Resistance, b.opt.System), 100*(1-left/full))
		b.own(eff)
	}
	layers := []hive.Layer{{Material: eff, Thickness: depth}, {Material: ply, Thickness: b.opt.Ply}}
	switch {
	case vented:
		// The vented space stays above the insulation, which therefore counts to
		// the top board; the hole ends under the cover.
		board := h.TopBoard
		if board == nil {
			board = &hive.TopBoard{Space: under}
			h.TopBoard = board
		}
		board.Layers = append(layers, board.Layers...)
		if board.Hole > 0 {
			board.Hole, board.HoleEvents = 0, nil
			b.note("The hole of the top board led to the vented lid. Under the insert it ends at the cover board: that way out for moist air is closed, and the hive is computed so.")
		}
	case bare:
		h.Lid.Layers = append(h.Lid.Layers, layers...)
	default:
		h.Lid.Layers = append(h.Lid.Layers, layers...)
		h.Lid.Space = under
	}
	if !vented { // the lid hangs over the frame now, less or not at all over the bodies
		h.Lid.Rim = max(0, b.h.Lid.Rim+b.h.Lid.Space-height)
	}
	return nil
}

// aboveBars checks the space between top bars and what is put on them: bee space
// where the body leaves part of it, nothing where broad bars close the top.
func (b *bench) aboveBars(name string, top hive.Body, added float64) {
	switch {
	case top.Frames.Count == 0 || top.TopSpace+added == 0:
	case added > 0:
		b.beeSpace(name, top.TopSpace+added)
	default:
		b.beeSpaceBuilt(name, top.TopSpace)
	}
}

// own adds a material that the table lacks to the plan.
func (b *bench) own(m material.Material) {
	for i, have := range b.job.Plan.Materials {
		if have.Name == m.Name {
			b.job.Plan.Materials[i] = m
			return
		}
	}
	b.job.Plan.Materials = append(b.job.Plan.Materials, m)
}

// Vent holes of a quilt and a lid.
const (
	ventHole      = 0.025 // diameter [m]
	ventMeshShare = 0.75  // free share of insect mesh over it: estimate from 3.2 mm mesh of 0.43 mm wire [-]
)

// clothPermeance of a quilt's cloth, as the presets have it: an estimate from
// plain textiles with most of the weave closed by propolis. [m³/(s·m²·Pa)]
const clothPermeance = 1e-4

func quilt(b *bench) error {
	b.job.Purpose = "Holds warmth and takes up the moisture that rises, and lets it dry out through its own vents."
	wood, err := b.wood("rim")
	if err != nil {
		return err
	}
	fill, err := b.find("fill", b.spec.Material, "wood shavings")
	if err != nil {
		return err
	}
	cloth, err := b.find("cloth", "burlap", "burlap")
	if err != nil {
		return err
	}
	mesh, err := b.find("mesh", "galvanised steel", "galvanised steel")
	if err != nil {
		return err
	}
	deep := b.spec.Thickness
	if deep == 0 {
		deep = 0.075
	}
	s := shellOf(b.h)
	t := b.opt.Board
	top := b.h.Bodies[len(b.h.Bodies)-1]
	z := b.h.StackTop()
	// The mesh lies flush under the rim; where the body has no space above its
	// frames the rim brings it.
	under := 0.0
	if top.TopSpace < BeeSpaceLeast && !top.Frames.Bars {
		under = b.opt.BeeSpace - top.TopSpace
	}
	const meshThick, clothThick, gap = 0.001, 0.001, 0.015
	ventZ := under + meshThick + clothThick + deep + gap // lower edge of the holes above z
	height := ventZ + ventHole + 0.005 + b.h.Lid.Rim
	b.ring("rim", wood, s.length, s.width, t, height, z)
	side := &b.job.Parts[len(b.job.Parts)-2]
	end := &b.job.Parts[len(b.job.Parts)-1]
	for _, at := range []float64{s.length / 4, s.length * 3 / 4} {
		side.Features = append(side.Features, Feature{Kind: Hole, X: at, Y: ventZ + ventHole/2, Diameter: ventHole, Note: "vent, mesh inside"})
	}
	end.Features = append(end.Features, Feature{Kind: Hole, X: end.Length / 2, Y: ventZ + ventHole/2, Diameter: ventHole, Note: "vent, mesh inside"})
	const holes = 6
	insideL, insideW := s.length-2*t, s.width-2*t
	const strip = 0.012
	if under > 0 {
		b.strips("rest for the mesh", wood, insideL, insideW, strip, under, z)
	}
	b.part(Part{Name: "wire mesh under the cloth", Material: meshed(mesh), Count: 1, Length: insideL - 2*b.opt.Clearance, Width: insideW - 2*b.opt.Clearance, Thickness: meshThick,
		At: []Solid{{blockAt(-insideW/2+b.opt.Clearance, -insideL/2+b.opt.Clearance, z+under, insideW-2*b.opt.Clearance, insideL-2*b.opt.Clearance, meshThick)}}, Ready: true, Note: "openings of 3 mm"})
	b.part(Part{Name: "cloth", Material: cloth, Count: 1, Length: insideL, Width: insideW, Thickness: clothThick, Over: 0.060, Soft: true,
		At: []Solid{{blockAt(-insideW/2, -insideL/2, z+under+meshThick, insideW, insideL, clothThick)}}, Note: "turned up at the edges and stapled"})
	volume := insideL * insideW * deep
	b.job.Items = append(b.job.Items, Item{Name: fill.Name, Amount: volume, Unit: "m³", Note: "loose, dry, untreated: " + quantity.Format(volume, quantity.Volume, b.opt.System)})
	b.job.Items = append(b.job.Items, Item{Name: "insect mesh", Amount: holes, Unit: "pieces", Note: "patches of " + b.l(0.05)})
	b.buy("wood screw", 12, screwLength(t), "two to three to a corner")
	b.buy("staple", 60, 0.010, "mesh and cloth")
	b.step("Cut two rim sides of %s and two ends of %s, all %s high.", b.l(s.length), b.l(insideW), b.l(height))
	b.step("Drill the vents of %s, middle %s above the lower edge: two in each side, one in each end. Staple mesh over them inside.", b.l(ventHole), b.l(ventZ+ventHole/2))
	b.step("Screw the rim and check that both diagonals are equal.")
	b.step("Staple the wire mesh, then the cloth over it, turned up at the edges so that no shavings fall.")
	b.step("Set it on the top body in place of the top board, fill loosely with %s of shavings and stop %s below the vents. Lid on.", b.l(deep), b.l(gap))
	b.step("Look at the shavings in a dry hour of midwinter without opening the hive below; change them when wet through.")
	b.aboveBars("space between top bars and mesh", top, under)
	b.check("the fill stays below the vents", ventZ-(under+meshThick+clothThick+deep) >= 0.010, b.l(gap)+" below them", "at least "+b.l(0.010))
	air := height - (under + meshThick + clothThick + deep)
	b.check("air space above the fill joins the vents", air >= ventHole+gap, b.l(air), "at least "+b.l(ventHole+gap))
	b.check("the lid's rim leaves the vents open", height-b.h.Lid.Rim >= ventZ+ventHole-1e-9, "rim ends "+b.l(height-b.h.Lid.Rim-ventZ-ventHole)+" above them", "above them")
	h := &b.job.Plan.Hive
	h.TopBoard = &hive.TopBoard{
		Layers: []hive.Layer{{Material: fill, Thickness: deep}, {Material: cloth, Thickness: clothThick}},
		Space:  under, Permeance: clothPermeance,
	}
	h.Lid.Space = air
	h.Lid.Vents = holes * math.Pi / 4 * ventHole * ventHole * ventMeshShare
	return nil
}

// meshed is wire mesh as a sheet: mostly holes.
func meshed(m material.Material) material.Material {
	m.Name = "wire mesh 3 mm"
	m.Density *= 0.15 // wire of 0.43 mm at 3.2 mm in both directions, over 1 mm of thickness
	return m
}

func lid(b *bench) error {
	b.job.Purpose = "Keeps rain and sun off."
	wood, err := b.wood("rim")
	if err != nil {
		return err
	}
	s := shellOf(b.h)
	var skin, board hive.Layer
	var extra []hive.Layer
	for i, l := range b.h.Lid.Layers {
		switch {
		case i == 0 && l.Material.Density > 2000:
			skin = l
		case board.Thickness == 0 && l.Material.Density > 250:
			board = l
		case l.Material.Density > 0:
			extra = append(extra, l)
		}
	}
	if board.Thickness == 0 {
		return b.fail("lid board", "the lid of this hive has no board among its layers")
	}
	t := b.opt.Board
	inL, inW := s.length+2*LidPlay, s.width+2*LidPlay
	outL, outW := inL+2*t, inW+2*t
	fill := thickness(extra)
	height := b.h.Lid.Rim + b.h.Lid.Space + fill
	if b.h.Lid.Rim == 0 { // a lid flush with the body
		inL, inW, outL, outW = s.length-2*t, s.width-2*t, s.length, s.width
		height = b.h.Lid.Space + fill
	}
	z := s.lidUnder + fill - height
	if height > 0.010 {
		b.ring("rim", wood, outL, outW, t, height, z)
	}
	if b.h.Lid.Vents > 0 && height > 0.010 {
		side := &b.job.Parts[len(b.job.Parts)-2]
		end := &b.job.Parts[len(b.job.Parts)-1]
		d := min(ventHole, b.h.Lid.Space-0.004)
		if d >= 0.008 {
			n := int(math.Ceil(b.h.Lid.Vents/(math.Pi/4*d*d*ventMeshShare) - 1e-9))
			each := (n + 3) / 4
			y := height - fill - b.h.Lid.Space/2
			for _, p := range []*Part{side, end} {
				for k := range each {
					p.Features = append(p.Features, Feature{Kind: Hole, X: p.Length * (float64(k) + 0.5) / float64(each), Y: y, Diameter: d, Note: "vent, mesh inside"})
				}
			}
			area := float64(4*each) * math.Pi / 4 * d * d * ventMeshShare
			b.check("vent area of the lid", area >= b.h.Lid.Vents-1e-9, quantity.Format(area, quantity.Area, b.opt.System), "at least "+quantity.Format(b.h.Lid.Vents, quantity.Area, b.opt.System))
			b.check("vents lie above the body", y-d/2 >= b.h.Lid.Rim-1e-9, b.l(y-d/2)+" above the lower edge", "above the rim's "+b.l(b.h.Lid.Rim)+" over the body")
			b.check("vents fit side by side", float64(each)*(d+0.010) <= min(side.Length, end.Length), b.l(float64(each)*(d+0.010)), "the length of the rim")
		} else {
			b.check("vent area of the lid", false, "air space of "+b.l(b.h.Lid.Space), "room for vent holes")
		}
	}
	b.part(Part{Name: "lid board", Material: board.Material, Count: 1, Length: outL, Width: outW, Thickness: board.Thickness, Grain: board.Material.Name != "plywood",
		At: []Solid{{blockAt(-outW/2, -outL/2, s.lidUnder+fill, outW, outL, board.Thickness)}}})
	if skin.Thickness > 0 {
		const fold = 0.030
		b.part(Part{Name: "metal skin", Material: skin.Material, Count: 1, Length: outL + 2*fold, Width: outW + 2*fold, Thickness: skin.Thickness,
			Features: []Feature{
				{Kind: Notch, X: 0, Y: 0, Length: fold, Width: fold}, {Kind: Notch, X: outL + fold, Y: 0, Length: fold, Width: fold},
				{Kind: Notch, X: 0, Y: outW + fold, Length: fold, Width: fold}, {Kind: Notch, X: outL + fold, Y: outW + fold, Length: fold, Width: fold},
			}, Note: "corners cut out, edges turned down " + b.l(fold)})
		b.caution("Cut sheet metal has sharp edges: gloves; turn or file the edges.")
		b.step("Cut the corners out of the metal, turn the edges down %s and nail them to the rim, not through the top.", b.l(fold))
	}
	for _, x := range extra {
		p := Part{Name: "insulation " + x.Material.Name, Material: x.Material, Count: 1, Length: inL, Width: inW, Thickness: x.Thickness, Soft: compressible(x.Material)}
		if p.Soft {
			p.Over = b.opt.BattOversize
		}
		b.part(p)
		b.note("%s lies under the lid board and needs a cover towards the bees: see lid-insulation.", x.Material.Name)
	}
	b.buy("wood screw", 20, screwLength(board.Thickness), "board to rim")
	b.step("Cut the rim: outside %s × %s, so that %s is left on each side of the body. Screw it and check the diagonals.", b.l(outL), b.l(outW), b.l(LidPlay))
	b.step("Screw the lid board on; a little forward slope of the whole hive sheds the rain.")
	if b.h.Lid.Rim > 0 {
		b.check("the lid goes over the body", inL > s.length && inW > s.width, b.l(LidPlay)+" on each side", "more than nothing")
	}
	return nil
}

func topBoard(b *bench) error {
	b.job.Purpose = "Closes the hive under the lid and keeps bee space above the frames."
	board := b.h.TopBoard
	if board == nil {
		return b.fail("board", "this hive has no top board: its lid lies on the bodies")
	}
	if board.Permeance > 0 {
		return b.fail("board", "the top of this hive is a cloth or quilt: make that with quilt")
	}
	s := shellOf(b.h)
	wood, err := b.wood("rim")
	if err != nil {
		return err
	}
	var plate hive.Layer
	for _, l := range board.Layers {
		if l.Material.Density > 250 {
			plate = l
		}
	}
	if plate.Thickness == 0 {
		return b.fail("board", "none of the layers of this top board is a board")
	}
	z := b.h.Height()
	if board.Space > 0.002 {
		const broad = 0.019
		b.strips("rim", wood, s.length, s.width, broad, board.Space, z-board.Space)
	}
	p := Part{Name: "board", Material: plate.Material, Count: 1, Length: s.length, Width: s.width, Thickness: plate.Thickness, Grain: plate.Material.Name != "plywood",
		At: []Solid{{blockAt(-s.width/2, -s.length/2, z, s.width, s.length, plate.Thickness)}}}
	if board.Hole > 0 {
		d := 2 * math.Sqrt(board.Hole/math.Pi)
		p.Features = []Feature{{Kind: Hole, X: s.length / 2, Y: s.width / 2, Diameter: d, Note: "feed and bee hole"}}
		b.step("Cut the hole of %s in the middle.", b.l(d))
	}
	b.part(p)
	b.buy("panel pin", 16, 0.025, "rim")
	b.step("Cut the board %s × %s and pin the rim under it, flush outside.", b.l(s.length), b.l(s.width))
	top := b.h.Bodies[len(b.h.Bodies)-1]
	b.aboveBars("space between top bars and board", top, board.Space)
	return nil
}

func shadeBoard(b *bench) error {
	b.job.Purpose = "Keeps the sun of the hot hours off the lid, with air between."
	ply, err := b.find("board", b.spec.Material, "plywood")
	if err != nil {
		return err
	}
	wood, err := b.wood("spacer")
	if err != nil {
		return err
	}
	thick := b.spec.Thickness
	if thick == 0 {
		thick = 0.010
	}
	size := b.h.Outside()
	const over, gap = 0.15, 0.040
	s := shellOf(b.h)
	lidTop := s.lidUnder + thickness(b.h.Lid.Layers)
	length, width := size.FrontToBack+2*over, size.SideToSide+2*over
	b.part(Part{Name: "board", Material: ply, Count: 1, Length: length, Width: width, Thickness: thick,
		At: []Solid{{blockAt(-width/2, -length/2, lidTop+gap, width, length, thick)}}})
	x := size.SideToSide/2 - 0.08
	b.part(Part{Name: "spacer", Material: wood, Count: 2, Length: size.FrontToBack, Width: gap, Thickness: b.opt.Board, Grain: true, At: []Solid{
		{blockAt(-x, -size.FrontToBack/2, lidTop, b.opt.Board, size.FrontToBack, gap)},
		{blockAt(x-b.opt.Board, -size.FrontToBack/2, lidTop, b.opt.Board, size.FrontToBack, gap)},
	}})
	b.job.Items = append(b.job.Items, Item{Name: "strap", Amount: 1, Unit: "pieces", Note: "over board and hive, against wind"})
	b.buy("wood screw", 6, 0.035, "board to spacers")
	b.step("Screw the board on the two spacers so that air can pass from front to back, and paint its upper side white.")
	b.step("Lay it on the lid so that it stands out %s all round, and strap it down: a loose board sails.", b.l(over))
	b.check("air passes under the board", gap >= 0.025, b.l(gap), "at least "+b.l(0.025))
	h := &b.job.Plan.Hive
	f := h.Finish
	if h.Lid.Finish != nil {
		f = *h.Lid.Finish
	}
	// What the board lets through: the sun low at the sides, and its own warm
	// underside; an estimate.
	const left = 0.25
	f = hive.Finish{Name: "shaded " + f.Name, SolarAbsorptance: left * f.SolarAbsorptance, Emissivity: f.Emissivity}
	h.Lid.Finish = &f
	b.note("The hive is computed with a quarter of the sun on its lid; how much comes in from the sides depends on the hour (an estimate). The walls stay in the sun.")
	return nil
}
