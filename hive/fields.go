package hive

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"hackle/material"
	"hackle/quantity"
)

// field is one key of one section of the hive file. The tables of fields below
// are the format: reader, writer and schema all follow them.
type field[T any] struct {
	key    string
	doc    string // meaning, for the schema
	schema any    // JSON Schema of the value
	first  bool   // read before the others, because they rest on it
	read   func(r *reader, path string, n *yaml.Node, v *T)
	// write returns the node of the value, nil to leave the key out because it
	// says no more than base.
	write func(w *writer, v, base *T) *yaml.Node
	// assign copies the value alone; only fields that can be stated for all
	// bodies at once have it.
	assign func(to, from *T)
}

const noneWord = "none"

// Limits of lists. They only keep absurd files out.
const (
	mostBodies   = 20
	mostLayers   = 20
	mostOpenings = 40
	mostEvents   = 60
	mostFrameNo  = 60
)

func quantityField[T any](key, doc string, kind quantity.Kind, at func(*T) *float64) field[T] {
	return field[T]{
		key: key, doc: doc, schema: ref(kind.String()),
		read:   func(r *reader, path string, n *yaml.Node, v *T) { r.quantity(path, n, kind, at(v)) },
		assign: func(to, from *T) { *at(to) = *at(from) },
		write: func(w *writer, v, base *T) *yaml.Node {
			if same(*at(v), *at(base)) {
				return nil
			}
			return w.quantity(*at(v), kind)
		},
	}
}

// same compares so that a value that is not a number equals itself.
func same(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) }

// orNone lets a quantity also be "none", which is 0.
func orNone[T any](f field[T], at func(*T) *float64) field[T] {
	read, write := f.read, f.write
	f.schema = anyOf(f.schema, constant(noneWord))
	f.read = func(r *reader, path string, n *yaml.Node, v *T) {
		if none(n) {
			*at(v) = 0
			return
		}
		read(r, path, n, v)
	}
	f.write = func(w *writer, v, base *T) *yaml.Node {
		n := write(w, v, base)
		if n != nil && *at(v) == 0 {
			return plain(noneWord)
		}
		return n
	}
	return f
}

func lengthField[T any](key, doc string, at func(*T) *float64) field[T] {
	return quantityField(key, doc, quantity.Length, at)
}

func textField[T any](key, doc string, at func(*T) *string) field[T] {
	return field[T]{
		key: key, doc: doc, schema: map[string]any{"type": []string{"string", "number"}},
		read: func(r *reader, path string, n *yaml.Node, v *T) {
			if _, ok := r.text(path, n, "text"); ok {
				*at(v) = n.Value
			}
		},
		write: func(w *writer, v, base *T) *yaml.Node {
			if *at(v) == *at(base) {
				return nil
			}
			return text(*at(v))
		},
	}
}

func integerField[T any](key, doc string, least, most int, get func(*T) int, set func(*T, int)) field[T] {
	return field[T]{
		key: key, doc: doc, schema: map[string]any{"type": "integer", "minimum": least, "maximum": most},
		read: func(r *reader, path string, n *yaml.Node, v *T) {
			x := get(v)
			r.integer(path, n, least, most, &x)
			set(v, x)
		},
		assign: func(to, from *T) { set(to, get(from)) },
		write: func(w *writer, v, base *T) *yaml.Node {
			if get(v) == get(base) {
				return nil
			}
			return plain(strconv.Itoa(get(v)))
		},
	}
}

func wordField[T any, S ~string](key, doc string, words []S, at func(*T) *S) field[T] {
	list := make([]string, len(words))
	for i, s := range words {
		list[i] = string(s)
	}
	return field[T]{
		key: key, doc: doc, schema: enum(list),
		read: func(r *reader, path string, n *yaml.Node, v *T) {
			if s, ok := r.word(path, n, list); ok {
				*at(v) = S(s)
			}
		},
		assign: func(to, from *T) { *at(to) = *at(from) },
		write: func(w *writer, v, base *T) *yaml.Node {
			if *at(v) == *at(base) {
				return nil
			}
			return text(string(*at(v)))
		},
	}
}

// choiceField is a bool told by one of two words.
func choiceField[T any](key, doc, yes, no string, at func(*T) *bool) field[T] {
	words := []string{yes, no}
	return field[T]{
		key: key, doc: doc, schema: enum(words),
		read: func(r *reader, path string, n *yaml.Node, v *T) {
			if s, ok := r.word(path, n, words); ok {
				*at(v) = s == yes
			}
		},
		assign: func(to, from *T) { *at(to) = *at(from) },
		write: func(w *writer, v, base *T) *yaml.Node {
			if *at(v) == *at(base) {
				return nil
			}
			if *at(v) {
				return plain(yes)
			}
			return plain(no)
		},
	}
}

func dayField[T any](key, doc string, at func(*T) *Day) field[T] {
	return field[T]{
		key: key, doc: doc, schema: ref("day"),
		read: func(r *reader, path string, n *yaml.Node, v *T) { r.day(path, n, at(v)) },
		write: func(w *writer, v, base *T) *yaml.Node {
			if *at(v) == *at(base) {
				return nil
			}
			return plain(at(v).String())
		},
	}
}

// listField is a list of maps, each starting from the value start gives it.
func listField[T, E any](key, doc, def string, most int, fields func() []field[E], start func(r int) E, at func(*T) *[]E, finish func(*reader, string, *yaml.Node, *E)) field[T] {
	return field[T]{
		key: key, doc: doc,
		schema: anyOf(map[string]any{"type": "array", "items": ref(def), "maxItems": most}, ref(def), constant(noneWord)),
		read: func(r *reader, path string, n *yaml.Node, v *T) {
			var list []E
			for i, item := range r.entries(path, n, most) {
				p := fmt.Sprintf("%s[%d]", path, i+1)
				r.at[p] = place{item.Line, item.Column}
				e := start(i)
				if object(r, p, item, fields(), &e) && finish != nil {
					finish(r, p, item, &e)
				}
				list = append(list, e)
			}
			*at(v) = list
		},
		write: func(w *writer, v, base *T) *yaml.Node {
			if len(*at(v)) == 0 { // no type brings such a list of its own
				return nil
			}
			list := sequence(0)
			for i := range *at(v) {
				from := start(i)
				list.Content = append(list.Content, writeObject(w, fields(), &(*at(v))[i], &from))
			}
			return list
		},
	}
}

