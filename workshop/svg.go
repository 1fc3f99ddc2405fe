package workshop

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"strconv"
)

// stroke of a pen on paper: width [mm], dashes and colour.
type stroke struct {
	width  float64
	dash   string
	colour string
	dashes []float64 // [mm]
	rgb    [3]int
}

func (p Pen) stroke() stroke {
	switch p {
	case PenHidden:
		return stroke{0.25, "2 1.2", "#333", []float64{2, 1.2}, [3]int{51, 51, 51}}
	case PenHole:
		return stroke{0.35, "", "#8a3b12", nil, [3]int{138, 59, 18}}
	case PenDim:
		return stroke{0.13, "", "#555", nil, [3]int{85, 85, 85}}
	case PenGrain:
		return stroke{0.18, "", "#777", nil, [3]int{119, 119, 119}}
	case PenHatch:
		return stroke{0.1, "", "#aaa", nil, [3]int{170, 170, 170}}
	case PenOld:
		return stroke{0.13, "", "#888", nil, [3]int{136, 136, 136}}
	}
	return stroke{0.4, "", "#111", nil, [3]int{17, 17, 17}}
}

// number formats millimetres for SVG: two decimals, none that say nothing.
func number(v float64) string {
	s := strconv.FormatFloat(v, 'f', 2, 64)
	for len(s) > 1 && s[len(s)-1] == '0' {
		s = s[:len(s)-1]
	}
	if s[len(s)-1] == '.' {
		s = s[:len(s)-1]
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// SVG writes the drawing to scale: width and height are in millimetres of paper.
func (d Drawing) SVG(w io.Writer) error {
	low, high := d.Bounds()
	k := 1000 / d.Scale // metres to millimetres of paper
	pad := 1000 * margin
	wide, tall := (high.X-low.X)*k+2*pad, (high.Y-low.Y)*k+2*pad+6
	x := func(v float64) string { return number((v-low.X)*k + pad) }
	y := func(v float64) string { return number((high.Y-v)*k + pad) }
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="0 0 %s %s" role="img" aria-label="%s">`+"\n", number(wide), number(tall), number(wide), number(tall), html.EscapeString(d.Title))
	fmt.Fprintf(&b, "<title>%s</title>\n", html.EscapeString(d.Title))
	fmt.Fprintf(&b, `<rect width="%s" height="%s" fill="#fff"/>`+"\n", number(wide), number(tall))
	for _, p := range d.Paths {
		s := p.Pen.stroke()
		dash := ""
		if s.dash != "" {
			dash = ` stroke-dasharray="` + s.dash + `"`
		}
		var path bytes.Buffer
		for i, c := range p.Points {
			if i == 0 {
				path.WriteString("M")
			} else {
				path.WriteString("L")
			}
			path.WriteString(x(c.X) + " " + y(c.Y))
		}
		if p.Closed {
			path.WriteString("Z")
		}
		fmt.Fprintf(&b, `<path d="%s" fill="none" stroke="%s" stroke-width="%s"%s/>`+"\n", path.String(), s.colour, number(s.width), dash)
	}
	for _, r := range d.Rings {
		s := r.Pen.stroke()
		fmt.Fprintf(&b, `<circle cx="%s" cy="%s" r="%s" fill="none" stroke="%s" stroke-width="%s"/>`+"\n", x(r.At.X), y(r.At.Y), number(r.Radius*k), s.colour, number(s.width))
	}
	for _, l := range d.Labels {
		anchor := map[int]string{-1: "start", 0: "middle", 1: "end"}[l.Align]
		turn := ""
		if l.Turn != 0 {
			turn = fmt.Sprintf(` transform="rotate(%s %s %s)"`, number(-l.Turn), x(l.At.X), y(l.At.Y))
		}
		fmt.Fprintf(&b, `<text x="%s" y="%s" font-size="%s" font-family="sans-serif" text-anchor="%s" fill="#111"%s>%s</text>`+"\n", x(l.At.X), y(l.At.Y), number(1000*l.Height), anchor, turn, html.EscapeString(l.Text))
	}
	fmt.Fprintf(&b, `<text x="%s" y="%s" font-size="2.6" font-family="sans-serif" fill="#444">%s</text>`+"\n</svg>\n", number(pad), number(tall-2.5), html.EscapeString(d.Note))
	_, err := w.Write(b.Bytes())
	return err
}
