package workshop

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// published are the zero-waste guillotine instances T1a and T3a of the strip
// packing benchmarks of "Two-dimensional packing utilising evolutionary
// algorithms and other meta-heuristic methods" (thesis, University of Wales,
// 2000), read in an open collection of cutting and packing data sets. Each fills
// a square of 200 without any waste.
var published = map[string][][2]int{
	"T1a": {{82, 38}, {37, 13}, {81, 22}, {16, 25}, {21, 64}, {29, 55}, {52, 178}, {98, 39}, {102, 37}, {46, 103}, {29, 86}, {10, 37}, {63, 26}, {50, 11}, {13, 40}, {60, 29}, {119, 20}},
	"T3a": {{58, 12}, {22, 20}, {20, 101}, {54, 14}, {14, 40}, {32, 63}, {30, 22}, {28, 8}, {33, 54}, {21, 26}, {50, 14}, {20, 132}, {16, 48}, {44, 16}, {35, 28}, {33, 32}, {11, 51}, {19, 5}, {13, 48}, {87, 43}, {49, 19}, {64, 21}, {16, 33}, {65, 55}, {35, 89}, {17, 44}, {47, 12}, {63, 32}, {165, 34}},
}

// excess is how much more of the blanks is used than the pieces need: every blank
// but the last wholly, the last up to its largest off-cut.
func excess(n Nesting, blanks []Blank) float64 {
	used := n.SheetArea
	spare := 0.0
	for _, l := range n.Layouts {
		for _, o := range l.Offcuts {
			spare = max(spare, o.Area())
		}
	}
	return (used-spare)/n.PieceArea - 1
}

func TestNestPublished(t *testing.T) {
	for _, name := range []string{"T1a", "T3a"} {
		t.Run(name, func(t *testing.T) {
			var pieces []Piece
			area := 0
			for i, d := range published[name] {
				pieces = append(pieces, Piece{fmt.Sprint(i + 1), float64(d[0]) / 100, float64(d[1]) / 100, true})
				area += d[0] * d[1]
			}
			if area != 200*200 {
				t.Fatalf("the pieces cover %d, not the square", area)
			}
			// A strip two wide and long enough: the length used measures the waste.
			blanks := []Blank{{Name: "strip", Length: 4, Width: 2}}
			n, err := Nest(pieces, blanks, 0)
			if err != nil {
				t.Fatal(err)
			}
			checkNesting(t, n, pieces, blanks)
			e := excess(n, blanks)
			t.Logf("%s: %.1f %% more than the optimum", name, 100*e)
			if e > 0.09 {
				t.Errorf("%.1f %% over the known optimum, want at most 8 %%", 100*e)
			}
		})
	}
}

// splitUp cuts a rectangle into n by guillotine cuts at random, on a grid of 1 mm.
func splitUp(r *rand.Rand, w, h, n int, least int) [][2]int {
	if n <= 1 {
		return [][2]int{{w, h}}
	}
	across := r.IntN(w+h) < w
	side := h
	if across {
		side = w
	}
	if side < 2*least {
		across = !across
		if side = w + h - side; side < 2*least {
			return [][2]int{{w, h}}
		}
	}
	at := least + r.IntN(side-2*least+1)
	k := max(1, min(n-1, int(math.Round(float64(n)*float64(at)/float64(side)))))
	if across {
		return append(splitUp(r, at, h, k, least), splitUp(r, w-at, h, n-k, least)...)
	}
	return append(splitUp(r, w, at, k, least), splitUp(r, w, h-at, n-k, least)...)
}

func generated(seed uint64, n int) []Piece {
	r := rand.New(rand.NewPCG(seed, 7))
	var pieces []Piece
	for sheet := range 2 {
		for i, d := range splitUp(r, 2440, 1220, n/2, 60) {
			pieces = append(pieces, Piece{fmt.Sprintf("%d.%d", sheet+1, i+1), float64(d[0]) / 1000, float64(d[1]) / 1000, true})
		}
	}
	return pieces
}

