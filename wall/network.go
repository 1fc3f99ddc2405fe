package wall

import "slices"

// Network returns the chain as a network of heat: what each cell stores
// [J/(m²·K)], and the conductances before each cell and behind the last, to the
// faces at both ends [W/(m²·K)]. Both are copies.
func (c *Chain) Network() (capacity, link []float64) {
	return slices.Clone(c.capacity), slices.Clone(c.link)
}
