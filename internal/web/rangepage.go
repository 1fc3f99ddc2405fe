package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"

	"hackle/climate"
	"hackle/ensemble"
	"hackle/internal/answer"
	"hackle/internal/store"
	"hackle/ledger"
	"hackle/quantity"
)

// rangeVersion changes when what is kept of a range does.
const rangeVersion = "2"

// rangeAsked is what the form of a range says.
type rangeAsked struct {
	Draws   int
	Winter  bool
	Honey   string // how well the honey is known: "lifted" or "weighed"
	Matters bool
}

// rangeDraws are the numbers of draws to choose from.
var rangeDraws = []struct {
	Draws int
	Name  string
}{{50, "50: a first look"}, {200, "200: usual"}, {600, "600: sharp"}}

// weighedWithin is how well a weighed hive knows its honey. [-]
const weighedWithin = 0.05

// readRange reads the form from a query or a form.
func readRange(q url.Values) (r rangeAsked, err error) {
	r = rangeAsked{Draws: 50, Winter: q.Get("days") != "year", Honey: "lifted", Matters: q.Get("matters") == "yes"}
	if text := q.Get("draws"); text != "" {
		n, e := strconv.Atoi(text)
		if e != nil || !slices.ContainsFunc(rangeDraws, func(d struct {
			Draws int
			Name  string
		}) bool {
			return d.Draws == n
		}) {
			return r, refuse("draws: found %q, accepted: 50, 200 or 600", text)
		}
		r.Draws = n
	}
	switch text := q.Get("honey"); text {
	case "", "lifted":
	case "weighed":
		r.Honey = text
	default:
		return r, refuse("honey: found %q, accepted: lifted or weighed", text)
	}
	return r, nil
}

// query of what was asked.
func (r rangeAsked) query() url.Values {
	q := url.Values{"draws": {strconv.Itoa(r.Draws)}, "days": {"winter"}, "honey": {r.Honey}}
	if !r.Winter {
		q.Set("days", "year")
	}
	if r.Matters {
		q.Set("matters", "yes")
	}
	return q
}

// rangePage shows between which numbers the answer lies.
type rangePage struct {
	Asked   rangeAsked
	Problem string
	Draws   []rankOption
	Path    string // of the form
	JSON    string

	Range    *ensemble.Range // nil: nothing has been drawn yet
	Sentence string
	More     []string // sentences after it
	Caution  string
	Charts   []chartBox
	Stores   gridBox
	Odds     []line
	Sections []gridBox
	Advice   string
	Measures []rangeMeasure
	Moves    []gridBox
	How      string
	Notes    []string
}

// rangeMeasure is something that is worth measuring.
type rangeMeasure struct {
	What, Inputs, Share string
	Width               float64 // of its bar, 0 to 100
}

// ranging is everything that a range needs.
type ranging struct {
	asked *asked
	want  rangeAsked
	whole *climate.Series
	key   string
	units quantity.System
}

func (v *visit) ranging(want rangeAsked) (*ranging, *hiveHead, error) {
	a, head, err := v.hive()
	if err != nil {
		return nil, nil, err
	}
	whole, err := v.weatherOf(v.context(), a.Yard.Weather)
	if err != nil {
		return nil, head, err
	}
	sum := sha256.New()
	fmt.Fprintf(sum, "%s %s %s\n", rangeVersion, a.Key, want.query().Encode())
	return &ranging{a, want, whole, "range:" + hex.EncodeToString(sum.Sum(nil)), v.system}, head, nil
}

func showRange(v *visit) (view, error) {
	want, wrong := readRange(v.request.URL.Query())
	r, head, err := v.ranging(want)
	if err != nil {
		return view{Hive: head}, err
	}
	at := "/hive/" + url.PathEscape(v.request.PathValue("hive")) + "/range"
	p := rangePage{Asked: want, Path: at, JSON: at + ".json?" + want.query().Encode()}
	for _, d := range rangeDraws {
		p.Draws = append(p.Draws, rankOption{strconv.Itoa(d.Draws), d.Name, d.Draws == want.Draws})
	}
	shown := view{Title: "Range", Place: "yard", Hive: head, Body: &p}
	if wrong != nil {
		p.Problem = upper(wrong.Error()) + "."
		shown.status = http.StatusUnprocessableEntity
		return shown, nil
	}
	kept, err := v.keptRange(r)
	if err != nil {
		return shown, err
	}
	if kept == nil {
		if w := v.bench.find(r.key); w != nil {
			return shown, &underway{w, head}
		}
		return shown, nil
	}
	p.fill(v, r, kept)
	return shown, nil
}

