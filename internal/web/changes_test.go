package web

import (
	"net/url"
	"strings"
	"testing"

	"hackle/change"
)

// A keeper tries a change, keeps it as a plan, finds it again, and makes it.
func TestChanges(t *testing.T) {
	s := open(t, nil)
	hive := s.firstHive()
	empty := s.get(hive + "/changes")
	for _, k := range change.Catalogue() {
		if !strings.Contains(empty.body, upper(k.Name)) {
			t.Errorf("the catalogue lacks %s", k.Name)
		}
	}
	const lid = "lid=mineral wool 76 mm"
	q := "?change=" + url.QueryEscape(lid)
	got := s.settled(hive + "/changes" + q)
	for _, says := range []string{"With this change ", "As it is", "Changed", "Why", "What it takes", "Take care", "Keep as a plan", "The prices are invented"} {
		if !strings.Contains(got.body, says) {
			t.Errorf("the change does not say %q", says)
		}
	}
	if n := strings.Count(got.body, `<figure class="drawing cut"><svg`); n != 2 {
		t.Errorf("%d cutaways", n)
	}
	boxes := viewBox.FindAllStringSubmatch(got.body, -1)
	var sizes []string
	for _, b := range boxes {
		if b[3] != "24" { // the mark in the head
			sizes = append(sizes, b[3]+" "+b[4])
		}
	}
	if len(sizes) < 2 || sizes[0] != sizes[1] {
		t.Errorf("the cutaways have other scales: %v", sizes)
	}
	if strings.Contains(got.body, " style=") || strings.Contains(got.body, "<style") {
		t.Error("the page holds a style that its policy forbids")
	}
	kept := s.post(hive+"/changes/keep", url.Values{"change": {lid}, "name": {"Warm lid"}})
	if !strings.Contains(kept.body, "Kept as the plan") || !strings.Contains(kept.at, url.QueryEscape("lid=mineral wool 76 mm")) {
		t.Fatalf("kept at %s", kept.at)
	}
	yard := s.get("/")
	if !strings.Contains(yard.body, "Warm lid") {
		t.Error("the yard does not show the plan")
	}
	_, after, _ := strings.Cut(yard.body, `href="/plan/`)
	id, _, _ := strings.Cut(after, `"`)
	if again := s.get("/plan/" + id); again.at != kept.at {
		t.Errorf("the plan opens %s", again.at)
	}
	for query, says := range map[string]string{
		"?change=lid%3Dlead+3+in": "lead", "?change=fly": "fly", "?typed=lid%3D": "lid", "?kind=lid&p.layer=gold": "gold",
		"?change=" + url.QueryEscape("tray=on 1 Oct, off 1 May"): "", "?" + strings.Repeat("change=windbreak&", mostChanges+1): "13 changes",
	} {
		if got := s.get(hive + "/changes" + query); got.status != 422 || !strings.Contains(got.body, says) || !strings.Contains(got.body, `role="alert"`) {
			t.Errorf("%s: %d", query, got.status)
		}
	}
	if got := s.get(hive + "/changes?kind=lid&p.layer=mineral+wool+3+in"); !strings.Contains(got.at, "change=lid") {
		t.Errorf("a change from its fields leads to %s", got.at)
	}
	if got := s.get(hive + "/changes" + q + "&typed=" + url.QueryEscape("lid=XPS 50 mm")); strings.Count(got.at, "lid") != 1 {
		t.Errorf("another change of a kind does not take the place of the first: %s", got.at)
	}
	built := s.post(hive+"/changes/build", url.Values{"change": {lid}})
	if built.at != hive {
		t.Errorf("building leads to %s: %d", built.at, built.status)
	}
	if got := s.settled(hive); !strings.Contains(got.body, "ineral wool 76 mm") {
		t.Error("the hive does not stand as it was built")
	}
	if got := s.post("/plan/"+id+"/drop", url.Values{"to": {"/"}}); strings.Contains(got.body, "Warm lid") {
		t.Error("a dropped plan is still shown")
	}
	if got := s.get("/plan/" + id); got.status != 404 {
		t.Errorf("a dropped plan opens with %d", got.status)
	}
}
