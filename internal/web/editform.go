package web

import (
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"hackle/hive"
	"hackle/material"
	"hackle/quantity"
)

// editForm is a hive as a form: every field knows what it shows of the plan and
// how it changes it.
type editForm struct {
	Groups []*editGroup
	Loose  []string // faults that belong to no field
	plan   *hive.Plan
	table  *material.Table
	system quantity.System
	edges  []float64 // passages that follow the thickness of their wall: its thickness, else NaN
}

// editGroup is a part of the hive.
type editGroup struct {
	Key, Title, Note string
	Layers           []*editLayer
	Fields           []*editField
	Layered          bool   // layers can be added
	Drop             string // takes the whole part away
}

// editLayer is a layer of a part, in the order of the hive file.
type editLayer struct {
	Material, Thickness, Resistance *editField
	Drop                            string
}

// editField is one thing that can be typed in.
type editField struct {
	Name, Label, Value string
	Options            []editOption
	Problem, Hint      string
	Slide              *slide
	List               string // identifier of a list of suggestions
	Wide               bool
	path               []string // where the file has it: beginnings of paths
	set                func(text string) error
}

type editOption struct {
	Value, Name string
	Chosen      bool
}

// slide is a range beside a length, in steps that a script writes into the field.
type slide struct {
	Low, High, Step, At float64
	Unit                string
}

// newEditForm lays a plan out. Setting its fields changes the plan.
func newEditForm(plan *hive.Plan, system quantity.System) (*editForm, error) {
	table, err := material.Standard()
	if err != nil {
		return nil, err
	}
	if table, err = table.With(plan.Materials...); err != nil {
		return nil, err
	}
	f := &editForm{plan: plan, table: table, system: system}
	h := &plan.Hive
	for _, o := range h.Openings {
		follows := math.NaN()
		if t := wallAt(h, o); math.Abs(o.Depth-t) < 1e-6 {
			follows = t
		}
		f.edges = append(f.edges, follows)
	}
	f.boxes()
	f.wallGroups()
	f.part("lid", "Lid, from above", &h.Lid.Layers, []string{"hive.lid.layers"})
	f.lidFields()
	if h.TopBoard != nil {
		f.part("board", "Top board, from above", &h.TopBoard.Layers, []string{"hive.top board.layers"})
		g := f.last()
		f.add(g, f.length("board.hole", "Hole, as wide as a round one of", holeDiameter(h.TopBoard.Hole), 0, 0.12, []string{"hive.top board.hole"}, func(v float64) { h.TopBoard.Hole = math.Pi / 4 * v * v }))
		f.add(g, f.length("board.rim", "Room below it", h.TopBoard.Space, 0, 0, []string{"hive.top board.rim"}, func(v float64) { h.TopBoard.Space = v }))
	}
	floor := "Floor, from below"
	if h.Floor.Mesh {
		floor = "Tray below the mesh"
	}
	f.part("floor", floor, &h.Floor.Layers, []string{"hive.floor.layers"})
	f.openings()
	f.wraps()
	f.frames()
	f.outside()
	return f, nil
}

func wallAt(h *hive.Hive, o hive.Opening) float64 {
	if !o.Face.Upright() || len(h.Bodies) == 0 {
		return math.NaN()
	}
	return h.Bodies[h.BodyAt(o.Sill)].WallThickness(o.Face)
}

func holeDiameter(area float64) float64 { return math.Sqrt(4 * area / math.Pi) }

func (f *editForm) last() *editGroup { return f.Groups[len(f.Groups)-1] }

func (f *editForm) group(key, title string) *editGroup {
	g := &editGroup{Key: key, Title: title}
	f.Groups = append(f.Groups, g)
	return g
}

func (f *editForm) add(g *editGroup, x *editField) *editField {
	g.Fields = append(g.Fields, x)
	return x
}

// show writes a quantity so that it reads back well.
func (f *editForm) show(v float64, kind quantity.Kind) string {
	return quantity.Format(v, kind, f.system)
}

