package cli

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"time"

	"hackle/climate"
	"hackle/internal/answer"
	"hackle/ledger"
	"hackle/quantity"
)

// weatherShown is the weather of a file that can be written as text.
type weatherShown struct{ answer.Weather }

func shown(w *climate.Series) weatherShown { return shownAt(w, climate.FlightTemp) }

// shownAt summarises weather for bees that fly from an air temperature on [°C].
func shownAt(w *climate.Series, flight float64) weatherShown {
	return weatherShown{answer.Show(w, flight)}
}

// degreeDays writes a sum of temperatures over days [K·d].
func degreeDays(v float64, system quantity.System) string {
	if system == quantity.US {
		return fmt.Sprintf("%.0f °F·d", v*9/5)
	}
	return fmt.Sprintf("%.0f K·d", v)
}

// spellDays names the days of a spell.
func spellDays(p climate.Spell, typical bool) string {
	form := "2 Jan 2006"
	if typical {
		form = "2 Jan"
	}
	if p.Days == 1 {
		return p.First.Format(form)
	}
	return p.First.Format(form) + " to " + p.Last.Format(form)
}

// label writes a line of a list with a label before it.
func label(b *bytes.Buffer, name, text string) {
	indent := strings.Repeat(" ", 26)
	fmt.Fprintf(b, "  %-24s%s", name, strings.TrimPrefix(ledger.Wrap(text, indent, ledger.Width), indent))
}

func (s weatherShown) text(b *bytes.Buffer, system quantity.System) {
	sum := &s.Summary
	kind := "days from " + answer.Period(s.From, s.To.Add(-time.Hour))
	if s.Typical {
		kind = "a typical year, which repeats"
	}
	b.WriteString(ledger.Wrap(s.Name+": "+kind+".", "", ledger.Width))
	b.WriteString(ledger.Wrap(fmt.Sprintf("%s, %s, %s above the sea; %s.", degrees(s.Latitude, "N", "S"), degrees(s.Longitude, "E", "W"), quantity.Format(s.Height, quantity.Length, system), s.Source), "", ledger.Width))
	if sum.Days > 0 {
		s.months(b, system)
		s.counts(b, system)
	}
	s.extremes(b, system)
	s.doubts(b)
}

// years is how many years the whole days make, 1 for less.
func (s weatherShown) years() float64 { return max(float64(s.Summary.Days)/365.25, 1) }

func (s weatherShown) months(b *bytes.Buffer, system quantity.System) {
	temp := func(v float64) string { return quantity.Format(v, quantity.Temperature, system) }
	fmt.Fprintf(b, "\n%-10s%9s%9s%9s%9s%10s%11s%9s\n", "", "mean", "high", "low", "dew p.", "wind", "sun a day", "flying")
	for _, m := range append(append([]climate.MonthMeans{}, s.Summary.Months...), s.Summary.Whole) {
		name := "all"
		if m.Month != 0 {
			name = m.Month.String()
		}
		flying := fmt.Sprintf("%d d", m.FlyingDays)
		if s.years() > 1.01 { // more than the leap day
			length := 365.25
			if m.Month != 0 {
				length = float64(time.Date(answer.TypicalYear, m.Month+1, 0, 0, 0, 0, 0, time.UTC).Day())
			}
			flying = fmt.Sprintf("%.0f d", float64(m.FlyingDays)/float64(m.Days)*length)
		}
		fmt.Fprintf(b, "%-10s%9s%9s%9s%9s%10s%11s%9s\n", name, temp(m.MeanC), temp(m.DailyHighC), temp(m.DailyLowC), temp(m.DewPointC), quantity.Format(m.WindMS, quantity.Speed, system),
			fmt.Sprintf("%.1f kWh/m²", m.SunKWhM2Day), flying)
	}
	b.WriteString("\n")
}

// counts of days and degree-days, a year where there is more than one.
func (s weatherShown) counts(b *bytes.Buffer, system quantity.System) {
	sum := &s.Summary
	temp := func(v float64) string { return quantity.Format(v, quantity.Temperature, system) }
	each := ""
	if s.years() > 1.01 {
		each = " a year"
	}
	label(b, "degree-days"+each, fmt.Sprintf("%s below %s, %s above it, %s above %s", degreeDays(sum.HeatingDegreeDaysKD, system), temp(climate.HeatingBase),
		degreeDays(sum.CoolingDegreeDaysKD, system), degreeDays(sum.GrowingDegreeDaysKD, system), temp(climate.GrowingBase)))
	dry := ""
	if s.HasRain {
		dry = " and without rain"
	}
	label(b, "flight"+each, fmt.Sprintf("%.0f days reach %s; %.0f hours of daylight at it%s", sum.FlyingDays, temp(sum.FlightTempC), sum.FlyingHours, dry))
	label(b, "days"+each, fmt.Sprintf("%.0f with frost, %.0f of them without thaw; %.0f above %s", sum.FrostDays, sum.IceDays, sum.HotDays, temp(30)))
	if s.HasRain {
		label(b, "rain"+each, fmt.Sprintf("%s in %.0f days with it", quantity.Format(sum.RainMM/1000, quantity.Length, system), sum.RainDays))
	}
	if s.HasSnow {
		label(b, "snow"+each, fmt.Sprintf("lies on %.0f days", sum.SnowDays))
	}
}

