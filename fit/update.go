package fit

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"hackle/evidence"
)

// Observed is one series to be explained, by equal steps of an hour. NaN stands for
// a missing or held-out value.
type Observed struct {
	Name   string
	Values []float64
	// Offset is the standard uncertainty of a constant error of the whole series, in
	// its unit; infinite for one whose level means nothing, such as a scale; 0: none.
	Offset float64
	// Pieces are the steps at which the level is free anew, rising: a scale after
	// something was put on. They need an Offset.
	Pieces []int
	// Least is the smallest scatter that is believed, in the unit of the series.
	Least float64
}

// Prior is what is known of a parameter before the data: normal.
type Prior struct {
	Name   string
	Mean   float64
	StdDev float64
}

// Model gives the values of every series at parameters, as long as the observed.
type Model func(ctx context.Context, theta []float64) ([][]float64, error)

// Posterior is what is known of the parameters after the data.
type Posterior struct {
	Names      []string
	Mean       []float64
	StdDev     []float64
	Interval   []evidence.Interval // at 95 %
	Covariance *mat.SymDense
	// Learnt is the share of its prior variance that each parameter has lost: 1 for
	// wholly known, 0 for nothing learnt. [-]
	Learnt      []float64
	Correlation [][]float64 // between the parameters [-]
	// Sharpness are the eigenvalues of the data's information in units of the prior's,
	// falling, and Directions the combinations of parameters that they belong to, each
	// of length 1 in prior standard deviations. Under 1 the data say less of a
	// combination than was known before. [-]
	Sharpness  []float64
	Directions [][]float64
	Series     []SeriesFit
	Computed   [][]float64 // by series at the mean, without offsets
	Offsets    [][]float64 // by series and piece
	Runs       int         // evaluations of the model
	Settled    bool        // the steps became small
}

// SeriesFit tells how one series was explained, in its unit.
type SeriesFit struct {
	Name    string
	Used    int     // values
	Before  float64 // root mean square of the residuals at the prior mean, offsets taken off
	RMSE    float64 // likewise at the posterior mean
	Scatter float64 // standard deviation of what is new in a residual after the one before
	Memory  float64 // likeness of residuals one step apart [-]
}

const (
	mostRounds = 12
	mostTries  = 6
)

// Update finds the most probable parameters after the data and their covariance:
// damped Gauss-Newton steps on residuals that are whitened by a first-order
// autoregression each, whose memory and scatter are estimated anew in every round,
// with the prior as further observations and offsets as linear unknowns. Where the
// model bends, intervals are widened to where the cost has risen as much as they
// stand for.
//
// The memory of residuals is the larger of their likeness one hour apart and, when
// that stands clear of chance, per hour a day apart, so that a misfit that lasts
// for days does not count as many independent ones. Sources: "Application of least
// squares regression to relationships containing auto-correlated error terms",
// Journal of the American Statistical Association 44 (1949) 32, DOI
// 10.1080/01621459.1949.10483290; "An algorithm for least-squares estimation of
// nonlinear parameters", SIAM Journal on Applied Mathematics 11 (1963) 431, DOI
// 10.1137/0111030; both from memory.
//
// Progress, when not nil, is told the number of model runs.
func Update(ctx context.Context, observed []Observed, priors []Prior, model Model, progress func(runs int)) (*Posterior, error) {
	u, err := newUpdate(ctx, observed, priors, model, progress)
	if err != nil {
		return nil, err
	}
	theta := make([]float64, len(priors))
	for i, p := range priors {
		theta[i] = p.Mean
	}
	computed, err := u.run(theta)
	if err != nil {
		return nil, err
	}
	first := computed
	post := &Posterior{}
	damping := 1e-3
	for range mostRounds {
		changed := u.weigh(computed)
		jacobian, err := u.slopes(theta, computed, false)
		if err != nil {
			return nil, err
		}
		h, g, cost := u.normal(theta, computed, jacobian)
		small := true
		for try := 0; ; try++ {
			step, ok := solveDamped(h, g, damping)
			if !ok {
				return nil, fmt.Errorf("%w: the equations of the parameters cannot be solved", ErrData)
			}
			size := 0.0
			trial := make([]float64, len(theta))
			for i := range theta {
				// No further than two prior standard deviations at once: the model is not
				// linear over more.
				s := math.Max(-2*priors[i].StdDev, math.Min(2*priors[i].StdDev, step[i]))
				trial[i] = theta[i] + s
				size = math.Max(size, math.Abs(s)/priors[i].StdDev)
			}
			next, err := u.run(trial)
			if err != nil && ctx.Err() != nil {
				return nil, err
			}
			if err == nil {
				if better := u.cost(trial, next); better <= cost*(1+1e-12) {
					theta, computed = trial, next
					damping = math.Max(1e-6, damping/10)
					small = size < 0.01
					break
				}
			}
			if damping *= 10; try == mostTries {
				break // as good as it gets
			}
		}
		if small && changed < 0.02 {
			post.Settled = true
			break
		}
	}
	u.weigh(computed)
	jacobian, err := u.slopes(theta, computed, true)
	if err != nil {
		return nil, err
	}
	h, _, cost := u.normal(theta, computed, jacobian)
	if post, err = u.posterior(post, theta, h, first, computed); err != nil {
		return nil, err
	}
	if err := u.widen(post, cost); err != nil {
		return nil, err
	}
	post.Runs = u.runs
	return post, nil
}

