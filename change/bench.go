package change

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hackle/hive"
	"hackle/material"
	"hackle/price"
	"hackle/quantity"
)

// bench is where one change is made: the plan so far, what was said, and what
// comes of it.
type bench struct {
	plan   hive.Plan
	site   Site
	kind   Kind
	change Change
	table  *material.Table
	result *Result
	effect Effect
}

// value returns what was said of a parameter, or its default.
func (b *bench) value(key string) (Value, bool) {
	if v, ok := b.change.Values[key]; ok {
		return v, true
	}
	for _, p := range b.kind.Params {
		if p.Key == key && p.Default != "" {
			v, err := p.parse(p.Default)
			if p.Type == Day && south(b.plan, b.site) {
				v.Day = halfYearOn(v.Day)
			}
			return v, err == nil
		}
	}
	return Value{}, false
}

func (b *bench) number(key string) float64 { v, _ := b.value(key); return v.Number }
func (b *bench) word(key string) string    { v, _ := b.value(key); return v.Word }

// days are the days on and off; ok is false when none were said.
func (b *bench) days() (on, off hive.Day, ok bool) {
	x, ok := b.value("on")
	y, _ := b.value("off")
	return x.Day, y.Day, ok
}

// notHere ends a change that has nothing to do.
func (b *bench) notHere(format string, args ...any) error {
	return &NotHere{b.change, fmt.Sprintf(format, args...)}
}

// refuse ends a change that makes no sense here.
func (b *bench) refuse(format string, args ...any) error {
	return &Refused{b.change, fmt.Sprintf(format, args...)}
}

func (b *bench) did(format string, args ...any) { b.effect.Did = fmt.Sprintf(format, args...) }

func (b *bench) warn(caution string) { b.effect.Cautions = append(b.effect.Cautions, caution) }

func (b *bench) show(v float64, kind quantity.Kind) string {
	return quantity.Format(v, kind, b.site.Units)
}

// need adds an area of a layer to what is bought; fill counts by volume.
func (b *bench) need(l hive.Layer, area float64) {
	b.effect.Needs = append(b.effect.Needs, price.Need{Name: l.Material.Name, Measure: price.Area, Amount: area, Thickness: l.Thickness})
}

// part adds parts to what is bought.
func (b *bench) part(name string, count int) {
	b.effect.Needs = append(b.effect.Needs, price.Need{Name: name, Measure: price.Each, Amount: float64(count)})
}

// screws adds fasteners of a length.
func (b *bench) fastener(name string, length float64, count int) {
	b.effect.Needs = append(b.effect.Needs, price.Need{Name: name, Measure: price.Each, Amount: float64(count), Length: length})
}

// layer looks the material of a layer up and adds the cautions of its kind.
func (b *bench) layer(key string) (hive.Layer, error) {
	v, ok := b.value(key)
	if !ok {
		return hive.Layer{}, nil
	}
	m, err := b.table.Find(v.Word)
	if err != nil {
		return hive.Layer{}, b.refuse("%v", err)
	}
	if m.Kind != material.Solid && m.Kind != "" {
		return hive.Layer{}, b.refuse("%s is what a hive holds, not what it is built of", m.Name)
	}
	switch {
	case isFoam(m.Name):
		b.warn(cautionFoam)
	case strings.Contains(m.Name, "mineral wool"), m.Name == "glass wool":
		b.warn(cautionWool)
	}
	return hive.Layer{Material: m, Thickness: v.Number}, nil
}

// insulation is layer for materials that insulate.
func (b *bench) insulation(key string) (hive.Layer, error) {
	l, err := b.layer(key)
	const leastInsulating = 0.2 // [W/(m·K)]: boards of wood still count
	if err == nil && l.Material.Conductivity > leastInsulating {
		return l, b.refuse("%s conducts %s and insulates nothing", l.Material.Name, b.show(l.Material.Conductivity, quantity.Conductivity))
	}
	return l, err
}

func isFoam(name string) bool {
	for _, s := range []string{"EPS", "XPS", "PIR", "foam", "bubble foil"} {
		if strings.Contains(name, s) {
			return true
		}
	}
	return false
}

// loose materials need something that holds them.
func isLoose(name string) bool {
	return slices.Contains([]string{"wood shavings", "straw", "cellulose"}, name)
}