// keptRange is a range that was drawn before, nil when there is none.
func (v *visit) keptRange(r *ranging) (*answer.Ranged, error) {
	packed, ok, err := v.config.Store.Cached(v.context(), r.key)
	if err != nil || !ok {
		return nil, err
	}
	var kept answer.Ranged
	if err := json.Unmarshal(packed, &kept); err != nil || kept.Range == nil {
		v.config.Log.Warn("a kept range cannot be read", "error", err)
		return nil, nil
	}
	return &kept, nil
}

// sendRange gives a range that was drawn as hackle range --json prints it.
func sendRange(v *visit) (view, error) {
	want, err := readRange(v.request.URL.Query())
	if err != nil {
		return view{}, err
	}
	r, _, err := v.ranging(want)
	if err != nil {
		return view{}, err
	}
	kept, err := v.keptRange(r)
	if err != nil {
		return view{}, err
	}
	if kept == nil {
		return view{}, &missing{what: "range of this hive yet: ask for it on its page"}
	}
	return view{written: true}, writeJSON(v.w, http.StatusOK, "application/json", kept)
}

// startRange begins to draw and leads to the page.
func startRange(v *visit) (view, error) {
	if err := v.request.ParseForm(); err != nil {
		return view{}, refuse("the form cannot be read: %s", err)
	}
	at := "/hive/" + url.PathEscape(v.request.PathValue("hive")) + "/range?"
	want, err := readRange(v.request.PostForm)
	if err != nil {
		return view{to: at + v.request.PostForm.Encode()}, nil // which shows what is wrong
	}
	r, head, err := v.ranging(want)
	if err != nil {
		return view{Hive: head}, err
	}
	at += want.query().Encode()
	if kept, err := v.keptRange(r); err != nil || kept != nil {
		return view{to: at}, err
	}
	v.bench.forget(r.key)
	_, err = v.startDrawing(r)
	return view{to: at, Hive: head}, err
}

func (v *visit) startDrawing(r *ranging) (*work, error) {
	return v.bench.start(errand{Kind: kindRange, Hive: string(r.asked.Hive.ID), Query: r.want.query().Encode(), Units: r.units}, r.key, "The range of "+r.asked.Hive.Name, func(ctx context.Context, progress func(float64)) error {
		return v.Server.draw(ctx, r, progress)
	})
}

// rangeParams are those of the interface for programs.
func rangeParams() []param {
	return []param{
		{"draws", "50, 200 or 600 at most"}, {"days", "winter, to the first flow, or year"},
		{"honey", "lifted: known within 20 %; weighed: within 5 %"}, {"matters", "yes: find what is worth measuring, too"},
	}
}

// apiRange answers with a range, or begins to draw it.
func apiRange(v *visit) (any, error) {
	want, err := readRange(v.request.URL.Query())
	if err != nil {
		return nil, err
	}
	r, head, err := v.ranging(want)
	if err != nil {
		return nil, err
	}
	kept, err := v.keptRange(r)
	if kept != nil || err != nil {
		return kept, err
	}
	w, err := v.startDrawing(r)
	if err != nil {
		return nil, err
	}
	return nil, &underway{w, head}
}

// draw makes a range and keeps it.
func (s *Server) draw(ctx context.Context, r *ranging, progress func(share float64)) error {
	ask := answer.Ranging{Draws: r.want.Draws, Seed: 1, Enough: 0.1, Course: true, Program: s.config.Version, Workers: max(1, runtime.GOMAXPROCS(0)-1)} // pages stay quick meanwhile
	if r.want.Honey == "weighed" {
		ask.Keeper.HoneyWithin = weighedWithin
	}
	if r.want.Draws == 600 {
		ask.Enough = 0.05
	}
	ask.Book = &drawBook{ctx, s.config.Store}
	q, notes, err := ask.Range(r.asked.Plan, []*climate.Series{r.whole}, answer.Days{Winter: r.want.Winter, WinterBy: "ask for the winter alone"}, r.units)
	if err != nil {
		return err
	}
	// Looking for what matters takes some 350 runs more.
	const looks = 350
	all := 1.0
	if r.want.Matters {
		all = float64(r.want.Draws) / float64(r.want.Draws+looks)
	}
	drawn, err := q.Ask(ctx, func(done, total int) { progress(all * float64(done) / float64(max(1, total))) })
	if err != nil {
		return err
	}
	if r.want.Matters {
		if drawn.Matters, err = q.Matters(ctx, ensemble.Probe{}, func(done, total int) { progress(all + (1-all)*float64(done)/float64(max(1, total))) }); err != nil {
			return err
		}
	}
	packed, err := json.Marshal(answer.NewRanged(r.asked.Hive.Name, r.whole, drawn, append(append([]string{}, r.asked.Notes...), notes...), r.units))
	if err != nil {
		return err
	}
	return s.config.Store.Cache(ctx, r.key, packed)
}

