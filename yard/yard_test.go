package yard

import (
	"bytes"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"hackle/quantity"
)

func newID(t testing.TB) ID {
	t.Helper()
	id, err := NewID()
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func at(y int, m time.Month, d, hour int) time.Time {
	return time.Date(y, m, d, hour, 30, 0, 0, time.FixedZone("", 3600))
}

// TestIDIsThatOfTheStandard reads the example of RFC 9562, appendix A.6.
func TestIDIsThatOfTheStandard(t *testing.T) {
	id, err := ParseID("017F22E2-79B0-7CC3-98C4-DC0C0C07398F")
	if err != nil {
		t.Fatal(err)
	}
	if want := time.Date(2022, 2, 22, 19, 22, 22, 0, time.UTC); !id.Made().Equal(want) {
		t.Errorf("made %v, the standard says %v", id.Made(), want)
	}
	for _, bad := range []string{
		"", "017f22e279b07cc398c4dc0c0c07398f", "urn:uuid:017f22e2-79b0-7cc3-98c4-dc0c0c07398f",
		"c232ab00-9414-11ec-b3c8-9f6bdeced846", // version 1, appendix A.1
		"017f22e2-79b0-7cc3-18c4-dc0c0c07398f", // another variant
	} {
		if id, err := ParseID(bad); err == nil {
			t.Errorf("%q became %s", bad, id)
		}
	}
}

func TestIDFromSaysItsTimeAndContent(t *testing.T) {
	when := at(2026, 1, 31, 14)
	a, b := IDFrom(when, "a", "bc"), IDFrom(when, "ab", "c")
	if a == b {
		t.Error("two contents have one ID")
	}
	if a != IDFrom(when, "a", "bc") || !a.Valid() || !a.Made().Equal(when) {
		t.Errorf("%s: valid %v, made %v; wanted an ID of %v", a, a.Valid(), a.Made(), when)
	}
}

func TestRecordFaultsNameTheField(t *testing.T) {
	hive, colony := newID(t), newID(t)
	good := func(kind Kind, values map[string]any) Record {
		return Record{Meta: Meta{ID: newID(t)}, Kind: kind, At: at(2026, 1, 31, 14), Hive: hive, Colony: colony, Values: values}
	}
	tests := []struct {
		name   string
		record Record
		field  string // "" for no fault
	}{
		{"inspection", good(Inspection, map[string]any{"frames_of_bees": 8.5, "queen": "seen", "opened": true}), ""},
		{"heft by feel", good(Weight, map[string]any{"feel": "light"}), ""},
		{"heft of nothing", good(Weight, map[string]any{"side": "front"}), "reading_kg"},
		{"heft in grams", good(Weight, map[string]any{"reading_kg": 31500.0}), "reading_kg"},
		{"heft of no number", good(Weight, map[string]any{"reading_kg": math.NaN()}), "reading_kg"},
		{"heft as text", good(Weight, map[string]any{"reading_kg": "31"}), "reading_kg"},
		{"tare above reading", good(Weight, map[string]any{"reading_kg": 30.0, "tare_kg": 30.0}), "tare_kg"},
		{"unknown word", good(Weight, map[string]any{"reading_kg": 30.0, "side": "north"}), "side"},
		{"unknown field", good(Weight, map[string]any{"reading_kg": 30.0, "colour": "blue"}), "colour"},
		{"unknown kind", good("dance", nil), "kind"},
		{"death without cause", good(Died, nil), "cause"},
		{"cause of a living colony", good(WinterOutcome, map[string]any{"outcome": "weak", "cause": "cold"}), "cause"},
		{"merged with itself", good(Merged, map[string]any{"into": string(colony)}), "into"},
		{"bees counted, none seen", good(Bearding, map[string]any{"bees": 40.0, "extent": "none"}), "extent"},
		{"empty note", good(Note, nil), "note"},
		{"list as value", good(Inspection, map[string]any{"frames_of_bees": []any{1.0}}), "frames_of_bees"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			err := tt.record.Check()
			switch faults := FaultsIn(err); {
			case tt.field == "" && err != nil:
				t.Error(err)
			case tt.field != "" && (len(faults) != 1 || faults[0].Field != tt.field || faults[0].Wanted == ""):
				t.Errorf("got %v, wanted one fault of %s", err, tt.field)
			}
		})
	}
	late := good(Note, nil)
	late.Note, late.At = "x", time.Time{}
	if f := FaultsIn(late.Check()); len(f) != 1 || f[0].Field != "at" {
		t.Errorf("a record without a time gave %v", f)
	}
}

