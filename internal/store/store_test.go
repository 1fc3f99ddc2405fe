package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"hackle/climate"
	"hackle/yard"
)

// open opens a new yard file for a test.
func open(t *testing.T, options Options) *Store {
	t.Helper()
	s, err := Open(t.Context(), filepath.Join(t.TempDir(), "a yard #1 100%?.sqlite"), options)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func newID(t testing.TB) yard.ID {
	t.Helper()
	id, err := yard.NewID()
	if err != nil {
		t.Fatal(err)
	}
	return id
}

// put keeps a thing or ends the test.
func put[T thing](t testing.TB, c *Collection[T], v T) T {
	t.Helper()
	kept, err := c.Put(context.Background(), v)
	if err != nil {
		t.Fatal(err)
	}
	return kept
}

// furnish makes a yard with two hives and two colonies, the first in the first hive
// since the beginning of 2025. They are invented.
func furnish(t testing.TB, s *Store) (y yard.Yard, hives [2]yard.Hive, colonies [2]yard.Colony) {
	t.Helper()
	y = put(t, s.Yards, yard.Yard{Meta: yard.Meta{ID: newID(t)}, Name: "Invented orchard", HasPlace: true, Latitude: 44.5, Longitude: -73.2, Height: 110})
	for i, name := range []string{"By the hedge", "By the gate"} {
		hives[i] = put(t, s.Hives, yard.Hive{Meta: yard.Meta{ID: newID(t)}, Yard: y.ID, Name: name})
		colonies[i] = put(t, s.Colonies, yard.Colony{Meta: yard.Meta{ID: newID(t)}, Name: "Colony of " + name})
	}
	put(t, s.Records, yard.Record{Meta: yard.Meta{ID: newID(t)}, Kind: yard.Moved, At: day(2025, 1, 1), Hive: hives[0].ID, Colony: colonies[0].ID})
	return y, hives, colonies
}

func day(y int, m time.Month, d int) time.Time {
	return time.Date(y, m, d, 12, 0, 0, 0, time.FixedZone("", -5*3600))
}

func TestEntrySentTwiceIsOneEntry(t *testing.T) {
	s := open(t, Options{})
	_, hives, _ := furnish(t, s)
	first := yard.Record{Meta: yard.Meta{ID: newID(t)}, Kind: yard.Weight, At: day(2025, 2, 3), Hive: hives[0].ID, Values: map[string]any{"reading_kg": 31.5}}
	kept := put(t, s.Records, first)
	if kept.Revision != 1 || kept.Colony == "" {
		t.Errorf("kept %+v, wanted revision 1 and the colony that lives there", kept)
	}
	if again := put(t, s.Records, first); !reflect.DeepEqual(again, kept) {
		t.Errorf("sent again it became %+v, wanted %+v", again, kept)
	}

	// After an edit the first sending may still arrive, and the edit arrive twice.
	edit := kept
	edit.Values = map[string]any{"reading_kg": 32.5}
	edited := put(t, s.Records, edit)
	for _, late := range []yard.Record{first, edit} {
		if got := put(t, s.Records, late); !reflect.DeepEqual(got, edited) {
			t.Errorf("a late sending made %+v, wanted %+v", got, edited)
		}
	}
	all, err := s.FindRecords(t.Context(), RecordFilter{Kinds: []yard.Kind{yard.Weight}})
	if err != nil || len(all) != 1 || all[0].Revision != 2 {
		t.Errorf("found %+v, %v; wanted one record of revision 2", all, err)
	}

	// Another content under the same ID is no resending.
	other := first
	other.Values = map[string]any{"reading_kg": 40.0}
	if _, err := s.Records.Put(t.Context(), other); !errors.Is(err, Conflict) {
		t.Errorf("another content under a kept ID gave %v, wanted a conflict", err)
	}
}

func TestTwoEditorsDoNotOverwriteEachOther(t *testing.T) {
	s := open(t, Options{})
	y, _, _ := furnish(t, s)
	a, b := y, y
	a.Note, b.Note = "from the kitchen", "from the phone"
	put(t, s.Yards, a)
	_, err := s.Yards.Put(t.Context(), b)
	if !errors.Is(err, Conflict) || !strings.Contains(err.Error(), s.Path()) {
		t.Errorf("the second edit gave %v, wanted a conflict that names the file", err)
	}
	if now, _ := s.Yards.Get(t.Context(), y.ID); now.Note != a.Note {
		t.Errorf("the note is %q, wanted that of the first edit", now.Note)
	}
}

func TestUndoAndRedoWalkThroughEveryContent(t *testing.T) {
	s := open(t, Options{})
	_, hives, _ := furnish(t, s)
	h := hives[0]
	for _, note := range []string{"one", "two", "three"} {
		h.Note = note
		h = put(t, s.Hives, h)
	}
	walk := func(turn func(context.Context, yard.ID, int) (yard.Hive, error), wanted ...string) {
		t.Helper()
		for _, w := range wanted {
			next, err := turn(t.Context(), h.ID, h.Revision)
			if err != nil {
				t.Fatal(err)
			}
			if next.Note != w || next.Revision != h.Revision+1 {
				t.Fatalf("came to %q, revision %d; wanted %q, revision %d", next.Note, next.Revision, w, h.Revision+1)
			}
			h = next
		}
	}
	walk(s.Hives.Undo, "two", "one", "")
	if _, err := s.Hives.Undo(t.Context(), h.ID, h.Revision); !errors.Is(err, NotFound) {
		t.Errorf("undo of the first content gave %v, wanted not found", err)
	}
	walk(s.Hives.Redo, "one", "two")
	h.Note = "four"
	h = put(t, s.Hives, h)
	if _, err := s.Hives.Redo(t.Context(), h.ID, h.Revision); !errors.Is(err, NotFound) {
		t.Errorf("redo after an edit gave %v, wanted not found", err)
	}
	walk(s.Hives.Undo, "two", "one")
	deleted, err := s.Hives.Delete(t.Context(), h.ID, h.Revision)
	if err != nil || !deleted.Deleted {
		t.Fatalf("delete gave %+v, %v", deleted, err)
	}
	h = deleted
	walk(s.Hives.Undo, "one")
	if h.Deleted {
		t.Error("undo left the hive deleted")
	}
	history, err := s.Hives.History(t.Context(), h.ID)
	if err != nil || len(history) != h.Revision {
		t.Errorf("the history has %d versions, %v; wanted %d", len(history), err, h.Revision)
	}
}

func TestLivesForbidWhatCannotBe(t *testing.T) {
	s := open(t, Options{})
	_, hives, colonies := furnish(t, s)
	record := func(kind yard.Kind, at time.Time, hive, colony yard.ID, values map[string]any) error {
		_, err := s.Records.Put(t.Context(), yard.Record{Meta: yard.Meta{ID: newID(t)}, Kind: kind, At: at, Hive: hive, Colony: colony, Values: values})
		return err
	}
	seen := map[string]any{"frames_of_bees": 7.0}
	ok := func(err error) {
		t.Helper()
		if err != nil {
			t.Error(err)
		}
	}
	refused := func(err error, field string) {
		t.Helper()
		faults := yard.FaultsIn(err)
		if !errors.Is(err, Refused) || len(faults) == 0 || faults[0].Field != field {
			t.Errorf("got %v, wanted a refusal that names %s", err, field)
		}
	}
	refused(record(yard.Moved, day(2025, 3, 1), hives[0].ID, colonies[1].ID, nil), "hive") // lived in
	ok(record(yard.Moved, day(2025, 3, 1), hives[1].ID, colonies[1].ID, nil))
	ok(record(yard.Inspection, day(2025, 4, 1), hives[1].ID, "", seen))
	ok(record(yard.Died, day(2025, 5, 1), "", colonies[1].ID, map[string]any{"cause": "starved"}))
	refused(record(yard.Inspection, day(2025, 5, 2), hives[1].ID, colonies[1].ID, seen), "at")
	ok(record(yard.Inspection, day(2025, 4, 30), hives[1].ID, colonies[1].ID, seen)) // written down late
	refused(record(yard.Died, day(2025, 4, 15), "", colonies[1].ID, map[string]any{"cause": "cold"}), "at")
	refused(record(yard.Merged, day(2025, 6, 1), "", colonies[0].ID, map[string]any{"into": string(colonies[1].ID)}), "into")
	ok(record(yard.Moved, day(2025, 6, 2), hives[1].ID, colonies[0].ID, nil)) // empty since the death
	ok(record(yard.Drip, day(2025, 6, 3), hives[0].ID, "", map[string]any{"place": "walls"}))

	refused(record(yard.Drip, time.Now().Add(25*time.Hour).Truncate(time.Second), hives[0].ID, "", map[string]any{"place": "walls"}), "at")

	in, err := s.Occupants(t.Context(), day(2025, 7, 1))
	if err != nil || len(in) != 1 || in[hives[1].ID].ID != colonies[0].ID {
		t.Errorf("occupants are %v, %v; wanted the first colony in the second hive alone", in, err)
	}
	all, err := s.FindRecords(t.Context(), RecordFilter{Colony: colonies[1].ID, Kinds: []yard.Kind{yard.Inspection, yard.Died}})
	if err != nil || len(all) != 3 {
		t.Fatalf("found %v, %v; wanted three", all, err)
	}
	if all[2].Hive != hives[1].ID {
		t.Errorf("the death was noted without its hive: %+v", all[2])
	}
}

func TestNamesAreOnceOnly(t *testing.T) {
	s := open(t, Options{})
	y, hives, _ := furnish(t, s)
	twin := yard.Hive{Meta: yard.Meta{ID: newID(t)}, Yard: y.ID, Name: strings.ToUpper(hives[0].Name)}
	_, err := s.Hives.Put(t.Context(), twin)
	if f := yard.FaultsIn(err); !errors.Is(err, Conflict) || len(f) != 1 || f[0].Field != "name" {
		t.Errorf("got %v, wanted a conflict over the name", err)
	}
	if _, err := s.Hives.Delete(t.Context(), hives[0].ID, 1); err != nil {
		t.Fatal(err)
	}
	put(t, s.Hives, twin)
	if _, err := s.Yards.Delete(t.Context(), y.ID, y.Revision); !errors.Is(err, Refused) {
		t.Errorf("deleting a yard with hives gave %v, wanted a refusal", err)
	}
}

func TestWeatherComesBackTheSame(t *testing.T) {
	s := open(t, Options{})
	w, err := climate.Builtin(climate.BuiltinNames()[0])
	if err != nil {
		t.Fatal(err)
	}
	kept, err := s.AddWeather(t.Context(), w)
	if err != nil {
		t.Fatal(err)
	}
	again, err := s.AddWeather(t.Context(), w)
	if err != nil || again.Hash != kept.Hash || again.ID != kept.ID {
		t.Errorf("added again it is %+v, %v; wanted %+v", again, err, kept)
	}
	back, err := s.WeatherSeries(t.Context(), kept.ID)
	if err != nil {
		t.Fatal(err)
	}
	if !back.Start.Equal(w.Start) || !reflect.DeepEqual(back.Hours, w.Hours) || !reflect.DeepEqual(back.Repairs, w.Repairs) {
		t.Error("the series came back changed")
	}
	a, b := *w, *back
	a.Hours, b.Hours, a.Start, b.Start = nil, nil, time.Time{}, time.Time{}
	if !reflect.DeepEqual(a, b) {
		t.Errorf("came back as %+v, wanted %+v", b, a)
	}
	// The kept form names every field; one that is new here needs a new version.
	if n := reflect.TypeFor[climate.Hour]().NumField(); n != len(columnsOf(new(climate.Hour))) {
		t.Errorf("climate.Hour has %d fields, %d are kept", n, len(columnsOf(new(climate.Hour))))
	}
	if n := reflect.TypeFor[climate.Series]().NumField(); n != 13 {
		t.Errorf("climate.Series has %d fields, 13 are kept", n)
	}
	if err := s.RemoveWeather(t.Context(), kept.ID); err != nil {
		t.Fatal(err)
	}
	if _, err := s.WeatherSeries(t.Context(), kept.ID); !errors.Is(err, NotFound) {
		t.Errorf("a removed series gave %v, wanted not found", err)
	}
}

func TestCacheStaysWithinItsBound(t *testing.T) {
	now := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	s := open(t, Options{CacheLimit: 1000, Now: func() time.Time { return now }})
	piece := func(b byte) []byte { return bytes.Repeat([]byte{b}, 300) }
	for _, k := range []string{"a", "b", "c"} {
		if err := s.Cache(t.Context(), k, piece(k[0])); err != nil {
			t.Fatal(err)
		}
		now = now.Add(2 * time.Hour)
	}
	if _, ok, err := s.Cached(t.Context(), "a"); !ok || err != nil {
		t.Fatal(ok, err)
	}
	if err := s.Cache(t.Context(), "d", piece('d')); err != nil {
		t.Fatal(err)
	}
	if err := s.Cache(t.Context(), "too large", make([]byte, 1001)); err != nil {
		t.Fatal(err)
	}
	for k, wanted := range map[string]bool{"a": true, "b": false, "c": true, "d": true, "too large": false} {
		got, ok, err := s.Cached(t.Context(), k)
		if err != nil || ok != wanted || ok && !bytes.Equal(got, piece(k[0])) {
			t.Errorf("%s: kept %v (%v), wanted %v", k, ok, err, wanted)
		}
	}
}

func TestStateOfThePagesIsKept(t *testing.T) {
	now := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	s := open(t, Options{Now: func() time.Time { return now }})
	ctx := t.Context()
	if err := s.SetSetting(ctx, "units", "us"); err != nil {
		t.Fatal(err)
	}
	var units string
	if ok, err := s.Setting(ctx, "units", &units); !ok || err != nil || units != "us" {
		t.Errorf("the setting is %q, %v, %v", units, ok, err)
	}
	if ok, err := s.Secret(ctx, "units", &units); ok || err != nil {
		t.Errorf("a setting is no secret: %v, %v", ok, err)
	}

	j, err := s.PutJob(ctx, Job{ID: newID(t), Kind: "range", State: Running, Input: json.RawMessage(`{"draws":200}`)})
	if err != nil {
		t.Fatal(err)
	}
	j.Progress = 0.5
	if j, err = s.PutJob(ctx, j); err != nil {
		t.Fatal(err)
	}
	if got, err := s.JobOf(ctx, j.ID); err != nil || !reflect.DeepEqual(got, j) {
		t.Errorf("the job is %+v, %v; wanted %+v", got, err, j)
	}
	if err := s.StopJobs(ctx); err != nil {
		t.Fatal(err)
	}
	if all, err := s.Jobs(ctx, Stopped); err != nil || len(all) != 1 {
		t.Errorf("stopped jobs are %v, %v", all, err)
	}
	if all, err := s.Jobs(ctx, Running, Waiting); err != nil || len(all) != 0 {
		t.Errorf("running jobs are %v, %v", all, err)
	}

	// Of what ended the latest are remembered, and what has not ended stays.
	for range keptJobs + 5 {
		if _, err := s.PutJob(ctx, Job{ID: newID(t), Kind: "year", State: Finished}); err != nil {
			t.Fatal(err)
		}
	}
	if all, err := s.Jobs(ctx, Finished); err != nil || len(all) != keptJobs {
		t.Errorf("%d jobs that ended are remembered (%v), wanted %d", len(all), err, keptJobs)
	}
	if all, err := s.Jobs(ctx, Stopped); err != nil || len(all) != 1 {
		t.Errorf("of jobs that have not ended %d are left (%v)", len(all), err)
	}

	if err := s.PutSession(ctx, Session{Hash: "ab", Created: now, Seen: now, Expires: now.Add(time.Hour)}); err != nil {
		t.Fatal(err)
	}
	if _, err := s.SessionOf(ctx, "ab"); err != nil {
		t.Error(err)
	}
	now = now.Add(time.Hour)
	if _, err := s.SessionOf(ctx, "ab"); !errors.Is(err, NotFound) {
		t.Errorf("an expired session gave %v, wanted not found", err)
	}
}

func TestPlansKeepWhatTheyAreGiven(t *testing.T) {
	s := open(t, Options{})
	y, _, _ := furnish(t, s)
	p := yard.Plan{Meta: yard.Meta{ID: newID(t)}, Yard: y.ID, Name: "Before the frost", Changes: json.RawMessage(`[ {"change": "wool lid"} ]`)}
	kept := put(t, s.Plans, p)
	if again := put(t, s.Plans, p); !reflect.DeepEqual(again, kept) {
		t.Errorf("kept again it is %+v, wanted %+v", again, kept)
	}
	if got, err := s.Plans.Get(t.Context(), p.ID); err != nil || string(got.Changes) != `[{"change":"wool lid"}]` {
		t.Errorf("got %s, %v", got.Changes, err)
	}
}

func TestBuildsAreReadBeforeTheyAreKept(t *testing.T) {
	s := open(t, Options{})
	_, hives, _ := furnish(t, s)
	b := yard.Build{Meta: yard.Meta{ID: newID(t)}, Hive: hives[0].ID, From: "2025-10-01", File: "version: 1\nname: x\nhive:\n  type: stacked-10\n  bodies: [deep, dep]\n"}
	_, err := s.Builds.Put(t.Context(), b)
	if f := yard.FaultsIn(err); !errors.Is(err, Refused) || len(f) == 0 || !strings.HasPrefix(f[0].Field, "file:5:") {
		t.Errorf("got %v, wanted a refusal that names line 5", err)
	}
	b.File = strings.Replace(b.File, "dep]", "deep]", 1)
	put(t, s.Builds, b)
}

func TestOnlyYardFilesAreOpened(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "letter.txt")
	if err := os.WriteFile(text, []byte(strings.Repeat("Dear aunt, the bees are well. ", 100)), 0o644); err != nil {
		t.Fatal(err)
	}
	foreign := filepath.Join(dir, "foreign.sqlite")
	db, err := connect(foreign, time.Second, "rwc", "immediate")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("CREATE TABLE yard (id)"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	for _, path := range []string{text, foreign, dir} {
		before, _ := os.ReadFile(path)
		_, err := Open(t.Context(), path, Options{})
		if !errors.Is(err, NotYard) || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: %v, wanted that it is no yard file", path, err)
		}
		if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
			t.Errorf("%s was changed", path)
		}
	}
	if _, err := Open(t.Context(), filepath.Join(dir, "none.sqlite"), Options{Existing: true}); !errors.Is(err, NotFound) {
		t.Errorf("got %v, wanted not found", err)
	}
}

