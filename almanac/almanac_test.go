package almanac

import (
	"bufio"
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"io/fs"
	"math"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	ical "github.com/emersion/go-ical"

	"hackle/climate"
	"hackle/examples"
	"hackle/hive"
	"hackle/ledger"
	"hackle/quantity"
)

func examplePlan(t testing.TB) hive.Plan {
	t.Helper()
	name := examples.Order()[0]
	text, err := fs.ReadFile(examples.Files(), name)
	if err != nil {
		t.Fatal(err)
	}
	p, err := hive.Decode(name, bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// clockwork is a record of years whose temperature is a plain sine, coldest on
// 15 January, with a daily swing: its dates follow with pencil and paper. Years
// are moved by some days against one another.
func clockwork(years int, mean, swing float64, south bool, moved func(year int) float64) *climate.Series {
	zone := time.FixedZone("UTC-05:00", -5*3600)
	start := time.Date(2001, 1, 1, 0, 0, 0, 0, zone)
	end := time.Date(2001+years, 1, 1, 0, 0, 0, 0, zone)
	w := &climate.Series{Name: "clockwork", Latitude: 44, Longitude: -75, Height: 100, Zone: -5 * time.Hour, Start: start, MidOffset: 30 * time.Minute}
	if south {
		w.Latitude = -44
	}
	for t := start; t.Before(end); t = t.Add(time.Hour) {
		day := float64(t.YearDay()) - 15 - moved(t.Year()) + (float64(t.Hour())-12)/24
		temp := mean - swing*math.Cos(2*math.Pi*day/365)
		if south {
			temp = mean + swing*math.Cos(2*math.Pi*day/365)
		}
		temp += 4 * math.Sin(2*math.Pi*(float64(t.Hour())-9)/24)
		w.Hours = append(w.Hours, climate.Hour{TempAir: temp, RelHumidity: 0.7, Pressure: 1e5, WindSpeed: 3})
	}
	return w
}

func still(int) float64 { return 0 }

func find(c Calendar, key string) *Entry {
	for i := range c.Entries {
		if c.Entries[i].Key == key {
			return &c.Entries[i]
		}
	}
	return nil
}

var august = time.Date(2026, 8, 20, 12, 0, 0, 0, time.UTC)

// TestDatesOfClockwork: with a temperature that is a sine, each date is where the
// sine crosses the rule's limit.
func TestDatesOfClockwork(t *testing.T) {
	const mean, swing = 7.0, 17.0
	c, err := Make(Input{Plan: examplePlan(t), Weather: clockwork(8, mean, swing, false, still), Today: august})
	if err != nil {
		t.Fatal(err)
	}
	// cross is the day of the year on which the daily mean falls (or rises) through
	// a limit.
	cross := func(limit float64, falling bool) float64 {
		a := math.Acos((mean-limit)/swing) / (2 * math.Pi) * 365
		if falling {
			return 15 + 365 - a
		}
		return 15 + a
	}
	expect := func(key string, day float64, tolerance float64) {
		t.Helper()
		e := find(c, key)
		if e == nil {
			t.Errorf("%s is missing", key)
			return
		}
		got := float64(e.Date.YearDay())
		if math.Abs(got-day) > tolerance {
			t.Errorf("%s on day %v of the year (%s), want %.1f", key, got, e.Date.Format(time.DateOnly), day)
		}
	}
	// A week from n on has the limit as its mean three days after n.
	expect("wrap", cross(wrapWeek, true)-3, 1.6)
	expect("vents", cross(wrapWeek, true)-3-7, 1.6)
	// Unwrapping: the day after the last such week.
	expect("unwrap", cross(wrapWeek, false)-365*0+4, 2)
	// The lowest of a day lies 4 K below its mean.
	expect("mouse-guard", cross(guardNight+4, true), 2.5)
	for _, e := range c.Entries {
		if !e.Early.IsZero() && (e.Early.Sub(e.Date) > 4*24*time.Hour || e.Late.Sub(e.Early) > 3*24*time.Hour) {
			t.Errorf("%s ranges from %s to %s though every year is the same", e.Key, e.Early.Format(time.DateOnly), e.Late.Format(time.DateOnly))
		}
		if e.Date.Before(c.From) || e.Date.After(c.To.AddDate(0, 0, 1)) {
			t.Errorf("%s on %s lies outside the twelve months", e.Key, e.Date.Format(time.DateOnly))
		}
		if e.Reason == "" || e.Title == "" {
			t.Errorf("%s has no reason or title", e.Key)
		}
	}
}

// TestRangeFollowsYears: years that come up to ten days earlier and later move the
// ends of the range by as much.
func TestRangeFollowsYears(t *testing.T) {
	moved := func(year int) float64 { return float64(year%11-5) * 2 }
	c, err := Make(Input{Plan: examplePlan(t), Weather: clockwork(23, 7, 17, false, moved), Today: august})
	if err != nil {
		t.Fatal(err)
	}
	e := find(c, "unwrap")
	if e == nil {
		t.Fatal("no unwrapping")
	}
	if width := e.Late.Sub(e.Early).Hours() / 24; width < 12 || width > 21 {
		t.Errorf("the middle eight of ten of years moved from -10 to 10 days span %v days", width)
	}
	if e.Date.Before(e.Early) || e.Date.After(e.Late) {
		t.Errorf("the day %v lies outside its range %v to %v", e.Date, e.Early, e.Late)
	}
	// Not before: the date lies late in the range.
	if e.Late.Sub(e.Date) > e.Date.Sub(e.Early) {
		t.Error("unwrapping lies in the early half of its range")
	}
	if !strings.Contains(c.Basis, "22 seasons of the record") {
		t.Errorf("basis %q", c.Basis)
	}
}

// TestSouth: the southern year is half a year away.
func TestSouth(t *testing.T) {
	north, err := Make(Input{Plan: examplePlan(t), Weather: clockwork(6, 7, 17, false, still), Today: august})
	if err != nil {
		t.Fatal(err)
	}
	south, err := Make(Input{Plan: examplePlan(t), Weather: clockwork(6, 7, 17, true, still), Today: august})
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"wrap", "unwrap", "mouse-guard", "spring-water", "syrup-last"} {
		a, b := find(north, key), find(south, key)
		if a == nil || b == nil {
			t.Errorf("%s: north %v, south %v", key, a != nil, b != nil)
			continue
		}
		apart := math.Abs(math.Mod(b.Date.Sub(a.Date).Hours()/24+365+182.5, 365) - 365)
		if apart = min(apart, 365-apart); math.Abs(apart) > 6 {
			t.Errorf("%s: %s in the north and %s in the south", key, a.Date.Format(time.DateOnly), b.Date.Format(time.DateOnly))
		}
	}
}

// TestMildPlaceIsTold: where a rule never holds, the calendar says so and gives no
// date.
func TestMildPlaceIsTold(t *testing.T) {
	c, err := Make(Input{Plan: examplePlan(t), Weather: clockwork(5, 18, 4, false, still), Today: august})
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"wrap", "unwrap", "frost-check", "syrup-last"} {
		if find(c, key) != nil {
			t.Errorf("%s stands in the calendar of a place without winter", key)
		}
	}
	if notes := strings.Join(c.Notes, " "); !strings.Contains(notes, "no date for wrapping") || !strings.Contains(notes, "no last day") || !strings.Contains(notes, "no date for the look after it") {
		t.Errorf("notes: %s", notes)
	}
}

