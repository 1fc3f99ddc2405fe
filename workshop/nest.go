package workshop

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// Piece is one rectangle to cut from a sheet or board.
type Piece struct {
	Name   string
	Length float64 // along the grain of the sheet unless turned [m]
	Width  float64 // [m]
	Turn   bool    // may be turned by a right angle, as grain does not matter
}

// Blank is a size of sheet or board to cut from.
type Blank struct {
	Name   string
	Length float64 // along the grain [m]
	Width  float64 // [m]
	Cost   float64 // of one, in the currency of the price file; 0 counts by area
	Count  int     // how many there are; 0: as many as wanted
}

// Rect is a rectangle on a blank, from its lower left corner.
type Rect struct {
	X      float64 `json:"x_m"`      // along the length [m]
	Y      float64 `json:"y_m"`      // across [m]
	Length float64 `json:"length_m"` // [m]
	Width  float64 `json:"width_m"`  // [m]
}

// Area of the rectangle. [m²]
func (r Rect) Area() float64 { return r.Length * r.Width }

// Placed is a piece where it lies on a blank.
type Placed struct {
	Piece  int  // index into the pieces
	Turned bool // its length lies across the blank
	Rect
}

// Cut is one pass of the saw from edge to edge of what was cut off before. The
// line is the near side of the kerf.
type Cut struct {
	FromX, FromY, ToX, ToY float64 // [m]
}

// Layout is one blank with what is cut from it.
type Layout struct {
	Blank   int // index into the blanks
	Placed  []Placed
	Cuts    []Cut  // in the order of sawing; every one is guillotine, edge to edge
	Offcuts []Rect // what is left over and at least LeastOffcut on both sides, the largest first
}

// Nesting is how pieces lie on blanks.
type Nesting struct {
	Layouts []Layout
	Kerf    float64 // [m]
	Cost    float64 // of the blanks, where they have one

	SheetArea  float64 // of all blanks used [m²]
	PieceArea  float64 // of the pieces [m²]
	OffcutArea float64 // worth keeping [m²]
}

// LeastOffcut is the narrowest off-cut that is worth keeping: common practice,
// no source. [m]
const LeastOffcut = 0.08

// Waste is the share of the blanks that is neither piece nor off-cut worth
// keeping: kerf and scrap. [-]
func (n Nesting) Waste() float64 {
	if n.SheetArea == 0 {
		return 0
	}
	return 1 - (n.PieceArea+n.OffcutArea)/n.SheetArea
}

// grid is the step that sizes are rounded to while nesting: pieces up, blanks
// down. [m]
const grid = 1e-5

// NestError tells which piece cannot be cut.
type NestError struct {
	Piece  Piece
	Reason string
}

func (e *NestError) Error() string { return e.Piece.Name + ": " + e.Reason }