// TestNestGenerated nests lists that fill two sheets without waste by their
// making, so that the optimum is known.
func TestNestGenerated(t *testing.T) {
	blanks := []Blank{{Name: "sheet", Length: 2.44, Width: 1.22}}
	for _, count := range []int{10, 20, 40} {
		var all []float64
		two := 0
		for seed := range uint64(10) {
			pieces := generated(seed, count)
			n, err := Nest(pieces, blanks, 0)
			if err != nil {
				t.Fatal(err)
			}
			checkNesting(t, n, pieces, blanks)
			all = append(all, excess(n, blanks))
			if len(n.Layouts) == 2 {
				two++
			}
		}
		slices.Sort(all)
		mean := 0.0
		for _, e := range all {
			mean += e / float64(len(all))
		}
		t.Logf("%d pieces: mean %.1f %%, worst %.1f %% over the optimum; %d of %d on two sheets", count, 100*mean, 100*all[len(all)-1], two, len(all))
		if mean > 0.02 || all[len(all)-1] > 0.06 {
			t.Errorf("%d pieces: mean %.1f %% and worst %.1f %% over the optimum; want at most 4 %% and 8 %%", count, 100*mean, 100*all[len(all)-1])
		}
	}
}

// checkNesting holds a layout against its pieces: each once, inside the blank,
// apart by the kerf, and reachable by cuts from edge to edge, which is found out
// from the positions alone.
func checkNesting(t *testing.T, n Nesting, pieces []Piece, blanks []Blank) {
	t.Helper()
	seen := make([]int, len(pieces))
	area := 0.0
	for i, l := range n.Layouts {
		b := blanks[l.Blank]
		var rects []Rect
		for _, p := range l.Placed {
			q := pieces[p.Piece]
			seen[p.Piece]++
			length, width := q.Length, q.Width
			if p.Turned {
				if !q.Turn {
					t.Errorf("%s is turned against its grain", q.Name)
				}
				length, width = width, length
			}
			if p.Length != length || p.Width != width {
				t.Errorf("%s has the size %v × %v", q.Name, p.Length, p.Width)
			}
			const eps = 1e-9
			if p.X < -eps || p.Y < -eps || p.X+p.Length > b.Length+eps || p.Y+p.Width > b.Width+eps {
				t.Errorf("%s lies over the edge of sheet %d", q.Name, i+1)
			}
			rects = append(rects, p.Rect)
			area += p.Area()
		}
		if !guillotine(rects, n.Kerf) {
			t.Errorf("sheet %d cannot be cut from edge to edge with a kerf of %v", i+1, n.Kerf)
		}
		for _, o := range l.Offcuts {
			for _, r := range rects {
				if o.X < r.X+r.Length-1e-9 && r.X < o.X+o.Length-1e-9 && o.Y < r.Y+r.Width-1e-9 && r.Y < o.Y+o.Width-1e-9 {
					t.Errorf("off-cut %v lies over the piece at %v", o, r)
				}
			}
		}
		for _, c := range l.Cuts { // no cut runs through a piece
			for _, r := range rects {
				const e = 1e-6
				x1, x2, y1, y2 := min(c.FromX, c.ToX), max(c.FromX, c.ToX), min(c.FromY, c.ToY), max(c.FromY, c.ToY)
				if x1 < r.X+r.Length-e && x2 > r.X+e && y1 < r.Y+r.Width-e && y2 > r.Y+e {
					t.Errorf("sheet %d: the cut %v runs through the piece at %v", i+1, c, r)
				}
			}
		}
	}
	for i, k := range seen {
		if k != 1 {
			t.Errorf("%s is cut %d times", pieces[i].Name, k)
		}
	}
	if math.Abs(area-n.PieceArea) > 1e-9 {
		t.Errorf("piece area %v, the pieces cover %v", n.PieceArea, area)
	}
}

// guillotine reports whether rectangles can be parted by cuts from edge to edge
// that leave a kerf between.
func guillotine(rects []Rect, kerf float64) bool {
	if len(rects) <= 1 {
		return true
	}
	const eps = 1e-7
	for _, turned := range []bool{false, true} {
		from := func(r Rect) float64 {
			if turned {
				return r.Y
			}
			return r.X
		}
		to := func(r Rect) float64 {
			if turned {
				return r.Y + r.Width
			}
			return r.X + r.Length
		}
		sorted := slices.Clone(rects)
		slices.SortFunc(sorted, func(a, b Rect) int {
			if d := from(a) - from(b); d < 0 {
				return -1
			} else if d > 0 {
				return 1
			}
			return 0
		})
		end := to(sorted[0])
		for i := 1; i < len(sorted); i++ {
			if from(sorted[i]) >= end+kerf-eps {
				if guillotine(sorted[:i], kerf) && guillotine(sorted[i:], kerf) {
					return true
				}
				break // any first cut of a cuttable set is as good as another
			}
			end = max(end, to(sorted[i]))
		}
	}
	return false
}

