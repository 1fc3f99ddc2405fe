// Package almanac turns a place's weather, a hive and the ledger of its run into a
// dated plan for the coming twelve months: what to do on which day of this site
// and not in which month in general, why, and how far the day moves from year to
// year. With a forecast it adds the coming cold snap or hot spell and what to do
// today.
//
// Make works the plan out; a Calendar writes itself as an iCalendar file that
// calendar programs take in, and as a strip of the year to pin up. Nothing reads
// a clock: the day of today is an input.
package almanac

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hackle/change"
	"hackle/climate"
	"hackle/hive"
	"hackle/ledger"
	"hackle/quantity"
	"hackle/sun"
)

// Sort tells what an entry is.
type Sort string

// The sorts of entry.
const (
	Task    Sort = "task"    // do it by or about the day
	NotYet  Sort = "not yet" // not before the day
	Watch   Sort = "watch"   // look out for it from the day on
	Window  Sort = "window"  // days in which something can be done
	Warning Sort = "warning" // of a forecast
)

// Entry is one line of the calendar.
type Entry struct {
	Key   string    `json:"key"` // stable from export to export
	Sort  Sort      `json:"sort"`
	Title string    `json:"title"`
	Date  time.Time `json:"date"`           // midnight that begins the day, in the site's time
	Until time.Time `json:"until,omitzero"` // last day of a window
	// Early and Late are the range of the day over the years of the weather: in
	// eight of ten years it falls between. Zero for dates that the hive file gives.
	Early    time.Time `json:"early,omitzero"`
	Late     time.Time `json:"late,omitzero"`
	Reason   string    `json:"reason"`
	Do       []string  `json:"do"`
	Cautions []string  `json:"cautions"`
	Source   string    `json:"source"` // of the rule
}

// Calendar is the plan of twelve months.
type Calendar struct {
	Hive    string          `json:"hive"`
	Site    string          `json:"site"`
	From    time.Time       `json:"from"` // today
	To      time.Time       `json:"to"`
	Basis   string          `json:"basis"` // what weather the dates rest on
	Seasons int             `json:"seasons"`
	Entries []Entry         `json:"entries"`
	Notes   []string        `json:"notes"`
	Days    []Climatology   `json:"-"` // of the twelve months, for pictures
	system  quantity.System // of the texts
}

// Climatology is what a day of the year is like in the weather's years.
type Climatology struct {
	Date           time.Time
	Low, Mid, High float64 // daily means that one year in ten, five in ten, nine in ten stay below [°C]
}

// Input is what a calendar is made from.
type Input struct {
	Plan     hive.Plan
	Weather  *climate.Series // a record of years, or one typical year
	Ledger   *ledger.Ledger  // of a run of the plan, nil when there is none
	Forecast *climate.Series // coming days, nil when none is loaded
	Today    time.Time       // any instant of the day
	System   quantity.System
}

// ErrInput is the error of weather or a day that a calendar cannot be made from.
var ErrInput = errors.New("calendar")

// Years that are made from a typical year, to learn how far a date moves.
const (
	madeYears = 20
	madeSeed  = 20
)

// day is the weather of one whole day.
type day struct {
	mean, low, high float64 // [°C]
	flight          float64 // hours of daylight at FlightTemp or more without rain
}

// year is one season from the first day after midsummer's month on: 1 July to
// 30 June, in the south half a year later. A 29 February is left out.
type year struct {
	start time.Time
	days  [365]day
}

