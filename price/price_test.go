package price_test

import (
	"bytes"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"hackle/internal/keyed"
	"hackle/material"
	"hackle/price"
	"hackle/quantity"
)

func decode(t *testing.T, text string) *price.Table {
	t.Helper()
	list, err := price.Decode("test.yaml", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return list
}

const small = `version: 1
currency: EUR
waste: 10 %
values:
  honey: 4.50 EUR/lb
  work: 20 EUR/h
  colony: 180 EUR/colony
stock:
  - {material: plywood, form: sheet, thickness: 12 mm, width: 1250 mm, length: 2.5 m, price: 50 EUR/piece}
  - {material: mineral wool, form: sheet, thickness: 50 mm, width: 600 mm, length: 1200 mm, price: 6 EUR/m²}
  - {material: mineral wool, form: sheet, thickness: 40 mm, width: 600 mm, length: 1200 mm, price: 5 EUR/m2}
  - {material: softwood, form: board, thickness: 19 mm, width: 200 mm, length: [3 m, 2 m], price: 4 EUR/m}
  - {material: wood shavings, form: loose, price: 60 EUR/m³}
  - {material: sheep wool, form: loose, price: 10 EUR/kg}
  - {material: southern pine, form: board, thickness: 1 in, width: 8 in, length: 8 ft, price: 3 EUR/bd ft}
parts:
  - {name: strap, price: 8 EUR/piece}
fasteners:
  - {name: wood screw, length: 40 mm, pack: 100, price: 7 EUR/pack}
  - {name: wood screw, length: 60 mm, pack: 50, price: 9 EUR/pack}
`

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 1e-9*math.Max(1, math.Abs(want)) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

// TestQuoteByHand prices needs whose cost is worked out by hand in the comments.
func TestQuoteByHand(t *testing.T) {
	list := decode(t, small)
	tests := []struct {
		need         price.Need
		used, bought float64
		pieces       int
	}{
		// 0.25 m² with a tenth of waste is 0.275 m²; a sheet of 3.125 m² is 50: 4.40.
		{price.Need{Name: "plywood", Measure: price.Area, Amount: 0.25, Thickness: 0.012}, 4.40, 50, 1},
		// 3 m² need 3.3 m²: two sheets; half an inch passes as 12 mm.
		{price.Need{Name: "ply", Measure: price.Area, Amount: 3, Thickness: 0.0127}, 52.80, 100, 2},
		// A batt of 50 mm: 1.1 m² at 6; two batts of 0.72 m² at 4.32 each.
		{price.Need{Name: "rock wool", Measure: price.Area, Amount: 1, Thickness: 0.05}, 6.60, 8.64, 2},
		// 90 mm is a 50 and a 40: 1.1 m² at 6 and at 5, two batts of each.
		{price.Need{Name: "mineral wool", Measure: price.Area, Amount: 1, Thickness: 0.09}, 12.10, 2*4.32 + 2*3.60, 4},
		// 80 mm is twice 40: 2.2 m² at 5, four batts of 3.60.
		{price.Need{Name: "mineral wool", Measure: price.Area, Amount: 1, Thickness: 0.08}, 11, 14.40, 4},
		// 4.5 m of board, 4.95 m with waste, at 4; the longest is 3 m, so two of 12.
		{price.Need{Name: "softwood", Measure: price.Length, Amount: 4.5, Thickness: 0.019}, 19.80, 24, 2},
		// 0.2 m² × 0.1 m = 20 L, 22 L with waste, at 60 a cubic metre.
		{price.Need{Name: "shavings", Measure: price.Area, Amount: 0.2, Thickness: 0.1}, 1.32, 1.32, 0},
		// 1 m² × 50 mm × 20 kg/m³ = 1 kg, 1.1 with waste, at 10.
		{price.Need{Name: "sheep wool", Measure: price.Area, Amount: 1, Thickness: 0.05}, 11, 11, 0},
		// A board of 1 in × 8 in × 8 ft holds 5 1/3 board feet: 16. A third of its
		// face, 0.165161 m², with waste: 0.366667 of 16.
		{price.Need{Name: "yellow pine", Measure: price.Area, Amount: 0.2032 * 2.4384 / 3, Thickness: 0.0254}, 16 * 1.1 / 3, 16, 1},
		// Straps have no waste.
		{price.Need{Name: "strap", Measure: price.Each, Amount: 2}, 16, 16, 2},
		// 60 screws of 60 mm: two packs of 50; used 60 at 0.18.
		{price.Need{Name: "Wood screw", Measure: price.Each, Amount: 60, Length: 0.06}, 10.80, 18, 2},
	}
	for _, tt := range tests {
		l, err := list.Quote(tt.need)
		if err != nil {
			t.Errorf("%s: %v", tt.need, err)
			continue
		}
		near(t, tt.need.String()+" used", l.Used, tt.used)
		near(t, tt.need.String()+" bought", l.Bought, tt.bought)
		if l.Pieces != tt.pieces {
			t.Errorf("%s: %d pieces, want %d", tt.need, l.Pieces, tt.pieces)
		}
		if l.Need != tt.need {
			t.Errorf("%s comes back as %s", tt.need, l.Need)
		}
	}
	near(t, "honey a kilogram", list.Values.Honey.One(), 4.50/0.45359237) // international pound, exact
	near(t, "an hour", list.Values.Work.One(), 20)
}

func TestNoPrice(t *testing.T) {
	list := decode(t, small)
	for _, tt := range []struct {
		need price.Need
		says string
	}{
		{price.Need{Name: "cork", Measure: price.Area, Amount: 1, Thickness: 0.05}, "the list holds none; it has mineral wool, plywood"},
		{price.Need{Name: "plywood", Measure: price.Area, Amount: 1, Thickness: 0.03}, "sold as plywood, 12 mm"},
		{price.Need{Name: "saddle", Measure: price.Each, Amount: 1}, "no such part"},
		{price.Need{Name: "wood screw", Measure: price.Each, Amount: 1, Length: 0.1}, "no such part"},
		{price.Need{Name: "plywood", Measure: price.Area, Amount: math.NaN()}, "no number"},
	} {
		_, err := list.Quote(tt.need)
		if !errors.Is(err, price.ErrNoPrice) || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%s: %v, want a NoPrice saying %q", tt.need, err, tt.says)
		}
	}
}

