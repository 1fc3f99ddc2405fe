package cli

import (
	"bytes"
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"hackle/hive"
	"hackle/internal/answer"
	"hackle/ledger"
	"hackle/quantity"
	"hackle/season"
)

// seasonFlags choose weather, days and colony of a run.
type seasonFlags struct {
	weather  string
	from, to dayFlag
	winter   bool
	bees     string
	honey    amount
	failOn   wordsFlag
}

func (f *seasonFlags) add(c *cobra.Command) {
	f.honey.kind = quantity.Mass
	f.failOn.known = []string{"starve", "isolated", "wet"}
	c.Flags().StringVarP(&f.weather, "weather", "w", "", "weather: a file in the EPW layout, a CSV file with a column map, or a built-in year")
	c.Flags().Var(&f.from, "from", "first `day`, such as 2025-10-01 or \"1 Oct\"; default: the colony's date, else 15 October (south: 15 April)")
	c.Flags().Var(&f.to, "to", "last `day`, which counts; default: a whole year when the weather covers it, else the 15 April after it (south: 15 October)")
	c.Flags().BoolVar(&f.winter, "winter", false, "run the winter alone, to the 15 April after the first day (south: 15 October)")
	c.Flags().StringVar(&f.bees, "bees", "", "adult bees on the first day, such as 2kg or \"8 frames\", in place of the file's")
	c.Flags().Var(&f.honey, "honey", "honey on the first day, such as 25kg, in place of the file's")
	c.Flags().Var(&f.failOn, "fail-on", "exit with 1 when a colony starves, is isolated from honey, or has water above the cluster")
}

// apply puts the flags that change the colony into a plan.
func (f *seasonFlags) apply(plan *hive.Plan) error {
	if f.bees != "" {
		kg, err := answer.BeesIn(f.bees, plan.Hive)
		if err != nil {
			return fmt.Errorf("--bees: %w", err)
		}
		plan.Colony.Bees = kg
	}
	if f.honey.given {
		plan.Colony.Honey = f.honey.value
	}
	if f.bees == "" && !f.honey.given {
		return nil
	}
	for _, fault := range plan.Check() {
		if fault.Severity == hive.Wrong {
			return fmt.Errorf("--bees or --honey: %s", fault)
		}
	}
	return nil
}

// verdict is the error of --fail-on.
func (f *seasonFlags) verdict(ledgers ...ledger.Ledger) error {
	for _, l := range ledgers {
		switch {
		case f.failOn.has("starve") && l.Starved():
			return badNews("%s starves on %s", l.Hive, l.Honey.StarvedAt.Format("2 January 2006"))
		case f.failOn.has("isolated") && l.Cut():
			return badNews("%s: bees are cut off from honey for %.0f hours", l.Hive, l.Confinement.Isolation)
		case f.failOn.has("wet") && l.Wet():
			return badNews("%s: water above the cluster for %.0f hours", l.Hive, l.Water.OverheadHours)
		}
	}
	return nil
}

// yearFiles are what hackle year writes beside the ledger.
type yearFiles struct {
	trace        string // path of the CSV file, or none
	water        bool   // the table of months
	waterPicture string // path of the SVG file, or none
}

func (p *program) yearCommand() *cobra.Command {
	var f seasonFlags
	var out yearFiles
	var keys bool
	c := p.command(&cobra.Command{
		Use:   "year FILE --weather W",
		Short: "Run one hive through a whole year and print its ledger",
		Long: `Run the hive of a hive file through hourly weather and print its ledger: whether
the colony comes through on its honey, what it burned, where heat and water went,
what the heat of summer asks of bees and combs, and the worst moments with their
dates.

The run begins on the colony's date, else on 15 October, and is a whole year long
when the weather covers one, as typical years do. With --winter, and in shorter
weather, it ends with the 15 April after its first day. On the southern half of
the globe both dates are half a year later. All days count whole. A typical year
repeats and takes any calendar year.

In summer a colony lives on the nectar flows that the hive file names, and hauls
water when the file says how near it is.

--trace writes every hour as CSV. --water prints the water of every month, what
bees gave off and rain brought, what air and wood carried out, ran out, was drunk
or stayed; --water-picture draws it, as SVG or PNG by the file's ending. --keys prints what each key of the JSON means.
--fail-on takes starve, isolated and wet, separated by commas: the exit code is
then 1 when the honey runs out, when bees sit confined with no honey in contact,
or when more than 1 g of water lies or any drips above the cluster.`,
		Example: `  hackle year my-hive.yaml --weather burlington-vt
  hackle year my-hive.yaml --weather burlington-vt --winter
  hackle year my-hive.yaml --weather yard.epw --from 2025-10-01 --to 2026-04-18
  hackle year my-hive.yaml --weather chicago-il --bees 2kg --honey 25kg --json
  hackle year my-hive.yaml --weather chicago-il --trace hours.csv --fail-on starve,wet`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if keys {
				return p.writeKeys()
			}
			if err := exactly(args, 1, "one hive file"); err != nil {
				return err
			}
			return p.year(cmd.Context(), args[0], &f, &out)
		},
	})
	f.add(c)
	c.Flags().StringVar(&out.trace, "trace", "", "write every hour to this CSV `file`")
	c.Flags().BoolVar(&out.water, "water", false, "print where the water came from and went, month by month")
	c.Flags().StringVar(&out.waterPicture, "water-picture", "", "draw where the water came from and went into this SVG or PNG `file`")
	c.Flags().BoolVar(&keys, "keys", false, "print what each key of the JSON means, and stop")
	return c
}

