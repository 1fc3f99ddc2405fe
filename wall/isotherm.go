package wall

import (
	"errors"
	"fmt"
	"math"
)

// WoodMoisture returns the equilibrium moisture of wood as a share of its dry
// mass [-] in air of relative humidity phi [-] and temperature t [°C], by the
// equation of two hydrates.
//
// Source: Wood Handbook (FPL-GTR-190), chapter 4, coefficients in °C (W, K and
// K1 read, K2 from memory; the handbook's table at 21.1 °C is met within 0.04 %
// of dry mass). Made for 0 to 1 and −1 to 130 °C; colder it goes on smoothly.
// Some printed sets mix coefficients of the two temperature scales: this one is
// for °C alone.
func WoodMoisture(phi, t float64) float64 {
	w := 349 + t*(1.29+t*0.0135)
	k := 0.805 + t*(0.000736-t*0.00000273)
	k1 := 6.27 - t*(0.00938+t*0.000303)
	k2 := 1.91 + t*(0.0407-t*0.000293)
	a := k * phi
	b := k1 * a
	c := k1 * k2 * a * a
	return 18 / w * (a/(1-a) + (b+2*c)/(1+b+c))
}

// FibreSaturation is the moisture of wood above which water is free in its
// cells, as a share of dry mass [-]. Source: Wood Handbook (FPL-GTR-190),
// chapter 4 (from memory). WoodMoisture gives 0.288 to 0.291 at saturation.
const FibreSaturation = 0.30

// curveSteps is the number of equal steps of content in a sorption curve.
const curveSteps = 128

// isothermTemp is the temperature at which curves are laid down [°C]. Humidity
// at a given content goes as a parabola of temperature through it and through
// its values isothermCooler below and isothermWarmer above [K].
const (
	isothermTemp   = 10.0
	isothermCooler = 18.0
	isothermWarmer = 26.0
)

// sorptionNode is the humidity at one content, and what it gains up to the next.
type sorptionNode struct {
	phi, phiStep   float64 // at isothermTemp [-]
	warm, warmStep float64 // per kelvin above isothermTemp [1/K]
	bend, bendStep float64 // per kelvin squared [1/K²]
}

// sorptionCurve holds relative humidity against content in equal steps from
// dry to saturation at isothermTemp.
type sorptionCurve [curveSteps + 1]sorptionNode

// Isotherm is a material's equilibrium of water content and relative humidity.
// The zero value stores nothing. An Isotherm is immutable; those made of one
// another by Times share their table.
//
// It is a table of humidity against content in 128 equal steps, linear between
// them. Wood's follows WoodMoisture within 0.002 of relative humidity from -10
// to 40 °C, 0.01 from -20 to 50 °C; linear ones are exact.
type Isotherm struct {
	curve *sorptionCurve
	full  float64 // content at saturation at isothermTemp [kg/m³]
}

// WoodIsotherm returns the isotherm of wood of a dry density [kg/m³] at every
// temperature, by WoodMoisture. Multiple is the material's moisture by mass as
// a multiple of wood's at the same humidity [-]; either at 0 gives the isotherm
// that stores nothing.
func WoodIsotherm(density, multiple float64) Isotherm {
	if !(density*multiple > 0) {
		return Isotherm{}
	}
	// humidity inverts WoodMoisture at t. A moisture that the wood reaches only
	// cooler or warmer may lie a little above saturation.
	humidity := func(moisture, t float64) float64 {
		lo, hi := 0.0, 1.1
		for range 60 {
			if mid := (lo + hi) / 2; WoodMoisture(mid, t) < moisture {
				lo = mid
			} else {
				hi = mid
			}
		}
		return (lo + hi) / 2
	}
	top := WoodMoisture(1, isothermTemp)
	c := &sorptionCurve{}
	for i := range c {
		m := top * float64(i) / curveSteps
		if i == 0 {
			continue
		}
		c[i].phi = humidity(m, isothermTemp)
		cooler := (humidity(m, isothermTemp-isothermCooler) - c[i].phi) / -isothermCooler
		warmer := (humidity(m, isothermTemp+isothermWarmer) - c[i].phi) / isothermWarmer
		c[i].bend = (warmer - cooler) / (isothermWarmer + isothermCooler)
		c[i].warm = warmer - c[i].bend*isothermWarmer
	}
	c[curveSteps].phi = 1
	c.finish()
	return Isotherm{curve: c, full: top * density * multiple}
}

