package ensemble

import (
	_ "embed"
	"fmt"
	"math/bits"
	"strconv"
	"strings"
	"sync"
)

// sobolFile holds one dimension a row from the second on: dimension, degree and
// inner coefficients of its primitive polynomial, initial direction numbers.
//
// Source: Constructing Sobol sequences with better two-dimensional projections,
// SIAM Journal on Scientific Computing 30 (2008) 2635, doi:10.1137/070709359; the
// table "new-joe-kuo-6.21201", cut to [MostDimensions]. Its licence lies beside it.
//
//go:embed sobol.csv
var sobolFile string

// MostDimensions is how many numbers one point can have.
const MostDimensions = 256

// directions are the columns of the generator matrices, leading digit first.
type directions [MostDimensions][32]uint32

// standardDirections reads the table once; it never changes.
var standardDirections = sync.OnceValues(func() (*directions, error) { return readDirections(sobolFile) })

func readDirections(text string) (*directions, error) {
	var v directions
	for b := range 32 { // the first dimension is van der Corput's
		v[0][b] = 1 << (31 - b)
	}
	lines := strings.Split(strings.TrimSpace(text), "\n")
	if len(lines) != MostDimensions-1 {
		return nil, fmt.Errorf("ensemble: table of direction numbers has %d rows, needs %d", len(lines), MostDimensions-1)
	}
	for i, line := range lines {
		var row []uint32
		for cell := range strings.SplitSeq(line, ",") {
			n, err := strconv.ParseUint(strings.TrimSpace(cell), 10, 32)
			if err != nil {
				return nil, fmt.Errorf("ensemble: direction numbers, row %d: %w", i+1, err)
			}
			row = append(row, uint32(n))
		}
		if len(row) < 4 || row[0] != uint32(i+2) || len(row) != 3+int(row[1]) {
			return nil, fmt.Errorf("ensemble: direction numbers, row %d: %q does not fit", i+1, line)
		}
		degree, inner, m := int(row[1]), row[2], row[3:]
		column := &v[i+1]
		for b := range 32 {
			if b < degree {
				column[b] = m[b] << (31 - b)
				continue
			}
			x := column[b-degree] ^ column[b-degree]>>degree
			for k := 1; k < degree; k++ {
				if inner>>(degree-1-k)&1 == 1 {
					x ^= column[b-k]
				}
			}
			column[b] = x
		}
	}
	return &v, nil
}

// digits is the point of index i in a dimension, as 32 binary digits after the
// point, before scrambling.
func (v *directions) digits(i uint32, dimension int) uint32 {
	x := uint32(0)
	for i != 0 {
		b := bits.TrailingZeros32(i)
		x ^= v[dimension][b]
		i &= i - 1
	}
	return x
}

// scrambled permutes the digits of x by nested uniform scrambling ("Randomly
// permuted (t,m,s)-nets and (t,s)-sequences", Monte Carlo and Quasi-Monte Carlo
// Methods in Scientific Computing, Lecture Notes in Statistics 106 (1995) 299,
// doi:10.1007/978-1-4612-2552-2_19, from memory): whether a digit turns over is a
// coin thrown once for all points that share the digits before it. The coin is a
// hash, so that nothing is stored. The result is uniform in (0, 1).
func scrambled(x uint32, key uint64) float64 {
	y := uint32(0)
	for b := range 32 {
		before := uint64(x) >> (32 - b)
		coin := uint32(mix(key^mix(before|uint64(b)<<40)) >> 63)
		y |= (x>>(31-b)&1 ^ coin) << (31 - b)
	}
	// Below the last digit the point is uniform in its cell.
	fine := mix(key^mix(uint64(x)|1<<50))>>33 | 1
	return (float64(y) + float64(fine)/(1<<31)) / (1 << 32)
}

// mix is the finaliser of the generator "Fast splittable pseudorandom number
// generators", OOPSLA 2014, doi:10.1145/2660193.2660195: every bit of x moves every
// bit of the result.
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// mixed joins several numbers into one hash.
func mixed(parts ...uint64) uint64 {
	h := uint64(0x6861636b6c65)
	for _, p := range parts {
		h = mix(h ^ p)
	}
	return h
}
