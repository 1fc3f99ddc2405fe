package workshop

import (
	"fmt"
	"math"
	"strings"

	"hackle/hive"
	"hackle/quantity"
)

func floorTray(b *bench) error {
	b.job.Purpose = "Closes a mesh floor from below for the cold, and shows what falls."
	if !b.h.Floor.Mesh {
		return b.fail("tray", "the floor of this hive has no mesh to close")
	}
	ply, err := b.find("tray", b.spec.Material, "plywood")
	if err != nil {
		return err
	}
	wood, err := b.wood("runner")
	if err != nil {
		return err
	}
	thick := b.spec.Thickness
	if thick == 0 {
		thick = 0.006
	}
	low := b.h.Bodies[0]
	const runner, below, grip = 0.012, 0.030, 0.030
	cl := b.opt.Clearance
	length := low.FrontToBack() + low.WallThickness(hive.Back) + grip
	width := low.SideToSide() - 2*cl
	y0 := -low.FrontToBack() / 2
	z := -below - thick
	b.part(Part{Name: "tray", Material: ply, Count: 1, Length: length, Width: width, Thickness: thick,
		At: []Solid{{blockAt(-width/2, y0, z, width, length, thick)}}, Note: b.l(grip) + " to hold it by at the back"})
	b.part(Part{Name: "runner", Material: wood, Count: 2, Length: low.FrontToBack(), Width: runner, Thickness: runner, Grain: true, At: []Solid{
		{blockAt(-low.SideToSide()/2, y0, z-runner, runner, low.FrontToBack(), runner)},
		{blockAt(low.SideToSide()/2-runner, y0, z-runner, runner, low.FrontToBack(), runner)},
	}})
	b.buy("panel pin", 10, 0.025, "runners")
	b.step("Pin the runners under the floor's rim inside, so that the tray lies %s below the mesh.", b.l(below))
	b.step("Slide the tray in from the back; it stands out by %s.", b.l(grip))
	b.step("In: from the first hard frosts to spring. Out: in heat. Brush it clean, so that no wax moths breed on it.")
	b.check("the tray slides", cl >= 0.0005 && cl <= 0.003, b.l(cl)+" on each side", b.l(0.0005)+" to "+b.l(0.003))
	b.check("nothing that bees build up", below > 0.02, b.l(below)+" below the mesh, where no bee comes", "out of their reach")
	f := &b.job.Plan.Hive.Floor
	f.Layers = []hive.Layer{{Material: ply, Thickness: thick}}
	if len(f.TrayEvents) == 0 {
		f.TrayEvents = []hive.Switch{{From: hive.Day{Month: 4, Day: 15}, On: false}, {From: hive.Day{Month: 10, Day: 15}, On: true}}
	}
	return nil
}

// mouseSlot is the highest slot that keeps mice out: 7.5 mm (club sheets). [m]
const mouseSlot = 0.0075

