package answer

import (
	"fmt"
	"io"
	"strings"

	"hackle/hive"
	"hackle/quantity"
	"hackle/wall"
)

// Checked is the JSON of one hive file.
type Checked struct {
	File   string      `json:"file"`
	Sound  bool        `json:"sound"` // no faults; warnings may stand
	Error  string      `json:"error,omitempty"`
	Faults []HiveFault `json:"faults"`
	Hive   *Hive       `json:"hive,omitempty"` // absent when there are faults
}

// HiveFault is a fault or a warning in a hive file, with its place.
type HiveFault struct {
	Line     int    `json:"line"`
	Column   int    `json:"column"`
	Severity string `json:"severity"` // "fault" or "warning"
	Field    string `json:"field"`
	Found    string `json:"found"`
	Wanted   string `json:"wanted"`
	Hint     string `json:"hint"`
	// Text is the whole message, with the file's name.
	Text string `json:"-"`
}

// Hive is what a hive file says, in figures.
type Hive struct {
	Name        string        `json:"name"`
	Type        string        `json:"type"`
	Bodies      []HiveBody    `json:"bodies"`
	Frames      int           `json:"frames"`
	HoneyRoom   float64       `json:"honey_room_kg"` // in the combs that are built
	Height      float64       `json:"height_mm"`
	Volume      float64       `json:"volume_L"`
	Shell       []HivePart    `json:"shell"`
	Openings    []HiveOpening `json:"openings"`
	OpeningArea float64       `json:"openings_cm2"`
	MeshArea    float64       `json:"mesh_cm2"`
	EmptyMass   float64       `json:"empty_mass_kg"`
	Parts       []HiveMass    `json:"parts"`
	Bees        float64       `json:"bees_kg"`
	Honey       float64       `json:"honey_kg"`
	Date        string        `json:"date"`
}

// HiveBody is a box, measured inside.
type HiveBody struct {
	Name   string  `json:"name"`
	Length float64 `json:"length_mm"`
	Width  float64 `json:"width_mm"`
	Height float64 `json:"height_mm"`
	Frames int     `json:"frames"`
}

// HivePart is a part of the shell, with plain layers between surface films.
type HivePart struct {
	Part        string  `json:"part"`
	Layers      string  `json:"layers"`
	Thickness   float64 `json:"thickness_mm"`
	Resistance  float64 `json:"resistance_m2_K_per_W"`    // of the layers alone
	Transmitted float64 `json:"transmittance_W_per_m2_K"` // with standard surface films
}

// HiveOpening is a hole of the walls.
type HiveOpening struct {
	Name string  `json:"name"`
	Face string  `json:"face"`
	Sill float64 `json:"sill_mm"`
	Area float64 `json:"area_cm2"` // fully open
}

// HiveMass is what a part weighs.
type HiveMass struct {
	Part string  `json:"part"`
	Mass float64 `json:"mass_kg"`
}

// Check reads a hive file and says what it describes. The name is the file's.
func Check(file string, r io.Reader) Checked {
	c := Checked{File: file, Faults: []HiveFault{}}
	plan, faults, err := hive.Inspect(file, r)
	if err != nil {
		c.Error = err.Error()
		return c
	}
	for _, x := range faults.List {
		c.Faults = append(c.Faults, HiveFault{x.Line, x.Column, x.Severity.String(), x.Field, x.Found, x.Wanted, x.Hint, file + ":" + x.String()})
	}
	if c.Sound = len(faults.Wrong()) == 0; c.Sound {
		d := Describe(plan)
		c.Hive = &d
	}
	return c
}

// Surface resistances [m²·K/W]: ISO 6946:2017, Table 7 (from memory).
const (
	filmOutside    = 0.04
	filmHorizontal = 0.13
	filmUpward     = 0.10
	filmDownward   = 0.17
)

