package wall

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Extent is a box with edges along the axes [m]. In a two-dimensional section
// Z0 = Z1 = 0 everywhere and flows are per metre of the third dimension.
type Extent struct {
	X0, X1 float64 // [m]
	Y0, Y1 float64 // [m]
	Z0, Z1 float64 // [m]
}

// Solid fills an extent with a conductor. Where solids overlap, the later one
// in the list counts.
type Solid struct {
	Extent
	Conductivity float64 // [W/(m·K)]
}

// Space fills an extent with one of the section's environments and cuts away
// the solids in it; it exchanges heat with the faces of the solids that border
// on it. Where spaces overlap, the later one in the list counts.
type Space struct {
	Extent
	Environment int     // index into Section.Temperatures
	Resistance  float64 // of the surfaces [m²·K/W]; 0 holds them at the environment's temperature
	// ResistanceY is that of the surfaces normal to y where it differs, as films
	// on level and on upright faces do [m²·K/W], 0: Resistance.
	ResistanceY float64
}

// Mesh tells how finely a section is cut. Cells are finest at all edges of
// solids and spaces and grow away from them.
type Mesh struct {
	Finest   float64 // largest cell at an edge [m]
	Growth   float64 // ratio of neighbours, 1.05 to 2 [-]; 0: 1.3
	Coarsest float64 // largest cell [m], 0: unlimited
}

// Section is a body of rectangular solids in which heat flows steadily between
// environments, in two or three dimensions. What neither solid nor space fills,
// and everything beyond the outermost extents, is adiabatic.
type Section struct {
	Solids       []Solid
	Spaces       []Space
	Temperatures []float64 // of the environments [°C]
	Mesh         Mesh
}

// Field is the steady temperature in a Section.
type Field struct {
	x, y, z []float64 // nodes [m]
	t       []float64 // temperatures of the nodes, NaN outside of solids [°C]
	flow    []float64 // from each environment into the solids [W, or W/m]
	touches []int32   // 1 + environment that a node borders on, 0: none
}

// maxNodes keeps a careless mesh from eating the machine's memory.
const maxNodes = 4_000_000

// Solve computes the temperatures. The scheme is a finite volume around each
// node of a rectangular grid, materials filling the cells between nodes; it is
// exact for plane layers and conserves heat. The linear system is solved by
// conjugate gradients, preconditioned by a modified incomplete Cholesky
// factorisation, to a residual of 1e-10. The result does not depend on anything
// but the section.
//
// At a corner where two isothermal spaces of different temperature meet, the
// later space counts; the flow there has no bound as the mesh is refined.
//
// Errors: extents of no or mixed dimension, conductivities that are not
// positive, negative surface resistances, unknown environments, temperatures
// or a mesh that are not finite, a body that touches no environment, more
// than 4 million nodes.
func (s *Section) Solve() (*Field, error) {
	a, err := s.assemble()
	if err != nil {
		return nil, err
	}
	if err := a.conjugateGradients(); err != nil {
		return nil, err
	}
	return a.field(s), nil
}

// check validates what can be seen without a grid.
func (s *Section) check() (flat bool, err error) {
	if len(s.Solids) == 0 || len(s.Spaces) == 0 {
		return false, errors.New("wall: a section needs a solid and a space")
	}
	flat = true
	for _, b := range s.Solids {
		flat = flat && b.Z0 == b.Z1
	}
	extent := func(e Extent) error {
		for _, v := range [...]float64{e.X0, e.X1, e.Y0, e.Y1, e.Z0, e.Z1} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("extent %+v is not finite", e)
			}
		}
		if !(e.X1 > e.X0 && e.Y1 > e.Y0) || (flat && (e.Z0 != 0 || e.Z1 != 0)) || (!flat && !(e.Z1 > e.Z0)) {
			return fmt.Errorf("extent %+v is empty, or has a third dimension where another has none", e)
		}
		return nil
	}
	for i, b := range s.Solids {
		if err := extent(b.Extent); err != nil {
			return false, fmt.Errorf("wall: solid %d: %w", i+1, err)
		}
		if !(b.Conductivity > 0) || math.IsInf(b.Conductivity, 1) {
			return false, fmt.Errorf("wall: solid %d: conductivity %v W/(m·K) is not a positive number", i+1, b.Conductivity)
		}
	}
	for i, p := range s.Spaces {
		if err := extent(p.Extent); err != nil {
			return false, fmt.Errorf("wall: space %d: %w", i+1, err)
		}
		if !(p.Resistance >= 0) || !(p.ResistanceY >= 0) || p.Environment < 0 || p.Environment >= len(s.Temperatures) {
			return false, fmt.Errorf("wall: space %d: resistances %v and %v m²·K/W or environment %d of %d", i+1, p.Resistance, p.ResistanceY, p.Environment, len(s.Temperatures))
		}
	}
	for i, t := range s.Temperatures {
		if math.IsNaN(t) || math.IsInf(t, 0) {
			return false, fmt.Errorf("wall: environment %d: temperature %v °C", i, t)
		}
	}
	m := s.Mesh
	if !(m.Finest > 0) || !(m.Coarsest >= 0) || !(m.Growth == 0 || (m.Growth >= 1.05 && m.Growth <= 2)) {
		return false, fmt.Errorf("wall: mesh %+v", m)
	}
	return flat, nil
}

