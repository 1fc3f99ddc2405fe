package hive

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"hackle/material"
	"hackle/quantity"
)

// Encode writes the plan as a hive file that Decode reads back as the very same
// plan, without what the type of hive says already. Quantities are written in
// units of the system where these say the value exactly, else in SI.
//
// A plan with faults (not warnings) is refused with the *Faults, so that no file
// is written that cannot be read. In what is written, a hive without type is of
// type Custom, materials that neither the standard table nor Plan.Materials
// holds are added to the latter, and schedules are in the order of their days.
func Encode(dst io.Writer, p Plan, system quantity.System) error {
	faults := &Faults{List: only(p.Check(), Wrong)}
	if len(faults.List) > 0 {
		return faults
	}
	standard, err := material.Standard()
	if err != nil {
		return fmt.Errorf("writing a hive file: %w", err)
	}
	if p, err = normal(p, standard); err != nil {
		return fmt.Errorf("writing a hive file: %w", err)
	}
	table := standard
	if len(p.Materials) > 0 {
		if table, err = standard.With(p.Materials...); err != nil {
			return fmt.Errorf("writing a hive file: %w", err)
		}
	}
	from, err := newPreset(p.Hive.Type, table)
	if err != nil {
		return fmt.Errorf("writing a hive file: %w", err)
	}
	base := planFile{Plan: Plan{Hive: from.shell.Clone()}}
	for i, b := range p.Hive.Bodies {
		start, err := from.box(b.Box)
		if b.Box == "" {
			start, err = Body{}, nil
		}
		if err != nil {
			return fmt.Errorf("writing a hive file: body %d: %w", i+1, err)
		}
		base.Hive.Bodies = append(base.Hive.Bodies, start)
	}
	w := &writer{table: table, system: system, preset: from, hive: &p.Hive}
	root := writeObject(w, planFields(), &planFile{Plan: p}, &base)
	var text bytes.Buffer
	enc := yaml.NewEncoder(&text)
	enc.SetIndent(2)
	if err := errors.Join(enc.Encode(root), enc.Close()); err != nil {
		return fmt.Errorf("writing a hive file: %w", err)
	}
	file := spaced(text.Bytes())
	back, err := Decode("", bytes.NewReader(file))
	if err != nil {
		return fmt.Errorf("writing a hive file: what was written cannot be read back: %w", err)
	}
	if back, err = normal(back, standard); err != nil || !reflect.DeepEqual(back, p) {
		return fmt.Errorf("writing a hive file: what was written reads back as another plan")
	}
	if _, err := dst.Write(file); err != nil {
		return fmt.Errorf("writing a hive file: %w", err)
	}
	return nil
}

// spaced puts an empty line before every section, which begin at the margin.
func spaced(text []byte) []byte {
	var out []byte
	for line := range bytes.Lines(text) {
		key, _, _ := bytes.Cut(line, []byte(":"))
		switch string(key) {
		case "hive", "materials", "colony", "site", "measured", "notes":
			out = append(out, '\n')
		}
		out = append(out, line...)
	}
	return out
}

// normal returns the plan in the one form that a file can hold.
func normal(p Plan, standard *material.Table) (Plan, error) {
	p = p.Clone()
	h := &p.Hive
	if h.Type == "" {
		h.Type = Custom
	}
	tidy := func(list *[]Layer) {
		if len(*list) == 0 {
			*list = nil
		}
	}
	lists := []*[]Layer{&h.Floor.Layers, &h.Lid.Layers}
	for i := range h.Bodies {
		for f := range h.Bodies[i].Walls {
			lists = append(lists, &h.Bodies[i].Walls[f])
		}
		if h.Bodies[i].Frames.Count == 0 {
			h.Bodies[i].Frames = Frames{}
		}
	}
	if h.TopBoard != nil {
		lists = append(lists, &h.TopBoard.Layers)
		h.TopBoard.HoleEvents = orderSwitches(h.TopBoard.HoleEvents)
	}
	h.Floor.TrayEvents = orderSwitches(h.Floor.TrayEvents)
	for i := range h.Openings {
		o := &h.Openings[i]
		slices.SortStableFunc(o.Schedule, func(a, b OpeningState) int { return a.From.compare(b.From) })
		if len(o.Schedule) == 0 {
			o.Schedule = nil
		}
	}
	for i := range h.Followers {
		lists = append(lists, &h.Followers[i].Layers)
	}
	for i := range h.Wraps {
		lists = append(lists, &h.Wraps[i].Layers)
	}
	if len(h.Openings) == 0 {
		h.Openings = nil
	}
	if len(h.Followers) == 0 {
		h.Followers = nil
	}
	if len(h.Wraps) == 0 {
		h.Wraps = nil
	}
	if len(p.Colony.Feeds) == 0 {
		p.Colony.Feeds = nil
	}
	if len(p.Colony.Flows) == 0 {
		p.Colony.Flows = nil
	}
	if !p.Site.HasPlace {
		p.Site.Latitude, p.Site.Longitude, p.Site.Height = 0, 0, 0
	}
	known := make(map[string]material.Material)
	for i := range p.Materials {
		m := &p.Materials[i]
		if m.Kind == "" {
			m.Kind = material.Solid
		}
		if m.Kind != material.Solid {
			return p, fmt.Errorf("material %q is not of the kind %q: a file holds no other", m.Name, material.Solid)
		}
		known[m.Name] = *m
	}
	for _, list := range lists {
		tidy(list)
		for i := range *list {
			l := &(*list)[i]
			if l.Material.Kind == "" {
				l.Material.Kind = material.Solid
			}
			own, ours := known[l.Material.Name]
			std, err := standard.Find(l.Material.Name)
			if l.IsAirGap() && err == nil {
				l.Material.Conductivity = std.Conductivity // follows from its place when read
			}
			m := l.Material
			switch {
			case ours && own == m:
			case ours:
				return p, fmt.Errorf("two materials with different values are called %q", m.Name)
			case err != nil && l.Resistance > 0 && m == insulation(m.Name):
			case err == nil && std == m:
			case err == nil && std.Name == m.Name:
				return p, fmt.Errorf("material %q has other values than in the standard table: give it another name", m.Name)
			default:
				known[m.Name] = m
				p.Materials = append(p.Materials, m)
			}
		}
	}
	if len(p.Materials) == 0 {
		p.Materials = nil
	}
	return p, nil
}