// TestOneSideCarriesHalf holds WholeWeight against the lever law: a beam that rests
// on one end and is lifted at the other, its weight in the middle.
func TestOneSideCarriesHalf(t *testing.T) {
	side := Record{Kind: Weight, Values: map[string]any{"reading_kg": 22.0, "tare_kg": 2.0, "side": "back"}}
	if kg, fromSide, ok := WholeWeight(side); kg != 40 || !fromSide || !ok {
		t.Errorf("one side gave %v, %v, %v; wanted 40 kg from a side", kg, fromSide, ok)
	}
	whole := Record{Kind: Weight, Values: map[string]any{"reading_kg": 42.0, "tare_kg": 2.0}}
	if kg, fromSide, ok := WholeWeight(whole); kg != 40 || fromSide || !ok {
		t.Errorf("the whole gave %v, %v, %v; wanted 40 kg", kg, fromSide, ok)
	}
	if _, _, ok := WholeWeight(Record{Kind: Weight, Values: map[string]any{"feel": "light"}}); ok {
		t.Error("a feel became a weight")
	}
}

func TestLifeIsReadFromTheRecordsInAnyOrder(t *testing.T) {
	a, b, c := newID(t), newID(t), newID(t)
	colony := newID(t)
	rec := func(kind Kind, d int, hive ID, values map[string]any) Record {
		return Record{Meta: Meta{ID: newID(t), Revision: 1}, Kind: kind, At: at(2025, 6, d, 9), Hive: hive, Colony: colony, Values: values}
	}
	records := []Record{
		rec(Died, 20, c, map[string]any{"cause": "robbed"}), rec(Moved, 10, b, nil), rec(Moved, 1, a, nil),
		rec(Moved, 15, c, nil), rec(Inspection, 12, b, nil), rec(Note, 25, c, nil),
	}
	life, err := LifeOf(colony, records)
	if err != nil {
		t.Fatal(err)
	}
	for d, want := range map[int]ID{1: a, 9: a, 10: b, 14: b, 15: c, 20: c} {
		if got, ok := life.HiveAt(at(2025, 6, d, 9)); !ok || got != want {
			t.Errorf("on day %d it lived in %s, wanted %s", d, got, want)
		}
	}
	if got, ok := life.HiveAt(at(2025, 6, 21, 9)); ok {
		t.Errorf("after its death it lives in %s", got)
	}
	if _, ok := life.HiveAt(at(2025, 5, 31, 9)); ok {
		t.Error("it lived in a hive before it was put into one")
	}
	if life.Cause != "robbed" || life.Ended != Died {
		t.Errorf("ended as %s of %q, wanted died of robbed", life.Ended, life.Cause)
	}
	_, err = LifeOf(colony, append(records, rec(Inspection, 21, c, nil)))
	if f := FaultsIn(err); len(f) != 1 || f[0].Field != "at" {
		t.Errorf("an inspection after the death gave %v", err)
	}
	deleted := rec(Inspection, 21, c, nil)
	deleted.Deleted = true
	if _, err := LifeOf(colony, append(records, deleted)); err != nil {
		t.Errorf("a deleted record counts: %v", err)
	}
	// The outcome of the winter may say what the death said, and more.
	dead := rec(WinterOutcome, 28, c, map[string]any{"outcome": "dead", "cause": "cold"})
	records[0].Values["cause"] = "unknown"
	if life, err := LifeOf(colony, append(records, dead)); err != nil || life.Cause != "cold" {
		t.Errorf("cause %q, %v; wanted cold", life.Cause, err)
	}
}

func TestAHiveHoldsOneColony(t *testing.T) {
	hive, one, two := newID(t), newID(t), newID(t)
	stay := func(c ID, from, to int) Life {
		s := Stay{Hive: hive, From: at(2025, 6, from, 9)}
		if to > 0 {
			s.To = at(2025, 6, to, 9)
		}
		return Life{Colony: c, Stays: []Stay{s}}
	}
	if err := CheckRoom([]Life{stay(one, 1, 10), stay(two, 10, 0)}); err != nil {
		t.Errorf("one after the other: %v", err)
	}
	for name, lives := range map[string][]Life{
		"still there":  {stay(one, 1, 0), stay(two, 10, 0)},
		"in the midst": {stay(two, 1, 20), stay(one, 5, 10)},
	} {
		if err := CheckRoom(lives); len(FaultsIn(err)) != 1 {
			t.Errorf("%s: %v, wanted one fault", name, err)
		}
	}
}