func entranceReducer(b *bench) error {
	b.job.Purpose = "Makes the entrance small against mice, robbers and wind."
	wood, err := b.wood("bar")
	if err != nil {
		return err
	}
	i := -1
	for k, o := range b.h.Openings {
		if o.Name == "entrance" || i < 0 && o.Face == hive.Front {
			i = k
		}
	}
	if i < 0 {
		return b.fail("bar", "this hive has no entrance")
	}
	o := b.h.Openings[i]
	if o.Shape != hive.Slot {
		return b.fail("bar", "the entrance is round: a bar does not close it; put a slide over it")
	}
	if o.Count > 1 {
		b.note("The entrance has %d slots: make one set for each.", o.Count)
	}
	info, err := hive.Types()
	if err != nil {
		return err
	}
	medium, small := 0.075, 0.025
	for _, t := range info {
		if t.Name != b.h.Type {
			continue
		}
		for _, r := range t.Reducers {
			switch r.Name {
			case "medium":
				medium = r.Width
			case "small":
				small = r.Width
			}
		}
	}
	medium = min(medium, o.Width*0.6)
	small = min(small, medium)
	cl := b.opt.Clearance
	high := o.Height - min(cl, o.Height/20)
	deep := min(max(o.Depth, 0.012), 0.022)
	y := -b.h.Bodies[0].FrontToBack()/2 - b.h.Bodies[0].WallThickness(hive.Front)
	first := -o.Offset - o.GroupWidth()/2 // seen from behind
	x := func(slot int, from float64) float64 { return first + 1.5*o.Width*float64(slot) + from }
	if o.Height >= 0.016 {
		const notch = mouseSlot
		length := o.Width - 2*cl
		var at []Solid
		for k := range o.Count {
			at = append(at, reducerBar(x(k, cl), y, o.Sill, length, deep, high, medium, notch))
		}
		b.part(Part{Name: "bar", Material: wood, Count: o.Count, Length: length, Width: high, Thickness: deep, Grain: true,
			Features: []Feature{
				{Kind: Notch, X: length/2 - medium/2, Y: 0, Length: medium, Width: notch, Note: "medium"},
				{Kind: Rebate, X: length/2 - small/2, Y: high - notch, Length: small, Width: notch, Depth: deep, Note: "small, cut through from the other edge"},
			},
			At: at})
		b.step("Cut a bar of %s × %s × %s. Cut a notch %s wide and %s high into one edge, and one of %s into the opposite edge.", b.l(length), b.l(deep), b.l(high), b.l(medium), b.l(notch), b.l(small))
		b.step("Turn the bar over to change from medium to small.")
		b.check("mice stay out", notch <= mouseSlot+1e-9, "slot of "+b.l(notch), "at most "+b.l(mouseSlot))
	} else {
		side, middle := (o.Width-medium)/2-cl, (medium-small)/2-cl
		var sides, middles []Solid
		for k := range o.Count {
			sides = append(sides, Solid{blockAt(x(k, cl), y, o.Sill, side, deep, high)}, Solid{blockAt(x(k, o.Width-cl-side), y, o.Sill, side, deep, high)})
			middles = append(middles, Solid{blockAt(x(k, (o.Width-medium)/2), y, o.Sill, middle, deep, high)}, Solid{blockAt(x(k, (o.Width+medium)/2-middle), y, o.Sill, middle, deep, high)})
		}
		b.part(Part{Name: "side block", Material: wood, Count: 2 * o.Count, Length: side, Width: high, Thickness: deep, Grain: true, At: sides})
		b.part(Part{Name: "middle block", Material: wood, Count: 2 * o.Count, Length: middle, Width: high, Thickness: deep, Grain: true, At: middles})
		b.step("Cut the strip %s × %s and from it two blocks of %s and two of %s.", b.l(high), b.l(deep), b.l(side), b.l(middle))
		b.step("Push the two long blocks in from the ends for an entrance of %s; add the short ones for %s. A screw part driven in gives a handle.", b.l(medium), b.l(small))
		if o.Height > mouseSlot {
			b.job.Items = append(b.job.Items, Item{Name: "drawing pin", Amount: math.Ceil(small/0.009) - 1, Unit: "pieces", Note: "in a row over the gap, 9 mm apart, against mice"})
			b.step("The slot is %s high: set pins across the gap, 9 mm apart, or a mouse gets in.", b.l(o.Height))
		}
	}
	b.check("bees pass", small >= 0.015, "at least "+b.l(small)+" wide", "at least "+b.l(0.015))
	b.step("Clear dead bees out of it with a bent wire through the winter.")
	h := &b.job.Plan.Hive
	if len(h.Openings[i].Schedule) == 0 {
		h.Openings[i].Schedule = []hive.OpeningState{{From: hive.Day{Month: 5, Day: 1}, Width: o.Width}, {From: hive.Day{Month: 10, Day: 1}, Width: medium}}
	}
	return nil
}

// reducerBar is a bar with a notch from below in its middle.
func reducerBar(x, y, z, length, deep, high, notchL, notchH float64) Solid {
	a := (length - notchL) / 2
	return Solid{
		blockAt(x, y, z, a, deep, high),
		blockAt(x+a, y, z+notchH, notchL, deep, high-notchH),
		blockAt(x+a+notchL, y, z, a, deep, high),
	}
}

// Frame sticks: common practice, no source. [m]
const (
	lugThick     = 0.0095
	topBarThick  = 0.019
	sideBarThick = 0.009
	barBroad     = 0.025
)

