package cli

import (
	"bytes"
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"hackle/climate"
	"hackle/hive"
	"hackle/ledger"
)

// comparison is the JSON of several hives in one weather.
type comparison struct {
	Weather     weatherUsed         `json:"weather"`
	From        ledger.Date         `json:"from"`
	To          ledger.Date         `json:"to"`
	Hives       []oneYear           `json:"hives"`
	Differences []ledger.Comparison `json:"differences"` // each against the first
	Notes       []string            `json:"notes"`
	Uncertainty string              `json:"uncertainty"`
}

func (p *program) compareCommand() *cobra.Command {
	var f seasonFlags
	c := p.command(&cobra.Command{
		Use:   "compare FILE FILE... --weather W",
		Short: "Run several hives through the same year and lay them side by side",
		Long: `Run several hives through the same weather and days and print what differs, each
against the first. Hives that differ in one thing tell what that thing does; give
--bees and --honey to start all of them with the same colony.

Days default to those of the first file, as for hackle year: a whole year, or
with --winter the winter alone.`,
		Example: `  hackle compare low-entrance.yaml top-vent.yaml --weather burlington-vt
  hackle compare *.yaml --weather minneapolis-mn --bees 2kg --honey 25kg
  hackle compare low-entrance.yaml wool-lid.yaml --weather burlington-vt --winter
  hackle compare a.yaml b.yaml --weather yard.epw --from 2025-10-01 --json`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) < 2 {
				return fmt.Errorf("two hive files or more wanted, %d given", len(args))
			}
			return p.compare(cmd.Context(), args, &f)
		},
	})
	f.add(c)
	return c
}

func (p *program) compare(ctx context.Context, files []string, f *seasonFlags) error {
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
	out, ledgers, err := p.sideBySide(ctx, files, plans, whole, f, notes)
	if err != nil {
		return err
	}
	err = p.write(out, func(b *bytes.Buffer) error {
		fmt.Fprintf(b, "%s\n", ledger.Wrap(fmt.Sprintf("%d hives in the weather of %s, %s.", len(files), out.Weather.Name, periodIn(out.From.Time, out.To.Time)), "", ledger.Width))
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
func (p *program) sideBySide(ctx context.Context, files []string, plans []hive.Plan, whole *climate.Series, f *seasonFlags, notes []string) (comparison, []ledger.Ledger, error) {
	first, last, err := f.span(plans[0].Colony, whole)
	if err != nil {
		return comparison{}, nil, err
	}
	w, err := weatherFor(whole, first, last)
	if err != nil {
		return comparison{}, nil, err
	}
	for i := range plans {
		notes = append(notes, place(&plans[i], w, first, p.system())...)
	}
	notes = append(notes, f.summerNotes(plans, w, first, last)...)
	traces, err := p.run(ctx, plans, w, fmt.Sprintf("computing %d hives", len(plans)))
	if err != nil {
		return comparison{}, nil, err
	}
	out := comparison{Weather: used(w), From: ledger.Date{Time: first}, To: ledger.Date{Time: last}, Differences: []ledger.Comparison{}, Notes: append([]string{}, notes...), Uncertainty: ledger.OneRun}
	var ledgers []ledger.Ledger
	for i, tr := range traces {
		l := ledgerOf(plans[i], w, tr)
		ledgers = append(ledgers, l)
		out.Hives = append(out.Hives, p.oneYear(files[i], w, l, nil))
		if i > 0 {
			out.Differences = append(out.Differences, ledger.DifferenceIn(ledgers[0], l, p.system()))
		}
	}
	return out, ledgers, nil
}
