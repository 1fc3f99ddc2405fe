package raster

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

func drawn(t *testing.T, svg string, width int) *image.RGBA {
	t.Helper()
	img, err := Draw([]byte(svg), width)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

func wrapped(body string) string {
	return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100" width="100" height="100">` + body + `</svg>`
}

// TestAgainstLibrsvg holds every kind of shape, paint and clip against the
// picture that librsvg 2.54.7 (rsvg-convert -w 400) made of the same file. The
// two smooth edges differently, so that pixels on edges may stray; whole parts
// that are missing or misplaced would not pass.
func TestAgainstLibrsvg(t *testing.T) {
	svg, err := os.ReadFile("testdata/features.svg")
	if err != nil {
		t.Fatal(err)
	}
	file, err := os.Open("testdata/features.png")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	reference, err := png.Decode(file)
	if err != nil {
		t.Fatal(err)
	}
	got := drawn(t, string(svg), 400)
	if got.Bounds() != reference.Bounds() {
		t.Fatalf("%v, librsvg %v", got.Bounds(), reference.Bounds())
	}
	var sum float64
	far := 0
	b := got.Bounds()
	side := image.NewRGBA(image.Rect(0, 0, 3*b.Dx(), b.Dy()))
	for y := range b.Dy() {
		for x := range b.Dx() {
			r1, g1, b1, _ := got.At(x, y).RGBA()
			r2, g2, b2, _ := reference.At(x, y).RGBA()
			off := 0.0
			for _, p := range [][2]uint32{{r1, r2}, {g1, g2}, {b1, b2}} {
				off = max(off, math.Abs(float64(p[0])-float64(p[1]))/257)
			}
			sum += off
			if off > 64 {
				far++
			}
			side.Set(x, y, got.At(x, y))
			side.Set(x+b.Dx(), y, reference.At(x, y))
			side.Set(x+2*b.Dx(), y, color.Gray{uint8(min(off*3, 255))})
		}
	}
	mean := sum / float64(b.Dx()*b.Dy())
	t.Logf("mean difference %.3f of 255, %d of %d pixels off by more than a quarter", mean, far, b.Dx()*b.Dy())
	if mean > 0.5 || far > 5 {
		t.Errorf("mean difference %.3f of 255 (want at most 0.5), %d pixels off by more than a quarter (want at most 5)", mean, far)
	}
	if dir := os.Getenv("RASTER_SIDE_BY_SIDE"); dir != "" {
		var out bytes.Buffer
		if err := png.Encode(&out, side); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "side.png"), out.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// TestTextAgainstFontLibrary holds a word against the same word set by the
// drawer of golang.org/x/image/font.
func TestTextAgainstFontLibrary(t *testing.T) {
	const word = "Brood nest 34.5 °C − ±½ äöå Ж → ≤"
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		t.Fatal(err)
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: 20, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		t.Fatal(err)
	}
	want := image.NewRGBA(image.Rect(0, 0, 400, 40))
	draw.Draw(want, want.Bounds(), image.White, image.Point{}, draw.Src)
	d := font.Drawer{Dst: want, Src: image.Black, Face: face, Dot: fixed.P(10, 28)}
	d.DrawString(word)
	got := drawn(t, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 40"><rect width="400" height="40" fill="white"/><text x="10" y="28" font-size="20">`+word+`</text></svg>`, 400)
	var ink, inkWant, off float64
	for i := 0; i < len(got.Pix); i += 4 {
		ink += 1 - float64(got.Pix[i])/255
		inkWant += 1 - float64(want.Pix[i])/255
		off += math.Abs(float64(got.Pix[i])-float64(want.Pix[i])) / 255
	}
	t.Logf("ink %.1f pixels, font library %.1f, apart %.1f", ink, inkWant, off)
	if inkWant < 500 || math.Abs(ink-inkWant) > 0.02*inkWant || off > 0.12*inkWant {
		t.Errorf("ink %.1f pixels, font library %.1f, apart %.1f", ink, inkWant, off)
	}
}

// inked is the box of what is darker than a middle grey.
func inked(img *image.RGBA) image.Rectangle {
	var out image.Rectangle
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			if img.RGBAAt(x, y).A > 127 {
				out = out.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return out
}

func TestTextIsPlaced(t *testing.T) {
	start := inked(drawn(t, wrapped(`<text x="50" y="50" font-size="10">Honey</text>`), 1000))
	middle := inked(drawn(t, wrapped(`<text x="50" y="50" font-size="10" text-anchor="middle">Honey</text>`), 1000))
	end := inked(drawn(t, wrapped(`<text x="50" y="50" font-size="10" text-anchor="end"> Honey </text>`), 1000))
	if start.Min.X < 500 || start.Min.X > 520 {
		t.Errorf("text at 500 begins at %d", start.Min.X)
	}
	if c := (middle.Min.X + middle.Max.X) / 2; c < 490 || c > 510 {
		t.Errorf("text in the middle of 500 has its middle at %d", c)
	}
	if end.Max.X > 500 || end.Max.X < 480 {
		t.Errorf("text that ends at 500 ends at %d", end.Max.X)
	}
	one := inked(drawn(t, wrapped(`<text x="10" y="50" font-size="10">One <tspan font-weight="bold">two</tspan></text>`), 1000))
	two := inked(drawn(t, wrapped(`<text x="10" y="50" font-size="10">One</text>`), 1000))
	if one.Max.X <= two.Max.X+100 {
		t.Errorf("a tspan goes on after its text: ends at %d, without it at %d", one.Max.X, two.Max.X)
	}
	lines := inked(drawn(t, wrapped(`<text font-size="10"><tspan x="10" y="20">A</tspan><tspan x="10" dy="30">A</tspan></text>`), 1000))
	if lines.Dy() < 350 {
		t.Errorf("two lines 300 apart are %d high together", lines.Dy())
	}
}

func TestColoursAndCover(t *testing.T) {
	for _, c := range []struct {
		name, body string
		want       color.RGBA
	}{
		{"class", `<style>.a{fill:#102030}</style><rect class="b a" width="100" height="100"/>`, color.RGBA{16, 32, 48, 255}},
		{"id over class", `<style>#i{fill:#102030}.a{fill:red}</style><rect id="i" class="a" width="100" height="100"/>`, color.RGBA{16, 32, 48, 255}},
		{"own style over all", `<style>#i{fill:red}</style><rect id="i" style="fill:#102030" width="100" height="100"/>`, color.RGBA{16, 32, 48, 255}},
		{"sheet over attribute", `<style>rect{fill:#102030}</style><rect fill="red" width="100" height="100"/>`, color.RGBA{16, 32, 48, 255}},
		{"media passed over", `<style>rect{fill:#102030}@media (prefers-color-scheme:dark){rect{fill:red}}</style><rect width="100" height="100"/>`, color.RGBA{16, 32, 48, 255}},
		{"variable", `<style>:root{--ink:#102030}rect{fill:var(--ink,red)}</style><rect width="100" height="100"/>`, color.RGBA{16, 32, 48, 255}},
		{"variable without", `<rect fill="var(--none, #102030)" width="100" height="100"/>`, color.RGBA{16, 32, 48, 255}},
		{"current colour", `<g color="#102030"><rect fill="currentColor" width="100" height="100"/></g>`, color.RGBA{16, 32, 48, 255}},
		{"inherited", `<g fill="#102030"><g><rect width="100" height="100"/></g></g>`, color.RGBA{16, 32, 48, 255}},
		{"half over white", `<rect width="100" height="100" fill="#fff"/><rect width="100" height="100" fill-opacity=".5"/>`, color.RGBA{128, 128, 128, 255}},
		{"group of two at half", `<rect width="100" height="100" fill="#fff"/><g opacity="50%"><rect width="100" height="100" fill="red"/><rect width="100" height="100"/></g>`, color.RGBA{128, 128, 128, 255}},
		{"hsl", `<rect fill="hsl(120 100% 25%)" width="100" height="100"/>`, color.RGBA{0, 128, 0, 255}},
		{"named", `<rect fill="RebeccaPurple" width="100" height="100"/>`, color.RGBA{0, 0, 0, 0}},
		{"hidden", `<rect visibility="hidden" width="100" height="100"/><rect display="none" width="100" height="100"/>`, color.RGBA{}},
		{"child and descendant", `<style>g rect{fill:red}g>g>rect{fill:#102030}svg>rect{fill:blue}</style><g><g><rect width="100" height="100"/></g></g>`, color.RGBA{16, 32, 48, 255}},
	} {
		img, err := Draw([]byte(wrapped(c.body)), 20)
		if c.name == "named" { // not in the table of SVG 1.1
			if err == nil || !strings.Contains(err.Error(), "RebeccaPurple") {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if got := img.RGBAAt(10, 10); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// TestCoverIsExact sums the ink of shapes whose area is known.
func TestCoverIsExact(t *testing.T) {
	for _, c := range []struct {
		name, body string
		area, by   float64 // of 100 × 100; allowed
	}{
		{"box between pixels", `<rect x="10.3" y="20.25" width="40.5" height="30.5"/>`, 40.5 * 30.5, 0.3},
		{"circle", `<circle cx="50" cy="50" r="30"/>`, math.Pi * 900, 2},
		{"ring", `<circle cx="50" cy="50" r="30" fill="none" stroke="black" stroke-width="4"/>`, math.Pi * (32*32 - 28*28), 3},
		{"triangle", `<path d="M10 10H90L50 90z"/>`, 3200, 1},
		{"even-odd", `<path fill-rule="evenodd" d="M10 10h80v80h-80zM30 30h40v40h-40z"/>`, 4800, 0.5},
		{"winding", `<path d="M10 10h80v80h-80zM30 30h40v40h-40z"/>`, 6400, 0.5},
		{"hairline", `<path d="M10 50.5H90" stroke="black" stroke-width=".25"/>`, 20, 1.5},
		{"dashes", `<path d="M10 50H90" stroke="black" stroke-width="2" stroke-dasharray="10 10"/>`, 80, 2},
		{"square caps", `<path d="M20 50H80" stroke="black" stroke-width="10" stroke-linecap="square"/>`, 700, 2},
		{"clipped", `<clipPath id="c"><rect x="20" y="20" width="20" height="20"/></clipPath><rect clip-path="url(#c)" width="100" height="100"/>`, 400, 0.5},
		{"pattern", `<pattern id="p" width="10" height="10" patternUnits="userSpaceOnUse"><rect width="5" height="10"/></pattern><rect fill="url(#p)" width="100" height="100"/>`, 5000, 15},
	} {
		img := drawn(t, wrapped(c.body), 100)
		sum := 0.0
		for i := 3; i < len(img.Pix); i += 4 {
			sum += float64(img.Pix[i]) / 255
		}
		if math.Abs(sum-c.area) > c.by {
			t.Errorf("%s: area %.2f, want %.2f", c.name, sum, c.area)
		}
	}
}

func TestSizes(t *testing.T) {
	for _, c := range []struct {
		svg   string
		width int
		w, h  int
	}{
		{`<svg viewBox="0 0 30 20"/>`, 0, 30, 20},
		{`<svg viewBox="0 0 30 20"/>`, 300, 300, 200},
		{`<svg width="60" height="40"/>`, 0, 60, 40},
		{`<svg width="1in" height="0.5in" viewBox="0 0 2 1"/>`, 0, 96, 48},
		{`<svg width="100%" viewBox="0 0 30 20"/>`, 0, 30, 20},
	} {
		img := drawn(t, c.svg, c.width)
		if img.Rect.Dx() != c.w || img.Rect.Dy() != c.h {
			t.Errorf("%s at %d: %v, want %d by %d", c.svg, c.width, img.Rect, c.w, c.h)
		}
	}
}

func TestWhatCannotBeDrawnIsRefused(t *testing.T) {
	for _, c := range []struct{ svg, says string }{
		{"", "not an SVG"},
		{"<html/>", "not an SVG"},
		{"<svg", "XML"},
		{"<svg/>", "no size"},
		{`<svg viewBox="0 0 0 1"/>`, "viewBox"},
		{`<svg width="-3" height="1"/>`, "above 0"},
		{wrapped(`<image href="a.png"/>`), "image"},
		{wrapped(`<foreignObject/>`), "foreignObject"},
		{wrapped(`<g filter="url(#f)"/>`), "filter"},
		{wrapped(`<g mask="url(#f)"/>`), "mask"},
		{wrapped(`<rect fill="url(#nothing)" width="1" height="1"/>`), "nothing"},
		{wrapped(`<rect fill="mauvish" width="1" height="1"/>`), "mauvish"},
		{wrapped(`<path d="M0 0 L 1"/>`), "number is wanted"},
		{wrapped(`<path d="L1 1"/>`), "instead of M"},
		{wrapped(`<rect width="3 apples" height="1"/>`), "apples"},
		{wrapped(`<use href="#none"/>`), "none"},
		{wrapped(`<g id="a"><use href="#a"/></g>`), "uses itself"},
		{wrapped(`<text><textPath>a</textPath></text>`), "textPath"},
		{wrapped(`<style>rect{fill</style>`), "does not end"},
		{wrapped(`<style>rect:nth-child(2){blend:red}</style><rect style="blend:red" width="1" height="1"/>`), "blend"},
		{wrapped(`<rect width="1e9" height="1e9"/>`), "bounds"},
		{`<svg viewBox="0 0 1 1000000"/>`, "larger"},
	} {
		_, err := Draw([]byte(c.svg), 100)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want an error that says %q", c.svg, err, c.says)
		}
	}
	if _, err := Draw([]byte(`<svg viewBox="0 0 1 1"/>`), -1); err == nil {
		t.Error("a width of -1 is drawn")
	}
}

func TestPNGIsTheSameEachTime(t *testing.T) {
	svg, err := os.ReadFile("testdata/features.svg")
	if err != nil {
		t.Fatal(err)
	}
	var a, b bytes.Buffer
	if err := PNG(&a, svg, 200); err != nil {
		t.Fatal(err)
	}
	if err := PNG(&b, svg, 200); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("two pictures of one file differ")
	}
	img, err := png.Decode(&a)
	if err != nil || img.Bounds().Dx() != 200 || img.Bounds().Dy() != 150 {
		t.Errorf("%v %v", img.Bounds(), err)
	}
}

func FuzzDraw(f *testing.F) {
	svg, err := os.ReadFile("testdata/features.svg")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(svg)
	f.Add([]byte(wrapped(`<text x="1" y="20" font="italic bold 12px/1.2 serif">a<tspan dy="1em">b</tspan></text>`)))
	f.Add([]byte(wrapped(`<path d="M1-2.5.5e1a1 1 0 01.5.5zm1 1h-1v1s1 1 2 2t1 1"/>`)))
	f.Fuzz(func(t *testing.T, svg []byte) {
		img, err := Draw(svg, 40)
		if err == nil && (img == nil || img.Rect.Dx() != 40) {
			t.Error("neither a picture nor an error")
		}
	})
}