var burlington = sync.OnceValues(func() (Calendar, error) {
	w, err := climate.Builtin("burlington-vt")
	if err != nil {
		return Calendar{}, err
	}
	name := examples.Order()[0]
	text, err := fs.ReadFile(examples.Files(), name)
	if err != nil {
		return Calendar{}, err
	}
	p, err := hive.Decode(name, bytes.NewReader(text))
	if err != nil {
		return Calendar{}, err
	}
	l := &ledger.Ledger{Winter: &ledger.Winter{Burned: 15, Left: 3}, Comb: &ledger.Comb{Body: 2, Class: "near", Share: 0.8, At: time.Date(2026, 7, 1, 15, 0, 0, 0, time.UTC)}}
	return Make(Input{Plan: p, Weather: w, Ledger: l, Today: august})
})

// TestBurlington: the dates of a cold place lie where its keepers do these things
// (Ontario and Vermont lists: fed by late September, wrapped in late autumn,
// unwrapped at dandelion, late April; common practice).
func TestBurlington(t *testing.T) {
	c, err := burlington()
	if err != nil {
		t.Fatal(err)
	}
	for key, span := range map[string][2]string{
		"syrup-last":       {"2026-09-15", "2026-10-20"},
		"mouse-guard":      {"2026-09-10", "2026-10-20"},
		"wrap":             {"2026-10-15", "2026-11-25"},
		"frost-check":      {"2026-12-01", "2027-01-31"},
		"cleansing-flight": {"2027-01-15", "2027-03-31"},
		"unwrap":           {"2027-04-01", "2027-05-05"},
		"supers":           {"2027-04-20", "2027-05-25"},
	} {
		e := find(c, key)
		if e == nil {
			t.Errorf("%s is missing", key)
			continue
		}
		if d := e.Date.Format(time.DateOnly); d < span[0] || d > span[1] {
			t.Errorf("%s on %s, want between %s and %s", key, d, span[0], span[1])
		}
	}
	if e := find(c, "weigh"); e == nil || !strings.Contains(e.Reason, "burned 15 kg") || !strings.Contains(e.Reason, "should hold 25 kg") {
		t.Errorf("weighing: %+v", e)
	}
	if e := find(c, "frames"); e == nil || !strings.Contains(e.Reason, "80 %") {
		t.Errorf("frames: %+v", e)
	}
	if find(c, "emergency-feed") == nil {
		t.Error("a run that left 3 kg asks for no look at the stores")
	}
	if find(c, "opening-entrance-1") == nil {
		t.Error("the hive file's own dates are missing")
	}
	for _, e := range c.Entries {
		if strings.HasPrefix(e.Key, "mites") && !strings.Contains(strings.Join(e.Do, " "), "label") {
			t.Errorf("%s does not point to the label", e.Key)
		}
	}
}

