package raster

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"math"
)

// server gives the colour at each pixel of the gradient or pattern that an
// identifier names, for a shape with that box; nil when there is nothing to
// paint.
func (p *painter) server(id string, s *style, box rect, m matrix) (func(x, y int) color.NRGBA, error) {
	n := p.byID[id]
	if n == nil {
		return nil, fmt.Errorf("there is no gradient or pattern %q", id)
	}
	switch n.name {
	case "linearGradient", "radialGradient":
		return p.gradient(n, s, box, m)
	case "pattern":
		return p.pattern(n, s, box, m)
	}
	return nil, fmt.Errorf("%q is a %s, not a gradient or pattern", id, n.name)
}

type stop struct {
	at    float64
	color color.NRGBA
}

// inherited finds an attribute on an element or on what its href names.
func (p *painter) inherited(n *node, name string) (string, bool) {
	for range 16 {
		if v, ok := n.attr[name]; ok {
			return v, true
		}
		next := p.byID[trimHash(n.attr["href"])]
		if next == nil {
			return "", false
		}
		n = next
	}
	return "", false
}

func (p *painter) stops(n *node, s *style) ([]stop, error) {
	for range 16 {
		var out []stop
		for _, c := range n.children {
			if c.name != "stop" {
				continue
			}
			parent := initialStyle()
			parent.color, parent.variables = s.color, s.variables
			st, err := p.styleOf(c, parent)
			if err != nil {
				return nil, err
			}
			at := 0.0
			if text, ok := c.attr["offset"]; ok {
				if at, err = share(text); err != nil {
					return nil, fmt.Errorf("stop: offset: %w", err)
				}
			}
			if len(out) > 0 {
				at = max(at, out[len(out)-1].at)
			}
			col := st.stopColor
			col.A = uint8(float64(col.A)*st.stopOpacity + 0.5)
			out = append(out, stop{at, col})
		}
		if len(out) > 0 {
			return out, nil
		}
		next := p.byID[trimHash(n.attr["href"])]
		if next == nil {
			return nil, nil
		}
		n = next
	}
	return nil, nil
}

func (p *painter) gradient(n *node, s *style, box rect, m matrix) (func(x, y int) color.NRGBA, error) {
	stops, err := p.stops(n, s)
	if err != nil || len(stops) == 0 {
		return nil, err
	}
	userUnits, _ := p.inherited(n, "gradientUnits")
	isUser := userUnits == "userSpaceOnUse"
	space := m
	if !isUser {
		if box.w == 0 || box.h == 0 {
			return nil, nil
		}
		space = m.times(matrix{box.w, 0, 0, box.h, box.x, box.y})
	}
	if text, ok := p.inherited(n, "gradientTransform"); ok {
		own, err := readTransform(text)
		if err != nil {
			return nil, err
		}
		space = space.times(own)
	}
	back, ok := space.inverse()
	if !ok {
		return nil, nil
	}
	read := func(name, otherwise string, whole float64) float64 {
		text, ok := p.inherited(n, name)
		if !ok {
			text = otherwise
		}
		if !isUser {
			whole = 1
		}
		v, e := length(text, whole)
		if e != nil && err == nil {
			err = fmt.Errorf("%s: %s: %w", n.name, name, e)
		}
		return v
	}
	spread, _ := p.inherited(n, "spreadMethod")
	at := func(t float64) color.NRGBA {
		switch spread {
		case "repeat":
			t -= math.Floor(t)
		case "reflect":
			t = math.Abs(math.Mod(t, 2))
			if t > 1 {
				t = 2 - t
			}
		}
		return between(stops, t)
	}
	w, h := p.view.w, p.view.h
	if n.name == "linearGradient" {
		x1, y1, x2, y2 := read("x1", "0%", w), read("y1", "0%", h), read("x2", "100%", w), read("y2", "0%", h)
		dx, dy := x2-x1, y2-y1
		long := dx*dx + dy*dy
		return func(px, py int) color.NRGBA {
			x, y := back.at(float64(px)+0.5, float64(py)+0.5)
			if long == 0 {
				return stops[len(stops)-1].color
			}
			return at(((x-x1)*dx + (y-y1)*dy) / long)
		}, err
	}
	cx, cy, r := read("cx", "50%", w), read("cy", "50%", h), read("r", "50%", math.Hypot(w, h)/math.Sqrt2)
	fx, fy := cx, cy
	if _, ok := p.inherited(n, "fx"); ok {
		fx = read("fx", "", w)
	}
	if _, ok := p.inherited(n, "fy"); ok {
		fy = read("fy", "", h)
	}
	if err == nil && math.Hypot(fx-cx, fy-cy) >= r && r > 0 {
		err = errors.New("radialGradient: its focus lies outside its circle")
	}
	return func(px, py int) color.NRGBA {
		x, y := back.at(float64(px)+0.5, float64(py)+0.5)
		if r <= 0 {
			return stops[len(stops)-1].color
		}
		// The share of the way from the focus to the circle, through this point.
		dx, dy, ex, ey := x-fx, y-fy, fx-cx, fy-cy
		a, b, c := dx*dx+dy*dy, 2*(dx*ex+dy*ey), ex*ex+ey*ey-r*r
		if a == 0 {
			return at(0)
		}
		reach := (-b + math.Sqrt(max(b*b-4*a*c, 0))) / (2 * a)
		if reach <= 0 {
			return at(1)
		}
		return at(1 / reach)
	}, err
}

