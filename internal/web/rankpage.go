package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"html/template"
	"math"
	"net/url"
	"runtime"
	"slices"
	"strconv"
	"strings"

	"hackle/change"
	"hackle/climate"
	"hackle/internal/advice"
	"hackle/internal/answer"
	"hackle/internal/store"
	"hackle/price"
	"hackle/quantity"
	"hackle/rank"
)

// rankVersion changes when what is kept of a ranking does.
const rankVersion = "1"

// How thorough a ranking is: draws in full, draws of screening, variants, leaders.
type depth struct {
	key, name                        string
	draws, screen, variants, leaders int
}

func depths() []depth {
	return []depth{
		{"quick", "Quick: 8 draws of 8 leaders", 8, 2, 30, 8},
		{"usual", "Usual: 20 draws of 12 leaders", 20, 3, 60, 12},
		{"thorough", "Thorough: 60 draws of 20 leaders", 60, 4, 120, 20},
	}
}

// depthOf finds a depth by its key.
func depthOf(key string) (depth, bool) {
	all := depths()
	i := slices.IndexFunc(all, func(d depth) bool { return d.key == key })
	if i < 0 {
		return depth{}, false
	}
	return all[i], true
}

// rankAsked is what the form of a ranking says.
type rankAsked struct {
	Budget   float64 // 0: none
	Hours    float64 // 0: no limit
	Together int
	Winter   bool
	Depth    string
	Kinds    []string // of change, none: all
}

// rankPage is the ranking of changes of a hive.
type rankPage struct {
	Asked    rankAsked
	Problem  string
	Kinds    []rankKind
	Depths   []rankOption
	Together []rankOption
	Currency string

	Answer  *rank.Answer // nil: nothing has been ranked yet
	Lead    string
	Left    string // honey, as it is
	Chart   template.HTML
	Axes    []link
	Front   []rankRow
	Rest    []rankRow
	Harm    []rankHarm
	Picked  *rankPicked
	Notes   []string
	Source  string
	Query   string // of what was asked
	Dropped []rank.Dropped
}

type rankKind struct {
	Key, Name string
	On        bool
	Choices   int // that apply
}

type rankOption struct {
	Value, Name string
	On          bool
}

// rankRow is a variant in the tables.
type rankRow struct {
	Number                                               int // in the chart, 0: none
	Name, Path                                           string
	Cost, Saved, Between, Starve, Overhead, Falls, Water string
	PaysIn                                               string
	Recommended, Harmful, Current                        bool
}

type rankHarm struct{ Name, Harm string }

// rankPicked is the variant that was picked from the chart.
type rankPicked struct {
	Name        string
	Recommended bool
	Reasons     []string
	Harm        []string
	Did         []string
	Buy         []rankBuy
	First, Each string
	Hours       string
	Cautions    []string
	Changes     string // address of its before and after
}

type rankBuy struct{ Need, Stock, Price string }

// rankKept is what is kept of a ranking.
type rankKept struct {
	Answer *rank.Answer
	Notes  []string
	Source string
}

// readRank reads the form from a query or a form.
func readRank(q url.Values) (r rankAsked, err error) {
	r = rankAsked{Together: 2, Depth: "quick", Winter: q.Get("days") != "year", Kinds: q["kind"]}
	number := func(key, what string, most float64, at *float64) {
		text := strings.TrimSpace(q.Get(key))
		if text == "" || err != nil {
			return
		}
		v, e := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if e != nil || !(v >= 0 && v <= most) {
			err = refuse("%s: found %q, accepted: a number from 0 to %g", what, text, most)
			return
		}
		*at = v
	}
	number("budget", "Money at first", 1e7, &r.Budget)
	number("hours", "Hours of work", 1e5, &r.Hours)
	if text := q.Get("together"); text != "" {
		n, e := strconv.Atoi(text)
		if e != nil || n < 1 || n > 4 {
			return r, refuse("changes made together: found %q, accepted: 1 to 4", text)
		}
		r.Together = n
	}
	if text := q.Get("depth"); text != "" {
		r.Depth = text
	}
	if _, ok := depthOf(r.Depth); !ok {
		return r, refuse("depth: found %q, accepted: quick, usual or thorough", r.Depth)
	}
	for _, k := range r.Kinds {
		if _, e := change.Find(k); e != nil {
			return r, refuse("%s", e)
		}
	}
	slices.Sort(r.Kinds)
	r.Kinds = slices.Compact(r.Kinds)
	return r, err
}

