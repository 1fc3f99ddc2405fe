package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hackle/change"
	"hackle/climate"
	"hackle/internal/advice"
	"hackle/internal/answer"
	"hackle/ledger"
	"hackle/rank"
)

// rankFlags choose what is ranked and how thoroughly.
type rankFlags struct {
	season    seasonFlags
	changes   []string
	prices    string
	budget    string
	budgetAll string
	work      float64
	journal   string
	seed      uint64
	// weatherYears to draw from, 0: all real ones when there are enough
	weatherYears int
	q            rank.Question
}

// rankings is the JSON of hackle rank.
type rankings struct {
	Hives []ranking  `json:"hives"`
	Yard  *yardPlan  `json:"yard,omitempty"` // of several hives
	Runs  madeOfRuns `json:"runs"`
}

type ranking struct {
	File    string             `json:"file"`
	Weather answer.WeatherUsed `json:"weather"`
	From    ledger.Date        `json:"from"`
	To      ledger.Date        `json:"to"`
	Years   int                `json:"weather_years"`
	*rank.Answer
	Notes []string `json:"notes"`
}

type yardPlan struct {
	Plan     []rank.Choice `json:"plan"`
	Currency string        `json:"currency"`
	Budget   float64       `json:"budget"`
	Cost     float64       `json:"first_cost"`
	Net      float64       `json:"net_worth"`
}

type madeOfRuns struct {
	Made   int `json:"made"`
	Reused int `json:"reused"` // spared because a like one was made, now or in the journal
}

func (p *program) rankCommand() *cobra.Command {
	var f rankFlags
	c := p.command(&cobra.Command{
		Use:   "rank FILE... --weather W",
		Short: "Find which changes of a hive are worth their money and work",
		Long: `Try changes of the hive of a hive file, alone and together, in the same draws of
weather and of what nobody knows of the bees, and print which are worth making:
the efficient set by cost, honey, starvation, water overhead, falling comb and
water hauled; one to make, with reasons; those that do harm; and in how many years
each pays.

Without --change every choice of the catalogue that applies is tried; hackle
change list FILE shows them. Variants are screened in short runs, and the leaders
run in full. --journal keeps every run in a file: a ranking that was stopped goes
on where it was when it is asked again with the same file.

With several files every hive is ranked, hives that are alike only once, and
--budget-all is spent where it gains most. --weather nearest takes for each hive
the built-in year nearest to its site.`,
		Example: `  hackle rank my-hive.yaml --weather burlington-vt --journal runs.jsonl
  hackle rank my-hive.yaml -w burlington-vt --change "lid=mineral wool 76 mm" --change "walls=XPS 38 mm" --draws 50
  hackle rank my-hive.yaml -w yard.epw --prices my-prices.yaml --budget 60 --winter
  hackle rank yard/*.yaml -w nearest --budget-all 2000 --journal yard.jsonl --json`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return errors.New("one hive file or more wanted, none given")
			}
			return p.rank(cmd.Context(), args, &f)
		},
	})
	f.season.add(c)
	c.Flags().Lookup("weather").Usage += `; "nearest": the built-in year nearest to the site of each hive`
	c.Flags().MarkHidden("fail-on") // of no meaning here; the flag exists
	c.Flags().StringArrayVarP(&f.changes, "change", "c", nil, "a `change` to try, in place of the catalogue; may be given often")
	c.Flags().StringVar(&f.prices, "prices", "", "price `file`; default: the embedded one, whose prices are invented")
	c.Flags().StringVar(&f.budget, "budget", "", "first `cost` of a hive at most, in the currency of the prices")
	c.Flags().StringVar(&f.budgetAll, "budget-all", "", "first `cost` of all hives together at most")
	c.Flags().Float64Var(&f.work, "work", 0, "first work of a hive at most, in `hours`; 0: no limit")
	c.Flags().IntVar(&f.q.Most, "together", 3, "changes made together at most")
	c.Flags().IntVar(&f.q.Hives, "alike", 1, "hives that are changed alike and bought for together")
	c.Flags().Float64Var(&f.q.Years, "years", 5, "years over which a change has to pay")
	c.Flags().IntVar(&f.q.Draws, "draws", 20, "draws of a run in full")
	c.Flags().IntVar(&f.q.Screen, "screen", 3, "draws of a screening run")
	c.Flags().IntVar(&f.q.Variants, "variants", 60, "variants screened at most")
	c.Flags().IntVar(&f.q.Leaders, "leaders", 12, "variants run in full at most")
	c.Flags().IntVar(&f.q.Workers, "workers", 0, "runs side by side; 0: one for each processor")
	c.Flags().StringVar(&f.journal, "journal", "", "keep every run in this `file`, and take those that are there")
	c.Flags().IntVar(&f.weatherYears, "weather-years", 0, "years of weather to draw from; 0: all real ones when there are five, else 20 made ones")
	c.Flags().Uint64Var(&f.seed, "seed", 1, "of the draws")
	return c
}

