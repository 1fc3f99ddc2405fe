package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"hackle/climate"
	"hackle/logger"
	"hackle/yard"
)

const wholeFile = "version: 1\nname: By the hedge\nhive:\n  type: stacked-10\n  bodies: [deep, deep]\n"

// full makes an invented notebook with everything in it, edits, an undo and a
// deletion among it.
func full(t testing.TB, s *Store) {
	t.Helper()
	y, hives, colonies := furnish(t, s)
	ctx := context.Background()
	w, err := climate.Builtin(climate.BuiltinNames()[0])
	if err != nil {
		t.Fatal(err)
	}
	short := *w
	short.Hours, short.Typical = short.Hours[:48], false
	kept, err := s.AddWeather(ctx, &short)
	if err != nil {
		t.Fatal(err)
	}
	y.Weather = "series:" + string(kept.ID)
	put(t, s.Yards, y)
	build := put(t, s.Builds, yard.Build{Meta: yard.Meta{ID: newID(t)}, Hive: hives[0].ID, From: "2024-10-01", File: wholeFile})
	build.Note = "two bodies"
	build = put(t, s.Builds, build)
	if _, err := s.Builds.Undo(ctx, build.ID, build.Revision); err != nil {
		t.Fatal(err)
	}
	put(t, s.Plans, yard.Plan{Meta: yard.Meta{ID: newID(t)}, Yard: y.ID, Hive: hives[0].ID, Name: "Wool in the lid", Changes: json.RawMessage(`[{"change":"wool lid"}]`)})
	swarm := put(t, s.Colonies, yard.Colony{Meta: yard.Meta{ID: newID(t)}, Name: "Swarm in the plum tree", Origin: "swarm", From: colonies[0].ID})
	record := func(kind yard.Kind, d time.Time, hive, colony yard.ID, values map[string]any) yard.Record {
		return put(t, s.Records, yard.Record{Meta: yard.Meta{ID: newID(t)}, Kind: kind, At: d, Hive: hive, Colony: colony, Values: values, Note: "invented"})
	}
	record(yard.Moved, day(2025, 5, 20), hives[1].ID, swarm.ID, nil)
	record(yard.Swarmed, day(2025, 5, 20), hives[0].ID, colonies[0].ID, map[string]any{"swarm": string(swarm.ID)})
	record(yard.Inspection, day(2025, 6, 1), hives[0].ID, "", map[string]any{"frames_of_bees": 12.5, "queen": "seen", "opened": true})
	heft := record(yard.Weight, day(2025, 9, 1), hives[1].ID, "", map[string]any{"reading_kg": 21.3, "side": "back", "tare_kg": 1.5})
	heft.Values = map[string]any{"reading_kg": 23.1, "side": "back", "tare_kg": 1.5}
	put(t, s.Records, heft)
	slip := record(yard.Drip, day(2025, 11, 1), hives[0].ID, "", map[string]any{"place": "walls", "amount": "beads"})
	if _, err := s.Records.Delete(ctx, slip.ID, slip.Revision); err != nil {
		t.Fatal(err)
	}
	record(yard.Merged, day(2025, 10, 1), "", swarm.ID, map[string]any{"into": string(colonies[0].ID)})
	record(yard.Died, day(2026, 2, 1), "", colonies[0].ID, map[string]any{"cause": "cut off from stores"})
	m, err := logger.ParseMap([]byte("version: 1\ntime: {column: time, zone: UTC}\ncolumns:\n  - {column: T, sensor: under the lid, quantity: temperature, unit: °C}\n"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.ImportReadings(ctx, "invented.csv", strings.NewReader("time,T\n2025-06-01T00:00,21.5\n2025-06-01T01:00,20.75\n"), m, ImportOptions{}); err != nil {
		t.Fatal(err)
	}
	sensors, err := s.Sensors(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.PlaceSensor(ctx, sensors[0].ID, Placement{Since: day(2025, 6, 1).Unix(), Hive: hives[0].ID, Place: Inside, Height: 0.4, Column: "core"}); err != nil {
		t.Fatal(err)
	}
	if err := s.SetLoggerMap(ctx, "invented logger", "version: 1\ntime: {column: time, zone: UTC}\ncolumns:\n  - {column: T, sensor: under the lid, quantity: temperature, unit: °C}\n"); err != nil {
		t.Fatal(err)
	}
	if err := s.SetSetting(ctx, "units", "us"); err != nil {
		t.Fatal(err)
	}
	if err := s.SetSecret(ctx, "password", "hash-that-nobody-may-see"); err != nil {
		t.Fatal(err)
	}
}

func export(t testing.TB, s *Store) string {
	t.Helper()
	var b bytes.Buffer
	if err := s.Export(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// fixedClock makes exports of two stores comparable.
func fixedClock() time.Time { return time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC) }

func TestExportHoldsEverythingAndComesBack(t *testing.T) {
	a, b := open(t, Options{Now: fixedClock}), open(t, Options{Now: fixedClock})
	full(t, a)
	text := export(t, a)
	if strings.Contains(text, "nobody-may-see") {
		t.Error("the export tells a secret")
	}
	m, err := b.Import(t.Context(), "x.json", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if m.New == 0 || m.Changed != 0 || m.Same != 0 {
		t.Errorf("imported %+v, wanted new things alone", m)
	}
	if got := export(t, b); got != text {
		t.Errorf("exported\n%s\nand after the import\n%s", text, got)
	}
	again, err := b.Import(t.Context(), "x.json", strings.NewReader(text))
	if err != nil || again.Same != m.New || again.New+again.Changed != 0 {
		t.Errorf("imported again: %+v, %v; wanted %d the same", again, err, m.New)
	}
	if _, err := Check(t.Context(), b.Path()); err != nil {
		t.Error(err)
	}
	sensors, err := b.Sensors(t.Context())
	if err != nil || len(sensors) != 1 || sensors[0].Readings != 2 || len(sensors[0].Places) != 1 {
		t.Errorf("its sensors came as %+v, %v", sensors, err)
	}
	if hours, err := b.HoursOf(t.Context(), []int64{sensors[0].ID}, sensors[0].First, sensors[0].Last+1); err != nil || len(hours[0]) != 2 {
		t.Errorf("its hours came as %+v, %v", hours, err)
	}
	// The undo goes on where it was.
	builds, err := b.Builds.All(t.Context(), false)
	if err != nil || len(builds) != 1 {
		t.Fatal(builds, err)
	}
	if redone, err := b.Builds.Redo(t.Context(), builds[0].ID, builds[0].Revision); err != nil || redone.Note != "two bodies" {
		t.Errorf("redo gave %+v, %v", redone, err)
	}
}

// TestExportKnowsEveryTable fails when a table is neither exported nor left out on
// purpose.
func TestExportKnowsEveryTable(t *testing.T) {
	exported := []string{"yard", "hive", "build", "colony", "plan", "record", "version", "weather", "setting",
		"sensor", "placement", "reading_block", "reading_tail", "logger_map"}
	// Hours are made from readings; what files were once taken in is for the eyes.
	leftOut := []string{"secret", "session", "job", "cached", "hour_block", "logger_file"}
	s := open(t, Options{})
	rows, err := s.read.Query("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			t.Fatal(err)
		}
		if !slices.Contains(exported, name) && !slices.Contains(leftOut, name) {
			t.Errorf("table %s is neither exported nor left out on purpose", name)
		}
	}
}

func TestImportGoesForwardOrRefuses(t *testing.T) {
	a, b := open(t, Options{}), open(t, Options{})
	full(t, a)
	first := export(t, a)
	if _, err := b.Import(t.Context(), "first", strings.NewReader(first)); err != nil {
		t.Fatal(err)
	}
	yards, _ := a.Yards.All(t.Context(), false)
	y := yards[0]
	y.Note = "edited in the first file"
	put(t, a.Yards, y)
	m, err := b.Import(t.Context(), "later", strings.NewReader(export(t, a)))
	if err != nil || m.Changed != 1 || m.New != 0 {
		t.Errorf("import of a later export: %+v, %v; wanted one change", m, err)
	}
	if m, err := b.Import(t.Context(), "first", strings.NewReader(first)); err != nil || m.Changed+m.New != 0 {
		t.Errorf("import of an earlier export: %+v, %v; wanted no change", m, err)
	}
	now, _ := b.Yards.Get(t.Context(), y.ID)
	now.Note = "edited in the second file"
	put(t, b.Yards, now)
	y, _ = a.Yards.Get(t.Context(), y.ID)
	y.Note = "edited in the first file again"
	put(t, a.Yards, y)
	before := export(t, b)
	if _, err := b.Import(t.Context(), "other", strings.NewReader(export(t, a))); !errors.Is(err, Conflict) {
		t.Errorf("two ways gave %v, wanted a conflict", err)
	}
	if got := export(t, b); stamped(got) != stamped(before) {
		t.Error("the refused import left something behind")
	}
}

// stamped takes the time of the export out of it.
func stamped(text string) string {
	_, after, _ := strings.Cut(text, `"settings"`)
	return after
}

// TestImportRefusesWhatDoesNotHold changes one thing of an export at a time.
func TestImportRefusesWhatDoesNotHold(t *testing.T) {
	a := open(t, Options{})
	full(t, a)
	text := export(t, a)
	colonies, _ := a.Colonies.All(t.Context(), false)
	slices.SortFunc(colonies, func(a, b yard.Colony) int { return -strings.Compare(string(a.From), string(b.From)) })
	parent := string(colonies[0].From)
	for name, change := range map[string][2]string{
		"no JSON":                 {`{"format"`, `{format`},
		"another format":          {`"hackle notebook"`, `"notes"`},
		"a newer version":         {`"version":1`, `"version":99`},
		"an unknown field":        {`"settings"`, `"colours":1,"settings"`},
		"a weight in grams":       {`23.1`, `23100`},
		"a list for a value":      {`23.1`, `[23.1]`},
		"a missing version":       {`"revision":2`, `"revision":3`},
		"a colony of nowhere":     {`"from":"` + parent, `"from":"` + string(newID(t))},
		"an ID that is none":      {parent, "../../etc/passwd"},
		"a life after death":      {`"at":"2025-06-01T12:00:00-05:00"`, `"at":"2026-06-01T12:00:00-05:00"`},
		"a hive file that is no":  {`type: stacked-10`, `type: stacked-ten`},
		"readings that turn back": {`[1748736000,`, `[1748739601,`},
		"a sensor of nothing":     {`"temperature"`, `"mood"`},
		"a place on the moon":     {`"place":"inside"`, `"place":"moon"`},
		"weather cut short":       {`"hours":48`, `"hours":47`},
	} {
		t.Run(name, func(t *testing.T) {
			b := open(t, Options{})
			changed := strings.ReplaceAll(text, change[0], change[1])
			if changed == text {
				t.Fatal("the change found no place")
			}
			_, err := b.Import(t.Context(), "x.json", strings.NewReader(changed))
			var known *Error
			if !errors.As(err, &known) || known.File == "" {
				t.Fatalf("got %v, wanted an error of the file", err)
			}
			if n, err := b.Notebook(t.Context(), true); err != nil || n.Len() != 0 {
				t.Errorf("the refused import left %d things, %v", n.Len(), err)
			}
		})
	}
}

// TestImportOfAnything imports an export with a few bytes changed, again and again:
// each is refused whole, or what is kept then keeps the rules. Fuzzing through the
// database runs a few cases a second only, hence the seeded draws.
func TestImportOfAnything(t *testing.T) {
	a, b := open(t, Options{Now: fixedClock}), open(t, Options{Now: fixedClock})
	full(t, a)
	text := export(t, a)
	random := rand.New(rand.NewPCG(8, 2026))
	pieces := []string{"", "0", "-1", "1e400", "null", "true", "\"", "{", "]", "\u0000", "é", "2026", "deleted", "[]"}
	taken := 0
	for range draws(400) {
		changed := []byte(text)
		for range 1 + random.IntN(2) {
			at := random.IntN(len(changed))
			to := min(at+random.IntN(8), len(changed))
			changed = slices.Concat(changed[:at], []byte(pieces[random.IntN(len(pieces))]), changed[to:])
		}
		before := export(t, b)
		_, err := b.Import(t.Context(), "x.json", bytes.NewReader(changed))
		var known *Error
		switch {
		case err == nil:
			taken++
		case !errors.As(err, &known):
			t.Fatalf("%T: %v", err, err)
		case export(t, b) != before:
			t.Fatalf("a refused import left something: %v", err)
		}
		n, err := b.Notebook(t.Context(), true)
		if err != nil {
			t.Fatal(err)
		}
		if err := orderly(n); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := Check(t.Context(), b.Path()); err != nil {
		t.Error(err)
	}
	t.Logf("%d were taken", taken)
}

// draws is how often something is tried: n, or a tenth in a short run.
func draws(n int) int {
	if testing.Short() {
		return n / 10
	}
	return n
}

func TestTablesAreMergedAllOrNone(t *testing.T) {
	s := open(t, Options{})
	_, hives, _ := furnish(t, s)
	n, err := s.Notebook(t.Context(), false)
	if err != nil {
		t.Fatal(err)
	}
	read := func(text string) yard.Table {
		t.Helper()
		got, err := n.ReadCSV("w.csv", strings.NewReader(text), "weight", time.UTC)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	good := read("at,hive,reading_kg\n2025-02-01,By the hedge,30\n2025-03-01,By the hedge,28\n")
	if m, err := s.Merge(t.Context(), &good.Notebook, true); err != nil || m.New != 2 {
		t.Errorf("tried: %+v, %v", m, err)
	}
	if all, _ := s.FindRecords(t.Context(), RecordFilter{Hive: hives[0].ID, Kinds: []yard.Kind{yard.Weight}}); len(all) != 0 {
		t.Errorf("the trial kept %v", all)
	}
	for i, want := range []Merged{{New: 2}, {Same: 2}} {
		if m, err := s.Merge(t.Context(), &good.Notebook, false); err != nil || m != want {
			t.Errorf("merge %d: %+v, %v; wanted %+v", i+1, m, err, want)
		}
	}
	bad := read("at,hive,colony,reading_kg\n2025-04-01,By the hedge,,27\n2025-05-01,By the hedge," + string(newID(t)) + ",26\n")
	_, err = s.Merge(t.Context(), &bad.Notebook, false)
	var te *ThingError
	if !errors.As(err, &te) || bad.Lines[te.ID] != 3 || !errors.Is(err, Refused) {
		t.Errorf("got %v, wanted a refusal of line 3", err)
	}
	if all, _ := s.FindRecords(t.Context(), RecordFilter{Kinds: []yard.Kind{yard.Weight}}); len(all) != 2 {
		t.Errorf("%d weights after a refused table, wanted 2", len(all))
	}
}

func TestBackupWhileWriting(t *testing.T) {
	s := open(t, Options{})
	_, hives, _ := furnish(t, s)
	var kept atomic.Int64
	stop := make(chan struct{})
	done := make(chan error, 1)
	go func() {
		for {
			select {
			case <-stop:
				done <- nil
				return
			default:
			}
			id, err := yard.NewID()
			if err == nil {
				_, err = s.Records.Put(context.Background(), yard.Record{Meta: yard.Meta{ID: id}, Kind: yard.Weight, At: day(2025, 2, 3), Hive: hives[0].ID, Values: map[string]any{"reading_kg": 30.0}})
			}
			if err != nil {
				done <- err
				return
			}
			kept.Add(1)
		}
	}()
	for i := range 5 {
		for before := kept.Load(); kept.Load() < before+3; { // writes go on
			time.Sleep(time.Millisecond)
		}
		least := kept.Load()
		path := filepath.Join(t.TempDir(), "backup.sqlite")
		report, err := s.Backup(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		if got := int64(report.Things["records"]) - 1; got < least || got > kept.Load() {
			t.Errorf("backup %d holds %d records, wanted %d to %d", i+1, got, least, kept.Load())
		}
		if _, err := s.Backup(t.Context(), path); !errors.Is(err, Conflict) {
			t.Errorf("a backup over a file gave %v, wanted a conflict", err)
		}
		if _, err := Check(t.Context(), path); err != nil {
			t.Error(err)
		}
	}
	close(stop)
	if err := <-done; err != nil {
		t.Error(err)
	}
}

// listing is what stands in a folder, by name.
func listing(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		all[e.Name()] = string(text)
	}
	return all
}

func TestRestoreProvesBeforeItReplaces(t *testing.T) {
	s := open(t, Options{})
	full(t, s)
	backup := filepath.Join(t.TempDir(), "backup.sqlite")
	if _, err := s.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	want := export(t, s)
	yards, _ := s.Yards.All(t.Context(), false)
	y := yards[0]
	y.Note = "after the backup"
	put(t, s.Yards, y)
	later := export(t, s)

	if _, err := Restore(t.Context(), backup, s.Path()); !errors.Is(err, Busy) {
		t.Errorf("restoring over a file in use gave %v, wanted busy", err)
	}
	if got := export(t, s); stamped(got) != stamped(later) {
		t.Error("the refused restore changed the file")
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}

	// A damaged backup is refused, and nothing is touched.
	good, err := os.ReadFile(backup)
	if err != nil {
		t.Fatal(err)
	}
	torn := slices.Clone(good)
	for i := 3 * 4096; i < 4*4096; i++ {
		torn[i] ^= 0xa5
	}
	before := listing(t, filepath.Dir(s.Path()))
	for name, text := range map[string][]byte{"torn": torn, "cut": good[:len(good)/2], "empty": {}, "letter": []byte("Dear aunt")} {
		path := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Restore(t.Context(), path, s.Path()); !errors.Is(err, Corrupt) && !errors.Is(err, NotYard) {
			t.Errorf("%s: got %v, wanted that it is damaged", name, err)
		}
	}
	if _, err := Restore(t.Context(), filepath.Join(t.TempDir(), "none"), s.Path()); !errors.Is(err, NotFound) {
		t.Errorf("a missing backup gave %v", err)
	}
	nowhere := filepath.Join(t.TempDir(), "new")
	if _, err := Restore(t.Context(), filepath.Join(t.TempDir(), "none"), filepath.Join(nowhere, "yard.sqlite")); !errors.Is(err, NotFound) {
		t.Errorf("a missing backup gave %v", err)
	}
	if _, err := os.Stat(nowhere); err == nil {
		t.Error("a missing backup left a folder")
	}
	after := listing(t, filepath.Dir(s.Path()))
	if len(after) != len(before) || after[filepath.Base(s.Path())] != before[filepath.Base(s.Path())] {
		t.Errorf("refused restores left %d files of %d, or changed the yard file", len(after), len(before))
	}

	done, err := Restore(t.Context(), backup, s.Path())
	if err != nil {
		t.Fatal(err)
	}
	for path, text := range map[string]string{s.Path(): want, done.Kept: later} {
		r, err := Open(t.Context(), path, Options{Existing: true})
		if err != nil {
			t.Fatal(err)
		}
		if got := export(t, r); stamped(got) != stamped(text) {
			t.Errorf("%s holds something else than it should", path)
		}
		r.Close()
	}

	// A damaged yard file is no obstacle, and is kept too.
	if err := os.WriteFile(s.Path(), torn[:5000], 0o600); err != nil {
		t.Fatal(err)
	}
	done, err = Restore(t.Context(), backup, s.Path())
	if err != nil {
		t.Fatal(err)
	}
	if text, err := os.ReadFile(done.Kept); err != nil || !bytes.Equal(text, torn[:5000]) {
		t.Errorf("the damaged file was not kept: %v", err)
	}
	// And a place where nothing was.
	fresh := filepath.Join(t.TempDir(), "new", "yard.sqlite")
	if done, err = Restore(t.Context(), backup, fresh); err != nil || done.Kept != "" {
		t.Errorf("restoring to a new place: %+v, %v", done, err)
	}
	if _, err := os.Stat(fresh + "-wal"); !errors.Is(err, fs.ErrNotExist) {
		t.Error("a restored file came with a log")
	}
}
