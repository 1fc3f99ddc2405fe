package web

import (
	"bytes"
	"encoding/json"
	"mime/multipart"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"hackle/hive"
	"hackle/quantity"
)

// A form that is sent as it was shown changes nothing, not even in the last digit,
// in either system of units.
func TestFormKeepsWhatItShows(t *testing.T) {
	for _, name := range []string{"insulated-walls", "long-hive", "national-mesh-floor", "warre", "two-deep-top-vent"} {
		for _, system := range []quantity.System{quantity.Metric, quantity.US} {
			plan, err := hive.DecodeFile("../../examples/" + name + ".yaml")
			if err != nil {
				t.Fatal(err)
			}
			changed := plan.Clone()
			form, err := newEditForm(&changed, system)
			if err != nil {
				t.Fatal(err)
			}
			values := url.Values{}
			for _, x := range form.fields() {
				if values.Has(x.Name) {
					t.Errorf("%s: two fields are called %s", name, x.Name)
				}
				values.Set(x.Name, x.Value)
			}
			if len(values) < 20 {
				t.Errorf("%s: only %d fields", name, len(values))
			}
			if !form.read(values) || !form.check() {
				t.Fatalf("%s: the form does not read what it shows", name)
			}
			a, err := written(plan, quantity.Metric)
			if err != nil {
				t.Fatal(err)
			}
			if b, err := written(changed, quantity.Metric); err != nil || a != b {
				t.Errorf("%s: the form changed the hive: %v\n%s", name, err, b)
			}
		}
	}
}

// Every field reads what it shows.
func TestFieldsReadWhatTheyShow(t *testing.T) {
	plan, err := hive.DecodeFile("../../examples/insulated-walls.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, system := range []quantity.System{quantity.Metric, quantity.US} {
		changed := plan.Clone()
		form, err := newEditForm(&changed, system)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range form.fields() {
			if x.Value == "wrap" {
				continue // the file's own name for a layer of known resistance
			}
			if err := x.set(x.Value); err != nil {
				t.Errorf("%s shows %q and does not read it: %v", x.Name, x.Value, err)
			}
		}
	}
}

func TestFieldsChangeTheHive(t *testing.T) {
	plan, err := hive.DecodeFile("../../examples/two-deep-top-vent.yaml")
	if err != nil {
		t.Fatal(err)
	}
	changed := plan.Clone()
	form, err := newEditForm(&changed, quantity.Metric)
	if err != nil {
		t.Fatal(err)
	}
	ok := form.read(url.Values{
		"walls0.0.thickness": {"1-1/2 in"}, "walls0.0.material": {"XPS"}, "boxes": {"deep, deep, medium"}, "opening1.hole": {"25 mm"}, "opening1.at": {"300 mm"},
		"opening0.schedule": {"1 May full; 15 Oct 50 mm; 1 Dec closed"}, "lid.finish": {"white paint"}, "finish": {"dark paint"}, "frames1.support": {"crossed wires"}, "shade": {"40 %"}, "exposure": {"sheltered"},
	})
	if !ok {
		for _, x := range form.fields() {
			if x.Problem != "" {
				t.Error(x.Name, x.Problem)
			}
		}
		t.FailNow()
	}
	h := changed.Hive
	for what, is := range map[string]bool{
		"three boxes":                   len(h.Bodies) == 3 && h.Bodies[2].Box == "medium",
		"walls of 38.1 mm of XPS":       h.Bodies[0].Walls[hive.Left][0].Thickness == 0.0381 && h.Bodies[1].Walls[hive.Front][0].Material.Name == "XPS",
		"a hole of 25 mm":               h.Openings[1].Width == 0.025 && h.Openings[1].Height == 0.025 && h.Openings[1].Sill == 0.3,
		"passages as long as the walls": h.Openings[0].Depth == 0.0381 && h.Openings[1].Depth == 0.0381,
		"an entrance closed in winter":  len(h.Openings[0].Schedule) == 3 && h.Openings[0].Schedule[2].Width == 0 && h.Openings[0].Schedule[0].Width == h.Openings[0].Width,
		"a white lid on a dark hive":    h.Lid.Finish != nil && h.Lid.Finish.Name == "white paint" && h.Finish.Name == "dark paint",
		"crossed wires above":           h.Bodies[1].Frames.Support == hive.SupportCrossed && h.Bodies[0].Frames.Support != hive.SupportCrossed,
		"shade and shelter":             changed.Site.Shade == 0.4 && changed.Site.Exposure == hive.Sheltered,
	} {
		if !is {
			t.Errorf("the form does not make %s", what)
		}
	}
	if !form.check() {
		t.Errorf("a good hive has faults: %v", form.Loose)
	}
}

