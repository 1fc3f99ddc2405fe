package wall

import "math"

// standardGravity is the acceleration of gravity [m/s²], exact by definition
// (ISO 80000-3).
const standardGravity = 9.80665

// Gas holds the properties of a gas at the film temperature.
type Gas struct {
	Conductivity       float64 // [W/(m·K)]
	KinematicViscosity float64 // [m²/s]
	Diffusivity        float64 // thermal [m²/s]
	Expansion          float64 // volumetric, 1/T of an ideal gas [1/K]
}

// Prandtl returns the Prandtl number [-].
func (g Gas) Prandtl() float64 { return g.KinematicViscosity / g.Diffusivity }

// Rayleigh returns the Rayleigh number [-] of a difference of temperatures
// deltaT [K] (its sign does not matter) over a length [m].
func (g Gas) Rayleigh(deltaT, length float64) float64 {
	return standardGravity * g.Expansion * math.Abs(deltaT) * length * length * length / (g.KinematicViscosity * g.Diffusivity)
}

// Reynolds returns the Reynolds number [-] of a speed v [m/s] over a length [m].
func (g Gas) Reynolds(v, length float64) float64 { return v * length / g.KinematicViscosity }

// Film returns the film coefficient [W/(m²·K)] of a Nusselt number over a
// length [m].
func (g Gas) Film(nusselt, length float64) float64 { return nusselt * g.Conductivity / length }

// NusseltVertical returns the mean Nusselt number [-] of a vertical plate of
// the height in Ra: Churchill-Chu for all Ra up to 1e12, (0.825 + 0.387
// Ra^(1/6)/(1+(0.492/Pr)^(9/16))^(8/27))². Source: Correlating equations for
// laminar and turbulent free convection from a vertical plate, International
// Journal of Heat and Mass Transfer 18 (1975), doi:10.1016/0017-9310(75)90243-4
// (coefficients from memory).
func NusseltVertical(ra, pr float64) float64 {
	root := 0.825 + 0.387*math.Pow(ra, 1.0/6)/math.Pow(1+math.Pow(0.492/pr, 9.0/16), 8.0/27)
	return root * root
}

// NusseltVerticalLaminar returns the mean Nusselt number [-] of a vertical
// plate, more exact than NusseltVertical where the flow is laminar, Ra ≤ 1e9:
// 0.68 + 0.670 Ra^(1/4)/(1+(0.492/Pr)^(9/16))^(4/9). Source as there. Above
// its range it falls short of NusseltVertical.
func NusseltVerticalLaminar(ra, pr float64) float64 {
	return 0.68 + 0.670*math.Sqrt(math.Sqrt(ra))/math.Pow(1+math.Pow(0.492/pr, 9.0/16), 4.0/9)
}

// NusseltUnstable returns the mean Nusselt number [-] of a horizontal plate
// that is warmer than the air above it or colder than the air below it, over
// the length area/perimeter: 0.54 Ra^(1/4) for Ra from 1e4 to 1e7 and 0.15
// Ra^(1/3) from there to 1e11. Source: McAdams and Lloyd-Moran forms, as in
// Fundamentals of Heat and Mass Transfer, chapter 9 (from memory).
//
// The greater of the two is taken, which moves the change from 1e7 to 4.7e6
// (there they meet) and keeps the film continuous; between these it is up to
// 6.5 % above the printed form. Below Ra 1e4 the quarter power is continued, but
// not under 1, pure conduction over that length.
func NusseltUnstable(ra float64) float64 {
	return math.Max(1, math.Max(0.54*math.Sqrt(math.Sqrt(ra)), 0.15*math.Cbrt(ra)))
}

// NusseltStable returns the mean Nusselt number [-] of a horizontal plate that
// is colder than the air above it or warmer than the air below it, over the
// length area/perimeter: 0.27 Ra^(1/4) for Ra from 1e5 to 1e11. Source:
// Fundamentals of Heat and Mass Transfer, chapter 9 (from memory). Below its
// range it is continued, but not under 1.
func NusseltStable(ra float64) float64 {
	return math.Max(1, 0.27*math.Sqrt(math.Sqrt(ra)))
}

