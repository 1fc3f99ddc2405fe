package price

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"hackle/internal/keyed"
	"hackle/quantity"
)

// fileVersion is the edition of the price file that this program reads.
const fileVersion = 1

const mostEntries = 1000

// Sizes of stock that are taken for a slip of the pen beyond.
const (
	mostThickness = 1.0   // [m]
	mostSide      = 100.0 // [m]
	mostWaste     = 1.0   // [-]
	mostPack      = 100000
)

//go:embed prices.yaml
var standard []byte

// Standard returns the embedded list. Every price in it is invented.
func Standard() (*Table, error) { return Decode("built-in prices", bytes.NewReader(standard)) }

// StandardFile is the text of the embedded list, to be kept and changed.
func StandardFile() []byte { return bytes.Clone(standard) }

// DecodeFile reads the price file at path.
func DecodeFile(path string) (*Table, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("price file: %w", err)
	}
	defer f.Close()
	return Decode(path, f)
}

// Decode reads a price file and checks it. The error is a *keyed.Faults with
// everything wrong at once, each with name, line, column and field.
func Decode(name string, src io.Reader) (*Table, error) {
	const what = "a price file"
	data, err := keyed.Read(src, what+" "+name)
	if err != nil {
		return nil, err
	}
	root, fault := keyed.Parse(data, what)
	if fault != nil {
		return nil, &keyed.Faults{Name: name, List: []keyed.Fault{*fault}}
	}
	d := &decoder{}
	t := &Table{}
	if d.Version(root, fileVersion) {
		d.table(root, t)
	}
	if err := d.Err(name); err != nil {
		return nil, err
	}
	return t, nil
}

type decoder struct {
	keyed.Reader
	currency string
}

var currencyCode = regexp.MustCompile(`^[A-Z]{3}$`)

func (d *decoder) table(root *yaml.Node, t *Table) {
	skip := func(string, *yaml.Node) {}
	d.Object("", root,
		keyed.Key{Name: "version", Must: true, Read: skip},
		keyed.Key{Name: "name", Read: d.into(&t.Name)},
		keyed.Key{Name: "currency", Must: true, Read: func(path string, n *yaml.Node) {
			const wanted = "a currency by its three capital letters, such as EUR, USD or GBP"
			s, ok := d.Text(path, n, wanted)
			if ok && !currencyCode.MatchString(s) {
				d.Fail(path, n, keyed.Quote(s), wanted, "a sign such as $ stands for many currencies")
				return
			}
			t.Currency, d.currency = s, s
		}},
		keyed.Key{Name: "invented", Read: func(path string, n *yaml.Node) {
			s, ok := d.Word(path, n, []string{"yes", "no"})
			t.Invented = ok && s == "yes"
		}},
		keyed.Key{Name: "notes", Read: d.into(&t.Notes)},
		keyed.Key{Name: "waste", Read: func(path string, n *yaml.Node) {
			d.quantity(path, n, quantity.Fraction, 0, mostWaste, &t.Waste)
		}},
		keyed.Key{Name: "values", Read: func(path string, n *yaml.Node) {
			price := func(name string, per Measure, p *Price) keyed.Key {
				return keyed.Key{Name: name, Read: func(path string, n *yaml.Node) { d.price(path, n, p, per) }}
			}
			d.Object(path, n,
				price("honey", Mass, &t.Values.Honey), price("colony", Each, &t.Values.Colony), price("work", Time, &t.Values.Work),
				price("sugar", Mass, &t.Values.Sugar), price("drive", Length, &t.Values.Drive))
		}},
		keyed.Key{Name: "stock", Read: func(path string, n *yaml.Node) {
			d.List(path, n, mostEntries, func(path string, n *yaml.Node) {
				var s Stock
				d.stock(path, n, &s)
				t.Stock = append(t.Stock, s)
			})
		}},
		keyed.Key{Name: "parts", Read: func(path string, n *yaml.Node) {
			d.List(path, n, mostEntries, func(path string, n *yaml.Node) {
				var p Part
				d.Object(path, n,
					keyed.Key{Name: "name", Must: true, Read: d.name(&p.Name)}, d.pack(&p.Pack),
					keyed.Key{Name: "price", Must: true, Read: func(path string, n *yaml.Node) { d.price(path, n, &p.Price, Each) }},
					keyed.Key{Name: "note", Read: d.into(&p.Note)})
				d.packed(path, n, p.Pack, p.Price)
				t.Parts = append(t.Parts, p)
			})
		}},
		keyed.Key{Name: "fasteners", Read: func(path string, n *yaml.Node) {
			d.List(path, n, mostEntries, func(path string, n *yaml.Node) {
				var f Fastener
				d.Object(path, n,
					keyed.Key{Name: "name", Must: true, Read: d.name(&f.Name)},
					d.length("diameter", mostThickness, &f.Diameter), d.length("length", mostThickness, &f.Length), d.pack(&f.Pack),
					keyed.Key{Name: "price", Must: true, Read: func(path string, n *yaml.Node) { d.price(path, n, &f.Price, Each) }},
					keyed.Key{Name: "note", Read: d.into(&f.Note)})
				d.packed(path, n, f.Pack, f.Price)
				t.Fasteners = append(t.Fasteners, f)
			})
		}})
}