// query of what was asked.
func (r rankAsked) query() url.Values {
	q := url.Values{"depth": {r.Depth}, "together": {strconv.Itoa(r.Together)}, "days": {"winter"}}
	if !r.Winter {
		q.Set("days", "year")
	}
	if r.Budget > 0 {
		q.Set("budget", number(r.Budget))
	}
	if r.Hours > 0 {
		q.Set("hours", number(r.Hours))
	}
	if len(r.Kinds) > 0 {
		q["kind"] = r.Kinds
	}
	return q
}

// ranking is everything that a ranking needs.
type ranking struct {
	asked  *asked
	want   rankAsked
	whole  *climate.Series
	prices *price.Table
	key    string
	units  quantity.System
	yards  map[string]change.Yard // of the keeper, to move to
}

func (v *visit) ranking(want rankAsked) (*ranking, *hiveHead, error) {
	a, head, err := v.hive()
	if err != nil {
		return nil, nil, err
	}
	whole, err := v.weatherOf(v.context(), a.Yard.Weather)
	if err != nil {
		return nil, head, err
	}
	table, err := v.prices(v.context())
	if err != nil {
		return nil, head, err
	}
	yards, err := v.yardsOf(v.context(), a)
	if err != nil {
		return nil, head, err
	}
	text, err := json.Marshal([]any{table, yards})
	if err != nil {
		return nil, head, err
	}
	sum := sha256.New()
	fmt.Fprintf(sum, "%s %s %s %d\n%s\n", rankVersion, a.Key, want.query().Encode(), v.system, text)
	return &ranking{asked: a, want: want, whole: whole, prices: table, key: "rank:" + hex.EncodeToString(sum.Sum(nil)), units: v.system, yards: yards}, head, nil
}

// candidates are the choices of the catalogue of the kinds that were asked for, and
// how many of them apply.
func (r *ranking) candidates(offers []change.Offer) (set change.Set, apply int) {
	for _, o := range offers {
		if len(r.want.Kinds) > 0 && !slices.Contains(r.want.Kinds, o.Change.Kind) {
			continue
		}
		set = append(set, o.Change)
		if o.Not == nil {
			apply++
		}
	}
	return set, apply
}

// yardsOf are the other yards of the keeper, to which a hive may be moved, by name.
// Those whose weather or place is not known cannot be reckoned with.
func (s *Server) yardsOf(ctx context.Context, a *asked) (map[string]change.Yard, error) {
	all, err := s.config.Store.Yards.All(ctx, false)
	if err != nil {
		return nil, err
	}
	out := map[string]change.Yard{}
	for _, y := range all {
		if y.ID == a.Yard.ID || y.Weather == "" || !y.HasPlace {
			continue
		}
		site := a.Plan.Site // how open and shaded the new place is can only be guessed: as the old one
		site.Name, site.HasPlace, site.Latitude, site.Longitude, site.Height = y.Name, true, y.Latitude, y.Longitude, y.Height
		out[y.Name] = change.Yard{Site: site, Weather: y.Weather}
	}
	return out, nil
}

func (r *ranking) site() change.Site {
	return change.Site{Weather: r.whole, Yards: r.yards, Units: r.units}
}

func showRank(v *visit) (view, error) {
	want, wrong := readRank(v.request.URL.Query())
	r, head, err := v.ranking(want)
	if err != nil {
		return view{Hive: head}, err
	}
	offers, err := change.Offers(r.asked.Plan, r.site())
	if err != nil {
		return view{Hive: head}, err
	}
	p := rankPage{Asked: want, Currency: r.prices.Currency, Query: want.query().Encode()}
	p.form(offers)
	shown := view{Title: "Rank", Place: "yard", Hive: head, Body: &p}
	if wrong != nil {
		p.Problem = upper(wrong.Error()) + "."
		shown.status = 422
		return shown, nil
	}
	packed, ok, err := v.config.Store.Cached(v.context(), r.key)
	if err != nil {
		return shown, err
	}
	if !ok {
		if w := v.bench.find(r.key); w != nil {
			return shown, &underway{w, head}
		}
		return shown, nil
	}
	var kept rankKept
	if err := json.Unmarshal(packed, &kept); err != nil || kept.Answer == nil {
		v.config.Log.Warn("a kept ranking cannot be read", "error", err)
		return shown, nil
	}
	p.fill(v, r, &kept)
	return shown, nil
}

