package workshop

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"hackle/quantity"
)

// Pen says what a line stands for; the writers give it width, dash and layer.
type Pen string

// Pens, by drafting convention.
const (
	PenEdge   Pen = "EDGE"   // visible edges, lines to cut
	PenHidden Pen = "HIDDEN" // rebates and what lies behind, dashed
	PenHole   Pen = "HOLE"   // holes and cut-outs
	PenDim    Pen = "DIM"    // dimensions, fine
	PenGrain  Pen = "GRAIN"  // direction of the grain
	PenHatch  Pen = "HATCH"  // insulation, off-cuts
	PenOld    Pen = "HIVE"   // the hive that is there already, fine
)

// Path is a line through points, or a closed shape.
type Path struct {
	Pen    Pen
	Points []Corner
	Closed bool
}

// Ring is a circle.
type Ring struct {
	Pen    Pen
	At     Corner
	Radius float64 // [m]
}

// Label is a text. Its height is that on paper, whatever the scale.
type Label struct {
	At     Corner
	Text   string
	Height float64 // on paper [m]
	Turn   float64 // counter-clockwise [deg]
	Align  int     // -1: begins at the point, 0: in its middle, 1: ends there
}

// Drawing is lines and texts at full size, x to the right and y upward, with the
// scale that it is meant to be printed at.
type Drawing struct {
	Title  string
	Note   string
	Scale  float64 // 10 for 1:10
	Paths  []Path
	Rings  []Ring
	Labels []Label
	System quantity.System
}

// Sizes of what is written on drawings, on paper. [m]
const (
	textHeight = 0.0028
	dimGap     = 0.007 // from the edge to the first dimension line
	dimStep    = 0.006 // between dimension lines
	arrow      = 0.0016
	margin     = 0.006
)

// scales of drawings by drafting convention (ISO 5455, from memory).
var scales = [...]float64{1, 2, 5, 10, 20, 50}

// scaleFor is the largest common scale at which a length fits a space on paper.
func scaleFor(w, h, paperW, paperH float64) float64 {
	for _, s := range scales {
		if w/s <= paperW && h/s <= paperH {
			return s
		}
	}
	return scales[len(scales)-1]
}

func (d *Drawing) line(p Pen, pts ...Corner) { d.Paths = append(d.Paths, Path{Pen: p, Points: pts}) }
func (d *Drawing) shape(p Pen, pts ...Corner) {
	d.Paths = append(d.Paths, Path{Pen: p, Points: pts, Closed: true})
}
func (d *Drawing) rect(p Pen, x, y, w, h float64) {
	d.shape(p, Corner{x, y}, Corner{x + w, y}, Corner{x + w, y + h}, Corner{x, y + h})
}
func (d *Drawing) text(x, y float64, align int, turn float64, format string, args ...any) {
	d.Labels = append(d.Labels, Label{Corner{x, y}, fmt.Sprintf(format, args...), textHeight, turn, align})
}

// level draws a dimension between two x at height y, with witness lines from y0.
func (d *Drawing) level(x0, x1, y0, y float64) {
	a := arrow * d.Scale
	over := 0.001 * d.Scale
	if y < y0 {
		over = -over
	}
	d.line(PenDim, Corner{x0, y0}, Corner{x0, y + over})
	d.line(PenDim, Corner{x1, y0}, Corner{x1, y + over})
	d.line(PenDim, Corner{x0, y}, Corner{x1, y})
	for _, e := range []struct{ x, s float64 }{{x0, 1}, {x1, -1}} { // short oblique strokes
		d.line(PenDim, Corner{e.x - a/2, y - a/2}, Corner{e.x + a/2, y + a/2})
	}
	d.text((x0+x1)/2, y+0.0008*d.Scale, 0, 0, "%s", bare(x1-x0, d.System))
}

// upright draws a dimension between two y at x.
func (d *Drawing) upright(y0, y1, x0, x float64) {
	a := arrow * d.Scale
	over := 0.001 * d.Scale
	if x < x0 {
		over = -over
	}
	d.line(PenDim, Corner{x0, y0}, Corner{x + over, y0})
	d.line(PenDim, Corner{x0, y1}, Corner{x + over, y1})
	d.line(PenDim, Corner{x, y0}, Corner{x, y1})
	for _, y := range []float64{y0, y1} {
		d.line(PenDim, Corner{x - a/2, y - a/2}, Corner{x + a/2, y + a/2})
	}
	d.text(x-0.0008*d.Scale, (y0+y1)/2, 0, 90, "%s", bare(y1-y0, d.System))
}