func thickness(layers []hive.Layer) (sum float64) {
	for _, l := range layers {
		sum += l.Thickness
	}
	return sum
}

func sentence(l hive.Layer, show func(float64, quantity.Kind) string) string {
	return show(l.Thickness, quantity.Length) + " of " + l.Material.Name
}

// top is the topmost body.
func (b *bench) top() *hive.Body { return &b.plan.Hive.Bodies[len(b.plan.Hive.Bodies)-1] }

// roofArea is the outer area of the topmost body seen from above. [m²]
func (b *bench) roofArea() float64 { w, d := b.roof(); return w * d }

func (b *bench) roof() (width, depth float64) {
	t := b.top()
	return t.SideToSide() + t.WallThickness(hive.Left) + t.WallThickness(hive.Right),
		t.FrontToBack() + t.WallThickness(hive.Front) + t.WallThickness(hive.Back)
}

// faceArea is the outer area of one side of one body. [m²]
func faceArea(body *hive.Body, f hive.Face) float64 {
	a, c := hive.Left, hive.Right
	if f == hive.Left || f == hive.Right {
		a, c = hive.Front, hive.Back
	}
	return (body.FaceWidth(f) + body.WallThickness(a) + body.WallThickness(c)) * body.Height
}

// sideArea is the outer area of some sides of all bodies. [m²]
func (b *bench) sideArea(faces []hive.Face) (sum float64) {
	for i := range b.plan.Hive.Bodies {
		for _, f := range faces {
			sum += faceArea(&b.plan.Hive.Bodies[i], f)
		}
	}
	return sum
}

// entrance is the index of the main entrance: the opening of that name, else the
// lowest in the front, -1 for none.
func (b *bench) entrance() int {
	best := -1
	for i, o := range b.plan.Hive.Openings {
		if o.Name == "entrance" {
			return i
		}
		if o.Face == hive.Front && (best < 0 || o.Sill < b.plan.Hive.Openings[best].Sill) {
			best = i
		}
	}
	return best
}

// upper returns the indices of the openings above half the height beside the main
// entrance.
func (b *bench) upper() (out []int) {
	main := b.entrance()
	for i, o := range b.plan.Hive.Openings {
		if i != main && o.Sill > b.plan.Hive.Height()/2 {
			out = append(out, i)
		}
	}
	return out
}

// freeName is a name that no opening has: "top vent", "top vent 2".
func (b *bench) freeName(name string) string {
	taken := func(s string) bool {
		return slices.ContainsFunc(b.plan.Hive.Openings, func(o hive.Opening) bool { return o.Name == s })
	}
	for i, try := 2, name; ; i++ {
		if !taken(try) {
			return try
		}
		try = fmt.Sprintf("%s %d", name, i)
	}
}

// hole drills a round hole into a body, its upper edge a little below a height.
func (b *bench) hole(name string, face hive.Face, diameter, sill float64) hive.Opening {
	h := &b.plan.Hive
	o := hive.Opening{Name: b.freeName(name), Face: face, Sill: round(sill), Width: diameter, Height: diameter, Shape: hive.Round, Count: 1}
	o.Depth = h.Bodies[h.BodyAt(o.Sill)].WallThickness(face)
	return o
}

// openBetween opens an opening from one day to another and closes it otherwise.
func openBetween(o *hive.Opening, from, to hive.Day) {
	o.Schedule = []hive.OpeningState{{From: from, Width: o.Width}, {From: to, Width: 0}}
}

// round keeps whole tenths of a millimetre, so that sums of measures make no noise
// in a file. [m]
func round(x float64) float64 { return math.Round(x*1e4) / 1e4 }

// finish looks a finish up.
func (b *bench) finish(name string) (hive.Finish, error) {
	f, err := b.table.Finish(name)
	if err != nil {
		return hive.Finish{}, b.refuse("%v", err)
	}
	return hive.Finish{Name: f.Name, SolarAbsorptance: f.SolarAbsorptance, Emissivity: f.Emissivity}, nil
}

// paint adds the paint for an area: two coats at 8 m² a litre each. Common
// practice, no source.
func (b *bench) paint(name string, area float64) {
	if !strings.Contains(name, "paint") {
		return
	}
	b.effect.Needs = append(b.effect.Needs, price.Need{Name: name, Measure: price.Volume, Amount: 2 * area / 8 * 1e-3})
}