// widen moves the ends of the intervals out to where the cost has risen by as much as
// the linear interval says, where the model bends: along each parameter, the others
// following as their covariance has it. An end never moves in.
func (u *update) widen(post *Posterior, cost float64) error {
	for j := range post.Mean {
		sd := post.StdDev[j]
		for _, sign := range []float64{-1, 1} {
			end := &post.Interval[j].Hi
			if sign < 0 {
				end = &post.Interval[j].Lo
			}
			far := math.Abs(*end - post.Mean[j])
			allowed := far * far / (sd * sd)
			rise := func(by float64) (float64, error) {
				theta := append([]float64(nil), post.Mean...)
				for i := range theta {
					theta[i] += sign * by * post.Covariance.At(i, j) / post.Covariance.At(j, j)
				}
				computed, err := u.run(theta)
				if err != nil {
					return math.Inf(1), u.ctx.Err() // where the model finds no way it ends
				}
				return u.cost(theta, computed) - cost, nil
			}
			const most = 4 // steps of a fifth to the double of the linear interval
			by := far
			for range most {
				r, err := rise(by)
				if err != nil {
					return err
				}
				if r >= allowed || by >= 3*u.priors[j].StdDev {
					break
				}
				// Out as far as a parabola through this point would, a fifth at least.
				by *= math.Max(1.2, math.Min(1.6, math.Sqrt(allowed/math.Max(r, 1e-9))))
			}
			*end = post.Mean[j] + sign*by
			if sign > 0 { // both ends stand
				k := far / sd
				half := post.Interval[j].Width() / 2 / k
				post.Learnt[j] = math.Max(0, 1-half*half/(u.priors[j].StdDev*u.priors[j].StdDev))
			}
		}
	}
	return nil
}

type update struct {
	ctx      context.Context
	observed []Observed
	priors   []Prior
	model    Model
	progress func(int)
	runs     int

	pieceOf [][]int // by series and step
	pieces  []int   // by series
	memory  []float64
	scatter []float64
	weight  [][]float64 // root of the weight of what is new at each step, nil: 1
}

