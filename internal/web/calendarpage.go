package web

import (
	"bytes"
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"

	"hackle/almanac"
	"hackle/internal/answer"
	"hackle/internal/raster"
)

// calendarPage is the dated plan of the coming year.
type calendarPage struct {
	Sentence string
	Strip    template.HTML
	Soon     []dated
	Months   []datedMonth
	Basis    string
	Notes    []string
}

type datedMonth struct {
	Name    string
	Entries []dated
}

// dated is an entry of the calendar for people.
type dated struct {
	When, Machine, Title, Range, Reason string
	Kind                                almanac.Sort
	Do, Cautions                        []string
	Source                              string
}

// calendarOf makes the calendar of a hive, from its run.
func (v *visit) calendarOf() (*asked, almanac.Calendar, error) {
	a, r, err := v.answered()
	if err != nil {
		return nil, almanac.Calendar{}, err
	}
	c, err := v.calendarFor(a, r)
	return a, c, err
}

// calendarFor makes the calendar of a hive whose run is known.
func (v *visit) calendarFor(a *asked, r *result) (almanac.Calendar, error) {
	today := v.config.Now()
	ahead, err := v.forecastFor(a, today)
	if err != nil {
		return almanac.Calendar{}, err
	}
	key := fmt.Sprintf("%s %s %d %s", a.Key, today.Format(time.DateOnly), v.system, ahead)
	if c, ok := v.shelves.calendars.get(key); ok {
		return c, nil
	}
	whole, err := v.weatherOf(v.context(), a.Yard.Weather)
	if err != nil {
		return almanac.Calendar{}, err
	}
	plan := a.Plan
	if plan.Site.Name == "" {
		plan.Site.Name = a.Yard.Name
	}
	in := almanac.Input{Plan: plan, Weather: whole, Ledger: &r.Ledger, Today: today, System: v.system}
	if ahead != "" {
		if in.Forecast, err = v.weatherOf(v.context(), ahead); err != nil {
			return almanac.Calendar{}, err
		}
	}
	c, err := almanac.Make(in)
	if err != nil {
		return almanac.Calendar{}, refuse("%s", err)
	}
	v.shelves.calendars.put(key, c)
	return c, nil
}

// Kept weather counts as a forecast when it ends within this time from today and
// lies this near to the yard.
const (
	farthestAhead = 20 * 24 * time.Hour
	nearForecast  = 100e3 // [m]
)

// forecastFor is the latest forecast among the weather that is kept, "" for none.
func (v *visit) forecastFor(a *asked, today time.Time) (choice string, err error) {
	kept, err := v.config.Store.Weathers(v.context())
	if err != nil {
		return "", err
	}
	at := a.Set.Weather
	var added time.Time
	for _, w := range kept {
		end := w.Start.Add(time.Duration(w.Hours) * time.Hour)
		if w.Typical || end.Before(today.Add(24*time.Hour)) || end.After(today.Add(farthestAhead)) ||
			answer.Distance(w.Latitude, w.Longitude, at.Latitude, at.Longitude) > nearForecast || choice != "" && !w.Added.After(added) {
			continue
		}
		choice, added = "series:"+string(w.ID), w.Added
	}
	return choice, nil
}

func showCalendar(v *visit) (view, error) {
	a, c, err := v.calendarOf()
	if err != nil {
		return view{}, err
	}
	p := calendarPage{Basis: c.Basis, Notes: c.Notes}
	var strip bytes.Buffer
	if err := c.WriteStrip(&strip); err != nil {
		return view{}, err
	}
	p.Strip = template.HTML(strip.String()) // drawn by us, with every name escaped
	for _, e := range c.Entries {
		d := dated{When: e.Date.Format("2 January"), Machine: e.Date.Format(time.DateOnly), Title: e.Title, Range: e.Range(), Reason: e.Reason, Kind: e.Sort, Do: e.Do, Cautions: e.Cautions, Source: e.Source}
		if e.Until.After(e.Date) {
			d.When += " to " + e.Until.Format("2 January")
		}
		if e.Date.Before(c.From.AddDate(0, 0, 15)) {
			p.Soon = append(p.Soon, d)
		}
		month := e.Date.Format("January 2006")
		if n := len(p.Months); n == 0 || p.Months[n-1].Name != month {
			p.Months = append(p.Months, datedMonth{Name: month})
		}
		last := &p.Months[len(p.Months)-1]
		last.Entries = append(last.Entries, d)
	}
	switch {
	case slices.ContainsFunc(c.Entries, isWarning):
		e := c.Entries[slices.IndexFunc(c.Entries, isWarning)]
		p.Sentence = fmt.Sprintf("%s from %s.", e.Title, e.Date.Format("2 January"))
	case len(p.Soon) > 0:
		p.Sentence = fmt.Sprintf("Next: %s, %s.", lowerFirst(p.Soon[0].Title), p.Soon[0].When)
	case len(c.Entries) > 0:
		e := c.Entries[0]
		p.Sentence = fmt.Sprintf("Nothing is due in the next two weeks. Next: %s, %s.", lowerFirst(e.Title), e.Date.Format("2 January"))
	default:
		p.Sentence = "Nothing is due."
	}
	return view{Title: "Calendar", Place: "yard", Hive: headOf(a), Body: p}, nil
}

func isWarning(e almanac.Entry) bool { return e.Sort == almanac.Warning }

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToLower(string(r[:1])) + string(r[1:])
}

func sendCalendar(v *visit) (view, error) {
	a, c, err := v.calendarOf()
	if err != nil {
		return view{}, err
	}
	var b bytes.Buffer
	if err := c.WriteICS(&b, v.config.Now()); err != nil {
		return view{}, err
	}
	attach(v.w, fileName(a.Hive.Name, ".ics"), "text/calendar; charset=utf-8")
	_, _ = v.w.Write(b.Bytes()) // the reader is gone when this fails
	return view{written: true}, nil
}

func sendStrip(v *visit) (view, error) {
	a, c, err := v.calendarOf()
	if err != nil {
		return view{}, err
	}
	var b bytes.Buffer
	if err := c.WriteStrip(&b); err != nil {
		return view{}, err
	}
	name := fileName(a.Hive.Name, "-year")
	if !strings.HasSuffix(v.request.URL.Path, ".png") {
		attach(v.w, name+".svg", "image/svg+xml")
		_, _ = v.w.Write(b.Bytes())
		return view{written: true}, nil
	}
	var png bytes.Buffer
	if err := raster.PNG(&png, b.Bytes(), 2200); err != nil {
		return view{}, err
	}
	attach(v.w, name+".png", "image/png")
	_, _ = v.w.Write(png.Bytes())
	return view{written: true}, nil
}