func TestFaultsStandAtTheirField(t *testing.T) {
	plan, err := hive.DecodeFile("../../examples/two-deep-top-vent.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for field, text := range map[string]string{
		"walls0.0.thickness": "38", "walls0.0.material": "unobtainium", "boxes": "deep, tower", "opening1.hole": "wide", "opening0.schedule": "someday full",
		"frames0.drawn": "half", "frames0.support": "string", "finish": "plaid", "shade": "400", "opening1.count": "0",
		// These read well and make no hive.
		"opening1.at": "3 m", "opening0.width": "2 m", "frames0.count": "40", "lid.0.thickness": "0 mm",
	} {
		changed := plan.Clone()
		form, err := newEditForm(&changed, quantity.Metric)
		if err != nil {
			t.Fatal(err)
		}
		if form.read(url.Values{field: {text}}) && form.check() {
			t.Errorf("%s takes %q", field, text)
			continue
		}
		at := ""
		for _, x := range form.fields() {
			if x.Problem != "" {
				at += x.Name + " "
			}
		}
		if !strings.Contains(at+" ", field[:strings.IndexAny(field+".", ".")]) {
			t.Errorf("the fault of %s=%q stands at %q; loose: %v", field, text, at, form.Loose)
		}
	}
}

func (s *site) draftFile(hive string) string {
	s.t.Helper()
	return s.get(hive + "/edit/file").body
}

