package ensemble

import (
	"fmt"
	"math"
	"math/bits"
)

// Method names how points are spread over the cube.
type Method string

// Methods.
const (
	// Sobol points are a Sobol' sequence with nested uniform scrambling: any first
	// 2ᵏ of them fill the cube evenly, so that a run may stop early or go on.
	Sobol Method = "sobol"
	// LatinHypercube points fall, for each number, one into each of as many equal
	// slices as there are points. The number of points is fixed beforehand.
	LatinHypercube Method = "latin"
	// Plain points are independent.
	Plain Method = "plain"
)

// Methods lists them.
func Methods() []Method { return []Method{Sobol, LatinHypercube, Plain} }

// mostPoints bounds the index: beyond it the 32 digits of a Sobol' point and the
// journal would not do.
const mostPoints = 1 << 24

// Points are points in the unit cube. Each is a pure function of the fields and its
// index; they may be asked for in any order and by several goroutines at once.
type Points struct {
	Method     Method
	Seed       uint64
	Dimensions int
	Count      int // needed by LatinHypercube; 0: no end
}

// Check refuses what cannot be drawn.
func (p Points) Check() error {
	switch {
	case p.Dimensions < 1 || p.Dimensions > MostDimensions:
		return fmt.Errorf("ensemble: points of %d numbers, accepted: 1 to %d", p.Dimensions, MostDimensions)
	case p.Count < 0 || p.Count > mostPoints:
		return fmt.Errorf("ensemble: %d points, accepted: 1 to %d", p.Count, mostPoints)
	case p.Method == LatinHypercube && p.Count == 0:
		return fmt.Errorf("ensemble: a latin hypercube needs its number of points beforehand")
	case p.Method != Sobol && p.Method != LatinHypercube && p.Method != Plain:
		return fmt.Errorf("ensemble: method %q, accepted: %v", p.Method, Methods())
	}
	_, err := standardDirections()
	return err
}

// At is number j of point i, inside (0, 1). The points must have passed Check.
func (p Points) At(i, j int) float64 {
	key := mixed(p.Seed, uint64(j))
	switch p.Method {
	case LatinHypercube:
		return (float64(permuted(uint64(i), uint64(p.Count), key)) + unit(mixed(key, uint64(i)))) / float64(p.Count)
	case Plain:
		return unit(mixed(key, uint64(i)))
	}
	v, err := standardDirections()
	if err != nil {
		return math.NaN()
	}
	return scrambled(v.digits(uint32(i), j), key)
}

// Point is point i whole.
func (p Points) Point(i int) []float64 {
	x := make([]float64, p.Dimensions)
	for j := range x {
		x[j] = p.At(i, j)
	}
	return x
}

// unit makes a number inside (0, 1) of a hash.
func unit(h uint64) float64 { return (float64(h>>12) + 0.5) / (1 << 52) }

// permuted is where a permutation of 0 to n-1 that the key chooses puts i: four
// rounds of a Feistel network on the next power of four, walked on until inside
// ("Ciphers with arbitrary finite domains", CT-RSA 2002, doi:10.1007/3-540-45760-7_9,
// from memory).
func permuted(i, n, key uint64) uint64 {
	if n <= 1 {
		return 0
	}
	half := (bits.Len64(n-1) + 1) / 2
	mask := uint64(1)<<half - 1
	for {
		left, right := i>>half, i&mask
		for round := range uint64(4) {
			left, right = right, left^mixed(key, round, right)&mask
		}
		i = left<<half | right
		if i < n {
			return i
		}
	}
}
