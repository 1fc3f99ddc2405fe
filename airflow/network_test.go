package airflow

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// dryAir returns density [kg/m³] and viscosity [Pa·s] of dry air at 101325 Pa.
func dryAir(t float64) (rho, mu float64) {
	k := t + 273.15
	return 101325 / (287.055 * k), 1.458e-6 * k * math.Sqrt(k) / (k + 110.4)
}

// twoOpenings is a warm box with a low and a high sharp opening.
func twoOpenings(aLow, aHigh, cd, rise float64) ([]Node, []Link) {
	return []Node{{Height: 0}}, []Link{
		{From: Outside, To: 0, Height: 0, Law: Orifice(aLow, cd, 0, 0), WindFace: 0},
		{From: 0, To: Outside, Height: rise, Law: Orifice(aHigh, cd, 0, 0), WindFace: 1},
	}
}

func mustNetwork(t testing.TB, nodes []Node, links []Link) *Network {
	t.Helper()
	n, err := NewNetwork(nodes, links)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func mustSolve(t testing.TB, n *Network, c Conditions, s *State) Stats {
	t.Helper()
	st, err := n.Solve(c, s)
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// conditionsAt gives all nodes and the outdoor air dry air at temperatures [°C].
func conditionsAt(out float64, in ...float64) Conditions {
	c := Conditions{WindPressure: make([]float64, 8)}
	c.OutdoorDensity, c.OutdoorViscosity = dryAir(out)
	for _, t := range in {
		rho, mu := dryAir(t)
		c.Density = append(c.Density, rho)
		c.Viscosity = append(c.Viscosity, mu)
	}
	return c
}

func TestTwoOpeningsClosedForm(t *testing.T) {
	for _, tc := range []struct{ aLow, aHigh, rise, in, out float64 }{
		{1e-3, 1e-3, 0.5, 30, 10},
		{3e-3, 5e-4, 0.6, 34, -5},
		{5e-4, 3e-3, 0.6, 34, -30},
		{1e-3, 2e-3, 0.3, 5, 35}, // colder indoors: the flow turns round
	} {
		nodes, links := twoOpenings(tc.aLow, tc.aHigh, 0.6, tc.rise)
		n := mustNetwork(t, nodes, links)
		s := n.NewState()
		c := conditionsAt(tc.out, tc.in)
		mustSolve(t, n, c, s)
		want := TwoOpeningStack(0.6*tc.aLow, 0.6*tc.aHigh, tc.rise, c.Density[0], c.OutdoorDensity)
		// The linear end of the orifice law takes under 0.1 % at these flows.
		if got := s.MassFlow[0]; math.Abs(got-want) > 1e-3*math.Abs(want) {
			t.Errorf("%+v: flow %g, want %g", tc, got, want)
		}
		if math.Abs(s.MassFlow[0]-s.MassFlow[1]) > 1e-9 {
			t.Errorf("%+v: in %g, out %g", tc, s.MassFlow[0], s.MassFlow[1])
		}
		if want > 0 {
			level := s.Pressure[0] / ((c.Density[0] - c.OutdoorDensity) * Gravity)
			if h := NeutralHeight(0.6*tc.aLow, 0.6*tc.aHigh, tc.rise, c.Density[0], c.OutdoorDensity); math.Abs(level-h) > 1e-3*tc.rise {
				t.Errorf("%+v: neutral level %g, want %g", tc, level, h)
			}
		}
	}
}

// Moving the reference height of each node must leave every flow as it is.
func TestDatumDoesNotMatter(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 4))
	for trial := range 100 {
		nodes, links := randomHive(r)
		n := mustNetwork(t, nodes, links)
		c := randomConditions(r, n)
		moved := append([]Node(nil), nodes...)
		for i := range moved {
			moved[i].Height += r.NormFloat64()
		}
		m := mustNetwork(t, moved, links)
		a, b := n.NewState(), m.NewState()
		mustSolve(t, n, c, a)
		mustSolve(t, m, c, b)
		largest := 0.0
		for _, q := range a.MassFlow {
			largest = math.Max(largest, math.Abs(q))
		}
		for k, q := range a.MassFlow {
			if math.Abs(q-b.MassFlow[k]) > math.Max(1e-8, 1e-6*largest) {
				t.Errorf("network %d: link %d carries %g, with moved reference heights %g", trial, k, q, b.MassFlow[k])
			}
		}
	}
}

