package web

import (
	"time"

	"hackle/ledger"
)

// hive finds the hive that a page is about. The head is filled in as far as the
// hive was found, so that an error can be shown on its page.
func (v *visit) hive() (*asked, *hiveHead, error) {
	a, err := v.ask(v.context(), v.request.PathValue("hive"), v.system)
	if err != nil {
		return nil, nil, err
	}
	return a, headOf(a), nil
}

func headOf(a *asked) *hiveHead {
	return &hiveHead{ID: string(a.Hive.ID), Name: a.Hive.Name, Yard: a.Yard.Name, Weather: a.Set.Weather.Name}
}

// answered finds the hive of a page and the result of its run. While the run goes
// on the error is an *underway, which the page may return as it is.
func (v *visit) answered() (*asked, *result, error) {
	a, head, err := v.hive()
	if err != nil {
		return nil, nil, err
	}
	r, w, err := v.result(v.context(), a)
	if err != nil {
		return nil, nil, err
	}
	if r == nil {
		return nil, nil, &underway{w, head}
	}
	return a, r, nil
}

// basis is what a result rests on, for the block at the end of a page.
type basis struct {
	Hive, Site, Weather, Source string
	From, To                    time.Time
	Built                       string // since when the hive stands as it is
	Closure                     float64
	Notes                       []string
	OneRun                      string
}

func basisOf(a *asked, r *result) basis {
	c := r.Ledger.Closure
	worst := 0.0
	for _, x := range []float64{c.Heat, c.Vapour, c.CO2, c.Air, c.Honey} {
		worst = max(worst, x, -x)
	}
	site := a.Plan.Site.Name
	if site == "" {
		site = a.Yard.Name
	}
	return basis{Hive: a.Plan.Hive.Name, Site: site, Weather: a.Set.Weather.Name, Source: a.Set.Weather.Source, From: a.Set.First, To: a.Set.Last,
		Built: dayIn(a.Build.From), Closure: worst, Notes: append(append([]string{}, a.Notes...), a.Set.Notes...), OneRun: ledger.OneRun}
}

// line is a number of the ledger with its name.
type line struct {
	Key, Label, Value, When, Meaning string
	Part                             bool // of what stands above it
}

// linesOf are the numbers of sections of a ledger.
func (v *visit) linesOf(l *ledger.Ledger, sections ...ledger.Section) (all []line) {
	for _, s := range sections {
		for _, n := range ledger.Lines() {
			if n.Section != s || !n.Shown(l) {
				continue
			}
			value, ok := n.Value(l)
			if !ok {
				continue
			}
			x := line{Key: n.Key, Value: n.Format(value, v.system), Meaning: n.Meaning}
			x.Label, x.Part = trimmed(n.Label)
			if t := n.At(l); !t.IsZero() {
				x.When = t.Format("2 Jan 2006 15:04")
				if t.Hour() == 0 && t.Minute() == 0 {
					x.When = t.Format("2 Jan 2006")
				}
			}
			all = append(all, x)
		}
	}
	return all
}

// trimmed tells from the indent of a label whether it is a part of another.
func trimmed(label string) (text string, part bool) {
	for len(label) > 0 && label[0] == ' ' {
		label, part = label[1:], true
	}
	return label, part
}

// readings are the sentences of some numbers.
func (v *visit) readings(l *ledger.Ledger, keys ...string) (all []string) {
	byKey := map[string]string{}
	for _, r := range l.Readings(v.system) {
		byKey[r.Key] = r.Text
	}
	for _, k := range keys {
		if t := byKey[k]; t != "" {
			all = append(all, t)
		}
	}
	return all
}
