package raster

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"math"
)

// painter draws one picture.
type painter struct {
	sheet *sheet
	byID  map[string]*node
	faces map[string]*face
	view  rect // of the outermost element
	drawn int
	deep  int
}

func (p *painter) index(n *node) {
	if id := n.attr["id"]; id != "" {
		if _, ok := p.byID[id]; !ok {
			p.byID[id] = n
		}
	}
	for _, c := range n.children {
		p.index(c)
	}
}

// number reads a length of an element, 0 when it is not there. Percent are of
// the picture.
func (p *painter) number(n *node, name string, s *style) (float64, error) {
	text, ok := n.attr[name]
	if !ok {
		return 0, nil
	}
	whole := math.Hypot(p.view.w, p.view.h) / math.Sqrt2
	switch name {
	case "x", "x1", "x2", "cx", "width", "rx":
		whole = p.view.w
	case "y", "y1", "y2", "cy", "height", "ry":
		whole = p.view.h
	}
	v, err := s.length(text, whole)
	if err != nil {
		return 0, fmt.Errorf("%s: %s: %w", n.name, name, err)
	}
	return v, nil
}

func (p *painter) numbers(n *node, s *style, names ...string) ([]float64, error) {
	out := make([]float64, len(names))
	for i, name := range names {
		var err error
		if out[i], err = p.number(n, name, s); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (p *painter) children(c *canvas, n *node, s style, m matrix) error {
	for _, child := range n.children {
		if child.name == "" {
			continue
		}
		if err := p.element(c, child, s, m); err != nil {
			return err
		}
	}
	return nil
}

// unseen are elements that are drawn only when another names them, or never.
var unseen = map[string]bool{"defs": true, "symbol": true, "linearGradient": true, "radialGradient": true, "pattern": true, "clipPath": true,
	"marker": true, "title": true, "desc": true, "metadata": true, "style": true, "script": true, "animate": true, "animateTransform": true,
	"set": true, "filter": true, "mask": true}

func (p *painter) element(c *canvas, n *node, parent style, m matrix) error {
	if unseen[n.name] {
		return nil
	}
	if p.drawn++; p.drawn > mostDrawn {
		return fmt.Errorf("more than %d elements are drawn", mostDrawn)
	}
	if p.deep++; p.deep > mostDeep {
		return fmt.Errorf("%s: more than %d elements inside each other, or one that uses itself", n.name, mostDeep)
	}
	defer func() { p.deep-- }()
	s, err := p.styleOf(n, parent)
	if err != nil || s.isAbsent {
		return err
	}
	if s.transform != "" {
		own, err := readTransform(s.transform)
		if err != nil {
			return fmt.Errorf("%s: %w", n.name, err)
		}
		m = m.times(own)
	}
	draw := p.drawOf(n)
	if draw == nil {
		return fmt.Errorf("the element %s cannot be drawn", n.name)
	}
	on := *c
	if s.clip != "" {
		if on.clip, err = p.clip(c, s.clip, n, &s, m); err != nil {
			return err
		}
	}
	if s.opacity >= 1 {
		return draw(&on, n, s, m)
	}
	if s.opacity <= 0 {
		return nil
	}
	isGroup := n.name == "g" || n.name == "use" || n.name == "svg" || n.name == "a" || n.name == "text"
	if isGroup || !s.fill.isNone && !s.stroke.isNone || s.markers != [3]string{} {
		layer := canvas{img: image.NewRGBA(c.img.Rect), clip: on.clip}
		if err := draw(&layer, n, s, m); err != nil {
			return err
		}
		lay(c.img, layer.img, s.opacity)
		return nil
	}
	s.fillOpacity *= s.opacity
	s.strokeOpacity *= s.opacity
	return draw(&on, n, s, m)
}

// lay puts a layer over a picture.
func lay(on, layer *image.RGBA, opacity float64) {
	for i := 0; i < len(layer.Pix); i += 4 {
		if layer.Pix[i+3] == 0 {
			continue
		}
		left := 1 - float64(layer.Pix[i+3])/255*opacity
		for k := range 4 {
			on.Pix[i+k] = uint8(float64(layer.Pix[i+k])*opacity + float64(on.Pix[i+k])*left + 0.5)
		}
	}
}

func (p *painter) drawOf(n *node) func(*canvas, *node, style, matrix) error {
	switch n.name {
	case "g", "a":
		return p.children
	case "svg":
		return p.inner
	case "use":
		return p.use
	case "text":
		return p.text
	case "path", "rect", "circle", "ellipse", "line", "polyline", "polygon":
		return func(c *canvas, n *node, s style, m matrix) error {
			if s.isHidden {
				return nil
			}
			shape, err := p.pathOf(n, &s)
			if err != nil {
				return err
			}
			if n.name == "line" {
				s.fill = paint{isNone: true}
			}
			if err := p.shape(c, shape, &s, m); err != nil {
				return err
			}
			return p.mark(c, shape, &s, m)
		}
	}
	return nil
}

func (p *painter) pathOf(n *node, s *style) (path, error) {
	read := func(names ...string) ([]float64, error) { return p.numbers(n, s, names...) }
	var out path
	switch n.name {
	case "path":
		return readPath(n.attr["d"])
	case "rect":
		v, err := read("x", "y", "width", "height", "rx", "ry")
		if err != nil {
			return nil, err
		}
		if v[2] < 0 || v[3] < 0 {
			return nil, fmt.Errorf("rect: width %g and height %g must not be below 0", v[2], v[3])
		}
		if v[2] == 0 || v[3] == 0 {
			return nil, nil
		}
		if _, ok := n.attr["rx"]; !ok {
			v[4] = v[5]
		}
		if _, ok := n.attr["ry"]; !ok {
			v[5] = v[4]
		}
		return rectangle(v[0], v[1], v[2], v[3], v[4], v[5]), nil
	case "circle", "ellipse":
		v, err := read("cx", "cy", "r", "rx", "ry")
		if err != nil {
			return nil, err
		}
		if n.name == "circle" {
			v[3], v[4] = v[2], v[2]
		}
		if v[3] <= 0 || v[4] <= 0 {
			return nil, nil
		}
		return ellipse(v[0], v[1], v[3], v[4]), nil
	case "line":
		v, err := read("x1", "y1", "x2", "y2")
		if err != nil {
			return nil, err
		}
		out.move(v[0], v[1])
		out.line(v[2], v[3])
	case "polyline", "polygon":
		v, err := numbers(n.attr["points"])
		if err != nil {
			return nil, fmt.Errorf("%s: points: %w", n.name, err)
		}
		for i := 0; i+1 < len(v); i += 2 {
			if i == 0 {
				out.move(v[0], v[1])
			} else {
				out.line(v[i], v[i+1])
			}
		}
		if n.name == "polygon" && len(out) > 0 {
			out.close()
		}
	}
	return out, nil
}

// inner draws an svg element inside another.
func (p *painter) inner(c *canvas, n *node, s style, m matrix) error {
	v, err := p.numbers(n, &s, "x", "y", "width", "height")
	if err != nil {
		return err
	}
	return p.window(c, n, s, m, rect{v[0], v[1], v[2], v[3]})
}

// window draws the children of an element with a view box into a frame, and
// nothing beyond it.
func (p *painter) window(c *canvas, n *node, s style, m matrix, frame rect) error {
	box, has, err := viewBox(n)
	if err != nil {
		return err
	}
	if frame.w <= 0 {
		frame.w = p.view.w
	}
	if frame.h <= 0 {
		frame.h = p.view.h
	}
	on := *c
	on.clip = narrow(c, outlineOf(rectangle(frame.x, frame.y, frame.w, frame.h, 0, 0).through(m), false))
	inside := m.times(translate(frame.x, frame.y))
	if has {
		inside = m.times(fit(box, frame, n.attr["preserveAspectRatio"]))
	}
	return p.children(&on, n, s, inside)
}

func (p *painter) use(c *canvas, n *node, s style, m matrix) error {
	id := n.attr["href"]
	if len(id) == 0 || id[0] != '#' {
		return fmt.Errorf("use: href %q is not #identifier", id)
	}
	target := p.byID[id[1:]]
	if target == nil {
		return fmt.Errorf("use: there is no element %q", id)
	}
	v, err := p.numbers(n, &s, "x", "y", "width", "height")
	if err != nil {
		return err
	}
	m = m.times(translate(v[0], v[1]))
	if target.name == "symbol" {
		inner, err := p.styleOf(target, s)
		if err != nil {
			return err
		}
		box, has, err := viewBox(target)
		if err != nil {
			return err
		}
		if !has {
			return p.children(c, target, inner, m)
		}
		if v[2] <= 0 {
			v[2] = box.w
		}
		if v[3] <= 0 {
			v[3] = box.h
		}
		if p.deep++; p.deep > mostDeep {
			return errors.New("use: an element uses itself")
		}
		defer func() { p.deep-- }()
		return p.window(c, target, inner, m, rect{0, 0, v[2], v[3]})
	}
	return p.element(c, target, s, m)
}

// narrow cuts the clip of a canvas down to an outline.
func narrow(c *canvas, o *outline) *image.Alpha {
	out := image.NewAlpha(c.img.Rect)
	k := o.cover(c.img.Rect)
	for y := k.box.Min.Y; y < k.box.Max.Y; y++ {
		for x := k.box.Min.X; x < k.box.Max.X; x++ {
			v := float64(k.cover[(y-k.box.Min.Y)*k.box.Dx()+x-k.box.Min.X])
			at := out.PixOffset(x, y)
			if c.clip != nil {
				v *= float64(c.clip.Pix[at]) / 255
			}
			out.Pix[at] = uint8(v*255 + 0.5)
		}
	}
	return out
}

// clip builds the clip that an identifier names.
func (p *painter) clip(c *canvas, id string, n *node, s *style, m matrix) (*image.Alpha, error) {
	target := p.byID[id]
	if target == nil || target.name != "clipPath" {
		return nil, fmt.Errorf("%s: there is no clipPath %q", n.name, id)
	}
	if p.deep++; p.deep > mostDeep {
		return nil, errors.New("clipPath: one that clips itself")
	}
	defer func() { p.deep-- }()
	if target.attr["clipPathUnits"] == "objectBoundingBox" {
		return nil, errors.New("clipPath: objectBoundingBox units cannot be drawn")
	}
	plain := initialStyle()
	plain.size = s.size
	ts, err := p.styleOf(target, plain)
	if err != nil {
		return nil, err
	}
	if ts.transform != "" {
		own, err := readTransform(ts.transform)
		if err != nil {
			return nil, err
		}
		m = m.times(own)
	}
	// Drawn black on a clear ground, its cover is the clip.
	stencil := canvas{img: image.NewRGBA(c.img.Rect)}
	for _, child := range target.children {
		if child.name == "" {
			continue
		}
		in := ts
		if err := p.stencil(&stencil, child, in, m); err != nil {
			return nil, err
		}
	}
	out := image.NewAlpha(c.img.Rect)
	for i := range out.Pix {
		v := int(stencil.img.Pix[4*i+3])
		if c.clip != nil {
			v = v * int(c.clip.Pix[i]) / 255
		}
		out.Pix[i] = uint8(v)
	}
	return out, nil
}

// stencil draws a shape of a clip: its whole inside, whatever its colour.
func (p *painter) stencil(c *canvas, n *node, parent style, m matrix) error {
	s, err := p.styleOf(n, parent)
	if err != nil || s.isAbsent {
		return err
	}
	if s.transform != "" {
		own, err := readTransform(s.transform)
		if err != nil {
			return err
		}
		m = m.times(own)
	}
	s.fill, s.stroke, s.fillOpacity, s.isOdd = paint{color: black}, paint{isNone: true}, 1, s.clipIsOdd
	switch n.name {
	case "use":
		target := p.byID[trimHash(n.attr["href"])]
		if target == nil {
			return fmt.Errorf("clipPath: there is no element %q", n.attr["href"])
		}
		if p.deep++; p.deep > mostDeep {
			return errors.New("clipPath: one that uses itself")
		}
		defer func() { p.deep-- }()
		v, err := p.numbers(n, &s, "x", "y")
		if err != nil {
			return err
		}
		return p.stencil(c, target, s, m.times(translate(v[0], v[1])))
	case "text":
		return p.text(c, n, s, m)
	case "path", "rect", "circle", "ellipse", "line", "polyline", "polygon":
		shape, err := p.pathOf(n, &s)
		if err != nil {
			return err
		}
		return p.shape(c, shape, &s, m)
	case "title", "desc":
		return nil
	}
	return fmt.Errorf("clipPath: %s inside it cannot be drawn", n.name)
}

func trimHash(id string) string {
	if len(id) > 0 && id[0] == '#' {
		return id[1:]
	}
	return id
}

// shape fills and strokes a path given in user units.
func (p *painter) shape(c *canvas, shape path, s *style, m matrix) error {
	device := shape.through(m)
	if !device.isFinite() {
		return errors.New("a shape reaches beyond all bounds")
	}
	box := shape.bounds()
	fill := func() error {
		if s.fill.isNone || s.fillOpacity <= 0 {
			return nil
		}
		return p.paint(c, outlineOf(device, s.isOdd), s.fill, s.fillOpacity, s, box, m)
	}
	line := func() error {
		if s.stroke.isNone || s.strokeOpacity <= 0 || s.pen.width <= 0 {
			return nil
		}
		scale := m.scale()
		if s.isFixedWidth {
			scale = 1
		}
		with := s.pen
		with.width *= scale
		with.offset *= scale
		with.dashes = nil
		for _, d := range s.pen.dashes {
			with.dashes = append(with.dashes, d*scale)
		}
		if size := device.bounds(); (size.w+size.h)*float64(len(device)+1) > mostDashes*sum(with.dashes) {
			with.dashes = nil // too fine to be told apart
		}
		opacity := s.strokeOpacity
		if with.width < 1.0/64 {
			return nil
		}
		return p.paint(c, stroke(device, with), s.stroke, opacity, s, box, m)
	}
	first, second := fill, line
	if s.isStrokeFirst {
		first, second = line, fill
	}
	if err := first(); err != nil {
		return err
	}
	return second()
}

func sum(v []float64) float64 {
	t := 0.0
	for _, x := range v {
		t += x
	}
	return t
}

// paint lays a colour, a gradient or a pattern through an outline.
func (p *painter) paint(c *canvas, o *outline, with paint, opacity float64, s *style, box rect, m matrix) error {
	k := o.cover(c.img.Rect)
	if k.box.Empty() {
		return nil
	}
	colour := func(x, y int) color.NRGBA { return with.color }
	if with.id != "" {
		var err error
		if colour, err = p.server(with.id, s, box, m); err != nil {
			return err
		}
	}
	if colour == nil {
		return nil
	}
	for y := k.box.Min.Y; y < k.box.Max.Y; y++ {
		for x := k.box.Min.X; x < k.box.Max.X; x++ {
			v := float64(k.cover[(y-k.box.Min.Y)*k.box.Dx()+x-k.box.Min.X]) * opacity
			if v <= 0 {
				continue
			}
			if c.clip != nil {
				v *= float64(c.clip.Pix[c.clip.PixOffset(x, y)]) / 255
			}
			blend(c.img, c.img.PixOffset(x, y), colour(x, y), v)
		}
	}
	return nil
}

// mostDashes bounds the dashes of a line.
const mostDashes = 1_000_000

// mark draws the markers of a path.
func (p *painter) mark(c *canvas, shape path, s *style, m matrix) error {
	if s.markers == [3]string{} || len(shape) == 0 {
		return nil
	}
	type corner struct {
		x, y    float64
		in, out [2]float64 // directions
	}
	var corners []corner
	var x, y, sx, sy float64
	for _, g := range shape {
		ex, ey := g.end()
		switch g.kind {
		case 'M':
			corners = append(corners, corner{x: ex, y: ey})
			x, y, sx, sy = ex, ey, ex, ey
			continue
		case 'Z':
			ex, ey = sx, sy
		}
		from, to := [2]float64{ex - x, ey - y}, [2]float64{ex - x, ey - y}
		if g.kind == 'C' {
			for _, q := range [][2]float64{{g.p[0] - x, g.p[1] - y}, {g.p[2] - x, g.p[3] - y}} {
				if q != [2]float64{} {
					from = q
					break
				}
			}
			for _, q := range [][2]float64{{ex - g.p[2], ey - g.p[3]}, {ex - g.p[0], ey - g.p[1]}} {
				if q != [2]float64{} {
					to = q
					break
				}
			}
		}
		corners[len(corners)-1].out = from
		corners = append(corners, corner{x: ex, y: ey, in: to})
		x, y = ex, ey
	}
	last := len(corners) - 1
	for i, q := range corners {
		which := 1
		switch i {
		case 0:
			which = 0
		case last:
			which = 2
		}
		id := s.markers[which]
		if id == "" {
			continue
		}
		unit := func(v [2]float64) (float64, float64) {
			if h := math.Hypot(v[0], v[1]); h > 0 {
				return v[0] / h, v[1] / h
			}
			return 0, 0
		}
		ax, ay := unit(q.in)
		bx, by := unit(q.out)
		if err := p.marker(c, id, q.x, q.y, math.Atan2(ay+by, ax+bx), i == 0, s, m); err != nil {
			return err
		}
		if i == 0 && last == 0 {
			break
		}
	}
	return nil
}

func (p *painter) marker(c *canvas, id string, x, y, angle float64, isStart bool, s *style, m matrix) error {
	n := p.byID[id]
	if n == nil || n.name != "marker" {
		return fmt.Errorf("there is no marker %q", id)
	}
	if p.deep++; p.deep > mostDeep {
		return errors.New("marker: one that marks itself")
	}
	defer func() { p.deep-- }()
	ms, err := p.styleOf(n, initialStyle())
	if err != nil {
		return err
	}
	ms.variables = s.variables
	v, err := p.numbers(n, &ms, "markerWidth", "markerHeight", "refX", "refY")
	if err != nil {
		return err
	}
	for i, name := range []string{"markerWidth", "markerHeight"} {
		if _, ok := n.attr[name]; !ok {
			v[i] = 3
		}
	}
	if v[0] <= 0 || v[1] <= 0 {
		return nil
	}
	at := m.times(translate(x, y))
	switch orient := n.attr["orient"]; orient {
	case "auto", "auto-start-reverse":
		if isStart && orient == "auto-start-reverse" {
			angle += math.Pi
		}
	case "":
		angle = 0
	default:
		deg, err := length(orient, 1)
		if err != nil {
			return fmt.Errorf("marker: orient: %w", err)
		}
		angle = deg * math.Pi / 180
	}
	sin, cos := math.Sincos(angle)
	at = at.times(matrix{cos, sin, -sin, cos, 0, 0})
	if n.attr["markerUnits"] != "userSpaceOnUse" {
		at = at.times(matrix{a: s.pen.width, d: s.pen.width})
	}
	box, has, err := viewBox(n)
	if err != nil {
		return err
	}
	if !has {
		box = rect{0, 0, v[0], v[1]}
	}
	inside := fit(box, rect{0, 0, v[0], v[1]}, n.attr["preserveAspectRatio"])
	rx, ry := inside.at(v[2], v[3])
	inside = at.times(translate(-rx, -ry)).times(inside)
	on := *c
	if n.attr["overflow"] != "visible" {
		on.clip = narrow(c, outlineOf(rectangle(box.x, box.y, box.w, box.h, 0, 0).through(inside), false))
	}
	return p.children(&on, n, ms, inside)
}
