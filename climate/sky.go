package climate

import (
	"fmt"
	"math"
	"time"

	"hackle/air"
	"hackle/sun"
)

// lowSun is the sine of the sun's elevation below which a missing part of the
// radiation is all diffuse, and a clearness index means nothing, since either
// would be a small number divided by a smaller one [-]; 3.7°, common practice,
// no source.
const lowSun = 0.065

// sunCourse holds where the sun stands in the middle of each hour.
type sunCourse struct {
	pos    []sun.Pos
	up     []float64 // sine of the elevation [-]
	normal []float64 // radiation outside the air, on a plane across the beam [W/m²]
}

func (t *table) sunCourse() sunCourse {
	c := sunCourse{pos: make([]sun.Pos, t.n), up: make([]float64, t.n), normal: make([]float64, t.n)}
	for i := range c.up {
		e := sun.At(t.series.MidHour(i))
		c.pos[i] = e.Position(t.series.Latitude, t.series.Longitude)
		c.up[i] = math.Sin(c.pos[i].Elevation * math.Pi / 180)
		c.normal[i] = e.Extraterrestrial()
	}
	return c
}

// clearSky is the global radiation under a clear sky [W/m²] from the sine of
// the sun's elevation, by the Haurwitz model: "Insolation in relation to
// cloudiness and cloud density", Journal of Meteorology 2, 1945; from memory.
func clearSky(up float64) float64 {
	if up <= 0 {
		return 0
	}
	return 1098 * up * math.Exp(-0.057/up)
}

// The radiation under clouds as a share of a clear sky's is
// 1 - cloudLoss·N^cloudPower with cloud cover N, by Kasten-Czeplak: "Solar and
// terrestrial radiation dependent on the amount and type of cloud", Solar Energy
// 24, 1980; from memory.
const (
	cloudLoss  = 0.75
	cloudPower = 3.4
)

func cloudFromSun(share float64) float64 {
	return math.Pow(min(max((1-share)/cloudLoss, 0), 1), 1/cloudPower)
}

// radiation completes the three radiation columns.
func (t *table) radiation() error {
	global, direct, diffuse := t.column[globalHorizontal], t.column[directNormal], t.column[diffuseHorizontal]
	complete := true
	for i := range global {
		if math.IsNaN(global[i]) || math.IsNaN(direct[i]) || math.IsNaN(diffuse[i]) {
			complete = false
			break
		}
	}
	if complete {
		return nil
	}
	c := t.sunCourse()

	summed, firstSummed := 0, 0
	for i := range global {
		if math.IsNaN(global[i]) && !math.IsNaN(direct[i]) && !math.IsNaN(diffuse[i]) {
			global[i] = diffuse[i] + direct[i]*max(c.up[i], 0)
			if summed++; summed == 1 {
				firstSummed = i
			}
		}
	}
	if summed > 0 {
		t.repair(t.lineNear(firstSummed), fields[globalHorizontal].name, fmt.Sprintf("missing in %d of %d hours", summed, t.n), "sum of diffuse and direct radiation")
	}
	if t.noSun != refuseNoSun {
		t.assumeSun(c)
	} else if err := t.bridgeSun(c); err != nil {
		return err
	}

	split, firstSplit := 0, 0
	for i := range global {
		if !math.IsNaN(direct[i]) && !math.IsNaN(diffuse[i]) {
			continue
		}
		if split++; split == 1 {
			firstSplit = i
		}
		switch {
		case c.up[i] < lowSun:
			direct[i], diffuse[i] = 0, global[i]
		case !math.IsNaN(diffuse[i]):
			direct[i] = min(max(global[i]-diffuse[i], 0)/c.up[i], c.normal[i])
		case !math.IsNaN(direct[i]):
			diffuse[i] = max(global[i]-direct[i]*c.up[i], 0)
		default:
			direct[i], diffuse[i] = sun.Split(global[i], c.pos[i], c.normal[i])
		}
	}
	if split > 0 && t.noSun != overcast {
		t.repair(t.lineNear(firstSplit), "direct and diffuse radiation", fmt.Sprintf("missing in %d of %d hours", split, t.n), "split from the global radiation (Erbs)")
	}
	return nil
}

