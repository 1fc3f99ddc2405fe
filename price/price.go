// Package price is the keeper's price and stock list: what materials, parts and
// fasteners cost and in which sizes they are sold, what honey and a colony are
// worth, and what an hour of the keeper's work counts. It answers what a need
// (1.2 m² of 50 mm wool, two straps) costs by what is used up and by what must be
// bought whole.
//
// A list is a YAML file that Decode reads and Encode writes. Standard is the
// embedded one, whose every price is invented: it only makes the program work
// until the keeper has put own prices in.
//
//	version: 1
//	name: My yard, spring
//	currency: EUR
//	waste: 10 %
//	values:
//	  honey: 9 EUR/kg
//	  colony: 180 EUR/colony
//	  work: 20 EUR/h
//	stock:
//	  - {material: plywood, form: sheet, thickness: 12 mm, width: 1250 mm, length: 2500 mm, price: 48 EUR/piece}
//	  - {material: softwood, form: board, thickness: 19 mm, width: 240 mm, length: [2.4 m, 3 m], price: 5.40 EUR/m}
//	  - {material: mineral wool, form: sheet, thickness: 50 mm, width: 600 mm, length: 1200 mm, price: 6 EUR/m²}
//	  - {material: wood shavings, form: loose, price: 90 EUR/m³}
//	parts:
//	  - {name: strap, price: 8 EUR/piece}
//	fasteners:
//	  - {name: wood screw, diameter: 4.5 mm, length: 60 mm, pack: 100, price: 9 EUR/pack}
//
// Every price is an amount, the currency of the list and a unit after a slash.
// Materials go by any name of the material table; other names are the keeper's own.
package price

import (
	"fmt"
	"math"
	"strings"

	"hackle/material"
	"hackle/quantity"
)

// Table is one price and stock list. The zero value holds no price. It is plain
// data: whoever shares it must not change it.
type Table struct {
	Name      string
	Currency  string // three capital letters of ISO 4217, such as "EUR"
	Invented  bool   // the prices are examples, nobody's offer
	Notes     string
	Waste     float64 // share cut off and lost, added to every area, length and volume [-]
	Values    Values
	Stock     []Stock
	Parts     []Part
	Fasteners []Fastener
}

// Values is what things are worth to the keeper. A zero Price is not known.
type Values struct {
	Honey  Price // a kilogram of honey
	Colony Price // replacement of a lost colony
	Work   Price // an hour of the keeper's work
	Sugar  Price // a kilogram of sugar, for feed
	Drive  Price // a kilometre driven
}

// Price is an amount of the table's currency for one unit.
type Price struct {
	Amount float64 // of the table's currency, not negative
	Unit   Unit
}

// Unit is what a price is for. The zero value is none.
type Unit struct {
	Name string  // as written: "m²", "lb", "piece"
	Per  Measure //
	Size float64 // of one unit in the measure's own: 0.4536 for a pound; 1 for things counted
}

// Measure says what a need or a unit counts.
type Measure string

// The measures, each with its unit.
const (
	Each   Measure = "each"   // [-]
	Length Measure = "length" // [m]
	Area   Measure = "area"   // [m²]
	Volume Measure = "volume" // [m³]
	Mass   Measure = "mass"   // [kg]
	Time   Measure = "time"   // [h]
)

// Unit returns the symbol of the measure's unit, empty for Each.
func (m Measure) Unit() string {
	return map[Measure]string{Length: "m", Area: "m²", Volume: "m³", Mass: "kg", Time: "h"}[m]
}

// One returns the price of one unit of the measure: a metre, a kilogram, an hour
// or a piece; 0 for no price.
func (p Price) One() float64 {
	if p.Unit.Size == 0 {
		return 0
	}
	return p.Amount / p.Unit.Size
}

// Known reports whether there is a price.
func (p Price) Known() bool { return p.Unit.Size > 0 }

// Form is how a material is sold.
type Form string

// Forms of stock.
const (
	Board Form = "board" // sold by length, in one thickness and width
	Sheet Form = "sheet" // rigid or batt, of one thickness, width and length
	Roll  Form = "roll"  // of one thickness and width, cut to length or whole
	Loose Form = "loose" // fill, paint and the like: no size
)

// Stock is one size in which a material is sold.
type Stock struct {
	Material  string    // name in the material table, or the keeper's own
	Form      Form      //
	Thickness float64   // 0 for loose stock [m]
	Width     float64   // 0: sold in any width [m]
	Lengths   []float64 // from short to long; none: cut to any length [m]
	Price     Price
	Note      string
}

// Part is a thing sold by the piece or the pack.
type Part struct {
	Name  string
	Pack  int // pieces in a pack, 0: sold singly
	Price Price
	Note  string
}

// Fastener is a screw, nail or staple.
type Fastener struct {
	Name     string
	Diameter float64 // 0: not said [m]
	Length   float64 // 0: not said [m]
	Pack     int     // pieces in a pack, 0: sold singly
	Price    Price
	Note     string
}

