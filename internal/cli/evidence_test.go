package cli

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"hackle/evidence"
	"hackle/internal/answer"
)

// TestEvidence goes from records to a verdict, and deals a trial. The yard is
// invented.
func TestEvidence(t *testing.T) {
	plain, wool := "", ""
	for i := range 20 {
		switch path := example(t, i); filepath.Base(path) {
		case "two-deep-low-entrance.yaml":
			plain = path
		case "two-deep-wool-lid.yaml":
			wool = path
		}
		if plain != "" && wool != "" {
			break
		}
	}
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	t.Chdir(t.TempDir())
	do := func(args ...string) string {
		t.Helper()
		r := run(t, args...)
		if r.code != Done || r.errOut != "" {
			t.Fatalf("%v: code %d, %s", args, r.code, r.errOut)
		}
		return r.out
	}
	refuse := func(want string, args ...string) {
		t.Helper()
		if r := run(t, args...); r.code != BadInput || !strings.Contains(r.errOut, want) {
			t.Errorf("%v: code %d, %q; wanted %q", args, r.code, r.errOut, want)
		}
	}
	do("yard", "add", "yard", "Invented orchard", "--latitude", "44.5", "--longitude", "73.2W", "--height", "110m")
	refuse("the records hold no season", "evidence", "weigh", "wrap", "survived")
	weights := "at,hive,reading_kg\n"
	for i := range 6 {
		name, build, used := fmt.Sprintf("H%d", i), plain, 14.0
		if i%2 == 0 {
			build, used = wool, 11
		}
		do("yard", "add", "hive", name, "--build", build, "--from", "2024-04-01")
		do("yard", "add", "colony", "C"+name, "--hive", name, "--on", "2024-05-01")
		weights += fmt.Sprintf("2024-10-20,%s,50\n2025-04-05,%s,%.1f\n", name, name, 50-used+0.3*float64(i))
	}
	if err := os.WriteFile("weight.csv", []byte(weights), 0o644); err != nil {
		t.Fatal(err)
	}
	do("yard", "import", "weight.csv")
	if out := do("evidence", "list"); !strings.Contains(out, "insulated lid") || !strings.Contains(out, "3 with    3 without") {
		t.Errorf("listed: %s", out)
	}
	var f struct {
		evidence.Finding
		Seasons []evidence.Season `json:"seasons"`
	}
	if err := json.Unmarshal([]byte(do("evidence", "weigh", "Insulated lid", "stores used", "--json")), &f); err != nil {
		t.Fatal(err)
	}
	if f.With.Seasons != 3 || f.Without.Seasons != 3 || !f.Helps || f.Verdict == "" || len(f.Seasons) < 6 {
		t.Errorf("%+v", f)
	}
	if out := do("evidence", "weigh", "insulated lid", "stores used", "--units", "us", "--worth", "5 lb"); !strings.Contains(out, " lb") || !strings.Contains(out, "Caution") {
		t.Errorf("weighed: %s", out)
	}
	refuse("accepted: survived, comb fell", "evidence", "weigh", "insulated lid", "honey")
	refuse("the records know", "evidence", "weigh", "magnets", "stores used")
	refuse("--worth", "evidence", "weigh", "insulated lid", "stores used", "--worth", "3 days")
	refuse("a typical year", "evidence", "list", "--weather", "burlington-vt")

	if out := do("evidence", "size", "survived", "--without", "80%", "--with", "95%"); !strings.Contains(strings.Join(strings.Fields(out), " "), "four times in five") || !strings.Contains(out, "Write down") {
		t.Errorf("sized: %s", out)
	}
	refuse("--scatter is wanted", "evidence", "size", "stores used", "--without", "14kg", "--with", "12kg")

	deal := []string{"evidence", "deal", "Invented trial", "--treatment", "insulated lid", "--outcome", "stores used", "--from", "2027", "--years", "2", "--seed", "7", "--json"}
	var first answer.Trial
	if err := json.Unmarshal([]byte(do(deal...)), &first); err != nil {
		t.Fatal(err)
	}
	count := map[string]int{}
	for _, a := range first.Plan.Assignments {
		count[a.Arm]++
	}
	if len(first.Plan.Assignments) != 6 || count["insulated lid"] != 3 || first.To != 2028 {
		t.Errorf("%+v", first)
	}
	refuse("a lot is cast once", deal...)
	refuse("--from is wanted", "evidence", "deal", "x", "--treatment", "wrap", "--outcome", "survived")
	if out := do("evidence", "trials", "invented trial"); !strings.Contains(out, "Dealt by lot, seed 7") {
		t.Errorf("trials: %s", out)
	}
}