// exactly is the error of a wrong number of arguments.
func exactly(args []string, n int, what string) error {
	if len(args) != n {
		return fmt.Errorf("%s wanted, %d given", what, len(args))
	}
	return nil
}

func (p *program) writeKeys() error {
	type key struct {
		Key     string `json:"key"`
		Unit    string `json:"unit"`
		Meaning string `json:"meaning"`
	}
	var all []key
	for _, n := range ledger.Lines() {
		all = append(all, key{n.Key, n.Unit, n.Meaning})
	}
	return p.write(all, func(b *bytes.Buffer) error {
		for _, k := range all {
			fmt.Fprintf(b, "%s [%s]\n", k.Key, k.Unit)
			b.WriteString(ledger.Wrap(k.Meaning, "    ", ledger.Width))
		}
		return nil
	})
}

func (p *program) year(ctx context.Context, file string, f *seasonFlags, files *yearFiles) error {
	plan, notes, err := loadHive(file)
	if err != nil {
		return err
	}
	if err := f.apply(&plan); err != nil {
		return err
	}
	whole, err := loadWeather(f.weather, plan.Site)
	if err != nil {
		return err
	}
	set, err := answer.Place([]hive.Plan{plan}, whole, f.days(), p.system())
	if err != nil {
		return byFlags(err)
	}
	notes = append(notes, set.Notes...)
	if files.trace != "" && files.trace == files.waterPicture {
		return fmt.Errorf("--trace and --water-picture both name %s", files.trace)
	}
	// Begun before the run, so that a path that cannot be written is told at once.
	begin := func(flag, path string) (*newFile, error) {
		if path == "" {
			return nil, nil
		}
		if sameFile(path, file) || sameFile(path, f.weather) {
			return nil, fmt.Errorf("%s %s would overwrite what the run reads", flag, path)
		}
		return create(path)
	}
	trace, err := begin("--trace", files.trace)
	if err != nil {
		return err
	}
	defer trace.discard()
	if err := pictureName("--water-picture", files.waterPicture); err != nil {
		return err
	}
	picture, err := begin("--water-picture", files.waterPicture)
	if err != nil {
		return err
	}
	defer picture.discard()
	tr, err := p.run(ctx, set, "computing")
	if err != nil {
		return err
	}
	if trace != nil {
		if err := answer.WriteTrace(trace, tr[0]); err != nil {
			return fmt.Errorf("cannot write %s: %w", files.trace, err)
		}
		if err := trace.commit(); err != nil {
			return err
		}
	}
	months := ledger.WaterMonths(tr[0])
	if picture != nil {
		var svg bytes.Buffer
		if err := ledger.WaterPicture(&svg, plan.Hive.Name+": where the water went", months, p.system()); err != nil {
			return fmt.Errorf("cannot draw %s: %w", files.waterPicture, err)
		}
		drawn, err := inFormatOf(files.waterPicture, svg.Bytes())
		if err != nil {
			return err
		}
		if _, err := picture.Write(drawn); err != nil {
			return fmt.Errorf("cannot write %s: %w", files.waterPicture, err)
		}
		if err := picture.commit(); err != nil {
			return err
		}
	}
	l, w := set.Ledger(0, tr[0]), set.Weather
	out := answer.NewYear(file, w, l, notes, p.system())
	out.WaterMonths = months
	err = p.write(out, func(b *bytes.Buffer) error {
		if err := l.WriteText(b, p.system()); err != nil {
			return err
		}
		if files.water {
			b.WriteString("\nWater, month by month\n")
			if err := ledger.WriteWaterTable(b, months, p.system()); err != nil {
				return err
			}
		}
		fmt.Fprintf(b, "\n%s", ledger.Wrap("Weather: "+w.Name+", "+w.Source+".", "", ledger.Width))
		writeNotes(b, notes)
		return nil
	})
	if err != nil {
		return err
	}
	return f.verdict(l)
}

func writeNotes(b *bytes.Buffer, notes []string) {
	for _, n := range notes {
		b.WriteString(ledger.Wrap("Note: "+n, "", ledger.Width))
	}
}

// run computes a setting and tells its progress.
func (p *program) run(ctx context.Context, s answer.Setting, what string) ([]*season.Trace, error) {
	g := p.newProgress(what, len(s.Plans))
	defer g.end()
	return s.Run(ctx, g.tick)
}
