package workshop

import (
	"bufio"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"hackle/price"
	"hackle/quantity"
)

// dxfEntity is one entity as a plain reader of the format finds it.
type dxfEntity struct {
	kind, layer string
	x, y        []float64 // of VERTEX and LINE ends
	radius      float64
	text        string
	closed      bool
}

// readDXF reads an ASCII file of release 12 by its published structure: pairs of
// group code and value, sections, tables, entities. It knows nothing of the
// writer and fails on what the format does not allow.
func readDXF(t *testing.T, data []byte) (layerNames map[string]bool, entities []dxfEntity) {
	t.Helper()
	type pair struct {
		code  int
		value string
	}
	var pairs []pair
	sc := bufio.NewScanner(bytes.NewReader(data))
	for sc.Scan() {
		code, err := strconv.Atoi(strings.TrimSpace(sc.Text()))
		if err != nil {
			t.Fatalf("group code %q: %v", sc.Text(), err)
		}
		if !sc.Scan() {
			t.Fatal("a group code without its value")
		}
		v := sc.Text()
		switch {
		case code >= 10 && code <= 59: // numbers
			if _, err := strconv.ParseFloat(strings.TrimSpace(v), 64); err != nil {
				t.Fatalf("group %d: %q is no number", code, v)
			}
		case code >= 60 && code <= 79:
			if _, err := strconv.Atoi(strings.TrimSpace(v)); err != nil {
				t.Fatalf("group %d: %q is no integer", code, v)
			}
		}
		for _, r := range v {
			if r < 32 && r != '\t' || r > 126 {
				t.Fatalf("group %d: %q holds what is not ASCII", code, v)
			}
		}
		pairs = append(pairs, pair{code, strings.TrimSpace(v)})
	}
	if n := len(pairs); n == 0 || pairs[n-1] != (pair{0, "EOF"}) {
		t.Fatal("no EOF")
	}
	layerNames = map[string]bool{}
	section, open := "", false
	var poly *dxfEntity
	for i := 0; i < len(pairs); i++ {
		p := pairs[i]
		if p.code != 0 {
			continue
		}
		switch p.value {
		case "SECTION":
			if open || pairs[i+1].code != 2 {
				t.Fatal("a section inside a section, or without a name")
			}
			section, open = pairs[i+1].value, true
		case "ENDSEC":
			if !open {
				t.Fatal("ENDSEC without a section")
			}
			open = false
		case "LAYER":
			if section == "TABLES" && pairs[i+1].code == 2 {
				layerNames[pairs[i+1].value] = true
			}
		case "LINE", "CIRCLE", "TEXT", "POLYLINE", "VERTEX", "SEQEND":
			e := dxfEntity{kind: p.value}
			for k := i + 1; pairs[k].code != 0; k++ {
				f, _ := strconv.ParseFloat(pairs[k].value, 64)
				switch c := pairs[k].code; c {
				case 8:
					e.layer = pairs[k].value
				case 10, 11:
					e.x = append(e.x, f)
				case 20, 21:
					e.y = append(e.y, f)
				case 40:
					e.radius = f
				case 1:
					e.text = pairs[k].value
				case 70:
					e.closed = f == 1
				}
			}
			switch e.kind {
			case "POLYLINE":
				poly = &dxfEntity{kind: "POLYLINE", layer: e.layer, closed: e.closed}
			case "VERTEX":
				if poly == nil {
					t.Fatal("a vertex outside a polyline")
				}
				poly.x, poly.y = append(poly.x, e.x...), append(poly.y, e.y...)
			case "SEQEND":
				entities = append(entities, *poly)
				poly = nil
			default:
				entities = append(entities, e)
			}
		}
	}
	if open || poly != nil {
		t.Fatal("a section or polyline does not end")
	}
	return layerNames, entities
}

