package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"runtime"
	"strings"
	"sync/atomic"

	"hackle/climate"
	"hackle/internal/advice"
	"hackle/internal/answer"
	"hackle/price"
	"hackle/quantity"
	"hackle/rank"
)

// yardRankVersion changes when what is kept of a ranking of all hives does.
const yardRankVersion = "1"

// yardRankPage spends one budget among all hives of all yards.
type yardRankPage struct {
	Asked   rankAsked
	Problem string
	Depths  []rankOption
	Counted int // hives that can be ranked
	Without []string
	Hint    string

	Currency string
	Kept     *yardRankKept // nil: nothing has been ranked yet
	Lead     string
	Rows     []yardRankRow
	Rest     []yardRankRow
}

// yardRankRow is what is done with one hive.
type yardRankRow struct{ Hive, Path, Yard, Change, Changes, Cost, Saved, Starve, Net string }

// yardRankKept is what is kept of a ranking of all hives.
type yardRankKept struct {
	Choices  []yardChoice `json:"choices"`
	Cost     float64      `json:"first_cost"`
	Net      float64      `json:"net_worth"`
	Years    float64      `json:"years"`
	Currency string       `json:"currency"`
	Invented bool         `json:"prices_are_invented"`
	Made     int          `json:"runs_made"`
	Reused   int          `json:"runs_reused"`
	Draws    int          `json:"draws"`
}

type yardChoice struct {
	ID, Hive, Yard string
	Make, Title    string // empty: as it is
	First, Net     float64
	Saved          float64 // honey a year, on the mean [kg]
	Starve, Before float64 // share of the draws with it and as it is
}

// yardRanking is everything that a ranking of all hives needs.
type yardRanking struct {
	want   rankAsked
	hives  []*ranking
	prices *price.Table
	key    string
	units  quantity.System
}

// yardRanking finds the hives of all yards, and those that cannot be ranked.
func (v *visit) yardRanking(want rankAsked) (*yardRanking, []string, error) {
	ctx := v.context()
	table, err := v.prices(ctx)
	if err != nil {
		return nil, nil, err
	}
	r := &yardRanking{want: want, prices: table, units: v.system}
	yards, err := v.config.Store.Yards.All(ctx, false)
	if err != nil {
		return nil, nil, err
	}
	var without []string
	sum := sha256.New()
	for _, y := range yards {
		hives, err := v.config.Store.HivesOf(ctx, y.ID)
		if err != nil {
			return nil, nil, err
		}
		for _, h := range hives {
			a, err := v.ask(ctx, string(h.ID), v.system)
			if err != nil {
				_, _, text := statusOf(err)
				without = append(without, h.Name+": "+text)
				continue
			}
			whole, err := v.weatherOf(ctx, a.Yard.Weather)
			if err != nil {
				without = append(without, h.Name+": its yard has no weather")
				continue
			}
			places, err := v.yardsOf(ctx, a)
			if err != nil {
				return nil, nil, err
			}
			r.hives = append(r.hives, &ranking{asked: a, want: want, whole: whole, prices: table, units: v.system, yards: places})
			fmt.Fprintln(sum, h.ID, h.Name, a.Key, places)
		}
	}
	text, err := json.Marshal(table)
	if err != nil {
		return nil, nil, err
	}
	fmt.Fprintf(sum, "%s %s %d\n%s\n", yardRankVersion, want.query().Encode(), v.system, text)
	r.key = "yardrank:" + hex.EncodeToString(sum.Sum(nil))
	return r, without, nil
}

func showYardRank(v *visit) (view, error) {
	want, wrong := readRank(v.request.URL.Query())
	p := yardRankPage{Asked: want}
	for _, d := range depths() {
		p.Depths = append(p.Depths, rankOption{d.key, d.name, d.key == want.Depth})
	}
	shown := view{Title: "Rank all hives", Place: "yard", Body: &p}
	r, without, err := v.yardRanking(want)
	if err != nil {
		return shown, err
	}
	p.Counted, p.Without, p.Currency = len(r.hives), without, r.prices.Currency
	if wrong != nil {
		p.Problem = upper(wrong.Error()) + "."
		shown.status = http.StatusUnprocessableEntity
		return shown, nil
	}
	packed, ok, err := v.config.Store.Cached(v.context(), r.key)
	if err != nil {
		return shown, err
	}
	var kept yardRankKept
	switch {
	case ok && json.Unmarshal(packed, &kept) == nil:
		p.fill(&kept, r)
	default:
		if w := v.bench.find(r.key); w != nil {
			return shown, &underway{work: w}
		}
	}
	return shown, nil
}

