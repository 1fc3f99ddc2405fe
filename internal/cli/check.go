package cli

import (
	"bytes"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"hackle/hive"
	"hackle/ledger"
	"hackle/quantity"
	"hackle/wall"
)

// checked is the JSON of one hive file.
type checked struct {
	File   string         `json:"file"`
	Sound  bool           `json:"sound"` // no faults; warnings may stand
	Error  string         `json:"error,omitempty"`
	Faults []checkedFault `json:"faults"`
	Hive   *described     `json:"hive,omitempty"` // absent when there are faults
}

type checkedFault struct {
	Line     int    `json:"line"`
	Column   int    `json:"column"`
	Severity string `json:"severity"` // "fault" or "warning"
	Field    string `json:"field"`
	Found    string `json:"found"`
	Wanted   string `json:"wanted"`
	Hint     string `json:"hint"`
	text     string
}

// described is what a hive file says, in figures.
type described struct {
	Name        string             `json:"name"`
	Type        string             `json:"type"`
	Bodies      []describedBody    `json:"bodies"`
	Frames      int                `json:"frames"`
	HoneyRoom   float64            `json:"honey_room_kg"` // in the combs that are built
	Height      float64            `json:"height_mm"`
	Volume      float64            `json:"volume_L"`
	Shell       []describedPart    `json:"shell"`
	Openings    []describedOpening `json:"openings"`
	OpeningArea float64            `json:"openings_cm2"`
	MeshArea    float64            `json:"mesh_cm2"`
	EmptyMass   float64            `json:"empty_mass_kg"`
	Parts       []describedMass    `json:"parts"`
	Bees        float64            `json:"bees_kg"`
	Honey       float64            `json:"honey_kg"`
	Date        string             `json:"date"`
}

type describedBody struct {
	Name   string  `json:"name"`
	Length float64 `json:"length_mm"`
	Width  float64 `json:"width_mm"`
	Height float64 `json:"height_mm"`
	Frames int     `json:"frames"`
}

// describedPart is a part of the shell, with plain layers between surface films.
type describedPart struct {
	Part        string  `json:"part"`
	Layers      string  `json:"layers"`
	Thickness   float64 `json:"thickness_mm"`
	Resistance  float64 `json:"resistance_m2_K_per_W"`    // of the layers alone
	Transmitted float64 `json:"transmittance_W_per_m2_K"` // with standard surface films
}

type describedOpening struct {
	Name string  `json:"name"`
	Face string  `json:"face"`
	Sill float64 `json:"sill_mm"`
	Area float64 `json:"area_cm2"` // fully open
}

type describedMass struct {
	Part string  `json:"part"`
	Mass float64 `json:"mass_kg"`
}

func (p *program) checkCommand() *cobra.Command {
	return p.command(&cobra.Command{
		Use:   "check FILE...",
		Short: "Check hive files and say what they describe",
		Long: `Read hive files, print every fault and warning with its line and column, and say
in a few lines what hive each describes. The exit code is 2 when a file has a fault;
warnings do not count.

U-values are those of the plain layers with the surface resistances of ISO 6946:2017
(inside 0.13, 0.10 and 0.17 m²·K/W for walls, lid and floor; outside 0.04), corners
left out.`,
		Example: `  hackle check my-hive.yaml
  hackle check *.yaml
  hackle check my-hive.yaml --units us
  hackle check my-hive.yaml --json`,
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return fmt.Errorf("one hive file or more wanted, none given")
			}
			var all []checked
			bad := 0
			for _, file := range args {
				c := checkFile(file)
				if !c.Sound {
					bad++
				}
				all = append(all, c)
			}
			err := p.write(struct {
				Files []checked `json:"files"`
			}{all}, func(b *bytes.Buffer) error {
				for i, c := range all {
					if i > 0 {
						b.WriteString("\n")
					}
					c.text(b, p.system())
				}
				return nil
			})
			switch {
			case err != nil:
				return err
			case bad == 0:
				return nil
			case len(all) == 1:
				return fmt.Errorf("%s cannot be used as it is", all[0].File)
			}
			return fmt.Errorf("%d of %d files cannot be used as they are", bad, len(all))
		},
	})
}