// gridLines returns the nodes along one axis; solid tells of an interval
// whether any solid lies across it.
func gridLines(edges []float64, solid func(lo, hi float64) bool, m Mesh) []float64 {
	slices.Sort(edges)
	// Edges closer than the rounding of their arithmetic are one edge.
	span := edges[len(edges)-1] - edges[0]
	edges = slices.CompactFunc(edges, func(a, b float64) bool { return math.Abs(b-a) <= 1e-9*span })
	growth, coarsest := m.Growth, m.Coarsest
	if growth == 0 {
		growth = 1.3
	}
	if coarsest == 0 {
		coarsest = math.Inf(1)
	}
	lines := []float64{edges[0]}
	var half []float64
	for i := 1; i < len(edges); i++ {
		lo, hi := edges[i-1], edges[i]
		if solid(lo, hi) {
			half = half[:0]
			length, cell := 0.0, math.Min(m.Finest, coarsest)
			for length < (hi-lo)/2 {
				half = append(half, cell)
				length += cell
				cell = math.Min(cell*growth, coarsest)
			}
			scale := (hi - lo) / (2 * length)
			at := lo
			for _, d := range half {
				at += d * scale
				lines = append(lines, at)
			}
			for k := len(half) - 1; k > 0; k-- {
				at += half[k] * scale
				lines = append(lines, at)
			}
		}
		lines = append(lines, hi)
	}
	return lines
}

// assembly is the discrete section.
type assembly struct {
	x, y, z          []float64
	nx, ny, nz       int
	full             [3][]float64 // conductance to the next node along each axis [W/K]
	off              [3][]float64 // the same between free nodes, 0 where one is fixed [W/K]
	diagonal, rhs, t []float64    // of the linear system [W/K, W, °C]
	active           []bool       // belongs to a solid

	touches []int32
	fixed   []int32 // 1 + environment that holds the node, 0: none
	// filmG is the surface conductance of a node to its environment [W/K], by
	// environment.
	filmG [][]float64
}

