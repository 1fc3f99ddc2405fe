package hive

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"hackle/material"
	"hackle/quantity"
)

// What the reader does for the parts that are more than a table of fields.

// forAll applies a change that the file states once for all bodies to the bodies
// of the type, and keeps it for those that the file lists. Faults are noted the
// first time only.
func (r *reader) forAll(h *Hive, change func(*Body)) {
	var trial Body
	if len(h.Bodies) > 0 {
		trial = h.Bodies[0]
	}
	change(&trial)
	quiet := func(b *Body) {
		faults, bad := len(r.faults), len(r.bad)
		change(b)
		r.faults, r.bad = r.faults[:faults], r.bad[:bad]
	}
	for i := range h.Bodies {
		quiet(&h.Bodies[i])
	}
	r.common = append(r.common, quiet)
}

func (r *reader) bodies(path string, n *yaml.Node, h *Hive) {
	if n.Kind != yaml.SequenceNode || len(n.Content) == 0 {
		r.fail(path, n, describe(n), "a list of boxes from the floor upward, such as [deep, deep]", "")
		r.whole = false
		return
	}
	h.Bodies = nil
	for i, item := range r.entries(path, n, mostBodies) {
		p := fmt.Sprintf("%s[%d]", path, i+1)
		r.at[p] = place{item.Line, item.Column}
		var b Body
		if item.Kind == yaml.MappingNode {
			for _, change := range r.common {
				change(&b)
			}
			object(r, p, item, bodyFields(), &b)
		} else {
			r.box(p, item, &b)
		}
		h.Bodies = append(h.Bodies, b)
	}
}

// box starts a body from a box of the type.
func (r *reader) box(path string, n *yaml.Node, b *Body) {
	name, ok := r.text(path, n, "the name of a box")
	if !ok {
		return
	}
	start, err := r.preset.box(name)
	if err != nil {
		hint := ""
		var known []string
		for _, row := range r.preset.rows {
			known = append(known, row.name)
		}
		if near := nearest(name, known); near != "" {
			hint = fmt.Sprintf("did you mean %q?", near)
		}
		r.fail(path, n, quote(name), r.preset.boxNames(), hint)
		return
	}
	for _, change := range r.common {
		change(&start)
	}
	*b = start
}

func (r *reader) walls(path string, n *yaml.Node, w *[4][]Layer) {
	if n.Kind == yaml.MappingNode && !isLayer(n) {
		object(r, path, n, wallsFields(), w)
		return
	}
	layers := r.layers(path, n)
	for f := range w {
		w[f] = slices.Clone(layers)
	}
}

// isLayer tells a single layer written as a map from a map of sides.
func isLayer(n *yaml.Node) bool {
	for i := 0; i+1 < len(n.Content); i += 2 {
		if slices.ContainsFunc(layerFields(), func(f field[layerFile]) bool { return f.key == n.Content[i].Value }) {
			return true
		}
	}
	return false
}

func (r *reader) frames(path string, n *yaml.Node, f *Frames) {
	if none(n) {
		*f = Frames{}
		return
	}
	if *f == (Frames{}) {
		*f = newFrames()
	}
	object(r, path, n, framesFields(), f)
	if f.Count == 0 {
		*f = Frames{}
	}
}

// passages sets the length of every passage that the file leaves to the wall.
func (r *reader) passages(h *Hive) {
	for i := range h.Openings {
		if !r.given(h.openingPath(i) + ".passage") {
			h.Openings[i].Depth = h.passage(h.Openings[i])
		}
	}
}

// opening checks that an opening has one size, and sorts its schedule.
func (r *reader) opening(path string, n *yaml.Node, o *Opening) {
	slot := r.given(path+".width") || r.given(path+".height")
	if slot && r.given(path+".hole") {
		r.fail(path, n, "width or height and also hole", "either width and height, or hole", "a slot has width and height, a round hole its diameter")
	}
	if !slices.Contains(r.bad, path+".width") && !slices.Contains(r.bad, path+".height") && !slices.Contains(r.bad, path+".hole") && (o.Width == 0 || o.Height == 0) {
		r.fail(path, n, "no size", "width and height of a slot, or hole for a round one", "")
	}
	if path != "hive."+entranceName && !r.given(path+".at") {
		r.fail(path+".at", n, "no height", "at, the height of the lower edge: floor, top or a length", "")
	}
	slices.SortStableFunc(o.Schedule, func(a, b OpeningState) int { return a.From.compare(b.From) })
}

// layers reads one layer or a list of layers.
func (r *reader) layers(path string, n *yaml.Node) []Layer {
	var list []Layer
	for i, item := range r.entries(path, n, mostLayers) {
		p := fmt.Sprintf("%s[%d]", path, i+1)
		r.at[p] = place{item.Line, item.Column}
		if l, ok := r.layer(p, item); ok {
			list = append(list, l)
		}
	}
	return list
}