func checkFile(file string) checked {
	c := checked{File: file, Faults: []checkedFault{}}
	f, err := os.Open(file)
	if err != nil {
		c.Error = err.Error()
		return c
	}
	defer f.Close()
	plan, faults, err := hive.Inspect(file, f)
	if err != nil {
		c.Error = err.Error()
		return c
	}
	for _, x := range faults.List {
		c.Faults = append(c.Faults, checkedFault{x.Line, x.Column, x.Severity.String(), x.Field, x.Found, x.Wanted, x.Hint, file + ":" + x.String()})
	}
	if c.Sound = len(faults.Wrong()) == 0; c.Sound {
		d := describe(plan)
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

func describe(p hive.Plan) described {
	h := p.Hive
	const mm, cm2, litre = 1e-3, 1e-4, 1e-3
	d := described{
		Name: h.Name, Type: h.Type, Height: h.Height() / mm, Volume: h.Volume() / litre, MeshArea: h.Floor.MeshArea / cm2,
		Bodies: []describedBody{}, Shell: []describedPart{}, Openings: []describedOpening{}, Parts: []describedMass{},
		Bees: p.Colony.Bees, Honey: p.Colony.Honey, Date: p.Colony.Date.String(),
	}
	for i, b := range h.Bodies {
		name := b.Name
		if name == "" {
			name = fmt.Sprintf("body %d", i+1)
		}
		d.Bodies = append(d.Bodies, describedBody{name, b.Length / mm, b.Width / mm, b.Height / mm, b.Frames.Count})
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
		d.Openings = append(d.Openings, describedOpening{o.Name, o.Face.String(), o.Sill / mm, o.Area() / cm2})
		d.OpeningArea += o.Area() / cm2
	}
	for _, m := range h.EmptyMass() {
		d.Parts = append(d.Parts, describedMass(m))
		d.EmptyMass += m.Mass
	}
	return d
}

// addPart describes layers, none when there are none.
func (d *described) addPart(name string, layers []hive.Layer, inside float64) {
	if len(layers) == 0 {
		return
	}
	part := describedPart{Part: name}
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
func (d *described) mergeWalls() {
	var merged []describedPart
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

func (c checked) text(b *bytes.Buffer, system quantity.System) {
	if c.Error != "" {
		fmt.Fprintf(b, "%s: %s\n", c.File, c.Error)
		return
	}
	for _, f := range c.Faults {
		fmt.Fprintln(b, f.text)
	}
	if c.Hive == nil {
		return
	}
	d := c.Hive
	length := func(v float64) string { return quantity.Format(v/1000, quantity.Length, system) }
	area := func(v float64) string { return quantity.Format(v*1e-4, quantity.Area, system) }
	mass := func(v float64) string { return quantity.Format(v, quantity.Mass, system) }
	line := func(label, text string) {
		wrapped := ledger.Wrap(text, "            ", ledger.Width)
		fmt.Fprintf(b, "  %-10s%s", label, strings.TrimPrefix(wrapped, "            "))
	}
	fmt.Fprintf(b, "%s: %s (%s)\n", c.File, d.Name, d.Type)
	for i, x := range d.Bodies {
		frames := "no frames"
		if x.Frames > 0 {
			frames = fmt.Sprintf("%d frames", x.Frames)
		}
		text := fmt.Sprintf("inside %s × %s × %s high, %s", length(x.Length), length(x.Width), length(x.Height), frames)
		if x.Name != frames { // a long hive's box is named by them
			text = x.Name + ", " + text
		}
		line(fmt.Sprintf("body %d", i+1), text)
	}
	line("inside", fmt.Sprintf("%s, %s high; built comb holds up to %s of honey", quantity.Format(d.Volume/1000, quantity.Volume, system), length(d.Height), mass(d.HoneyRoom)))
	for _, s := range d.Shell {
		line("shell", fmt.Sprintf("%s: %s; R %s, U %s", s.Part, s.Layers, quantity.Format(s.Resistance, quantity.Resistance, system), quantity.Format(s.Transmitted, quantity.Transmittance, system)))
	}
	if len(d.Openings) == 0 {
		line("openings", "none")
	}
	for _, o := range d.Openings {
		line("opening", fmt.Sprintf("%s: %s in the %s, %s above the floor", o.Name, area(o.Area), o.Face, length(o.Sill)))
	}
	if len(d.Openings) > 1 {
		line("", "together "+area(d.OpeningArea))
	}
	if d.MeshArea > 0 {
		line("mesh", area(d.MeshArea)+" free in the floor")
	}
	heaviest := describedMass{}
	for _, m := range d.Parts {
		if m.Mass > heaviest.Mass {
			heaviest = m
		}
	}
	line("empty", fmt.Sprintf("%s without bees and honey; heaviest part: %s, %s", mass(d.EmptyMass), heaviest.Part, mass(heaviest.Mass)))
	if d.Bees > 0 {
		text := fmt.Sprintf("%s of bees, %s of honey", mass(d.Bees), mass(d.Honey))
		if d.Date != "" {
			text += " on " + d.Date
		}
		line("colony", text)
	}
	if n := len(c.Faults); n == 0 {
		b.WriteString("  No faults, no warnings.\n")
	}
}
