package web

import (
	"encoding/json"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"hackle/yard"
)

// TestYardRankPage: a ranking of all hives that is there shows what to change and
// what to leave, with ways to both; a wrong amount is refused on the page.
func TestYardRankPage(t *testing.T) {
	s := open(t, nil)
	at := s.firstHive()
	got := s.get("/rank")
	for _, says := range []string{"Which hives are worth changing", `name="budget"`, "Rank them"} {
		if got.status != 200 || !strings.Contains(got.body, says) {
			t.Fatalf("%d: before a ranking the page does not say %q", got.status, says)
		}
	}
	if g := s.get("/rank?budget=lots"); g.status != 422 || !strings.Contains(g.body, "accepted: a number") {
		t.Errorf("a wrong amount: %d", g.status)
	}
	want, err := readRank(url.Values{"budget": {"100"}})
	if err != nil {
		t.Fatal(err)
	}
	v := &visit{Server: s.pages, request: httptest.NewRequest("GET", "/rank", nil)}
	r, _, err := v.yardRanking(want)
	if err != nil {
		t.Fatal(err)
	}
	id := strings.TrimPrefix(at, "/hive/")
	packed, err := json.Marshal(yardRankKept{Cost: 40, Net: 60, Years: 5, Invented: true, Made: 30, Reused: 10, Draws: 8, Choices: []yardChoice{
		{ID: id, Hive: "By the hedge", Yard: "Alder Yard", Make: "lid=mineral wool 76 mm + tilt=5°", Title: "Lid and tilt", First: 40, Net: 60, Saved: 1.5, Starve: 0.1, Before: 0.2},
		{ID: id, Hive: "By the gate", Yard: "Alder Yard", Before: 0.3}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.store.Cache(t.Context(), r.key, packed); err != nil {
		t.Fatal(err)
	}
	got = s.get("/rank?" + want.query().Encode())
	for _, says := range []string{"One hive of 2 is worth changing", "Lid and tilt", "10 %, now 20 %", "change=tilt%3D5", "By the gate", "Leave as they are", "prices are invented"} {
		if !strings.Contains(got.body, says) {
			t.Errorf("the page does not say %q", says)
		}
	}
}

// TestOwnYards: a hive may be moved to the keeper's other yards whose place and
// weather are known, and to no others.
func TestOwnYards(t *testing.T) {
	s := open(t, nil)
	at := s.firstHive()
	for _, y := range []yard.Yard{{Name: "Far Bank", HasPlace: true, Latitude: 44, Longitude: -72, Height: 200, Weather: "burlington-vt"}, {Name: "Nowhere"}} {
		id, err := yard.NewID()
		if err != nil {
			t.Fatal(err)
		}
		y.ID = id
		if _, err := s.store.Yards.Put(t.Context(), y); err != nil {
			t.Fatal(err)
		}
	}
	if got := s.get(at + "/rank"); !strings.Contains(got.body, `value="move"`) {
		t.Error("no move is offered for ranking")
	}
	if got := s.get(at + "/changes"); !strings.Contains(got.body, "Far Bank") || strings.Contains(got.body, "Nowhere") {
		t.Error("the changes do not offer the other yard, or one without a place")
	}
}

// TestDrawsAreKept: a range drawn again takes its draws from the yard's file.
func TestDrawsAreKept(t *testing.T) {
	s := open(t, nil)
	b := &drawBook{t.Context(), s.store}
	if _, ok := b.Get("question/0"); ok {
		t.Error("a draw is there that nobody drew")
	}
	if err := b.Put("question/0", []byte("line")); err != nil {
		t.Fatal(err)
	}
	if line, ok := b.Get("question/0"); !ok || string(line) != "line" {
		t.Errorf("%q, %v", line, ok)
	}
}
