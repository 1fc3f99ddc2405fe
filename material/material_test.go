package material

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

func standard(t testing.TB) *Table {
	t.Helper()
	table, err := Standard()
	if err != nil {
		t.Fatal(err)
	}
	return table
}

func TestStandardRows(t *testing.T) {
	table := standard(t)
	if len(table.All()) < 50 || len(table.Finishes()) < 7 {
		t.Fatalf("%d materials, %d finishes", len(table.All()), len(table.Finishes()))
	}
	for _, m := range table.All() {
		if err := m.Validate(); err != nil {
			t.Error(err)
		}
		if m.Source == "" {
			t.Errorf("%s has no source", m.Name)
		}
		// A row that names a recalled value in its source says so in its flag.
		if strings.Contains(m.Source, "from memory") && !m.FromMemory {
			t.Errorf("%s: source tells of memory, flag does not", m.Name)
		}
		if m.SheetResistance > 0 {
			// The conductivity is given to two digits.
			if k := m.SheetThickness / m.SheetResistance; math.Abs(k/m.Conductivity-1) > 0.03 {
				t.Errorf("%s: sheet gives conductivity %.3g, row %.3g", m.Name, k, m.Conductivity)
			}
		}
		for _, name := range append([]string{m.Name}, table.Aliases(m.Name)...) {
			if found, err := table.Find(name); err != nil || found != m {
				t.Errorf("%q finds %q, %v", name, found.Name, err)
			}
		}
	}
	for _, f := range table.Finishes() {
		if err := f.Validate(); err != nil {
			t.Error(err)
		}
		if found, err := table.Finish(strings.ToUpper(f.Name)); err != nil || found != f {
			t.Errorf("%q finds %q, %v", f.Name, found.Name, err)
		}
	}
}

// Values as the sources print them; a value of 0 is not compared.
func TestAgainstSources(t *testing.T) {
	type values struct{ conductivity, density, specificHeat, mu float64 }
	tests := []struct {
		name   string
		want   values
		source string
	}{
		{"softwood", values{0.13, 500, 1600, 50}, "EN ISO 10456:2007 Table 3"},
		{"pine", values{0.13, 500, 1600, 50}, "EN ISO 10456:2007 Table 3"},
		{"hardwood", values{0.18, 700, 1600, 200}, "EN ISO 10456:2007 Table 3"},
		{"plywood", values{0.13, 500, 1600, 200}, "EN ISO 10456:2007 Table 3"},
		{"OSB", values{0.13, 650, 1700, 50}, "EN ISO 10456:2007 Table 3"},
		{"cedar", values{0.114, 425, 1630, 0}, "ASHRAE 2005 ch. 25"},
		{"southern pine", values{0.153, 615, 1630, 0}, "ASHRAE 2005 ch. 25"},
		{"EPS", values{0.036, 20, 0, 0}, "ASHRAE 2005 ch. 25"},
		{"EPS", values{0, 0, 1450, 60}, "EN ISO 10456:2007 Table 4"},
		{"mineral wool", values{0, 0, 1030, 1}, "EN ISO 10456:2007 Table 4"},
		{"cork", values{0, 0, 1560, 10}, "EN ISO 10456:2007 Table 4"},
		{"galvanised steel", values{50, 7800, 450, 0}, "EN ISO 10456:2007 Table 3"},
		{"aluminium", values{160, 2800, 880, 0}, "EN ISO 10456:2007 Table 3"},
		{"polycarbonate", values{0.2, 1200, 1200, 5000}, "EN ISO 10456:2007 Table 3"},
		{"roofing felt", values{0.23, 1100, 1000, 50000}, "EN ISO 10456:2007 Table 3"},
		{"honey", values{130e-5 * 418.4, 1424, 0.54 * 4184, 0}, "130e-5 cal/(cm·s·K) and 0.54 cal/(g·K)"},
		{"empty comb", values{0.36e-3 * 418.4, 0, 0, 0}, "0.36e-3 cal/(cm·s·K)"},
		{"comb with bees", values{0.065e-3 * 418.4, 0, 0, 0}, "0.065e-3 cal/(cm·s·K)"},
		{"beeswax", values{0.25, 960, 0, 0}, "FAO bulletin 124"},
	}
	table := standard(t)
	for _, test := range tests {
		m, err := table.Find(test.name)
		if err != nil {
			t.Error(err)
			continue
		}
		got := [...]float64{m.Conductivity, m.Density, m.SpecificHeat, m.MuDry}
		for i, want := range [...]float64{test.want.conductivity, test.want.density, test.want.specificHeat, test.want.mu} {
			// 1 %: what rounding to two or three digits after conversion takes.
			if want != 0 && math.Abs(got[i]-want) > 0.01*want {
				t.Errorf("%s, value %d: %g, %s has %g", test.name, i, got[i], test.source, want)
			}
		}
	}
}

