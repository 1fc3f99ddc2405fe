package fit

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Regression is a linear least-squares fit. Units follow those of the data.
type Regression struct {
	Coefficients []float64
	Errors       []float64  // standard errors of the coefficients, residuals taken as independent
	Covariance   *mat.Dense // of the coefficients, residuals taken as independent
	Residuals    []float64  // observed less fitted
	ResidualSD   float64    // root of the sum of squares over the degrees of freedom
	RSquared     float64    // about the mean of y when a column is constant, else about 0 [-]
	DF           int        // rows less columns
	// Condition is that of the columns scaled to unit length: the factor by which
	// errors of the data can grow in the coefficients. [-]
	Condition float64

	rows [][]float64
	bias *mat.Dense // inverse of XᵀX
}

// Linear fits y to the columns of the rows x by least squares: orthogonal
// decomposition of columns scaled to unit length. Include a column of ones for an
// intercept. Columns that depend on one another to the last digits are an error.
func Linear(x [][]float64, y []float64) (*Regression, error) {
	n := len(x)
	if n == 0 || len(y) != n {
		return nil, fmt.Errorf("%w: %d rows for %d values", ErrData, n, len(y))
	}
	p := len(x[0])
	if p == 0 || n < p {
		return nil, fmt.Errorf("%w: %d rows cannot tell %d coefficients", ErrData, n, p)
	}
	scale := make([]float64, p)
	for i, row := range x {
		if len(row) != p {
			return nil, fmt.Errorf("%w: row %d has %d columns, the first %d", ErrData, i, len(row), p)
		}
		for j, v := range row {
			scale[j] = math.Hypot(scale[j], v)
		}
	}
	a := mat.NewDense(n, p, nil)
	for j, s := range scale {
		if s == 0 || math.IsNaN(s) || math.IsInf(s, 0) {
			return nil, fmt.Errorf("%w: column %d is %g throughout", ErrData, j, s)
		}
		for i := range x {
			a.Set(i, j, x[i][j]/s)
		}
	}
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDNone) {
		return nil, fmt.Errorf("%w: the singular values cannot be found", ErrData)
	}
	values := svd.Values(nil)
	condition := math.Inf(1)
	if least := values[p-1]; least > 0 {
		condition = values[0] / least
	}
	const hopeless = 1e15 // beyond it no digit is left
	if !(condition < hopeless) {
		return nil, fmt.Errorf("%w: the columns depend on one another (condition %.1g)", ErrData, condition)
	}
	var qr mat.QR
	qr.Factorize(a)
	b := mat.NewVecDense(n, append([]float64(nil), y...))
	solution := mat.NewVecDense(p, nil)
	if err := qr.SolveVecTo(solution, false, b); err != nil && !isCondition(err) {
		return nil, fmt.Errorf("%w: %w", ErrData, err)
	}
	refine(a, &qr, b, solution)

	r := &Regression{
		Coefficients: make([]float64, p), Errors: make([]float64, p), Residuals: make([]float64, n),
		DF: n - p, Condition: condition, rows: x,
	}
	sum, mean, constant := 0.0, 0.0, false
	for j := range p {
		r.Coefficients[j] = solution.AtVec(j) / scale[j]
		constant = constant || isConstant(x, j)
	}
	for i := range n {
		fitted := 0.0
		for j := range p {
			fitted += a.At(i, j) * solution.AtVec(j)
		}
		r.Residuals[i] = y[i] - fitted
		sum += r.Residuals[i] * r.Residuals[i]
		mean += y[i] / float64(n)
	}
	if !constant {
		mean = 0
	}
	total := 0.0
	for _, v := range y {
		total += (v - mean) * (v - mean)
	}
	r.RSquared = 1 - sum/total
	if r.DF > 0 {
		r.ResidualSD = math.Sqrt(sum / float64(r.DF))
	}
	// (XᵀX)⁻¹ = S⁻¹ R⁻¹ R⁻ᵀ S⁻¹ with the triangle R of the scaled columns.
	var upper mat.Dense
	qr.RTo(&upper)
	var inverse mat.Dense
	if err := inverse.Inverse(upper.Slice(0, p, 0, p)); err != nil && !isCondition(err) {
		return nil, fmt.Errorf("%w: %w", ErrData, err)
	}
	r.bias = mat.NewDense(p, p, nil)
	r.bias.Mul(&inverse, inverse.T())
	for i := range p {
		for j := range p {
			r.bias.Set(i, j, r.bias.At(i, j)/(scale[i]*scale[j]))
		}
	}
	r.Covariance = mat.NewDense(p, p, nil)
	r.Covariance.Scale(r.ResidualSD*r.ResidualSD, r.bias)
	for j := range p {
		r.Errors[j] = math.Sqrt(r.Covariance.At(j, j))
	}
	return r, nil
}