// length is a field for a length, with a range when high is above low.
func (f *editForm) length(name, label string, v, low, high float64, path []string, set func(float64)) *editField {
	x := &editField{Name: name, Label: label, Value: f.show(v, quantity.Length), path: path}
	if high > low {
		x.Slide = &slide{low * 1000, max(high, v) * 1000, 1, math.Round(v * 1000), "mm"}
		if f.system == quantity.US {
			x.Slide = &slide{low / 0.0254, math.Ceil(max(high, v) / 0.0254), 0.125, math.Round(v/0.0254*8) / 8, "in"}
		}
	}
	x.set = func(text string) error {
		if text == "none" {
			text = "0 mm"
		}
		v, err := quantity.Parse(text, quantity.Length)
		if err == nil {
			set(v)
		}
		return err
	}
	return x
}

func (f *editForm) measure(name, label string, v float64, kind quantity.Kind, path []string, set func(float64)) *editField {
	return &editField{Name: name, Label: label, Value: f.show(v, kind), path: path, set: func(text string) error {
		v, err := quantity.Parse(text, kind)
		if err == nil {
			set(v)
		}
		return err
	}}
}

func chosen[T ~string](name, label string, v T, all []T, path []string, set func(T)) *editField {
	x := &editField{Name: name, Label: label, Value: string(v), path: path}
	for _, o := range all {
		x.Options = append(x.Options, editOption{string(o), string(o), o == v})
	}
	x.set = func(text string) error {
		for _, o := range all {
			if string(o) == text {
				set(o)
				return nil
			}
		}
		var names []string
		for _, o := range all {
			names = append(names, string(o))
		}
		return fmt.Errorf("%q is none of %s", text, strings.Join(names, ", "))
	}
	return x
}

// part is a group of layers.
func (f *editForm) part(key, title string, layers *[]hive.Layer, path []string) *editGroup {
	g := f.group(key, title)
	f.layers(g, func() []*[]hive.Layer { return []*[]hive.Layer{layers} }, path)
	return g
}

// layers puts the layers of several equal lists into a group.
func (f *editForm) layers(g *editGroup, lists func() []*[]hive.Layer, path []string) {
	g.Layered = true
	for i, l := range *lists()[0] {
		here := make([]string, len(path))
		for k, p := range path {
			here[k] = fmt.Sprintf("%s[%d]", p, i+1)
		}
		each := func(change func(*hive.Layer)) {
			for _, list := range lists() {
				change(&(*list)[i])
			}
		}
		row := &editLayer{Drop: fmt.Sprintf("drop:%s:%d", g.Key, i)}
		row.Material = &editField{Name: fmt.Sprintf("%s.%d.material", g.Key, i), Label: "Material", Value: l.Material.Name, List: "materials", path: here, set: func(text string) error {
			m, err := f.table.Find(text)
			if err != nil {
				return err
			}
			each(func(l *hive.Layer) {
				l.Material = m
				if m.SheetThickness > 0 {
					l.Thickness, l.Resistance = m.SheetThickness, m.SheetResistance
				} else if l.Resistance > 0 {
					l.Resistance = 0
				}
			})
			return nil
		}}
		row.Thickness = f.length(fmt.Sprintf("%s.%d.thickness", g.Key, i), "Thickness", l.Thickness, 0, 0.1, here, func(v float64) { each(func(l *hive.Layer) { l.Thickness = v }) })
		if l.Thickness > 0 && l.Thickness < 0.003 {
			row.Thickness.Slide = nil
		}
		if l.Resistance > 0 {
			row.Resistance = f.measure(fmt.Sprintf("%s.%d.resistance", g.Key, i), "Thermal resistance", l.Resistance, quantity.Resistance, here, func(v float64) { each(func(l *hive.Layer) { l.Resistance = v }) })
		}
		g.Layers = append(g.Layers, row)
	}
}

// boxes lets boxes of the type be put on and taken off.
func (f *editForm) boxes() {
	h := &f.plan.Hive
	if h.Type == hive.Custom || h.Type == "" || slices.ContainsFunc(h.Bodies, func(b hive.Body) bool { return b.Box == "" }) {
		return
	}
	types, err := hive.Types()
	if err != nil {
		return
	}
	i := slices.IndexFunc(types, func(t hive.TypeInfo) bool { return t.Name == h.Type })
	if i < 0 {
		return
	}
	var names, known []string
	for _, b := range h.Bodies {
		names = append(names, b.Box)
	}
	for _, b := range types[i].Boxes {
		known = append(known, b.Name)
	}
	g := f.group("boxes", "Boxes")
	f.add(g, &editField{Name: "boxes", Label: "From the floor up", Value: strings.Join(names, ", "), Hint: "Of " + strings.Join(known, ", ") + ".", Wide: true, path: []string{"hive.bodies"}, set: f.setBoxes})
}