// startRank begins a ranking and leads to its page.
func startRank(v *visit) (view, error) {
	if err := v.request.ParseForm(); err != nil {
		return view{}, refuse("the form cannot be read: %s", err)
	}
	want, err := readRank(v.request.PostForm)
	at := "/hive/" + url.PathEscape(v.request.PathValue("hive")) + "/rank?"
	if err != nil {
		return view{to: at + v.request.PostForm.Encode()}, nil // which shows what is wrong
	}
	r, head, err := v.ranking(want)
	if err != nil {
		return view{Hive: head}, err
	}
	at += want.query().Encode()
	if _, ok, err := v.config.Store.Cached(v.context(), r.key); err != nil || ok {
		return view{to: at}, err
	}
	v.bench.forget(r.key)
	_, err = v.beginRank(r)
	return view{to: at, Hive: head}, err
}

// beginRank puts a ranking on the bench.
func (v *visit) beginRank(r *ranking) (*work, error) {
	s := v.Server
	return s.bench.start(errand{Kind: kindRank, Hive: string(r.asked.Hive.ID), Query: r.want.query().Encode(), Units: r.units}, r.key, "The ranking of "+r.asked.Hive.Name, func(ctx context.Context, progress func(float64)) error {
		return s.rank(ctx, r, progress)
	})
}

// rank makes a ranking and keeps it.
func (s *Server) rank(ctx context.Context, r *ranking, progress func(share float64)) error {
	depth, _ := depthOf(r.want.Depth) // checked when it was read
	ready, err := advice.Prepare(advice.Ask{Plan: r.asked.Plan, Weather: []*climate.Series{r.whole}, Days: answer.Days{Winter: r.want.Winter}, Draws: depth.draws, Seed: 1, Units: r.units, Yards: r.yards,
		Load: func(name string) (*climate.Series, error) { return s.weatherOf(ctx, name) }})
	if err != nil {
		return err
	}
	offers, err := change.Offers(ready.Plan, ready.Site)
	if err != nil {
		return err
	}
	q := ready.Question(rank.NewMemory(&runBook{ctx, s.config.Store}), s.config.Version)
	q.Name, q.Prices = r.asked.Hive.Name, r.prices
	apply := 0
	if q.Changes, apply = r.candidates(offers); apply == 0 {
		return refuse("none of the kinds of change that were picked applies to this hive")
	}
	q.Most, q.Budget, q.Hours = r.want.Together, r.want.Budget, r.want.Hours
	q.Draws, q.Screen, q.Variants, q.Leaders = depth.draws, depth.screen, depth.variants, depth.leaders
	q.Workers = max(1, runtime.GOMAXPROCS(0)-1) // pages stay quick meanwhile
	// Screening is the first part of the bar, by the number of runs; a full run counts
	// twice.
	screened, full := float64(depth.screen*depth.variants), 2*float64(depth.draws*depth.leaders)
	a, err := rank.Rank(ctx, q, func(stage string, done, total int) {
		part := float64(done) / float64(max(1, total))
		if stage == rank.Screening {
			progress(part * screened / (screened + full))
		} else {
			progress((screened + part*full) / (screened + full))
		}
	})
	if err != nil {
		return err
	}
	packed, err := json.Marshal(rankKept{Answer: a, Notes: ready.Notes, Source: fmt.Sprintf("%s, %s, %d years drawn from", ready.Weather.Name, answer.Period(ready.From, ready.To), ready.Years)})
	if err != nil {
		return err
	}
	return s.config.Store.Cache(ctx, r.key, packed)
}

// runBook keeps the runs of rankings in the yard's file, so that one that was
// stopped goes on where it was.
type runBook struct {
	ctx   context.Context
	store *store.Store
}

func (b *runBook) key(key string) string { return "rankrun:" + key }

// Get implements rank.Book.
func (b *runBook) Get(key string) (o rank.Outcome, ok bool) {
	text, ok, err := b.store.Cached(b.ctx, b.key(key))
	if err != nil || !ok || json.Unmarshal(text, &o) != nil {
		return rank.Outcome{}, false // it is run again
	}
	return o, true
}