// Two layers of different warmth with a wide joint drive the sum of their columns.
func TestLayersAddUp(t *testing.T) {
	n := mustNetwork(t, []Node{{Height: 0.1}, {Height: 0.5}}, []Link{
		{From: Outside, To: 0, Height: 0, Law: Orifice(1e-3, 0.6, 0, 0), WindFace: -1},
		{From: 0, To: 1, Height: 0.2, Law: Orifice(1, 0.6, 0, 0), WindFace: -1},
		{From: 1, To: Outside, Height: 0.6, Law: Orifice(1e-3, 0.6, 0, 0), WindFace: -1},
	})
	s := n.NewState()
	c := conditionsAt(0, 10, 35)
	mustSolve(t, n, c, s)
	o, low, high := c.OutdoorDensity, c.Density[0], c.Density[1]
	drop := Gravity * ((o-low)*0.2 + (o-high)*0.4)
	want := 0.6e-3 * math.Sqrt(2*drop/(1/o+1/high))
	for k, m := range s.MassFlow {
		// The linear end of the orifice law takes under 0.1 %.
		if math.Abs(m-want) > 1e-3*want {
			t.Errorf("link %d carries %g, want %g", k, m, want)
		}
	}
	// The joint hardly resists: both layers feel the same pressure there, and the
	// halves of the drop at the openings are in the ratio of their densities.
	joint := -drop/(1+o/high) + Gravity*(o-low)*0.2
	for i, want := range []float64{joint - Gravity*(o-low)*0.1, joint + Gravity*(o-high)*0.3} {
		if math.Abs(s.Pressure[i]-want) > 1e-3*drop {
			t.Errorf("layer %d at %g Pa, want %g", i, s.Pressure[i], want)
		}
	}
}

