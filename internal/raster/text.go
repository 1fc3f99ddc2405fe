package raster

import (
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gobolditalic"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/gomonobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// face is a font with what reading it needs.
type face struct {
	font *sfnt.Font
	buf  sfnt.Buffer
	ppem fixed.Int26_6 // units of the em square, so that outlines come unscaled
}

// faceOf finds the font of a style and reads it once for a picture.
func (p *painter) faceOf(s *style) (*face, error) {
	isMono := strings.Contains(strings.ToLower(s.family), "mono") || strings.Contains(strings.ToLower(s.family), "courier")
	isBold := s.weight == "bold" || s.weight == "bolder"
	if v, err := strconv.Atoi(s.weight); err == nil {
		isBold = v >= 600
	}
	isSlanted := s.slant == "italic" || s.slant == "oblique"
	data, name := goregular.TTF, "regular"
	switch {
	case isMono && isBold:
		data, name = gomonobold.TTF, "mono bold"
	case isMono:
		data, name = gomono.TTF, "mono"
	case isBold && isSlanted:
		data, name = gobolditalic.TTF, "bold italic"
	case isBold:
		data, name = gobold.TTF, "bold"
	case isSlanted:
		data, name = goitalic.TTF, "italic"
	}
	if f := p.faces[name]; f != nil {
		return f, nil
	}
	font, err := sfnt.Parse(data)
	if err != nil {
		return nil, fmt.Errorf("text: %w", err)
	}
	f := &face{font: font, ppem: fixed.Int26_6(font.UnitsPerEm()) << 6}
	if p.faces == nil {
		p.faces = map[string]*face{}
	}
	p.faces[name] = f
	return f, nil
}

// glyph is one letter placed on its line.
type glyph struct {
	path  path // in user units, from where the pen stood
	wide  float64
	style style
	x, y  float64
	chunk int // letters of one chunk are anchored together
}

// layOut walks the text of an element and places its letters.
type layOut struct {
	p        *painter
	x, y     float64
	chunk    int
	glyphs   []glyph
	hasSpace bool // the last letter was a space, or none was yet
}

func (l *layOut) run(text string, s style) error {
	f, err := l.p.faceOf(&s)
	if err != nil {
		return err
	}
	scale := s.size / float64(f.font.UnitsPerEm())
	rise := 0.0
	switch s.baseline {
	case "middle", "central":
		rise = 0.35 * s.size // about half the height of capitals and of an x
	case "hanging", "text-before-edge", "text-top":
		rise = 0.75 * s.size
	case "text-after-edge", "ideographic", "text-bottom":
		rise = -0.21 * s.size
	}
	var before sfnt.GlyphIndex
	for _, r := range text {
		if r == '\n' || r == '\t' || r == '\r' {
			r = ' '
		}
		if r == ' ' && !s.keepsSpace {
			if l.hasSpace {
				continue
			}
			l.hasSpace = true
		} else {
			l.hasSpace = false
		}
		if r == '\u00a0' || r == '\u202f' || r == '\u2009' || r == '\u2007' {
			r = ' ' // the fonts have one width of space
		}
		index, err := f.font.GlyphIndex(&f.buf, r)
		if err != nil {
			return fmt.Errorf("text: %w", err)
		}
		if before != 0 {
			if kern, err := f.font.Kern(&f.buf, before, index, f.ppem, font.HintingNone); err == nil {
				l.x += float64(kern) / 64 * scale
			}
		}
		before = index
		g := glyph{style: s, x: l.x, y: l.y + rise + s.shift, chunk: l.chunk}
		segments, err := f.font.LoadGlyph(&f.buf, index, f.ppem, nil)
		if err != nil {
			return fmt.Errorf("text: the letter %q: %w", r, err)
		}
		at := func(q fixed.Point26_6) (float64, float64) {
			return float64(q.X) / 64 * scale, float64(q.Y) / 64 * scale
		}
		var px, py float64
		for _, sg := range segments {
			ax, ay := at(sg.Args[0])
			switch sg.Op {
			case sfnt.SegmentOpMoveTo:
				if len(g.path) > 0 {
					g.path.close()
				}
				g.path.move(ax, ay)
				px, py = ax, ay
			case sfnt.SegmentOpLineTo:
				g.path.line(ax, ay)
				px, py = ax, ay
			case sfnt.SegmentOpQuadTo:
				bx, by := at(sg.Args[1])
				g.path.quad(px, py, ax, ay, bx, by)
				px, py = bx, by
			case sfnt.SegmentOpCubeTo:
				bx, by := at(sg.Args[1])
				cx, cy := at(sg.Args[2])
				g.path.cube(ax, ay, bx, by, cx, cy)
				px, py = cx, cy
			}
		}
		if len(g.path) > 0 {
			g.path.close()
		}
		advance, err := f.font.GlyphAdvance(&f.buf, index, f.ppem, font.HintingNone)
		if err != nil {
			return fmt.Errorf("text: the letter %q: %w", r, err)
		}
		g.wide = float64(advance)/64*scale + s.spacing
		l.x += g.wide
		l.glyphs = append(l.glyphs, g)
	}
	return nil
}

// place moves the pen as an element asks.
func (l *layOut) place(n *node, s *style) error {
	view := l.p.view
	for _, a := range []struct {
		name  string
		to    *float64
		whole float64
		isAbs bool
	}{{"x", &l.x, view.w, true}, {"y", &l.y, view.h, true}, {"dx", &l.x, view.w, false}, {"dy", &l.y, view.h, false}} {
		text, ok := n.attr[a.name]
		if !ok {
			continue
		}
		fields := strings.Fields(strings.ReplaceAll(text, ",", " "))
		if len(fields) != 1 {
			return fmt.Errorf("%s: %s is %q; one number is drawn, not a list", n.name, a.name, text)
		}
		v, err := s.length(fields[0], a.whole)
		if err != nil {
			return fmt.Errorf("%s: %s: %w", n.name, a.name, err)
		}
		if a.isAbs {
			*a.to = v
			l.chunk++
			l.hasSpace = true
		} else {
			*a.to += v
		}
	}
	return nil
}

func (l *layOut) walk(n *node, s style) error {
	for _, name := range []string{"rotate", "textLength"} {
		if _, ok := n.attr[name]; ok {
			return fmt.Errorf("%s: %s cannot be drawn", n.name, name)
		}
	}
	if err := l.place(n, &s); err != nil {
		return err
	}
	for _, c := range n.children {
		switch c.name {
		case "":
			if err := l.run(c.text, s); err != nil {
				return err
			}
		case "tspan", "a":
			st, err := l.p.styleOf(c, s)
			if err != nil {
				return err
			}
			if st.isAbsent {
				continue
			}
			if err := l.walk(c, st); err != nil {
				return err
			}
		case "title", "desc":
		default:
			return fmt.Errorf("%s inside text cannot be drawn", c.name)
		}
	}
	return nil
}

// text draws a text element.
func (p *painter) text(c *canvas, n *node, s style, m matrix) error {
	l := &layOut{p: p, hasSpace: true}
	if err := l.walk(n, s); err != nil {
		return err
	}
	for from := 0; from < len(l.glyphs); {
		to := from
		for to < len(l.glyphs) && l.glyphs[to].chunk == l.glyphs[from].chunk {
			to++
		}
		chunk := l.glyphs[from:to]
		from = to
		last := len(chunk) - 1
		if !chunk[last].style.keepsSpace { // a space at the end takes no room
			for last > 0 && len(chunk[last].path) == 0 {
				last--
			}
		}
		wide := chunk[last].x + chunk[last].wide - chunk[0].x
		back := 0.0
		switch chunk[0].style.anchor {
		case "middle":
			back = wide / 2
		case "end":
			back = wide
		}
		for i := range chunk {
			g := &chunk[i]
			if len(g.path) == 0 || g.style.isHidden {
				continue
			}
			if err := p.shape(c, g.path.through(translate(g.x-back, g.y)), &g.style, m); err != nil {
				return err
			}
		}
	}
	return nil
}