func (s *Section) assemble() (*assembly, error) {
	flat, err := s.check()
	if err != nil {
		return nil, err
	}
	axis := func(of func(Extent) (float64, float64)) []float64 {
		var edges []float64
		for _, b := range s.Solids {
			lo, hi := of(b.Extent)
			edges = append(edges, lo, hi)
		}
		for _, p := range s.Spaces {
			lo, hi := of(p.Extent)
			edges = append(edges, lo, hi)
		}
		solid := func(lo, hi float64) bool {
			middle := (lo + hi) / 2
			for _, b := range s.Solids {
				if l, h := of(b.Extent); l < middle && middle < h {
					return true
				}
			}
			return false
		}
		return gridLines(edges, solid, s.Mesh)
	}
	a := &assembly{
		x: axis(func(e Extent) (float64, float64) { return e.X0, e.X1 }),
		y: axis(func(e Extent) (float64, float64) { return e.Y0, e.Y1 }),
		z: []float64{0},
	}
	if !flat {
		a.z = axis(func(e Extent) (float64, float64) { return e.Z0, e.Z1 })
	}
	a.nx, a.ny, a.nz = len(a.x), len(a.y), len(a.z)
	n := a.nx * a.ny * a.nz
	if n > maxNodes {
		return nil, fmt.Errorf("wall: mesh %+v makes %d nodes, more than %d", s.Mesh, n, maxNodes)
	}

	// What fills each cell: the conductivity of a solid, or a space.
	cx, cy, cz := a.nx-1, a.ny-1, max(a.nz-1, 1)
	conductivity := make([]float64, cx*cy*cz)
	space := make([]int32, cx*cy*cz) // 1 + index of the space, 0: none
	fill := func(e Extent, set func(cell int)) {
		i0, i1 := span(a.x, e.X0, e.X1)
		j0, j1 := span(a.y, e.Y0, e.Y1)
		k0, k1 := 0, 1
		if !flat {
			k0, k1 = span(a.z, e.Z0, e.Z1)
		}
		for k := k0; k < k1; k++ {
			for j := j0; j < j1; j++ {
				for i := i0; i < i1; i++ {
					set((k*cy+j)*cx + i)
				}
			}
		}
	}
	for _, b := range s.Solids {
		fill(b.Extent, func(cell int) { conductivity[cell] = b.Conductivity })
	}
	for p, q := range s.Spaces {
		fill(q.Extent, func(cell int) { conductivity[cell], space[cell] = 0, int32(p+1) })
	}

	block := make([]float64, 9*n)
	for i, v := range []*[]float64{&a.full[0], &a.full[1], &a.full[2], &a.off[0], &a.off[1], &a.off[2], &a.diagonal, &a.rhs, &a.t} {
		*v = block[i*n : (i+1)*n : (i+1)*n]
	}
	a.active = make([]bool, n)
	a.touches, a.fixed = make([]int32, n), make([]int32, n)
	a.filmG = make([][]float64, len(s.Temperatures))
	for e := range a.filmG {
		a.filmG[e] = make([]float64, n)
	}
	a.addCells(s, conductivity, space)
	a.cutFixed(s.Temperatures)
	return a, a.checkReach()
}

// span returns the cells between the lines nearest to lo and hi.
func span(lines []float64, lo, hi float64) (first, end int) {
	return nearest(lines, lo), nearest(lines, hi)
}

// nearest returns the index of the line nearest to v.
func nearest(lines []float64, v float64) int {
	i, _ := slices.BinarySearch(lines, v)
	if i == len(lines) || (i > 0 && v-lines[i-1] < lines[i]-v) {
		return i - 1
	}
	return i
}