// drawBook keeps the draws of ranges in the yard's file, so that one that was
// stopped goes on where it was.
type drawBook struct {
	ctx   context.Context
	store *store.Store
}

func (b *drawBook) key(key string) string { return "draw:" + key }

// Get implements ensemble.Book.
func (b *drawBook) Get(key string) (line []byte, ok bool) {
	line, ok, err := b.store.Cached(b.ctx, b.key(key))
	return line, ok && err == nil // one that cannot be read is drawn again
}

// Put implements ensemble.Book.
func (b *drawBook) Put(key string, line []byte) error {
	if err := b.store.Cache(b.ctx, b.key(key), line); errors.Is(err, context.Canceled) {
		return err
	}
	return nil // what is not kept is drawn again some day
}

// byDay lays values at the ends of days on every day, straight between them, the
// first from a start.
func byDay(days []int, values []float64, start float64) (all []float64) {
	before, at := start, 0
	for i, day := range days {
		for d := at; d < day; d++ {
			all = append(all, before+(values[i]-before)*float64(d+1-at)/float64(day-at))
		}
		before, at = values[i], day
	}
	return all
}

// fill shows a range.
func (p *rangePage) fill(v *visit, asked *ranging, kept *answer.Ranged) {
	r := kept.Range
	mass, share := scaleOf(quantity.Mass, v.system), scaleOf(quantity.Fraction, v.system)
	sentences := r.Sentences(v.system)
	p.Range, p.Sentence, p.More, p.Caution, p.Notes = r, sentences[0], sentences[1:], ensemble.Caution, r.Notes
	first := asked.asked.Set.First // the years of a range begin on the same day
	if t, err := time.Parse("01-02", r.First); err == nil {
		first = time.Date(first.Year(), t.Month(), t.Day(), 0, 0, 0, 0, first.Location())
	}

	var days []int
	var low, mid, high []float64
	for _, d := range r.HoneyLeft {
		days = append(days, d.Day)
		low, mid, high = append(low, d.P10.Value), append(mid, d.P50.Value), append(high, d.P90.Value)
	}
	start := r.Stores.Now
	within := 0.2
	if asked.want.Honey == "weighed" {
		within = weighedWithin
	}
	stores := chart{id: "rangehoney", title: "Honey left, eight draws of ten", text: "Between which masses the honey lies by date, and its middle.", first: first, scale: mass, zero: true, height: 260,
		strokes: []stroke{
			{name: "Eight draws of ten", class: "warm", low: byDay(days, low, start*(1-within/2)), value: byDay(days, high, start*(1+within/2))},
			{name: "The middle one", value: byDay(days, mid, start)},
		}}
	if t, err := time.Parse("01-02", r.Stores.Forage); err == nil {
		forage := time.Date(first.Year(), t.Month(), t.Day(), 0, 0, 0, 0, first.Location())
		if forage.Before(first) {
			forage = forage.AddDate(1, 0, 0)
		}
		stores.pins = append(stores.pins, pin{forage, "first forage"})
	}
	p.Charts = append(p.Charts, chartBox{stores, "Values of each week, straight between. The band would be narrower with a weighed hive and wider with harder winters than the weather knows."})

	days, low, mid, high = nil, nil, nil, nil
	for _, d := range r.StarveBy {
		days = append(days, d.Day)
		low, mid, high = append(low, d.Odds.Low), append(mid, d.Odds.Value), append(high, d.Odds.High)
	}
	if r.Starve.Value > 0 {
		odds := chart{id: "rangeodds", title: "Chance of having run out of honey by date", text: "The share of draws that have run out of honey, and how sure that share is.", first: first, scale: share, zero: true, height: 200,
			strokes: []stroke{
				{name: "Where more draws would put it", class: "cold", low: byDay(days, low, low[0]), value: byDay(days, high, high[0]), quiet: true},
				{name: "Share of the draws", class: "warm", value: byDay(days, mid, 0)},
			}}
		p.Charts = append(p.Charts, chartBox{odds, "Each colony that has no honey left counts from that day on."})
	}

	spread := func(form func(float64) string, s ensemble.Spread) []string {
		return []string{form(s.P10.Value), form(s.P50.Value), form(s.P90.Value)}
	}
	kg := func(x float64) string {
		if math.IsInf(x, 0) || math.IsNaN(x) {
			return "unknown"
		}
		return quantity.Format(x, quantity.Mass, v.system)
	}
	head := func(what string) []string { return []string{what, "1 in 10", "Middle", "9 in 10"} }
	p.Stores = gridBox{Title: "Honey needed on the first day", Head: head("For"), Rows: [][]string{
		append([]string{"Eaten before the first forage"}, spread(kg, r.Stores.Use)...),
		append([]string{"Kept for the longest cold spell"}, spread(kg, r.Stores.Reserve)...),
		append([]string{"Needed"}, spread(kg, r.Stores.Need)...),
		{"As judged, not weighed", "", "", kg(r.Stores.Judged.Value)},
	}, Note: "The reserve is what bees eat in the longest spell in which they cannot move to other combs."}
	odds := func(label string, e ensemble.Estimate) line {
		return line{Label: label, Value: fmt.Sprintf("%.0f %%", 100*e.Value), When: fmt.Sprintf("%.0f to %.0f %%", math.Floor(100*e.Low), math.Ceil(100*e.High))}
	}
	p.Odds = []line{odds("Runs out of honey", r.Starve), odds("More than "+kg(r.Overhead.Limit)+" of water above the cluster or dripped on it", r.Overhead.Beyond), odds("A comb falls", r.CombFalls)}

	lines := map[string]ledger.Line{}
	for _, n := range ledger.Lines() {
		lines[n.Key] = n
	}
	for _, l := range r.Lines {
		n := lines[l.Key]
		if n.Section == "" || n.Section == ledger.Balance || l.P10.Value == 0 && l.P90.Value == 0 {
			continue
		}
		if k := len(p.Sections); k == 0 || p.Sections[k-1].Title != string(n.Section) {
			p.Sections = append(p.Sections, gridBox{Title: string(n.Section), Head: head("")})
		}
		k := len(p.Sections) - 1
		p.Sections[k].Rows = append(p.Sections[k].Rows, append([]string{strings.TrimSpace(n.Label)}, spread(func(x float64) string { return n.Format(x, v.system) }, l.Spread)...))
	}
	p.matters(v, r)
	p.How = fmt.Sprintf("%d draws of %d asked for: %s. Each takes a year of weather out of %d, the bees from their ranges, and what is known only roughly: %d inputs. Small print gives where %.0f of 100 such sets of draws would put a number.",
		r.Draws, r.Asked, r.Stopped, r.Years, len(r.Inputs), 100*r.Level)
}