func TestDXF(t *testing.T) {
	j := mustMake(t, plan(t, "stacked-10"), Spec{Kind: "quilt"})
	side := part(t, j, "rim side")
	for _, c := range []struct {
		system quantity.System
		unit   float64
	}{{quantity.Metric, 1000}, {quantity.US, 1 / 0.0254}} {
		var b bytes.Buffer
		if err := DrawPart(j, side, c.system).DXF(&b); err != nil {
			t.Fatal(err)
		}
		names, list := readDXF(t, b.Bytes())
		var edges, circles int
		for _, e := range list {
			if !names[e.layer] {
				t.Errorf("%s on layer %q, which is not in the table", e.kind, e.layer)
			}
			switch {
			case e.kind == "POLYLINE" && e.layer == "EDGE":
				edges++
				w, h := 0.0, 0.0
				for i := range e.x {
					w, h = max(w, e.x[i]), max(h, e.y[i])
				}
				if !e.closed || math.Abs(w-side.Length*c.unit) > 1e-4 || math.Abs(h-side.Width*c.unit) > 1e-4 {
					t.Errorf("outline %v × %v, closed %v", w, h, e.closed)
				}
			case e.kind == "CIRCLE":
				if math.Abs(e.radius-0.0125*c.unit) > 1e-4 {
					t.Errorf("hole of radius %v", e.radius)
				}
				circles++
			}
		}
		if edges != 1 || circles != 2 {
			t.Errorf("%d outlines and %d holes, want 1 and 2", edges, circles)
		}
	}
}

// TestDXFByAnotherLibrary reads a drawing with the ezdxf library, where Python has
// it: its audit must find nothing to mend.
func TestDXFByAnotherLibrary(t *testing.T) {
	if err := exec.Command("python3", "-c", "import ezdxf").Run(); err != nil {
		t.Skip("python3 has no ezdxf here")
	}
	j := mustMake(t, plan(t, "stacked-10"), Spec{Kind: "body"})
	path := filepath.Join(t.TempDir(), "body.dxf")
	var b bytes.Buffer
	if err := DrawPart(j, part(t, j, "front and back"), quantity.Metric).DXF(&b); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("python3", "-c", `
import ezdxf, sys
doc = ezdxf.readfile(sys.argv[1])
audit = doc.audit()
sizes = [max(v.dxf.location.x for v in e.vertices) for e in doc.modelspace().query("POLYLINE[layer=='EDGE']")]
print(doc.dxfversion, len(audit.errors), len(audit.fixes), round(max(sizes), 3))`, path).CombinedOutput()
	if got := strings.TrimSpace(string(out)); err != nil || got != "AC1009 0 0 413.0" {
		t.Errorf("%v: %s", err, got)
	}
}

func TestSVGIsToScale(t *testing.T) {
	j := mustMake(t, plan(t, "stacked-10"), Spec{Kind: "body"})
	p := part(t, j, "front and back")
	d := DrawPart(j, p, quantity.Metric)
	var b bytes.Buffer
	if err := d.SVG(&b); err != nil {
		t.Fatal(err)
	}
	dec := xml.NewDecoder(bytes.NewReader(b.Bytes()))
	for {
		if _, err := dec.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	// The first path is the outline; on paper it is the part over the scale.
	m := regexp.MustCompile(`<path d="M(\S+) (\S+?)L(\S+) `).FindStringSubmatch(b.String())
	if m == nil {
		t.Fatal("no outline")
	}
	x0, _ := strconv.ParseFloat(m[1], 64)
	x1, _ := strconv.ParseFloat(m[3], 64)
	if got := (x1 - x0) * d.Scale; math.Abs(got-1000*p.Length) > 0.02*d.Scale {
		t.Errorf("outline %v mm at full size, the part has %v", got, 1000*p.Length)
	}
	if !strings.Contains(b.String(), `mm" height=`) || !strings.Contains(d.Note, "1:5") {
		t.Errorf("size or scale is not told: %s", d.Note)
	}
	again := bytes.Buffer{}
	if err := DrawPart(j, p, quantity.Metric).SVG(&again); err != nil || again.String() != b.String() {
		t.Error("the same drawing differs")
	}
}

func TestDimensionsAddUp(t *testing.T) {
	j := mustMake(t, plan(t, "stacked-10"), Spec{Kind: "quilt"})
	d := DrawPart(j, part(t, j, "rim side"), quantity.Metric)
	var texts []string
	for _, l := range d.Labels {
		texts = append(texts, l.Text)
	}
	all := strings.Join(texts, "|")
	for _, want := range []string{"505", "hole 25 mm, vent, mesh inside", "252.5"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not on the drawing: %s", want, all)
		}
	}
	us := DrawPart(j, part(t, j, "rim side"), quantity.US)
	if !strings.Contains(us.Note, "inches") || !strings.Contains(fmt.Sprint(us.Labels), "19-7/8") {
		t.Errorf("in inches: %s", us.Note)
	}
}

