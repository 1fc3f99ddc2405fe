package season

import (
	"context"
	"fmt"

	"hackle/wall"
)

// HeatNetwork is the heat of a hive at one moment as a linear network, to hold the
// engine's way through time against other solvers:
//
//	C_i dT_i/dt = - sum_j K_ij T_j + sum_k B_ik u_k(t)
//
// What the engine adjusts from step to step stands still in it: air flows, films,
// radiation, the honey in the combs, the bees' heat and where it goes. There is no
// water in it.
type HeatNetwork struct {
	Nodes  []HeatNode
	K      []HeatEntry // [W/K]; several in one place add up
	B      []HeatEntry // [W per unit of the input]
	Inputs [][]float64 // u at the end of every hour of the weather
}

// HeatInputs is the number of inputs: outdoor temperature [°C], the temperature
// that each side of the hive feels of air, sun and sky together [°C], one for the
// front, back, left, right, roof and underside, and the constant 1, whose
// coefficients are watts.
const HeatInputs = 2 + sides

// HeatNode is one temperature of the network.
type HeatNode struct {
	Capacity    float64 // [J/K]; 0 for a face or a radiating space, which stores none
	Temperature float64 // at the moment of the freeze [°C]
	Air         bool    // of the air, which the engine carries on by steps of first order
}

// HeatEntry is a coefficient of the network.
type HeatEntry struct {
	Row, Column int
	Value       float64
}

// FreezeHeat runs a hive through the first hours of its weather and returns its
// heat as it stands then, with the inputs of all hours of the weather.
func FreezeHeat(ctx context.Context, in Input, hours int) (*HeatNetwork, error) {
	r, o, err := freeze(ctx, in, hours)
	if err != nil {
		return nil, err
	}
	n := r.e.heatNetwork(o)
	for h := range in.Weather.Hours {
		if now := r.trace.Time(h); now.Hour() == 0 || h == 0 {
			r.today = now
		}
		at := r.outdoors(h, 1)
		u := append([]float64{at.temp}, at.feels[:]...)
		n.Inputs = append(n.Inputs, append(u, 1))
	}
	return n, nil
}

// freeze runs a hive for some hours and returns it with the outdoors at their end.
func freeze(ctx context.Context, in Input, hours int) (*run, *outdoors, error) {
	if in.Weather == nil || hours < 1 || hours > len(in.Weather.Hours) {
		return nil, nil, fmt.Errorf("%w: to stop after %d hours, need 1 to the hours of the weather", ErrInput, hours)
	}
	if in.StepsPerHour == 0 {
		in.StepsPerHour = DefaultStepsPerHour
	}
	bio := in.Biology
	r := &run{in: in, joints: in.Joints, bio: &bio, wetSeen: map[string]bool{}}
	if r.joints == nil {
		r.joints = &wall.Cache{}
	}
	if err := r.begin(); err != nil {
		return nil, nil, err
	}
	for h := range hours {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		if err := r.hour(h); err != nil {
			return nil, nil, fmt.Errorf("season: hour %d: %w", h, err)
		}
	}
	o := r.outdoors(hours-1, 1)
	o.bank = nil // snow round the walls is left out
	return r, &o, nil
}

// heatNetwork writes out the heat that solveHeat solves: cells of air, combs, wall
// cells, then what stores nothing.
func (e *engine) heatNetwork(o *outdoors) *HeatNetwork {
	const outdoor, one = 0, 1 + sides
	n := &HeatNetwork{}
	put := func(row, column int, v float64) { n.K = append(n.K, HeatEntry{row, column, v}) }
	drive := func(row, input int, v float64) { n.B = append(n.B, HeatEntry{row, input, v}) }
	add := func(capacity, t float64, air bool) int {
		n.Nodes = append(n.Nodes, HeatNode{capacity, t, air})
		return len(n.Nodes) - 1
	}
	tie := func(i, j int, g float64) {
		if g > 0 {
			put(i, i, g)
			put(j, j, g)
			put(i, j, -g)
			put(j, i, -g)
		}
	}
	out := func(i, input int, g float64) {
		if g > 0 {
			put(i, i, g)
			drive(i, input, g)
		}
	}
	for i, cl := range e.cells {
		add(cl.volume*e.cond.Density[i]*dryHeat, e.temp[i], true)
		drive(i, one, e.source[i])
	}
	comb, chain, zone := len(n.Nodes), 0, make([]int, len(e.zones))
	for i := range e.combs {
		add(e.store[i], e.comb[i], false)
	}
	chain = len(n.Nodes)
	for _, t := range e.chain {
		add(0, t, false)
	}
	for i := range e.zones {
		zone[i] = -1
		if e.zoneRow[i] >= 0 {
			zone[i] = add(0, e.zoneTemp[i], false)
			drive(zone[i], one, e.radiant[i])
		}
	}
	carry := func(from, to int, mass float64) { // air that comes from a cell or outdoors
		if to < 0 {
			return
		}
		g := mass * dryHeat
		if from < 0 {
			out(to, outdoor, g)
			return
		}
		put(to, to, g)
		put(to, from, -g)
	}
	for i, mass := range e.mass {
		l := &e.links[i]
		if mass >= 0 {
			carry(l.From, l.To, mass)
		} else {
			carry(l.To, l.From, -mass)
		}
		if e.still[i] > 0 {
			tie(l.From, l.To, stillK*e.still[i])
		}
	}
	for _, x := range e.extra {
		if x.to < 0 {
			out(x.from, outdoor, x.mass*dryHeat)
		} else {
			tie(x.from, x.to, x.mass*dryHeat)
		}
	}
	for _, x := range e.edges {
		out(x.cell, outdoor, x.conductance)
	}
	for i := range e.combs {
		c := &e.combs[i]
		tie(comb+i, c.cell, e.seam[i])
		if g := e.aside[i]; g > 0 {
			tie(comb+i, comb+e.cells[e.at(e.cells[c.cell].slab, flank)].comb, g)
		}
		if up := e.above[i]; up >= 0 {
			tie(comb+i, comb+up, e.upward[i])
		}
	}
	for i := range e.zones {
		if z := &e.zones[i]; zone[i] >= 0 {
			for j, s := range z.combs {
				tie(zone[i], comb+s.comb, s.area*z.factors[len(z.members)+j]*e.blackFilm(e.zoneTemp[i]))
			}
		}
	}
	for i := range e.faces {
		f := &e.faces[i]
		near, far := add(0, e.face[i], false), add(0, e.outer[i], false)
		tie(near, f.cell, e.film[i]*f.area)
		switch {
		case f.partner < 0:
		case !f.isZone:
			tie(near, comb+f.partner, e.rad[i]*f.area)
		case zone[f.partner] >= 0:
			tie(near, zone[f.partner], e.rad[i]*f.area)
		}
		capacity, link := f.chain.Network()
		last := near
		for j, c := range capacity {
			at := chain + f.offset + j
			n.Nodes[at].Capacity = c * f.area
			tie(last, at, link[j]*f.area)
			last = at
		}
		tie(last, far, link[len(capacity)]*f.area)
		if f.far < 0 {
			out(far, 1+f.side, o.film[f.side]*f.area)
			continue
		}
		n.Nodes[far].Temperature = e.farFace[i]
		tie(far, f.far, e.farFilm[i]*f.area)
		if f.farZone >= 0 && zone[f.farZone] >= 0 {
			tie(far, zone[f.farZone], e.farRad[i]*f.area)
		}
	}
	return n
}