func (d *decoder) into(v *string) func(string, *yaml.Node) {
	return func(path string, n *yaml.Node) {
		if s, ok := d.Text(path, n, "text"); ok {
			*v = s
		}
	}
}

func (d *decoder) name(v *string) func(string, *yaml.Node) {
	return func(path string, n *yaml.Node) {
		s, ok := d.Text(path, n, "a name")
		if ok && s == "" {
			d.Fail(path, n, "no text", "a name", "")
			return
		}
		*v = s
	}
}

func (d *decoder) pack(v *int) keyed.Key {
	return keyed.Key{Name: "pack", Read: func(path string, n *yaml.Node) {
		if x, ok := d.Integer(path, n, 2, mostPack); ok {
			*v = x
		}
	}}
}

// packed checks that a price by the pack knows the pack, and the other way round.
func (d *decoder) packed(path string, n *yaml.Node, pack int, p Price) {
	if p.Unit.Name == "" {
		return
	}
	byPack := p.Unit.Name == "pack"
	switch {
	case byPack && pack == 0:
		d.Fail(path, n, "a price by the pack", `also "pack", the number of pieces in one`, "")
	case !byPack && pack > 0:
		d.Fail(path, n, "a price by the "+p.Unit.Name+" and a pack", `a price such as "8 `+d.currency+`/pack"`, "or leave pack out")
	}
}

func (d *decoder) length(key string, atMost float64, v *float64) keyed.Key {
	return keyed.Key{Name: key, Read: func(path string, n *yaml.Node) {
		d.quantity(path, n, quantity.Length, math.SmallestNonzeroFloat64, atMost, v)
	}}
}

func (d *decoder) stock(path string, n *yaml.Node, s *Stock) {
	d.Object(path, n,
		keyed.Key{Name: "material", Must: true, Read: d.name(&s.Material)},
		keyed.Key{Name: "form", Must: true, Read: func(path string, n *yaml.Node) {
			if w, ok := d.Word(path, n, []string{string(Board), string(Sheet), string(Roll), string(Loose)}); ok {
				s.Form = Form(w)
			}
		}},
		d.length("thickness", mostThickness, &s.Thickness), d.length("width", mostSide, &s.Width),
		keyed.Key{Name: "length", Read: func(path string, n *yaml.Node) {
			one := func(path string, n *yaml.Node) {
				var l float64
				if d.quantity(path, n, quantity.Length, math.SmallestNonzeroFloat64, mostSide, &l) {
					s.Lengths = append(s.Lengths, l)
				}
			}
			if n.Kind != yaml.SequenceNode {
				one(path, n)
			} else {
				d.List(path, n, 50, one)
			}
			slices.Sort(s.Lengths)
		}},
		keyed.Key{Name: "price", Must: true, Read: func(path string, n *yaml.Node) {
			d.price(path, n, &s.Price, Each, Length, Area, Volume, Mass)
		}},
		keyed.Key{Name: "note", Read: d.into(&s.Note)})
	if s.Form == "" || s.Price.Unit.Name == "" || s.Material == "" {
		return // told already
	}
	if reason := s.wrong(); reason != "" {
		d.Fail(path, n, keyed.Quote(s.Material)+" as "+string(s.Form)+" by the "+s.Price.Unit.Name, reason, "")
	}
}

// wrong tells what a stock lacks or has too much, "" when it is whole.
func (s Stock) wrong() string {
	switch {
	case s.Form == Loose && (s.Thickness > 0 || s.Width > 0 || len(s.Lengths) > 0):
		return "loose stock without sizes"
	case s.Form == Loose && s.Price.Unit.Per != Volume && s.Price.Unit.Per != Mass:
		return "a price by volume or mass for loose stock"
	case s.Form == Loose:
		return ""
	case s.Thickness == 0:
		return "a thickness"
	case s.Form == Board && s.Width == 0:
		return "the width of the board"
	case s.Price.Unit.Per == Length && s.Width == 0:
		return "a width, since the price is by length"
	case s.Price.Unit.Per == Each && (s.Width == 0 || len(s.Lengths) != 1):
		return "the width and the one length of a piece, since the price is by the piece"
	}
	return ""
}