// NusseltEnclosure returns the Nusselt number [-] of a wide gas layer heated
// from below, over its thickness, at a tilt of 0° (horizontal) to 75°. Source:
// Free convective heat transfer across inclined air layers, Journal of Heat
// Transfer 98 (1976), doi:10.1115/1.3450517 (Hollands et al.; coefficients from
// memory). Tilts outside are taken at the nearer end; a layer heated from above
// has Nu = 1, a vertical one NusseltVerticalGap.
func NusseltEnclosure(ra, tilt float64) float64 {
	tilt = math.Min(math.Max(tilt, 0), 75) * math.Pi / 180
	rc := ra * math.Cos(tilt)
	if rc <= 1708 {
		return 1
	}
	bend := 1 - 1708*math.Pow(math.Sin(1.8*tilt), 1.6)/rc
	return 1 + 1.44*(1-1708/rc)*math.Max(bend, 0) + math.Max(math.Cbrt(rc/5830)-1, 0)
}

// NusseltVerticalGap returns the Nusselt number [-] across a vertical gas layer
// between walls of different temperature, over its thickness; aspect is height
// over thickness [-], from 5 to 110. Source: Heat transfer by natural
// convection across vertical and inclined air layers, Journal of Heat Transfer
// 104 (1982; from memory). Ra to 2e7 at the smallest aspect; outside the forms
// are continued.
func NusseltVerticalGap(ra, aspect float64) float64 {
	if !(ra > 0) {
		return 1
	}
	turbulent := 0.0605 * math.Cbrt(ra)
	between := math.Cbrt(1 + math.Pow(0.104*math.Pow(ra, 0.293)/(1+math.Pow(6310/ra, 1.36)), 3))
	laminar := 0.242 * math.Pow(ra/aspect, 0.272)
	return math.Max(turbulent, math.Max(between, laminar))
}

// Facing is the way a surface looks out into the air.
type Facing int

// Facings of surfaces.
const (
	Upright    Facing = iota // a wall
	FacingUp                 // a floor, or the top of a lid
	FacingDown               // the underside of a lid
)

// Convector computes the natural film of one plate with the gas properties
// frozen at one film temperature, which costs a few roots per call. Properties
// of air change the film by about 0.1 % per kelvin.
type Convector struct {
	facing  Facing
	unit    float64 // conductivity/length [W/(m²·K)]
	ra      float64 // Rayleigh number per kelvin [1/K]
	prandtl float64 // 0.387/(1+(0.492/Pr)^(9/16))^(8/27) [-]
}

// NewConvector prepares a plate of the given length [m]: the height of an
// upright one, area over perimeter of a level one.
func NewConvector(g Gas, facing Facing, length float64) Convector {
	return Convector{
		facing: facing, unit: g.Conductivity / length, ra: g.Rayleigh(1, length),
		prandtl: 0.387 / math.Pow(1+math.Pow(0.492/g.Prandtl(), 9.0/16), 8.0/27),
	}
}

// Film returns the film coefficient [W/(m²·K)] where the surface is warmer than
// the air by excess [K], which may be negative: NusseltVertical on upright
// plates, NusseltUnstable or NusseltStable on level ones.
func (c Convector) Film(excess float64) float64 {
	ra := c.ra * math.Abs(excess)
	switch {
	case c.facing == Upright:
		root := 0.825 + c.prandtl*math.Sqrt(math.Cbrt(ra))
		return c.unit * root * root
	case (excess > 0) == (c.facing == FacingUp):
		return c.unit * NusseltUnstable(ra)
	default:
		return c.unit * NusseltStable(ra)
	}
}

// Nusselt numbers [-] of fully developed laminar flow between parallel plates
// over the hydraulic diameter, twice the gap. Source: standard heat-transfer
// texts (Fundamentals of Heat and Mass Transfer, chapter 8; from memory). In
// the entry length the film is greater.
const (
	NusseltChannelBoth = 7.54 // both plates at one temperature
	NusseltChannelOne  = 4.86 // one plate at a temperature, the other adiabatic
)

