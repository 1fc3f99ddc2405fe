package cli

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hackle/climate"
	"hackle/internal/answer"
	"hackle/ledger"
	"hackle/quantity"
)

func (p *program) weatherCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "weather",
		Short: "Look at weather, make it, move it to a yard, stretch it over many years",
		Long: `Get hourly weather to run hives in: look at what there is, make it from monthly
normals or daily records, move it to a yard's height and shelter, draw many years
from a record, build a hot spell or cold snap, warm a climate, or fetch the past
and the forecast from an open service. Only fetch uses a network.

Weather is written in two forms: NAME.csv with a column map NAME.csv.map.yaml
beside it, or NAME.epw, the EPW layout. Both hold hours with dates, or a typical
year, which has no dates and repeats. Either is then weather for
--weather, and for every command here that takes weather.`,
		Example: `  hackle weather show burlington-vt
  hackle weather near --latitude 44.3 --longitude -72.6 --height 300m --out yard.epw
  hackle year my-hive.yaml --weather yard.epw`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(p.weatherShow(), p.weatherList(), p.weatherNear(), p.weatherAt(), p.weatherNormals(), p.weatherMake(), p.weatherDaily(),
		p.weatherYears(), p.weatherSpell(), p.weatherShift(), p.weatherFetch())
	return c
}

func (p *program) weatherShow() *cobra.Command {
	var from, to dayFlag
	var picture string
	var force bool
	flight := amount{kind: quantity.Temperature}
	show := p.command(&cobra.Command{
		Use:   "show W",
		Short: "Summarise weather, and tell what was repaired or is doubtful",
		Long: `Summarise a weather file or a built-in year: monthly means, degree-days, days and
hours of flight, frost, rain and snow, coldest and hottest week, design
temperatures and dew points, the spells without flight, and what is missing, was
repaired or is doubtful. Read the last part before you trust a file.

W is a file in the EPW layout, a CSV file with a column map beside it, or the name
of a built-in year (hackle weather list). --from and --to choose days; both count
whole. Bees are taken to fly on days that reach 10 °C, or what --flight says.
--picture draws the year, as SVG or, into a file that ends in .png, as PNG.`,
		Example: `  hackle weather show burlington-vt
  hackle weather show yard.epw --from 2025-10-01 --to 2026-04-15
  hackle weather show yard.csv --flight 54F --units us
  hackle weather show chicago-il --picture chicago.svg
  hackle weather show chicago-il --json`,
		RunE: func(_ *cobra.Command, args []string) error {
			if err := exactly(args, 1, "one weather file or built-in name"); err != nil {
				return err
			}
			if picture != "" {
				if err := pictureName("--picture", picture); err != nil {
					return err
				}
				if err := free(picture, force); err != nil {
					return err
				}
			}
			w, err := openWeather(args[0])
			if err != nil {
				return err
			}
			if from.given || to.given {
				if w, err = cutWeather(w, from, to); err != nil {
					return err
				}
			}
			if !flight.given {
				flight.value = climate.FlightTemp
			}
			made := weatherMade{shownAt(w, flight.value), []string{}, []string{}}
			if picture != "" {
				var b bytes.Buffer
				if err := climate.Picture(&b, w, climate.PictureOptions{Flight: flight.value, Units: p.system()}); err != nil {
					return err
				}
				drawn, err := inFormatOf(picture, b.Bytes())
				if err != nil {
					return err
				}
				if err := writeBytes(picture, drawn); err != nil {
					return err
				}
				made.Files = append(made.Files, picture)
			}
			return p.write(made, func(b *bytes.Buffer) error {
				made.text(b, p.system())
				made.written(b)
				return nil
			})
		},
	})
	show.Flags().Var(&from, "from", "first `day`, such as 2025-10-01")
	show.Flags().Var(&to, "to", "last `day`, which counts")
	show.Flags().Var(&flight, "flight", "air `temperature` from which bees fly, with unit (default 10 °C)")
	show.Flags().StringVar(&picture, "picture", "", "draw the year into this SVG or PNG `file`")
	show.Flags().BoolVar(&force, "force", false, "replace the picture when it is there")
	return show
}