func layersField[T any](key, doc string, at func(*T) *[]Layer) field[T] {
	return field[T]{
		key: key, doc: doc, schema: ref("layers"),
		read: func(r *reader, path string, n *yaml.Node, v *T) { *at(v) = r.layers(path, n) },
		write: func(w *writer, v, base *T) *yaml.Node {
			if sameLayers(*at(v), *at(base)) {
				return nil
			}
			return w.layers(*at(v))
		},
	}
}

func sameLayers(a, b []Layer) bool {
	return slices.Equal(a, b)
}

// finishField is the look of a surface that is always there.
func finishField[T any](key, doc string, get func(*T) *Finish) field[T] {
	return field[T]{
		key: key, doc: doc, schema: ref("finish"),
		read: func(r *reader, path string, n *yaml.Node, v *T) {
			if f, ok := r.finish(path, n); ok {
				*get(v) = f
			}
		},
		write: func(w *writer, v, base *T) *yaml.Node {
			if *get(v) == *get(base) {
				return nil
			}
			return w.finish(*get(v))
		},
	}
}

// optionalFinishField is a finish that may be left to the hive's own.
func optionalFinishField[T any](key, doc string, at func(*T) **Finish) field[T] {
	return field[T]{
		key: key, doc: doc, schema: anyOf(ref("finish"), constant(noneWord)),
		read: func(r *reader, path string, n *yaml.Node, v *T) {
			if none(n) {
				*at(v) = nil
			} else if f, ok := r.finish(path, n); ok {
				*at(v) = &f
			}
		},
		write: func(w *writer, v, base *T) *yaml.Node {
			now, from := *at(v), *at(base)
			switch {
			case now == nil && from == nil, now != nil && from != nil && *now == *from:
				return nil
			case now == nil:
				return plain(noneWord)
			}
			return w.finish(*now)
		},
	}
}

// planFile is a plan with what only its file knows.
type planFile struct {
	Plan
	version int
	root    *yaml.Node
}

func planFields() []field[planFile] {
	return []field[planFile]{
		{
			key: "version", doc: "Edition of the file format.", first: true, schema: map[string]any{"const": fileVersion},
			read: func(r *reader, path string, n *yaml.Node, v *planFile) {
				r.whole = true
				wanted := strconv.Itoa(fileVersion)
				s, ok := r.text(path, n, wanted)
				if !ok {
					return
				}
				if s != wanted {
					r.fail(path, n, quote(s), wanted, "this program reads edition "+wanted+" of the format")
					return
				}
				v.version = fileVersion
			},
			write: func(*writer, *planFile, *planFile) *yaml.Node { return plain(strconv.Itoa(fileVersion)) },
		},
		textField("name", "Name of the hive, for people.", func(v *planFile) *string { return &v.Hive.Name }),
		{
			key: "hive", doc: "The hive as built, without bees. It starts from its type; the rest says what differs.", schema: ref("hive"),
			read: func(r *reader, path string, n *yaml.Node, v *planFile) {
				r.hive = &v.Hive
				if object(r, path, n, hiveFields(), &v.Hive) && !r.given("hive.type") {
					r.fail("hive.type", n, "no type", "the type of hive: "+oneOf(typeNames()), "")
					r.whole = false
				}
				r.passages(&v.Hive)
			},
			write: func(w *writer, v, base *planFile) *yaml.Node {
				return writeObject(w, hiveFields(), &v.Hive, &base.Hive)
			},
		},
		{
			key: "materials", doc: "Materials of one's own, by name, beside those the program knows.", first: true,
			schema: map[string]any{"type": "object", "additionalProperties": ref("material")},
			read:   func(r *reader, path string, n *yaml.Node, v *planFile) { r.materials(path, n, &v.Plan) },
			write:  func(w *writer, v, base *planFile) *yaml.Node { return w.materials(v.Materials) },
		},
		sectionField("colony", "What the keeper says of the bees.", colonyFields, func(v *planFile) *Colony { return &v.Colony }),
		sectionField("site", "Where the hive stands.", siteFields, func(v *planFile) *Site { return &v.Site }),
		sectionField("measured", "What measurements of this very hive say beside its description; every share multiplies what is computed.", measuredFields, func(v *planFile) *Measured { return &v.Measured }),
		textField("notes", "Anything worth remembering.", func(v *planFile) *string { return &v.Notes }),
	}
}

// sectionField is a map under a key of the same name as its definition.
func sectionField[T, S any](key, doc string, fields func() []field[S], at func(*T) *S) field[T] {
	return field[T]{
		key: key, doc: doc, schema: ref(key),
		read:  func(r *reader, path string, n *yaml.Node, v *T) { object(r, path, n, fields(), at(v)) },
		write: func(w *writer, v, base *T) *yaml.Node { return nonEmpty(writeObject(w, fields(), at(v), at(base))) },
	}
}

func typeNames() []string {
	specs := types()
	names := make([]string, len(specs))
	for i, s := range specs {
		names[i] = s.info.Name
	}
	return names
}

