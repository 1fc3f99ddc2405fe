package report

import (
	"bytes"
	"cmp"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"slices"
	"strings"
	"sync"

	"github.com/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/goregular"

	"hackle/internal/raster"
	"hackle/workshop"
)

// Margins of a page. [mm]
const (
	side   = 18.0
	topGap = 16.0
	bottom = 18.0
)

// sheet is a PDF in the making.
type sheet struct {
	f    *fpdf.Fpdf
	wide float64 // of the text [mm]
	tall float64 // of the page [mm]
	y    float64
	pics int
}

// PDF writes the report for paper.
func (r Report) PDF(w io.Writer, paper workshop.Paper) error {
	c, err := r.content()
	if err != nil {
		return err
	}
	f := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: 1000 * paper.Width, Ht: 1000 * paper.Height}})
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(side, topGap, side)
	f.SetCompression(true)
	f.AddUTF8FontFromBytes("go", "", goregular.TTF)
	f.AddUTF8FontFromBytes("go", "B", gobold.TTF)
	f.AddUTF8FontFromBytes("go", "I", goitalic.TTF)
	f.SetTitle(r.name(), true)
	f.SetSubject("hackle report", true)
	f.SetProducer("hackle", true)
	f.SetLang("en")
	f.SetCatalogSort(true)
	f.SetCreationDate(r.Made)
	f.SetModificationDate(r.Made)
	f.AliasNbPages("{pages}")
	f.SetFooterFunc(func() {
		f.SetFont("go", "", 7.5)
		f.SetTextColor(soft[0], soft[1], soft[2])
		f.Text(side, 1000*paper.Height-9, r.name()+", "+r.Made.Format("2 January 2006"))
		number := fmt.Sprintf("%d / {pages}", f.PageNo())
		f.Text(1000*paper.Width-side-f.GetStringWidth(fmt.Sprintf("%d / 00", f.PageNo())), 1000*paper.Height-9, number)
	})
	s := &sheet{f: f, wide: 1000*paper.Width - 2*side, tall: 1000 * paper.Height}
	images := drawn(c.blocks)
	s.page()
	k := 0
	for i, x := range c.blocks {
		if x.kind == heading && i+1 < len(c.blocks) { // keep it with the picture below
			switch next := c.blocks[i+1]; {
			case next.kind == picture && len(next.svgs) == 1, next.kind == drawing:
				s.room(115)
			case next.kind == figure:
				s.room(65)
			}
		}
		s.block(x, images, &k)
	}
	var b bytes.Buffer
	if err := f.Output(&b); err != nil {
		return fmt.Errorf("writing PDF: %w", err)
	}
	_, err = w.Write(b.Bytes())
	return err
}

// drawn turns the pictures into dots, side by side on the cores there are. A
// picture that cannot be drawn comes back empty.
func drawn(blocks []block) []*image.Paletted {
	type job struct {
		svg    []byte
		pixels int
	}
	var jobs []job
	for _, x := range blocks {
		if x.kind == picture {
			for _, svg := range x.svgs {
				jobs = append(jobs, job{svg, x.pixels})
			}
		}
	}
	out := make([]*image.Paletted, len(jobs))
	var wg sync.WaitGroup
	gate := make(chan struct{}, 4)
	for i, j := range jobs {
		wg.Add(1)
		go func() {
			defer wg.Done()
			gate <- struct{}{}
			defer func() { <-gate }()
			if m, err := raster.Draw(j.svg, j.pixels); err == nil {
				out[i] = fewColours(m)
			}
		}()
	}
	wg.Wait()
	return out
}

// fewColours brings a drawing down to 256 colours, which it nearly has, so that
// the file stays small: the most frequent ones of a coarse grid.
func fewColours(m *image.RGBA) *image.Paletted {
	type bucket struct{ n, r, g, b int }
	count := map[uint16]*bucket{}
	key := func(c color.RGBA) uint16 { return uint16(c.R>>3)<<10 | uint16(c.G>>3)<<5 | uint16(c.B>>3) }
	box := m.Bounds()
	over := func(c color.RGBA) color.RGBA { // on white paper
		if c.A == 255 {
			return c
		}
		a := 255 - int(c.A)
		return color.RGBA{uint8(min(255, int(c.R)+a)), uint8(min(255, int(c.G)+a)), uint8(min(255, int(c.B)+a)), 255}
	}
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			c := over(m.RGBAAt(x, y))
			q := count[key(c)]
			if q == nil {
				q = &bucket{}
				count[key(c)] = q
			}
			q.n, q.r, q.g, q.b = q.n+1, q.r+int(c.R), q.g+int(c.G), q.b+int(c.B)
		}
	}
	keys := make([]uint16, 0, len(count))
	for k := range count {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b uint16) int { return cmp.Or(count[b].n-count[a].n, int(a)-int(b)) })
	var palette color.Palette
	index := map[uint16]uint8{}
	for i, k := range keys {
		if i < 256 {
			q := count[k]
			palette = append(palette, color.RGBA{uint8(q.r / q.n), uint8(q.g / q.n), uint8(q.b / q.n), 255})
			index[k] = uint8(i)
			continue
		}
		q := count[k]
		index[k] = uint8(palette.Index(color.RGBA{uint8(q.r / q.n), uint8(q.g / q.n), uint8(q.b / q.n), 255}))
	}
	out := image.NewPaletted(box, palette)
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			out.SetColorIndex(x, y, index[key(over(m.RGBAAt(x, y)))])
		}
	}
	return out
}