func (p *program) weatherList() *cobra.Command {
	var notice bool
	all := p.command(&cobra.Command{
		Use:     "list",
		Aliases: []string{"sites"},
		Short:   "List the built-in years",
		Long: `List the built-in years with what each rests on: a typical year of a public data
base, or hours made from monthly normals that were computed from a record, or
read in published tables in part and else written down from memory. --sources adds where each comes from; --notice prints
the terms under which they may be passed on.`,
		Example: "  hackle weather list\n  hackle weather sites --sources\n  hackle weather list --notice\n  hackle weather list --json",
		Args:    cobra.NoArgs,
	})
	var sources bool
	all.RunE = func(*cobra.Command, []string) error {
		sites, err := climate.Sites()
		if err != nil {
			return internal(err)
		}
		known := answer.Sites{Sites: []answer.Site{}, Notice: climate.BuiltinNotice()}
		for _, s := range sites {
			known.Sites = append(known.Sites, answer.SiteOf(s))
		}
		return p.write(known, func(b *bytes.Buffer) error {
			if notice {
				b.WriteString(known.Notice)
				return nil
			}
			const indent = "                    "
			for _, s := range known.Sites {
				text := ledger.Wrap(fmt.Sprintf("%s; %s (%s)", s.Place, s.Climate, s.Basis), indent, ledger.Width)
				fmt.Fprintf(b, "%-*s%s", len(indent), s.Name, strings.TrimPrefix(text, indent))
				if sources {
					told := fmt.Sprintf("%s, %s, %s above the sea. %s", degrees(s.Latitude, "N", "S"), degrees(s.Longitude, "E", "W"), quantity.Format(s.Height, quantity.Length, p.system()), s.Source)
					if s.Note != "" {
						told += ". " + s.Note
					}
					b.WriteString(ledger.Wrap(told, indent, ledger.Width))
				}
			}
			return nil
		})
	}
	all.Flags().BoolVar(&notice, "notice", false, "print sources and terms")
	all.Flags().BoolVar(&sources, "sources", false, "add place and source of each")
	return all
}

// cutWeather takes the days from first to last; an end that was not given is the
// weather's own, in a typical year that of answer.TypicalYear.
func cutWeather(w *climate.Series, from, to dayFlag) (*climate.Series, error) {
	year := w.Start.Year()
	if w.Typical {
		year = answer.TypicalYear
	}
	if !w.Typical && from.given && from.day.Year == 0 && answer.DayIn(from.day, year, w.Location()).Before(w.Start) {
		year++
	}
	first := w.Start
	if w.Typical {
		first = time.Date(answer.TypicalYear, 1, 1, 0, 0, 0, 0, w.Location())
		if to.given && to.day.Year != 0 {
			first = time.Date(to.day.Year, 1, 1, 0, 0, 0, 0, w.Location())
		}
	}
	if from.given {
		first = answer.DayIn(from.day, year, w.Location())
	}
	end := w.End()
	if w.Typical {
		end = time.Date(first.Year()+1, 1, 1, 0, 0, 0, 0, w.Location())
	}
	if to.given {
		last := answer.DayIn(to.day, first.Year(), w.Location())
		if to.day.Year == 0 && last.Before(first) {
			last = answer.DayIn(to.day, first.Year()+1, w.Location())
		}
		if last.Before(first) {
			return nil, fmt.Errorf("--to %s lies before %s", last.Format(time.DateOnly), first.Format(time.DateOnly))
		}
		end = last.AddDate(0, 0, 1)
	}
	return w.Window(first, end)
}

// degrees writes a coordinate with the letter of its side.
func degrees(v float64, positive, negative string) string {
	if v < 0 {
		return fmt.Sprintf("%.2f° %s", -v, negative)
	}
	return fmt.Sprintf("%.2f° %s", v, positive)
}