func followerBoard(b *bench) error {
	b.job.Purpose = "Shuts the bees off from combs they do not need, so that they keep a smaller space warm."
	i := max(b.spec.Body, 1) - 1
	body := b.h.Bodies[i]
	f := body.Frames
	if f.Count == 0 {
		return b.fail("board", "body %d has no frames beside which a follower board could hang", i+1)
	}
	m, err := b.find("board", b.spec.Material, "plywood")
	if err != nil {
		return err
	}
	wood, err := b.wood("bar")
	if err != nil {
		return err
	}
	thick := b.spec.Thickness
	if thick == 0 {
		thick = 0.012
	}
	n := b.spec.Frames
	if n == 0 {
		n = max(1, f.Count/2)
	}
	if n >= f.Count {
		return b.fail("board", "%d frames on the bees' side; the body has %d, and one must make room for the board", n, f.Count)
	}
	gap := b.opt.BeeSpace
	length := body.Length - 2*gap
	depth := body.Height - body.TopSpace - gap
	z := b.h.BodyBase(i)
	// The board hangs where frame n+1 hung.
	at := (float64(n) - float64(f.Count-1)/2) * f.Pitch
	xc := (body.WallThickness(hive.Left) - body.WallThickness(hive.Right)) / 2
	yc := (body.WallThickness(hive.Front) - body.WallThickness(hive.Back)) / 2
	place := func(along, from, z, dl, dt, dz float64) Box {
		if body.Turned {
			return blockAt(xc+along, yc+from, z, dl, dt, dz)
		}
		return blockAt(xc+from, yc+along, z, dt, dl, dz)
	}
	b.part(Part{Name: "board", Material: m, Count: 1, Length: length, Width: depth - topBarThick, Thickness: thick,
		At: []Solid{{place(-length/2, at-thick/2, z+gap, length, thick, depth-topBarThick)}}})
	lug := (f.TopBar - body.Length) / 2
	b.part(Part{Name: "bar", Material: wood, Count: 1, Length: f.TopBar, Width: barBroad, Thickness: topBarThick, Grain: true,
		Features: []Feature{
			{Kind: Rebate, X: 0, Y: 0, Length: lug + gap, Width: barBroad, Depth: topBarThick - lugThick, Note: "lug, from below"},
			{Kind: Rebate, X: f.TopBar - lug - gap, Y: 0, Length: lug + gap, Width: barBroad, Depth: topBarThick - lugThick, Note: "lug, from below"},
		},
		// Its lugs lie in the rests of the walls, which the drawing of the walls
		// leaves out: only what is between them is placed.
		At:   []Solid{{place(-length/2, at-barBroad/2, z+gap+depth-topBarThick, length, barBroad, topBarThick)}},
		Note: "as a frame's top bar"})
	b.buy("wood screw", 4, 0.035, "bar to board")
	b.step("Cut the board %s × %s and screw the bar on its upper edge, so that both hang as a frame does.", b.l(length), b.l(depth-topBarThick))
	b.step("Take out frame %d and hang the board in its place; the bees keep %d frames.", n+1, n)
	b.beeSpace("gap at the board's ends", (body.Length-length)/2)
	b.beeSpace("gap below the board", body.Height-body.TopSpace-depth)
	if !f.Bars {
		// The bar hangs as high as the frames' own.
		b.check("the bar lies level with the top bars", math.Abs(gap+depth-(body.Height-body.TopSpace)) < 1e-6, b.l(body.Height-gap-depth)+" below the upper edge", b.l(body.TopSpace))
	}
	between := f.Pitch - f.CombThickness/2 - thick/2
	b.check("a bee passes between comb and board", between >= BeeSpaceLeast, b.l(between), "at least "+b.l(BeeSpaceLeast))
	// The frame whose place the board takes is gone.
	b.gone(fmt.Sprintf("frame %d of body %d", n+1, i+1))
	h := &b.job.Plan.Hive
	side := hive.Right
	if body.Turned {
		side = hive.Back
	}
	h.Followers = append(h.Followers, hive.Follower{Body: i, Frames: n, Side: side, Layers: []hive.Layer{{Material: m, Thickness: thick}}, Gap: gap})
	return nil
}

// aboveFrames is the free height above the top bars of body i. [m]
func aboveFrames(h hive.Hive, i int) float64 {
	gap := h.Bodies[i].TopSpace
	switch {
	case i+1 < len(h.Bodies):
		gap += h.Bodies[i+1].BottomSpace()
	case h.TopBoard != nil:
		gap += h.TopBoard.Space
	}
	return gap
}

// gone takes a part of the hive out of the check of the assembly.
func (b *bench) gone(name string) { b.removed = append(b.removed, name) }