// randomHive makes a stacked structure: columns of slabs joined upright by seams
// or wide gaps, sideways by gaps and cracks, and to the outdoor air by slots, round
// holes, cracks, mesh and cloth.
func randomHive(r *rand.Rand) ([]Node, []Link) {
	columns, slabs := 2+r.IntN(2), 4+r.IntN(11)
	height := 0.2 + 1.2*r.Float64()
	dz := height / float64(slabs)
	var nodes []Node
	for k := range slabs {
		for range columns {
			nodes = append(nodes, Node{Height: (float64(k) + 0.5) * dz})
		}
	}
	at := func(column, slab int) int { return slab*columns + column }
	var links []Link
	for c := range columns {
		for k := range slabs {
			if k+1 < slabs {
				l := Link{From: at(c, k), To: at(c, k+1), Height: float64(k+1) * dz, WindFace: -1}
				switch r.IntN(3) {
				case 0:
					l.Law = Seam(1+float64(r.IntN(9)), 0.4, 0.006+0.008*r.Float64(), dz)
				case 1:
					l.Law = SeamBlocked(4, 0.4, 0.01, dz, r.Float64())
				default:
					l.Law = Orifice(0.001+0.05*r.Float64(), 0.6, 0, 0.02)
				}
				links = append(links, l)
			}
			if c+1 < columns {
				l := Link{From: at(c, k), To: at(c+1, k), Height: (float64(k) + r.Float64()) * dz, WindFace: -1}
				switch r.IntN(3) {
				case 0:
					l.Law = Orifice(0.02*r.Float64()+1e-4, 0.6, 0.02, 0.01)
				case 1:
					l.Law = Seam(2, dz, 0.01, 0.1)
				default:
					l.Law = Crack(1e-5*math.Exp(3*r.NormFloat64()), 0.5+0.5*r.Float64())
				}
				links = append(links, l)
			}
		}
	}
	for range 1 + r.IntN(4) {
		shape := Shape(r.IntN(2))
		h := 0.006 + 0.02*r.Float64()
		w := h
		if shape == Slot {
			w = 0.02 + 0.35*r.Float64()
		}
		sill := (height - h) * r.Float64()
		node := at(r.IntN(columns), min(slabs-1, int(sill/dz)))
		links = append(links, Links(OpeningStrips(shape, sill, w, h, 0.02*r.Float64(), 0.6, 1+r.IntN(4)), Outside, node, r.IntN(5), 1, "opening")...)
	}
	for range r.IntN(12) {
		links = append(links, Link{From: at(r.IntN(columns), r.IntN(slabs)), To: Outside, Height: height * r.Float64(),
			Law: CrackFromLeakArea(1e-6*math.Exp(2*r.NormFloat64()), 0.65), WindFace: r.IntN(5)})
	}
	if r.IntN(3) == 0 {
		links = append(links, Link{From: Outside, To: at(0, 0), Height: 0, Law: Mesh(0.12, 0.7, 0.0005), WindFace: -1})
	}
	if r.IntN(3) == 0 {
		links = append(links, Link{From: at(0, slabs-1), To: Outside, Height: height, Law: Darcy(1e-9/0.05, 0.2), WindFace: FaceTop})
	}
	if r.IntN(3) == 0 {
		links = append(links, Link{From: at(0, 0), To: Outside, Height: 0, Law: SlotCrack(0.0005+0.001*r.Float64(), 0.5, 0.02, 1), WindFace: FaceFront})
	}
	return nodes, links
}

// randomConditions draws temperatures of -40 to 60 °C, wind, fans and closed links.
func randomConditions(r *rand.Rand, n *Network) Conditions {
	c := Conditions{WindPressure: make([]float64, Faces)}
	c.OutdoorDensity, c.OutdoorViscosity = dryAir(-40 + 100*r.Float64())
	even := r.IntN(4) == 0
	t := -40 + 100*r.Float64()
	for range n.Nodes() {
		if !even {
			t = -40 + 100*r.Float64()
		}
		rho, mu := dryAir(t)
		c.Density = append(c.Density, rho)
		c.Viscosity = append(c.Viscosity, mu)
	}
	if r.IntN(2) == 0 {
		u := 12 * r.Float64()
		for f, cp := range SurfaceCoefficients(Exposure(r.IntN(3)), 360*r.Float64()) {
			c.WindPressure[f] = WindPressure(cp, c.OutdoorDensity, u)
		}
	}
	if r.IntN(3) == 0 {
		c.Imposed = make([]float64, n.Nodes())
		for range 3 { // plumes: taken here, given there
			q := 1e-3 * r.Float64()
			c.Imposed[r.IntN(n.Nodes())] += q
			c.Imposed[r.IntN(n.Nodes())] -= q
		}
	}
	if r.IntN(3) == 0 {
		c.Scale = make([]float64, n.Links())
		for k := range c.Scale {
			switch r.IntN(4) {
			case 0:
				c.Scale[k] = r.Float64()
			default:
				c.Scale[k] = 1
			}
		}
	}
	return c
}

