package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"hackle/change"
	"hackle/hive"
	"hackle/internal/cutaway"
	"hackle/ledger"
	"hackle/price"
	"hackle/quantity"
	"hackle/yard"
)

// mostChanges are tried together.
const mostChanges = 12

// changesPage is a hive before and after.
type changesPage struct {
	Groups  []kindGroup
	Picked  []pickedChange
	Problem string
	Typed   string // a change as it was typed in
	Trial   *trial
	Work    []workingPage
	Plan    *keptPlan
	Plans   []planRow
	Query   string // the picked changes as a query
	Bench   string // address of what is to be made for them
}

// kindGroup is the kinds of change that serve one end.
type kindGroup struct {
	Name  string
	Kinds []kindBox
}

// ends are what changes are for, in the order of the page, with their kinds.
var ends = []struct {
	name  string
	kinds []string
}{
	{"Keep the warmth", []string{"lid", "quilt", "walls", "wrap", "winter top"}},
	{"Let air and damp out, or keep them", []string{"top vent", "upper entrance", "close vents", "entrance", "board hole", "tray"}},
	{"Stand the heat", []string{"shade", "roof colour", "hive colour", "wiring", "water"}},
	{"Room and stores", []string{"feed", "take box", "add box", "follower"}},
	{"Where and how it stands", []string{"windbreak", "stand", "tilt", "move"}},
}

// grouped puts kinds under what they are for; those that nothing names come last.
func grouped(kinds []kindBox) (all []kindGroup) {
	left := slices.Clone(kinds)
	for _, e := range ends {
		g := kindGroup{Name: e.name}
		for _, key := range e.kinds {
			if i := slices.IndexFunc(left, func(k kindBox) bool { return k.Key == key }); i >= 0 {
				g.Kinds = append(g.Kinds, left[i])
				left = slices.Delete(left, i, i+1)
			}
		}
		all = append(all, g)
	}
	if len(left) > 0 {
		all = append(all, kindGroup{"Other", left})
	}
	return all
}

// kindBox is a kind of change with what is worth trying of it.
type kindBox struct {
	Key, Name, Does string
	Choices         []choiceBox
	Params          []paramBox
	Open            bool
	Not             string // why none of it fits this hive
}

type choiceBox struct {
	Text, Label, Address, Not string
	Picked                    bool
}

type paramBox struct {
	Key, Meaning, Default string
	Words                 []string
	Must                  bool
}

type pickedChange struct{ Text, Name, Did, Without string }

// trial is what the picked changes do.
type trial struct {
	Sentence  string
	Reasons   []string
	Main, All []compared
	Before    glances
	After     glances
	Figures   []pictured
	Apart     template.HTML // changed less as it is
	Moments   []lookAt
	Charts    []chartBox
	Needs     []bill
	First     string
	EachYear  string
	Hours     string
	YearHours string
	Cautions  []string
	Notes     []string
	Basis     basis
	Unchanged bool
	Invented  bool // the prices are examples
	PictureBy string
}

type glances struct{ Winter, Water, Summer string }

type compared struct{ Name, Before, After, Difference string }

type pictured struct {
	Title   string
	Picture template.HTML
	Text    string
}

type lookAt struct {
	Name, Address string
	Current       bool
}

type bill struct{ What, Stock, Price string }

type keptPlan struct{ ID, Name string }

// pickedIn are the changes that the query of a page names.
func pickedIn(q url.Values) (change.Set, error) {
	texts := q["change"]
	if len(texts) > mostChanges {
		return nil, fmt.Errorf("%d changes; at most %d are tried together", len(texts), mostChanges)
	}
	return change.ParseSet(texts...)
}

// queryOf names changes in the query of a page.
func queryOf(set change.Set) string {
	q := url.Values{}
	for _, c := range set {
		q.Add("change", c.String())
	}
	return q.Encode()
}