// Bounds are the corners of the smallest rectangle round everything drawn, labels
// by their estimated length. [m]
func (d *Drawing) Bounds() (low, high Corner) {
	low, high = Corner{math.Inf(1), math.Inf(1)}, Corner{math.Inf(-1), math.Inf(-1)}
	grow := func(x, y float64) {
		low.X, low.Y = min(low.X, x), min(low.Y, y)
		high.X, high.Y = max(high.X, x), max(high.Y, y)
	}
	for _, p := range d.Paths {
		for _, c := range p.Points {
			grow(c.X, c.Y)
		}
	}
	for _, r := range d.Rings {
		grow(r.At.X-r.Radius, r.At.Y-r.Radius)
		grow(r.At.X+r.Radius, r.At.Y+r.Radius)
	}
	for _, l := range d.Labels {
		w, h := 0.56*l.Height*d.Scale*float64(len([]rune(l.Text))), l.Height*d.Scale
		from := 0.0
		switch l.Align {
		case 0:
			from = -w / 2
		case 1:
			from = -w
		}
		sin, cos := math.Sincos(l.Turn * math.Pi / 180)
		for _, c := range []Corner{{from, -0.2 * h}, {from + w, -0.2 * h}, {from, h}, {from + w, h}} {
			grow(l.At.X+c.X*cos-c.Y*sin, l.At.Y+c.X*sin+c.Y*cos)
		}
	}
	if low.X > high.X {
		return Corner{}, Corner{}
	}
	return low, high
}

// Paper on which a drawing must find room at its scale, margins taken off. [m]
const (
	roomWide = 0.170
	roomHigh = 0.110
)

// DrawPart is the drawing of one part with its dimensions.
func DrawPart(job Job, p Part, system quantity.System) Drawing {
	d := Drawing{System: system, Scale: scaleFor(p.Length, p.Width, roomWide, roomHigh)}
	d.Title = fmt.Sprintf("%s: %s", job.Title, p.Name)
	s := d.Scale
	if len(p.Outline) > 2 {
		d.shape(PenEdge, p.Outline...)
	} else {
		d.rect(PenEdge, 0, 0, p.Length, p.Width)
	}
	var xs, ys []float64
	for _, f := range p.Features {
		switch f.Kind {
		case Hole:
			d.Rings = append(d.Rings, Ring{PenHole, Corner{f.X, f.Y}, f.Diameter / 2})
			c := f.Diameter/2 + 0.0015*s
			d.line(PenDim, Corner{f.X - c, f.Y}, Corner{f.X + c, f.Y})
			d.line(PenDim, Corner{f.X, f.Y - c}, Corner{f.X, f.Y + c})
			xs, ys = append(xs, f.X), append(ys, f.Y)
		case Notch:
			d.rect(PenHole, f.X, f.Y, f.Length, f.Width)
			xs, ys = append(xs, f.X, f.X+f.Length), append(ys, f.Y, f.Y+f.Width)
		case Rebate:
			d.rect(PenHidden, f.X, f.Y, f.Length, f.Width)
			xs, ys = append(xs, f.X, f.X+f.Length), append(ys, f.Y, f.Y+f.Width)
		}
	}
	// Chains of dimensions below and to the left, the whole outside of them.
	chain := func(list []float64, end float64) []float64 {
		list = append(list, 0, end)
		slices.Sort(list)
		return slices.CompactFunc(list, func(a, b float64) bool { return math.Abs(a-b) < 1e-6 })
	}
	y, x := -dimGap*s, -dimGap*s
	if c := chain(xs, p.Length); len(c) > 2 {
		for i := 1; i < len(c); i++ {
			d.level(c[i-1], c[i], 0, y)
			if short := 2 * textHeight * s; c[i]-c[i-1] < short { // lift the text clear of its neighbours
				d.Labels[len(d.Labels)-1].At.Y -= float64(i%2) * 1.3 * textHeight * s
			}
		}
		y -= dimStep * s
		if len(c) > 3 {
			y -= 1.3 * textHeight * s
		}
	}
	d.level(0, p.Length, 0, y)
	if c := chain(ys, p.Width); len(c) > 2 {
		for i := 1; i < len(c); i++ {
			d.upright(c[i-1], c[i], 0, x)
			if short := 2 * textHeight * s; c[i]-c[i-1] < short {
				d.Labels[len(d.Labels)-1].At.X -= float64(i%2) * 1.3 * textHeight * s
			}
		}
		x -= dimStep * s
		if len(c) > 3 {
			x -= 1.3 * textHeight * s
		}
	}
	d.upright(0, p.Width, 0, x)
	if p.Grain {
		g := min(0.3*p.Length, 0.05*s)
		gy := p.Width * 0.55
		d.line(PenGrain, Corner{p.Length/2 - g/2, gy}, Corner{p.Length/2 + g/2, gy})
		for _, e := range []float64{-1, 1} {
			d.line(PenGrain, Corner{p.Length/2 + e*g/2, gy}, Corner{p.Length/2 + e*(g/2-0.003*s), gy + 0.0012*s})
			d.line(PenGrain, Corner{p.Length/2 + e*g/2, gy}, Corner{p.Length/2 + e*(g/2-0.003*s), gy - 0.0012*s})
		}
	}
	// What cannot be drawn is written above.
	lines := []string{fmt.Sprintf("%d × %s, %s %s thick", p.Count, p.Name, p.Material.Name, Measure(p.Thickness, system))}
	if p.Existing {
		lines[0] = fmt.Sprintf("%s, as it is: drill and mark only", p.Name)
	}
	if p.Over > 0 {
		l, w := p.CutSize()
		lines = append(lines, fmt.Sprintf("cut %s × %s", Measure(l, system), Measure(w, system)))
	}
	for _, f := range p.Features {
		var text string
		switch f.Kind {
		case Hole:
			text = "hole " + Measure(f.Diameter, system)
		case Rebate:
			text = fmt.Sprintf("dashed: rebate %s deep", Measure(f.Depth, system))
		case Notch:
			text = "cut-out"
		}
		if f.Note != "" {
			text += ", " + f.Note
		}
		if !slices.Contains(lines, text) {
			lines = append(lines, text)
		}
	}
	if p.Note != "" {
		lines = append(lines, p.Note)
	}
	top := p.Width + 0.003*s
	for i := len(lines) - 1; i >= 0; i-- {
		d.text(0, top, -1, 0, "%s", lines[i])
		top += 1.5 * textHeight * s
	}
	unit := "mm"
	if system == quantity.US {
		unit = "inches"
	}
	d.Note = fmt.Sprintf("Scale 1:%g. Dimensions in %s.", s, unit)
	return d
}

