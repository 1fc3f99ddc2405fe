package airflow

import (
	"fmt"
	"math"
)

// InterfaceArea returns A*/(n H²) [-] at which the interface of a
// displacement-ventilated box with n equal point sources on the floor stands at
// the share xi of its height:
//
//	A*/(n H²) = C^1.5 sqrt(xi⁵/(1 - xi))
//
// It does not depend on the strength of the sources. xi outside 0..1 gives 0 or
// +Inf. Source: "Emptying filling boxes: the fluid mechanics of natural
// ventilation", Journal of Fluid Mechanics 212, 1990,
// doi:10.1017/S0022112090001987.
func InterfaceArea(xi, alpha float64) float64 {
	if xi <= 0 {
		return 0
	}
	if xi >= 1 {
		return math.Inf(1)
	}
	c := PlumeConstant(alpha)
	return c * math.Sqrt(c) * xi * xi * math.Sqrt(xi/(1-xi))
}

// InterfaceHeight returns the share xi of the height [-] at which the interface
// stands, the inverse of InterfaceArea.
func InterfaceHeight(areaRatio, alpha float64) float64 {
	return invertShare(areaRatio, func(xi float64) float64 { return InterfaceArea(xi, alpha) })
}

// LineInterfaceArea returns A*/(H L) [-] for a line source of the box's length L
// on the floor: 2 alpha sqrt(xi³/(1 - xi)). Range and source as InterfaceArea.
func LineInterfaceArea(xi, alpha float64) float64 {
	if xi <= 0 {
		return 0
	}
	if xi >= 1 {
		return math.Inf(1)
	}
	return 2 * alpha * xi * math.Sqrt(xi/(1-xi))
}

// LineInterfaceHeight returns the inverse of LineInterfaceArea [-].
func LineInterfaceHeight(areaRatio, alpha float64) float64 {
	return invertShare(areaRatio, func(xi float64) float64 { return LineInterfaceArea(xi, alpha) })
}

