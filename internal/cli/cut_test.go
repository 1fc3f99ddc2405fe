package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"hackle/hive"
)

func TestCut(t *testing.T) {
	path := example(t, 0)
	dir := t.TempDir()
	pdf, saved := filepath.Join(dir, "cut.pdf"), filepath.Join(dir, "after.yaml")
	r := run(t, "cut", path, "lid=mineral wool 76 mm", "entrance-reducer", "--drawings", pdf, "--full-size", "cover board", "--paper", "Letter", "--save-hive", saved, "--json")
	if r.code != Done {
		t.Fatalf("exit code %d: %s", r.code, r.errOut)
	}
	doc := tree(t, r.out)
	need(t, doc, "jobs.0.parts.0.length_m", "stock.0.sheets.0.pieces.0.number", "buy.0.cost", "cost", "loads.0.mass_kg", "written.2")
	if fits, _ := at(doc, "fits"); fits != true {
		t.Errorf("fits: %v", fits)
	}
	only(t, dir, "after.yaml", "cover-board-full-size.pdf", "cut.pdf")
	if data, err := os.ReadFile(pdf); err != nil || !strings.HasPrefix(string(data), "%PDF-1.") {
		t.Errorf("%s: %v", pdf, err)
	}
	after, err := hive.DecodeFile(saved)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(after.Hive.Lid.Layers); n < 3 {
		t.Errorf("the saved hive has %d layers in its lid", n)
	}

	r = run(t, "cut", path, "wall-panels=XPS 38 mm", "--faces", "back,left", "--units", "us", "--drawings", filepath.Join(dir, "all"))
	if r.code != Done || !strings.Contains(r.out, "1-1/2 in") || strings.Contains(r.out, "front panel") {
		t.Errorf("exit code %d: %s%s", r.code, r.out, r.errOut)
	}
	for _, name := range []string{"01-insulating-wall-panels-in-its-place.svg", "02-insulating-wall-panels-back-panel.dxf"} {
		if _, err := os.Stat(filepath.Join(dir, "all", name)); err != nil {
			t.Error(err)
		}
	}
	narrow(t, r.out)
}

func TestCutRefuses(t *testing.T) {
	path := example(t, 0)
	for want, args := range map[string][]string{
		"what can be made":              {path},
		"lid-insulation":                {path, "canoe"},
		"clearance of -1 mm":            {path, "body", "--clearance", "-1 mm"},
		"needs nothing from the bench":  {path, "tilt=3°"},
		"front panel: no stock of cork": {path, "wall-panels=cork 33 mm"},
		"no part is called":             {path, "body", "--full-size", "rudder"},
		"is the hive file itself":       {path, "body", "--save-hive", path},
		"0 copies":                      {path, "body", "--copies", "0"},
	} {
		r := run(t, append([]string{"cut"}, args...)...)
		if r.code != BadInput || !strings.Contains(r.errOut, want) {
			t.Errorf("%v: exit code %d, %s; want %q in it", args, r.code, r.errOut, want)
		}
	}
}
