package wall

import (
	"errors"
	"fmt"
	"math"
)

// stefanBoltzmann is σ [W/(m²·K⁴)], exact to the digits given in the SI since
// 2019 (CODATA 2018).
const stefanBoltzmann = 5.670374419e-8

// kelvinOffset is 0 °C [K].
const kelvinOffset = 273.15

// BlackEmission returns σT⁴ of a surface at t [°C], in W/m².
func BlackEmission(t float64) float64 {
	tK := t + kelvinOffset
	return stefanBoltzmann * (tK * tK) * (tK * tK)
}

// RadiativeFilm returns the linearised radiative conductance 4εσTm³
// [W/(m²·K)] at the mean temperature tMean [°C] for the emissivity e [-] (an
// effective one between two surfaces). At temperatures 30 K apart it is 0.3 %
// below the exact exchange.
func RadiativeFilm(e, tMean float64) float64 {
	tK := tMean + kelvinOffset
	return 4 * e * stefanBoltzmann * tK * tK * tK
}

// RadiativeFilmBetween returns the radiative conductance [W/(m²·K)] that, times
// the difference of temperatures, is exactly the exchange between t1 and t2
// [°C] at the emissivity e [-]: εσ(T1+T2)(T1²+T2²).
func RadiativeFilmBetween(e, t1, t2 float64) float64 {
	a, b := t1+kelvinOffset, t2+kelvinOffset
	return e * stefanBoltzmann * (a + b) * (a*a + b*b)
}

// EffectiveEmissivity returns the emissivity [-], referred to surface 1, of the
// exchange between grey surfaces of emissivities e1 and e2 [-] of which the
// first sees nothing but the second: 1/(1/e1 + A1/A2·(1/e2 − 1)). areaRatio is
// A1/A2 [-]: 1 for parallel planes, towards 0 for a small body in a large room.
func EffectiveEmissivity(e1, e2, areaRatio float64) float64 {
	return 1 / (1/e1 + areaRatio*(1/e2-1))
}

// ViewParallel returns the view factor [-] between two equal, aligned,
// parallel rectangles of sides x and y at distance d [m]. Source: standard
// closed form of the heat-transfer texts (from memory); the tests check it
// against the sum over a closed box and an integration.
func ViewParallel(x, y, d float64) float64 {
	a, b := x/d, y/d
	p, q := math.Sqrt(1+a*a), math.Sqrt(1+b*b)
	return 2 / (math.Pi * a * b) * (0.5*math.Log((p*p)*(q*q)/(1+a*a+b*b)) +
		a*q*math.Atan(a/q) + b*p*math.Atan(b/p) - a*math.Atan(a) - b*math.Atan(b))
}

// ViewPerpendicular returns the view factor [-] from a rectangle of width w and
// length l to a rectangle of height h and the same length that meets it at a
// right angle along the edge of length l [m]. Source as for ViewParallel.
func ViewPerpendicular(w, h, l float64) float64 {
	a, b := h/l, w/l
	a2, b2 := a*a, b*b
	s := a2 + b2
	logarithm := math.Log((1+b2)*(1+a2)/(1+s)) +
		b2*math.Log(b2*(1+s)/((1+b2)*s)) + a2*math.Log(a2*(1+s)/((1+a2)*s))
	return (b*math.Atan(1/b) + a*math.Atan(1/a) - math.Sqrt(s)*math.Atan(1/math.Sqrt(s)) + logarithm/4) / (math.Pi * b)
}

// Faces of a box in the order of BoxViewFactors and BoxAreas.
const (
	BoxFloor = iota
	BoxRoof
	BoxWallX0 // the walls normal to x, width y and height z
	BoxWallX1
	BoxWallY0 // the walls normal to y, width x and height z
	BoxWallY1
)

// BoxAreas returns the areas [m²] of the faces of a box x by y by z [m].
func BoxAreas(x, y, z float64) [6]float64 {
	return [6]float64{x * y, x * y, y * z, y * z, x * z, x * z}
}