// bridgeSun fills gaps of the global radiation: by day with an interpolated
// clearness index, at night with 0. Hours with the sun within a few degrees of
// the horizon have no clearness worth the name; they take the bridge's.
func (t *table) bridgeSun(c sunCourse) error {
	global := t.column[globalHorizontal]
	missing := 0
	for _, v := range global {
		if math.IsNaN(v) {
			missing++
		}
	}
	if missing == 0 {
		return nil
	}
	if missing == t.n {
		return &FileError{File: t.file, Line: t.lineNear(0), Field: fields[globalHorizontal].name,
			Found: "missing on every line", Accepted: "radiation in the file; without it the hive's sun would be a guess"}
	}
	// The clearness by day; the night carries no information and is no gap.
	clearness := make([]float64, 0, t.n)
	hours := make([]int, 0, t.n)
	nights := 0
	for i, v := range global {
		switch {
		case c.up[i] <= 0 && math.IsNaN(v):
			global[i] = 0
			nights++
		case c.up[i] >= lowSun || math.IsNaN(v):
			clearness = append(clearness, v/(c.normal[i]*max(c.up[i], lowSun)))
			hours = append(hours, i)
		}
	}
	if nights > 0 && nights > t.n/2-t.n/20 { // every night blank: a way of writing, not a fault
		t.repair(0, fields[globalHorizontal].name, fmt.Sprintf("missing in %d night hours", nights), "0, the sun being down")
	}
	day := *t
	day.n = len(clearness)
	day.line = make([]int32, len(hours))
	for k, i := range hours {
		day.line[k] = int32(t.lineNear(i))
	}
	return t.bridgeDay(&day, clearness, hours, c)
}

// bridgeDay bridges the clearness of the daylight hours and puts it back.
func (t *table) bridgeDay(day *table, clearness []float64, hours []int, c sunCourse) error {
	l := &fields[globalHorizontal]
	missing := 0
	for k := 0; k < len(clearness); k++ {
		if !math.IsNaN(clearness[k]) {
			continue
		}
		end := k
		for end < len(clearness) && math.IsNaN(clearness[end]) {
			end++
		}
		missing += end - k
		if end-k > longestGap || missing == len(clearness) {
			return &FileError{File: t.file, Line: int(day.line[k]), Field: l.name,
				Found: fmt.Sprintf("%d hours of daylight missing from %s", end-k, t.at(hours[k])), Accepted: fmt.Sprintf("gaps of at most %d h of daylight", longestGap)}
		}
		before, after := math.NaN(), math.NaN()
		if k > 0 {
			before = clearness[k-1]
		}
		if end < len(clearness) {
			after = clearness[end]
		}
		if math.IsNaN(before) {
			before = after
		}
		if math.IsNaN(after) {
			after = before
		}
		for j := k; j < end; j++ {
			x := float64(j-k+1) / float64(end-k+1)
			clearness[j] = before + (after-before)*x
			i := hours[j]
			t.column[globalHorizontal][i] = clearness[j] * c.normal[i] * max(c.up[i], 0)
		}
		t.repair(int(day.line[k]), l.name, fmt.Sprintf("missing for %d h of daylight from %s", end-k, t.at(hours[k])), "from the clearness of the hours around")
		k = end
	}
	if float64(missing) > mostMissing*float64(len(clearness)) {
		return &FileError{File: t.file, Field: l.name,
			Found: fmt.Sprintf("missing in %d of %d hours of daylight", missing, len(clearness)), Accepted: fmt.Sprintf("at most %g %% of the hours missing", 100*mostMissing)}
	}
	return nil
}

