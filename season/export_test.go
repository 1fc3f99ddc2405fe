package season

import (
	"context"
	"math"
	"testing"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/hive"

	"gonum.org/v1/gonum/mat"
)

// TestHeatNetworkIsTheEngines: the steady state of the network written out, by
// another library's dense solver (gonum), is that of the engine's own equations with
// flows and sources held and no water.
func TestHeatNetworkIsTheEngines(t *testing.T) {
	year, err := climate.Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	start := time.Date(2025, 1, 10, 0, 0, 0, 0, year.Location())
	w, err := year.Window(start, start.AddDate(0, 0, 3))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"two-deep-low-entrance", "long-hive"} {
		plan, err := hive.DecodeFile("../examples/" + name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		in := Input{Plan: plan, Weather: w, Biology: colony.DefaultBiology()}
		whole, err := FreezeHeat(context.Background(), in, 48)
		if err != nil {
			t.Fatal(err)
		}
		if len(whole.Inputs) != len(w.Hours) || len(whole.Inputs[0]) != HeatInputs {
			t.Errorf("%s: %d hours of inputs, %d in the first", name, len(whole.Inputs), len(whole.Inputs[0]))
		}
		r, o, err := freeze(context.Background(), in, 48)
		if err != nil {
			t.Fatal(err)
		}
		e := r.e
		n := e.heatNetwork(o)
		order := len(n.Nodes)
		k, b := mat.NewDense(order, order, nil), mat.NewVecDense(order, nil)
		for _, x := range n.K {
			k.Set(x.Row, x.Column, k.At(x.Row, x.Column)+x.Value)
		}
		u := append(append([]float64{o.temp}, o.feels[:]...), 1)
		for _, x := range n.B {
			b.SetVec(x.Row, b.AtVec(x.Row)+x.Value*u[x.Column])
		}
		var want mat.VecDense
		if err := want.SolveVec(k, b); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		clear(e.swing)
		for _, all := range [][]latentHeat{e.near, e.distant, e.onComb} {
			clear(all)
		}
		steady := math.Inf(1)
		e.condense(steady, o)
		if err := e.solveHeat(steady, o); err != nil {
			t.Fatal(err)
		}
		worst := 0.0
		for i, v := range e.temp {
			worst = max(worst, math.Abs(v-want.AtVec(i)))
		}
		for i, v := range e.combNew {
			worst = max(worst, math.Abs(v-want.AtVec(len(e.cells)+i)))
		}
		if worst > 1e-5 {
			t.Errorf("%s: the network is up to %.2g K off the engine", name, worst)
		}
		t.Logf("%s: %d nodes, %.1g K", name, order, worst)
	}
}
