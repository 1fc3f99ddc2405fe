package airflow

import (
	"errors"
	"fmt"
	"math"

	"hackle/internal/skyline"
)

// Outside is the node index that stands for the outdoor air.
const Outside = -1

// Node is a body of air of one density.
type Node struct {
	Height float64 // reference height, where the node's gauge pressure holds [m]
	Name   string  // for messages, may be empty
}

// Link joins two nodes, or a node and the outdoor air, at one height. The
// pressure of each side is carried there with the density of that side.
type Link struct {
	From, To int     // node indices or Outside
	Height   float64 // [m]
	Law      Law
	// WindFace is the index into Conditions.WindPressure that acts on the outdoor
	// end, -1 for none. It must be -1 on a link between two nodes.
	WindFace int
	Group    int    // free for the caller
	Name     string // for messages, may be empty
}

// Errors that Solve wraps.
var (
	// ErrConditions tells that a condition has the wrong length, is not a number
	// or lies outside its physical range.
	ErrConditions = errors.New("airflow: unusable conditions")
	// ErrSealed tells that air is imposed into nodes that no open link joins to the
	// outdoor air.
	ErrSealed = errors.New("airflow: flow imposed into a sealed space")
	// ErrNotConverged tells that the iteration limit was reached.
	ErrNotConverged = errors.New("airflow: pressures did not converge")
)

const (
	// accept is the largest imbalance of a node that Solve returns as a solution,
	// unless the share of the largest flow below is larger [kg/s].
	accept = 1e-9
	// acceptShare is that imbalance as a share of the largest flow [-].
	acceptShare = 1e-8
	// aim and aimShare are what the iteration works for as long as it gets nearer.
	aim      = 1e-11 // [kg/s]
	aimShare = 1e-8  // [-]
	// iterationLimit is far above what is ever needed; see the tests.
	iterationLimit = 200
	// overshoot is the largest slope, as a share of the slope at the start, with
	// which a step may end beyond the lowest point. Close to a pure square root
	// Newton's full step mirrors the drop and gets nowhere; the slope shows it. [-]
	overshoot = 0.3
	// leak joins one node of a space without an open path to the outdoor air to
	// the outdoor pressure [kg/(s·Pa)]. As the flows imposed into such a space must
	// sum to zero, no air passes it: it fixes the level of the pressures and
	// nothing else.
	leak = 1e-6
)

// Network is a checked set of nodes and links with its numbering. It does not
// change and may be shared by goroutines.
type Network struct {
	nodes  []Node
	links  []Link
	faces  int // wind pressures needed
	cracks bool
	place  []int // row of each node
	ends   []ends
	matrix *skyline.Matrix // profile to be cloned
}

// ends are the places of a link in the matrix.
type ends struct {
	lower, upper int // positions of the two off-diagonal entries, -1 for outdoors
}

// NewNetwork checks nodes and links, copies them and numbers the equations for
// a small profile. Errors name the link or node.
func NewNetwork(nodes []Node, links []Link) (*Network, error) {
	if len(nodes) == 0 {
		return nil, errors.New("airflow: a network needs a node")
	}
	n := &Network{
		nodes: append([]Node(nil), nodes...),
		links: append([]Link(nil), links...),
		ends:  make([]ends, len(links)),
	}
	for i, d := range nodes {
		if math.IsNaN(d.Height) || math.IsInf(d.Height, 0) {
			return nil, fmt.Errorf("airflow: %s: height %g m", n.nodeName(i), d.Height)
		}
	}
	var pairs [][2]int
	for k, l := range links {
		fail := func(format string, args ...any) error {
			return fmt.Errorf("airflow: %s: "+format, append([]any{n.linkName(k)}, args...)...)
		}
		for _, end := range [2]int{l.From, l.To} {
			if end != Outside && (end < 0 || end >= len(nodes)) {
				return nil, fail("node %d of %d", end, len(nodes))
			}
		}
		if l.From == l.To {
			return nil, fail("both ends at node %d", l.From)
		}
		if math.IsNaN(l.Height) || math.IsInf(l.Height, 0) {
			return nil, fail("height %g m", l.Height)
		}
		if err := l.Law.check(); err != nil {
			return nil, fail("%w", err)
		}
		outdoors := l.From == Outside || l.To == Outside
		if l.WindFace < -1 || l.WindFace >= 0 && !outdoors {
			return nil, fail("wind face %d on a link without an outdoor end", l.WindFace)
		}
		n.faces = max(n.faces, l.WindFace+1)
		n.cracks = n.cracks || l.Law.Coefficient != 0
		if !outdoors {
			pairs = append(pairs, [2]int{l.From, l.To})
		}
	}
	n.place = skyline.Order(len(nodes), pairs)
	for c, p := range pairs {
		pairs[c] = [2]int{n.place[p[0]], n.place[p[1]]}
	}
	var err error
	if n.matrix, err = skyline.New(len(nodes), pairs); err != nil {
		return nil, fmt.Errorf("airflow: %w", err)
	}
	for k, l := range links {
		n.ends[k] = ends{lower: -1, upper: -1}
		if l.From != Outside && l.To != Outside {
			i, j := n.place[l.From], n.place[l.To]
			n.ends[k] = ends{lower: n.matrix.Position(max(i, j), min(i, j)), upper: n.matrix.Position(min(i, j), max(i, j))}
		}
	}
	return n, nil
}

