package cli

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hackle/climate"
	"hackle/ledger"
	"hackle/quantity"
)

// weatherShown is the JSON of a weather file.
type weatherShown struct {
	Name      string          `json:"name"`
	Source    string          `json:"source"`
	Latitude  float64         `json:"latitude_deg"`
	Longitude float64         `json:"longitude_deg"`
	Height    float64         `json:"height_m"`
	ZoneHours float64         `json:"zone_hours"` // local standard time ahead of UTC
	From      time.Time       `json:"from"`
	To        time.Time       `json:"to"` // end of the last hour
	Typical   bool            `json:"typical"`
	Summary   climate.Summary `json:"summary"`
	Repairs   []weatherRepair `json:"repairs"`
}

// sitesKnown is the JSON of the built-in years.
type sitesKnown struct {
	Sites  []siteKnown `json:"sites"`
	Notice string      `json:"notice"`
}

type siteKnown struct {
	Name      string  `json:"name"`
	Place     string  `json:"place"`
	Climate   string  `json:"climate"`
	Latitude  float64 `json:"latitude_deg"`
	Longitude float64 `json:"longitude_deg"`
	Height    float64 `json:"height_m"`
	Basis     string  `json:"basis"`
	Source    string  `json:"source"`
	Note      string  `json:"note"`
}

type weatherRepair struct {
	Line  int    `json:"line"`
	Field string `json:"field"`
	Found string `json:"found"`
	Done  string `json:"done"`
}

func (p *program) weatherCommand() *cobra.Command {
	c := &cobra.Command{
		Use:     "weather",
		Short:   "Look at weather files and the built-in years",
		Long:    "Look at the weather that hives are run in.",
		Example: "  hackle weather list\n  hackle weather show burlington-vt",
		Args:    cobra.NoArgs,
		RunE:    func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	var from, to dayFlag
	show := p.command(&cobra.Command{
		Use:   "show W",
		Short: "Summarise weather, and tell what was repaired or is doubtful",
		Long: `Summarise a weather file or a built-in year: monthly means, coldest and hottest
week, the longest run of days without flight, and what the reader filled in,
corrected or found doubtful.

W is a file in the EPW layout, a CSV file with a column map beside it, or the name
of a built-in year (hackle weather list). --from and --to choose days; both count
whole.`,
		Example: `  hackle weather show burlington-vt
  hackle weather show yard.epw --from 2025-10-01 --to 2026-04-15
  hackle weather show yard.csv --units us
  hackle weather show chicago-il --json`,
		RunE: func(_ *cobra.Command, args []string) error {
			if err := exactly(args, 1, "one weather file or built-in name"); err != nil {
				return err
			}
			w, err := climate.Load(args[0])
			if err != nil {
				return err
			}
			if from.given || to.given {
				if w, err = cutWeather(w, from, to); err != nil {
					return err
				}
			}
			s := shown(w)
			return p.write(s, func(b *bytes.Buffer) error { s.text(b, p.system()); return nil })
		},
	})
	show.Flags().Var(&from, "from", "first `day`, such as 2025-10-01")
	show.Flags().Var(&to, "to", "last `day`, which counts")
	var notice bool
	all := p.command(&cobra.Command{
		Use:     "list",
		Short:   "List the built-in years",
		Long:    "List the built-in years. --notice prints where they come from and the terms under\nwhich they may be passed on.",
		Example: "  hackle weather list\n  hackle weather list --notice\n  hackle weather list --json",
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			sites, err := climate.Sites()
			if err != nil {
				return internal(err)
			}
			known := sitesKnown{Sites: []siteKnown{}, Notice: climate.BuiltinNotice()}
			for _, s := range sites {
				known.Sites = append(known.Sites, siteKnown{s.Name, s.Place, s.Climate, s.Latitude, s.Longitude, s.Height, string(s.Basis), s.Source, s.Note})
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
				}
				return nil
			})
		},
	})
	all.Flags().BoolVar(&notice, "notice", false, "print sources and terms")
	c.AddCommand(show, all)
	return c
}

// cutWeather takes the days from first to last; an end that was not given is the
// weather's own, in a typical year that of typicalYear.
func cutWeather(w *climate.Series, from, to dayFlag) (*climate.Series, error) {
	year := w.Start.Year()
	if w.Typical {
		year = typicalYear
	}
	if !w.Typical && from.given && from.day.Year == 0 && dayIn(from.day, year, w.Location()).Before(w.Start) {
		year++
	}
	first := w.Start
	if w.Typical {
		first = time.Date(typicalYear, 1, 1, 0, 0, 0, 0, w.Location())
		if to.given && to.day.Year != 0 {
			first = time.Date(to.day.Year, 1, 1, 0, 0, 0, 0, w.Location())
		}
	}
	if from.given {
		first = dayIn(from.day, year, w.Location())
	}
	end := w.End()
	if w.Typical {
		end = time.Date(first.Year()+1, 1, 1, 0, 0, 0, 0, w.Location())
	}
	if to.given {
		last := dayIn(to.day, first.Year(), w.Location())
		if to.day.Year == 0 && last.Before(first) {
			last = dayIn(to.day, first.Year()+1, w.Location())
		}
		if last.Before(first) {
			return nil, fmt.Errorf("--to %s lies before %s", last.Format(time.DateOnly), first.Format(time.DateOnly))
		}
		end = last.AddDate(0, 0, 1)
	}
	return w.Window(first, end)
}

