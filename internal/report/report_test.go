package report

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/ledongthuc/pdf"

	"hackle/almanac"
	"hackle/change"
	"hackle/climate"
	"hackle/examples"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/internal/cutaway"
	"hackle/ledger"
	"hackle/price"
	"hackle/quantity"
	"hackle/workshop"
)

var today = time.Date(2026, 8, 20, 12, 0, 0, 0, time.UTC)

// winter is a fortnight of January of an example hive, as it is and with wool in
// its lid, with all that a report can tell of it.
var winter = sync.OnceValues(func() (Report, error) {
	name := examples.Order()[0]
	text, err := fs.ReadFile(examples.Files(), name)
	if err != nil {
		return Report{}, err
	}
	plan, err := hive.Decode(name, bytes.NewReader(text))
	if err != nil {
		return Report{}, err
	}
	weather, err := climate.Builtin("burlington-vt")
	if err != nil {
		return Report{}, err
	}
	set, err := change.ParseSet("lid=mineral wool 76 mm")
	if err != nil {
		return Report{}, err
	}
	result, err := set.Apply(plan, change.Site{Weather: weather})
	if err != nil {
		return Report{}, err
	}
	days := answer.Days{From: hive.Day{Year: 2026, Month: 1, Day: 15}, To: hive.Day{Year: 2026, Month: 1, Day: 28}}
	s, err := answer.Place([]hive.Plan{plan, result.Plan}, weather, days, quantity.Metric)
	if err != nil {
		return Report{}, err
	}
	traces, err := s.Run(context.Background(), nil)
	if err != nil {
		return Report{}, err
	}
	prices, err := price.Standard()
	if err != nil {
		return Report{}, err
	}
	h := Hive{Plan: plan, Ledger: s.Ledger(0, traces[0]), Months: ledger.WaterMonths(traces[0]), Notes: []string{"A note <of> this & that."}}
	if h.Year, err = cutaway.Compact(traces[0]); err != nil {
		return Report{}, err
	}
	h.Change = &Change{Set: set, Result: result, After: s.Ledger(1, traces[1]), Cost: result.Cost(prices, 1), Prices: prices}
	spec, _ := workshop.ForChange(set[0])
	work, err := workshop.MakeAll(plan, []workshop.Spec{spec, {Kind: "frame-wires"}}, 1, prices, workshop.DefaultOptions())
	if err != nil {
		return Report{}, err
	}
	h.Work = &work
	cal, err := almanac.Make(almanac.Input{Plan: plan, Weather: weather, Ledger: &h.Ledger, Today: today})
	if err != nil {
		return Report{}, err
	}
	h.Calendar = &cal
	return Report{Weather: s.Weather.Name, Source: s.Weather.Source, Made: today, From: s.First, To: s.Last, Hives: []Hive{h}}, nil
})

