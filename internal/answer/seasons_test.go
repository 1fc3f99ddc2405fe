package answer

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hackle/climate"
	"hackle/evidence"
	"hackle/yard"
)

// inventedYard is a notebook of an invented yard: hives as the example has them, one
// of them with a wool lid, through the winters that end in 2025 and 2026.
func inventedYard(t *testing.T, hives int) *yard.Notebook {
	t.Helper()
	id := func() yard.ID {
		v, err := yard.NewID()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	files := map[bool]string{}
	for wool, name := range map[bool]string{false: "two-deep-low-entrance.yaml", true: "two-deep-wool-lid.yaml"} {
		b, err := os.ReadFile(filepath.Join("..", "..", "examples", name))
		if err != nil {
			t.Fatal(err)
		}
		files[wool] = string(b)
	}
	n := &yard.Notebook{}
	home := yard.Yard{Meta: yard.Meta{ID: id()}, Name: "Invented orchard", HasPlace: true, Latitude: 44.5, Longitude: -73.2}
	n.Yards = append(n.Yards, home)
	at := func(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 12, 0, 0, 0, time.UTC) }
	for i := range hives {
		h := yard.Hive{Meta: yard.Meta{ID: id()}, Yard: home.ID, Name: fmt.Sprintf("Hive %d", i+1)}
		c := yard.Colony{Meta: yard.Meta{ID: id()}, Name: fmt.Sprintf("Colony %d", i+1)}
		n.Hives, n.Colonies = append(n.Hives, h), append(n.Colonies, c)
		n.Builds = append(n.Builds, yard.Build{Meta: yard.Meta{ID: id()}, Hive: h.ID, From: "2024-04-01", File: files[i%2 == 0]})
		record := func(k yard.Kind, when time.Time, values map[string]any) {
			n.Records = append(n.Records, yard.Record{Meta: yard.Meta{ID: id()}, Kind: k, At: when, Hive: h.ID, Colony: c.ID, Values: values})
		}
		record(yard.Moved, at(2024, 5, 1), nil)
		for _, year := range []int{2025, 2026} {
			record(yard.Inspection, at(year-1, 10, 1), map[string]any{"frames_of_bees": 8.0 + float64(i%3)})
			record(yard.Weight, at(year-1, 10, 20), map[string]any{"reading_kg": 50.0})
			record(yard.Feeding, at(year, 2, 1), map[string]any{"food": "fondant", "amount_kg": 2.0, "sugar_share": 0.81})
			used := 14.0
			if i%2 == 0 {
				used = 11.0 // the wool lid, in this invented yard
			}
			record(yard.Weight, at(year, 4, 5), map[string]any{"reading_kg": 50.0 - used + 2 + 0.1*float64(i%4)})
			record(yard.Drip, at(year, 1, 20), map[string]any{"place": "over the bees", "amount": map[bool]string{true: "none", false: "beads"}[i%2 == 0]})
			outcome := "strong"
			if year == 2026 && i == 1 {
				outcome = "dead"
			}
			record(yard.WinterOutcome, at(year, 4, 10), map[string]any{"outcome": outcome, "winter_of": float64(year - 1)})
		}
		record(yard.Bearding, time.Date(2025, 7, 10, 16, 0, 0, 0, time.UTC), map[string]any{"extent": "many", "air_temperature_c": 33.0})
		record(yard.Bearding, time.Date(2025, 7, 10, 18, 0, 0, 0, time.UTC), map[string]any{"extent": "some"})
		record(yard.Bearding, at(2025, 7, 11), map[string]any{"extent": "none"})
		record(yard.CombFallen, at(2025, 7, 12), map[string]any{"frames": float64(i % 2)})
	}
	return n
}