// refine takes one step of iterative refinement with residuals summed in twice
// the precision, which gives back digits that ill-conditioned columns cost.
func refine(a *mat.Dense, qr *mat.QR, b, solution *mat.VecDense) {
	n, p := a.Dims()
	rest := mat.NewVecDense(n, nil)
	for i := range n {
		s, c := b.AtVec(i), 0.0
		for j := range p {
			// Product and sum without rounding error: two-product, two-sum.
			t := -a.At(i, j) * solution.AtVec(j)
			e := math.FMA(-a.At(i, j), solution.AtVec(j), -t)
			u := s + t
			v := u - s
			c += (s - (u - v)) + (t - v) + e
			s = u
		}
		rest.SetVec(i, s+c)
	}
	step := mat.NewVecDense(p, nil)
	if err := qr.SolveVecTo(step, false, rest); err == nil || isCondition(err) {
		solution.AddVec(solution, step)
	}
}

func isCondition(err error) bool {
	_, ok := err.(mat.Condition)
	return ok
}

func isConstant(x [][]float64, j int) bool {
	for i := range x {
		if x[i][j] != x[0][j] {
			return false
		}
	}
	return true
}

// Robust returns the covariance of the coefficients when residuals that follow
// one another in time are alike, and the degrees of freedom that remain for
// Student's t.
//
// Method: sums of residual times regressor, prewhitened by a first-order
// autoregression each and summed over lags with falling weights (Bartlett), the
// number of lags after the automatic rule for this window. Sources: "A simple, positive
// semi-definite, heteroskedasticity and autocorrelation consistent covariance
// matrix", Econometrica 55 (1987) 703, DOI 10.2307/1913610; "An improved
// heteroskedasticity and autocorrelation consistent covariance matrix estimator",
// Econometrica 60 (1992) 953, DOI 10.2307/2951574; both from memory. The degrees
// of freedom are the rows times (1-ρ)/(1+ρ) with ρ the lag-one correlation of the
// residuals, less the columns: common practice, no source.
func (r *Regression) Robust() (*mat.Dense, float64) {
	n, p := len(r.Residuals), len(r.Coefficients)
	rho := lagOne(r.Residuals)
	rho = math.Max(0, math.Min(0.97, rho))
	df := math.Max(1, float64(n)*(1-rho)/(1+rho)-float64(p))

	score := make([][]float64, n)
	for i := range score {
		score[i] = make([]float64, p)
		for j := range p {
			score[i][j] = r.rows[i][j] * r.Residuals[i]
		}
	}
	// Prewhiten every column by itself.
	alpha := make([]float64, p)
	white := make([][]float64, n-1)
	for i := range white {
		white[i] = make([]float64, p)
	}
	for j := range p {
		num, den := 0.0, 0.0
		for i := 1; i < n; i++ {
			num += score[i][j] * score[i-1][j]
			den += score[i-1][j] * score[i-1][j]
		}
		if den > 0 {
			alpha[j] = math.Max(-0.97, math.Min(0.97, num/den))
		}
		for i := range white {
			white[i][j] = score[i+1][j] - alpha[j]*score[i][j]
		}
	}
	lags := int(math.Ceil(4 * math.Pow(float64(n)/100, 2.0/9)))
	lags = min(lags, n/4)
	meat := mat.NewDense(p, p, nil)
	for lag := 0; lag <= lags; lag++ {
		weight := 1 - float64(lag)/float64(lags+1)
		for i := lag; i < len(white); i++ {
			for j := range p {
				for k := range p {
					v := white[i][j] * white[i-lag][k]
					if lag > 0 {
						v += white[i-lag][j] * white[i][k]
					}
					meat.Set(j, k, meat.At(j, k)+weight*v)
				}
			}
		}
	}
	for j := range p {
		for k := range p {
			meat.Set(j, k, meat.At(j, k)/((1-alpha[j])*(1-alpha[k])))
		}
	}
	var half, cov mat.Dense
	half.Mul(r.bias, meat)
	cov.Mul(&half, r.bias)
	cov.Scale(float64(n)/math.Max(1, float64(n-p)), &cov)
	// Never better than residuals that are independent.
	for j := range p {
		if plain := r.Covariance.At(j, j); cov.At(j, j) < plain {
			f := math.Sqrt(plain / math.Max(cov.At(j, j), 1e-300))
			for k := range p {
				cov.Set(j, k, cov.At(j, k)*f)
				cov.Set(k, j, cov.At(k, j)*f)
			}
		}
	}
	return &cov, df
}

// lagOne is the correlation of each value with the one before it, about zero. [-]
func lagOne(v []float64) float64 {
	num, den := 0.0, 0.0
	for i, x := range v {
		den += x * x
		if i > 0 {
			num += x * v[i-1]
		}
	}
	if den == 0 {
		return 0
	}
	return num / den
}

// studentQuantile returns the factor of a two-sided interval at level with df
// degrees of freedom.
func studentQuantile(level, df float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(0.5 + level/2)
}