func showChanges(v *visit) (view, error) {
	ctx := v.context()
	a, head, err := v.hive()
	if err != nil {
		return view{}, err
	}
	q := v.request.URL.Query()
	p := changesPage{Typed: q.Get("typed")}
	set, err := pickedIn(q)
	if err != nil {
		p.Problem = upper(err.Error()) + "."
	}
	// A change of one's own, from the fields of a kind or as text.
	own, ownErr := ownChange(q)
	switch {
	case ownErr != nil:
		p.Problem = upper(ownErr.Error()) + "."
	case own != nil:
		return view{to: pathOf(a, append(replaced(set, *own), *own))}, nil
	}
	whole, err := v.weatherOf(ctx, a.Yard.Weather)
	if err != nil {
		return view{}, err
	}
	yards, err := v.yardsOf(ctx, a)
	if err != nil {
		return view{}, err
	}
	site := change.Site{Weather: whole, Yards: yards, Units: v.system}
	offers, err := v.offers(a, site)
	if err != nil {
		return view{}, err
	}
	p.Groups = grouped(kindsOf(a, offers, site, set))
	plans, err := v.config.Store.PlansOf(ctx, a.Yard.ID)
	if err != nil {
		return view{}, err
	}
	for _, k := range plans {
		if k.Hive != a.Hive.ID {
			continue
		}
		p.Plans = append(p.Plans, planRow{ID: string(k.ID), Name: k.Name})
		if kept, err := changesOf(k); err == nil && len(set) > 0 && kept.Equal(set) {
			p.Plan = &keptPlan{string(k.ID), k.Name}
		}
	}
	p.Query = queryOf(set)
	p.Bench = "/hive/" + string(a.Hive.ID) + "/workshop?" + p.Query
	shown := view{Title: "Changes", Place: "yard", Hive: head}
	if len(set) > 0 {
		changed, applied, err := v.changed(ctx, a, set, site)
		if err != nil {
			if status, _, _ := statusOf(err); status >= http.StatusInternalServerError {
				return view{}, err
			}
			p.Problem = upper(err.Error()) + "."
		}
		for i, c := range set {
			x := pickedChange{Text: c.String(), Without: pathOf(a, slices.Delete(slices.Clone(set), i, i+1))}
			if k, err := change.Find(c.Kind); err == nil {
				x.Name = k.Name
			}
			for _, s := range applied.Steps {
				if s.Change.String() == c.String() {
					x.Did = s.Effect.Did
				}
			}
			p.Picked = append(p.Picked, x)
		}
		if err == nil {
			if p.Trial, p.Work, err = v.trial(ctx, a, changed, applied); err != nil {
				return view{}, err
			}
		}
	}
	if p.Problem != "" {
		shown.status = http.StatusUnprocessableEntity
	}
	shown.Body = p
	return shown, nil
}

// pathOf is the address of the page with changes picked.
func pathOf(a *asked, set change.Set) string {
	path := "/hive/" + string(a.Hive.ID) + "/changes"
	if q := queryOf(set); q != "" {
		path += "?" + q
	}
	return path
}

// ownChange reads a change that was put together from the fields of a kind, or
// typed in; nil when there is none.
func ownChange(q url.Values) (*change.Change, error) {
	if typed := strings.TrimSpace(q.Get("typed")); typed != "" {
		c, err := change.Parse(typed)
		return &c, err
	}
	key := q.Get("kind")
	if key == "" {
		return nil, nil
	}
	k, err := change.Find(key)
	if err != nil {
		return nil, err
	}
	said := map[string]string{}
	for _, p := range k.Params {
		if text := strings.TrimSpace(q.Get("p." + p.Key)); text != "" {
			said[p.Key] = text
		}
	}
	c, err := k.New(said)
	return &c, err
}

// replaced drops from a set what a change takes the place of: another of its kind.
func replaced(set change.Set, by change.Change) change.Set {
	return slices.DeleteFunc(slices.Clone(set), func(c change.Change) bool { return c.Kind == by.Kind })
}

// offers are the changes worth trying on a hive.
func (s *Server) offers(a *asked, site change.Site) ([]change.Offer, error) {
	key := fmt.Sprintf("%s %d %v", a.Key, site.Units, site.Yards)
	if all, ok := s.shelves.offers.get(key); ok {
		return all, nil
	}
	all, err := change.Offers(a.Plan, site)
	if err == nil {
		s.shelves.offers.put(key, all)
	}
	return all, err
}