func newUpdate(ctx context.Context, observed []Observed, priors []Prior, model Model, progress func(int)) (*update, error) {
	u := &update{ctx: ctx, observed: observed, priors: priors, model: model, progress: progress}
	if len(observed) == 0 || len(priors) == 0 {
		return nil, fmt.Errorf("%w: %d series and %d parameters", ErrData, len(observed), len(priors))
	}
	for _, p := range priors {
		if !(p.StdDev > 0) || math.IsInf(p.StdDev, 0) || math.IsNaN(p.Mean) {
			return nil, fmt.Errorf("%w: prior of %s is %g ± %g", ErrData, p.Name, p.Mean, p.StdDev)
		}
	}
	for _, o := range observed {
		used := 0
		for _, v := range o.Values {
			if !math.IsNaN(v) {
				used++
			}
		}
		const fewest = 48
		if used < fewest {
			return nil, fmt.Errorf("%w: %s has %d hours with a value, wanted %d", ErrData, o.Name, used, fewest)
		}
		if len(o.Pieces) > 0 && o.Offset == 0 {
			return nil, fmt.Errorf("%w: %s has pieces but no offset", ErrData, o.Name)
		}
		of := make([]int, len(o.Values))
		piece, next := 0, 0
		for t := range of {
			for next < len(o.Pieces) && o.Pieces[next] <= t {
				piece++
				next++
			}
			of[t] = piece
		}
		u.pieceOf = append(u.pieceOf, of)
		u.pieces = append(u.pieces, piece+1)
		u.memory = append(u.memory, 0)
		u.scatter = append(u.scatter, 0)
	}
	return u, nil
}

func (u *update) run(theta []float64) ([][]float64, error) {
	if err := u.ctx.Err(); err != nil {
		return nil, err
	}
	out, err := u.model(u.ctx, theta)
	if err != nil {
		return nil, err
	}
	if len(out) != len(u.observed) {
		return nil, errors.New("fit: the model gives another number of series")
	}
	for s, v := range out {
		if len(v) != len(u.observed[s].Values) {
			return nil, fmt.Errorf("fit: the model gives %d of %d values of %s", len(v), len(u.observed[s].Values), u.observed[s].Name)
		}
	}
	u.runs++
	if u.progress != nil {
		u.progress(u.runs)
	}
	return out, nil
}

// slopes of the computed values by the parameters, each a fifth of its prior
// standard deviation off; one-sided, or to both sides.
func (u *update) slopes(theta []float64, at [][]float64, both bool) ([][][]float64, error) {
	out := make([][][]float64, len(theta))
	for i := range theta {
		step := 0.2 * u.priors[i].StdDev
		moved := append([]float64(nil), theta...)
		moved[i] += step
		up, err := u.run(moved)
		if err != nil {
			return nil, err
		}
		down, width := at, step
		if both {
			moved[i] = theta[i] - step
			if down, err = u.run(moved); err != nil {
				return nil, err
			}
			width = 2 * step
		}
		out[i] = make([][]float64, len(up))
		for s := range up {
			out[i][s] = make([]float64, len(up[s]))
			for t := range up[s] {
				out[i][s][t] = (up[s][t] - down[s][t]) / width
			}
		}
	}
	return out, nil
}

// residual of a series: observed less computed; NaN where either is missing.
func (u *update) residual(s int, computed [][]float64) []float64 {
	r := make([]float64, len(u.observed[s].Values))
	for t, v := range u.observed[s].Values {
		r[t] = v - computed[s][t]
	}
	return r
}

// whiten turns a column of a series into what is new in it since the last value of
// the same piece, in units of its scatter; over a gap of k steps the memory is its
// k-th power. valid tells which steps count.
func (u *update) whiten(s int, valid []bool, column func(t int) float64, each func(t int, w float64)) {
	rho, sigma := u.memory[s], u.scatter[s]
	last := -1
	for t := range valid {
		if !valid[t] {
			continue
		}
		if last >= 0 && u.pieceOf[s][t] == u.pieceOf[s][last] {
			power := rho
			if t-last > 1 {
				power = math.Pow(rho, float64(t-last))
			}
			each(t, u.weightAt(s, t)*(column(t)-power*column(last))/(sigma*math.Sqrt((1-power*power)/(1-rho*rho))))
		} else {
			each(t, u.weightAt(s, t)*math.Sqrt(1-rho*rho)*column(t)/sigma)
		}
		last = t
	}
}

func (u *update) weightAt(s, t int) float64 {
	if u.weight == nil || u.weight[s] == nil {
		return 1
	}
	return u.weight[s][t]
}

