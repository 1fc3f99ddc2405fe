// Package spelling tells how far a word is from the one that may have been meant.
package spelling

// longest is the length from which letters no longer count [letters]: longer than
// any name, and it keeps the work for hostile input small.
const longest = 64

// Corrections counts the letters to insert, remove, change or swap with their
// neighbour that turn a into b (optimal string alignment distance). Of longer
// words the first 64 letters count.
func Corrections(a, b string) int {
	from, to := []rune(a), []rune(b)
	from, to = from[:min(len(from), longest)], to[:min(len(to), longest)]
	before := make([]int, len(to)+1)
	row := make([]int, len(to)+1)
	next := make([]int, len(to)+1)
	for j := range row {
		row[j] = j
	}
	for i := range from {
		next[0] = i + 1
		for j := range to {
			change := 1
			if from[i] == to[j] {
				change = 0
			}
			next[j+1] = min(row[j]+change, row[j+1]+1, next[j]+1)
			if i > 0 && j > 0 && from[i] == to[j-1] && from[i-1] == to[j] {
				next[j+1] = min(next[j+1], before[j-1]+1)
			}
		}
		before, row, next = row, next, before
	}
	return row[len(to)]
}
