package wall

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

var (
	pine    = Layer{Thickness: 0.022, Conductivity: 0.13, Density: 500, SpecificHeat: 1600}
	foam    = Layer{Thickness: 0.04, Conductivity: 0.036, Density: 25, SpecificHeat: 1450}
	plywood = Layer{Thickness: 0.009, Conductivity: 0.13, Density: 550, SpecificHeat: 1600}
	gap     = Layer{Resistance: 0.15}
)

func randomLayers(rng *rand.Rand) []Layer {
	layers := make([]Layer, 1+rng.IntN(5))
	for i := range layers {
		layers[i] = Layer{
			Thickness: math.Exp(rng.Float64()*5 - 6), Conductivity: math.Exp(rng.Float64()*6 - 4),
			Density: 10 + 2000*rng.Float64(), SpecificHeat: 500 + 3500*rng.Float64(),
		}
		switch rng.IntN(5) {
		case 0:
			layers[i] = Layer{Resistance: rng.Float64() + 0.01}
		case 1:
			layers[i].Resistance = rng.Float64() + 0.01
		}
	}
	return layers
}

func mustChain(t testing.TB, layers []Layer, opts Grid) *Chain {
	t.Helper()
	c, err := NewChain(layers, opts)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestNewChainErrors(t *testing.T) {
	for _, tt := range []struct {
		name   string
		layers []Layer
		opts   Grid
		want   string
	}{
		{"no layer", nil, Grid{}, "at least one layer"},
		{"nothing", []Layer{pine, {}}, Grid{}, "layer 2"},
		{"no conductivity", []Layer{{Thickness: 0.1}}, Grid{}, "layer 1"},
		{"negative density", []Layer{{Thickness: 0.1, Conductivity: 1, Density: -1}}, Grid{}, "negative"},
		{"not a number", []Layer{{Thickness: math.NaN(), Conductivity: 1}}, Grid{}, "negative or not"},
		{"infinite resistance", []Layer{{Resistance: math.Inf(1)}}, Grid{}, "negative or not"},
		{"negative step", []Layer{pine}, Grid{Step: -1}, "time step"},
		{"step not a number", []Layer{pine}, Grid{Step: math.NaN()}, "time step"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := NewChain(tt.layers, tt.opts)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one with %q", err, tt.want)
			}
		})
	}
}

func TestGrid(t *testing.T) {
	for _, tt := range []struct {
		name   string
		layers []Layer
		opts   Grid
		want   int
	}{
		{"two a layer", []Layer{pine, foam, plywood}, Grid{}, 6},
		{"massless layers have none", []Layer{gap, pine, gap}, Grid{}, 2},
		{"only massless", []Layer{gap, gap}, Grid{}, 0},
		{"asked for", []Layer{pine}, Grid{MinCells: 7}, 7},
		// a = 0.13/(500·1600) = 1.625e-7 m²/s; √(a·60 s) = 3.12 mm; 22/3.12 = 7.05
		{"penetration of a minute", []Layer{pine}, Grid{Step: 60}, 8},
		// √(a·3600 s) = 24 mm
		{"penetration of an hour", []Layer{pine}, Grid{Step: 3600}, 2},
		{"at most 16", []Layer{pine}, Grid{Step: 1}, 16},
		{"at most 9", []Layer{pine}, Grid{Step: 1, MaxCells: 9}, 9},
		{"the least wins", []Layer{pine}, Grid{Step: 1, MinCells: 12, MaxCells: 9}, 12},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := mustChain(t, tt.layers, tt.opts).Cells(); got != tt.want {
				t.Errorf("%d cells, want %d", got, tt.want)
			}
		})
	}
}