// Nest lays pieces on blanks so that every cut runs from edge to edge
// (guillotine), as a saw cuts, with a kerf between neighbours, and seeks the
// cheapest set of blanks, then the largest off-cuts.
//
// Method. Pieces are laid one by one into the free rectangle where they fit best
// by one of several rules, which is then split in two along one of its cuts: the
// guillotine heuristics of "A Thousand Ways to Pack the Bin", 2010 (from memory).
// Several orders and rules are tried; pieces of equal breadth are also joined to
// strips first, as a joiner rips a strip and cross-cuts it, after "Two algorithms
// for constrained two-dimensional cutting stock problems", Operations Research
// 31, 1983, DOI 10.1287/opre.31.3.573 (from memory). The best are then improved
// by exchanging pieces. The same input gives the same answer.
func Nest(pieces []Piece, blanks []Blank, kerf float64) (Nesting, error) {
	if !(kerf >= 0) || kerf > 0.02 {
		return Nesting{}, fmt.Errorf("kerf of %.1f mm: it must lie between 0 and 20 mm", 1000*kerf)
	}
	s := solver{kerf: down(kerf + grid/2), random: rand.New(rand.NewPCG(1, 2))}
	for _, b := range blanks {
		if !(b.Length > 0) || !(b.Width > 0) || math.IsInf(b.Length+b.Width, 0) {
			return Nesting{}, fmt.Errorf("stock %q: %.0f × %.0f mm is no size", b.Name, 1000*b.Length, 1000*b.Width)
		}
		cost := b.Cost
		if cost <= 0 {
			cost = b.Length * b.Width
		}
		s.blanks = append(s.blanks, blank{down(b.Length) + s.kerf, down(b.Width) + s.kerf, cost, b.Count})
	}
	var area float64
	for _, p := range pieces {
		if !(p.Length > 0) || !(p.Width > 0) || math.IsInf(p.Length+p.Width, 0) {
			return Nesting{}, &NestError{p, fmt.Sprintf("%.1f × %.1f mm is no size", 1000*p.Length, 1000*p.Width)}
		}
		b := &block{w: up(p.Length) + s.kerf, h: up(p.Width) + s.kerf, turn: p.Turn, piece: len(s.pieces)}
		if !slices.ContainsFunc(s.blanks, func(x blank) bool { return b.fits(x.w, x.h) }) {
			return Nesting{}, &NestError{p, fmt.Sprintf("%.0f × %.0f mm is larger than every blank of its stock%s", 1000*p.Length, 1000*p.Width, largest(blanks))}
		}
		s.pieces = append(s.pieces, b)
		area += p.Length * p.Width
	}
	best := s.solve()
	if best == nil {
		return Nesting{}, fmt.Errorf("the stock at hand does not suffice for %d pieces of %.2f m² together%s", len(pieces), area, largest(blanks))
	}
	n := s.nesting(best, pieces, blanks, kerf)
	if len(blanks) > 1 {
		s.shrink(&n, pieces, blanks)
	}
	return n, nil
}

// shrink lays what lies on one blank on a cheaper one where it fits.
func (s *solver) shrink(n *Nesting, pieces []Piece, blanks []Blank) {
	used := make([]int, len(blanks))
	for _, l := range n.Layouts {
		used[l.Blank]++
	}
	for i, l := range n.Layouts {
		var cheaper []int
		for k := range blanks {
			if s.blanks[k].cost < s.blanks[l.Blank].cost && (blanks[k].Count == 0 || used[k] < blanks[k].Count) {
				cheaper = append(cheaper, k)
			}
		}
		slices.SortStableFunc(cheaper, func(a, b int) int { return cmp.Compare(s.blanks[a].cost, s.blanks[b].cost) })
		for _, k := range cheaper {
			sub := solver{kerf: s.kerf, random: rand.New(rand.NewPCG(3, 4)), blanks: []blank{{s.blanks[k].w, s.blanks[k].h, s.blanks[k].cost, 1}}}
			var own []Piece
			fits := true
			for _, p := range l.Placed {
				b := *s.pieces[p.Piece]
				b.piece = len(own)
				fits = fits && b.fits(s.blanks[k].w, s.blanks[k].h)
				own, sub.pieces = append(own, pieces[p.Piece]), append(sub.pieces, &b)
			}
			if !fits {
				continue
			}
			best := sub.solve()
			if best == nil {
				continue
			}
			m := sub.nesting(best, own, []Blank{blanks[k]}, n.Kerf)
			placed := m.Layouts[0]
			placed.Blank = k
			for x := range placed.Placed {
				placed.Placed[x].Piece = l.Placed[placed.Placed[x].Piece].Piece
			}
			n.Layouts[i] = placed
			used[l.Blank]--
			used[k]++
			break
		}
	}
	n.Cost, n.SheetArea, n.OffcutArea = 0, 0, 0
	for _, l := range n.Layouts {
		n.Cost += blanks[l.Blank].Cost
		n.SheetArea += blanks[l.Blank].Length * blanks[l.Blank].Width
		for _, o := range l.Offcuts {
			n.OffcutArea += o.Area()
		}
	}
}

func largest(blanks []Blank) string {
	if len(blanks) == 0 {
		return ": there is none"
	}
	b := slices.MaxFunc(blanks, func(a, b Blank) int { return cmp.Compare(a.Length*a.Width, b.Length*b.Width) })
	return fmt.Sprintf(": the largest is %.0f × %.0f mm", 1000*b.Length, 1000*b.Width)
}

