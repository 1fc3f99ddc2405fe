package cli

import (
	"bytes"
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"hackle/change"
	"hackle/climate"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/ledger"
)

func (p *program) compareCommand() *cobra.Command {
	var f seasonFlags
	var changes []string
	c := p.command(&cobra.Command{
		Use:   "compare FILE FILE... --weather W",
		Short: "Run several hives through the same year and lay them side by side",
		Long: `Run several hives through the same weather and days and print what differs, each
against the first. Hives that differ in one thing tell what that thing does; give
--bees and --honey to start all of them with the same colony. --change adds the
first hive with changes made, as hackle change lists them; several changes that
are made together are joined by plus signs.

Days default to those of the first file, as for hackle year: a whole year, or
with --winter the winter alone.`,
		Example: `  hackle compare low-entrance.yaml top-vent.yaml --weather burlington-vt
  hackle compare *.yaml --weather minneapolis-mn --bees 2kg --honey 25kg
  hackle compare low-entrance.yaml wool-lid.yaml --weather burlington-vt --winter
  hackle compare my-hive.yaml --change "lid=mineral wool 76 mm" --change "top vent=20 mm + board hole=closed" -w burlington-vt
  hackle compare a.yaml b.yaml --weather yard.epw --from 2025-10-01 --json`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 || len(args)+len(changes) < 2 {
				return fmt.Errorf("two hive files or more wanted, or one and --change; %d given", len(args))
			}
			return p.compare(cmd.Context(), args, changes, &f)
		},
	})
	f.add(c)
	c.Flags().StringArrayVarP(&changes, "change", "c", nil, "also run the first hive with this `change` made; may be given often")
	return c
}

func (p *program) compare(ctx context.Context, files, changes []string, f *seasonFlags) error {
	var plans []hive.Plan
	var notes []string
	for _, file := range files {
		plan, warnings, err := loadHive(file)
		if err != nil {
			return err
		}
		if err := f.apply(&plan); err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
		plans, notes = append(plans, plan), append(notes, warnings...)
	}
	whole, err := loadWeather(f.weather, plans[0].Site)
	if err != nil {
		return err
	}
	for _, text := range changes {
		plan, err := changed(plans[0], text, change.Site{Weather: whole, Units: p.system()})
		if err != nil {
			return fmt.Errorf("--change: %w", err)
		}
		files, plans = append(files, files[0]+" with "+text), append(plans, plan)
	}
	out, ledgers, err := p.sideBySide(ctx, files, plans, whole, f, notes)
	if err != nil {
		return err
	}
	err = p.write(out, func(b *bytes.Buffer) error {
		fmt.Fprintf(b, "%s\n", ledger.Wrap(fmt.Sprintf("%d hives in the weather of %s, %s.", len(plans), out.Weather.Name, answer.Period(out.From.Time, out.To.Time)), "", ledger.Width))
		if err := ledger.WriteOverview(b, ledgers, p.system()); err != nil {
			return err
		}
		for _, d := range out.Differences {
			b.WriteString("\n")
			if err := d.WriteText(b, p.system()); err != nil {
				return err
			}
		}
		p.writeClose(b, ledgers, out.Notes)
		return nil
	})
	if err != nil {
		return err
	}
	return f.verdict(ledgers...)
}

// changed is the plan with changes made, named after them.
func changed(plan hive.Plan, text string, site change.Site) (hive.Plan, error) {
	set, err := change.ParseSet(text)
	if err != nil {
		return hive.Plan{}, err
	}
	r, err := set.Apply(plan, site)
	if err != nil {
		return hive.Plan{}, err
	}
	if len(r.Shades) > 0 || r.Weather != "" {
		return hive.Plan{}, fmt.Errorf("%s changes the weather that the hive stands in, which is one for all here: ask hackle rank", set)
	}
	r.Plan.Hive.Name += ", " + set.String()
	return r.Plan, nil
}

// writeClose ends a comparison: how the balances close and what one run cannot tell.
func (p *program) writeClose(b *bytes.Buffer, ledgers []ledger.Ledger, notes []string) {
	worst := 0.0
	for _, l := range ledgers {
		c := l.Closure
		for _, v := range []float64{c.Heat, c.Vapour, c.CO2, c.Air, c.Honey} {
			worst = max(worst, v, -v)
		}
	}
	b.WriteString("\n" + ledger.Wrap(fmt.Sprintf("The balances of heat, vapour, CO2, air and honey of all runs close to %.2g %% or better. Each is one run in one year's weather; a difference that is small beside what winters and colonies differ is no difference.", 100*worst), "", ledger.Width))
	writeNotes(b, notes)
}

// sideBySide runs plans in the same days of the same weather.
func (p *program) sideBySide(ctx context.Context, files []string, plans []hive.Plan, whole *climate.Series, f *seasonFlags, notes []string) (answer.Comparison, []ledger.Ledger, error) {
	set, err := answer.Place(plans, whole, f.days(), p.system())
	if err != nil {
		return answer.Comparison{}, nil, byFlags(err)
	}
	traces, err := p.run(ctx, set, fmt.Sprintf("computing %d hives", len(plans)))
	if err != nil {
		return answer.Comparison{}, nil, err
	}
	out, ledgers := set.Compare(files, traces, notes, p.system())
	return out, ledgers, nil
}