func (f *editForm) setBoxes(text string) error {
	h := &f.plan.Hive
	var names []string
	for n := range strings.SplitSeq(text, ",") {
		if n = strings.TrimSpace(n); n != "" {
			names = append(names, n)
		}
	}
	if len(names) == 0 || len(names) > 10 {
		return fmt.Errorf("%d boxes, accepted: 1 to 10", len(names))
	}
	fresh, err := hive.New(h.Type, names...)
	if err != nil {
		return err
	}
	old := h.Bodies
	for i := range fresh.Bodies {
		switch {
		case i < len(old) && old[i].Box == fresh.Bodies[i].Box:
			fresh.Bodies[i] = old[i]
		default:
			like := old[min(i, len(old)-1)]
			fresh.Bodies[i].Walls = like.Walls
			if fresh.Bodies[i].Frames.Count > 0 && like.Frames.Count > 0 {
				fresh.Bodies[i].Frames.Support = like.Frames.Support
			}
		}
	}
	h.Bodies = hive.Hive{Bodies: fresh.Bodies}.Clone().Bodies
	return nil
}

// wallGroups gathers walls that are built alike.
func (f *editForm) wallGroups() {
	h := &f.plan.Hive
	type wall struct{ body, face int }
	var groups [][]wall
	for i := range h.Bodies {
		for face := range h.Bodies[i].Walls {
			at := slices.IndexFunc(groups, func(g []wall) bool {
				return slices.Equal(h.Bodies[g[0].body].Walls[g[0].face], h.Bodies[i].Walls[face])
			})
			if at < 0 {
				groups = append(groups, nil)
				at = len(groups) - 1
			}
			groups[at] = append(groups[at], wall{i, face})
		}
	}
	for n, walls := range groups {
		title := "Walls, from outside"
		if len(groups) > 1 {
			var faces []string
			for _, w := range walls {
				name := hive.Face(w.face).String()
				if len(h.Bodies) > 1 {
					name += fmt.Sprintf(" of box %d", w.body+1)
				}
				faces = append(faces, name)
			}
			title = "Walls, from outside: " + strings.Join(faces, ", ")
		}
		var path []string
		for _, w := range walls {
			path = append(path, fmt.Sprintf("hive.bodies[%d].walls.%s", w.body+1, hive.Face(w.face)), fmt.Sprintf("hive.bodies[%d].walls", w.body+1))
		}
		if n == 0 {
			path = append(path, "hive.walls", "hive.walls.all")
		}
		g := f.group(fmt.Sprintf("walls%d", n), title)
		f.layers(g, func() (lists []*[]hive.Layer) {
			for _, w := range walls {
				lists = append(lists, &h.Bodies[w.body].Walls[w.face])
			}
			return lists
		}, path)
	}
}

func (f *editForm) lidFields() {
	l := &f.plan.Hive.Lid
	g := f.last()
	f.add(g, f.length("lid.space", "Air space below it", l.Space, 0, 0, []string{"hive.lid.air space"}, func(v float64) { l.Space = v }))
	f.add(g, f.length("lid.rim", "Reaches down over the boxes", l.Rim, 0, 0, []string{"hive.lid.rim"}, func(v float64) { l.Rim = v }))
	f.add(g, f.measure("lid.vents", "Vents of that space, free area", l.Vents, quantity.Area, []string{"hive.lid.vents"}, func(v float64) { l.Vents = v }))
	f.add(g, f.finish("lid.finish", "Colour", l.Finish, true, []string{"hive.lid.finish"}, func(x *hive.Finish) { l.Finish = x }))
}

// asHive is the word for a part that has the finish of the hive.
const asHive = "as the hive"