func TestChainSums(t *testing.T) {
	c := mustChain(t, []Layer{pine, gap, foam}, Grid{})
	if got, want := c.Resistance(), 0.022/0.13+0.15+0.04/0.036; math.Abs(got-want) > 1e-14 {
		t.Errorf("resistance %v, want %v m²·K/W", got, want)
	}
	if got, want := c.HeatCapacity(), 0.022*500*1600+0.04*25*1450; math.Abs(got-want) > 1e-9 {
		t.Errorf("heat capacity %v, want %v J/(m²·K)", got, want)
	}
	if got, want := c.Thickness(), 0.062; math.Abs(got-want) > 1e-15 {
		t.Errorf("thickness %v, want %v m", got, want)
	}
	for i, want := range []float64{0.0055, 0.0165, 0.032, 0.052} {
		if got := c.Depth(i); math.Abs(got-want) > 1e-15 {
			t.Errorf("cell %d at %v, want %v m", i, got, want)
		}
	}
}

// An endless step is the steady state: exact for any grid.
func TestSteadyIsExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	var work Work
	for range 300 {
		layers := randomLayers(rng)
		c := mustChain(t, layers, Grid{MinCells: 2 + rng.IntN(5)})
		state, want := make([]float64, c.Cells()), make([]float64, c.Cells())
		h, outer, inner := math.Exp(4*rng.Float64()), 40*rng.Float64()-20, 40*rng.Float64()
		g, s := c.Condense(math.Inf(1), state, h, outer, &work)
		u := 1 / (c.Resistance() + 1/h)
		tOuter, leaving := c.Advance(state, inner, &work)
		q := u * (inner - outer)
		// 1e-10: relative to the largest conductance, the cells of a metal sheet
		// being 1e4 times better conductors than the wall.
		if math.Abs(g-u) > 1e-10*u || math.Abs(g*inner-s-q) > 1e-9*u*60 || math.Abs(leaving-q) > 1e-9*u*60 {
			t.Fatalf("%+v: g %v, want %v; flux %v and %v, want %v", layers, g, u, g*inner-s, leaving, q)
		}
		if w := outer + q/h; math.Abs(tOuter-w) > 1e-9 {
			t.Fatalf("%+v: outer face %v, want %v °C", layers, tOuter, w)
		}
		c.FillSteady(want, inner, tOuter)
		for i := range want {
			if math.Abs(state[i]-want[i]) > 1e-9 {
				t.Fatalf("%+v: cell %d at %v, want %v °C", layers, i, state[i], want[i])
			}
		}
	}
}

// What enters less what leaves is what is stored, to round-off, by one face and
// by two, with Euler steps and with steps of second order.
func TestHeatCloses(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	var work Work
	for range 500 {
		c := mustChain(t, randomLayers(rng), Grid{MinCells: 2 + rng.IntN(5)})
		if c.Cells() == 0 {
			continue
		}
		state := make([]float64, c.Cells())
		for i := range state {
			state[i] = 60*rng.Float64() - 20
		}
		start := append([]float64(nil), state...)
		dt := math.Exp(9 * rng.Float64())
		// Round-off is that of the stored heat, not of its change.
		scale := c.HeatCapacity()*40 + dt*1e3
		check := func(what string, gained float64) {
			t.Helper()
			if stored := c.Heat(state) - c.Heat(start); math.Abs(stored-gained) > 2e-13*scale {
				t.Fatalf("%s: stored %v, gained %v J/m² (difference %v, scale %v)", what, stored, gained, stored-gained, scale)
			}
			copy(state, start)
		}

		h, outer, inner := 30*rng.Float64(), 40*rng.Float64()-20, 40*rng.Float64()
		g, s := c.Condense(dt, state, h, outer, &work)
		tOuter, leaving := c.Advance(state, inner, &work)
		if math.Abs(leaving-h*(tOuter-outer)) > 1e-9*(1+math.Abs(leaving))*math.Max(1, work.gBB) {
			t.Fatalf("%v W/m² leave, the film takes %v", leaving, h*(tOuter-outer))
		}
		check("one face", dt*(g*inner-s-leaving))

		for _, edge := range []float64{0, math.Inf(1)} {
			g, s = c.Condense(dt, state, edge, outer, &work)
			tOuter, leaving = c.Advance(state, inner, &work)
			if edge == 0 && math.Abs(leaving) > 1e-9*math.Max(1, work.gBB) {
				t.Fatalf("%v W/m² leave an adiabatic face", leaving)
			}
			if edge > 0 && tOuter != outer {
				t.Fatalf("held face at %v, want %v °C", tOuter, outer)
			}
			check("edge", dt*(g*inner-s-leaving))
		}

		gAA, gAB, gBB, sA, sB := c.CondenseBoth(dt, state, &work)
		c.AdvanceBoth(state, inner, outer, &work)
		check("two faces", dt*(gAA*inner-gAB*outer-sA+gBB*outer-gAB*inner-sB))

		stage := StageFraction * dt
		g, s = c.Condense(stage, state, h, outer, &work)
		_, leaving = c.Advance(state, inner, &work)
		first := g*inner - s - leaving
		SecondStage(start, state)
		g, s = c.Condense(stage, state, h, outer+1, &work)
		_, leaving = c.Advance(state, inner-1, &work)
		check("second order", dt*((1-StageFraction)*first+StageFraction*(g*(inner-1)-s-leaving)))
	}
}