func orderSwitches(list []Switch) []Switch {
	if len(list) == 0 {
		return nil
	}
	slices.SortStableFunc(list, func(a, b Switch) int { return a.From.compare(b.From) })
	return list
}

// writer turns a plan into nodes.
type writer struct {
	table  *material.Table
	system quantity.System
	preset preset
	hive   *Hive
}

// writeObject returns the map of all fields that say more than base does.
func writeObject[T any](w *writer, fields []field[T], v, base *T) *yaml.Node {
	m := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map"}
	for _, f := range fields {
		if n := f.write(w, v, base); n != nil {
			m.Content = append(m.Content, plain(f.key), n)
		}
	}
	return tidyStyle(m)
}

// tidyStyle puts short maps of scalars on one line.
func tidyStyle(m *yaml.Node) *yaml.Node {
	const mostPairs, mostLetters = 3, 60
	letters := 0
	for _, c := range m.Content {
		if c.Kind != yaml.ScalarNode || c.Style&yaml.LiteralStyle != 0 {
			return m
		}
		letters += len(c.Value) + 2
	}
	if len(m.Content) <= 2*mostPairs && letters <= mostLetters {
		m.Style = yaml.FlowStyle
	}
	return m
}

// nonEmpty drops a map that says nothing.
func nonEmpty(n *yaml.Node) *yaml.Node {
	if len(n.Content) == 0 {
		return nil
	}
	return n
}

// plain is a word or number that needs no quotes.
func plain(s string) *yaml.Node { return &yaml.Node{Kind: yaml.ScalarNode, Value: s} }

// text is free text: quoted where YAML would read something else, several lines
// as a block where a block can hold them.
func text(s string) *yaml.Node {
	n := &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: s}
	if s == "" || s != strings.TrimSpace(s) && !strings.Contains(s, "\n") {
		n.Style = yaml.DoubleQuotedStyle
		return n
	}
	odd := func(r rune) bool { return r != '\n' && !unicode.IsPrint(r) || r == '\ufeff' }
	switch {
	case strings.ContainsFunc(s, odd):
		n.Style = yaml.DoubleQuotedStyle
	case strings.Contains(s, "\n"):
		n.Style = yaml.LiteralStyle
		for line := range strings.SplitSeq(strings.TrimSuffix(s, "\n"), "\n") {
			if line != strings.TrimRight(line, " ") || line == "" && (s[0] == '\n' || strings.HasSuffix(s, "\n\n")) || strings.HasPrefix(s, " ") {
				n.Style = yaml.DoubleQuotedStyle
			}
		}
	}
	return n
}

func sequence(style yaml.Style) *yaml.Node {
	return &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Style: style}
}

// quantity writes a value in units of the system when people's form of it is
// exact, else exactly.
func (w *writer) quantity(v float64, kind quantity.Kind) *yaml.Node { return plain(w.amount(v, kind)) }

func (w *writer) amount(v float64, kind quantity.Kind) string {
	s := quantity.Format(v, kind, w.system)
	if x, err := quantity.Parse(s, kind); err == nil && same(x, v) {
		return s
	}
	return quantity.FormatExact(v, kind)
}

func (w *writer) layers(layers []Layer) *yaml.Node {
	if len(layers) == 0 {
		return plain(noneWord)
	}
	list := sequence(yaml.FlowStyle)
	for _, l := range layers {
		n := w.layer(l)
		if n.Kind != yaml.ScalarNode {
			list.Style = 0
		}
		list.Content = append(list.Content, n)
	}
	return list
}

