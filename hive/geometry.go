package hive

import (
	"math"
	"slices"
)

// FrontToBack returns the inside measure from front to back wall. [m]
func (b Body) FrontToBack() float64 {
	if b.Turned {
		return b.Width
	}
	return b.Length
}

// SideToSide returns the inside measure from left to right wall. [m]
func (b Body) SideToSide() float64 {
	if b.Turned {
		return b.Length
	}
	return b.Width
}

// FaceWidth returns the inside width of an upright face. It panics for Top and
// Bottom, which have none. [m]
func (b Body) FaceWidth(f Face) float64 {
	switch f {
	case Front, Back:
		return b.SideToSide()
	case Left, Right:
		return b.FrontToBack()
	}
	panic("hive: width of a face that is not upright")
}

// FloorArea returns the inside area of the body seen from above. [m²]
func (b Body) FloorArea() float64 { return b.Length * b.Width }

// WallArea returns the inner area of one upright face. It panics for Top and
// Bottom. [m²]
func (b Body) WallArea(f Face) float64 { return b.FaceWidth(f) * b.Height }

// Perimeter returns the inside length round the body. [m]
func (b Body) Perimeter() float64 { return 2 * (b.Length + b.Width) }

// FrameEndGap returns the gap between a frame's end and the wall there, with
// the frames hung in the middle. [m]
func (b Body) FrameEndGap() float64 { return (b.Length - b.Frames.Length) / 2 }

// SideGap returns the gap between the outermost comb face and the side wall,
// with the frames in the middle of the body. A body without frames is all gap:
// half its width. [m]
func (b Body) SideGap() float64 {
	if b.Frames.Count == 0 {
		return b.Width / 2
	}
	return (b.Width - float64(b.Frames.Count-1)*b.Frames.Pitch - b.Frames.CombThickness) / 2
}

// BottomSpace returns the free height between the frames' lower edge and the
// lower edge of the body, 0 without frames. [m]
func (b Body) BottomSpace() float64 {
	if b.Frames.Count == 0 {
		return 0
	}
	return b.Height - b.TopSpace - b.Frames.Depth
}

// Seams returns the number of gaps between two combs; the two gaps between the
// outermost combs and the walls are not counted.
func (b Body) Seams() int { return max(0, b.Frames.Count-1) }

// SeamGap returns the free width between two combs. [m]
func (f Frames) SeamGap() float64 { return f.Pitch - f.CombThickness }

// CombArea returns the area of one side of one comb. [m²]
func (f Frames) CombArea() float64 { return f.Length * f.Depth }

// thickness of all layers together. [m]
func thickness(layers []Layer) float64 {
	var sum float64
	for _, l := range layers {
		sum += l.Thickness
	}
	return sum
}

// WallThickness returns the thickness of one upright wall without wraps. It
// panics for Top and Bottom. [m]
func (b Body) WallThickness(f Face) float64 { return thickness(b.Walls[f]) }

// FloorSpace returns the free height below the lowest frames, rim of the floor
// included. [m]
func (h Hive) FloorSpace() float64 {
	if len(h.Bodies) == 0 {
		return h.Floor.Depth
	}
	return h.Floor.Depth + h.Bodies[0].BottomSpace()
}

// Height returns the inside height from the floor's inner face to the underside
// of the top board, or of the lid where there is no board. [m]
func (h Hive) Height() float64 {
	sum := h.StackTop()
	if h.TopBoard != nil {
		sum += h.TopBoard.Space
	}
	return sum
}

// StackTop returns the height of the topmost body's upper edge. [m]
func (h Hive) StackTop() float64 { return h.BodyBase(len(h.Bodies)) }

// BodyBase returns the height of the lower edge of body i above the floor's
// inner face; BodyBase(len(h.Bodies)) is the upper edge of the topmost. It panics
// for other i. [m]
func (h Hive) BodyBase(i int) float64 {
	base := h.Floor.Depth
	for _, b := range h.Bodies[:i] {
		base += b.Height
	}
	return base
}

// BodyAt returns the index of the body at height z. The rim of the floor counts
// to the lowest body, the space below the top board to the topmost; a joint
// belongs to the body above it.
func (h Hive) BodyAt(z float64) int {
	top := h.Floor.Depth
	for i, b := range h.Bodies {
		top += b.Height
		if z < top {
			return i
		}
	}
	return len(h.Bodies) - 1
}

// Volume returns the inside volume from the floor to the top board, combs not
// deducted. [m³]
func (h Hive) Volume() float64 {
	var sum float64
	for _, b := range h.Bodies {
		sum += b.FloorArea() * b.Height
	}
	if n := len(h.Bodies); n > 0 {
		sum += h.Bodies[0].FloorArea() * h.Floor.Depth
		if h.TopBoard != nil {
			sum += h.Bodies[n-1].FloorArea() * h.TopBoard.Space
		}
	}
	return sum
}