// The two Wood Handbook rows follow from its equation.
func TestWoodHandbookRows(t *testing.T) {
	table := standard(t)
	for name, gravity := range map[string]float64{"white pine": 0.38, "western red cedar": 0.32} {
		m, err := table.Find(name)
		if err != nil {
			t.Fatal(err)
		}
		want := gravity*(0.1941+0.004064*12) + 0.01864
		if math.Abs(m.Conductivity-want) > 0.0005 { // the row has three decimals
			t.Errorf("%s: %g, equation %g", name, m.Conductivity, want)
		}
	}
}

func TestFind(t *testing.T) {
	table := standard(t)
	for typed, want := range map[string]string{
		"Softwood":         "softwood",
		" mineral  wool ":  "mineral wool",
		"Mineral-Wool":     "mineral wool",
		"aluminum":         "aluminium",
		"galvanized steel": "galvanised steel",
		"osb":              "OSB",
		"fiberglass":       "glass wool",
		"Syrup 2:1":        "syrup 2:1",
	} {
		if m, err := table.Find(typed); err != nil || m.Name != want {
			t.Errorf("%q finds %q, %v; want %q", typed, m.Name, err, want)
		}
	}
	for typed, want := range map[string][]string{
		"softwod":         {"softwood"},
		"plywodo":         {"plywood"},
		"galvinised stel": {"galvanised steel"},
		"cedr":            {"cedar"},
		"felt":            {"roofing felt", "wool felt"},
		"wool":            {"mineral wool", "sheep wool"},
	} {
		_, err := table.Find(typed)
		var unknown *UnknownError
		if !errors.As(err, &unknown) {
			t.Errorf("%q: %v", typed, err)
			continue
		}
		for _, name := range want {
			if !slices.Contains(unknown.Nearest, name) {
				t.Errorf("%q suggests %q, not %q", typed, unknown.Nearest, name)
			}
		}
		if unknown.Name != typed || len(unknown.Nearest) > 3 || !strings.Contains(err.Error(), want[0]) {
			t.Errorf("%q: %+v", typed, unknown)
		}
	}
	for _, typed := range []string{"", "--", "unobtainium", strings.Repeat("x", 5000)} {
		_, err := table.Find(typed)
		var unknown *UnknownError
		if !errors.As(err, &unknown) || len(unknown.Nearest) != 0 {
			t.Errorf("%.20q: %v", typed, err)
		}
	}
}

func TestFinish(t *testing.T) {
	table := standard(t)
	white, err := table.Finish("White Paint")
	if err != nil {
		t.Fatal(err)
	}
	dark, err := table.Finish("black")
	if err != nil {
		t.Fatal(err)
	}
	if !(white.SolarAbsorptance < 0.3 && dark.SolarAbsorptance > 0.8) {
		t.Errorf("white %+v, dark %+v", white, dark)
	}
	sheet, err := table.Finish("galvanized steel")
	if err != nil || sheet.Emissivity != 0.2 || sheet.SolarAbsorptance != 0.64 {
		t.Errorf("own surface of steel: %+v, %v", sheet, err)
	}
	for typed, want := range map[string]string{"whit paint": "white paint", "honey": "", "weatherd wood": "weathered wood"} {
		_, err := table.Finish(typed)
		var unknown *UnknownError
		if !errors.As(err, &unknown) || !unknown.Finish || !strings.Contains(err.Error(), "finish") {
			t.Errorf("%q: %v", typed, err)
		} else if want != "" && (len(unknown.Nearest) == 0 || unknown.Nearest[0] != want) {
			t.Errorf("%q suggests %q", typed, unknown.Nearest)
		}
	}
}

func own(name string) Material {
	return Material{Name: name, Conductivity: 0.05, Density: 120, SpecificHeat: 1500, MuDry: 4, MuWet: 2,
		Emissivity: 0.9, SolarAbsorptance: 0.6}
}

func TestWith(t *testing.T) {
	table := standard(t)
	before := table.All()
	mine, err := table.With(own("reed board"), own("EPS"), own("Pine"))
	if err != nil {
		t.Fatal(err)
	}
	for typed, want := range map[string]string{
		"Reed-Board":  "reed board",
		"eps":         "EPS",
		"polystyrene": "EPS",  // alias of the row that was replaced
		"pine":        "Pine", // was an alias of softwood
	} {
		m, err := mine.Find(typed)
		if err != nil || m.Name != want || m.Conductivity != 0.05 || m.Kind != Solid {
			t.Errorf("%q finds %+v, %v", typed, m, err)
		}
	}
	if m, err := mine.Find("timber"); err != nil || m.Name != "softwood" {
		t.Errorf("timber finds %q, %v", m.Name, err)
	}
	if len(mine.All()) != len(before)+2 {
		t.Errorf("%d materials from %d", len(mine.All()), len(before))
	}
	if !slices.Equal(table.All(), before) {
		t.Error("With altered its receiver")
	}
	if m, err := table.Find("EPS"); err != nil || m.Conductivity != 0.036 {
		t.Errorf("receiver finds %+v, %v", m, err)
	}
	if _, err := table.With(own("reed"), own("REED")); err == nil {
		t.Error("two own materials of one name accepted")
	}
	if _, err := table.With(Material{Name: "air"}); err == nil {
		t.Error("own material without values accepted")
	}
}

