package cli

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"hackle/hive"
	"hackle/ledger"
	"hackle/quantity"
	"hackle/workshop"
)

// cutFlags say how things are made and what is written.
type cutFlags struct {
	copies    int
	prices    string
	kerf      amount
	clearance amount
	cavity    amount
	faces     wordsFlag
	body      int
	frames    int
	drawings  string
	fullSize  string
	paper     paperFlag
	saveHive  string
}

// paperFlag is a size of paper.
type paperFlag struct{ paper workshop.Paper }

func (f *paperFlag) String() string {
	if f.paper.Name == "" {
		return workshop.A4.Name
	}
	return f.paper.Name
}

func (f *paperFlag) Set(s string) error {
	for _, p := range []workshop.Paper{workshop.A4, workshop.Letter} {
		if strings.EqualFold(s, p.Name) {
			f.paper = p
			return nil
		}
	}
	return fmt.Errorf("%q is no size of paper: A4 or Letter", s)
}

func (f *paperFlag) Type() string { return "A4|Letter" }

func (f *paperFlag) size() workshop.Paper {
	if f.paper.Name == "" {
		return workshop.A4
	}
	return f.paper
}

func (p *program) cutCommand() *cobra.Command {
	var f cutFlags
	var names []string
	for _, k := range workshop.Kinds() {
		names = append(names, fmt.Sprintf("%s, %s", k.Name, k.Title))
	}
	c := p.command(&cobra.Command{
		Use:   "cut FILE WHAT...",
		Short: "Work out what to saw and buy for a change of a hive",
		Long: `Work out the parts of one thing or several for the hive of a hive file: sizes with
the allowances of joints, kerf and bee space, how they lie on sheets and boards
with few and straight cuts, what else to buy, what it costs by the price file and
weighs, steps and cautions. Checks put the parts together with the hive and say
whether they fit.

WHAT is one of: ` + strings.Join(names, "; ") + `. A material and a thickness may follow an
equals sign, wall-panels=cork 50 mm. A change that is made of material does as
well, lid=mineral wool 76 mm. Several are made one after another, each for the hive
as the one before leaves it.

--drawings writes drawings to scale: into one file that ends in .pdf, or into a
folder, which gets an SVG and a DXF file of each. --full-size writes one part at its
full size over as many pages as it takes. --save-hive writes the hive as it is
afterwards, with pressed wool and bare strips of wall counted, for hackle year.`,
		Example: `  hackle cut my-hive.yaml lid-insulation
  hackle cut my-hive.yaml "lid-insulation=sheep wool 50 mm" entrance-reducer --copies 4
  hackle cut my-hive.yaml "wall-panels=XPS 38 mm" --faces back,left,right --units us
  hackle cut my-hive.yaml body --drawings body.pdf --full-size "front and back" --paper Letter
  hackle cut my-hive.yaml "lid=mineral wool 76 mm" --save-hive with-wool.yaml --json`,
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) < 2 {
				return fmt.Errorf("a hive file and what to make wanted, %d given; what can be made: %s", len(args), strings.Join(names, "; "))
			}
			return p.cut(args[0], args[1:], &f)
		},
	})
	f.kerf.kind, f.clearance.kind, f.cavity.kind = quantity.Length, quantity.Length, quantity.Length
	f.faces.known = []string{"front", "back", "left", "right"}
	c.Flags().IntVar(&f.copies, "copies", 1, "for how many hives alike")
	c.Flags().StringVar(&f.prices, "prices", "", "price and stock `file`; without it invented example prices")
	c.Flags().Var(&f.kerf, "kerf", "width of the saw's cut; default 3 mm")
	c.Flags().Var(&f.clearance, "clearance", "room on each side of a part that goes into another; default 1.5 mm")
	c.Flags().Var(&f.cavity, "cavity", "room for a batt when that is less than its thickness, so that it is pressed")
	c.Flags().Var(&f.faces, "faces", "walls that get panels; default all four")
	c.Flags().IntVar(&f.body, "body", 0, "body counted from the floor, for body, follower-board and frame-wires")
	c.Flags().IntVar(&f.frames, "frames", 0, "frames left to the bees, for follower-board")
	c.Flags().StringVar(&f.drawings, "drawings", "", "write drawings into this `file.pdf` or folder")
	c.Flags().StringVar(&f.fullSize, "full-size", "", "write this `part` at full size, into a PDF beside the drawings")
	c.Flags().Var(&f.paper, "paper", "size of paper")
	c.Flags().StringVar(&f.saveHive, "save-hive", "", "write the changed hive into this hive `file`")
	return c
}