// LinearIsotherm returns the isotherm of a content that grows in proportion to
// relative humidity, with slope [kg/m³] from dry to saturation.
func LinearIsotherm(slope float64) Isotherm {
	if !(slope > 0) {
		return Isotherm{}
	}
	c := &sorptionCurve{}
	for i := range c {
		c[i].phi = float64(i) / curveSteps
	}
	c.finish()
	return Isotherm{curve: c, full: slope}
}

// TabulatedIsotherm returns the isotherm through the points phi [-], content
// [kg/m³], linear between them and through the origin. Both must rise from
// point to point and phi end at 1; else it returns an error. Between two
// entries of the table the content errs by at most 1/128 of its greatest, where
// a corner lies between.
func TabulatedIsotherm(phi, content []float64) (Isotherm, error) {
	if len(phi) == 0 || len(phi) != len(content) {
		return Isotherm{}, fmt.Errorf("wall: isotherm of %d humidities and %d contents", len(phi), len(content))
	}
	p, w := 0.0, 0.0
	for i := range phi {
		first := i == 0 && phi[0] == 0 && content[0] == 0
		if !(phi[i] > p && content[i] > w) && !first {
			return Isotherm{}, fmt.Errorf("wall: point %d of an isotherm, %v and %v kg/m³, does not rise", i+1, phi[i], content[i])
		}
		p, w = phi[i], content[i]
	}
	if p != 1 || math.IsInf(w, 1) {
		return Isotherm{}, errors.New("wall: an isotherm must end at saturation with a finite content")
	}
	c := &sorptionCurve{}
	k, p0, w0 := 0, 0.0, 0.0
	for i := range c {
		at := w * float64(i) / curveSteps
		for k < len(phi)-1 && content[k] < at {
			p0, w0 = phi[k], content[k]
			k++
		}
		if content[k] > w0 {
			c[i].phi = p0 + (phi[k]-p0)*(at-w0)/(content[k]-w0)
		}
	}
	c[curveSteps].phi = 1
	c.finish()
	return Isotherm{curve: c, full: w}, nil
}

// finish fills in the differences.
func (c *sorptionCurve) finish() {
	for i := range curveSteps {
		c[i].phiStep = c[i+1].phi - c[i].phi
		c[i].warmStep = c[i+1].warm - c[i].warm
		c[i].bendStep = c[i+1].bend - c[i].bend
	}
}

// Times returns the isotherm of factor times the content at every humidity [-].
func (s Isotherm) Times(factor float64) Isotherm {
	if !(s.full*factor > 0) {
		return Isotherm{}
	}
	return Isotherm{curve: s.curve, full: s.full * factor}
}

// Stores reports whether the material takes up any water from humid air.
func (s Isotherm) Stores() bool { return s.curve != nil }

// Humidity returns the relative humidity in equilibrium with a content [kg/m³]
// at t [°C], and its slope by content [m³/kg]. Above 1 it tells how much of the
// content is free water: (phi − 1)/slope. It gives 0 and 0 for a material that
// stores nothing.
func (s Isotherm) Humidity(content, t float64) (phi, slope float64) {
	if s.curve == nil {
		return 0, 0
	}
	perContent := curveSteps / s.full
	phi, slope = s.curve.at(content*perContent, t-isothermTemp)
	return phi, slope * perContent
}

// at returns the humidity at x steps of the table and its slope per step, at a
// temperature the given number of kelvins above isothermTemp. The first and the
// last step go on beyond the table.
func (c *sorptionCurve) at(x, above float64) (phi, slope float64) {
	k := 0
	if x >= curveSteps {
		k = curveSteps - 1
	} else if x > 0 {
		k = int(x)
	}
	n := &c[k]
	slope = n.phiStep + above*(n.warmStep+above*n.bendStep)
	return n.phi + above*(n.warm+above*n.bend) + (x-float64(k))*slope, slope
}

// Content returns the content in equilibrium with relative humidity phi, from 0
// to 1, at t [°C] [kg/m³]; it is the inverse of Humidity.
func (s Isotherm) Content(phi, t float64) float64 {
	if s.curve == nil || !(phi > 0) {
		return 0
	}
	phi = math.Min(phi, 1)
	above := t - isothermTemp
	lo, hi := 0, curveSteps
	for lo+1 < hi {
		mid := (lo + hi) / 2
		if p, _ := s.curve.at(float64(mid), above); p <= phi {
			lo = mid
		} else {
			hi = mid
		}
	}
	p, slope := s.curve.at(float64(lo), above)
	return s.full / curveSteps * (float64(lo) + (phi-p)/slope)
}