func up(m float64) int   { return int(math.Ceil(m/grid - 1e-6)) }
func down(m float64) int { return int(math.Floor(m/grid + 1e-6)) }

// Sizes below are on the grid, and every one has a kerf added, blanks as well:
// pieces side by side then need no further room.

// block is a piece or two blocks joined along a side.
type block struct {
	w, h  int
	turn  bool
	piece int    // of a leaf
	a, b  *block // of a join
	over  bool   // b lies above a, else to its right
	ta    bool   // a is turned inside
	tb    bool
}

func (b *block) fits(w, h int) bool {
	return b.w <= w && b.h <= h || b.turn && b.h <= w && b.w <= h
}

type blank struct {
	w, h  int
	cost  float64
	count int
}

type free struct {
	sheet      int
	x, y, w, h int
	order      int // of the cut that made it
}

type placed struct {
	block  *block
	sheet  int
	x, y   int
	turned bool
}

type sawn struct {
	sheet          int
	x1, y1, x2, y2 int
}

// packing is one trial.
type packing struct {
	sheets []int // index of blank
	free   []free
	placed []placed
	cuts   []sawn
	cost   float64
	spare  float64 // sum of the squares of the free rectangles: large when what is left hangs together
}

func (p *packing) better(q *packing) bool {
	if q == nil {
		return true
	}
	if p.cost != q.cost {
		return p.cost < q.cost
	}
	return p.spare > q.spare
}

// rules of one trial.
type rules struct {
	choice int // how the free rectangle is chosen
	split  int // which way it is split
	blank  int // the blank that is opened when nothing fits
}

const (
	choices = 3
	splits  = 6
)

type solver struct {
	kerf   int
	blanks []blank
	pieces []*block
	random *rand.Rand
	work   packing
}

// pack lays the blocks in order. It returns nil when the blanks do not suffice.
// The packing is valid until the next call.
func (s *solver) pack(order []*block, r rules, cuts bool) *packing {
	p := &s.work
	p.sheets, p.free, p.placed, p.cuts, p.cost = p.sheets[:0], p.free[:0], p.placed[:0], p.cuts[:0], 0
	for _, b := range order {
		at, turned := s.choose(p, b, r.choice)
		if at < 0 {
			k := s.open(p, b, r.blank)
			if k < 0 {
				return nil
			}
			p.free = append(p.free, free{sheet: len(p.sheets), w: s.blanks[k].w, h: s.blanks[k].h})
			p.sheets = append(p.sheets, k)
			p.cost += s.blanks[k].cost
			if at, turned = s.choose(p, b, r.choice); at < 0 {
				return nil
			}
		}
		s.lay(p, at, b, turned, r.split, cuts)
	}
	p.spare = 0
	for _, f := range p.free {
		a := float64(f.w-s.kerf) * float64(f.h-s.kerf)
		p.spare += a * a
	}
	return p
}

// open chooses the blank for a block that fits nowhere: those of limited number
// first, as they are at hand, then the wanted one, then any.
func (s *solver) open(p *packing, b *block, wanted int) int {
	left := func(k int) bool {
		if s.blanks[k].count == 0 {
			return true
		}
		n := 0
		for _, x := range p.sheets {
			if x == k {
				n++
			}
		}
		return n < s.blanks[k].count
	}
	for k, x := range s.blanks {
		if x.count > 0 && b.fits(x.w, x.h) && left(k) {
			return k
		}
	}
	if x := s.blanks[wanted]; b.fits(x.w, x.h) && left(wanted) {
		return wanted
	}
	best := -1
	for k, x := range s.blanks {
		if b.fits(x.w, x.h) && left(k) && (best < 0 || x.cost < s.blanks[best].cost) {
			best = k
		}
	}
	return best
}

// choose returns the free rectangle that suits a block best, -1 for none.
func (s *solver) choose(p *packing, b *block, rule int) (at int, turned bool) {
	at = -1
	best := math.MaxInt
	try := func(i int, f *free, w, h int, turn bool) {
		if w > f.w || h > f.h {
			return
		}
		dw, dh := f.w-w, f.h-h
		var score int
		switch rule {
		case 0: // least area left
			score = f.w*f.h - w*h
		case 1: // least short side left
			score = min(dw, dh)*(1<<22) + max(dw, dh)
		default: // least long side left
			score = max(dw, dh)*(1<<22) + min(dw, dh)
		}
		if score < best {
			best, at, turned = score, i, turn
		}
	}
	for i := range p.free {
		f := &p.free[i]
		try(i, f, b.w, b.h, false)
		if b.turn && b.w != b.h {
			try(i, f, b.h, b.w, true)
		}
	}
	return at, turned
}