func shown(w *climate.Series) weatherShown {
	s := weatherShown{Name: w.Name, Source: w.Source, Latitude: w.Latitude, Longitude: w.Longitude, Height: w.Height, ZoneHours: w.Zone.Hours(),
		From: w.Start, To: w.End(), Typical: w.Typical, Summary: w.Summary(), Repairs: []weatherRepair{}}
	if s.Summary.Months == nil {
		s.Summary.Months = []climate.MonthMeans{}
	}
	for _, r := range w.Repairs {
		s.Repairs = append(s.Repairs, weatherRepair(r))
	}
	return s
}

// degrees writes a coordinate with the letter of its side.
func degrees(v float64, positive, negative string) string {
	if v < 0 {
		return fmt.Sprintf("%.2f° %s", -v, negative)
	}
	return fmt.Sprintf("%.2f° %s", v, positive)
}

func (s weatherShown) text(b *bytes.Buffer, system quantity.System) {
	temp := func(v float64) string { return quantity.Format(v, quantity.Temperature, system) }
	wind := func(v float64) string { return quantity.Format(v, quantity.Speed, system) }
	days := func(p climate.Spell, typical bool) string {
		form := "2 Jan 2006"
		if typical {
			form = "2 Jan"
		}
		return p.First.Format(form) + " to " + p.Last.Format(form)
	}
	sum := &s.Summary
	kind := "days from " + periodIn(s.From, s.To.Add(-time.Hour))
	if s.Typical {
		kind = "a typical year, which repeats"
	}
	b.WriteString(ledger.Wrap(s.Name+": "+kind+".", "", ledger.Width))
	b.WriteString(ledger.Wrap(fmt.Sprintf("%s, %s, %s above the sea; %s.", degrees(s.Latitude, "N", "S"), degrees(s.Longitude, "E", "W"), quantity.Format(s.Height, quantity.Length, system), s.Source), "", ledger.Width))
	if sum.Days > 0 {
		fmt.Fprintf(b, "\n%-10s%9s%9s%9s%9s%10s%11s%9s\n", "", "mean", "high", "low", "dew p.", "wind", "sun a day", "flying")
		for _, m := range append(append([]climate.MonthMeans{}, sum.Months...), sum.Whole) {
			name := "all"
			if m.Month != 0 {
				name = m.Month.String()
			}
			fmt.Fprintf(b, "%-10s%9s%9s%9s%9s%10s%11s%9s\n", name, temp(m.MeanC), temp(m.DailyHighC), temp(m.DailyLowC), temp(m.DewPointC), wind(m.WindMS),
				fmt.Sprintf("%.1f kWh/m²", m.SunKWhM2Day), fmt.Sprintf("%d d", m.FlyingDays))
		}
		b.WriteString("\n")
	}
	line := func(label, text string) {
		indent := strings.Repeat(" ", 26)
		fmt.Fprintf(b, "  %-24s%s", label, strings.TrimPrefix(ledger.Wrap(text, indent, ledger.Width), indent))
	}
	if sum.ColdestWeek.Days > 0 {
		line("coldest week", fmt.Sprintf("%s, %s on the mean, lowest %s", days(sum.ColdestWeek, s.Typical), temp(sum.ColdestWeek.MeanC), temp(sum.ColdestWeek.LowestC)))
		line("hottest week", fmt.Sprintf("%s, %s on the mean, highest %s", days(sum.HottestWeek, s.Typical), temp(sum.HottestWeek.MeanC), temp(sum.HottestWeek.HighestC)))
	}
	if sum.Confinement.Days > 0 {
		line("longest without flight", fmt.Sprintf("%s, %d days below %s", days(sum.Confinement, s.Typical), sum.Confinement.Days, temp(climate.FlightTemp)))
	}
	line("lowest and highest", temp(sum.LowestC)+" and "+temp(sum.HighestC))
	line("99 % of hours above", temp(sum.Exceeded99C))
	line("1 % of hours above", temp(sum.Exceeded1C))
	if len(s.Repairs) == 0 {
		b.WriteString("\nNothing was repaired and nothing looks doubtful.\n")
		return
	}
	fmt.Fprintf(b, "\nRepaired or doubtful (%d):\n", len(s.Repairs))
	const most = 20
	for i, r := range s.Repairs {
		if i == most {
			fmt.Fprintf(b, "  … and %d more; --json lists all\n", len(s.Repairs)-most)
			break
		}
		at := ""
		if r.Line > 0 {
			at = fmt.Sprintf("line %d, ", r.Line)
		}
		b.WriteString(ledger.Wrap(fmt.Sprintf("- %s%s: %s; %s", at, r.Field, r.Found, r.Done), "  ", ledger.Width))
	}
}
