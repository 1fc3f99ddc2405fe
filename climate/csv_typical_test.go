package climate

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"
)

// TestTypicalYearAsCSV writes a built-in typical year as CSV and reads it back.
func TestTypicalYearAsCSV(t *testing.T) {
	s, err := Builtin("chicago-il")
	if err != nil {
		t.Fatal(err)
	}
	var text, written bytes.Buffer
	m, err := WriteCSV(&text, s)
	if err != nil {
		t.Fatal(err)
	}
	if err := m.Write(&written); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(written.String(), "typical: true") {
		t.Errorf("the map does not say that the year is typical:\n%s", written.String())
	}
	back, err := ParseColumnMap(written.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	r, err := ReadCSV("chicago.csv", &text, back)
	if err != nil {
		t.Fatal(err)
	}
	if !r.Typical || !r.Start.Equal(s.Start) {
		t.Errorf("typical %v from %v, want the year from %v", r.Typical, r.Start, s.Start)
	}
	sameHours(t, "typical year", r.Hours, s.Hours, 0.0015)
}

// TestTypicalYearOfJoinedMonths reads a year whose months come from different
// years, one of them a leap year, in file order.
func TestTypicalYearOfJoinedMonths(t *testing.T) {
	years := [13]int{0, 1998, 2004, 1979, 1985, 2003, 1981, 1990, 1999, 2000, 1976, 1995, 2001}
	m := recordMap()
	for _, c := range []struct {
		stamp string
		shift time.Duration
	}{{"start", 0}, {"end", time.Hour}} {
		m.Typical, m.Time.Stamp = true, c.stamp
		var b strings.Builder
		b.WriteString("time,T,RH,wind,from,sun\n")
		for month := time.January; month <= time.December; month++ {
			for at := time.Date(years[month], month, 1, 0, 0, 0, 0, time.UTC); at.Month() == month; at = at.Add(time.Hour) {
				sun := 0
				if at.Hour() > 7 && at.Hour() < 16 {
					sun = 200
				}
				fmt.Fprintf(&b, "%s,%d,70,2,180,%d\n", at.Add(c.shift).Format("2006-01-02T15:04"), int(month), sun)
			}
		}
		s, err := ReadCSV("joined.csv", strings.NewReader(b.String()), m)
		if err != nil {
			t.Fatal(c.stamp, err)
		}
		if !s.Typical || len(s.Hours) != 8760 {
			t.Fatalf("stamp %s: typical %v, %d hours", c.stamp, s.Typical, len(s.Hours))
		}
		for i, h := range s.Hours {
			if want := float64(s.Start.Add(time.Duration(i) * time.Hour).Month()); h.TempAir != want {
				t.Fatalf("stamp %s: hour %d has %g °C, want %g", c.stamp, i, h.TempAir, want)
			}
		}
		said := false
		for _, r := range s.Repairs {
			said = said || strings.Contains(r.Found, "29 February")
		}
		if !said {
			t.Errorf("stamp %s: nothing is said of 29 February: %v", c.stamp, s.Repairs)
		}
	}
	m.Time.Stamp = "start"
	half := "time,T,RH,wind,from,sun\n"
	for i := range 24 * 90 {
		half += time.Date(2001, 1, 1, i, 0, 0, 0, time.UTC).Format("2006-01-02T15:04") + ",1,70,2,180,0\n"
	}
	if _, err := ReadCSV("half.csv", strings.NewReader(half), m); err == nil || !strings.Contains(err.Error(), "typical") {
		t.Errorf("a quarter of a typical year: %v", err)
	}
}

func recordMap() ColumnMap {
	return ColumnMap{Latitude: 45, Longitude: 0, Height: 100,
		Time: TimeColumn{Columns: []string{"time"}, Layout: "iso"},
		Columns: map[string]Column{
			"air temperature": {Name: "T", Unit: "°C"}, "relative humidity": {Name: "RH", Unit: "%"},
			"wind speed": {Name: "wind", Unit: "m/s"}, "wind direction": {Name: "from", Unit: "deg"},
			"global horizontal radiation": {Name: "sun", Unit: "W/m²"},
		}}
}

func TestUnknownSiteSuggestsTheNearest(t *testing.T) {
	for _, c := range []struct{ asked, says string }{
		{"burlington", "burlington-vt"}, {"Burlingtn-vt", "burlington-vt"}, {"chicgo-il", "chicago-il"},
		{"winipeg", "winnipeg"}, {"de bilt", "de-bilt"},
	} {
		_, err := Builtin(c.asked)
		if err == nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "hackle weather list") {
			t.Errorf("%s: %v", c.asked, err)
		} else if n := len(err.Error()); n > 200 {
			t.Errorf("%s: the error is %d characters long", c.asked, n)
		}
	}
	_, err := Builtin("qqqqqqqqqqqq")
	if err == nil || strings.Contains(err.Error(), "did you mean") {
		t.Errorf("a word like none: %v", err)
	}
}

func FuzzReadCSVTypical(f *testing.F) {
	f.Add("time,T,RH,wind,from,sun\n2001-01-01T00:00,1,70,2,180,0\n2004-02-29T00:00,1,70,2,180,0\n1999-12-31T24:00,1,70,2,180,0\n", true)
	f.Fuzz(func(t *testing.T, text string, isEnd bool) {
		m := recordMap()
		m.Typical = true
		if isEnd {
			m.Time.Stamp = "end"
		}
		s, err := ReadCSV("fuzz", strings.NewReader(text), m)
		if err == nil && (!s.Typical || len(s.Hours) != 8760) {
			t.Fatalf("%d hours, typical %v", len(s.Hours), s.Typical)
		}
	})
}
