// Package change is the catalogue of alterations that a keeper can make to a hive,
// its colony's food and its stand: insulation, vents, entrances, boxes, colour,
// shade, wind, feed. Each alteration is a Change: a kind and its parameters, with a
// text form for people ("lid=mineral wool 76 mm"), the same in files, on the
// command line and in addresses of pages.
//
// A Set of changes applied to a hive.Plan gives another plan, what it takes to get
// there (material, hours, cautions) and what it costs by a price list. Applying is
// a pure function. Changes are applied in the order of the catalogue whatever the
// order in which they were named; those that contradict each other are refused with
// the reason, and one that has nothing to change says so.
package change

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"hackle/climate"
	"hackle/hive"
	"hackle/internal/keyed"
	"hackle/material"
	"hackle/price"
	"hackle/quantity"
)

// Change is one alteration: a kind of the catalogue and the parameters said of it.
// What is left out takes the kind's default. Parse and Kind.New make sound ones.
type Change struct {
	Kind   string           // key of the kind
	Values map[string]Value // by key of the parameter
}

// Value is the value of one parameter; which field holds it is said by its type.
type Value struct {
	Number float64     // quantity, count, or thickness of a layer [SI]
	Word   string      // word, name, or material of a layer
	Day    hive.Day    // day
	Faces  []hive.Face // faces, from front to bottom
}

// Type says what a parameter takes.
type Type string

// Types of parameters.
const (
	Quantity Type = "quantity" // a number with a unit
	Count    Type = "count"    // a whole number
	Word     Type = "word"     // one of a few words
	Name     Type = "name"     // of a material, finish, box or yard
	Day      Type = "day"      // a day of every year
	Sides    Type = "faces"    // faces of the hive
	Layer    Type = "layer"    // a material and its thickness
)

// Param is one parameter of a kind.
type Param struct {
	Key      string        // as written before its value: "on"
	Meaning  string        //
	Type     Type          //
	Quantity quantity.Kind // of a Quantity
	Low      float64       // least value or thickness that is accepted [SI]
	High     float64       // greatest
	Words    []string      // of a Word
	Default  string        // text of the value that holds when none is said, "" for none
	Must     bool          // it must be said
}

// Kind is one kind of change.
type Kind struct {
	Key      string   // as written in a change: "lid"
	Name     string   // for people
	Does     string   // what it does and why, one or two sentences
	Params   []Param  // the first is written without its key
	Choices  []string // changes worth trying, in their text form
	Cautions []string // that always hold
	// Sets names what it alters; two changes that alter the same thing
	// contradict each other.
	Sets []string

	apply func(*bench) error
}

// Site is what is known of the place beyond the plan. The zero value knows nothing.
type Site struct {
	// Weather tells when it is warm enough to feed syrup; nil when unknown.
	Weather *climate.Series
	// Yards are the keeper's own places to move to, by name, beside those whose
	// weather is built in.
	Yards map[string]Yard
	// Units of the sentences.
	Units quantity.System
}

// Yard is a place that a hive may be moved to.
type Yard struct {
	Site    hive.Site
	Weather string // name or path of its weather
}

// Effect is what one change means for one hive.
type Effect struct {
	Did         string       // what was done, one sentence
	Needs       []price.Need // bought once
	YearlyNeeds []price.Need // bought every year
	Hours       float64      // work, once [h]
	YearlyHours float64      // work, every year [h]
	Drive       float64      // driven once [m]
	Cautions    []string
}

// Step is one applied change.
type Step struct {
	Change Change
	Effect Effect
}

// Shade is shade between two days of every year that a hive file cannot hold.
type Shade struct {
	Share    float64 // of direct sun kept off [-]
	From, To hive.Day
}

// Result is a plan with changes applied.
type Result struct {
	Plan    hive.Plan
	Weather string  // weather to be used in place of the usual, "" for no other
	Shades  []Shade // see Result.WeatherOf
	Steps   []Step
	Notes   []string // warnings of the check of the plan that the changes brought
}

// NotHere tells that a change has nothing to change on this hive.
type NotHere struct {
	Change Change
	Reason string
}

// Error says which change and why.
func (e *NotHere) Error() string { return fmt.Sprintf("%s does not apply: %s", e.Change, e.Reason) }

// Refused tells that a change makes no sound hive.
type Refused struct {
	Change Change
	Reason string
}

// Error says which change and why.
func (e *Refused) Error() string { return fmt.Sprintf("%s is refused: %s", e.Change, e.Reason) }

// Contradiction tells that two changes do not go together.
type Contradiction struct {
	A, B   Change
	Reason string
}

// Error says which changes and why.
func (e *Contradiction) Error() string {
	return fmt.Sprintf("%s and %s contradict each other: %s", e.A, e.B, e.Reason)
}

// Set is changes that are made together.
type Set []Change

// Ordered returns the changes in the order in which they are applied: that of the
// catalogue, then by text.
func (s Set) Ordered() Set {
	out := slices.Clone(s)
	place := make(map[string]int)
	for i, k := range Catalogue() {
		place[k.Key] = i
	}
	slices.SortStableFunc(out, func(a, b Change) int {
		return cmp.Or(cmp.Compare(place[a.Kind], place[b.Kind]), cmp.Compare(a.String(), b.String()))
	})
	return out
}

