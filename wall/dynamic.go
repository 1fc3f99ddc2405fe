package wall

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
)

// Dynamics are the periodic characteristics of a wall. Index 1 is the inside,
// 2 the outside; a positive lead comes before its cause, a lag is negative.
type Dynamics struct {
	U         float64 // steady transmittance [W/(m²·K)]
	Y11       float64 // modulus of the inner admittance [W/(m²·K)]
	LeadY11   float64 // time lead of the inner admittance [s]
	Y22       float64 // modulus of the outer admittance [W/(m²·K)]
	LeadY22   float64 // time lead of the outer admittance [s]
	Y12       float64 // modulus of the periodic transmittance [W/(m²·K)]
	LeadY12   float64 // time lead of the periodic transmittance, a lag: in (-period, 0] [s]
	Decrement float64 // Y12/U [-]
	Kappa1    float64 // areal heat capacity of the inside [J/(m²·K)]
	Kappa2    float64 // areal heat capacity of the outside [J/(m²·K)]
}

// PenetrationDepth returns the depth [m] at which a sinusoidal temperature of
// the given period [s] at the surface of a thick solid has fallen to 1/e:
// √(λ·period/(π·ρ·c)). Source: ISO 13786:2017 (from memory).
func PenetrationDepth(conductivity, density, specificHeat, period float64) float64 {
	return math.Sqrt(conductivity * period / (math.Pi * density * specificHeat))
}

// Dynamic returns the response of layers, given from the inside to the outside,
// to sinusoidal air temperatures of the given period [s] beyond the surface
// resistances rsi and rse [m²·K/W], by the product of the layers' heat transfer
// matrices. Source: ISO 13786:2017 (from memory). Errors: no layer, an
// impossible layer, or a period that is not positive.
func Dynamic(layers []Layer, rsi, rse, period float64) (Dynamics, error) {
	if len(layers) == 0 {
		return Dynamics{}, errors.New("wall: no layer")
	}
	if !(period > 0) || math.IsInf(period, 1) {
		return Dynamics{}, fmt.Errorf("wall: period %v s is not a positive number", period)
	}
	omega := 2 * math.Pi / period
	z := [2][2]complex128{{1, 0}, {0, 1}}
	// apply multiplies from the left with the matrix of the next layer outward,
	// which takes temperature and flux (towards the outside) across it.
	apply := func(a, b, c, d complex128) {
		z = [2][2]complex128{
			{a*z[0][0] + b*z[1][0], a*z[0][1] + b*z[1][1]},
			{c*z[0][0] + d*z[1][0], c*z[0][1] + d*z[1][1]},
		}
	}
	apply(1, complex(-rsi, 0), 0, 1)
	total := rsi + rse
	for i, l := range layers {
		if err := l.check(); err != nil {
			return Dynamics{}, fmt.Errorf("wall: layer %d: %w", i+1, err)
		}
		r, heat := l.resistance(), l.capacity()
		total += r
		if heat == 0 {
			apply(1, complex(-r, 0), 0, 1)
			continue
		}
		k := cmplx.Sqrt(complex(0, omega*heat*r)) // wave number times thickness
		ch, sh := cmplx.Cosh(k), cmplx.Sinh(k)
		apply(ch, -complex(r, 0)*sh/k, -k*sh/complex(r, 0), ch)
	}
	apply(1, complex(-rse, 0), 0, 1)

	lead := func(y complex128) float64 { return cmplx.Phase(y) / omega }
	y11, y22, y12 := -z[0][0]/z[0][1], -z[1][1]/z[0][1], -1/z[0][1]
	d := Dynamics{
		U:   1 / total,
		Y11: cmplx.Abs(y11), LeadY11: lead(y11),
		Y22: cmplx.Abs(y22), LeadY22: lead(y22),
		Y12: cmplx.Abs(y12), LeadY12: lead(y12),
		Kappa1: cmplx.Abs((z[0][0]-1)/z[0][1]) / omega,
		Kappa2: cmplx.Abs((z[1][1]-1)/z[0][1]) / omega,
	}
	if d.LeadY12 > 0 {
		d.LeadY12 -= period
	}
	d.Decrement = d.Y12 / d.U
	return d, nil
}
