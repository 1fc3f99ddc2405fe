package main

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strconv"
)

// network is a linear network of heat and the weather that drives it:
//
//	C_i dT_i/dt = - sum_j K_ij T_j + sum_k B_ik u_k(t)
//
// with inputs u that run straight from one full hour to the next. It is handed to
// both solvers as one text file:
//
//	hackle-network 1
//	nodes 46 entries 156 drives 14 inputs 3 hours 8760
//	node 756 12.5 body        C [J/K], T at the start [°C], air or body
//	entry 0 0 5.07            row, column and value of K [W/K], by rows
//	drive 0 0 1.66            row, input and value of B [W per unit of the input]
//	at 0 4.2 0 18             the inputs at full hour 0, 1, ... hours
//
// with nothing else in it and numbers to 17 digits. Nodes count from 0 and follow
// each other so that the entries lie near the diagonal.
type network struct {
	Node   []node
	Entry  []entry // of K, by rows, the diagonal among them
	Drive  []entry // of B
	Input  [][]float64
	Inputs int
}

// node is one temperature.
type node struct {
	Capacity float64 // [J/K]
	Start    float64 // [°C]
	Air      bool    // of the air: carried on by steps of first order, as the engine does
}

// entry is a coefficient of a matrix.
type entry struct {
	Row, Column int
	Value       float64
}

// hours is the span of the weather.
func (n *network) hours() int { return len(n.Input) - 1 }

// pairs are the couplings of K.
func (n *network) pairs() [][2]int {
	var p [][2]int
	for _, e := range n.Entry {
		if e.Column < e.Row {
			p = append(p, [2]int{e.Row, e.Column})
		} else if e.Column > e.Row {
			p = append(p, [2]int{e.Column, e.Row})
		}
	}
	return p
}

// band is the greatest distance of an entry from the diagonal.
func (n *network) band() int {
	most := 0
	for _, e := range n.Entry {
		most = max(most, e.Row-e.Column, e.Column-e.Row)
	}
	return most
}

// sum adds up the entries in one place and puts them in order.
func sum(entries []entry) []entry {
	slices.SortStableFunc(entries, func(a, b entry) int {
		if a.Row != b.Row {
			return a.Row - b.Row
		}
		return a.Column - b.Column
	})
	out := entries[:0]
	for _, e := range entries {
		if n := len(out); n > 0 && out[n-1].Row == e.Row && out[n-1].Column == e.Column {
			out[n-1].Value += e.Value
			continue
		}
		out = append(out, e)
	}
	return out
}

// narrowed returns the network renumbered so that its band is narrow, which is what
// a band solver asks for. Every node is tried as the first of a Cuthill-McKee
// numbering.
func (n *network) narrowed() *network {
	order := len(n.Node)
	near := make([][]int, order)
	for _, p := range n.pairs() {
		near[p[0]], near[p[1]] = append(near[p[0]], p[1]), append(near[p[1]], p[0])
	}
	for i := range near {
		slices.Sort(near[i])
		near[i] = slices.Compact(near[i])
	}
	best := make([]int, order)
	for i := range best {
		best[i] = i
	}
	bandOf := func(place []int) int {
		most := 0
		for i, others := range near {
			for _, j := range others {
				most = max(most, place[i]-place[j])
			}
		}
		return most
	}
	least := bandOf(best)
	for first := range order {
		place := make([]int, order)
		for i := range place {
			place[i] = -1
		}
		queue := []int{first}
		place[first] = 0
		for done := 0; done < len(queue); done++ {
			next := slices.Clone(near[queue[done]])
			slices.SortStableFunc(next, func(a, b int) int { return len(near[a]) - len(near[b]) })
			for _, j := range next {
				if place[j] < 0 {
					place[j] = len(queue)
					queue = append(queue, j)
				}
			}
		}
		if len(queue) < order {
			break // in several pieces: the numbering given will do
		}
		if b := bandOf(place); b < least {
			best, least = place, b
		}
	}
	m := &network{Node: make([]node, order), Input: n.Input, Inputs: n.Inputs}
	for i, p := range best {
		m.Node[p] = n.Node[i]
	}
	for _, e := range n.Entry {
		m.Entry = append(m.Entry, entry{best[e.Row], best[e.Column], e.Value})
	}
	for _, e := range n.Drive {
		m.Drive = append(m.Drive, entry{best[e.Row], e.Column, e.Value})
	}
	m.Entry, m.Drive = sum(m.Entry), sum(m.Drive)
	return m
}