// A wall condensed to both faces and closed by a film is the wall condensed to
// its inner face, and a wall turned round is the wall seen from outside.
func TestCondenseBothAgrees(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var work, turnedWork Work
	for range 200 {
		layers := randomLayers(rng)
		c := mustChain(t, layers, Grid{})
		turned := make([]Layer, len(layers))
		for i, l := range layers {
			turned[len(layers)-1-i] = l
		}
		r := mustChain(t, turned, Grid{})
		state, back := make([]float64, c.Cells()), make([]float64, c.Cells())
		for i := range state {
			state[i] = 40 * rng.Float64()
			back[len(back)-1-i] = state[i]
		}
		dt, h, outer := math.Exp(10*rng.Float64()), 20*rng.Float64(), 30*rng.Float64()
		gAA, gAB, gBB, sA, sB := c.CondenseBoth(dt, state, &work)
		rAA, rAB, rBB, rA, rB := r.CondenseBoth(dt, back, &turnedWork)
		near := func(what string, a, b, scale float64) {
			t.Helper()
			if math.Abs(a-b) > 1e-11*scale {
				t.Fatalf("%s: %v and %v", what, a, b)
			}
		}
		near("gAA", gAA, rBB, gAA)
		near("gBB", gBB, rAA, gBB)
		near("gAB", gAB, rAB, gAA)
		near("sA", sA, rB, 40*gAA)
		near("sB", sB, rA, 40*gBB)
		// Eliminate the outer face by hand.
		g, s := c.Condense(dt, state, h, outer, &work)
		near("g", g, gAA-gAB*gAB/(gBB+h), gAA)
		near("s", s, sA+gAB*(h*outer+sB)/(gBB+h), 40*gAA)
	}
}

// Euler keeps every temperature between those there were and the boundaries'.
func TestEulerStaysBetween(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	var work Work
	for range 300 {
		c := mustChain(t, randomLayers(rng), Grid{MinCells: 2 + rng.IntN(6)})
		state := make([]float64, c.Cells())
		outer, inner := 40*rng.Float64()-20, 40*rng.Float64()-20
		lo, hi := math.Min(outer, inner), math.Max(outer, inner)
		for i := range state {
			state[i] = 40*rng.Float64() - 20
			lo, hi = math.Min(lo, state[i]), math.Max(hi, state[i])
		}
		c.Condense(math.Exp(14*rng.Float64()-2), state, 20*rng.Float64(), outer, &work)
		tOuter, _ := c.Advance(state, inner, &work)
		for _, v := range append(state, tOuter) {
			if v < lo-1e-9 || v > hi+1e-9 {
				t.Fatalf("%v °C outside of %v to %v °C", v, lo, hi)
			}
		}
	}
}

