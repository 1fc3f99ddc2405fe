package ensemble

import (
	"fmt"
	"math"
	"slices"
)

// Correlation lets two inputs go together: colonies that are large have more honey.
// It acts on ranks, so that each input keeps its own distribution.
type Correlation struct {
	A    string  `json:"a"`
	B    string  `json:"b"`
	Rank float64 `json:"rank_correlation"` // Spearman's, -0.99 to 0.99 [-]
}

// mostCorrelation bounds rank correlations: beyond it two inputs are one. [-]
const mostCorrelation = 0.99

// links are the inputs that go with others, and how: the lower triangle of a matrix
// whose product with its transpose holds the correlations of normal numbers.
type links struct {
	inputs []int
	lower  [][]float64
}

// link finds how inputs go together by a Gaussian copula: ranks of normal numbers
// with a product-moment correlation of 2 sin(π/6 r) have the rank correlation r
// ("Correlation and Dependence in Risk Management: Properties and Pitfalls", in Risk
// Management: Value at Risk and Beyond, 2002, doi:10.1017/CBO9780511615337.008, from
// memory).
func (d *Design) link() (links, error) {
	var l links
	if len(d.Correlations) == 0 {
		return l, nil
	}
	place := func(name string) (int, error) {
		i := slices.IndexFunc(d.Inputs, func(in Input) bool { return in.Name == name })
		if i < 0 {
			return 0, fmt.Errorf("ensemble: correlation of %q, which is no input; hackle range --json lists them", name)
		}
		k := slices.Index(l.inputs, i)
		if k < 0 {
			k = len(l.inputs)
			l.inputs = append(l.inputs, i)
		}
		return k, nil
	}
	type pair struct{ a, b int }
	wanted := map[pair]float64{}
	for _, c := range d.Correlations {
		if !(math.Abs(c.Rank) <= mostCorrelation) {
			return l, fmt.Errorf("ensemble: rank correlation of %s and %s is %g, accepted: -%g to %g", c.A, c.B, c.Rank, mostCorrelation, mostCorrelation)
		}
		a, err := place(c.A)
		if err != nil {
			return l, err
		}
		b, err := place(c.B)
		if err != nil {
			return l, err
		}
		if a == b {
			return l, fmt.Errorf("ensemble: %s goes with itself in any case", c.A)
		}
		key := pair{max(a, b), min(a, b)}
		if _, twice := wanted[key]; twice {
			return l, fmt.Errorf("ensemble: the correlation of %s and %s is given twice", c.A, c.B)
		}
		wanted[key] = 2 * math.Sin(math.Pi/6*c.Rank)
	}
	// Cholesky's factor; there is none when the correlations contradict each other.
	n := len(l.inputs)
	for i := range n {
		row := make([]float64, i+1)
		for j := range i + 1 {
			sum := wanted[pair{i, j}]
			if i == j {
				sum = 1
			}
			for k := range j {
				sum -= row[k] * func() float64 {
					if i == j {
						return row[k]
					}
					return l.lower[j][k]
				}()
			}
			if i != j {
				row[j] = sum / l.lower[j][j]
				continue
			}
			if !(sum > 1e-9) {
				return l, fmt.Errorf("ensemble: the correlations contradict each other: what goes with %s cannot go so with the others", d.Inputs[l.inputs[i]].Name)
			}
			row[i] = math.Sqrt(sum)
		}
		l.lower = append(l.lower, row)
	}
	return l, nil
}

// together moves the numbers of a point, the first of which chooses the year.
func (l links) together(u []float64) {
	z := make([]float64, len(l.inputs))
	for k, i := range l.inputs {
		z[k] = math.Sqrt2 * math.Erfinv(2*u[i+1]-1)
	}
	for k, i := range l.inputs {
		sum := 0.0
		for m, f := range l.lower[k] {
			sum += f * z[m]
		}
		const edge = 1e-12 // keeps it inside (0, 1)
		u[i+1] = math.Max(edge, math.Min(1-edge, math.Erfc(-sum/math.Sqrt2)/2))
	}
}