// kindsOf lays out the catalogue for a hive.
func kindsOf(a *asked, offers []change.Offer, site change.Site, set change.Set) []kindBox {
	var all []kindBox
	for _, k := range change.Catalogue() {
		box := kindBox{Key: k.Key, Name: k.Name, Does: k.Does}
		fits := 0
		for _, o := range offers {
			if o.Change.Kind != k.Key {
				continue
			}
			c := choiceBox{Text: o.Change.String(), Label: labelOf(o.Change)}
			if i := slices.IndexFunc(set, func(x change.Change) bool { return x.String() == c.Text }); i >= 0 {
				c.Picked, box.Open = true, true
				c.Address = pathOf(a, slices.Delete(slices.Clone(set), i, i+1))
			} else {
				c.Address = pathOf(a, append(replaced(set, o.Change), o.Change))
			}
			if o.Not != nil {
				c.Not = reasonOf(o.Not)
				box.Not = c.Not
			} else {
				fits++
			}
			box.Choices = append(box.Choices, c)
		}
		if fits > 0 {
			box.Not = ""
		}
		for _, p := range k.Params {
			x := paramBox{Key: p.Key, Meaning: p.Meaning, Default: p.Default, Must: p.Must, Words: p.Words}
			if x.Default == "" && p.Type == change.Quantity {
				x.Default = "such as " + quantity.Format(p.Low+(p.High-p.Low)/10, p.Quantity, site.Units)
			}
			box.Params = append(box.Params, x)
		}
		all = append(all, box)
	}
	return all
}

// labelOf is a change without the name of its kind.
func labelOf(c change.Change) string {
	if _, after, ok := strings.Cut(c.String(), "="); ok {
		return after
	}
	return c.String()
}

func reasonOf(err error) string {
	var not *change.NotHere
	var refused *change.Refused
	switch {
	case errors.As(err, &not):
		return not.Reason
	case errors.As(err, &refused):
		return refused.Reason
	}
	return err.Error()
}

// changed is the same question asked of the changed hive.
func (s *Server) changed(ctx context.Context, a *asked, set change.Set, site change.Site) (*asked, change.Result, error) {
	applied, err := set.Apply(a.Plan, site)
	if err != nil {
		return nil, applied, &refused{text: err.Error()}
	}
	b, err := s.askIn(ctx, a, applied.Plan, applied, site.Units)
	if err == nil {
		b.errand.Changes = nil
		for _, c := range set {
			b.errand.Changes = append(b.errand.Changes, c.String())
		}
	}
	return b, applied, err
}

// mainKeys are the lines of a comparison that are shown first.
var mainKeys = []string{
	"winter.honey_burned_kg", "winter.honey_left_kg", "honey.burned_kg", "honey.least_kg", "bees.heat_mean_W", "warmth.under_lid_mean_C", "warmth.cluster_air_mean_C", "warmth.warm_depth_mean_mm",
	"water.overhead_hours", "water.dripped_on_cluster_kg", "water.lying_most_kg.walls", "confinement.isolation_hours", "reach_min_days", "co2_peak_percent",
	"summer.nest_max_C", "summer.comb_max_C", "summer.outside_hours", "summer.water_hauled_L", "comb.share_of_strength",
}

// trial runs a hive before and after, or tells what is still being computed.
func (v *visit) trial(ctx context.Context, a, b *asked, applied change.Result) (*trial, []workingPage, error) {
	type side struct {
		a *asked
		y *cutaway.Year
		r *result
	}
	sides := []side{{a: a}, {a: b}}
	var working []workingPage
	for i := range sides {
		y, r, w, err := v.drawn(ctx, sides[i].a)
		if err != nil {
			return nil, nil, err
		}
		if w != nil {
			working = append(working, workingView(&underway{work: w}).Body.(workingPage))
		}
		sides[i].y, sides[i].r = y, r
	}
	if len(working) > 0 {
		return nil, working, nil
	}
	before, after := sides[0].r.Ledger, sides[1].r.Ledger
	t := &trial{Basis: basisOf(b, sides[1].r), Unchanged: a.Key == b.Key}
	t.Basis.Built = ""
	t.Before = glances{v.winterSentence(&before), v.waterSentence(&before), v.summerSentence(&before)}
	t.After = glances{v.winterSentence(&after), v.waterSentence(&after), v.summerSentence(&after)}
	t.Sentence = v.changeSentence(&before, &after, len(applied.Steps))
	before.Hive, after.Hive = "the hive as it is", "the changed hive"
	d := ledger.DifferenceIn(before, after, v.system)
	for _, text := range []string{d.Honey, d.Overhead, d.Summer} {
		if text != "" {
			t.Reasons = append(t.Reasons, upper(text))
		}
	}
	lines := map[string]ledger.Line{}
	for _, n := range ledger.Lines() {
		lines[n.Key] = n
	}
	for _, row := range d.Rows {
		n := lines[row.Key]
		x := compared{upper(row.Name), n.Format(row.A, v.system), n.Format(row.B, v.system), n.FormatDifference(row.Difference, v.system)}
		if slices.Contains(mainKeys, row.Key) {
			t.Main = append(t.Main, x)
		}
		if x.Before != x.After {
			t.All = append(t.All, x)
		}
	}
	t.Charts = v.bothCharts(sides[0].r, sides[1].r)
	if err := v.bothPictures(t, sides[0].y, sides[1].y, &before, &after); err != nil {
		return nil, nil, err
	}
	prices, err := v.prices(ctx)
	if err != nil {
		return nil, nil, err
	}
	cost := applied.Cost(prices, 1)
	t.Invented = prices.Invented
	for _, l := range cost.Once.Lines {
		t.Needs = append(t.Needs, bill{l.Need.Text(v.system), l.Stock, prices.Money(l.Bought)})
	}
	for _, m := range cost.Once.Missing {
		t.Needs = append(t.Needs, bill{What: upper(m.Error())})
	}
	t.First, t.EachYear = prices.Money(cost.First()), ""
	if y := cost.EachYear(); y > 0 {
		t.EachYear = prices.Money(y)
	}
	t.Hours = hoursOf(cost.Hours)
	if cost.YearlyHours > 0 {
		t.YearHours = hoursOf(cost.YearlyHours)
	}
	t.Cautions, t.Notes = applied.Cautions(), applied.Notes
	return t, nil, nil
}

