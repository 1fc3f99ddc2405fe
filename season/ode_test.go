package season

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"hackle/internal/skyline"
)

// TestPastAgainstExactNetwork carries a network of 46 nodes, walls of layers round
// two zones with a source of heat, through a year with a sudden fall of outdoor
// temperature, by the formula with which the engine carries shell and combs on, and
// holds it against the exact solution.
//
// Source: testdata/network46.json, which says how it was computed.
func TestPastAgainstExactNetwork(t *testing.T) {
	text, err := os.ReadFile("testdata/network46.json")
	if err != nil {
		t.Fatal(err)
	}
	var n struct {
		Capacity []float64    `json:"heat_capacity_J_K"`
		Links    [][3]float64 `json:"links"`
		Outdoors [][2]float64 `json:"outdoors"`
		Forcing  struct {
			Mean       float64 `json:"T_mean"`
			Annual     float64 `json:"A_annual"`
			AnnualPeak float64 `json:"t_peak_annual_s"`
			Daily      float64 `json:"A_daily"`
			DailyPeak  float64 `json:"t_peak_daily_s"`
			Step       float64 `json:"step_K"`
			StepAt     float64 `json:"t_step_s"`
		} `json:"forcing"`
		Heat []struct {
			Node   int
			P0, P1 float64
			Peak   float64 `json:"t_peak_s"`
			Period float64 `json:"period_s"`
		} `json:"heat"`
		Start  float64     `json:"start_C"`
		Times  []float64   `json:"times_s"`
		Expect [][]float64 `json:"temperatures_C"`
	}
	if err := json.Unmarshal(text, &n); err != nil {
		t.Fatal(err)
	}
	order := len(n.Capacity)
	var pairs [][2]int
	for _, l := range n.Links {
		pairs = append(pairs, [2]int{int(l[0]), int(l[1])})
	}
	shape, err := skyline.New(order, pairs)
	if err != nil {
		t.Fatal(err)
	}
	outside := func(at float64) float64 {
		f := &n.Forcing
		v := f.Mean + f.Annual*math.Cos(2*math.Pi*(at-f.AnnualPeak)/(8760*3600)) + f.Daily*math.Cos(2*math.Pi*(at-f.DailyPeak)/86400)
		if at > f.StepAt {
			v += f.Step
		}
		return v
	}
	worst := func(dt float64) float64 {
		fill := func(m *skyline.Matrix, dt float64) *skyline.Matrix {
			for i, c := range n.Capacity {
				m.Add(i, i, c/dt)
			}
			for _, l := range n.Links {
				i, j, g := int(l[0]), int(l[1]), l[2]
				m.Add(i, i, g)
				m.Add(j, j, g)
				m.Add(i, j, -g)
				m.Add(j, i, -g)
			}
			for _, o := range n.Outdoors {
				m.Add(int(o[0]), int(o[0]), o[1])
			}
			if err := m.Factor(); err != nil {
				t.Fatal(err)
			}
			return m
		}
		first, later := fill(shape.Clone(), dt), fill(shape.Clone(), dt*2/3)
		now, before, out, b := make([]float64, order), make([]float64, order), make([]float64, order), make([]float64, order)
		for i := range now {
			now[i] = n.Start
		}
		var p past
		most := 0.0
		next := 0
		for k := 0; next < len(n.Times); k++ {
			at := float64(k) * dt
			if at == n.Times[next] {
				// The hours after the start, 20 K off, and after the fall, of 7 K at once,
				// are left out: weather has no such jumps.
				calm := at >= 6*3600 && (at <= n.Forcing.StepAt || at >= n.Forcing.StepAt+6*3600)
				for i, want := range n.Expect[next] {
					if calm {
						most = max(most, math.Abs(now[i]-want))
					}
				}
				next++
			}
			if at == n.Forcing.StepAt {
				p.dt = 0 // a jump: begin anew
			}
			m := first
			if p.second(dt) {
				m = later
			}
			e := engine{past: p}
			long := e.euler(dt)
			p.setOut(dt, now, before, out)
			at += dt
			for i, c := range n.Capacity {
				b[i] = c / long * out[i]
			}
			o := outside(at)
			for _, x := range n.Outdoors {
				b[int(x[0])] += x[1] * o
			}
			for _, h := range n.Heat {
				b[h.Node] += h.P0 + h.P1*math.Cos(2*math.Pi*(at-h.Peak)/h.Period)
			}
			m.Solve(b)
			copy(now, b)
			p.dt = dt
		}
		return most
	}
	coarse, fine := worst(900), worst(300)
	if fine > 0.005 {
		t.Errorf("steps of 300 s: %.4f K off the exact solution", fine)
	}
	if ratio := coarse / fine; ratio < 4 {
		t.Errorf("steps of 900 s are %.4f K off, of 300 s %.4f K: that is not second order", coarse, fine)
	}
	t.Logf("%.4f K at 900 s, %.4f K at 300 s", coarse, fine)
}
