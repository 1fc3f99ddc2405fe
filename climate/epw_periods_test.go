package climate

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"
)

func TestEPWPeriods(t *testing.T) {
	year := asRecord(builtinLines(t, "burlington-vt"), 2015)
	from := func(day, days int) []string { return year[8+24*day : 8+24*(day+days)] }
	head := append([]string(nil), year[:8]...)
	head[7] = "DATA PERIODS,2,1,Cold,Thursday,1/10,1/16,Hot,Wednesday,7/1/2015,7/20/2015"
	lines := append(append(append([]string(nil), head...), from(9, 7)...), from(181, 20)...)

	all, err := ReadEPWPeriods("two.epw", strings.NewReader(strings.Join(lines, "\n")))
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 2 || len(all[0].Hours) != 7*24 || len(all[1].Hours) != 20*24 {
		t.Fatalf("%d periods", len(all))
	}
	if !strings.HasSuffix(all[0].Name, "; Cold") || !strings.HasSuffix(all[1].Name, "; Hot") || all[0].Typical {
		t.Errorf("names %q and %q", all[0].Name, all[1].Name)
	}
	for i, want := range []time.Time{time.Date(2015, 1, 10, 0, 0, 0, 0, all[0].Location()), time.Date(2015, 7, 1, 0, 0, 0, 0, all[0].Location())} {
		if !all[i].Start.Equal(want) {
			t.Errorf("period %d begins %v, want %v", i, all[i].Start, want)
		}
	}
	whole, err := read(year)
	if err != nil {
		t.Fatal(err)
	}
	if all[1].Hours[100] != whole.Hours[181*24+100] {
		t.Errorf("hour 100 of the second period differs from the year's: %+v", all[1].Hours[100])
	}
	one, err := read(lines)
	if err != nil {
		t.Fatal(err)
	}
	if len(one.Hours) != 20*24 || !hasRepair(one, "DATA PERIODS", "2 periods that do not touch") {
		t.Errorf("%d hours, repairs %+v", len(one.Hours), one.Repairs)
	}

	// Periods that touch are one.
	touching := append(append([]string(nil), head...), from(0, 59)...)
	touching[7] = "DATA PERIODS,2,1,January,Thursday,1/1,1/31,February,Sunday,2/1,2/28"
	if all, err = ReadEPWPeriods("touch.epw", strings.NewReader(strings.Join(touching, "\n"))); err != nil || len(all) != 1 || len(all[0].Hours) != 59*24 {
		t.Errorf("touching periods: %d series, %v", len(all), err)
	}
	// A hole that the header does not know is no period.
	holed := append(append([]string(nil), lines...), from(250, 3)...)
	if _, err = read(holed); err == nil || !strings.Contains(err.Error(), "missing from") {
		t.Errorf("a hole: %v", err)
	}
	// The file says it knows no leap years, and has one.
	leap := append(append([]string(nil), asRecord(year, 2016)[:8+59*24]...), asRecord(year, 2016)[8+58*24:8+59*24]...)
	for i := 8 + 59*24; i < len(leap); i++ {
		leap[i] = setField(leap[i], 2, "29")
	}
	leap[7] = "DATA PERIODS,1,1,Data,Sunday,1/1,2/29"
	s, err := read(leap)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Hours) != 60*24 || !hasRepair(s, "LeapYear Observed", "29 February") || hasRepair(s, "DATA PERIODS", "") {
		t.Errorf("leap: %d hours, repairs %+v", len(s.Hours), s.Repairs)
	}
}

func TestEPWFinerRows(t *testing.T) {
	year := asRecord(builtinLines(t, "burlington-vt"), 2015)
	want, err := read(year)
	if err != nil {
		t.Fatal(err)
	}
	for _, perHour := range []int{2, 4, 6} {
		for _, first := range []int{0, 60 / perHour} { // minutes that begin at 0, or end at 60
			lines := append([]string(nil), year[:8]...)
			lines[7] = fmt.Sprintf("DATA PERIODS,1,%d,Data,Sunday,1/1,12/31", perHour)
			for i, row := range year[8:] {
				temp := want.Hours[i].TempAir
				for k := range perHour {
					r := setField(row, 4, strconv.Itoa(first+k*60/perHour))
					// Around the hour's mean; the wind turns about north.
					r = setField(r, 6, fmt.Sprintf("%.4f", temp+float64(k)-float64(perHour-1)/2))
					r = setField(r, 20, strconv.Itoa((350+20*(k%2))%360))
					lines = append(lines, setField(r, 33, "0.5"))
				}
			}
			s, err := read(lines)
			if err != nil {
				t.Fatal(err)
			}
			if len(s.Hours) != 8760 || !hasRepair(s, "rows an hour", strconv.Itoa(perHour)) {
				t.Fatalf("%d rows an hour: %d hours, repairs %+v", perHour, len(s.Hours), s.Repairs)
			}
			for i, h := range s.Hours {
				if math.Abs(h.TempAir-want.Hours[i].TempAir) > 1e-3 || math.Abs(h.Rain-0.5*float64(perHour)) > 1e-9 ||
					math.Abs(math.Remainder(h.WindFrom, 360)) > 1e-6 || h.GlobalHorizontal != want.Hours[i].GlobalHorizontal {
					t.Fatalf("%d rows an hour: hour %d %+v, want %+v", perHour, i, h, want.Hours[i])
				}
			}
		}
	}
}

func FuzzReadEPWPeriods(f *testing.F) {
	year := asRecord(builtinLines(f, "burlington-vt"), 2015)
	head := strings.Join(year[:7], "\n") + "\nDATA PERIODS,2,1,A,Thursday,1/1,1/1,B,Wednesday,7/1/2015,7/1/2015\n"
	f.Add(head + strings.Join(year[8:8+24], "\n") + "\n" + strings.Join(year[8+181*24:8+182*24], "\n"))
	f.Add(strings.Replace(head, "2,1", "1,4", 1) + strings.Join(year[8:8+9], "\n"))
	f.Fuzz(func(t *testing.T, text string) {
		all, err := ReadEPWPeriods("fuzz.epw", strings.NewReader(text))
		if err != nil {
			return
		}
		for _, s := range all {
			if len(s.Hours) == 0 {
				t.Fatal("no hours and no error")
			}
			checkComplete(t, s)
		}
	})
}