func TestRandomNetworksConverge(t *testing.T) {
	r := rand.New(rand.NewPCG(2024, 6))
	const networks = 4000
	worstIterations, worstEvaluations, total := 0, 0, 0
	for trial := range networks {
		nodes, links := randomHive(r)
		n := mustNetwork(t, nodes, links)
		c := randomConditions(r, n)
		cold, wild := n.NewState(), n.NewState()
		for i := range wild.Pressure {
			wild.Pressure[i] = 30 * r.NormFloat64()
		}
		for name, s := range map[string]*State{"rest": cold, "random": wild} {
			st, err := n.Solve(c, s)
			if err != nil {
				t.Fatalf("network %d from %s (%d nodes, %d links): %v %+v", trial, name, n.Nodes(), n.Links(), err, st)
			}
			worstIterations = max(worstIterations, st.Iterations)
			worstEvaluations = max(worstEvaluations, st.Evaluations)
			total += st.Iterations
			// Balances are summed afresh from the link flows.
			net := make([]float64, n.Nodes())
			copy(net, c.Imposed)
			largest := 0.0
			for k, m := range s.MassFlow {
				l := n.Link(k)
				largest = math.Max(largest, math.Abs(m))
				if l.From != Outside {
					net[l.From] -= m
				}
				if l.To != Outside {
					net[l.To] += m
				}
			}
			for i, b := range net {
				if math.Abs(b) > math.Max(1e-9, 1e-8*largest) {
					t.Fatalf("network %d from %s: node %d out of balance by %g kg/s, largest flow %g", trial, name, i, b, largest)
				}
			}
		}
		largest := 0.0
		for _, m := range cold.MassFlow {
			largest = math.Max(largest, math.Abs(m))
		}
		for k, m := range cold.MassFlow {
			// The balances hold to 1e-9 kg/s, so the flows agree about as well.
			if math.Abs(m-wild.MassFlow[k]) > math.Max(1e-8, 1e-6*largest) {
				t.Errorf("network %d: link %d carries %g from rest, %g from a random start", trial, k, m, wild.MassFlow[k])
			}
		}
	}
	t.Logf("%d solutions, mean %.1f iterations, at most %d iterations and %d evaluations", 2*networks,
		float64(total)/(2*networks), worstIterations, worstEvaluations)
	if worstIterations > 60 {
		t.Errorf("%d iterations, expected to stay far below the limit of %d", worstIterations, iterationLimit)
	}
}

func TestStillAir(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	for trial := range 200 {
		nodes, links := randomHive(r)
		n := mustNetwork(t, nodes, links)
		c := Conditions{WindPressure: make([]float64, Faces), Viscosity: make([]float64, 1)}
		c.OutdoorDensity, c.OutdoorViscosity = dryAir(12)
		c.Viscosity[0] = c.OutdoorViscosity
		for range nodes {
			c.Density = append(c.Density, c.OutdoorDensity)
		}
		s := n.NewState()
		for i := range s.Pressure {
			s.Pressure[i] = r.NormFloat64()
		}
		mustSolve(t, n, c, s)
		for k, m := range s.MassFlow {
			if math.Abs(m) > 1e-9 {
				t.Errorf("network %d: link %d carries %g kg/s in still, even air", trial, k, m)
			}
		}
	}
}

// Exchanging the columns of a network, and with them the side of everything, must
// leave every flow as it is.
func TestMirror(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 13))
	for trial := range 200 {
		nodes, links := randomHive(r)
		n := mustNetwork(t, nodes, links)
		c := randomConditions(r, n)
		last := len(nodes) - 1
		flip := func(i int) int {
			if i == Outside {
				return i
			}
			return last - i
		}
		mirror, mc := make([]Node, len(nodes)), c
		mc.Density, mc.Viscosity = make([]float64, len(nodes)), make([]float64, len(nodes))
		if c.Imposed != nil {
			mc.Imposed = make([]float64, len(nodes))
		}
		for i := range nodes {
			mirror[flip(i)] = nodes[i]
			mc.Density[flip(i)], mc.Viscosity[flip(i)] = c.Density[i], c.Viscosity[i]
			if c.Imposed != nil {
				mc.Imposed[flip(i)] = c.Imposed[i]
			}
		}
		turned := append([]Link(nil), links...)
		for k, l := range links {
			turned[k].From, turned[k].To = flip(l.To), flip(l.From) // ends exchanged too
		}
		m := mustNetwork(t, mirror, turned)
		a, b := n.NewState(), m.NewState()
		mustSolve(t, n, c, a)
		mustSolve(t, m, mc, b)
		largest := 0.0
		for _, q := range a.MassFlow {
			largest = math.Max(largest, math.Abs(q))
		}
		for k, q := range a.MassFlow {
			if math.Abs(q+b.MassFlow[k]) > math.Max(1e-9, 1e-7*largest) {
				t.Errorf("network %d: link %d carries %g, mirrored %g", trial, k, q, b.MassFlow[k])
			}
		}
	}
}

