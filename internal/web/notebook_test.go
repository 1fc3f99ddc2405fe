package web

import (
	"bytes"
	"encoding/json"
	"mime/multipart"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"hackle/internal/store"
	"hackle/yard"
)

// apiary makes an invented yard of two hives, a colony in the first.
func (s *site) apiary() (hives [2]yard.Hive) {
	s.t.Helper()
	id := func() yard.ID {
		id, err := yard.NewID()
		if err != nil {
			s.t.Fatal(err)
		}
		return id
	}
	n := &yard.Notebook{Yards: []yard.Yard{{Meta: yard.Meta{ID: id()}, Name: "Invented orchard"}}, Colonies: []yard.Colony{{Meta: yard.Meta{ID: id()}, Name: "Ada"}}}
	for i, name := range []string{"By the hedge", "By the gate"} {
		hives[i] = yard.Hive{Meta: yard.Meta{ID: id()}, Yard: n.Yards[0].ID, Name: name}
	}
	n.Hives = hives[:]
	n.Records = []yard.Record{{Meta: yard.Meta{ID: id()}, Kind: yard.Moved, At: time.Date(2025, 5, 20, 12, 0, 0, 0, time.UTC), Hive: hives[0].ID, Colony: n.Colonies[0].ID}}
	if _, err := s.store.Merge(s.t.Context(), n, false); err != nil {
		s.t.Fatal(err)
	}
	return hives
}

// records are those of a kind at a hive.
func (s *site) records(hive yard.ID, kind yard.Kind) []yard.Record {
	s.t.Helper()
	all, err := s.store.FindRecords(s.t.Context(), store.RecordFilter{Hive: hive, Kinds: []yard.Kind{kind}})
	if err != nil {
		s.t.Fatal(err)
	}
	return all
}

var hiddenID = regexp.MustCompile(`name="id" value="([^"]+)"`)

func idIn(t *testing.T, page string) string {
	t.Helper()
	m := hiddenID.FindStringSubmatch(page)
	if m == nil {
		t.Fatalf("the form has no ID:\n%s", page)
	}
	return m[1]
}

// TestNotebookWithoutScripts writes, corrects, deletes and brings back an entry with
// forms alone.
func TestNotebookWithoutScripts(t *testing.T) {
	s := open(t, nil)
	hives := s.apiary()
	path := "/hive/" + string(hives[0].ID) + "/notebook"
	if got := s.get(path); got.status != 200 || !strings.Contains(got.body, "Ada lives here since 20 May 2025.") || !strings.Contains(got.body, "Nothing is written down") {
		t.Fatalf("%d\n%s", got.status, got.body)
	}
	form := url.Values{"id": {idIn(t, s.get(path+"/weight").body)}, "at": {"2026-01-31T14:30"}, "f_reading_kg": {"31,5"}, "f_side": {"back"}, "note": {"windy\r\ncold"}}
	for range 2 { // sent twice it is kept once
		if got := s.post(path+"/weight", form); got.status != 200 || got.at != path || !strings.Contains(got.body, "about 63 kg whole") {
			t.Fatalf("%d at %s\n%s", got.status, got.at, got.body)
		}
	}
	all := s.records(hives[0].ID, yard.Weight)
	if len(all) != 1 || all[0].Note != "windy\ncold" || all[0].Colony == "" {
		t.Fatalf("kept %+v, wanted one weight with the colony", all)
	}

	// In other units the number that was not touched stays as it was.
	s.post("/look", url.Values{"units": {"us"}, "to": {"/"}})
	at := "/record/" + string(all[0].ID)
	page := s.get(at)
	if !strings.Contains(page.body, `value="69.44561"`) || !strings.Contains(page.body, "[lb]") {
		t.Errorf("in US units the form shows\n%s", page.body)
	}
	edit := url.Values{"revision": {"1"}, "at": {"2026-01-31T14:30"}, "f_reading_kg": {"69.44561"}, "f_side": {"front"}, "note": {""}}
	if got := s.post(at, edit); got.at != path {
		t.Fatalf("the correction leads to %s: %d\n%s", got.at, got.status, got.body)
	}
	now := s.records(hives[0].ID, yard.Weight)[0]
	if kg, _ := now.Number("reading_kg"); kg != 31.5 || now.Text("side") != "front" || now.Note != "" || !now.At.Equal(all[0].At) {
		t.Errorf("corrected to %+v", now)
	}
	edit.Set("f_side", "left")
	if got := s.post(at, edit); got.status != 409 {
		t.Errorf("a correction of an earlier version is answered with %d", got.status)
	}
	edit.Set("revision", "2")
	edit.Set("f_reading_kg", "70")
	s.post(at, edit)
	if kg, _ := s.records(hives[0].ID, yard.Weight)[0].Number("reading_kg"); kg != 70*0.45359237 {
		t.Errorf("70 lb became %v kg", kg)
	}
	if got := s.post(at+"/delete", url.Values{"revision": {"3"}}); !strings.Contains(got.body, "Weight, deleted") {
		t.Errorf("deleted: %d\n%s", got.status, got.body)
	}
	if n := len(s.records(hives[0].ID, yard.Weight)); n != 0 {
		t.Errorf("%d weights after it was deleted", n)
	}
	got := s.post(at+"/undo", url.Values{"revision": {"4"}})
	if n := len(s.records(hives[0].ID, yard.Weight)); n != 1 || strings.Count(got.body, "<li><time") != 5 {
		t.Errorf("brought back: %d weights\n%s", n, got.body)
	}
	for _, no := range []string{"<script>", " style=", "onclick"} {
		if strings.Contains(got.body, no) {
			t.Errorf("the page holds %q", no)
		}
	}
}

