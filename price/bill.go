package price

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"hackle/quantity"
)

// Need is an amount of a material, part or fastener.
type Need struct {
	Name      string  // of a material, part or fastener
	Measure   Measure //
	Amount    float64 // net, without waste [unit of Measure]
	Thickness float64 // of a material by area; 0 for others [m]
	Length    float64 // of a fastener; 0: any [m]
}

// String says the need, such as "1.2 m² mineral wool 50 mm".
func (n Need) String() string { return n.Text(quantity.Metric) }

// Text says the need in a system of units.
func (n Need) Text(system quantity.System) string {
	amount := fmt.Sprintf("%.4g", n.Amount)
	kinds := map[Measure]quantity.Kind{Length: quantity.Length, Area: quantity.Area, Volume: quantity.Volume, Mass: quantity.Mass}
	if k, ok := kinds[n.Measure]; ok {
		amount = quantity.Format(n.Amount, k, system)
	}
	text := amount + " " + n.Name
	for _, size := range []float64{n.Thickness, n.Length} {
		if size > 0 {
			text += " " + quantity.Format(size, quantity.Length, system)
		}
	}
	return text
}

// Line is what one need costs.
type Line struct {
	Need   Need
	Stock  string  // what is bought for it
	Pieces int     // whole pieces or packs to buy, 0 when sold in any amount
	Used   float64 // price of the amount with its waste
	Bought float64 // price of what must be bought whole for it
}

// ErrNoPrice tells that the table has no price for a need.
var ErrNoPrice = errors.New("no price")

// NoPrice is the error of a need that the table cannot price.
type NoPrice struct {
	Need   Need
	Reason string
}

// Error says what has no price and what is there.
func (e *NoPrice) Error() string { return fmt.Sprintf("no price for %s: %s", e.Need, e.Reason) }

// Is makes it an ErrNoPrice.
func (e *NoPrice) Is(target error) bool { return target == ErrNoPrice }

// Nominal is by how much the thickness of stock may differ from what is asked for
// and still count as it: boards and batts are sold in rounded inches and
// millimetres. The larger of a share and a length; common practice, no source.
const (
	NominalShare = 0.06
	NominalSize  = 0.0011 // [m]
)

// Fits reports whether stock of one thickness passes as another [m].
func Fits(stock, wanted float64) bool {
	return math.Abs(stock-wanted) <= max(NominalShare*wanted, NominalSize)
}

// Quote prices one need. A material by area takes the cheapest stock of its
// thickness, or the cheapest pile of at most four sheets that makes it up, or fill
// by volume or mass; sugar by mass takes Values.Sugar. The error is a *NoPrice when the table does not tell.
func (t *Table) Quote(n Need) (Line, error) { return t.quote(newNames(), n) }

func (t *Table) quote(names names, n Need) (Line, error) {
	if !finite(n.Amount) || !finite(n.Thickness) {
		return Line{}, &NoPrice{n, "the amount is no number"}
	}
	if n.Measure == Each {
		return t.counted(n)
	}
	if sugar := t.Values.Sugar; n.Measure == Mass && n.Name == "sugar" && sugar.Known() {
		cost := sugar.One() * n.Amount
		return Line{Need: n, Stock: "sugar", Used: cost, Bought: cost}, nil
	}
	stock := t.of(names, n.Name)
	if len(stock) == 0 {
		return Line{}, &NoPrice{n, "the list holds none; it has " + t.holds()}
	}
	withWaste := n
	withWaste.Amount *= 1 + t.Waste
	best, found := Line{}, false
	take := func(l Line, ok bool) {
		if ok && (!found || l.Used < best.Used || l.Used == best.Used && l.Bought < best.Bought) {
			best, found = l, true
		}
	}
	for _, s := range stock {
		take(single(names, s, withWaste))
	}
	if n.Measure == Area && !found {
		for _, pile := range piles(stock, n.Thickness) {
			take(piled(names, pile, withWaste))
		}
	}
	if !found {
		return Line{}, &NoPrice{n, "sold as " + titles(stock)}
	}
	best.Need = n
	return best, nil
}

