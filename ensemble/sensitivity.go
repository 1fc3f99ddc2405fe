package ensemble

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// Screening is a plan of elementary effects: from each of several starting points
// the numbers are moved one after another in a random order, so that each walk gives
// one effect of every number.
//
// Source: Factorial sampling plans for preliminary computational experiments,
// Technometrics 33 (1991) 161, doi:10.1080/00401706.1991.10484804; the mean of
// absolute effects is from "An effective screening design for sensitivity analysis of
// large models", Environmental Modelling & Software 22 (2007) 1509,
// doi:10.1016/j.envsoft.2006.10.004 (both from memory).
type Screening struct {
	Dimensions int
	Walks      int
	Levels     int // even, at least 2; 0: 4
	// Inside puts the levels into the middle of equal slices of 0 to 1, so that no
	// number stands at the very end of its range; else they run from 0 to 1.
	Inside bool
	Seed   uint64
}

func (s Screening) levels() int {
	if s.Levels == 0 {
		return 4
	}
	return s.Levels
}

// Check refuses what is no plan.
func (s Screening) Check() error {
	if s.Dimensions < 1 || s.Walks < 1 || s.levels() < 2 || s.levels()%2 != 0 || s.Count() > mostPoints {
		return fmt.Errorf("ensemble: screening of %d numbers by %d walks on %d levels: numbers and walks from 1 on, an even number of levels", s.Dimensions, s.Walks, s.levels())
	}
	return nil
}

// Count is how many points the plan has.
func (s Screening) Count() int { return s.Walks * (s.Dimensions + 1) }

// walk returns the order in which walk w moves the numbers, and where each starts
// and ends.
func (s Screening) walk(w int) (order []int, from, to []float64) {
	rng := rand.New(rand.NewPCG(s.Seed, mixed(0x77616c6b, uint64(w))))
	order = rng.Perm(s.Dimensions)
	p := s.levels()
	at := func(level int) float64 {
		if s.Inside {
			return (float64(level) + 0.5) / float64(p)
		}
		return float64(level) / float64(p-1)
	}
	for range s.Dimensions {
		level := rng.IntN(p)
		other := (level + p/2) % p
		from, to = append(from, at(level)), append(to, at(other))
	}
	return order, from, to
}

// Point i of the plan, in the unit cube.
func (s Screening) Point(i int) []float64 {
	order, from, to := s.walk(i / (s.Dimensions + 1))
	x := slices.Clone(from)
	for _, j := range order[:i%(s.Dimensions+1)] {
		x[j] = to[j]
	}
	return x
}

// Effect is what screening finds of one number.
type Effect struct {
	// Size is the mean absolute change of the answer for a move of the number over
	// the whole of 0 to 1, if it were straight.
	Size Estimate
	// Spread is the standard deviation of the effects: large beside Size where the
	// number acts unevenly or together with others.
	Spread float64
	Mean   float64 // with sign: towards more or less
}

// Effects of every number from the answers at the points in order. Walks with a
// missing answer lend only the effects that they have.
func (s Screening) Effects(answers []float64) []Effect {
	each := make([][]float64, s.Dimensions)
	for w := range s.Walks {
		order, from, to := s.walk(w)
		for k, j := range order {
			a, b := answers[w*(s.Dimensions+1)+k], answers[w*(s.Dimensions+1)+k+1]
			if e := (b - a) / (to[j] - from[j]); !math.IsNaN(e) && !math.IsInf(e, 0) {
				each[j] = append(each[j], e)
			}
		}
	}
	out := make([]Effect, s.Dimensions)
	for j, effects := range each {
		size := func(pick []int) float64 {
			sum := 0.0
			for _, k := range pick {
				sum += math.Abs(effects[k])
			}
			return sum / float64(len(pick))
		}
		out[j].Size = resampled(len(effects), s.Seed^uint64(j), size)
		m := 0.0
		for _, e := range effects {
			m += e / float64(len(effects))
		}
		v := 0.0
		for _, e := range effects {
			v += (e - m) * (e - m)
		}
		out[j].Mean, out[j].Spread = m, math.Sqrt(v/math.Max(1, float64(len(effects)-1)))
	}
	return out
}

// resamples is how often a bootstrap draws anew.
const resamples = 400

