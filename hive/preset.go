package hive

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"

	"hackle/material"
)

// boxesCSV lists the boxes of every preset type with the source of the figures.
//
//go:embed boxes.csv
var boxesCSV string

// Custom is the type of a hive that starts from no preset: its file gives every
// body in full.
const Custom = "custom"

// TypeInfo describes a preset type of hive.
type TypeInfo struct {
	Name     string    // as in the file, for example "stacked-10"
	Title    string    // for people
	Boxes    []BoxInfo //
	Default  []string  // boxes from the floor upward when the file names none
	Reducers []Reducer // named states of the entrance, from wide to narrow
	Note     string    // what the preset simplifies, may be empty
}

// BoxInfo describes one box of a type.
type BoxInfo struct {
	Name       string // "deep", or "20 frames" for a long hive
	Frames     int    //
	Fewest     int    // long hives are built with this many frames ...
	Most       int    // ... up to this many, by writing "17 frames"; both 0 for boxes of one size
	Source     string // where the figures come from
	FromMemory bool   // some figures were recalled, not read
	Note       string
}

// Reducer is a named state of the entrance.
type Reducer struct {
	Name  string  // "medium", "small"
	Width float64 // open width of one hole [m]
}

// typeSpec is a preset type before its materials are looked up.
type typeSpec struct {
	info TypeInfo
	wood string // material of walls, floor and lid board

	floor     float64 // thickness of the floor board [m]
	floorRim  float64 // [m]
	board     []part  // top board from above, nil for none
	boardHole float64 // [m²]
	boardRim  float64 // [m]
	permeance float64 // [m³/(s·m²·Pa)]

	lid      []part  // from above
	lidSpace float64 // [m]
	lidVents float64 // [m²]
	lidRim   float64 // [m]

	entrance Opening
}

// part is a layer before its material is looked up.
type part struct {
	material  string
	thickness float64 // [m]
}

// Names of materials in the standard table that presets use.
const (
	softwood   = "softwood"
	plywood    = "plywood"
	galvanised = "galvanised steel"
	shavings   = "wood shavings"
	sacking    = "burlap"
)

// defaultLeak is the leakage area of joints: a caulked sill joint leaks 0.8 cm²
// per metre, at best 0.04 (ASHRAE Handbook of Fundamentals, table of effective
// leakage areas, from memory); bees caulk theirs with propolis, so the estimate
// lies between. [m²/m]
const defaultLeak = 0.3e-4

// Stand, tilt and finish of every preset: common practice, no source. The tilt
// sheds rain, about 1 in 40 (from memory).
const (
	defaultStand = 0.30 // [m]
	defaultTilt  = 1.5  // [deg]
	// defaultAzimuth: to the south-east, as books advise.
	defaultAzimuth = 135 // [deg]
)

// Names of finishes in the standard table that presets use.
const (
	bareWood         = "weathered wood"
	galvanisedFinish = "galvanised steel"
)

// clothPermeance is the air permeance of a top cloth under a quilt of shavings:
// plain textiles pass about 0.1 m/s at 100 Pa (from memory), bees close most of
// the weave with propolis; a tenth is left, an estimate. [m³/(s·m²·Pa)]
const clothPermeance = 1e-4

