package climate

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// GEV is the generalized extreme value distribution, that of the largest of many
// values:
//
//	F(x) = exp(-(1 + shape (x - location)/scale)^(-1/shape))
//
// and the Gumbel distribution exp(-exp(-(x - location)/scale)) at shape 0. With a
// shape below 0 nothing lies above location - scale/shape, above 0 nothing below.
//
// Source: An Introduction to Statistical Modeling of Extreme Values (2001, DOI
// 10.1007/978-1-4471-3675-0), equation 3.2; from memory.
type GEV struct {
	Location, Scale float64 // in the unit of the values
	Shape           float64 // [-]
}

// gumbelShape is the shape below which the Gumbel distribution stands in [-].
const gumbelShape = 1e-7

// reduced returns the Gumbel value that x corresponds to, and whether x is in
// the distribution's reach.
func (g GEV) reduced(x float64) (y float64, ok bool) {
	z := (x - g.Location) / g.Scale
	if math.Abs(g.Shape) < gumbelShape {
		return z, true
	}
	t := 1 + g.Shape*z
	if !(t > 0) {
		return 0, false
	}
	return math.Log(t) / g.Shape, true
}

// CDF returns the probability of a value not above x [-].
func (g GEV) CDF(x float64) float64 {
	y, ok := g.reduced(x)
	switch {
	case ok:
		return math.Exp(-math.Exp(-y))
	case g.Shape > 0:
		return 0 // below the lower end
	}
	return 1
}

// Quantile returns the value that is not exceeded with a probability between 0
// and 1; NaN outside.
func (g GEV) Quantile(probability float64) float64 {
	if !(probability > 0 && probability < 1) {
		return math.NaN()
	}
	return g.level(-math.Log(-math.Log(probability)))
}

// level returns the value at a Gumbel value.
func (g GEV) level(y float64) float64 {
	if math.Abs(g.Shape) < gumbelShape {
		return g.Location + g.Scale*y
	}
	return g.Location + g.Scale*math.Expm1(g.Shape*y)/g.Shape
}

// ReturnLevel returns the value that a year's largest exceeds once in years on
// average, that is with a probability of 1/years each year; NaN for 1 year or
// less.
func (g GEV) ReturnLevel(years float64) float64 { return g.Quantile(1 - 1/years) }

// logLikelihood of independent values; -Inf where one is out of reach.
func (g GEV) logLikelihood(values []float64) float64 {
	if !(g.Scale > 0) {
		return math.Inf(-1)
	}
	sum := -float64(len(values)) * math.Log(g.Scale)
	for _, x := range values {
		y, ok := g.reduced(x)
		if !ok {
			return math.Inf(-1)
		}
		sum -= (1+g.Shape)*y + math.Exp(-y)
	}
	return sum
}

// LMoments returns the first two sample L-moments, in the unit of the values,
// and the L-skewness [-], from unbiased probability-weighted moments: "L-moments:
// analysis and estimation of distributions using linear combinations of order
// statistics", Journal of the Royal Statistical Society B 52, 1990, DOI
// 10.1111/j.2517-6161.1990.tb01775.x; from memory. Fewer than three values give
// NaN.
func LMoments(values []float64) (l1, l2, skewness float64) {
	n := float64(len(values))
	if n < 3 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	x := slices.Sorted(slices.Values(values))
	var b0, b1, b2 float64
	for i, v := range x {
		k := float64(i)
		b0 += v / n
		b1 += v / n * k / (n - 1)
		b2 += v / n * k * (k - 1) / ((n - 1) * (n - 2))
	}
	l1, l2 = b0, 2*b1-b0
	return l1, l2, (6*b2 - 6*b1 + b0) / l2
}

// ErrExtremes wraps what a sample of extremes cannot tell.
var ErrExtremes = errors.New("climate: extremes")

// leastYears is the number of extremes below which nothing is fitted. Common
// practice, no source.
const leastYears = 10