// lay puts a block into the lower left corner of a free rectangle and splits the
// rest in two.
func (s *solver) lay(p *packing, at int, b *block, turned bool, rule int, cuts bool) {
	f := p.free[at]
	p.free[at] = p.free[len(p.free)-1]
	p.free = p.free[:len(p.free)-1]
	w, h := b.w, b.h
	if turned {
		w, h = h, w
	}
	p.placed = append(p.placed, placed{b, f.sheet, f.x, f.y, turned})
	dw, dh := f.w-w, f.h-h
	level := false // the first cut runs along the length, over the whole rectangle
	switch rule {
	case 0:
		level = dw <= dh
	case 1:
		level = dw > dh
	case 2:
		level = w*dh > dw*h
	case 3:
		level = w*dh <= dw*h
	case 4:
		level = true
	}
	right := free{f.sheet, f.x + w, f.y, dw, f.h, 0}
	above := free{f.sheet, f.x, f.y + h, w, dh, 0}
	if level {
		right.h, above.w = h, f.w
	}
	if cuts {
		across := sawn{f.sheet, f.x + w - s.kerf, f.y, f.x + w - s.kerf, f.y + right.h - s.kerf}
		along := sawn{f.sheet, f.x, f.y + h - s.kerf, f.x + above.w - s.kerf, f.y + h - s.kerf}
		first, second := across, along
		usedFirst, usedSecond := dw > 0, dh > 0
		if level {
			first, second = along, across
			usedFirst, usedSecond = dh > 0, dw > 0
		}
		if usedFirst {
			p.cuts = append(p.cuts, first)
		}
		if usedSecond {
			p.cuts = append(p.cuts, second)
		}
	}
	// What is not wider than the kerf is sawdust.
	if right.w > s.kerf && right.h > s.kerf {
		p.free = append(p.free, right)
	}
	if above.w > s.kerf && above.h > s.kerf {
		p.free = append(p.free, above)
	}
}

// solution is how the best packing was found, so that it can be made again.
type solution struct {
	order []*block
	rules rules
	packing
}

func (s *solver) keep(best *solution, order []*block, r rules) *solution {
	p := s.pack(order, r, false)
	if p == nil || best != nil && !p.better(&best.packing) {
		return best
	}
	return &solution{slices.Clone(order), r, packing{cost: p.cost, spare: p.spare}}
}

// Effort of the search, in pieces laid: a two-sheet list of forty takes well
// under 200 ms (see the benchmark).
const effort = 1_000_000