func (f *editForm) finish(name, label string, now *hive.Finish, optional bool, path []string, set func(*hive.Finish)) *editField {
	x := &editField{Name: name, Label: label, path: path}
	known := false
	if optional {
		x.Options = append(x.Options, editOption{asHive, asHive, now == nil})
		known = now == nil
		x.Value = asHive
	}
	for _, k := range f.table.Finishes() {
		is := now != nil && k.Name == now.Name && k.SolarAbsorptance == now.SolarAbsorptance && k.Emissivity == now.Emissivity
		known = known || is
		if is {
			x.Value = k.Name
		}
		x.Options = append(x.Options, editOption{k.Name, k.Name, is})
	}
	if !known && now != nil {
		x.Value = now.Name
		x.Options = append(x.Options, editOption{now.Name, now.Name + ", as the file says", true})
	}
	x.set = func(text string) error {
		if text == asHive && optional {
			set(nil)
			return nil
		}
		k, err := f.table.Finish(text)
		if err != nil {
			return err
		}
		set(&hive.Finish{Name: k.Name, SolarAbsorptance: k.SolarAbsorptance, Emissivity: k.Emissivity})
		return nil
	}
	return x
}

func (f *editForm) openings() {
	h := &f.plan.Hive
	faces := []string{"front", "back", "left", "right"}
	entrance := len(h.Openings) > 0 && h.Openings[0].Name == "entrance"
	for i := range h.Openings {
		o := &h.Openings[i]
		key := fmt.Sprintf("opening%d", i)
		at := fmt.Sprintf("hive.openings[%d]", i+1)
		if entrance {
			at = fmt.Sprintf("hive.openings[%d]", i)
			if i == 0 {
				at = "hive.entrance"
			}
		}
		g := f.group(key, upper(o.Name))
		g.Drop = "drop:" + key
		face := ""
		if o.Face.Upright() {
			face = faces[o.Face]
		}
		f.add(g, chosen(key+".face", "In the", face, faces, []string{at + ".face"}, func(v string) { o.Face = hive.Face(slices.Index(faces, v)) }))
		f.add(g, f.length(key+".at", "Lower edge above the floor", o.Sill, 0, max(0.05, h.StackTop()), []string{at + ".at"}, func(v float64) { o.Sill = v }))
		most := 0.1
		if len(h.Bodies) > 0 && o.Face.Upright() {
			most = h.Bodies[0].FaceWidth(o.Face)
		}
		if o.Shape == hive.Round {
			f.add(g, f.length(key+".hole", "Diameter", o.Width, 0, 0.08, []string{at + ".hole"}, func(v float64) { f.resize(o, v); o.Height = v }))
		} else {
			f.add(g, f.length(key+".width", "Width", o.Width, 0, most, []string{at + ".width"}, func(v float64) { f.resize(o, v) }))
			f.add(g, f.length(key+".height", "Height", o.Height, 0, 0.05, []string{at + ".height"}, func(v float64) { o.Height = v }))
		}
		f.add(g, f.count(key+".count", "How many", o.Count, []string{at + ".count"}, func(v int) { o.Count = v }))
		f.add(g, &editField{Name: key + ".schedule", Label: "How wide it is open, from a day on", Value: f.schedule(o), Wide: true, Hint: "Such as 1 May full; 1 Oct 75 mm; 1 Dec closed. Empty: always fully open.", path: []string{at + ".schedule"}, set: func(text string) error { return f.setSchedule(o, text) }})
	}
}

// resize changes the width of an opening; states that were fully open stay so.
func (f *editForm) resize(o *hive.Opening, width float64) {
	for i := range o.Schedule {
		if o.Schedule[i].Width == o.Width {
			o.Schedule[i].Width = width
		}
	}
	o.Width = width
}

func (f *editForm) count(name, label string, v int, path []string, set func(int)) *editField {
	return &editField{Name: name, Label: label, Value: strconv.Itoa(v), path: path, set: func(text string) error {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 || n > 100 {
			return fmt.Errorf("%q is no whole number from 1 to 100", text)
		}
		set(n)
		return nil
	}}
}

func (f *editForm) schedule(o *hive.Opening) string {
	var all []string
	for _, s := range o.Schedule {
		what := f.show(s.Width, quantity.Length)
		switch s.Width {
		case o.Width:
			what = "full"
		case 0:
			what = "closed"
		}
		all = append(all, s.From.String()+" "+what)
	}
	return strings.Join(all, "; ")
}

