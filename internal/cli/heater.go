package cli

import (
	"bytes"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"hackle/hive"
	"hackle/internal/answer"
	"hackle/ledger"
	"hackle/quantity"
	"hackle/season"
)

// heated is a heated hive that can be written as text.
type heated struct{ answer.Heated }

func (p *program) heaterCommand() *cobra.Command {
	watts := amount{kind: quantity.Power, bare: "W"}
	outside := amount{kind: quantity.Temperature}
	wind := amount{kind: quantity.Speed, bare: "m/s"}
	height := amount{kind: quantity.Length}
	size := amount{kind: quantity.Length}
	var empty, protocol bool
	var date dayFlag
	var test heaterTest
	c := p.command(&cobra.Command{
		Use:   "heater FILE --watts 12 --outside -5C",
		Short: "Compute a hive with a heater in place of bees, or analyse the log of such a test",
		Long: `Find the steady state of a hive that is heated with a known power in still or
windy weather without sun: air temperatures by height, how deep the warm air
reaches below the lid, what each opening passes, and by which ways the heat
leaves. A keeper can do the same with a small electric heater and thermometers.

The heater stands in the middle of the hive at --height; among frames it warms
the air of the combs that it touches.

In JSON, the seven parts of loss_W sum to the watts, but for closure_W: walls
are the four plane sides, which walls_W splits; edges what edges and corners
lose beyond them; lid holds the vents of the lid; openings are all holes in the
walls together; mesh is a mesh floor.

--protocol prints how to do such a test with this hive: which watts, how long, where
the thermometers go, and the cautions. --log analyses the log of one: a CSV file
with the columns time, heater [W], outside [°C], one "inside HEIGHT [°C]" for each
thermometer, and phase where something was changed on the way. It finds the
conductance with its uncertainty, holds it against the computed hive, and says what
one thermometer at the top would have concluded. --keep writes the factor of the
shell that explains the named phase into the hive file, whose runs use it from then
on.

--date decides wraps, trays and how wide the openings stand; default 15 January
(south: 15 July), with --log the first day of the log. --wind is that of the test too.`,
		Example: `  hackle heater my-hive.yaml --watts 12 --outside -5C
  hackle heater my-hive.yaml --watts 12 --outside -5C --height 240mm --size 80mm --empty
  hackle heater my-hive.yaml --watts "12 W" --outside 23F --wind 3m/s --units us --json
  hackle heater my-hive.yaml --protocol --empty
  hackle heater my-hive.yaml --log test.csv --empty --keep`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := exactly(args, 1, "one hive file"); err != nil {
				return err
			}
			if err := test.check(watts.given, outside.given, protocol); err != nil {
				return err
			}
			plan, notes, err := loadHive(args[0])
			if err != nil {
				return err
			}
			day := date.day
			if !date.given {
				day = hive.Day{Month: time.January, Day: 15}
				if plan.Site.HasPlace && plan.Site.Latitude < 0 {
					day.Month = time.July
				}
			}
			if height.value < 0 || height.value > plan.Hive.Height() {
				return fmt.Errorf("--height %s lies outside the hive, which is %s high inside", height.text, quantity.Format(plan.Hive.Height(), quantity.Length, p.system()))
			}
			if size.value < 0 || size.value > plan.Hive.Height() {
				return fmt.Errorf("--size %s does not fit into the hive, which is %s high inside", size.text, quantity.Format(plan.Hive.Height(), quantity.Length, p.system()))
			}
			if watts.value < 0 || watts.value > 2000 {
				return fmt.Errorf("--watts %s: 0 to 2000 W can be computed", watts.text)
			}
			if outside.value < -60 || outside.value > 60 {
				return fmt.Errorf("--outside %s: -60 to 60 °C can be computed", outside.text)
			}
			if wind.value < 0 || wind.value > 40 {
				return fmt.Errorf("--wind %s: 0 to 40 m/s can be computed", wind.text)
			}
			const humidity = 0.8 // of a cold day; it only touches the weight of the air
			in := season.HeaterInput{Plan: plan, Date: answer.DayIn(day, answer.TypicalYear+1, time.UTC), Watts: watts.value, Outside: outside.value,
				Humidity: humidity, Wind: wind.value, Height: height.value, Size: size.value, Empty: empty}
			switch {
			case test.log != "":
				if !date.given {
					in.Date = time.Time{} // that of the log
				}
				return p.testHeater(cmd.Context(), args[0], in, &test, notes)
			case protocol:
				return p.heaterProtocol(args[0], in, outside.given)
			}
			doc, err := answer.Heat(args[0], in, notes)
			if err != nil {
				return err
			}
			h := heated{doc}
			return p.write(h, func(b *bytes.Buffer) error { h.text(b, p.system()); return nil })
		},
	})
	c.Flags().Var(&watts, "watts", "power of the heater; a bare number is watts")
	c.Flags().Var(&outside, "outside", "air temperature outdoors, such as -5C or 23F")
	c.Flags().Var(&wind, "wind", "wind at the hive, onto its front; a bare number is m/s")
	c.Flags().Var(&height, "height", "middle of the heater above the floor, such as 240mm; default: half the height of the hive")
	c.Flags().Var(&size, "size", "size of the heater, such as 80mm, which is the default")
	c.Flags().BoolVar(&empty, "empty", false, "take the frames out")
	c.Flags().Var(&date, "date", "`day` that decides wraps, trays and openings")
	c.Flags().BoolVar(&protocol, "protocol", false, "print how to do a heater test with this hive")
	test.add(c)
	return c
}