// TestICalendar reads the file with a library of the standard and holds every
// event against the calendar; a second export must update the first.
func TestICalendar(t *testing.T) {
	c, err := burlington()
	if err != nil {
		t.Fatal(err)
	}
	read := func(at time.Time) map[string]*ical.Component {
		var b bytes.Buffer
		if err := c.WriteICS(&b, at); err != nil {
			t.Fatal(err)
		}
		sc := bufio.NewScanner(bytes.NewReader(b.Bytes()))
		sc.Split(func(data []byte, eof bool) (int, []byte, error) {
			if i := bytes.Index(data, []byte("\r\n")); i >= 0 {
				return i + 2, data[:i], nil
			}
			if eof && len(data) > 0 {
				t.Errorf("the last line %q has no end", data)
			}
			return 0, nil, nil
		})
		for sc.Scan() {
			if len(sc.Bytes()) > 75 {
				t.Errorf("a line of %d octets: %s", len(sc.Bytes()), sc.Text())
			}
			if bytes.ContainsAny(sc.Bytes(), "\r\n") {
				t.Errorf("a bare line end in %q", sc.Text())
			}
		}
		cal, err := ical.NewDecoder(bytes.NewReader(b.Bytes())).Decode()
		if err != nil {
			t.Fatal(err)
		}
		for prop, want := range map[string]string{"VERSION": "2.0", "CALSCALE": "GREGORIAN"} {
			if got := cal.Props.Get(prop); got == nil || got.Value != want {
				t.Errorf("%s: %v", prop, got)
			}
		}
		events := map[string]*ical.Component{}
		for _, e := range cal.Children {
			if e.Name != ical.CompEvent {
				t.Errorf("a component %s", e.Name)
			}
			uid := e.Props.Get("UID").Value
			if events[uid] != nil {
				t.Errorf("two events have the UID %s", uid)
			}
			events[uid] = e
		}
		// The library writes only what keeps the standard: required properties,
		// each as often as it may stand.
		if err := ical.NewEncoder(io.Discard).Encode(cal); err != nil {
			t.Errorf("the standard's library does not take the calendar: %v", err)
		}
		return events
	}
	first := read(time.Date(2026, 8, 20, 12, 0, 0, 0, time.UTC))
	second := read(time.Date(2026, 9, 1, 8, 30, 0, 0, time.UTC))
	if len(first) != len(c.Entries) || len(first) < 12 {
		t.Errorf("%d events for %d entries", len(first), len(c.Entries))
	}
	for _, e := range c.Entries {
		uid := c.UID(e)
		a, b := first[uid], second[uid]
		if a == nil || b == nil {
			t.Errorf("%s: in the first export %v, in the second %v", e.Key, a != nil, b != nil)
			continue
		}
		begin, err := a.Props.DateTime("DTSTART", e.Date.Location())
		if err != nil || !begin.Equal(e.Date) {
			t.Errorf("%s begins on %v, want %v (%v)", e.Key, begin, e.Date, err)
		}
		end, err := a.Props.DateTime("DTEND", e.Date.Location())
		want := e.Date
		if !e.Until.IsZero() {
			want = e.Until
		}
		if err != nil || !end.Equal(want.AddDate(0, 0, 1)) {
			t.Errorf("%s ends on %v, want the day after %v (%v)", e.Key, end, want, err)
		}
		summary, _ := a.Props.Text("SUMMARY")
		if !strings.HasPrefix(summary, e.Title) {
			t.Errorf("%s: summary %q", e.Key, summary)
		}
		description, _ := a.Props.Text("DESCRIPTION")
		if description != e.Text() {
			t.Errorf("%s: the description does not come back: %q", e.Key, description)
		}
		sa, _ := strconv.Atoi(a.Props.Get("SEQUENCE").Value)
		sb, _ := strconv.Atoi(b.Props.Get("SEQUENCE").Value)
		if sb <= sa {
			t.Errorf("%s: revision %d after %d", e.Key, sb, sa)
		}
	}
}