func (f *editForm) setSchedule(o *hive.Opening, text string) error {
	var all []hive.OpeningState
	for part := range strings.SplitSeq(text, ";") {
		words := strings.Fields(strings.ReplaceAll(part, ":", " "))
		if len(words) == 0 {
			continue
		}
		// The longest beginning that is a day.
		var day hive.Day
		n := 0
		for k := min(3, len(words)-1); k >= 1 && n == 0; k-- {
			if d, err := hive.ParseDay(strings.Join(words[:k], " ")); err == nil {
				day, n = d, k
			}
		}
		if n == 0 {
			return fmt.Errorf("%q does not begin with a day, such as 1 Oct 75 mm", strings.TrimSpace(part))
		}
		s := hive.OpeningState{From: day}
		switch rest := strings.Join(words[n:], " "); rest {
		case "full", "open":
			s.Width = o.Width
		case "closed":
		default:
			v, err := quantity.Parse(rest, quantity.Length)
			if err != nil {
				return err
			}
			s.Width = v
		}
		all = append(all, s)
	}
	o.Schedule = all
	return nil
}

func (f *editForm) wraps() {
	h := &f.plan.Hive
	for i := range h.Wraps {
		w := &h.Wraps[i]
		at := fmt.Sprintf("hive.wraps[%d]", i+1)
		key := fmt.Sprintf("wrap%d", i)
		g := f.part(key, upper(w.Name)+", from outside", &w.Layers, []string{at + ".layers"})
		g.Drop = "drop:" + key
		day := func(name, label string, d *hive.Day) {
			f.add(g, &editField{Name: key + "." + name, Label: label, Value: d.String(), path: []string{at + "." + name}, set: func(text string) error {
				if text == "" {
					*d = hive.Day{}
					return nil
				}
				v, err := hive.ParseDay(text)
				if err == nil {
					*d = v
				}
				return err
			}})
		}
		day("on", "Put on", &w.On)
		day("off", "Taken off", &w.Off)
		f.add(g, f.finish(key+".finish", "Colour", w.Finish, true, []string{at + ".finish"}, func(x *hive.Finish) { w.Finish = x }))
	}
}

func (f *editForm) frames() {
	h := &f.plan.Hive
	supports := []hive.Support{hive.SupportNone, hive.SupportUpright, hive.SupportLevel, hive.SupportCrossed, hive.SupportSticks, hive.SupportStiffCore}
	for i := range h.Bodies {
		b := &h.Bodies[i]
		if b.Frames.Count == 0 {
			continue
		}
		key := fmt.Sprintf("frames%d", i)
		name := b.Name
		if name == "" {
			name = b.Box
		}
		g := f.group(key, fmt.Sprintf("Frames of box %d, %s", i+1, name))
		at := fmt.Sprintf("hive.bodies[%d].frames", i+1)
		if !b.Frames.Bars {
			f.add(g, chosen(key+".support", "What carries the comb", b.Frames.Support, supports, []string{at + ".support"}, func(v hive.Support) { b.Frames.Support = v }))
		}
		f.add(g, chosen(key+".comb", "Comb", b.Frames.CombAge, []hive.CombAge{hive.CombFresh, hive.CombBrood}, []string{at + ".comb"}, func(v hive.CombAge) { b.Frames.CombAge = v }))
		f.add(g, f.measure(key+".drawn", "Share that is built", b.Frames.DrawnShare, quantity.Fraction, []string{at + ".drawn"}, func(v float64) { b.Frames.DrawnShare = v }))
		f.add(g, f.count(key+".count", "Frames", b.Frames.Count, []string{at + ".count", at}, func(v int) { b.Frames.Count = v }))
	}
}

func (f *editForm) outside() {
	h, s := &f.plan.Hive, &f.plan.Site
	g := f.group("outside", "Outside")
	f.add(g, f.finish("finish", "Colour of the hive", &h.Finish, false, []string{"hive.finish"}, func(x *hive.Finish) { h.Finish = *x }))
	f.add(g, f.measure("shade", "Direct sun kept off by shade", s.Shade, quantity.Fraction, []string{"site.shade"}, func(v float64) { s.Shade = v }))
	f.add(g, chosen("exposure", "To the wind it stands", s.Exposure, []hive.Exposure{hive.Open, hive.Hedged, hive.WoodEdge, hive.Sheltered}, []string{"site.exposure"}, func(v hive.Exposure) { s.Exposure = v }))
	f.add(g, f.measure("azimuth", "The front looks to, from north", h.FrontAzimuth, quantity.Angle, []string{"hive.front looks to"}, func(v float64) { h.FrontAzimuth = v }))
	f.add(g, f.length("stand", "Height of the stand", h.StandHeight, 0, 0, []string{"hive.stand"}, func(v float64) { h.StandHeight = v }))
}