func frameWires(b *bench) error {
	i := b.spec.Body - 1
	if i < 0 {
		i = 0
	}
	body := b.h.Bodies[i]
	f := body.Frames
	if f.Count == 0 || f.Bars {
		return b.fail("wire", "body %d has no frames that could be wired", i+1)
	}
	pattern := b.spec.Pattern
	if pattern == "" {
		pattern = hive.SupportCrossed
	}
	wood, err := b.wood("side bar")
	if err != nil {
		return err
	}
	b.job.Purpose = "Carries the comb when heat makes the wax soft."
	inL, inD := f.Length-2*sideBarThick, f.Depth-topBarThick-sideBarThick
	const hole, tail, edge = 0.003, 0.10, 0.025
	var wire float64
	side := Part{Name: "side bar", Material: wood, Count: 2 * f.Count, Length: f.Depth, Width: barBroad, Thickness: sideBarThick, Grain: true, Existing: true}
	top := Part{Name: "top bar", Material: wood, Count: f.Count, Length: f.TopBar, Width: barBroad, Thickness: topBarThick, Grain: true, Existing: true}
	bottom := Part{Name: "bottom bar", Material: wood, Count: f.Count, Length: f.Length, Width: barBroad, Thickness: sideBarThick, Grain: true, Existing: true}
	drill := func(p *Part, x float64) {
		p.Features = append(p.Features, Feature{Kind: Hole, X: x, Y: p.Width / 2, Diameter: hole})
	}
	var shown []string
	var least float64
	switch pattern {
	case hive.SupportLevel:
		n := max(2, int(math.Round(inD/0.055)))
		if n%2 == 1 { // the wire ends on the side it began
			n++
		}
		step := (inD - 2*edge) / float64(n-1)
		least = step
		for k := range n {
			// Measured from the lower end of the side bar.
			z := sideBarThick + edge + float64(k)*step
			drill(&side, z)
			shown = append(shown, b.l(z))
		}
		wire = float64(n)*f.Length + float64(n-1)*step + 2*tail
		b.part(side)
		b.step("Drill %d holes of %s in each side bar, middle of its breadth, at %s from the lower end.", n, b.l(hole), strings.Join(shown, ", "))
		b.step("Thread one wire to and fro through all holes and fasten it on a nail at either end.")
	case hive.SupportUpright:
		n := max(2, int(math.Round(inL/0.10)))
		if n%2 == 1 {
			n++
		}
		step := inL / float64(n)
		least = step
		for k := range n {
			x := sideBarThick + step*(float64(k)+0.5)
			drill(&bottom, x)
			drill(&top, x+(f.TopBar-f.Length)/2)
			shown = append(shown, b.l(x))
		}
		wire = float64(n)*f.Depth + float64(n-1)*step + 2*tail
		b.part(top)
		b.part(bottom)
		b.step("Drill %d holes of %s through top and bottom bar, at %s from the frame's outer end.", n, b.l(hole), strings.Join(shown, ", "))
		b.step("Thread one wire up and down through all holes and fasten it on a nail at either end.")
	case hive.SupportCrossed:
		low, high := sideBarThick+edge, f.Depth-topBarThick-edge
		for _, z := range []float64{low, high} {
			drill(&side, z)
			shown = append(shown, b.l(z))
		}
		diagonal := math.Hypot(f.Length, high-low)
		least = high - low
		wire = 2*diagonal + (high - low) + 2*tail
		b.part(side)
		b.step("Drill two holes of %s in each side bar, middle of its breadth, at %s from the lower end.", b.l(hole), strings.Join(shown, " and "))
		b.step("Begin at the upper hole of one side, run down to the lower hole of the other, up outside to its upper hole, and down to the lower hole of the first side: two diagonals of %s that cross.", b.l(diagonal))
	default:
		return b.fail("wire", "%q is no pattern of wires: it may be %s, %s or %s", pattern, hive.SupportUpright, hive.SupportLevel, hive.SupportCrossed)
	}
	b.step("Set eyelets in the holes, so that the wire does not cut into the wood. Tighten until it sounds, without bending the side bars.")
	b.step("Lay the foundation on and embed the wire, or let the bees build it in.")
	b.job.Items = append(b.job.Items,
		Item{Name: "frame wire", Amount: float64(f.Count), Unit: "pieces", Note: fmt.Sprintf("counted by the frame: %s each, ends included, %s in all", quantity.Format(wire, quantity.Length, b.opt.System), quantity.Format(wire*float64(f.Count), quantity.Length, b.opt.System))},
		Item{Name: "frame eyelet", Amount: float64(holes(b.job.Parts)), Unit: "pieces"},
	)
	b.buy("panel pin", 2*f.Count, 0, "two a frame, to fasten the ends")
	b.caution("Wire under tension springs back: eyes protected. Wire under current (to embed it) melts wax and burns fingers; low voltage only.")
	for _, p := range b.job.Parts {
		for _, x := range p.Features {
			if x.X < 0.012 || x.X > p.Length-0.012 {
				b.check("holes clear of the ends", false, b.l(min(x.X, p.Length-x.X))+" on the "+p.Name, "at least "+b.l(0.012))
			}
		}
	}
	b.check("wires far enough apart", least >= 0.020, b.l(least), "at least "+b.l(0.020))
	fr := &b.job.Plan.Hive.Bodies[i].Frames
	fr.Support = pattern
	return nil
}

func holes(parts []Part) int {
	n := 0
	for _, p := range parts {
		n += p.Count * len(p.Features)
	}
	return n
}

// Frame rests: the room on each side beyond the lugs, and the least wood left
// outside a rest. Common practice, no source. [m]
const (
	lugPlay  = 0.0015
	restLeft = 0.006
	lugRail  = 0.0125 // rail outside the lugs where the wall is set in; 460 mm outside of a National from it
)

