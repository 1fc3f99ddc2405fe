package airflow

import (
	"fmt"
	"math"
)

// Reference air at which the coefficient of a power law holds: dry air at 20 °C
// and 101325 Pa.
const (
	// ReferenceDensity of the air of a power law [kg/m³] (p/(R T), R = 287.055
	// J/(kg·K)).
	ReferenceDensity = 101325 / (287.055 * 293.15)
	// ReferenceViscosity of the air of a power law [Pa·s] (Sutherland's formula at
	// 293.15 K, 1.458e-6 T^1.5/(T+110.4)).
	ReferenceViscosity = 1.8134e-5
)

// crackBend is the pressure drop below which a power law turns linear [Pa]. At
// ten times this drop the flow differs from the pure power by 0.2 % for an
// exponent of 0.65, at a hundred times by 0.002 %. Small flows through cracks are
// laminar, so the linear end is also the physical one.
const crackBend = 1e-3

// creepReynolds is the Reynolds number, formed with the mean speed and the
// hydraulic gap, below which an orifice without depth turns linear. [-]
// A numerical choice: measured discharge coefficients stay near their turbulent
// value, or above, down to Reynolds numbers of some 20 (common knowledge of
// flow metering, from memory), so the linear part is kept under 1 % of the
// pressure drop there.
const creepReynolds = 0.2

// Law ties the pressure drop dp along a link to the volume flow Q of the air
// that enters it upstream. Exactly one of two forms is used.
//
// Quadratic, when Coefficient is zero:
//
//	dp = Viscous mu Q + Inertial rho Q |Q|
//
// Power, when Coefficient is positive, bent to a line below a drop of 1 mPa:
//
//	Q = Coefficient k dp (dp² + (1 mPa)²)^((Exponent-1)/2)
//	k = (mu_ref/mu)^(2 Exponent - 1) (rho_ref/rho)^(1 - Exponent)
//
// where k carries the coefficient from the reference air (20 °C, dry, 101325 Pa)
// to the upstream air (the correction of ASTM E779 and ISO 9972, from memory).
//
// Both rise strictly and have a finite slope at rest.
type Law struct {
	Viscous     float64 // [1/m³], above zero
	Inertial    float64 // [1/m⁴], zero or more
	Coefficient float64 // flow at 1 Pa in reference air [m³/(s·Paⁿ)]
	Exponent    float64 // 0.5 (inertia rules) to 1 (viscosity rules) [-]
}

// check reports what makes the law unusable.
func (l Law) check() error {
	if l.Coefficient != 0 {
		if !(l.Coefficient > 0) || math.IsInf(l.Coefficient, 0) {
			return fmt.Errorf("coefficient %g, need above 0", l.Coefficient)
		}
		if !(l.Exponent >= 0.5 && l.Exponent <= 1) {
			return fmt.Errorf("exponent %g, need 0.5 to 1", l.Exponent)
		}
		return nil
	}
	if !(l.Viscous > 0) || math.IsInf(l.Viscous, 0) {
		return fmt.Errorf("viscous part %g /m³, need above 0", l.Viscous)
	}
	if !(l.Inertial >= 0) || math.IsInf(l.Inertial, 0) {
		return fmt.Errorf("inertial part %g /m⁴, need 0 or more", l.Inertial)
	}
	return nil
}

// Flow returns the volume flow [m³/s] that a pressure drop dp [Pa] drives through
// the law, of air with density [kg/m³] and viscosity [Pa·s]. It has the sign of
// dp.
func (l Law) Flow(dp, density, viscosity float64) float64 {
	s := l.side(density, viscosity)
	q, _, _ := s.flow(math.Abs(dp))
	return math.Copysign(q, dp)
}