// addCells adds the conductances of all cells and of the surfaces they share
// with spaces.
func (a *assembly) addCells(s *Section, conductivity []float64, space []int32) {
	cx, cy, cz := a.nx-1, a.ny-1, max(a.nz-1, 1)
	planes, share := 2, 0.5 // node planes per cell along z and their share of its depth
	if a.nz == 1 {
		planes, share = 1, 1
	}
	node := func(i, j, k int) int { return (k*a.ny+j)*a.nx + i }
	// surface joins the nodes of one face of a cell to the space beyond it.
	surface := func(p int32, normalY bool, area float64, nodes ...int) {
		if p == 0 {
			return
		}
		q := &s.Spaces[p-1]
		r := q.Resistance
		if normalY && q.ResistanceY > 0 {
			r = q.ResistanceY
		}
		for _, n := range nodes {
			a.touches[n] = int32(q.Environment + 1)
			if r == 0 {
				a.fixed[n] = int32(q.Environment + 1)
			} else {
				a.filmG[q.Environment][n] += area / float64(len(nodes)) / r
			}
		}
	}
	beyond := func(i, j, k int) int32 { // the space in a cell, 0 outside of the grid
		if i < 0 || j < 0 || k < 0 || i >= cx || j >= cy || k >= cz {
			return 0
		}
		return space[(k*cy+j)*cx+i]
	}
	for k := range cz {
		dz := 1.0
		if a.nz > 1 {
			dz = a.z[k+1] - a.z[k]
		}
		for j := range cy {
			dy := a.y[j+1] - a.y[j]
			for i := range cx {
				lambda := conductivity[(k*cy+j)*cx+i]
				if lambda == 0 {
					continue
				}
				dx := a.x[i+1] - a.x[i]
				for kk := k; kk < k+planes; kk++ {
					for jj := j; jj < j+2; jj++ {
						a.full[0][node(i, jj, kk)] += lambda * dy / 2 * dz * share / dx
					}
					for ii := i; ii < i+2; ii++ {
						a.full[1][node(ii, j, kk)] += lambda * dx / 2 * dz * share / dy
						a.active[node(ii, j, kk)] = true
						a.active[node(ii, j+1, kk)] = true
					}
				}
				last := k + planes - 1 // equals k in two dimensions
				sides := func(nodes ...int) []int { return nodes[:2*planes] }
				surface(beyond(i-1, j, k), false, dy*dz, sides(node(i, j, k), node(i, j+1, k), node(i, j, last), node(i, j+1, last))...)
				surface(beyond(i+1, j, k), false, dy*dz, sides(node(i+1, j, k), node(i+1, j+1, k), node(i+1, j, last), node(i+1, j+1, last))...)
				surface(beyond(i, j-1, k), true, dx*dz, sides(node(i, j, k), node(i+1, j, k), node(i, j, last), node(i+1, j, last))...)
				surface(beyond(i, j+1, k), true, dx*dz, sides(node(i, j+1, k), node(i+1, j+1, k), node(i, j+1, last), node(i+1, j+1, last))...)
				if a.nz == 1 {
					continue
				}
				for jj := j; jj < j+2; jj++ {
					for ii := i; ii < i+2; ii++ {
						a.full[2][node(ii, jj, k)] += lambda * dx / 2 * dy / 2 / dz
					}
				}
				surface(beyond(i, j, k-1), false, dx*dy, node(i, j, k), node(i+1, j, k), node(i, j+1, k), node(i+1, j+1, k))
				surface(beyond(i, j, k+1), false, dx*dy, node(i, j, k+1), node(i+1, j, k+1), node(i, j+1, k+1), node(i+1, j+1, k+1))
			}
		}
	}
}

// cutFixed builds the linear system of the free nodes.
func (a *assembly) cutFixed(temperatures []float64) {
	for axis := range a.off {
		copy(a.off[axis], a.full[axis])
	}
	for n, e := range a.fixed {
		if e > 0 {
			a.t[n] = temperatures[e-1]
		}
	}
	a.eachLink(func(axis, n, m int) {
		off := a.off[axis]
		g := off[n]
		if g == 0 {
			return
		}
		switch {
		case a.fixed[n] > 0 && a.fixed[m] > 0:
			off[n] = 0
		case a.fixed[n] > 0:
			a.diagonal[m] += g
			a.rhs[m] += g * a.t[n]
			off[n] = 0
		case a.fixed[m] > 0:
			a.diagonal[n] += g
			a.rhs[n] += g * a.t[m]
			off[n] = 0
		default:
			a.diagonal[n] += g
			a.diagonal[m] += g
		}
	})
	for e, g := range a.filmG {
		for n, v := range g {
			if v > 0 && a.fixed[n] == 0 {
				a.diagonal[n] += v
				a.rhs[n] += v * temperatures[e]
			}
		}
	}
	for n := range a.diagonal {
		if a.diagonal[n] == 0 { // fixed, or not in a solid
			a.diagonal[n] = 1
		}
	}
}

// eachLink calls f for every node n and its next neighbour m along an axis.
func (a *assembly) eachLink(f func(axis, n, m int)) {
	strideY, strideZ := a.nx, a.nx*a.ny
	for k := range a.nz {
		for j := range a.ny {
			for i := range a.nx {
				n := k*strideZ + j*strideY + i
				if i+1 < a.nx {
					f(0, n, n+1)
				}
				if j+1 < a.ny {
					f(1, n, n+strideY)
				}
				if k+1 < a.nz {
					f(2, n, n+strideZ)
				}
			}
		}
	}
}

// checkReach reports solids from which no way leads to an environment.
func (a *assembly) checkReach() error {
	reached := make([]bool, len(a.active))
	var queue []int
	for n, e := range a.touches {
		if e > 0 && a.active[n] {
			reached[n] = true
			queue = append(queue, n)
		}
	}
	visit := func(m int, g float64) {
		if g > 0 && !reached[m] {
			reached[m] = true
			queue = append(queue, m)
		}
	}
	for len(queue) > 0 {
		n := queue[len(queue)-1]
		queue = queue[:len(queue)-1]
		for axis, stride := range [3]int{1, a.nx, a.nx * a.ny} {
			visit(n+stride, a.full[axis][n])
			if n >= stride {
				visit(n-stride, a.full[axis][n-stride])
			}
		}
	}
	for n, in := range a.active {
		if in && !reached[n] {
			return errors.New("wall: part of the section borders on no environment")
		}
	}
	return nil
}

