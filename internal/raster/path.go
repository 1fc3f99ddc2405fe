package raster

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// A path is a row of moves, lines, cubic curves and closings.
type path []segment

type segment struct {
	kind byte       // M, L, C or Z
	p    [6]float64 // its points; the last two are where it ends
}

func (p *path) move(x, y float64) { *p = append(*p, segment{'M', [6]float64{x, y}}) }
func (p *path) line(x, y float64) { *p = append(*p, segment{'L', [6]float64{x, y}}) }
func (p *path) cube(a, b, c, d, x, y float64) {
	*p = append(*p, segment{'C', [6]float64{a, b, c, d, x, y}})
}
func (p *path) close() { *p = append(*p, segment{kind: 'Z'}) }

// quad draws a quadratic curve from (x0, y0) as the cubic that equals it.
func (p *path) quad(x0, y0, cx, cy, x, y float64) {
	p.cube(x0+(cx-x0)*2/3, y0+(cy-y0)*2/3, x+(cx-x)*2/3, y+(cy-y)*2/3, x, y)
}

func (s segment) end() (x, y float64) {
	if s.kind == 'C' {
		return s.p[4], s.p[5]
	}
	return s.p[0], s.p[1]
}

func (p path) through(m matrix) path {
	out := make(path, len(p))
	for i, s := range p {
		out[i].kind = s.kind
		for k := 0; k < 6; k += 2 {
			out[i].p[k], out[i].p[k+1] = m.at(s.p[k], s.p[k+1])
		}
	}
	return out
}

// bounds is the box of all points, control points included.
func (p path) bounds() rect {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, s := range p {
		n := map[byte]int{'M': 2, 'L': 2, 'C': 6}[s.kind]
		for k := 0; k < n; k += 2 {
			x0, x1 = min(x0, s.p[k]), max(x1, s.p[k])
			y0, y1 = min(y0, s.p[k+1]), max(y1, s.p[k+1])
		}
	}
	if x0 > x1 {
		return rect{}
	}
	return rect{x0, y0, x1 - x0, y1 - y0}
}

// isFinite guards what follows against numbers that no picture has.
func (p path) isFinite() bool {
	for _, s := range p {
		for _, v := range s.p {
			if !(math.Abs(v) < 1e6) {
				return false
			}
		}
	}
	return true
}

// scanner reads the numbers of an attribute one by one.
type scanner struct {
	text string
	at   int
}

func (s *scanner) skip() {
	for s.at < len(s.text) && strings.IndexByte(" \t\r\n,", s.text[s.at]) >= 0 {
		s.at++
	}
}

func (s *scanner) isDone() bool { s.skip(); return s.at >= len(s.text) }

func (s *scanner) number() (float64, error) {
	s.skip()
	from, i := s.at, s.at
	digits := func() {
		for i < len(s.text) && s.text[i] >= '0' && s.text[i] <= '9' {
			i++
		}
	}
	if i < len(s.text) && (s.text[i] == '+' || s.text[i] == '-') {
		i++
	}
	digits()
	if i < len(s.text) && s.text[i] == '.' {
		i++
		digits()
	}
	if i < len(s.text) && (s.text[i] == 'e' || s.text[i] == 'E') {
		j := i + 1
		if j < len(s.text) && (s.text[j] == '+' || s.text[j] == '-') {
			j++
		}
		if j < len(s.text) && s.text[j] >= '0' && s.text[j] <= '9' {
			i = j
			digits()
		}
	}
	v, err := strconv.ParseFloat(s.text[from:i], 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, fmt.Errorf("a number is wanted at %.12q", s.text[from:])
	}
	s.at = i
	return v, nil
}

// flag reads one figure, 0 or 1, which arcs may write without a gap after it.
func (s *scanner) flag() (bool, error) {
	s.skip()
	if s.at < len(s.text) && (s.text[s.at] == '0' || s.text[s.at] == '1') {
		s.at++
		return s.text[s.at-1] == '1', nil
	}
	return false, fmt.Errorf("0 or 1 is wanted at %.12q", s.text[s.at:])
}