func TestBuildOfADay(t *testing.T) {
	first := Build{Meta: Meta{ID: "1"}, From: "2024-10-01"}
	second := Build{Meta: Meta{ID: "2"}, From: "2025-03-01"}
	gone := Build{Meta: Meta{ID: "3", Deleted: true}, From: "2025-06-01"}
	builds := []Build{second, gone, first}
	for day, want := range map[string]ID{"2024-09-30": "", "2024-10-01": "1", "2025-02-28": "1", "2025-03-01": "2", "2026-01-01": "2"} {
		if b, ok := BuildOn(builds, day); b.ID != want || ok != (want != "") {
			t.Errorf("on %s build %q, wanted %q", day, b.ID, want)
		}
	}
}

// notebook is an invented notebook with everything in it.
func notebook(t testing.TB) *Notebook {
	t.Helper()
	meta := func(revision int) Meta { return Meta{ID: newID(t), Revision: revision} }
	n := &Notebook{
		Yards: []Yard{
			{Meta: meta(1), Name: "Invented orchard", HasPlace: true, Latitude: 44.123456789, Longitude: -73.2, Height: 110.5, Weather: "burlington-vt", Note: "two lines,\nand \"quotes\""},
			{Meta: meta(3), Name: "=SUM(A1)", Note: "'quoted; with a semicolon"},
		},
		Colonies: []Colony{{Meta: meta(1), Name: "@Ada", Origin: "swarm"}},
	}
	n.Colonies = append(n.Colonies, Colony{Meta: meta(2), Name: "Berta", Origin: "split", From: n.Colonies[0].ID, Note: "-5 degrees that day"})
	gone := meta(2)
	gone.Deleted = true
	n.Hives = []Hive{
		{Meta: meta(1), Yard: n.Yards[0].ID, Name: "One", HasPosition: true, X: 0, Y: 2.5},
		{Meta: meta(1), Yard: n.Yards[1].ID, Name: "One"},
		{Meta: gone, Yard: n.Yards[0].ID, Name: "Two"},
		{Meta: meta(1), Yard: n.Yards[0].ID, Name: string(newID(t))}, // a name that looks like an ID
	}
	n.Builds = []Build{{Meta: meta(1), Hive: n.Hives[1].ID, From: "2025-10-01", File: "version: 1\nname: One\nhive:\n  type: stacked-10\n", Note: "new lid"}}
	n.Plans = []Plan{{Meta: meta(1), Yard: n.Yards[0].ID, Hive: n.Hives[0].ID, Name: "Before the frost", Changes: []byte(`[{"change":"wool lid"}]`)}}
	when := at(2026, 1, 31, 14)
	for _, k := range Kinds() {
		r := Record{Meta: meta(1), Kind: k.Kind, At: when, Hive: n.Hives[len(n.Records)%4].ID, Colony: n.Colonies[len(n.Records)%2].ID, Values: map[string]any{}, Note: "+1"}
		for i, f := range k.Fields {
			switch f.Type {
			case Number:
				r.Values[f.Name] = f.Low + (f.High-f.Low)/3
			case Choice:
				r.Values[f.Name] = f.Words[len(f.Words)-1]
			case Text:
				r.Values[f.Name] = "-=word"
			case YesNo:
				r.Values[f.Name] = i%2 == 0
			case AColony:
				r.Values[f.Name] = string(n.Colonies[(len(n.Records)+1)%2].ID)
			}
		}
		if k.Kind == Weight {
			r.Values["tare_kg"] = 3.25
		}
		n.Records = append(n.Records, r)
		when = when.Add(25 * time.Hour)
	}
	return n
}

// readBack writes every sheet and reads it again.
func readBack(t *testing.T, n *Notebook) *Notebook {
	t.Helper()
	back := new(Notebook)
	for _, sheet := range Sheets() {
		var b bytes.Buffer
		if err := n.WriteCSV(&b, sheet); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		got, err := n.ReadCSV(sheet+".csv", &b, sheet, time.UTC)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		back.Yards = append(back.Yards, got.Yards...)
		back.Hives = append(back.Hives, got.Hives...)
		back.Builds = append(back.Builds, got.Builds...)
		back.Colonies = append(back.Colonies, got.Colonies...)
		back.Plans = append(back.Plans, got.Plans...)
		back.Records = append(back.Records, got.Records...)
	}
	return back
}

