package evidence

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// blockCounts are events and hive-seasons of a block in both arms. They need not
// be whole: a design effect divides them.
type blockCounts struct {
	xWith, nWith, xWithout, nWithout float64
}

// Prior constants of the model of counts; docs/evidence.md.
const (
	// baselineSD is the standard deviation of the prior of the mean log odds of
	// an untreated block, about even odds. Judgement: rates from 2 to 98 % lie within two of it.
	baselineSD = 2.0
	// spreadScale is the scale of the half-normal prior of the standard deviation
	// of log odds between blocks. The Austrian winter-loss survey (testdata)
	// gives 1.0 to 1.5 between operations within a winter.
	spreadScale = 1.5
	// oddsSD is the standard deviation of the stated prior of the log odds ratio:
	// 19 in 20 between 1/7 and 7. Judgement, no source.
	oddsSD = 1.0
)

// countModel is the likelihood of the treatment's log odds ratio with the
// blocks' own levels integrated out, on a grid:
//
//	events ~ binomial(logistic(a_block + d·treated)), a_block ~ normal(mu, tau)
//	mu ~ normal(0, baselineSD), tau ~ half-normal(spreadScale)
//
// Blocks with few hives lean on the others through mu and tau.
type countModel struct {
	effect []float64 // grid of d [-] log odds ratio
	// cells holds, for each combination of d, mu and tau, its weight without the
	// prior of d, and the share of events with and without the treatment in
	// blocks like these. Sorted by difference.
	cells []modelCell
}

type modelCell struct {
	d                 int     // place in effect
	weight            float64 // [-]
	mu, tau           float64 // [-] log odds
	with, without     float64 // [-] mean shares
	effect, rateDelta float64 // d and with - without [-]
}

// fitCounts integrates the model on a grid fine against the data's own spread.
func fitCounts(blocks []blockCounts) countModel {
	var xw, nw, xo, no float64
	for _, b := range blocks {
		xw, nw, xo, no = xw+b.xWith, nw+b.nWith, xo+b.xWithout, no+b.nWithout
	}
	// Centres and steps from the pooled counts, half a case added to each cell.
	pw, po := (xw+0.5)/(nw+1), (xo+0.5)/(no+1)
	seWith, seWithout := 1/math.Sqrt((nw+1)*pw*(1-pw)), 1/math.Sqrt((no+1)*po*(1-po))
	se := math.Hypot(seWith, seWithout)
	centre := logit((xw + xo + 0.5) / (nw + no + 1))
	// Blocks share the counts; a single block's level is no sharper than all of them.
	level := gridOf(centre-8, centre+8, clamp(math.Min(seWith, seWithout)/2, 0.02, 0.15))
	crude := clamp(logit(pw)-logit(po), -5, 5)
	// Beyond a log odds ratio of 8 even the wide prior has nothing left.
	effect := gridOf(clamp(crude-6*se, -8, -1), clamp(crude+6*se, 1, 8), clamp(se/4, 0.01, 0.2))
	means := gridOf(centre-5, centre+5, clamp(math.Min(seWith, seWithout), 0.04, 0.25))
	spreads := []float64{0.05, 0.2, 0.4, 0.65, 0.95, 1.3, 1.75, 2.3, 3, 4}

	// Likelihood of each block at each level and effect.
	like := make([][]float64, len(effect)*len(blocks))
	softWithout := make([]float64, len(level))
	for i, a := range level {
		softWithout[i] = logOnePlusExp(a)
	}
	for e, d := range effect {
		soft := make([]float64, len(level))
		for i, a := range level {
			soft[i] = logOnePlusExp(a + d)
		}
		for b, c := range blocks {
			row := make([]float64, len(level))
			for i, a := range level {
				row[i] = c.xWith*(a+d) - c.nWith*soft[i] + c.xWithout*a - c.nWithout*softWithout[i]
			}
			like[e*len(blocks)+b] = row
		}
	}
	// Scale each block by its best fit over all levels and effects.
	for b := range blocks {
		top := math.Inf(-1)
		for e := range effect {
			top = math.Max(top, slices.Max(like[e*len(blocks)+b]))
		}
		for e := range effect {
			row := like[e*len(blocks)+b]
			for i := range row {
				row[i] = math.Exp(row[i] - top)
			}
		}
	}

	shareWithout := make([]float64, len(level))
	for i, a := range level {
		shareWithout[i] = logistic(a)
	}
	shareWith := make([][]float64, len(effect))
	for e, d := range effect {
		shareWith[e] = make([]float64, len(level))
		for i, a := range level {
			shareWith[e][i] = logistic(a + d)
		}
	}

	var m countModel
	m.effect = effect
	m.cells = make([]modelCell, 0, len(effect)*len(means)*len(spreads))
	kernel := make([]float64, len(level))
	logWeights := make([]float64, 0, cap(m.cells))
	for t, tau := range spreads {
		logTau := math.Log(spacing(spreads, t)) - tau*tau/(2*spreadScale*spreadScale)
		for _, mu := range means {
			lo, hi := kernelOf(kernel, level, mu, tau)
			k := kernel[lo:hi]
			without := dot(k, shareWithout[lo:hi])
			logPrior := logTau - mu*mu/(2*baselineSD*baselineSD)
			for e, d := range effect {
				// One logarithm for many blocks: their product, before it underflows.
				w, product := logPrior, 1.0
				for b := range blocks {
					product *= dot(k, like[e*len(blocks)+b][lo:hi])
					if product < 1e-200 {
						w, product = w+math.Log(product), 1
					}
				}
				w += math.Log(product)
				with := dot(k, shareWith[e][lo:hi])
				m.cells = append(m.cells, modelCell{d: e, mu: mu, tau: tau, with: with, without: without, effect: d, rateDelta: with - without})
				logWeights = append(logWeights, w)
			}
		}
	}
	top := slices.Max(logWeights)
	kept := m.cells[:0]
	for i, c := range m.cells {
		// What weighs less than 1e-13 of the best cell cannot move a quantile.
		if logWeights[i] > top-30 {
			c.weight = math.Exp(logWeights[i] - top)
			kept = append(kept, c)
		}
	}
	m.cells = kept
	slices.SortFunc(m.cells, func(a, b modelCell) int {
		switch {
		case a.rateDelta < b.rateDelta:
			return -1
		case a.rateDelta > b.rateDelta:
			return 1
		}
		return 0
	})
	return m
}