const wantedLayer = "a layer such as softwood 19 mm, mineral wool 3 in, or R-5 2 in wrap"

func (r *reader) layer(path string, n *yaml.Node) (Layer, bool) {
	var l layerFile
	if n.Kind == yaml.MappingNode {
		bad := len(r.bad)
		object(r, path, n, layerFields(), &l)
		if len(l.material) > mostName {
			r.fail(path, n, quote(l.material), wantedLayer, "")
		}
		if len(r.bad) > bad {
			return Layer{}, false
		}
	} else {
		s, ok := r.text(path, n, wantedLayer)
		if !ok {
			return Layer{}, false
		}
		if len(s) > mostName {
			r.fail(path, n, quote(s), wantedLayer, "")
			return Layer{}, false
		}
		var known bool
		if l, known = r.split[s]; !known {
			l = splitLayer(s)
			r.split[s] = l
		}
	}
	m, err := r.table.Find(l.material)
	if err == nil && l == (layerFile{material: l.material}) { // a sheet as sold
		l.thickness, l.resistance = m.SheetThickness, m.SheetResistance
	}
	if l.thickness == 0 && l.resistance == 0 && (err == nil || n.Kind == yaml.MappingNode) {
		r.fail(path, n, describe(n)+" without thickness", wantedLayer, "")
		return Layer{}, false
	}
	if err != nil {
		if l.resistance == 0 {
			r.fail(path, n, "the unknown material "+quote(l.material), wantedLayer, err.Error())
			return Layer{}, false
		}
		m = insulation(l.material)
	}
	return Layer{Material: m, Thickness: l.thickness, Resistance: l.resistance}, true
}

// insulation is the material of a layer of known resistance whose name is no
// material's: something light and open to vapour, as mineral wool, an estimate.
func insulation(name string) material.Material {
	if name == "" {
		name = "insulation"
	}
	return material.Material{
		Name: name, Conductivity: 0.04, Density: 20, SpecificHeat: 1030, MuDry: 1, MuWet: 1,
		Emissivity: 0.9, SolarAbsorptance: 0.65,
		Kind:   material.Solid,
		Source: "light insulation of unknown make, taken as mineral wool of EN ISO 10456:2007, an estimate", FromMemory: true,
	}
}

// splitLayer reads "softwood 19 mm", "3 in mineral wool" or "R-5 2 in wrap":
// a thickness, a resistance or both, and a name of what is left.
func splitLayer(s string) layerFile {
	words := strings.Fields(s)
	var l layerFile
	var name []string
	haveThickness, haveResistance := false, false
	for i := 0; i < len(words); {
		taken := 0
		if maybeQuantity(words[i]) {
			// The longest run of words that makes a quantity: "1 1/2 in".
			for j := min(len(words), i+3); j > i && taken == 0; j-- {
				text := strings.Join(words[i:j], " ")
				kind, at, have := quantity.Length, &l.thickness, &haveThickness
				if strings.ContainsAny(text[:1], "Rr") || strings.Contains(text, "K/W") || strings.Contains(text, "Btu") {
					kind, at, have = quantity.Resistance, &l.resistance, &haveResistance
				}
				if *have || bare(text) {
					continue
				}
				if x, err := quantity.Parse(text, kind); err == nil {
					*at, *have, taken = x, true, j-i
				}
			}
		}
		if taken == 0 {
			name = append(name, words[i])
			taken = 1
		}
		i += taken
	}
	l.material = strings.Join(name, " ")
	return l
}

// maybeQuantity reports whether a quantity may begin with this word.
func maybeQuantity(word string) bool {
	first, _ := utf8.DecodeRuneInString(word)
	return unicode.IsNumber(first) || strings.ContainsRune(".+-−", first) ||
		(first == 'R' || first == 'r') && len(word) <= 16 && (strings.ContainsAny(word, "0123456789") || strings.EqualFold(word, "RSI") || strings.EqualFold(word, "R"))
}

// name reads a name that is to be looked up: a longer one would only make the
// search for what may be meant slow.
func (r *reader) name(path string, n *yaml.Node, wanted string) (string, bool) {
	s, ok := r.text(path, n, wanted)
	if ok && len(s) > mostName {
		r.fail(path, n, quote(s), wanted, "")
		return "", false
	}
	return s, ok
}

// mostName is the length of the longest name of a material or finish. [byte]
const mostName = 200

// material reads the name of a known material.
func (r *reader) material(path string, n *yaml.Node) (material.Material, bool) {
	const wanted = "the name of a material"
	s, ok := r.name(path, n, wanted)
	if !ok {
		return material.Material{}, false
	}
	m, err := r.table.Find(s)
	if err != nil {
		r.fail(path, n, quote(s), wanted, err.Error())
		return material.Material{}, false
	}
	return m, true
}