// Nodes returns the number of nodes.
func (n *Network) Nodes() int { return len(n.nodes) }

// Links returns the number of links.
func (n *Network) Links() int { return len(n.links) }

// Link returns link k as it was given.
func (n *Network) Link(k int) Link { return n.links[k] }

// Node returns node i as it was given.
func (n *Network) Node(i int) Node { return n.nodes[i] }

func (n *Network) nodeName(i int) string {
	if n.nodes[i].Name != "" {
		return fmt.Sprintf("node %d (%s)", i, n.nodes[i].Name)
	}
	return fmt.Sprintf("node %d", i)
}

func (n *Network) linkName(k int) string {
	if n.links[k].Name != "" {
		return fmt.Sprintf("link %d (%s)", k, n.links[k].Name)
	}
	return fmt.Sprintf("link %d", k)
}

// Conditions are what drives the air for one solution. Slices are read, never
// kept.
type Conditions struct {
	Density   []float64 // of the air of each node [kg/m³]
	Viscosity []float64 // of the air of each node, or a single value for all [Pa·s]

	OutdoorDensity   float64 // [kg/m³]
	OutdoorViscosity float64 // [Pa·s]

	// WindPressure by the caller's faces, over the still outdoor air [Pa]. It may
	// be nil when no link has a face; it may be longer than needed.
	WindPressure []float64

	// Imposed is the air that fans and plumes bring into each node, negative where
	// they take it [kg/s]; nil for none. What does not sum to zero leaves through
	// the openings.
	Imposed []float64

	// Tolerance is the imbalance of a node at which the iteration may stop [kg/s]; 0
	// takes 1e-11. Loosening it to 1e-9 saves about one iteration in three.
	Tolerance float64

	// Scale multiplies the flow of each link, as if that share of its width were
	// open: 1 as built, 0 closed [-]; nil for all 1.
	Scale []float64
}

// State holds the solution of a network and the work space of solving it. It
// belongs to one goroutine.
type State struct {
	// Pressure of each node at its reference height, over the outdoor pressure at
	// that height [Pa]. On entry to Solve it is the start of the iteration; values
	// that are not finite start from 0.
	Pressure []float64
	// MassFlow of each link, positive from From to To [kg/s].
	MassFlow []float64

	open       []activeLink
	slope      []float64 // of each open link [kg/(s·Pa)]
	space      []int     // union-find over nodes; index len(nodes) is outdoors
	sealed     []bool    // a node that carries the leak
	balance    []float64 // outflow less imposed flow of each node [kg/s]
	step       []float64 // Newton step by row [Pa]
	trial      []float64 // trial pressures [Pa]
	logDensity []float64
	logViscous []float64
	matrix     *skyline.Matrix
	owner      *Network
}

// activeLink is an open link with the conditions put in.
type activeLink struct {
	from, to       int
	index          int     // in Network.links
	head           float64 // driving difference at zero node pressures [Pa]
	forward, back  side    // laws for flow in the direction of the link and against it
	rhoFwd, rhoBck float64 // upstream density times scale [kg/m³]
}