// types returns the preset types. Sizes of entrance, floor, board and lid are
// common practice where no source stands beside them.
func types() []typeSpec {
	slot := func(width, height, sill float64, count int) Opening {
		return Opening{Name: entranceName, Face: Front, Sill: sill, Width: width, Height: height, Shape: Slot, Count: count}
	}
	// The oval hole of inner covers, 75 x 38 mm (from memory).
	const ovalHole = math.Pi / 4 * 0.075 * 0.038
	skinned := []part{{galvanised, 0.0004}, {plywood, 0.010}}
	stacked := typeSpec{
		wood:  softwood,
		floor: 0.019, floorRim: 0.010, // the 3/8 in side of a reversible floor
		board: []part{{plywood, 0.008}}, boardHole: ovalHole,
		lid: skinned, lidSpace: 0.010, lidRim: 0.050, // telescoping rim 50 to 75 mm, from memory
	}
	// Notches of entrance reducers: 25 and 75 to 100 mm wide, 10 mm high.
	stackedReducers := []Reducer{{"medium", 0.075}, {"small", 0.025}}
	blockReducers := []Reducer{{"medium", 0.100}, {"small", 0.025}}

	ten := stacked
	ten.info = TypeInfo{Name: "stacked-10", Title: "stacked hive of ten-frame boxes", Default: []string{"deep", "deep"}, Reducers: stackedReducers}
	ten.entrance = slot(0.375, 0.010, 0, 1) // full width 375 x 10 mm

	eight := stacked
	eight.info = TypeInfo{Name: "stacked-8", Title: "stacked hive of eight-frame boxes", Default: []string{"deep", "deep"}, Reducers: stackedReducers}
	eight.entrance = slot(0.318, 0.010, 0, 1)

	national := typeSpec{
		info:  TypeInfo{Name: "national", Title: "British National", Default: []string{"brood", "super"}, Reducers: blockReducers},
		wood:  softwood,
		floor: 0.019, floorRim: 0.022,
		board: []part{{plywood, 0.008}}, boardRim: 0.008, // bottom bee space: the board brings its own
		lid: []part{{galvanised, 0.0005}, {plywood, 0.012}}, lidSpace: 0.025, lidVents: 8e-4, lidRim: 0.100,
		entrance: slot(0.420, 0.022, 0, 1),
	}

	dadant := typeSpec{
		wood:  softwood,
		floor: 0.022, floorRim: 0.020,
		board: []part{{plywood, 0.010}},
		lid:   []part{{galvanised, 0.0005}, {softwood, 0.015}}, lidSpace: 0.030, lidRim: 0.060,
	}
	named := func(name, title string, boxes []string, width float64) typeSpec {
		s := dadant
		s.info = TypeInfo{Name: name, Title: title, Default: boxes, Reducers: blockReducers}
		s.entrance = slot(width, 0.010, 0, 1)
		return s
	}
	broodAndSuper := []string{"brood", "super"}

	warre := typeSpec{
		info: TypeInfo{Name: "warre", Title: "Warré", Default: []string{"box", "box"}, Reducers: []Reducer{{"medium", 0.060}, {"small", 0.025}},
			Note: "The top-bar cloth and the quilt of shavings together are the top board."},
		wood:  softwood,
		floor: 0.020,
		// Quilt 100 mm (published plans).
		board: []part{{shavings, 0.100}, {sacking, 0.001}}, permeance: clothPermeance,
		lid: []part{{softwood, 0.020}}, lidSpace: 0.050, lidVents: 60e-4, lidRim: 0.020,
		entrance: slot(0.120, 0.015, 0, 1), // notch 120 x 15 mm in the floor (published plans)
	}
	// The notch is cut into the floor, below the box.
	warre.floorRim = 0.015

	long := typeSpec{
		wood:  softwood,
		floor: 0.025,
		board: []part{{plywood, 0.010}},
		lid:   []part{{galvanised, 0.0005}, {softwood, 0.020}}, lidSpace: 0.060, lidVents: 10e-4, lidRim: 0.030,
	}
	// Two slots of about 150 x 10 mm (from memory).
	twoSlots := slot(0.150, 0.010, 0.010, 2)
	longReducers := []Reducer{{"medium", 0.075}, {"small", 0.025}}
	longNamed := func(name, title string, e Opening) typeSpec {
		s := long
		s.info = TypeInfo{Name: name, Title: title, Default: []string{"20 frames"}, Reducers: longReducers}
		s.entrance = e
		return s
	}

	topBar := long
	topBar.info = TypeInfo{Name: "top-bar", Title: "horizontal top-bar hive", Default: []string{"28 bars"}, Reducers: []Reducer{{"small", 0.010}},
		Note: "The sloping sides are taken as an upright box of the same volume; the bars lie close and are the top board."}
	topBar.board = []part{{softwood, 0.020}}
	topBar.entrance = Opening{Name: entranceName, Face: Front, Sill: 0.030, Width: 0.022, Height: 0.022, Shape: Round, Count: 3}

	custom := typeSpec{
		info: TypeInfo{Name: Custom, Title: "a hive of one's own", Reducers: stackedReducers,
			Note: "Every body is written in full; floor, board, lid and entrance start as those of the stacked hive."},
		wood:  softwood,
		floor: 0.019, floorRim: 0.010,
		board: []part{{plywood, 0.008}},
		lid:   skinned, lidSpace: 0.010,
		entrance: slot(0.100, 0.010, 0, 1),
	}

	return []typeSpec{
		ten, eight, national,
		named("dadant-12", "Dadant-Blatt, twelve frames", broodAndSuper, 0.440),
		named("dadant-10", "Dadant-Blatt, ten frames", broodAndSuper, 0.370),
		named("dadant-square", "square Dadant, twelve frames", broodAndSuper, 0.440),
		named("dadant-modified", "modified Dadant, eleven frames", broodAndSuper, 0.420),
		warre,
		longNamed("long-deep", "long hive with deep frames", twoSlots),
		longNamed("long-layens", "long hive with Layens frames", twoSlots),
		longNamed("long-dadant", "long hive with Dadant frames", twoSlots),
		topBar, custom,
	}
}

