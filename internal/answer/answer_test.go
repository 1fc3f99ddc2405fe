package answer

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"hackle/climate"
	"hackle/hive"
	"hackle/season"
)

func TestPlace(t *testing.T) {
	w, err := climate.Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		longitude float64
		kept      bool
	}{{-73.15, true}, {-72.15, true}, {-93.22, false}} {
		plan := hive.Plan{Site: hive.Site{HasPlace: true, Latitude: w.Latitude, Longitude: c.longitude}}
		if notes := place(&plan, w, w.Start, 0); plan.Site.HasPlace != c.kept || (len(notes) == 0) != c.kept {
			t.Errorf("a site at longitude %g keeps its place: %v, notes %v", c.longitude, plan.Site.HasPlace, notes)
		}
	}
	// Pole to pole is half the circumference.
	if got, want := Distance(90, 0, -90, 0), math.Pi*6371e3; math.Abs(got-want) > 1 {
		t.Errorf("pole to pole %g m, want %g", got, want)
	}
}

func TestSpan(t *testing.T) {
	typical, err := climate.Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	south := *typical
	south.Latitude = -40
	record := *typical // two whole winters and some months
	record.Typical = false
	record.Start = time.Date(2021, 7, 1, 0, 0, 0, 0, typical.Location())
	record.Hours = make([]climate.Hour, 24*900)
	short := record // ends in the first summer
	short.Hours = make([]climate.Hour, 24*330)
	given := func(text string) hive.Day {
		if text == "" {
			return hive.Day{}
		}
		d, err := hive.ParseDay(text)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	for _, c := range []struct {
		name        string
		w           *climate.Series
		date        string
		from, to    string
		winter      bool
		first, last string
	}{
		{"north", typical, "", "", "", false, "2025-10-15", "2026-10-14"},
		{"north, winter", typical, "", "", "", true, "2025-10-15", "2026-04-15"},
		{"south", &south, "", "", "", false, "2025-04-15", "2026-04-14"},
		{"south, winter", &south, "", "", "", true, "2025-04-15", "2025-10-15"},
		{"colony's date", typical, "1 Oct", "", "", false, "2025-10-01", "2026-09-30"},
		{"colony's date, winter", typical, "1 Oct", "", "", true, "2025-10-01", "2026-04-15"},
		{"colony in spring", typical, "1 Feb", "", "", false, "2025-02-01", "2026-01-31"},
		{"colony in spring, winter", typical, "1 Feb", "", "", true, "2025-02-01", "2025-04-15"},
		{"colony of a year", typical, "20 Sep 2023", "", "", false, "2023-09-20", "2024-09-19"},
		{"from", typical, "1 Oct", "2025-11-05", "", false, "2025-11-05", "2026-11-04"},
		{"from, winter", typical, "1 Oct", "2025-11-05", "", true, "2025-11-05", "2026-04-15"},
		{"from without year", typical, "", "5 Nov", "", false, "2025-11-05", "2026-11-04"},
		{"from a leap day", typical, "", "2024-02-29", "", false, "2024-02-29", "2025-02-28"},
		{"to", typical, "", "", "2024-03-01", false, "2023-10-15", "2024-03-01"},
		{"to without year", typical, "", "", "1 Mar", false, "2025-10-15", "2026-03-01"},
		{"both", typical, "", "2025-10-01", "2026-04-18", false, "2025-10-01", "2026-04-18"},
		{"both, winter", typical, "", "2025-10-01", "2026-04-18", true, "2025-10-01", "2026-04-18"},
		{"one day", typical, "", "2025-10-01", "2025-10-01", false, "2025-10-01", "2025-10-01"},
		{"record", &record, "", "", "", false, "2022-10-15", "2023-10-14"},
		{"record, winter", &record, "", "", "", true, "2022-10-15", "2023-04-15"},
		{"record, from", &record, "", "1 Dec", "10 Dec", false, "2023-12-01", "2023-12-10"},
		{"record without a whole year", &short, "", "", "", false, "2021-10-15", "2022-04-15"},
		{"the same from a date", &short, "20 Oct 2021", "", "", false, "2021-10-20", "2022-04-15"},
	} {
		colony := hive.Colony{Date: given(c.date)}
		first, last, err := Days{From: given(c.from), To: given(c.to), Winter: c.winter}.Span(colony, c.w)
		if err != nil || first.Format(time.DateOnly) != c.first || last.Format(time.DateOnly) != c.last {
			t.Errorf("%s: %v to %v (%v), want %s to %s", c.name, first, last, err, c.first, c.last)
		}
	}
	for _, c := range []struct {
		name string
		w    *climate.Series
		days Days
		says string
	}{
		{"backwards", typical, Days{From: given("2025-11-05"), To: given("2025-11-04")}, "the last day, 2025-11-04, lies before the first, 2025-11-05"},
		{"no span", &record, Days{From: given("1 Dec"), To: given("30 Nov")}, ""},
		{"none in a short record", &short, Days{From: given("1 Jul"), To: given("20 Jun")}, "holds no whole span from"},
	} {
		_, _, err := c.days.Span(hive.Colony{}, c.w)
		var e *SpanError
		switch {
		case c.says == "":
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
		case !errors.As(err, &e) || !strings.Contains(err.Error(), c.says):
			t.Errorf("%s: %v, want %q", c.name, err, c.says)
		}
	}
}

func TestNotesOfSummer(t *testing.T) {
	w, err := climate.Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	day := func(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, w.Location()) }
	bare := hive.Plan{Hive: hive.Hive{Name: "Bare"}}
	other := hive.Plan{Hive: hive.Hive{Name: "Other"}}
	fed := hive.Plan{Colony: hive.Colony{Flows: []hive.Flow{{}}}}
	for _, c := range []struct {
		name  string
		days  Days
		plans []hive.Plan
		last  time.Time
		says  []string
	}{
		{"flows", Days{}, []hive.Plan{fed}, day(2026, 10, 14), nil},
		{"no flows", Days{}, []hive.Plan{fed, bare}, day(2026, 10, 14), []string{"the file of Bare names no nectar flow"}},
		{"two without", Days{}, []hive.Plan{bare, other}, day(2026, 10, 14), []string{"the files of Bare and Other name no nectar flow"}},
		{"winter", Days{Winter: true}, []hive.Plan{bare}, day(2026, 4, 15), nil},
		{"days asked for", Days{To: hive.Day{Month: 1, Day: 1}}, []hive.Plan{bare}, day(2025, 12, 1), nil},
		{"no whole year", Days{}, []hive.Plan{bare}, day(2026, 4, 15), []string{"holds no whole year from 15 October 2025 on"}},
	} {
		notes := c.days.summerNotes(c.plans, w, day(2025, 10, 15), c.last)
		if len(notes) != len(c.says) || len(notes) > 0 && !strings.Contains(notes[0], c.says[0]) {
			t.Errorf("%s: notes %v, want %v", c.name, notes, c.says)
		}
	}
}

