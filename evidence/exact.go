package evidence

import "math"

// Table is a table of two kinds of hive (columns) by what became of them (rows).
//
//	              treated   untreated
//	event            A          B
//	no event         C          D
type Table struct {
	A, B, C, D int
}

// N returns the count of the whole table.
func (t Table) N() int { return t.A + t.B + t.C + t.D }

// OddsRatio returns the sample odds ratio AD/(BC); infinite when only the
// denominator is zero, NaN when both are.
func (t Table) OddsRatio() float64 {
	return float64(t.A) * float64(t.D) / (float64(t.B) * float64(t.C))
}

// informative reports whether the table's margins leave it any freedom.
func (t Table) informative() bool {
	return t.A+t.B > 0 && t.C+t.D > 0 && t.A+t.C > 0 && t.B+t.D > 0
}

// Conditional is the distribution of the number of events among the treated,
// given the margins of one or more tables: noncentral hypergeometric for one,
// the convolution of these for several with a common odds ratio.
type Conditional struct {
	least    int       // smallest possible number of events
	observed int       // number seen
	logW     []float64 // log weight at odds ratio 1 of least, least+1, …; ln of the probability
}

// Condition returns the distribution for strata, each a table. Tables without
// freedom add nothing. Negative counts are a programming error and panic.
func Condition(strata ...Table) Conditional {
	d := Conditional{logW: []float64{0}}
	for _, t := range strata {
		d = d.join(conditionOne(t))
	}
	return d
}

func conditionOne(t Table) Conditional {
	if t.A < 0 || t.B < 0 || t.C < 0 || t.D < 0 {
		panic("evidence: negative count in a table")
	}
	treated, untreated, events := t.A+t.C, t.B+t.D, t.A+t.B
	lo, hi := max(0, events-untreated), min(events, treated)
	d := Conditional{least: lo, observed: t.A, logW: make([]float64, hi-lo+1)}
	total := logChoose(treated+untreated, events)
	for k := lo; k <= hi; k++ {
		d.logW[k-lo] = logChoose(treated, k) + logChoose(untreated, events-k) - total
	}
	return d
}

// join returns the distribution of the sum of two independent counts.
func (c Conditional) join(o Conditional) Conditional {
	if len(o.logW) == 1 {
		c.least += o.least
		c.observed += o.observed
		return c
	}
	if len(c.logW) == 1 {
		o.least += c.least
		o.observed += c.observed
		return o
	}
	sum := make([]float64, len(c.logW)+len(o.logW)-1)
	w := make([]float64, len(o.logW))
	for j, l := range o.logW {
		w[j] = math.Exp(l)
	}
	for i, l := range c.logW {
		p := math.Exp(l)
		for j, q := range w {
			sum[i+j] += p * q
		}
	}
	for k, s := range sum {
		sum[k] = math.Log(s) // -Inf where underflown: beyond 1e-300 at odds ratio 1
	}
	return Conditional{c.least + o.least, c.observed + o.observed, sum}
}

func logChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}

// Fixed reports whether the margins allow one outcome only, so that the tables
// say nothing of the odds ratio.
func (c Conditional) Fixed() bool { return len(c.logW) == 1 }

// tails returns the probabilities of fewer, of exactly and of more events than
// seen, and the mean of the count above least, at a log odds ratio.
func (c Conditional) tails(logOdds float64) (below, at, above, mean float64) {
	top := math.Inf(-1)
	for k, l := range c.logW {
		top = math.Max(top, l+float64(k)*logOdds)
	}
	total := 0.0
	seen := c.observed - c.least
	for k, l := range c.logW {
		w := math.Exp(l + float64(k)*logOdds - top)
		total += w
		mean += float64(k) * w
		switch {
		case k < seen:
			below += w
		case k == seen:
			at = w
		default:
			above += w
		}
	}
	return below / total, at / total, above / total, mean / total
}

// LogLikelihood returns the log probability of the count seen at a log odds
// ratio: what the data say of the treatment once the margins are given.
func (c Conditional) LogLikelihood(logOdds float64) float64 {
	top := math.Inf(-1)
	for k, l := range c.logW {
		top = math.Max(top, l+float64(k)*logOdds)
	}
	total := 0.0
	for k, l := range c.logW {
		total += math.Exp(l + float64(k)*logOdds - top)
	}
	seen := c.observed - c.least
	return c.logW[seen] + float64(seen)*logOdds - top - math.Log(total)
}

// Exact is the outcome of an exact conditional test of one or more tables.
type Exact struct {
	P         float64  // [-] two-sided: all outcomes no more probable than the one seen
	PLess     float64  // [-] as few events among the treated, or fewer
	PGreater  float64  // [-] as many, or more
	MidP      float64  // [-] PGreater with half the probability of the one seen
	OddsRatio float64  // [-] conditional maximum likelihood, 0 or +Inf at the ends
	Interval  Interval // [-] exact interval of the odds ratio, each tail (1-level)/2
}

