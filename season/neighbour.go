package season

import (
	"math"

	"hackle/sun"
)

// oppositeView is the share of what an upright face of a breadth and height sees
// that an equal face opposite it fills, at a distance [m]: the view factor of two
// equal, parallel, directly opposed rectangles (tables of heat transfer, from memory).
func oppositeView(breadth, height, distance float64) float64 {
	x, y := breadth/distance, height/distance
	a, b := math.Sqrt(1+x*x), math.Sqrt(1+y*y)
	return 2 / (math.Pi * x * y) * (0.5*math.Log(a*a*b*b/(1+x*x+y*y)) +
		x*b*math.Atan(x/b) + y*a*math.Atan(y/a) - x*math.Atan(x) - y*math.Atan(y))
}

// lookAside finds how much of the view of each upright side a hive beside it fills.
func (r *run) lookAside() {
	for side, gap := range r.in.Plan.Site.Beside {
		if gap > 0 {
			breadth, height := r.faceSize(side)
			r.hidden[side] = oppositeView(breadth, height, gap)
		}
	}
}

// faceSize is the breadth and height of an upright side, walls left out. [m]
func (r *run) faceSize(side int) (breadth, height float64) {
	h := &r.in.Plan.Hive
	return faceWidth(&h.Bodies[0], side), h.Height()
}

// shadowOf is the share of an upright side that the hive beside it keeps in shadow.
// The neighbour's face, as large and straight opposite, throws a shadow that the
// sun moves sideways by gap tan(bearing) and down by gap tan(elevation)/cos(bearing),
// bearing being the sun's from the side's own.
func (r *run) shadowOf(side int, pos sun.Pos) float64 {
	bearing := (pos.Azimuth - r.azimuth(side)) * math.Pi / 180
	cos := math.Cos(bearing)
	if cos <= 1e-6 || pos.Elevation <= 0 {
		return 0 // no beam on this side
	}
	breadth, height := r.faceSize(side)
	gap := r.in.Plan.Site.Beside[side]
	aside := gap * math.Abs(math.Tan(bearing))
	down := gap * math.Tan(pos.Elevation*math.Pi/180) / cos
	return max(0, 1-aside/breadth) * max(0, 1-down/height)
}
