package main

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"hackle/season"
)

// small is a network of three walls' worth of nodes with a carried flow of air,
// under a made week of weather.
func small() *network {
	n := &network{Inputs: 2, Node: []node{{3000, 12, false}, {40, 15, true}, {8000, 18, false}, {500, 10, false}}}
	tie := func(i, j int, g float64) {
		n.Entry = append(n.Entry, entry{i, i, g}, entry{j, j, g}, entry{i, j, -g}, entry{j, i, -g})
	}
	tie(0, 1, 1.2)
	tie(1, 2, 0.8)
	tie(2, 3, 0.3)
	tie(0, 3, 0.5)
	n.Entry = append(n.Entry, entry{1, 1, 0.4}, entry{1, 2, -0.4}) // air carried from 2 to 1
	n.Entry = append(n.Entry, entry{0, 0, 2}, entry{3, 3, 0.7})
	n.Drive = []entry{{0, 0, 2}, {3, 0, 0.7}, {2, 1, 1}}
	n.Entry = sum(n.Entry)
	for h := range 24*7 + 1 {
		n.Input = append(n.Input, []float64{5 + 8*math.Sin(float64(h)/24*2*math.Pi) + float64(h%5), 10})
	}
	return n
}

// TestSchemeComesToTheExactSolution: with ever shorter steps hackle's scheme comes
// to the solution by the matrix exponential (gonum's), bodies with the square of
// the step; factoring anew changes nothing, nor does renumbering.
func TestSchemeComesToTheExactSolution(t *testing.T) {
	n := small()
	if err := n.steady(); err != nil {
		t.Fatal(err)
	}
	exact := n.exact()
	worst := func(n *network, v variant) float64 {
		s, err := newScheme(n, v)
		if err != nil {
			t.Fatal(err)
		}
		out := make([]float64, len(exact))
		if err := s.run(out); err != nil {
			t.Fatal(err)
		}
		most := 0.0
		for i, v := range out {
			most = max(most, math.Abs(v-exact[i]))
		}
		return most
	}
	coarse, fine := worst(n, variant{each: 4, second: true}), worst(n, variant{each: 16, second: true})
	if fine > 0.01 || coarse/fine < 8 {
		t.Errorf("a quarter of an hour: %.5f K off, a quarter of that: %.5f K; that is not second order", coarse, fine)
	}
	usual, anew := worst(n, variant{each: 2}), worst(n, variant{each: 2, anew: true})
	if math.Abs(usual-anew) > 1e-9 || usual == 0 {
		t.Errorf("factors kept: %g K off, made anew: %g K", usual, anew)
	}
	if hourly := worst(n, variant{each: 1}); hourly < usual {
		t.Errorf("hourly steps are %.4f K off, half-hourly %.4f K", hourly, usual)
	}
	narrow := n.narrowed()
	exact = narrow.exact()
	if again := worst(narrow, variant{each: 2}); math.Abs(again-usual) > 1e-9 {
		t.Errorf("renumbered: %g K off, else %g K", again, usual)
	}
}

func TestNetworkIsReadAsWritten(t *testing.T) {
	n := small()
	var text bytes.Buffer
	if err := n.write(&text); err != nil {
		t.Fatal(err)
	}
	whole := text.String()
	m, err := read(strings.NewReader(whole))
	if err != nil {
		t.Fatal(err)
	}
	var again bytes.Buffer
	if err := m.write(&again); err != nil {
		t.Fatal(err)
	}
	if again.String() != whole {
		t.Error("a network read and written again differs")
	}
	for _, bad := range []struct{ old, new, says string }{
		{"hackle-network 1", "hackle-network 2", "version 2"},
		{" body", " stone", "node 0"},
		{"entry 0 0", "entry 0 9", "entry 0"},
		{"drive 0 0", "drive 0 7", "drive 0"},
		{"at 3 ", "at 4 ", "hour 3"},
	} {
		if _, err := read(strings.NewReader(strings.Replace(whole, bad.old, bad.new, 1))); err == nil || !strings.Contains(err.Error(), bad.says) {
			t.Errorf("%s: error %v does not name %s", bad.new, err, bad.says)
		}
	}
}

// TestMasslessNodesAreEliminated: a face without heat between two conductances is
// their sum in series, with what drives it shared between the ends.
func TestMasslessNodesAreEliminated(t *testing.T) {
	h := &season.HeatNetwork{Nodes: []season.HeatNode{{Capacity: 5, Temperature: 3}, {}, {Capacity: 7, Air: true}}}
	tie := func(i, j int, g float64) {
		h.K = append(h.K, season.HeatEntry{Row: i, Column: i, Value: g}, season.HeatEntry{Row: j, Column: j, Value: g},
			season.HeatEntry{Row: i, Column: j, Value: -g}, season.HeatEntry{Row: j, Column: i, Value: -g})
	}
	tie(0, 1, 2)
	tie(1, 2, 3)
	h.B = []season.HeatEntry{{Row: 1, Column: 0, Value: 10}}
	n, err := withoutMassless(h)
	if err != nil {
		t.Fatal(err)
	}
	if len(n.Node) != 2 || !n.Node[1].Air || n.Node[0].Start != 3 {
		t.Fatalf("nodes %+v", n.Node)
	}
	series := 2.0 * 3 / (2 + 3)
	want := []entry{{0, 0, series}, {0, 1, -series}, {1, 0, -series}, {1, 1, series}}
	for i, e := range want {
		if i >= len(n.Entry) || n.Entry[i].Row != e.Row || n.Entry[i].Column != e.Column || math.Abs(n.Entry[i].Value-e.Value) > 1e-12 {
			t.Errorf("entries %+v, want %+v", n.Entry, want)
			break
		}
	}
	if len(n.Drive) != 2 || math.Abs(n.Drive[0].Value-4) > 1e-12 || math.Abs(n.Drive[1].Value-6) > 1e-12 {
		t.Errorf("drives %+v, want 4 and 6", n.Drive)
	}
	h.K = append(h.K, h.K[0])
	h.Nodes = append(h.Nodes, season.HeatNode{})
	if _, err := withoutMassless(h); err == nil {
		t.Error("a node that stores nothing and is tied to nothing was taken")
	}
}
