package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hackle/climate"
	"hackle/ensemble"
	"hackle/internal/answer"
	"hackle/quantity"
)

// rangeFlags choose what is drawn, beside those of a season.
type rangeFlags struct {
	also        []string
	draws       int
	years       int
	seed        uint64
	workers     int
	method      string
	enough      amount
	overhead    amount
	honeyWithin amount
	beesWithin  amount
	resume      string
	matters     bool
	walks       int
	shares      int
	steps       int
	together    []string
}

func (f *rangeFlags) add(c *cobra.Command) {
	f.enough, f.overhead = amount{kind: quantity.Fraction}, amount{kind: quantity.Mass}
	f.honeyWithin, f.beesWithin = amount{kind: quantity.Fraction}, amount{kind: quantity.Fraction}
	c.Flags().StringArrayVar(&f.also, "also", nil, "further weather of the same place: a `file` or built-in year; may be given often")
	c.Flags().IntVar(&f.draws, "draws", answer.DrawsUsual, "draws at most")
	c.Flags().IntVar(&f.years, "years", 0, "years of weather to draw from; 0: all real ones when there are five, else 20 made ones")
	c.Flags().Uint64Var(&f.seed, "seed", 1, "where chance begins; the same seed gives the same answer")
	c.Flags().IntVar(&f.workers, "workers", 0, "draws computed side by side; 0: one for each core")
	c.Flags().IntVar(&f.steps, "steps", answer.RangeSteps, "time steps an hour; hackle year takes 3")
	c.Flags().StringVar(&f.method, "method", string(ensemble.Sobol), "how draws are spread: `sobol|latin|plain`")
	c.Flags().Var(&f.enough, "enough", "stop when the stores are known this well, such as 10%; 0% runs all draws (default 10%)")
	c.Flags().Var(&f.overhead, "overhead", "water above the cluster and dripped on it that is too much (default 10g)")
	c.Flags().Var(&f.honeyWithin, "honey-within", "how well the honey is known: 20% as lifted, 5% as weighed (default 20%)")
	c.Flags().Var(&f.beesWithin, "bees-within", "how well the bees are known (default 25%)")
	c.Flags().StringVar(&f.resume, "resume", "", "keep the draws in this `file`, and go on from it when it is there")
	c.Flags().BoolVar(&f.matters, "what-matters", false, "find which inputs move the answer most, by some 400 more runs")
	c.Flags().IntVar(&f.walks, "walks", 6, "walks through all inputs for --what-matters")
	c.Flags().StringArrayVar(&f.together, "correlate", nil, "draw two inputs together, such as `honey,bees=0.5`, by their rank correlation; may be given often; --json lists the inputs (default: independent)")
	c.Flags().IntVar(&f.shares, "shares", 0, "base `rows` for shares of variance of the strongest inputs, with --what-matters; 64 serve, 0 for none")
}

func (p *program) rangeCommand() *cobra.Command {
	var s seasonFlags
	var f rangeFlags
	c := p.command(&cobra.Command{
		Use:   "range FILE --weather W",
		Short: "Answer with ranges: many years of weather, bees and rough guesses",
		Long: `Run a hive through many possible years and tell between which numbers the answer lies.
Each draw takes a year of weather and, from its range, every number of the bees and
whatever the keeper knows only roughly: the weight of honey, frames of bees, brood,
conductivity of boards and filling, leaks, wind and shade at the stand, strength of
wax. The answer: honey that must be on the hive to come through nine winters of ten,
the chance of running out of it by date, of water above the cluster, of comb falling,
and one in ten, middle and nine in ten of every line of the ledger.

W is a record of many years, or a typical year, from whose normals years are made that
differ as years do; --also adds weather of the same place. Days are those of hackle
year, with --winter the winter alone, to the first flow that the hive file names after
it, which takes half the time.

The same --seed gives the same answer on any number of cores. --enough stops when it is
sharp enough. --resume FILE keeps each draw as it comes: a stopped run goes on from
there, and more --draws add to it. --what-matters tells which inputs move the answer,
and so what is worth measuring.

--fail-on takes starve, wet and comb: the exit code is then 1 when more than one draw in
ten starves, has more than --overhead water above the cluster, or drops a comb.`,
		Example: `  hackle range my-hive.yaml --weather burlington-vt
  hackle range my-hive.yaml --weather yard-2010-2024.csv --winter --draws 400
  hackle range my-hive.yaml --weather burlington-vt --honey-within 5% --resume draws.jsonl
  hackle range my-hive.yaml --weather burlington-vt --winter --what-matters --json`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := exactly(args, 1, "one hive file"); err != nil {
				return err
			}
			return p.ranged(cmd.Context(), args[0], &s, &f)
		},
	})
	s.add(c)
	s.failOn.known = []string{"starve", "wet", "comb"}
	c.Flags().Lookup("fail-on").Usage = "exit with 1 when more than one draw in ten starves, is wet above the cluster, or drops a comb"
	f.add(c)
	return c
}

