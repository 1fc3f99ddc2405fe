package advice

import (
	"bytes"
	"context"
	"io/fs"
	"strings"
	"testing"
	"unicode/utf8"

	"hackle/change"
	"hackle/climate"
	"hackle/colony"
	"hackle/examples"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/ledger"
	"hackle/price"
	"hackle/quantity"
	"hackle/rank"
	"hackle/season"
)

func example(t *testing.T) (hive.Plan, *climate.Series) {
	t.Helper()
	data, err := fs.ReadFile(examples.Files(), "two-deep-low-entrance.yaml")
	if err != nil {
		t.Fatal(err)
	}
	p, err := hive.Decode("", bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	w, err := climate.Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	return p, w
}

// TestDrawsAreCommon: a draw is the same whenever it is asked for, in another yard's
// weather the bees stay the same, and years and bees differ from draw to draw.
func TestDrawsAreCommon(t *testing.T) {
	p, w := example(t)
	r, err := Prepare(Ask{Plan: p, Weather: []*climate.Series{w}, Days: answer.Days{Winter: true}, Years: 6, Draws: 8, Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	if r.Years != 6 || r.Count != 8 || r.Plan.Hive.Name != p.Hive.Name {
		t.Errorf("%d years, %d draws", r.Years, r.Count)
	}
	base := season.Input{Plan: p, Biology: colony.DefaultBiology()}
	ask := func(weather string, n int) (string, season.Input) {
		t.Helper()
		d, err := r.Draws(weather, n)
		if err != nil {
			t.Fatal(err)
		}
		return d.ID, d.Case(base).Input
	}
	id, first := ask("", 0)
	again, second := ask("", 0)
	if id != again || first.Biology != second.Biology || first.Weather != second.Weather || first.Plan.Colony.Honey != second.Plan.Colony.Honey {
		t.Error("a draw asked for twice is not the same")
	}
	other, moved := ask("hibbing-mn", 0)
	if other == id || moved.Weather.Name == first.Weather.Name {
		t.Error("another yard has the same weather")
	}
	if moved.Biology != first.Biology {
		t.Error("another yard has other bees in the same draw")
	}
	if next, third := ask("", 1); next == id || third.Biology == first.Biology {
		t.Error("the next draw is the same")
	}
	if _, err := r.Draws("atlantis", 0); err == nil {
		t.Error("there is weather of Atlantis")
	}
}

// TestRankingReads: the text fits a page, names what is to be made, what has no
// price, and that prices are invented.
func TestRankingReads(t *testing.T) {
	p, _ := example(t)
	list, err := price.Decode("", strings.NewReader("version: 1\ncurrency: EUR\ninvented: yes\nvalues: {honey: 10 EUR/kg, work: 10 EUR/h}\nstock:\n  - {material: XPS, form: sheet, thickness: 50 mm, price: 8 EUR/m²}\n"))
	if err != nil {
		t.Fatal(err)
	}
	set, err := change.ParseSet("lid=XPS 50 mm", "top vent=20 mm")
	if err != nil {
		t.Fatal(err)
	}
	a, err := rank.Rank(t.Context(), rank.Question{Plan: p, Prices: list, Changes: set, Draws: 4, Evaluate: func(_ context.Context, task rank.Task) (rank.Outcome, error) {
		o := rank.Outcome{Burned: 15 + float64(task.Draw), Left: 10, Overhead: 100}
		for _, s := range task.Result.Steps {
			if s.Change.Kind == "lid" {
				o.Burned -= 2
			} else {
				o.Burned++
			}
		}
		return o, nil
	}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, system := range []quantity.System{quantity.Metric, quantity.US} {
		var b bytes.Buffer
		WriteRanking(&b, a, list, system)
		for _, says := range []string{"Insulated lid (XPS 50 mm).", "The efficient set", "(recommended)", "These do harm", "no price for", "The prices are invented", "Foam burns"} {
			if !strings.Contains(b.String(), says) {
				t.Errorf("the text does not say %q:\n%s", says, b.String())
			}
		}
		for line := range strings.Lines(b.String()) {
			if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > ledger.Width+10 {
				t.Errorf("%d characters wide: %s", n, line)
			}
		}
	}
	y, err := rank.RankYard(t.Context(), []rank.Question{{Name: "One", Plan: p, Prices: list, Changes: set, Draws: 2, Evaluate: func(context.Context, rank.Task) (rank.Outcome, error) {
		return rank.Outcome{Burned: 1, Left: 1}, nil
	}}}, 0, 1, nil)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	WriteYard(&b, y, list)
	if !strings.Contains(b.String(), "Of 1 hives 0 are worth changing") || !strings.Contains(b.String(), "Leave the other 1") {
		t.Errorf("%s", b.String())
	}
}