// single prices a need from one stock.
func single(names names, s Stock, n Need) (Line, bool) {
	l := Line{Need: n, Stock: s.Title(quantity.Metric)}
	one := s.Price.One()
	dense, hasDensity := names.density(s.Material)
	switch {
	case n.Measure == s.Price.Unit.Per && s.Form == Loose:
		l.Used = one * n.Amount
	case s.Form == Loose && n.Measure == Area && n.Thickness > 0 && s.Price.Unit.Per == Volume:
		l.Used = one * n.Amount * n.Thickness
	case s.Form == Loose && n.Measure == Area && n.Thickness > 0 && s.Price.Unit.Per == Mass && hasDensity:
		l.Used = one * n.Amount * n.Thickness * dense
	case s.Form == Loose && n.Measure == Volume && s.Price.Unit.Per == Mass && hasDensity:
		l.Used = one * n.Amount * dense
	case s.Form == Loose && n.Measure == Mass && s.Price.Unit.Per == Volume && hasDensity:
		l.Used = one * n.Amount / dense
	case s.Form == Loose:
		return l, false
	case n.Measure == Area && (n.Thickness == 0 || Fits(s.Thickness, n.Thickness)):
		return sized(names, l, s, n.Amount)
	case n.Measure == Volume && s.Thickness > 0:
		return sized(names, l, s, n.Amount/s.Thickness)
	case n.Measure == Mass && s.Thickness > 0 && hasDensity:
		return sized(names, l, s, n.Amount/dense/s.Thickness)
	case n.Measure == Length && s.Width > 0 && (n.Thickness == 0 || Fits(s.Thickness, n.Thickness)):
		return sized(names, l, s, n.Amount*s.Width)
	default:
		return l, false
	}
	l.Bought = l.Used
	return l, true
}

// sized prices an area of a stock that comes in pieces.
func sized(names names, l Line, s Stock, area float64) (Line, bool) {
	one, err := s.perArea(names)
	if err != nil {
		return l, false
	}
	l.Used, l.Bought = one*area, one*area
	piece := s.PieceArea(0)
	if price, err := s.piecePrice(names, 0); err == nil && piece > 0 && s.Form != Roll {
		l.Pieces = int(min(math.Ceil(area/piece-1e-9), math.MaxInt32))
		l.Bought = float64(l.Pieces) * price
	}
	return l, true
}

// piles returns the ways to lay two to four sheets up to a thickness.
func piles(stock []Stock, thickness float64) (out [][]Stock) {
	var grow func(pile []Stock, from int, sum float64)
	grow = func(pile []Stock, from int, sum float64) {
		if len(pile) > 1 && Fits(sum, thickness) {
			out = append(out, slices.Clone(pile))
			return
		}
		if len(pile) == 4 || sum > thickness {
			return
		}
		for i := from; i < len(stock); i++ {
			if s := stock[i]; s.Form == Sheet || s.Form == Roll {
				grow(append(pile, s), i, sum+s.Thickness)
			}
		}
	}
	if thickness > 0 && len(stock) <= 40 {
		grow(nil, 0, 0)
	}
	return out
}

func piled(names names, pile []Stock, n Need) (Line, bool) {
	total := Line{Need: n}
	counts := make(map[string]int)
	var order []string
	sheets := make(map[string]Stock)
	for _, s := range pile {
		title := s.Title(quantity.Metric)
		if counts[title]++; counts[title] == 1 {
			order, sheets[title] = append(order, title), s
		}
	}
	var words []string
	for _, title := range order {
		l, ok := sized(names, Line{}, sheets[title], n.Amount*float64(counts[title]))
		if !ok {
			return total, false
		}
		total.Used += l.Used
		total.Bought += l.Bought
		total.Pieces += l.Pieces
		if counts[title] > 1 {
			title = fmt.Sprintf("%d layers of %s", counts[title], title)
		}
		words = append(words, title)
	}
	total.Stock = strings.Join(words, " and ")
	return total, true
}