func gridOf(lo, hi, step float64) []float64 {
	n := int(math.Ceil((hi-lo)/step)) + 1
	grid := make([]float64, n)
	// Zero lies between two points, so that no weight sits on "no effect" itself.
	first := math.Floor(lo/step) + 0.5
	for i := range grid {
		grid[i] = (first + float64(i)) * step
	}
	return grid
}

// spacing returns the trapezium weight of point i; the first cell reaches to 0.
func spacing(x []float64, i int) float64 {
	lo, hi := 0.0, x[len(x)-1]
	if i > 0 {
		lo = (x[i-1] + x[i]) / 2
	}
	if i+1 < len(x) {
		hi = (x[i] + x[i+1]) / 2
	}
	return hi - lo
}

// kernelOf fills a normal density over the levels, summing to one, and returns
// the span in which it is not negligible.
func kernelOf(kernel, level []float64, mu, tau float64) (lo, hi int) {
	sum := 0.0
	// A spread under the grid's step would fall between its points.
	width := math.Max(tau, (level[1]-level[0])/2)
	lo, hi = len(level), 0
	for i, a := range level {
		z := (a - mu) / width
		kernel[i] = 0
		if math.Abs(z) > 6 {
			continue
		}
		lo, hi = min(lo, i), max(hi, i+1)
		kernel[i] = math.Exp(-z * z / 2)
		sum += kernel[i]
	}
	for i := lo; i < hi; i++ {
		kernel[i] /= sum
	}
	return lo, hi
}

// dot sums in four strands, which do not wait for one another.
func dot(a, b []float64) float64 {
	b = b[:len(a)]
	var s0, s1, s2, s3 float64
	i := 0
	for ; i+3 < len(a); i += 4 {
		s0 += a[i] * b[i]
		s1 += a[i+1] * b[i+1]
		s2 += a[i+2] * b[i+2]
		s3 += a[i+3] * b[i+3]
	}
	for ; i < len(a); i++ {
		s0 += a[i] * b[i]
	}
	return s0 + s1 + s2 + s3
}

