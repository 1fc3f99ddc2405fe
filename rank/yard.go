package rank

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
)

// Yard is the ranking of many hives with one budget.
type Yard struct {
	Hives []Answer `json:"hives"` // in the order of the questions
	// Plan is what to do with each hive so that all together gain most within the
	// budget, in the order of the questions.
	Plan     []Choice `json:"plan"`
	Currency string   `json:"currency"`
	Budget   float64  `json:"budget"` // 0: none
	Cost     float64  `json:"first_cost"`
	Net      float64  `json:"net_worth"`
}

// Choice is what is done with one hive.
type Choice struct {
	Hive  string  `json:"hive"`
	Make  string  `json:"make"` // name of the variant, empty: as it is
	First float64 `json:"first_cost"`
	Net   float64 `json:"net_worth"`
}

// RankYard answers many questions at once, as many side by side as workers (0: all
// processors), and spends the budget (0: none) where it gains most. Give the
// questions evaluators of one Memory: hives that are alike are then run once.
func RankYard(ctx context.Context, questions []Question, budget float64, workers int, progress Progress) (*Yard, error) {
	workers = cmp.Or(workers, runtime.GOMAXPROCS(0))
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	answers := make([]*Answer, len(questions))
	var wg sync.WaitGroup
	var mu sync.Mutex
	done := 0
	jobs := make(chan int)
	for range min(workers, max(1, len(questions))) {
		wg.Go(func() {
			for i := range jobs {
				q := questions[i]
				q.Workers = max(1, workers/max(1, len(questions)))
				a, err := Rank(ctx, q, nil)
				if err != nil {
					cancel(fmt.Errorf("hive %d, %s: %w", i+1, cmp.Or(q.Name, q.Plan.Hive.Name), err))
					continue
				}
				mu.Lock()
				answers[i] = a
				done++
				if progress != nil {
					progress("hives", done, len(questions))
				}
				mu.Unlock()
			}
		})
	}
	for i := range questions {
		select {
		case jobs <- i:
		case <-ctx.Done():
		}
	}
	close(jobs)
	wg.Wait()
	if err := context.Cause(ctx); err != nil {
		return nil, err
	}
	y := &Yard{Hives: []Answer{}, Plan: []Choice{}, Budget: budget}
	var options [][]option
	for _, a := range answers {
		y.Hives = append(y.Hives, *a)
		y.Currency = a.Currency
		list := []option{{}}
		for _, v := range a.Variants {
			if len(v.Harm) == 0 && v.Net > 0 {
				list = append(list, option{v.Name, v.First, v.Net})
			}
		}
		options = append(options, list)
	}
	for i, k := range spend(options, budget) {
		o := options[i][k]
		y.Plan = append(y.Plan, Choice{Hive: answers[i].Name, Make: o.name, First: o.cost, Net: o.gain})
		y.Cost += o.cost
		y.Net += o.gain
	}
	return y, nil
}

type option struct {
	name       string
	cost, gain float64
}

// budgetSteps is how finely a budget is cut; costs are rounded up to a step, so that
// it is never overdrawn.
const budgetSteps = 2000

// spend picks one option of every row so that the gains add up to most within the
// budget: the multiple-choice knapsack problem, solved by dynamic programming over
// steps of the budget (Knapsack Problems, 2004, chapter 11, from memory).
func spend(rows [][]option, budget float64) []int {
	picks := make([]int, len(rows))
	if budget <= 0 {
		for i, row := range rows {
			for k, o := range row {
				if o.gain > row[picks[i]].gain {
					picks[i] = k
				}
			}
		}
		return picks
	}
	step := budget / budgetSteps
	best := make([]float64, budgetSteps+1)
	taken := make([][]int32, len(rows))
	for i, row := range rows {
		next := make([]float64, budgetSteps+1)
		taken[i] = make([]int32, budgetSteps+1)
		for b := range next {
			next[b] = math.Inf(-1)
			for k, o := range row {
				need := int(math.Ceil(o.cost/step - 1e-9))
				if need <= b && best[b-need]+o.gain > next[b] {
					next[b], taken[i][b] = best[b-need]+o.gain, int32(k)
				}
			}
		}
		best = next
	}
	b := budgetSteps
	for i := len(rows) - 1; i >= 0; i-- {
		picks[i] = int(taken[i][b])
		b -= int(math.Ceil(rows[i][picks[i]].cost/step - 1e-9))
	}
	return picks
}