// fields lists all fields in their order.
func (f *editForm) fields() (all []*editField) {
	for _, g := range f.Groups {
		for _, l := range g.Layers {
			all = append(all, l.Material, l.Thickness)
			if l.Resistance != nil {
				all = append(all, l.Resistance)
			}
		}
		all = append(all, g.Fields...)
	}
	return all
}

// read sets the plan as a form was filled in. What still reads as it was shown
// stays exactly as it was. It reports whether all of it could be used.
func (f *editForm) read(form url.Values) bool {
	ok := true
	fields := f.fields()
	// Other boxes take the place of the present ones, so that what is said of these
	// must be read before.
	slices.SortStableFunc(fields, func(a, b *editField) int { return one(a.Name == "boxes") - one(b.Name == "boxes") })
	for _, x := range fields {
		texts, sent := form[x.Name]
		if !sent || len(texts) == 0 {
			continue
		}
		text := strings.TrimSpace(texts[0])
		if text == x.Value {
			continue
		}
		if len(text) > 300 {
			text = text[:300]
		}
		x.Value = text
		for i := range x.Options {
			x.Options[i].Chosen = x.Options[i].Value == text
		}
		if err := x.set(text); err != nil {
			x.Problem, ok = upper(err.Error())+".", false
			continue
		}
	}
	h := &f.plan.Hive
	for i := range h.Openings {
		if i < len(f.edges) && !math.IsNaN(f.edges[i]) {
			if t := wallAt(h, h.Openings[i]); !math.IsNaN(t) {
				h.Openings[i].Depth = t
			}
		}
	}
	return ok
}

// check puts the faults of the plan beside their fields and reports whether there
// is none.
func (f *editForm) check() bool {
	ok := true
	for _, x := range f.plan.Check() {
		if x.Severity != hive.Wrong {
			continue
		}
		ok = false
		text := fmt.Sprintf("Found %s, wanted %s.", x.Found, x.Wanted)
		if x.Hint != "" {
			text += " " + upper(x.Hint) + "."
		}
		if to := f.fieldAt(x.Field); to != nil {
			to.Problem = text
		} else {
			f.Loose = append(f.Loose, upper(x.Field)+": "+text)
		}
	}
	return ok
}

// fieldAt finds the field that stands for a path of the hive file: the longest
// beginning that fits.
func (f *editForm) fieldAt(path string) *editField {
	var best *editField
	long := 0
	for _, x := range f.fields() {
		for _, p := range x.path {
			if len(p) > long && (path == p || strings.HasPrefix(path, p+".") || strings.HasPrefix(path, p+"[")) {
				best, long = x, len(p)
			}
		}
	}
	if best != nil {
		return best
	}
	// A fault of a whole part stands at the first field of that part.
	for _, x := range f.fields() {
		for _, p := range x.path {
			if strings.HasPrefix(p, path+".") {
				return x
			}
		}
	}
	return nil
}

func one(is bool) int {
	if is {
		return 1
	}
	return 0
}