// clip is the size in scatters from which on what is new in a residual counts
// less: a cluster that the run moves a day too late, or a lifted lid, makes a jump and
// not a thousand errors. Huber's weights; at 2.5 they cost Gaussian errors two
// hundredths ("Robust estimation of a location parameter", Annals of Mathematical
// Statistics 35 (1964) 73, DOI 10.1214/aoms/1177703732; from memory).
const clip = 2.5

// clippedScatter is the scatter of values of which those beyond clip count as much as
// one at clip, made fair for Gaussian values.
func clippedScatter(v []float64) float64 {
	fair := 1 - 2*distuv.UnitNormal.Survival(clip)*(1-clip*clip) - 2*clip*distuv.UnitNormal.Prob(clip) // mean square of a clipped Gaussian
	s := rms(v)
	for range 20 {
		sum := 0.0
		for _, x := range v {
			c := math.Min(math.Abs(x), clip*s)
			sum += c * c
		}
		next := math.Sqrt(sum / float64(len(v)) / fair)
		if math.Abs(next-s) < 1e-6*s {
			break
		}
		s = next
	}
	return s
}

// weigh estimates memory and scatter of every series from its residuals, offsets
// taken off, and returns the largest change in them. [-]
func (u *update) weigh(computed [][]float64) float64 {
	changed := 0.0
	for s := range u.observed {
		o := &u.observed[s]
		r := u.residual(s, computed)
		u.takeOff(s, r, u.offsets(s, r))
		likeness := func(lag int) (float64, int) {
			num, den, n := 0.0, 0.0, 0
			for t := lag; t < len(r); t++ {
				if a, b := r[t-lag], r[t]; !math.IsNaN(a) && !math.IsNaN(b) && u.pieceOf[s][t] == u.pieceOf[s][t-lag] {
					num += a * b
					den += (a*a + b*b) / 2
					n++
				}
			}
			if den == 0 {
				return 0, n
			}
			return num / den, n
		}
		const longest = 0.995
		rho, n := likeness(1)
		if n > 0 { // such an estimate is low by about this much (first order, from memory)
			rho += (1 + 3*rho) / float64(n)
		}
		rho = math.Max(0, math.Min(longest, rho))
		if day, m := likeness(24); m > 48 {
			chance := 2.5 * math.Sqrt((1+rho*rho)/(1-rho*rho)/float64(m))
			if day > chance {
				rho = math.Max(rho, math.Min(longest, math.Pow(day, 1.0/24)))
			}
		}
		var fresh []float64
		for t := 1; t < len(r); t++ {
			if a, b := r[t-1], r[t]; !math.IsNaN(a) && !math.IsNaN(b) && u.pieceOf[s][t] == u.pieceOf[s][t-1] {
				fresh = append(fresh, b-rho*a)
			}
		}
		sigma := o.Least
		if len(fresh) > 0 {
			sigma = math.Max(sigma, clippedScatter(fresh))
		}
		sigma = math.Max(sigma, 1e-9)
		if n == 0 { // no two hours in a row
			rho = 0
			sigma = math.Max(sigma, rms(r))
		}
		if u.scatter[s] > 0 {
			changed = math.Max(changed, math.Max(math.Abs(sigma/u.scatter[s]-1), math.Abs(rho-u.memory[s])))
		} else {
			changed = 1
		}
		u.memory[s], u.scatter[s] = rho, sigma
		if u.weight == nil {
			u.weight = make([][]float64, len(u.observed))
		}
		u.weight[s] = nil // whiten plainly first
		w := make([]float64, len(r))
		u.whiten(s, validOf(r), func(t int) float64 { return r[t] }, func(t int, e float64) {
			w[t] = math.Sqrt(math.Min(1, clip/math.Max(math.Abs(e), 1e-12)))
		})
		u.weight[s] = w
	}
	return changed
}

// precision of the offset of a series before the data.
func (o *Observed) precision() float64 {
	if math.IsInf(o.Offset, 1) {
		return 0
	}
	return 1 / (o.Offset * o.Offset)
}

