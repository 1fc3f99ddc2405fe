// Package material is the table of what hives are built of, with the source of
// every value: boards, insulation, sheets and wax, what a hive holds, and the
// finishes of outer surfaces. It also gives the thermal resistance of closed air
// layers by EN ISO 6946.
//
// [Standard] reads the embedded table; [Table.Find] looks a name up as a keeper
// types it; [Table.With] adds or replaces materials.
package material

import (
	"fmt"
	"math"
	"strings"
)

// Kind tells what a material may be used for.
type Kind string

// The kinds of material.
const (
	Solid   Kind = "solid"   // may be a layer of a wall, lid, floor or wrap; all values known
	Content Kind = "content" // what a hive holds; a value of 0 is not known
)

// Tight is the vapour resistance factor that stands for vapour-tight metals
// and glass. [-]
const Tight = 1e9

// Material is a substance in the state in which hives use it. Materials may be
// compared with ==.
type Material struct {
	Name             string
	Conductivity     float64 // [W/(m·K)] at 10 °C, air dry
	Density          float64 // [kg/m³]
	SpecificHeat     float64 // [J/(kg·K)]
	MuDry            float64 // water-vapour resistance factor, dry side [-]
	MuWet            float64 // water-vapour resistance factor, wet side, at most MuDry [-]
	Emissivity       float64 // long wave [-]
	SolarAbsorptance float64 // [-]
	Source           string  // where the values come from
	FromMemory       bool    // some values were recalled, not read
	Note             string  // what a user should know
	Kind             Kind    // empty counts as Solid
	// Sorption is the equilibrium moisture, as a share of dry mass, as a
	// multiple of that of wood at the same humidity; 0 stores none. [-]
	Sorption float64
	// MoistureExponent says how water raises the conductivity: it goes as
	// exp(MoistureExponent·share of water by volume); 0: not known, or not at all. By
	// EN ISO 10456:2007 table 4 (from memory); woods after the Wood Handbook's 1.4 by
	// mass, light plant and animal fibres as cellulose, 0.5 by mass, an estimate. [-]
	MoistureExponent float64
	// SheetThickness is the thickness of one sheet as sold, for materials that
	// come in one thickness; 0 when it varies. [m]
	SheetThickness float64
	// SheetResistance is the thermal resistance of such a sheet when that was
	// measured and not a conductivity, else 0. Conductivity is then
	// SheetThickness/SheetResistance, rounded. [m²·K/W]
	SheetResistance float64
}

// Finish is the look of an outer surface to sun and sky.
type Finish struct {
	Name             string
	SolarAbsorptance float64 // [-]
	Emissivity       float64 // long wave [-]
	Source           string  // where the values come from
	FromMemory       bool    // some values were recalled, not read
	Note             string  // what a user should know
}

// RangeError tells of a value outside the range that is physically possible.
type RangeError struct {
	Material string  // name of the material or finish
	Field    string  // in words, such as "conductivity"
	Found    float64 // [Unit]
	Min, Max float64 // accepted range, both ends included [Unit]
	Unit     string
}

// Error names field, value found and accepted range.
func (e *RangeError) Error() string {
	unit := ""
	if e.Unit != "-" {
		unit = " " + e.Unit
	}
	return fmt.Sprintf("material %q: %s is %g%s, accepted is %g to %g%s", e.Material, e.Field, e.Found, unit, e.Min, e.Max, unit)
}

// limit is the accepted range of one value.
type limit struct {
	field    string
	found    float64
	min, max float64
	unit     string
	optional bool // 0 is accepted: not known, or none
}

// Validate checks that the material has a name and that every value lies in the
// range of known substances, from evacuated panels to metals; it returns a
// [*RangeError] for the first value outside. A Solid needs all of conductivity,
// density, specific heat, mu and emissivity. A Content may leave them 0.
func (m Material) Validate() error {
	if nameKey(m.Name) == "" {
		return fmt.Errorf("material without a name")
	}
	kind := m.Kind
	if kind == "" {
		kind = Solid
	}
	if kind != Solid && kind != Content {
		return fmt.Errorf("material %q: kind is %q, accepted are %q and %q", m.Name, m.Kind, Solid, Content)
	}
	open := kind == Content
	limits := [...]limit{
		{"conductivity", m.Conductivity, 0.002, 500, "W/(m·K)", open},
		{"density", m.Density, 1, 25000, "kg/m³", open},
		{"specific heat", m.SpecificHeat, 100, 5000, "J/(kg·K)", open},
		{"dry water-vapour resistance factor mu", m.MuDry, 1, Tight, "-", open},
		{"wet water-vapour resistance factor mu", m.MuWet, 1, max(m.MuDry, 1), "-", open},
		{"emissivity", m.Emissivity, 0.01, 1, "-", open},
		{"solar absorptance", m.SolarAbsorptance, 0.01, 1, "-", open},
		{"sorption", m.Sorption, 0, 3, "-", true},
		{"moisture exponent", m.MoistureExponent, 0, 50, "-", true},
		{"sheet thickness", m.SheetThickness, 1e-6, 1, "m", true},
		{"sheet resistance", m.SheetResistance, 1e-6, 100, "m²·K/W", true},
	}
	return check(m.Name, limits[:])
}

// Validate checks that the finish has a name and that its values lie within 0.01
// and 1; it returns a [*RangeError] for the first value outside.
func (f Finish) Validate() error {
	if nameKey(f.Name) == "" {
		return fmt.Errorf("finish without a name")
	}
	return check(f.Name, []limit{
		{"solar absorptance", f.SolarAbsorptance, 0.01, 1, "-", false},
		{"emissivity", f.Emissivity, 0.01, 1, "-", false},
	})
}

func check(name string, limits []limit) error {
	for _, l := range limits {
		if l.optional && l.found == 0 {
			continue
		}
		// Written so that NaN is refused.
		if !(l.found >= l.min && l.found <= l.max) || math.IsInf(l.found, 0) {
			return &RangeError{name, l.field, l.found, l.min, l.max, l.unit}
		}
	}
	return nil
}

// UnknownError tells that a table has no entry of a name.
type UnknownError struct {
	Name    string
	Nearest []string // names that may be meant, best first; empty when none is near
	// Finish is true when a finish was asked for.
	Finish bool
}

// Error names what is unknown and what may be meant.
func (e *UnknownError) Error() string {
	what := "material"
	if e.Finish {
		what = "finish"
	}
	if len(e.Nearest) == 0 {
		return fmt.Sprintf("%s %q is not in the table", what, e.Name)
	}
	return fmt.Sprintf("%s %q is not in the table, did you mean %s?", what, e.Name, strings.Join(e.Nearest, " or "))
}
