package keyed

import (
	"errors"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"
)

func read(text string) error {
	root, fault := Parse([]byte(text), "a test file")
	if fault != nil {
		return &Faults{Name: "t", List: []Fault{*fault}}
	}
	var r Reader
	if r.Version(root, 1) {
		r.Object("", root,
			Key{Name: "version", Must: true, Read: func(string, *yaml.Node) {}},
			Key{Name: "kind", Must: true, Read: func(p string, n *yaml.Node) { r.Word(p, n, []string{"red", "green"}) }},
			Key{Name: "sizes", Read: func(p string, n *yaml.Node) {
				r.List(p, n, 3, func(p string, n *yaml.Node) { r.Integer(p, n, 1, 9) })
			}})
	}
	return r.Err("t")
}

func TestFaults(t *testing.T) {
	if err := read("version: 1\nkind: red\nsizes: [1, 9]\n"); err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		"version: 1\n":                              "t:1:1: kind: found no kind",
		"version: 1\nkind: gren\n":                  `t:2:7: kind: found "gren", wanted red or green (did you mean "green"?)`,
		"version: 1\nkind: red\nsizes: [1, 12]\n":   `t:3:12: sizes[2]: found "12", wanted a whole number from 1 to 9`,
		"version: 1\nkind: red\nsizes: [1,2,3,4]\n": "found 4 entries, wanted at most 3",
		"version: 1\nkind: red\nkind: red\n":        "a second time",
		"version: 1\nkind: red\nSizes: []\n":        `did you mean "sizes"?`,
		"version: 1\nkind:\n":                       "t:2:6: kind: found nothing",
		"version: 1\nkind: [red\n":                  "what YAML cannot read",
		"version: 1\n---\nversion: 1\n":             "a second document",
		"version: 1\nkind: \xff\n":                  "t:2:7: found the byte 0xff",
		"- 1\n":                                     "found a list",
		"version: 3\nwhat: ever\n":                  `t:1:10: version: found "3", wanted 1`,
		"# " + strings.Repeat("x", most) + "\n":     "more than 1 MiB",
	} {
		err := read(text)
		var faults *Faults
		if !errors.As(err, &faults) || !strings.Contains(err.Error(), want) {
			t.Errorf("%.40q: %v, want %q", text, err, want)
		}
	}
}

func TestManyFaultsAreCounted(t *testing.T) {
	text := "version: 1\nkind: red\n"
	for i := range 30 {
		text += strings.Repeat("k", i+1) + "zz: 1\n"
	}
	if err := read(text); err == nil || !strings.HasSuffix(err.Error(), "… and 10 more") {
		t.Errorf("%v", err)
	}
}
