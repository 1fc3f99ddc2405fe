package web

import (
	"context"
	"encoding/json"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"hackle/change"
	"hackle/rank"
)

var rankChartIn = regexp.MustCompile(`(?s)<svg class="chart rankchart".*?</svg>`)

// keepRanking keeps a ranking of the hive with an invented evaluator, under what the
// query of the page asks for.
func (s *site) keepRanking(at string) (rankAsked, *rank.Answer) {
	t := s.t
	t.Helper()
	want, err := readRank(url.Values{"budget": {"200"}, "days": {"winter"}})
	if err != nil {
		t.Fatal(err)
	}
	request := httptest.NewRequest("GET", at+"/rank", nil)
	request.SetPathValue("hive", strings.TrimPrefix(at, "/hive/"))
	v := &visit{Server: s.pages, request: request}
	r, _, err := v.ranking(want)
	if err != nil {
		t.Fatal(err)
	}
	offers, err := change.Offers(r.asked.Plan, r.site())
	if err != nil {
		t.Fatal(err)
	}
	candidates, apply := r.candidates(offers)
	if apply == 0 || apply == len(candidates) {
		t.Errorf("%d of %d choices apply", apply, len(candidates))
	}
	// An invented evaluator: lids save honey, vents cost some.
	a, err := rank.Rank(t.Context(), rank.Question{Name: "By the hedge", Plan: r.asked.Plan, Site: r.site(), Changes: candidates, Prices: r.prices, Budget: 200, Most: 1, Draws: 4,
		Evaluate: func(_ context.Context, task rank.Task) (rank.Outcome, error) {
			o := rank.Outcome{Burned: 15 + float64(task.Draw), Left: 15, Overhead: 200}
			for _, step := range task.Result.Steps {
				switch step.Change.Kind {
				case "lid":
					o.Burned -= 2
					o.Overhead -= 100
				case "top vent":
					o.Burned++
					o.Overhead -= 150
				}
			}
			return o, nil
		}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	packed, err := json.Marshal(rankKept{Answer: a, Notes: []string{"a note"}, Source: "Somewhere"})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.store.Cache(t.Context(), r.key, packed); err != nil {
		t.Fatal(err)
	}
	return want, a
}

// TestRankPage shows a ranking that is there: the efficient set can be picked from
// the chart and from the table, without scripts.
func TestRankPage(t *testing.T) {
	s := open(t, nil)
	at := s.firstHive()
	got := s.get(at + "/rank")
	for _, says := range []string{"Which change is worth its money", `name="budget"`, `value="lid" checked`, "Rank them"} {
		if !strings.Contains(got.body, says) {
			t.Errorf("before a ranking the page does not say %q", says)
		}
	}

	want, a := s.keepRanking(at)
	path := at + "/rank?" + want.query().Encode()
	got = s.get(path)
	if got.status != 200 {
		t.Fatalf("%d\n%s", got.status, got.body)
	}
	for _, says := range []string{"Insulated lid (", "The efficient set", "recommended", "See before and after", "/changes?change=", "These do harm", "Top vent (20 mm)", "The prices are invented", "a note", "Not tried"} {
		if !strings.Contains(got.body, says) {
			t.Errorf("the page does not say %q", says)
		}
	}
	for _, no := range []string{"<script>", " style=", "onclick"} {
		if strings.Contains(got.body, no) {
			t.Errorf("the page holds %q", no)
		}
	}
	chart := rankChartIn.FindString(got.body)
	wellFormed(t, chart)
	efficient := 0
	for _, x := range append(a.Variants, a.AsItIs) {
		if x.Efficient {
			efficient++
		}
	}
	if n := strings.Count(chart, `class="number"`); n != efficient || strings.Count(chart, "<a href=") != len(a.Variants)+1 {
		t.Errorf("the chart numbers %d of %d efficient variants", n, efficient)
	}
	// Every way of looking at it, and a pick, lead to a page.
	link := regexp.MustCompile(`href="(/hive/[^"]*/rank\?[^"]*)"`)
	for _, m := range link.FindAllStringSubmatch(got.body, 12) {
		if g := s.get(strings.ReplaceAll(m[1], "&amp;", "&")); g.status != 200 || !strings.Contains(g.body, "rankchart") {
			t.Errorf("%s leads to %d", m[1], g.status)
		}
	}

	for _, bad := range []string{"budget=much", "together=9", "depth=deep", "kind=lidd", "hours=-1"} {
		if g := s.get(at + "/rank?" + bad); g.status != 422 || !strings.Contains(g.body, "found") && !strings.Contains(g.body, "did you mean") {
			t.Errorf("%s is answered with %d", bad, g.status)
		}
	}
}

// TestRankIsStopped begins a ranking by the engine and stops it.
func TestRankIsStopped(t *testing.T) {
	s := open(t, nil)
	at := s.firstHive()
	form := url.Values{"depth": {"thorough"}, "kind": {"lid"}, "days": {"winter"}, "together": {"1"}}
	got := s.post(at+"/rank", form)
	m := regexp.MustCompile(`action="/work/([^"]+)/stop"`).FindStringSubmatch(got.body)
	if got.status != 200 || m == nil || !strings.Contains(got.body, "ranking of By the hedge") {
		t.Fatalf("a ranking begins with %d\n%s", got.status, got.body)
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
				t.Errorf("the ranking is %s", state)
			}
			break
		}
		<-changed
	}
	if g := s.get(got.at); !strings.Contains(g.body, "was not computed") {
		t.Errorf("a stopped ranking shows\n%s", g.body)
	}
}