// swing runs a wall under a daily wave for two days and returns the inner flux
// at the end.
func swing(t testing.TB, c *Chain, steps int, second bool) float64 {
	t.Helper()
	var work Work
	state, start := make([]float64, c.Cells()), make([]float64, c.Cells())
	const span = 172800.0
	dt := span / float64(steps)
	outer := func(at float64) float64 { return 10 * math.Sin(2*math.Pi*at/86400) }
	inner := func(at float64) float64 { return 5 * math.Sin(2*math.Pi*at/43200) }
	q := 0.0
	for n := range steps {
		at, end := dt*float64(n), dt*float64(n+1)
		solve := func(stage, at float64) {
			g, s := c.Condense(stage, state, 15, outer(at), &work)
			q = g*inner(at) - s
			c.Advance(state, inner(at), &work)
		}
		if !second {
			solve(dt, end)
			continue
		}
		copy(start, state)
		solve(StageFraction*dt, at+StageFraction*dt)
		SecondStage(start, state)
		solve(StageFraction*dt, end)
	}
	return q
}

// Halving the step halves the error of Euler and quarters that of two stages.
func TestOrderInTime(t *testing.T) {
	c := mustChain(t, []Layer{pine, foam, pine}, Grid{MinCells: 4})
	exact := swing(t, c, 20000, true)
	for _, tt := range []struct {
		name   string
		second bool
		want   float64
	}{{"Euler", false, 2}, {"two stages", true, 4}} {
		coarse, fine := swing(t, c, 400, tt.second)-exact, swing(t, c, 800, tt.second)-exact
		// A tenth: the next order's share at these steps.
		if ratio := coarse / fine; math.Abs(ratio-tt.want) > 0.1*tt.want {
			t.Errorf("%s: error falls by %.3f, want %v (%v, %v)", tt.name, ratio, tt.want, coarse, fine)
		}
	}
}

// Second order in space, too.
func TestOrderInSpace(t *testing.T) {
	flux := func(cells int) float64 {
		return swing(t, mustChain(t, []Layer{pine, foam, pine}, Grid{MinCells: cells, MaxCells: cells}), 4000, true)
	}
	exact := flux(160)
	if ratio := (flux(5) - exact) / (flux(10) - exact); math.Abs(ratio-4) > 0.4 {
		t.Errorf("error falls by %.3f with twice the cells, want 4", ratio)
	}
}

// The grid and steps of a simulation under a day of weather: RMS error of the
// inner face against a chain with many more cells and steps. Hourly Euler steps
// err by 0.13 K, so they are not among those that suffice.
func TestWeatherGridError(t *testing.T) {
	layers := []Layer{pine, foam, plywood}
	run := func(opts Grid, dt float64, second bool, each func(at, tFace float64)) {
		c := mustChain(t, layers, opts)
		var work Work
		state, start := make([]float64, c.Cells()), make([]float64, c.Cells())
		var tFace float64
		solve := func(stage, at float64) {
			outer := 10 * math.Sin(2*math.Pi*at/86400)
			sun := math.Max(0, 20*math.Sin(2*math.Pi*at/86400)) // sol-air excess [K]
			g, s := c.Condense(stage, state, 15, outer+sun, &work)
			tFace = (4*20 + s) / (4 + g)
			c.Advance(state, tFace, &work)
		}
		for at := dt; at <= 2*86400+dt/2; at += dt {
			if second {
				copy(start, state)
				solve(StageFraction*dt, at-dt+StageFraction*dt)
				SecondStage(start, state)
				solve(StageFraction*dt, at)
			} else {
				solve(dt, at)
			}
			each(at, tFace)
		}
	}
	exact := map[int]float64{}
	run(Grid{MinCells: 40, MaxCells: 40}, 5, true, func(at, tFace float64) { exact[int(math.Round(at))] = tFace })
	for _, tt := range []struct {
		dt     float64
		second bool
	}{{300, false}, {900, false}, {900, true}, {3600, true}} {
		sum, n := 0.0, 0.0
		run(Grid{Step: tt.dt}, tt.dt, tt.second, func(at, tFace float64) {
			if at > 86400 {
				d := tFace - exact[int(math.Round(at))]
				sum += d * d
				n++
			}
		})
		rms := math.Sqrt(sum / n)
		t.Logf("step %v s, second order %v: %.4f K", tt.dt, tt.second, rms)
		// Half of the 0.1 K that the hourly air temperature may err by.
		if !(rms < 0.05) {
			t.Errorf("step %v s, second order %v: RMS error %v K", tt.dt, tt.second, rms)
		}
	}
}