func TestNestKerfAndGrain(t *testing.T) {
	blanks := []Blank{{Name: "board", Length: 2.4, Width: 0.184}}
	pieces := []Piece{}
	for i := range 9 {
		pieces = append(pieces, Piece{Name: fmt.Sprint("rail ", i), Length: 0.505, Width: 0.04})
	}
	n, err := Nest(pieces, blanks, 0.003)
	if err != nil {
		t.Fatal(err)
	}
	checkNesting(t, n, pieces, blanks)
	if len(n.Layouts) != 1 { // 4 along x 4 across fit: 4·0.505+3·0.003 and 4·0.04+3·0.003
		t.Errorf("%d boards for nine rails, want 1", len(n.Layouts))
	}
	// Sixteen fit exactly only as long as the kerf is small enough.
	pieces = pieces[:0]
	for i := range 16 {
		pieces = append(pieces, Piece{Name: fmt.Sprint("rail ", i), Length: 0.5975, Width: 0.04})
	}
	for kerf, want := range map[float64]int{0.003: 1, 0.0035: 2} {
		n, err := Nest(pieces, blanks, kerf)
		if err != nil {
			t.Fatal(err)
		}
		checkNesting(t, n, pieces, blanks)
		if len(n.Layouts) != want {
			t.Errorf("kerf %v: %d boards, want %d", kerf, len(n.Layouts), want)
		}
	}
}

func TestNestRefuses(t *testing.T) {
	board := []Blank{{Name: "board", Length: 2.4, Width: 0.184}}
	_, err := Nest([]Piece{{Name: "front wall", Length: 0.505, Width: 0.244}}, board, 0.003)
	var ne *NestError
	if !errors.As(err, &ne) || ne.Piece.Name != "front wall" || !strings.Contains(err.Error(), "2400 × 184") {
		t.Errorf("a part wider than its board: %v", err)
	}
	// Turned it would fit in length, but the grain forbids it.
	if _, err := Nest([]Piece{{Name: "side", Length: 0.1, Width: 0.5}}, board, 0); err == nil {
		t.Error("a part across the grain was cut")
	}
	if _, err := Nest([]Piece{{Name: "side", Length: 0.1, Width: 0.5, Turn: true}}, board, 0); err != nil {
		t.Error(err)
	}
	if _, err := Nest(nil, board, -0.001); err == nil || !strings.Contains(err.Error(), "kerf") {
		t.Errorf("negative kerf: %v", err)
	}
	if _, err := Nest([]Piece{{Name: "x", Length: math.NaN(), Width: 1}}, board, 0); err == nil {
		t.Error("a piece without size was cut")
	}
	if _, err := Nest([]Piece{{Name: "a", Length: 2, Width: 0.1}, {Name: "b", Length: 2, Width: 0.1}}, []Blank{{Name: "left over", Length: 2.1, Width: 0.12, Count: 1}}, 0); err == nil {
		t.Error("two pieces came from one off-cut that holds one")
	}
}

// TestNestSameEveryTime: the search by lot gives one answer.
func TestNestSameEveryTime(t *testing.T) {
	pieces := generated(3, 30)
	blanks := []Blank{{Name: "sheet", Length: 2.44, Width: 1.22}}
	a, err := Nest(pieces, blanks, 0.003)
	if err != nil {
		t.Fatal(err)
	}
	b, _ := Nest(pieces, blanks, 0.003)
	if fmt.Sprint(a) != fmt.Sprint(b) {
		t.Error("two runs differ")
	}
}

func BenchmarkNestTwoSheets(b *testing.B) {
	pieces := generated(1, 40)
	blanks := []Blank{{Name: "sheet", Length: 2.44, Width: 1.22}}
	for b.Loop() {
		if _, err := Nest(pieces, blanks, 0.003); err != nil {
			b.Fatal(err)
		}
	}
}
