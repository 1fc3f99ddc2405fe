package cli

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hackle/almanac"
	"hackle/climate"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/ledger"
	"hackle/quantity"
)

// calendarFlags say what a calendar is made from and where it goes.
type calendarFlags struct {
	season   seasonFlags
	today    dayFlag
	forecast string
	ics      string
	strip    string
	noRun    bool
}

func (p *program) calendarCommand() *cobra.Command {
	var f calendarFlags
	c := p.command(&cobra.Command{
		Use:   "calendar FILE --weather W",
		Short: "Make the dated plan of the coming year for a hive",
		Long: `Make a dated plan of the coming twelve months for the hive of a hive file: last
day for syrup, weighing, entrances and mouse guards, wrap and vents, the look after
the first long frost, first cleansing flight, spring water, unwrapping (not before),
frames, supers, shade before the usual hot spell, days warm enough for mite
treatments (the label decides), and the hive file's own dates. Each has its reason
and says between which days it falls in eight years of ten.

The dates come from the weather. A record of several years tells how far they move;
from one typical year, further years are made. The hive is run through a year first,
so that amounts of honey, water and danger to combs stand in the reasons; --no-run
leaves that out.

--forecast adds warnings of the coming days from an hourly file, such as hackle
weather fetch writes. --ics writes a file that calendar programs import; importing
a later one again updates the old entries. --strip draws the year to pin up.`,
		Example: `  hackle calendar my-hive.yaml --weather burlington-vt
  hackle calendar my-hive.yaml --weather burlington-vt --ics bees.ics --strip year.svg
  hackle calendar my-hive.yaml --weather yard-20-years.csv --forecast coming.csv
  hackle calendar my-hive.yaml --weather burlington-vt --today 2026-08-20 --json`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := exactly(args, 1, "one hive file"); err != nil {
				return err
			}
			return p.calendar(cmd.Context(), args[0], &f)
		},
	})
	c.Flags().StringVarP(&f.season.weather, "weather", "w", "", "weather: a file in the EPW layout, a CSV file with a column map, or a built-in year")
	f.season.honey.kind = quantity.Mass
	c.Flags().StringVar(&f.season.bees, "bees", "", "adult bees on the first day, such as 2kg or \"8 frames\", in place of the file's")
	c.Flags().Var(&f.season.honey, "honey", "honey on the first day, such as 25kg, in place of the file's")
	c.Flags().Var(&f.today, "today", "`day` from which the twelve months count, with its year; default: today")
	c.Flags().StringVar(&f.forecast, "forecast", "", "hourly `weather` of the coming days")
	c.Flags().StringVar(&f.ics, "ics", "", "write this iCalendar `file`")
	c.Flags().StringVar(&f.strip, "strip", "", "draw the year into this SVG or PNG `file`")
	c.Flags().BoolVar(&f.noRun, "no-run", false, "do not run the hive: dates by weather alone")
	return c
}

// todayOf is the day asked for, else the clock's.
func todayOf(d dayFlag) (time.Time, error) {
	if !d.given {
		return time.Now(), nil
	}
	if d.day.Year == 0 {
		return time.Time{}, fmt.Errorf("--today %s has no year; such as 2026-08-20", d.day)
	}
	return time.Date(d.day.Year, d.day.Month, d.day.Day, 12, 0, 0, 0, time.UTC), nil
}

// planOfYear makes the calendar of a plan, with a run first unless it is left out.
func (p *program) planOfYear(ctx context.Context, plan hive.Plan, whole *climate.Series, f *calendarFlags) (almanac.Calendar, *ledger.Ledger, []string, error) {
	var none almanac.Calendar
	today, err := todayOf(f.today)
	if err != nil {
		return none, nil, nil, err
	}
	in := almanac.Input{Plan: plan, Weather: whole, Today: today, System: p.system()}
	if f.forecast != "" {
		if in.Forecast, err = climate.Load(f.forecast); err != nil {
			return none, nil, nil, fmt.Errorf("--forecast: %w", err)
		}
	}
	var notes []string
	if !f.noRun {
		set, err := answer.Place([]hive.Plan{plan}, whole, answer.Days{}, p.system())
		if err != nil {
			return none, nil, nil, byFlags(err)
		}
		notes = append(notes, set.Notes...)
		traces, err := p.run(ctx, set, "computing")
		if err != nil {
			return none, nil, nil, err
		}
		l := set.Ledger(0, traces[0])
		in.Ledger = &l
	}
	c, err := almanac.Make(in)
	return c, in.Ledger, notes, err
}

func (p *program) calendar(ctx context.Context, file string, f *calendarFlags) error {
	plan, notes, err := loadHive(file)
	if err != nil {
		return err
	}
	if err := f.season.apply(&plan); err != nil {
		return err
	}
	if err := pictureName("--strip", f.strip); err != nil {
		return err
	}
	whole, err := loadWeather(f.season.weather, plan.Site)
	if err != nil {
		return err
	}
	c, _, more, err := p.planOfYear(ctx, plan, whole, f)
	if err != nil {
		return err
	}
	notes = append(notes, more...)
	var written []string
	if f.ics != "" {
		at, err := todayOf(f.today)
		if err != nil {
			return err
		}
		if !f.today.given {
			at = time.Now()
		}
		if err := writeFile(f.ics, func(w io.Writer) error { return c.WriteICS(w, at) }); err != nil {
			return err
		}
		written = append(written, f.ics)
	}
	if f.strip != "" {
		var svg bytes.Buffer
		if err := c.WriteStrip(&svg); err != nil {
			return internal(err)
		}
		drawn, err := inFormatOf(f.strip, svg.Bytes())
		if err != nil {
			return err
		}
		if err := writeFile(f.strip, func(w io.Writer) error { _, err := w.Write(drawn); return err }); err != nil {
			return err
		}
		written = append(written, f.strip)
	}
	out := struct {
		File string `json:"file"`
		almanac.Calendar
		Written []string `json:"written"`
	}{file, c, append([]string{}, written...)}
	out.Calendar.Notes = append(out.Calendar.Notes, notes...)
	return p.write(out, func(b *bytes.Buffer) error {
		b.WriteString(ledger.Wrap(fmt.Sprintf("The year of %s, %s, from %s. Dates rest on %s.", c.Hive, c.Site, c.From.Format("2 January 2006"), c.Basis), "", ledger.Width))
		for _, e := range c.Entries {
			when := e.Date.Format("2 Jan 2006")
			if !e.Until.IsZero() && e.Until.After(e.Date) {
				when += " to " + e.Until.Format("2 Jan")
			}
			fmt.Fprintf(b, "\n%s\n", strings.TrimSuffix(ledger.Wrap(when+": "+e.Title, "", ledger.Width), "\n"))
			for _, text := range strings.Split(e.Text(), "\n") {
				b.WriteString(ledger.Wrap(text, "    ", ledger.Width))
			}
		}
		b.WriteString("\n")
		for _, path := range written {
			b.WriteString(ledger.Wrap("Written: "+path, "", ledger.Width))
		}
		writeNotes(b, out.Calendar.Notes)
		return nil
	})
}
