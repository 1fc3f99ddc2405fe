package web

import (
	"fmt"
	"math"
	"strings"
	"time"

	"hackle/quantity"
)

// say writes numbers for people in their units. Templates know it as .Say.
type say struct{ system quantity.System }

func (s say) Mass(kg float64) string   { return quantity.Format(kg, quantity.Mass, s.system) }
func (s say) Length(m float64) string  { return quantity.Format(m, quantity.Length, s.system) }
func (s say) Temp(c float64) string    { return quantity.Format(c, quantity.Temperature, s.system) }
func (s say) Power(w float64) string   { return quantity.Format(w, quantity.Power, s.system) }
func (s say) Flow(m3s float64) string  { return quantity.Format(m3s, quantity.Flow, s.system) }
func (s say) Area(m2 float64) string   { return quantity.Format(m2, quantity.Area, s.system) }
func (s say) Volume(m3 float64) string { return quantity.Format(m3, quantity.Volume, s.system) }
func (s say) Kelvin(k float64) string {
	return quantity.Format(k, quantity.TemperatureDifference, s.system)
}
func (s say) Speed(m float64) string { return quantity.Format(m, quantity.Speed, s.system) }
func (s say) R(v float64) string     { return quantity.Format(v, quantity.Resistance, s.system) }
func (s say) U(v float64) string     { return quantity.Format(v, quantity.Transmittance, s.system) }
func (s say) Percent(share float64) string {
	p := 100 * share
	switch {
	case p != 0 && math.Abs(p) < 1:
		return fmt.Sprintf("%.1g %%", p)
	default:
		return fmt.Sprintf("%.0f %%", p)
	}
}

// Day writes a day the way it is spoken.
func (s say) Day(t time.Time) string { return t.Format("2 January 2006") }

// Hour writes an hour of a day.
func (s say) Hour(t time.Time) string { return t.Format("2 January 2006, 15:04") }

// Hours writes a time in hours, or in days when there are many.
func (s say) Hours(h float64) string {
	switch {
	case math.Round(h) == 1:
		return "1 hour"
	case h < 96:
		return fmt.Sprintf("%.0f hours", h)
	}
	return fmt.Sprintf("%.0f days", h/24)
}

// Far writes a way over land [m].
func (s say) Far(m float64) string {
	if s.system == quantity.US {
		return fmt.Sprintf("%.0f mi", m/1609.344)
	}
	return fmt.Sprintf("%.0f km", m/1000)
}

// Place writes a latitude and a longitude [deg].
func (s say) Place(latitude, longitude float64) string {
	side := func(v float64, plus, minus string) string {
		if v < 0 {
			plus = minus
		}
		return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", math.Abs(v)), "0"), ".") + "° " + plus
	}
	return side(latitude, "N", "S") + ", " + side(longitude, "E", "W")
}