// money reads an amount, with or without the currency of the prices.
func money(flag, text, currency string) (float64, error) {
	if text == "" {
		return 0, nil
	}
	number := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), currency))
	v, err := strconv.ParseFloat(number, 64)
	if err != nil || !(v > 0) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%s %q is no amount such as \"120 %s\"", flag, text, currency)
	}
	return v, nil
}

// check refuses numbers that make no ranking.
func (f *rankFlags) check() error {
	for _, x := range []struct {
		flag        string
		value       int
		least, most int
	}{
		{"--together", f.q.Most, 1, 6}, {"--alike", f.q.Hives, 1, 100000}, {"--draws", f.q.Draws, 2, 10000}, {"--screen", f.q.Screen, 1, 1000},
		{"--variants", f.q.Variants, 1, 5000}, {"--leaders", f.q.Leaders, 1, 5000}, {"--workers", f.q.Workers, 0, 4096},
	} {
		if x.value < x.least || x.value > x.most {
			return fmt.Errorf("%s %d, accepted: %d to %d", x.flag, x.value, x.least, x.most)
		}
	}
	if !(f.q.Years > 0 && f.q.Years <= 100) {
		return fmt.Errorf("--years %g, accepted: more than 0, up to 100", f.q.Years)
	}
	if !(f.work >= 0 && f.work <= 1e6) {
		return fmt.Errorf("--work %g, accepted: 0 or more hours", f.work)
	}
	return nil
}