// String writes the changes in order, joined by " + "; "as it is" for none.
func (s Set) String() string {
	if len(s) == 0 {
		return "as it is"
	}
	var parts []string
	for _, c := range s.Ordered() {
		parts = append(parts, c.String())
	}
	return strings.Join(parts, " + ")
}

// Title says the changes for people, in order: "Insulated lid (mineral wool 76 mm)
// and top vent (20 mm)"; "As it is" for none.
func (s Set) Title() string {
	if len(s) == 0 {
		return "As it is"
	}
	var parts []string
	for i, c := range s.Ordered() {
		t := c.Title()
		if i > 0 {
			t = strings.ToLower(t[:1]) + t[1:]
		}
		parts = append(parts, t)
	}
	if n := len(parts); n > 1 {
		return strings.Join(parts[:n-1], ", ") + " and " + parts[n-1]
	}
	return parts[0]
}

// Title says the change for people: "Insulated lid (mineral wool 76 mm)".
func (c Change) Title() string {
	kind, err := Find(c.Kind)
	if err != nil {
		return c.Kind
	}
	_, values, _ := strings.Cut(c.String(), "=")
	if values == "" {
		return kind.Name
	}
	return kind.Name + " (" + values + ")"
}

// Check refuses sets whose changes contradict each other, whatever the hive.
func (s Set) Check() error {
	for i, a := range s {
		for _, b := range s[:i] {
			if reason := clash(b, a); reason != "" {
				return &Contradiction{b, a, reason}
			}
		}
	}
	return nil
}

// clash says why two changes contradict each other, "" when they do not.
func clash(a, b Change) string {
	ka, errA := Find(a.Kind)
	kb, errB := Find(b.Kind)
	if errA != nil || errB != nil {
		return ""
	}
	for _, slot := range ka.Sets {
		if slices.Contains(kb.Sets, slot) {
			return "both set the " + slot
		}
	}
	pair := func(x, y string) bool {
		return a.Kind == x && b.Kind == y || a.Kind == y && b.Kind == x
	}
	switch {
	case pair("top vent", "close vents"), pair("upper entrance", "close vents"):
		return "one makes the hole that the other closes; give days to the hole itself"
	case pair("take box", "add box"):
		return "one takes off what the other puts on"
	case pair("quilt", "lid"):
		for _, c := range []Change{a, b} {
			if c.Kind == "lid" && c.Values["place"].Word == "board" {
				return "a quilt takes the place of the board that the insulation would lie on"
			}
		}
	}
	return ""
}

// Apply makes the changes on a copy of the plan. The error is a *Contradiction, a
// *NotHere or a *Refused; nothing is applied in part.
func (s Set) Apply(p hive.Plan, site Site) (Result, error) {
	if err := s.Check(); err != nil {
		return Result{}, err
	}
	table, err := material.Standard()
	if err == nil && len(p.Materials) > 0 {
		table, err = table.With(p.Materials...)
	}
	if err != nil {
		return Result{}, fmt.Errorf("applying changes: %w", err)
	}
	before := make(map[string]bool)
	for _, f := range p.Check() {
		before[f.String()] = true
	}
	r := Result{Plan: p.Clone()}
	for _, c := range s.Ordered() {
		kind, err := Find(c.Kind)
		if err != nil {
			return Result{}, err
		}
		if err := kind.check(c); err != nil {
			return Result{}, err
		}
		b := &bench{plan: r.Plan, site: site, kind: kind, change: c, table: table, result: &r}
		if err := kind.apply(b); err != nil {
			return Result{}, err
		}
		r.Plan = b.plan
		b.effect.Cautions = append(slices.Clone(kind.Cautions), b.effect.Cautions...)
		r.Steps = append(r.Steps, Step{c, b.effect})
		for _, f := range r.Plan.Check() {
			if before[f.String()] {
				continue
			}
			shut := f.Field == "hive" && (strings.HasPrefix(f.Found, "every opening closed") || f.Found == "no opening")
			if f.Severity == hive.Wrong || shut {
				return Result{}, &Refused{c, fmt.Sprintf("%s: found %s, wanted %s", f.Field, f.Found, f.Wanted)}
			}
		}
	}
	for _, f := range r.Plan.Check() {
		if !before[f.String()] {
			r.Notes = append(r.Notes, f.String())
		}
	}
	return r, nil
}

// Apply makes one change on a copy of the plan.
func (c Change) Apply(p hive.Plan, site Site) (Result, error) { return Set{c}.Apply(p, site) }

// Needs returns what is bought once, added up.
func (r Result) Needs() []price.Need {
	var all []price.Need
	for _, s := range r.Steps {
		all = append(all, s.Effect.Needs...)
	}
	return price.Sum(all)
}

// YearlyNeeds returns what is bought every year, added up.
func (r Result) YearlyNeeds() []price.Need {
	var all []price.Need
	for _, s := range r.Steps {
		all = append(all, s.Effect.YearlyNeeds...)
	}
	return price.Sum(all)
}