func TestSeasonsOfWinters(t *testing.T) {
	n := inventedYard(t, 4)
	o, err := evidence.OutcomeOf("stores used")
	if err != nil {
		t.Fatal(err)
	}
	seasons, notes := Seasons(n, SeasonOptions{Outcome: o})
	if len(notes) != 0 {
		t.Errorf("notes %q", notes)
	}
	found := 0
	for _, s := range seasons {
		if s.Year != 2025 && s.Year != 2026 {
			if s.Survived != evidence.Unknown || s.StoresUsed != nil {
				t.Errorf("a season out of nothing: %+v", s)
			}
			continue
		}
		found++
		wool := s.Hive == "Hive 1" || s.Hive == "Hive 3"
		want := map[bool]evidence.Answer{true: evidence.Yes, false: evidence.No}
		if s.Treatments["insulated lid"] != want[wool] {
			t.Errorf("%s %d: insulated lid %v", s.Hive, s.Year, s.Treatments["insulated lid"])
		}
		if s.FramesOfBees < 8 || s.Colony == "" {
			t.Errorf("%s %d: %+v", s.Hive, s.Year, s)
		}
		// 50 kg less what stood there in April plus 2 kg of fondant with 81 % sugar.
		if s.StoresUsed == nil || *s.StoresUsed < 10.5 || *s.StoresUsed > 14.2 || wool == (*s.StoresUsed > 12.5) {
			t.Errorf("%s %d: stores used %v", s.Hive, s.Year, s.StoresUsed)
		}
		if s.DrippingWater != want[!wool] {
			t.Errorf("%s %d: water %v", s.Hive, s.Year, s.DrippingWater)
		}
		if dead := s.Hive == "Hive 2" && s.Year == 2026; (s.Survived == evidence.No) != dead {
			t.Errorf("%s %d: survived %v", s.Hive, s.Year, s.Survived)
		}
	}
	if found != 8 {
		t.Errorf("%d seasons, wanted 8", found)
	}
}

func TestSeasonsOfSummers(t *testing.T) {
	n := inventedYard(t, 4)
	o, err := evidence.OutcomeOf("comb fell")
	if err != nil {
		t.Fatal(err)
	}
	seasons, _ := Seasons(n, SeasonOptions{Outcome: o})
	for _, s := range seasons {
		if s.Year != 2025 {
			if s.Exposures[evidence.HotSpell] == evidence.Yes {
				t.Errorf("a hot spell in %d", s.Year)
			}
			continue
		}
		fell := map[bool]evidence.Answer{true: evidence.Yes, false: evidence.No}[s.Hive == "Hive 2" || s.Hive == "Hive 4"]
		if s.Exposures[evidence.HotSpell] != evidence.Yes || s.CombFell != fell || s.BeardingDays == nil || *s.BeardingDays != 1 {
			t.Errorf("%+v", s)
		}
	}
	// Weather tells the exposure where records do not.
	seasons, _ = Seasons(n, SeasonOptions{Outcome: o, Hot: func(_ yard.ID, year int) evidence.Answer {
		if year == 2024 {
			return evidence.No
		}
		return evidence.Unknown
	}})
	told := false
	for _, s := range seasons {
		told = told || s.Year == 2024 && s.Exposures[evidence.HotSpell] == evidence.No
	}
	if !told {
		t.Error("the weather's word was not taken")
	}
}

// TestSeasonsOfATrial: in the years of a trial the lot decides, and it is marked.
func TestSeasonsOfATrial(t *testing.T) {
	n := inventedYard(t, 4)
	o, err := evidence.OutcomeOf("survived")
	if err != nil {
		t.Fatal(err)
	}
	plan, err := evidence.Draw([]evidence.Candidate{{Hive: "Hive 1", Yard: "Invented orchard"}, {Hive: "Hive 2", Yard: "Invented orchard"}}, []string{"insulated lid", "as before"}, 3)
	if err != nil {
		t.Fatal(err)
	}
	trial := Trial{Name: "x", Treatment: "insulated lid", Outcome: "survived", From: 2026, To: 2026, Plan: plan}
	seasons, _ := Seasons(n, SeasonOptions{Outcome: o, Trials: []Trial{trial}})
	for _, s := range seasons {
		dealt := s.Year == 2026 && (s.Hive == "Hive 1" || s.Hive == "Hive 2")
		if s.ByLot["insulated lid"] != dealt {
			t.Errorf("%s %d: by lot %v", s.Hive, s.Year, s.ByLot)
		}
		if dealt {
			want := map[bool]evidence.Answer{true: evidence.Yes, false: evidence.No}[assigned(trial, s.Yard, s.Hive) == "insulated lid"]
			if s.Treatments["insulated lid"] != want {
				t.Errorf("%s: %v", s.Hive, s.Treatments["insulated lid"])
			}
		}
	}
}