// Make works out a calendar.
func Make(in Input) (Calendar, error) {
	w := in.Weather
	if w == nil || len(w.Hours) < 8760 {
		return Calendar{}, fmt.Errorf("%w: a whole year of weather is wanted, such as a typical year or a record of years", ErrInput)
	}
	if in.Today.IsZero() {
		return Calendar{}, fmt.Errorf("%w: the day of today is missing", ErrInput)
	}
	c := Calendar{Hive: in.Plan.Hive.Name, Site: in.Plan.Site.Name, system: in.System, Notes: []string{}, Entries: []Entry{}}
	if c.Site == "" {
		c.Site = w.Name
	}
	zone := w.Location()
	y, m, d := in.Today.In(zone).Date()
	c.From = time.Date(y, m, d, 0, 0, 0, 0, zone)
	c.To = c.From.AddDate(1, 0, -1)
	record := w
	south := w.Latitude < 0
	years := seasons(w, south)
	c.Basis = fmt.Sprintf("%d seasons of the record of %s", len(years), w.Name)
	if w.Typical || len(years) < 3 {
		normals, err := climate.NormalsOf(w)
		if err != nil {
			return Calendar{}, fmt.Errorf("%w: %w", ErrInput, err)
		}
		if record, err = climate.Make(normals, w.Latitude, w.Longitude, w.Height, w.Zone, madeSeed, madeYears); err != nil {
			return Calendar{}, fmt.Errorf("%w: %w", ErrInput, err)
		}
		years = seasons(record, south)
		c.Basis = fmt.Sprintf("%d seasons made from the monthly figures of %s, as years differ", len(years), w.Name)
		c.Notes = append(c.Notes, "The weather is one typical year. How far a date moves from year to year is computed from made years; a record of real years tells it better.")
	}
	c.Seasons = len(years)
	b := &builder{c: &c, in: in, years: years, south: south, record: record, zone: zone}
	b.dates()
	b.schedule()
	b.forecast()
	b.climatology()
	slices.SortStableFunc(c.Entries, func(a, b Entry) int { return cmp.Or(a.Date.Compare(b.Date), cmp.Compare(a.Key, b.Key)) })
	if in.Ledger == nil {
		c.Notes = append(c.Notes, "No run of this hive was given: amounts of honey are left out.")
	} else {
		c.Notes = append(c.Notes, ledger.OneRun)
	}
	c.Notes = append(c.Notes, "Dates are where the weather usually turns, not orders. The coming year may be one of the others: look at bees and forecast first.")
	return c, nil
}

// seasons cuts hourly weather into whole seasons.
func seasons(w *climate.Series, south bool) []year {
	begin := time.July
	if south {
		begin = time.January
	}
	var list []year
	zone := w.Location()
	at := map[string]day{}
	local := w.Start.In(zone)
	first := (24 - local.Hour()) % 24
	for i := first; i+24 <= len(w.Hours); i += 24 {
		d := day{low: math.Inf(1), high: math.Inf(-1)}
		for k, h := range w.Hours[i : i+24] {
			d.mean += h.TempAir / 24
			d.low, d.high = min(d.low, h.TempAir), max(d.high, h.TempAir)
			if h.TempAir >= climate.FlightTemp && h.Rain == 0 && sun.Position(w.MidHour(i+k), w.Latitude, w.Longitude).Elevation > 0 {
				d.flight++
			}
		}
		at[local.Add(time.Duration(i)*time.Hour).Format(time.DateOnly)] = d
	}
	for y := local.Year() - 1; y <= w.End().In(zone).Year(); y++ {
		s := year{start: time.Date(y, begin, 1, 0, 0, 0, 0, zone)}
		n := 0
		for date := s.start; n < 365; date = date.AddDate(0, 0, 1) {
			if date.Month() == time.February && date.Day() == 29 {
				continue
			}
			d, ok := at[date.Format(time.DateOnly)]
			if !ok {
				break
			}
			s.days[n] = d
			n++
		}
		if n == 365 {
			list = append(list, s)
		}
	}
	return list
}

// week is the mean of seven days from n on; outside the season the nearest days
// count.
func (y *year) week(n int) float64 {
	var sum float64
	for i := range 7 {
		sum += y.days[min(max(n+i, 0), 364)].mean
	}
	return sum / 7
}

type builder struct {
	c      *Calendar
	in     Input
	years  []year
	south  bool
	record *climate.Series
	zone   *time.Location
}

// date turns a day of the season into the coming calendar day.
func (b *builder) date(n int) time.Time {
	month := time.July
	if b.south {
		month = time.January
	}
	for y := b.c.From.Year() - 1; ; y++ {
		// Counted in a season without a 29 February, so that the day of the year
		// does not depend on the year.
		d := time.Date(2001, month, 1+n, 0, 0, 0, 0, b.zone)
		date := time.Date(y+d.Year()-2001, d.Month(), d.Day(), 0, 0, 0, 0, b.zone)
		if !date.Before(b.c.From) {
			return date
		}
	}
}