// A wider top opening, a warmer box or a taller one must never move less air.
func TestMonotone(t *testing.T) {
	flow := func(area, warm, rise float64) float64 {
		nodes, links := twoOpenings(1.5e-3, area, 0.6, rise)
		n := mustNetwork(t, nodes, links)
		s := n.NewState()
		mustSolve(t, n, conditionsAt(0, warm), s)
		return s.MassFlow[1]
	}
	for i := 1; i < 40; i++ {
		x, y := float64(i), float64(i+1)
		if a, b := flow(1e-4*x, 20, 0.5), flow(1e-4*y, 20, 0.5); b <= a {
			t.Errorf("opening %g cm² moves %g, %g cm² %g kg/s", x, a, y, b)
		}
		if a, b := flow(1e-3, x, 0.5), flow(1e-3, y, 0.5); b <= a {
			t.Errorf("%g °C moves %g, %g °C %g kg/s", x, a, y, b)
		}
		if a, b := flow(1e-3, 20, 0.05*x), flow(1e-3, 20, 0.05*y); b <= a {
			t.Errorf("rise %g moves %g, %g %g kg/s", 0.05*x, a, 0.05*y, b)
		}
	}
}

func TestClosingAndSealing(t *testing.T) {
	// A box of two nodes joined by a seam, with one opening and its state kept over
	// the closing of that opening.
	n := mustNetwork(t, []Node{{Height: 0.1, Name: "low"}, {Height: 0.3, Name: "high"}}, []Link{
		{From: 0, To: 1, Height: 0.2, Law: Seam(9, 0.4, 0.01, 0.2), WindFace: -1},
		{From: 1, To: 0, Height: 0.22, Law: Seam(2, 0.4, 0.01, 0.2), WindFace: -1},
		{From: Outside, To: 0, Height: 0, Law: Orifice(1e-3, 0.6, 0, 0), WindFace: -1, Name: "entrance"},
	})
	s := n.NewState()
	c := conditionsAt(0, 10, 30)
	mustSolve(t, n, c, s)
	c.Scale = []float64{1, 1, 0}
	mustSolve(t, n, c, s)
	if s.MassFlow[2] != 0 {
		t.Errorf("closed entrance carries %g kg/s", s.MassFlow[2])
	}
	if math.Abs(s.Pressure[0]) > 1e-6 {
		t.Errorf("sealed box: first node at %g Pa, want 0", s.Pressure[0])
	}
	// A plume inside the sealed box returns through the second seam.
	c.Imposed = []float64{-1e-5, 1e-5}
	mustSolve(t, n, c, s)
	if math.Abs(s.MassFlow[0]-s.MassFlow[1]+1e-5) > 1e-12 {
		t.Errorf("plume of 1e-5 kg/s: seams carry %g up and %g down", s.MassFlow[0], s.MassFlow[1])
	}
	c.Imposed = []float64{1e-5, 1e-5}
	if _, err := n.Solve(c, s); !errors.Is(err, ErrSealed) || !strings.Contains(fmt.Sprint(err), "low") {
		t.Errorf("air blown into a sealed box: error %v, want ErrSealed naming the node", err)
	}
	c.Scale[2] = 0.5
	mustSolve(t, n, c, s)
	if math.Abs(s.MassFlow[2]+2e-5) > 1e-11 {
		t.Errorf("air blown in leaves the entrance at %g kg/s, want -2e-5", s.MassFlow[2])
	}
}