func TestEdit(t *testing.T) {
	s := open(t, nil)
	at := s.firstHive()
	s.settled(at + "/winter")
	first := s.get(at + "/edit")
	if first.status != 200 {
		t.Fatalf("%d\n%s", first.status, first.body)
	}
	for _, says := range []string{"Walls, from outside", "Lid, from above", "In the coldest week the bees burn", "A quick look", `class="cutaway"`, "Build it so from today"} {
		if !strings.Contains(first.body, says) {
			t.Errorf("the page does not say %q", says)
		}
	}
	wellFormed(t, drawingIn.FindString(first.body))
	built := s.get(at + "/file").body

	// What is tried changes the drawing and the quick answer, and keeps nothing.
	var was, now tried
	answer := s.post(at+"/edit/try", url.Values{"walls0.0.thickness": {"19 mm"}})
	if err := json.Unmarshal([]byte(answer.body), &was); err != nil {
		t.Fatalf("%v\n%s", err, answer.body)
	}
	answer = s.post(at+"/edit/try", url.Values{"walls0.0.thickness": {"60 mm"}})
	if err := json.Unmarshal([]byte(answer.body), &now); err != nil {
		t.Fatal(err)
	}
	if now.Drawing == was.Drawing || now.Quick.Sentence == was.Quick.Sentence || !strings.Contains(now.Quick.Sentence, "as it stands") || now.Kept || s.draftFile(at) != built {
		t.Errorf("a wall of 60 mm: %+v", now.Quick)
	}
	answer = s.post(at+"/edit/try", url.Values{"walls0.0.thickness": {"sixty"}})
	var bad tried
	if err := json.Unmarshal([]byte(answer.body), &bad); err != nil || bad.Faults["walls0.0.thickness"] == "" || bad.Drawing != "" {
		t.Errorf("a wall of sixty: %v, %+v", err, bad.Faults)
	}

	// What is kept is a draft that outlives the page, with its steps.
	answer = s.post(at+"/edit/try", url.Values{"walls0.0.thickness": {"60 mm"}, "keep": {"1"}, "steps": {"0"}})
	if err := json.Unmarshal([]byte(answer.body), &now); err != nil || !now.Kept || now.Steps != 1 {
		t.Errorf("a step kept: %v, %+v", err, now.Steps)
	}
	if got := s.post(at+"/edit/try", url.Values{"walls0.0.thickness": {"70 mm"}, "keep": {"1"}, "steps": {"0"}}); got.status != 409 {
		t.Errorf("a form of an older state is answered with %d", got.status)
	}
	if got := s.post(at+"/edit", url.Values{"do": {"add:lid"}}); got.status != 200 || !strings.Contains(got.body, "mineral wool") {
		t.Errorf("a layer more: %d", got.status)
	}
	if got := s.post(at+"/edit", url.Values{"do": {"add:opening"}}); got.status != 200 || !strings.Contains(got.body, "Vent</legend>") {
		t.Errorf("a vent more: %d", got.status)
	}
	with := s.draftFile(at)
	for _, says := range []string{"60 mm", "mineral wool", "vent"} {
		if !strings.Contains(with, says) {
			t.Errorf("the draft lacks %q:\n%s", says, with)
		}
	}
	if s.get(at+"/file").body != built {
		t.Error("the hive itself changed before it was built")
	}
	s.post(at+"/edit", url.Values{"do": {"undo"}})
	if text := s.draftFile(at); strings.Contains(text, "name: vent") || !strings.Contains(text, "mineral wool") {
		t.Errorf("undo leaves\n%s", text)
	}
	s.post(at+"/edit", url.Values{"do": {"redo"}})
	if s.draftFile(at) != with {
		t.Error("redo does not bring back what was undone")
	}
	for _, what := range []string{"drop:opening1", "drop:lid:2", "add:wrap", "drop:wrap0"} {
		if got := s.post(at+"/edit", url.Values{"do": {what}}); got.status != 200 {
			t.Errorf("%s: %d", what, got.status)
		}
	}
	if got := s.post(at+"/edit", url.Values{"do": {"type"}, "type": {"warre"}}); got.status != 200 || !strings.Contains(s.draftFile(at), "warre") || !strings.Contains(s.draftFile(at), "By the hedge") {
		t.Errorf("another type: %d\n%s", got.status, s.draftFile(at))
	}
	s.post(at+"/edit", url.Values{"do": {"undo"}})
	if strings.Contains(s.draftFile(at), "warre") {
		t.Error("undo does not bring the type back")
	}
	for _, what := range []string{"type:tower", "drop:lid:9", "drop:opening7", "add:../etc", "drop:walls9:0", "drop:wrap-1", "add:wrap9"} {
		if got := s.post(at+"/edit", url.Values{"do": {what}}); got.status != 422 {
			t.Errorf("%s: %d", what, got.status)
		}
	}
	if got := s.post(at+"/edit", url.Values{"walls0.0.thickness": {"sixty"}}); got.status != 422 || !strings.Contains(got.body, `aria-invalid="true"`) || !strings.Contains(got.body, `value="sixty"`) {
		t.Errorf("a form with a fault is answered with %d", got.status)
	}

	// The whole year follows.
	var full fullAnswer
	for range 200 {
		got := s.get(at + "/edit/full")
		if err := json.Unmarshal([]byte(got.body), &full); err != nil {
			t.Fatal(err)
		}
		if full.State != "running" {
			break
		}
		s.get(full.Events)
	}
	if full.State != "done" || !strings.Contains(full.Sentence, "in winter") || !strings.Contains(full.Sentence, "as it stands") {
		t.Errorf("the whole year: %+v", full)
	}

	// Built, it is how the hive stands, and the draft is gone.
	if got := s.post(at+"/edit", url.Values{"do": {"build"}, "note": {"thicker walls"}}); got.status != 200 || got.at != at {
		t.Errorf("building leads to %s: %d", got.at, got.status)
	}
	if text := s.get(at + "/file").body; !strings.Contains(text, "60 mm") {
		t.Errorf("the hive is built as\n%s", text)
	}
	if got := s.get(at + "/edit"); !regexp.MustCompile(`value="undo" disabled`).MatchString(got.body) {
		t.Error("a draft is left over")
	}
}