func hiveFields() []field[Hive] {
	return []field[Hive]{
		{
			key: "type", doc: "Type of hive it starts from.", first: true, schema: enum(typeNames()),
			read: func(r *reader, path string, n *yaml.Node, v *Hive) {
				typ, ok := r.word(path, n, typeNames())
				if !ok {
					r.whole = false
					return
				}
				p, err := newPreset(typ, r.table)
				if err != nil { // the standard table lacks a material of a preset
					r.fail(path, n, quote(typ), "a type whose materials are known", err.Error())
					r.whole = false
					return
				}
				r.preset = p
				name := v.Name
				*v = p.shell.Clone()
				v.Name = name
				for _, box := range p.spec.info.Default {
					if b, err := p.box(box); err == nil { // tested for every type
						v.Bodies = append(v.Bodies, b)
					}
				}
			},
			write: func(w *writer, v, base *Hive) *yaml.Node { return plain(v.Type) },
		},
		{
			key: "bodies", doc: "Boxes from the floor upward: names of the type's boxes, or maps that say what differs.",
			schema: map[string]any{"type": "array", "items": anyOf(map[string]any{"type": []string{"string", "number"}}, ref("body")), "minItems": 1, "maxItems": mostBodies},
			read:   func(r *reader, path string, n *yaml.Node, v *Hive) { r.bodies(path, n, v) },
			write:  func(w *writer, v, base *Hive) *yaml.Node { return w.bodies(v, base) },
		},
		{
			key: "walls", doc: "Walls of all bodies, from outside to inside: one list for all four sides, or a map by side.", first: true, schema: ref("walls"),
			read: func(r *reader, path string, n *yaml.Node, v *Hive) {
				r.forAll(v, func(b *Body) { r.walls(path, n, &b.Walls) })
			},
			write: func(w *writer, v, base *Hive) *yaml.Node { return w.walls(commonWalls(v, base)) },
		},
		{
			key: "frames", doc: "What differs in the frames of all bodies.", first: true, schema: anyOf(ref("frames"), constant(noneWord)),
			read: func(r *reader, path string, n *yaml.Node, v *Hive) {
				r.forAll(v, func(b *Body) { r.frames(path, n, &b.Frames) })
			},
			write: func(w *writer, v, base *Hive) *yaml.Node { return w.commonFrames(v, base) },
		},
		sectionField("floor", "Bottom of the hive.", floorFields, func(v *Hive) *Floor { return &v.Floor }),
		{
			key: "top board", doc: "Board or cloth under the lid; none when the lid lies on the bodies.", schema: anyOf(ref("top board"), constant(noneWord)),
			read: func(r *reader, path string, n *yaml.Node, v *Hive) {
				if none(n) {
					v.TopBoard = nil
					return
				}
				var board TopBoard
				if v.TopBoard != nil {
					board = *v.TopBoard
				}
				if object(r, path, n, topBoardFields(), &board) {
					v.TopBoard = &board
				}
			},
			write: func(w *writer, v, base *Hive) *yaml.Node {
				switch {
				case v.TopBoard == nil && base.TopBoard == nil:
					return nil
				case v.TopBoard == nil:
					return plain(noneWord)
				case base.TopBoard == nil:
					return writeObject(w, topBoardFields(), v.TopBoard, &TopBoard{})
				}
				return nonEmpty(writeObject(w, topBoardFields(), v.TopBoard, base.TopBoard))
			},
		},
		sectionField("lid", "Roof with its insulation.", lidFields, func(v *Hive) *Lid { return &v.Lid }),
		{
			key: entranceName, doc: "The type's main entrance and what differs in it.", schema: anyOf(ref("opening"), constant(noneWord)),
			read: func(r *reader, path string, n *yaml.Node, v *Hive) {
				own := v.hasEntrance()
				if none(n) {
					if own {
						v.Openings = nil // it is the only one of a type
					}
					return
				}
				o := newOpening(entranceName)
				if own {
					o = v.Openings[0]
				}
				if !object(r, path, n, openingFields(), &o) {
					return
				}
				r.opening(path, n, &o)
				if own {
					v.Openings[0] = o
				} else {
					v.Openings = append([]Opening{o}, v.Openings...)
				}
			},
			write: func(w *writer, v, base *Hive) *yaml.Node {
				from := newOpening(entranceName)
				if base.hasEntrance() {
					from = base.Openings[0]
				}
				if !v.hasEntrance() {
					if base.hasEntrance() {
						return plain(noneWord)
					}
					return nil
				}
				return nonEmpty(writeObject(w, openingFields(), &v.Openings[0], &from))
			},
		},
		{
			key: "openings", doc: "All further openings: upper entrances, vents, flight holes.",
			schema: anyOf(map[string]any{"type": "array", "items": ref("opening"), "maxItems": mostOpenings}, ref("opening"), constant(noneWord)),
			read: func(r *reader, path string, n *yaml.Node, v *Hive) {
				for i, item := range r.entries(path, n, mostOpenings) {
					p := fmt.Sprintf("%s[%d]", path, i+1)
					r.at[p] = place{item.Line, item.Column}
					o := newOpening(fmt.Sprintf("opening %d", i+1))
					if object(r, p, item, openingFields(), &o) {
						r.opening(p, item, &o)
					}
					v.Openings = append(v.Openings, o)
				}
			},
			write: func(w *writer, v, base *Hive) *yaml.Node {
				rest := v.Openings
				if v.hasEntrance() {
					rest = rest[1:]
				}
				if len(rest) == 0 {
					return nil
				}
				list := sequence(0)
				for i := range rest {
					from := newOpening(fmt.Sprintf("opening %d", i+1))
					list.Content = append(list.Content, writeObject(w, openingFields(), &rest[i], &from))
				}
				return list
			},
		},
		listField("followers", "Boards that shut bees off from part of a body.", "follower", mostOpenings, followerFields,
			func(int) Follower { return Follower{Side: Right} }, func(v *Hive) *[]Follower { return &v.Followers }, nil),
		listField("wraps", "Outer coats put on and taken off by date.", "wrap", mostOpenings, wrapFields,
			func(i int) Wrap { return Wrap{Name: fmt.Sprintf("wrap %d", i+1)} }, func(v *Hive) *[]Wrap { return &v.Wraps }, nil),
		orNone(quantityField("leakage", "Effective leakage area of the joints between parts, at 4 Pa and discharge coefficient 1, per length of joint.", quantity.AreaPerLength,
			func(v *Hive) *float64 { return &v.LeakArea }), func(v *Hive) *float64 { return &v.LeakArea }),
		{
			key: "front looks to", doc: "Direction the front looks to: N, NE, E … or clockwise from north.",
			schema: anyOf(enum(compassPoints()), ref(quantity.Angle.String())),
			read: func(r *reader, path string, n *yaml.Node, v *Hive) {
				if i := slices.Index(compassPoints(), n.Value); i >= 0 && n.Kind == yaml.ScalarNode {
					v.FrontAzimuth = float64(i) * 360 / float64(len(compassPoints()))
					return
				}
				if s, ok := r.text(path, n, "N, NE, E … or an angle from north such as 160°"); !ok || bare(s) || strings.ContainsAny(s, "0123456789") {
					if ok {
						r.quantity(path, n, quantity.Angle, &v.FrontAzimuth)
					}
					return
				}
				r.fail(path, n, quote(n.Value), oneOf(compassPoints())+", or an angle from north such as 160°", "")
			},
			write: func(w *writer, v, base *Hive) *yaml.Node {
				if same(v.FrontAzimuth, base.FrontAzimuth) {
					return nil
				}
				points := compassPoints()
				step := 360 / float64(len(points))
				if i := v.FrontAzimuth / step; i == math.Trunc(i) && i >= 0 && int(i) < len(points) {
					return text(points[int(i)])
				}
				return w.quantity(v.FrontAzimuth, quantity.Angle)
			},
		},
		quantityField("tilt", "Forward tilt, front lower than back.", quantity.Angle, func(v *Hive) *float64 { return &v.Tilt }),
		lengthField("stand", "Height of the floor's underside above ground.", func(v *Hive) *float64 { return &v.StandHeight }),
		finishField("finish", "Outer surface of all parts that do not name their own.", func(v *Hive) *Finish { return &v.Finish }),
		lengthField("inside coat", "What propolis, wax or paint on the inner faces resists vapour, as metres of still air.", func(v *Hive) *float64 { return &v.InsideCoat }),
	}
}