// spread are quantiles of a day over the seasons; ok is false when fewer than
// half of them have it. share is in how many of them.
type spread struct {
	days  []int
	share float64
}

func (b *builder) over(find func(*year) (int, bool)) spread {
	var s spread
	for i := range b.years {
		if n, ok := find(&b.years[i]); ok {
			s.days = append(s.days, n)
		}
	}
	slices.Sort(s.days)
	s.share = float64(len(s.days)) / float64(len(b.years))
	return s
}

// at is the quantile q of the days.
func (s spread) at(q float64) int {
	if len(s.days) == 0 {
		return 0
	}
	return s.days[min(len(s.days)-1, max(0, int(math.Round(q*float64(len(s.days)-1)))))]
}

// add enters what falls on quantile q of a spread, moved by some days.
func (b *builder) add(s spread, q float64, moved int, e Entry) {
	e.Date = b.date(mod(s.at(q) + moved))
	e.Early, e.Late = near(b.date(mod(s.at(0.1)+moved)), e.Date), near(b.date(mod(s.at(0.9)+moved)), e.Date)
	if e.Do == nil {
		e.Do = []string{}
	}
	if e.Cautions == nil {
		e.Cautions = []string{}
	}
	b.c.Entries = append(b.c.Entries, e)
}

func mod(n int) int { return ((n % 365) + 365) % 365 }

// near moves a day by a year so that it lies next to another.
func near(t, to time.Time) time.Time {
	if d := t.Sub(to); d > 200*24*time.Hour {
		return t.AddDate(-1, 0, 0)
	} else if d < -200*24*time.Hour {
		return t.AddDate(1, 0, 0)
	}
	return t
}

func (b *builder) temp(c float64) string {
	return quantity.Format(c, quantity.Temperature, b.in.System)
}
func (b *builder) mass(kg float64) string { return quantity.Format(kg, quantity.Mass, b.in.System) }
func (b *builder) note(format string, args ...any) {
	b.c.Notes = append(b.c.Notes, fmt.Sprintf(format, args...))
}

const (
	practice  = "common practice, no source"
	syrupText = "syrup asks for 10 °C or more: extension texts, second-hand"
)

// Rules of the dates. Temperatures are common practice, no source, where none
// stands beside them. [°C]
const (
	syrupLeast   = 10.0 // mean of a week; extension texts, second-hand
	guardNight   = 5.0  // nights that send mice indoors
	wrapWeek     = 4.0  // mean of a week from which a coat pays
	longFrost    = 5    // days that stay below freezing in a row
	cleansing    = 10.0 // bees fly from about 10 °C: Maine extension, second-hand
	spring       = 13.0 // highest of days on which foragers fetch water
	superWeek    = 13.0 // mean of a week in which a colony fills a super
	hotDay       = 30.0 // highest of a day that counts as hot
	warmLeast    = 15.0 // window of treatments that evaporate; labels give the real band
	warmMost     = 29.0
	broodlessMax = 8.0
	shadeLead    = 14 // days before the usual hot spell
	superLead    = 10
)

// honey is what the ledger says of winter's honey. [kg]
func (b *builder) honey() (burned, left float64, ok bool) {
	l := b.in.Ledger
	switch {
	case l == nil:
		return 0, 0, false
	case l.Winter != nil:
		return l.Winter.Burned, l.Winter.Left, true
	}
	return l.Honey.Burned, l.Honey.Left, true
}

// Of the honey a hive should hold before winter: winters and colonies differ from
// one run by about a third, and a reserve stays for a late spring. Common
// practice, no source.
const (
	differ  = 1.33
	reserve = 5.0 // [kg]
)

