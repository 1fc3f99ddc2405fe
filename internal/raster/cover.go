package raster

import (
	"image"
	"math"
	"slices"

	"github.com/srwiley/rasterx"
	"golang.org/x/image/math/fixed"
)

// subLines is how many lines of a pixel are looked at; along a line the cover is
// exact.
const subLines = 16

type edge struct{ x0, y0, x1, y1 float64 }

// outline is the straight edges of what is to be filled, in pixels.
type outline struct {
	edges    []edge
	at       [2]float64
	isOdd    bool // fill by even and odd, not by winding
	hasStart bool
}

func (o *outline) start(x, y float64) { o.at = [2]float64{x, y}; o.hasStart = true }

func (o *outline) line(x, y float64) {
	if y != o.at[1] {
		o.edges = append(o.edges, edge{o.at[0], o.at[1], x, y})
	}
	o.at = [2]float64{x, y}
}

// outlineOf makes curves into lines fine enough not to be seen.
func outlineOf(p path, isOdd bool) *outline {
	o := &outline{isOdd: isOdd}
	var sx, sy float64
	isOpen := false
	for _, s := range p {
		switch s.kind {
		case 'M':
			if isOpen {
				o.line(sx, sy)
			}
			sx, sy = s.p[0], s.p[1]
			o.start(sx, sy)
			isOpen = true
		case 'L':
			o.line(s.p[0], s.p[1])
		case 'C':
			flatten(o.at[0], o.at[1], s.p, o.line)
		case 'Z':
			o.line(sx, sy)
		}
	}
	if isOpen {
		o.line(sx, sy)
	}
	return o
}

// flatten gives the points of a cubic curve, its start left out.
func flatten(x0, y0 float64, p [6]float64, line func(x, y float64)) {
	// The second differences bound how far a chord strays.
	d := math.Hypot(x0-2*p[0]+p[2], y0-2*p[1]+p[3]) + math.Hypot(p[0]-2*p[2]+p[4], p[1]-2*p[3]+p[5])
	n := min(max(int(math.Ceil(math.Sqrt(d*16))), 1), 400)
	for i := 1; i <= n; i++ {
		t := float64(i) / float64(n)
		u := 1 - t
		a, b, c, e := u*u*u, 3*u*u*t, 3*u*t*t, t*t*t
		line(a*x0+b*p[0]+c*p[2]+e*p[4], a*y0+b*p[1]+c*p[3]+e*p[5])
	}
}

// strokeUnit is the pixel in the stroker's whole numbers: eight times as fine as
// it would take them, as it rounds towards thin.
const strokeUnit = 64 * 8

// Start begins a part of a stroke. It and the methods below make an outline the
// rasterx.Scanner that takes in what the stroker draws.
func (o *outline) Start(a fixed.Point26_6) {
	o.start(float64(a.X)/strokeUnit, float64(a.Y)/strokeUnit)
}

// Line takes one edge of a stroke.
func (o *outline) Line(b fixed.Point26_6) { o.line(float64(b.X)/strokeUnit, float64(b.Y)/strokeUnit) }

// Draw does nothing: the edges are filled later.
func (o *outline) Draw() {}

// GetPathExtent is not asked for by the stroker.
func (o *outline) GetPathExtent() fixed.Rectangle26_6 { return fixed.Rectangle26_6{} }

// SetBounds does nothing.
func (o *outline) SetBounds(int, int) {}

// SetColor does nothing.
func (o *outline) SetColor(any) {}

// SetWinding does nothing.
func (o *outline) SetWinding(bool) {}

// Clear does nothing.
func (o *outline) Clear() {}

// SetClip does nothing.
func (o *outline) SetClip(image.Rectangle) {}

// pen is how lines are drawn.
type pen struct {
	width, miter float64
	cap, join    string
	dashes       []float64
	offset       float64
}