// Describe tells what a hive file says, in figures.
func Describe(p hive.Plan) Hive {
	h := p.Hive
	const mm, cm2, litre = 1e-3, 1e-4, 1e-3
	d := Hive{
		Name: h.Name, Type: h.Type, Height: h.Height() / mm, Volume: h.Volume() / litre, MeshArea: h.Floor.MeshArea / cm2,
		Bodies: []HiveBody{}, Shell: []HivePart{}, Openings: []HiveOpening{}, Parts: []HiveMass{},
		Bees: p.Colony.Bees, Honey: p.Colony.Honey, Date: p.Colony.Date.String(),
	}
	for i, b := range h.Bodies {
		name := b.Name
		if name == "" {
			name = fmt.Sprintf("body %d", i+1)
		}
		d.Bodies = append(d.Bodies, HiveBody{name, b.Length / mm, b.Width / mm, b.Height / mm, b.Frames.Count})
		d.Frames += b.Frames.Count
		d.HoneyRoom += float64(b.Frames.Count) * b.Frames.DrawnShare * b.Frames.HoneyPerFrame
	}
	for i, b := range h.Bodies {
		for f := hive.Front; f <= hive.Right; f++ {
			d.addPart(fmt.Sprintf("%s wall of body %d", f, i+1), b.Walls[f], filmHorizontal)
		}
	}
	d.mergeWalls()
	if h.TopBoard != nil {
		d.addPart("top board", h.TopBoard.Layers, filmUpward)
	}
	d.addPart("lid", h.Lid.Layers, filmUpward)
	if h.Floor.Mesh {
		d.addPart("tray", h.Floor.Layers, filmDownward)
	} else {
		d.addPart("floor", h.Floor.Layers, filmDownward)
	}
	for _, o := range h.Openings {
		d.Openings = append(d.Openings, HiveOpening{o.Name, o.Face.String(), o.Sill / mm, o.Area() / cm2})
		d.OpeningArea += o.Area() / cm2
	}
	for _, m := range h.EmptyMass() {
		d.Parts = append(d.Parts, HiveMass(m))
		d.EmptyMass += m.Mass
	}
	return d
}

// addPart describes layers, none when there are none.
func (d *Hive) addPart(name string, layers []hive.Layer, inside float64) {
	if len(layers) == 0 {
		return
	}
	part := HivePart{Part: name}
	var words []string
	var plain []wall.Layer
	for _, l := range layers {
		part.Thickness += l.Thickness * 1000
		w := wall.Layer{Thickness: l.Thickness, Resistance: l.Resistance, Conductivity: l.Material.Conductivity}
		plain = append(plain, w)
		words = append(words, strings.TrimSpace(l.Material.Name+thick(l.Thickness)))
	}
	part.Layers = strings.Join(words, ", ")
	part.Resistance = 1 / wall.Transmittance(plain, 0, 0)
	part.Transmitted = wall.Transmittance(plain, inside, filmOutside)
	d.Shell = append(d.Shell, part)
}

func thick(m float64) string {
	if m == 0 {
		return ""
	}
	return " " + quantity.Format(m, quantity.Length, quantity.Metric)
}

// mergeWalls joins walls of the same build into one entry.
func (d *Hive) mergeWalls() {
	var merged []HivePart
	names := make([][]string, 0, len(d.Shell))
	for _, w := range d.Shell {
		found := false
		for i := range merged {
			if merged[i].Layers == w.Layers && merged[i].Resistance == w.Resistance {
				names[i], found = append(names[i], w.Part), true
				break
			}
		}
		if !found {
			merged, names = append(merged, w), append(names, []string{w.Part})
		}
	}
	for i := range merged {
		merged[i].Part = list(names[i])
		if len(names[i]) > 4 || len(merged) == 1 {
			merged[i].Part = fmt.Sprintf("%d walls", len(names[i]))
		}
	}
	if len(merged) == 1 {
		merged[0].Part = "all walls"
	}
	d.Shell = merged
}