// TestBillShares: what is bought for many hives comes from the same sheets, and a
// need without price is told and not counted as free.
func TestBillShares(t *testing.T) {
	list := decode(t, small)
	needs := []price.Need{
		{Name: "ply", Measure: price.Area, Amount: 0.1, Thickness: 0.012},
		{Name: "plywood", Measure: price.Area, Amount: 0.15, Thickness: 0.012},
		{Name: "strap", Measure: price.Each, Amount: 1},
		{Name: "unobtainium", Measure: price.Volume, Amount: 1},
		{Name: "strap", Measure: price.Each, Amount: 0},
	}
	one := list.Bill(needs, 1)
	near(t, "used", one.Used, 4.40+8)
	near(t, "bought", one.Bought, 50+8)
	if len(one.Lines) != 2 || len(one.Missing) != 1 {
		t.Fatalf("%d lines and %d missing, want 2 and 1: %+v", len(one.Lines), len(one.Missing), one)
	}
	ten := list.Bill(needs, 10) // 2.75 m² of a sheet of 3.125
	near(t, "ten bought", ten.Bought, 50+80)
}

func TestStandard(t *testing.T) {
	list, err := price.Standard()
	if err != nil {
		t.Fatal(err)
	}
	if !list.Invented || !strings.Contains(list.Notes, "Invented") {
		t.Error("the embedded prices do not say that they are invented")
	}
	table, err := material.Standard()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range list.Stock {
		_, err := table.Find(s.Material)
		_, err2 := table.Finish(s.Material)
		if err != nil && err2 != nil {
			t.Errorf("%s is in the stock and not in the table of materials", s.Material)
		}
		if len(s.Lengths) > 0 {
			if _, err := s.PiecePrice(0); err != nil {
				t.Errorf("%s: %v", s.Title(quantity.Metric), err)
			}
		}
	}
	for _, v := range []price.Price{list.Values.Honey, list.Values.Colony, list.Values.Work} {
		if !v.Known() || v.One() <= 0 {
			t.Errorf("a value has no price: %+v", v)
		}
	}
	for _, system := range []quantity.System{quantity.Metric, quantity.US} {
		var text bytes.Buffer
		if err := price.Encode(&text, list, system); err != nil {
			t.Fatal(err)
		}
		back, err := price.Decode("", &text)
		if err != nil || !reflect.DeepEqual(back, list) {
			t.Errorf("the list does not survive writing: %v", err)
		}
	}
}

