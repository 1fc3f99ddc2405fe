package web

import (
	"encoding/json"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"hackle/climate"
	"hackle/ensemble"
	"hackle/hive"
	"hackle/internal/answer"
)

// TestRangePage shows a range that is there: bands, odds by date, what is worth
// measuring, and the same numbers as JSON.
func TestRangePage(t *testing.T) {
	s := open(t, nil)
	at := s.firstHive()
	got := s.get(at + "/range")
	for _, says := range []string{"Between which numbers", `name="draws"`, "weighed, within 5 %", "Draw</button>"} {
		if !strings.Contains(got.body, says) {
			t.Errorf("before a range the page does not say %q", says)
		}
	}
	if g := s.get(at + "/range.json"); g.status != 404 {
		t.Errorf("JSON of nothing: %d", g.status)
	}
	want, drawn := s.keepRange(at)
	path := at + "/range?" + want.query().Encode()
	got = s.get(path)
	if got.status != 200 {
		t.Fatalf("%d\n%s", got.status, got.body)
	}
	says := []string{"nine winters of ten", "Feed by local practice, and weigh", "Honey left, eight draws of ten", "Honey needed on the first day", "Weigh your hive", "70 %", "Draw again", "burned", "1 years of weather"}
	if drawn.Starve.Value > 0 {
		says = append(says, "Chance of having run out of honey by date")
	} else {
		t.Error("no draw starves: the chart of odds was not tried")
	}
	for _, w := range says {
		if !strings.Contains(got.body, w) {
			t.Errorf("the page does not say %q", w)
		}
	}
	for _, no := range []string{"<script>", " style=", "onclick", "NaN", "Inf"} {
		if strings.Contains(got.body, no) {
			t.Errorf("the page holds %q", no)
		}
	}
	for _, svg := range regexp.MustCompile(`(?s)<svg class="chart" width="100%" height="\d\d\d".*?</svg>\s*<p class="readout`).FindAllString(got.body, -1) {
		wellFormed(t, strings.TrimSuffix(strings.TrimSpace(strings.TrimSuffix(svg, `<p class="readout`)), "\n"))
	}
	s.post("/look", url.Values{"units": {"us"}, "to": {"/"}})
	if g := s.get(path); !strings.Contains(g.body, " oz of honey") && !strings.Contains(g.body, " lb of honey") {
		t.Errorf("in other units: %d", g.status)
	}
	s.post("/look", url.Values{"units": {"metric"}, "to": {"/"}})
	sent := s.get(at + "/range.json?" + want.query().Encode())
	var doc answer.Ranged
	if err := json.Unmarshal([]byte(sent.body), &doc); err != nil || doc.Range == nil || doc.Draws != 6 || doc.Stores.Nine != drawn.Stores.Nine {
		t.Errorf("JSON %d: %v", sent.status, err)
	}
	for _, bad := range []string{"draws=7", "draws=many", "honey=guessed"} {
		if g := s.get(at + "/range?" + bad); g.status != 422 || !strings.Contains(g.body, "accepted") && !strings.Contains(g.body, "Accepted") {
			t.Errorf("%s is answered with %d", bad, g.status)
		}
	}
}

// keepRange draws a small range of a hive for the page that asks for what matters.
func (s *site) keepRange(at string) (rangeAsked, *ensemble.Range) {
	s.t.Helper()
	want, err := readRange(url.Values{"matters": {"yes"}})
	if err != nil {
		s.t.Fatal(err)
	}
	request := httptest.NewRequest("GET", at+"/range", nil)
	request.SetPathValue("hive", strings.TrimPrefix(at, "/hive/"))
	v := &visit{Server: s.pages, request: request}
	r, _, err := v.ranging(want)
	if err != nil {
		s.t.Fatal(err)
	}
	// Real draws of ten days on so little honey that some colonies starve.
	plan := r.asked.Plan
	plan.Colony.Honey = 0.6
	q, notes, err := answer.Ranging{Draws: 6, Seed: 1, Years: 1, Course: true}.Range(plan, []*climate.Series{r.whole},
		answer.Days{From: hive.Day{Month: 1, Day: 10}, To: hive.Day{Month: 1, Day: 19}}, r.units)
	if err != nil {
		s.t.Fatal(err)
	}
	drawn, err := q.Ask(s.t.Context(), nil)
	if err != nil {
		s.t.Fatal(err)
	}
	drawn.Matters = &ensemble.Matters{Runs: 9, Measures: []ensemble.MeasureValue{{Measure: ensemble.WeighHive, Inputs: []string{"honey"}, Swing: 2, Share: 0.7}},
		Targets: []ensemble.TargetMatters{{Key: "stores.need_kg", Unit: "kg", Label: "stores needed", Inputs: []ensemble.InputMoves{{Name: "bees", Swing: ensemble.Estimate{Value: 1, Low: 0.5, High: 2}, Rises: true}}}}}
	packed, err := json.Marshal(answer.NewRanged("By the hedge", r.whole, drawn, notes, r.units))
	if err != nil {
		s.t.Fatal(err)
	}
	if err := s.store.Cache(s.t.Context(), r.key, packed); err != nil {
		s.t.Fatal(err)
	}
	return want, drawn
}

// TestRangeIsStopped begins a range by the engine and stops it.
func TestRangeIsStopped(t *testing.T) {
	s := open(t, nil)
	at := s.firstHive()
	got := s.post(at+"/range", url.Values{"draws": {"600"}, "days": {"year"}})
	m := regexp.MustCompile(`action="/work/([^"]+)/stop"`).FindStringSubmatch(got.body)
	if got.status != 200 || m == nil || !strings.Contains(got.body, "range of By the hedge") {
		t.Fatalf("a range begins with %d\n%s", got.status, got.body)
	}
	key, err := url.PathUnescape(m[1])
	if err != nil {
		t.Fatal(err)
	}
	work := s.pages.bench.find(key)
	s.post("/work/"+m[1]+"/stop", url.Values{"to": {got.at}})
	for {
		state, _, changed, _ := work.look()
		if state.over() {
			if state != stopped {
				t.Errorf("the range is %s", state)
			}
			break
		}
		<-changed
	}
}

// TestByDay lays weeks on days.
func TestByDay(t *testing.T) {
	got := byDay([]int{2, 4}, []float64{10, 20}, 0)
	if len(got) != 4 || got[0] != 5 || got[1] != 10 || got[2] != 15 || got[3] != 20 {
		t.Errorf("%v", got)
	}
}
