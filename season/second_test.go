package season

import (
	"math"
	"testing"

	"hackle/wall"
)

// TestPastIsSecondOrder: a wall whose one face follows a sine is carried on with an
// error that falls with the square of the step.
func TestPastIsSecondOrder(t *testing.T) {
	layer := wall.Layer{Thickness: 0.022, Conductivity: 0.13, Density: 500, SpecificHeat: 1600}
	chain, err := wall.NewChain([]wall.Layer{layer}, wall.Grid{})
	if err != nil {
		t.Fatal(err)
	}
	const period = 86400.0
	end := func(n int) []float64 { // cells after a day and a half in n steps a day
		dt := period / float64(n)
		var p past
		var work wall.Work
		now, before := make([]float64, chain.Cells()), make([]float64, chain.Cells())
		for i := 1; i <= 3*n/2; i++ {
			p.setOut(dt, now, before, now)
			e := engine{past: p}
			outside := 10 * math.Sin(2*math.Pi*float64(i)*dt/period)
			chain.Condense(e.euler(dt), now, 20, outside, &work)
			chain.Advance(now, 0, &work)
			p.dt = dt
		}
		return now
	}
	fine := end(48 * 64)
	worst := func(n int) float64 {
		w := 0.0
		for i, v := range end(n) {
			w = math.Max(w, math.Abs(v-fine[i]))
		}
		return w
	}
	a, b := worst(24), worst(48)
	if ratio := a / b; ratio < 3.4 || ratio > 4.6 {
		t.Errorf("halving the step divides the error by %.2f (%.4f and %.4f K)", ratio, a, b)
	}
}
