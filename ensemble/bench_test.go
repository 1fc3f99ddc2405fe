package ensemble

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"testing"
)

// BenchmarkBatchScaling tells how a batch scales over cores when its tasks only
// compute: the time of one task on one worker over workers times the time on all of
// them. Run it on a machine that does nothing else.
func BenchmarkBatchScaling(b *testing.B) {
	task := func(_ context.Context, i int) ([]float64, error) {
		x := float64(i)
		for range 1_000_000 {
			x = math.Sin(x) + 1
		}
		return []float64{x}, nil
	}
	one := 0.0
	for workers := 1; workers <= runtime.GOMAXPROCS(0); workers *= 2 {
		b.Run(fmt.Sprintf("workers=%d", workers), func(b *testing.B) {
			for b.Loop() {
				if _, err := (Batch{Count: 64, Columns: 1, Evaluate: task, Workers: workers}).Run(b.Context()); err != nil {
					b.Fatal(err)
				}
			}
			each := b.Elapsed().Seconds() / float64(b.N)
			if workers == 1 {
				one = each
			}
			b.ReportMetric(one/each/float64(workers), "of-ideal")
		})
	}
}
