package cutaway

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hackle/hive"
)

// rect is a rectangle of the picture. [mm]
type rect struct{ x0, y0, x1, y1 float64 }

func (r rect) w() float64 { return r.x1 - r.x0 }
func (r rect) h() float64 { return r.y1 - r.y0 }

// piece is a cut part of the shell: one layer of something.
type piece struct {
	rect
	hatch   hatch
	upright bool   // its layer runs up and down
	gate    string // identifier of a gate that shows it, empty: always there
}

// part is a run of layers that a name stands for.
type part struct {
	name   string
	layers []hive.Layer
	at     [2]float64 // where a leader touches it
}

// hole is an opening in a wall that the section does not cut, seen face on.
type hole struct {
	rect
	round bool
	far   bool // behind the plane of the cut
	id    string
}

// stick is the wood of a frame.
type stick struct {
	rect
	cut bool
}

// comb is one comb: seen on edge or face on.
type comb struct {
	rect
	edge    bool
	built   bool
	support hive.Support
}

// scene is a section of a hive, laid out.
type scene struct {
	section Section
	hive    *hive.Hive
	inside  []rect  // rooms that the bees' air fills
	attic   *rect   // air space inside the lid
	shell   []piece //
	doors   []piece // blocks in openings that the season shuts
	mesh    *rect
	combs   []comb
	sticks  []stick
	holes   []hole
	vents   []rect // of the lid's space
	parts   []part
	boards  []piece // followers
	outer   rect    // hive without stand
	ground  float64 // y of the ground
	broken  bool    // the stand is drawn shorter than it is
	moves   moves
	gates   []gate
	span    [2]float64 // of the bees' air across the section, core in it
	core    [2]float64
	reach   [2]float64 // outermost x with wraps, left and right
}

// gate is what a day shows or hides when there is no hour to ask.
type gate struct {
	id string
	on func(time.Time) bool
}

const (
	mm        = 1000.0
	rimStick  = 18.0  // strips that close a space under lid or board, common practice, no source [mm]
	standMost = 110.0 // of the stand that is drawn [mm]
	ramp      = 10    // strips between core and flank
	meshFrame = 14.0  // depth of the frame that holds a mesh, common practice, no source [mm]
)

func thick(layers []hive.Layer) float64 {
	t := 0.0
	for _, l := range layers {
		t += l.Thickness
	}
	return t * mm
}

// across is the inside measure of a body along the section. [mm]
func (s *scene) across(b *hive.Body) float64 {
	if s.section == Across {
		return b.SideToSide() * mm
	}
	return b.FrontToBack() * mm
}

// onEdge reports whether the section cuts the combs of a body.
func (s *scene) onEdge(b *hive.Body) bool { return (s.section == Across) != b.Turned }

// newScene lays a hive out. A year, which may be nil, gives the rules of its hours.
func newScene(h *hive.Hive, y *Year, section Section) *scene {
	s := &scene{section: section, hive: h}
	if len(h.Bodies) == 0 {
		return s
	}
	s.walls()
	s.floor()
	s.top()
	s.wraps()
	s.hang()
	s.look()
	s.bounds()
	if y != nil {
		s.rules(y)
	} else {
		s.calendar()
	}
	return s
}

// layers stacks layers from an edge outward, the last of the list first.
func (s *scene) wallLayers(layers []hive.Layer, inner, y0, y1 float64, toLeft bool, gateID string, into *[]piece) {
	at := inner
	for i := len(layers) - 1; i >= 0; i-- {
		t := layers[i].Thickness * mm
		if t <= 0 {
			continue
		}
		r := rect{at, y0, at + t, y1}
		if toLeft {
			r = rect{at - t, y0, at, y1}
			at -= t
		} else {
			at += t
		}
		*into = append(*into, piece{r, hatchOf(layers[i]), true, gateID})
	}
}