func fixture(t testing.TB) Report {
	t.Helper()
	r, err := winter()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// said is the text of a PDF as a reader program of its own finds it, without
// spaces, as lines break anywhere.
func said(t *testing.T, data []byte) (text string, pages int) {
	t.Helper()
	doc, err := pdf.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for i := 1; i <= doc.NumPage(); i++ {
		s, err := doc.Page(i).GetPlainText(nil)
		if err != nil {
			t.Fatal(err)
		}
		b.WriteString(s)
	}
	return squeeze(b.String()), doc.NumPage()
}

func squeeze(s string) string { return strings.Join(strings.Fields(clean(s)), "") }

// TestPDFSaysAll: every text of the report can be selected in the PDF, fonts are
// embedded, and it stays under 2 MB.
func TestPDFSaysAll(t *testing.T) {
	r := fixture(t)
	c, err := r.content()
	if err != nil {
		t.Fatal(err)
	}
	for _, paper := range []workshop.Paper{workshop.A4, workshop.Letter} {
		var b bytes.Buffer
		if err := r.PDF(&b, paper); err != nil {
			t.Fatal(err)
		}
		if b.Len() > 2_000_000 {
			t.Errorf("%s: %d bytes", paper.Name, b.Len())
		}
		raw := b.String()
		for _, want := range []string{"/FontFile2", "/ToUnicode", "/Lang", "/Outlines", fmt.Sprintf("/MediaBox [0 0 %.2f %.2f]", 1000*paper.Width*72/25.4, 1000*paper.Height*72/25.4)} {
			if !strings.Contains(raw, want) {
				t.Errorf("%s: no %s", paper.Name, want)
			}
		}
		text, pages := said(t, b.Bytes())
		if pages < 4 || pages > 14 {
			t.Errorf("%d pages", pages)
		}
		for _, x := range c.blocks {
			var all []string
			switch x.kind {
			case heading, lead, para, small, drawing:
				all = []string{x.text}
			case list, caution:
				for _, i := range x.items {
					if n, rest, ok := strings.Cut(i, ". "); ok && len(n) <= 2 && n[0] >= '0' && n[0] <= '9' {
						i = rest
					}
					all = append(all, i)
				}
			case table:
				for _, row := range x.rows {
					all = append(all, row[0])
				}
			}
			for _, want := range all {
				// Long texts may go over a page, with its foot in between.
				want = squeeze(want)
				if len([]rune(want)) > 60 {
					want = string([]rune(want)[:60])
				}
				if !strings.Contains(text, want) {
					t.Errorf("%s: %q cannot be read in the PDF", paper.Name, want)
				}
			}
		}
	}
}

// TestHTML: well formed, with language, the paper's size, and words for every
// picture; what the keeper wrote is escaped.
func TestHTML(t *testing.T) {
	r := fixture(t)
	for paper, size := range map[workshop.Paper]string{workshop.A4: "size:A4", workshop.Letter: "size:letter"} {
		var b bytes.Buffer
		if err := r.HTML(&b, paper); err != nil {
			t.Fatal(err)
		}
		page := b.String()
		if b.Len() > 2_000_000 {
			t.Errorf("%d bytes", b.Len())
		}
		for _, want := range []string{size, `lang="en"`, "@media print", "A note &lt;of&gt; this &amp; that.", "Do not open a colony in the cold", "invented examples"} {
			if !strings.Contains(page, want) {
				t.Errorf("no %q", want)
			}
		}
		if strings.Contains(page, "<of>") || strings.Contains(page, "<script") || strings.Contains(page, "src=\"http") {
			t.Error("the page holds what it should not")
		}
		dec := xml.NewDecoder(strings.NewReader(page))
		dec.Strict, dec.AutoClose, dec.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
		svgs, told := 0, 0
		var stack []string
		for {
			tok, err := dec.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			switch e := tok.(type) {
			case xml.StartElement:
				stack = append(stack, e.Name.Local)
				if e.Name.Local == "svg" || e.Name.Local == "img" {
					svgs++
					for _, a := range e.Attr {
						if (a.Name.Local == "aria-label" || a.Name.Local == "alt") && a.Value != "" {
							told++
							break
						}
					}
				}
			case xml.EndElement:
				if len(stack) == 0 || stack[len(stack)-1] != e.Name.Local {
					t.Fatalf("</%s> closes %v", e.Name.Local, stack)
				}
				stack = stack[:len(stack)-1]
			}
		}
		if svgs < 6 || told != svgs {
			t.Errorf("%d pictures, %d with words", svgs, told)
		}
	}
}

// TestBothFormsAreOne: the HTML has every text of the content as well.
func TestBothFormsAreOne(t *testing.T) {
	r := fixture(t)
	c, err := r.content()
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := r.HTML(&b, workshop.A4); err != nil {
		t.Fatal(err)
	}
	page := strings.NewReplacer("&lt;", "<", "&gt;", ">", "&amp;", "&", "&#39;", "'", "&#34;", `"`).Replace(b.String())
	headings := 0
	for _, x := range c.blocks {
		if x.kind == heading {
			headings++
		}
		for _, want := range append([]string{x.text}, x.items...) {
			if !strings.Contains(page, want) {
				t.Errorf("%q is not in the HTML", want)
			}
		}
		for _, row := range x.rows {
			for _, cell := range row {
				if !strings.Contains(page, cell) {
					t.Errorf("%q is not in the HTML", cell)
				}
			}
		}
	}
	if headings < 9 {
		t.Errorf("only %d headings", headings)
	}
}

func TestYard(t *testing.T) {
	r := fixture(t)
	second := r.Hives[0]
	second.Plan = second.Plan.Clone()
	second.Plan.Hive.Name = "By the quince"
	second.Ledger.Bees.DiedAt = time.Date(2026, 1, 20, 0, 0, 0, 0, time.UTC)
	second.Change, second.Work, second.Calendar = nil, nil, nil
	r.Title, r.Hives = "Alder Yard", []Hive{r.Hives[0], second}
	var b bytes.Buffer
	if err := r.PDF(&b, workshop.A4); err != nil {
		t.Fatal(err)
	}
	text, _ := said(t, b.Bytes())
	for _, want := range []string{"Alder Yard", "By the quince", "of 2 hives come through", "Look first at By the quince", "no"} {
		if !strings.Contains(text, squeeze(want)) {
			t.Errorf("no %q", want)
		}
	}
	if b.Len() > 2_000_000 {
		t.Errorf("%d bytes", b.Len())
	}
	if err := (Report{}).PDF(io.Discard, workshop.A4); err == nil {
		t.Error("a report without a hive was written")
	}
}

func TestBareHive(t *testing.T) {
	r := fixture(t)
	h := r.Hives[0]
	r.Hives = []Hive{{Plan: h.Plan, Ledger: h.Ledger}}
	r.System = quantity.US
	var b bytes.Buffer
	if err := r.PDF(&b, workshop.Letter); err != nil {
		t.Fatal(err)
	}
	text, _ := said(t, b.Bytes())
	if !strings.Contains(text, "lb") || !strings.Contains(text, squeeze("What it rests on")) || strings.Contains(text, squeeze("The calendar")) {
		t.Error("a hive with nothing but its ledger is told wrongly")
	}
}

func TestSameReportTwice(t *testing.T) {
	r := fixture(t)
	var a, b bytes.Buffer
	if err := r.PDF(&a, workshop.A4); err != nil {
		t.Fatal(err)
	}
	if err := r.PDF(&b, workshop.A4); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("two PDFs of one report differ")
	}
}

