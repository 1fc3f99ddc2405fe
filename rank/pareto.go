package rank

import "math"

// Efficient returns the indices of the rows that no other row beats: none is as
// good in every column and better in one. Less is better in every column. Columns
// are compared in steps of their resolution, so that differences nobody would act
// on count as none; 0 compares exactly. Of rows that are alike in all columns the
// first stays.
func Efficient(rows [][]float64, resolution []float64) []int {
	cells := make([][]float64, len(rows))
	for i, row := range rows {
		cells[i] = make([]float64, len(row))
		for j, v := range row {
			cells[i][j] = v
			if j < len(resolution) && resolution[j] > 0 {
				cells[i][j] = math.Round(v / resolution[j])
			}
		}
	}
	var out []int
	for i := range cells {
		beaten := false
		for j := range cells {
			if i != j && beats(cells[j], cells[i], j < i) {
				beaten = true
				break
			}
		}
		if !beaten {
			out = append(out, i)
		}
	}
	return out
}

// beats reports whether a is nowhere worse than b and somewhere better; alike rows
// are settled by tie.
func beats(a, b []float64, tie bool) bool {
	better := false
	for k := range a {
		switch {
		case a[k] > b[k]:
			return false
		case a[k] < b[k]:
			better = true
		}
	}
	return better || tie
}

// layers orders rows: those of the efficient set first, then the efficient set of
// the rest, and so on.
func layers(rows [][]float64, resolution []float64) (order []int) {
	left := make([]int, len(rows))
	for i := range left {
		left[i] = i
	}
	for len(left) > 0 {
		part := make([][]float64, len(left))
		for k, i := range left {
			part[k] = rows[i]
		}
		taken := make(map[int]bool)
		for _, k := range Efficient(part, resolution) {
			order = append(order, left[k])
			taken[k] = true
		}
		var rest []int
		for k, i := range left {
			if !taken[k] {
				rest = append(rest, i)
			}
		}
		left = rest
	}
	return order
}
