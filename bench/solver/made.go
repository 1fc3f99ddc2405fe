package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"

	"hackle/climate"
)

// box reads the network of 46 nodes that the engine's formula is held against, and
// drives it with a built-in year: outdoor temperature, the sun on its outer faces
// and its source of heat, all straight from hour to hour.
func box(path, weather string) (*network, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("%w; run from the root of the sources", err)
	}
	var f struct {
		Capacity []float64    `json:"heat_capacity_J_K"`
		Links    [][3]float64 `json:"links"`
		Outdoors [][2]float64 `json:"outdoors"`
		Heat     []struct {
			Node   int
			P0, P1 float64
			Peak   float64 `json:"t_peak_s"`
			Period float64 `json:"period_s"`
		} `json:"heat"`
	}
	if err := json.Unmarshal(text, &f); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	year, err := climate.Builtin(weather)
	if err != nil {
		return nil, err
	}
	const outdoors, sun, heat = 0, 1, 2
	n := &network{Inputs: 3}
	for _, c := range f.Capacity {
		// The two airs of this network are its nodes below 50 J/K.
		n.Node = append(n.Node, node{Capacity: c, Air: c < 50})
	}
	for _, l := range f.Links {
		i, j, g := int(l[0]), int(l[1]), l[2]
		n.Entry = append(n.Entry, entry{i, i, g}, entry{j, j, g}, entry{i, j, -g}, entry{j, i, -g})
	}
	// An outer face takes up half of the global radiation on as many square metres
	// as its conductance over 15 W/(m²·K), walls a third of it: figures of this
	// benchmark alone.
	for _, o := range f.Outdoors {
		i, g := int(o[0]), o[1]
		n.Entry = append(n.Entry, entry{i, i, g})
		n.Drive = append(n.Drive, entry{i, outdoors, g})
		if g > 1 {
			take := 0.5 * g / 15
			if g < 2 {
				take /= 3
			}
			n.Drive = append(n.Drive, entry{i, sun, take})
		}
	}
	for _, h := range f.Heat {
		n.Drive = append(n.Drive, entry{h.Node, heat, 1})
	}
	n.Entry, n.Drive = sum(n.Entry), sum(n.Drive)
	hours := len(year.Hours)
	for i := range hours + 1 {
		at := float64(i) * 3600
		power := 0.0
		for _, h := range f.Heat {
			power += h.P0 + h.P1*math.Cos(2*math.Pi*(at-h.Peak)/h.Period)
		}
		w := year.Hours[i%hours]
		n.Input = append(n.Input, []float64{w.TempAir, w.GlobalHorizontal, power})
	}
	if err := n.steady(); err != nil {
		return nil, err
	}
	return n.narrowed(), nil
}
