// Command bench measures what the engine's time steps and cells leave: it runs the
// hives of the benchmark once as everybody does, once with a tenth of the step, and
// once with twice the cells as well, and prints the differences as a Markdown table.
//
//	go run ./bench > table.md
//
// Times are those of the benchmark suite, go test ./season -bench Suite.
package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"os/signal"
	"runtime"
	"sync"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/examples"
	"hackle/hive"
	"hackle/season"
	"hackle/wall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := write(ctx, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}

// task is one hive of the benchmark through one span of weather.
type task struct {
	hive, weather string
	from          time.Time
	days          int
}

func tasks() []task {
	autumn := time.Date(2025, 10, 15, 0, 0, 0, 0, time.UTC)
	spring := time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)
	return []task{
		{"two-deep-low-entrance", "burlington-vt", autumn, 180},
		{"two-deep-top-vent", "burlington-vt", autumn, 180},
		{"insulated-walls", "burlington-vt", autumn, 180},
		{"long-hive", "burlington-vt", autumn, 180},
		{"two-deep-wool-lid", "burlington-vt", spring, 180},
		{"summer-flow", "phoenix-az", spring, 150},
	}
}

// variant is one way to cut time and space.
type variant struct{ steps, cells int }

func variants() []variant {
	n := season.DefaultStepsPerHour
	return []variant{{1, 1}, {n, 1}, {10 * n, 1}, {10 * n, 2}}
}

// write prints the table.
func write(ctx context.Context, out io.Writer) error {
	fmt.Fprintln(out, "| hive | run | air, RMS and most [K] | nest air, RMS [K] | honey burned [%] | condensed, all faces [kg] | against |")
	fmt.Fprintln(out, "|---|---|---|---|---|---|---|")
	for _, t := range tasks() {
		traces, err := t.run(ctx)
		if err != nil {
			return fmt.Errorf("%s: %w", t.hive, err)
		}
		step, grid := traces[2], traces[3]
		for i, row := range []struct {
			name     string
			run, ref *season.Trace
			against  string
		}{
			{"1 step an hour", traces[0], step, "a tenth of the usual step"},
			{"as usual", traces[1], step, "a tenth of the step"},
			{"as usual", traces[1], grid, "a tenth of the step, twice the cells"},
		} {
			name := t.hive
			if i > 0 {
				name = ""
			}
			rms, most := differ(row.run.Get("air.mean"), row.ref.Get("air.mean"))
			nest, _ := differ(row.run.Get("bees.air"), row.ref.Get("bees.air"))
			honey := 100 * (row.run.Totals.HoneyEaten/row.ref.Totals.HoneyEaten - 1)
			fmt.Fprintf(out, "| %s | %s | %.3f, %.2f | %.3f | %+.2f | %.3f and %.3f | %s |\n", name, row.name, rms, most, nest, honey,
				row.run.Totals.Settled.Sum(), row.ref.Totals.Settled.Sum(), row.against)
		}
	}
	return nil
}

// run computes the variants side by side.
func (t task) run(ctx context.Context) ([]*season.Trace, error) {
	file, err := examples.Files().Open(t.hive + ".yaml")
	if err != nil {
		return nil, err
	}
	defer file.Close()
	plan, err := hive.Decode(t.hive, file)
	if err != nil {
		return nil, err
	}
	whole, err := climate.Builtin(t.weather)
	if err != nil {
		return nil, err
	}
	from := time.Date(t.from.Year(), t.from.Month(), t.from.Day(), 0, 0, 0, 0, whole.Location())
	w, err := whole.Window(from, from.AddDate(0, 0, t.days))
	if err != nil {
		return nil, err
	}
	joints := &wall.Cache{}
	kinds := variants()
	traces, errs := make([]*season.Trace, len(kinds)), make([]error, len(kinds))
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	var wait sync.WaitGroup
	for i, v := range kinds {
		wait.Go(func() {
			free <- struct{}{}
			defer func() { <-free }()
			traces[i], errs[i] = season.Run(ctx, season.Input{Plan: plan, Weather: w, Biology: colony.DefaultBiology(), Joints: joints,
				StepsPerHour: v.steps, Cells: v.cells}, nil)
		})
	}
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return traces, nil
}

// differ is the root mean square and the largest difference of two channels.
func differ(a, b []float64) (rms, most float64) {
	for i, v := range a {
		d := math.Abs(v - b[i])
		rms += d * d
		most = max(most, d)
	}
	return math.Sqrt(rms / float64(len(a))), most
}