// A draft that cannot be read is shown as text beside the hive as it stands.
func TestDraftThatCannotBeRead(t *testing.T) {
	s := open(t, nil)
	at := s.firstHive()
	id := strings.TrimPrefix(at, "/hive/")
	if err := s.store.SetSetting(t.Context(), "draft:"+id, draft{Files: []string{"version: 1", "version: 99\nhive: {}\n"}, At: 1}); err != nil {
		t.Fatal(err)
	}
	got := s.get(at + "/edit")
	if got.status != 422 || !strings.Contains(got.body, "cannot be read any more") || !strings.Contains(got.body, "version: 99") || !strings.Contains(got.body, "Walls, from outside") {
		t.Errorf("%d\n%s", got.status, got.body)
	}
	s.post(at+"/edit", url.Values{"do": {"discard"}})
	if got := s.get(at + "/edit"); got.status != 200 {
		t.Errorf("after it is thrown away: %d", got.status)
	}
}

func (s *site) upload(path, name, text string) answered {
	s.t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	part, err := w.CreateFormFile("file", name)
	if err != nil {
		s.t.Fatal(err)
	}
	if _, err := part.Write([]byte(text)); err != nil {
		s.t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		s.t.Fatal(err)
	}
	r := s.request("POST", path, b.String())
	r.Header.Set("Content-Type", w.FormDataContentType())
	r.Header.Set("Origin", s.URL)
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return s.do(r)
}

func TestUploadHive(t *testing.T) {
	s := open(t, nil)
	at := s.firstHive()
	before := s.draftFile(at)
	const good = "version: 1\nname: Brought along\nhive:\n  type: warre\ncolony:\n  bees: 1.5 kg\n  honey: 15 kg\n"
	if got := s.upload(at+"/edit/file", "../../etc/passwd", good); got.status != 200 || got.at != at+"/edit" {
		t.Errorf("a hive file leads to %s: %d\n%s", got.at, got.status, got.body)
	}
	if s.draftFile(at) != good {
		t.Errorf("the draft is\n%s", s.draftFile(at))
	}
	// A hive that may be no place for bees is drawn and stays in the form.
	if got := s.upload(at+"/edit/file", "hive.yaml", "version: 1\nname: Empty\nhive:\n  type: stacked-10\n  frames: none\ncolony:\n  bees: 1 kg\n"); got.status != 200 || !drawingIn.MatchString(got.body) || !strings.Contains(got.body, "coldest week") {
		t.Errorf("a hive without frames: %d\n%s", got.status, got.body)
	}
	s.post(at+"/edit", url.Values{"do": {"discard"}})
	if s.draftFile(at) != before {
		t.Error("a draft thrown away is still there")
	}
	for _, text := range []string{"", "version: 1\nhive: {type: tower}\n", "{{{{", strings.Repeat("a: &a [*a]\n", 50), "\x00\xff"} {
		if got := s.upload(at+"/edit/file", "hive.yaml", text); got.status != 422 || strings.Contains(got.body, "<script>") {
			t.Errorf("%q is answered with %d", text, got.status)
		}
	}
	if got := s.upload(at+"/edit/file", "hive.yaml", strings.Repeat("# long\n", mostFile/6)); got.status != 413 {
		t.Errorf("a long file is answered with %d", got.status)
	}
	if s.draftFile(at) != before {
		t.Error("a file with faults changed the draft")
	}
}