func (b *builder) dates() {
	in := b.in
	burned, left, known := b.honey()

	// Syrup, and weighing before it.
	target, feed := 0.0, 10.0
	hold := "Weigh or heft every hive: what is missing can still be fed as syrup until the last day for it."
	if known {
		target = burned*differ + reserve
		var empty float64
		for _, p := range in.Plan.Hive.EmptyMass() {
			empty += p.Mass
		}
		hold = fmt.Sprintf("The computed winter burned %s. With a third more for other winters and colonies and %s in reserve the hive should hold %s of honey: about %s on the scale with hive and bees, stand and wraps not counted.",
			b.mass(burned), b.mass(reserve), b.mass(target), b.mass(target+empty+in.Plan.Colony.Bees))
		feed = max(2, min(25, target-in.Plan.Colony.Honey))
	}
	syrup := b.over(func(y *year) (int, bool) {
		last := -1
		for n := range 184 { // to the turn of the year
			if y.week(n-6) >= syrupLeast {
				last = n
			}
		}
		return last, last >= 0 && last < 183
	})
	if day, ok := change.LastSyrupDay(b.record, feed); ok && syrup.share >= 0.5 {
		date := b.coming(day)
		lead := int(math.Round(near(b.date(syrup.at(0.25)), date).Sub(date).Hours() / 24))
		e := Entry{Key: "syrup-last", Sort: Task, Title: "Last day to give syrup", Source: syrupText + "; " + practice,
			Reason: fmt.Sprintf("In three years of four the weeks stay at a mean of %s or more until then, with time to take and ripen %s.", b.temp(syrupLeast), b.mass(feed)),
			Do:     []string{"Give the last syrup at evening, inside the hive, entrance reduced first.", "After this day give fondant or sugar on top of the bees, never syrup."}, Cautions: []string{cautionRobbing}}
		b.add(syrup, 0.25, -lead, e)
		b.c.Entries[len(b.c.Entries)-1].Date = date
		w := e
		w.Key, w.Title, w.Reason, w.Source = "weigh", "Weigh and top up", hold, "ledger of the run; a third and the reserve: "+practice
		w.Do = []string{"Weigh each hive, or lift both sides with a luggage scale and add up.", "Feed what is missing, thick syrup, two parts of sugar to one of water."}
		w.Cautions = []string{cautionRobbing, cautionLift}
		b.add(syrup, 0.25, -lead-21, w)
		last := &b.c.Entries[len(b.c.Entries)-1]
		if last.Date = date.AddDate(0, 0, -21); last.Date.Before(b.c.From) {
			last.Date = b.c.From // it is high time
		}
		last.Early, last.Late = near(last.Early, last.Date), near(last.Late, last.Date)
	} else {
		b.note("Syrup can be given the whole winter by temperature, or never: no last day stands in the calendar.")
	}

	guard := b.over(func(y *year) (int, bool) {
		for n := 30; n < 250; n++ {
			if y.days[n].low <= guardNight && y.days[min(n+1, 364)].low <= guardNight+2 {
				return n, true
			}
		}
		return 0, false
	})
	if guard.share >= 0.5 {
		b.add(guard, 0.25, 0, Entry{Key: "mouse-guard", Sort: Task, Title: "Reduce entrances, mouse guards on", Source: practice,
			Reason:   fmt.Sprintf("Nights of %s and less begin about then; mice look for a dry place before frost.", b.temp(guardNight)),
			Do:       []string{"Look that no mouse is in already, then fit reducer or guard: slots no higher than 7.5 mm.", "Leave every hive an opening."},
			Cautions: []string{"Never close every opening of a live colony."}})
	} else {
		b.note("Nights rarely fall to %s here: no date for mouse guards.", b.temp(guardNight))
	}

	cold := b.over(func(y *year) (int, bool) {
		for n := 60; n < 250; n++ {
			if y.week(n) < wrapWeek {
				return n, true
			}
		}
		return 0, false
	})
	if cold.share >= 0.5 {
		do := []string{"Put on what this hive has: wrap, panels, lid insulation, tray under a mesh floor.", "Openings stay clear; the lid's rim hangs over the wrap."}
		b.add(cold, 0.25, 0, Entry{Key: "wrap", Sort: Task, Title: "Wrap and winter insulation on", Source: practice, Do: do,
			Reason: fmt.Sprintf("From about then a week has a mean below %s. Earlier it only keeps the autumn sun off the wood.", b.temp(wrapWeek))})
		vents := "Close or open upper vents as your plan for this hive says, once, before the cluster forms."
		if l := in.Ledger; l != nil && l.Wet() {
			vents = fmt.Sprintf("In the computed winter water lay above the cluster for %.0f hours: insulate above it, or let moist air out above, before the cluster forms.", l.Water.OverheadHours)
		}
		b.add(cold, 0.25, -7, Entry{Key: "vents", Sort: Task, Title: "Set the vents for winter", Source: "ledger of the run; date " + practice, Reason: "Before the weeks below " + b.temp(wrapWeek) + ".", Do: []string{vents, "Tilt the hive forward a little, so that water runs out of the entrance."},
			Cautions: []string{"Do not change vents because of one run, and never close every opening."}})
		unwrap := b.over(func(y *year) (int, bool) {
			last := -1
			for n := 150; n < 358; n++ {
				if y.week(n) < wrapWeek {
					last = n + 6
				}
			}
			return last + 1, last >= 0
		})
		if unwrap.share >= 0.5 {
			b.add(unwrap, 0.8, 0, Entry{Key: "unwrap", Sort: NotYet, Title: "Unwrap, not before this day", Source: practice,
				Reason: fmt.Sprintf("In four years of five no week below %s comes after it. Brood is raised by then and has to be kept at 34 °C: warmth is worth most now.", b.temp(wrapWeek)),
				Do:     []string{"Take wraps off on a mild day, dry them, keep mice out of them.", "Insulation in the lid may stay all year: it keeps the sun's heat out as well."}})
		}
	} else {
		b.note("A week below %s comes in fewer than half of the years: no date for wrapping. Lid insulation also keeps summer's heat out.", b.temp(wrapWeek))
	}

	frost := b.over(func(y *year) (int, bool) {
		run := 0
		for n := 90; n < 300; n++ {
			if y.days[n].high >= 0 {
				if run >= longFrost {
					return n, true
				}
				run = 0
				continue
			}
			run++
		}
		return 0, false
	})
	if frost.share >= 0.5 {
		reason := fmt.Sprintf("By then a first frost of %d days and more is usually over.", longFrost)
		if l := in.Ledger; l != nil && l.Confinement.Longest > 0 {
			reason += fmt.Sprintf(" In the computed winter bees sat still for up to %.0f hours at a time", l.Confinement.Longest)
			if !l.Confinement.From.IsZero() {
				reason += ", from " + l.Confinement.From.Format("2 January")
			}
			reason += "."
		}
		b.add(frost, 0.5, 0, Entry{Key: "frost-check", Sort: Task, Title: "Look after the first long frost", Source: practice, Reason: reason,
			Do:       []string{"Clear dead bees and ice out of the entrance with a bent wire.", "Heft each hive; listen with an ear on the wood. Do not open."},
			Cautions: []string{cautionCold}})
	} else {
		b.note("A frost of %d days in a row comes in fewer than half of the years: no date for the look after it. Heft after any hard frost.", longFrost)
	}

	flight := b.over(func(y *year) (int, bool) {
		shut := 0
		for n := 170; n < 330; n++ {
			if y.days[n].high < cleansing || y.days[n].flight < 2 {
				shut++
				continue
			}
			if shut >= 14 && n >= 184 {
				return n, true
			}
			shut = 0
		}
		return 0, false
	})
	if flight.share >= 0.5 {
		b.add(flight, 0.5, 0, Entry{Key: "cleansing-flight", Sort: Watch, Title: "First cleansing flight about now", Source: "bees fly from about 10 °C: Maine extension, second-hand; two weeks shut in: " + practice,
			Reason: fmt.Sprintf("The first day that reaches %s for two hours of daylight without rain, after two weeks shut in.", b.temp(cleansing)),
			Do:     []string{"Watch each entrance in the warmest hours: a hive from which nobody flies is opened only as far as to see whether it lives.", "Brown streaks all over the front, or bees that crawl: note it, and ask your bee inspector."}})
		if known && left < reserve {
			b.add(flight, 0.5, 1, Entry{Key: "emergency-feed", Sort: Task, Title: "Check the stores: the computed hive is short now", Source: "ledger of the run",
				Reason: fmt.Sprintf("The run left %s at winter's end, less than %s.", b.mass(max(0, left)), b.mass(reserve)), Do: []string{"Lay fondant over the bees if the hive is light."}, Cautions: []string{cautionCold}})
		}
	} else {
		b.note("Bees fly in most weeks of winter here: no date for a cleansing flight.")
	}

	water := b.over(func(y *year) (int, bool) {
		for n := 215; n < 345; n++ { // February on, in the south August
			days := 0
			for k := range 7 {
				if y.days[n+k].high >= spring && y.days[n+k].flight >= 3 {
					days++
				}
			}
			if days >= 5 {
				return n, true
			}
		}
		return 0, false
	})
	if water.share >= 0.5 {
		why := "Five days a week reach %s: brood is raised, and bees fetch water for it."
		if d := in.Plan.Colony.WaterNear; d > 0 {
			why += fmt.Sprintf(" The hive file says water is %s away.", quantity.Format(d, quantity.Length, in.System))
		}
		b.add(water, 0.25, -7, Entry{Key: "spring-water", Sort: Task, Title: "Spring water out", Source: practice, Reason: fmt.Sprintf(why, b.temp(spring)),
			Do: []string{"Set water in the sun, out of the wind and not under their flight path, with floats to stand on, before they learn a place where you do not want them."}})
	}

	b.summer()
	b.medicine()
}