// assumeSun fills the radiation of a file that has none, as its map asks.
func (t *table) assumeSun(c sunCourse) {
	global, direct, diffuse := t.column[globalHorizontal], t.column[directNormal], t.column[diffuseHorizontal]
	if t.noSun == overcast {
		for i := range global {
			global[i] = (1 - cloudLoss) * clearSky(c.up[i])
			direct[i], diffuse[i] = 0, global[i]
			t.column[cloudCover][i] = 1
		}
		t.repair(0, fields[globalHorizontal].name, "no sun in the file", "computed as if always overcast, as the column map says: the hive gets less sun than it had")
		return
	}
	if t.noSun == fromClouds {
		t.sunFromClouds(c)
		return
	}
	t.sunFromRange(c)
	t.repair(0, fields[globalHorizontal].name, "no sun in the file", "estimated from each day's range of temperature, as the column map says: single days may be far off")
}

// sunFromRange fills the days that have no radiation yet, from their range of
// temperature.
func (t *table) sunFromRange(c sunCourse) {
	global := t.column[globalHorizontal]
	const (
		inland  = 0.16 // FAO Irrigation and Drainage Paper 56, equation 50, k_Rs
		clearOf = 0.75 // share of the outside radiation under a clear sky, equation 37 of the same
	)
	t.eachDay(func(from, to int) {
		if !math.IsNaN(global[from]) {
			return
		}
		low, high := math.Inf(1), math.Inf(-1)
		// A part of a day at either end takes its range from the 24 h next to it.
		for _, v := range t.column[tempAir][max(min(from, to-24), 0):min(max(to, from+24), t.n)] {
			low, high = min(low, v), max(high, v)
		}
		index := min(inland*math.Sqrt(high-low), clearOf)
		for i := from; i < to; i++ {
			global[i] = index * c.normal[i] * max(c.up[i], 0)
		}
	})
}

// sunFromClouds computes the radiation from the cloud cover. Hours without it
// take that of the known hours around them in the same day; a day that knows it
// in less than half of its daylight takes its range of temperature.
func (t *table) sunFromClouds(c sunCourse) {
	global, cloud := t.column[globalHorizontal], t.column[cloudCover]
	days, ranged := 0, 0
	t.eachDay(func(from, to int) {
		days++
		daylight, known := 0, 0
		for i := from; i < to; i++ {
			if c.up[i] > 0 {
				daylight++
				if !math.IsNaN(cloud[i]) {
					known++
				}
			}
		}
		if daylight > 0 && 2*known < daylight {
			ranged++
			return
		}
		last := -1
		for i := from; i <= to; i++ {
			if i < to && math.IsNaN(cloud[i]) {
				continue
			}
			for j := max(last+1, from); j < i; j++ {
				switch {
				case last < 0 && i < to:
					cloud[j] = cloud[i]
				case last >= 0 && i == to:
					cloud[j] = cloud[last]
				case last >= 0:
					cloud[j] = cloud[last] + (cloud[i]-cloud[last])*float64(j-last)/float64(i-last)
				}
			}
			last = i
		}
		for i := from; i < to; i++ {
			cover := cloud[i]
			if math.IsNaN(cover) { // a polar night without any
				cover = 1
			}
			global[i] = clearSky(c.up[i]) * (1 - cloudLoss*math.Pow(cover, cloudPower))
		}
	})
	t.sunFromRange(c)
	t.repair(0, fields[globalHorizontal].name, "no sun in the file",
		fmt.Sprintf("computed from cloud cover on %d days (Kasten-Czeplak), estimated from the range of temperature on %d: single days may be far off", days-ranged, ranged))
}

// eachDay calls f with the hours of each day of local standard time.
func (t *table) eachDay(f func(from, to int)) {
	from := 0
	to := 24 - t.series.Start.Hour()
	for from < t.n {
		to = min(to, t.n)
		f(from, to)
		from, to = to, to+24
	}
}

