package workshop

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"time"

	"github.com/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/goregular"
)

// Paper is a size of sheet.
type Paper struct {
	Name          string
	Width, Height float64 // upright [m]
}

// Papers that a home printer takes.
var (
	A4     = Paper{"A4", 0.210, 0.297}
	Letter = Paper{"Letter", 0.2159, 0.2794}
)

const pageMargin = 0.010 // [m]

// newPDF begins a document without anything that changes from run to run.
func newPDF(title string, paper Paper) *fpdf.Fpdf {
	f := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: 1000 * paper.Width, Ht: 1000 * paper.Height}})
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	f.AddUTF8FontFromBytes("go", "", goregular.TTF)
	f.SetTitle(title, true)
	f.SetProducer("hackle", true)
	f.SetLang("en")
	f.SetCatalogSort(true)
	epoch := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	f.SetCreationDate(epoch)
	f.SetModificationDate(epoch)
	return f
}

// PDF writes drawings one below the other, each at its scale, or smaller where it
// does not fit the page, which is then said.
func PDF(w io.Writer, title string, list []Drawing, paper Paper) error {
	if len(list) == 0 {
		return fmt.Errorf("no drawing to write")
	}
	f := newPDF(title, paper)
	page := fpdf.SizeType{Wd: 1000 * paper.Width, Ht: 1000 * paper.Height}
	const side, head, foot = 1000 * pageMargin, 9.0, 14.0 // [mm]
	roomW, roomH := page.Wd-2*side, page.Ht-2*side-foot
	y := roomH + side + 1
	for _, d := range list {
		low, high := d.Bounds()
		k := 1 / d.Scale
		note := d.Note
		if fit := min(roomW/1000/(high.X-low.X), (roomH-2*head)/1000/(high.Y-low.Y)); k > fit {
			k = fit
			note = fmt.Sprintf("Not to a common scale (1:%.1f), to fit the page. %s", 1/k, d.Note)
		}
		tall := 1000*k*(high.Y-low.Y) + 2*head + 4
		if y+tall > side+roomH {
			f.AddPage()
			rule(f, page)
			y = side
		}
		f.Bookmark(d.Title, 0, y)
		f.SetFont("go", "", 10)
		f.SetTextColor(17, 17, 17)
		f.Text(side, y+4, d.Title)
		drawPDF(f, d, k, side-1000*k*low.X, y+head+1000*k*high.Y)
		f.SetFont("go", "", 7)
		f.SetTextColor(85, 85, 85)
		f.Text(side, y+tall-5, note)
		y += tall + 2
	}
	return output(f, w)
}

// rule draws a scale bar of 100 mm by which a print can be checked.
func rule(f *fpdf.Fpdf, page fpdf.SizeType) {
	x, y := page.Wd-1000*pageMargin-100, page.Ht-1000*pageMargin-2
	f.SetLineWidth(0.2)
	f.SetDashPattern(nil, 0)
	f.SetDrawColor(17, 17, 17)
	f.Line(x, y, x+100, y)
	for i := range 11 {
		h := 1.2
		if i%5 == 0 {
			h = 2
		}
		f.Line(x+10*float64(i), y, x+10*float64(i), y-h)
	}
	f.SetFont("go", "", 6)
	f.Text(x, y+3, "100 mm on paper: measure before you trust a print")
}

// Paint draws on a page of a document at k of paper per full size, in place of the
// drawing's own scale, with the upper left corner of its bounds at x, y [mm]. Texts
// are set in the family "go", which the document must have.
func (d Drawing) Paint(f *fpdf.Fpdf, k, x, y float64) {
	low, high := d.Bounds()
	drawPDF(f, d, k, x-1000*k*low.X, y+1000*k*high.Y)
}

