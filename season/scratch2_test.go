package season

import (
	"context"
	"fmt"
	"os"
	"testing"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/hive"
)

func TestScratchYear(t *testing.T) {
	w, err := climate.Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	zone := w.Start.Location()
	win, err := w.Window(time.Date(2025, 10, 15, 0, 0, 0, 0, zone), time.Date(2026, 5, 3, 0, 0, 0, 0, zone))
	if err != nil {
		t.Fatal(err)
	}
	files := []string{"two-deep-low-entrance", "two-deep-top-vent", "two-deep-wool-lid", "insulated-walls", "long-hive", "national-mesh-floor", "warre"}
	if f := os.Getenv("F"); f != "" {
		files = []string{f}
	}
	for _, f := range files {
		p, err := hive.DecodeFile("../examples/" + f + ".yaml")
		if err != nil {
			fmt.Println(err)
			continue
		}
		t0 := time.Now()
		tr, err := Run(context.Background(), Input{Plan: p, Weather: win, Biology: colony.DefaultBiology()}, nil)
		if err != nil {
			fmt.Println(f, err)
			continue
		}
		fmt.Printf("%s %v %+v\n", f, time.Since(t0), tr.Stats)
		T := tr.Totals
		fmt.Printf("  closure %+v\n  honey %.2f eaten %.2f end %.2f; heat MJ %.1f lost %.1f walls %.1f lid %.1f floor %.1f edges %.1f open %.1f cracks %.1f\n", T.Closure(), T.HoneyStart, T.HoneyEaten, T.HoneyEnd, T.BeesHeat/1e6, T.Lost.Sum()/1e6, T.Lost.Walls, T.Lost.Lid/1e6, T.Lost.Floor/1e6, T.Lost.Edges/1e6, T.Lost.Openings, T.Lost.Cracks/1e6)
		fmt.Printf("  water made %.2f in %.2f out %.2f settled %.2f dried %.2f lying %.2f drip %.2f (%.2f) ran %.2f drained %.2f\n", T.VapourMade, T.VapourIn, T.VapourOut, T.Settled, T.Dried, T.Lying, T.Dripped, T.DrippedCore, T.RanDown, T.Drained)
		fmt.Println("  warn", tr.Warnings, tr.Events)
		names := []string{"outdoor.temp", "bees.heat", "bees.core", "bees.mantle", "bees.air", "bees.mass", "bees.sealed", "bees.radius", "bees.height", "air.under_lid", "air.at_floor", "air.mean", "humidity.under_lid", "humidity.at_cluster", "co2.at_cluster", "honey.left", "honey.reach", "bees.fanned", "air.out", "water.lid", "water.walls"}
		fmt.Printf("%12s", "")
		for _, n := range names {
			fmt.Printf("%9.9s", n[len(n)-min(9, len(n)):])
		}
		fmt.Println()
		for h0 := 0; h0 < tr.Hours; h0 += 24 * 14 {
			h1 := min(tr.Hours, h0+24*14)
			fmt.Printf("%s ", tr.Time(h0).Format("2006-01-02"))
			for _, n := range names {
				s := 0.0
				for _, v := range tr.Get(n)[h0:h1] {
					s += v
				}
				fmt.Printf(" %8.4g", s/float64(h1-h0))
			}
			fmt.Println()
		}
	}
}