func TestFaultsTellWhere(t *testing.T) {
	head := "version: 1\ncurrency: EUR\n"
	for _, tt := range []struct{ text, want string }{
		{"", "1:1: found an empty file"},
		{"version: 2\n", "1:10: version: found \"2\", wanted 1"},
		{"currency: EUR\n", "version: found no version"},
		{"version: 1\ncurrency: $\n", "2:11: currency: found \"$\""},
		{head + "values: {honey: 9}\n", "3:17: values.honey: found \"9\", wanted a price with currency and unit, such as 12.50 EUR/kg"},
		{head + "values: {honey: 9 USD/kg}\n", "found the currency \"USD\", wanted EUR"},
		{head + "values: {honey: 9 EUR/m}\n", "found a price by length"},
		{head + "values: {hony: 9 EUR/kg}\n", "did you mean \"honey\"?"},
		{head + "stock:\n  - {material: plywood, form: sheet, price: 5 EUR/m²}\n", "4:5: stock[1]: found \"plywood\" as sheet by the m², wanted a thickness"},
		{head + "stock:\n  - {material: plywood, form: shet, thickness: 12 mm, price: 5 EUR/m²}\n", "did you mean \"sheet\"?"},
		{head + "stock:\n  - {material: plywood, form: sheet, thickness: 12, price: 5 EUR/m²}\n", "stock[1].thickness: found \"12\""},
		{head + "stock:\n  - {material: plywood, form: sheet, thickness: 12 mm, price: 5 EUR/piece}\n", "the width and the one length"},
		{head + "stock:\n  - {form: loose, price: 5 EUR/m³}\n", "stock[1].material: found no material"},
		{head + "stock:\n  - {material: straw, form: loose, price: -5 EUR/m³}\n", "found \"-5 EUR/m³\""},
		{head + "parts: {name: strap}\n", "wanted a list"},
		{head + "fasteners:\n  - {name: nail, price: 5 EUR/pack}\n", "fasteners[1]: found a price by the pack, wanted also \"pack\""},
		{head + "waste: 200 %\n", "waste: found \"200 %\""},
		{head + "\tparts: []\n", "a tab in the indentation"},
		{head + "notes: &a x\n", "an anchor, alias or tag"},
	} {
		_, err := price.Decode("p.yaml", strings.NewReader(tt.text))
		var faults *keyed.Faults
		if !errors.As(err, &faults) || !strings.Contains(err.Error(), tt.want) || !strings.HasPrefix(err.Error(), "p.yaml:") {
			t.Errorf("%q: %v, want %q", tt.text, err, tt.want)
		}
	}
}

func TestEncodeRefusesWhatCannotBeRead(t *testing.T) {
	var out bytes.Buffer
	err := price.Encode(&out, &price.Table{Currency: "euro"}, quantity.Metric)
	if err == nil || out.Len() > 0 {
		t.Errorf("error %v and %d bytes written", err, out.Len())
	}
}

func FuzzDecode(f *testing.F) {
	f.Add(small)
	f.Add(string(price.StandardFile()))
	f.Add("version: 1\ncurrency: USD\nparts:\n  - {name: \"a: b\\n\", price: 0.1 USD/piece}\n")
	f.Add("version: 1\ncurrency: USD\nstock: [{material: x, form: roll, thickness: 1/3 in, width: 2 ft, price: 3 USD per yd2}]\n")
	f.Fuzz(func(t *testing.T, text string) {
		list, err := price.Decode("f", strings.NewReader(text))
		if err != nil {
			return
		}
		var out bytes.Buffer
		if err := price.Encode(&out, list, quantity.US); err != nil {
			t.Fatalf("read but not written: %v", err)
		}
		for _, s := range list.Stock {
			l, err := list.Quote(price.Need{Name: s.Material, Measure: price.Area, Amount: 1, Thickness: s.Thickness})
			if err == nil && (math.IsNaN(l.Used) || l.Used < 0 || l.Bought < l.Used-1e-6*l.Used) {
				t.Fatalf("%s costs %v used, %v bought", s.Material, l.Used, l.Bought)
			}
		}
	})
}