// longWave computes missing long wave of the sky.
func (t *table) longWave() {
	wave, cloud := t.column[skyLongWave], t.column[cloudCover]
	missing, first, cloudless := 0, 0, 0
	for i, v := range wave {
		if math.IsNaN(v) {
			if missing++; missing == 1 {
				first = i
			}
			if math.IsNaN(cloud[i]) {
				cloudless++
			}
		}
	}
	if missing == 0 {
		return
	}
	if cloudless > 0 {
		t.judgeClouds()
	}
	for i, v := range wave {
		if math.IsNaN(v) {
			pv := t.column[relHumidity][i] * air.SaturationPressureLiquid(t.column[tempAir][i])
			wave[i] = sun.SkyLongWave(t.column[tempAir][i], air.DewPoint(pv), cloud[i])
		}
	}
	done := "computed from dew point and cloud cover"
	switch {
	case t.noSun == overcast:
		done = "computed from dew point under full cloud"
	case cloudless > 0:
		done = fmt.Sprintf("computed from dew point and cloud cover, %d h of it judged from the day's sun", cloudless)
	}
	t.repair(t.lineNear(first), fields[skyLongWave].name, fmt.Sprintf("missing in %d of %d hours", missing, t.n), done)
}

// judgeClouds fills missing cloud cover from each day's sun against a clear sky.
// A day with hardly any sun to judge by takes the day's before it, the first
// such days half a cover.
func (t *table) judgeClouds() {
	const least = 200.0 // [Wh/m²] of clear sky in a day worth judging by
	zone := t.series.Location()
	cover := 0.5
	t.eachDay(func(from, to int) {
		got, clear := 0.0, 0.0
		for i := from; i < to; i++ {
			p := sun.Position(t.series.MidHour(i).In(zone), t.series.Latitude, t.series.Longitude)
			if s := clearSky(math.Sin(p.Elevation * math.Pi / 180)); s > 0 {
				got += t.column[globalHorizontal][i]
				clear += s
			}
		}
		if clear >= least {
			cover = cloudFromSun(got / clear)
		}
		for i := from; i < to; i++ {
			if math.IsNaN(t.column[cloudCover][i]) {
				t.column[cloudCover][i] = cover
			}
		}
	})
}

// NoonOffset returns by how many hours the centre of the radiation lies after
// the sun's transit, over all days weighted by their radiation, and whether
// there is any radiation to judge by. Hourly data in the right zone give less
// than about 0.4 h; hills to one side or cloudy afternoons make up that much.
//
// The centre is that of the angle of the clock, so that a zone wrong by half a
// day shows as well. The result is in -12 to 12.
func (s *Series) NoonOffset() (hours float64, ok bool) {
	var x, y float64
	for from := 0; from < len(s.Hours); from += 24 {
		to := min(from+24, len(s.Hours))
		if to-from < 24 && from > 0 {
			break // a part of a day leans to one side
		}
		middle := s.MidHour(from + 12)
		angle := sun.At(middle).HourAngle(s.Longitude) // of the middle hour [deg]
		for i := from; i < to; i++ {
			sin, cos := math.Sincos((angle + 15*float64(i-from-12)) * math.Pi / 180)
			x += s.Hours[i].GlobalHorizontal * cos
			y += s.Hours[i].GlobalHorizontal * sin
		}
	}
	if math.Hypot(x, y) == 0 {
		return 0, false
	}
	return math.Atan2(y, x) * 180 / math.Pi / 15, true
}

// doubtfulNoon is the offset of the radiation's centre at which the zone is
// doubtful [h].
const doubtfulNoon = 0.5

// checkNoon reports a zone that does not fit the sun. A computed sun proves
// nothing and is not checked.
func (s *Series) checkNoon(computed bool) {
	if computed {
		return
	}
	off, ok := s.NoonOffset()
	if !ok || math.Abs(off) <= doubtfulNoon {
		return
	}
	side := "after"
	if off < 0 {
		side = "before"
	}
	fits := s.Zone + time.Duration(math.Round(off))*time.Hour
	s.Repairs = append(s.Repairs, Repair{Field: "time zone",
		Found: fmt.Sprintf("the centre of the daily radiation lies %.2f h %s the sun's transit at longitude %.2f in zone %s", math.Abs(off), side, s.Longitude, zoneName(s.Zone)),
		Done:  fmt.Sprintf("doubtful, nothing shifted: the times fit %s better, or the longitude is wrong", zoneName(fits))})
}
