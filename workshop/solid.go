package workshop

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hackle/hive"
)

// Point is a place in the hive. [m]
type Point struct{ X, Y, Z float64 }

// Box is a block with its sides along the axes.
type Box struct{ Min, Max Point }

// Solid is a piece as it sits in the hive: boxes that do not overlap, several
// where it is rebated.
type Solid []Box

// block is a box by its low corner and sizes.
func blockAt(x, y, z, dx, dy, dz float64) Box {
	return Box{Point{x, y, z}, Point{x + dx, y + dy, z + dz}}
}

// Volume of the box. [m³]
func (b Box) Volume() float64 {
	return max(0, b.Max.X-b.Min.X) * max(0, b.Max.Y-b.Min.Y) * max(0, b.Max.Z-b.Min.Z)
}

// Overlap is the box that two share; its volume is 0 when they only touch.
func (b Box) Overlap(c Box) Box {
	return Box{
		Point{max(b.Min.X, c.Min.X), max(b.Min.Y, c.Min.Y), max(b.Min.Z, c.Min.Z)},
		Point{min(b.Max.X, c.Max.X), min(b.Max.Y, c.Max.Y), min(b.Max.Z, c.Max.Z)},
	}
}

// Volume of the solid. [m³]
func (s Solid) Volume() float64 {
	var sum float64
	for _, b := range s {
		sum += b.Volume()
	}
	return sum
}

// Bounds is the smallest box around the solid.
func (s Solid) Bounds() Box {
	b := s[0]
	for _, c := range s[1:] {
		b.Min = Point{min(b.Min.X, c.Min.X), min(b.Min.Y, c.Min.Y), min(b.Min.Z, c.Min.Z)}
		b.Max = Point{max(b.Max.X, c.Max.X), max(b.Max.Y, c.Max.Y), max(b.Max.Z, c.Max.Z)}
	}
	return b
}

// Shared is the volume in which two solids overlap. [m³]
func Shared(a, b Solid) float64 {
	var sum float64
	for _, x := range a {
		for _, y := range b {
			o := x.Overlap(y)
			if o.Max.X > o.Min.X && o.Max.Y > o.Min.Y && o.Max.Z > o.Min.Z {
				sum += o.Volume()
			}
		}
	}
	return sum
}

// named is a part of the hive that is there already.
type named struct {
	name  string
	solid Solid
	role  role
}

type role int

const (
	wood role = iota
	insulation
	comb
	metal
)

// shell are the outer sizes that jobs build on.
type shell struct {
	length, width float64 // outside, front to back and side to side [m]
	wall          float64 // thinnest wall [m]
	boardTop      float64 // z of the upper face of the top board, or of the bodies [m]
	rimBottom     float64 // z of the lid's lower edge [m]
	lidUnder      float64 // z of the lid's underside [m]
}

// LidPlay is the room on each side between body and lid rim: common practice, no
// source. [m]
const LidPlay = 0.004

func outer(b hive.Body) (length, width float64) {
	return b.FrontToBack() + b.WallThickness(hive.Front) + b.WallThickness(hive.Back),
		b.SideToSide() + b.WallThickness(hive.Left) + b.WallThickness(hive.Right)
}

func shellOf(h hive.Hive) shell {
	top := h.Bodies[len(h.Bodies)-1]
	var s shell
	s.length, s.width = outer(top)
	s.wall = math.Inf(1)
	for f := hive.Front; f <= hive.Right; f++ {
		s.wall = min(s.wall, top.WallThickness(f))
	}
	s.boardTop = h.Height()
	if h.TopBoard != nil {
		s.boardTop += thickness(h.TopBoard.Layers)
	}
	s.lidUnder = s.boardTop + h.Lid.Space
	s.rimBottom = s.boardTop - h.Lid.Rim
	return s
}

func thickness(layers []hive.Layer) float64 {
	var sum float64
	for _, l := range layers {
		sum += l.Thickness
	}
	return sum
}

