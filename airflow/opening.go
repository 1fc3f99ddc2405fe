package airflow

import (
	"fmt"
	"math"
)

// Shape of an opening in an upright wall.
type Shape int

const (
	Slot  Shape = iota // rectangle
	Round              // circle, or an ellipse if width and height differ
)

// Strip is one height band of an opening, to become one link.
type Strip struct {
	Height float64 // centre of area above the datum of the sill [m]
	Area   float64 // [m²]
	Law    Law
}

// OpeningStrips cuts an opening in an upright wall into n bands of equal height,
// so that the network finds by itself whether and how air passes it both ways.
// sill is the height of its lowest point, width and height its size, depth the
// wall's thickness there [m], cd the discharge coefficient [-].
//
// Every band carries the discharge coefficient and the passage friction of the
// whole opening, at its share of the area: flow one way is that of the whole
// opening. The two-way exchange of a slot under a uniform temperature difference
// comes out 6 % high with 2 bands, 2.4 % with 4, 0.9 % with 8 and 0.2 % with 20,
// and 17 % low with 3: take an even number, as the middle band of an odd one lies
// where the flow turns and carries nothing. n below 1 counts as 1.
func OpeningStrips(shape Shape, sill, width, height, depth, cd float64, n int) []Strip {
	n = max(n, 1)
	area, gap := width*height, SlotGap(width, height)
	if shape == Round {
		area, gap = math.Pi/4*width*height, RoundGap(math.Min(width, height))
	}
	whole := Orifice(area, cd, depth, gap)
	strips := make([]Strip, n)
	for i := range strips {
		lo, hi := float64(i)/float64(n), float64(i+1)/float64(n)
		centre, share := (lo+hi)/2, hi-lo
		if shape == Round {
			centre, share = circleBand(lo, hi)
		}
		strips[i] = Strip{
			Height: sill + centre*height,
			Area:   share * area,
			// Same speed at the same pressure drop as the whole opening.
			Law: Law{Viscous: whole.Viscous / share, Inertial: whole.Inertial / (share * share)},
		}
	}
	return strips
}

// circleBand returns the height of the centre and the share of the area of the
// band between the heights lo and hi of a circle of diameter 1 that stands on 0.
func circleBand(lo, hi float64) (centre, share float64) {
	// With y measured from the middle in radii, the area above -1 is
	// (y sqrt(1-y²) + asin y + pi/2) r² and its moment -(2/3)(1-y²)^1.5 r³.
	at := func(h float64) (a, m float64) {
		y := math.Max(-1, math.Min(1, 2*h-1))
		c := math.Sqrt(1 - y*y)
		return y*c + math.Asin(y), -2.0 / 3 * c * c * c
	}
	a1, m1 := at(lo)
	a2, m2 := at(hi)
	return 0.5 + 0.5*(m2-m1)/(a2-a1), (a2 - a1) / math.Pi
}

// ReducedGravity returns g |rho1 - rho2| / ((rho1 + rho2)/2) [m/s²] of two
// bodies of air [kg/m³].
func ReducedGravity(rho1, rho2 float64) float64 {
	return Gravity * math.Abs(rho1-rho2) / ((rho1 + rho2) / 2)
}

// DoorwayExchange returns the volume flow [m³/s] each way through an upright
// rectangle of width and height [m] between two still bodies of air,
//
//	Q = (cd/3) width sqrt(g' height³)
//
// with g' from ReducedGravity. Boussinesq form. Source: "Natural convection
// through rectangular openings in partitions - 1: vertical partitions",
// International Journal of Heat and Mass Transfer 5, 1962.
func DoorwayExchange(width, height, cd, gPrime float64) float64 {
	return cd / 3 * width * math.Sqrt(gPrime*height*height*height)
}

// DoorwayMassFlow returns the mass flow [kg/s] each way through an upright
// rectangle, and the height of the neutral plane above its sill [m], without the
// Boussinesq assumption: both flows of Bernoulli speed, equal in mass.
//
//	h = height/(1 + (rho_cold/rho_warm)^(1/3))
//	m = (2/3) cd width sqrt(2 g (rho_cold - rho_warm) rho_cold h³)
//
// Source: as DoorwayExchange; the form with both densities follows by
// integration over the height. Equal densities give 0 and the middle.
func DoorwayMassFlow(width, height, cd, rhoWarm, rhoCold float64) (flow, neutral float64) {
	neutral = height / (1 + math.Cbrt(rhoCold/rhoWarm))
	flow = 2.0 / 3 * cd * width * math.Sqrt(2*Gravity*math.Max(0, rhoCold-rhoWarm)*rhoCold*neutral*neutral*neutral)
	return flow, neutral
}

