package cli

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"hackle/climate"
	"hackle/internal/answer"
	"hackle/ledger"
	"hackle/quantity"
)

// yearsDrawn is the JSON of resampled years.
type yearsDrawn struct {
	Source string                 `json:"source"`
	Seed   uint64                 `json:"seed"`
	Block  int                    `json:"block_days"`
	Years  []yearDrawn            `json:"years"`
	Notes  []answer.WeatherRepair `json:"notes"`
	Files  []string               `json:"files"`
}

type yearDrawn struct {
	File        string        `json:"file"` // "" when each year was not written
	From        time.Time     `json:"from"`
	To          time.Time     `json:"to"` // end of the last hour
	MeanC       float64       `json:"mean_c"`
	DegreeDays  float64       `json:"heating_degree_days_kd"`
	ColdestWeek climate.Spell `json:"coldest_week"`
	HottestWeek climate.Spell `json:"hottest_week"`
	Confinement climate.Spell `json:"confinement"`
	FlyingDays  int           `json:"flying_days"`
	series      *climate.Series
}

func (p *program) weatherYears() *cobra.Command {
	var seed uint64
	count, block := 10, 30
	var dir string
	var out weatherOut
	c := p.command(&cobra.Command{
		Use:   "years W...",
		Short: "Draw many years from the years of a record",
		Long: `Draw many years of weather from the real years of a record, by blocks of days: each
block is copied from the same days of a year drawn at random, so that seasons stay in
place and spells up to the block's length stay whole. Where two years meet, the step
is spread over a day on either side. Several files count as one record when they are
of one place; each typical year counts as one year. Two years are the least, ten and
more are worth the drawing. The same --seed draws the same years.

Each year drawn runs from July to June, so that it holds a winter whole; south of the
equator from January to December. Their dates count from 2001 and mean nothing.
--out-dir writes each year into a file of its own, winter-01.csv and so on; --out
writes all of them, one after another, into one.

No day is hotter or colder than in the record; see hackle weather spell.`,
		Example: `  hackle weather years de-bilt.csv --count 20
  hackle weather years de-bilt.csv --count 50 --seed 7 --out-dir winters
  hackle weather years 2021.epw 2022.epw 2023.epw --block 15 --out many.csv`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return errors.New("at least one weather file is wanted, none given")
			}
			if count < 1 || count > 199 {
				return fmt.Errorf("--count %d, accepted: 1 to 199", count)
			}
			if err := out.check(args...); err != nil {
				return err
			}
			var record []*climate.Series
			for _, name := range args {
				w, err := openWeather(name)
				if err != nil {
					return err
				}
				record = append(record, w)
			}
			drawn, err := drawYears(record, block, seed, count)
			if err != nil {
				return err
			}
			if dir != "" {
				if drawn.Files, err = drawn.write(cmd, dir, out.force, args); err != nil {
					return err
				}
			}
			if out.path != "" {
				made, err := out.write(drawn.whole)
				if err != nil {
					return err
				}
				drawn.Files = append(drawn.Files, made.Files...)
			}
			return p.write(drawn.yearsDrawn, func(b *bytes.Buffer) error { drawn.text(b, p.system()); return nil })
		},
	})
	c.Flags().IntVar(&count, "count", count, "years to draw, at most 199")
	c.Flags().IntVar(&block, "block", block, "days that stay together, 2 to 365")
	c.Flags().Uint64Var(&seed, "seed", 1, "where chance begins")
	c.Flags().StringVar(&dir, "out-dir", "", "write each year into a file in this `folder`")
	out.flags(c)
	return c
}

// drawing is what was drawn, with its weather.
type drawing struct {
	yearsDrawn
	whole *climate.Series
}

