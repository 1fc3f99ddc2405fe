// Package ensemble answers with ranges instead of points. It draws many possible
// years (weather, bees, and what the keeper knows only roughly), runs each, and
// tells between which numbers the answer lies, how likely the bad ends are, and
// which input moves the answer most.
//
// A [Design] says what is drawn. Its draw i is a pure function of seed and i: it is
// the same on any number of cores, in any order and for every variant of a hive, so
// that differences between variants are differences of the hives and not of luck.
package ensemble