// columns sets a label and values with their right edges in columns.
func columns(b *bytes.Buffer, label string, values ...string) {
	const labelled, valued = 28, 13
	text := "  " + label + strings.Repeat(" ", max(0, labelled-utf8.RuneCountInString(label)))
	for _, v := range values {
		text += strings.Repeat(" ", max(1, valued-utf8.RuneCountInString(v))) + v
	}
	b.WriteString(text + "\n")
}

func (h heated) text(b *bytes.Buffer, system quantity.System) {
	temp := func(v float64) string { return quantity.Format(v, quantity.Temperature, system) }
	length := func(v float64) string { return quantity.Format(v/1000, quantity.Length, system) }
	watt := func(v float64) string { return fmt.Sprintf("%.2f W", v+0) }
	flow := func(v float64) string { return quantity.Format(v/1000, quantity.Flow, system) }
	excess := func(v float64) string {
		return quantity.Format(v-h.Outside, quantity.TemperatureDifference, system)
	}
	b.WriteString(ledger.Wrap(fmt.Sprintf("With %s inside and %s outdoors it is %s under the lid, and the warm air reaches %s below it.", quantity.Format(h.Watts, quantity.Power, system), temp(h.Outside), temp(h.UnderLid), length(h.WarmDepth)), "", ledger.Width))
	fmt.Fprintf(b, "\n%s\n", ledger.Wrap(h.Hive+", as it stands on "+h.Date.Format("2 January"), "", ledger.Width))
	columns(b, "Air, height above the floor", "core", "flank", "over outdoors")
	for i := len(h.Levels) - 1; i >= 0; i-- {
		l := h.Levels[i]
		columns(b, length(l.Height), temp(l.Core), temp(l.Flank), excess(l.Mean))
	}
	columns(b, "under the lid", temp(h.UnderLid), "", excess(h.UnderLid))
	columns(b, "mean", temp(h.Mean), "", excess(h.Mean))
	b.WriteString("\n")
	columns(b, "Openings", "air in", "air out", "heat")
	for _, o := range h.Openings {
		columns(b, o.Name, flow(o.In), flow(o.Out), watt(o.Heat))
	}
	b.WriteString("\n")
	columns(b, "Heat lost", "", "share")
	share := func(v float64) string {
		if h.Watts == 0 {
			return ""
		}
		return fmt.Sprintf("%.0f %%", 100*v/h.Watts)
	}
	for _, l := range []struct {
		label string
		v     float64
	}{
		{"front wall", h.Walls.Front}, {"back wall", h.Walls.Back}, {"left wall", h.Walls.Left}, {"right wall", h.Walls.Right},
		{"lid and its vents", h.Loss.Lid}, {"floor", h.Loss.Floor}, {"edges and corners", h.Loss.Edges},
		{"openings", h.Loss.Openings}, {"mesh floor", h.Loss.Mesh}, {"cracks", h.Loss.Cracks},
	} {
		columns(b, l.label, watt(l.v), share(l.v))
	}
	fmt.Fprintf(b, "\n%s", ledger.Wrap(fmt.Sprintf("The hive loses %s for each degree of its mean air over outdoors. The heat balance closes to %.1g W. This is a dry, steady state without sun; a real hive needs a day or more of steady weather to come near it.", quantity.Format(h.Conductance, quantity.Conductance, system), max(h.Closure, -h.Closure)), "", ledger.Width))
	writeNotes(b, h.Notes)
}
