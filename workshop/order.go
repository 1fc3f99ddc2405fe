package workshop

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"hackle/price"
	"hackle/quantity"
)

// Order is everything to buy and cut for some jobs.
type Order struct {
	Currency string
	Invented bool // the prices are examples
	Groups   []Group
	Items    []Bought
	Missing  []string // what the price list does not tell
	Cost     float64  // of what must be bought whole
	CostUsed float64  // of what is used of it
	Mass     float64  // of the parts [kg]
}

// Group is the parts of one material and thickness, nested together.
type Group struct {
	Material  string
	Thickness float64 // of the stock [m]
	Form      price.Form
	Blanks    []Blank
	Pieces    []Piece
	Nesting   Nesting
	Cost      float64 // of the blanks
	CostUsed  float64 // of the area that is used
	Notes     []string
}

// Title names the group for people.
func (g Group) Title(system quantity.System) string {
	return g.Material + " " + Measure(g.Thickness, system)
}

// Bought is an item with its price.
type Bought struct {
	Item
	Stock string  // what is bought for it; empty: the list has no price
	Cost  float64 // of what must be bought whole
}

// thicker is by how much a wooden sheet may be thicker than asked for and be
// taken in its place, with a note. [m]
const thicker = 0.003

// planed is how much may be planed off a broad board. [m]
const planed = 0.007

// glueJoint is the width lost to jointing where boards are glued edge to edge. [m]
const glueJoint = 0.002

// NewOrder nests the parts of jobs, each copies times over, on the stock of a price
// list and prices them. A part that no stock can give is a *PartError that names
// it; an item without a price is only noted in Missing.
func NewOrder(jobs []Job, copies int, prices *price.Table, o Options) (Order, error) {
	if copies < 1 || copies > 500 {
		return Order{}, fmt.Errorf("%d copies; it must be 1 to 500", copies)
	}
	if err := o.check("cut list", "all parts"); err != nil {
		return Order{}, err
	}
	order := Order{Currency: prices.Currency, Invented: prices.Invented}
	type key struct {
		material  string
		thickness float64
	}
	groups := map[key]*Group{}
	var keys []key
	pieces := 0
	for _, j := range jobs {
		order.Mass += float64(copies) * j.Mass()
		for _, p := range j.Parts {
			if p.Existing || p.Ready {
				continue
			}
			if pieces += p.Count * copies; pieces > 3000 {
				return Order{}, fmt.Errorf("more than 3000 pieces: order fewer copies at a time")
			}
			name := strings.Split(p.Material.Name, " pressed from")[0]
			list := prices.Of(name)
			if len(list) == 0 {
				return Order{}, &PartError{j.Title, p.Name, fmt.Sprintf("no stock of %s; the list has %s", name, materials(prices))}
			}
			wanted, length, width, note := fitted(list, p, o)
			if wanted == 0 {
				return Order{}, &PartError{j.Title, p.Name, fmt.Sprintf("no stock of %s %s; the list has it in %s", name, Measure(p.Thickness, o.System), thicknesses(list, o.System))}
			}
			k := key{name, wanted}
			g := groups[k]
			if g == nil {
				g = &Group{Material: name, Thickness: wanted}
				for _, s := range list {
					if s.Form == price.Loose || s.Thickness != wanted || s.Width == 0 {
						continue
					}
					if g.Form == "" {
						g.Form = s.Form
					}
					lengths := s.Lengths
					if len(lengths) == 0 {
						lengths = []float64{rollLength}
					}
					for _, l := range lengths {
						cost, err := s.PiecePrice(l)
						if err != nil {
							order.Missing = append(order.Missing, err.Error())
						}
						g.Blanks = append(g.Blanks, Blank{Name: s.Title(o.System), Length: l, Width: s.Width, Cost: cost})
					}
				}
				groups[k] = g
				keys = append(keys, k)
			}
			label := j.Title + ", " + p.Name
			if note != "" {
				g.Notes = append(g.Notes, label+": "+note)
			}
			parts, note := split(p, length, width, g.Blanks, g.Form)
			if note != "" {
				g.Notes = append(g.Notes, label+": "+note)
			}
			for c := range copies * p.Count {
				for n, r := range parts {
					name := label
					if copies*p.Count > 1 {
						name = fmt.Sprintf("%s %d", label, c+1)
					}
					if len(parts) > 1 {
						name = fmt.Sprintf("%s, piece %d of %d", name, n+1, len(parts))
					}
					g.Pieces = append(g.Pieces, Piece{name, r[0], r[1], !p.Grain})
				}
			}
		}
	}
	for _, k := range keys {
		g := groups[k]
		n, err := Nest(g.Pieces, g.Blanks, o.Kerf)
		if err != nil {
			return Order{}, err
		}
		g.Nesting, g.Cost = n, n.Cost
		for _, l := range n.Layouts {
			b := g.Blanks[l.Blank]
			used := 0.0
			for _, p := range l.Placed {
				used += p.Area()
			}
			share := 0.0
			if b.Length*b.Width > 0 {
				share = used / (b.Length * b.Width)
			}
			g.CostUsed += b.Cost * share
		}
		if g.Form == price.Roll { // cut off the roll: only the length is paid
			g.Cost = 0
			for _, l := range n.Layouts {
				end := 0.0
				for _, p := range l.Placed {
					end = max(end, p.X+p.Length)
				}
				b := g.Blanks[l.Blank]
				g.Cost += b.Cost * min(1, end/b.Length)
			}
		}
		order.Cost += g.Cost
		order.CostUsed += g.CostUsed
		order.Groups = append(order.Groups, *g)
	}
	slices.SortStableFunc(order.Groups, func(a, b Group) int {
		return cmp.Or(cmp.Compare(a.Material, b.Material), cmp.Compare(a.Thickness, b.Thickness))
	})
	order.items(jobs, copies, prices)
	return order, nil
}

