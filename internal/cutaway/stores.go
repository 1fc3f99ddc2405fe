package cutaway

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"hackle/hive"
	"hackle/season"
)

// stores lays the honey of a trace into the combs. The trace weighs the combs of
// every body and column at midnight; within a body it lies as bees store it, from
// the top of the combs downward. An hour in which the trace says that none is in
// contact with the cluster is drawn so, as far as the body has other room.
type stores struct {
	slabs    []season.Slab
	bodies   []int       // of every slab
	capacity [][]float64 // by column and slab [kg]
}

// column indexes follow season.Trace.Columns.
const (
	core = iota
	flank
	beyond
)

// newStores shares out the combs of a hive: of the frames on the bees' side, the
// core has those that fit its breadth, over the middle part of their length.
func newStores(h *hive.Hive, slabs []season.Slab, columns int, breadth float64) *stores {
	s := &stores{slabs: slabs, bodies: make([]int, len(slabs))}
	for range columns {
		s.capacity = append(s.capacity, make([]float64, len(slabs)))
	}
	for k, slab := range slabs {
		if !slab.Comb {
			continue
		}
		i := h.BodyAt((slab.Bottom + slab.Top) / 2)
		s.bodies[k] = i
		f := h.Bodies[i].Frames
		if f.Count == 0 || f.Depth <= 0 || f.Length <= 0 {
			continue
		}
		one := f.HoneyPerFrame * f.DrawnShare * (slab.Top - slab.Bottom) / f.Depth
		bees := float64(f.Count)
		if w := followerOf(h, i); w != nil {
			bees = float64(min(w.Frames, f.Count))
			if columns > beyond {
				s.capacity[beyond][k] = one * (float64(f.Count) - bees)
			}
		}
		inCore := coreCombs(f, bees, breadth) * min(1, breadth/f.Length)
		s.capacity[core][k] = one * inCore
		if columns > flank {
			s.capacity[flank][k] = one * (bees - inCore)
		}
	}
	return s
}

// coreCombs is how many whole combs the core spans.
func coreCombs(f hive.Frames, bees, breadth float64) float64 {
	return max(1, min(math.Round(breadth/f.Pitch), max(1, bees-2)))
}

func followerOf(h *hive.Hive, body int) *hive.Follower {
	for i := range h.Followers {
		if h.Followers[i].Body == body {
			return &h.Followers[i]
		}
	}
	return nil
}

// touched is the share of a slab's core that the cluster covers.
func (s *stores) touched(k int, centre, radius float64) float64 {
	slab := s.slabs[k]
	low, high := max(slab.Bottom, centre-radius), min(slab.Top, centre+radius)
	if radius <= 0 || high <= low {
		return 0
	}
	// Mean section of a sphere between two heights, over its greatest.
	f := func(z float64) float64 { x := (z - centre) / radius; return radius * (x - x*x*x/3) }
	return (f(high) - f(low)) / (slab.Top - slab.Bottom)
}

// lay puts so much of the room of a body and column into its slabs, those first that
// the order names first.
func (s *stores) lay(column int, share float64, slabs []int, fill []float64) {
	room := 0.0
	for _, k := range slabs {
		room += s.capacity[column][k]
	}
	left := share * room
	for _, k := range slabs {
		fill[k] = 0
		if c := s.capacity[column][k]; c > 0 {
			fill[k] = min(1, max(0, left)/c)
			left -= c
		}
	}
}

// follow gives the fill of every column, hour and slab.
func (s *stores) follow(tr *season.Trace) [][][]float64 {
	out := make([][][]float64, len(s.capacity))
	height, radius, reach, left := tr.Get("bees.height"), tr.Get("bees.radius"), tr.Get("honey.reach"), tr.Get("honey.left")
	for c := range out {
		out[c] = make([][]float64, tr.Hours)
		for h := range out[c] {
			out[c][h] = make([]float64, len(s.slabs))
		}
		for body := range tr.Hive.Bodies {
			share := tr.Get(fmt.Sprintf("comb.fill.%d.%s", body+1, tr.Columns[c]))
			if share == nil {
				continue
			}
			var down []int
			for k := len(s.slabs) - 1; k >= 0; k-- {
				if s.bodies[k] == body && s.capacity[c][k] > 0 {
					down = append(down, k)
				}
			}
			for h := range tr.Hours {
				order := down
				if c == core && len(reach) > h && len(left) > h && reach[h] <= 0 && left[h] > 0 {
					order = slices.Clone(down)
					slices.SortStableFunc(order, func(a, b int) int {
						return cmp.Compare(s.touched(a, height[h], radius[h]), s.touched(b, height[h], radius[h]))
					})
				}
				s.lay(c, min(1, share[h]), order, out[c][h])
			}
		}
	}
	return out
}