// coming is the next time a day comes round.
func (b *builder) coming(d hive.Day) time.Time {
	for y := b.c.From.Year(); ; y++ {
		t := time.Date(y, d.Month, d.Day, 0, 0, 0, 0, b.zone)
		if !t.Before(b.c.From) {
			return t
		}
	}
}

func (b *builder) summer() {
	in := b.in
	supers := b.over(func(y *year) (int, bool) {
		for n := 215; n < 350; n++ {
			if y.week(n) >= superWeek {
				return n, true
			}
		}
		return 0, false
	})
	var first *hive.Flow
	for i, f := range in.Plan.Colony.Flows {
		if first == nil || f.From.Month < first.From.Month || f.From.Month == first.From.Month && f.From.Day < first.From.Day {
			first = &in.Plan.Colony.Flows[i]
		}
	}
	e := Entry{Key: "supers", Sort: Task, Title: "Supers on", Source: practice,
		Reason: fmt.Sprintf("Weeks reach a mean of %s soon after; room before the flow keeps bees at home and comb cool.", b.temp(superWeek)),
		Do:     []string{"Give room before it is needed, drawn comb where you have it.", "Entrance to its full width; reducer and guard off."}, Cautions: []string{cautionLift}}
	var begin time.Time
	switch {
	case first != nil:
		begin = b.coming(first.From).AddDate(0, 0, -superLead)
		if begin.Before(b.c.From) {
			begin = begin.AddDate(1, 0, 0)
		}
		e.Reason = fmt.Sprintf("The hive file has the first flow begin on %s. %s", first.From, "Room before the flow keeps bees at home and comb cool.")
		e.Date = begin
		b.plain(e)
	case supers.share >= 0.5:
		b.add(supers, 0.25, -superLead, e)
		begin = b.c.Entries[len(b.c.Entries)-1].Date
	default:
		b.note("Weeks rarely reach %s in spring: no date for supers.", b.temp(superWeek))
	}
	if !begin.IsZero() {
		reason := "In the quiet of winter, before the frames are wanted."
		if l := in.Ledger; l != nil && l.Comb != nil && l.Comb.Class != "holds" {
			reason = fmt.Sprintf("In the computed summer the combs of body %d come to %.0f %% of what they carry, on %s. Crossed wires or a stiff core hold fresh comb.", l.Comb.Body, 100*l.Comb.Share, l.Comb.At.Format("2 January"))
		}
		date := begin.AddDate(0, 0, -42)
		if date.Before(b.c.From) {
			date = b.c.From.AddDate(0, 0, 7)
			if date.After(begin.AddDate(0, 0, -7)) {
				date = begin.AddDate(1, 0, -42)
			}
		}
		b.plain(Entry{Key: "frames", Sort: Task, Title: "Wire and renew frames", Date: date, Reason: reason, Source: "ledger of the run; date " + practice,
			Do: []string{"Re-wire frames for honey; hackle cut ... frame-wires says where to drill."}, Cautions: []string{"Wire springs: eyes protected."}})
	}

	hot := b.over(func(y *year) (int, bool) {
		at, best := 0, math.Inf(-1)
		days := 0
		for n := range 365 {
			m := mod(n + 120) // begin in early winter, so that summer is not cut in two
			if y.days[m].high > hotDay {
				days++
			}
			if m > 358 {
				continue
			}
			if w := y.week(m); w > best {
				at, best = m, w
			}
		}
		return mod(at + 182), days >= 3 // counted from midwinter
	})
	if hot.share >= 0.5 {
		reason := fmt.Sprintf("The hottest week of the year usually begins between then and %s, and days pass %s in %.0f %% of the years.", b.date(mod(hot.at(0.9)-182)).Format("2 January"), b.temp(hotDay), 100*hot.share)
		if l := in.Ledger; l != nil && l.Hot() {
			reason += fmt.Sprintf(" In the computed summer the comb reached %s and bees hauled %.1f L of water on the worst day.", b.temp(l.Summer.CombMax), l.Summer.HauledDay)
		}
		b.add(hot, 0.1, -182-shadeLead, Entry{Key: "heat", Sort: Task, Title: "Shade, water and room before the usual hot spell", Source: practice, Reason: reason,
			Do: []string{"Shade board or afternoon shade; white lid; full entrance; water near and never dry.", "No opening, moving or feeding in the hot hours; heavy fresh combs stay where they hang."}, Cautions: []string{cautionHeat}})
	} else {
		b.note("Three days above %s come in fewer than half of the years: no date for shade.", b.temp(hotDay))
	}
}

