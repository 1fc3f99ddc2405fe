package cutaway

import (
	"math"

	"hackle/hive"
	"hackle/season"
)

// stores follows the honey through the combs of a trace, which tells how much there
// is and whether any is in contact with the cluster, but not in which comb it lies.
// It lies where bees put it and take it from: filled from the top of the hive
// downward, outer combs first; eaten where the cluster touches it, then from the
// nearest comb outward. An hour in which the trace says that none is in contact is
// drawn so.
type stores struct {
	slabs    []season.Slab
	capacity [][]float64 // by column and slab [kg]
	honey    [][]float64 // [kg]
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
	s := &stores{slabs: slabs}
	for range columns {
		s.capacity = append(s.capacity, make([]float64, len(slabs)))
		s.honey = append(s.honey, make([]float64, len(slabs)))
	}
	for k, slab := range slabs {
		if !slab.Comb {
			continue
		}
		i := h.BodyAt((slab.Bottom + slab.Top) / 2)
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

// put stores honey from the top downward, outer combs first. What finds no room
// is heaped on what is there.
func (s *stores) put(kg float64) {
	for k := len(s.slabs) - 1; k >= 0; k-- {
		for _, c := range []int{flank, core, beyond} {
			if c >= len(s.capacity) || kg <= 0 {
				continue
			}
			x := min(kg, max(0, s.capacity[c][k]-s.honey[c][k]))
			s.honey[c][k] += x
			kg -= x
		}
	}
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

// take eats honey round a cluster.
func (s *stores) take(kg, centre, radius float64) {
	contact := 0.0
	for k := range s.slabs {
		contact += s.honey[core][k] * s.touched(k, centre, radius)
	}
	if contact > 0 {
		share := min(1, kg/contact)
		for k := range s.slabs {
			x := share * s.honey[core][k] * s.touched(k, centre, radius)
			s.honey[core][k] -= x
			kg -= x
		}
		s.lift(centre, radius)
	}
	for c := range s.honey {
		for _, k := range s.near(centre) {
			x := min(max(kg, 0), s.honey[c][k])
			s.honey[c][k] -= x
			kg -= x
		}
	}
}

// lift packs the honey that lies within the height of the cluster to the top of it:
// bees keep it over them.
func (s *stores) lift(centre, radius float64) {
	sum := 0.0
	for k := range s.slabs {
		if s.touched(k, centre, radius) > 0 {
			sum += s.honey[core][k]
			s.honey[core][k] = 0
		}
	}
	last := -1
	for k := len(s.slabs) - 1; k >= 0; k-- {
		if s.touched(k, centre, radius) > 0 && s.capacity[core][k] > 0 {
			s.honey[core][k] = min(sum, s.capacity[core][k])
			sum -= s.honey[core][k]
			last = k
		}
	}
	if last >= 0 {
		s.honey[core][last] += sum
	}
}

// near lists the slabs from a height outward.
func (s *stores) near(centre float64) []int {
	var order []int
	far := func(k int) float64 { return math.Abs((s.slabs[k].Bottom+s.slabs[k].Top)/2 - centre) }
	for k := range s.slabs {
		at := len(order)
		for at > 0 && far(order[at-1]) > far(k) {
			at--
		}
		order = append(order, 0)
		copy(order[at+1:], order[at:])
		order[at] = k
	}
	return order
}

// withdraw moves what the cluster touches into the outer combs: it has none in
// contact.
func (s *stores) withdraw(centre, radius float64) {
	for k := range s.slabs {
		x := s.honey[core][k] * s.touched(k, centre, radius)
		s.honey[core][k] -= x
		for _, j := range s.near(centre) {
			if len(s.honey) > flank && x > 0 {
				room := min(x, max(0, s.capacity[flank][j]-s.honey[flank][j]))
				s.honey[flank][j] += room
				x -= room
			}
		}
		s.honey[core][k] += x // no room elsewhere
	}
}

// settle moves the cluster over to fuller combs: core and flank even out.
func (s *stores) settle() {
	if len(s.honey) <= flank {
		return
	}
	for k := range s.slabs {
		a, b := s.capacity[core][k], s.capacity[flank][k]
		if a <= 0 || b <= 0 || s.honey[flank][k]/b <= s.honey[core][k]/a {
			continue
		}
		n := min(a, b)
		d := s.honey[flank][k]/b - s.honey[core][k]/a
		s.honey[core][k] += n * d
		s.honey[flank][k] -= n * d
	}
}

// fill is the honey of a column and slab as a share of what its combs hold.
func (s *stores) fill(c, k int) float64 {
	if s.capacity[c][k] <= 0 {
		return 0
	}
	return min(1, s.honey[c][k]/s.capacity[c][k])
}

// follow gives the fill of every column, slab and hour.
func (s *stores) follow(tr *season.Trace) [][][]float64 {
	out := make([][][]float64, len(s.capacity))
	for c := range out {
		out[c] = make([][]float64, len(s.slabs))
		for k := range out[c] {
			out[c][k] = make([]float64, tr.Hours)
		}
	}
	left, height, radius, reach := tr.Get("honey.left"), tr.Get("bees.height"), tr.Get("bees.radius"), tr.Get("honey.reach")
	if len(left) < tr.Hours || len(height) < tr.Hours || len(radius) < tr.Hours || tr.Hours == 0 {
		return out
	}
	s.put(left[0])
	for h := range tr.Hours {
		if h > 0 {
			switch change := left[h] - left[h-1]; {
			case change > 0:
				s.put(change)
			case change < 0:
				s.take(-change, height[h], radius[h])
			}
			// Reach that grows while nothing is stored tells of a move.
			if len(reach) == tr.Hours && left[h] <= left[h-1] && reach[h] > reach[h-1]+1 && math.Abs(height[h]-height[h-1]) < 1e-6 {
				s.settle()
			}
		}
		if len(reach) == tr.Hours && reach[h] <= 0 && left[h] > 0 {
			s.withdraw(height[h], radius[h])
		}
		for c := range out {
			for k := range s.slabs {
				out[c][k][h] = s.fill(c, k)
			}
		}
	}
	return out
}