func compassPoints() []string {
	return []string{"N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"}
}

func newOpening(name string) Opening {
	return Opening{Name: name, Face: Front, Shape: Slot, Count: 1}
}

func bodyFields() []field[Body] {
	return []field[Body]{
		{
			key: "box", doc: "Box of the hive's type it starts from, such as deep; left out for a body written in full.", first: true,
			schema: map[string]any{"type": []string{"string", "number"}},
			read:   func(r *reader, path string, n *yaml.Node, v *Body) { r.box(path, n, v) },
			write: func(w *writer, v, base *Body) *yaml.Node {
				if v.Box == "" {
					return nil
				}
				return text(v.Box)
			},
		},
		textField("name", "Name for people.", func(v *Body) *string { return &v.Name }),
		lengthField("length", "Inside measure along the frames.", func(v *Body) *float64 { return &v.Length }),
		lengthField("width", "Inside measure across the frames.", func(v *Body) *float64 { return &v.Width }),
		lengthField("height", "Height of the box.", func(v *Body) *float64 { return &v.Height }),
		choiceField("frames run", "Direction of the frames.", "side to side", "front to back", func(v *Body) *bool { return &v.Turned }),
		lengthField("space above frames", "Free height between the top bars and the upper edge of the box.", func(v *Body) *float64 { return &v.TopSpace }),
		{
			key: "walls", doc: "Walls of this body, as under hive.", schema: ref("walls"),
			read: func(r *reader, path string, n *yaml.Node, v *Body) { r.walls(path, n, &v.Walls) },
			write: func(w *writer, v, base *Body) *yaml.Node {
				var differ [4]bool
				for f := range differ {
					differ[f] = !sameLayers(v.Walls[f], base.Walls[f])
				}
				return w.walls(v.Walls, differ)
			},
		},
		{
			key: "frames", doc: "What differs in the frames of this body; none for a body without comb.", schema: anyOf(ref("frames"), constant(noneWord)),
			read: func(r *reader, path string, n *yaml.Node, v *Body) { r.frames(path, n, &v.Frames) },
			write: func(w *writer, v, base *Body) *yaml.Node {
				if v.Frames == base.Frames {
					return nil
				}
				if v.Frames == (Frames{}) {
					return plain(noneWord)
				}
				from := base.Frames
				if from == (Frames{}) {
					from = newFrames()
				}
				return writeObject(w, framesFields(), &v.Frames, &from)
			},
		},
	}
}

// newFrames is what frames written from nothing start with.
func newFrames() Frames {
	return Frames{DrawnShare: 1, Support: SupportUpright, CombAge: CombBrood}
}

func framesFields() []field[Frames] {
	return []field[Frames]{
		integerField("count", "Number of frames or bars.", 0, mostFrameNo, func(v *Frames) int { return v.Count }, func(v *Frames, n int) { v.Count = n }),
		choiceField("kind", "Whole frames, or top bars alone.", "bars", "frames", func(v *Frames) *bool { return &v.Bars }),
		lengthField("length", "Outer length of a frame without its lugs.", func(v *Frames) *float64 { return &v.Length }),
		lengthField("depth", "Outer depth of a frame.", func(v *Frames) *float64 { return &v.Depth }),
		lengthField("top bar", "Length of the top bar with lugs.", func(v *Frames) *float64 { return &v.TopBar }),
		lengthField("spacing", "From comb centre to comb centre.", func(v *Frames) *float64 { return &v.Pitch }),
		lengthField("comb thickness", "Thickness of a comb with capped honey or brood.", func(v *Frames) *float64 { return &v.CombThickness }),
		quantityField("drawn", "Share of the frames that hold built comb.", quantity.Fraction, func(v *Frames) *float64 { return &v.DrawnShare }),
		wordField("support", "What carries the comb in heat.", supports(), func(v *Frames) *Support { return &v.Support }),
		wordField("comb", "Fresh wax, or comb that has held brood.", []CombAge{CombFresh, CombBrood}, func(v *Frames) *CombAge { return &v.CombAge }),
		quantityField("honey when full", "Honey in one completely filled frame.", quantity.Mass, func(v *Frames) *float64 { return &v.HoneyPerFrame }),
	}
}

func supports() []Support {
	return []Support{SupportNone, SupportUpright, SupportLevel, SupportCrossed, SupportSticks, SupportStiffCore}
}

func floorFields() []field[Floor] {
	return []field[Floor]{
		layersField("layers", "From outside (below) to inside; for a mesh floor those of its tray.", func(v *Floor) *[]Layer { return &v.Layers }),
		{
			key: "mesh", doc: "Free area of an insect mesh in place of a board, wires deducted.", schema: anyOf(ref(quantity.Area.String()), constant(noneWord)),
			read: func(r *reader, path string, n *yaml.Node, v *Floor) {
				v.Mesh = !none(n)
				v.MeshArea = 0
				if v.Mesh {
					r.quantity(path, n, quantity.Area, &v.MeshArea)
				}
			},
			write: func(w *writer, v, base *Floor) *yaml.Node {
				switch {
				case v.Mesh == base.Mesh && same(v.MeshArea, base.MeshArea):
					return nil
				case !v.Mesh:
					return plain(noneWord)
				}
				return w.quantity(v.MeshArea, quantity.Area)
			},
		},
		choiceField("tray", "Whether a tray closes the mesh, before the first day of its schedule.", "in", "out", func(v *Floor) *bool { return &v.Tray }),
		listField("tray schedule", "Days on which the tray goes in or out.", "tray state", mostEvents, switchFields("tray", "in", "out"),
			func(int) Switch { return Switch{} }, func(v *Floor) *[]Switch { return &v.TrayEvents }, needsDay[Switch]),
		lengthField("rim", "Height from the floor's inner face to the lowest body.", func(v *Floor) *float64 { return &v.Depth }),
	}
}

// switchFields is an entry of a schedule of two states.
func switchFields(key, on, off string) func() []field[Switch] {
	return func() []field[Switch] {
		return []field[Switch]{
			dayField("from", "First day of this state.", func(v *Switch) *Day { return &v.From }),
			required(choiceField(key, "State from that day on.", on, off, func(v *Switch) *bool { return &v.On }), func(v *Switch) *yaml.Node {
				if v.On {
					return plain(on)
				}
				return plain(off)
			}),
		}
	}
}

// required has a field written whatever its base says.
func required[T any](f field[T], write func(*T) *yaml.Node) field[T] {
	f.write = func(_ *writer, v, _ *T) *yaml.Node { return write(v) }
	return f
}