// counted prices parts and fasteners.
func (t *Table) counted(n Need) (Line, error) {
	if n.Amount > math.MaxInt32 {
		return Line{}, &NoPrice{n, "too many"}
	}
	best, found := Line{}, false
	offer := func(name string, pack int, p Price, length float64) {
		if !strings.EqualFold(name, n.Name) || n.Length > 0 && length > 0 && !Fits(length, n.Length) {
			return
		}
		each, whole := p.One(), int(math.Ceil(n.Amount-1e-9))
		l := Line{Need: n, Stock: name, Pieces: whole, Bought: each * float64(whole)}
		if length > 0 {
			l.Stock += " " + quantity.Format(length, quantity.Length, quantity.Metric)
		}
		if pack > 0 {
			l.Pieces = int(math.Ceil(n.Amount/float64(pack) - 1e-9))
			l.Bought = each * float64(l.Pieces)
			l.Stock += fmt.Sprintf(", pack of %d", pack)
			each /= float64(pack)
		}
		l.Used = each * n.Amount
		if !found || l.Bought < best.Bought {
			best, found = l, true
		}
	}
	for _, p := range t.Parts {
		offer(p.Name, p.Pack, p.Price, 0)
	}
	for _, f := range t.Fasteners {
		offer(f.Name, f.Pack, f.Price, f.Length)
	}
	if !found {
		return Line{}, &NoPrice{n, "the list holds no such part or fastener; it has " + t.holds()}
	}
	return best, nil
}

// names lists what the table holds.
func (t *Table) holds() string {
	seen := make(map[string]bool)
	var list []string
	add := func(s string) {
		if !seen[s] {
			seen[s], list = true, append(list, s)
		}
	}
	for _, s := range t.Stock {
		add(s.Material)
	}
	for _, p := range t.Parts {
		add(p.Name)
	}
	for _, f := range t.Fasteners {
		add(f.Name)
	}
	if len(list) == 0 {
		return "nothing"
	}
	slices.Sort(list)
	return strings.Join(list, ", ")
}

func titles(stock []Stock) string {
	var list []string
	for _, s := range stock {
		list = append(list, s.Title(quantity.Metric))
	}
	return strings.Join(list, "; ")
}

// Bill is what several needs cost together.
type Bill struct {
	Lines   []Line
	Used    float64 // price of the amounts with their waste
	Bought  float64 // price of what must be bought whole
	Missing []error // needs without a price, each a *NoPrice; they count in neither sum
}

// Bill prices needs that are bought together, each copies times over: the same
// material and thickness comes from the same sheets. Lines are by name and size.
func (t *Table) Bill(needs []Need, copies int) Bill {
	var b Bill
	names := newNames()
	for _, n := range sum(names, needs) {
		n.Amount *= float64(copies)
		l, err := t.quote(names, n)
		if err != nil {
			b.Missing = append(b.Missing, err)
			continue
		}
		b.Lines = append(b.Lines, l)
		b.Used += l.Used
		b.Bought += l.Bought
	}
	return b
}

// Sum adds up needs of the same thing and drops those of nothing; they come back
// by name and size. Aliases of a material count as the same.
func Sum(needs []Need) []Need { return sum(newNames(), needs) }

func sum(names names, needs []Need) []Need {
	sum := make(map[Need]float64)
	for _, n := range needs {
		key := n
		key.Amount = 0
		if n.Measure != Each {
			key.Name = names.canonical(n.Name)
		}
		sum[key] += n.Amount
	}
	out := make([]Need, 0, len(sum))
	for n, amount := range sum {
		if n.Amount = amount; amount > 0 {
			out = append(out, n)
		}
	}
	slices.SortFunc(out, func(a, b Need) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Thickness, b.Thickness), cmp.Compare(a.Length, b.Length), cmp.Compare(a.Measure, b.Measure))
	})
	return out
}
