package web

import (
	"encoding/json"

	"hackle/change"
	"hackle/rank"
)

// rankEndpoints are those of changes and rankings.
func rankEndpoints() []endpoint {
	return []endpoint{
		{route: "GET /hives/{hive}/changes", name: "listChanges", summary: "What may be changed on a hive, with cost and work, or why it does not apply, as hackle change list --json prints it",
			params: []param{unitsParam}, gives: changesDoc{}, serve: apiChanges},
		{route: "GET /hives/{hive}/rank", name: "rankChanges", summary: "Which changes are worth making, as hackle rank --json prints it for one hive; asking begins it", params: []param{
			unitsParam, {"budget", "first cost at most, in the currency of the prices"}, {"hours", "first work at most [h]"}, {"together", "changes made together, 1 to 4"},
			{"days", "winter or year"}, {"depth", "quick, usual or thorough"}, {"kind", "a kind of change to try; may be given often; none: all"},
		}, gives: rankDoc{}, later: true, serve: apiRank},
	}
}

type (
	changesDoc struct {
		Currency string      `json:"currency"`
		Invented bool        `json:"prices_are_invented"`
		Changes  []changeDoc `json:"changes"`
	}
	changeDoc struct {
		Change string   `json:"change"`
		Title  string   `json:"title"`
		Kind   string   `json:"kind"`
		Does   string   `json:"does"`
		Did    string   `json:"did"`         // on this hive
		First  *float64 `json:"first_cost"`  // null when it does not apply
		Yearly *float64 `json:"yearly_cost"` // likewise
		Hours  *float64 `json:"work_h"`      // likewise
		Not    string   `json:"does_not_apply"`
	}
	rankDoc struct {
		rank.Answer
		Source string   `json:"source"` // weather, days and years
		Notes  []string `json:"notes"`
	}
)

func apiChanges(v *visit) (any, error) {
	if err := v.unitsAsked(); err != nil {
		return nil, err
	}
	r, _, err := v.ranking(rankAsked{Depth: "quick", Together: 1})
	if err != nil {
		return nil, err
	}
	offers, err := change.Offers(r.asked.Plan, r.site())
	if err != nil {
		return nil, err
	}
	doc := changesDoc{Currency: r.prices.Currency, Invented: r.prices.Invented, Changes: []changeDoc{}}
	for _, o := range offers {
		kind, err := change.Find(o.Change.Kind)
		if err != nil {
			return nil, err
		}
		c := changeDoc{Change: o.Change.String(), Title: o.Change.Title(), Kind: kind.Key, Does: kind.Does}
		if o.Not != nil {
			c.Not = o.Not.Error()
		} else {
			cost := o.Result.Cost(r.prices, 1)
			first, yearly, hours := cost.First(), cost.EachYear(), cost.Hours
			c.Did, c.First, c.Yearly, c.Hours = o.Result.Steps[0].Effect.Did, &first, &yearly, &hours
		}
		doc.Changes = append(doc.Changes, c)
	}
	return doc, nil
}

func apiRank(v *visit) (any, error) {
	if err := v.unitsAsked(); err != nil {
		return nil, err
	}
	want, err := readRank(v.request.URL.Query())
	if err != nil {
		return nil, err
	}
	r, head, err := v.ranking(want)
	if err != nil {
		return nil, err
	}
	packed, ok, err := v.config.Store.Cached(v.context(), r.key)
	if err != nil {
		return nil, err
	}
	var kept rankKept
	if ok && json.Unmarshal(packed, &kept) == nil && kept.Answer != nil {
		return rankDoc{*kept.Answer, kept.Source, append([]string{}, kept.Notes...)}, nil
	}
	w, err := v.beginRank(r)
	if err != nil {
		return nil, err
	}
	return nil, &underway{w, head}
}