func body(b *bench) error {
	i := max(b.spec.Body, 1) - 1
	x := b.h.Bodies[i]
	b.job.Purpose = "The box that holds the frames."
	wall, err := b.wallLayer(x)
	if err != nil {
		return err
	}
	if b.h.Type == "top-bar" {
		return slopingBody(b, x, wall)
	}
	t := wall.Thickness
	z := b.h.BodyBase(i)
	inL, inW := x.FrontToBack(), x.SideToSide()
	h := x.Height
	f := x.Frames
	// Which walls carry the lugs.
	lugWalls, others := "front and back", "side"
	if x.Turned {
		lugWalls, others = "left and right", "end"
	}
	_ = others
	rest := 0.0
	if f.Count > 0 {
		rest = (f.TopBar-x.Length)/2 + lugPlay
	}
	restDeep := x.TopSpace + lugThick
	if f.Bars {
		restDeep = x.TopSpace + topBarThick
	}
	if f.Bars {
		rest = max(rest, 0)
	}
	if rest > t-restLeft {
		return setInBody(b, x, wall, z, rest, restDeep)
	}
	// The boards with the lugs run over the corners and are rebated half their
	// thickness; the others go into the rebates.
	half := t / 2
	var long, short Part
	corner := func(length float64) []Feature {
		return []Feature{
			{Kind: Rebate, X: 0, Y: 0, Length: t, Width: h, Depth: t - half, Note: "corner"},
			{Kind: Rebate, X: length - t, Y: 0, Length: t, Width: h, Depth: t - half, Note: "corner"},
		}
	}
	if !x.Turned {
		length := inW + 2*t
		y := inL / 2
		front := Solid{blockAt(-inW/2-t, -y-t, z, length, half, h), blockAt(-inW/2, -y-half, z, inW, half, h)}
		back := Solid{blockAt(-inW/2-t, y+half, z, length, half, h), blockAt(-inW/2, y, z, inW, half, h)}
		long = Part{Name: "front and back", Count: 2, Length: length, Features: corner(length), At: []Solid{
			rested(front, f.Count > 0, x, -inW/2, -y-rest, inW, rest, z+h-restDeep), rested(back, f.Count > 0, x, -inW/2, y, inW, rest, z+h-restDeep)}}
		sl := inL + 2*half
		short = Part{Name: "side", Count: 2, Length: sl, At: []Solid{
			{blockAt(-inW/2-t, -sl/2, z, t, sl, h)}, {blockAt(inW/2, -sl/2, z, t, sl, h)}}}
	} else {
		length := inL + 2*t
		xw := inW / 2
		left := Solid{blockAt(-xw-t, -inL/2-t, z, half, length, h), blockAt(-xw-half, -inL/2, z, half, inL, h)}
		right := Solid{blockAt(xw+half, -inL/2-t, z, half, length, h), blockAt(xw, -inL/2, z, half, inL, h)}
		long = Part{Name: "left and right", Count: 2, Length: length, Features: corner(length), At: []Solid{
			rested(left, f.Count > 0, x, -xw-rest, -inL/2, rest, inL, z+h-restDeep), rested(right, f.Count > 0, x, xw, -inL/2, rest, inL, z+h-restDeep)}}
		sl := inW + 2*half
		short = Part{Name: "front and back", Count: 2, Length: sl, At: []Solid{
			{blockAt(-sl/2, -inL/2-t, z, sl, t, h)}, {blockAt(-sl/2, inL/2, z, sl, t, h)}}}
	}
	if rest > 0 {
		inside := long.Length - 2*t
		long.Features = append(long.Features, Feature{Kind: Rebate, X: t, Y: h - restDeep, Length: inside, Width: restDeep, Depth: rest, Note: "frame rest"})
	}
	for _, p := range []*Part{&long, &short} {
		p.Material, p.Width, p.Thickness, p.Grain = wall.Material, h, t, true
		b.part(*p)
	}
	b.buy("wood screw", 4*max(3, int(math.Round(h/0.06))), screwLength(t), "corners, from both sides, with waterproof glue")
	b.step("Cut two %s boards of %s and two others of %s, all %s high, grain along the length.", lugWalls, b.l(long.Length), b.l(short.Length), b.l(h))
	b.step("Cut the corner rebates into both ends of the %s boards: %s wide, %s deep, on the inside.", lugWalls, b.l(t), b.l(t-half))
	if rest > 0 {
		b.step("Cut the frame rests along the upper inner edge of the same boards, %s deep from the edge and %s into the wood, stopping at the corner rebates.", b.l(restDeep), b.l(rest))
	}
	b.step("Glue and screw the corners on a flat table; inside it must measure %s × %s, both diagonals equal.", b.l(inL), b.l(inW))
	b.step("Cut hand-holds or screw on cleats, outside. Paint outside only.")
	b.bodyChecks(i, rest, restDeep)
	b.check("wood left outside the frame rest", t-rest >= restLeft-1e-9, b.l(t-rest), "at least "+b.l(restLeft))
	l, w := outer(x)
	b.note("Outside %s × %s.", b.l(l), b.l(w))
	return nil
}