// NewState returns a state at rest with its work space.
func (n *Network) NewState() *State {
	nodes, links := len(n.nodes), len(n.links)
	return &State{
		Pressure:   make([]float64, nodes),
		MassFlow:   make([]float64, links),
		open:       make([]activeLink, 0, links),
		slope:      make([]float64, links),
		space:      make([]int, nodes+1),
		sealed:     make([]bool, nodes),
		balance:    make([]float64, nodes),
		step:       make([]float64, nodes),
		trial:      make([]float64, nodes),
		logDensity: make([]float64, nodes+1),
		logViscous: make([]float64, nodes+1),
		matrix:     n.matrix.Clone(),
		owner:      n,
	}
}

// Stats tells how a solution was reached.
type Stats struct {
	Iterations  int     // linear systems solved
	Evaluations int     // times that all link flows were computed
	Residual    float64 // largest imbalance of a node [kg/s]
	WorstNode   int     // the node that has it
}

// Solve finds the node pressures at which every node's flows and imposed flow
// balance, and leaves pressures and link flows in s. It works for an imbalance
// below c.Tolerance or 1e-8 of the largest flow; where rounding does not let it
// get there, it is content with 1e-9 kg/s, or what rounding alone makes at the
// stiffest link (only met with openings of many square metres). It starts from s.Pressure; the solution
// does not depend on that.
//
// Every link's flow is a strictly rising function of its driving difference, so
// the imbalances are the gradient of a strictly convex function of the
// pressures, the sum of the integrals of the flows. Newton's method, with a
// search along each step that lowers this function, therefore reaches its single
// minimum from any start. (Rounding apart: where the function no longer shows a
// difference, a fall of the imbalance decides.)
//
// A space without an open path to the outdoor air takes its pressure level from
// its first node, at 0 Pa. Errors wrap ErrConditions, ErrSealed or
// ErrNotConverged and name the node. Solve allocates nothing unless it fails.
func (n *Network) Solve(c Conditions, s *State) (Stats, error) {
	if s.owner != n {
		return Stats{}, fmt.Errorf("%w: the state belongs to another network", ErrConditions)
	}
	if err := n.prepare(&c, s); err != nil {
		return Stats{}, err
	}
	for i, p := range s.Pressure {
		if math.IsNaN(p) || math.IsInf(p, 0) {
			s.Pressure[i] = 0
		}
	}

	var st Stats
	potential, magnitude, largest := n.evaluate(&c, s, s.Pressure)
	st.Evaluations = 1
	st.Residual, st.WorstNode = worst(s.balance)
	for {
		if st.Residual <= max(max(aim, c.Tolerance), aimShare*largest) {
			break
		}
		if st.Iterations >= iterationLimit {
			if st.Residual <= max(max(accept, acceptShare*largest), n.rounding(s)) {
				break
			}
			return st, n.notConverged(st, s)
		}
		st.Iterations++
		if err := n.newtonStep(s); err != nil {
			return st, fmt.Errorf("%w: %s: %w", ErrNotConverged, n.nodeName(st.WorstNode), err)
		}
		// Slope of the convex function along the step, below zero.
		start := n.along(s)
		before := st.Residual

		// Search along the step: keep the last length at which the function still
		// falls (lo), the first at which it rises (hi), and close in by false
		// position with the Illinois halving.
		lo, hi := 0.0, math.Inf(1)
		slopeLo, slopeHi := start, 0.0
		length := 1.0
		var trialPotential, trialMagnitude, trialLargest float64
		lastSide := 0
		for search := 0; ; search++ {
			for i := range s.trial {
				s.trial[i] = s.Pressure[i] + length*s.step[n.place[i]]
			}
			trialPotential, trialMagnitude, trialLargest = n.evaluate(&c, s, s.trial)
			st.Evaluations++
			st.Residual, st.WorstNode = worst(s.balance)
			slope := n.along(s)
			if slope <= 0 && (length == 1 || slope >= 0.5*start) {
				break
			}
			if slope > 0 && slope <= -overshoot*start {
				if trialPotential-potential <= 1e-4*length*start {
					break
				}
				if -start <= 1e-13*(magnitude+trialMagnitude) && st.Residual <= 0.5*before {
					break
				}
			}
			if search >= 40 {
				break
			}
			if slope > 0 {
				hi, slopeHi = length, slope
				if lastSide > 0 {
					slopeLo /= 2
				}
				lastSide = 1
			} else {
				lo, slopeLo = length, slope
				if lastSide < 0 {
					slopeHi /= 2
				}
				lastSide = -1
			}
			length = lo + (hi-lo)*slopeLo/(slopeLo-slopeHi)
		}
		copy(s.Pressure, s.trial)
		potential, magnitude, largest = trialPotential, trialMagnitude, trialLargest

		// Rounding sets a floor: stop where it is good enough and no longer gets
		// better.
		if st.Residual > 0.3*before {
			good := max(max(accept, acceptShare*largest), n.rounding(s))
			if st.Residual <= good && before <= good {
				break
			}
		}
	}
	return st, nil
}