func (s *solver) solve() *solution {
	if len(s.pieces) == 0 {
		return &solution{}
	}
	keys := []func(*block) int{
		func(b *block) int { return b.w * b.h },
		func(b *block) int { return max(b.w, b.h)*(1<<22) + min(b.w, b.h) },
		func(b *block) int { return min(b.w, b.h)*(1<<22) + max(b.w, b.h) },
		func(b *block) int { return b.w + b.h },
		func(b *block) int { return b.w*(1<<22) + b.h },
		func(b *block) int { return b.h*(1<<22) + b.w },
	}
	var best *solution
	orders := [][]*block{s.pieces}
	orders = append(orders, s.strips(false), s.strips(true))
	for _, blocks := range orders {
		for _, key := range keys {
			order := slices.Clone(blocks)
			slices.SortStableFunc(order, func(a, b *block) int { return key(b) - key(a) })
			for k := range s.blanks {
				if s.blanks[k].count > 0 && len(s.blanks) > 1 {
					continue
				}
				for c := range choices {
					for x := range splits {
						best = s.keep(best, order, rules{c, x, k})
					}
				}
			}
		}
	}
	if best == nil {
		return nil
	}
	work := min(effort, 2000*len(s.pieces)*len(s.pieces))
	if len(s.pieces) == 1 {
		work = 0
	}
	if len(s.blanks) == 1 && s.blanks[0].count == 1 {
		work /= 10 // one trial of many
	}
	cur := best
	for round := 0; work > 0; round++ {
		// Every other round begins anew with pieces joined by lot.
		if round%8 > 0 {
			blocks := s.joined()
			key := keys[s.random.IntN(len(keys))]
			slices.SortStableFunc(blocks, func(a, b *block) int { return key(b) - key(a) })
			cur = nil
			for c := range choices {
				for x := range splits {
					cur = s.keep(cur, blocks, rules{c, x, best.rules.blank})
					work -= len(blocks)
				}
			}
		} else {
			cur = best
		}
		if cur == nil {
			continue
		}
		order := slices.Clone(cur.order)
		for fails := 0; fails < 20+len(order) && work > 0; {
			r := cur.rules
			n := len(order)
			undo := slices.Clone(order)
			switch s.random.IntN(5) {
			case 0:
				r.choice, r.split = s.random.IntN(choices), s.random.IntN(splits)
			case 1, 2:
				i, j := s.random.IntN(n), s.random.IntN(n)
				order[i], order[j] = order[j], order[i]
			default:
				i, j := s.random.IntN(n), s.random.IntN(n)
				b := order[i]
				order = slices.Insert(slices.Delete(order, i, i+1), j, b)
			}
			p := s.pack(order, r, false)
			work -= n
			if p != nil && p.better(&cur.packing) {
				cur = &solution{slices.Clone(order), r, packing{cost: p.cost, spare: p.spare}}
				fails = 0
				continue
			}
			copy(order, undo)
			fails++
		}
		if cur.packing.better(&best.packing) {
			best = cur
		}
	}
	return best
}

// strips joins pieces of one breadth to strips as long as fit the largest blank.
func (s *solver) strips(byWidth bool) []*block {
	var most blank
	for _, b := range s.blanks {
		if b.w*b.h > most.w*most.h {
			most = b
		}
	}
	left := slices.Clone(s.pieces)
	slices.SortStableFunc(left, func(a, b *block) int {
		if byWidth {
			return cmp.Or(a.w-b.w, b.h-a.h)
		}
		return cmp.Or(a.h-b.h, b.w-a.w)
	})
	var out []*block
	for _, b := range left {
		done := false
		for i, o := range out {
			if byWidth && o.w == b.w && o.h+b.h <= most.h {
				out[i], done = join(o, b, true, false, false), true
			} else if !byWidth && o.h == b.h && o.w+b.w <= most.w {
				out[i], done = join(o, b, false, false, false), true
			}
			if done {
				break
			}
		}
		if !done {
			out = append(out, b)
		}
	}
	return out
}

// joined joins pieces with an equal side by lot, as often as there are pairs
// that fit a blank, but leaves some alone.
func (s *solver) joined() []*block {
	blocks := slices.Clone(s.pieces)
	type pair struct {
		i, j         int
		ti, tj, over bool
	}
	var pairs []pair
	stop := s.random.Float64() * s.random.Float64() // the share of joins left undone
	for len(blocks) > 1 {
		pairs = pairs[:0]
		for i, a := range blocks {
			for j := i + 1; j < len(blocks); j++ {
				b := blocks[j]
				for o := range 4 {
					ti, tj := o&1 != 0, o&2 != 0
					if ti && !a.turn || tj && !b.turn {
						continue
					}
					aw, ah, bw, bh := a.w, a.h, b.w, b.h
					if ti {
						aw, ah = ah, aw
					}
					if tj {
						bw, bh = bh, bw
					}
					if ah == bh && s.fitsAny(aw+bw, ah, a.turn && b.turn) {
						pairs = append(pairs, pair{i, j, ti, tj, false})
					}
					if aw == bw && s.fitsAny(aw, ah+bh, a.turn && b.turn) {
						pairs = append(pairs, pair{i, j, ti, tj, true})
					}
				}
			}
		}
		if len(pairs) == 0 || s.random.Float64() < stop/4 {
			break
		}
		x := pairs[s.random.IntN(len(pairs))]
		blocks[x.i] = join(blocks[x.i], blocks[x.j], x.over, x.ti, x.tj)
		blocks = slices.Delete(blocks, x.j, x.j+1)
	}
	return blocks
}