func (s weatherShown) extremes(b *bytes.Buffer, system quantity.System) {
	sum := &s.Summary
	temp := func(v float64) string { return quantity.Format(v, quantity.Temperature, system) }
	if sum.ColdestWeek.Days > 0 {
		label(b, "coldest week", fmt.Sprintf("%s, %s on the mean, lowest %s", spellDays(sum.ColdestWeek, s.Typical), temp(sum.ColdestWeek.MeanC), temp(sum.ColdestWeek.LowestC)))
		label(b, "hottest week", fmt.Sprintf("%s, %s on the mean, highest %s", spellDays(sum.HottestWeek, s.Typical), temp(sum.HottestWeek.MeanC), temp(sum.HottestWeek.HighestC)))
	}
	label(b, "lowest and highest", temp(sum.LowestC)+" and "+temp(sum.HighestC))
	label(b, "99 % of hours above", temp(sum.Exceeded99C)+", 99.6 % above "+temp(sum.Exceeded996C))
	label(b, "1 % of hours above", temp(sum.Exceeded1C)+", 0.4 % above "+temp(sum.Exceeded04C))
	if sum.Days > 0 {
		label(b, "dew point", fmt.Sprintf("99 %% of hours above %s, 1 %% above %s, 0.4 %% above %s", temp(sum.DewExceeded99C), temp(sum.DewExceeded1C), temp(sum.DewExceeded04C)))
	}
	if sum.Confinement.Days > 0 {
		label(b, "longest without flight", fmt.Sprintf("%s, %d days below %s", spellDays(sum.Confinement, s.Typical), sum.Confinement.Days, temp(sum.FlightTempC)))
	}
	if more := sum.Confinements; len(more) > 1 {
		var told []string
		for _, c := range more[1:] {
			told = append(told, fmt.Sprintf("%s (%d d)", spellDays(c, s.Typical), c.Days))
		}
		label(b, "next, of a week or more", strings.Join(told, ", "))
	}
}

// mostRepairs is how many repairs of single lines are printed.
const mostRepairs = 20

func (s weatherShown) doubts(b *bytes.Buffer) {
	said := map[string]bool{}
	if doubts := s.Summary.Doubts; len(doubts) > 0 {
		b.WriteString("\nAssumed, missing or doubtful:\n")
		for _, d := range doubts {
			said[d.What+": "+d.Why] = true
			item(b, d.What+": "+d.Why)
		}
	}
	var lines []answer.WeatherRepair
	for _, r := range s.Repairs {
		if r.Line > 0 && !said[r.Field+": "+r.Found+": "+r.Done] {
			lines = append(lines, r)
		}
	}
	switch {
	case len(lines) > 0:
		fmt.Fprintf(b, "\nRepaired or doubtful (%d):\n", len(lines))
		for i, r := range lines {
			if i == mostRepairs {
				fmt.Fprintf(b, "  … and %d more; --json lists all\n", len(lines)-mostRepairs)
				break
			}
			item(b, fmt.Sprintf("line %d, %s: %s; %s", r.Line, r.Field, r.Found, r.Done))
		}
	case len(said) == 0:
		b.WriteString("\nNothing was repaired and nothing looks doubtful.\n")
	}
}

// item writes an item of a list with its lines set in.
func item(b *bytes.Buffer, text string) {
	const indent = "    "
	fmt.Fprintf(b, "  - %s", strings.TrimPrefix(ledger.Wrap(text, indent, ledger.Width), indent))
}

// weatherMade is the JSON of weather that a command made, with the files written.
type weatherMade struct {
	weatherShown
	Files []string `json:"files"`
	Notes []string `json:"notes"` // what the files do not carry
}

// written tells which files were written, if any.
func (m weatherMade) written(b *bytes.Buffer) {
	tellWritten(b, m.Files)
	for _, n := range m.Notes {
		item(b, n)
	}
}

func tellWritten(b *bytes.Buffer, files []string) {
	if len(files) > 0 {
		b.WriteString("\n" + ledger.Wrap("Written: "+strings.Join(files, ", "), "", ledger.Width))
	}
}

// bounded is a number for JSON, which has no infinity.
func bounded(v float64) *float64 {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return nil
	}
	return &v
}
