package raster

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
)

// MostPixels is the largest picture that is drawn: width times height.
const MostPixels = 64_000_000

// PNG draws an SVG picture as a PNG so many pixels wide; 0 takes the width that
// the picture itself asks for. The height follows from the picture's shape. The
// same input gives the same bytes.
//
// Understood are svg, g, a, defs, symbol, use, path, rect, circle, ellipse, line,
// polyline, polygon, text, tspan, linearGradient, radialGradient, pattern,
// clipPath and marker; presentation attributes, style attributes and style
// elements whose selectors are types, classes, identifiers and their descendants
// or children, with var(). Blocks behind @media and other at-rules are passed
// over: a PNG has no dark theme. Lengths are plain numbers, px, pt, mm, cm or in, and
// in places percent. Family names choose between a sans and a monospaced face;
// bold and italic are followed. A stroke under a skewed or unevenly scaled
// coordinate system is drawn with its mean width.
//
// Anything else that would be seen – filters, masks, pictures in the picture,
// text on a path – is an error that names the element, as are a picture without
// a size, one over MostPixels, and a fault of w.
func PNG(w io.Writer, svg []byte, width int) error {
	img, err := Draw(svg, width)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.DefaultCompression}
	if err := encoder.Encode(&b, img); err != nil {
		return fmt.Errorf("raster: %w", err)
	}
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("raster: %w", err)
	}
	return nil
}

// Draw is PNG before it is packed: the picture as pixels, on a clear ground.
func Draw(svg []byte, width int) (*image.RGBA, error) {
	root, sheet, err := parse(svg)
	if err != nil {
		return nil, fmt.Errorf("raster: %w", err)
	}
	box, hasBox, err := viewBox(root)
	if err != nil {
		return nil, fmt.Errorf("raster: %w", err)
	}
	across, err := pictureSide(root, "width", box.w, hasBox)
	if err != nil {
		return nil, fmt.Errorf("raster: %w", err)
	}
	down, err := pictureSide(root, "height", box.h, hasBox)
	if err != nil {
		return nil, fmt.Errorf("raster: %w", err)
	}
	if !hasBox {
		box = rect{0, 0, across, down}
	}
	if width < 0 {
		return nil, fmt.Errorf("raster: a width of %d pixels", width)
	}
	if width == 0 {
		width = max(int(math.Ceil(across-1e-6)), 1)
	}
	height := max(int(math.Ceil(float64(width)*down/across-1e-6)), 1)
	if float64(width)*float64(height) > MostPixels {
		return nil, fmt.Errorf("raster: a picture of %d by %d pixels is larger than the %d million that are drawn", width, height, MostPixels/1_000_000)
	}
	p := &painter{sheet: sheet, byID: map[string]*node{}, view: box}
	p.index(root)
	c := canvas{img: image.NewRGBA(image.Rect(0, 0, width, height))}
	start := initialStyle()
	// Whole pixels are made by a stretch of less than one, not by a bare edge.
	m := matrix{a: float64(width) / across, d: float64(height) / down}.times(fit(box, rect{0, 0, across, down}, root.attr["preserveAspectRatio"]))
	st, err := p.styleOf(root, start)
	if err != nil {
		return nil, fmt.Errorf("raster: %w", err)
	}
	if err := p.children(&c, root, st, m); err != nil {
		return nil, fmt.Errorf("raster: %w", err)
	}
	return c.img, nil
}

func pictureSide(root *node, name string, of float64, hasBox bool) (float64, error) {
	text := root.attr[name]
	if text == "" || text[len(text)-1] == '%' || text == "auto" {
		if !hasBox {
			return 0, fmt.Errorf("the svg element has neither %s nor viewBox: the picture has no size", name)
		}
		return of, nil
	}
	v, err := length(text, of)
	if err != nil {
		return 0, fmt.Errorf("svg %s: %w", name, err)
	}
	if !(v > 0) {
		return 0, fmt.Errorf("svg %s is %q; it must be above 0", name, text)
	}
	return v, nil
}

type rect struct{ x, y, w, h float64 }

// matrix maps (x, y) to (a x + c y + e, b x + d y + f), as SVG writes it.
type matrix struct{ a, b, c, d, e, f float64 }

var identity = matrix{a: 1, d: 1}

// times applies n first, then m.
func (m matrix) times(n matrix) matrix {
	return matrix{
		m.a*n.a + m.c*n.b, m.b*n.a + m.d*n.b,
		m.a*n.c + m.c*n.d, m.b*n.c + m.d*n.d,
		m.a*n.e + m.c*n.f + m.e, m.b*n.e + m.d*n.f + m.f,
	}
}

func (m matrix) at(x, y float64) (float64, float64) {
	return m.a*x + m.c*y + m.e, m.b*x + m.d*y + m.f
}

func (m matrix) det() float64 { return m.a*m.d - m.b*m.c }

// scale is the mean magnification.
func (m matrix) scale() float64 { return math.Sqrt(math.Abs(m.det())) }

func (m matrix) inverse() (matrix, bool) {
	det := m.det()
	if det == 0 || math.IsNaN(det) || math.IsInf(det, 0) {
		return identity, false
	}
	return matrix{m.d / det, -m.b / det, -m.c / det, m.a / det,
		(m.c*m.f - m.d*m.e) / det, (m.b*m.e - m.a*m.f) / det}, true
}

func translate(x, y float64) matrix { return matrix{1, 0, 0, 1, x, y} }

// fit places a view box into a frame, whole and in the middle unless align says
// "none".
func fit(box, frame rect, align string) matrix {
	sx, sy := frame.w/box.w, frame.h/box.h
	if align == "none" {
		return matrix{sx, 0, 0, sy, frame.x - box.x*sx, frame.y - box.y*sy}
	}
	s := min(sx, sy)
	return matrix{s, 0, 0, s, frame.x + (frame.w-box.w*s)/2 - box.x*s, frame.y + (frame.h-box.h*s)/2 - box.y*s}
}

// viewBox reads the attribute of that name.
func viewBox(n *node) (rect, bool, error) {
	text, ok := n.attr["viewBox"]
	if !ok {
		return rect{}, false, nil
	}
	v, err := numbers(text)
	if err != nil || len(v) != 4 || !(v[2] > 0) || !(v[3] > 0) {
		return rect{}, false, fmt.Errorf("%s: viewBox %q is not four numbers with a width and height above 0", n.name, text)
	}
	return rect{v[0], v[1], v[2], v[3]}, true, nil
}

// canvas is what is drawn on and through.
type canvas struct {
	img  *image.RGBA
	clip *image.Alpha // nil lets everything through
}

// blend lays a colour over one pixel with so much cover.
func blend(img *image.RGBA, at int, c color.NRGBA, cover float64) {
	a := float64(c.A) / 255 * cover
	if a <= 0 {
		return
	}
	pix := img.Pix[at : at+4 : at+4]
	for k, v := range [3]uint8{c.R, c.G, c.B} {
		pix[k] = uint8(float64(v)*a + float64(pix[k])*(1-a) + 0.5)
	}
	pix[3] = uint8(255*a + float64(pix[3])*(1-a) + 0.5)
}
