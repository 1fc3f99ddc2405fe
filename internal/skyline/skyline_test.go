package skyline

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// randomSystem makes a diagonally dominant unsymmetric system: a band and some
// long rows at the end, the shape of a heat balance with radiant nodes.
func randomSystem(r *rand.Rand, n, band, long int) (*Matrix, *mat.Dense, []float64) {
	var pairs [][2]int
	for i := range n {
		for j := max(0, i-band); j < i; j++ {
			if r.Float64() < 0.7 {
				pairs = append(pairs, [2]int{i, j})
			}
		}
		if i >= n-long {
			for j := range i {
				if r.Float64() < 0.5 {
					pairs = append(pairs, [2]int{j, i})
				}
			}
		}
	}
	m, err := New(n, pairs)
	if err != nil {
		panic(err)
	}
	d := mat.NewDense(n, n, nil)
	add := func(i, j int, v float64) {
		m.Add(i, j, v)
		d.Set(i, j, d.At(i, j)+v)
	}
	for _, c := range pairs {
		g, h := r.Float64(), r.Float64()
		add(c[0], c[1], -g)
		add(c[1], c[0], -h)
		add(c[0], c[0], g)
		add(c[1], c[1], h)
	}
	b := make([]float64, n)
	for i := range b {
		add(i, i, 0.05*r.Float64()+0.01)
		b[i] = r.NormFloat64()
	}
	return m, d, b
}

func TestAgainstDenseSolver(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	for trial := range 300 {
		n := 1 + r.IntN(70)
		m, d, b := randomSystem(r, n, 1+r.IntN(5), r.IntN(4))
		for i := range n {
			for j := range n {
				if m.At(i, j) != d.At(i, j) {
					t.Fatalf("trial %d: entry (%d,%d) is %g, want %g", trial, i, j, m.At(i, j), d.At(i, j))
				}
			}
		}
		var want mat.VecDense
		if err := want.SolveVec(d, mat.NewVecDense(n, b)); err != nil {
			t.Fatalf("trial %d: dense: %v", trial, err)
		}
		got := append([]float64(nil), b...)
		if err := m.Factor(); err != nil {
			t.Fatalf("trial %d: %v", trial, err)
		}
		m.Solve(got)
		scale := mat.Norm(&want, math.Inf(1))
		for i := range got {
			// Condition numbers reach some 1e4 here, so 1e-11 leaves three digits
			// above rounding.
			if math.Abs(got[i]-want.AtVec(i)) > 1e-11*scale {
				t.Errorf("trial %d, n %d: x[%d] = %g, want %g", trial, n, i, got[i], want.AtVec(i))
			}
		}
	}
}

func TestFactorTwiceAfterClear(t *testing.T) {
	m, err := New(3, [][2]int{{0, 1}, {1, 2}})
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		m.Clear()
		for i := range 3 {
			m.Add(i, i, 2)
		}
		m.Add(0, 1, -1)
		m.Add(1, 0, -1)
		m.Add(1, 2, -1)
		m.Add(2, 1, -1)
		if err := m.Factor(); err != nil {
			t.Fatal(err)
		}
		b := []float64{1, 0, 1} // solution 1,1,1
		m.Solve(b)
		for i, x := range b {
			if math.Abs(x-1) > 1e-14 {
				t.Errorf("x[%d] = %g, want 1", i, x)
			}
		}
	}
}

func TestSingular(t *testing.T) {
	m, err := New(2, [][2]int{{0, 1}})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 2 {
		for j := range 2 {
			m.Add(i, j, 1)
		}
	}
	if err := m.Factor(); !errors.Is(err, ErrSingular) {
		t.Errorf("matrix of ones: error %v, want ErrSingular", err)
	}
	m.Clear()
	m.Add(0, 0, math.NaN())
	m.Add(1, 1, 1)
	if err := m.Factor(); !errors.Is(err, ErrSingular) {
		t.Errorf("not a number: error %v, want ErrSingular", err)
	}
}

func TestNewRejects(t *testing.T) {
	if _, err := New(0, nil); err == nil {
		t.Error("order 0 accepted")
	}
	if _, err := New(2, [][2]int{{0, 2}}); err == nil {
		t.Error("pair outside accepted")
	}
	if _, err := New(2, [][2]int{{-1, 0}}); err == nil {
		t.Error("negative index accepted")
	}
}

func TestPosition(t *testing.T) {
	m, err := New(4, [][2]int{{3, 1}, {0, 1}})
	if err != nil {
		t.Fatal(err)
	}
	seen := map[int]bool{}
	for i := range 4 {
		for j := range 4 {
			at := m.Position(i, j)
			inside := i == j || min(i, j) == 0 && max(i, j) == 1 || max(i, j) == 3 && min(i, j) >= 1
			if inside != (at >= 0) {
				t.Errorf("(%d,%d): position %d, inside %v", i, j, at, inside)
			}
			if at >= 0 && seen[at] {
				t.Errorf("(%d,%d): position %d used twice", i, j, at)
			}
			seen[at] = true
		}
	}
	if m.Position(4, 0) != -1 || m.Position(0, -1) != -1 {
		t.Error("indices outside the matrix have a position")
	}
	if got, want := m.Size(), 3; got != want {
		t.Errorf("size %d, want %d", got, want)
	}
}

func TestOrderShrinksProfile(t *testing.T) {
	// A ladder of 12 rungs numbered column by column: natural numbering couples
	// i with i+12, rung by rung numbering couples neighbours only.
	var pairs [][2]int
	for k := range 12 {
		pairs = append(pairs, [2]int{k, 12 + k})
		if k > 0 {
			pairs = append(pairs, [2]int{k - 1, k}, [2]int{11 + k, 12 + k})
		}
	}
	place := Order(24, pairs)
	seen := make([]bool, 24)
	for _, p := range place {
		if seen[p] {
			t.Fatalf("number %d given twice", p)
		}
		seen[p] = true
	}
	// Rung by rung: each node reaches back at most two places, 1 + 2*22 entries.
	if got := profileSize(24, pairs, place); got > 45 {
		t.Errorf("profile %d entries, want at most 45", got)
	}
}

func TestNoAllocation(t *testing.T) {
	m, _, b := randomSystem(rand.New(rand.NewPCG(1, 2)), 50, 3, 3)
	keep := append([]float64(nil), m.Values()...)
	if n := testing.AllocsPerRun(20, func() {
		copy(m.Values(), keep)
		if err := m.Factor(); err != nil {
			panic(err)
		}
		m.Solve(b)
	}); n != 0 {
		t.Errorf("%g allocations a solve, want 0", n)
	}
}

func Benchmark50(b *testing.B) {
	m, _, rhs := randomSystem(rand.New(rand.NewPCG(1, 2)), 50, 4, 3)
	keep := append([]float64(nil), m.Values()...)
	x := make([]float64, len(rhs))
	for b.Loop() {
		copy(m.Values(), keep)
		copy(x, rhs)
		if err := m.Factor(); err != nil {
			b.Fatal(err)
		}
		m.Solve(x)
	}
	b.ReportMetric(float64(m.Size()), "entries")
}
