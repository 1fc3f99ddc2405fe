package season

import (
	"context"
	"testing"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/hive"
	"hackle/wall"
)

// BenchmarkSuite times the engine on a fixed set: a stacked hive, one insulated all
// round and a long hive, through 200 winter days and a whole year, with and without
// the water of the shell, on one core. docs/speed.md says how to compare two states
// of the code.
func BenchmarkSuite(b *testing.B) {
	year, err := climate.Builtin("burlington-vt")
	if err != nil {
		b.Fatal(err)
	}
	start := time.Date(2025, 10, 1, 0, 0, 0, 0, year.Location())
	for _, name := range []string{"two-deep-low-entrance", "insulated-walls", "long-hive"} {
		p, err := hive.DecodeFile("../examples/" + name + ".yaml")
		if err != nil {
			b.Fatal(err)
		}
		for _, span := range []struct {
			name string
			days int
		}{{"winter", 200}, {"year", 365}} {
			w, err := year.Window(start, start.AddDate(0, 0, span.days))
			if err != nil {
				b.Fatal(err)
			}
			for _, shell := range []struct {
				name  string
				ideal Ideal
			}{{"moist", Ideal{}}, {"dry", Ideal{NoSorption: true}}} {
				b.Run(name+"/"+span.name+"/"+shell.name, func(b *testing.B) {
					joints := &wall.Cache{}
					b.ReportAllocs()
					var stats Stats
					for b.Loop() {
						tr, err := Run(context.Background(), Input{Plan: p, Weather: w, Biology: colony.DefaultBiology(), Joints: joints, Ideal: shell.ideal}, nil)
						if err != nil {
							b.Fatal(err)
						}
						stats = tr.Stats
					}
					perYear := 365 / float64(span.days)
					b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N)*perYear, "ms/hive-year")
					b.ReportMetric(float64(stats.Steps), "steps/op")
					b.ReportMetric(float64(stats.Rounds)/float64(stats.Steps), "rounds/step")
					b.ReportMetric(float64(stats.Newton)/float64(stats.Rounds), "flow-solves/round")
				})
			}
		}
	}
}