// One Work for several chains and steps gives what a fresh one gives.
func TestWorkKeepsNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	var shared Work
	for range 200 {
		c := mustChain(t, randomLayers(rng), Grid{MinCells: 2 + rng.IntN(4)})
		for range 2 {
			var fresh Work
			dt := math.Exp(8 * rng.Float64())
			a, b := make([]float64, c.Cells()), make([]float64, c.Cells())
			for i := range a {
				a[i] = rng.Float64()
				b[i] = a[i]
			}
			g1, s1 := c.Condense(dt, a, 5, 3, &shared)
			g2, s2 := c.Condense(dt, b, 5, 3, &fresh)
			if g1 != g2 || s1 != s2 {
				t.Fatalf("shared %v %v, fresh %v %v", g1, s1, g2, s2)
			}
			c.Advance(a, 2, &shared)
			c.Advance(b, 2, &fresh)
			for i := range a {
				if a[i] != b[i] {
					t.Fatalf("cell %d: shared %v, fresh %v", i, a[i], b[i])
				}
			}
		}
	}
}

func TestAdvancePanicsWithoutCondense(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	c := mustChain(t, []Layer{pine}, Grid{})
	c.Advance(make([]float64, 2), 0, &Work{})
}

func TestStepNotPositiveGivesNaN(t *testing.T) {
	c := mustChain(t, []Layer{pine}, Grid{})
	var work Work
	for _, dt := range []float64{0, -1, math.NaN()} {
		if g, _ := c.Condense(dt, make([]float64, 2), 5, 3, &work); !math.IsNaN(g) {
			t.Errorf("step %v: g %v, want NaN", dt, g)
		}
	}
}

func TestStepsDoNotAllocate(t *testing.T) {
	c := mustChain(t, []Layer{pine, foam, plywood}, Grid{})
	state := make([]float64, c.Cells())
	var work Work
	step := func() {
		_, s := c.Condense(300, state, 15, -5, &work)
		c.Advance(state, s, &work)
	}
	step()
	if n := testing.AllocsPerRun(100, step); n != 0 {
		t.Errorf("%v allocations a step", n)
	}
}

func BenchmarkCondenseAdvance(b *testing.B) {
	c := mustChain(b, []Layer{pine, foam, plywood}, Grid{})
	state := make([]float64, c.Cells())
	var work Work
	b.ReportAllocs()
	for b.Loop() {
		g, s := c.Condense(300, state, 15, -5, &work)
		c.Advance(state, (4*20+s)/(4+g), &work)
	}
}

// The step changes every time, so that nothing is kept.
func BenchmarkCondenseAdvanceNewStep(b *testing.B) {
	c := mustChain(b, []Layer{pine, foam, plywood}, Grid{})
	state := make([]float64, c.Cells())
	var work Work
	dt := 300.0
	for b.Loop() {
		dt = 600 - dt + 1e-9
		g, s := c.Condense(dt, state, 15, -5, &work)
		c.Advance(state, (4*20+s)/(4+g), &work)
	}
}