// Hours returns the work once and every year. [h]
func (r Result) Hours() (once, yearly float64) {
	for _, s := range r.Steps {
		once += s.Effect.Hours
		yearly += s.Effect.YearlyHours
	}
	return once, yearly
}

// Cautions returns all cautions, each once, in the order of the steps.
func (r Result) Cautions() []string {
	var out []string
	for _, s := range r.Steps {
		for _, c := range s.Effect.Cautions {
			if !slices.Contains(out, c) {
				out = append(out, c)
			}
		}
	}
	return out
}

// WeatherOf returns the weather that the changed hive stands in: the same, but for
// direct sun kept off between two days by shade that only part of the year has.
func (r Result) WeatherOf(w *climate.Series) *climate.Series {
	if len(r.Shades) == 0 || w == nil {
		return w
	}
	out := *w
	out.Hours = slices.Clone(w.Hours)
	for i := range out.Hours {
		h := &out.Hours[i]
		at := w.MidHour(i).In(w.Location())
		for _, s := range r.Shades {
			if (hive.Wrap{On: s.From, Off: s.To}).OnAt(at) {
				beam := max(0, h.GlobalHorizontal-h.DiffuseHorizontal)
				h.DirectNormal *= 1 - s.Share
				h.GlobalHorizontal -= s.Share * beam
			}
		}
	}
	return &out
}

// Cost is what changes cost on so many hives, in the currency of the prices.
type Cost struct {
	Hives  int
	Once   price.Bill // material and parts
	Yearly price.Bill
	// Work is the price of the hours, Drive that of the way.
	Work, YearlyWork, Drive float64
	Hours, YearlyHours      float64 // for all hives [h]
}

// First is all that is paid at first: what must be bought whole, work and way.
func (c Cost) First() float64 { return c.Once.Bought + c.Work + c.Drive }

// EachYear is all that is paid every year.
func (c Cost) EachYear() float64 { return c.Yearly.Bought + c.YearlyWork }

// Cost prices the result for a number of hives bought for together.
func (r Result) Cost(t *price.Table, hives int) Cost {
	once, yearly := r.Hours()
	n := float64(hives)
	c := Cost{Hives: hives, Once: t.Bill(r.Needs(), hives), Yearly: t.Bill(r.YearlyNeeds(), hives), Hours: once * n, YearlyHours: yearly * n}
	c.Work, c.YearlyWork = c.Hours*t.Values.Work.One(), c.YearlyHours*t.Values.Work.One()
	for _, s := range r.Steps {
		// One way serves all hives that go together.
		c.Drive += s.Effect.Drive * t.Values.Drive.One()
	}
	return c
}

// Find returns a kind of the catalogue.
func Find(key string) (Kind, error) {
	keys := make([]string, 0, 32)
	for _, k := range Catalogue() {
		if k.Key == key {
			return k, nil
		}
		keys = append(keys, k.Key)
	}
	err := fmt.Errorf("%s is no kind of change; there are %s", keyed.Quote(key), strings.Join(keys, ", "))
	if hint := keyed.DidYouMean(key, keys); hint != "" {
		err = fmt.Errorf("%w (%s)", err, hint)
	}
	return Kind{}, err
}

// Offer is a change worth trying on a hive, or why it is not.
type Offer struct {
	Change Change
	Result Result // when Not is nil
	Not    error  // a *NotHere or *Refused
}

// Offers applies every choice of the catalogue to the plan, in order. Moves are to
// the yards of the site, boxes those of the hive's type, and days those of its half
// of the globe.
func Offers(p hive.Plan, site Site) ([]Offer, error) {
	var out []Offer
	for _, k := range Catalogue() {
		choices := k.Choices
		switch k.Key {
		case "move":
			choices = nil
			for name := range site.Yards {
				choices = append(choices, "move="+name)
			}
			slices.Sort(choices)
		case "add box":
			own, err := boxesOf(p.Hive.Type)
			if err != nil {
				return nil, err
			}
			if len(own) > 0 {
				choices = own
			}
		}
		for _, text := range choices {
			c, err := Parse(text)
			if err != nil {
				return nil, fmt.Errorf("catalogue: %w", err)
			}
			if south(p, site) {
				for key, v := range c.Values {
					if !v.Day.IsZero() {
						v.Day = halfYearOn(v.Day)
						c.Values[key] = v
					}
				}
			}
			r, err := c.Apply(p, site)
			var not *NotHere
			var refused *Refused
			if err != nil && !errors.As(err, &not) && !errors.As(err, &refused) {
				return nil, err
			}
			out = append(out, Offer{Change: c, Result: r, Not: err})
		}
	}
	return out, nil
}

// boxesOf are the choices of boxes of a type of stacked hive.
func boxesOf(typ string) (choices []string, err error) {
	types, err := hive.Types()
	if err != nil {
		return nil, err
	}
	for _, t := range types {
		if t.Name != typ {
			continue
		}
		for _, b := range t.Boxes {
			if b.Most == 0 { // long hives have one box
				choices = append(choices, "add box="+b.Name)
			}
		}
	}
	return choices, nil
}