// TestSeasonsSpeak: the invented yard, in which the wool lid saves 3 kg, is weighed.
func TestSeasonsSpeak(t *testing.T) {
	n := inventedYard(t, 12)
	o, err := evidence.OutcomeOf("stores used")
	if err != nil {
		t.Fatal(err)
	}
	seasons, _ := Seasons(n, SeasonOptions{Outcome: o})
	f, err := evidence.Compare(seasons, "insulated lid", o)
	if err != nil {
		t.Fatal(err)
	}
	if !f.Helps || f.With.Seasons != 12 || f.Without.Seasons != 12 || f.Raw > -2.8 || f.Raw < -3.2 {
		t.Errorf("%s; %+v %+v raw %g", f.Verdict, f.With, f.Without, f.Raw)
	}
	byChoice := false
	for _, c := range f.Cautions {
		byChoice = byChoice || c.Code == "by choice"
	}
	if !byChoice || f.Strength > evidence.Moderate {
		t.Errorf("not dealt by lot, and yet %v: %v", f.Strength, f.Cautions)
	}
}

// TestHotSpell: three days in a row with 32 °C and more, in a record that covers the
// summer.
func TestHotSpell(t *testing.T) {
	w, err := climate.Load("phoenix-az")
	if err != nil {
		t.Fatal(err)
	}
	if HotSpell(w, 2025) != evidence.Unknown {
		t.Error("a typical year tells of a hot spell")
	}
	summer, err := w.Window(time.Date(2025, 4, 1, 0, 0, 0, 0, w.Location()), time.Date(2025, 11, 1, 0, 0, 0, 0, w.Location()))
	if err != nil {
		t.Fatal(err)
	}
	summer.Typical = false
	if HotSpell(summer, 2025) != evidence.Yes {
		t.Error("no hot spell in Phoenix")
	}
	for i := range summer.Hours {
		summer.Hours[i].TempAir = 31
		if i/24%3 == 0 && i%24 == 15 {
			summer.Hours[i].TempAir = 36 // single hot days are no spell
		}
	}
	if HotSpell(summer, 2025) != evidence.No {
		t.Error("single hot days count as a spell")
	}
	if HotSpell(summer, 2024) != evidence.Unknown {
		t.Error("a summer that the weather does not cover")
	}
}

func TestKeepMeasured(t *testing.T) {
	b, err := os.ReadFile("../../examples/two-deep-low-entrance.yaml")
	if err != nil {
		t.Fatal(err)
	}
	plan, _, err := ReadHive("x", strings.NewReader(string(b)))
	if err != nil {
		t.Fatal(err)
	}
	m := plan.Measured
	m.Shell, m.From = 1.125, "heater test: \"plain\""
	text, err := KeepMeasured("x", append([]byte("# mine\n"), b...), m)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(string(text), "# mine\n"+string(b[:len(b)-1])) {
		t.Error("the rest of the file was touched")
	}
	m.Shell, m.Bees = 0, 0.9
	if text, err = KeepMeasured("x", append(text, "# end\n"...), m); err != nil {
		t.Fatal(err)
	}
	again, _, err := ReadHive("x", strings.NewReader(string(text)))
	if err != nil {
		t.Fatal(err)
	}
	if again.Measured.Shell != 1.125 || again.Measured.Bees != 0.9 || again.Measured.From != m.From || strings.Count(string(text), "measured:") != 1 || !strings.HasSuffix(string(text), "# end\n") {
		t.Errorf("%+v\n%s", again.Measured, text)
	}
	m.Shell, m.Bees = 0, 0
	if _, err := KeepMeasured("x", b, m); err == nil {
		t.Error("nothing was kept without a word")
	}
}