// BoxViewFactors returns the view factors [-] inside an empty box of floor x by
// y and height z [m]; element [i][j] is the share of what leaves face i that
// strikes face j. Each row sums to 1.
func BoxViewFactors(x, y, z float64) [6][6]float64 {
	var f [6][6]float64
	pair := func(a, b int, opposite, ab, ba float64) {
		// Faces a, a+1 oppose each other; b, b+1 stand upright on them.
		f[a][a+1], f[a+1][a] = opposite, opposite
		for i := range 2 {
			for j := range 2 {
				f[a+i][b+j], f[b+j][a+i] = ab, ba
			}
		}
	}
	pair(BoxFloor, BoxWallX0, ViewParallel(x, y, z), ViewPerpendicular(x, z, y), ViewPerpendicular(z, x, y))
	pair(BoxWallX0, BoxWallY0, ViewParallel(y, z, x), ViewPerpendicular(y, x, z), ViewPerpendicular(x, y, z))
	pair(BoxWallY0, BoxFloor, ViewParallel(x, z, y), ViewPerpendicular(z, y, x), ViewPerpendicular(y, z, x))
	return f
}

// MeanRadiantFactors reduces the long-wave exchange between n surfaces of an
// enclosure to a star: each surface exchanges with one common mean radiant
// temperature through its area times factor times RadiativeFilm(1, tMean). It
// returns those factors [-], which hold the emissivities:
//
//	F_i = 1/(1 − A_i F_i/Σ A_j F_j),   factor_i = 1/(1/F_i + (1 − e_i)/e_i)
//
// Source: An "MRT method" of computing radiant energy exchange in rooms (1980;
// Carroll; from memory). It needs no view factors and a star needs n
// conductances where the exact exchange needs n(n−1)/2. In boxes from 150 to
// 500 mm high and 370 to 470 mm wide, emissivity 0.9, a warm face gives off
// what it does by the exact exchange within 0.2 %, and what another face
// receives of it is within 4 % of the whole; under a lid of emissivity 0.1 the
// first error grows to 1.5 % (asserted by the tests).
//
// areas [m²] and emissivities [-] have equal length of at least 2; emissivities
// lie in (0, 1]. There is no solution, and an error is returned, when one
// surface is about as large as all others together, except for two equal ones.
func MeanRadiantFactors(areas, emissivities []float64) ([]float64, error) {
	n := len(areas)
	if n != len(emissivities) || n < 2 {
		return nil, fmt.Errorf("wall: %d areas and %d emissivities; need as many of each, at least 2", n, len(emissivities))
	}
	for i := range areas {
		if !(areas[i] > 0) || math.IsInf(areas[i], 1) || !(emissivities[i] > 0 && emissivities[i] <= 1) {
			return nil, fmt.Errorf("wall: surface %d of area %v m² and emissivity %v", i+1, areas[i], emissivities[i])
		}
	}
	factors := make([]float64, n)
	for i := range factors {
		factors[i] = 1
	}
	// Half-damped: the bare iteration oscillates where two surfaces dominate.
	const rounds = 10000
	converged := false
	for round := 0; round < rounds && !converged; round++ {
		sum := 0.0
		for i := range factors {
			sum += areas[i] * factors[i]
		}
		converged = true
		for i, f := range factors {
			rest := 1 - areas[i]*f/sum
			next := (f + 1/rest) / 2
			if !(rest > 0) || next > 1e3 {
				return nil, errNoStar
			}
			converged = converged && math.Abs(next-f) <= 1e-12*f
			factors[i] = next
		}
	}
	if !converged {
		return nil, errNoStar
	}
	for i, f := range factors {
		factors[i] = 1 / (1/f + (1-emissivities[i])/emissivities[i])
	}
	return factors, nil
}

var errNoStar = errors.New("wall: one surface is about as large as all others together: no mean radiant temperature")