// drawYears draws years and cuts them where no winter is.
func drawYears(record []*climate.Series, block int, seed uint64, count int) (*drawing, error) {
	north := record[0].Latitude >= 0
	calendar := count
	if north {
		calendar++ // half a year at either end is cut off
	}
	w, err := climate.Resample(record, block, seed, calendar)
	if err != nil {
		return nil, err
	}
	d := &drawing{yearsDrawn: yearsDrawn{Source: w.Source, Seed: seed, Block: block, Years: []yearDrawn{}, Notes: []answer.WeatherRepair{}, Files: []string{}}}
	for _, r := range w.Repairs {
		d.Notes = append(d.Notes, answer.WeatherRepair(r))
	}
	begin := w.Start
	if north {
		begin = begin.AddDate(0, 6, 0)
	}
	if d.whole, err = w.Window(begin, begin.AddDate(count, 0, 0)); err != nil {
		return nil, internal(err)
	}
	for i := range count {
		y, err := w.Window(begin.AddDate(i, 0, 0), begin.AddDate(i+1, 0, 0))
		if err != nil {
			return nil, internal(err)
		}
		s := y.Summary()
		d.Years = append(d.Years, yearDrawn{From: y.Start, To: y.End(), MeanC: s.Whole.MeanC, DegreeDays: s.HeatingDegreeDaysKD, ColdestWeek: s.ColdestWeek,
			HottestWeek: s.HottestWeek, Confinement: s.Confinement, FlyingDays: s.Whole.FlyingDays, series: y})
	}
	return d, nil
}

// write writes each year into a file: all of them or none.
func (d *drawing) write(cmd *cobra.Command, dir string, force bool, from []string) (files []string, err error) {
	name := func(i int) string { return filepath.Join(dir, fmt.Sprintf("winter-%02d.csv", i+1)) }
	for i := range d.Years {
		o := weatherOut{path: name(i), force: force}
		if err := o.check(from...); err != nil {
			return nil, err
		}
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("cannot write into %s: %w", dir, err)
	}
	defer func() {
		if err != nil && !force { // nothing was there before: take back what was written
			for _, f := range files {
				os.Remove(f)
			}
		}
	}()
	for i := range d.Years {
		if err := cmd.Context().Err(); err != nil {
			return files, err
		}
		written, err := writeWeather(name(i), d.Years[i].series)
		if err != nil {
			return files, err
		}
		files = append(files, written...)
		d.Years[i].File = name(i)
	}
	return files, nil
}

// shownYears is how many years are printed.
const shownYears = 40