func TestMigrationsAreInOrder(t *testing.T) {
	if _, err := steps(); err != nil {
		t.Error(err)
	}
}

// TestALifeIsFoundByIndex holds the queries that every write makes against the
// indexes: without them each record would read all others of its hive.
func TestALifeIsFoundByIndex(t *testing.T) {
	s := open(t, Options{})
	for query, index := range map[string]string{
		"SELECT DISTINCT colony FROM record WHERE kind = 'moved' AND hive = 'x' AND deleted = 0 AND instant <= 0": "record_hive_kind",
		"SELECT id FROM record WHERE colony = 'x' AND deleted = 0 AND id <> 'y' AND kind IN " + lifeKinds:         "record_colony_kind",
		"SELECT id FROM record WHERE deleted = 0 AND hive = 'x' ORDER BY instant DESC, id DESC LIMIT 100":         "record_hive",
	} {
		rows, err := s.read.Query("EXPLAIN QUERY PLAN " + query)
		if err != nil {
			t.Fatal(err)
		}
		var plan []string
		for rows.Next() {
			var id, parent, unused int
			var detail string
			if err := rows.Scan(&id, &parent, &unused, &detail); err != nil {
				t.Fatal(err)
			}
			plan = append(plan, detail)
		}
		rows.Close()
		if text := strings.Join(plan, "\n"); !strings.Contains(text, "USING INDEX "+index+" ") {
			t.Errorf("%s\nis found so:\n%s\nwanted by %s", query, text, index)
		}
	}
}