func (p *program) cut(file string, what []string, f *cutFlags) error {
	plan, warnings, err := loadHive(file)
	if err != nil {
		return err
	}
	prices, err := loadPrices(f.prices)
	if err != nil {
		return err
	}
	o := workshop.DefaultOptions()
	o.System = p.system()
	if f.kerf.given {
		o.Kerf = f.kerf.value
	}
	if f.clearance.given {
		o.Clearance = f.clearance.value
	}
	usual := workshop.Spec{Cavity: f.cavity.value, Body: f.body, Frames: f.frames}
	for _, w := range f.faces.words {
		for face := hive.Front; face <= hive.Right; face++ {
			if face.String() == w {
				usual.Faces = append(usual.Faces, face)
			}
		}
	}
	var specs []workshop.Spec
	for _, text := range what {
		s, err := workshop.ParseSpec(text, usual)
		if err != nil {
			return err
		}
		specs = append(specs, s)
	}
	work, err := workshop.MakeAll(plan, specs, f.copies, prices, o)
	if err != nil {
		return err
	}
	list := work.List()
	written, err := p.writeDrawings(work, f)
	if err != nil {
		return err
	}
	if f.saveHive != "" {
		if sameFile(f.saveHive, file) {
			return fmt.Errorf("--save-hive: %s is the hive file itself; give another name", f.saveHive)
		}
		if err := hive.WriteFile(f.saveHive, work.Plan, p.system()); err != nil {
			return err
		}
		written = append(written, f.saveHive)
	}
	return p.write(struct {
		File string `json:"file"`
		workshop.CutList
		Notes   []string `json:"notes"`
		Written []string `json:"written"`
	}{file, list, append([]string{}, warnings...), append([]string{}, written...)}, func(b *bytes.Buffer) error {
		err := list.WriteText(b, p.system(), func(text, indent string) string { return ledger.Wrap(text, indent, ledger.Width) })
		for _, path := range written {
			b.WriteString(ledger.Wrap("Written: "+path, "", ledger.Width))
		}
		writeNotes(b, warnings)
		return err
	})
}

// writeDrawings writes what the flags ask for and returns the paths.
func (p *program) writeDrawings(work workshop.Work, f *cutFlags) ([]string, error) {
	var written []string
	title := work.Plan.Hive.Name
	list := work.Drawings(p.system())
	if f.fullSize != "" {
		d, err := partDrawing(work, f.fullSize, p.system())
		if err != nil {
			return nil, err
		}
		path := fileName(f.fullSize) + "-full-size.pdf"
		if strings.HasSuffix(strings.ToLower(f.drawings), ".pdf") {
			path = filepath.Join(filepath.Dir(f.drawings), path)
		} else if f.drawings != "" {
			path = filepath.Join(f.drawings, path)
			if err := os.MkdirAll(f.drawings, 0o755); err != nil {
				return nil, err
			}
		}
		if err := writeFile(path, func(w io.Writer) error { return workshop.TiledPDF(w, d, f.paper.size()) }); err != nil {
			return nil, err
		}
		written = append(written, path)
	}
	switch {
	case f.drawings == "":
	case strings.HasSuffix(strings.ToLower(f.drawings), ".pdf"):
		if err := writeFile(f.drawings, func(w io.Writer) error { return workshop.PDF(w, title, list, f.paper.size()) }); err != nil {
			return nil, err
		}
		written = append(written, f.drawings)
	default:
		if err := os.MkdirAll(f.drawings, 0o755); err != nil {
			return nil, fmt.Errorf("--drawings: %w", err)
		}
		for i, d := range list {
			name := filepath.Join(f.drawings, fmt.Sprintf("%02d-%s", i+1, fileName(d.Title)))
			if err := writeFile(name+".svg", d.SVG); err != nil {
				return nil, err
			}
			if err := writeFile(name+".dxf", d.DXF); err != nil {
				return nil, err
			}
			written = append(written, name+".svg", name+".dxf")
		}
	}
	return written, nil
}

// partDrawing finds a part by its name.
func partDrawing(work workshop.Work, name string, system quantity.System) (workshop.Drawing, error) {
	var known []string
	for _, j := range work.Jobs {
		for _, part := range j.Parts {
			if part.Name == name {
				return workshop.DrawPart(j, part, system), nil
			}
			known = append(known, part.Name)
		}
	}
	return workshop.Drawing{}, fmt.Errorf("--full-size: no part is called %q; there are %s", name, strings.Join(known, "; "))
}

// fileName makes a title a file name: small letters, figures and dashes.
func fileName(title string) string {
	var b strings.Builder
	dash := false
	for _, r := range strings.ToLower(title) {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			if dash && b.Len() > 0 {
				b.WriteByte('-')
			}
			dash = false
			b.WriteRune(r)
		} else {
			dash = true
		}
	}
	if b.Len() == 0 {
		return "drawing"
	}
	return b.String()
}