// offsets of the pieces of a series that explain residuals best, none for a series
// without.
func (u *update) offsets(s int, r []float64) []float64 {
	o := &u.observed[s]
	if o.Offset == 0 {
		return nil
	}
	out := make([]float64, u.pieces[s])
	if u.scatter[s] == 0 { // the first time: plain means
		count := make([]float64, len(out))
		for t, v := range r {
			if !math.IsNaN(v) {
				out[u.pieceOf[s][t]] += v
				count[u.pieceOf[s][t]]++
			}
		}
		for p := range out {
			if count[p] > 0 {
				out[p] /= count[p]
			}
		}
		return out
	}
	valid := validOf(r)
	ones := make([]float64, len(r))
	u.whiten(s, valid, func(int) float64 { return 1 }, func(t int, w float64) { ones[t] = w })
	a, b := make([]float64, len(out)), make([]float64, len(out))
	u.whiten(s, valid, func(t int) float64 { return r[t] }, func(t int, w float64) {
		p := u.pieceOf[s][t]
		a[p] += ones[t] * ones[t]
		b[p] += ones[t] * w
	})
	for p := range out {
		if d := a[p] + o.precision(); d > 0 {
			out[p] = b[p] / d
		}
	}
	return out
}

func (u *update) takeOff(s int, r, offsets []float64) {
	if offsets == nil {
		return
	}
	for t := range r {
		r[t] -= offsets[u.pieceOf[s][t]]
	}
}

func validOf(r []float64) []bool {
	v := make([]bool, len(r))
	for t := range r {
		v[t] = !math.IsNaN(r[t])
	}
	return v
}

// normal builds the normal equations of a step: information h, pull g, and the
// cost at theta. Offsets are eliminated: each piece is one unknown of its own.
func (u *update) normal(theta []float64, computed [][]float64, jacobian [][][]float64) (*mat.SymDense, []float64, float64) {
	p := len(theta)
	h := mat.NewSymDense(p, nil)
	g := make([]float64, p)
	cost := 0.0
	for i, prior := range u.priors {
		w := 1 / (prior.StdDev * prior.StdDev)
		h.SetSym(i, i, w)
		g[i] = w * (prior.Mean - theta[i])
		cost += w * (prior.Mean - theta[i]) * (prior.Mean - theta[i])
	}
	for s := range u.observed {
		o := &u.observed[s]
		r := u.residual(s, computed)
		valid := validOf(r)
		n := len(r)
		white := make([]float64, n)
		u.whiten(s, valid, func(t int) float64 { return r[t] }, func(t int, w float64) { white[t] = w; cost += w * w })
		slopes := make([][]float64, p)
		for i := range slopes {
			slopes[i] = make([]float64, n)
			u.whiten(s, valid, func(t int) float64 { return jacobian[i][s][t] }, func(t int, w float64) { slopes[i][t] = w })
		}
		for i := range p {
			for t := range n {
				g[i] += slopes[i][t] * white[t]
			}
			for j := range i + 1 {
				sum := h.At(i, j)
				for t := range n {
					sum += slopes[i][t] * slopes[j][t]
				}
				h.SetSym(i, j, sum)
			}
		}
		if o.Offset == 0 {
			continue
		}
		ones := make([]float64, n)
		u.whiten(s, valid, func(int) float64 { return 1 }, func(t int, w float64) { ones[t] = w })
		for piece := range u.pieces[s] {
			a, b := o.precision(), 0.0
			c := make([]float64, p)
			for t := range n {
				if !valid[t] || u.pieceOf[s][t] != piece {
					continue
				}
				a += ones[t] * ones[t]
				b += ones[t] * white[t]
				for i := range c {
					c[i] += ones[t] * slopes[i][t]
				}
			}
			if a == 0 {
				continue
			}
			cost -= b * b / a
			for i := range p {
				g[i] -= c[i] * b / a
				for j := range i + 1 {
					h.SetSym(i, j, h.At(i, j)-c[i]*c[j]/a)
				}
			}
		}
	}
	return h, g, cost
}

// cost at theta with the present weights.
func (u *update) cost(theta []float64, computed [][]float64) float64 {
	_, _, c := u.normal(theta, computed, zeroSlopes(len(theta), computed))
	return c
}

