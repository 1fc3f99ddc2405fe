// Command solver holds the engine's way through time against a general solver of
// stiff equations, CVODE, on one and the same linear network of heat, and prints
// time and error of both as Markdown tables. bench/compare.sh builds what it needs
// and runs it.
//
//	go run ./bench/solver -cvode PROGRAM
package main

import (
	"context"
	"encoding/binary"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

func main() {
	program := flag.String("cvode", "", "the program built from bench/cvode/cvode.c")
	runs := flag.Int("runs", 7, "runs of which the median is told")
	weather := flag.String("weather", "burlington-vt", "built-in year")
	detail := flag.Bool("detail", false, "also print every way of CVODE that was tried, to standard error")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if *program == "" || *runs < 1 {
		fmt.Fprintln(os.Stderr, "solver: need -cvode PROGRAM, and at least one run; see bench/compare.sh")
		os.Exit(2)
	}
	if err := compare(ctx, os.Stdout, *program, *weather, *runs, *detail); err != nil {
		fmt.Fprintln(os.Stderr, "solver:", err)
		os.Exit(1)
	}
}

// compare prints one table for every network.
func compare(ctx context.Context, out io.Writer, program, weather string, runs int, detail bool) error {
	dir, err := os.MkdirTemp("", "hackle-solver")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	for _, c := range []struct {
		name string
		make func() (*network, error)
	}{
		{"box of 46 nodes", func() (*network, error) { return box("season/testdata/network46.json", weather) }},
		{"two-deep-low-entrance, frozen on 15 January", func() (*network, error) { return frozen(ctx, "two-deep-low-entrance", weather) }},
	} {
		n, err := c.make()
		if err != nil {
			return fmt.Errorf("%s: %w", c.name, err)
		}
		b := &bench{ctx: ctx, program: program, dir: dir, file: filepath.Join(dir, "network.txt"), runs: runs, detail: detail}
		if err := b.handOver(n); err != nil {
			return fmt.Errorf("%s: %w", c.name, err)
		}
		if err := b.table(out, c.name); err != nil {
			return fmt.Errorf("%s: %w", c.name, err)
		}
	}
	return nil
}

// bench compares the solvers on one network.
type bench struct {
	ctx       context.Context
	program   string
	dir, file string
	runs      int
	detail    bool
	n         *network
	reference []float64
}

// handOver writes the network and reads it back, so that both solve the same file.
func (b *bench) handOver(n *network) error {
	f, err := os.Create(b.file)
	if err != nil {
		return err
	}
	if err := n.write(f); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if f, err = os.Open(b.file); err != nil {
		return err
	}
	defer f.Close()
	b.n, err = read(f)
	return err
}

// way is one way to run CVODE.
type way struct {
	solver, mode string
	order        int
	tolerance    float64
}

// result is what a run took and left.
type result struct {
	way
	seconds, least    float64 // of processor time, median and least
	steps, setups     int
	rms, most, airRMS float64 // [K]
	temperatures      []float64
}

// solve runs CVODE.
func (b *bench) solve(w way, runs int) (*result, error) {
	path := filepath.Join(b.dir, "temperatures")
	cmd := exec.CommandContext(b.ctx, b.program, b.file, w.solver, w.mode, strconv.Itoa(w.order), strconv.FormatFloat(w.tolerance, 'g', -1, 64), strconv.Itoa(runs), path)
	var complaint strings.Builder
	cmd.Stderr = &complaint
	said, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("%v: %w: %s", cmd.Args, err, complaint.String())
	}
	r := &result{way: w}
	var evals, jacobians, iterations, fails int
	if _, err := fmt.Sscan(string(said), &r.seconds, &r.least, &r.steps, &evals, &r.setups, &jacobians, &iterations, &fails); err != nil {
		return nil, fmt.Errorf("%v said %q: %w", cmd.Args, said, err)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r.temperatures = make([]float64, len(b.n.Node)*len(b.n.Input))
	if err := binary.Read(f, binary.LittleEndian, r.temperatures); err != nil {
		return nil, err
	}
	if b.reference != nil {
		r.rms, r.most, r.airRMS = b.differ(r.temperatures)
	}
	return r, nil
}

// differ holds hourly temperatures against the reference: over all nodes, and the
// air's alone.
func (b *bench) differ(t []float64) (rms, most, airRMS float64) {
	air := 0
	for i, v := range t {
		d := v - b.reference[i]
		rms += d * d
		most = max(most, math.Abs(d))
		if b.n.Node[i%len(b.n.Node)].Air {
			airRMS += d * d
			air++
		}
	}
	return math.Sqrt(rms / float64(len(t))), most, math.Sqrt(airRMS / float64(max(air, 1)))
}

// own runs hackle's scheme.
func (b *bench) own(v variant) (*result, error) {
	s, err := newScheme(b.n, v)
	if err != nil {
		return nil, err
	}
	r := &result{temperatures: make([]float64, len(b.n.Node)*len(b.n.Input)), steps: b.n.hours() * v.each}
	var took []float64
	for range b.runs {
		begin := processorTime()
		if err := s.run(r.temperatures); err != nil {
			return nil, err
		}
		took = append(took, (processorTime() - begin).Seconds())
	}
	slices.Sort(took)
	r.seconds, r.least, r.setups = took[len(took)/2], took[0], 2
	if v.anew {
		r.setups = r.steps
	}
	r.rms, r.most, r.airRMS = b.differ(r.temperatures)
	return r, nil
}

// measure is an error that both solvers are brought to.
type measure struct {
	name string
	of   func(*result) float64
}

// coarsest finds the coarsest tolerance, twelve to a decade, with which CVODE errs
// no more than target [K].
func (b *bench) coarsest(w way, m measure, target float64) (*result, error) {
	try := func(i int) (*result, error) {
		w.tolerance = math.Pow(10, -0.25-float64(i)/12)
		return b.solve(w, 1)
	}
	for i := 0; i < 90; i += 3 {
		r, err := try(i)
		if err != nil {
			return nil, err
		}
		if m.of(r) > target {
			continue
		}
		for k := max(0, i-2); k < i; k++ {
			finer, err := try(k)
			if err != nil {
				return nil, err
			}
			if m.of(finer) <= target {
				return finer, nil
			}
		}
		return r, nil
	}
	return nil, fmt.Errorf("CVODE does not come within %g K", target)
}

// table prints time and error of every way.
func (b *bench) table(out io.Writer, name string) error {
	const tight = 1e-10
	reference, err := b.solve(way{"klu", "stop", 5, tight}, 1)
	if err != nil {
		return err
	}
	b.reference = reference.temperatures
	_, apart, _ := b.differ(b.n.exact())
	type line struct {
		name string
		variant
		*result
	}
	lines := []line{
		{name: "steps of half an hour", variant: variant{each: 2}},
		{name: "steps of an hour", variant: variant{each: 1}},
		{name: "steps of a quarter of an hour", variant: variant{each: 4}},
		{name: "half an hour, factored anew in each step", variant: variant{each: 2, anew: true}},
		{name: "half an hour, the air by second order too", variant: variant{each: 2, second: true}},
	}
	for i := range lines {
		if lines[i].result, err = b.own(lines[i].variant); err != nil {
			return err
		}
	}
	m, err := newScheme(b.n, variant{each: 1})
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "### %s\n\n%d nodes, %d entries, half-band %d, profile %d; %d hours. Reference: CVODE, relative tolerance %g, %d steps; it and the exact solution by the matrix exponential are at most %.1g K apart.\n\n",
		name, len(b.n.Node), len(b.n.Entry), b.n.band(), m.shape.Size(), b.n.hours(), tight, reference.steps, apart)
	fmt.Fprintln(out, "| solver | way | errs no more than | relative tolerance | steps | factorings | RMS, all nodes [K] | most [K] | RMS, air [K] | processor time [ms] | times hackle's |")
	fmt.Fprintln(out, "|---|---|---|---|---|---|---|---|---|---|---|")
	row := func(solver, way, as string, r *result, ratio float64) {
		tolerance, times := "", ""
		if r.tolerance > 0 {
			tolerance = fmt.Sprintf("%.1e", r.tolerance)
		}
		if ratio > 0 {
			times = fmt.Sprintf("%.1f", ratio)
		}
		fmt.Fprintf(out, "| %s | %s | %s | %s | %d | %d | %.4f | %.3f | %.4f | %.1f | %s |\n", solver, way, as, tolerance, r.steps, r.setups, r.rms, r.most, r.airRMS, 1000*r.seconds, times)
	}
	for _, l := range lines {
		row("hackle", l.name, "", l.result, 0)
	}
	for _, l := range lines[:2] {
		for _, m := range []measure{
			{"all nodes", func(r *result) float64 { return r.rms }},
			{"air", func(r *result) float64 { return r.airRMS }},
		} {
			if err := b.match(l.result, m, func(r *result) {
				row("CVODE "+r.solver, fmt.Sprintf("%s, order up to %d", modes[r.mode], r.order), "hackle in "+l.name+", "+m.name, r, r.seconds/l.seconds)
			}); err != nil {
				return err
			}
		}
	}
	fmt.Fprintln(out)
	return nil
}