// Step takes one Newton step from the pressures in s, unless they balance already,
// and leaves the link flows that the laws, taken along their slopes, have at its
// end: they balance at every node to rounding, though each is off its law by what
// the bend makes. A caller who solves the network over and over within an
// iteration of his own, with conditions that change less and less, is served by
// that at the price of one linear system a time; Solve gives him the start.
// Errors are those of Solve.
func (n *Network) Step(c Conditions, s *State) (Stats, error) {
	if s.owner != n {
		return Stats{}, fmt.Errorf("%w: the state belongs to another network", ErrConditions)
	}
	if err := n.prepare(&c, s); err != nil {
		return Stats{}, err
	}
	st := Stats{Evaluations: 1}
	_, _, largest := n.evaluate(&c, s, s.Pressure)
	st.Residual, st.WorstNode = worst(s.balance)
	if !finite(st.Residual) {
		return st, n.notConverged(st, s)
	}
	if st.Residual <= max(max(aim, c.Tolerance), aimShare*largest) {
		return st, nil
	}
	st.Iterations = 1
	if err := n.newtonStep(s); err != nil {
		return st, fmt.Errorf("%w: %s: %w", ErrNotConverged, n.nodeName(st.WorstNode), err)
	}
	for i := range s.Pressure {
		s.Pressure[i] += s.step[n.place[i]]
	}
	for k := range s.open {
		a := &s.open[k]
		d := 0.0
		if a.from != Outside {
			d += s.step[n.place[a.from]]
		}
		if a.to != Outside {
			d -= s.step[n.place[a.to]]
		}
		s.MassFlow[a.index] += s.slope[k] * d
	}
	return st, nil
}

// rounding returns the imbalance that the rounding of the pressures alone makes at
// the stiffest link [kg/s]. It matters where an opening so wide that it hardly
// resists stands beside others that do.
func (n *Network) rounding(s *State) float64 {
	largest := 0.0
	for k := range s.open {
		a := &s.open[k]
		p := math.Abs(a.head)
		if a.from != Outside {
			p += math.Abs(s.Pressure[a.from])
		}
		if a.to != Outside {
			p += math.Abs(s.Pressure[a.to])
		}
		largest = max(largest, p*s.slope[k])
	}
	return 16 * 0x1p-52 * largest
}

// notConverged describes a failure with the worst node.
func (n *Network) notConverged(st Stats, s *State) error {
	return fmt.Errorf("%w: %s is out of balance by %.3g kg/s after %d iterations (pressure %.6g Pa)",
		ErrNotConverged, n.nodeName(st.WorstNode), st.Residual, st.Iterations, s.Pressure[st.WorstNode])
}

