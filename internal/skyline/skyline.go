// Package skyline solves small linear systems directly that keep their few
// non-zeros near the diagonal, apart from some long rows.
//
// A matrix is stored by its profile: row i of the lower triangle from its
// first coupled column to the diagonal, and column i of the upper triangle over
// the same span. Values may be unsymmetric, the profile is symmetric. Everything
// inside the profile can fill, nothing outside can, so that the factors lie in
// the space of the matrix and solving allocates nothing. There is no pivoting:
// the systems of this project are diagonally dominant or positive definite.
//
// Long rows cost least when they carry the highest numbers.
package skyline

import (
	"errors"
	"fmt"
	"math"
)

// ErrSingular is returned by Factor when a pivot is zero, lost to rounding or not
// a number.
var ErrSingular = errors.New("skyline: singular matrix")

// pivotFloor is the smallest share of the original diagonal that a pivot may keep;
// below it all of its digits are rounding. [-]
const pivotFloor = 16 * 0x1p-52

// profile is the part of a matrix that copies share.
type profile struct {
	first []int // first column of row i inside the profile; first[i] <= i
	// base makes positions: entry (i,j), j < i, of the lower triangle lies at
	// base[i]+j, and entry (j,i) of the upper one at base[i]+j+area.
	base []int
	area int // entries of one triangle without the diagonal
}

// Matrix is a square matrix inside a fixed profile, and after Factor the factors
// of that matrix. It must not be used by two goroutines at once; Clone gives
// each its own at little cost.
type Matrix struct {
	shape *profile
	value []float64 // diagonal, lower triangle by rows, upper triangle by columns
	pivot []float64 // reciprocal pivots, after Factor
}

// New returns a zero matrix of order n that can hold the diagonal and both
// entries (i,j) and (j,i) of every pair. It returns an error for n < 1 and for a
// pair outside the matrix.
func New(n int, pairs [][2]int) (*Matrix, error) {
	if n < 1 {
		return nil, fmt.Errorf("skyline: order %d, need at least 1", n)
	}
	p := &profile{first: make([]int, n), base: make([]int, n)}
	for i := range p.first {
		p.first[i] = i
	}
	for _, c := range pairs {
		i, j := max(c[0], c[1]), min(c[0], c[1])
		if j < 0 || i >= n {
			return nil, fmt.Errorf("skyline: pair (%d,%d) outside a matrix of order %d", c[0], c[1], n)
		}
		p.first[i] = min(p.first[i], j)
	}
	for i, f := range p.first {
		p.base[i] = n + p.area - f
		p.area += i - f
	}
	return &Matrix{shape: p, value: make([]float64, n+2*p.area), pivot: make([]float64, n)}, nil
}

// Clone returns a zero matrix with the same profile, which is shared.
func (m *Matrix) Clone() *Matrix {
	return &Matrix{shape: m.shape, value: make([]float64, len(m.value)), pivot: make([]float64, len(m.pivot))}
}

// Order returns the number of rows.
func (m *Matrix) Order() int { return len(m.shape.first) }

// Size returns the number of entries kept in one triangle without the diagonal.
func (m *Matrix) Size() int { return m.shape.area }

// Clear sets every entry to zero.
func (m *Matrix) Clear() { clear(m.value) }

// Position returns where entry (i,j) lies in Values, or -1 when it lies outside
// the profile. Positions stay the same for the life of the matrix and hold for
// its clones.
func (m *Matrix) Position(i, j int) int {
	s := m.shape
	if i < 0 || j < 0 || i >= len(s.first) || j >= len(s.first) {
		return -1
	}
	switch {
	case i == j:
		return i
	case i > j && j >= s.first[i]:
		return s.base[i] + j
	case i < j && i >= s.first[j]:
		return s.base[j] + i + s.area
	}
	return -1
}

// Values returns the storage of the matrix for writing through positions. Entry
// (i,i) of the diagonal lies at i.
func (m *Matrix) Values() []float64 { return m.value }

// Add adds v to entry (i,j). An entry outside the profile is a programmer's
// mistake and panics.
func (m *Matrix) Add(i, j int, v float64) {
	at := m.Position(i, j)
	if at < 0 {
		panic(fmt.Sprintf("skyline: entry (%d,%d) outside the profile", i, j))
	}
	m.value[at] += v
}

// At returns entry (i,j), zero outside the profile. After Factor it returns the
// entry of the factors.
func (m *Matrix) At(i, j int) float64 {
	at := m.Position(i, j)
	if at < 0 {
		return 0
	}
	return m.value[at]
}