// hoursOf writes a time of work [h].
func hoursOf(h float64) string {
	if h < 1 {
		return fmt.Sprintf("%.0f min", math.Ceil(h*12)*5)
	}
	return strings.TrimSuffix(fmt.Sprintf("%.1f", h), ".0") + " h"
}

// changeSentence says what changes do, as one keeper to another.
func (v *visit) changeSentence(a, b *ledger.Ledger, changes int) string {
	s := say{v.system}
	x, y := a.Honey.Burned, b.Honey.Burned
	when := ""
	if a.Winter != nil && b.Winter != nil {
		x, y, when = a.Winter.Burned, b.Winter.Burned, " over winter"
	}
	lives := func(l *ledger.Ledger) bool { return l.Verdict() == "yes" || l.Verdict() == "winter" }
	var parts []string
	const least = 0.05 // [kg] less is no difference
	switch d := y - x; {
	case math.Abs(d) < least:
		parts = append(parts, "it burns the same honey"+when)
	case d < 0:
		parts = append(parts, fmt.Sprintf("it burns %s less honey%s", s.Mass(-d), when))
	default:
		parts = append(parts, fmt.Sprintf("it burns %s more honey%s", s.Mass(d), when))
	}
	switch w := b.Water.OverheadHours - a.Water.OverheadHours; {
	case a.Water.OverheadHours > 0 && b.Water.OverheadHours == 0:
		parts = append(parts, "no water hangs above the bees any more")
	case w <= -1:
		parts = append(parts, "water hangs above the bees for "+s.Hours(-w)+" less")
	case w >= 1:
		parts = append(parts, "water hangs above the bees for "+s.Hours(w)+" more")
	}
	if d := b.Summer.CombMax - a.Summer.CombMax; math.Abs(d) >= 0.5 && !a.Summer.CombMaxAt.IsZero() {
		word := "warmer"
		if d < 0 {
			word = "cooler"
		}
		parts = append(parts, fmt.Sprintf("the warmest comb is %s %s", s.Kelvin(math.Abs(d)), word))
	}
	text := strings.Join(parts, ", ")
	if n := len(parts); n > 1 {
		text = strings.Join(parts[:n-1], ", ") + ", and " + parts[n-1]
	}
	switch {
	case !lives(a) && lives(b):
		text += "; and now it comes through"
	case lives(a) && !lives(b):
		text += "; but now it may not come through"
	}
	if changes > 1 {
		return "With these changes " + text + "."
	}
	return "With this change " + text + "."
}