// JointLength returns the length of joints between parts: floor and lowest
// body, between bodies, and topmost body and top board or lid. LeakArea counts
// per metre of it. [m]
func (h Hive) JointLength() float64 {
	var sum float64
	for i, b := range h.Bodies {
		sum += b.Perimeter() // its lower joint
		if i == len(h.Bodies)-1 {
			sum += b.Perimeter() // and the topmost
		}
	}
	return sum
}

// Area returns the whole free area of the opening when fully open: all its
// holes, less a mesh over them. [m²]
func (o Opening) Area() float64 { return o.AreaAt(o.Width) }

// AreaAt returns the free area of the opening when each hole is open over width.
// A round hole closes like a slide drawn over it, in proportion. [m²]
func (o Opening) AreaAt(width float64) float64 {
	if o.Width <= 0 {
		return 0
	}
	one := o.Width * o.Height
	if o.Shape == Round {
		one *= math.Pi / 4
	}
	if o.MeshShare > 0 {
		one *= o.MeshShare
	}
	return one * float64(o.Count) * width / o.Width
}

// GroupWidth returns the room along the wall that the holes take, with bridges
// of half a hole's width between them where there are several. [m]
func (o Opening) GroupWidth() float64 {
	return o.Width * (float64(o.Count) + float64(o.Count-1)/2)
}

// Mirrored returns the mirror image of the hive with left and right exchanged.
// Front, back and the direction the front looks to stay.
func (h Hive) Mirrored() Hive {
	m := h.Clone()
	for i := range m.Bodies {
		w := &m.Bodies[i].Walls
		w[Left], w[Right] = w[Right], w[Left]
	}
	for i := range m.Openings {
		o := &m.Openings[i]
		o.Face = o.Face.mirrored()
		if o.Offset != 0 { // no negative zero
			o.Offset = -o.Offset
		}
	}
	for i := range m.Followers {
		m.Followers[i].Side = m.Followers[i].Side.mirrored()
	}
	for i := range m.Wraps {
		for j, f := range m.Wraps[i].Faces {
			m.Wraps[i].Faces[j] = f.mirrored()
		}
	}
	return m
}

func (f Face) mirrored() Face {
	switch f {
	case Left:
		return Right
	case Right:
		return Left
	}
	return f
}

// Clone returns a copy that shares no memory with h, so that a change to one
// never shows in the other.
func (h Hive) Clone() Hive {
	c := h
	c.Bodies = slices.Clone(h.Bodies)
	for i := range c.Bodies {
		for f := range c.Bodies[i].Walls {
			c.Bodies[i].Walls[f] = slices.Clone(h.Bodies[i].Walls[f])
		}
	}
	c.Floor.Layers = slices.Clone(h.Floor.Layers)
	c.Floor.TrayEvents = slices.Clone(h.Floor.TrayEvents)
	if h.TopBoard != nil {
		board := *h.TopBoard
		board.Layers = slices.Clone(board.Layers)
		board.HoleEvents = slices.Clone(board.HoleEvents)
		c.TopBoard = &board
	}
	c.Lid.Layers = slices.Clone(h.Lid.Layers)
	c.Lid.Finish = cloneFinish(h.Lid.Finish)
	c.Openings = slices.Clone(h.Openings)
	for i := range c.Openings {
		c.Openings[i].Schedule = slices.Clone(h.Openings[i].Schedule)
	}
	c.Followers = slices.Clone(h.Followers)
	for i := range c.Followers {
		c.Followers[i].Layers = slices.Clone(h.Followers[i].Layers)
	}
	c.Wraps = slices.Clone(h.Wraps)
	for i := range c.Wraps {
		c.Wraps[i].Faces = slices.Clone(h.Wraps[i].Faces)
		c.Wraps[i].Layers = slices.Clone(h.Wraps[i].Layers)
		c.Wraps[i].Finish = cloneFinish(h.Wraps[i].Finish)
	}
	return c
}

func cloneFinish(f *Finish) *Finish {
	if f == nil {
		return nil
	}
	c := *f
	return &c
}

// Clone returns a copy that shares no memory with p.
func (p Plan) Clone() Plan {
	c := p
	c.Hive = p.Hive.Clone()
	c.Colony.Feeds = slices.Clone(p.Colony.Feeds)
	c.Colony.Flows = slices.Clone(p.Colony.Flows)
	c.Materials = slices.Clone(p.Materials)
	return c
}

// Size is an outside measure.
type Size struct {
	FrontToBack float64 // [m]
	SideToSide  float64 // [m]
	Height      float64 // from the underside of the floor to the top of the lid [m]
}

// Outside returns the outer size of the hive without stand and wraps. Where the
// lid reaches down over the bodies its own thickness is counted on both sides.
func (h Hive) Outside() Size {
	var s Size
	for _, b := range h.Bodies {
		s.FrontToBack = max(s.FrontToBack, b.FrontToBack()+b.WallThickness(Front)+b.WallThickness(Back))
		s.SideToSide = max(s.SideToSide, b.SideToSide()+b.WallThickness(Left)+b.WallThickness(Right))
	}
	if h.Lid.Rim > 0 {
		rim := lidRimThickness(h.Lid)
		s.FrontToBack += 2 * rim
		s.SideToSide += 2 * rim
	}
	s.Height = thickness(h.Floor.Layers) + h.Height() + h.Lid.Space + thickness(h.Lid.Layers)
	if h.TopBoard != nil {
		s.Height += thickness(h.TopBoard.Layers)
	}
	return s
}

