package hive

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v3"
)

var update = flag.Bool("update", false, "write hive.schema.json anew")

func TestSchemaIsUpToDate(t *testing.T) {
	want, err := makeSchema()
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile("hive.schema.json", want, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(Schema(), want) {
		t.Error("hive.schema.json is not what the tables of fields make; run go test -run Schema -update")
	}
}

func compiledSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema()))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("hive.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("hive.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// asJSON gives a YAML node the value that an editor hands to its schema checker:
// dates stay text.
func asJSON(t *testing.T, n *yaml.Node) any {
	t.Helper()
	switch n.Kind {
	case yaml.DocumentNode:
		return asJSON(t, n.Content[0])
	case yaml.MappingNode:
		m := make(map[string]any)
		for i := 0; i < len(n.Content); i += 2 {
			m[n.Content[i].Value] = asJSON(t, n.Content[i+1])
		}
		return m
	case yaml.SequenceNode:
		list := make([]any, len(n.Content))
		for i, c := range n.Content {
			list[i] = asJSON(t, c)
		}
		return list
	}
	switch n.ShortTag() {
	case "!!int", "!!float":
		x, err := strconv.ParseFloat(n.Value, 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	case "!!null":
		return nil
	case "!!bool":
		return n.Value == "true"
	}
	return n.Value
}

func yamlNode(t *testing.T, text string) *yaml.Node {
	t.Helper()
	var n yaml.Node
	if err := yaml.Unmarshal([]byte(text), &n); err != nil {
		t.Fatal(err)
	}
	return &n
}

func TestSchemaAcceptsExamples(t *testing.T) {
	s := compiledSchema(t)
	for _, path := range examples(t) {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Validate(asJSON(t, yamlNode(t, string(data)))); err != nil {
			t.Errorf("%s: %v", filepath.Base(path), err)
		}
	}
}

func TestSchemaAcceptsWhatEncodeWrites(t *testing.T) {
	s := compiledSchema(t)
	for name, p := range somePlans(t) {
		text := encoded(t, p)
		if err := s.Validate(asJSON(t, yamlNode(t, text))); err != nil {
			t.Errorf("%s: %v\n%s", name, err, text)
		}
	}
}

func TestSchemaRefusesFaults(t *testing.T) {
	s := compiledSchema(t)
	for _, test := range faultyFiles() {
		if !test.schema {
			continue
		}
		if err := s.Validate(asJSON(t, yamlNode(t, test.text))); err == nil {
			t.Errorf("%s: the schema accepts it:\n%s", test.name, test.text)
		}
	}
}

// TestSchemaKeys compares the keys of the shipped schema with the keys of the
// tables that the reader follows, definition by definition.
func TestSchemaKeys(t *testing.T) {
	var schema struct {
		Properties map[string]any `json:"properties"`
		Defs       map[string]struct {
			Properties map[string]any `json:"properties"`
			AnyOf      []struct {
				Properties map[string]any `json:"properties"`
			} `json:"anyOf"`
		} `json:"$defs"`
	}
	if err := json.Unmarshal(Schema(), &schema); err != nil {
		t.Fatal(err)
	}
	tables := map[string][]string{
		"": keysOf(planFields()), "hive": keysOf(hiveFields()), "body": keysOf(bodyFields()), "frames": keysOf(framesFields()),
		"floor": keysOf(floorFields()), "tray state": {"from", "tray"}, "top board": keysOf(topBoardFields()), "hole state": {"from", "hole"},
		"lid": keysOf(lidFields()), "opening": keysOf(openingFields()), "opening state": keysOf(stateFields()),
		"follower": keysOf(followerFields()), "wrap": keysOf(wrapFields()), "finish": keysOf(finishFields()), "walls": keysOf(wallsFields()),
		"layer": keysOf(layerFields()), "material": keysOf(materialFields()), "colony": keysOf(colonyFields()), "feed": keysOf(feedFields()), "flow": keysOf(flowFields()), "site": keysOf(siteFields()), "neighbours": keysOf(neighbourFields()), "measured": keysOf(measuredFields()),
	}
	found := map[string][]string{"": sortedKeys(schema.Properties)}
	for name, def := range schema.Defs {
		keys := sortedKeys(def.Properties)
		for _, alternative := range def.AnyOf {
			keys = append(keys, sortedKeys(alternative.Properties)...)
		}
		if len(keys) > 0 {
			found[name] = keys
		}
	}
	for name, want := range tables {
		slices.Sort(want)
		if !slices.Equal(found[name], want) {
			t.Errorf("%q: schema has %q, the reader knows %q", name, found[name], want)
		}
		delete(found, name)
	}
	for name := range found {
		t.Errorf("the schema has a map %q that no table has", name)
	}
}

func keysOf[T any](fields []field[T]) []string {
	var keys []string
	for _, f := range fields {
		keys = append(keys, f.key)
	}
	return keys
}

func sortedKeys(m map[string]any) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

func TestEveryFieldIsExplained(t *testing.T) {
	explain := func(section, key, doc string, schema any) {
		if doc == "" || schema == nil {
			t.Errorf("%s: key %q has no meaning or no schema", section, key)
		}
	}
	for _, f := range hiveFields() {
		explain("hive", f.key, f.doc, f.schema)
	}
	for _, f := range openingFields() {
		explain("opening", f.key, f.doc, f.schema)
	}
	for _, f := range materialFields() {
		explain("material", f.key, f.doc, f.schema)
	}
	for _, f := range framesFields() {
		explain("frames", f.key, f.doc, f.schema)
		if f.assign == nil {
			t.Errorf("frames: key %q cannot be stated for all bodies at once", f.key)
		}
	}
}