// hiveSolids are the parts of a hive as built: floor, bodies, frames, top board,
// lid. Insulation in walls and lid counts as part of them.
func hiveSolids(h hive.Hive) []named {
	var list []named
	add := func(name string, r role, boxes ...Box) { list = append(list, named{name, boxes, r}) }
	low := h.Bodies[0]
	l0, w0 := outer(low)
	if t := thickness(h.Floor.Layers); t > 0 {
		z := -t
		if h.Floor.Mesh { // the tray lies below the mesh
			z = -t - 0.030
		}
		add("floor", wood, blockAt(-w0/2, -l0/2, z, w0, l0, t))
	}
	for i, b := range h.Bodies {
		z := h.BodyBase(i)
		l, w := outer(b)
		fb, ss := b.FrontToBack(), b.SideToSide()
		label := fmt.Sprintf("body %d", i+1)
		y0 := -l/2 + b.WallThickness(hive.Front)
		x0 := -w/2 + b.WallThickness(hive.Left)
		wall := func(name string, f hive.Face, box Box) { add(label+" "+name, wood, opened(h, f, box)...) }
		wall("front", hive.Front, blockAt(-w/2, -l/2, z, w, b.WallThickness(hive.Front), b.Height))
		wall("back", hive.Back, blockAt(-w/2, y0+fb, z, w, b.WallThickness(hive.Back), b.Height))
		wall("left", hive.Left, blockAt(-w/2, y0, z, b.WallThickness(hive.Left), fb, b.Height))
		wall("right", hive.Right, blockAt(x0+ss, y0, z, b.WallThickness(hive.Right), fb, b.Height))
		f := b.Frames
		if f.Count == 0 {
			continue
		}
		zTop := z + b.Height - b.TopSpace
		for k := range f.Count {
			at := (float64(k) - float64(f.Count-1)/2) * f.Pitch
			name := fmt.Sprintf("frame %d of body %d", k+1, i+1)
			cx, cy := x0+ss/2, y0+fb/2
			if b.Turned {
				add(name, comb, blockAt(cx-f.Length/2, cy+at-f.CombThickness/2, zTop-f.Depth, f.Length, f.CombThickness, f.Depth))
			} else {
				add(name, comb, blockAt(cx+at-f.CombThickness/2, cy-f.Length/2, zTop-f.Depth, f.CombThickness, f.Length, f.Depth))
			}
		}
	}
	s := shellOf(h)
	if h.TopBoard != nil {
		if t := thickness(h.TopBoard.Layers); t > 0 {
			add("top board", wood, blockAt(-s.width/2, -s.length/2, s.boardTop-t, s.width, s.length, t))
		}
	}
	return list
}

// assembly puts the new parts together with the hive and with one another, and
// holds that no two stand in the same place.
func (b *bench) assembly() {
	const tolerance = 1e-9 // [m³], a cubic millimetre
	var all []named
	replaced := append(b.replaces(), b.removed...)
	for _, n := range b.job.section {
		if !slices.ContainsFunc(replaced, func(prefix string) bool { return strings.HasPrefix(n.name, prefix) }) {
			all = append(all, n)
		}
	}
	old := len(all)
	for _, p := range b.job.Parts {
		for i, s := range p.At {
			name := p.Name
			if len(p.At) > 1 {
				name = fmt.Sprintf("%s %d", p.Name, i+1)
			}
			all = append(all, named{name: name, solid: s})
		}
	}
	if len(all) == old {
		return
	}
	var clash []string
	for i := old; i < len(all); i++ {
		for k := range i {
			if v := Shared(all[i].solid, all[k].solid); v > tolerance {
				clash = append(clash, fmt.Sprintf("%s and %s overlap by %.1f cm³", all[i].name, all[k].name, v*1e6))
			}
		}
	}
	found := fmt.Sprintf("%d parts put together with %d of the hive", len(all)-old, old)
	if len(clash) > 0 {
		found = strings.Join(clash, "; ")
	}
	b.check("no two parts in one place", len(clash) == 0, found, "parts touch but do not overlap")
}

// replaces names the parts of the hive whose place the job's take.
func (b *bench) replaces() []string {
	switch b.job.Kind {
	case "quilt", "top-board":
		return []string{"top board"}
	case "floor":
		return []string{"floor"}
	case "floor-tray":
		return []string{"floor"}
	case "body":
		i := b.spec.Body
		if i == 0 {
			i = 1
		}
		return []string{fmt.Sprintf("body %d ", i)}
	}
	return nil
}

// opened is a wall with its openings cut out; a round hole counts as the square
// round it.
func opened(h hive.Hive, f hive.Face, wall Box) Solid {
	s := Solid{wall}
	for _, o := range h.Openings {
		if o.Face != f {
			continue
		}
		// Offset is positive to the right seen from outside.
		sign, along := 1.0, true
		switch f {
		case hive.Front:
			sign = -1
		case hive.Left:
			along = false
		case hive.Right:
			sign, along = -1, false
		}
		for k := range max(1, o.Count) {
			from := o.Offset - o.GroupWidth()/2 + 1.5*o.Width*float64(k)
			lo, hi := sign*from, sign*(from+o.Width)
			lo, hi = min(lo, hi), max(lo, hi)
			cut := Box{Point{lo, wall.Min.Y, o.Sill}, Point{hi, wall.Max.Y, o.Sill + o.Height}}
			if !along {
				cut = Box{Point{wall.Min.X, lo, o.Sill}, Point{wall.Max.X, hi, o.Sill + o.Height}}
			}
			var out Solid
			for _, x := range s {
				out = append(out, minus(x, cut)...)
			}
			s = out
		}
	}
	return s
}