// wallLayer is the wooden layer of a body's walls that a box is built of.
func (b *bench) wallLayer(x hive.Body) (hive.Layer, error) {
	layers := x.Walls[hive.Front]
	for i := len(layers) - 1; i >= 0; i-- { // from inside
		if layers[i].Material.Density > 250 && layers[i].Thickness >= 0.012 {
			if len(layers) > 1 {
				b.note("The walls have %d layers. These are the boards of the inner box; for the rest see wall-panels.", len(layers))
			}
			return layers[i], nil
		}
	}
	return hive.Layer{}, b.fail("wall", "no layer of the walls is a board of at least %s", b.l(0.012))
}

// rested takes a frame rest out of a board that is made of an outer box over the
// whole length and an inner one.
func rested(s Solid, has bool, x hive.Body, rx, ry, dx, dy, z float64) Solid {
	if !has || dx <= 0 || dy <= 0 {
		return s
	}
	cut := Box{Point{rx, ry, z}, Point{rx + dx, ry + dy, z + x.Height}}
	var out Solid
	for _, b := range s {
		out = append(out, minus(b, cut)...)
	}
	return out
}

// minus is what is left of a box when another is taken out of it.
func minus(b, cut Box) Solid {
	o := b.Overlap(cut)
	if o.Max.X-o.Min.X < 1e-9 || o.Max.Y-o.Min.Y < 1e-9 || o.Max.Z-o.Min.Z < 1e-9 {
		return Solid{b}
	}
	var out Solid
	add := func(x Box) {
		if x.Max.X-x.Min.X > 1e-9 && x.Max.Y-x.Min.Y > 1e-9 && x.Max.Z-x.Min.Z > 1e-9 {
			out = append(out, x)
		}
	}
	add(Box{b.Min, Point{b.Max.X, b.Max.Y, o.Min.Z}})
	add(Box{Point{b.Min.X, b.Min.Y, o.Max.Z}, b.Max})
	add(Box{Point{b.Min.X, b.Min.Y, o.Min.Z}, Point{b.Max.X, o.Min.Y, o.Max.Z}})
	add(Box{Point{b.Min.X, o.Max.Y, o.Min.Z}, Point{b.Max.X, b.Max.Y, o.Max.Z}})
	add(Box{Point{b.Min.X, o.Min.Y, o.Min.Z}, Point{o.Min.X, o.Max.Y, o.Max.Z}})
	add(Box{Point{o.Max.X, o.Min.Y, o.Min.Z}, Point{b.Max.X, o.Max.Y, o.Max.Z}})
	return out
}

// bodyChecks hold what bees and frames need inside a body.
func (b *bench) bodyChecks(i int, rest, restDeep float64) {
	x := b.h.Bodies[i]
	f := x.Frames
	if f.Count == 0 {
		return
	}
	if !f.Bars {
		gap := x.FrameEndGap()
		b.check("gap at the frames' ends", gap >= BeeSpaceLeast-1e-9 && gap <= 0.0105, b.l(gap), "bee space, "+b.l(BeeSpaceLeast)+" to "+b.l(BeeSpaceMost)+"; up to "+b.l(0.010)+" in built hives")
		b.check("frames do not touch the box below", x.BottomSpace() >= 0, b.l(x.BottomSpace())+" below them", "at least 0")
		above := aboveFrames(b.h, i)
		if i+1 < len(b.h.Bodies) {
			b.check("space to the frames above", above >= 0.004 && above <= 0.012, b.l(above), "near bee space, "+b.l(BeeSpaceLeast)+" to "+b.l(BeeSpaceMost))
		} else {
			if above > 0 { // broad bars close the top
				b.beeSpaceBuilt("space above the frames", above)
			}
		}
	}
	room := x.Length + 2*rest - f.TopBar
	b.check("lugs lie in the rests", room >= 0.001 && room <= 0.008, b.l(room)+" play in all", b.l(0.001)+" to "+b.l(0.008))
	if f.Bars {
		return
	}
	b.check("frames fit side by side", x.SideGap() >= 0.004, b.l(x.SideGap())+" from the outer comb to the wall", "at least "+b.l(0.004))
	z := x.Height - restDeep + lugThick
	b.check("the frame hangs at its height", math.Abs(z-(x.Height-x.TopSpace)) < 1e-6, "top bars "+b.l(x.Height-z)+" below the upper edge", b.l(x.TopSpace))
}