// needsDay notes a schedule entry without its day or state.
func needsDay[E any](r *reader, path string, n *yaml.Node, _ *E) {
	if !r.given(path + ".from") {
		r.fail(path+".from", n, "no day", "the first day of this state, as from: 15 Oct", "")
	}
	if len(n.Content) == 2 && r.given(path+".from") {
		r.fail(path, n, "a day alone", "a day and the state from that day on", "")
	}
}

func topBoardFields() []field[TopBoard] {
	hole := func(v *TopBoard) *float64 { return &v.Hole }
	permeance := func(v *TopBoard) *float64 { return &v.Permeance }
	space := func(v *TopBoard) *float64 { return &v.Space }
	holeField := orNone(quantityField("hole", "Free area through the board into the lid's space, or the diameter of one round hole.", quantity.Area, hole), hole)
	holeField.schema = anyOf(holeField.schema, ref(quantity.Length.String()))
	area := holeField.read
	holeField.read = func(r *reader, path string, n *yaml.Node, v *TopBoard) {
		if n.Kind == yaml.ScalarNode && !bare(n.Value) {
			if d, err := quantity.Parse(n.Value, quantity.Length); err == nil {
				v.Hole = math.Pi / 4 * d * d
				return
			}
		}
		area(r, path, n, v)
	}
	return []field[TopBoard]{
		layersField("layers", "From outside (above) to inside.", func(v *TopBoard) *[]Layer { return &v.Layers }),
		holeField,
		listField("hole schedule", "Days on which the hole is opened or closed; open before them.", "hole state", mostEvents, switchFields("hole", "open", "closed"),
			func(int) Switch { return Switch{} }, func(v *TopBoard) *[]Switch { return &v.HoleEvents }, needsDay[Switch]),
		orNone(lengthField("rim", "Free height below the board inside its rim.", space), space),
		orNone(quantityField("air permeance", "Air that seeps through a cloth or quilt, per area and pressure; none for a tight board.", quantity.Permeance, permeance), permeance),
	}
}

func lidFields() []field[Lid] {
	space := func(v *Lid) *float64 { return &v.Space }
	vents := func(v *Lid) *float64 { return &v.Vents }
	rim := func(v *Lid) *float64 { return &v.Rim }
	return []field[Lid]{
		layersField("layers", "From outside (above) to inside.", func(v *Lid) *[]Layer { return &v.Layers }),
		orNone(lengthField("air space", "Height of the air space between top board and lid.", space), space),
		orNone(quantityField("vents", "Free area that joins that space with outdoors.", quantity.Area, vents), vents),
		orNone(lengthField("rim", "Depth by which the lid reaches down over the bodies.", rim), rim),
		optionalFinishField("finish", "Outer surface of the lid; none for the hive's own.", func(v *Lid) **Finish { return &v.Finish }),
	}
}

func openingFields() []field[Opening] {
	uprights := []string{Front.String(), Back.String(), Left.String(), Right.String()}
	size := func(key, doc string, at func(*Opening) *float64) field[Opening] {
		f := lengthField(key, doc, at)
		read, write := f.read, f.write
		f.read = func(r *reader, path string, n *yaml.Node, v *Opening) {
			v.Shape = Slot
			read(r, path, n, v)
		}
		f.write = func(w *writer, v, base *Opening) *yaml.Node {
			if v.Shape != Slot {
				return nil
			}
			if base.Shape != Slot {
				return w.quantity(*at(v), quantity.Length)
			}
			return write(w, v, base)
		}
		return f
	}
	return []field[Opening]{
		textField("name", "Name for people and for changes.", func(v *Opening) *string { return &v.Name }),
		{
			key: "face", doc: "Side of the hive, seen by somebody who stands behind it.", schema: enum(uprights),
			read: func(r *reader, path string, n *yaml.Node, v *Opening) {
				if s, ok := r.word(path, n, uprights); ok {
					v.Face = Face(slices.Index(uprights, s))
				}
			},
			write: func(w *writer, v, base *Opening) *yaml.Node {
				if v.Face == base.Face {
					return nil
				}
				return plain(v.Face.String())
			},
		},
		size("width", "Width of one slot.", func(v *Opening) *float64 { return &v.Width }),
		size("height", "Height of one slot.", func(v *Opening) *float64 { return &v.Height }),
		{
			key: "hole", doc: "Diameter of one round hole, in place of width and height.", schema: ref(quantity.Length.String()),
			read: func(r *reader, path string, n *yaml.Node, v *Opening) {
				r.quantity(path, n, quantity.Length, &v.Width)
				v.Height, v.Shape = v.Width, Round
			},
			write: func(w *writer, v, base *Opening) *yaml.Node {
				if v.Shape != Round || base.Shape == Round && same(v.Width, base.Width) {
					return nil
				}
				return w.quantity(v.Width, quantity.Length)
			},
		},
		integerField("count", "Equal holes side by side.", 1, mostFrameNo, func(v *Opening) int { return v.Count }, func(v *Opening, n int) { v.Count = n }),
		{
			key: "at", doc: "Height of the lower edge above the floor's inner face; or floor; or top: just below the upper edge of the topmost body.",
			schema: anyOf(enum([]string{"floor", "top"}), ref(quantity.Length.String())),
			read: func(r *reader, path string, n *yaml.Node, v *Opening) {
				switch {
				case n.Kind == yaml.ScalarNode && n.Value == "floor":
					v.Sill = 0
				case n.Kind == yaml.ScalarNode && n.Value == "top":
					v.Sill = r.hive.StackTop() - v.Height
				default:
					r.quantity(path, n, quantity.Length, &v.Sill)
				}
			},
			write: func(w *writer, v, base *Opening) *yaml.Node {
				switch {
				case same(v.Sill, base.Sill) && base.Width > 0: // a new opening always tells its height
					return nil
				case same(v.Sill, 0):
					return plain("floor")
				case len(w.hive.Bodies) > 0 && same(v.Sill, w.hive.StackTop()-v.Height):
					return plain("top")
				}
				return w.quantity(v.Sill, quantity.Length)
			},
		},
		lengthField("offset", "Centre of the group from the middle of the face, positive to the right seen from outside.", func(v *Opening) *float64 { return &v.Offset }),
		{
			key: "passage", doc: "Length of the passage through the wall; left out: the thickness of the wall.", schema: ref(quantity.Length.String()),
			read: func(r *reader, path string, n *yaml.Node, v *Opening) { r.quantity(path, n, quantity.Length, &v.Depth) },
			write: func(w *writer, v, base *Opening) *yaml.Node {
				if same(v.Depth, w.hive.passage(*v)) {
					return nil
				}
				return w.quantity(v.Depth, quantity.Length)
			},
		},
		quantityField("discharge", "Discharge coefficient of the edge, such as 60 %; left out: the default of a sharp edge.", quantity.Fraction, func(v *Opening) *float64 { return &v.Discharge }),
		quantityField("mesh", "Free share of a mesh or guard over the hole.", quantity.Fraction, func(v *Opening) *float64 { return &v.MeshShare }),
		{
			key: "schedule", doc: "Open width of one hole from days on; left out: always fully open.",
			schema: anyOf(map[string]any{"type": "array", "items": ref("opening state"), "maxItems": mostEvents}, ref("opening state"), constant(noneWord)),
			read: func(r *reader, path string, n *yaml.Node, v *Opening) {
				v.Schedule = nil
				for i, item := range r.entries(path, n, mostEvents) {
					p := fmt.Sprintf("%s[%d]", path, i+1)
					r.at[p] = place{item.Line, item.Column}
					state := stateOf{of: *v}
					if object(r, p, item, stateFields(), &state) {
						needsDay(r, p, item, &state)
					}
					v.Schedule = append(v.Schedule, state.OpeningState)
				}
			},
			write: func(w *writer, v, base *Opening) *yaml.Node {
				if slices.Equal(v.Schedule, base.Schedule) {
					return nil
				}
				if len(v.Schedule) == 0 {
					return plain(noneWord)
				}
				list := sequence(0)
				for _, s := range v.Schedule {
					list.Content = append(list.Content, writeObject(w, stateFields(), &stateOf{s, *v}, &stateOf{}))
				}
				return list
			},
		},
	}
}