// medicine gives windows of temperature alone.
func (b *builder) medicine() {
	warm := func(y *year) (from, to int, ok bool) {
		from = -1
		for n := 31; n < 170; n++ {
			if y.days[n].high >= warmLeast && y.days[n].high <= warmMost && y.week(n-3) >= 12 {
				if from < 0 {
					from = n
				}
				to = n
			}
		}
		return from, to, from >= 0 && to-from >= 14
	}
	begin := b.over(func(y *year) (int, bool) { n, _, ok := warm(y); return n, ok })
	end := b.over(func(y *year) (int, bool) { _, n, ok := warm(y); return n, ok })
	label := []string{"The label of the product decides: its own band of temperature, its days, supers off or on. Temperature is all that stands here.", "Count mites first; treat only when your count and your authority's threshold ask for it."}
	caution := []string{"Only registered products, as the label says; other use is unlawful. Protect yourself as it says. Insulation and vents change the temperature inside a hive: ask before you rely on it."}
	if begin.share >= 0.5 {
		b.add(begin, 0.5, 0, Entry{Key: "mites-warm", Sort: Window, Title: "Mites: days warm enough for products that evaporate", Source: "band of 15 to 29 °C: from memory, labels differ",
			Reason: fmt.Sprintf("Highest of the day between %s and %s, after the main flow.", b.temp(warmLeast), b.temp(warmMost)), Do: label, Cautions: caution})
		e := &b.c.Entries[len(b.c.Entries)-1]
		e.Until = near(b.date(end.at(0.25)), e.Date)
		if e.Until.Before(e.Date) {
			e.Until = e.Until.AddDate(1, 0, 0)
		}
	}
	broodless := b.over(func(y *year) (int, bool) {
		for n := 110; n < 230; n++ {
			cold := true
			for k := range 21 {
				cold = cold && y.days[n-k].high <= broodlessMax+4
			}
			if cold && y.week(n-6) <= broodlessMax-2 {
				return n, true
			}
		}
		return 0, false
	})
	if broodless.share >= 0.5 {
		b.add(broodless, 0.5, 0, Entry{Key: "mites-broodless", Sort: Window, Title: "Mites: likely without brood, three cold weeks behind", Source: "brood stops in the cold: " + practice,
			Reason: "Three weeks in which hardly a day was warm lie behind: many colonies have no brood now, which some products ask for.", Do: label, Cautions: append(slices.Clone(caution), cautionCold)})
		e := &b.c.Entries[len(b.c.Entries)-1]
		e.Until = e.Date.AddDate(0, 0, 21)
		if s := b.in.Plan.Colony.BroodStart; !s.IsZero() {
			if start := near(b.coming(s), e.Date); start.After(e.Date) && start.Before(e.Until) {
				e.Until = start
			}
		}
	}
}

