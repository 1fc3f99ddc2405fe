package cutaway

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// moves are the rules by which the hours move a picture. A script follows the same
// rules; what they ask for is whole steps, sums, products, divisions and square
// roots, which every machine rounds alike.
type moves struct {
	// Fields are gradients from the floor to the top, one stop a slab: the share
	// Core of the core's air or combs and the rest of the flank's; or all of Column.
	Fields []fieldMove `json:"fields"`
	// Tones colour a whole place by one channel.
	Tones  []toneMove  `json:"tones"`
	Ball   *ballMove   `json:"ball,omitempty"`
	Combs  []combMove  `json:"combs"`
	Marks  []markMove  `json:"marks"`
	Crowds []crowdMove `json:"crowds"`
	Flows  []flowMove  `json:"flows"`
	Gates  []gateMove  `json:"gates"`
	Widths []widthMove `json:"widths"`
	Needle needleMove  `json:"needle"`
}

// fieldMove colours the stops of one gradient.
type fieldMove struct {
	ID     string  `json:"id"`
	Of     string  `json:"of"` // "air" or "comb"
	Core   float64 `json:"core"`
	Column string  `json:"column,omitempty"`
	// Slabs are those of the stops, from 0: combs do not hang in every slab, and a
	// stop between them takes the nearest.
	Slabs []int `json:"slabs"`
}

// toneMove colours one place.
type toneMove struct {
	ID string `json:"id"`
	Of string `json:"of"`
}

// ballMove sets the cluster: a circle, its glow and its bees.
type ballMove struct {
	X      float64      `json:"x"`
	Mass   float64      `json:"kg_per_bee"` // that one drawn bee stands for
	Points [][3]float64 `json:"points"`     // place in the unit circle, and kind of bee
	Bees   []string     `json:"bees"`       // strokes of a bee of each kind
	// Pitch and From put the bees into seams; Pitch 0: wherever they are.
	Pitch float64 `json:"pitch"`
	From  float64 `json:"from"`
	Lane  float64 `json:"lane"` // to either side of the middle of a seam
}

// combMove fills combs with honey: from the top of each slab downward.
type combMove struct {
	ID     string       `json:"id"`
	Column string       `json:"column"`
	Bars   [][5]float64 `json:"bars"` // x, width, slab, y of its top, height
}

// markMove shows water: as many marks as it passes steps.
type markMove struct {
	ID     string       `json:"id"`
	Plus   string       `json:"plus"`
	Minus  string       `json:"minus,omitempty"`
	Cold   string       `json:"cold"` // below 0: frost
	Steps  []float64    `json:"steps"`
	Places [][2]float64 `json:"places"`
	Water  string       `json:"water"`
	Frost  string       `json:"frost"`
}

// crowdMove shows bees: as many as the channel makes of Per.
type crowdMove struct {
	ID     string       `json:"id"`
	Of     string       `json:"of"`
	Per    float64      `json:"per"`
	Places [][2]float64 `json:"places"`
	Marks  []string     `json:"marks"` // one after the other, over and over
}

// flowMove sizes an arrow by its flow; see arrowScale.
type flowMove struct {
	ID string  `json:"id"`
	Of string  `json:"of"`
	X  float64 `json:"x"`
	Y  float64 `json:"y"`
	// Flip is -1 when the arrow points to the left.
	Flip float64 `json:"flip"`
}

// gateMove shows something while a channel has a value.
type gateMove struct {
	ID   string  `json:"id"`
	Of   string  `json:"of"`
	When float64 `json:"when"`
}

// widthMove draws how far an opening is open: the middle share of its width.
type widthMove struct {
	ID string  `json:"id"`
	Of string  `json:"of"`
	X  float64 `json:"x"`
	W  float64 `json:"w"`
}

// needleMove shows a temperature on the scale.
type needleMove struct {
	ID  string  `json:"id"`
	X   float64 `json:"x"`   // of the lowest tone
	Per float64 `json:"per"` // width of a degree
	Y   float64 `json:"y"`
}

// An arrow for arrowFlow has the scale arrowOne. Four times the flow doubles its area:
// flows of winter and of summer differ by several hundred times.
const (
	arrowMost = 0.9
	arrowOne  = 0.6
	arrowFlow = 1e-3 // [m³/s]
)

// mostBees is how many are drawn at most.
const mostBees = 1000

// change is an attribute of an element.
type change struct{ id, name, value string }