// match finds the fastest way of CVODE with each linear solver that errs no more
// than own, and tells it.
func (b *bench) match(own *result, m measure, tell func(*result)) error {
	// The error hangs on the linear solver by rounding alone: the tolerances are
	// found with one and hold for all.
	var ways []way
	for _, mode := range []string{"over", "stop", "anew"} {
		for _, order := range []int{2, 5} {
			r, err := b.coarsest(way{"klu", mode, order, 0}, m, m.of(own))
			if err != nil {
				return err
			}
			ways = append(ways, r.way)
		}
	}
	for _, solver := range []string{"klu", "band", "dense"} {
		var best *result
		for _, w := range ways {
			w.solver = solver
			r, err := b.solve(w, 1)
			if err != nil {
				return err
			}
			if b.detail {
				fmt.Fprintf(os.Stderr, "%s %s, order %d, tolerance %.1e: %d steps, %d set-ups, %.4f K against %.4f K (%s), %.1f ms\n", solver, w.mode, w.order, w.tolerance, r.steps, r.setups, m.of(r), m.of(own), m.name, 1000*r.seconds)
			}
			if best == nil || r.seconds < best.seconds {
				best = r
			}
		}
		// Dense factoring takes long: what was best for the band is taken for it.
		if solver == "band" {
			ways = []way{best.way}
		}
		best, err := b.solve(best.way, b.runs)
		if err != nil {
			return err
		}
		tell(best)
	}
	return nil
}

// modes names what CVODE does at the hours.
var modes = map[string]string{"over": "stepping over the hours", "stop": "a step ends at each hour", "anew": "begun anew each hour"}
