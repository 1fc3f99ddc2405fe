package workshop

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"hackle/quantity"
)

// layers of a DXF file: name, AutoCAD colour index and line type.
var layers = [...]struct {
	pen    Pen
	colour int
	style  string
}{
	{PenEdge, 7, "CONTINUOUS"}, {PenHidden, 8, "DASHED"}, {PenHole, 1, "CONTINUOUS"}, {PenDim, 5, "CONTINUOUS"},
	{PenGrain, 3, "CONTINUOUS"}, {PenHatch, 9, "CONTINUOUS"}, {PenOld, 8, "CONTINUOUS"}, {"TEXT", 7, "CONTINUOUS"},
}

// DXF writes the drawing at full size, in millimetres or inches, as an ASCII
// drawing interchange file of release 12 (AC1009), the plainest that every
// program for drawing and cutting reads. Each pen has its layer, so that a cutter
// can take EDGE and HOLE alone.
//
// Source: the published DXF reference, group codes of release 12 (from memory).
func (d Drawing) DXF(w io.Writer) error {
	unit := 1000.0
	if d.System == quantity.US {
		unit = 1 / 0.0254
	}
	var b bytes.Buffer
	code := func(c int, v string) { fmt.Fprintf(&b, "%3d\r\n%s\r\n", c, v) }
	num := func(c int, v float64) {
		s := strconv.FormatFloat(math.Round(v*1e6)/1e6, 'f', -1, 64)
		if !strings.Contains(s, ".") {
			s += ".0"
		}
		code(c, s)
	}
	begin := func(name string) { code(0, "SECTION"); code(2, name) }
	low, high := d.Bounds()
	begin("HEADER")
	code(9, "$ACADVER")
	code(1, "AC1009")
	code(9, "$EXTMIN")
	num(10, low.X*unit)
	num(20, low.Y*unit)
	code(9, "$EXTMAX")
	num(10, high.X*unit)
	num(20, high.Y*unit)
	code(9, "$MEASUREMENT")
	code(70, map[bool]string{true: "     0", false: "     1"}[d.System == quantity.US])
	code(0, "ENDSEC")
	begin("TABLES")
	code(0, "TABLE")
	code(2, "LTYPE")
	code(70, "     2")
	for _, l := range []struct {
		name, text string
		dashes     []float64
	}{{"CONTINUOUS", "Solid line", nil}, {"DASHED", "__ __ __", []float64{6, -3}}} {
		code(0, "LTYPE")
		code(2, l.name)
		code(70, "     0")
		code(3, l.text)
		code(72, "    65")
		code(73, fmt.Sprintf("%6d", len(l.dashes)))
		total := 0.0
		for _, x := range l.dashes {
			total += math.Abs(x)
		}
		num(40, total*unit/1000)
		for _, x := range l.dashes {
			num(49, x*unit/1000)
		}
	}
	code(0, "ENDTAB")
	code(0, "TABLE")
	code(2, "LAYER")
	code(70, fmt.Sprintf("%6d", len(layers)))
	for _, l := range layers {
		code(0, "LAYER")
		code(2, string(l.pen))
		code(70, "     0")
		code(62, fmt.Sprintf("%6d", l.colour))
		code(6, l.style)
	}
	code(0, "ENDTAB")
	code(0, "ENDSEC")
	begin("ENTITIES")
	for _, p := range d.Paths {
		pts := p.Points
		if !p.Closed && len(pts) == 2 {
			code(0, "LINE")
			code(8, string(p.Pen))
			num(10, pts[0].X*unit)
			num(20, pts[0].Y*unit)
			num(11, pts[1].X*unit)
			num(21, pts[1].Y*unit)
			continue
		}
		code(0, "POLYLINE")
		code(8, string(p.Pen))
		code(66, "     1")
		num(10, 0)
		num(20, 0)
		num(30, 0)
		closed := "     0"
		if p.Closed {
			closed = "     1"
		}
		code(70, closed)
		for _, c := range pts {
			code(0, "VERTEX")
			code(8, string(p.Pen))
			num(10, c.X*unit)
			num(20, c.Y*unit)
		}
		code(0, "SEQEND")
		code(8, string(p.Pen))
	}
	for _, r := range d.Rings {
		code(0, "CIRCLE")
		code(8, string(r.Pen))
		num(10, r.At.X*unit)
		num(20, r.At.Y*unit)
		num(40, r.Radius*unit)
	}
	for _, l := range d.Labels {
		code(0, "TEXT")
		code(8, "TEXT")
		num(10, l.At.X*unit)
		num(20, l.At.Y*unit)
		num(40, l.Height*d.Scale*unit)
		code(1, plainText(l.Text))
		if l.Turn != 0 {
			num(50, l.Turn)
		}
		if l.Align >= 0 {
			code(72, map[int]string{0: "     1", 1: "     2"}[l.Align])
			num(11, l.At.X*unit)
			num(21, l.At.Y*unit)
		}
	}
	code(0, "ENDSEC")
	code(0, "EOF")
	_, err := w.Write(b.Bytes())
	return err
}

// plainText is text in the characters of release 12: ASCII, the degree sign by
// its code.
func plainText(s string) string {
	s = strings.NewReplacer("×", "x", "°", "%%d", "²", "2", "³", "3", "–", "-", "−", "-", "½", "1/2").Replace(s)
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '\n' || r == '\r':
			b.WriteByte(' ')
		case r < 32 || r > 126:
			b.WriteByte('?')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
