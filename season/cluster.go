package season

import "math"

// ball is a warm body in the core: the bees' cluster, or a heater.
type ball struct {
	centre float64 // height of its middle [m]
	radius float64 // [m]
	weight []float64
	open   []float64 // share of the section of the core's combs left free in each slab [-]
}

// place shares the ball's surface over the core cells it touches. The zone of a
// sphere between two heights has an area in proportion to their distance, so
// weights go by height. A ball outside all comb warms the nearest cell.
func (e *engine) place(b *ball) {
	if b.weight == nil {
		b.weight = make([]float64, len(e.cells))
		b.open = make([]float64, len(e.slabs))
	}
	clear(b.weight)
	low, high := b.centre-b.radius, b.centre+b.radius
	total := 0.0
	nearest, distance := 0, math.Inf(1)
	for k, s := range e.slabs {
		b.open[k] = 1
		if d := math.Abs(s.middle() - b.centre); d < distance {
			nearest, distance = k, d
		}
		bottom, top := max(s.bottom, low), min(s.top, high)
		if top <= bottom {
			continue
		}
		w := top - bottom
		b.weight[e.at(k, core)] = w
		total += w
		if s.comb {
			// Mean section of the sphere between the two heights.
			f := func(z float64) float64 {
				x := z - b.centre
				return math.Pi * (b.radius*b.radius*x - x*x*x/3)
			}
			section := (f(top) - f(bottom)) / s.height()
			whole := float64(e.coreCombs) * e.pitch * e.seamLength
			b.open[k] = clamp(1-section/whole, 0.02, 1)
		}
	}
	if total == 0 {
		b.weight[e.at(nearest, core)] = 1
		return
	}
	for i := range b.weight {
		b.weight[i] /= total
	}
}

// narrow closes the core's seams as far as the ball fills the combs it sits on:
// the rising sheet passes round it. A link between two slabs passes half of each.
func (e *engine) narrow(b *ball) {
	for i := range e.flows {
		f := &e.flows[i]
		if !f.core {
			continue
		}
		low, high := e.slabs[f.slab], e.slabs[f.upper]
		rl, rh := 0.0, 0.0
		if low.comb {
			rl = low.height()
		}
		if high.comb {
			rh = high.height()
		}
		e.cond.Scale[i] = (rl + rh) / (rl/b.open[f.slab] + rh/b.open[f.upper])
	}
}

// besides is the air temperature round the ball. [°C]
func (e *engine) besides(b *ball) float64 {
	t := 0.0
	for i, w := range b.weight {
		if w > 0 {
			t += w * e.temp[i]
		}
	}
	return t
}

// spreadOver shares bees over all combs, by comb face, except past a follower
// board; in a hive without comb they hang where the cluster does.
func (e *engine) spreadOver(weight []float64, b *ball) {
	total := 0.0
	clear(weight)
	for i := range e.combs {
		c := &e.combs[i]
		if e.cells[c.cell].column == beyond {
			continue
		}
		weight[c.cell] = c.faceArea
		total += c.faceArea
	}
	if total == 0 {
		copy(weight, b.weight)
		return
	}
	for i := range weight {
		weight[i] /= total
	}
}