// DrawLayout is one blank of a group with the pieces on it, numbered as in the
// group's list, and what is left.
func DrawLayout(g Group, i int, system quantity.System) Drawing {
	l := g.Nesting.Layouts[i]
	b := g.Blanks[l.Blank]
	d := Drawing{System: system, Scale: scaleFor(b.Length, b.Width, roomWide, roomHigh)}
	s := d.Scale
	d.Title = fmt.Sprintf("%s, %d of %d", g.Title(system), i+1, len(g.Nesting.Layouts))
	length := b.Length
	if g.Form == "roll" { // show no more of the roll than is used
		end := 0.0
		for _, p := range l.Placed {
			end = max(end, p.X+p.Length)
		}
		length = min(b.Length, end*1.05+0.02)
		d.Scale = scaleFor(length, b.Width, roomWide, roomHigh)
		s = d.Scale
	}
	d.rect(PenEdge, 0, 0, length, b.Width)
	for _, p := range l.Placed {
		d.rect(PenEdge, p.X, p.Y, p.Length, p.Width)
		number := fmt.Sprint(p.Piece + 1)
		size := fmt.Sprintf("%s × %s", bare(p.Length, system), bare(p.Width, system))
		cx, cy := p.X+p.Length/2, p.Y+p.Width/2
		wide := 0.58 * textHeight * s * float64(len([]rune(number+"  "+size)))
		switch {
		case wide < p.Length && p.Width > 1.2*textHeight*s:
			d.text(cx, cy-textHeight*s/2, 0, 0, "%s  %s", number, size)
		case wide < p.Width && p.Length > 1.2*textHeight*s:
			d.text(cx+textHeight*s/2, cy, 0, 90, "%s  %s", number, size)
		case p.Length > 0.6*textHeight*s*float64(len(number)) && p.Width > textHeight*s:
			d.text(cx, cy-textHeight*s/2, 0, 0, "%s", number)
		}
	}
	for _, o := range l.Offcuts {
		if o.X >= length {
			continue
		}
		w := min(o.Length, length-o.X)
		hatch(&d, o.X, o.Y, w, o.Width, 0.004*s)
		text := fmt.Sprintf("left over %s × %s", bare(o.Length, system), bare(o.Width, system))
		if 0.58*textHeight*s*float64(len([]rune(text))) < w && o.Width > 1.5*textHeight*s {
			d.text(o.X+w/2, o.Y+o.Width/2-textHeight*s/2, 0, 0, "%s", text)
		}
	}
	d.level(0, length, 0, -dimGap*s)
	d.upright(0, b.Width, 0, -dimGap*s)
	d.Note = fmt.Sprintf("Scale 1:%g. Kerf %s between pieces.", s, Measure(g.Nesting.Kerf, system))
	return d
}

