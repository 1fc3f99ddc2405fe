package yard

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the tables of docs/notebook.md anew")

// TestDocumentedTables holds the tables of docs/notebook.md against the fields.
func TestDocumentedTables(t *testing.T) {
	const path = "../docs/notebook.md"
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	text := string(before)
	for name, table := range map[string]string{"kinds": kindTables(), "tables": columnTables()} {
		head, rest, ok := strings.Cut(text, "<!-- "+name+" -->\n")
		_, tail, ok2 := strings.Cut(rest, "<!-- /"+name+" -->")
		if !ok || !ok2 {
			t.Fatalf("%s has no place for %s", path, name)
		}
		text = head + "<!-- " + name + " -->\n" + table + "<!-- /" + name + " -->" + tail
	}
	if text == string(before) {
		return
	}
	if !*update {
		t.Fatalf("%s is not that of the fields: run go test ./yard -run Documented -update", path)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func kindTables() string {
	var b strings.Builder
	b.WriteString("\n| kind | field | takes | meaning |\n|---|---|---|---|\n")
	for _, k := range Kinds() {
		needs := map[[2]bool]string{{true, true}: "needs hive and colony", {true, false}: "needs a hive", {false, true}: "needs a colony", {false, false}: "needs a hive or a colony"}[[2]bool{k.NeedsHive, k.NeedsColony}]
		fmt.Fprintf(&b, "| `%s` | | | %s; %s |\n", k.Kind, k.Meaning, needs)
		for _, f := range k.Fields {
			takes := f.Takes()
			if f.Required {
				takes += " (needed)"
			}
			fmt.Fprintf(&b, "| | `%s` | %s | %s |\n", f.Name, takes, f.Meaning)
		}
	}
	b.WriteString("\n")
	return b.String()
}

func columnTables() string {
	var b strings.Builder
	b.WriteString("\n| table | columns |\n|---|---|\n")
	for _, s := range Sheets() {
		names := []string{}
		for _, c := range Columns(s) {
			names = append(names, "`"+c.Name+"`")
		}
		fmt.Fprintf(&b, "| %s.csv | %s |\n", s, strings.Join(names, " "))
	}
	b.WriteString("\n")
	return b.String()
}