// ranging of the flags.
func (f *rangeFlags) ranging(journal string) answer.Ranging {
	r := answer.Ranging{Draws: f.draws, Seed: f.seed, Method: ensemble.Method(f.method), Years: f.years, Workers: f.workers, Journal: journal, Course: true, Steps: f.steps,
		Overhead: f.overhead.value, Enough: 0.1, Keeper: ensemble.Keeper{HoneyWithin: f.honeyWithin.value, BeesWithin: f.beesWithin.value}}
	if f.enough.given {
		r.Enough = f.enough.value
	}
	b := build()
	r.Program = b.Version + " " + b.Revision
	return r
}

func (p *program) ranged(ctx context.Context, file string, s *seasonFlags, f *rangeFlags) error {
	if f.draws < 1 || f.draws > 1_000_000 {
		return fmt.Errorf("--draws %d, accepted: 1 to 1000000", f.draws)
	}
	if f.walks < 1 || f.walks > 1000 || f.shares < 0 || f.shares > 100_000 {
		return fmt.Errorf("--walks %d and --shares %d, accepted: 1 to 1000 and 0 to 100000", f.walks, f.shares)
	}
	if f.steps < 1 || f.steps > 60 {
		return fmt.Errorf("--steps %d, accepted: 1 to 60", f.steps)
	}
	if f.shares > 0 && !f.matters {
		return errors.New("--shares belongs to --what-matters")
	}
	plan, notes, err := loadHive(file)
	if err != nil {
		return err
	}
	if err := s.apply(&plan); err != nil {
		return err
	}
	first, err := loadWeather(s.weather, plan.Site)
	if err != nil {
		return err
	}
	weather := []*climate.Series{first}
	for _, name := range f.also {
		w, err := climate.Load(name)
		if err != nil {
			return fmt.Errorf("--also: %w", err)
		}
		weather = append(weather, w)
	}
	for _, name := range append([]string{file, s.weather}, f.also...) {
		if f.resume != "" && sameFile(f.resume, name) {
			return fmt.Errorf("--resume %s names what the run reads", f.resume)
		}
	}
	ask := f.ranging(f.resume)
	if ask.Correlations, err = correlations(f.together); err != nil {
		return err
	}
	q, more, err := ask.Range(plan, weather, s.days(), p.system())
	if err != nil {
		return byFlags(err)
	}
	notes = append(notes, more...)
	r, err := p.ask(ctx, &q, f)
	if err != nil {
		return err
	}
	out := answer.NewRanged(file, first, r, notes, p.system())
	err = p.write(out, func(b *bytes.Buffer) error {
		if err := out.Range.WriteText(b, p.system()); err != nil {
			return err
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.tooOften(r)
}

// correlations reads those of the flag.
func correlations(texts []string) (list []ensemble.Correlation, err error) {
	for _, text := range texts {
		pair, number, _ := strings.Cut(text, "=")
		a, b, two := strings.Cut(pair, ",")
		rank, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
		if err != nil || !two {
			return nil, fmt.Errorf("--correlate %q, accepted: two inputs and a rank correlation, such as honey,bees=0.5", text)
		}
		list = append(list, ensemble.Correlation{A: strings.TrimSpace(a), B: strings.TrimSpace(b), Rank: rank})
	}
	return list, nil
}

// ask runs the draws, and the runs of what matters, and tells the progress.
func (p *program) ask(ctx context.Context, q *ensemble.Question, f *rangeFlags) (*ensemble.Range, error) {
	g := p.newProgress("drawing", 1)
	r, err := q.Ask(ctx, func(done, total int) { g.tick(0, done, total) })
	g.end()
	if err == nil && f.matters {
		probe := ensemble.Probe{Walks: f.walks, Rows: f.shares}
		if f.resume != "" {
			probe.Journal = f.resume + ".matters"
		}
		g = p.newProgress("what matters", 1)
		r.Matters, err = q.Matters(ctx, probe, func(done, total int) { g.tick(0, done, total) })
		g.end()
	}
	if err != nil {
		if f.resume != "" && errors.Is(err, context.Canceled) {
			fmt.Fprintf(p.stderr, "hackle: the draws so far are kept in %s; the same command goes on from there\n", f.resume)
		}
		if errors.Is(err, ensemble.ErrNotComputed) {
			err = &answer.Fault{Err: err}
		}
		return nil, err
	}
	return r, nil
}

// tooOften is the error of --fail-on for a range.
func (f *seasonFlags) tooOften(r *ensemble.Range) error {
	const often = 0.1
	for _, c := range []struct {
		word, what string
		odds       float64
	}{{"starve", "starves", r.Starve.Value}, {"wet", "has too much water above the cluster", r.Overhead.Beyond.Value}, {"comb", "drops a comb", r.CombFalls.Value}} {
		if f.failOn.has(c.word) && c.odds > often {
			return badNews("%s %s in %.0f of 100 draws", r.Hive, c.what, 100*c.odds)
		}
	}
	return nil
}