// num writes a length to a tenth of a millimetre.
func num(x float64) string {
	x = math.Floor(x*10+0.5) / 10
	if x == 0 {
		return "0"
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// fine writes a scale to a thousandth.
func fine(x float64) string {
	x = math.Floor(x*1000+0.5) / 1000
	if x == 0 {
		return "0"
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// at gives what an hour makes of the picture.
func (m *moves) at(y *Year, hour int) []change {
	var out []change
	set := func(id, name, value string) { out = append(out, change{id, name, value}) }
	for _, f := range m.Fields {
		for k := range y.slabs {
			set(f.ID+"-"+strconv.Itoa(k), "class", "t"+strconv.Itoa(tone(y.fieldAt(f, k, hour))))
		}
	}
	for _, p := range m.Tones {
		set(p.ID, "class", "t"+strconv.Itoa(tone(y.value(p.Of, hour))))
	}
	if b := m.Ball; b != nil {
		out = append(out, b.at(y, hour)...)
	}
	for _, c := range m.Combs {
		var d strings.Builder
		for _, bar := range c.Bars {
			k := int(bar[2])
			if f := y.value(fmt.Sprintf("fill.%s.%d", c.Column, k+1), hour); f > 0 {
				fmt.Fprintf(&d, "M%s %sh%sv%sh%sz", num(bar[0]), num(bar[3]), num(bar[1]), num(bar[4]*f), num(-bar[1]))
			}
		}
		set(c.ID, "d", d.String())
	}
	for _, w := range m.Marks {
		amount := y.value(w.Plus, hour)
		if w.Minus != "" {
			amount -= y.value(w.Minus, hour)
		}
		mark, class := w.Water, "water"
		if y.value(w.Cold, hour) < 0 {
			mark, class = w.Frost, "frost"
		}
		var d strings.Builder
		for i, p := range w.Places {
			// Half a step of the channel keeps clear of rounding.
			if amount+0.00005 < w.Steps[i] {
				break
			}
			d.WriteString("M" + num(p[0]) + " " + num(p[1]) + mark)
		}
		set(w.ID, "d", d.String())
		set(w.ID, "class", class)
	}
	for _, c := range m.Crowds {
		var d strings.Builder
		n := int(math.Floor(y.value(c.Of, hour)/c.Per + 0.5))
		for i := range min(n, len(c.Places)) {
			d.WriteString("M" + num(c.Places[i][0]) + " " + num(c.Places[i][1]) + c.Marks[i%len(c.Marks)])
		}
		set(c.ID, "d", d.String())
	}
	for _, f := range m.Flows {
		s := arrowScale(y.value(f.Of, hour))
		set(f.ID, "transform", "translate("+num(f.X)+" "+num(f.Y)+") scale("+fine(s*f.Flip)+" "+fine(s)+")")
	}
	for _, g := range m.Gates {
		v := "hidden"
		if y.value(g.Of, hour) == g.When {
			v = "visible"
		}
		set(g.ID, "visibility", v)
	}
	for _, w := range m.Widths {
		open := w.W * y.value(w.Of, hour)
		set(w.ID, "x", num(w.X+(w.W-open)/2))
		set(w.ID, "width", num(open))
	}
	t := min(max(y.value("outdoor.temp", hour), scaleLow), scaleHigh)
	set(m.Needle.ID, "transform", "translate("+num(m.Needle.X+(t-scaleLow+0.5)*m.Needle.Per)+" "+num(m.Needle.Y)+")")
	return out
}

// arrowScale of a flow. [m³/s]
func arrowScale(flow float64) float64 {
	return min(arrowOne*math.Sqrt(math.Sqrt(max(flow, 0)/arrowFlow)), arrowMost)
}

// fieldAt is the temperature of a stop of a field.
func (y *Year) fieldAt(f fieldMove, stop, hour int) float64 {
	k := strconv.Itoa(f.Slabs[stop] + 1)
	if f.Column != "" {
		return y.value(f.Of+"."+f.Column+"."+k, hour)
	}
	a, isCore := y.Value(f.Of+".core."+k, hour)
	b, isFlank := y.Value(f.Of+".flank."+k, hour)
	switch {
	case !isFlank:
		return a
	case !isCore:
		return b
	}
	return b + float64(f.Core*(a-b))
}

func (b *ballMove) at(y *Year, hour int) []change {
	mass := y.value("bees.mass", hour)
	r, z := 1000*y.value("bees.radius", hour), 1000*y.value("bees.height", hour)
	if mass <= 0 {
		r = 0
	}
	inside := mass * (1 - y.value("bees.outside", hour))
	n := min(int(math.Floor(inside/b.Mass+0.5)), len(b.Points))
	if r <= 0 {
		n = 0
	}
	var d strings.Builder
	for _, p := range b.Points[:n] {
		x, v := b.X+float64(p[0]*r), -z+float64(p[1]*r)
		if b.Pitch > 0 {
			seam := math.Floor((x-b.From)/b.Pitch + 0.5)
			side := b.Lane
			if x-b.From < seam*b.Pitch {
				side = -b.Lane
			}
			x = b.From + float64(seam*b.Pitch) + side
		}
		d.WriteString("M" + num(x) + " " + num(v) + b.Bees[int(p[2])])
	}
	warm, rim := "t"+strconv.Itoa(tone(y.value("bees.core", hour))), "t"+strconv.Itoa(tone(y.value("bees.mantle", hour)))
	return []change{
		{"ball", "cx", num(b.X)}, {"ball", "cy", num(-z)}, {"ball", "r", num(r)},
		{"glow-0", "class", warm}, {"glow-1", "class", warm}, {"glow-2", "class", rim}, {"glow-3", "class", rim + " none"},
		{"bees", "d", d.String()},
	}
}