// stateOf is a state with the opening it is of.
type stateOf struct {
	OpeningState
	of Opening
}

const (
	closedWord = "closed"
	fullWord   = "full"
)

func stateFields() []field[stateOf] {
	return []field[stateOf]{
		dayField("from", "First day of this state.", func(v *stateOf) *Day { return &v.From }),
		{
			key: "width", doc: "Open width of one hole; or full, closed, or a state of the type's reducer such as small.",
			schema: anyOf(enum([]string{fullWord, closedWord, "medium", "small"}), ref(quantity.Length.String())),
			read: func(r *reader, path string, n *yaml.Node, v *stateOf) {
				words := []string{closedWord, fullWord}
				for _, red := range r.preset.spec.info.Reducers {
					words = append(words, red.Name)
				}
				s, ok := r.text(path, n, oneOf(words)+", or a length")
				switch {
				case !ok:
				case s == closedWord:
					v.Width = 0
				case s == fullWord:
					v.Width = v.of.Width
				case slices.Contains(words, s):
					v.Width = r.preset.spec.info.Reducers[slices.Index(words, s)-2].Width
				case !strings.ContainsAny(s, "0123456789"):
					hint := ""
					if near := nearest(s, words); near != "" {
						hint = fmt.Sprintf("did you mean %q?", near)
					}
					r.fail(path, n, quote(s), oneOf(words)+", or a length such as "+quantity.Length.Examples(), hint)
				default:
					r.quantity(path, n, quantity.Length, &v.Width)
				}
			},
			write: func(w *writer, v, _ *stateOf) *yaml.Node {
				switch {
				case same(v.Width, 0):
					return plain(closedWord)
				case same(v.Width, v.of.Width):
					return plain(fullWord)
				}
				for _, red := range w.preset.spec.info.Reducers {
					if same(v.Width, red.Width) {
						return plain(red.Name)
					}
				}
				return w.quantity(v.Width, quantity.Length)
			},
		},
	}
}

func followerFields() []field[Follower] {
	uprights := []string{Front.String(), Back.String(), Left.String(), Right.String()}
	return []field[Follower]{
		required(integerField("body", "Body it stands in, counted from 1 at the floor.", 1, mostBodies,
			func(v *Follower) int { return v.Body + 1 }, func(v *Follower, n int) { v.Body = n - 1 }),
			func(v *Follower) *yaml.Node { return plain(strconv.Itoa(v.Body + 1)) }),
		integerField("frames", "Number of frames on the bees' side.", 0, mostFrameNo, func(v *Follower) int { return v.Frames }, func(v *Follower, n int) { v.Frames = n }),
		{
			key: "side", doc: "Side on which the space lies that it shuts off.", schema: enum(uprights),
			read: func(r *reader, path string, n *yaml.Node, v *Follower) {
				if s, ok := r.word(path, n, uprights); ok {
					v.Side = Face(slices.Index(uprights, s))
				}
			},
			write: func(w *writer, v, base *Follower) *yaml.Node { return plain(v.Side.String()) },
		},
		layersField("layers", "From the far side to the bees' side.", func(v *Follower) *[]Layer { return &v.Layers }),
		lengthField("gap", "Free gap round the edge.", func(v *Follower) *float64 { return &v.Gap }),
	}
}

func wrapFields() []field[Wrap] {
	faces := faceNames()
	items := enum(append([]string{"sides"}, faces[:]...))
	return []field[Wrap]{
		textField("name", "Name for people and for changes.", func(v *Wrap) *string { return &v.Name }),
		{
			key: "faces", doc: "Faces it covers; sides means all four.",
			schema: anyOf(map[string]any{"type": "array", "items": items, "minItems": 1}, items),
			read: func(r *reader, path string, n *yaml.Node, v *Wrap) {
				v.Faces = nil
				for i, item := range r.entries(path, n, 2*len(faces)) {
					s, ok := r.word(fmt.Sprintf("%s[%d]", path, i+1), item, append([]string{"sides"}, faces[:]...))
					switch {
					case !ok:
					case s == "sides":
						v.Faces = append(v.Faces, Front, Back, Left, Right)
					default:
						v.Faces = append(v.Faces, Face(slices.Index(faces[:], s)))
					}
				}
			},
			write: func(w *writer, v, base *Wrap) *yaml.Node {
				list := sequence(yaml.FlowStyle)
				rest := v.Faces
				if len(rest) >= 4 && slices.Equal(rest[:4], []Face{Front, Back, Left, Right}) {
					list.Content = append(list.Content, plain("sides"))
					rest = rest[4:]
				}
				for _, f := range rest {
					list.Content = append(list.Content, plain(f.String()))
				}
				return list
			},
		},
		layersField("layers", "From outside to inside.", func(v *Wrap) *[]Layer { return &v.Layers }),
		dayField("on", "Day it is put on.", func(v *Wrap) *Day { return &v.On }),
		dayField("off", "Day it is taken off.", func(v *Wrap) *Day { return &v.Off }),
		optionalFinishField("finish", "Outer surface while it is on; left out: unchanged.", func(v *Wrap) **Finish { return &v.Finish }),
	}
}