// setInBody is a box whose lugs are too long for a rest in the wall: the boards
// at the frames' ends are set in between the sides, and rails close the space
// beyond the lugs.
func setInBody(b *bench, x hive.Body, wall hive.Layer, z, rest, restDeep float64) error {
	if x.Turned {
		return b.fail("wall", "lugs of %s need a set-in wall, which is worked out only for frames that run from front to back", b.l(x.Frames.TopBar))
	}
	t, h := wall.Thickness, x.Height
	inL, inW := x.FrontToBack(), x.SideToSide()
	length := inL + 2*(rest+lugRail)
	half := t / 2
	set := inW + 2*half // into grooves of half the side's thickness
	board := h - restDeep
	y := inL / 2
	groove := func(y0 float64) Feature {
		return Feature{Kind: Rebate, X: length/2 + y0, Y: 0, Length: t, Width: board, Depth: half, Note: "groove for the set-in board"}
	}
	side := func(x0 float64, grooveX float64) Solid {
		s := Solid{blockAt(x0, -length/2, z, t, length, h)}
		for _, y0 := range []float64{-y - t, y} {
			var out Solid
			for _, q := range s {
				out = append(out, minus(q, blockAt(grooveX, y0, z, half, t, board))...)
			}
			s = out
		}
		return s
	}
	b.part(Part{Name: "side", Material: wall.Material, Count: 2, Length: length, Width: h, Thickness: t, Grain: true,
		Features: []Feature{groove(-y - t), groove(y)},
		At:       []Solid{side(-inW/2-t, -inW/2-half), side(inW/2, inW/2)}})
	b.part(Part{Name: "front and back", Material: wall.Material, Count: 2, Length: set, Width: board, Thickness: t, Grain: true, At: []Solid{
		{blockAt(-set/2, -y-t, z, set, t, board)}, {blockAt(-set/2, y, z, set, t, board)}}})
	const rail, foot = 0.060, 0.028
	b.part(Part{Name: "upper rail", Material: wall.Material, Count: 2, Length: inW, Width: rail, Thickness: lugRail, Grain: true, At: []Solid{
		{blockAt(-inW/2, -length/2, z+h-rail, inW, lugRail, rail)}, {blockAt(-inW/2, length/2-lugRail, z+h-rail, inW, lugRail, rail)}}, Note: "closes the space beyond the lugs; hand-hold below it"})
	deep := rest + lugRail - t
	b.part(Part{Name: "lower rail", Material: wall.Material, Count: 2, Length: inW, Width: foot, Thickness: deep, Grain: true, At: []Solid{
		{blockAt(-inW/2, -length/2, z, inW, deep, foot)}, {blockAt(-inW/2, length/2-deep, z, inW, deep, foot)}}})
	b.buy("wood screw", 24, screwLength(t), "with waterproof glue")
	b.step("Cut two sides of %s × %s and groove them %s deep, %s wide, for the set-in boards: %s apart inside.", b.l(length), b.l(h), b.l(half), b.l(t), b.l(inL))
	b.step("Cut the set-in boards %s × %s: the frames' lugs lie on their upper edge, %s below the edge of the box.", b.l(set), b.l(board), b.l(restDeep))
	b.step("Glue and screw the box, then the rails outside the set-in boards, upper and lower. Check the diagonals.")
	b.bodyChecks(max(b.spec.Body, 1)-1, rest, restDeep)
	b.note("Outside %s × %s.", b.l(length), b.l(inW+2*t))
	return nil
}