func (d *drawing) text(b *bytes.Buffer, system quantity.System) {
	temp := func(v float64) string { return quantity.Format(v, quantity.Temperature, system) }
	b.WriteString(ledger.Wrap(fmt.Sprintf("%s: %s.", plural(len(d.Years), "year", "years"), d.Source), "", ledger.Width))
	fmt.Fprintf(b, "\n%-12s%9s%13s%13s%13s%12s%8s\n", "year from", "mean", "degree-days", "coldest week", "hottest week", "no flight", "flying")
	for i, y := range d.Years {
		if i == shownYears {
			fmt.Fprintf(b, "… and %d more; --json lists all\n", len(d.Years)-shownYears)
			break
		}
		fmt.Fprintf(b, "%-12s%9s%13s%13s%13s%12s%8s\n", y.From.Format("Jan 2006"), temp(y.MeanC), degreeDays(y.DegreeDays, system), temp(y.ColdestWeek.MeanC), temp(y.HottestWeek.MeanC),
			fmt.Sprintf("%d d", y.Confinement.Days), fmt.Sprintf("%d d", y.FlyingDays))
	}
	b.WriteString("\n")
	b.WriteString(ledger.Wrap(fmt.Sprintf("Degree-days are below %s; no flight is the longest run of days below %s.", temp(climate.HeatingBase), temp(climate.FlightTemp)), "", ledger.Width))
	for _, n := range d.Notes {
		item(b, n.Found+": "+n.Done)
	}
	switch n := len(d.Files); {
	case n == 0:
		b.WriteString("\nNothing was written; --out-dir winters keeps each year, --out many.csv all.\n")
	case n > 6:
		fmt.Fprintf(b, "\nWritten: %d files, %s to %s\n", n, d.Files[0], d.Files[n-1])
	default:
		tellWritten(b, d.Files)
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// spellBuilt is the JSON of a hot spell or cold snap.
type spellBuilt struct {
	Kind        string    `json:"kind"` // hot or cold
	Days        int       `json:"days"`
	ReturnYears float64   `json:"return_years"`
	Level       float64   `json:"mean_c"`
	Low         *float64  `json:"low_95_percent_c"`  // null: the record leaves this end open
	High        *float64  `json:"high_95_percent_c"` // likewise
	RecordYears int       `json:"record_years"`
	Analogue    float64   `json:"analogue_mean_c"`
	Moved       float64   `json:"analogue_moved_k"`
	First       time.Time `json:"first"`
	From        time.Time `json:"from"` // of the weather, with the days that lead in and out
	To          time.Time `json:"to"`
	// Fit is the distribution of the years' highest means; of a cold snap, of the
	// negatives of the lowest.
	Fit struct {
		Location float64 `json:"location_c"`
		Scale    float64 `json:"scale_k"`
		Shape    float64 `json:"shape"`
	} `json:"fit"`
	Warnings []string `json:"warnings"`
	Files    []string `json:"files"`
}

func (p *program) weatherSpell() *cobra.Command {
	var hot, cold bool
	days, years := 7, 10.0
	var out weatherOut
	c := p.command(&cobra.Command{
		Use:   "spell W --hot|--cold --days 3 --return 20",
		Short: "Build the hot spell or cold snap that comes once in so many years",
		Long: `Build the hot spell or cold snap of a number of days whose mean temperature is passed
once in --return years on average. From each year of a record it takes the most
extreme run of days, fits the generalized extreme value distribution by maximum
likelihood, and reads the level with its 95 % interval (profile likelihood). The
record's own spell that comes nearest is moved to that level, with a week before and
after it.

W is a record of at least ten whole years; twenty or more are better. Typical and made
years know no extremes. --out writes the hours, to run a hive through them.`,
		Example: `  hackle weather spell de-bilt.csv --hot --days 3 --return 20
  hackle weather spell de-bilt.csv --cold --days 14 --return 30 --out snap.csv
  hackle year my-hive.yaml --weather snap.csv --from 2012-01-26 --to 2012-02-20`,
		RunE: func(_ *cobra.Command, args []string) error {
			if err := exactly(args, 1, "one weather file"); err != nil {
				return err
			}
			if hot == cold {
				return errors.New("which spell? Give --hot or --cold")
			}
			if err := out.check(args[0]); err != nil {
				return err
			}
			w, err := openWeather(args[0])
			if err != nil {
				return err
			}
			if w.Typical {
				return fmt.Errorf("%s is a typical year, which knows no extremes: give a record of ten years or more", args[0])
			}
			build, kind := climate.HotSpell, "hot"
			if cold {
				build, kind = climate.ColdSnap, "cold"
			}
			e, err := build(w, days, years)
			if err != nil {
				return err
			}
			made, err := out.write(e.Weather)
			if err != nil {
				return err
			}
			s := spellBuilt{Kind: kind, Days: e.Days, ReturnYears: e.ReturnYears, Level: e.Mean, Low: bounded(e.Low), High: bounded(e.High), RecordYears: e.Years,
				Analogue: e.Analogue, Moved: e.Moved, First: e.First, From: e.Weather.Start, To: e.Weather.End(), Warnings: append([]string{}, e.Warnings...), Files: made.Files}
			s.Fit.Location, s.Fit.Scale, s.Fit.Shape = e.Fit.Location, e.Fit.Scale, e.Fit.Shape
			return p.write(s, func(b *bytes.Buffer) error { s.text(b, p.system()); return nil })
		},
	})
	c.Flags().BoolVar(&hot, "hot", false, "the hottest days")
	c.Flags().BoolVar(&cold, "cold", false, "the coldest days")
	c.Flags().IntVar(&days, "days", days, "length of the spell, 1 to 60")
	c.Flags().Float64Var(&years, "return", years, "`years` between two such spells on average, up to 20 times the record")
	out.flags(c)
	return c
}

func (s *spellBuilt) text(b *bytes.Buffer, system quantity.System) {
	temp := func(v float64) string { return quantity.Format(v, quantity.Temperature, system) }
	name, passed := "hot spell", "or more"
	if s.Kind == "cold" {
		name, passed = "cold snap", "or less"
	}
	b.WriteString(ledger.Wrap(fmt.Sprintf("A %s of %s with %s %s on the mean comes once in %.4g years, on average.", name, plural(s.Days, "day", "days"), temp(s.Level), passed, s.ReturnYears), "", ledger.Width))
	b.WriteString("\n")
	var interval string
	switch {
	case s.Low == nil && s.High == nil:
		interval = "open at both ends"
	case s.Low == nil:
		interval = "up to " + temp(*s.High) + ", open below"
	case s.High == nil:
		interval = "from " + temp(*s.Low) + " on, open above"
	default:
		interval = "between " + temp(*s.Low) + " and " + temp(*s.High)
	}
	label(b, "95 % interval", interval)
	label(b, "record", plural(s.RecordYears, "whole year", "whole years"))
	moved := quantity.Format(math.Abs(s.Moved), quantity.TemperatureDifference, system) + " up"
	if s.Moved < 0 {
		moved = quantity.Format(-s.Moved, quantity.TemperatureDifference, system) + " down"
	}
	last := s.First.AddDate(0, 0, s.Days-1)
	when := s.First.Format("2 January 2006")
	if s.Days > 1 {
		when = answer.Period(s.First, last)
	}
	label(b, "built from", fmt.Sprintf("%s, %s on the mean, moved %s", when, temp(s.Analogue), moved))
	label(b, "hours", "those of "+answer.Period(s.From, s.To.Add(-time.Hour)))
	for _, w := range s.Warnings {
		item(b, w)
	}
	if len(s.Files) == 0 {
		b.WriteString("\nNothing was written; --out spell.csv keeps the hours.\n")
	}
	tellWritten(b, s.Files)
}

func (p *program) weatherShift() *cobra.Command {
	var by deltas
	humidity := "relative"
	var out weatherOut
	c := p.command(&cobra.Command{
		Use:   "shift W --by 2K",
		Short: "Move weather to a warmer or colder climate",
		Long: `Move weather to a warmer climate, or a colder one, by a difference of temperature for
the year or by twelve, January first, which join smoothly. Relative humidity stays,
so that warmer air holds more vapour, or with --humidity vapour its vapour does. The
sky's long wave follows. Sun, wind, rain and snow stay, and so does how days differ:
a changed climate may alter these as well, of which nothing is known here.

Projections for a region and decade are published by weather services.`,
		Example: `  hackle weather shift burlington-vt --by 2K --out warm.epw
  hackle weather shift yard.csv --by 3.6F --humidity vapour
  hackle weather shift yard.epw --by 3K,3K,2.5K,2K,2K,2K,2K,2K,2K,2.5K,2.5K,3K --out 2050.epw`,
		RunE: func(_ *cobra.Command, args []string) error {
			if err := exactly(args, 1, "one weather file or built-in name"); err != nil {
				return err
			}
			if !by.given {
				return errors.New("by how much? Give --by with one difference, such as 2K, or twelve with commas between")
			}
			var rule climate.HumidityRule
			switch humidity {
			case "relative":
				rule = climate.KeepRelative
			case "vapour":
				rule = climate.KeepVapour
			default:
				return fmt.Errorf("--humidity %q, accepted: relative or vapour", humidity)
			}
			if err := out.check(args[0]); err != nil {
				return err
			}
			w, err := openWeather(args[0])
			if err != nil {
				return err
			}
			if w, err = w.Shift(by.values, climate.ShiftOptions{Humidity: rule}); err != nil {
				return err
			}
			return p.madeWeather(&out, w)
		},
	})
	c.Flags().Var(&by, "by", "how much warmer, such as 2K or 3.6F; one or twelve")
	c.Flags().StringVar(&humidity, "humidity", humidity, "what stays: `relative|vapour`")
	out.flags(c)
	return c
}
