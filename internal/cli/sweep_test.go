package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestSweep lays, works and gathers a small region, and says what is wrong with what
// it is given.
func TestSweep(t *testing.T) {
	dir := t.TempDir()
	file := example(t, 0)
	sites := filepath.Join(dir, "sites.csv")
	if err := os.WriteFile(sites, []byte("site,weather\nAlder Yard,burlington-vt\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	region := filepath.Join(dir, "region")
	do := func(code int, want string, args ...string) {
		t.Helper()
		r := run(t, append([]string{"sweep"}, args...)...)
		if r.code != code || !strings.Contains(r.out+r.errOut, want) {
			t.Errorf("%v: code %d, %s%s; want %d and %q", args, r.code, r.out, r.errOut, code, want)
		}
	}
	do(BadInput, "--sites", "lay", "--into", region)
	do(BadInput, "no unit 1", "work", region, "--all")
	do(Done, "1 unit", "lay", "--sites", sites, "--hive", file, "--into", region, "--from", "15 Jan", "--to", "15 Jan", "--years", "1")
	do(BadInput, "already", "lay", "--sites", sites, "--hive", file, "--into", region)
	do(BadInput, "0 to 0", "work", region, "--unit", "1", "--from-zero")
	do(BadInput, "which unit", "work", region)
	do(Done, "1\n", "gather", region, "--missing")
	do(BadInput, "without a result: 1", "gather", region, "--csv", filepath.Join(dir, "r.csv"))
	if left, _ := filepath.Glob(filepath.Join(dir, "*r.csv*")); len(left) > 0 {
		t.Errorf("a refused gathering left %v", left)
	}
	do(Done, `"worked": true`, "work", region, "--unit", "0", "--from-zero", "--json")
	do(Done, "there already", "work", region, "--unit", "1")
	do(Done, "Every unit", "work", region, "--all")
	do(BadInput, "--parquet, --csv", "gather", region)
	do(Done, `"rows": 1`, "gather", region, "--parquet", filepath.Join(dir, "r.parquet"), "--csv", filepath.Join(dir, "r.csv"), "--json")
	text, err := os.ReadFile(filepath.Join(dir, "r.csv"))
	if err != nil || !strings.Contains(string(text), "honey_burned_kg") || strings.Count(string(text), "\n") != 2 {
		t.Errorf("table %q, %v", text, err)
	}
}