// Put implements rank.Book.
func (b *runBook) Put(key string, o rank.Outcome) error {
	text, err := json.Marshal(o)
	if err != nil {
		return err
	}
	if err := b.store.Cache(b.ctx, b.key(key), text); errors.Is(err, context.Canceled) {
		return err
	}
	return nil // what is not kept is run again some day
}

// form fills in what may be asked.
func (p *rankPage) form(offers []change.Offer) {
	for _, k := range change.Catalogue() {
		n := 0
		for _, o := range offers {
			if o.Change.Kind == k.Key && o.Not == nil {
				n++
			}
		}
		if n > 0 {
			p.Kinds = append(p.Kinds, rankKind{k.Key, k.Name, len(p.Asked.Kinds) == 0 || slices.Contains(p.Asked.Kinds, k.Key), n})
		}
	}
	for _, d := range depths() {
		p.Depths = append(p.Depths, rankOption{d.key, d.name, d.key == p.Asked.Depth})
	}
	for n, name := range []string{"each by itself", "two at most", "three at most"} {
		p.Together = append(p.Together, rankOption{strconv.Itoa(n + 1), name, n+1 == p.Asked.Together})
	}
}

// An axis is what the chart shows over cost.
type axis struct {
	key, name string
	value     func(rank.Variant) float64
	low, high func(rank.Variant) float64 // of the range, nil: none
	scale     scale
}

func (v *visit) rankAxes() []axis {
	mass := scaleOf(quantity.Mass, v.system)
	share, volume := scaleOf(quantity.Fraction, v.system), scaleOf(quantity.Volume, v.system)
	return []axis{
		{"honey", "Honey saved", func(x rank.Variant) float64 { return x.Saved.Mean }, func(x rank.Variant) float64 { return x.Saved.Low }, func(x rank.Variant) float64 { return x.Saved.High }, mass},
		{"starve", "Starving", func(x rank.Variant) float64 { return x.Starve }, nil, nil, share},
		{"overhead", "Water overhead", func(x rank.Variant) float64 { return x.Overhead.Mean }, func(x rank.Variant) float64 { return x.Overhead.Low }, func(x rank.Variant) float64 { return x.Overhead.High }, scale{"h", same, 0}},
		{"comb", "Comb falling", func(x rank.Variant) float64 { return x.Falls }, nil, nil, share},
		{"water", "Water hauled", func(x rank.Variant) float64 { return x.Hauled.Mean * 1e-3 }, func(x rank.Variant) float64 { return x.Hauled.Low * 1e-3 }, func(x rank.Variant) float64 { return x.Hauled.High * 1e-3 }, volume},
	}
}

