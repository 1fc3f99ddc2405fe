package hackle_test

import (
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// layers is the table of README.md: packages by level, the highest first.
func layers(t *testing.T) map[string]int {
	t.Helper()
	text, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, after, ok := strings.Cut(string(text), "<!-- packages -->")
	table, _, ok2 := strings.Cut(after, "<!-- /packages -->")
	if !ok || !ok2 {
		t.Fatal("README.md has no package table")
	}
	level := map[string]int{}
	row := regexp.MustCompile(`(?m)^\| (\d+) \| (.*) \|$`)
	name := regexp.MustCompile("`([^`]+)`")
	for _, m := range row.FindAllStringSubmatch(table, -1) {
		n, err := strconv.Atoi(m[1])
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range name.FindAllStringSubmatch(m[2], -1) {
			level[p[1]] = n
		}
	}
	return level
}

// TestImportsPointDown holds the table of README.md against the code: every
// package is in it, and no package imports one of its own level or above. Tests
// may look further.
func TestImportsPointDown(t *testing.T) {
	level := layers(t)
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports,GoFiles", "./...").Output()
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	decoder := json.NewDecoder(strings.NewReader(string(out)))
	for {
		var p struct {
			ImportPath       string
			Imports, GoFiles []string
		}
		if err := decoder.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		if len(p.GoFiles) == 0 {
			continue // tests alone
		}
		here := strings.TrimPrefix(p.ImportPath, "hackle/")
		own, ok := level[here]
		if !ok {
			t.Errorf("%s is not in the table of README.md", here)
			continue
		}
		seen[here] = true
		for _, i := range p.Imports {
			there, ours := strings.CutPrefix(i, "hackle/")
			if !ours {
				continue
			}
			if l, ok := level[there]; ok && l >= own {
				t.Errorf("%s (level %d) imports %s (level %d)", here, own, there, l)
			}
		}
	}
	for p := range level {
		if !seen[p] {
			t.Errorf("README.md names %s, which is not there", p)
		}
	}
}

// TestOnlyTheEdgesKnowTheWorld: the engine and its parts open no files and no
// sockets, read no clock and no flags.
func TestOnlyTheEdgesKnowTheWorld(t *testing.T) {
	banned := []string{"flag", "net", "net/http", "os/exec", "database/sql", "github.com/spf13/cobra"}
	for _, p := range []string{"air", "sun", "wall", "airflow", "colony", "season", "ledger", "internal/skyline"} {
		out, err := exec.Command("go", "list", "-f", `{{join .Imports " "}}`, "./"+p).Output()
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range strings.Fields(string(out)) {
			for _, b := range append(banned, "os") {
				if i == b {
					t.Errorf("%s imports %s", p, i)
				}
			}
		}
	}
}