// invertShare solves f(xi) = target for a rising f on 0..1 by bisection.
func invertShare(target float64, f func(float64) float64) float64 {
	if !(target > 0) {
		return 0
	}
	lo, hi := 0.0, 1.0
	for range 60 {
		mid := (lo + hi) / 2
		if f(mid) < target {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// Displacement is the steady state of a box with equal point sources on its
// floor, low and high openings and cool surroundings: two layers, the upper one
// warm and even.
type Displacement struct {
	Interface float64 // height of the interface above the floor [m]
	Gravity   float64 // reduced gravity of the upper layer [m/s²]
	Flow      float64 // volume flow through the box [m³/s]
}

// Displace returns the steady state for the reduced area A* [m²] (ReducedArea),
// height [m], total buoyancy flux [m⁴/s³] shared by a number of sources whose
// plumes do not touch, and entrainment coefficient alpha [-]. Source:
// InterfaceArea.
func Displace(reducedArea, height, buoyancy float64, sources int, alpha float64) Displacement {
	n := float64(sources)
	h := height * InterfaceHeight(reducedArea/(n*height*height), alpha)
	g := PlumeGravity(buoyancy/n, h, alpha)
	return Displacement{Interface: h, Gravity: g, Flow: n * PlumeFlow(buoyancy/n, h, alpha)}
}

// TwoLayer is a ventilated box in the course of time: an even warm upper layer
// over air of the surroundings, fed by one plume from the floor and drained
// through the openings.
//
//	S dd/dt       = C B^(1/3) (H - d)^(5/3) - A* sqrt(g' d)
//	S d(g' d)/dt  = B - A* sqrt(g' d) g'
//
// with d the depth of the layer. Source: "Time-dependent flows in an emptying
// filling box", Journal of Fluid Mechanics 520, 2004 (equations from memory). Without buoyancy flux
// a layer drains as DrainDepth.
type TwoLayer struct {
	ReducedArea float64 // A* of the openings [m²]
	Height      float64 // H [m]
	Floor       float64 // S, plan area [m²]
	Buoyancy    float64 // B of the source [m⁴/s³]
	Alpha       float64 // entrainment coefficient [-]

	Depth   float64 // d of the warm layer, state [m]
	Content float64 // g' d of the warm layer, state [m²/s²]
}

// Interface returns the height of the interface above the floor [m].
func (b *TwoLayer) Interface() float64 { return b.Height - b.Depth }

// Gravity returns the reduced gravity of the warm layer [m/s²], 0 without one.
func (b *TwoLayer) Gravity() float64 {
	if b.Depth <= 0 {
		return 0
	}
	return b.Content / b.Depth
}

// Advance carries the box through a duration [s] by fourth-order Runge-Kutta steps
// of at most a thousandth of the filling and draining times, which keeps the
// error below 1e-4 of the height. It returns an error for a box without extent or
// with a negative source, opening, state or duration.
func (b *TwoLayer) Advance(duration float64) error {
	if !(b.Height > 0 && b.Floor > 0 && b.Alpha > 0 && b.ReducedArea >= 0 && b.Buoyancy >= 0 &&
		b.Depth >= 0 && b.Content >= 0 && duration >= 0) || math.IsInf(duration, 0) {
		return fmt.Errorf("airflow: two-layer box cannot advance by %g s from %+v", duration, *b)
	}
	full := PlumeFlow(b.Buoyancy, b.Height, b.Alpha)
	if b.Depth == 0 {
		if full == 0 {
			return nil
		}
		// At first the layer is thin and nothing drains yet: a millionth of the
		// filling time is taken in closed form.
		first := math.Min(duration, 1e-6*b.Floor*b.Height/full)
		b.Depth = full * first / b.Floor
		b.Content += b.Buoyancy * first / b.Floor
		duration -= first
	}
	gravity := math.Max(b.Gravity(), PlumeGravity(b.Buoyancy, b.Height, b.Alpha))
	scale := b.Floor * b.Height / (full + b.ReducedArea*math.Sqrt(gravity*b.Height))
	if math.IsInf(scale, 0) || math.IsNaN(scale) {
		return nil // nothing feeds the layer and nothing drains it
	}
	steps := int(math.Ceil(duration / (1e-3 * scale)))
	dt := duration / float64(max(steps, 1))
	for range steps {
		d, m := b.Depth, b.Content
		d1, m1 := b.rates(d, m)
		d2, m2 := b.rates(d+dt/2*d1, m+dt/2*m1)
		d3, m3 := b.rates(d+dt/2*d2, m+dt/2*m2)
		d4, m4 := b.rates(d+dt*d3, m+dt*m3)
		b.Depth = math.Min(b.Height, math.Max(0, d+dt/6*(d1+2*d2+2*d3+d4)))
		b.Content = math.Max(0, m+dt/6*(m1+2*m2+2*m3+m4))
	}
	return nil
}

// rates returns the rates of depth [m/s] and content [m²/s³].
func (b *TwoLayer) rates(depth, content float64) (float64, float64) {
	depth, content = math.Max(0, depth), math.Max(0, content)
	out := b.ReducedArea * math.Sqrt(content)
	gravity := 0.0
	if depth > 0 {
		gravity = content / depth
	}
	in := PlumeFlow(b.Buoyancy, b.Height-depth, b.Alpha)
	return (in - out) / b.Floor, (b.Buoyancy - out*gravity) / b.Floor
}

// EmptyingTime returns the time [s] in which a warm layer that fills the box
// drains: (2 floor/A*) sqrt(height/g'). Source: InterfaceArea.
func EmptyingTime(reducedArea, height, floor, gravity float64) float64 {
	return 2 * floor / reducedArea * math.Sqrt(height/gravity)
}

// DrainDepth returns the depth [m] of that layer after a time [s]:
// height (1 - t/te)², 0 from te on.
func DrainDepth(height, time, emptying float64) float64 {
	left := math.Max(0, 1-time/emptying)
	return height * left * left
}