// fill shows an answer.
func (p *rankPage) fill(v *visit, r *ranking, kept *rankKept) {
	a := kept.Answer
	p.Answer, p.Notes, p.Source, p.Dropped = a, kept.Notes, kept.Source, a.Dropped
	q := v.request.URL.Query()
	axes := v.rankAxes()
	over := axes[0]
	for _, x := range axes {
		if x.key == q.Get("over") {
			over = x
		}
	}
	pick := q.Get("pick")
	if pick == "" {
		pick = a.Recommended
	}
	address := func(key, value string) string {
		n := r.want.query()
		n.Set("over", over.key)
		if q.Get("pick") != "" {
			n.Set("pick", q.Get("pick"))
		}
		n.Set(key, value)
		return "/hive/" + string(r.asked.Hive.ID) + "/rank?" + n.Encode()
	}
	for _, x := range axes {
		p.Axes = append(p.Axes, link{address("over", x.key), x.name, x.key == over.key})
	}
	p.Lead = "Leave the hive as it is."
	for _, x := range a.Variants {
		if x.Name == a.Recommended {
			p.Lead = x.Title + "."
		}
	}
	mass := scaleOf(quantity.Mass, v.system)
	plain := func(kg float64) string { return fmt.Sprintf("%.1f %s", mass.of(kg), mass.unit) }
	p.Left = fmt.Sprintf("%s on the mean, %s to %s in eight of ten", plain(a.AsItIs.Left.Mean), plain(a.AsItIs.Left.Low), plain(a.AsItIs.Left.High))
	var points []rankPoint
	n := 0
	add := func(x rank.Variant) {
		row := rankRow{Name: x.Title, Path: address("pick", x.Name) + "#picked", Recommended: x.Name == a.Recommended, Harmful: len(x.Harm) > 0, Current: x.Name == pick,
			Cost: fmt.Sprintf("%.0f", x.First), Saved: "–", Between: "", Starve: fmt.Sprintf("%.0f %%", 100*x.Starve), Overhead: fmt.Sprintf("%.0f h", x.Overhead.Mean),
			Falls: fmt.Sprintf("%.0f %%", 100*x.Falls), Water: quantity.Format(x.Hauled.Mean*1e-3, quantity.Volume, v.system), PaysIn: "–"}
		if len(x.Changes) > 0 {
			row.Saved = signedText(mass.of(x.Saved.Mean), 2) + " " + mass.unit
			row.Between = signedText(mass.of(x.Saved.Low), 2) + " to " + signedText(mass.of(x.Saved.High), 2)
			row.PaysIn = "never"
			if x.PayBack != nil {
				row.PaysIn = fmt.Sprintf("%.1f years", *x.PayBack)
			}
		}
		pt := rankPoint{x: x.First, y: over.value(x), name: x.Title, path: row.Path, efficient: x.Efficient, current: row.Current}
		if over.low != nil && len(x.Changes) > 0 {
			pt.low, pt.high, pt.ranged = over.low(x), over.high(x), true
		}
		if x.Efficient {
			n++
			row.Number, pt.number = n, n
			p.Front = append(p.Front, row)
		} else {
			p.Rest = append(p.Rest, row)
		}
		points = append(points, pt)
		if x.Name == pick && len(x.Changes) > 0 {
			p.pick(r, a, x)
		}
	}
	order := append([]rank.Variant{a.AsItIs}, a.Variants...)
	slices.SortStableFunc(order, func(x, y rank.Variant) int {
		switch {
		case x.First < y.First:
			return -1
		case x.First > y.First:
			return 1
		}
		return 0
	})
	for _, x := range order {
		add(x)
	}
	for _, x := range a.Variants {
		if len(x.Harm) > 0 {
			p.Harm = append(p.Harm, rankHarm{x.Title, strings.Join(x.Harm, "; ")})
		}
	}
	p.Chart = rankChart(points, over, a.Currency)
}

func signedText(x float64, digits int) string {
	s := fmt.Sprintf("%.*f", digits, math.Abs(x))
	if strings.Trim(s, "0.") == "" {
		return s
	}
	if x < 0 {
		return "−" + s
	}
	return "+" + s
}

// pick shows one variant.
func (p *rankPage) pick(r *ranking, a *rank.Answer, x rank.Variant) {
	d := rankPicked{Name: x.Title, Recommended: x.Name == a.Recommended, Reasons: x.Reasons, Harm: x.Harm}
	if d.Recommended {
		d.Reasons = a.Why
	}
	query := url.Values{}
	for _, c := range x.Changes {
		query.Add("change", c.String())
	}
	d.Changes = "/hive/" + string(r.asked.Hive.ID) + "/changes?" + query.Encode()
	done, err := x.Changes.Apply(r.asked.Plan, r.site())
	if err == nil {
		cost := done.Cost(r.prices, 1)
		for _, s := range done.Steps {
			d.Did = append(d.Did, s.Effect.Did)
		}
		for _, b := range []price.Bill{cost.Once, cost.Yearly} {
			for _, l := range b.Lines {
				stock := l.Stock
				if l.Pieces > 0 {
					stock = fmt.Sprintf("%d × %s", l.Pieces, stock)
				}
				d.Buy = append(d.Buy, rankBuy{l.Need.Text(r.units), stock, r.prices.Money(l.Bought)})
			}
		}
		d.First, d.Hours, d.Cautions = r.prices.Money(cost.First()), fmt.Sprintf("%.1f h", cost.Hours), done.Cautions()
		if cost.EachYear() > 0 {
			d.Each = r.prices.Money(cost.EachYear())
		}
	}
	p.Picked = &d
}

// rankPoint is a variant in the chart.
type rankPoint struct {
	x, y, low, high    float64
	ranged             bool
	number             int
	name, path         string
	efficient, current bool
}

