package verify

import (
	"context"
	"fmt"
	"math"

	"hackle/ensemble"
)

// samplingChecks computes what draws and sensitivity give on published test functions
// with package ensemble.
func samplingChecks(ctx context.Context) ([]Check, error) {
	var all []Check
	for _, check := range []func() (Check, error){integrationCheck, ishigamiCheck, gCheck} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		c, err := check()
		if err != nil {
			return nil, err
		}
		c.Topic, c.FromMemory = "Draws and sensitivity", true
		all = append(all, c)
	}
	return all, nil
}

// gWeights of the g-function as it is usually taken: two strong numbers, two weak
// ones, four that hardly act.
var gWeights = []float64{0, 1, 4.5, 9, 99, 99, 99, 99}

func gFunction(x []float64) float64 {
	y := 1.0
	for j, a := range gWeights {
		y *= (math.Abs(4*x[j]-2) + a) / (1 + a)
	}
	return y
}

func integrationCheck() (Check, error) {
	c := Check{ID: "SA-01", What: "Integral of the g-function in eight dimensions by scrambled Sobol' points",
		Source: "integral 1 in closed form; Theorems and examples on high dimensional model representation, Reliability Engineering & System Safety 79 (2003), 187-193"}
	for _, n := range []int{256, 4096} {
		p := ensemble.Points{Method: ensemble.Sobol, Seed: 1, Dimensions: len(gWeights)}
		if err := p.Check(); err != nil {
			return c, err
		}
		sum := 0.0
		for i := range n {
			sum += gFunction(p.Point(i))
		}
		// Independent points would err by 0.68/√n on the average.
		c.Rows = append(c.Rows, Row{Quantity: fmt.Sprintf("mean of %d points", n), Unit: "-", Computed: sum / float64(n), Expected: 1, Tolerance: 0.17 / math.Sqrt(float64(n))})
	}
	return c, nil
}

// indexRows lays estimated indices beside known ones.
func indexRows(s ensemble.Shares, f func([]float64) float64, first, total []float64, tolerance float64) ([]Row, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	var answers []float64
	for i := range s.Count() {
		answers = append(answers, f(s.Point(i)))
	}
	var rows []Row
	for k, got := range s.Indices(answers)[:len(first)] {
		rows = append(rows,
			Row{Quantity: fmt.Sprintf("x%d alone", k+1), Unit: "-", Computed: got.First.Value, Expected: first[k], Tolerance: tolerance},
			Row{Quantity: fmt.Sprintf("x%d with interactions", k+1), Unit: "-", Computed: got.Total.Value, Expected: total[k], Tolerance: tolerance})
	}
	return rows, nil
}

func ishigamiCheck() (Check, error) {
	c := Check{ID: "SA-02", What: "Shares of variance of sin x1 + 7 sin² x2 + 0.1 x3⁴ sin x1 on (-π, π)³, 4,096 base points",
		Source: "An importance quantification technique in uncertainty analysis for computer models, ISUMA (1990), 398-403; closed form"}
	const a, b = 7.0, 0.1
	p4 := math.Pow(math.Pi, 4)
	v1, v2, v13 := math.Pow(1+b*p4/5, 2)/2, a*a/8, 8*b*b*p4*p4/225
	v := v1 + v2 + v13
	f := func(u []float64) float64 {
		at := func(j int) float64 { return math.Pi * (2*u[j] - 1) }
		return math.Sin(at(0)) + a*math.Pow(math.Sin(at(1)), 2) + b*math.Pow(at(2), 4)*math.Sin(at(0))
	}
	rows, err := indexRows(ensemble.Shares{Dimensions: 3, Rows: 4096, Seed: 1}, f, []float64{v1 / v, v2 / v, 0}, []float64{(v1 + v13) / v, v2 / v, v13 / v}, 0.01)
	c.Rows = rows
	return c, err
}

func gCheck() (Check, error) {
	c := Check{ID: "SA-03", What: "Shares of variance of the g-function with weights 0, 1, 4.5, 9 and four of 99, 4,096 base points",
		Source: "Theorems and examples on high dimensional model representation, Reliability Engineering & System Safety 79 (2003), 187-193; closed form"}
	all := 1.0
	for _, a := range gWeights {
		all *= 1 + 1/(3*(1+a)*(1+a))
	}
	var first, total []float64
	for _, a := range gWeights[:4] {
		v := 1 / (3 * (1 + a) * (1 + a))
		first, total = append(first, v/(all-1)), append(total, v*all/(1+v)/(all-1))
	}
	rows, err := indexRows(ensemble.Shares{Dimensions: len(gWeights), Rows: 4096, Seed: 3}, gFunction, first, total, 0.015)
	c.Rows = rows
	return c, err
}
