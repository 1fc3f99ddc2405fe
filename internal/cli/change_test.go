package cli

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"hackle/hive"
	"hackle/price"
)

func TestChangeList(t *testing.T) {
	r := run(t, "change", "list", "--json")
	var all []listedChange
	if err := json.Unmarshal([]byte(r.out), &all); err != nil || r.code != Done || len(all) < 40 {
		t.Fatalf("exit %d, %d choices, %v, %s", r.code, len(all), err, r.errOut)
	}
	r = run(t, "change", "list", example(t, 0), "--json")
	if err := json.Unmarshal([]byte(r.out), &all); err != nil || r.code != Done {
		t.Fatalf("exit %d, %v, %s", r.code, err, r.errOut)
	}
	for _, l := range all {
		if (l.First == nil) == (l.Not == "") {
			t.Errorf("%s has a cost and a reason not to be made, or neither", l.Change)
		}
	}
	if r := run(t, "change", "show", "lid"); r.code != Done || !strings.Contains(r.out, "5 mm to 300 mm") {
		t.Errorf("exit %d: %s%s", r.code, r.out, r.errOut)
	}
	if r := run(t, "change", "show", "lidd"); r.code != BadInput || !strings.Contains(r.errOut, `did you mean "lid"?`) {
		t.Errorf("exit %d: %s", r.code, r.errOut)
	}
}

// TestChangeApply writes a new file that reads back changed, and never over one
// that is there.
func TestChangeApply(t *testing.T) {
	from := example(t, 0)
	before, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	to, keep := filepath.Join(t.TempDir(), "warm.yaml"), filepath.Join(t.TempDir(), "changes.yaml")
	args := []string{"change", "apply", from, "lid=mineral wool 3 in", "top vent=20 mm", "--to", to, "--keep", keep}
	if r := run(t, args...); r.code != Done || !strings.Contains(r.out, "76.2 mm of mineral wool") || !strings.Contains(r.out, "mask, gloves") {
		t.Fatalf("exit %d: %s%s", r.code, r.out, r.errOut)
	}
	p, err := hive.DecodeFile(to)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(p.Hive.Lid.Layers); p.Hive.Lid.Layers[n-1].Material.Name != "mineral wool" || len(p.Hive.Openings) != 2 {
		t.Errorf("written: %+v, %d openings", p.Hive.Lid.Layers, len(p.Hive.Openings))
	}
	if r := run(t, args...); r.code != BadInput || !strings.Contains(r.errOut, "is not overwritten") {
		t.Errorf("a second time: exit %d: %s", r.code, r.errOut)
	}
	if after, _ := os.ReadFile(from); string(after) != string(before) {
		t.Error("the hive file was touched")
	}
	r := run(t, "change", "apply", from, "--from", keep, "--json")
	var out appliedChange
	if err := json.Unmarshal([]byte(r.out), &out); err != nil || out.Changes.String() != "lid=mineral wool 76.2 mm + top vent=20 mm" || out.First <= 0 || !out.Invented {
		t.Errorf("kept changes: %v, %+v, %s", err, out, r.errOut)
	}
	for _, bad := range [][]string{{"lid=straw 5 cm", "lid=straw 6 cm"}, {"tray"}, {"lidd"}, nil} {
		if r := run(t, append([]string{"change", "apply", from}, bad...)...); r.code != BadInput {
			t.Errorf("%v: exit %d: %s", bad, r.code, r.errOut)
		}
	}
}

func TestChangePrices(t *testing.T) {
	to := filepath.Join(t.TempDir(), "prices.yaml")
	if r := run(t, "change", "prices", "--to", to); r.code != Done || !strings.Contains(r.out, "invented") {
		t.Fatalf("exit %d: %s%s", r.code, r.out, r.errOut)
	}
	if _, err := price.DecodeFile(to); err != nil {
		t.Error(err)
	}
	bad := file(t, "p.yaml", "version: 1\ncurrency: EUR\nvalues: {honey: 9}\n")
	if r := run(t, "change", "prices", bad); r.code != BadInput || !strings.Contains(r.errOut, "p.yaml:3:17: values.honey") {
		t.Errorf("exit %d: %s", r.code, r.errOut)
	}
}

// TestRank ranks two changes over a few days, and once more from its journal.
func TestRank(t *testing.T) {
	journal := filepath.Join(t.TempDir(), "runs.jsonl")
	args := []string{"rank", example(t, 0), "--weather", "burlington-vt", "--from", "2026-01-15", "--to", "2026-01-17", "--draws", "2", "--screen", "1", "--together", "1",
		"--change", "lid=mineral wool 76 mm", "--change", "top vent=20 mm", "--change", "tray", "--journal", journal}
	ask := func() rankings {
		t.Helper()
		r := run(t, append(args, "--json")...)
		var out rankings
		if err := json.Unmarshal([]byte(r.out), &out); err != nil || r.code != Done {
			t.Fatalf("exit %d, %v: %s", r.code, err, r.errOut)
		}
		return out
	}
	first := ask()
	if h := first.Hives[0]; len(h.Variants) != 2 || len(h.Dropped) != 1 || first.Runs.Made != 9 {
		t.Errorf("%d variants, %d dropped, %+v", len(h.Variants), len(h.Dropped), first.Runs)
	}
	if again := ask(); again.Runs.Made != 0 || again.Runs.Reused != 9 {
		t.Errorf("again: %+v", again.Runs)
	}
	if r := run(t, args...); r.code != Done || !strings.Contains(r.out, "efficient set") || !strings.Contains(r.out, "The prices are invented") {
		t.Errorf("exit %d: %s%s", r.code, r.out, r.errOut)
	}
	// Two hives that are alike take no more runs than one.
	r := run(t, append(append([]string{"rank", args[1]}, args[1:]...), "--budget-all", "50", "--json")...)
	var yard rankings
	if err := json.Unmarshal([]byte(r.out), &yard); err != nil || yard.Yard == nil || len(yard.Yard.Plan) != 2 || yard.Runs.Made != 0 {
		t.Errorf("yard: %v, %+v, %s", err, yard.Runs, r.errOut)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if r := runIn(t, ctx, args...); r.code != Interrupted {
		t.Errorf("cancelled: exit %d", r.code)
	}
	for _, bad := range [][]string{{"--budget", "much"}, {"--draws", "1"}, {"--years", "0"}, {"--journal", args[1]}, {"--change", "lidd"}, {"--weather", "nearest", "--from", "x"}} {
		if r := run(t, append(args, bad...)...); r.code != BadInput {
			t.Errorf("%v: exit %d: %s", bad, r.code, r.errOut)
		}
	}
}

func TestCompareWithChange(t *testing.T) {
	args := []string{"compare", example(t, 0), "--weather", "burlington-vt", "--from", "2026-01-15", "--to", "2026-01-16"}
	if r := run(t, append(args, "--change", "lid=mineral wool 76 mm")...); r.code != Done || !strings.Contains(r.out, "lid=mineral wool 76 mm") {
		t.Errorf("exit %d: %s%s", r.code, r.out, r.errOut)
	}
	if r := run(t, append(args, "--change", "tray")...); r.code != BadInput || !strings.Contains(r.errOut, "the floor is a board") {
		t.Errorf("exit %d: %s", r.code, r.errOut)
	}
	if r := run(t, args...); r.code != BadInput {
		t.Errorf("one hive alone: exit %d", r.code)
	}
}
