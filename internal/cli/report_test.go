package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A whole year is run here once; what a report says is tested where it is made.
func TestReport(t *testing.T) {
	path := example(t, 0)
	dir := t.TempDir()
	out := filepath.Join(dir, "hive.html")
	r := run(t, "report", path, "--weather", "burlington-vt", "--to", out, "--today", "2026-08-20", "--change", "lid=mineral wool 76 mm", "--cut", "frame-wires", "--json")
	if r.code != Done {
		t.Fatalf("exit code %d: %s", r.code, r.errOut)
	}
	doc := tree(t, r.out)
	need(t, doc, "written", "bytes", "answers.0", "hives.0")
	only(t, dir, "hive.html")
	page, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"The worst hours", "The hottest comb", "as planned", "Insulated lid insert", "Wires in the frames", "Last day to give syrup", "How we know", "Cautions"} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the report does not tell %q", want)
		}
	}
}

func TestReportRefuses(t *testing.T) {
	path := example(t, 0)
	for want, args := range map[string][]string{
		".pdf or .html":         {path, "--weather", "burlington-vt", "--to", "hive.doc"},
		"one hive file or more": {"--to", "hive.pdf"},
		"--change":              {path, "--weather", "burlington-vt", "--to", "hive.pdf", "--change", "canoe"},
		"which weather":         {path, "--to", filepath.Join(t.TempDir(), "hive.pdf")},
	} {
		r := run(t, append([]string{"report"}, args...)...)
		if r.code != BadInput || !strings.Contains(r.errOut, want) {
			t.Errorf("%v: exit code %d, %s; want %q", args, r.code, r.errOut, want)
		}
	}
	// A hive file may have any name; the report must not take its place.
	other := strings.TrimSuffix(path, ".yaml") + ".html"
	if err := os.Rename(path, other); err != nil {
		t.Fatal(err)
	}
	if r := run(t, "report", other, "--weather", "burlington-vt", "--to", other); r.code != BadInput || !strings.Contains(r.errOut, "would overwrite") {
		t.Errorf("exit code %d, %s", r.code, r.errOut)
	}
}
