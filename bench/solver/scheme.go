package main

import (
	"fmt"

	"hackle/internal/skyline"

	"gonum.org/v1/gonum/mat"
)

// scheme carries a network on as the engine carries heat on: by equal steps, what
// stores heat for long by the backward differentiation formula of second order, the
// air by Euler's, its systems solved inside their profile.
type scheme struct {
	n             *network
	place         []int // of each node in the systems
	first, later  *skyline.Matrix
	shape         *skyline.Matrix
	dt            float64   // [s]
	each          int       // steps an hour
	anew          bool      // factor in every step
	store         []float64 // C over the length of the Euler step, by place [W/K]
	now, old, rhs []float64 // by place
	air           []bool    // by place
	fill          []filling // of the matrix
	drive         []entry   // rows by place
}

// filling is an entry of the matrix and where it lies.
type filling struct {
	at    int
	value float64
}

// variant is a way of hackle's own.
type variant struct {
	each   int  // steps an hour
	anew   bool // factor in every step, as the engine must whose coefficients change
	second bool // the air, too, by the formula of second order, which the engine does not
}

// newScheme makes ready to solve a network.
func newScheme(n *network, v variant) (*scheme, error) {
	order := len(n.Node)
	s := &scheme{n: n, each: v.each, dt: 3600 / float64(v.each), anew: v.anew, place: skyline.Order(order, n.pairs())}
	var pairs [][2]int
	for _, p := range n.pairs() {
		pairs = append(pairs, [2]int{s.place[p[0]], s.place[p[1]]})
	}
	var err error
	if s.shape, err = skyline.New(order, pairs); err != nil {
		return nil, err
	}
	s.first, s.later = s.shape.Clone(), s.shape.Clone()
	s.now, s.old, s.rhs = make([]float64, order), make([]float64, order), make([]float64, order)
	s.store, s.air = make([]float64, order), make([]bool, order)
	for i, x := range n.Node {
		s.air[s.place[i]] = x.Air && !v.second
	}
	for _, e := range n.Entry {
		s.fill = append(s.fill, filling{s.shape.Position(s.place[e.Row], s.place[e.Column]), e.Value})
	}
	for _, e := range n.Drive {
		s.drive = append(s.drive, entry{s.place[e.Row], e.Column, e.Value})
	}
	return s, nil
}

// factor makes the matrix of a first step or of a later one.
func (s *scheme) factor(m *skyline.Matrix, first bool) error {
	m.Clear()
	v := m.Values()
	for i, x := range s.n.Node {
		p := s.place[i]
		long := s.dt
		if !first && !s.air[p] {
			long = s.dt * 2 / 3
		}
		s.store[p] = x.Capacity / long
		v[p] += s.store[p]
	}
	for _, f := range s.fill {
		v[f.at] += f.value
	}
	return m.Factor()
}

// run carries the network through its weather and writes the temperatures of all
// nodes at every full hour, the start among them, into out.
func (s *scheme) run(out []float64) error {
	n := s.n
	order := len(n.Node)
	if len(out) != order*len(n.Input) {
		return fmt.Errorf("room for %d temperatures, need %d", len(out), order*len(n.Input))
	}
	for i, x := range n.Node {
		s.now[s.place[i]] = x.Start
	}
	write := func(h int) {
		row := out[h*order : (h+1)*order]
		for i, p := range s.place {
			row[i] = s.now[p]
		}
	}
	write(0)
	if err := s.factor(s.first, true); err != nil {
		return err
	}
	m := s.first
	for h := range n.hours() {
		from, to := n.Input[h], n.Input[h+1]
		for k := range s.each {
			switch {
			case h == 0 && k == 0:
			case h == 0 && k == 1 || h == 1 && k == 0 && s.each == 1 || s.anew:
				m = s.later
				if err := s.factor(m, false); err != nil {
					return err
				}
			}
			share := float64(k+1) / float64(s.each)
			second := m == s.later
			now, old, rhs, store := s.now, s.old, s.rhs, s.store
			for i, t := range now {
				set := t
				if second && !s.air[i] {
					set += (t - old[i]) / 3
				}
				rhs[i] = store[i] * set
			}
			for _, d := range s.drive {
				rhs[d.Row] += d.Value * (from[d.Column] + share*(to[d.Column]-from[d.Column]))
			}
			m.Solve(rhs)
			s.now, s.old, s.rhs = rhs, now, old
		}
		write(h + 1)
	}
	return nil
}

// steady sets the nodes' start to the steady state under the first inputs.
func (n *network) steady() error {
	s, err := newScheme(n, variant{each: 1})
	if err != nil {
		return err
	}
	m := s.shape
	for _, f := range s.fill {
		m.Values()[f.at] += f.value
	}
	if err := m.Factor(); err != nil {
		return err
	}
	clear(s.rhs)
	for _, d := range s.drive {
		s.rhs[d.Row] += d.Value * n.Input[0][d.Column]
	}
	m.Solve(s.rhs)
	for i := range n.Node {
		n.Node[i].Start = s.rhs[s.place[i]]
	}
	return nil
}

// exact carries the network through its weather by the exponential of its matrix,
// which is exact for inputs that run straight within each hour.
func (n *network) exact() []float64 {
	order, k := len(n.Node), n.Inputs
	// The inputs u and their change v over the hour are carried as unknowns:
	// T' = A T + B u, u' = v, v' = 0, time in hours.
	a := mat.NewDense(order+2*k, order+2*k, nil)
	for _, e := range n.Entry {
		a.Set(e.Row, e.Column, a.At(e.Row, e.Column)-3600*e.Value/n.Node[e.Row].Capacity)
	}
	for _, e := range n.Drive {
		a.Set(e.Row, order+e.Column, a.At(e.Row, order+e.Column)+3600*e.Value/n.Node[e.Row].Capacity)
	}
	for i := range k {
		a.Set(order+i, order+k+i, 1)
	}
	var x mat.Dense
	x.Exp(a)
	out := make([]float64, order*len(n.Input))
	for i, t := range n.Node {
		out[i] = t.Start
	}
	step := x.Slice(0, order, 0, order+2*k)
	state := mat.NewVecDense(order+2*k, nil)
	next := mat.NewVecDense(order, nil)
	for h := range n.hours() {
		for i := range order {
			state.SetVec(i, out[h*order+i])
		}
		for i, u := range n.Input[h] {
			state.SetVec(order+i, u)
			state.SetVec(order+k+i, n.Input[h+1][i]-u)
		}
		next.MulVec(step, state)
		copy(out[(h+1)*order:], next.RawVector().Data)
	}
	return out
}