// Test returns the exact test of no effect with the conditional odds ratio and
// its interval at level. Tables without freedom give probabilities of 1, an odds
// ratio of NaN and an interval of 0 to infinity.
//
// One table: Fisher's exact test. Several: the exact test of conditional
// independence, which supposes a common odds ratio in its interval. Source:
// On the analysis of 2 × 2 tables and The analysis of multiple 2 × 2 contingency
// tables, as textbooks of categorical data give them (from memory).
func (c Conditional) Test(level float64) Exact {
	if c.Fixed() {
		return Exact{1, 1, 1, 0.5, math.NaN(), Interval{0, math.Inf(1)}}
	}
	below, at, above, _ := c.tails(0)
	r := Exact{PLess: math.Min(1, below+at), PGreater: math.Min(1, at+above), MidP: above + at/2}
	seen := c.observed - c.least
	limit := c.logW[seen] + 1e-7 // as probable, to rounding
	for _, l := range c.logW {
		if l <= limit {
			r.P += math.Exp(l)
		}
	}
	r.P = math.Min(1, r.P)
	tail := (1 - level) / 2
	last := len(c.logW) - 1
	const far = 400 // log odds ratio beyond anything a count can show
	root := func(f func(float64) float64) float64 { return math.Exp(bisect(-far, far, f)) }
	switch seen {
	case 0:
		r.OddsRatio = 0
	case last:
		r.OddsRatio = math.Inf(1)
	default:
		r.OddsRatio = root(func(d float64) float64 { _, _, _, mean := c.tails(d); return mean - float64(seen) })
	}
	r.Interval = Interval{0, math.Inf(1)}
	if seen > 0 {
		r.Interval.Lo = root(func(d float64) float64 { _, at, above, _ := c.tails(d); return at + above - tail })
	}
	if seen < last {
		r.Interval.Hi = root(func(d float64) float64 { below, at, _, _ := c.tails(d); return tail - below - at })
	}
	return r
}

// MantelHaenszelResult is the common odds ratio of several tables.
type MantelHaenszelResult struct {
	OddsRatio          float64  // [-]
	Interval           Interval // [-] by the variance of the log that holds for few large and for many sparse tables
	ChiSquare          float64  // [-] one degree of freedom, no correction
	P                  float64  // [-] of ChiSquare
	ChiSquareCorrected float64  // [-] with continuity correction
	PCorrected         float64  // [-] of ChiSquareCorrected
}

// MantelHaenszel returns the common odds ratio of strata, its interval at level
// and the test of no effect. With a zero numerator or denominator the ratio is 0,
// infinite or NaN and the interval 0 to infinity. Strata of less than two count
// for nothing.
//
// Source: Statistical aspects of the analysis of data from retrospective studies
// of disease, Journal of the National Cancer Institute 22 (1959), 719-748;
// variance: Estimators of the Mantel-Haenszel variance consistent in both sparse
// data and large-strata limiting models, Biometrics 42 (1986), 311-323 (from
// memory).
func MantelHaenszel(strata []Table, level float64) MantelHaenszelResult {
	var r, s, pr, psqr, qs, seen, expected, variance float64
	for _, t := range strata {
		n := float64(t.N())
		if n < 2 {
			continue
		}
		a, b, c, d := float64(t.A), float64(t.B), float64(t.C), float64(t.D)
		p, q := (a+d)/n, (b+c)/n
		ri, si := a*d/n, b*c/n
		r += ri
		s += si
		pr += p * ri
		psqr += p*si + q*ri
		qs += q * si
		seen += a
		expected += (a + b) * (a + c) / n
		variance += (a + b) * (c + d) * (a + c) * (b + d) / (n * n * (n - 1))
	}
	m := MantelHaenszelResult{OddsRatio: r / s, Interval: Interval{0, math.Inf(1)}, P: 1, PCorrected: 1}
	if r > 0 && s > 0 {
		half := upperZ(level) * math.Sqrt(pr/(2*r*r)+psqr/(2*r*s)+qs/(2*s*s))
		centre := math.Log(m.OddsRatio)
		m.Interval = Interval{math.Exp(centre - half), math.Exp(centre + half)}
	}
	if variance > 0 {
		gap := math.Abs(seen - expected)
		corrected := math.Max(0, gap-0.5)
		m.ChiSquare, m.ChiSquareCorrected = gap*gap/variance, corrected*corrected/variance
		m.P, m.PCorrected = chiSquareTail(m.ChiSquare), chiSquareTail(m.ChiSquareCorrected)
	}
	return m
}