// TestChart: values lie inside the frame and the scale's steps are round.
func TestChart(t *testing.T) {
	values := make([]float64, 365)
	for i := range values {
		values[i] = float64(i%40) - 13
	}
	c := chart{title: "Test", unit: "kg", start: today, lines: []line{{"a", values, 0.3, nil, ink}}}
	pens, words := c.draw()
	for _, p := range pens {
		for i := range p.x {
			if p.x[i] < 0 || p.x[i] > chartWide+1e-9 || p.y[i] < 0 || p.y[i] > chartHigh-chartFoot+1e-9 {
				t.Fatalf("a point at %v, %v", p.x[i], p.y[i])
			}
		}
	}
	var labels []string
	for _, w := range words {
		labels = append(labels, w.text)
	}
	if all := strings.Join(labels, " "); !strings.Contains(all, "-20 0 20") && !strings.Contains(all, "-20 -10 0 10 20 30") {
		t.Errorf("labels %s", all)
	}
	if d := c.describe(); !strings.Contains(d, "lowest -13 on 20 August") {
		t.Error(d)
	}
	if p, _ := (chart{start: today}).draw(); p != nil {
		t.Error("a chart of nothing was drawn")
	}
}

func BenchmarkPDF(b *testing.B) {
	r := fixture(b)
	for b.Loop() {
		var out bytes.Buffer
		if err := r.PDF(&out, workshop.A4); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(out.Len())/1000, "kB")
	}
}

func BenchmarkHTML(b *testing.B) {
	r := fixture(b)
	for b.Loop() {
		if err := r.HTML(io.Discard, workshop.A4); err != nil {
			b.Fatal(err)
		}
	}
}