// layer writes the short form where it reads back as the same layer.
func (w *writer) layer(l Layer) *yaml.Node {
	file := layerFile{l.Material.Name, l.Thickness, l.Resistance}
	parts := []string{l.Material.Name, w.amount(l.Thickness, quantity.Length)}
	if l.Resistance > 0 {
		parts = []string{w.amount(l.Resistance, quantity.Resistance), parts[1], parts[0]}
		if l.Thickness == 0 {
			parts = []string{parts[0], parts[2]}
		}
	}
	short := strings.Join(parts, " ")
	if splitLayer(short) == file && !strings.Contains(short, ",") {
		return text(short)
	}
	return writeObject(w, layerFields(), &file, &layerFile{})
}

func (w *writer) finish(f Finish) *yaml.Node {
	if known, err := findFinish(w.table, f.Name); err == nil && known == f {
		return text(f.Name)
	}
	return writeObject(w, finishFields(), &f, &Finish{})
}

func (w *writer) materials(list []material.Material) *yaml.Node {
	if len(list) == 0 {
		return nil
	}
	m := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map"}
	for i := range list {
		// An impossible base has every quantity written.
		nowhere := material.Material{Conductivity: -1, Density: -1, SpecificHeat: -1, Emissivity: -1, SolarAbsorptance: -1}
		m.Content = append(m.Content, text(list[i].Name), writeObject(w, materialFields(), &list[i], &nowhere))
	}
	return m
}

// walls writes the sides that differ, all four as one list where they are alike.
func (w *writer) walls(walls [4][]Layer, differ [4]bool) *yaml.Node {
	switch {
	case differ == [4]bool{}:
		return nil
	case differ == [4]bool{true, true, true, true} && sameLayers(walls[0], walls[1]) && sameLayers(walls[0], walls[2]) && sameLayers(walls[0], walls[3]):
		return w.layers(walls[0])
	}
	m := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map"}
	for f, d := range differ {
		if d {
			m.Content = append(m.Content, plain(Face(f).String()), w.layers(walls[f]))
		}
	}
	return m
}

// commonWalls tells which walls are alike in all bodies and differ from the
// type's in at least one: those are said once for all.
func commonWalls(h, base *Hive) (walls [4][]Layer, common [4]bool) {
	if len(h.Bodies) == 0 {
		return walls, common
	}
	walls = h.Bodies[0].Walls
	for f := range walls {
		alike, differs := true, false
		for i := range h.Bodies {
			alike = alike && sameLayers(h.Bodies[i].Walls[f], walls[f])
			differs = differs || !sameLayers(h.Bodies[i].Walls[f], base.Bodies[i].Walls[f])
		}
		common[f] = alike && differs
	}
	return walls, common
}

// commonFrameFields are the fields of frames that are alike in all bodies and
// differ from the type's in at least one.
func commonFrameFields(w *writer, h, base *Hive) []field[Frames] {
	var common []field[Frames]
	for _, f := range framesFields() {
		alike, differs := true, false
		for i := range h.Bodies {
			now, from := h.Bodies[i].Frames, base.Bodies[i].Frames
			if now.Count == 0 || from.Count == 0 {
				return nil // a body without comb: each speaks for itself
			}
			alike = alike && f.write(w, &now, &h.Bodies[0].Frames) == nil
			differs = differs || f.write(w, &now, &from) != nil
		}
		if alike && differs {
			common = append(common, f)
		}
	}
	return common
}

func (w *writer) commonFrames(h, base *Hive) *yaml.Node {
	fields := commonFrameFields(w, h, base)
	if len(fields) == 0 {
		return nil
	}
	for i := range fields {
		// Differs in some body, if not in the first: write it in any case.
		write := fields[i].write
		fields[i].write = func(w *writer, v, _ *Frames) *yaml.Node {
			for j := range base.Bodies {
				if n := write(w, v, &base.Bodies[j].Frames); n != nil {
					return n
				}
			}
			return nil
		}
	}
	return writeObject(w, fields, &h.Bodies[0].Frames, &base.Bodies[0].Frames)
}

func (w *writer) bodies(h, base *Hive) *yaml.Node {
	list := sequence(yaml.FlowStyle)
	walls, sameWalls := commonWalls(h, base)
	fields := commonFrameFields(w, h, base)
	for i := range h.Bodies {
		b, from := h.Bodies[i], base.Bodies[i]
		for f, same := range sameWalls {
			if same {
				from.Walls[f] = walls[f]
			}
		}
		// Common fields read back as they are, whatever they were.
		for _, f := range fields {
			f.assign(&from.Frames, &b.Frames)
		}
		n := writeObject(w, bodyFields(), &b, &from)
		if len(n.Content) == 2 && b.Box != "" { // the box alone
			n = n.Content[1]
		} else {
			list.Style = 0
		}
		list.Content = append(list.Content, n)
	}
	return list
}

// validText reports whether a file can hold s.
func validText(s string) bool {
	return utf8.ValidString(s) && !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' && r != '\n' && r != '\t' || r == 0x7f })
}
