package sweep

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"hackle/climate"
	"hackle/ensemble"
)

// TestMain makes the test's program a worker when it is told so: the way an engine
// runs a unit, as a process of its own.
func TestMain(m *testing.M) {
	if folder := os.Getenv("HACKLE_SWEEP_FOLDER"); folder != "" {
		n, err := strconv.Atoi(os.Getenv("HACKLE_SWEEP_UNIT"))
		if err == nil {
			_, err = Folder(folder).Work(context.Background(), n, "test", 1, nil)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

const sitesText = "site,weather,latitude_deg,longitude_deg,height_m\nAlder Yard,record.csv,44.47,-73.15,104\nStony Field,record.csv,,,\n"

// record writes hours that cover two Januaries into a folder.
func record(t *testing.T, dir string) {
	t.Helper()
	w, err := climate.Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	short, err := w.Window(time.Date(2025, 12, 30, 0, 0, 0, 0, w.Location()), time.Date(2027, 1, 10, 0, 0, 0, 0, w.Location()))
	if err != nil {
		t.Fatal(err)
	}
	var text, columns bytes.Buffer
	m, err := climate.WriteCSV(&text, short)
	if err == nil {
		err = m.Write(&columns)
	}
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "record.csv")
	for name, body := range map[string][]byte{path: text.Bytes(), path + ".map.yaml": columns.Bytes()} {
		if err := os.WriteFile(name, body, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func layout(t *testing.T, days int) Layout {
	t.Helper()
	sites, err := ReadSites("sites.csv", strings.NewReader(sitesText))
	if err != nil {
		t.Fatal(err)
	}
	to := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, days-1)
	return Layout{Sites: sites, Hives: []string{"../../examples/two-deep-wool-lid.yaml"}, Days: Days{From: "1 Jan", To: fmt.Sprintf("%d Jan", to.Day())}, Years: 2, PerUnit: 1, Seed: 3}
}

func lay(t *testing.T, l Layout) Folder {
	t.Helper()
	dir := t.TempDir()
	record(t, dir)
	f := Folder(filepath.Join(dir, "sweep"))
	if n, err := f.Lay(l, dir); err != nil || n != 4 {
		t.Fatalf("%d units, %v", n, err)
	}
	return f
}

func work(t *testing.T, f Folder) {
	t.Helper()
	for n := 1; n <= 4; n++ {
		if _, err := f.Work(context.Background(), n, "test", 2, nil); err != nil {
			t.Fatal(err)
		}
	}
}

func gathered(t *testing.T, f Folder) (table, sheet []byte, g Gathered) {
	t.Helper()
	var a, b bytes.Buffer
	g, err := f.Gather(&a, &b, false)
	if err != nil {
		t.Fatal(err)
	}
	return a.Bytes(), b.Bytes(), g
}

// TestKilledProcesses works a sweep by processes that are killed at odd moments and
// run again, two at a time on the same unit: the gathered tables are to the byte those
// of an undisturbed run.
func TestKilledProcesses(t *testing.T) {
	if testing.Short() {
		t.Skip("starts processes")
	}
	l := layout(t, 6)
	quiet := lay(t, l)
	work(t, quiet)
	wantTable, wantSheet, _ := gathered(t, quiet)

	rough := lay(t, l)
	start := func(unit int) *exec.Cmd {
		c := exec.Command(os.Args[0])
		c.Env = append(os.Environ(), "HACKLE_SWEEP_FOLDER="+string(rough), "HACKLE_SWEEP_UNIT="+strconv.Itoa(unit))
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		return c
	}
	killed, half := 0, 0
	for unit := 1; unit <= 4; unit++ {
		for try, wait := 0, 20*time.Millisecond; ; try, wait = try+1, 2*wait {
			a, b := start(unit), start(unit)
			ended := make(chan error, 1)
			go func() { ended <- a.Wait() }()
			select {
			case err := <-ended:
				if err != nil {
					t.Fatalf("unit %d: %v", unit, err)
				}
			case <-time.After(wait):
				err := a.Process.Kill()
				if err != nil && !errors.Is(err, os.ErrProcessDone) { // it may end just now
					t.Fatal(err)
				}
				<-ended
				if err == nil {
					killed++
				}
			}
			b.Process.Kill() // may have ended; either is fine
			b.Wait()
			missing, err := rough.Missing()
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Contains(missing, unit) {
				break
			}
			half++
			if try > 14 {
				t.Fatalf("unit %d never ends", unit)
			}
		}
	}
	if killed == 0 || half == 0 {
		t.Fatalf("%d processes were killed, %d before they were done: nothing was tried", killed, half)
	}
	table, sheet, _ := gathered(t, rough)
	if !bytes.Equal(table, wantTable) || !bytes.Equal(sheet, wantSheet) {
		t.Error("killed and run again, the tables differ")
	}
	t.Logf("%d processes killed, %d of them before their result was there", killed, half)
}

// TestGathered holds the tables against each other and against runs asked for
// directly.
func TestGathered(t *testing.T) {
	f := lay(t, layout(t, 2))
	if _, err := f.Gather(nil, io.Discard, false); err == nil || !strings.Contains(err.Error(), "1-4") {
		t.Errorf("nothing worked: %v", err)
	}
	work(t, f)
	table, sheet, g := gathered(t, f)
	if g.Rows != 4 || g.Units != 4 || g.Faults != 0 {
		t.Fatalf("gathered %+v", g)
	}
	cells, err := csv.NewReader(bytes.NewReader(sheet)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, name := range cells[0] {
		if seen[name] {
			t.Errorf("two columns are named %s", name)
		}
		seen[name] = true
	}
	file, err := parquet.OpenFile(bytes.NewReader(table), int64(len(table)))
	if err != nil {
		t.Fatal(err)
	}
	if file.NumRows() != 4 || len(file.Schema().Columns()) != len(cells[0]) {
		t.Fatalf("%d rows and %d columns, CSV has %d and %d", file.NumRows(), len(file.Schema().Columns()), len(cells)-1, len(cells[0]))
	}
	rows := make([]parquet.Row, 4)
	if n, err := parquet.NewReader(bytes.NewReader(table)).ReadRows(rows); n != 4 || err != nil && err != io.EOF {
		t.Fatalf("%d rows: %v", n, err)
	}
	for i, path := range file.Schema().Columns() {
		k := slices.Index(cells[0], path[0])
		for r, row := range rows {
			want, got := cells[r+1][k], row[i]
			switch {
			case got.IsNull():
				if want != "" {
					t.Errorf("row %d, %s: none, CSV %q", r, path[0], want)
				}
			case got.Kind() == parquet.Double:
				if x, err := strconv.ParseFloat(want, 64); err != nil || x != got.Double() {
					t.Errorf("row %d, %s: %g, CSV %q", r, path[0], got.Double(), want)
				}
			default:
				if got.String() != want {
					t.Errorf("row %d, %s: %s, CSV %q", r, path[0], got, want)
				}
			}
		}
	}
	// Working again changes nothing; a lost result is missed and made again the same.
	if worked, err := f.Work(context.Background(), 2, "test", 1, nil); worked || err != nil {
		t.Errorf("worked again: %v %v", worked, err)
	}
	before, err := os.ReadFile(f.resultPath(2))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(f.resultPath(2), before[:len(before)/2], 0o644); err != nil {
		t.Fatal(err)
	}
	if m, err := f.Missing(); err != nil || !slices.Equal(m, []int{2}) {
		t.Errorf("missing %v, %v", m, err)
	}
	var partial bytes.Buffer
	if g, err := f.Gather(nil, &partial, true); err != nil || g.Rows != 3 || !slices.Equal(g.Missing, []int{2}) {
		t.Errorf("partial %+v, %v", g, err)
	}
	if worked, err := f.Work(context.Background(), 2, "test", 1, nil); !worked || err != nil {
		t.Errorf("a broken result: %v %v", worked, err)
	}
	if after, _ := os.ReadFile(f.resultPath(2)); !bytes.Equal(after, before) {
		t.Error("made again, the result differs")
	}
	// Results of two versions are not mixed.
	if _, err := f.Work(context.Background(), 3, "other", 1, nil); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Gather(nil, io.Discard, false); err == nil || !strings.Contains(err.Error(), "unit 3") {
		t.Errorf("two versions: %v", err)
	}
	// One of the numbers, asked for directly.
	u, key, err := f.unit(1)
	if err != nil {
		t.Fatal(err)
	}
	q, _, err := u.question()
	if err != nil {
		t.Fatal(err)
	}
	row, err := q.Row(context.Background(), q.Design.Usual(0), nil)
	if err != nil {
		t.Fatal(err)
	}
	r, err := f.result(1, key)
	if err != nil || r == nil {
		t.Fatal(err)
	}
	k := slices.IndexFunc(ensemble.ColumnList(), func(c ensemble.Column) bool { return c.Name == "honey.burned_kg" })
	if *r.Rows[0].Values[k] != row[k] || !(row[k] > 0) {
		t.Errorf("burned %g, directly %g", *r.Rows[0].Values[k], row[k])
	}
}

// TestUnitsHoldTheirWeather: a unit runs when the file it was laid from is gone, and
// draws are the same in every year and on every site.
func TestUnitsHoldTheirWeather(t *testing.T) {
	dir := t.TempDir()
	record(t, dir)
	f := Folder(filepath.Join(dir, "sweep"))
	n, err := f.Lay(Layout{Sites: []PlacedSite{{Site: Site{Name: "Yard"}, Weather: "record.csv"}}, Hives: []string{"../../examples/two-deep-wool-lid.yaml"},
		Days: Days{From: "2 Jan", To: "3 Jan"}, Years: 1, Draws: 2, Seed: 1}, dir)
	if err != nil || n != 1 {
		t.Fatalf("%d units: %v", n, err)
	}
	if err := os.Remove(filepath.Join(dir, "record.csv")); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Work(context.Background(), 1, "test", 1, nil); err != nil {
		t.Fatal(err)
	}
	_, key, err := f.unit(1)
	if err != nil {
		t.Fatal(err)
	}
	r, err := f.result(1, key)
	if err != nil || len(r.Rows) != 2 || r.Rows[0].Draw != 1 || r.Rows[1].Draw != 2 || r.Rows[0].From[4:] != "-01-02" {
		t.Fatalf("%+v %v", r, err)
	}
	if *r.Rows[0].Values[4] == *r.Rows[1].Values[4] {
		t.Error("two draws have the same honey")
	}
}

// TestSitesRefused tells line, column, what was found and what is accepted.
func TestSitesRefused(t *testing.T) {
	for text, want := range map[string]string{
		"":                                    "headings",
		"site,wether\n":                       `"wether"`,
		"site,site\n":                         "two columns",
		"site\nA\n":                           `"weather"`,
		"site,weather\n":                      "no site",
		"site,weather\nA,\n":                  "sites.csv:2",
		"site,weather\nA,x\nA,y\n":            "line 2 already",
		"site,weather,latitude_deg\nA,x,99\n": "-90 to 90",
		"site,weather,latitude_deg\nA,x,45\n": "none of them",
		"site,weather\nA\n":                   "line 2",
	} {
		if _, err := ReadSites("sites.csv", strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
	dir := t.TempDir()
	record(t, dir)
	l := layout(t, 2)
	l.Sites[1].Weather = "nowhere.epw"
	f := Folder(filepath.Join(t.TempDir(), "s"))
	if _, err := f.Lay(l, dir); err == nil || !strings.Contains(err.Error(), "nowhere.epw") || !strings.Contains(err.Error(), "Stony Field") {
		t.Errorf("weather that is not there: %v", err)
	}
	if _, err := os.Stat(string(f)); err == nil {
		t.Error("a refused sweep left its folder")
	}
	good := lay(t, layout(t, 2))
	if _, err := good.Lay(layout(t, 2), "."); err == nil || !strings.Contains(err.Error(), "already") {
		t.Errorf("laid twice: %v", err)
	}
	if _, err := good.Work(context.Background(), 9, "test", 1, nil); err == nil {
		t.Error("a unit that is not there was worked")
	}
}

// TestRanges writes numbers as array jobs take them.
func TestRanges(t *testing.T) {
	for _, c := range []struct {
		in   []int
		want string
	}{{nil, ""}, {[]int{4}, "4"}, {[]int{1, 2, 3, 7, 9, 10}, "1-3,7,9-10"}} {
		if got := Ranges(c.in); got != c.want {
			t.Errorf("%v: %q, want %q", c.in, got, c.want)
		}
	}
}

// TestUnitFile keeps the layout of a unit: machines of another version must be able
// to refuse it.
func TestUnitFile(t *testing.T) {
	f := lay(t, layout(t, 2))
	text, err := os.ReadFile(f.unitPath(1))
	if err != nil {
		t.Fatal(err)
	}
	var u map[string]any
	if err := json.Unmarshal(text, &u); err != nil {
		t.Fatal(err)
	}
	if u["hackle_unit"] != 1.0 || u["hive_file"] == "" {
		t.Errorf("unit %v", u)
	}
	if err := os.WriteFile(f.unitPath(1), bytes.Replace(text, []byte(`"hackle_unit":1`), []byte(`"hackle_unit":2`), 1), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Work(context.Background(), 1, "test", 1, nil); err == nil || !strings.Contains(err.Error(), "layout 2") {
		t.Errorf("another layout: %v", err)
	}
}