// hatch draws slanting lines inside a rectangle.
func hatch(d *Drawing, x, y, w, h, step float64) {
	for c := step; c < w+h; c += step {
		x0, y0 := max(0, c-h), min(c, h)
		x1, y1 := min(c, w), max(0, c-w)
		d.line(PenHatch, Corner{x + x0, y + y0}, Corner{x + x1, y + y1})
	}
}

// DrawSection is the hive cut open from front to back through its middle, with
// the new parts in their places.
func DrawSection(job Job, system quantity.System) Drawing {
	d := Drawing{System: system, Title: job.Title + " in its place", Scale: 1}
	type slice struct {
		pen            Pen
		y0, y1, z0, z1 float64
		name           string
		hatched        bool
	}
	var all []slice
	cut := func(name string, s Solid, pen Pen, hatched bool) {
		for _, b := range s {
			if b.Min.X <= 0 && b.Max.X >= 0 {
				all = append(all, slice{pen, b.Min.Y, b.Max.Y, b.Min.Z, b.Max.Z, name, hatched})
			}
		}
	}
	// Of the frames the one nearest to the middle of each body is shown.
	near := map[string]named{}
	for _, n := range job.section {
		if n.role != comb {
			cut("", n.solid, PenOld, false)
			continue
		}
		_, body, _ := strings.Cut(n.name, " of ")
		off := func(n named) float64 { b := n.solid.Bounds(); return math.Abs(b.Min.X + b.Max.X) }
		if have, ok := near[body]; !ok || off(n) < off(have) {
			near[body] = n
		}
	}
	for _, body := range slices.Sorted(maps.Keys(near)) {
		b := near[body].solid.Bounds()
		all = append(all, slice{PenOld, b.Min.Y, b.Max.Y, b.Min.Z, b.Max.Z, "", false})
	}
	inside := false
	for _, p := range job.Parts {
		for _, s := range p.At {
			before := len(all)
			cut(p.Name, s, PenEdge, p.Material.Density < 250)
			inside = inside || len(all) > before
		}
	}
	if !inside || len(all) == 0 {
		return Drawing{}
	}
	w0, w1, h0, h1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, s := range all {
		w0, w1, h0, h1 = min(w0, s.y0), max(w1, s.y1), min(h0, s.z0), max(h1, s.z1)
	}
	d.Scale = scaleFor(w1-w0, h1-h0, 0.120, 0.150)
	s := d.Scale
	var names []string
	for _, x := range all {
		d.rect(x.pen, x.y0, x.z0, x.y1-x.y0, x.z1-x.z0)
		if x.hatched {
			hatch(&d, x.y0, x.z0, x.y1-x.y0, x.z1-x.z0, 0.0035*s)
		}
	}
	// Names to the right, each with a line to its part, from the top down.
	var list []slice
	for _, x := range all {
		at := slices.Index(names, x.name)
		switch {
		case x.name == "":
		case at < 0:
			names, list = append(names, x.name), append(list, x)
		case x.y1 > list[at].y1: // point at what lies nearest to the names
			list[at] = x
		}
	}
	slices.SortStableFunc(list, func(a, b slice) int {
		return -int(math.Copysign(1, a.z0+a.z1-b.z0-b.z1))
	})
	z := h1
	for _, x := range list {
		at := min(z, (x.z0+x.z1)/2)
		d.line(PenDim, Corner{x.y1 - min(0.3*(x.y1-x.y0), 0.01), (x.z0 + x.z1) / 2}, Corner{w1 + 0.006*s, at}, Corner{w1 + 0.009*s, at})
		d.text(w1+0.010*s, at-textHeight*s/2, -1, 0, "%s", x.name)
		z = at - 1.6*textHeight*s
	}
	d.text(w0, h0-2*textHeight*s, -1, 0, "front")
	d.text(w1, h0-2*textHeight*s, 1, 0, "back")
	d.Note = fmt.Sprintf("Section through the middle, scale 1:%g. Fine lines: the hive as it is.", s)
	return d
}

// Drawings are all drawings of a job: the section where there is one, then the
// parts.
func Drawings(job Job, system quantity.System) []Drawing {
	var list []Drawing
	if s := DrawSection(job, system); len(s.Paths) > 0 {
		list = append(list, s)
	}
	for _, p := range job.Parts {
		list = append(list, DrawPart(job, p, system))
	}
	return list
}