// Posterior is what is known of the treatment's effect under one prior.
type Posterior struct {
	Prior     string   `json:"prior"`      // the prior in words
	Estimate  float64  `json:"estimate"`   // posterior mean of the difference [-] share, or the outcome's unit
	Interval  Interval `json:"interval"`   // of the difference, same unit
	Better    float64  `json:"better"`     // probability that the treatment does good [-]
	WorthIt   float64  `json:"worth_it"`   // probability that it does good by at least the outcome's worth [-]
	OddsRatio float64  `json:"odds_ratio"` // posterior median; 0 for amounts [-]
	With      float64  `json:"with"`       // mean share or amount with the treatment
	Without   float64  `json:"without"`    // mean share or amount without it

	spread, baseline float64 // posterior means of tau and mu [-]
}

// posterior weights the model by a normal prior of the log odds ratio.
func (m countModel) posterior(sd, level, worth float64, lessGood bool) Posterior {
	good := 1.0
	if lessGood {
		good = -1
	}
	weights := make([]float64, len(m.cells))
	byEffect := make([]float64, len(m.effect))
	var p Posterior
	total := 0.0
	for i, c := range m.cells {
		z := c.effect / sd
		w := c.weight * math.Exp(-z*z/2)
		weights[i] = w
		byEffect[c.d] += w
		total += w
		p.Estimate += w * c.rateDelta
		p.With += w * c.with
		p.Without += w * c.without
		p.spread += w * c.tau
		p.baseline += w * c.mu
		if c.effect*good > 0 {
			p.Better += w
		}
		if c.rateDelta*good >= worth {
			p.WorthIt += w
		}
	}
	for _, v := range []*float64{&p.Estimate, &p.With, &p.Without, &p.spread, &p.baseline, &p.Better, &p.WorthIt} {
		*v /= total
	}
	quantile := func(q float64) float64 {
		sum := 0.0
		for i, w := range weights {
			if sum += w; sum >= q*total {
				return m.cells[i].rateDelta
			}
		}
		return m.cells[len(m.cells)-1].rateDelta
	}
	p.Interval = quantileInterval(quantile, level)
	p.OddsRatio = math.Exp(gridQuantile(m.effect, byEffect, 0.5))
	return p
}

// gridQuantile returns the quantile of weights on an even grid, each spread over
// its cell.
func gridQuantile(x, weights []float64, q float64) float64 {
	total := 0.0
	for _, w := range weights {
		total += w
	}
	step := x[1] - x[0]
	sum := 0.0
	for i, w := range weights {
		if w > 0 && sum+w >= q*total {
			return x[i] - step/2 + step*(q*total-sum)/w
		}
		sum += w
	}
	return x[len(x)-1]
}

// amountPosterior combines an estimate of a difference with its standard error
// and degrees of freedom (t likelihood) with a normal prior about zero.
func amountPosterior(estimate, stdError, df, sd, level, worth float64, lessGood bool) Posterior {
	good := 1.0
	if lessGood {
		good = -1
	}
	const points = 4001
	step := 8 * sd / (points - 1)
	x, w := make([]float64, points), make([]float64, points)
	like := distuv.StudentsT{Mu: estimate, Sigma: math.Max(stdError, step), Nu: df}
	var p Posterior
	total := 0.0
	for i := range x {
		d := step * float64(i-points/2)
		x[i] = d
		if df > 0 {
			w[i] = like.Prob(d)
		} else {
			w[i] = 1 // no data beyond the estimate itself: the prior stands
		}
		w[i] *= math.Exp(-d * d / (2 * sd * sd))
		total += w[i]
		p.Estimate += w[i] * d
		switch {
		case d*good > 0:
			p.Better += w[i]
		case d == 0:
			p.Better += w[i] / 2
		}
		if d*good >= worth {
			p.WorthIt += w[i]
		}
	}
	p.Estimate, p.Better, p.WorthIt = p.Estimate/total, p.Better/total, p.WorthIt/total
	p.Interval = quantileInterval(func(q float64) float64 { return gridQuantile(x, w, q) }, level)
	return p
}