// boxRow is one row of boxes.csv.
type boxRow struct {
	typ    string
	name   string
	wall   float64 // [m]
	body   Body    // without walls
	source string
	memory bool
	note   string
}

// Long boxes are built with any number of frames in a range.
const (
	fewestFrames = 14
	mostFrames   = 30
	fewestBars   = 14
	mostBars     = 32
)

// span returns the range of frame counts in which a box is built, 0, 0 for a
// box of one size, and the word for its frames.
func (r boxRow) span() (fewest, most int, word string) {
	switch {
	case strings.HasSuffix(r.name, " frames"):
		return fewestFrames, mostFrames, "frames"
	case strings.HasSuffix(r.name, " bars"):
		return fewestBars, mostBars, "bars"
	}
	return 0, 0, ""
}

// boxes reads the embedded table.
func boxes() ([]boxRow, error) {
	records, err := csv.NewReader(strings.NewReader(boxesCSV)).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("reading the table of boxes: %w", err)
	}
	rows := make([]boxRow, 0, len(records)-1)
	for i, rec := range records[1:] {
		numbers := make([]float64, 12) // columns 2 to 13
		for j := range numbers {
			if numbers[j], err = strconv.ParseFloat(rec[j+2], 64); err != nil {
				return nil, fmt.Errorf("table of boxes, row %d, column %q: %w", i+2, records[0][j+2], err)
			}
		}
		mm := func(column int) float64 { return numbers[column-2] / 1000 }
		rows = append(rows, boxRow{
			typ:  rec[0],
			name: rec[1],
			wall: mm(6),
			body: Body{
				Name: rec[1], Box: rec[1],
				Length: mm(3), Width: mm(4), Height: mm(5),
				TopSpace: mm(12),
				Frames: Frames{
					Count:  int(numbers[0]),
					Length: mm(7), Depth: mm(8), TopBar: mm(9), Pitch: mm(10), CombThickness: mm(11),
					DrawnShare: 1, Bars: rec[14] == "yes",
					Support: SupportUpright, CombAge: CombBrood,
					HoneyPerFrame: numbers[11],
				},
			},
			source: rec[15], memory: rec[16] == "yes", note: rec[17],
		})
	}
	return rows, nil
}

// Types returns every preset type of hive, Custom last.
func Types() ([]TypeInfo, error) {
	rows, err := boxes()
	if err != nil {
		return nil, err
	}
	specs := types()
	list := make([]TypeInfo, len(specs))
	for i, s := range specs {
		list[i] = s.info
		for _, row := range rows {
			if row.typ != s.info.Name {
				continue
			}
			fewest, most, _ := row.span()
			list[i].Boxes = append(list[i].Boxes, BoxInfo{
				Name: row.name, Frames: row.body.Frames.Count, Fewest: fewest, Most: most,
				Source: row.source, FromMemory: row.memory, Note: row.note,
			})
		}
	}
	return list, nil
}

// New returns an empty hive of a preset type with the given boxes from the floor
// upward, or the type's usual ones when none are named. Box names are those of
// Types; a long hive takes its number of frames as the name, "17 frames". It
// returns an error that lists what is known when a name is not.
func New(typ string, bodies ...string) (Hive, error) {
	table, err := material.Standard()
	if err != nil {
		return Hive{}, fmt.Errorf("hive type %q: %w", typ, err)
	}
	p, err := newPreset(typ, table)
	if err != nil {
		return Hive{}, err
	}
	if len(bodies) == 0 {
		bodies = p.spec.info.Default
	}
	if len(bodies) == 0 {
		return Hive{}, fmt.Errorf("hive type %q has no boxes of its own: build its bodies in full", typ)
	}
	h := p.shell
	for _, name := range bodies {
		b, err := p.box(name)
		if err != nil {
			return Hive{}, err
		}
		h.Bodies = append(h.Bodies, b)
	}
	for i := range h.Openings {
		h.Openings[i].Depth = h.passage(h.Openings[i])
	}
	return h, nil
}