// rollLength is taken of stock that is cut to any length. [m]
const rollLength = 10

// items adds up and prices what is not cut.
func (order *Order) items(jobs []Job, copies int, prices *price.Table) {
	var sum []Item
	for _, j := range jobs {
		for _, i := range j.Items {
			i.Amount *= float64(copies)
			at := slices.IndexFunc(sum, func(x Item) bool { return x.Name == i.Name && x.Unit == i.Unit && x.Length == i.Length })
			if at < 0 {
				sum = append(sum, i)
				continue
			}
			sum[at].Amount += i.Amount
			if !strings.Contains(sum[at].Note, i.Note) {
				sum[at].Note += "; " + i.Note
			}
		}
	}
	for _, i := range sum {
		need := price.Need{Name: i.Name, Measure: price.Each, Amount: i.Amount, Length: i.Length}
		if i.Unit == "m³" {
			need.Measure = price.Volume
		}
		line, err := prices.Quote(need)
		if err != nil && i.Length > 0 { // another length does as well, as to its price
			need.Length = 0
			line, err = prices.Quote(need)
		}
		b := Bought{Item: i}
		if err != nil {
			order.Missing = append(order.Missing, fmt.Sprintf("%s: no price", i.Name))
		} else {
			b.Stock, b.Cost = line.Stock, line.Bought
			order.Cost += line.Bought
			order.CostUsed += line.Used
		}
		order.Items = append(order.Items, b)
	}
}

// fitted chooses the thickness of stock for a part, and the length and width to
// cut: wooden strips may be ripped from a thicker board or stood on edge, and
// wooden sheets be a little thicker. A thickness of 0 means that there is none.
func fitted(list []price.Stock, p Part, o Options) (thick, length, width float64, note string) {
	length, width = p.CutSize()
	best := math.Inf(1)
	for _, s := range list {
		if s.Form != price.Loose && s.Thickness > 0 && price.Fits(s.Thickness, p.Thickness) && math.Abs(s.Thickness-p.Thickness) < best {
			thick, best = s.Thickness, math.Abs(s.Thickness-p.Thickness)
		}
	}
	if thick > 0 {
		return thick, length, width, ""
	}
	solid := p.Material.Density > 250 && p.Grain
	for _, s := range list {
		if s.Form != price.Board || !solid {
			continue
		}
		switch {
		case price.Fits(s.Thickness, p.Width): // ripped off the edge of a board
			return s.Thickness, length, p.Thickness, "ripped off the edge of a board of " + Measure(s.Thickness, o.System)
		case s.Thickness > p.Thickness && s.Thickness-p.Thickness < best && (p.Width <= 0.12 || s.Thickness-p.Thickness <= planed):
			thick, best = s.Thickness, s.Thickness-p.Thickness
			note = fmt.Sprintf("ripped or planed from %s to %s", Measure(s.Thickness, o.System), Measure(p.Thickness, o.System))
		}
	}
	if thick > 0 {
		return thick, length, width, note
	}
	if p.Material.Density > 250 && !p.Soft {
		for _, s := range list {
			if d := s.Thickness - p.Thickness; s.Form == price.Sheet && d > 0 && d <= thicker && d < best {
				thick, best = s.Thickness, d
				note = fmt.Sprintf("%s is not sold: %s is taken", Measure(p.Thickness, o.System), Measure(s.Thickness, o.System))
			}
		}
	}
	return thick, length, width, note
}

// split divides a part that is larger than its stock where that can be put
// together: solid wood glued edge to edge, batts and boards of insulation laid
// side by side. Other parts come back whole.
func split(p Part, length, width float64, blanks []Blank, form price.Form) (parts [][2]float64, note string) {
	fits := func(l, w float64) bool {
		return slices.ContainsFunc(blanks, func(b Blank) bool {
			return l <= b.Length && w <= b.Width || !p.Grain && w <= b.Length && l <= b.Width
		})
	}
	if fits(length, width) {
		return [][2]float64{{length, width}}, ""
	}
	insulation := p.Material.Density <= 250
	if form == price.Board && p.Grain || insulation {
		for n := 2; n <= 8; n++ {
			w := width / float64(n)
			if form == price.Board {
				w += glueJoint
			}
			if fits(length, w) {
				for range n {
					parts = append(parts, [2]float64{length, w})
				}
				if insulation {
					return parts, fmt.Sprintf("laid in %d pieces, closely joined", n)
				}
				return parts, fmt.Sprintf("glued up edge to edge from %d boards, then trimmed to size", n)
			}
			if insulation && fits(length/float64(n), width) {
				for range n {
					parts = append(parts, [2]float64{length / float64(n), width})
				}
				return parts, fmt.Sprintf("laid in %d pieces, closely joined", n)
			}
		}
	}
	return [][2]float64{{length, width}}, ""
}

func materials(t *price.Table) string {
	var names []string
	for _, s := range t.Stock {
		if s.Form != price.Loose && !slices.Contains(names, s.Material) {
			names = append(names, s.Material)
		}
	}
	if len(names) == 0 {
		return "none to cut"
	}
	slices.Sort(names)
	return strings.Join(names, ", ")
}

func thicknesses(list []price.Stock, system quantity.System) string {
	var all []float64
	for _, s := range list {
		if s.Form != price.Loose && !slices.Contains(all, s.Thickness) {
			all = append(all, s.Thickness)
		}
	}
	if len(all) == 0 {
		return "no sheets or boards"
	}
	slices.Sort(all)
	var text []string
	for _, t := range all {
		text = append(text, Measure(t, system))
	}
	return strings.Join(text, ", ")
}