// stroke gives the outline of a line along a path, all in pixels.
func stroke(p path, with pen) *outline {
	o := &outline{}
	d := rasterx.NewDasher(1, 1, o)
	caps := map[string]rasterx.CapFunc{"round": rasterx.RoundCap, "square": rasterx.SquareCap}
	ends := caps[with.cap]
	if ends == nil {
		ends = rasterx.ButtCap
	}
	joins := map[string]rasterx.JoinMode{"round": rasterx.Round, "bevel": rasterx.Bevel}
	join, ok := joins[with.join]
	if !ok {
		join = rasterx.Miter
	}
	at := func(x, y float64) fixed.Point26_6 {
		return fixed.Point26_6{X: fixed.Int26_6(math.Round(x * strokeUnit)), Y: fixed.Int26_6(math.Round(y * strokeUnit))}
	}
	gap := rasterx.FlatGap
	if join == rasterx.Round {
		gap = rasterx.RoundGap
	}
	dashes := make([]float64, len(with.dashes))
	for i, v := range with.dashes {
		dashes[i] = v * strokeUnit / 64
	}
	width := max(fixed.Int26_6(math.Round(with.width*strokeUnit)), 1)
	d.SetStroke(width, fixed.Int26_6(math.Round(with.miter*64)), ends, ends, gap, join, dashes, with.offset*strokeUnit/64)
	isOpen := false
	var from fixed.Point26_6
	var x, y, sx, sy float64
	for i, s := range p {
		switch s.kind {
		case 'M':
			if isOpen {
				d.Stop(false)
			}
			x, y = s.p[0], s.p[1]
			sx, sy = x, y
			isOpen = false
			if i+1 < len(p) && p[i+1].kind != 'M' {
				from = at(x, y)
				d.Start(from)
				isOpen = true
			}
			continue
		case 'Z':
			if isOpen {
				d.Stop(true)
			}
			isOpen = false
			x, y = sx, sy
			continue
		}
		if !isOpen {
			from = at(x, y)
			d.Start(from)
			isOpen = true
		}
		add := func(px, py float64) {
			if to := at(px, py); to != from {
				d.Line(to)
				from = to
			}
		}
		if s.kind == 'L' {
			add(s.p[0], s.p[1])
		} else {
			flatten(x, y, s.p, add)
		}
		x, y = s.end()
	}
	if isOpen {
		d.Stop(false)
	}
	return o
}

// mask is how much of each pixel of a box is covered, 0 to 1.
type mask struct {
	box   image.Rectangle
	cover []float32
}

// cover works out how much of each pixel inside bounds the outline fills.
func (o *outline) cover(bounds image.Rectangle) mask {
	if len(o.edges) == 0 {
		return mask{}
	}
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, e := range o.edges {
		x0, x1 = min(x0, e.x0, e.x1), max(x1, e.x0, e.x1)
		y0, y1 = min(y0, e.y0, e.y1), max(y1, e.y0, e.y1)
	}
	box := image.Rect(clampInt(math.Floor(x0)), clampInt(math.Floor(y0)), clampInt(math.Ceil(x1)), clampInt(math.Ceil(y1))).Intersect(bounds)
	if box.Empty() {
		return mask{}
	}
	w, h := box.Dx(), box.Dy()
	m := mask{box, make([]float32, w*h)}
	type crossing struct {
		x  float64
		up int
	}
	lines := make([][]crossing, h*subLines)
	for _, e := range o.edges {
		up := 1
		if e.y0 > e.y1 {
			e.x0, e.y0, e.x1, e.y1 = e.x1, e.y1, e.x0, e.y0
			up = -1
		}
		from := int(math.Ceil((max(e.y0, float64(box.Min.Y))-float64(box.Min.Y))*subLines - 0.5))
		to := int(math.Ceil((min(e.y1, float64(box.Max.Y))-float64(box.Min.Y))*subLines - 0.5))
		slope := (e.x1 - e.x0) / (e.y1 - e.y0)
		for k := max(from, 0); k < min(to, len(lines)); k++ {
			y := float64(box.Min.Y) + (float64(k)+0.5)/subLines
			lines[k] = append(lines[k], crossing{e.x0 + (y-e.y0)*slope - float64(box.Min.X), up})
		}
	}
	row := make([]float64, w+2) // differences of the cover along a row of pixels
	for py := range h {
		clear(row)
		for _, line := range lines[py*subLines : (py+1)*subLines] {
			slices.SortFunc(line, func(a, b crossing) int {
				switch {
				case a.x < b.x:
					return -1
				case a.x > b.x:
					return 1
				}
				return 0
			})
			winding := 0
			for i, c := range line {
				winding += c.up
				isIn := winding != 0
				if o.isOdd {
					isIn = i%2 == 0
				}
				if isIn && i+1 < len(line) {
					span(row, w, c.x, line[i+1].x)
				}
			}
		}
		sum := 0.0
		for px := range w {
			sum += row[px]
			m.cover[py*w+px] = float32(min(max(sum/subLines, 0), 1))
		}
	}
	return m
}

func clampInt(v float64) int { return int(min(max(v, -1e6), 1e6)) }

// span adds the cover between two places of a row to the differences.
func span(row []float64, w int, from, to float64) {
	from, to = min(max(from, 0), float64(w)), min(max(to, 0), float64(w))
	if to <= from {
		return
	}
	// A step at x covers its own pixel in part and all after it wholly.
	step := func(x, sign float64) {
		i := int(x)
		part := 1 - (x - float64(i))
		row[i] += sign * part
		row[i+1] += sign * (1 - part)
	}
	step(from, 1)
	step(to, -1)
}