// Every way of heat reaches the JSON, in its own unit.
func TestHeatedKeepsEveryWay(t *testing.T) {
	r := &season.HeaterResult{
		Loss:      season.Loss{Walls: [4]float64{1, 2, 4, 8}, Lid: 16, Floor: 32, Edges: 64, Openings: 128, Cracks: 256, Mesh: 512},
		Levels:    []season.Level{{Height: 0.25, Core: 20, Flank: 10, Mean: 12}},
		Openings:  []season.OpeningFlow{{Name: "vent", In: 1e-3, Out: 2e-3, Heat: 3}},
		WarmDepth: 0.3,
	}
	h := heatedOf("f", season.HeaterInput{Watts: 1023}, r, nil)
	if want := (HeatedLoss{Walls: 15, Lid: 16, Floor: 32, Edges: 64, Openings: 128, Mesh: 512, Cracks: 256}); h.Loss != want {
		t.Errorf("losses %+v, want %+v", h.Loss, want)
	}
	if want := (HeatedWalls{Front: 1, Back: 2, Left: 4, Right: 8}); h.Walls != want {
		t.Errorf("walls %+v, want %+v", h.Walls, want)
	}
	if want := (HeatedLevel{Height: 250, Core: 20, Flank: 10, Mean: 12}); h.Levels[0] != want {
		t.Errorf("level %+v, want %+v", h.Levels[0], want)
	}
	if want := (HeatedOpening{Name: "vent", In: 1, Out: 2, Heat: 3}); h.Openings[0] != want || h.WarmDepth != 300 {
		t.Errorf("opening %+v, want %+v; warm depth %g", h.Openings[0], want, h.WarmDepth)
	}
}

