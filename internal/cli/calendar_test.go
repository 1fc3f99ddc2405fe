package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestCalendar(t *testing.T) {
	path := example(t, 0)
	dir := t.TempDir()
	ics, strip := filepath.Join(dir, "bees.ics"), filepath.Join(dir, "year.png")
	r := run(t, "calendar", path, "--weather", "burlington-vt", "--today", "2026-08-20", "--no-run", "--ics", ics, "--strip", strip, "--json")
	if r.code != Done {
		t.Fatalf("exit code %d: %s", r.code, r.errOut)
	}
	doc := tree(t, r.out)
	need(t, doc, "entries.0.key", "entries.0.reason", "basis", "seasons", "written.1")
	only(t, dir, "bees.ics", "year.png")
	if data, err := os.ReadFile(ics); err != nil || !strings.HasPrefix(string(data), "BEGIN:VCALENDAR\r\n") {
		t.Errorf("%v", err)
	}
	if data, err := os.ReadFile(strip); err != nil || !strings.HasPrefix(string(data), "\x89PNG") {
		t.Errorf("%v", err)
	}
	r = run(t, "calendar", path, "--weather", "burlington-vt", "--today", "2026-08-20", "--no-run", "--units", "us")
	if r.code != Done || !strings.Contains(r.out, "Unwrap, not before this day") || !strings.Contains(r.out, "°F") {
		t.Errorf("exit code %d: %s%s", r.code, r.out, r.errOut)
	}
	narrow(t, r.out)
	for want, args := range map[string][]string{
		"has no year":   {"--weather", "burlington-vt", "--today", "20 Aug", "--no-run"},
		"which weather": {},
		"--strip":       {"--weather", "burlington-vt", "--strip", "year.gif", "--no-run"},
		"no-such":       {"--weather", "burlington-vt", "--forecast", "no-such.csv", "--no-run"},
	} {
		if r := run(t, append([]string{"calendar", path}, args...)...); r.code != BadInput || !strings.Contains(r.errOut, want) {
			t.Errorf("%v: exit code %d, %s; want %q", args, r.code, r.errOut, want)
		}
	}
}
