package wall

import "math"

// MouldClass tells how readily mould grows on a surface.
//
// Source: A mathematical model of mould growth on wooden material, Wood Science
// and Technology 33, 475 (1999), and its extension to four classes of materials
// by the same school (2007 to 2010).
type MouldClass struct {
	A, B, C      float64 // greatest index = A + B·x − C·x² [-]
	StartFactor  float64 // growth below index 1, as a share of that on pine sapwood [-]
	GrowFactor   float64 // growth from index 1 on, likewise [-]
	LeastRH      float64 // humidity below which nothing grows at any temperature [-]
	DeclineShare float64 // decline, as a share of that on pine [-]
}

// MouldVerySensitive returns the class of untreated pine sapwood.
//
// Source of this and the other classes: as MouldClass. A, B and C read, the
// factors and LeastRH from memory. The shares of the decline are those published
// (1, 0.5, 0.25, 0.1, from memory), here given to the classes in their order
// (judgement: the source measures them material by material).
func MouldVerySensitive() MouldClass {
	return MouldClass{A: 1, B: 7, C: 2, StartFactor: 1, GrowFactor: 2, LeastRH: 0.80, DeclineShare: 1}
}

// MouldSensitive returns the class of planed spruce, glued boards and
// paper-faced products.
func MouldSensitive() MouldClass {
	return MouldClass{A: 0.3, B: 6, C: 1, StartFactor: 0.578, GrowFactor: 0.386, LeastRH: 0.80, DeclineShare: 0.5}
}

// MouldMedium returns the class of mineral wool and concrete.
func MouldMedium() MouldClass {
	return MouldClass{A: 0, B: 5, C: 1.5, StartFactor: 0.072, GrowFactor: 0.097, LeastRH: 0.85, DeclineShare: 0.25}
}

// MouldResistant returns the class of glass, metals and treated materials.
func MouldResistant() MouldClass {
	return MouldClass{A: 0, B: 3, C: 1, StartFactor: 0.033, GrowFactor: 0.014, LeastRH: 0.85, DeclineShare: 0.1}
}

// CriticalHumidity returns the relative humidity above which mould grows at t
// [°C] [-]:
//
//	−0.00267·t³ + 0.160·t² − 3.13·t + 100 %    up to 20 °C, 80 % above
//
// and never less than the class's LeastRH. It is 1 at 0 °C and below.
func (c MouldClass) CriticalHumidity(t float64) float64 {
	switch {
	case t <= 0:
		return 1
	case t > 20:
		return math.Max(0.80, c.LeastRH)
	}
	return math.Max((100+t*(-3.13+t*(0.160-0.00267*t)))/100, c.LeastRH)
}

// MostIndex returns the index [-] at which growth ends at t [°C] and relative
// humidity phi [-]; 0 where nothing grows.
func (c MouldClass) MostIndex(t, phi float64) float64 {
	critical := c.CriticalHumidity(t)
	if t <= 0 || t >= mouldHottest || phi < critical {
		return 0
	}
	x := (critical - math.Min(phi, 1)) / (critical - 1)
	return math.Max(0, c.A+x*(c.B-x*c.C))
}

// mouldHottest is the temperature above which mould does not grow [°C] (from
// memory).
const mouldHottest = 50.0

// MouldStart returns the time that growth takes to begin, index 1, on resawn
// pine at constant temperature t [°C] and relative humidity phi [-] [s]:
//
//	exp(−0.68·ln t − 13.9·ln RH% + 66.02) weeks
//
// Source: as MouldClass. For 5 to 40 °C and humidity above the critical.
func MouldStart(t, phi float64) float64 {
	return week * math.Exp(-0.68*math.Log(t)-13.9*math.Log(100*phi)+66.02)
}

// MouldVisible returns the time until growth on resawn pine can be seen, index
// 3, at constant temperature t [°C] and relative humidity phi [-] [s]:
//
//	exp(−0.74·ln t − 12.72·ln RH% + 61.50) weeks
//
// Source and range: as MouldStart.
func MouldVisible(t, phi float64) float64 {
	return week * math.Exp(-0.74*math.Log(t)-12.72*math.Log(100*phi)+61.50)
}

const (
	hour = 3600.0      // [s]
	week = 168 * 3600. // [s]
)

// Decline of the index on pine in unfavourable conditions: fast for the first
// hours, then none, then slow. Source: as MouldClass (from memory).
const (
	declineFast   = 0.00133 / hour  // [1/s]
	declineSlow   = 0.000667 / hour // [1/s]
	declinePause  = 6 * hour        // [s]
	declineResume = 24 * hour       // [s]
)

// Mould is the state of mould on a surface. The zero value is a clean one.
type Mould struct {
	// Index goes from 0, no growth, over 1, growth seen under the microscope,
	// and 3, growth seen by eye, to 6, all covered. [-]
	Index float64
	// Dry is how long conditions have been unfavourable [s].
	Dry float64
	// Growing is the time in which mould could grow, of all that was advanced [s].
	Growing float64
}

// Advance carries the index over dt [s], at most about a day, with the surface
// at t [°C] and the air at it at relative humidity phi [-].
func (m *Mould) Advance(dt, t, phi float64, class MouldClass) {
	critical := class.CriticalHumidity(t)
	if t > 0 && t < mouldHottest && phi >= critical {
		phi = math.Min(phi, 1)
		m.Dry = 0
		m.Growing += dt
		slow := 1 - math.Exp(2.3*(m.Index-class.MostIndex(t, phi)))
		if slow <= 0 {
			return
		}
		factor := class.StartFactor
		if m.Index >= 1 {
			factor = class.GrowFactor
		}
		m.Index = math.Min(6, m.Index+dt*factor*slow/MouldStart(t, phi))
		return
	}
	from, to := m.Dry, m.Dry+dt
	m.Dry = to
	fast := math.Max(0, math.Min(to, declinePause)-from)
	late := math.Max(0, to-math.Max(from, declineResume))
	m.Index = math.Max(0, m.Index-class.DeclineShare*(declineFast*fast+declineSlow*late))
}