// prepare checks the conditions, puts them into the open links and finds sealed
// spaces.
func (n *Network) prepare(c *Conditions, s *State) error {
	nodes := len(n.nodes)
	if len(c.Density) != nodes {
		return fmt.Errorf("%w: %d densities for %d nodes", ErrConditions, len(c.Density), nodes)
	}
	if len(c.Viscosity) != nodes && len(c.Viscosity) != 1 {
		return fmt.Errorf("%w: %d viscosities for %d nodes", ErrConditions, len(c.Viscosity), nodes)
	}
	if c.Imposed != nil && len(c.Imposed) != nodes {
		return fmt.Errorf("%w: %d imposed flows for %d nodes", ErrConditions, len(c.Imposed), nodes)
	}
	if c.Scale != nil && len(c.Scale) != len(n.links) {
		return fmt.Errorf("%w: %d scales for %d links", ErrConditions, len(c.Scale), len(n.links))
	}
	if len(c.WindPressure) < n.faces {
		return fmt.Errorf("%w: %d wind pressures for %d faces", ErrConditions, len(c.WindPressure), n.faces)
	}
	if !(c.Tolerance >= 0) {
		return fmt.Errorf("%w: tolerance %g kg/s", ErrConditions, c.Tolerance)
	}
	if !positive(c.OutdoorDensity) || !positive(c.OutdoorViscosity) {
		return fmt.Errorf("%w: outdoor density %g kg/m³, viscosity %g Pa·s", ErrConditions, c.OutdoorDensity, c.OutdoorViscosity)
	}
	for i, rho := range c.Density {
		if mu := c.viscosity(i); !positive(rho) || !positive(mu) {
			return fmt.Errorf("%w: %s: density %g kg/m³, viscosity %g Pa·s", ErrConditions, n.nodeName(i), rho, mu)
		}
	}
	for i, q := range c.Imposed {
		if !finite(q) {
			return fmt.Errorf("%w: %s: imposed flow %g kg/s", ErrConditions, n.nodeName(i), q)
		}
	}
	for f, p := range c.WindPressure[:n.faces] {
		if !finite(p) {
			return fmt.Errorf("%w: wind pressure %g Pa on face %d", ErrConditions, p, f)
		}
	}
	if n.cracks {
		for i := range nodes {
			s.logDensity[i] = math.Log(ReferenceDensity / c.Density[i])
			s.logViscous[i] = math.Log(ReferenceViscosity / c.viscosity(i))
		}
		s.logDensity[nodes] = math.Log(ReferenceDensity / c.OutdoorDensity)
		s.logViscous[nodes] = math.Log(ReferenceViscosity / c.OutdoorViscosity)
	}
	for i := range s.space {
		s.space[i] = i
	}
	s.open = s.open[:0]
	clear(s.MassFlow)
	for k := range n.links {
		l := &n.links[k]
		scale := 1.0
		if c.Scale != nil {
			scale = c.Scale[k]
			if !(scale >= 0) || math.IsInf(scale, 0) {
				return fmt.Errorf("%w: %s: scale %g", ErrConditions, n.linkName(k), scale)
			}
			if scale == 0 {
				continue
			}
		}
		a := activeLink{from: l.From, to: l.To, index: k}
		headFrom, rhoFrom, muFrom := n.end(c, l, l.From)
		headTo, rhoTo, muTo := n.end(c, l, l.To)
		a.head = headFrom - headTo
		a.rhoFwd, a.rhoBck = scale*rhoFrom, scale*rhoTo
		from, to := l.From, l.To
		if from == Outside {
			from = nodes
		}
		if to == Outside {
			to = nodes
		}
		if l.Law.Coefficient == 0 {
			a.forward = side{viscous: l.Law.Viscous * muFrom, inertial: l.Law.Inertial * rhoFrom}
			a.back = side{viscous: l.Law.Viscous * muTo, inertial: l.Law.Inertial * rhoTo}
		} else {
			a.forward = l.Law.crackSide(s.logDensity[from], s.logViscous[from])
			a.back = l.Law.crackSide(s.logDensity[to], s.logViscous[to])
		}
		s.open = append(s.open, a)
		join(s.space, from, to)
	}
	return n.findSealed(c, s)
}

// end returns what a link feels of one of its ends at zero node pressure: the
// pressure carried to the link's height or the wind [Pa], density and viscosity.
func (n *Network) end(c *Conditions, l *Link, node int) (head, rho, mu float64) {
	if node == Outside {
		if l.WindFace >= 0 {
			head = c.WindPressure[l.WindFace]
		}
		return head, c.OutdoorDensity, c.OutdoorViscosity
	}
	rho = c.Density[node]
	return (c.OutdoorDensity - rho) * Gravity * (l.Height - n.nodes[node].Height), rho, c.viscosity(node)
}

func (c *Conditions) viscosity(node int) float64 {
	if len(c.Viscosity) == 1 {
		return c.Viscosity[0]
	}
	return c.Viscosity[node]
}