// maxRimThickness bounds the thickness of a lid's rim: lids thickened with
// insulation above still have a rim of one board. Common practice, no source.
const maxRimThickness = 0.02 // [m]

func lidRimThickness(l Lid) float64 { return min(thickness(l.Layers), maxRimThickness) }

// PartMass is the mass of one part of an empty hive.
type PartMass struct {
	Part string  // "floor", "body 1 deep", "frames of body 1", "top board", "lid"
	Mass float64 // [kg]
}

// EmptyMass returns the mass of every part without bees and honey, from the
// floor upward, the built comb included as DrawnShare says. Layers count with
// the density of their material (air-dry); nails, paint and rebates are left
// out, corners are counted once.
func (h Hive) EmptyMass() []PartMass {
	if len(h.Bodies) == 0 {
		return nil
	}
	var parts []PartMass
	base := h.outerArea(0)
	floor := massPerArea(h.Floor.Layers) * base
	floor += h.Floor.Depth * wallRing(h.Bodies[0])
	parts = append(parts, PartMass{"floor", floor})
	for i, b := range h.Bodies {
		parts = append(parts, PartMass{bodyLabel(i, b), b.Height * wallRing(b)})
		if b.Frames.Count > 0 {
			parts = append(parts, PartMass{"frames of " + bodyLabel(i, b), float64(b.Frames.Count) * b.Frames.EmptyMass()})
		}
	}
	for i, f := range h.Followers {
		if f.Body < 0 || f.Body >= len(h.Bodies) {
			continue
		}
		b := h.Bodies[f.Body]
		parts = append(parts, PartMass{followerLabel(i), massPerArea(f.Layers) * b.Length * b.Height})
	}
	last := len(h.Bodies) - 1
	top := h.outerArea(last)
	if h.TopBoard != nil {
		parts = append(parts, PartMass{"top board", massPerArea(h.TopBoard.Layers) * top})
	}
	lid := massPerArea(h.Lid.Layers) * top
	if h.Lid.Rim > 0 && len(h.Lid.Layers) > 0 {
		size := h.Outside()
		lid += rimMassPerArea(h.Lid.Layers) * (h.Lid.Rim + h.Lid.Space) * 2 * (size.FrontToBack + size.SideToSide)
	}
	return append(parts, PartMass{"lid", lid})
}

// outerArea is the area of body i over its walls, seen from above. [m²]
func (h Hive) outerArea(i int) float64 {
	b := h.Bodies[i]
	return (b.FrontToBack() + b.WallThickness(Front) + b.WallThickness(Back)) *
		(b.SideToSide() + b.WallThickness(Left) + b.WallThickness(Right))
}

// wallRing is the mass of the four walls per height. Front and back run over
// the corners. [kg/m]
func wallRing(b Body) float64 {
	sides := b.WallThickness(Left) + b.WallThickness(Right)
	return (massPerArea(b.Walls[Front])+massPerArea(b.Walls[Back]))*(b.SideToSide()+sides) +
		(massPerArea(b.Walls[Left])+massPerArea(b.Walls[Right]))*b.FrontToBack()
}

// massPerArea of layers. [kg/m²]
func massPerArea(layers []Layer) float64 {
	var sum float64
	for _, l := range layers {
		sum += l.Thickness * l.Material.Density
	}
	return sum
}

// Sections of the sticks of a frame: common practice, no source.
const (
	topBarSection  = 0.025 * 0.015 // [m²]
	sideBarSection = 0.025 * 0.009 // side and bottom bars [m²]
	frameWood      = 450.0         // density of frame softwood, EN ISO 10456:2007 Table 3 [kg/m³]
	// waxPerCombFace is the wax in built comb per area of one comb face: 1 g
	// per 20 cm² (Beeswax production, properties, composition: the Wax Book, 2009). [kg/m²]
	waxPerCombFace = 0.5
)

// rimMassPerArea is the mass per area of the outer skin and board of a lid, which
// fold down into its rim; insulation below them stays inside. [kg/m²]
func rimMassPerArea(layers []Layer) float64 {
	var sum, depth float64
	for _, l := range layers {
		t := min(l.Thickness, maxRimThickness-depth)
		sum += t * l.Material.Density
		depth += t
	}
	return sum
}

// EmptyMass returns the mass of one frame with its share of built comb, without
// brood, pollen and honey. [kg]
func (f Frames) EmptyMass() float64 {
	wood := f.TopBar * topBarSection
	if !f.Bars {
		wood += (2*f.Depth + f.Length) * sideBarSection
	}
	return wood*frameWood + f.DrawnShare*2*f.CombArea()*waxPerCombFace
}