// Drop returns the pressure drop [Pa] that drives a volume flow q [m³/s] of air
// with density [kg/m³] and viscosity [Pa·s]. It has the sign of q.
func (l Law) Drop(q, density, viscosity float64) float64 {
	if l.Coefficient == 0 {
		return l.Viscous*viscosity*q + l.Inertial*density*q*math.Abs(q)
	}
	// The power law is inverted on its logarithm, where it is nearly a line.
	s := l.side(density, viscosity)
	target := math.Abs(q)
	if target == 0 {
		return 0
	}
	dp := max(math.Pow(target/s.coefficient, 1/s.exponent), target/(s.coefficient*math.Pow(crackBend, s.exponent-1)))
	for range 60 {
		f, slope, _ := s.flow(dp)
		step := math.Log(target/f) * f / (slope * dp)
		dp *= math.Exp(step)
		if math.Abs(step) < 1e-14 {
			break
		}
	}
	return math.Copysign(dp, q)
}

// side is a law with the properties of one upstream air put in.
type side struct {
	viscous     float64 // [Pa·s/m³]
	inertial    float64 // [kg/m⁷]
	coefficient float64 // [m³/(s·Paⁿ)], 0 for the quadratic form
	exponent    float64 // [-]
}

// side puts the properties of the upstream air into the law.
func (l Law) side(density, viscosity float64) side {
	if l.Coefficient == 0 {
		return side{viscous: l.Viscous * viscosity, inertial: l.Inertial * density}
	}
	return l.crackSide(math.Log(ReferenceDensity/density), math.Log(ReferenceViscosity/viscosity))
}

// crackSide is side for a power law, from the logarithms of the reference
// property over the property of the upstream air.
func (l Law) crackSide(logDensity, logViscosity float64) side {
	k := math.Exp((2*l.Exponent-1)*logViscosity + (1-l.Exponent)*logDensity)
	return side{coefficient: l.Coefficient * k, exponent: l.Exponent}
}

// flow returns for a drop d >= 0 [Pa] the flow [m³/s], its slope by d
// [m³/(s·Pa)] and its integral from 0 to d [m³·Pa/s].
func (s *side) flow(d float64) (q, slope, integral float64) {
	if s.coefficient == 0 {
		if s.inertial == 0 {
			q = d / s.viscous
			return q, 1 / s.viscous, q * d / 2
		}
		root := math.Sqrt(s.viscous*s.viscous + 4*s.inertial*d)
		q = 2 * d / (s.viscous + root)
		return q, 1 / root, q * q * (s.viscous/2 + 2*s.inertial*q/3)
	}
	square := d*d + crackBend*crackBend
	c := s.coefficient * math.Exp((s.exponent-1)/2*math.Log(square)) // faster than math.Pow
	// The integral vanishes at d = 0 up to a constant, which no difference of two
	// integrals sees.
	return c * d, c * (s.exponent*d*d + crackBend*crackBend) / square, c * square / (s.exponent + 1)
}

// Seam is the laminar flow along count equal gaps between parallel plates: gap
// wide, width across the flow, length along it [m].
//
//	dp = 12 mu length Q / (count width gap³)
//
// Plane Poiseuille flow; holds for Reynolds numbers (mean speed times twice the
// gap) below some 2000 and gaps much narrower than wide.
func Seam(count, width, gap, length float64) Law {
	return Law{Viscous: 12 * length / (count * width * gap * gap * gap)}
}

// SeamBlocked is Seam with bees in it, which leave the share open of the width
// free, 0 to 1 [-]. Values below a thousandth count as a thousandth: bees that
// fill a seam still let air pass between them. (Common practice, no source; a
// share that changes during a run is better given as Conditions.Scale.)
func SeamBlocked(count, width, gap, length, open float64) Law {
	return Seam(count, width*min(1, max(1e-3, open)), gap, length)
}

// Orifice is an opening of the given area [m²] and discharge coefficient cd [-]
// through a wall of the given depth along the flow [m]:
//
//	dp = rho Q²/(2 (cd area)²) + 12 mu depth Q/(area hydraulicGap²)
//
// The second term is the friction in the passage, with hydraulicGap [m] as given
// by SlotGap or RoundGap. It is never less than the first at a Reynolds number
// of 0.2, so that the slope at rest is finite. With depth 0 the opening is sharp
// edged; a hydraulicGap of 0 then stands for the side of a square of that area.
func Orifice(area, cd, depth, hydraulicGap float64) Law {
	if hydraulicGap <= 0 {
		hydraulicGap = math.Sqrt(area)
	}
	inertial := 1 / (2 * cd * area * cd * area)
	friction := 12 * depth / (area * hydraulicGap * hydraulicGap)
	return Law{Viscous: max(friction, inertial*creepReynolds*area/hydraulicGap), Inertial: inertial}
}

