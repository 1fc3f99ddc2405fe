package season

import (
	"fmt"
	"testing"
	"time"

	"hackle/hive"
	"hackle/wall"
)

func cfdPlan(u, ulid float64, comb, vent bool) hive.Plan {
	layer := func(u float64) []hive.Layer { return []hive.Layer{{Thickness: 0.02, Resistance: 1/u - 1./25}} }
	var p hive.Plan
	p.Hive.Name = "cfd"
	b := hive.Body{Length: .465, Width: .370, Height: .480, TopSpace: .02}
	for i := range b.Walls {
		b.Walls[i] = layer(u)
	}
	if comb {
		b.Frames = hive.Frames{Count: 10, Length: .43, Depth: .44, Pitch: .035, CombThickness: .025, DrawnShare: 1, HoneyPerFrame: 3}
	}
	p.Hive.Bodies = []hive.Body{b}
	p.Hive.Floor.Layers = layer(u)
	p.Hive.Lid.Layers = layer(ulid)
	p.Hive.Openings = []hive.Opening{{Name: "entrance", Face: hive.Front, Sill: 0, Width: .15, Height: .015, Count: 1, Depth: .02, Shape: hive.Slot}}
	if vent {
		p.Hive.Openings = append(p.Hive.Openings, hive.Opening{Name: "vent", Face: hive.Front, Sill: .45, Width: .025, Height: .02, Count: 1, Depth: .02, Shape: hive.Slot})
	}
	return p
}

func TestScratchCFD(t *testing.T) {
	for _, c := range []struct {
		n      string
		u, l   float64
		comb   bool
		vent   bool
		expect string
	}{
		{"E1", 2.6, 2.6, false, false, "13.3 | 10.1/5.8/0.6/0.1 mean 5.7 wd 219 - walls 12.1"},
		{"E2", 2.6, 2.6, false, true, "12.1 | 8.8/4.3/0.1/0 mean 4.7 wd 203 0.128 1.65"},
		{"E3", .6, .3, false, false, "39.7 | 35.7/28.7/7.6/1.7 mean 23.0 wd 292"},
		{"E4", .6, .3, false, true, "25.1 | 21.4/13.0/0.1/0 mean 11.5 wd 243 0.203 5.75"},
		{"C1", 2.6, 2.6, true, false, "15.6 | 9.2/6.2/3.0/0.5 mean 6.5 wd 196 lid 4.75 side 3.96"},
		{"C2", 2.6, 2.6, true, true, "14.2 | 7.6/4.9/2.1/0.2 mean 5.4 wd 183 0.125 2.08"},
	} {
		in := HeaterInput{Plan: cfdPlan(c.u, c.l, c.comb, c.vent), Date: time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC), Watts: 12, Outside: -5, Humidity: 0.5,
			Ideal: Ideal{NoRadiation: true, NoEdges: true, Tight: true, NoUpright: true, OuterFilm: 25}}
		if c.comb {
			in.Size, in.Height, in.Width = .22, .2, .22
		}
		r, err := Heater(in, &wall.Cache{})
		if err != nil {
			fmt.Println(c.n, err)
			continue
		}
		at := func(f float64) float64 { return airAt(r.Levels, f*.48) + 5 }
		fmt.Printf("%s got  %.1f | %.1f/%.1f/%.1f/%.1f mean %.1f wd %.0f rounds %d closure %.2g loss %.2f films %v\n", c.n, r.UnderLid+5, at(.75), at(.5), at(.25), at(.05), r.MeanAir+5, r.WarmDepth*1000, r.Rounds, r.Closure, r.Loss, r.Films)
		fmt.Printf("   ref  %s\n   ", c.expect)
		for _, o := range r.Openings {
			fmt.Printf(" %s in %.3f out %.3f L/s %.2f W;", o.Name, o.In*1000, o.Out*1000, o.Heat)
		}
		fmt.Println()
		if testing.Verbose() {
			for _, l := range r.Levels {
				fmt.Printf("     %.0f: %.1f %.1f %.1f\n", l.Height*1000, l.Core+5, l.Flank+5, l.Mean+5)
			}
		}
	}
}