func finishFields() []field[Finish] {
	return []field[Finish]{
		textField("name", "Name for people.", func(v *Finish) *string { return &v.Name }),
		quantityField("solar absorptance", "Share of the sun's radiation taken up.", quantity.Fraction, func(v *Finish) *float64 { return &v.SolarAbsorptance }),
		quantityField("emissivity", "Long-wave emissivity.", quantity.Fraction, func(v *Finish) *float64 { return &v.Emissivity }),
	}
}

// layerFile is a layer as a map.
type layerFile struct {
	material   string
	thickness  float64
	resistance float64
}

func layerFields() []field[layerFile] {
	return []field[layerFile]{
		textField("material", "Name of a material.", func(v *layerFile) *string { return &v.material }),
		lengthField("thickness", "Thickness.", func(v *layerFile) *float64 { return &v.thickness }),
		quantityField("resistance", "Thermal resistance, when it is known and the conductivity is not to be used.", quantity.Resistance, func(v *layerFile) *float64 { return &v.resistance }),
	}
}

func wallsFields() []field[[4][]Layer] {
	side := func(f Face) field[[4][]Layer] {
		return layersField(f.String(), "Wall of this side.", func(v *[4][]Layer) *[]Layer { return &v[f] })
	}
	return []field[[4][]Layer]{
		{
			key: "all", doc: "Walls of all sides that are not named.", schema: ref("layers"), first: true,
			read: func(r *reader, path string, n *yaml.Node, v *[4][]Layer) {
				layers := r.layers(path, n)
				for f := range v {
					v[f] = slices.Clone(layers)
				}
			},
			write: func(w *writer, v, base *[4][]Layer) *yaml.Node { return nil }, // writer.walls uses it
		},
		side(Front), side(Back), side(Left), side(Right),
	}
}

func materialFields() []field[material.Material] {
	pure := func(key, doc string, at func(*material.Material) *float64) field[material.Material] {
		return field[material.Material]{
			key: key, doc: doc, schema: map[string]any{"type": "number"},
			read: func(r *reader, path string, n *yaml.Node, v *material.Material) { r.number(path, n, at(v)) },
			write: func(w *writer, v, base *material.Material) *yaml.Node {
				return plain(strconv.FormatFloat(*at(v), 'g', -1, 64))
			},
		}
	}
	return []field[material.Material]{
		{
			key: "like", doc: "Known material it starts from.", first: true, schema: map[string]any{"type": "string"},
			read: func(r *reader, path string, n *yaml.Node, v *material.Material) {
				if m, ok := r.material(path, n); ok {
					name := v.Name
					*v = m
					v.Name, v.Kind = name, material.Solid
				}
			},
			write: func(*writer, *material.Material, *material.Material) *yaml.Node { return nil },
		},
		quantityField("conductivity", "Thermal conductivity at 10 °C, air dry.", quantity.Conductivity, func(v *material.Material) *float64 { return &v.Conductivity }),
		quantityField("density", "Density.", quantity.Density, func(v *material.Material) *float64 { return &v.Density }),
		quantityField("specific heat", "Specific heat.", quantity.SpecificHeat, func(v *material.Material) *float64 { return &v.SpecificHeat }),
		pure("vapour resistance factor dry", "Water-vapour resistance factor µ on the dry side, a pure number.", func(v *material.Material) *float64 { return &v.MuDry }),
		pure("vapour resistance factor wet", "Water-vapour resistance factor µ on the wet side, a pure number.", func(v *material.Material) *float64 { return &v.MuWet }),
		quantityField("emissivity", "Long-wave emissivity.", quantity.Fraction, func(v *material.Material) *float64 { return &v.Emissivity }),
		quantityField("solar absorptance", "Share of the sun's radiation taken up.", quantity.Fraction, func(v *material.Material) *float64 { return &v.SolarAbsorptance }),
		pure("sorption", "Moisture it stores, as a multiple of that of wood at the same humidity, a pure number.", func(v *material.Material) *float64 { return &v.Sorption }),
		pure("moisture exponent", "How water raises the conductivity: exp(exponent times the share of water by volume), a pure number.", func(v *material.Material) *float64 { return &v.MoistureExponent }),
		lengthField("sheet thickness", "Thickness of one sheet, for what is sold in one thickness.", func(v *material.Material) *float64 { return &v.SheetThickness }),
		quantityField("sheet resistance", "Thermal resistance of such a sheet, when that was measured.", quantity.Resistance, func(v *material.Material) *float64 { return &v.SheetResistance }),
		textField("source", "Where the values come from.", func(v *material.Material) *string { return &v.Source }),
		choiceField("from memory", "Whether some values were recalled, not read.", "yes", "no", func(v *material.Material) *bool { return &v.FromMemory }),
		textField("note", "Anything worth remembering.", func(v *material.Material) *string { return &v.Note }),
	}
}

func colonyFields() []field[Colony] {
	return []field[Colony]{
		{
			key: "bees", doc: "Mass of adult bees on the date, or how many frames they cover on both sides.",
			schema: anyOf(ref(quantity.Mass.String()), map[string]any{"type": "string", "pattern": `^[0-9.]+ frames?( of bees)?$`}),
			read:   func(r *reader, path string, n *yaml.Node, v *Colony) { r.bees(path, n, &v.Bees) },
			write: func(w *writer, v, base *Colony) *yaml.Node {
				if same(v.Bees, base.Bees) {
					return nil
				}
				return w.quantity(v.Bees, quantity.Mass)
			},
		},
		dayField("date", "Day on which bees and honey were so.", func(v *Colony) *Day { return &v.Date }),
		quantityField("honey", "Capped honey and ripe syrup in the hive on the date.", quantity.Mass, func(v *Colony) *float64 { return &v.Honey }),
		dayField("brood start", "First eggs of the new year.", func(v *Colony) *Day { return &v.BroodStart }),
		{
			key: "brood peak", doc: "Brood cells at the height of the season.", schema: map[string]any{"type": "number", "minimum": 0},
			read: func(r *reader, path string, n *yaml.Node, v *Colony) { r.number(path, n, &v.BroodPeak) },
			write: func(w *writer, v, base *Colony) *yaml.Node {
				if same(v.BroodPeak, base.BroodPeak) {
					return nil
				}
				return plain(strconv.FormatFloat(v.BroodPeak, 'g', -1, 64))
			},
		},
		lengthField("cluster height", "Height of the cluster's middle above the floor on the date.", func(v *Colony) *float64 { return &v.ClusterAt }),
		listField("feeds", "Food given.", "feed", mostEvents, feedFields, func(int) Feed { return Feed{Kind: feedSyrup} },
			func(v *Colony) *[]Feed { return &v.Feeds }, nil),
		listField("flows", "Nectar flows of the site.", "flow", mostEvents, flowFields, func(int) Flow { return Flow{Sugar: usualSugar} },
			func(v *Colony) *[]Flow { return &v.Flows }, nil),
		lengthField("water within", "Distance to open water.", func(v *Colony) *float64 { return &v.WaterNear }),
	}
}