// bothCharts draws before and after over each other, so that the scales are one.
func (v *visit) bothCharts(a, b *result) []chartBox {
	pair := func(id, title, text, channel string, kind scale, pick func(daily) []float64, zero bool) chartBox {
		return chartBox{Chart: chart{id: id, title: title, text: text, first: a.First, scale: kind, zero: zero, height: 180, strokes: []stroke{
			{name: "As it is", class: "second", value: pick(a.Daily[channel])}, {name: "Changed", class: "warm", value: pick(b.Daily[channel])}}}}
	}
	mean := func(d daily) []float64 { return d.Mean }
	high := func(d daily) []float64 { return d.High }
	last := func(d daily) []float64 { return d.Last }
	return []chartBox{
		pair("b-honey", "Honey left", "Honey left at the end of each day.", "honey.left", scaleOf(quantity.Mass, v.system), last, true),
		pair("b-lid", "Air under the lid", "Mean of each day.", "air.under_lid", scaleOf(quantity.Temperature, v.system), mean, false),
		pair("b-over", "Water above the cluster", "Most in an hour of each day.", "water.overhead", grams(v.system), high, true),
		pair("b-comb", "Warmest comb", "Highest hour of each day.", "comb.warmest", scaleOf(quantity.Temperature, v.system), high, false),
	}
}

// bothPictures draws both hives in the same hour.
func (v *visit) bothPictures(t *trial, before, after *cutaway.Year, la, lb *ledger.Ledger) error {
	moments := []struct {
		key, name string
		at        time.Time
	}{}
	add := func(key, name string, at time.Time) {
		if !at.IsZero() {
			moments = append(moments, struct {
				key, name string
				at        time.Time
			}{key, name, at})
		}
	}
	if w := la.ColdestWeek; w != nil {
		add("cold", "coldest week", w.From.In(before.Time(0).Location()).Add(3*24*time.Hour+6*time.Hour))
	}
	add("water", "most water overhead", la.Water.OverheadAt)
	if la.Water.OverheadAt.IsZero() {
		add("water", "most water overhead", lb.Water.OverheadAt)
	}
	add("heat", "warmest comb", la.Summer.CombMaxAt)
	add("work", "hardest hour of the bees", la.Bees.HardestAt)
	if len(moments) == 0 {
		add("begin", "beginning", before.Time(0))
	}
	q := v.request.URL.Query()
	chosen := moments[0]
	for _, m := range moments {
		if m.key == q.Get("at") {
			chosen = m
		}
	}
	for _, m := range moments {
		q.Set("at", m.key)
		t.Moments = append(t.Moments, lookAt{m.name, v.request.URL.Path + "?" + q.Encode(), m.key == chosen.key})
	}
	t.PictureBy = say{v.system}.Hour(chosen.at)
	for i, y := range []*cutaway.Year{before, after} {
		hour := y.Hour(chosen.at)
		svg, err := y.Draw(hour, cutaway.Options{Section: cutaway.Across, Units: v.system, ID: []string{"before", "after"}[i]})
		if err != nil {
			return err
		}
		t.Figures = append(t.Figures, pictured{[]string{"As it is", "Changed"}[i], template.HTML(svg), y.Describe(hour, v.system)}) // drawn here, with every name escaped
	}
	oneScale(t.Figures)
	apart, err := after.DrawApart(after.Hour(chosen.at), before, before.Hour(chosen.at), cutaway.Options{Section: cutaway.Across, Units: v.system, ID: "apart"})
	if err != nil {
		return err
	}
	t.Apart = template.HTML(apart) // drawn here, with every name escaped
	return nil
}

var viewBox = regexp.MustCompile(`viewBox="(\S+) (\S+) (\S+) (\S+)"`)

// oneScale gives pictures room of one size, standing on one ground, so that a
// millimetre is as long in each.
func oneScale(all []pictured) {
	var boxes [][4]float64
	var wide, high float64
	for _, p := range all {
		m := viewBox.FindStringSubmatch(string(p.Picture))
		var b [4]float64
		for i := range b {
			v, err := strconv.ParseFloat(at(m, i+1), 64)
			if err != nil {
				return // the pictures keep the scales they have
			}
			b[i] = v
		}
		boxes, wide, high = append(boxes, b), max(wide, b[2]), max(high, b[3])
	}
	for i, b := range boxes {
		box := fmt.Sprintf(`viewBox="%g %g %g %g"`, b[0]-(wide-b[2])/2, b[1]-(high-b[3]), wide, high)
		old := viewBox.FindString(string(all[i].Picture))
		all[i].Picture = template.HTML(strings.Replace(string(all[i].Picture), old, box, 1))
	}
}

func at(all []string, i int) string {
	if i < len(all) {
		return all[i]
	}
	return ""
}