// conjugateGradients solves for the free nodes.
func (a *assembly) conjugateGradients() error {
	n := len(a.t)
	sy, sz := a.nx, a.nx*a.ny
	block := make([]float64, 6*n)
	x, r, z, p, q, pre := block[:n], block[n:2*n], block[2*n:3*n], block[3*n:4*n], block[4*n:5*n], block[5*n:]
	ax, ay, az, diagonal := a.off[0], a.off[1], a.off[2], a.diagonal

	// Modified incomplete Cholesky with the zero pattern of the matrix; pre
	// holds reciprocal pivots. Nearly all of the dropped fill-in goes to the
	// diagonal, which keeps the iterations growing as the square root of what
	// the plain factorisation needs.
	const keep = 0.97
	for i := range n {
		e := diagonal[i]
		if i >= 1 && ax[i-1] != 0 {
			g := ax[i-1]
			e -= g * (g + keep*(ay[i-1]+az[i-1])) * pre[i-1]
		}
		if i >= sy && ay[i-sy] != 0 {
			g := ay[i-sy]
			e -= g * (g + keep*(ax[i-sy]+az[i-sy])) * pre[i-sy]
		}
		if i >= sz && az[i-sz] != 0 {
			g := az[i-sz]
			e -= g * (g + keep*(ax[i-sz]+ay[i-sz])) * pre[i-sz]
		}
		// The matrix is diagonally dominant, so only rounding can take a pivot away.
		if !(e > 1e-12*diagonal[i]) {
			e = diagonal[i]
		}
		pre[i] = 1 / e
	}
	threeD := a.nz > 1
	precondition := func() {
		for i := range n {
			v := r[i]
			if i >= 1 {
				v += ax[i-1] * z[i-1]
			}
			if i >= sy {
				v += ay[i-sy] * z[i-sy]
			}
			if threeD && i >= sz {
				v += az[i-sz] * z[i-sz]
			}
			z[i] = v * pre[i]
		}
		for i := n - 1; i >= 0; i-- {
			v := 0.0
			if i+1 < n {
				v = ax[i] * z[i+1]
			}
			if i+sy < n {
				v += ay[i] * z[i+sy]
			}
			if threeD && i+sz < n {
				v += az[i] * z[i+sz]
			}
			z[i] += v * pre[i]
		}
	}
	multiply := func() {
		for i := range n {
			v := diagonal[i] * p[i]
			if i >= 1 {
				v -= ax[i-1] * p[i-1]
			}
			if i+1 < n {
				v -= ax[i] * p[i+1]
			}
			if i >= sy {
				v -= ay[i-sy] * p[i-sy]
			}
			if i+sy < n {
				v -= ay[i] * p[i+sy]
			}
			if threeD {
				if i >= sz {
					v -= az[i-sz] * p[i-sz]
				}
				if i+sz < n {
					v -= az[i] * p[i+sz]
				}
			}
			q[i] = v
		}
	}
	dot := func(u, v []float64) float64 {
		sum := 0.0
		for i := range u {
			sum += u[i] * v[i]
		}
		return sum
	}

	copy(r, a.rhs)
	norm := math.Sqrt(dot(r, r))
	if norm > 0 {
		precondition()
		copy(p, z)
		rz := dot(r, z)
		const rounds = 5000
		round := 0
		for ; round < rounds && math.Sqrt(dot(r, r)) > 1e-10*norm; round++ {
			multiply()
			alpha := rz / dot(p, q)
			for i := range n {
				x[i] += alpha * p[i]
				r[i] -= alpha * q[i]
			}
			precondition()
			next := dot(r, z)
			beta := next / rz
			rz = next
			for i := range n {
				p[i] = z[i] + beta*p[i]
			}
		}
		if round == rounds {
			return fmt.Errorf("wall: section of %d nodes not solved in %d iterations", n, rounds)
		}
	}
	for i := range n {
		if a.fixed[i] == 0 {
			a.t[i] = x[i]
		}
	}
	return nil
}