// walls draws both cut walls of every body and of the floor's rim, with their
// openings.
func (s *scene) walls() {
	h := s.hive
	low, high := s.section.faces()
	type level struct {
		z0, z1 float64
		body   int
	}
	var levels []level
	if h.Floor.Depth > 0 {
		levels = append(levels, level{0, h.Floor.Depth * mm, 0})
	}
	for i := range h.Bodies {
		levels = append(levels, level{h.BodyBase(i) * mm, h.BodyBase(i+1) * mm, i})
	}
	if b := h.TopBoard; b != nil && b.Space > 0 {
		top := h.StackTop() * mm
		levels = append(levels, level{top, top + b.Space*mm, len(h.Bodies) - 1})
	}
	for n, l := range levels {
		b := &h.Bodies[l.body]
		half := s.across(b) / 2
		s.inside = append(s.inside, rect{-half, -l.z1, half, -l.z0})
		for _, f := range []hive.Face{low, high} {
			inner, toLeft := half, false
			if f == low {
				inner, toLeft = -half, true
			}
			at := l.z0
			for _, o := range s.cutBy(f, l.z0, l.z1) {
				s.wallLayers(b.Walls[f], inner, -o.z0, -at, toLeft, "", &s.shell)
				if o.shuts {
					s.wallLayers(b.Walls[f], inner, -o.z1, -o.z0, toLeft, fmt.Sprintf("shut%d-%d", o.index, n), &s.doors)
				}
				at = o.z1
			}
			s.wallLayers(b.Walls[f], inner, -l.z1, -at, toLeft, "", &s.shell)
			if l.z1-l.z0 > 60 {
				x := inner + thick(b.Walls[f])/2
				if toLeft {
					x = inner - thick(b.Walls[f])/2
				}
				s.parts = append(s.parts, part{fmt.Sprintf("%s wall", f), b.Walls[f], [2]float64{x, -(l.z0 + 0.7*(l.z1-l.z0))}})
			}
		}
	}
}

// gap is an opening in a cut wall.
type gap struct {
	z0, z1 float64
	index  int
	shuts  bool // the season may close it
}

// cutBy lists the openings of a cut wall between two heights, from below.
func (s *scene) cutBy(f hive.Face, z0, z1 float64) []gap {
	var out []gap
	for i := range s.hive.Openings {
		o := &s.hive.Openings[i]
		if o.Face != f || o.Width <= 0 || o.Height <= 0 {
			continue
		}
		a, b := max(z0, o.Sill*mm), min(z1, (o.Sill+o.Height)*mm)
		if b <= a {
			continue
		}
		out = append(out, gap{a, b, i, slices.ContainsFunc(o.Schedule, func(e hive.OpeningState) bool { return e.Width == 0 })})
	}
	slices.SortStableFunc(out, func(a, b gap) int {
		switch {
		case a.z0 < b.z0:
			return -1
		case a.z0 > b.z0:
			return 1
		}
		return 0
	})
	// Where two overlap, the lower one keeps the room.
	for i := 1; i < len(out); i++ {
		out[i].z0 = max(out[i].z0, out[i-1].z1)
		out[i].z1 = max(out[i].z0, out[i].z1)
	}
	return out
}

// outerOf gives the outer edges of a body. [mm]
func (s *scene) outerOf(i int) (left, right float64) {
	b := &s.hive.Bodies[i]
	low, high := s.section.faces()
	return -s.across(b)/2 - thick(b.Walls[low]), s.across(b)/2 + thick(b.Walls[high])
}

// level stacks layers of a level part upward from y, the last of the list first,
// and returns where they end.
func (s *scene) level(layers []hive.Layer, x0, x1, y float64, gateID string) float64 {
	for i := len(layers) - 1; i >= 0; i-- {
		if t := layers[i].Thickness * mm; t > 0 {
			s.shell = append(s.shell, piece{rect{x0, y - t, x1, y}, hatchOf(layers[i]), false, gateID})
			y -= t
		}
	}
	return y
}

func (s *scene) floor() {
	f := &s.hive.Floor
	x0, x1 := s.outerOf(0)
	below := 0.0
	gateID := ""
	if f.Mesh {
		half := s.across(&s.hive.Bodies[0]) / 2
		s.mesh = &rect{-half, 0, half, 2}
		low, high := s.section.faces()
		// The frame that holds the mesh, as thick as it takes to hang the tray.
		below = meshFrame
		for _, f := range []hive.Face{low, high} {
			w := max(thick(s.hive.Bodies[0].Walls[f]), rimStick)
			r := rect{half, 0, half + w, below}
			if f == low {
				r = rect{-half - w, 0, -half, below}
			}
			s.shell = append(s.shell, piece{r, grain, true, ""})
		}
		gateID = "tray"
		s.gates = append(s.gates, gate{"tray", f.TrayOn})
	}
	t := thick(f.Layers)
	s.level(f.Layers, x0, x1, below+t, gateID)
	if len(f.Layers) > 0 {
		name := "floor"
		if f.Mesh {
			name = "tray"
		}
		s.parts = append(s.parts, part{name, f.Layers, [2]float64{x1 - 20, below + t/2}})
	}
	s.outer.y1 = below + t
}

