package cli

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"hackle/yard"
)

// TestYard keeps a notebook as a keeper would.
func TestYard(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("XDG_DATA_HOME", dir)
	t.Chdir(t.TempDir())
	do := func(args ...string) string {
		t.Helper()
		r := run(t, append([]string{"yard"}, args...)...)
		if r.code != Done || r.errOut != "" {
			t.Fatalf("%v: code %d, %s", args, r.code, r.errOut)
		}
		return r.out
	}
	refuse := func(want string, args ...string) {
		t.Helper()
		if r := run(t, append([]string{"yard"}, args...)...); r.code != BadInput || !strings.Contains(r.errOut, want) {
			t.Errorf("%v: code %d, %q; wanted %q", args, r.code, r.errOut, want)
		}
	}
	refuse(filepath.Join(dir, "hackle", "yard.sqlite")+": opening the yard file: not found", "list")
	do("add", "yard", "Invented orchard", "--latitude", "44.5", "--longitude", "73.2W", "--height", "360ft")
	do("add", "hive", "By the hedge", "--build", example(t, 0), "--from", "2025-04-01")
	do("add", "hive", "By the gate")
	do("add", "colony", "Ada", "--hive", "by the hedge", "--on", "2025-05-20", "--origin", "swarm")
	do("record", "weight", "By the hedge", "reading=70 lb", "side=back", "--at", "2025-09-01 08:15")
	do("build", "By the hedge", example(t, 1), "--from", "2025-10-01", "--note", "wool in the lid")
	if out := do("show", "By the hedge", "--units", "us"); !strings.Contains(out, "70 lb on the scale") || !strings.Contains(out, "2025-10-01        built so: wool in the lid") {
		t.Errorf("shown: %s", out)
	}
	if out := do("list"); !strings.Contains(out, "By the hedge  Ada") || !strings.Contains(out, "110 m above the sea") {
		t.Errorf("listed: %s", out)
	}

	refuse(`reading_kg: found "31500"`, "record", "weight", "By the hedge", "reading=31500")
	refuse(`hive: found "By the hdge"`, "record", "weight", "By the hdge", "reading=31")
	refuse("is no kind of record", "record", "weigth", "By the hedge", "reading=31")
	refuse("wanted FIELD=VALUE", "record", "weight", "By the hedge", "31")
	refuse("a time that has come", "record", "note", "By the hedge", "--note", "x", "--at", "2999-01-01")

	var notebook struct {
		Records []yard.Record `json:"records"`
	}
	if err := json.Unmarshal([]byte(do("show", "By the hedge", "--kind", "weight", "--json")), &notebook); err != nil || len(notebook.Records) != 1 {
		t.Fatal(notebook, err)
	}
	id := string(notebook.Records[0].ID)
	if out := do("edit", id, "reading=32.5", "side=", "--note", "windy"); !strings.Contains(out, "32.5 kg on the scale; windy") {
		t.Errorf("edited: %s", out)
	}
	do("delete", id)
	if out := do("undo", id); strings.Contains(out, "deleted") {
		t.Errorf("undone: %s", out)
	}
	if out := do("history", id); strings.Count(out, "\n") != 4 || !strings.Contains(out, "(deleted)") {
		t.Errorf("history: %s", out)
	}

	do("change", "hive", "By the gate", "--name", "By the wall", "--east", "2m", "--north", "10ft")
	do("change", "yard", "Invented orchard", "--weather", "burlington-vt")
	refuse("a name that another hive has", "change", "hive", "By the wall", "--name", "by the hedge")
	refuse("hives that stand in it", "change", "yard", "Invented orchard", "--delete")
	refuse("records of it", "change", "colony", "Ada", "--delete")
	var gone struct {
		Thing yard.Hive `json:"thing"`
	}
	if err := json.Unmarshal([]byte(do("change", "hive", "By the wall", "--delete", "--json")), &gone); err != nil || gone.Thing.Y != 3.048 || !gone.Thing.Deleted {
		t.Errorf("deleted %+v, %v", gone, err)
	}
	refuse("wanted the name of a hive", "show", "By the wall")
	do("change", "hive", string(gone.Thing.ID), "--restore")
	do("show", "By the wall")

	do("export", "--csv", "tables")
	if out := do("import", "tables"); !strings.Contains(out, "0 new, 0 changed") {
		t.Errorf("the tables as they were: %s", out)
	}
	const rows = "at,hive,reading_kg\n2026-01-01,By the hedge,30\n2026-02-01,By the hegde,29\n"
	if err := os.WriteFile("scale.csv", []byte(rows), 0o644); err != nil {
		t.Fatal(err)
	}
	refuse("scale.csv: its name is that of no table", "import", "scale.csv")
	refuse("scale.csv:3: hive", "import", "scale.csv", "--table", "weight")
	if err := os.WriteFile("scale.csv", []byte(strings.Replace(rows, "hegde", "hedge", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"2 new", "0 new, 0 changed, 2 the same"} {
		if out := do("import", "scale.csv", "--table", "weight"); !strings.Contains(out, want) {
			t.Errorf("import: %s; wanted %s", out, want)
		}
	}
	do("export", "all.json")
	do("import", "all.json", "--yard", "second.sqlite")
	if a, b := do("show", "By the hedge"), do("show", "By the hedge", "--yard", "second.sqlite"); a != b {
		t.Errorf("after export and import %s became %s", a, b)
	}

	do("backup", "backup.sqlite")
	refuse("a file is there already", "backup", "backup.sqlite")
	before := do("show", "By the hedge")
	do("record", "note", "By the hedge", "--note", "after the backup")
	do("restore", "backup.sqlite")
	if after := do("show", "By the hedge"); after != before {
		t.Errorf("restored %s, wanted %s", after, before)
	}
	if out := do("check"); !strings.Contains(out, "is sound") || !strings.Contains(out, "1 yard, 2 hives, 2 builds, 1 colony") {
		t.Errorf("checked: %s", out)
	}
	if err := os.WriteFile("letter", []byte("Dear aunt"), 0o644); err != nil {
		t.Fatal(err)
	}
	refuse("no yard file", "check", "letter")
}

// TestDemoHasANotebook looks through the notebook of the invented yard.
func TestDemoHasANotebook(t *testing.T) {
	dir := t.TempDir()
	files, plans, err := demoYard(dir)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "yard.sqlite")
	if err := demoKeep(t.Context(), path, dir, files, plans); err != nil {
		t.Fatal(err)
	}
	r := run(t, "yard", "show", plans[0].Hive.Name, "--yard", path)
	if r.code != Done || !strings.Contains(r.out, "6 frames of bees") || strings.Count(r.out, "Invented") < 5 {
		t.Errorf("code %d: %s%s", r.code, r.out, r.errOut)
	}
	if r := run(t, "yard", "check", "--yard", path); r.code != Done {
		t.Errorf("code %d: %s", r.code, r.errOut)
	}
}