// fill shows what to do with each hive.
func (p *yardRankPage) fill(kept *yardRankKept, r *yardRanking) {
	p.Kept = kept
	mass := scaleOf(quantity.Mass, r.units)
	made := 0
	for _, c := range kept.Choices {
		row := yardRankRow{Hive: c.Hive, Yard: c.Yard, Path: "/hive/" + url.PathEscape(c.ID) + "/rank", Starve: fmt.Sprintf("%.0f %%", 100*c.Before)}
		if c.Make == "" {
			p.Rest = append(p.Rest, row)
			continue
		}
		made++
		query := url.Values{}
		for _, one := range strings.Split(c.Make, " + ") {
			query.Add("change", one)
		}
		row.Change, row.Changes = c.Title, "/hive/"+url.PathEscape(c.ID)+"/changes?"+query.Encode()
		row.Cost, row.Net = fmt.Sprintf("%.0f", c.First), fmt.Sprintf("%.0f", c.Net)
		row.Saved = signedText(mass.of(c.Saved), 2) + " " + mass.unit
		row.Starve = fmt.Sprintf("%.0f %%, now %.0f %%", 100*c.Starve, 100*c.Before)
		p.Rows = append(p.Rows, row)
	}
	switch {
	case made == 0:
		p.Lead = "Leave the hives as they are."
	case made == 1:
		p.Lead = fmt.Sprintf("One hive of %d is worth changing.", len(kept.Choices))
	default:
		p.Lead = fmt.Sprintf("%d of %d hives are worth changing.", made, len(kept.Choices))
	}
	p.Hint = fmt.Sprintf("It costs %s at first, and leaves %s after %.0f years.", r.prices.Money(kept.Cost), r.prices.Money(kept.Net), kept.Years)
}

// startYardRank begins a ranking of all hives and leads to its page.
func startYardRank(v *visit) (view, error) {
	if err := v.request.ParseForm(); err != nil {
		return view{}, refuse("the form cannot be read: %s", err)
	}
	want, err := readRank(v.request.PostForm)
	if err != nil {
		return view{to: "/rank?" + v.request.PostForm.Encode()}, nil // which shows what is wrong
	}
	r, _, err := v.yardRanking(want)
	if err != nil {
		return view{}, err
	}
	if len(r.hives) == 0 {
		return view{}, refuse("no hive can be ranked yet: add one, and choose the weather of its yard")
	}
	at := "/rank?" + want.query().Encode()
	if _, ok, err := v.config.Store.Cached(v.context(), r.key); err != nil || ok {
		return view{to: at}, err
	}
	v.bench.forget(r.key)
	_, err = v.beginYardRank(r)
	return view{to: at}, err
}

// beginYardRank puts a ranking of all hives on the bench.
func (v *visit) beginYardRank(r *yardRanking) (*work, error) {
	s := v.Server
	return s.bench.start(errand{Kind: kindYardRank, Query: r.want.query().Encode(), Units: r.units}, r.key, "The ranking of all hives", func(ctx context.Context, progress func(float64)) error {
		return s.rankYards(ctx, r, progress)
	})
}

// rankYards ranks every hive, those that are alike once, and spends the budget.
func (s *Server) rankYards(ctx context.Context, r *yardRanking, progress func(share float64)) error {
	depth, _ := depthOf(r.want.Depth) // checked when it was read
	memory := rank.NewMemory(&runBook{ctx, s.config.Store})
	var questions []rank.Question
	// The bar counts runs against as many as there may be at most, and hives that are
	// done: hives that are alike come at once.
	var runs atomic.Int64
	var share atomic.Uint64 // of the hives, in thousandths
	most := float64(len(r.hives) * (depth.screen*depth.variants + depth.draws*(depth.leaders+1)))
	for _, h := range r.hives {
		ready, err := advice.Prepare(advice.Ask{Plan: h.asked.Plan, Weather: []*climate.Series{h.whole}, Days: answer.Days{Winter: r.want.Winter}, Draws: depth.draws, Seed: 1, Units: r.units,
			Yards: h.yards, Load: func(name string) (*climate.Series, error) { return s.weatherOf(ctx, name) }})
		if err != nil {
			return fmt.Errorf("%s: %w", h.asked.Hive.Name, err)
		}
		q := ready.Question(memory, s.config.Version)
		q.Name, q.Prices, q.Most, q.Hours = h.asked.Hive.Name, r.prices, r.want.Together, r.want.Hours
		evaluate := q.Evaluate
		q.Evaluate = func(ctx context.Context, t rank.Task) (rank.Outcome, error) {
			o, err := evaluate(ctx, t)
			progress(max(float64(share.Load())/1000, min(0.99, float64(runs.Add(1))/most)))
			return o, err
		}
		q.Budget = r.want.Budget // no hive may cost more than all of it
		q.Draws, q.Screen, q.Variants, q.Leaders = depth.draws, depth.screen, depth.variants, depth.leaders
		questions = append(questions, q)
	}
	workers := max(1, runtime.GOMAXPROCS(0)-1) // pages stay quick meanwhile
	y, err := rank.RankYard(ctx, questions, r.want.Budget, workers, func(_ string, done, total int) { share.Store(uint64(1000 * done / max(1, total))) })
	if err != nil {
		return err
	}
	kept := yardRankKept{Choices: []yardChoice{}, Cost: y.Cost, Net: y.Net, Currency: y.Currency, Draws: depth.draws}
	kept.Made, kept.Reused = memory.Counts()
	for i, c := range y.Plan {
		a, h := y.Hives[i], r.hives[i].asked
		kept.Years, kept.Invented = a.Years, a.Invented
		choice := yardChoice{ID: string(h.Hive.ID), Hive: h.Hive.Name, Yard: h.Yard.Name, Make: c.Make, First: c.First, Net: c.Net, Before: a.AsItIs.Starve}
		for _, v := range a.Variants {
			if c.Make != "" && v.Name == c.Make {
				choice.Title, choice.Saved, choice.Starve = v.Title, v.Saved.Mean, v.Starve
			}
		}
		kept.Choices = append(kept.Choices, choice)
	}
	packed, err := json.Marshal(kept)
	if err != nil {
		return err
	}
	return s.config.Store.Cache(ctx, r.key, packed)
}