// A scale is a share of the width: half the scale of a doubled opening is the
// opening.
func TestScale(t *testing.T) {
	nodes, links := twoOpenings(1e-3, 1e-3, 0.6, 0.5)
	n := mustNetwork(t, nodes, links)
	doubled := append([]Link(nil), links...)
	for k := range doubled {
		// Twice the width: twice the flow at the same drop.
		doubled[k].Law = Law{Viscous: links[k].Law.Viscous / 2, Inertial: links[k].Law.Inertial / 4}
	}
	m := mustNetwork(t, nodes, doubled)
	c := conditionsAt(0, 25)
	a, b := n.NewState(), m.NewState()
	mustSolve(t, n, c, a)
	c.Scale = []float64{0.5, 0.5}
	mustSolve(t, m, c, b)
	if math.Abs(a.MassFlow[0]-b.MassFlow[0]) > 1e-10 {
		t.Errorf("flow %g, at half scale of twice the width %g", a.MassFlow[0], b.MassFlow[0])
	}
}

func TestNewNetworkRejects(t *testing.T) {
	one := []Node{{}}
	good := Orifice(1e-3, 0.6, 0, 0)
	for name, tc := range map[string]struct {
		nodes []Node
		links []Link
	}{
		"no node":           {nil, nil},
		"node out of range": {one, []Link{{From: 0, To: 1, Law: good, WindFace: -1}}},
		"same ends":         {one, []Link{{From: 0, To: 0, Law: good, WindFace: -1}}},
		"both outdoors":     {one, []Link{{From: Outside, To: Outside, Law: good, WindFace: -1}}},
		"no law":            {one, []Link{{From: 0, To: Outside, WindFace: -1}}},
		"zero area":         {one, []Link{{From: 0, To: Outside, Law: Orifice(0, 0.6, 0, 0), WindFace: -1}}},
		"exponent":          {one, []Link{{From: 0, To: Outside, Law: Crack(1e-5, 1.2), WindFace: -1}}},
		"height":            {one, []Link{{From: 0, To: Outside, Law: good, Height: math.NaN(), WindFace: -1}}},
		"wind indoors":      {[]Node{{}, {}}, []Link{{From: 0, To: 1, Law: good, WindFace: 0}}},
		"wind face":         {one, []Link{{From: 0, To: Outside, Law: good, WindFace: -2}}},
		"node height":       {[]Node{{Height: math.Inf(1)}}, nil},
	} {
		if _, err := NewNetwork(tc.nodes, tc.links); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

func TestSolveRejects(t *testing.T) {
	nodes, links := twoOpenings(1e-3, 1e-3, 0.6, 0.5)
	n := mustNetwork(t, nodes, links)
	for name, spoil := range map[string]func(*Conditions){
		"densities":       func(c *Conditions) { c.Density = nil },
		"viscosities":     func(c *Conditions) { c.Viscosity = nil },
		"density":         func(c *Conditions) { c.Density[0] = math.NaN() },
		"outdoor density": func(c *Conditions) { c.OutdoorDensity = 0 },
		"wind faces":      func(c *Conditions) { c.WindPressure = nil },
		"wind":            func(c *Conditions) { c.WindPressure[0] = math.Inf(1) },
		"imposed":         func(c *Conditions) { c.Imposed = []float64{math.NaN()} },
		"imposed length":  func(c *Conditions) { c.Imposed = []float64{0, 0} },
		"scale":           func(c *Conditions) { c.Scale = []float64{1, -1} },
		"tolerance":       func(c *Conditions) { c.Tolerance = -1 },
		"scale length":    func(c *Conditions) { c.Scale = []float64{1} },
	} {
		c := conditionsAt(0, 20)
		spoil(&c)
		if _, err := n.Solve(c, n.NewState()); !errors.Is(err, ErrConditions) {
			t.Errorf("%s: error %v, want ErrConditions", name, err)
		}
	}
	other := mustNetwork(t, nodes, links)
	if _, err := n.Solve(conditionsAt(0, 20), other.NewState()); !errors.Is(err, ErrConditions) {
		t.Errorf("state of another network: error %v, want ErrConditions", err)
	}
	s := n.NewState()
	s.Pressure[0] = math.NaN()
	if _, err := n.Solve(conditionsAt(0, 20), s); err != nil {
		t.Errorf("start that is not a number: %v", err)
	}
}

// hive24 is a network of the size of a stacked hive: 12 slabs of 2 columns.
func hive24(t testing.TB) (*Network, Conditions) {
	const slabs, dz = 12, 0.06
	var nodes []Node
	var links []Link
	var temps []float64
	for k := range slabs {
		for c := range 2 {
			nodes = append(nodes, Node{Height: (float64(k) + 0.5) * dz})
			temps = append(temps, 2+float64(k)*1.5+float64(1-c)*8)
			if k > 0 {
				links = append(links, Link{From: 2*(k-1) + c, To: 2*k + c, Height: float64(k) * dz, Law: Seam(5, 0.43, 0.01, dz), WindFace: -1})
			}
		}
		links = append(links,
			Link{From: 2 * k, To: 2*k + 1, Height: (float64(k) + 0.25) * dz, Law: Orifice(0.004, 0.6, 0.02, 0.01), WindFace: -1},
			Link{From: 2 * k, To: 2*k + 1, Height: (float64(k) + 0.75) * dz, Law: Orifice(0.004, 0.6, 0.02, 0.01), WindFace: -1},
			Link{From: 2*k + 1, To: Outside, Height: (float64(k) + 0.5) * dz, Law: Crack(3e-6, 0.65), WindFace: k % 4})
	}
	links = append(links, Links(OpeningStrips(Slot, 0.005, 0.15, 0.015, 0.02, 0.65, 4), Outside, 1, FaceFront, 0, "entrance")...)
	links = append(links, Links(OpeningStrips(Round, 0.67, 0.025, 0.025, 0.02, 0.65, 3), Outside, 2*slabs-1, FaceFront, 0, "top vent")...)
	n := mustNetwork(t, nodes, links)
	c := conditionsAt(-5, temps...)
	for f, cp := range SurfaceCoefficients(SemiExposed, 30) {
		c.WindPressure[f] = WindPressure(cp, c.OutdoorDensity, 1.5)
	}
	return n, c
}

func TestSolveDoesNotAllocate(t *testing.T) {
	n, c := hive24(t)
	s := n.NewState()
	if got := testing.AllocsPerRun(50, func() {
		clear(s.Pressure)
		if _, err := n.Solve(c, s); err != nil {
			panic(err)
		}
	}); got != 0 {
		t.Errorf("%g allocations a solution, want 0", got)
	}
}

func BenchmarkSolveCold(b *testing.B) {
	n, c := hive24(b)
	s := n.NewState()
	var st Stats
	for b.Loop() {
		clear(s.Pressure)
		st = mustSolve(b, n, c, s)
	}
	b.ReportMetric(float64(st.Iterations), "iterations")
	b.ReportMetric(float64(st.Evaluations), "evaluations")
}

// BenchmarkSolveWarm changes every temperature by up to 0.2 K between solutions.
func BenchmarkSolveWarm(b *testing.B) {
	n, c := hive24(b)
	s := n.NewState()
	r := rand.New(rand.NewPCG(1, 1))
	base := append([]float64(nil), c.Density...)
	solved, iterations := 0, 0
	for b.Loop() {
		for i := range c.Density {
			c.Density[i] = base[i] * (1 + 0.0007*(r.Float64()-0.5))
		}
		iterations += mustSolve(b, n, c, s).Iterations
		solved++
	}
	b.ReportMetric(float64(iterations)/float64(solved), "iterations")
}