// slopingBody is the trough of a top-bar hive: sides at 120 degrees to the floor.
// The description takes it as an upright box of the same cross-section; this is
// the trough of that section and height.
func slopingBody(b *bench, x hive.Body, wall hive.Layer) error {
	const lean = 30 * math.Pi / 180
	t, h := wall.Thickness, x.Height
	mid := x.Length // bars run from front to back
	topIn, bottomIn := mid+h*math.Tan(lean), mid-h*math.Tan(lean)
	if x.Turned || bottomIn < 0.02 {
		return b.fail("side", "a trough %s high and %s wide at half height has no floor at 120 degrees", b.l(h), b.l(mid))
	}
	slope := h / math.Cos(lean)
	length := x.Width + 2*t
	through := t / math.Cos(lean)
	b.part(Part{Name: "sloping side", Material: wall.Material, Count: 2, Length: x.Width, Width: slope, Thickness: t, Grain: true, Note: "long edges bevelled 30°"})
	b.part(Part{Name: "end", Material: wall.Material, Count: 2, Length: topIn + 2*through, Width: h, Thickness: t, Grain: true,
		Outline: []Corner{{(topIn - bottomIn) / 2, 0}, {(topIn+bottomIn)/2 + 2*through, 0}, {topIn + 2*through, h}, {0, h}}})
	b.part(Part{Name: "floor board", Material: wall.Material, Count: 1, Length: length, Width: bottomIn + 2*through, Thickness: t, Grain: true})
	b.buy("wood screw", 36, screwLength(t), "with waterproof glue")
	b.step("Cut two ends: %s wide above, %s below, %s high.", b.l(topIn+2*through), b.l(bottomIn+2*through), b.l(h))
	b.step("Cut two sides of %s × %s and bevel both long edges to 30°.", b.l(x.Width), b.l(slope))
	b.step("Screw the sides between the ends, then the floor under them. Inside it is %s wide above and %s below.", b.l(topIn), b.l(bottomIn))
	rest := (x.Frames.TopBar - topIn) / 2
	b.check("bars rest on the sides", rest >= 0.008, b.l(rest)+" on each side", "at least "+b.l(0.008))
	b.check("bars close the top", float64(x.Frames.Count)*x.Frames.Pitch <= x.Width+1e-9, fmt.Sprintf("%d bars of %s in %s", x.Frames.Count, b.l(x.Frames.Pitch), b.l(x.Width)), "no more than the length; a spacer closes the rest")
	volume := (topIn + bottomIn) / 2 * h * x.Width
	b.check("same volume as described", math.Abs(volume-x.FloorArea()*h) < 1e-6, fmt.Sprintf("%.1f L", volume*1000), fmt.Sprintf("%.1f L", x.FloorArea()*h*1000))
	return nil
}

func floor(b *bench) error {
	b.job.Purpose = "Carries the hive, with the entrance in its rim."
	if len(b.h.Floor.Layers) == 0 {
		return b.fail("board", "the floor of this hive has no layer")
	}
	wood, err := b.wood("rim")
	if err != nil {
		return err
	}
	var board hive.Layer
	for _, l := range b.h.Floor.Layers {
		if l.Material.Density > 250 {
			board = l
		}
	}
	if board.Thickness == 0 {
		return b.fail("board", "none of the layers of this floor is a board")
	}
	low := b.h.Bodies[0]
	length, width := outer(low)
	const landing = 0.050
	depth := b.h.Floor.Depth
	b.part(Part{Name: "floor board", Material: board.Material, Count: 1, Length: length + landing, Width: width, Thickness: board.Thickness, Grain: board.Material.Name != "plywood",
		At: []Solid{{blockAt(-width/2, -length/2-landing, -board.Thickness, width, length+landing, board.Thickness)}}, Note: b.l(landing) + " of landing in front"})
	if depth > 0.002 {
		const broad = 0.019
		b.part(Part{Name: "side rail", Material: wood, Count: 2, Length: length, Width: broad, Thickness: depth, Grain: true, At: []Solid{
			{blockAt(-width/2, -length/2, 0, broad, length, depth)}, {blockAt(width/2-broad, -length/2, 0, broad, length, depth)}}})
		b.part(Part{Name: "back rail", Material: wood, Count: 1, Length: width - 2*broad, Width: broad, Thickness: depth, Grain: true, At: []Solid{
			{blockAt(-width/2+broad, length/2-broad, 0, width-2*broad, broad, depth)}}})
		for _, o := range b.h.Openings {
			if o.Face == hive.Front && o.Sill < depth {
				b.check("the entrance fits between the rails", o.GroupWidth() <= width-2*broad+1e-9, b.l(o.GroupWidth()), "at most "+b.l(width-2*broad))
			}
		}
	}
	if b.h.Floor.Mesh {
		mesh, err := b.find("mesh", "galvanised steel", "galvanised steel")
		if err != nil {
			return err
		}
		b.part(Part{Name: "wire mesh", Material: meshed(mesh), Count: 1, Length: low.FrontToBack() + 0.02, Width: low.SideToSide() + 0.02, Thickness: 0.001, Ready: true, Note: "openings of 3 mm; stapled from below into a cut-out of the board"})
		b.note("With a mesh the board is cut out inside, and the tray hangs below: see floor-tray.")
	}
	b.buy("wood screw", 16, 0.035, "rails")
	b.step("Cut the board %s × %s; screw the side rails and the back rail on, flush outside; the front stays open.", b.l(length+landing), b.l(width))
	b.step("Set it so that it leans forward a little and water runs out.")
	under := b.h.FloorSpace()
	if !low.Frames.Bars && low.Frames.Count > 0 {
		b.check("space under the frames", under >= BeeSpaceLeast && under <= 0.035, b.l(under), "bee space or up to "+b.l(0.035)+" under brood frames")
	}
	return nil
}