// findSealed marks the first node of every space without an open path to the
// outdoor air and checks that the flows imposed into the space sum to zero.
func (n *Network) findSealed(c *Conditions, s *State) error {
	outdoors := root(s.space, len(n.nodes))
	for i := range n.nodes {
		space := root(s.space, i)
		s.sealed[i] = space != outdoors
		for j := 0; j < i && s.sealed[i]; j++ {
			if root(s.space, j) == space {
				s.sealed[i] = false
			}
		}
		if !s.sealed[i] || c.Imposed == nil {
			continue
		}
		sum, largest := 0.0, 0.0
		for j := i; j < len(n.nodes); j++ {
			if root(s.space, j) == space {
				sum += c.Imposed[j]
				largest = max(largest, math.Abs(c.Imposed[j]))
			}
		}
		if math.Abs(sum) > max(accept, acceptShare*largest) {
			return fmt.Errorf("%w: %.3g kg/s into the space of %s", ErrSealed, sum, n.nodeName(i))
		}
	}
	return nil
}

// evaluate computes all flows, slopes and node imbalances at the pressures p. It
// returns the convex function and the sum of the magnitudes of its terms
// [kg·Pa/s], and the largest flow [kg/s].
func (n *Network) evaluate(c *Conditions, s *State, p []float64) (potential, magnitude, largest float64) {
	if c.Imposed == nil {
		clear(s.balance)
	} else {
		for i, q := range c.Imposed {
			s.balance[i] = -q
			potential -= q * p[i]
			magnitude += math.Abs(q * p[i])
			largest = max(largest, math.Abs(q))
		}
	}
	for i, sealed := range s.sealed {
		if sealed {
			s.balance[i] += leak * p[i]
			potential += leak * p[i] * p[i] / 2
		}
	}
	for k := range s.open {
		a := &s.open[k]
		d := a.head
		if a.from != Outside {
			d += p[a.from]
		}
		if a.to != Outside {
			d -= p[a.to]
		}
		var m, slope, integral float64
		if d >= 0 {
			m, slope, integral = a.forward.flow(d)
			m, slope, integral = a.rhoFwd*m, a.rhoFwd*slope, a.rhoFwd*integral
		} else {
			m, slope, integral = a.back.flow(-d)
			m, slope, integral = -a.rhoBck*m, a.rhoBck*slope, a.rhoBck*integral
		}
		s.MassFlow[a.index] = m
		s.slope[k] = slope
		potential += integral
		magnitude += integral
		largest = max(largest, math.Abs(m))
		if a.from != Outside {
			s.balance[a.from] += m
		}
		if a.to != Outside {
			s.balance[a.to] -= m
		}
	}
	return potential, magnitude, largest
}

// newtonStep solves for the step that removes the imbalance to first order.
func (n *Network) newtonStep(s *State) error {
	// Should rounding eat a pivot, the diagonal is raised a little: the step stays
	// a descent, as the matrix stays positive definite.
	raise := 0.0
	for {
		s.matrix.Clear()
		v := s.matrix.Values()
		for i, sealed := range s.sealed {
			if sealed {
				v[n.place[i]] += leak
			}
		}
		for k := range s.open {
			a := &s.open[k]
			g := s.slope[k]
			if a.from != Outside {
				v[n.place[a.from]] += g * (1 + raise)
			}
			if a.to != Outside {
				v[n.place[a.to]] += g * (1 + raise)
			}
			if e := n.ends[a.index]; e.lower >= 0 {
				v[e.lower] -= g
				v[e.upper] -= g
			}
		}
		err := s.matrix.Factor()
		if err == nil {
			break
		}
		if raise > 1e-3 {
			return err
		}
		raise = max(1e-13, 100*raise)
	}
	for i, b := range s.balance {
		s.step[n.place[i]] = -b
	}
	s.matrix.Solve(s.step)
	return nil
}

// along returns the slope of the convex function along the step.
func (n *Network) along(s *State) float64 {
	sum := 0.0
	for i, b := range s.balance {
		sum += b * s.step[n.place[i]]
	}
	return sum
}

// worst returns the largest imbalance and its node.
func worst(balance []float64) (float64, int) {
	largest, at := 0.0, 0
	for i, b := range balance {
		if b = math.Abs(b); !(b <= largest) {
			largest, at = b, i
		}
	}
	return largest, at
}

// root and join are union-find with path halving over the array of parents.
func root(parent []int, i int) int {
	for parent[i] != i {
		parent[i] = parent[parent[i]]
		i = parent[i]
	}
	return i
}

func join(parent []int, i, j int) { parent[root(parent, i)] = root(parent, j) }

func positive(x float64) bool { return x > 0 && !math.IsInf(x, 0) }
func finite(x float64) bool   { return !math.IsNaN(x) && !math.IsInf(x, 0) }