func TestTablesComeBackTheSame(t *testing.T) {
	n := notebook(t)
	back := readBack(t, n)
	for i := range min(len(n.Records), len(back.Records)) {
		if !n.Records[i].At.Equal(back.Records[i].At) || offset(n.Records[i].At) != offset(back.Records[i].At) {
			t.Errorf("record %d: at %v became %v", i, n.Records[i].At, back.Records[i].At)
		}
		back.Records[i].At = n.Records[i].At
	}
	if !reflect.DeepEqual(n, back) {
		t.Errorf("wrote %+v\nread  %+v", n, back)
	}
}

func TestHandMadeTableIsUnderstood(t *testing.T) {
	n := notebook(t)
	const text = "\ufeffHive;At;reading_kg;yard;note\nOne;2026-01-05 08:15;70 lb;invented orchard;\n;;;;\nOne;2026-01-05 08:15;70 lb;invented orchard;\nOne;2026-02-01;31.5;Invented orchard;\"with a\nbreak\"\n"
	zone := time.FixedZone("", -5*3600)
	first, err := n.ReadCSV("weights.csv", strings.NewReader(text), "weight", zone)
	if err != nil {
		t.Fatal(err)
	}
	again, err := n.ReadCSV("weights.csv", strings.NewReader(text), "weight", zone)
	if err != nil || !reflect.DeepEqual(again, first) {
		t.Errorf("read again it is %+v, %v; wanted the same IDs", again, err)
	}
	if len(first.Records) != 3 || first.Records[0].ID == first.Records[1].ID {
		t.Fatalf("read %+v, wanted three records, the twins apart", first.Records)
	}
	r := first.Records[0]
	// 1 lb is 0.45359237 kg exactly (international pound, 1959).
	if kg, _ := r.Number("reading_kg"); math.Abs(kg-70*0.45359237) > 1e-12 {
		t.Errorf("70 lb became %v kg", kg)
	}
	if r.Hive != n.Hives[0].ID || r.At.Format(time.RFC3339) != "2026-01-05T08:15:00-05:00" {
		t.Errorf("read %+v", r)
	}
	last := first.Records[2]
	if last.At.Hour() != 12 || last.Note != "with a\nbreak" || first.Lines[last.ID] != 5 {
		t.Errorf("read %+v on line %d", last, first.Lines[last.ID])
	}
}

func TestTableFaultsNameLineAndColumn(t *testing.T) {
	n := notebook(t)
	tests := []struct {
		name, sheet, text, want string
	}{
		{"misspelt column", "weight", "at,hive,readng_kg\n", "x.csv:1: column 3: found \"readng_kg\""},
		{"and the one meant", "weight", "at,hive,readng_kg\n", "did you mean reading_kg?"},
		{"unknown hive", "weight", "at,hive,reading_kg\n2026-01-01,Three,30\n", "x.csv:2: hive: found \"Three\""},
		{"two hives of one name", "weight", "at,hive,reading_kg\n2026-01-01,One,30\n", "x.csv:2: hive: found \"One\", wanted a name that only one hive has"},
		{"no number", "weight", "at,yard,hive,reading_kg\n2026-01-01,Invented orchard,One,heavy\n", "x.csv:2: reading_kg: found \"heavy\", wanted a number"},
		{"out of range", "weight", "at,yard,hive,reading_kg\n2026-01-01,Invented orchard,One,31500\n", "x.csv:2: reading_kg: found \"31500\", wanted a number from 0.1 to 400 kg"},
		{"no time", "note", "at,note\nyesterday,x\n", "x.csv:2: at: found \"yesterday\""},
		{"too many cells", "note", "at,note\n2026-01-01,x,y\n", "x.csv:2: row: found 3 cells, wanted at most 2"},
		{"torn quote", "note", "at,note\n2026-01-01,\"x\n", "x.csv:2: row"},
		{"column twice", "note", "at,at\n", "x.csv:1: at: found the column twice"},
		{"empty", "note", "", "x.csv:1: file: found an empty file"},
		{"ID twice", "colonies", "id,name\n017f22e2-79b0-7cc3-98c4-dc0c0c07398f,a\n017f22e2-79b0-7cc3-98c4-dc0c0c07398f,b\n", "x.csv:3: id"},
		{"faulty hive file", "builds", "yard,hive,from,file\nInvented orchard,One,2026-01-01,\"version: 1\nhive: {type: round}\n\"\n", "x.csv:2: file:2:"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := n.ReadCSV("x.csv", strings.NewReader(tt.text), tt.sheet, time.UTC)
			var te *TableError
			if !errors.As(err, &te) || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v, wanted %q", err, tt.want)
			}
			if got.Len() != 0 {
				t.Errorf("a faulty table gave %d things", got.Len())
			}
		})
	}
	if _, err := n.ReadCSV("x.csv", strings.NewReader("a\n"), "bees", time.UTC); err == nil || !strings.Contains(err.Error(), "winter-outcome") {
		t.Errorf("an unknown sheet gave %v, wanted the list", err)
	}
}