func TestNotebookNamesTheFieldOfAFault(t *testing.T) {
	s := open(t, nil)
	hives := s.apiary()
	path := "/hive/" + string(hives[0].ID) + "/notebook/"
	for _, c := range []struct {
		kind string
		form url.Values
		says string
	}{
		{"weight", url.Values{"f_reading_kg": {"31500"}}, "wanted a number from 0.1 to 400 kg"},
		{"weight", url.Values{"f_reading_kg": {"heavy"}}, "f_reading_kg-fault"},
		{"weight", url.Values{"f_side": {"north"}}, "wanted one of whole"},
		{"weight", url.Values{}, "wanted a reading, or how it felt"},
		{"note", url.Values{"note": {"x"}, "at": {"yesterday"}}, "At: "},
		{"note", url.Values{"note": {"x"}, "at": {"2999-01-01T10:00"}}, "a time that has come"},
		{"died", url.Values{"colony": {"01890a5d-ac96-774b-bcce-b302099a8057"}, "f_cause": {"cold"}}, "wanted the ID of a colony that is kept"},
	} {
		form := url.Values{"id": {idIn(t, s.get(path+c.kind).body)}, "at": {"2026-01-31T14:30"}}
		for name, v := range c.form {
			form[name] = v
		}
		if got := s.post(path+c.kind, form); got.status != 422 || !strings.Contains(got.body, c.says) {
			t.Errorf("%s %v: %d, wanted %q\n%s", c.kind, c.form, got.status, c.says, got.body)
		}
	}
	for _, c := range []struct {
		path string
		form url.Values
		want int
	}{
		{path + "dance", url.Values{}, 404},
		{path + "note", url.Values{"id": {"../../x"}, "note": {"x"}}, 422},
		{"/hive/x/notebook/note", url.Values{}, 404},
		{"/record/x", url.Values{}, 404},
		{"/record/01890a5d-ac96-774b-bcce-b302099a8057/delete", url.Values{"revision": {"1"}}, 404},
		{"/notebook/quick", url.Values{"hive": {string(hives[0].ID)}, "id": {"x"}}, 422},
		{"/notebook/quick", url.Values{"hive": {string(hives[0].ID)}, "id": {"01890a5d-ac96-774b-bcce-b302099a8057"}, "say": {"{"}}, 422},
	} {
		if got := s.post(c.path, c.form); got.status != c.want {
			t.Errorf("%s %v: %d, wanted %d", c.path, c.form, got.status, c.want)
		}
	}
	for _, p := range []string{"/notebook/tables/secret.csv", "/notebook/tables/..%2f..%2fetc%2fpasswd", "/notebook/tables/weight"} {
		if got := s.get(p); got.status != 404 {
			t.Errorf("%s: %d, wanted 404", p, got.status)
		}
	}
}