// resampled estimates a statistic of n things with its percentile bootstrap interval
// (An Introduction to the Bootstrap, Chapman & Hall 1993, chapter 13; from memory).
func resampled(n int, seed uint64, statistic func(pick []int) float64) Estimate {
	if n == 0 {
		return Estimate{math.NaN(), math.Inf(-1), math.Inf(1)}
	}
	pick := make([]int, n)
	for i := range pick {
		pick[i] = i
	}
	e := Estimate{Value: statistic(pick), Low: math.Inf(-1), High: math.Inf(1)}
	if n < 2 {
		return e
	}
	rng := rand.New(rand.NewPCG(seed, 0x626f6f74))
	values := make([]float64, resamples)
	for r := range values {
		for i := range pick {
			pick[i] = rng.IntN(n)
		}
		values[r] = statistic(pick)
	}
	if values = known(values); len(values) > 0 {
		cut := int((1 - Level) / 2 * float64(len(values)))
		e.Low, e.High = values[cut], values[len(values)-1-cut]
	}
	return e
}

// Shares is a plan of variance-based indices: how much of the variance of the answer
// each group of numbers makes, alone and with its interactions.
//
// First-order indices by the estimator of "Variance based sensitivity analysis of
// model output. Design and estimator for the total sensitivity index", Computer
// Physics Communications 181 (2010) 259, doi:10.1016/j.cpc.2009.09.018, table 2 (b);
// total ones by "Analysis of variance designs for model output", Computer Physics
// Communications 117 (1999) 35, doi:10.1016/S0010-4655(98)00154-4 (both from memory).
type Shares struct {
	Dimensions int
	Groups     [][]int // numbers that move together; nil: each its own
	Rows       int     // base points; a power of two serves best
	Seed       uint64
}

func (s Shares) groups() [][]int {
	if s.Groups != nil {
		return s.Groups
	}
	var g [][]int
	for j := range s.Dimensions {
		g = append(g, []int{j})
	}
	return g
}

// Check refuses what is no plan.
func (s Shares) Check() error {
	if s.Rows < 2 || s.Count() > mostPoints {
		return fmt.Errorf("ensemble: %d base points, accepted: from 2 on", s.Rows)
	}
	for _, g := range s.groups() {
		for _, j := range g {
			if j < 0 || j >= s.Dimensions {
				return fmt.Errorf("ensemble: number %d in a group, there are %d", j, s.Dimensions)
			}
		}
	}
	return s.points().Check()
}

func (s Shares) points() Points {
	return Points{Method: Sobol, Seed: s.Seed, Dimensions: 2 * s.Dimensions}
}

// Count is how many points the plan has.
func (s Shares) Count() int { return s.Rows * (2 + len(s.groups())) }

// Point i of the plan: of each base row first A, then B, then A with one group of B.
func (s Shares) Point(i int) []float64 {
	g := s.groups()
	row, k := i/(2+len(g)), i%(2+len(g))
	both := s.points().Point(row)
	a, b := both[:s.Dimensions], both[s.Dimensions:]
	switch k {
	case 0:
		return a
	case 1:
		return b
	}
	x := slices.Clone(a)
	for _, j := range g[k-2] {
		x[j] = b[j]
	}
	return x
}

// Share is the part of a group in the variance of the answer.
type Share struct {
	First Estimate // alone
	Total Estimate // with all its interactions
}

// Indices of every group from the answers at the points in order. A row with a
// missing answer does not count.
func (s Shares) Indices(answers []float64) []Share {
	g := len(s.groups())
	var rows []int
	for r := range s.Rows {
		if !slices.ContainsFunc(answers[r*(g+2):(r+1)*(g+2)], math.IsNaN) {
			rows = append(rows, r)
		}
	}
	at := func(r, k int) float64 { return answers[r*(g+2)+k] }
	out := make([]Share, g)
	for k := range g {
		index := func(total bool) func(pick []int) float64 {
			return func(pick []int) float64 {
				// Variance of A and B together about their common mean.
				n, mean, square, part := float64(len(pick)), 0.0, 0.0, 0.0
				for _, p := range pick {
					mean += (at(rows[p], 0) + at(rows[p], 1)) / (2 * n)
				}
				for _, p := range pick {
					a, b, ab := at(rows[p], 0), at(rows[p], 1), at(rows[p], 2+k)
					square += ((a-mean)*(a-mean) + (b-mean)*(b-mean)) / (2 * n)
					if total {
						part += (a - ab) * (a - ab) / (2 * n)
					} else {
						part += (b - mean) * (ab - a) / n
					}
				}
				if square == 0 {
					return 0
				}
				return part / square
			}
		}
		out[k] = Share{resampled(len(rows), s.Seed^uint64(k), index(false)), resampled(len(rows), s.Seed^uint64(k), index(true))}
	}
	return out
}
