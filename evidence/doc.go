// Package evidence tells chance from effect in the records of a yard: exact and
// Bayesian statistics on plain samples, a comparison of hive-seasons with and
// without a treatment, and a planner of fair trials.
//
// It knows nothing of files, clocks or databases. Every figure that rests on
// random draws takes a seed and repeats.
//
// [Compare] answers "did it work?" from [Season] records and returns a [Finding]
// with its counts, effect, posterior, warnings and a verdict in plain words.
// [Draw] deals treatments out by lot within blocks; [Trial.PowerCurve] says how many
// hive-seasons a trial needs. The other functions are the methods underneath;
// each names its source. docs/evidence.md says how they join.
package evidence