// field collects flows and temperatures.
func (a *assembly) field(s *Section) *Field {
	f := &Field{x: a.x, y: a.y, z: a.z, t: a.t, touches: a.touches, flow: make([]float64, len(s.Temperatures))}
	for e, g := range a.filmG {
		for n, v := range g {
			if v > 0 {
				f.flow[e] += v * (s.Temperatures[e] - a.t[n])
				// What a film feeds into a fixed node leaves to the node's own environment.
				if own := a.fixed[n]; own > 0 {
					f.flow[own-1] -= v * (s.Temperatures[e] - a.t[n])
				}
			}
		}
	}
	a.eachLink(func(axis, n, m int) {
		q := a.full[axis][n] * (a.t[n] - a.t[m])
		if e := a.fixed[n]; e > 0 {
			f.flow[e-1] += q
		}
		if e := a.fixed[m]; e > 0 {
			f.flow[e-1] -= q
		}
	})
	for n, in := range a.active {
		if !in {
			f.t[n] = math.NaN()
		}
	}
	return f
}

// Flow returns the heat that environment e gives to the solids [W; W/m in two
// dimensions].
func (f *Field) Flow(e int) float64 { return f.flow[e] }

// Nodes returns the number of nodes of the grid.
func (f *Field) Nodes() int { return len(f.t) }

// Temperature returns the temperature at a point of a solid [°C], linear
// between nodes; NaN outside of the grid and in a space. Points within 1e-9 m
// of a node take the node's temperature. z is not read in two dimensions.
func (f *Field) Temperature(x, y, z float64) float64 {
	i, u := bracket(f.x, x)
	j, v := bracket(f.y, y)
	k, w := 0, 0.0
	if len(f.z) > 1 {
		k, w = bracket(f.z, z)
	}
	if i < 0 || j < 0 || k < 0 {
		return math.NaN()
	}
	sum := 0.0
	for c := range 8 {
		di, dj, dk := c&1, c>>1&1, c>>2
		weight := mix(u, di) * mix(v, dj) * mix(w, dk)
		if weight > 0 {
			sum += weight * f.t[((k+dk)*len(f.y)+j+dj)*len(f.x)+i+di]
		}
	}
	return sum
}

func mix(u float64, upper int) float64 {
	if upper == 1 {
		return u
	}
	return 1 - u
}

// bracket finds the interval of lines that holds v and v's share in it, -1 if
// there is none.
func bracket(lines []float64, v float64) (i int, share float64) {
	const same = 1e-9 // [m]
	n := nearest(lines, v)
	if math.Abs(lines[n]-v) <= same {
		return n, 0
	}
	if v < lines[0] || v > lines[len(lines)-1] {
		return -1, 0
	}
	if lines[n] > v {
		n--
	}
	return n, (v - lines[n]) / (lines[n+1] - lines[n])
}

// SurfaceRange returns the lowest and the highest temperature of the surfaces
// that border on environment e [°C]; NaN if there are none.
func (f *Field) SurfaceRange(e int) (lowest, highest float64) {
	lowest, highest = math.NaN(), math.NaN()
	for n, q := range f.touches {
		if q == int32(e+1) {
			t := f.t[n]
			if !(t >= lowest) {
				lowest = t
			}
			if !(t <= highest) {
				highest = t
			}
		}
	}
	return lowest, highest
}

// Coupling returns the thermal coupling coefficient between environments a and
// b of the section [W/K; W/(m·K) in two dimensions, where it is L2D of ISO
// 10211]: the heat that a gives to b per kelvin between them, all other
// environments being as cold as b.
func (s *Section) Coupling(a, b int) (float64, error) {
	if a < 0 || b < 0 || a >= len(s.Temperatures) || b >= len(s.Temperatures) || a == b {
		return 0, fmt.Errorf("wall: coupling between environments %d and %d of %d", a, b, len(s.Temperatures))
	}
	unit := *s
	unit.Temperatures = make([]float64, len(s.Temperatures))
	unit.Temperatures[a] = 1
	f, err := unit.Solve()
	if err != nil {
		return 0, err
	}
	return -f.Flow(b), nil
}