func checkExtremes(values []float64) error {
	if len(values) < leastYears {
		return fmt.Errorf("%w: %d years, needed: %d", ErrExtremes, len(values), leastYears)
	}
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("%w: a value of %v", ErrExtremes, v)
		}
	}
	if slices.Max(values) == slices.Min(values) {
		return fmt.Errorf("%w: all %d values are %.4g", ErrExtremes, len(values), values[0])
	}
	return nil
}

// FitGEVByLMoments returns the distribution with the sample's L-moments, whose
// shape is solved for to 1e-12: "Estimation of the generalized extreme-value
// distribution by the method of probability-weighted moments", Technometrics 27,
// 1985, DOI 10.1080/00401706.1985.10488049; from memory. Fewer than ten values,
// or all alike, are an error.
func FitGEVByLMoments(values []float64) (GEV, error) {
	if err := checkExtremes(values); err != nil {
		return GEV{}, err
	}
	return gevOfLMoments(LMoments(values)), nil
}

func gevOfLMoments(l1, l2, skewness float64) GEV {
	// The skewness rises with the shape: from -1 to 1 over shapes up to 1.
	ratio := func(shape float64) float64 {
		if math.Abs(shape) < 1e-9 {
			return 2*math.Log(3)/math.Ln2 - 3
		}
		return 2*math.Expm1(shape*math.Log(3))/math.Expm1(shape*math.Ln2) - 3
	}
	low, high := -20.0, 0.999
	for range 80 {
		if middle := (low + high) / 2; ratio(middle) < skewness {
			low = middle
		} else {
			high = middle
		}
	}
	g := GEV{Shape: (low + high) / 2}
	if math.Abs(g.Shape) < gumbelShape {
		g.Shape = 0
		g.Scale = l2 / math.Ln2
		const euler = 0.57721566490153286
		g.Location = l1 - euler*g.Scale
		return g
	}
	gamma := math.Gamma(1 - g.Shape)
	g.Scale = l2 * g.Shape / (math.Expm1(g.Shape*math.Ln2) * gamma)
	g.Location = l1 - g.Scale*(gamma-1)/g.Shape
	return g
}

// GEVFit is a distribution fitted by maximum likelihood.
type GEVFit struct {
	GEV
	LogLikelihood float64
	// Covariance of location, scale and shape, from the observed information;
	// Regular tells whether it exists: not for shapes below -0.5 (equation 3.9 and
	// section 3.3.2 of the book that [GEV] cites).
	Covariance [3][3]float64
	Regular    bool

	values []float64 // divided by unit after taking off origin
	origin float64
	unit   float64
}

// lowestShape and highestShape keep the likelihood bounded: at a shape below -1 it grows without
// end towards the largest value.
const lowestShape, highestShape = -0.99, 1.5

// FitGEV fits the distribution to independent extremes, one a year, by maximum
// likelihood, with a shape from -0.99 to 1.5. Fewer than ten values, or all
// alike, are an error.
func FitGEV(values []float64) (*GEVFit, error) {
	if err := checkExtremes(values); err != nil {
		return nil, err
	}
	start := gevOfLMoments(LMoments(values))
	f := &GEVFit{origin: start.Location, unit: start.Scale}
	f.values = make([]float64, len(values))
	for i, v := range values {
		f.values[i] = (v - f.origin) / f.unit
	}
	// In units of the first guess: location, logarithm of the scale, shape.
	objective := func(x []float64) float64 {
		if x[2] < lowestShape || x[2] > highestShape {
			return math.Inf(1)
		}
		return -GEV{x[0], math.Exp(x[1]), x[2]}.logLikelihood(f.values)
	}
	begin := []float64{0, 0, min(max(start.Shape, -0.8), 0.8)}
	for k := 0; math.IsInf(objective(begin), 1) && k < 40; k++ {
		begin[1] += 0.1 // wide enough to reach all values
	}
	x, minus, err := smallest(objective, begin)
	if err != nil {
		return nil, err
	}
	f.GEV = GEV{Location: f.origin + f.unit*x[0], Scale: f.unit * math.Exp(x[1]), Shape: x[2]}
	f.LogLikelihood = -minus - float64(len(values))*math.Log(f.unit)
	f.covariance(GEV{x[0], math.Exp(x[1]), x[2]})
	return f, nil
}