// top draws top board and lid.
func (s *scene) top() {
	h := s.hive
	last := len(h.Bodies) - 1
	x0, x1 := s.outerOf(last)
	y := -h.Height() * mm
	if b := h.TopBoard; b != nil {
		hole := 0.0
		if b.Hole > 0 {
			hole = math.Sqrt(4*b.Hole/math.Pi) * mm
			if len(b.HoleEvents) > 0 {
				s.gates = append(s.gates, gate{"plug", func(t time.Time) bool { return b.HoleOn(t) <= 0 }})
			}
		}
		from := y
		for i := len(b.Layers) - 1; i >= 0; i-- {
			t := b.Layers[i].Thickness * mm
			if t <= 0 {
				continue
			}
			a, z := x0, x1
			hatch := hatchOf(b.Layers[i])
			if (hatch == litter || hatch == loops) && t > 25 {
				// Loose fill lies in a box of its own.
				s.shell = append(s.shell, piece{rect{x0, y - t, x0 + rimStick, y}, grain, true, ""}, piece{rect{x1 - rimStick, y - t, x1, y}, grain, true, ""})
				a, z = x0+rimStick, x1-rimStick
			}
			if hole > 0 {
				s.shell = append(s.shell, piece{rect{a, y - t, -hole / 2, y}, hatch, false, ""}, piece{rect{hole / 2, y - t, z, y}, hatch, false, ""})
				if len(b.HoleEvents) > 0 {
					s.doors = append(s.doors, piece{rect{-hole / 2, y - t, hole / 2, y}, hatch, false, "plug"})
				}
			} else {
				s.shell = append(s.shell, piece{rect{a, y - t, z, y}, hatch, false, ""})
			}
			y -= t
		}
		s.parts = append(s.parts, part{"top board", b.Layers, [2]float64{x1 - 45, (from + y) / 2}})
	}
	l := &h.Lid
	ceiling := y - l.Space*mm
	rim := 0.0
	var rimHatch hatch = grain
	if l.Rim > 0 {
		rim = min(thick(l.Layers), 20)
		for _, layer := range l.Layers {
			if x := hatchOf(layer); x != metal {
				rimHatch = x
				break
			}
		}
		if rimHatch == loops || rimHatch == litter {
			rimHatch = grain
		}
	}
	// The skin folds down into the rim; what lies below it stays between.
	skin := 0.0
	at := ceiling
	for i := len(l.Layers) - 1; i >= 0; i-- {
		t := l.Layers[i].Thickness * mm
		if t <= 0 {
			continue
		}
		above := 0.0
		for _, k := range l.Layers[:i] {
			above += k.Thickness * mm
		}
		a, z := x0, x1
		if above+t <= 20.5 || l.Rim <= 0 {
			a, z = x0-rim, x1+rim
			skin += t
		}
		s.shell = append(s.shell, piece{rect{a, at - t, z, at}, hatchOf(l.Layers[i]), false, ""})
		at -= t
	}
	if l.Rim > 0 {
		foot := -h.StackTop()*mm + l.Rim*mm
		s.shell = append(s.shell, piece{rect{x0 - rim, at + skin, x0, foot}, rimHatch, true, ""}, piece{rect{x1, at + skin, x1 + rim, foot}, rimHatch, true, ""})
	}
	if l.Space > 0 {
		s.attic = &rect{x0, ceiling, x1, y}
		if l.Rim <= 0 {
			s.shell = append(s.shell, piece{rect{x0, ceiling, x0 + rimStick, y}, grain, true, ""}, piece{rect{x1 - rimStick, ceiling, x1, y}, grain, true, ""})
			s.attic.x0, s.attic.x1 = x0+rimStick, x1-rimStick
		}
		if l.Vents > 0 {
			d := min(l.Space*mm*0.5, math.Sqrt(l.Vents/2)*mm)
			m := (ceiling + y) / 2
			out := rim
			if l.Rim <= 0 {
				s.vents = append(s.vents, rect{x0, m - d/2, x0 + rimStick, m + d/2}, rect{x1 - rimStick, m - d/2, x1, m + d/2})
			} else {
				s.vents = append(s.vents, rect{x0 - out, m - d/2, x0, m + d/2}, rect{x1, m - d/2, x1 + out, m + d/2})
			}
		}
	}
	if len(l.Layers) > 0 {
		s.parts = append(s.parts, part{"lid", l.Layers, [2]float64{x1 - 90, (ceiling + at) / 2}})
	}
	s.outer.y0 = at
	s.outer.x0, s.outer.x1 = x0-rim, x1+rim
	for i := range h.Bodies {
		a, z := s.outerOf(i)
		s.outer.x0, s.outer.x1 = min(s.outer.x0, a), max(s.outer.x1, z)
	}
}