// plain enters a date that is not drawn from the years.
func (b *builder) plain(e Entry) {
	if e.Do == nil {
		e.Do = []string{}
	}
	if e.Cautions == nil {
		e.Cautions = []string{}
	}
	b.c.Entries = append(b.c.Entries, e)
}

// schedule enters the dates that the hive file itself gives.
func (b *builder) schedule() {
	h := b.in.Plan.Hive
	enter := func(key, title string, d hive.Day, reason string) {
		if d.IsZero() {
			return
		}
		b.plain(Entry{Key: key, Sort: Task, Title: title, Date: b.coming(hive.Day{Month: d.Month, Day: d.Day}), Reason: reason, Source: "hive file"})
	}
	const said = "The hive file says so; the run was computed with it."
	for _, o := range h.Openings {
		for i, s := range o.Schedule {
			what := "to " + quantity.Format(s.Width, quantity.Length, b.in.System)
			switch {
			case s.Width == 0:
				what = "closed"
			case s.Width >= o.Width-1e-6:
				what = "fully open"
			}
			enter(fmt.Sprintf("opening-%s-%d", slug(o.Name), i+1), fmt.Sprintf("%s %s", upper(o.Name), what), s.From, said)
		}
	}
	for i, w := range h.Wraps {
		enter(fmt.Sprintf("wrap-on-%d", i+1), upper(w.Name)+" on", w.On, said)
		enter(fmt.Sprintf("wrap-off-%d", i+1), upper(w.Name)+" off", w.Off, said)
	}
	for i, s := range h.Floor.TrayEvents {
		enter(fmt.Sprintf("tray-%d", i+1), map[bool]string{true: "Tray under the mesh in", false: "Tray under the mesh out"}[s.On], s.From, said)
	}
	if h.TopBoard != nil {
		for i, s := range h.TopBoard.HoleEvents {
			enter(fmt.Sprintf("board-hole-%d", i+1), map[bool]string{true: "Open the hole of the top board", false: "Close the hole of the top board"}[s.On], s.From, said)
		}
	}
	for i, f := range b.in.Plan.Colony.Feeds {
		enter(fmt.Sprintf("feed-%d", i+1), fmt.Sprintf("Feed %s, %s as ripe stores", f.Kind, b.mass(f.Honey)), f.Day, said)
	}
}