func (d *decoder) quantity(path string, n *yaml.Node, kind quantity.Kind, least, greatest float64, v *float64) bool {
	wanted := kind.String() + " with its unit, such as " + kind.Examples()
	s, ok := d.Text(path, n, wanted)
	if !ok {
		return false
	}
	x, err := quantity.Parse(s, kind)
	if err != nil {
		var e *quantity.Error
		reason := err.Error()
		if errors.As(err, &e) {
			reason = "it " + e.Reason
		}
		d.Fail(path, n, keyed.Quote(s), wanted, reason)
		return false
	}
	if x < least || x > greatest {
		d.Fail(path, n, keyed.Quote(s), fmt.Sprintf("more than 0 and at most %s", quantity.Format(greatest, kind, quantity.Metric)), "")
		return false
	}
	*v = x
	return true
}

// priceText is an amount, a currency and a unit: "4.20 EUR/m", "5 USD per lb".
var priceText = regexp.MustCompile(`^(\d+(?:[.,]\d+)?)\s*([A-Za-z]+)\s*(?:/|\s+per\s+)\s*(\S(?:.*\S)?)$`)

// counted are the words for a piece of something.
var counted = []string{"piece", "sheet", "board", "roll", "pack", "colony"}

// boardFoot is a twelfth of a cubic foot, the measure of sawn timber in US trade [m³].
const boardFoot = 0.3048 * 0.3048 * 0.3048 / 12

// UnitOf reads the unit of a price: a unit of length, area, volume, mass or time,
// or piece, sheet, board, roll, pack or colony. It knows the board foot ("bd ft").
func UnitOf(text string) (Unit, error) {
	text = strings.TrimSpace(text)
	if text == "bd ft" {
		return Unit{Name: text, Per: Volume, Size: boardFoot}, nil
	}
	if slices.Contains(counted, text) {
		return Unit{Name: text, Per: Each, Size: 1}, nil
	}
	if text == "" || strings.ContainsFunc(text, func(r rune) bool {
		return !unicode.IsLetter(r) && !strings.ContainsRune("23²³", r)
	}) {
		return Unit{}, fmt.Errorf("%s is no unit of a price", keyed.Quote(text))
	}
	for _, try := range []struct {
		kind quantity.Kind
		per  Measure
		unit float64
	}{{quantity.Length, Length, 1}, {quantity.Area, Area, 1}, {quantity.Volume, Volume, 1}, {quantity.Mass, Mass, 1}, {quantity.Duration, Time, 3600}} {
		if v, err := quantity.Parse("1 "+text, try.kind); err == nil && v > 0 {
			return Unit{Name: text, Per: try.per, Size: v / try.unit}, nil
		}
	}
	return Unit{}, fmt.Errorf("%s is no unit of a price", keyed.Quote(text))
}

func (d *decoder) price(path string, n *yaml.Node, p *Price, per ...Measure) {
	currency := d.currency
	if currency == "" {
		currency = "EUR"
	}
	var examples []string
	for _, m := range per {
		unit := m.Unit()
		switch {
		case m == Each && path == "values.colony":
			unit = "colony"
		case m == Each:
			unit = "piece"
		}
		examples = append(examples, "12.50 "+currency+"/"+unit)
	}
	wanted := "a price with currency and unit, such as " + keyed.OneOf(examples)
	s, ok := d.Text(path, n, wanted)
	if !ok {
		return
	}
	m := priceText.FindStringSubmatch(s)
	if m == nil {
		d.Fail(path, n, keyed.Quote(s), wanted, "amount, currency, a slash and the unit")
		return
	}
	amount, err := strconv.ParseFloat(strings.Replace(m[1], ",", ".", 1), 64)
	if err != nil || !finite(amount) || amount > 1e9 {
		d.Fail(path, n, keyed.Quote(m[1]), "an amount up to a thousand million", "")
		return
	}
	if m[2] != d.currency && d.currency != "" {
		d.Fail(path, n, "the currency "+keyed.Quote(m[2]), d.currency, "a list has one currency, the one at its head; turn this price into it")
		return
	}
	unit, err := UnitOf(m[3])
	if err != nil {
		d.Fail(path, n, keyed.Quote(m[3])+" after the slash", wanted, keyed.DidYouMean(m[3], counted))
		return
	}
	if !slices.Contains(per, unit.Per) {
		d.Fail(path, n, "a price by "+string(unit.Per), wanted, "")
		return
	}
	*p = Price{Amount: amount, Unit: unit}
}