// smallest finds a minimum by the simplex search of Nelder and Mead ("A simplex
// method for function minimization", Computer Journal 7, 1965, DOI
// 10.1093/comjnl/7.4.308; from memory), and again from its end, which frees it
// where it has stuck. The objective is +Inf outside its domain and finite at begin.
func smallest(objective func([]float64) float64, begin []float64) (at []float64, value float64, err error) {
	if value = objective(begin); math.IsInf(value, 0) || math.IsNaN(value) {
		return nil, 0, fmt.Errorf("%w: no likelihood at the first guess", ErrExtremes)
	}
	at = slices.Clone(begin)
	for _, size := range []float64{0.2, 0.02} {
		at, value = simplexSearch(objective, at, size)
	}
	return at, value, nil
}

func simplexSearch(objective func([]float64) float64, begin []float64, size float64) (at []float64, value float64) {
	n := len(begin)
	points := make([][]float64, n+1)
	values := make([]float64, n+1)
	for i := range points {
		points[i] = slices.Clone(begin)
		if i > 0 {
			points[i][i-1] += size
		}
		values[i] = objective(points[i])
	}
	centre, trial, further := make([]float64, n), make([]float64, n), make([]float64, n)
	const most, close = 2000, 1e-11
	for range most {
		best, worst, second := 0, 0, -1
		for i, v := range values {
			if v < values[best] {
				best = i
			}
			if v > values[worst] {
				worst = i
			}
		}
		for i, v := range values {
			if i != worst && (second < 0 || v > values[second]) {
				second = i
			}
		}
		if values[worst]-values[best] <= close*(1+math.Abs(values[best])) {
			break
		}
		for j := range n {
			centre[j] = 0
			for i := range points {
				if i != worst {
					centre[j] += points[i][j] / float64(n)
				}
			}
		}
		move := func(to []float64, by float64) float64 {
			for j := range n {
				to[j] = centre[j] + by*(points[worst][j]-centre[j])
			}
			return objective(to)
		}
		reflected := move(trial, -1)
		switch {
		case reflected < values[best]:
			if v := move(further, -2); v < reflected {
				copy(points[worst], further)
				values[worst] = v
			} else {
				copy(points[worst], trial)
				values[worst] = reflected
			}
			continue
		case reflected < values[second]:
			copy(points[worst], trial)
			values[worst] = reflected
			continue
		}
		by := 0.5
		if reflected < values[worst] {
			by = -0.5
		}
		if v := move(further, by); v < min(reflected, values[worst]) {
			copy(points[worst], further)
			values[worst] = v
			continue
		}
		for i := range points {
			if i != best {
				for j := range n {
					points[i][j] = (points[i][j] + points[best][j]) / 2
				}
				values[i] = objective(points[i])
			}
		}
	}
	best := 0
	for i, v := range values {
		if v < values[best] {
			best = i
		}
	}
	return points[best], values[best]
}

// covariance inverts the observed information, taken by central differences of
// the log-likelihood in the fit's own units.
func (f *GEVFit) covariance(g GEV) {
	if g.Shape <= -0.5 {
		return
	}
	p := [3]float64{g.Location, g.Scale, g.Shape}
	const step = 1e-4
	at := func(i, j int, a, b float64) float64 {
		q := p
		q[i] += a * step
		q[j] += b * step
		return GEV{q[0], q[1], q[2]}.logLikelihood(f.values)
	}
	var m [3][3]float64
	for i := range 3 {
		for j := i; j < 3; j++ {
			d := -(at(i, j, 1, 1) - at(i, j, 1, -1) - at(i, j, -1, 1) + at(i, j, -1, -1)) / (4 * step * step)
			if math.IsNaN(d) || math.IsInf(d, 0) {
				return
			}
			m[i][j], m[j][i] = d, d
		}
	}
	minor := func(i, j int) float64 { // of the cyclic kind, sign included
		a, b, c, d := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return m[a][c]*m[b][d] - m[a][d]*m[b][c]
	}
	determinant := m[0][0]*minor(0, 0) + m[0][1]*minor(0, 1) + m[0][2]*minor(0, 2)
	if !(m[0][0] > 0 && minor(2, 2) > 0 && determinant > 0) { // not a maximum inside the bounds
		return
	}
	units := [3]float64{f.unit, f.unit, 1}
	for i := range 3 {
		for j := range 3 {
			f.Covariance[i][j] = minor(j, i) / determinant * units[i] * units[j]
		}
	}
	f.Regular = true
}