func upper(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

// slug makes a name a key: small letters, figures, dashes.
func slug(s string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(s) {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			b.WriteRune(r)
		} else if b.Len() > 0 && !strings.HasSuffix(b.String(), "-") {
			b.WriteByte('-')
		}
	}
	return strings.Trim(b.String(), "-")
}

// Cautions that recur.
const (
	cautionRobbing = "Feeding draws robbers: reduce the entrance first, spill nothing, feed no honey from elsewhere."
	cautionLift    = "A full box weighs 20 to 40 kg: take frames out, or lift with two."
	cautionCold    = "Do not open a colony in the cold; brood dies within hours."
	cautionHeat    = "Drink, rest, stop when faint; work before the heat. Stings go through wet cloth."
)

// climatology is the course of the twelve months from today on.
func (b *builder) climatology() {
	month := time.July
	if b.south {
		month = time.January
	}
	for date := b.c.From; !date.After(b.c.To); date = date.AddDate(0, 0, 1) {
		if date.Month() == time.February && date.Day() == 29 {
			continue
		}
		ref := time.Date(2001, date.Month(), date.Day(), 0, 0, 0, 0, time.UTC)
		n := mod(int(math.Round(ref.Sub(time.Date(2001, month, 1, 0, 0, 0, 0, time.UTC)).Hours() / 24)))
		var means []float64
		for i := range b.years {
			for k := -3; k <= 3; k++ {
				means = append(means, b.years[i].days[mod(n+k)].mean)
			}
		}
		slices.Sort(means)
		q := func(p float64) float64 { return means[int(p*float64(len(means)-1))] }
		b.c.Days = append(b.c.Days, Climatology{date, q(0.1), q(0.5), q(0.9)})
	}
}