func TestPDF(t *testing.T) {
	j := mustMake(t, plan(t, "stacked-10"), Spec{Kind: "lid-insulation"})
	for _, paper := range []Paper{A4, Letter} {
		var b bytes.Buffer
		if err := PDF(&b, "lid", Drawings(j, quantity.Metric), paper); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		for _, want := range []string{"%PDF-1.", "/FontFile2", "/ToUnicode", "/Lang"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: no %s", paper.Name, want)
			}
		}
		if n := strings.Count(text, "/Type /Page\n"); n < 2 || n > 6 {
			t.Errorf("%d pages for %d drawings", n, len(j.Parts)+1)
		}
		var again bytes.Buffer
		if err := PDF(&again, "lid", Drawings(j, quantity.Metric), paper); err != nil || !bytes.Equal(again.Bytes(), b.Bytes()) {
			t.Error("the same document differs")
		}
	}
	if err := PDF(io.Discard, "none", nil, A4); err == nil {
		t.Error("a document without drawings was written")
	}
}

// TestTiles: the pages of a drawing at full size cover it.
func TestTiles(t *testing.T) {
	j := mustMake(t, plan(t, "stacked-10"), Spec{Kind: "body"})
	d := DrawPart(j, part(t, j, "side"), quantity.Metric)
	low, high := d.Bounds()
	for _, paper := range []Paper{A4, Letter} {
		var b bytes.Buffer
		if err := TiledPDF(&b, d, paper); err != nil {
			t.Fatal(err)
		}
		pages := strings.Count(b.String(), "/Type /Page\n")
		nx := math.Ceil((high.X - low.X) / (paper.Width - 2*pageMargin - overlap))
		ny := math.Ceil((high.Y - low.Y) / (paper.Height - 2*pageMargin - overlap))
		if float64(pages) != nx*ny || pages < 4 {
			t.Errorf("%s: %d pages, want %v", paper.Name, pages, nx*ny)
		}
	}
	w := mustMake(t, plan(t, "stacked-10"), Spec{Kind: "windbreak", Width: 8, Height: 2})
	huge := DrawPart(w, Part{Name: "net", Length: 9, Width: 3, Thickness: 0.01, Count: 1}, quantity.Metric)
	if err := TiledPDF(io.Discard, huge, A4); err == nil || !strings.Contains(err.Error(), "pages") {
		t.Errorf("a drawing of hundreds of pages: %v", err)
	}
}

// TestLayoutDrawing: every piece is drawn with its number.
func TestLayoutDrawing(t *testing.T) {
	prices, err := price.Standard()
	if err != nil {
		t.Fatal(err)
	}
	j := mustMake(t, plan(t, "stacked-10"), Spec{Kind: "wall-panels"})
	o, err := NewOrder([]Job{j}, 1, prices, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range o.Groups {
		drawn := 0
		for i := range g.Nesting.Layouts {
			d := DrawLayout(g, i, quantity.Metric)
			for _, l := range d.Labels {
				for k, p := range g.Pieces {
					if strings.HasPrefix(l.Text, fmt.Sprintf("%d  ", k+1)) && strings.Contains(l.Text, bare(max(p.Length, p.Width), quantity.Metric)) {
						drawn++
					}
				}
			}
		}
		if drawn != len(g.Pieces) {
			t.Errorf("%s: %d of %d pieces are labelled", g.Title(quantity.Metric), drawn, len(g.Pieces))
		}
	}
}

func BenchmarkPDF(b *testing.B) {
	p := planB(b)
	j, err := Make(p, Spec{Kind: "body"}, DefaultOptions())
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if err := PDF(io.Discard, "body", Drawings(j, quantity.Metric), A4); err != nil {
			b.Fatal(err)
		}
	}
}
