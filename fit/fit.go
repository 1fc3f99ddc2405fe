// Package fit holds a computed hive against a measured one: the analysis of a
// heater test, the comparison of loggers and scales with a run, and the estimate
// of what differs, with intervals and with an honest word on what the data cannot
// tell.
//
// It works on plain data and knows no files, clocks or databases. The methods:
// linear least squares with errors that allow for residuals alike in time
// (Linear, Regression.Robust), the average and the dynamic method of in-situ
// measurement (AnalyseHeater), and damped Gauss-Newton steps towards the most
// probable values under stated ranges (Estimate). docs/measure.md says how they
// join and how they were checked.
package fit

import "errors"

// ErrData wraps what the measurements do not allow.
var ErrData = errors.New("fit: unusable measurements")