// drawPDF draws at k of paper per full size, the origin at x0, y0 on the page. [mm]
func drawPDF(f *fpdf.Fpdf, d Drawing, k, x0, y0 float64) {
	px := func(c Corner) (float64, float64) { return x0 + 1000*k*c.X, y0 - 1000*k*c.Y }
	set := func(p Pen) {
		s := p.stroke()
		f.SetLineWidth(s.width)
		f.SetDashPattern(s.dashes, 0)
		f.SetDrawColor(s.rgb[0], s.rgb[1], s.rgb[2])
	}
	for _, p := range d.Paths {
		set(p.Pen)
		for i, c := range p.Points {
			x, y := px(c)
			if i == 0 {
				f.MoveTo(x, y)
			} else {
				f.LineTo(x, y)
			}
		}
		if p.Closed {
			f.ClosePath()
		}
		f.DrawPath("D")
	}
	for _, r := range d.Rings {
		set(r.Pen)
		x, y := px(r.At)
		f.Circle(x, y, 1000*k*r.Radius, "D")
	}
	f.SetDashPattern(nil, 0)
	f.SetTextColor(17, 17, 17)
	for _, l := range d.Labels {
		size := 1000 * l.Height * d.Scale * k * 72 / 25.4 // shrinks with a page that shrinks
		if size < 4 {
			size = 4
		}
		f.SetFont("go", "", size)
		x, y := px(l.At)
		w := f.GetStringWidth(l.Text)
		from := 0.0
		switch l.Align {
		case 0:
			from = -w / 2
		case 1:
			from = -w
		}
		if l.Turn != 0 {
			f.TransformBegin()
			f.TransformRotate(l.Turn, x, y)
			f.Text(x+from, y, l.Text)
			f.TransformEnd()
			continue
		}
		f.Text(x+from, y, l.Text)
	}
}

// overlap is what neighbouring tiles share, to glue them by. [m]
const overlap = 0.012

// mostTiles is how many pages of one drawing are written.
const mostTiles = 60

// TiledPDF writes one drawing at full size over as many pages as it takes. Pages
// overlap; crosses mark where they meet and a number says which lies where.
func TiledPDF(w io.Writer, d Drawing, paper Paper) error {
	low, high := d.Bounds()
	stepW, stepH := paper.Width-2*pageMargin-overlap, paper.Height-2*pageMargin-overlap
	// Texts stay as high on paper as they are at the small scale.
	full := d
	full.Labels = append([]Label(nil), d.Labels...)
	for i := range full.Labels {
		full.Labels[i].Height *= 1.6 / d.Scale
	}
	nx := max(1, int(math.Ceil((high.X-low.X)/stepW-1e-9)))
	ny := max(1, int(math.Ceil((high.Y-low.Y)/stepH-1e-9)))
	if nx*ny > mostTiles {
		return fmt.Errorf("%s: at full size it takes %d pages, more than %d: print it to scale, or one part of it", d.Title, nx*ny, mostTiles)
	}
	f := newPDF(d.Title+", full size", paper)
	for row := range ny {
		for col := range nx {
			f.AddPage()
			x0 := 1000 * (pageMargin - low.X - float64(col)*stepW)
			y0 := 1000 * (pageMargin + high.Y - float64(row)*stepH)
			f.ClipRect(1000*pageMargin, 1000*pageMargin, 1000*(stepW+overlap), 1000*(stepH+overlap), false)
			drawPDF(f, full, 1, x0, y0)
			f.ClipEnd()
			set := PenDim.stroke()
			f.SetDrawColor(set.rgb[0], set.rgb[1], set.rgb[2])
			f.SetLineWidth(0.15)
			for _, x := range []float64{pageMargin + overlap/2, pageMargin + stepW + overlap/2} {
				for _, y := range []float64{pageMargin + overlap/2, pageMargin + stepH + overlap/2} {
					f.Line(1000*x-4, 1000*y, 1000*x+4, 1000*y)
					f.Line(1000*x, 1000*y-4, 1000*x, 1000*y+4)
				}
			}
			f.SetFont("go", "", 7)
			f.Text(1000*pageMargin, 1000*(paper.Height-pageMargin)+4, fmt.Sprintf("%s: row %d of %d, column %d of %d. Full size; lay crosses on crosses.", d.Title, row+1, ny, col+1, nx))
			rule(f, fpdf.SizeType{Wd: 1000 * paper.Width, Ht: 1000 * paper.Height})
		}
	}
	return output(f, w)
}

func output(f *fpdf.Fpdf, w io.Writer) error {
	var b bytes.Buffer
	if err := f.Output(&b); err != nil {
		return fmt.Errorf("writing PDF: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}