// Factor replaces the matrix by its factors L and U, L with unit diagonal
// (Doolittle's scheme, inner products along the profile). It returns ErrSingular,
// naming the row, when a pivot vanishes; the matrix is then spoilt.
func (m *Matrix) Factor() error {
	s, v := m.shape, m.value
	for i, fi := range s.first {
		row := v[s.base[i]+fi : s.base[i]+i]               // L, row i, columns fi..i-1
		col := v[s.base[i]+fi+s.area : s.base[i]+i+s.area] // U, column i, rows fi..i-1
		pivot, original := v[i], v[i]
		for j := fi; j < i; j++ {
			from := max(fi, s.first[j])
			n := j - from
			rj := v[s.base[j]+from : s.base[j]+j]
			cj := v[s.base[j]+from+s.area : s.base[j]+j+s.area]
			a, b := row[from-fi:from-fi+n], col[from-fi:from-fi+n]
			var lower, upper float64
			for k, x := range a {
				lower += x * cj[k]
				upper += rj[k] * b[k]
			}
			l := (row[j-fi] - lower) * m.pivot[j]
			u := col[j-fi] - upper
			row[j-fi], col[j-fi] = l, u
			pivot -= l * u
		}
		if !(math.Abs(pivot) > pivotFloor*math.Abs(original)) || math.IsInf(pivot, 0) {
			return fmt.Errorf("%w: row %d, pivot %g of %g", ErrSingular, i, pivot, original)
		}
		v[i] = pivot
		m.pivot[i] = 1 / pivot
	}
	return nil
}

// Solve replaces the right-hand side b by the solution. Factor must have
// succeeded before. A b of the wrong length is a programmer's mistake and panics.
func (m *Matrix) Solve(b []float64) {
	s, v := m.shape, m.value
	if len(b) != len(s.first) {
		panic(fmt.Sprintf("skyline: right-hand side of length %d for order %d", len(b), len(s.first)))
	}
	for i, fi := range s.first {
		row := v[s.base[i]+fi : s.base[i]+i]
		x := b[fi:i]
		sum := b[i]
		for k, l := range row {
			sum -= l * x[k]
		}
		b[i] = sum
	}
	for i := len(b) - 1; i >= 0; i-- {
		fi := s.first[i]
		col := v[s.base[i]+fi+s.area : s.base[i]+i+s.area]
		x := b[fi:i]
		bi := b[i] * m.pivot[i]
		b[i] = bi
		for k, u := range col {
			x[k] -= u * bi
		}
	}
}

// Order returns a numbering of n unknowns coupled by pairs that keeps the
// profile small: place[i] is the new number of unknown i. It compares the given
// numbering with the reverse Cuthill-McKee numbering from every starting unknown
// of least degree and takes the one of least profile, the given one on a tie.
// Pairs must lie inside 0..n-1.
func Order(n int, pairs [][2]int) []int {
	adjacent := make([][]int, n)
	for _, c := range pairs {
		if c[0] != c[1] {
			adjacent[c[0]] = append(adjacent[c[0]], c[1])
			adjacent[c[1]] = append(adjacent[c[1]], c[0])
		}
	}
	best := make([]int, n)
	least := n
	for i := range best {
		best[i] = i
		least = min(least, len(adjacent[i]))
	}
	size := profileSize(n, pairs, best)
	for start := range n {
		if len(adjacent[start]) > least+1 {
			continue
		}
		place := cuthillMcKee(adjacent, start)
		if s := profileSize(n, pairs, place); s < size {
			best, size = place, s
		}
	}
	return best
}

// cuthillMcKee numbers the unknowns breadth first from start, neighbours of
// small degree first, then backwards. Unknowns without a path to start follow
// from the one of least degree among them.
func cuthillMcKee(adjacent [][]int, start int) []int {
	n := len(adjacent)
	place := make([]int, n)
	for i := range place {
		place[i] = -1
	}
	queue := make([]int, 0, n)
	visit := func(i int) {
		place[i] = n - 1 - len(queue)
		queue = append(queue, i)
	}
	visit(start)
	for done := 0; ; {
		for ; done < len(queue); done++ {
			at := queue[done]
			for {
				next := -1
				for _, k := range adjacent[at] {
					if place[k] < 0 && (next < 0 || len(adjacent[k]) < len(adjacent[next])) {
						next = k
					}
				}
				if next < 0 {
					break
				}
				visit(next)
			}
		}
		if len(queue) == n {
			return place
		}
		next := -1
		for k := range n {
			if place[k] < 0 && (next < 0 || len(adjacent[k]) < len(adjacent[next])) {
				next = k
			}
		}
		visit(next)
	}
}

// profileSize counts the entries of one triangle under a numbering.
func profileSize(n int, pairs [][2]int, place []int) int {
	first := make([]int, n)
	for i := range first {
		first[i] = i
	}
	for _, c := range pairs {
		i, j := place[c[0]], place[c[1]]
		first[max(i, j)] = min(first[max(i, j)], i, j)
	}
	size := 0
	for i, f := range first {
		size += i - f
	}
	return size
}