// TestTheUsualThingsTakeTwoTaps taps a hive and an answer, without a script.
func TestTheUsualThingsTakeTwoTaps(t *testing.T) {
	s := open(t, nil)
	hives := s.apiary()
	if got := s.get("/notebook/quick"); !strings.Contains(got.body, "By the gate") {
		t.Fatal(got.body)
	}
	page := s.get("/notebook/quick?hive=" + string(hives[0].ID))
	id := idIn(t, page.body)
	for _, g := range quickGroups() {
		for _, tap := range g.Taps {
			var said tapped
			if err := json.Unmarshal([]byte(tap.Say), &said); err != nil {
				t.Fatal(err)
			}
			r := yard.Record{Meta: yard.Meta{ID: yard.ID(id)}, Kind: said.Kind, At: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC), Hive: hives[0].ID, Values: said.Values}
			if err := r.Check(); err != nil {
				t.Errorf("%s, %s says what may not be: %v", g.Title, tap.Name, err)
			}
		}
	}
	form := url.Values{"hive": {string(hives[0].ID)}, "id": {id}, "say": {quickGroups()[0].Taps[0].Say}}
	for range 2 {
		if got := s.post("/notebook/quick", form); !strings.Contains(got.body, "Kept: Weight, felt light.") {
			t.Fatalf("%d at %s\n%s", got.status, got.at, got.body)
		}
		time.Sleep(1100 * time.Millisecond) // the second sending comes in another second
	}
	if all := s.records(hives[0].ID, yard.Weight); len(all) != 1 || all[0].Text("feel") != "light" {
		t.Errorf("kept %+v", all)
	}
	form = url.Values{"hive": {string(hives[1].ID)}, "id": {idIn(t, s.get("/notebook/quick").body)}, "kind": {"inspection"}, "f_frames_of_bees": {"8"}, "note": {""}}
	s.post("/notebook/quick", form)
	if all := s.records(hives[1].ID, yard.Inspection); len(all) != 1 {
		t.Errorf("kept %+v", all)
	}
}

func TestSentRecordsAreNoDuplicates(t *testing.T) {
	s := open(t, nil)
	hives := s.apiary()
	send := func(body string) (results []sentResult) {
		t.Helper()
		got := s.api("POST", "/records", body)
		var doc sentResultsDoc
		if err := json.Unmarshal([]byte(got.body), &doc); err != nil || got.status != 200 {
			t.Fatalf("%d %v\n%s", got.status, err, got.body)
		}
		return doc.Results
	}
	record := func(last, rest string) string {
		return `{"id": "01890a5d-ac96-774b-bcce-b302099a80` + last + `", "kind": "weight", "at": "2026-01-31T14:30:00+01:00", "hive": "` + string(hives[0].ID) + `"` + rest + `}`
	}
	batch := `{"records": [` + record("01", `, "text": {"reading_kg": "70 lb"}`) + `,` + record("02", `, "values": {"reading_kg": 31500}`) + `,` +
		record("03", `, "values": {"feel": "light"}, "note": "windy"`) + `,` + record("04", `, "values": {"reading_kg": [1]}`) + `,` + record("05", `, "text": {"colour": "blue", "reading_kg": "30"}`) + `]}`
	for range 2 {
		got := send(batch)
		for i, want := range []string{"kept", "refused", "kept", "refused", "refused"} {
			if got[i].State != want {
				t.Errorf("record %d: %+v, wanted %s", i+1, got[i], want)
			}
		}
		if f := got[1].Faults; len(f) != 1 || f[0].Field != "reading_kg" {
			t.Errorf("the fault is %+v", f)
		}
	}
	if all := s.records(hives[0].ID, yard.Weight); len(all) != 2 {
		t.Errorf("%d records, wanted 2", len(all))
	}
	// Taken back on the phone before it knew that the entry had arrived.
	gone := record("06", `, "values": {"feel": "heavy"}`)
	results := send(`{"records": [` + gone + `, ` + strings.Replace(gone, `"kind"`, `"revision": 1, "deleted": true, "kind"`, 1) + `]}`)
	if results[1].State != "kept" || len(s.records(hives[0].ID, yard.Weight)) != 2 {
		t.Errorf("taken back: %+v", results)
	}
	other := record("03", `, "values": {"feel": "heavy"}`)
	if got := send(`{"records": [` + other + `]}`); got[0].State != "conflict" {
		t.Errorf("another content under one ID: %+v", got)
	}
}