func (s *solver) fitsAny(w, h int, turn bool) bool {
	b := block{w: w, h: h, turn: turn}
	return slices.ContainsFunc(s.blanks, func(x blank) bool { return b.fits(x.w, x.h) })
}

func join(a, b *block, over, ta, tb bool) *block {
	aw, ah, bw, bh := a.w, a.h, b.w, b.h
	if ta {
		aw, ah = ah, aw
	}
	if tb {
		bw, bh = bh, bw
	}
	j := &block{turn: a.turn && b.turn, a: a, b: b, over: over, ta: ta, tb: tb}
	if over {
		j.w, j.h = max(aw, bw), ah+bh
	} else {
		j.w, j.h = aw+bw, max(ah, bh)
	}
	return j
}

// nesting makes the best packing again, with its cuts, in metres.
func (s *solver) nesting(best *solution, pieces []Piece, blanks []Blank, kerf float64) Nesting {
	n := Nesting{Kerf: kerf}
	if len(pieces) == 0 {
		return n
	}
	p := s.pack(best.order, best.rules, true)
	n.Layouts = make([]Layout, len(p.sheets))
	for i, k := range p.sheets {
		n.Layouts[i].Blank = k
		n.SheetArea += blanks[k].Length * blanks[k].Width
		n.Cost += blanks[k].Cost
	}
	at := func(v int) float64 { return math.Round(float64(v)*grid*1e6) / 1e6 }
	cut := func(c sawn) {
		l := &n.Layouts[c.sheet]
		b := blanks[l.Blank]
		l.Cuts = append(l.Cuts, Cut{min(at(c.x1), b.Length), min(at(c.y1), b.Width), min(at(c.x2), b.Length), min(at(c.y2), b.Width)})
	}
	// The cuts that divide joined blocks come after those that free the block.
	var inner []sawn
	var expand func(b *block, sheet, x, y int, turned bool)
	expand = func(b *block, sheet, x, y int, turned bool) {
		if b.a == nil {
			q := pieces[b.piece]
			r := Rect{at(x), at(y), q.Length, q.Width}
			if turned {
				r.Length, r.Width = r.Width, r.Length
			}
			l := &n.Layouts[sheet]
			l.Placed = append(l.Placed, Placed{b.piece, turned, r})
			n.PieceArea += r.Area()
			return
		}
		// Inside, a lies in the corner and b beyond it; turning the block swaps
		// the axes of both.
		aw, ah := b.a.w, b.a.h
		if b.ta {
			aw, ah = ah, aw
		}
		w, h := b.w, b.h
		over := b.over
		if turned {
			aw, ah, w, h, over = ah, aw, h, w, !over
		}
		if over {
			inner = append(inner, sawn{sheet, x, y + ah - s.kerf, x + w - s.kerf, y + ah - s.kerf})
			expand(b.a, sheet, x, y, b.ta != turned)
			expand(b.b, sheet, x, y+ah, b.tb != turned)
		} else {
			inner = append(inner, sawn{sheet, x + aw - s.kerf, y, x + aw - s.kerf, y + h - s.kerf})
			expand(b.a, sheet, x, y, b.ta != turned)
			expand(b.b, sheet, x+aw, y, b.tb != turned)
		}
	}
	for _, q := range p.placed {
		expand(q.block, q.sheet, q.x, q.y, q.turned)
	}
	for _, c := range p.cuts {
		cut(c)
	}
	for _, c := range inner {
		cut(c)
	}
	for _, f := range p.free {
		l := &n.Layouts[f.sheet]
		r := Rect{at(f.x), at(f.y), at(f.w - s.kerf), at(f.h - s.kerf)}
		if min(r.Length, r.Width) >= LeastOffcut {
			l.Offcuts = append(l.Offcuts, r)
			n.OffcutArea += r.Area()
		}
	}
	for i := range n.Layouts {
		slices.SortStableFunc(n.Layouts[i].Offcuts, func(a, b Rect) int { return cmp.Compare(b.Area(), a.Area()) })
	}
	return n
}
