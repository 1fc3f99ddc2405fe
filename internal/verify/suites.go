package verify

import (
	"context"
	"fmt"
)

// suites lists every topic in the order in which they are printed.
func suites() []suite {
	return []suite{
		{"moist air", psychrometricsChecks},
		{"U-values", uvalueChecks},
		{"two-dimensional conduction", conduction2dChecks},
		{"transient conduction", transientChecks},
		{"air flow", airflowChecks},
		{"sun and sky", solarChecks},
		{"films and radiation", filmsChecks},
		{"evaporation", evaporationChecks},
		{"moisture", moistureChecks},
		{"statistics", statisticsChecks},
		{"regression", regressionChecks},
		{"draws and sensitivity", samplingChecks},
		{"heated box", heatedBoxChecks},
		{"measured hives", measuredChecks},
	}
}

// Run computes all checks, topic by topic. Progress, when not nil, is called
// with the name of each topic before it starts.
func Run(ctx context.Context, progress func(topic string)) ([]Check, error) {
	var all []Check
	for _, s := range suites() {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if progress != nil {
			progress(s.name)
		}
		checks, err := s.run(ctx)
		if err != nil {
			return nil, fmt.Errorf("verify: %s: %w", s.name, err)
		}
		all = append(all, checks...)
	}
	return all, nil
}