func zeroSlopes(p int, like [][]float64) [][][]float64 {
	zero := make([][]float64, len(like))
	for s := range like {
		zero[s] = make([]float64, len(like[s]))
	}
	out := make([][][]float64, p)
	for i := range out {
		out[i] = zero
	}
	return out
}

func solveDamped(h *mat.SymDense, g []float64, damping float64) ([]float64, bool) {
	p := len(g)
	a := mat.NewSymDense(p, nil)
	a.CopySym(h)
	for i := range p {
		a.SetSym(i, i, a.At(i, i)*(1+damping))
	}
	var c mat.Cholesky
	if !c.Factorize(a) {
		return nil, false
	}
	x := mat.NewVecDense(p, nil)
	if err := c.SolveVecTo(x, mat.NewVecDense(p, append([]float64(nil), g...))); err != nil && !isCondition(err) {
		return nil, false
	}
	return x.RawVector().Data, true
}

func (u *update) posterior(post *Posterior, theta []float64, h *mat.SymDense, first, computed [][]float64) (*Posterior, error) {
	p := len(theta)
	var c mat.Cholesky
	if !c.Factorize(h) {
		return nil, fmt.Errorf("%w: the information of the data is not positive", ErrData)
	}
	cov := mat.NewSymDense(p, nil)
	if err := c.InverseTo(cov); err != nil && !isCondition(err) {
		return nil, fmt.Errorf("%w: %w", ErrData, err)
	}
	post.Covariance, post.Mean, post.Computed, post.Runs = cov, theta, computed, u.runs
	// Effective number of values: what is left of each series by its memory.
	effective := 0.0
	for s := range u.observed {
		r := u.residual(s, computed)
		n := 0.0
		for _, v := range r {
			if !math.IsNaN(v) {
				n++
			}
		}
		effective += n * (1 - u.memory[s]) / (1 + u.memory[s])
		offsets := u.offsets(s, r)
		u.takeOff(s, r, offsets)
		before := u.residual(s, first)
		u.takeOff(s, before, u.offsets(s, before))
		post.Offsets = append(post.Offsets, offsets)
		post.Series = append(post.Series, SeriesFit{u.observed[s].Name, int(n), rms(before), rms(r), u.scatter[s], u.memory[s]})
	}
	k := studentQuantile(level, math.Max(3, effective-float64(p)))
	for i, prior := range u.priors {
		sd := math.Sqrt(cov.At(i, i))
		post.Names = append(post.Names, prior.Name)
		post.StdDev = append(post.StdDev, sd)
		post.Interval = append(post.Interval, evidence.Interval{Lo: theta[i] - k*sd, Hi: theta[i] + k*sd})
		post.Learnt = append(post.Learnt, math.Max(0, 1-sd*sd/(prior.StdDev*prior.StdDev)))
		row := make([]float64, p)
		for j := range row {
			row[j] = cov.At(i, j) / math.Sqrt(cov.At(i, i)*cov.At(j, j))
		}
		post.Correlation = append(post.Correlation, row)
	}
	// The data's own information, in prior standard deviations.
	own := mat.NewSymDense(p, nil)
	for i := range p {
		for j := range i + 1 {
			v := h.At(i, j)
			if i == j {
				v -= 1 / (u.priors[i].StdDev * u.priors[i].StdDev)
			}
			own.SetSym(i, j, v*u.priors[i].StdDev*u.priors[j].StdDev)
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(own, true) {
		return nil, fmt.Errorf("%w: the directions of the data's information cannot be found", ErrData)
	}
	values := eigen.Values(nil)
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	for i := p - 1; i >= 0; i-- {
		post.Sharpness = append(post.Sharpness, math.Max(0, values[i]))
		d := make([]float64, p)
		for j := range d {
			d[j] = vectors.At(j, i)
		}
		post.Directions = append(post.Directions, d)
	}
	return post, nil
}

// rms of the values that are there.
func rms(r []float64) float64 {
	sum, n := 0.0, 0.0
	for _, v := range r {
		if !math.IsNaN(v) {
			sum += v * v
			n++
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return math.Sqrt(sum / n)
}
