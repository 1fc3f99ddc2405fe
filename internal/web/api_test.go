package web

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"hackle/examples"
	"hackle/internal/answer"
)

// The description is one of OpenAPI 3.1 as far as it can be told here: it has what
// must be there, and every schema in it is a JSON Schema.
func TestInterfaceIsDescribed(t *testing.T) {
	text, err := OpenAPI()
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		OpenAPI    string
		Info       struct{ Title, Version string }
		Paths      map[string]map[string]struct{ OperationID string }
		Components struct{ Schemas map[string]any }
	}
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(doc.OpenAPI, "3.1") || doc.Info.Title == "" || doc.Info.Version == "" {
		t.Errorf("head of the description: %q %+v", doc.OpenAPI, doc.Info)
	}
	operations, names := 0, map[string]bool{}
	for path, methods := range doc.Paths {
		for method, op := range methods {
			operations++
			if op.OperationID == "" || names[op.OperationID] {
				t.Errorf("%s %s has the name %q", method, path, op.OperationID)
			}
			names[op.OperationID] = true
		}
	}
	if operations != len(endpoints()) {
		t.Errorf("%d operations are described, there are %d", operations, len(endpoints()))
	}
	c := newContract(t)
	for name, s := range doc.Components.Schemas {
		if s == nil {
			t.Errorf("%s has no schema", name)
		}
		if _, err := c.with.Compile("openapi.json#/components/schemas/" + name); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// contract checks answers against the description.
type contract struct {
	t    *testing.T
	doc  map[string]any
	with *jsonschema.Compiler
	seen map[string]bool // "name status"
}

func newContract(t *testing.T) *contract {
	t.Helper()
	text, err := json.Marshal(openAPI())
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource("openapi.json", doc); err != nil {
		t.Fatal(err)
	}
	return &contract{t, doc.(map[string]any), c, map[string]bool{}}
}

// holds validates the answer of an operation.
func (c *contract) holds(route string, got answered) {
	c.t.Helper()
	method, path, _ := strings.Cut(route, " ")
	status := map[int]string{200: "200", 201: "201", 202: "202"}[got.status]
	kind := "application/json"
	if status == "" {
		status, kind = "default", "application/problem+json"
	}
	c.seen[route+" "+status] = true
	if got.header.Get("Content-Type") != kind {
		c.t.Errorf("%s: %d comes as %s", route, got.status, got.header.Get("Content-Type"))
		return
	}
	escaped := strings.NewReplacer("~", "~0", "/", "~1")
	at := "openapi.json#/paths/" + escaped.Replace(path) + "/" + strings.ToLower(method) + "/responses/" + status + "/content/" + escaped.Replace(kind) + "/schema"
	schema, err := c.with.Compile(strings.NewReplacer("{", "%7B", "}", "%7D").Replace(at))
	if err != nil {
		c.t.Errorf("%s: %d is not described: %v", route, got.status, err)
		return
	}
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(got.body))
	if err != nil {
		c.t.Errorf("%s: %v\n%.300s", route, err, got.body)
		return
	}
	if err := schema.Validate(doc); err != nil {
		c.t.Errorf("%s answers %d in another shape: %v", route, got.status, err)
	}
}

func (s *site) api(method, path, body string) answered {
	s.t.Helper()
	return s.do(s.request(method, apiRoot+path, body))
}

