package wall

import (
	"errors"
	"fmt"
	"math"
)

// Saturation13788 returns the saturation pressure of the monthly method [Pa] at
// t [°C], over ice below 0 °C. Source: EN ISO 13788:2012, annex E. It lies
// within 0.3 % of the exact one from -12 to 50 °C and 1.1 % below it at -30 °C.
func Saturation13788(t float64) float64 {
	if t < 0 {
		return 610.5 * math.Exp(21.875*t/(265.5+t))
	}
	return 610.5 * math.Exp(17.269*t/(237.3+t))
}

// DewPoint13788 returns the temperature [°C] at which pv [Pa] is
// Saturation13788; pv must be positive. Source: EN ISO 13788:2012, annex E.
func DewPoint13788(pv float64) float64 {
	x := math.Log(pv / 610.5)
	if x < 0 {
		return 265.5 * x / (21.875 - x)
	}
	return 237.3 * x / (17.269 - x)
}

// RoomClimate returns the temperature [°C] and relative humidity [-] of rooms of
// normal moisture load by the mean outdoor temperature [°C]: 20 °C up to 10 °C
// outdoors, 25 °C from 20 °C; 35 % up to -10 °C, 65 % from 20 °C; linear
// between. Source: EN 15026:2007, annex C, as used with EN ISO 13788:2012.
func RoomClimate(tOut float64) (t, phi float64) {
	t = 20 + 5*math.Max(0, math.Min(1, (tOut-10)/10))
	phi = 0.35 + 0.30*math.Max(0, math.Min(1, (tOut+10)/30))
	return t, phi
}

// LeastSurfaceFactor returns the temperature factor of an inner surface [-],
// (surface − outdoors)/(indoors − outdoors), that just keeps the humidity at the
// surface at phiMost [-] when indoors are at tIn [°C] with vapour pressure pvIn
// [Pa] and outdoors at tOut [°C]. Source: EN ISO 13788:2012, clause 5; 0.8 there
// against mould.
func LeastSurfaceFactor(tIn, pvIn, tOut, phiMost float64) float64 {
	return (DewPoint13788(pvIn/phiMost) - tOut) / (tIn - tOut)
}

// VapourLayer is a layer of the monthly method.
type VapourLayer struct {
	Resistance float64 // [m²·K/W]
	Sd         float64 // vapour resistance as metres of still air, positive [m]
}

// VapourPeriod is a spell of constant means on both sides of a wall.
type VapourPeriod struct {
	Duration float64 // [s]
	TIn      float64 // air inside [°C]
	PvIn     float64 // vapour pressure inside [Pa]
	TOut     float64 // air outside [°C]
	PvOut    float64 // vapour pressure outside [Pa]
}

// PlaneMoisture is what a period does at the planes of a wall: its inner
// surface, the interfaces of its layers, and its outer surface.
type PlaneMoisture struct {
	Temp     []float64 // [°C]
	Pressure []float64 // vapour pressure [Pa]
	Offered  []float64 // what the plane would condense or, when negative, dry if it stayed at saturation [kg/m²]
	Change   []float64 // condensed, or dried when negative, in the period [kg/m²]
	Stored   []float64 // condensate at the end [kg/m²]
}

// InterstitialCondensation carries the condensate between the layers of a wall,
// given from the inside to the outside, through periods one after the other,
// dry at the start. Heat and vapour are steady in each period; surface
// resistances rsi and rse [m²·K/W] resist heat alone. Which planes condense, stay
// wet and dry up is what makes pressures nowhere exceed saturation and no plane
// dry by more than it held; a plane that dries up within a period gives off what
// it held evenly over it.
//
// Source: EN ISO 13788:2012, clause 6, with AirPermeability. The standard asks
// that layers of more than 0.25 m²·K/W be cut up; that is left to the caller.
func InterstitialCondensation(layers []VapourLayer, rsi, rse float64, periods []VapourPeriod) ([]PlaneMoisture, error) {
	if len(layers) == 0 {
		return nil, errors.New("wall: no layer")
	}
	total := rsi + rse
	n := len(layers)
	below := make([]float64, n+1) // resistance from inside to each plane [m²·K/W]
	link := make([]float64, n)    // [kg/(m²·s·Pa)]
	below[0] = rsi
	for i, l := range layers {
		if !(l.Resistance >= 0) || !(l.Sd > 0) || math.IsInf(l.Resistance+l.Sd, 1) {
			return nil, fmt.Errorf("wall: layer %d: resistance %v m²·K/W, sd %v m", i+1, l.Resistance, l.Sd)
		}
		total += l.Resistance
		below[i+1] = below[i] + l.Resistance
		link[i] = AirPermeability / l.Sd
	}
	if !(rsi >= 0 && rse >= 0 && total > 0) {
		return nil, fmt.Errorf("wall: surface resistances %v and %v m²·K/W", rsi, rse)
	}
	stored := make([]float64, n+1)
	wet := make([]bool, n+1)
	mult, carry := make([]float64, n+1), make([]float64, n+1)
	result := make([]PlaneMoisture, 0, len(periods))
	for number, period := range periods {
		block := make([]float64, 5*(n+1))
		m := PlaneMoisture{Temp: block[:n+1], Pressure: block[n+1 : 2*n+2], Change: block[2*n+2 : 3*n+3],
			Stored: block[3*n+3 : 4*n+4], Offered: block[4*n+4:]}
		saturation := make([]float64, n+1)
		for i := range m.Temp {
			m.Temp[i] = period.TIn - (period.TIn-period.TOut)*below[i]/total
			saturation[i] = Saturation13788(m.Temp[i])
			wet[i] = stored[i] > 0
		}
		p := m.Pressure
		p[0], p[n] = period.PvIn, period.PvOut
		// A plane is wet, at saturation, or dry, having given off all it held by
		// the end of the period. The right split is found by trial: each plane
		// that contradicts its part changes it.
		settled := false
		for round := 0; round < 4*n+8 && !settled; round++ {
			carry[0] = p[0]
			for i := 1; i < n; i++ {
				if wet[i] {
					mult[i], carry[i] = 0, saturation[i]
					continue
				}
				all := link[i-1]*(1-mult[i-1]) + link[i]
				mult[i], carry[i] = link[i]/all, (link[i-1]*carry[i-1]+stored[i]/period.Duration)/all
			}
			for i := n - 1; i > 0; i-- {
				p[i] = carry[i] + mult[i]*p[i+1]
			}
			settled = true
			for i := 1; i < n; i++ {
				switch {
				case wet[i]:
					m.Change[i] = period.Duration * (link[i-1]*(p[i-1]-p[i]) - link[i]*(p[i]-p[i+1]))
					m.Offered[i] = m.Change[i]
					if stored[i]+m.Change[i] < 0 {
						wet[i], settled = false, false
					}
				default:
					m.Change[i] = -stored[i]
					if p[i] > saturation[i]*(1+1e-12) {
						wet[i], settled = true, false
					}
				}
			}
		}
		if !settled {
			return nil, fmt.Errorf("wall: period %d: the condensation planes do not settle", number+1)
		}
		for i := range stored {
			stored[i] += m.Change[i]
		}
		copy(m.Stored, stored)
		result = append(result, m)
	}
	return result, nil
}
