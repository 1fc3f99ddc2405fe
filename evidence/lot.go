package evidence

import "math/rand/v2"

// lot draws by chance from a seed. The stream is that of the PCG generator and
// the draws are written out here, so a printed plan can be dealt again in any
// later version.
type lot struct{ source *rand.PCG }

func newLot(seed uint64) lot { return lot{rand.NewPCG(seed, 0x6861636b6c65)} }

// below returns a whole number from 0 to n-1, each as likely.
func (l lot) below(n int) int {
	limit := ^uint64(0) - ^uint64(0)%uint64(n)
	for {
		if v := l.source.Uint64(); v < limit {
			return int(v % uint64(n))
		}
	}
}

// share returns a number in [0, 1).
func (l lot) share() float64 { return float64(l.source.Uint64()>>11) / (1 << 53) }

// shuffle brings n things into random order.
func (l lot) shuffle(n int, swap func(i, j int)) {
	for i := n - 1; i > 0; i-- {
		swap(i, l.below(i+1))
	}
}

// normal returns a standard normal number by the inverse distribution.
func (l lot) normal() float64 {
	for {
		if u := l.share(); u > 0 {
			return normalQuantile(u)
		}
	}
}
