package climate

import "time"

// daysOfYear is the length of the calendar that monthly figures are spread over:
// a year without 29 February, which takes the figure of 28 February.
const daysOfYear = 365

// monthStart is the first day of each month in that calendar, January first,
// and its end.
var monthStart = [13]int{0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365}

// calendarDay returns the day of a date in the calendar of 365 days, 0 for
// 1 January.
func calendarDay(t time.Time) int {
	_, month, day := t.Date()
	return min(monthStart[month-1]+day-1, monthStart[month]-1)
}

// calendarMonth returns the month of each day of the calendar, 0 for January.
func calendarMonth() (month [daysOfYear]int) {
	for m := range 12 {
		for d := monthStart[m]; d < monthStart[m+1]; d++ {
			month[d] = m
		}
	}
	return month
}

// smoothMonths spreads twelve monthly means over the days of the year, smooth
// over the ends of months and of the year, so that the mean of each month's days
// is the monthly mean given.
//
// From steps it takes running means of three days, and after each sets the
// months' means right again, as often as the year has days: "Mean preserving
// algorithm for smoothly interpolating averaged data", Solar Energy 71, 2001,
// DOI 10.1016/S0038-092X(01)00052-4; from memory. Means are set right by adding
// or, where all months are positive and positive is set, by multiplying, so that
// no day comes out negative.
func smoothMonths(means [12]float64, positive bool) (days [daysOfYear]float64) {
	if positive {
		for _, v := range means {
			positive = positive && v > 0
		}
	}
	month := calendarMonth()
	for d := range days {
		days[d] = means[month[d]]
	}
	for range daysOfYear {
		before, first := days[daysOfYear-1], days[0]
		for d := range days {
			after := first
			if d+1 < daysOfYear {
				after = days[d+1]
			}
			now := days[d]
			days[d] = (before + now + after) / 3
			before = now
		}
		for m := range 12 {
			sum := 0.0
			for _, v := range days[monthStart[m]:monthStart[m+1]] {
				sum += v
			}
			mean := sum / float64(monthStart[m+1]-monthStart[m])
			for d := monthStart[m]; d < monthStart[m+1]; d++ {
				if positive {
					days[d] *= means[m] / mean
				} else {
					days[d] += means[m] - mean
				}
			}
		}
	}
	return days
}

// histospline returns the hours of a smooth course whose mean over each day is
// the day's mean given: the derivative of the cubic spline through the running
// sums, a known way to smooth bars without changing their areas ("histospline";
// from memory). Each of the 24 values of a day stands for the hour's end, and so
// for the mean over the day to 0.01 of the step between days.
//
// Beyond the first and the last day the course is taken as level; with closed
// set, the days follow each other in a ring.
func histospline(days []float64, closed bool) []float64 {
	n := len(days)
	if n == 0 {
		return nil
	}
	// The ring is cut open and overlapped: the cut's influence falls by 0.27 a day.
	pad := 0
	if closed {
		pad = min(30, n)
	}
	y := make([]float64, 0, n+2*pad)
	y = append(y, days[n-pad:]...)
	y = append(y, days...)
	y = append(y, days[:pad]...)
	k := len(y)
	// Heights at the midnights: s[i-1] + 4 s[i] + s[i+1] = 3 (y[i-1] + y[i]).
	s := make([]float64, k+1)
	c := make([]float64, k+1)
	s[0], s[k] = y[0], y[k-1]
	for i := 1; i < k; i++ {
		right := 3 * (y[i-1] + y[i])
		below := 1 / (4 - c[i-1])
		c[i] = below
		s[i] = (right - s[i-1]) * below
		if i == k-1 {
			s[i] = (right - s[i-1] - s[k]) * below
		}
	}
	for i := k - 2; i >= 1; i-- {
		s[i] -= c[i] * s[i+1]
	}
	hours := make([]float64, 24*n)
	for d := range n {
		a, b, mean := s[d+pad], s[d+pad+1], y[d+pad]
		for h := range 24 {
			x := float64(h+1) / 24
			hours[24*d+h] = a*(1-4*x+3*x*x) + b*(3*x*x-2*x) + 6*mean*x*(1-x)
		}
	}
	return hours
}

// betweenNoons returns hours that run straight from each day's noon value to
// the next day's.
func betweenNoons(days []float64, closed bool) []float64 {
	n := len(days)
	hours := make([]float64, 24*n)
	for i := range hours {
		x := float64(i+1)/24 - 0.5
		d := int(x+1) - 1 // floor, for x >= -1
		f := x - float64(d)
		before, after := d, d+1
		if closed {
			before, after = (before+n)%n, after%n
		}
		before, after = max(before, 0), min(after, n-1)
		hours[i] = days[before] + (days[after]-days[before])*f
	}
	return hours
}
