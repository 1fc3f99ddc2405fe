package season

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/hive"
)

func TestScratchAcc(t *testing.T) {
	w, _ := climate.Builtin("burlington-vt")
	zone := w.Start.Location()
	win, _ := w.Window(time.Date(2025, 12, 1, 0, 0, 0, 0, zone), time.Date(2026, 1, 10, 0, 0, 0, 0, zone))
	for _, f := range []string{"two-deep-low-entrance", "insulated-walls", "national-mesh-floor"} {
		p, _ := hive.DecodeFile("../examples/" + f + ".yaml")
		ref, err := Run(context.Background(), Input{Plan: p, Weather: win, Biology: colony.DefaultBiology(), StepsPerHour: 20}, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range []int{1, 2, 4} {
			t0 := time.Now()
			tr, _ := Run(context.Background(), Input{Plan: p, Weather: win, Biology: colony.DefaultBiology(), StepsPerHour: n}, nil)
			d := time.Since(t0)
			s := ""
			for _, c := range []string{"air.under_lid", "air.mean", "bees.air", "bees.heat", "water.walls"} {
				a, b := tr.Get(c), ref.Get(c)
				e, m := 0.0, 0.0
				for i := range a {
					x := math.Abs(a[i] - b[i])
					e += x * x
					m = max(m, x)
				}
				s += fmt.Sprintf(" %s %.3f (%.2f)", c, math.Sqrt(e/float64(len(a))), m)
			}
			fmt.Println(f, n, d, fmt.Sprintf("honey %.4f ref %.4f unready %d rounds %.1f newton %.1f", tr.Totals.HoneyEaten, ref.Totals.HoneyEaten, tr.Stats.Unready, float64(tr.Stats.Rounds)/float64(tr.Stats.Steps), float64(tr.Stats.Newton)/float64(tr.Stats.Rounds)), s)
		}
	}
}