// passage returns the length of an opening's passage when nothing else is said:
// the thickness of the wall it goes through. [m]
func (h Hive) passage(o Opening) float64 {
	if len(h.Bodies) == 0 || !o.Face.Upright() {
		return 0
	}
	return h.Bodies[h.BodyAt(o.Sill)].WallThickness(o.Face)
}

// preset is a type with its materials looked up.
type preset struct {
	spec  typeSpec
	shell Hive // all but the bodies
	rows  []boxRow
	wood  material.Material
}

func newPreset(typ string, table *material.Table) (preset, error) {
	var p preset
	specs := types()
	names := make([]string, len(specs))
	for i, s := range specs {
		names[i] = s.info.Name
		if s.info.Name == typ {
			p.spec = s
		}
	}
	if p.spec.info.Name == "" {
		err := fmt.Errorf("hive type %q is not known: it may be %s", typ, strings.Join(names, ", "))
		if near := nearest(typ, names); near != "" {
			err = fmt.Errorf("%w (did you mean %q?)", err, near)
		}
		return preset{}, err
	}
	all, err := boxes()
	if err != nil {
		return preset{}, err
	}
	for _, row := range all {
		if row.typ == typ {
			p.rows = append(p.rows, row)
		}
	}
	layers := func(parts ...part) []Layer {
		var list []Layer
		for _, part := range parts {
			m, e := table.Find(part.material)
			if e != nil && err == nil {
				err = fmt.Errorf("hive type %q: %w", typ, e)
			}
			list = append(list, Layer{Material: m, Thickness: part.thickness})
		}
		return list
	}
	skin := func(name string) *Finish {
		f, e := findFinish(table, name)
		if e != nil && err == nil {
			err = fmt.Errorf("hive type %q: %w", typ, e)
		}
		return &f
	}
	s := p.spec
	p.wood = layers(part{s.wood, 0})[0].Material
	p.shell = Hive{
		Type:        typ,
		Floor:       Floor{Layers: layers(part{s.wood, s.floor}), Depth: s.floorRim},
		TopBoard:    &TopBoard{Layers: layers(s.board...), Hole: s.boardHole, Space: s.boardRim, Permeance: s.permeance},
		Lid:         Lid{Layers: layers(s.lid...), Space: s.lidSpace, Vents: s.lidVents, Rim: s.lidRim},
		Openings:    []Opening{s.entrance},
		LeakArea:    defaultLeak,
		Tilt:        defaultTilt,
		StandHeight: defaultStand,
		Finish:      *skin(bareWood),
	}
	p.shell.FrontAzimuth = defaultAzimuth
	if s.lid[0].material == galvanised {
		p.shell.Lid.Finish = skin(galvanisedFinish)
	}
	if err != nil {
		return preset{}, err
	}
	return p, nil
}

// box returns the named box with its walls.
func (p preset) box(name string) (Body, error) {
	for _, row := range p.rows {
		b := row.body
		fewest, most, word := row.span()
		if word == "" {
			if row.name != name {
				continue
			}
		} else {
			number, ok := strings.CutSuffix(name, " "+word)
			n, err := strconv.Atoi(number)
			if !ok || err != nil || n < fewest || n > most || strconv.Itoa(n) != number {
				continue
			}
			b.Width += float64(n-b.Frames.Count) * b.Frames.Pitch
			b.Width = math.Round(b.Width*1e6) / 1e6 // whole micrometres: no noise of the sum
			b.Frames.Count = n
			b.Name, b.Box = name, name
		}
		for f := range b.Walls {
			b.Walls[f] = []Layer{{Material: p.wood, Thickness: row.wall}}
		}
		return b, nil
	}
	return Body{}, fmt.Errorf("box %q is not one of type %q: it may be %s", name, p.spec.info.Name, p.boxNames())
}

// boxNames tells which boxes there are.
func (p preset) boxNames() string {
	if len(p.rows) == 0 {
		return "a body written in full, because this type has no boxes of its own"
	}
	var names []string
	for _, row := range p.rows {
		if fewest, most, word := row.span(); word != "" {
			names = append(names, fmt.Sprintf("%d %s to %d %s", fewest, word, most, word))
		} else {
			names = append(names, row.name)
		}
	}
	return oneOf(names)
}