// Kinds of feed.
const (
	feedSyrup   = "syrup"
	feedFondant = "fondant"
	feedFrame   = "frame"
)

func feedFields() []field[Feed] {
	return []field[Feed]{
		dayField("day", "Day it is given.", func(v *Feed) *Day { return &v.Day }),
		required(wordField("kind", "Kind of food.", []string{feedSyrup, feedFondant, feedFrame}, func(v *Feed) *string { return &v.Kind }),
			func(v *Feed) *yaml.Node { return text(v.Kind) }),
		quantityField("stores", "What it adds as ripe stores at 17.5 % water.", quantity.Mass, func(v *Feed) *float64 { return &v.Honey }),
	}
}

// usualSugar of nectar: the middle of 20 to 60 % (Sci Rep 12 (2022) 20626). [-]
const usualSugar = 0.4

func flowFields() []field[Flow] {
	return []field[Flow]{
		dayField("from", "First day of the flow.", func(v *Flow) *Day { return &v.From }),
		dayField("to", "Last day of the flow.", func(v *Flow) *Day { return &v.To }),
		quantityField("nectar", "What a strong colony carries in on a full flying day.", quantity.Mass, func(v *Flow) *float64 { return &v.Nectar }),
		quantityField("sugar", "Sugar in the nectar by mass.", quantity.Fraction, func(v *Flow) *float64 { return &v.Sugar }),
	}
}

func siteFields() []field[Site] {
	degrees := func(key, doc, positive, negative string, at func(*Site) *float64) field[Site] {
		example := "44.5° " + positive
		return field[Site]{
			key: key, doc: doc, schema: ref(quantity.Angle.String()),
			read: func(r *reader, path string, n *yaml.Node, v *Site) {
				v.HasPlace = true
				wanted := "degrees with their side, such as " + example
				s, ok := r.text(path, n, wanted)
				if !ok {
					return
				}
				if bare(s) {
					r.fail(path, n, "the bare number "+quote(s), wanted, "write the unit behind the number")
					return
				}
				number, sign := s, 1.0
				if rest, ok := strings.CutSuffix(s, positive); ok {
					number = rest
				} else if rest, ok := strings.CutSuffix(s, negative); ok {
					number, sign = rest, -1
				}
				if number != s && bare(strings.TrimSpace(number)) { // "44.5 N" says it all
					number = strings.TrimSpace(number) + "°"
				}
				x, err := quantity.Parse(number, quantity.Angle)
				if err != nil || number != s && x < 0 {
					r.fail(path, n, quote(s), wanted, "")
					return
				}
				*at(v) = sign * x
			},
			write: func(w *writer, v, base *Site) *yaml.Node {
				if !v.HasPlace {
					return nil
				}
				side := positive
				if math.Signbit(*at(v)) {
					side = negative
				}
				n := w.quantity(math.Abs(*at(v)), quantity.Angle)
				n.Value += " " + side
				return n
			},
		}
	}
	height := lengthField("height", "Height above sea level.", func(v *Site) *float64 { return &v.Height })
	height.write = func(w *writer, v, _ *Site) *yaml.Node {
		if !v.HasPlace {
			return nil
		}
		return w.quantity(v.Height, quantity.Length)
	}
	readHeight := height.read
	height.read = func(r *reader, path string, n *yaml.Node, v *Site) {
		v.HasPlace = true
		readHeight(r, path, n, v)
	}
	return []field[Site]{
		textField("name", "Name of the stand, for people.", func(v *Site) *string { return &v.Name }),
		degrees("latitude", "Latitude.", "N", "S", func(v *Site) *float64 { return &v.Latitude }),
		degrees("longitude", "Longitude.", "E", "W", func(v *Site) *float64 { return &v.Longitude }),
		height,
		wordField("exposure", "Exposure to wind.", exposures(), func(v *Site) *Exposure { return &v.Exposure }),
		quantityField("shade", "Share of direct sun kept off the hive.", quantity.Fraction, func(v *Site) *float64 { return &v.Shade }),
		sectionField("neighbours", "Hives of the same size that stand straight beside this one.", neighbourFields, func(v *Site) *[4]float64 { return &v.Beside }),
	}
}

func neighbourFields() []field[[4]float64] {
	side := func(f Face) field[[4]float64] {
		at := func(v *[4]float64) *float64 { return &v[f] }
		return orNone(lengthField(f.String(), "Clear distance to the hive beside this side.", at), at)
	}
	return []field[[4]float64]{side(Front), side(Back), side(Left), side(Right)}
}

func exposures() []Exposure { return []Exposure{Open, Hedged, WoodEdge, Sheltered} }

func measuredFields() []field[Measured] {
	// Nothing at all would read as "not measured", which is not what was meant.
	share := func(key, doc string, at func(*Measured) *float64) field[Measured] {
		f := quantityField(key, doc, quantity.Fraction, at)
		read := f.read
		f.read = func(r *reader, path string, n *yaml.Node, v *Measured) {
			if read(r, path, n, v); *at(v) == 0 && n.Kind == yaml.ScalarNode {
				r.fail(path, n, quote(n.Value), "a share above 0, such as 112 %", "leave the key out where nothing was measured")
			}
		}
		return f
	}
	return []field[Measured]{
		share("shell", "Conductance of walls, lid, boards and floor, such as 112 % of that computed.", func(v *Measured) *float64 { return &v.Shell }),
		share("leak", "Leakage area of the joints as a share of the computed.", func(v *Measured) *float64 { return &v.Leak }),
		share("bees", "Heat the colony makes as a share of the computed.", func(v *Measured) *float64 { return &v.Bees }),
		dayField("on", "Day of the measurement, or its last.", func(v *Measured) *Day { return &v.On }),
		textField("from", "Which measurement, for people.", func(v *Measured) *string { return &v.From }),
	}
}