func numbers(text string) ([]float64, error) {
	s := scanner{text: text}
	var out []float64
	for !s.isDone() {
		v, err := s.number()
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

var takes = map[byte]int{'M': 2, 'L': 2, 'H': 1, 'V': 1, 'C': 6, 'S': 4, 'Q': 4, 'T': 2, 'A': 7, 'Z': 0}

// readPath reads the d attribute of a path.
func readPath(d string) (path, error) {
	s := scanner{text: d}
	var out path
	var x, y, startX, startY float64 // where the pen is, where this part began
	var ctrlX, ctrlY float64         // last control point
	var before byte                  // last command, in capitals
	var command byte
	for !s.isDone() {
		if c := s.text[s.at]; c >= 'A' && c <= 'z' && c != 'e' && c != 'E' {
			command = c
			s.at++
		} else if command == 0 || command == 'Z' || command == 'z' {
			return nil, fmt.Errorf("path: a command is wanted at %.12q", s.text[s.at:])
		}
		kind := command &^ 0x20
		n, ok := takes[kind]
		if !ok {
			return nil, fmt.Errorf("path: no command %q", command)
		}
		if len(out) == 0 && kind != 'M' {
			return nil, fmt.Errorf("path: begins with %q instead of M", command)
		}
		var v [7]float64
		for i := range n {
			if kind == 'A' && (i == 3 || i == 4) {
				on, err := s.flag()
				if err != nil {
					return nil, fmt.Errorf("path: %w", err)
				}
				if on {
					v[i] = 1
				}
				continue
			}
			var err error
			if v[i], err = s.number(); err != nil {
				return nil, fmt.Errorf("path: %w", err)
			}
		}
		if command != kind { // in small letters: from where the pen is
			switch kind {
			case 'H':
				v[0] += x
			case 'V':
				v[0] += y
			case 'A':
				v[5] += x
				v[6] += y
			default:
				for i := 0; i < n; i += 2 {
					v[i] += x
					v[i+1] += y
				}
			}
		}
		switch kind {
		case 'M':
			x, y = v[0], v[1]
			startX, startY = x, y
			out.move(x, y)
			command = 'L' | command&0x20 // more pairs are lines
		case 'L':
			x, y = v[0], v[1]
			out.line(x, y)
		case 'H':
			x = v[0]
			out.line(x, y)
		case 'V':
			y = v[0]
			out.line(x, y)
		case 'C':
			out.cube(v[0], v[1], v[2], v[3], v[4], v[5])
			ctrlX, ctrlY, x, y = v[2], v[3], v[4], v[5]
		case 'S':
			cx, cy := x, y
			if before == 'C' || before == 'S' {
				cx, cy = 2*x-ctrlX, 2*y-ctrlY
			}
			out.cube(cx, cy, v[0], v[1], v[2], v[3])
			ctrlX, ctrlY, x, y = v[0], v[1], v[2], v[3]
		case 'Q':
			out.quad(x, y, v[0], v[1], v[2], v[3])
			ctrlX, ctrlY, x, y = v[0], v[1], v[2], v[3]
		case 'T':
			cx, cy := x, y
			if before == 'Q' || before == 'T' {
				cx, cy = 2*x-ctrlX, 2*y-ctrlY
			}
			out.quad(x, y, cx, cy, v[0], v[1])
			ctrlX, ctrlY, x, y = cx, cy, v[0], v[1]
		case 'A':
			out.arc(x, y, v[0], v[1], v[2], v[3] == 1, v[4] == 1, v[5], v[6])
			x, y = v[5], v[6]
		case 'Z':
			out.close()
			x, y = startX, startY
		}
		before = kind
	}
	return out, nil
}

// arc adds an elliptical arc as cubic curves of at most a quarter turn. The
// centre follows from the end points by SVG 1.1, appendix F.6.5.
func (p *path) arc(x0, y0, rx, ry, turn float64, isLarge, isPositive bool, x, y float64) {
	if x0 == x && y0 == y {
		return
	}
	rx, ry = math.Abs(rx), math.Abs(ry)
	if rx == 0 || ry == 0 {
		p.line(x, y)
		return
	}
	sin, cos := math.Sincos(turn * math.Pi / 180)
	dx, dy := (x0-x)/2, (y0-y)/2
	ux, uy := cos*dx+sin*dy, -sin*dx+cos*dy
	if over := ux*ux/(rx*rx) + uy*uy/(ry*ry); over > 1 {
		rx *= math.Sqrt(over)
		ry *= math.Sqrt(over)
	}
	part := rx*rx*uy*uy + ry*ry*ux*ux
	root := 0.0
	if part > 0 {
		root = math.Sqrt(max(rx*rx*ry*ry/part-1, 0))
	}
	if isLarge == isPositive {
		root = -root
	}
	cxU, cyU := root*rx*uy/ry, -root*ry*ux/rx
	cx, cy := cos*cxU-sin*cyU+(x0+x)/2, sin*cxU+cos*cyU+(y0+y)/2
	from := math.Atan2((uy-cyU)/ry, (ux-cxU)/rx)
	sweep := math.Atan2((-uy-cyU)/ry, (-ux-cxU)/rx) - from
	switch {
	case isPositive && sweep < 0:
		sweep += 2 * math.Pi
	case !isPositive && sweep > 0:
		sweep -= 2 * math.Pi
	}
	n := max(int(math.Ceil(math.Abs(sweep)/(math.Pi/2)-1e-9)), 1)
	each := sweep / float64(n)
	k := 4.0 / 3 * math.Tan(each/4)
	on := func(u, v float64) (float64, float64) {
		return cx + cos*rx*u - sin*ry*v, cy + sin*rx*u + cos*ry*v
	}
	for i := range n {
		s0, c0 := math.Sincos(from + each*float64(i))
		s1, c1 := math.Sincos(from + each*float64(i+1))
		ax, ay := on(c0-k*s0, s0+k*c0)
		bx, by := on(c1+k*s1, s1-k*c1)
		ex, ey := on(c1, s1)
		if i == n-1 {
			ex, ey = x, y
		}
		p.cube(ax, ay, bx, by, ex, ey)
	}
}

func ellipse(cx, cy, rx, ry float64) path {
	var p path
	p.move(cx+rx, cy)
	p.arc(cx+rx, cy, rx, ry, 0, false, true, cx, cy+ry)
	p.arc(cx, cy+ry, rx, ry, 0, false, true, cx-rx, cy)
	p.arc(cx-rx, cy, rx, ry, 0, false, true, cx, cy-ry)
	p.arc(cx, cy-ry, rx, ry, 0, false, true, cx+rx, cy)
	p.close()
	return p
}

func rectangle(x, y, w, h, rx, ry float64) path {
	var p path
	rx, ry = min(rx, w/2), min(ry, h/2)
	if rx <= 0 || ry <= 0 {
		p.move(x, y)
		p.line(x+w, y)
		p.line(x+w, y+h)
		p.line(x, y+h)
		p.close()
		return p
	}
	p.move(x+rx, y)
	p.line(x+w-rx, y)
	p.arc(x+w-rx, y, rx, ry, 0, false, true, x+w, y+ry)
	p.line(x+w, y+h-ry)
	p.arc(x+w, y+h-ry, rx, ry, 0, false, true, x+w-rx, y+h)
	p.line(x+rx, y+h)
	p.arc(x+rx, y+h, rx, ry, 0, false, true, x, y+h-ry)
	p.line(x, y+ry)
	p.arc(x, y+ry, rx, ry, 0, false, true, x+rx, y)
	p.close()
	return p
}

// units of a length in pixels, of which SVG takes 96 to the inch.
var units = map[string]float64{"": 1, "px": 1, "pt": 96.0 / 72, "pc": 16, "mm": 96 / 25.4, "cm": 960 / 25.4, "in": 96}

// length reads a length; whole is what 100 % stands for.
func length(text string, whole float64) (float64, error) {
	s := scanner{text: text}
	v, err := s.number()
	if err != nil {
		return 0, fmt.Errorf("%q is not a length", text)
	}
	unit := strings.TrimSpace(s.text[s.at:])
	if unit == "%" {
		return v / 100 * whole, nil
	}
	per, ok := units[unit]
	if !ok {
		return 0, fmt.Errorf("%q: the unit %q is not known here (px, pt, pc, mm, cm, in or %%)", text, unit)
	}
	return v * per, nil
}

// readTransform reads a list of transforms.
func readTransform(text string) (matrix, error) {
	m := identity
	rest := strings.TrimSpace(text)
	for rest != "" && rest != "none" {
		name, after, ok := strings.Cut(rest, "(")
		args, next, ok2 := strings.Cut(after, ")")
		if !ok || !ok2 {
			return m, fmt.Errorf("transform %q is not understood", text)
		}
		args = strings.NewReplacer("px", " ", "deg", " ").Replace(args)
		v, err := numbers(args)
		if err != nil {
			return m, fmt.Errorf("transform %q: %w", text, err)
		}
		rest = strings.TrimLeft(next, " \t\r\n,")
		name = strings.TrimSpace(name)
		switch {
		case name == "matrix" && len(v) == 6:
			m = m.times(matrix{v[0], v[1], v[2], v[3], v[4], v[5]})
		case name == "translate" && len(v) == 1:
			m = m.times(translate(v[0], 0))
		case name == "translate" && len(v) == 2:
			m = m.times(translate(v[0], v[1]))
		case name == "scale" && len(v) == 1:
			m = m.times(matrix{a: v[0], d: v[0]})
		case name == "scale" && len(v) == 2:
			m = m.times(matrix{a: v[0], d: v[1]})
		case name == "rotate" && (len(v) == 1 || len(v) == 3):
			sin, cos := math.Sincos(v[0] * math.Pi / 180)
			r := matrix{cos, sin, -sin, cos, 0, 0}
			if len(v) == 3 {
				r = translate(v[1], v[2]).times(r).times(translate(-v[1], -v[2]))
			}
			m = m.times(r)
		case name == "skewX" && len(v) == 1:
			m = m.times(matrix{1, 0, math.Tan(v[0] * math.Pi / 180), 1, 0, 0})
		case name == "skewY" && len(v) == 1:
			m = m.times(matrix{1, math.Tan(v[0] * math.Pi / 180), 0, 1, 0, 0})
		default:
			return m, fmt.Errorf("transform %q is not understood", text)
		}
	}
	return m, nil
}