func TestValidate(t *testing.T) {
	tests := []struct {
		field  string
		change func(*Material)
	}{
		{"conductivity", func(m *Material) { m.Conductivity = 0 }},
		{"conductivity", func(m *Material) { m.Conductivity = -0.1 }},
		{"conductivity", func(m *Material) { m.Conductivity = math.NaN() }},
		{"conductivity", func(m *Material) { m.Conductivity = math.Inf(1) }},
		{"density", func(m *Material) { m.Density = 0.5 }},
		{"specific heat", func(m *Material) { m.SpecificHeat = 1.6 }},
		{"dry water-vapour resistance factor mu", func(m *Material) { m.MuDry = 0.9 }},
		{"wet water-vapour resistance factor mu", func(m *Material) { m.MuWet = 5 }},
		{"wet water-vapour resistance factor mu", func(m *Material) { m.MuWet = 0 }},
		{"emissivity", func(m *Material) { m.Emissivity = 1.1 }},
		{"solar absorptance", func(m *Material) { m.SolarAbsorptance = 65 }},
		{"sorption", func(m *Material) { m.Sorption = -1 }},
		{"sheet thickness", func(m *Material) { m.SheetThickness = 25 }},
		{"sheet resistance", func(m *Material) { m.SheetResistance = math.NaN() }},
	}
	for _, test := range tests {
		m := own("reed board")
		if err := m.Validate(); err != nil {
			t.Fatal(err)
		}
		test.change(&m)
		err := m.Validate()
		var refusal *RangeError
		if !errors.As(err, &refusal) || refusal.Field != test.field {
			t.Errorf("%s: %v", test.field, err)
		}
	}
	m := own("reed board")
	m.Conductivity = 700
	const want = `material "reed board": conductivity is 700 W/(m·K), accepted is 0.002 to 500 W/(m·K)`
	if err := m.Validate(); err == nil || err.Error() != want {
		t.Errorf("message %q, want %q", err, want)
	}
	m = own(" - ")
	if m.Validate() == nil {
		t.Error("material without name accepted")
	}
	m = own("reed board")
	m.Kind = "liquid"
	if m.Validate() == nil {
		t.Error("unknown kind accepted")
	}
	if err := (Material{Name: "candy", Kind: Content, Density: 1400}).Validate(); err != nil {
		t.Errorf("content with unknown values refused: %v", err)
	}
	if (Finish{Name: "matt", SolarAbsorptance: 0.5}).Validate() == nil || (Finish{SolarAbsorptance: 0.5, Emissivity: 0.9}).Validate() == nil {
		t.Error("finish without emissivity or name accepted")
	}
}

func TestReadRefuses(t *testing.T) {
	head, _, _ := strings.Cut(standardFile, "\n")
	row := "reed,,solid,0.05,120,1500,4,2,0.9,0.6,1,4,,,no,book,"
	if _, err := read(strings.NewReader(head + "\n" + row)); err != nil {
		t.Fatal(err)
	}
	for what, file := range map[string]string{
		"empty file":        "",
		"other headings":    strings.Replace(head, "density [kg/m³]", "density [g/cm³]", 1) + "\n" + row,
		"missing cell":      head + "\n" + strings.TrimSuffix(row, ","),
		"not a number":      head + "\n" + strings.Replace(row, "0.05", "low", 1),
		"no source":         head + "\n" + strings.Replace(row, "book", "", 1),
		"memory not told":   head + "\n" + strings.Replace(row, ",no,", ",,", 1),
		"unknown kind":      head + "\n" + strings.Replace(row, "solid", "gas", 1),
		"no conductivity":   head + "\n" + strings.Replace(row, "0.05", "", 1),
		"name twice":        head + "\n" + row + "\n" + row,
		"alias twice":       head + "\n" + strings.Replace(row, "reed,,", "reed,Reed,", 1),
		"finish of no look": head + "\n" + "red,,finish,,,,,,0.9,,,,,no,book,",
	} {
		if _, err := read(strings.NewReader(file)); err == nil {
			t.Errorf("%s accepted", what)
		}
	}
}

func TestPrint(t *testing.T) {
	table := standard(t)
	var out strings.Builder
	if err := table.Print(&out); err != nil {
		t.Fatal(err)
	}
	for _, m := range table.All() {
		if !strings.Contains(out.String(), "\n"+m.Name+" ") {
			t.Errorf("%s is not printed", m.Name)
		}
	}
	for _, want := range []string{"W/(m·K)", "tight", "white paint", "*"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("print lacks %q", want)
		}
	}
	if err := table.Print(full{}); err == nil {
		t.Error("failure to write is not reported")
	}
}

// full is a writer without room.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no room") }

func BenchmarkStandard(b *testing.B) {
	for b.Loop() {
		if _, err := Standard(); err != nil {
			b.Fatal(err)
		}
	}
}

func ExampleTable_Find() {
	table, err := Standard()
	if err != nil {
		fmt.Println(err)
		return
	}
	board, err := table.Find("Cedar")
	fmt.Println(board.Name, board.Conductivity, err)
	_, err = table.Find("cedr")
	fmt.Println(err)
	// Output:
	// cedar 0.114 <nil>
	// material "cedr" is not in the table, did you mean cedar?
}