// SlotGap returns the distance of the parallel plates [m] that give a passage of
// a x b [m] its laminar friction at equal area: h sqrt(1 - 0.63 h/w) for the
// shorter side h and the longer w (Poiseuille flow in a rectangle, first terms of
// the series; within 13 % of the exact friction for a square and 1 % for h < w/2;
// textbook result, from memory).
func SlotGap(a, b float64) float64 {
	h, w := min(a, b), max(a, b)
	return h * math.Sqrt(1-0.63*h/w)
}

// RoundGap returns the distance of the parallel plates [m] that give a round
// passage of the given diameter [m] its laminar friction at equal area:
// 12/g² = 32/D² (plane and pipe Poiseuille flow).
func RoundGap(diameter float64) float64 { return diameter * math.Sqrt(12.0/32.0) }

// Crack is the power law Q = coefficient dp^exponent in reference air. The
// exponent lies between 0.5 and 1, about 0.65 for joints of boxes and buildings
// (ASHRAE Handbook of Fundamentals, ventilation and infiltration, from memory).
func Crack(coefficient, exponent float64) Law {
	return Law{Coefficient: coefficient, Exponent: exponent}
}

// CrackFromLeakArea is the Crack whose flow at 4 Pa equals that of a nozzle
// (discharge coefficient 1) with the effective leakage area ela4Pa [m²] (ASHRAE
// Handbook of Fundamentals, effective air leakage area at 4 Pa, from memory).
func CrackFromLeakArea(ela4Pa, exponent float64) Law {
	return Crack(ela4Pa*math.Sqrt(2*4/ReferenceDensity)/math.Pow(4, exponent), exponent)
}

// Darcy is the flow through an air-open layer, such as a quilt or cloth, of the
// given area [m²] and permeance [m], the permeability [m²] over the thickness
// [m]:
//
//	dp = mu Q/(permeance area)
func Darcy(permeance, area float64) Law {
	return Law{Viscous: 1 / (permeance * area)}
}

// SlotCrack is the flow through a crack of known size: gap wide, length long and
// depth through the wall [m], with a number of right-angled bends.
//
//	dp = 12 mu depth Q/(length gap³) + rho (1.5 + bends) Q²/(2 gap² length²)
//
// Source: "Air flow through cracks", Building Services Engineering Research and
// Technology, 1987 (coefficients from memory). For gaps much narrower than deep.
func SlotCrack(gap, length, depth float64, bends int) Law {
	return Law{
		Viscous:  12 * depth / (length * gap * gap * gap),
		Inertial: (1.5 + float64(bends)) / (2 * gap * gap * length * length),
	}
}

// Mesh is the flow straight through a woven mesh of the given face area [m²],
// free share f of that area, 0 to 1 [-], and wire thickness [m]. With V = Q/area
// and Re = V wire rho/mu
//
//	dp = (22/Re + 1.3 (1-f) + (1/f - 1)²) rho V²/2
//
// Source: "Handbook of Hydraulic Resistance", grids and screens (from memory),
// for Re up to some 1000. A bare opening, f = 1, has no inertial part here.
func Mesh(area, freeShare, wire float64) Law {
	solid := 1/freeShare - 1
	return Law{
		Viscous:  11 / (wire * area),
		Inertial: (1.3*(1-freeShare) + solid*solid) / (2 * area * area),
	}
}

// InSeries joins two quadratic laws that the same air passes one after the other,
// such as a slot behind a mesh: their parts add up. It returns an error when one
// of them is a power law.
func InSeries(a, b Law) (Law, error) {
	if a.Coefficient != 0 || b.Coefficient != 0 {
		return Law{}, fmt.Errorf("airflow: a power law cannot be put in series")
	}
	return Law{Viscous: a.Viscous + b.Viscous, Inertial: a.Inertial + b.Inertial}, nil
}