// Encode writes the table as a price file that Decode reads back as the very same
// table. Quantities are in units of the system where these say the value exactly.
// A table that a file cannot hold is refused and nothing is written.
func Encode(dst io.Writer, t *Table, system quantity.System) error {
	w := writer{system}
	root := w.object(
		"version", plain(strconv.Itoa(fileVersion)), "name", text(t.Name), "currency", text(t.Currency),
		"invented", yes(t.Invented), "notes", text(t.Notes), "waste", w.size(t.Waste, quantity.Fraction),
		"values", w.object("honey", w.price(t, t.Values.Honey), "colony", w.price(t, t.Values.Colony), "work", w.price(t, t.Values.Work),
			"sugar", w.price(t, t.Values.Sugar), "drive", w.price(t, t.Values.Drive)))
	list := func(key string, items []*yaml.Node) {
		if len(items) > 0 {
			root.Content = append(root.Content, plain(key), &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Content: items})
		}
	}
	var stock, parts, fasteners []*yaml.Node
	for _, s := range t.Stock {
		var length *yaml.Node
		if len(s.Lengths) == 1 {
			length = w.size(s.Lengths[0], quantity.Length)
		} else if len(s.Lengths) > 1 {
			length = &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Style: yaml.FlowStyle}
			for _, l := range s.Lengths {
				length.Content = append(length.Content, w.size(l, quantity.Length))
			}
		}
		stock = append(stock, w.row("material", text(s.Material), "form", text(string(s.Form)), "thickness", w.size(s.Thickness, quantity.Length),
			"width", w.size(s.Width, quantity.Length), "length", length, "price", w.price(t, s.Price), "note", text(s.Note)))
	}
	for _, p := range t.Parts {
		parts = append(parts, w.row("name", text(p.Name), "pack", count(p.Pack), "price", w.price(t, p.Price), "note", text(p.Note)))
	}
	for _, f := range t.Fasteners {
		fasteners = append(fasteners, w.row("name", text(f.Name), "diameter", w.size(f.Diameter, quantity.Length), "length", w.size(f.Length, quantity.Length),
			"pack", count(f.Pack), "price", w.price(t, f.Price), "note", text(f.Note)))
	}
	list("stock", stock)
	list("parts", parts)
	list("fasteners", fasteners)
	var out bytes.Buffer
	enc := yaml.NewEncoder(&out)
	enc.SetIndent(2)
	if err := errors.Join(enc.Encode(root), enc.Close()); err != nil {
		return fmt.Errorf("writing a price file: %w", err)
	}
	back, err := Decode("", bytes.NewReader(out.Bytes()))
	if err != nil {
		return fmt.Errorf("writing a price file: what was written cannot be read back: %w", err)
	}
	if !reflect.DeepEqual(back, t) {
		return errors.New("writing a price file: what was written reads back as another list")
	}
	if _, err := dst.Write(out.Bytes()); err != nil {
		return fmt.Errorf("writing a price file: %w", err)
	}
	return nil
}

type writer struct{ system quantity.System }

// object is a map of keys and nodes, without the keys whose node is nil.
func (w writer) object(pairs ...any) *yaml.Node {
	m := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map"}
	for i := 0; i+1 < len(pairs); i += 2 {
		if n := pairs[i+1].(*yaml.Node); n != nil {
			m.Content = append(m.Content, plain(pairs[i].(string)), n)
		}
	}
	if len(m.Content) == 0 {
		return nil
	}
	return m
}

// row is an object on one line.
func (w writer) row(pairs ...any) *yaml.Node {
	m := w.object(pairs...)
	if m != nil {
		m.Style = yaml.FlowStyle
	}
	return m
}

func (w writer) size(v float64, kind quantity.Kind) *yaml.Node {
	if v == 0 {
		return nil
	}
	s := quantity.Format(v, kind, w.system)
	if x, err := quantity.Parse(s, kind); err != nil || x != v {
		s = quantity.FormatExact(v, kind)
	}
	return plain(s)
}

func (w writer) price(t *Table, p Price) *yaml.Node {
	if !p.Known() {
		return nil
	}
	return plain(strconv.FormatFloat(p.Amount, 'f', -1, 64) + " " + t.Currency + "/" + p.Unit.Name)
}

func plain(s string) *yaml.Node { return &yaml.Node{Kind: yaml.ScalarNode, Value: s} }

func count(n int) *yaml.Node {
	if n == 0 {
		return nil
	}
	return plain(strconv.Itoa(n))
}

func yes(b bool) *yaml.Node {
	if !b {
		return nil
	}
	return plain("yes")
}

func text(s string) *yaml.Node {
	if s == "" {
		return nil
	}
	n := &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: s}
	if !utf8.ValidString(s) || strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) }) {
		n.Style = yaml.DoubleQuotedStyle
	}
	return n
}
