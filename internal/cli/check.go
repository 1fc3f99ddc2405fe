package cli

import (
	"bytes"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"hackle/internal/answer"
	"hackle/ledger"
	"hackle/quantity"
)

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

// checked is a checked file that can be written as text.
type checked struct{ answer.Checked }

func checkFile(file string) checked {
	f, err := os.Open(file)
	if err != nil {
		return checked{answer.Checked{File: file, Faults: []answer.HiveFault{}, Error: err.Error()}}
	}
	defer f.Close()
	return checked{answer.Check(file, f)}
}

func (c checked) text(b *bytes.Buffer, system quantity.System) {
	if c.Error != "" {
		fmt.Fprintf(b, "%s: %s\n", c.File, c.Error)
		return
	}
	for _, f := range c.Faults {
		fmt.Fprintln(b, f.Text)
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
	heaviest := answer.HiveMass{}
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