func (s *sheet) page() {
	s.f.AddPage()
	s.y = topGap
}

// room begins a new page when less than h is left on this one.
func (s *sheet) room(h float64) {
	if s.y+h > s.tall-bottom {
		s.page()
	}
}

// text writes wrapped text from x on and moves down.
func (s *sheet) text(x, w, size, lead float64, style string, col colour, text string) {
	s.f.SetFont("go", style, size)
	s.f.SetTextColor(col[0], col[1], col[2])
	for _, l := range s.f.SplitText(clean(text), w) {
		s.room(lead)
		s.f.SetFont("go", style, size) // the footer of a new page sets its own
		s.f.SetTextColor(col[0], col[1], col[2])
		s.f.Text(x, s.y+lead*0.78, l)
		s.y += lead
	}
}

// clean replaces what the fonts lack.
func clean(text string) string {
	return strings.NewReplacer("\n", " ", "−", "-", "→", "to", "⅛", "1/8", "\u00a0", " ", "\u202f", " ").Replace(text)
}

func (s *sheet) block(x block, images []*image.Paletted, k *int) {
	switch x.kind {
	case heading:
		size := map[int]float64{1: 20, 2: 13, 3: 10.5}[x.level]
		gap := map[int]float64{1: 0, 2: 5, 3: 2.5}[x.level]
		s.room(gap + 22)
		s.y += gap
		if x.level == 1 && s.f.PageNo() > 1 && s.y > topGap+1 {
			s.y += 4
		}
		s.f.Bookmark(clean(x.text), x.level-1, s.y)
		s.text(side, s.wide, size, size*0.46, "B", ink, x.text)
		s.y += 1
	case lead:
		s.text(side, s.wide, 12, 5.8, "", accent, x.text)
		s.y += 1.5
	case para:
		s.text(side, s.wide, 9.5, 4.6, "", ink, x.text)
		s.y += 1.2
	case small:
		s.y += 3
		s.text(side, s.wide, 8, 4, "I", soft, x.text)
	case list:
		for _, i := range x.items {
			mark, text, indent := "·", i, 4.0
			if n, rest, ok := strings.Cut(i, ". "); ok && len(n) <= 2 && n[0] >= '0' && n[0] <= '9' {
				mark, text, indent = n+".", rest, 6
			}
			s.room(4.6)
			s.f.SetFont("go", "", 9.5)
			s.f.SetTextColor(soft[0], soft[1], soft[2])
			s.f.Text(side, s.y+3.6, mark)
			s.text(side+indent, s.wide-indent, 9.5, 4.6, "", ink, text)
		}
		s.y += 1.2
	case caution:
		for _, i := range x.items {
			s.f.SetFont("go", "", 9.5)
			lines := len(s.f.SplitText(clean(i), s.wide-6))
			s.room(4.6 * float64(lines))
			s.f.SetFillColor(accent[0], accent[1], accent[2])
			s.f.Rect(side, s.y+0.4, 0.8, 4.6*float64(lines)-0.4, "F")
			s.text(side+4, s.wide-6, 9.5, 4.6, "", ink, i)
			s.y += 0.8
		}
		s.y += 1
	case table:
		s.table(x)
	case figure:
		s.chart(x.chart)
	case picture:
		s.pictures(x, images, k)
	case drawing:
		low, high := x.drawing.Bounds()
		wide, tall := 1000*(high.X-low.X)/x.drawing.Scale, 1000*(high.Y-low.Y)/x.drawing.Scale
		shrink := min(1, s.wide/wide, 95/tall)
		s.room(tall*shrink + 9)
		x.drawing.Paint(s.f, shrink/x.drawing.Scale, side, s.y+1)
		s.f.SetDashPattern(nil, 0)
		s.y += tall*shrink + 3
		s.text(side, s.wide, 8.3, 4, "I", soft, x.text)
		s.y += 1.5
	case pageBreak:
		s.page()
	}
}