func TestInterface(t *testing.T) {
	s := open(t, nil)
	c := newContract(t)
	hive := strings.TrimPrefix(s.firstHive(), "/hive/")
	s.settled("/hive/" + hive + "/winter")
	call := func(route, path, body string, want int) answered {
		t.Helper()
		method, _, _ := strings.Cut(route, " ")
		got := s.api(method, path, body)
		c.holds(route, got)
		if got.status != want {
			t.Errorf("%s at %s: %d, want %d\n%.500s", route, path, got.status, want, got.body)
		}
		return got
	}
	file, err := examples.Files().Open("long-hive.yaml")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	var text bytes.Buffer
	if _, err := text.ReadFrom(file); err != nil {
		t.Fatal(err)
	}
	yards := struct {
		Yards []struct{ ID string }
	}{}
	if err := json.Unmarshal([]byte(call("GET /yards", "/yards", "", 200).body), &yards); err != nil || len(yards.Yards) != 1 {
		t.Fatalf("yards %+v, %v", yards, err)
	}
	at := "/yards/" + yards.Yards[0].ID + "/hives"
	call("GET /yards/{yard}/hives", at, "", 200)
	call("GET /yards/{yard}/hives", "/yards/x/hives", "", 404)
	sent, err := json.Marshal(newHiveDoc{Name: "By the wall", File: text.String()})
	if err != nil {
		t.Fatal(err)
	}
	made := struct{ ID string }{}
	if err := json.Unmarshal([]byte(call("POST /yards/{yard}/hives", at, string(sent), 201).body), &made); err != nil {
		t.Fatal(err)
	}
	call("POST /yards/{yard}/hives", at, string(sent), 409) // the name is taken
	call("POST /yards/{yard}/hives", at, `{"name": "x", "file": "version: 1"}`, 422)
	call("POST /yards/{yard}/hives", at, `{"name": "x", "colour": "blue"}`, 400)
	call("POST /yards/{yard}/hives", at, `{"name": "x"`, 400)
	call("GET /hives/{hive}", "/hives/"+made.ID, "", 200)
	call("GET /hives/{hive}", "/hives/01890a5d-ac96-774b-bcce-b302099a8057", "", 404)
	call("GET /hives/{hive}/year", "/hives/"+made.ID+"/year", "", 202)
	call("GET /work", "/work", "", 200)
	for _, w := range s.pages.bench.list() {
		call("DELETE /work/{key}", "/work/"+w.key, "", 200)
	}
	call("DELETE /work/{key}", "/work/none", "", 404)
	call("PUT /hives/{hive}/file", "/hives/"+made.ID+"/file", strings.Replace(text.String(), "name:", "name: New", 1), 200)
	call("PUT /hives/{hive}/file", "/hives/"+made.ID+"/file", "version: 1\nhive: {type: palace}\n", 422)
	year := call("GET /hives/{hive}/year", "/hives/"+hive+"/year", "", 200)
	var doc answer.Year
	if err := json.Unmarshal([]byte(year.body), &doc); err != nil || doc.Honey.Start != 30 || doc.Hours != 8760 {
		t.Errorf("a year of %d hours with %g kg (%v)", doc.Hours, doc.Honey.Start, err)
	}
	us := call("GET /hives/{hive}/year", "/hives/"+hive+"/year?units=us", "", 200)
	var other answer.Year
	if err := json.Unmarshal([]byte(us.body), &other); err != nil || other.Honey.Burned != doc.Honey.Burned || !strings.Contains(other.Answer, " lb") {
		t.Errorf("in US units the numbers or the sentence are wrong: %s", other.Answer)
	}
	call("GET /hives/{hive}/year", "/hives/"+hive+"/year?units=imperial", "", 400)
	call("GET /hives/{hive}/days", "/hives/"+hive+"/days", "", 200)
	call("GET /hives/{hive}/changes", "/hives/"+hive+"/changes", "", 200)
	asked, _ := s.keepRanking("/hive/" + hive)
	call("GET /hives/{hive}/rank", "/hives/"+hive+"/rank?"+asked.query().Encode(), "", 200)
	call("GET /hives/{hive}/rank", "/hives/"+hive+"/rank?depth=deep", "", 422)
	wanted, _ := s.keepRange("/hive/" + hive)
	call("GET /hives/{hive}/range", "/hives/"+hive+"/range?"+wanted.query().Encode(), "", 200)
	call("GET /hives/{hive}/range", "/hives/"+hive+"/range?draws=7", "", 422)
	lid := `{"changes": ["lid=mineral wool 76 mm"]}`
	call("POST /hives/{hive}/compare", "/hives/"+hive+"/compare", lid, 202)
	s.settled("/hive/" + hive + "/changes?change=lid%3Dmineral+wool+76+mm")
	var both answer.Comparison
	if err := json.Unmarshal([]byte(call("POST /hives/{hive}/compare", "/hives/"+hive+"/compare", lid, 200).body), &both); err != nil || len(both.Hives) != 2 || len(both.Differences) != 1 || both.Hives[0].Honey.Burned == both.Hives[1].Honey.Burned {
		t.Errorf("compared: %v", err)
	}
	call("POST /hives/{hive}/compare", "/hives/"+hive+"/compare", `{"changes": ["lid=lead"]}`, 422)
	call("POST /check", "/check", text.String(), 200)
	call("POST /check", "/check", "version: 1\nhive: {type: palace}\n", 200)
	call("GET /weather", "/weather", "", 200)
	call("GET /weather/{name}", "/weather/phoenix-az", "", 200)
	call("GET /weather/{name}", "/weather/atlantis", "", 404)
	call("GET /kinds", "/kinds", "", 200)
	record := `{"id": "01890a5d-ac96-774b-bcce-b302099a8057", "kind": "weight", "at": "2026-01-31T14:30:00+01:00", "hive": "` + hive + `", "text": {"reading_kg": "70 lb"}}`
	call("POST /records", "/records", `{"records": [`+record+`, `+strings.Replace(record, "8057", "8058", 1)+`, {"id": "x"}]}`, 200)
	call("POST /records", "/records", `{"records": [{"colour": "blue"}]}`, 400)
	call("GET /records", "/records?kind=weight&hive="+hive+"&from=2026-01-31", "", 200)
	call("GET /records", "/records?kind=dance", "", 422)
	for _, e := range endpoints() {
		if !c.seen[e.route+" 200"] && !c.seen[e.route+" 201"] {
			t.Errorf("%s was not tried", e.route)
		}
		if e.later && !c.seen[e.route+" 202"] && e.name == "getYear" {
			t.Errorf("%s was never still under way", e.route)
		}
	}
	if got := s.api("GET", "/none", ""); got.status != 404 || got.header.Get("Content-Type") != "application/problem+json" {
		t.Errorf("an unknown address: %d as %s", got.status, got.header.Get("Content-Type"))
	}
	if got := s.api("DELETE", "/yards", ""); got.status != http.StatusMethodNotAllowed && got.status != 404 {
		t.Errorf("an unknown method: %d", got.status)
	}
}