// wraps lays the coats over the cut faces. Each gets a gate that the calendar moves.
func (s *scene) wraps() {
	h := s.hive
	low, high := s.section.faces()
	last := len(h.Bodies) - 1
	top := -h.StackTop() * mm
	if h.Lid.Rim > 0 {
		top += h.Lid.Rim * mm
	}
	s.reach = [2]float64{s.outer.x0, s.outer.x1}
	left, right := make([]float64, len(h.Bodies)), make([]float64, len(h.Bodies))
	for i := range h.Bodies {
		left[i], right[i] = s.outerOf(i)
	}
	roof := s.outer.y0
	for w := range h.Wraps {
		wrap := &h.Wraps[w]
		id := fmt.Sprintf("wrap%d", w)
		t := thick(wrap.Layers)
		named := false
		for i := range h.Bodies {
			y1, y0 := -h.BodyBase(i)*mm, max(top, -h.BodyBase(i+1)*mm)
			if i == 0 {
				y1 = s.outer.y1
			}
			if i == last {
				y0 = top
			}
			if y1 <= y0 {
				continue
			}
			for _, f := range []hive.Face{low, high} {
				if !slices.Contains(wrap.Faces, f) {
					continue
				}
				// Openings stay free.
				at := y1
				edge, toLeft := &right[i], false
				if f == low {
					edge, toLeft = &left[i], true
				}
				for _, o := range s.cutBy(f, -y1, -y0) {
					s.wallLayers(wrap.Layers, *edge, -o.z0, at, toLeft, id, &s.shell)
					at = -o.z1
				}
				s.wallLayers(wrap.Layers, *edge, y0, at, toLeft, id, &s.shell)
				if toLeft {
					*edge -= t
				} else {
					*edge += t
				}
				s.reach[0], s.reach[1] = min(s.reach[0], *edge), max(s.reach[1], *edge)
				if !named {
					named = true
					x := *edge + t/2
					if !toLeft {
						x = *edge - t/2
					}
					s.parts = append(s.parts, part{wrap.Name, wrap.Layers, [2]float64{x, y0 + 0.3*(y1-y0)}})
				}
			}
		}
		if slices.Contains(wrap.Faces, hive.Top) {
			s.level(wrap.Layers, s.outer.x0, s.outer.x1, roof, id)
			roof -= t
		}
		s.gates = append(s.gates, gate{id, wrap.OnAt})
	}
	s.outer.y0 = min(s.outer.y0, roof)
}

// hang puts frames and combs, and follower boards, into the bodies.
func (s *scene) hang() {
	h := s.hive
	for i := range h.Bodies {
		b := &h.Bodies[i]
		if b.Frames.Count == 0 {
			continue
		}
		top := -(h.BodyBase(i) + b.Height - b.TopSpace) * mm
		if s.onEdge(b) {
			s.hangOnEdge(i, b, top)
		} else {
			s.hangFaceOn(i, b, top)
		}
	}
	for i := range h.Followers {
		f := &h.Followers[i]
		if f.Body < 0 || f.Body >= len(h.Bodies) || !s.onEdge(&h.Bodies[f.Body]) {
			continue
		}
		b := &h.Bodies[f.Body]
		at, right := s.followerAt(b, f)
		y0, y1 := -h.BodyBase(f.Body+1)*mm, -h.BodyBase(f.Body)*mm-f.Gap*mm
		x := at
		for k := len(f.Layers) - 1; k >= 0; k-- {
			t := f.Layers[k].Thickness * mm
			r := rect{x, y0, x + t, y1}
			if !right {
				r = rect{x - t, y0, x, y1}
				t = -t
			}
			s.boards = append(s.boards, piece{r, hatchOf(f.Layers[k]), true, ""})
			x += t
		}
		s.parts = append(s.parts, part{"follower board", f.Layers, [2]float64{(at + x) / 2, y0 + 0.4*(y1-y0)}})
	}
}

// followerAt is the bees' face of a follower, and whether the space beyond it lies
// to the right.
func (s *scene) followerAt(b *hive.Body, f *hive.Follower) (x float64, right bool) {
	_, high := s.section.faces()
	right = f.Side == high
	x = -b.Width*mm/2 + min(b.Width, b.SideGap()+float64(f.Frames)*b.Frames.Pitch)*mm
	if !right {
		x = -x
	}
	return x, right
}

const (
	topBarWide, topBarTall = 25.0, 19.0 // of a frame, common practice, no source [mm]
	barTall                = 9.0        // of bottom and side bars, the same [mm]
)

