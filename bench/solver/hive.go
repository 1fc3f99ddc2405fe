package main

import (
	"context"
	"fmt"
	"math"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/examples"
	"hackle/hive"
	"hackle/season"
)

// frozen is the heat of a hive of the examples as it stands in the night of
// 15 January, after three months of the run, under a whole year's weather.
func frozen(ctx context.Context, name, weather string) (*network, error) {
	file, err := examples.Files().Open(name + ".yaml")
	if err != nil {
		return nil, err
	}
	defer file.Close()
	plan, err := hive.Decode(name, file)
	if err != nil {
		return nil, err
	}
	year, err := climate.Builtin(weather)
	if err != nil {
		return nil, err
	}
	from := time.Date(2025, 10, 15, 0, 0, 0, 0, year.Location())
	w, err := year.Window(from, from.AddDate(1, 0, 0))
	if err != nil {
		return nil, err
	}
	days := int(time.Date(2026, 1, 15, 0, 0, 0, 0, from.Location()).Sub(from).Hours() / 24)
	h, err := season.FreezeHeat(ctx, season.Input{Plan: plan, Weather: w, Biology: colony.DefaultBiology()}, 24*days)
	if err != nil {
		return nil, err
	}
	n, err := withoutMassless(h)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if err := n.steady(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return n.narrowed(), nil
}

// withoutMassless eliminates the nodes that store no heat, faces and radiating
// spaces, from the network of a hive, which then is a system of ordinary
// differential equations. Gauss's elimination leaves the solution as it is.
func withoutMassless(h *season.HeatNetwork) (*network, error) {
	order := len(h.Nodes)
	k, b := make([][]float64, order), make([][]float64, order)
	for i := range k {
		k[i], b[i] = make([]float64, order), make([]float64, season.HeatInputs)
	}
	for _, e := range h.K {
		k[e.Row][e.Column] += e.Value
	}
	for _, e := range h.B {
		b[e.Row][e.Column] += e.Value
	}
	for z := range order {
		if h.Nodes[z].Capacity > 0 {
			continue
		}
		if !(math.Abs(k[z][z]) > 0) {
			return nil, fmt.Errorf("node %d stores no heat and is tied to nothing", z)
		}
		for i := range order {
			f := k[i][z] / k[z][z]
			if i == z || f == 0 {
				continue
			}
			for j := range order {
				k[i][j] -= f * k[z][j]
			}
			for j := range b[i] {
				b[i][j] -= f * b[z][j]
			}
			k[i][z] = 0
		}
		clear(k[z])
	}
	n := &network{Inputs: season.HeatInputs, Input: h.Inputs}
	place := make([]int, order)
	for i, x := range h.Nodes {
		place[i] = -1
		if x.Capacity > 0 {
			place[i] = len(n.Node)
			n.Node = append(n.Node, node{Capacity: x.Capacity, Start: x.Temperature, Air: x.Air})
		}
	}
	for i := range order {
		if place[i] < 0 {
			continue
		}
		for j, v := range k[i] {
			if place[j] >= 0 && v != 0 {
				n.Entry = append(n.Entry, entry{place[i], place[j], v})
			}
		}
		for j, v := range b[i] {
			if v != 0 {
				n.Drive = append(n.Drive, entry{place[i], j, v})
			}
		}
	}
	return n, nil
}