func TestAColonyMovesInByForm(t *testing.T) {
	s := open(t, nil)
	hives := s.apiary()
	path := "/hive/" + string(hives[1].ID) + "/notebook"
	form := url.Values{"id": {idIn(t, s.get(path+"/moved").body)}, "at": {"2026-01-31T14:30"}, "new_colony": {"Berta"}}
	for range 2 {
		if got := s.post(path+"/moved", form); got.at != path || !strings.Contains(got.body, "Berta lives here since 31 January 2026.") {
			t.Fatalf("%d at %s\n%s", got.status, got.at, got.body)
		}
	}
	form = url.Values{"id": {idIn(t, s.get(path+"/moved").body)}, "at": {"2026-02-01T14:30"}, "colony": {"Ada"}}
	if got := s.post(path+"/moved", form); got.status != 422 || !strings.Contains(got.body, "died or was merged") {
		t.Errorf("a second colony: %d\n%s", got.status, got.body)
	}
}

func TestTablesCanBeTaken(t *testing.T) {
	s := open(t, nil)
	hives := s.apiary()
	got := s.get("/notebook/tables/moved.csv?hive=" + string(hives[0].ID))
	if !strings.HasPrefix(got.header.Get("Content-Type"), "text/csv") || !strings.Contains(got.body, ",2025-05-20T12:00:00Z,Invented orchard,By the hedge,Ada,") {
		t.Errorf("%s\n%s", got.header.Get("Content-Type"), got.body)
	}
	if got := s.get("/notebook/tables/moved.csv?hive=" + string(hives[1].ID)); strings.Contains(got.body, "Ada") {
		t.Error("the table of one hive holds another's")
	}
	var doc store.Export
	if err := json.Unmarshal([]byte(s.get("/notebook/all.json").body), &doc); err != nil || len(doc.Records) != 1 {
		t.Errorf("%+v, %v", doc, err)
	}
}

// bring sends a file as the form of a page does.
func (s *site) bring(path string, fields map[string]string, name, text string) answered {
	s.t.Helper()
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	for k, v := range fields {
		if err := form.WriteField(k, v); err != nil {
			s.t.Fatal(err)
		}
	}
	file, err := form.CreateFormFile("file", name)
	if err != nil {
		s.t.Fatal(err)
	}
	if _, err := file.Write([]byte(text)); err != nil {
		s.t.Fatal(err)
	}
	form.Close()
	r := s.request("POST", path, b.String())
	r.Header.Set("Content-Type", form.FormDataContentType())
	r.Header.Set("Origin", s.URL)
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return s.do(r)
}

func TestTablesCanBeBroughtIn(t *testing.T) {
	s := open(t, nil)
	hives := s.apiary()
	const good = "at,hive,reading_kg\n2026-01-01,By the hedge,30\n2026-02-01,By the hedge,70 lb\n"
	for _, c := range []struct {
		fields map[string]string
		text   string
		status int
		says   string
		kept   int
	}{
		{map[string]string{"table": "weight"}, strings.Replace(good, "30", "heavy", 1), 422, "Line 2, reading_kg: found &#34;heavy&#34;, wanted a number", 0},
		{map[string]string{"table": "weight"}, strings.Replace(good, "By the hedge,70", "By the wall,70", 1), 422, "Line 3, hive: found &#34;By the wall&#34;", 0},
		{map[string]string{"table": "weight"}, strings.Replace(good, "2026-02-01", "2999-02-01", 1), 422, "Line 3: ", 0},
		{map[string]string{"table": "weight", "try": "yes"}, good, 200, "nothing was kept yet. It would be: 2 new", 0},
		{map[string]string{"table": "weight"}, good, 200, "Kept. 2 new", 2},
		{map[string]string{"table": "weight"}, good, 200, "Kept. 0 new, 0 changed, 2 as they were", 2},
		{map[string]string{"table": "../../etc/passwd"}, good, 422, "accepted: yards", 2},
		{map[string]string{"table": "weight"}, "", 422, "an empty file", 2},
		{map[string]string{"table": "weight"}, strings.Repeat("x", 1<<20), 413, "", 2},
	} {
		got := s.bring("/notebook/table", c.fields, "<b>../scale.csv", c.text)
		if got.status != c.status || !strings.Contains(got.body, c.says) || strings.Contains(got.body, "<b>") {
			t.Errorf("%v: %d, wanted %d and %q\n%s", c.fields, got.status, c.status, c.says, got.body)
		}
		if n := len(s.records(hives[0].ID, yard.Weight)); n != c.kept {
			t.Errorf("%v: %d weights, wanted %d", c.fields, n, c.kept)
		}
	}
	if got := s.post("/notebook/table", url.Values{"table": {"weight"}}); got.status != 422 {
		t.Errorf("without a file: %d", got.status)
	}
}