// materials reads the keeper's own materials and adds them to the table.
func (r *reader) materials(path string, n *yaml.Node, p *Plan) {
	const most = 100
	if n.Kind != yaml.MappingNode || len(n.Content) > 2*most {
		r.fail(path, n, describe(n), fmt.Sprintf("a map of at most %d materials by name", most), "")
		return
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, value := n.Content[i], n.Content[i+1]
		if len(k.Value) > mostName/2 {
			r.fail(path, k, quote(k.Value)+" as a name", "a short name", "")
			continue
		}
		at := path + "." + k.Value
		if value.Line == 0 {
			value.Line, value.Column = k.Line, k.Column
		}
		switch {
		case k.Kind != yaml.ScalarNode || strings.TrimSpace(k.Value) == "" || k.Value != strings.Join(strings.Fields(k.Value), " "):
			r.fail(path, k, describe(k)+" as a name", "the name of a material in single-spaced words", "")
			continue
		case r.given(at):
			r.fail(at, k, "the material "+quote(k.Value)+" a second time", "each once", "")
			continue
		}
		if splitLayer(k.Value) != (layerFile{material: k.Value}) {
			r.fail(at, k, quote(k.Value)+" as a name", "a name that holds no thickness and no resistance", "")
			continue
		}
		r.at[at] = place{value.Line, value.Column}
		m := material.Material{Name: k.Value, Kind: material.Solid}
		bad := len(r.bad)
		if !object(r, at, value, materialFields(), &m) || len(r.bad) > bad {
			continue
		}
		for _, key := range []string{"conductivity", "density", "specific heat", "vapour resistance factor dry", "vapour resistance factor wet", "emissivity", "solar absorptance"} {
			if !r.given(at+"."+key) && !r.given(at+".like") {
				r.fail(at, value, "no "+key, "its value, or a known material under like", "")
			}
		}
		if len(r.bad) > bad {
			continue
		}
		table, err := r.table.With(m)
		if err != nil {
			r.fail(at, k, quote(k.Value), "a material of its own", err.Error())
			continue
		}
		r.table = table
		p.Materials = append(p.Materials, m)
	}
}

func (r *reader) finish(path string, n *yaml.Node) (Finish, bool) {
	if n.Kind == yaml.MappingNode {
		var f Finish
		ok := object(r, path, n, finishFields(), &f)
		return f, ok
	}
	const wanted = "the name of a finish such as white paint"
	s, ok := r.name(path, n, wanted)
	if !ok {
		return Finish{}, false
	}
	f, err := findFinish(r.table, s)
	if err != nil {
		r.fail(path, n, quote(s), wanted, err.Error())
		return Finish{}, false
	}
	return f, true
}

func findFinish(table *material.Table, name string) (Finish, error) {
	f, err := table.Finish(name)
	if err != nil {
		return Finish{}, err
	}
	return Finish{Name: f.Name, SolarAbsorptance: f.SolarAbsorptance, Emissivity: f.Emissivity}, nil
}

// Bees that cover both sides of a comb: 2,430 on a deep frame of 448 x 232 mm
// (Estimating honey bee colony populations by the number of frames covered,
// 1985; from memory), each winter bee 0.11 g.
const (
	beesPerDeepFrame = 2430.0
	deepFrameArea    = 0.448 * 0.232 // [m²]
	winterBee        = 0.11e-3       // [kg]
)

// BeesPerFrame returns the mass of winter bees that cover both sides of one
// frame of the body, in proportion to the area of the comb. [kg]
func (b Body) BeesPerFrame() float64 {
	return beesPerDeepFrame * winterBee * b.Frames.CombArea() / deepFrameArea
}

// bees reads a mass, or frames covered with bees.
func (r *reader) bees(path string, n *yaml.Node, v *float64) {
	number, ok := strings.CutSuffix(strings.TrimSuffix(strings.TrimSuffix(n.Value, " of bees"), "s"), " frame")
	if n.Kind != yaml.ScalarNode || !ok {
		r.quantity(path, n, quantity.Mass, v)
		return
	}
	x, err := strconv.ParseFloat(number, 64)
	if err != nil || !(x >= 0 && x <= mostBodies*mostFrameNo) {
		r.fail(path, n, quote(n.Value), "frames covered with bees such as 8 frames, or a mass such as 2 kg", "")
		return
	}
	if r.hive == nil || len(r.hive.Bodies) == 0 || r.hive.Bodies[0].Frames.Count == 0 {
		r.fail(path, n, quote(n.Value), "a mass, because the lowest body has no frames", "")
		return
	}
	*v = math.Round(x*r.hive.Bodies[0].BeesPerFrame()*1e6) / 1e6 // whole milligrams
}