// ReturnLevelVariance returns the variance of the return level by the delta
// method (equation 3.11 of the book that [GEV] cites); NaN when the fit is not
// Regular. Intervals from it are too short upward: see [GEVFit.Interval].
func (f *GEVFit) ReturnLevelVariance(years float64) float64 {
	if !f.Regular || !(years > 1) {
		return math.NaN()
	}
	y := -math.Log(-math.Log1p(-1 / years)) // Gumbel value
	gradient := [3]float64{1, y, f.Scale * y * y / 2}
	if k := f.Shape; math.Abs(k) > 1e-5 {
		e := math.Expm1(k * y)
		gradient[1] = e / k
		gradient[2] = f.Scale * (y*(e+1)/k - e/(k*k))
	}
	variance := 0.0
	for i := range 3 {
		for j := range 3 {
			variance += gradient[i] * f.Covariance[i][j] * gradient[j]
		}
	}
	return variance
}

// Interval returns the return level's interval by profile likelihood at a
// confidence such as 0.95: all levels whose best likelihood lies within half the
// chi-square quantile of the greatest (section 3.3.4 of the book that [GEV]
// cites). An end that the data leave open is infinite. Years of 1 or less and a
// confidence outside 0.5 to 0.999 are errors.
func (f *GEVFit) Interval(years, confidence float64) (low, high float64, err error) {
	if !(years > 1) || !(confidence >= 0.5 && confidence <= 0.999) {
		return 0, 0, fmt.Errorf("%w: interval at %.4g for %.4g years; accepted: 0.5 to 0.999, more than 1 year", ErrExtremes, confidence, years)
	}
	normal := math.Sqrt2 * math.Erfinv(confidence)
	drop := normal * normal / 2
	y := -math.Log(-math.Log1p(-1 / years))
	best := (f.ReturnLevel(years) - f.origin) / f.unit
	greatest := f.LogLikelihood + float64(len(f.values))*math.Log(f.unit)
	scale := math.Log(f.Scale / f.unit)
	// profile returns how far the best likelihood at a level lies below the greatest;
	// it starts from the last level's best.
	end := func(sign float64) (float64, error) {
		from := []float64{scale, f.Shape}
		profile := func(level float64) (float64, error) {
			objective := func(x []float64) float64 {
				if x[1] < lowestShape || x[1] > highestShape {
					return math.Inf(1)
				}
				g := GEV{0, math.Exp(x[0]), x[1]}
				g.Location = level - g.level(y)
				return -g.logLikelihood(f.values)
			}
			begin := slices.Clone(from)
			for k := 0; math.IsInf(objective(begin), 1) && k < 60; k++ {
				begin[0] += 0.05
				begin[1] += 0.02
				begin[1] = min(begin[1], highestShape)
			}
			at, minus, err := smallest(objective, begin)
			if err != nil {
				return 0, err
			}
			from = at
			return greatest + minus - drop, nil
		}
		step, inside := 0.1, best
		var outside float64
		for {
			outside = inside + sign*step
			over, err := profile(outside)
			if err != nil {
				return 0, err
			}
			if over > 0 {
				break
			}
			inside = outside
			if step *= 1.5; step > 1e4 {
				return math.Inf(int(sign)), nil
			}
		}
		for math.Abs(outside-inside) > 1e-4*(1+math.Abs(inside-best)) {
			middle := (inside + outside) / 2
			over, err := profile(middle)
			if err != nil {
				return 0, err
			}
			if over > 0 {
				outside = middle
			} else {
				inside = middle
			}
		}
		return f.origin + f.unit*(inside+outside)/2, nil
	}
	if low, err = end(-1); err != nil {
		return 0, 0, err
	}
	if high, err = end(1); err != nil {
		return 0, 0, err
	}
	return low, high, nil
}