// matters shows what is worth measuring.
func (p *rangePage) matters(v *visit, r *ensemble.Range) {
	m := r.Matters
	if m == nil {
		return
	}
	p.Advice = m.Advice()
	for k, x := range m.Measures {
		if k == 6 || x.Share < 0.01 {
			break
		}
		p.Measures = append(p.Measures, rangeMeasure{upper(string(x.Measure)), strings.ReplaceAll(strings.Join(x.Inputs, ", "), "_", " "), fmt.Sprintf("%.0f %%", 100*x.Share), 100 * x.Share})
	}
	meaning := map[string]string{"weather": "which year's weather comes"}
	for _, in := range r.Inputs {
		meaning[in.Name] = in.Meaning
	}
	for _, t := range m.Targets {
		if len(t.Inputs) == 0 || !(t.Inputs[0].Swing.Value > 0) {
			continue
		}
		form := func(x float64) string {
			if t.Unit == "kg" {
				return quantity.Format(x, quantity.Mass, v.system)
			}
			return fmt.Sprintf("%.2g", x)
		}
		g := gridBox{Title: upper(t.Label), Head: []string{"Input", "Moves it by", "More of it gives"}}
		for k, in := range t.Inputs {
			if k == 8 || in.Swing.Value < t.Inputs[0].Swing.Value/20 {
				break
			}
			way := "less"
			if in.Rises {
				way = "more"
			}
			g.Rows = append(g.Rows, []string{upper(meaning[in.Name]), form(in.Swing.Value), way})
		}
		p.Moves = append(p.Moves, g)
	}
}