// ChannelFilm returns the film coefficient [W/(m²·K)] of fully developed
// laminar flow in a gap [m] of gas of the given conductivity [W/(m·K)], for
// NusseltChannelBoth or NusseltChannelOne. It does not depend on the speed.
func ChannelFilm(nusselt, conductivity, gap float64) float64 {
	return nusselt * conductivity / (2 * gap)
}

// reynoldsTransition is where a boundary layer on a plate is taken to turn
// turbulent [-]; customary value of the heat-transfer texts.
const reynoldsTransition = 5e5

// NusseltPlateLaminar returns the mean Nusselt number [-] of forced flow along
// a flat plate with a laminar boundary layer, Re ≤ 5e5 and Pr ≥ 0.6: 0.664
// Re^(1/2) Pr^(1/3). Source: Fundamentals of Heat and Mass Transfer, chapter 7
// (from memory).
func NusseltPlateLaminar(re, pr float64) float64 {
	return 0.664 * math.Sqrt(re) * math.Cbrt(pr)
}

// NusseltPlateTurbulent returns the mean Nusselt number [-] of forced flow
// along a flat plate whose boundary layer is turbulent from its edge on: 0.037
// Re^(4/5) Pr^(1/3), Re ≤ 1e8. Source: Fundamentals of Heat and Mass Transfer,
// chapter 7 (from memory).
func NusseltPlateTurbulent(re, pr float64) float64 {
	return 0.037 * math.Pow(re, 0.8) * math.Cbrt(pr)
}

// NusseltPlate returns the mean Nusselt number [-] of forced flow along a flat
// plate whose boundary layer starts laminar and turns turbulent at Re 5e5:
// NusseltPlateLaminar up to there, (0.037 Re^(4/5) − A) Pr^(1/3) beyond, with A
// = 0.037 Rc^(4/5) − 0.664 Rc^(1/2) (871). Source: Fundamentals of Heat and
// Mass Transfer, chapter 7 (from memory).
func NusseltPlate(re, pr float64) float64 {
	if re <= reynoldsTransition {
		return NusseltPlateLaminar(re, pr)
	}
	a := 0.037*math.Pow(reynoldsTransition, 0.8) - 0.664*math.Sqrt(reynoldsTransition)
	return (0.037*math.Pow(re, 0.8) - a) * math.Cbrt(pr)
}

// WindFilmStandard returns the convective film [W/(m²·K)] of an outer surface
// at wind speed v [m/s] beside it: 4 + 4v. Source: ISO 6946:2017, annex C (from
// memory).
func WindFilmStandard(v float64) float64 { return 4 + 4*v }

// WindFilmMcAdams returns the convective film [W/(m²·K)] of a smooth plate in
// the open at wind speed v [m/s]: 5.7 + 3.8v below 5 m/s, 6.47 v^0.78 above
// (McAdams; from memory). Its still-air part includes natural convection and
// some radiation. At 5 m/s it falls from 24.7 to 22.7.
func WindFilmMcAdams(v float64) float64 {
	if v < 5 {
		return 5.7 + 3.8*v
	}
	return 6.47 * math.Pow(v, 0.78)
}

// WindFilmPlateNet returns the convective film [W/(m²·K)] at wind speed v
// [m/s] as McAdams' without the radiation in it: 2.8 + 3.0v, v ≤ 7 (Watmuff et
// al. 1977; from memory).
func WindFilmPlateNet(v float64) float64 { return 2.8 + 3.0*v }

// WindFilmBody returns the convective film [W/(m²·K)] of a body of the size of
// a building, length the cube root of its volume [m], at wind speed v [m/s]:
// max(5, 8.6 v^0.6/length^0.4). Source: Solar Engineering of Thermal Processes,
// section 3.15 (from memory).
func WindFilmBody(v, length float64) float64 {
	return math.Max(5, 8.6*math.Pow(v, 0.6)/math.Pow(length, 0.4))
}

// MixedFilm joins a natural and a forced film [W/(m²·K)] that help each other
// by the sum of their cubes, the customary exponent for vertical plates and
// transverse flow (Fundamentals of Heat and Mass Transfer, chapter 9; from
// memory).
func MixedFilm(natural, forced float64) float64 {
	return math.Cbrt(natural*natural*natural + forced*forced*forced)
}