// place is the middle of a frame across the body, counted from the bees' wall.
func (s *scene) place(i int, b *hive.Body, n int) float64 {
	x := (b.SideGap() + b.Frames.CombThickness/2 + float64(n)*b.Frames.Pitch) * mm
	if f := followerOf(s.hive, i); f != nil {
		if n >= f.Frames {
			x += min(thick(f.Layers), max(0, 2*b.SideGap()*mm-2))
		}
		if _, right := s.followerAt(b, f); !right {
			return b.Width*mm/2 - x
		}
	}
	return x - b.Width*mm/2
}

// isBuilt reports whether frame n of a body holds comb: the middle ones do.
func isBuilt(f hive.Frames, n int) bool {
	built := int(math.Round(f.DrawnShare * float64(f.Count)))
	from := (f.Count - built) / 2
	return n >= from && n < from+built
}

func (s *scene) hangOnEdge(i int, b *hive.Body, top float64) {
	f := b.Frames
	bottom := top + f.Depth*mm
	for n := range f.Count {
		x := s.place(i, b, n)
		t := f.CombThickness * mm / 2
		wide := min(topBarWide/2, f.Pitch*mm/2)
		tall := min(topBarTall, f.Depth*mm/4)
		foot := bottom - barTall
		if f.Bars {
			wide, foot = f.Pitch*mm/2-0.5, bottom
		}
		s.combs = append(s.combs, comb{rect{x - t, top + tall, x + t, foot}, true, isBuilt(f, n), f.Support})
		s.sticks = append(s.sticks, stick{rect{x - wide, top, x + wide, top + tall}, true})
		if !f.Bars {
			s.sticks = append(s.sticks, stick{rect{x - 9, foot, x + 9, bottom}, true})
		}
	}
}

func (s *scene) hangFaceOn(i int, b *hive.Body, top float64) {
	f := b.Frames
	// Lugs rest in the walls and end in them.
	left, right := s.outerOf(i)
	half := f.Length * mm / 2
	bar := min(f.TopBar*mm/2, -left-1, right-1)
	bottom := top + f.Depth*mm
	tall := min(topBarTall, f.Depth*mm/4)
	in, foot := barTall, bottom-barTall
	if f.Bars {
		in, foot = 0, bottom
	}
	s.combs = append(s.combs, comb{rect{-half + in, top + tall, half - in, foot}, false, isBuilt(f, f.Count/2), f.Support})
	s.sticks = append(s.sticks, stick{rect{-max(bar, half), top, max(bar, half), top + min(tall, 10)}, false}, stick{rect{-half, top + min(tall, 10), half, top + tall}, false})
	if !f.Bars {
		s.sticks = append(s.sticks, stick{rect{-half, top + tall, -half + in, bottom}, false}, stick{rect{half - in, top + tall, half, bottom}, false}, stick{rect{-half + in, foot, half - in, bottom}, false})
	}
}

// look finds the openings that are seen face on.
func (s *scene) look() {
	low, high := s.section.faces()
	for i := range s.hive.Openings {
		o := &s.hive.Openings[i]
		if !o.Face.Upright() || o.Face == low || o.Face == high || o.Width <= 0 || o.Height <= 0 {
			continue
		}
		x, far := s.seenAt(o)
		n := max(o.Count, 1)
		step := o.Width * 1.5 * mm
		for k := range n {
			c := x + (float64(k)-float64(n-1)/2)*step
			s.holes = append(s.holes, hole{rect{c - o.Width*mm/2, -(o.Sill + o.Height) * mm, c + o.Width*mm/2, -o.Sill * mm}, o.Shape == hive.Round, far, fmt.Sprintf("open%d-%d", i, k)})
		}
	}
}

// seenAt is where the middle of an opening lies that the section does not cut. An
// offset counts to the right as seen from outside, so that it turns round on the
// far wall.
func (s *scene) seenAt(o *hive.Opening) (x float64, far bool) {
	far = o.Face == hive.Front || o.Face == hive.Right
	if far {
		return -o.Offset * mm, true
	}
	return o.Offset * mm, false
}

func (s *scene) bounds() {
	stand := s.hive.StandHeight * mm
	s.broken = stand > standMost
	s.ground = s.outer.y1 + min(max(stand, 0), standMost)
}

// calendar sets what a day shows where no hour does.
func (s *scene) calendar() {
	for i := range s.hive.Openings {
		o := s.hive.Openings[i]
		for n := range len(s.hive.Bodies) + 2 {
			s.gates = append(s.gates, gate{fmt.Sprintf("shut%d-%d", i, n), func(t time.Time) bool { return o.WidthOn(t) == 0 }})
		}
	}
}