// Title says what a stock is, for people.
func (s Stock) Title(system quantity.System) string {
	parts := []string{s.Material}
	if s.Thickness > 0 {
		parts = append(parts, quantity.Format(s.Thickness, quantity.Length, system))
	}
	size := ""
	if s.Width > 0 {
		size = quantity.Format(s.Width, quantity.Length, system)
		if s.Form != Board && len(s.Lengths) > 0 {
			size += " × " + quantity.Format(s.Lengths[len(s.Lengths)-1], quantity.Length, system)
		}
	}
	if size != "" {
		parts = append(parts, string(s.Form)+" "+size)
	} else {
		parts = append(parts, string(s.Form))
	}
	return strings.Join(parts, ", ")
}

// PieceArea is the face of one piece of the given length, or of the longest when
// that is 0; 0 when the stock has no width or length. [m²]
func (s Stock) PieceArea(length float64) float64 {
	if length == 0 && len(s.Lengths) > 0 {
		length = s.Lengths[len(s.Lengths)-1]
	}
	return s.Width * length
}

// PiecePrice is the price of one whole piece of a length, or of the longest when
// that is 0. It fails when the stock's price and sizes do not tell.
func (s Stock) PiecePrice(length float64) (float64, error) { return s.piecePrice(newNames(), length) }

func (s Stock) piecePrice(names names, length float64) (float64, error) {
	if s.Price.Unit.Per == Each {
		if len(s.Lengths) == 1 && (length == 0 || length == s.Lengths[0]) || length == 0 {
			return s.Price.One(), nil
		}
		return 0, fmt.Errorf("%s is priced by the piece, which is %s long and not %s", s.Title(quantity.Metric), lengths(s.Lengths), quantity.Format(length, quantity.Length, quantity.Metric))
	}
	if length == 0 && len(s.Lengths) > 0 {
		length = s.Lengths[len(s.Lengths)-1]
	}
	one, err := s.perArea(names)
	switch {
	case s.Price.Unit.Per == Length && length > 0:
		return s.Price.One() * length, nil
	case err != nil:
		return 0, err
	case s.Width == 0 || length == 0:
		return 0, fmt.Errorf("%s has no width or length, so that it has no whole pieces", s.Title(quantity.Metric))
	}
	return one * s.Width * length, nil
}

func lengths(list []float64) string {
	var text []string
	for _, l := range list {
		text = append(text, quantity.Format(l, quantity.Length, quantity.Metric))
	}
	return strings.Join(text, ", ")
}

// perArea is the price of a square metre of the stock's face.
func (s Stock) perArea(names names) (float64, error) {
	one := s.Price.One()
	switch s.Price.Unit.Per {
	case Area:
		return one, nil
	case Volume:
		if s.Thickness > 0 {
			return one * s.Thickness, nil
		}
	case Length:
		if s.Width > 0 {
			return one / s.Width, nil
		}
	case Each:
		if a := s.PieceArea(0); a > 0 {
			return one / a, nil
		}
	case Mass:
		if d, ok := names.density(s.Material); ok && s.Thickness > 0 {
			return one * d * s.Thickness, nil
		}
	}
	return 0, fmt.Errorf("the price of %s by the %s does not tell that of an area", s.Title(quantity.Metric), s.Price.Unit.Name)
}

// names looks names up in the material table.
type names struct{ table *material.Table }

func newNames() names {
	table, err := material.Standard()
	if err != nil {
		return names{} // the table is part of the program; without it names stay as they are
	}
	return names{table}
}

func (n names) density(name string) (float64, bool) {
	if n.table == nil {
		return 0, false
	}
	m, err := n.table.Find(name)
	return m.Density, err == nil && m.Density > 0
}

// canonical is the name of the material table for a name or alias of a material or
// finish; other names come back as they are, in small letters.
func (n names) canonical(name string) string {
	if n.table != nil {
		if m, err := n.table.Find(name); err == nil {
			return m.Name
		}
		if f, err := n.table.Finish(name); err == nil {
			return f.Name
		}
	}
	return strings.ToLower(strings.TrimSpace(name))
}

// Of returns every stock of a material, in the order of the list. Names may be
// aliases of the material table.
func (t *Table) Of(name string) []Stock { return t.of(newNames(), name) }

func (t *Table) of(names names, name string) []Stock {
	want := names.canonical(name)
	var out []Stock
	for _, s := range t.Stock {
		if s.Material == want || names.canonical(s.Material) == want {
			out = append(out, s)
		}
	}
	return out
}

// Money writes an amount of the table's currency: "12.50 EUR".
func (t *Table) Money(amount float64) string {
	return strings.TrimSpace(fmt.Sprintf("%.2f %s", amount, t.Currency))
}

// finite reports whether x is a number that may be a price or a size.
func finite(x float64) bool { return x >= 0 && !math.IsInf(x, 0) }
