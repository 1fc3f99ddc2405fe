package web

import (
	"fmt"
	"net/http"
	"strings"

	"hackle/climate"
	"hackle/evidence"
	"hackle/internal/answer"
	"hackle/quantity"
	"hackle/yard"
)

// evidencePage asks whether a treatment worked.
type evidencePage struct {
	Problem    string
	Sentence   string
	Outcomes   []rankOption
	Treatments []rankOption
	Counts     gridBox

	Found    bool
	Question string
	Arms     gridBox
	LeftOut  []string
	Further  string
	Cautions []string
	Notes    []string
	Method   string
}

// hotIn tells hot spells by the weather that yards have chosen, where it was
// recorded.
func (v *visit) hotIn(yards []yard.Yard) func(yard.ID, int) evidence.Answer {
	weather := map[yard.ID]*climate.Series{}
	for _, y := range yards {
		if strings.HasPrefix(y.Weather, "series:") {
			if w, err := v.weatherOf(v.context(), y.Weather); err == nil {
				weather[y.ID] = w
			}
		}
	}
	return func(id yard.ID, year int) evidence.Answer { return answer.HotSpell(weather[id], year) }
}

func showEvidence(v *visit) (view, error) {
	q := v.request.URL.Query()
	p := &evidencePage{Sentence: "Did it work? Ask the yard's own records."}
	shown := view{Title: "Did it work?", Place: "yard", Body: p}
	n, err := v.config.Store.Notebook(v.context(), false)
	if err != nil {
		return shown, err
	}
	asked := q.Get("outcome")
	if asked == "" {
		asked = "survived"
	}
	o, err := evidence.OutcomeOf(asked)
	if err != nil {
		var keys []string
		for _, x := range evidence.Outcomes() {
			keys = append(keys, x.Key)
		}
		return shown, refuse("outcome: found %q, accepted: %s", asked, strings.Join(keys, ", "))
	}
	for _, x := range evidence.Outcomes() {
		p.Outcomes = append(p.Outcomes, rankOption{x.Key, x.Question, x.Key == o.Key})
	}
	settings, err := v.config.Store.Settings(v.context())
	if err != nil {
		return shown, err
	}
	trials, err := answer.TrialsIn(settings)
	if err != nil {
		return shown, err
	}
	seasons, notes := answer.Seasons(n, answer.SeasonOptions{Outcome: o, Trials: trials, Hot: v.hotIn(n.Yards)})
	p.Notes = notes
	treatment := q.Get("treatment")
	known := false
	p.Counts = gridBox{Title: "Hive-seasons that the records know", Head: []string{"Treatment", "With", "Without"}}
	for _, t := range answer.TreatmentsIn(seasons) {
		if t.With > 0 {
			p.Counts.Rows = append(p.Counts.Rows, []string{t.Name, fmt.Sprint(t.With), fmt.Sprint(t.Without)})
		}
		p.Treatments = append(p.Treatments, rankOption{t.Name, fmt.Sprintf("%s (%d with, %d without)", t.Name, t.With, t.Without), t.Name == treatment})
		known = known || t.Name == treatment
	}
	if len(seasons) == 0 {
		p.Sentence = "The records hold no season for this question yet."
		return shown, nil
	}
	if treatment == "" {
		return shown, nil
	}
	if !known {
		p.Problem = fmt.Sprintf("The records know no treatment %q.", treatment)
		shown.status = http.StatusUnprocessableEntity
		return shown, nil
	}
	f, err := evidence.Compare(seasons, treatment, o)
	if err != nil {
		return shown, refuse("%s", upper(err.Error()))
	}
	amount := func(x float64) string {
		switch o.Unit {
		case "kg":
			return quantity.Format(x, quantity.Mass, v.system)
		case "d":
			return fmt.Sprintf("%.1f days", x)
		}
		return fmt.Sprintf("%.0f %%", 100*x)
	}
	p.Found, p.Sentence, p.Question = true, f.Verdict, treatment+": "+o.Key
	p.Arms = gridBox{Title: "Hive-seasons", Head: []string{"", "With", "Without"}, Rows: [][]string{
		{"Counted", fmt.Sprint(f.With.Seasons), fmt.Sprint(f.Without.Seasons)},
		{o.Question, amount(f.With.Mean), amount(f.Without.Mean)},
		{"Yards", fmt.Sprint(f.With.Yards), fmt.Sprint(f.Without.Yards)},
		{"Years", fmt.Sprint(f.With.Years), fmt.Sprint(f.Without.Years)},
	}}
	for _, l := range f.LeftOut {
		p.LeftOut = append(p.LeftOut, fmt.Sprintf("%d: %s", l.Seasons, l.Reason))
	}
	if x := f.Further; x != nil {
		more := fmt.Sprint(x.All)
		if x.AtMost {
			more = "over " + more
		}
		p.Further = fmt.Sprintf("%s more hive-seasons of this kind would tell, %.0f times in ten, if the truth were %s with and %s without.", upper(more), 10*x.Chance, amount(x.With), amount(x.Without))
	}
	for _, c := range f.Cautions {
		p.Cautions = append(p.Cautions, c.Text)
	}
	p.Method = fmt.Sprintf("Strength: %s. Compared inside yards and years, exactly and with a stated prior; luck alone would give a difference as large with probability %.2g.", f.Strength, f.Within.PAdjusted)
	return shown, nil
}