// do changes the parts of a hive: adds or takes away a layer, an opening, a wrap.
func (f *editForm) do(what string) error {
	h := &f.plan.Hive
	part, rest, _ := strings.Cut(what, ":")
	key, index, _ := strings.Cut(rest, ":")
	i, _ := strconv.Atoi(index)
	lists := f.listsOf(key)
	switch {
	case part == "type":
		fresh, err := hive.New(rest)
		if err != nil {
			return refuse("%s", err)
		}
		fresh.Name, fresh.FrontAzimuth, fresh.StandHeight, fresh.Finish = h.Name, h.FrontAzimuth, h.StandHeight, h.Finish
		*h = fresh
		return nil
	case part == "add" && key == "opening":
		o := hive.Opening{Name: f.freeName("vent"), Face: hive.Front, Sill: max(0, h.StackTop()-0.05), Width: 0.019, Height: 0.019, Shape: hive.Round, Count: 1}
		if t := wallAt(h, o); !math.IsNaN(t) {
			o.Depth = t
		}
		h.Openings = append(h.Openings, o)
	case part == "add" && key == "wrap":
		m, err := f.table.Find("EPS")
		if err != nil {
			return err
		}
		w := hive.Wrap{Name: "winter wrap", Faces: []hive.Face{hive.Front, hive.Back, hive.Left, hive.Right}, Layers: []hive.Layer{{Material: m, Thickness: 0.03}}, On: hive.Day{Month: time.November, Day: 1}, Off: hive.Day{Month: time.April, Day: 1}}
		if f.plan.Site.HasPlace && f.plan.Site.Latitude < 0 {
			w.On.Month, w.Off.Month = time.May, time.October
		}
		h.Wraps = append(h.Wraps, w)
	case part == "add" && lists != nil:
		name, thickness := "mineral wool", 0.05
		if strings.HasPrefix(key, "walls") || strings.HasPrefix(key, "wrap") || key == "floor" {
			name, thickness = "EPS", 0.03
		}
		m, err := f.table.Find(name)
		if err != nil {
			return err
		}
		for _, l := range lists {
			at := len(*l)
			if strings.HasPrefix(key, "walls") {
				at = 0 // outside
			}
			*l = slices.Insert(slices.Clone(*l), at, hive.Layer{Material: m, Thickness: thickness})
		}
	case part == "drop" && lists != nil && index != "":
		for _, l := range lists {
			if i < 0 || i >= len(*l) {
				return refuse("layer %d of %s: there is none", i+1, key)
			}
			*l = slices.Delete(slices.Clone(*l), i, i+1)
		}
	case part == "drop" && strings.HasPrefix(key, "opening"):
		n, err := strconv.Atoi(key[len("opening"):])
		if err != nil || n < 0 || n >= len(h.Openings) {
			return refuse("%s: there is no such opening", key)
		}
		h.Openings = slices.Delete(h.Openings, n, n+1)
	case part == "drop" && strings.HasPrefix(key, "wrap"):
		n, err := strconv.Atoi(key[len("wrap"):])
		if err != nil || n < 0 || n >= len(h.Wraps) {
			return refuse("%s: there is no such wrap", key)
		}
		h.Wraps = slices.Delete(h.Wraps, n, n+1)
	default:
		return refuse("%q is nothing that this page does", what)
	}
	for k := range h.Openings { // walls may have changed
		if k < len(f.edges) && !math.IsNaN(f.edges[k]) && part == "add" {
			h.Openings[k].Depth = wallAt(h, h.Openings[k])
		}
	}
	return nil
}

// listsOf finds the lists of layers of a group.
func (f *editForm) listsOf(key string) []*[]hive.Layer {
	h := &f.plan.Hive
	switch {
	case key == "lid":
		return []*[]hive.Layer{&h.Lid.Layers}
	case key == "floor":
		return []*[]hive.Layer{&h.Floor.Layers}
	case key == "board" && h.TopBoard != nil:
		return []*[]hive.Layer{&h.TopBoard.Layers}
	case strings.HasPrefix(key, "wrap"):
		if n, err := strconv.Atoi(key[len("wrap"):]); err == nil && n >= 0 && n < len(h.Wraps) {
			return []*[]hive.Layer{&h.Wraps[n].Layers}
		}
	case strings.HasPrefix(key, "walls"):
		n, err := strconv.Atoi(key[len("walls"):])
		if err != nil {
			return nil
		}
		var groups [][]*[]hive.Layer
		for i := range h.Bodies {
			for face := range h.Bodies[i].Walls {
				here := &h.Bodies[i].Walls[face]
				at := slices.IndexFunc(groups, func(g []*[]hive.Layer) bool { return slices.Equal(*g[0], *here) })
				if at < 0 {
					groups = append(groups, nil)
					at = len(groups) - 1
				}
				groups[at] = append(groups[at], here)
			}
		}
		if n >= 0 && n < len(groups) {
			return groups[n]
		}
	}
	return nil
}

// freeName is a name that no opening has yet.
func (f *editForm) freeName(base string) string {
	for n := 1; ; n++ {
		name := base
		if n > 1 {
			name += " " + strconv.Itoa(n)
		}
		if !slices.ContainsFunc(f.plan.Hive.Openings, func(o hive.Opening) bool { return o.Name == name }) {
			return name
		}
	}
}