func (p *program) rank(ctx context.Context, files []string, f *rankFlags) (fault error) {
	if err := f.check(); err != nil {
		return err
	}
	table, err := loadPrices(f.prices)
	if err != nil {
		return err
	}
	if f.q.Budget, err = money("--budget", f.budget, table.Currency); err != nil {
		return err
	}
	all, err := money("--budget-all", f.budgetAll, table.Currency)
	if err != nil {
		return err
	}
	var candidates change.Set
	for _, text := range f.changes {
		c, err := change.Parse(text)
		if err != nil {
			return fmt.Errorf("--change: %w", err)
		}
		candidates = append(candidates, c)
	}
	var book rank.Book
	if f.journal != "" {
		journal, err := rank.OpenJournal(f.journal)
		if err != nil {
			return err
		}
		defer func() { fault = errors.Join(fault, journal.Close()) }()
		book = journal
	}
	memory := rank.NewMemory(book)
	ready, err := p.prepareAll(files, f)
	if err != nil {
		return err
	}
	b := build()
	program := b.Version + " " + b.Revision
	out := rankings{Hives: []ranking{}}
	var questions []rank.Question
	for i, r := range ready {
		q := r.Question(memory, program)
		q.Changes, q.Prices = candidates, table
		q.Most, q.Hives, q.Years, q.Draws, q.Screen = f.q.Most, f.q.Hives, f.q.Years, f.q.Draws, f.q.Screen
		q.Variants, q.Leaders, q.Workers, q.Budget, q.Hours = f.q.Variants, f.q.Leaders, f.q.Workers, f.q.Budget, f.work
		questions = append(questions, q)
		out.Hives = append(out.Hives, ranking{File: files[i], Weather: r.Weather, From: ledger.Date{Time: r.From}, To: ledger.Date{Time: r.To}, Years: r.Years, Notes: append([]string{}, r.Notes...)})
	}
	g := p.newProgress("ranking", 1)
	defer g.end()
	told := func(stage string, done, total int) { g.tell(fmt.Sprintf("%s: %d of %d", stage, done, total)) }
	var yard *rank.Yard
	if len(questions) == 1 && all == 0 {
		out.Hives[0].Answer, err = rank.Rank(ctx, questions[0], told)
	} else if yard, err = rank.RankYard(ctx, questions, all, f.q.Workers, told); err == nil {
		for i := range yard.Hives {
			out.Hives[i].Answer = &yard.Hives[i]
		}
		out.Yard = &yardPlan{yard.Plan, yard.Currency, yard.Budget, yard.Cost, yard.Net}
	}
	if err != nil {
		if f.journal != "" && ctx.Err() != nil {
			made, _ := memory.Counts()
			fmt.Fprintf(p.stderr, "hackle: %d runs are kept in %s; the same command goes on from there\n", made, f.journal)
		}
		return err
	}
	g.end()
	out.Runs.Made, out.Runs.Reused = memory.Counts()
	return p.write(out, func(b *bytes.Buffer) error {
		if yard != nil {
			advice.WriteYard(b, yard, table)
			fmt.Fprintf(b, "\nRuns made: %d, reused: %d. --json has the ranking of every hive.\n", out.Runs.Made, out.Runs.Reused)
			return nil
		}
		h := out.Hives[0]
		advice.WriteRanking(b, h.Answer, table, p.system())
		b.WriteString(ledger.Wrap(fmt.Sprintf("Weather: %s, %s; years drawn from: %d. Runs made: %d, reused: %d.", h.Weather.Name, answer.Period(h.From.Time, h.To.Time), h.Years, out.Runs.Made, out.Runs.Reused), "", ledger.Width))
		writeNotes(b, h.Notes)
		return nil
	})
}

// nearestWeather asks for the built-in year nearest to each site.
const nearestWeather = "nearest"

// prepareAll reads the hives and their weather, each weather once.
func (p *program) prepareAll(files []string, f *rankFlags) ([]advice.Ready, error) {
	weather := make(map[string]*climate.Series)
	load := func(name string) (*climate.Series, error) {
		if w := weather[name]; w != nil {
			return w, nil
		}
		w, err := climate.Load(name)
		if err == nil {
			weather[name] = w
		}
		return w, err
	}
	var out []advice.Ready
	for _, file := range files {
		plan, notes, err := loadHive(file)
		if err != nil {
			return nil, err
		}
		if err := f.season.apply(&plan); err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		name := f.season.weather
		switch {
		case name == "":
			_, err := loadWeather("", plan.Site)
			return nil, err
		case name == nearestWeather:
			if !plan.Site.HasPlace {
				return nil, fmt.Errorf("%s: --weather nearest needs latitude, longitude and height of the site", file)
			}
			m, err := climate.Nearest(plan.Site.Latitude, plan.Site.Longitude, plan.Site.Height)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", file, err)
			}
			name = m.Site.Name
		}
		w, err := load(name)
		if err != nil {
			return nil, err
		}
		r, err := advice.Prepare(advice.Ask{Plan: plan, Weather: []*climate.Series{w}, Days: f.season.days(), Years: f.weatherYears, Draws: f.q.Draws, Seed: f.seed, Units: p.system()})
		if err != nil {
			return nil, fmt.Errorf("%s: %w", file, byFlags(err))
		}
		r.Notes = append(notes, r.Notes...)
		out = append(out, r)
	}
	return out, nil
}