// TestUIDsStay: a calendar made some days later gives the same entries the same
// identifiers, and next year others.
func TestUIDsStay(t *testing.T) {
	p, w := examplePlan(t), clockwork(6, 7, 17, false, still)
	uids := func(today time.Time) map[string]string {
		c, err := Make(Input{Plan: p, Weather: w, Today: today})
		if err != nil {
			t.Fatal(err)
		}
		m := map[string]string{}
		for _, e := range c.Entries {
			m[e.Key] = c.UID(e)
		}
		return m
	}
	a, b, next := uids(august), uids(august.AddDate(0, 0, 9)), uids(august.AddDate(1, 0, 0))
	for key, uid := range a {
		if b[key] != uid {
			t.Errorf("%s: %s, nine days later %s", key, uid, b[key])
		}
		if next[key] == uid {
			t.Errorf("%s has the same identifier next year", key)
		}
	}
}

func TestForecast(t *testing.T) {
	p, w := examplePlan(t), clockwork(6, 7, 17, false, still)
	zone := w.Location()
	coming := func(start time.Time, temps ...float64) *climate.Series {
		f := &climate.Series{Name: "yard forecast", Latitude: 44, Longitude: -75, Zone: w.Zone, Start: start, MidOffset: 30 * time.Minute}
		for _, m := range temps {
			for h := range 24 {
				f.Hours = append(f.Hours, climate.Hour{TempAir: m + 5*math.Sin(2*math.Pi*(float64(h)-9)/24), RelHumidity: 0.6, Pressure: 1e5})
			}
		}
		return f
	}
	winter := time.Date(2027, 1, 20, 0, 0, 0, 0, zone)
	summer := time.Date(2027, 7, 5, 0, 0, 0, 0, zone)
	for _, c := range []struct {
		name     string
		today    time.Time
		temps    []float64
		key      string
		want     string
		wantDate time.Time
	}{
		{"cold snap", winter, []float64{-8, -9, -20, -22, -21, -9}, "forecast-cold", "-27 °C", winter.AddDate(0, 0, 1)},
		{"usual winter", winter, []float64{-10, -9, -11, -10}, "", "", time.Time{}},
		{"hot spell", summer, []float64{24, 25, 31, 33, 32, 25}, "forecast-heat", "38 °C", summer.AddDate(0, 0, 2)},
		{"one warm day", summer, []float64{24, 29, 24, 23}, "", "", time.Time{}},
	} {
		cal, err := Make(Input{Plan: p, Weather: w, Forecast: coming(c.today, c.temps...), Today: c.today})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, e := range cal.Entries {
			if e.Sort == Warning {
				got = append(got, e.Key)
			}
		}
		if c.key == "" {
			if len(got) > 0 {
				t.Errorf("%s: %v", c.name, got)
			}
			continue
		}
		e := find(cal, c.key)
		if e == nil {
			t.Errorf("%s is not told: %v", c.name, got)
			continue
		}
		title := strings.ReplaceAll(e.Title, "−", "-")
		if !strings.Contains(title, c.want) || !strings.Contains(e.Do[0], "Today") || e.Date.Sub(c.wantDate).Abs() > 25*time.Hour {
			t.Errorf("%s: %s on %s: %s", c.name, e.Title, e.Date.Format(time.DateOnly), e.Do[0])
		}
	}
}

func TestStrip(t *testing.T) {
	c, err := burlington()
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := c.WriteStrip(&b); err != nil {
		t.Fatal(err)
	}
	dec := xml.NewDecoder(bytes.NewReader(b.Bytes()))
	for {
		if _, err := dec.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, e := range c.Entries {
		if !strings.Contains(b.String(), e.Title) {
			t.Errorf("%q is not on the strip", e.Title)
		}
	}
	var again bytes.Buffer
	if err := c.WriteStrip(&again); err != nil || again.String() != b.String() {
		t.Error("the same strip differs")
	}
}

func TestBadInput(t *testing.T) {
	w := clockwork(2, 7, 17, false, still)
	for name, in := range map[string]Input{
		"no weather":    {Today: august},
		"a short piece": {Today: august, Weather: &climate.Series{Hours: w.Hours[:2000], Start: w.Start, Zone: w.Zone}},
		"no day":        {Weather: w},
	} {
		if _, err := Make(in); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestUnitsOfTheTexts(t *testing.T) {
	c, err := Make(Input{Plan: examplePlan(t), Weather: clockwork(5, 7, 17, false, still), Today: august, System: quantity.US})
	if err != nil {
		t.Fatal(err)
	}
	if e := find(c, "wrap"); e == nil || !strings.Contains(e.Reason, "°F") || strings.Contains(e.Reason, "°C") {
		t.Errorf("%+v", e)
	}
}