func TestEveryColumnIsDescribed(t *testing.T) {
	for _, sheet := range Sheets() {
		columns := Columns(sheet)
		if len(columns) < 4 || columns[0].Name != "id" {
			t.Errorf("%s: %+v", sheet, columns)
		}
	}
	for _, k := range Kinds() {
		for _, f := range k.Fields {
			if f.Meaning == "" || f.Label == "" {
				t.Errorf("%s %s has no meaning or label", k.Kind, f.Name)
			}
			if f.Type == Number && f.High <= f.Low {
				t.Errorf("%s %s goes from %v to %v", k.Kind, f.Name, f.Low, f.High)
			}
		}
	}
}

// FuzzTables reads anything as any sheet; what is taken must come back the same.
func FuzzTables(f *testing.F) {
	n := notebook(f)
	for i, sheet := range Sheets() {
		var b bytes.Buffer
		if err := n.WriteCSV(&b, sheet); err != nil {
			f.Fatal(err)
		}
		f.Add(b.Bytes(), uint8(i))
	}
	f.Add([]byte("at;hive;reading_kg;yard\n2026-01-05 08:15;One;70 lb;Invented orchard\n"), uint8(6))
	f.Fuzz(func(t *testing.T, text []byte, which uint8) {
		sheet := Sheets()[int(which)%len(Sheets())]
		got, err := n.ReadCSV("x.csv", bytes.NewReader(text), sheet, time.UTC)
		if err != nil {
			var te *TableError
			if !errors.As(err, &te) {
				t.Fatal(err)
			}
			return
		}
		// Names are looked up in the notebook that the table was read with.
		all := *n
		all.Yards, all.Hives, all.Builds, all.Colonies, all.Plans, all.Records = got.Yards, got.Hives, got.Builds, got.Colonies, got.Plans, got.Records
		if sheet != "yards" {
			all.Yards = n.Yards
		}
		if sheet != "hives" {
			all.Hives = n.Hives
		}
		if sheet != "colonies" {
			all.Colonies = n.Colonies
		}
		var b bytes.Buffer
		if err := all.WriteCSV(&b, sheet); err != nil {
			t.Fatal(err)
		}
		written := b.String()
		back, err := all.ReadCSV("x.csv", &b, sheet, time.UTC)
		if err != nil {
			t.Fatalf("%v\n%s", err, written)
		}
		var c bytes.Buffer
		last := all
		if sheet != "yards" && sheet != "hives" && sheet != "colonies" {
			last.Builds, last.Plans, last.Records = back.Builds, back.Plans, back.Records
		} else {
			last.Yards, last.Hives, last.Colonies = all.Yards, all.Hives, all.Colonies
			switch sheet {
			case "yards":
				last.Yards = back.Yards
			case "hives":
				last.Hives = back.Hives
			default:
				last.Colonies = back.Colonies
			}
		}
		if err := last.WriteCSV(&c, sheet); err != nil {
			t.Fatal(err)
		}
		if c.String() != written {
			t.Errorf("written %q\nand then %q", written, c.String())
		}
	})
}

func TestRecordsAreSaidInWords(t *testing.T) {
	n := notebook(t)
	for want, r := range map[string]Record{
		"8.5 frames of bees, queen: no sign, not opened":                                                    {Kind: Inspection, Values: map[string]any{"frames_of_bees": 8.5, "queen": "no sign", "opened": false}},
		"70 lb on the scale, back lifted, felt heavy, about 140 lb whole, if the weight lies in the middle": {Kind: Weight, Values: map[string]any{"reading_kg": 70 * 0.45359237, "side": "back", "feel": "heavy"}},
		"some outside, air at 95 °F":                                                                        {Kind: Bearding, Values: map[string]any{"extent": "some", "air_temperature_c": 35.0}},
		"over the bees, beads":                                                                              {Kind: Drip, Values: map[string]any{"place": "over the bees", "amount": "beads"}},
		"caught as Berta":                                                                                   {Kind: Swarmed, Values: map[string]any{"swarm": string(n.Colonies[1].ID)}},
		"came through: dead, cold, winter of 2025":                                                          {Kind: WinterOutcome, Values: map[string]any{"outcome": "dead", "cause": "cold", "winter_of": 2025.0}},
	} {
		if got := r.Say(n, quantity.US); got != want {
			t.Errorf("said %q, wanted %q", got, want)
		}
	}
}