// between mixes the colours of the stops around a place.
func between(stops []stop, t float64) color.NRGBA {
	if !(t > stops[0].at) {
		return stops[0].color
	}
	for i := 1; i < len(stops); i++ {
		if t > stops[i].at {
			continue
		}
		a, b := stops[i-1], stops[i]
		if b.at == a.at {
			return b.color
		}
		f := (t - a.at) / (b.at - a.at)
		mix := func(x, y uint8) uint8 { return uint8(float64(x) + (float64(y)-float64(x))*f + 0.5) }
		return color.NRGBA{mix(a.color.R, b.color.R), mix(a.color.G, b.color.G), mix(a.color.B, b.color.B), mix(a.color.A, b.color.A)}
	}
	return stops[len(stops)-1].color
}

const (
	mostTile   = 2048 // pixels along a side of a pattern's tile
	tileFactor = 2    // pixels of a tile to one of the picture
)

// pattern draws one tile finer than the picture and repeats it.
func (p *painter) pattern(n *node, s *style, box rect, m matrix) (func(x, y int) color.NRGBA, error) {
	if p.deep++; p.deep > mostDeep {
		return nil, errors.New("pattern: one that fills itself")
	}
	defer func() { p.deep-- }()
	content := n
	for range 16 {
		if len(content.children) > 0 {
			break
		}
		next := p.byID[trimHash(content.attr["href"])]
		if next == nil {
			break
		}
		content = next
	}
	units, _ := p.inherited(n, "patternUnits")
	isUser := units == "userSpaceOnUse"
	if u, _ := p.inherited(n, "patternContentUnits"); u == "objectBoundingBox" {
		return nil, errors.New("pattern: content in objectBoundingBox units cannot be drawn")
	}
	var v [4]float64
	for i, name := range []string{"x", "y", "width", "height"} {
		text, ok := p.inherited(n, name)
		if !ok {
			continue
		}
		whole := [4]float64{p.view.w, p.view.h, p.view.w, p.view.h}[i]
		if !isUser {
			whole = 1
		}
		var err error
		if v[i], err = length(text, whole); err != nil {
			return nil, fmt.Errorf("pattern: %s: %w", name, err)
		}
		if !isUser {
			v[i] *= [4]float64{box.w, box.h, box.w, box.h}[i]
			v[i] += [4]float64{box.x, box.y, 0, 0}[i]
		}
	}
	if !(v[2] > 0) || !(v[3] > 0) {
		return nil, nil
	}
	space := m
	if text, ok := p.inherited(n, "patternTransform"); ok {
		own, err := readTransform(text)
		if err != nil {
			return nil, err
		}
		space = space.times(own)
	}
	back, ok := space.inverse()
	if !ok {
		return nil, nil
	}
	side := func(u float64) int {
		return min(max(int(math.Ceil(u*space.scale()*tileFactor)), 1), mostTile)
	}
	w, h := side(v[2]), side(v[3])
	tile := canvas{img: image.NewRGBA(image.Rect(0, 0, w, h))}
	sx, sy := float64(w)/v[2], float64(h)/v[3]
	frame := rect{v[0], v[1], v[2], v[3]}
	inside := matrix{sx, 0, 0, sy, -frame.x * sx, -frame.y * sy}
	if b, has, err := viewBox(n); err != nil {
		return nil, err
	} else if has {
		inside = fit(b, rect{0, 0, float64(w), float64(h)}, n.attr["preserveAspectRatio"])
	}
	plain := initialStyle()
	plain.variables, plain.color, plain.size = s.variables, s.color, s.size
	ps, err := p.styleOf(n, plain)
	if err != nil {
		return nil, err
	}
	if err := p.children(&tile, content, ps, inside); err != nil {
		return nil, err
	}
	pixel := func(x, y int) [4]float64 {
		x, y = ((x%w)+w)%w, ((y%h)+h)%h
		at := tile.img.PixOffset(x, y)
		q := tile.img.Pix[at : at+4 : at+4]
		return [4]float64{float64(q[0]), float64(q[1]), float64(q[2]), float64(q[3])}
	}
	return func(px, py int) color.NRGBA {
		// The mean over the pixel, by a few looks inside it.
		const looks = 3
		var sum [4]float64
		for i := range looks {
			for j := range looks {
				x, y := back.at(float64(px)+(float64(i)+0.5)/looks, float64(py)+(float64(j)+0.5)/looks)
				q := pixel(int(math.Floor((x-frame.x)*sx)), int(math.Floor((y-frame.y)*sy)))
				for k := range sum {
					sum[k] += q[k] / (looks * looks)
				}
			}
		}
		if sum[3] <= 0 {
			return color.NRGBA{}
		}
		un := func(v float64) uint8 { return uint8(min(v/sum[3]*255, 255) + 0.5) }
		return color.NRGBA{un(sum[0]), un(sum[1]), un(sum[2]), uint8(sum[3] + 0.5)}
	}, nil
}