// rankChart draws variants over their cost: those of the efficient set numbered, the
// others as small rings, the range of eight draws in ten as a quiet bar.
func rankChart(points []rankPoint, over axis, currency string) template.HTML {
	if len(points) == 0 {
		return ""
	}
	right, low, high := 1.0, math.Inf(1), math.Inf(-1)
	for _, p := range points {
		right = max(right, p.x)
		for _, y := range []float64{p.y, p.low, p.high} {
			low, high = min(low, over.scale.of(y)), max(high, over.scale.of(y))
		}
	}
	steps := ticks(min(low, 0), max(high, 0), 5)
	low, high = steps[0], steps[len(steps)-1]
	const tall = 300.0
	wide := ticks(0, right*1.02, 5)
	right = wide[len(wide)-1]
	const left, room = 9.0, 88.0 // of the width [%]
	x := func(v float64) float64 { return left + room*v/right }
	y := func(v float64) float64 { return above + tall*(high-over.scale.of(v))/(high-low) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="chart rankchart" width="100%%" height="%.0f" role="group" aria-label="%s over first cost. Every variant is a link; the tables below hold the same.">`, above+tall+44, html.EscapeString(over.name))
	for i, s := range steps {
		at := above + tall*(high-s)/(high-low)
		class := "grid"
		if s == 0 {
			class = "zero"
		}
		fmt.Fprintf(&b, `<line class="%s" x1="%.1f%%" x2="100%%" y1="%.1f" y2="%.1f"/>`, class, left, at, at)
		label := number(s)
		if i == len(steps)-1 {
			label += " " + over.scale.unit
		}
		fmt.Fprintf(&b, `<text x="0" y="%.1f">%s</text>`, at+4, label)
	}
	for i, s := range wide {
		label := number(s)
		if i == len(wide)-1 {
			label += " " + currency
		}
		anchor := "middle"
		if i == len(wide)-1 {
			anchor = "end"
		}
		fmt.Fprintf(&b, `<line class="axis" x1="%.2f%%" x2="%.2f%%" y1="%.1f" y2="%.1f"/><text x="%.2f%%" y="%.1f" text-anchor="%s">%s</text>`, x(s), x(s), above+tall, above+tall+6, x(s), above+tall+22, anchor, label)
	}
	fmt.Fprintf(&b, `<line class="axis" x1="%.1f%%" x2="100%%" y1="%.1f" y2="%.1f"/>`, left, above+tall, above+tall)
	for _, p := range points {
		if p.ranged && p.efficient {
			fmt.Fprintf(&b, `<line class="spread" x1="%.2f%%" x2="%.2f%%" y1="%.1f" y2="%.1f"/>`, x(p.x), x(p.x), y(p.low), y(p.high))
		}
	}
	// Rings first, so that numbered points lie over them.
	slices.SortStableFunc(points, func(p, q rankPoint) int { return p.number - q.number })
	type spot struct{ x, y float64 }
	var taken []spot
	for _, p := range points {
		at := spot{x(p.x), y(p.y)}
		class, radius := "ring", 5.0
		if p.efficient {
			class, radius = "point", 11
			// Points that would hide each other stand side by side, a little below.
			for range 12 {
				if !slices.ContainsFunc(taken, func(o spot) bool { return math.Abs(o.x-at.x) < 3.2 && math.Abs(o.y-at.y) < 22 }) {
					break
				}
				at.y += 23
			}
			at.y = min(at.y, above+tall)
			taken = append(taken, at)
		}
		if p.current {
			class += " current"
		}
		label := fmt.Sprintf("%s: %s %s, %.0f %s", p.name, strings.ReplaceAll(fmt.Sprintf("%.*f", over.scale.digits, over.scale.of(p.y)), "-", "−"), over.scale.unit, p.x, currency)
		if p.number > 0 { // what is seen is part of what is read
			label = fmt.Sprintf("%d. %s", p.number, label)
		}
		fmt.Fprintf(&b, `<a href="%s" aria-label="%s"><title>%s</title><circle class="%s" cx="%.2f%%" cy="%.1f" r="%.0f"/>`, html.EscapeString(p.path), html.EscapeString(label), html.EscapeString(label), class, at.x, at.y, radius)
		if p.number > 0 {
			fmt.Fprintf(&b, `<text class="number" x="%.2f%%" y="%.1f" text-anchor="middle">%d</text>`, at.x, at.y+4.5, p.number)
		}
		b.WriteString(`</a>`)
	}
	fmt.Fprintf(&b, `<text class="name" x="0" y="14">%s</text><text class="name" x="100%%" y="%.0f" text-anchor="end">first cost</text></svg>`, html.EscapeString(over.name), above+tall+40)
	return template.HTML(b.String())
}