// prices are the keeper's own where there are some, else the invented ones.
func (v *visit) prices(ctx context.Context) (*price.Table, error) {
	var text string
	if ok, err := v.config.Store.Setting(ctx, "prices", &text); err != nil {
		return nil, err
	} else if ok {
		return price.Decode("the yard's prices", strings.NewReader(text))
	}
	return price.Standard()
}

// changesOf reads the changes of a kept plan.
func changesOf(p yard.Plan) (change.Set, error) {
	var set change.Set
	err := json.Unmarshal(p.Changes, &set)
	return set, err
}

// keepPlan keeps the picked changes under a name.
func keepPlan(v *visit) (view, error) {
	a, _, err := v.hive()
	if err != nil {
		return view{}, err
	}
	if err := v.request.ParseForm(); err != nil {
		return view{}, err
	}
	set, err := pickedIn(v.request.PostForm)
	if err != nil {
		return view{}, refuse("%s.", err)
	}
	if len(set) == 0 {
		return view{}, refuse("A plan wants a change. Pick one first.")
	}
	text, err := json.Marshal(set)
	if err != nil {
		return view{}, err
	}
	name := strings.TrimSpace(v.request.PostForm.Get("name"))
	if name == "" {
		name = shorten(set.String(), 80)
	}
	p := yard.Plan{Yard: a.Yard.ID, Hive: a.Hive.ID, Name: name, Changes: text, Note: strings.TrimSpace(v.request.PostForm.Get("note"))}
	if p.ID, err = yard.NewID(); err != nil {
		return view{}, err
	}
	if _, err := v.config.Store.Plans.Put(v.context(), p); err != nil {
		return view{}, err
	}
	return view{to: pathOf(a, set)}, nil
}

func shorten(text string, most int) string {
	r := []rune(text)
	if len(r) <= most {
		return text
	}
	return string(r[:most-1]) + "…"
}

func (v *visit) plan() (yard.Plan, error) {
	id, err := yard.ParseID(v.request.PathValue("plan"))
	if err != nil {
		return yard.Plan{}, &missing{what: "plan " + v.request.PathValue("plan")}
	}
	p, err := v.config.Store.Plans.Get(v.context(), id)
	if err == nil && p.Deleted {
		err = &missing{what: "plan " + p.Name + " any more"}
	}
	return p, err
}

// openPlan shows the changes of a plan on its hive.
func openPlan(v *visit) (view, error) {
	p, err := v.plan()
	if err != nil {
		return view{}, err
	}
	set, err := changesOf(p)
	if err != nil {
		return view{}, refuse("The plan %s was made by another version of hackle and cannot be read: %s.", p.Name, err)
	}
	if p.Hive == "" {
		return view{}, refuse("The plan %s is for no hive in particular. Open a hive and pick its changes there: %s.", p.Name, set)
	}
	return view{to: "/hive/" + string(p.Hive) + "/changes?" + queryOf(set)}, nil
}

func dropPlan(v *visit) (view, error) {
	p, err := v.plan()
	if err != nil {
		return view{}, err
	}
	if _, err := v.config.Store.Plans.Delete(v.context(), p.ID, p.Revision); err != nil {
		return view{}, err
	}
	return view{to: local(v.request.PostFormValue("to"))}, nil
}

// buildPlan keeps that the picked changes were made: the hive stands so from today.
func buildPlan(v *visit) (view, error) {
	a, _, err := v.hive()
	if err != nil {
		return view{}, err
	}
	if err := v.request.ParseForm(); err != nil {
		return view{}, err
	}
	set, err := pickedIn(v.request.PostForm)
	if err != nil {
		return view{}, refuse("%s.", err)
	}
	whole, err := v.weatherOf(v.context(), a.Yard.Weather)
	if err != nil {
		return view{}, err
	}
	yards, err := v.yardsOf(v.context(), a)
	if err != nil {
		return view{}, err
	}
	applied, err := set.Apply(a.Plan, change.Site{Weather: whole, Yards: yards, Units: v.system})
	if err != nil {
		return view{}, refuse("%s.", err)
	}
	var text strings.Builder
	if err := hive.Encode(&text, applied.Plan, v.system); err != nil {
		return view{}, err
	}
	if err := v.rebuild(a, text.String(), set.String()); err != nil {
		return view{}, err
	}
	return view{to: "/hive/" + string(a.Hive.ID)}, nil
}