// write writes the text form.
func (n *network) write(w io.Writer) error {
	out := bufio.NewWriter(w)
	num := func(v float64) string { return strconv.FormatFloat(v, 'g', 17, 64) }
	fmt.Fprintf(out, "hackle-network 1\nnodes %d entries %d drives %d inputs %d hours %d\n", len(n.Node), len(n.Entry), len(n.Drive), n.Inputs, n.hours())
	for _, x := range n.Node {
		kind := "body"
		if x.Air {
			kind = "air"
		}
		fmt.Fprintf(out, "node %s %s %s\n", num(x.Capacity), num(x.Start), kind)
	}
	for _, e := range n.Entry {
		fmt.Fprintf(out, "entry %d %d %s\n", e.Row, e.Column, num(e.Value))
	}
	for _, e := range n.Drive {
		fmt.Fprintf(out, "drive %d %d %s\n", e.Row, e.Column, num(e.Value))
	}
	for h, u := range n.Input {
		fmt.Fprintf(out, "at %d", h)
		for _, v := range u {
			fmt.Fprintf(out, " %s", num(v))
		}
		fmt.Fprintln(out)
	}
	return out.Flush()
}

// read reads the text form.
func read(r io.Reader) (*network, error) {
	in := bufio.NewReader(r)
	var version, nodes, entries, drives, hours int
	n := &network{}
	if _, err := fmt.Fscanf(in, "hackle-network %d\nnodes %d entries %d drives %d inputs %d hours %d\n", &version, &nodes, &entries, &drives, &n.Inputs, &hours); err != nil {
		return nil, fmt.Errorf("head of the network: %w", err)
	}
	if version != 1 {
		return nil, fmt.Errorf("network of version %d, this program reads 1", version)
	}
	if nodes < 1 || entries < 1 || drives < 0 || n.Inputs < 1 || hours < 1 || max(nodes, entries, drives, n.Inputs, hours) > 1<<24 {
		return nil, fmt.Errorf("impossible head of the network: %d nodes, %d entries, %d drives, %d inputs, %d hours", nodes, entries, drives, n.Inputs, hours)
	}
	for i := range nodes {
		var x node
		var kind string
		if _, err := fmt.Fscanf(in, "node %g %g %s\n", &x.Capacity, &x.Start, &kind); err != nil {
			return nil, fmt.Errorf("node %d: %w", i, err)
		}
		if kind != "air" && kind != "body" || !(x.Capacity > 0) {
			return nil, fmt.Errorf("node %d: capacity %g J/K, kind %q; a capacity above 0 and air or body are accepted", i, x.Capacity, kind)
		}
		x.Air = kind == "air"
		n.Node = append(n.Node, x)
	}
	list := func(word string, count, columns int) ([]entry, error) {
		var out []entry
		for i := range count {
			var e entry
			if _, err := fmt.Fscanf(in, word+" %d %d %g\n", &e.Row, &e.Column, &e.Value); err != nil {
				return nil, fmt.Errorf("%s %d: %w", word, i, err)
			}
			if e.Row < 0 || e.Row >= nodes || e.Column < 0 || e.Column >= columns {
				return nil, fmt.Errorf("%s %d: (%d,%d) lies outside %d by %d", word, i, e.Row, e.Column, nodes, columns)
			}
			out = append(out, e)
		}
		return out, nil
	}
	var err error
	if n.Entry, err = list("entry", entries, nodes); err != nil {
		return nil, err
	}
	if n.Drive, err = list("drive", drives, n.Inputs); err != nil {
		return nil, err
	}
	for h := range hours + 1 {
		var at int
		if _, err := fmt.Fscanf(in, "at %d", &at); err != nil || at != h {
			return nil, fmt.Errorf("hour %d: found %d, %v", h, at, err)
		}
		u := make([]float64, n.Inputs)
		for k := range u {
			if _, err := fmt.Fscan(in, &u[k]); err != nil {
				return nil, fmt.Errorf("hour %d, input %d: %w", h, k, err)
			}
		}
		if _, err := in.ReadString('\n'); err != nil {
			return nil, fmt.Errorf("hour %d: %w", h, err)
		}
		n.Input = append(n.Input, u)
	}
	return n, nil
}
