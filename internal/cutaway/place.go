package cutaway

import (
	"math"
	"strconv"
	"strings"

	"hackle/quantity"
)

// Place is what can be told of a point in a picture.
type Place struct {
	Where string   `json:"where"` // "cluster", "core air", "outer air", "air past the follower board", "wall" and the like, or "outdoors"
	Temp  *float64 `json:"temp_C,omitempty"`
	// Height above the floor. [m]
	Height float64 `json:"height_m"`
	// Comb is true where comb hangs; Fill is how full of honey the comb of that
	// height is, as it is drawn. [-]
	Comb bool    `json:"comb"`
	Fill float64 `json:"fill,omitempty"`
	// Material is set inside the shell.
	Material string `json:"material,omitempty"`
}

// At tells what lies at a point of the picture of an hour. x counts from the middle
// of the hive, z from the floor upward. [m]
func (y *Year) At(section Section, x, z float64, hour int) Place {
	s := newScene(&y.hive, y, section)
	px, py := x*mm, -z*mm
	p := Place{Where: "outdoors", Height: z}
	tell := func(t float64) { p.Temp = &t }
	holds := func(r rect) bool { return px >= r.x0 && px < r.x1 && py >= r.y0 && py < r.y1 }
	for _, list := range [][]piece{s.boards, s.shell, s.doors} {
		for _, c := range list {
			if holds(c.rect) && y.shows(s, c.gate, hour) {
				p.Where, p.Material = "shell", s.materialAt(c)
				return p
			}
		}
	}
	if s.attic != nil && holds(*s.attic) {
		p.Where = "air space in the lid"
		if t, ok := y.Value("air.in_lid", hour); ok {
			tell(t)
		}
		return p
	}
	inside := false
	for _, r := range s.inside {
		inside = inside || holds(r)
	}
	if !inside || hour < 0 || hour >= y.hours {
		if hour >= 0 && hour < y.hours {
			tell(y.value("outdoor.temp", hour))
		}
		return p
	}
	for _, c := range s.moves.Combs {
		for _, b := range c.Bars {
			k := int(b[2])
			if px >= b[0] && px < b[0]+b[1] && py >= b[3] && py < b[3]+b[4] {
				p.Comb, p.Fill = true, y.value("fill."+c.Column+"."+strconv.Itoa(k+1), hour)
			}
		}
	}
	if b := s.moves.Ball; b != nil && y.value("bees.mass", hour) > 0 {
		r := 1000 * y.value("bees.radius", hour)
		if d := math.Hypot(px-b.X, py+1000*y.value("bees.height", hour)); d < r {
			p.Where = "cluster"
			tell(y.inCluster(d/r, hour))
			return p
		}
	}
	of := "air"
	for _, c := range s.combs {
		// Inside a comb the comb tells its own temperature, not the air beside it.
		if c.built && holds(c.rect) && (y.has("comb.core.") || y.has("comb.flank.")) {
			p.Comb, of = true, "comb"
		}
	}
	if px < s.span[0] || px > s.span[1] {
		p.Where = map[string]string{"air": "air past the follower board", "comb": "comb past the follower board"}[of]
		if t, ok := y.fieldTemp(&s.moves, of, "beyond", 0, z, hour); ok {
			tell(t)
		}
		return p
	}
	share := 1.0
	p.Where = map[string]string{"air": "core air", "comb": "inner comb"}[of]
	if len(y.columns) > 1 {
		if share = s.coreShare(px); of == "comb" && s.onEdgeAt(z) {
			share = 0
			if s.columnAt(s.combMiddle(px, py)) == core {
				share = 1
			}
		}
		if share < 0.5 {
			p.Where = map[string]string{"air": "outer air", "comb": "outer comb"}[of]
		}
	}
	if t, ok := y.fieldTemp(&s.moves, of, "", share, z, hour); ok {
		tell(t)
	}
	return p
}

// onEdgeAt reports whether the section cuts the combs at a height. [m]
func (s *scene) onEdgeAt(z float64) bool {
	i := s.hive.BodyAt(z)
	return i >= 0 && i < len(s.hive.Bodies) && s.onEdge(&s.hive.Bodies[i])
}

// combMiddle is the middle of the comb that holds a point.
func (s *scene) combMiddle(px, py float64) float64 {
	for _, c := range s.combs {
		if px >= c.x0 && px < c.x1 && py >= c.y0 && py < c.y1 {
			return (c.x0 + c.x1) / 2
		}
	}
	return px
}

// fieldTemp is the temperature of air or combs at a height, as it is drawn: so much
// of it the core's, or all of a column.
func (y *Year) fieldTemp(m *moves, of, column string, share, z float64, hour int) (float64, bool) {
	for _, f := range m.Fields {
		if f.Of == of && f.Column == column {
			f.Core = share
			return y.airAt(z, func(k int) float64 { return y.fieldAt(f, k, hour) }), true
		}
	}
	return 0, false
}

// inCluster is the temperature at a share of the cluster's radius: the core's in
// its inner half, then falling to the mantle's at nine tenths.
func (y *Year) inCluster(share float64, hour int) float64 {
	core, mantle := y.value("bees.core", hour), y.value("bees.mantle", hour)
	f := min(max((share-0.55)/0.35, 0), 1)
	return core + f*(mantle-core)
}

// airAt goes straight from the middle of one slab to the middle of the next.
func (y *Year) airAt(z float64, of func(k int) float64) float64 {
	n := len(y.slabs)
	mid := func(k int) float64 { return (y.slabs[k].Bottom + y.slabs[k].Top) / 2 }
	if z <= mid(0) {
		return of(0)
	}
	for k := 1; k < n; k++ {
		if z < mid(k) {
			f := (z - mid(k-1)) / (mid(k) - mid(k-1))
			return of(k-1) + f*(of(k)-of(k-1))
		}
	}
	return of(n - 1)
}

// shows reports whether a gated part is there in an hour.
func (y *Year) shows(s *scene, gateID string, hour int) bool {
	if gateID == "" {
		return true
	}
	for _, g := range s.moves.Gates {
		if g.ID == gateID {
			return y.value(g.Of, hour) == g.When
		}
	}
	return false
}

// materialAt names what a piece is drawn as.
func (s *scene) materialAt(c piece) string {
	names := map[hatch]string{grain: "wood", plies: "board", foam: "rigid insulation", loops: "soft insulation", litter: "loose fill", weave: "cloth", sheet: "sheet", metal: "metal", glass: "glass"}
	return names[c.hatch]
}

// Say says the place in words.
func (p Place) Say(u quantity.System) string {
	text := upper(p.Where)
	if p.Material != "" {
		text = upper(p.Material)
	}
	if p.Temp != nil {
		text += ", " + quantity.Format(*p.Temp, quantity.Temperature, u)
	}
	if p.Where != "outdoors" && p.Material == "" {
		text += ", " + quantity.Format(p.Height, quantity.Length, u) + " above the floor"
	}
	if p.Comb {
		if !strings.Contains(p.Where, "comb") {
			text += "; comb"
		}
		if p.Fill >= 0.02 {
			text += ", " + quantity.Format(math.Round(p.Fill*20)/20, quantity.Fraction, u) + " full of honey as drawn"
		}
	}
	return text
}