// HorizontalFroude returns the dimensionless exchange flow
//
//	Fr = Q / sqrt(D⁵ g drho/rho_mean)
//
// through one round horizontal opening with the dense air above, by the ratio of
// its length to its diameter [-]: 0.055 up to L/D 0.15; 0.147 sqrt(L/D) to 0.4;
// 0.093/sqrt(1 + 0.084 (L/D - 0.4)³) to 3.25; 0.32 (L/D)^-1.5 to 10, where the
// measurements end; beyond that the last form is continued. The pieces join
// within 3.5 %, the scatter of the measurements is 10 %.
//
// Source: "Buoyancy-driven exchange flow through small openings in horizontal
// partitions", Journal of Heat Transfer 110, 1988 (constants from memory).
func HorizontalFroude(lengthOverDiameter float64) float64 {
	switch x := math.Max(0, lengthOverDiameter); {
	case x <= 0.15:
		return 0.055
	case x <= 0.4:
		return 0.147 * math.Sqrt(x)
	case x <= 3.25:
		y := x - 0.4
		return 0.093 / math.Sqrt(1+0.084*y*y*y)
	default:
		return 0.32 / (x * math.Sqrt(x))
	}
}

// HorizontalExchange returns the volume flow [m³/s] each way through one round
// horizontal opening of diameter and length [m] with the dense air above. It is
// 0 when the air above is not the denser. Source and range: HorizontalFroude.
func HorizontalExchange(diameter, length, rhoBelow, rhoAbove float64) float64 {
	if !(rhoAbove > rhoBelow) {
		return 0
	}
	d2 := diameter * diameter
	return HorizontalFroude(length/diameter) * math.Sqrt(d2*d2*diameter*ReducedGravity(rhoBelow, rhoAbove))
}

// Coefficients of SingleSided.
const (
	singleSidedTurbulence = 0.01   // ambient turbulence [m²/s²]
	singleSidedWind       = 0.001  // [-]
	singleSidedStack      = 0.0035 // [m/(s²·K)]
)

// SingleSided returns the volume flow [m³/s] of outdoor air that wind, stack and
// turbulence drive through one opening in one wall,
//
//	Q = (area/2) sqrt(0.01 + 0.001 U² + 0.0035 H |dT|)
//
// with its area [m²], height H [m], the wind speed U of the weather station
// (10 m) [m/s] and the temperature difference dT [K]. Source: "Ventilation rates
// and energy consumption due to open windows", Air Infiltration Review 4 (1),
// 1982, taken over by EN 16798-7 (coefficients from memory). Measured at windows
// of buildings of about 1 m²; for small openings an extrapolation.
func SingleSided(area, height, wind, deltaT float64) float64 {
	return area / 2 * math.Sqrt(singleSidedTurbulence+singleSidedWind*wind*wind+singleSidedStack*height*math.Abs(deltaT))
}

// SingleSidedWind returns the wind part of SingleSided alone, (area/2) sqrt(0.001)
// U [m³/s]. It is what a network lacks that resolves the stack by strips and the
// steady wind by face: the pumping of gusts. The constant term stands for
// the turbulence round buildings in still weather and is left out.
func SingleSidedWind(area, wind float64) float64 {
	return area / 2 * math.Sqrt(singleSidedWind) * math.Abs(wind)
}

// Links turns strips of an opening between two nodes, or a node and Outside, into
// links with the wind face and the group given.
func Links(strips []Strip, from, to, windFace, group int, name string) []Link {
	links := make([]Link, len(strips))
	for i, b := range strips {
		links[i] = Link{From: from, To: to, Height: b.Height, Law: b.Law, WindFace: windFace, Group: group,
			Name: fmt.Sprintf("%s, strip %d of %d", name, i+1, len(strips))}
	}
	return links
}