// Faults of the engine are told from errors of the input and from a stop.
func TestErrorsAreSorted(t *testing.T) {
	for _, c := range []struct {
		err   error
		fault bool
	}{
		{fmt.Errorf("%w: no bees", season.ErrInput), false},
		{context.Canceled, false},
		{fmt.Errorf("heater: %w", season.ErrUnsettled), true},
	} {
		var f *Fault
		if got := errors.As(sorted(c.err), &f); got != c.fault || !errors.Is(sorted(c.err), c.err) {
			t.Errorf("%v: a fault of the program: %v, want %v", c.err, got, c.fault)
		}
	}
	singular := errors.New("singular")
	for _, c := range []struct {
		errs []error
		want error
	}{
		{[]error{nil, context.Canceled, singular}, singular},
		{[]error{nil, context.Canceled, nil}, context.Canceled},
		{[]error{nil, nil}, nil},
	} {
		if got := firstError(c.errs); got != c.want {
			t.Errorf("of %v the first is %v, want %v", c.errs, got, c.want)
		}
	}
}

// A run leaves the plans it was given as they were, and a stop is told as such.
func TestRun(t *testing.T) {
	w, err := climate.Builtin("minneapolis-mn")
	if err != nil {
		t.Fatal(err)
	}
	h, err := hive.New("stacked-10", "deep")
	if err != nil {
		t.Fatal(err)
	}
	h.Name = "Box"
	plan := hive.Plan{Hive: h, Site: hive.Site{HasPlace: true, Latitude: 44.5, Longitude: -73.2}}
	plan.Colony.Bees, plan.Colony.Honey = 1.5, 10
	day := func(d int) hive.Day { return hive.Day{Year: 2026, Month: time.January, Day: d} }
	set, err := Place([]hive.Plan{plan, plan}, w, Days{From: day(15), To: day(15)}, 0)
	if err != nil {
		t.Fatal(err)
	}
	if !plan.Site.HasPlace || set.Plans[0].Site.HasPlace || len(set.Notes) != 2 || len(set.Weather.Hours) != 24 {
		t.Errorf("placed: %+v, notes %q, %d hours", set.Plans[0].Site, set.Notes, len(set.Weather.Hours))
	}
	var done [2]int // one goroutine each
	traces, err := set.Run(t.Context(), func(plan, hours, _ int) { done[plan] = hours })
	if err != nil {
		t.Fatal(err)
	}
	if done != [2]int{24, 24} || traces[0].Hours != 24 {
		t.Errorf("progress ends at %v of 24 hours", done)
	}
	c, ledgers := set.Compare([]string{"a", "b"}, traces, []string{"first"}, 0)
	if len(c.Hives) != 2 || c.Hives[1].File != "b" || len(c.Differences) != 1 || c.Notes[0] != "first" || len(c.Notes) != 3 || ledgers[0].Hours != 24 {
		t.Errorf("compared: %+v", c)
	}
	stopped, stop := context.WithCancel(t.Context())
	stop()
	if _, err := set.Run(stopped, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("a stopped run returns %v", err)
	}
	if _, err := Place(nil, w, Days{}, 0); err == nil {
		t.Error("no hive was placed")
	}
}

func TestNotesOfSnow(t *testing.T) {
	w, err := climate.Builtin("novosibirsk-ru")
	if err != nil {
		t.Fatal(err)
	}
	if notes := snowNotes(w); len(notes) != 1 || !strings.Contains(notes[0], "--snow") {
		t.Errorf("a winter of snow without depths: %v", notes)
	}
	if notes := snowNotes(w.WithSnow()); notes != nil {
		t.Errorf("with depths: %v", notes)
	}
	warm, err := climate.Builtin("nairobi-ke")
	if err != nil {
		t.Fatal(err)
	}
	if notes := snowNotes(warm); notes != nil {
		t.Errorf("without frost: %v", notes)
	}
}