func (s *sheet) table(x block) {
	const size, lead, pad = 8.3, 3.9, 1.0
	widths := make([]float64, len(x.widths))
	for i, share := range x.widths {
		widths[i] = share * s.wide
	}
	row := func(cells []string, style string, col colour) {
		lines := make([][]string, len(cells))
		most := 1
		s.f.SetFont("go", style, size)
		for i, cell := range cells {
			lines[i] = s.f.SplitText(clean(cell), widths[i]-2)
			most = max(most, len(lines[i]))
		}
		h := float64(most)*lead + 2*pad
		s.room(h)
		s.f.SetFont("go", style, size)
		s.f.SetTextColor(col[0], col[1], col[2])
		at := side
		for i := range cells {
			for n, text := range lines[i] {
				px := at
				if i < len(x.right) && x.right[i] {
					px = at + widths[i] - 3 - s.f.GetStringWidth(text)
				}
				s.f.Text(px, s.y+pad+lead*(float64(n)+0.75), text)
			}
			at += widths[i]
		}
		s.y += h
		s.f.SetDrawColor(faint[0], faint[1], faint[2])
		s.f.SetLineWidth(0.15)
		s.f.SetDashPattern(nil, 0)
		s.f.Line(side, s.y, side+s.wide, s.y)
	}
	if strings.Join(x.head, "") != "" {
		s.room(20)
		row(x.head, "B", soft)
	}
	for _, cells := range x.rows {
		row(cells, "", ink)
	}
	s.y += 2
}

func (s *sheet) chart(c *chart) {
	pens, words := c.draw()
	if len(pens) == 0 {
		return
	}
	k := s.wide / chartWide
	s.room(chartHigh*k + 2)
	for _, p := range pens {
		s.f.SetDrawColor(p.colour[0], p.colour[1], p.colour[2])
		s.f.SetLineWidth(p.width)
		s.f.SetDashPattern(p.dashes, 0)
		for i := range p.x {
			x, y := side+k*p.x[i], s.y+k*p.y[i]
			if i == 0 {
				s.f.MoveTo(x, y)
			} else {
				s.f.LineTo(x, y)
			}
		}
		s.f.DrawPath("D")
	}
	s.f.SetDashPattern(nil, 0)
	for _, w := range words {
		style := ""
		if w.bold {
			style = "B"
		}
		s.f.SetFont("go", style, w.size*k)
		s.f.SetTextColor(ink[0], ink[1], ink[2])
		text := clean(w.text)
		x := side + k*w.x
		switch w.align {
		case 0:
			x -= s.f.GetStringWidth(text) / 2
		case 1:
			x -= s.f.GetStringWidth(text)
		}
		s.f.Text(x, s.y+k*w.y, text)
	}
	s.y += chartHigh*k + 2
}

func (s *sheet) pictures(x block, images []*image.Paletted, k *int) {
	n := float64(len(x.svgs))
	const between = 6.0
	w := (s.wide - between*(n-1)) / n
	if n == 1 && x.pixels < 800 {
		w = min(w, 105)
	}
	tallest := 0.0
	list := images[*k : *k+len(x.svgs)]
	*k += len(x.svgs)
	for _, m := range list {
		if m != nil {
			tallest = max(tallest, w*float64(m.Bounds().Dy())/float64(m.Bounds().Dx()))
		}
	}
	if most := s.tall - topGap - bottom - 26; tallest > most {
		w, tallest = w*most/tallest, most
	}
	s.f.SetFont("go", "I", 8.3)
	lines := 0
	for _, c := range x.caption {
		lines = max(lines, len(s.f.SplitText(clean(c), w)))
	}
	s.room(tallest + 4*float64(lines) + 4)
	top := s.y
	low := top
	for i, m := range list {
		if m == nil {
			continue
		}
		s.pics++
		name := fmt.Sprintf("picture %d", s.pics)
		var b bytes.Buffer
		if err := png.Encode(&b, m); err != nil {
			continue
		}
		h := w * float64(m.Bounds().Dy()) / float64(m.Bounds().Dx())
		px := side + float64(i)*(w+between)
		s.f.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "PNG"}, &b)
		s.f.ImageOptions(name, px, top, w, h, false, fpdf.ImageOptions{ImageType: "PNG"}, 0, "")
		if x.caption[i] != "" {
			s.y = top + h + 1
			s.text(px, w, 8.3, 4, "I", soft, x.caption[i])
			low = max(low, s.y)
		} else {
			low = max(low, top+h)
		}
	}
	s.y = low + 2
}
