package almanac

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// Rules of the coming days. [°C]
const (
	snapNight   = -12.0 // nights from which a cold snap is told anywhere that has them rarely
	snapBelow   = 7.0   // mean of three days below what is usual then
	broodNight  = -2.0  // nights in spring that chill brood at the edge
	heatHigh    = 33.0  // highest of two days in a row
	heatExtreme = 38.0
)

// forecast enters warnings of the coming days and what to do today.
func (b *builder) forecast() {
	f := b.in.Forecast
	if f == nil {
		return
	}
	type coming struct {
		date time.Time
		day
	}
	var days []coming
	local := f.Start.In(b.zone)
	first := (24 - local.Hour()) % 24
	for i := first; i+24 <= len(f.Hours); i += 24 {
		d := coming{date: local.Add(time.Duration(i) * time.Hour), day: day{low: math.Inf(1), high: math.Inf(-1)}}
		for _, h := range f.Hours[i : i+24] {
			d.mean += h.TempAir / 24
			d.low, d.high = min(d.low, h.TempAir), max(d.high, h.TempAir)
		}
		if !d.date.Before(b.c.From) && d.date.Before(b.c.From.AddDate(0, 0, 16)) {
			days = append(days, d)
		}
	}
	if len(days) == 0 {
		b.note("The forecast %s holds no whole day from today on.", f.Name)
		return
	}
	usual := func(date time.Time) float64 {
		month := time.July
		if b.south {
			month = time.January
		}
		n := mod(int(math.Round(time.Date(2001, date.Month(), date.Day(), 0, 0, 0, 0, time.UTC).Sub(time.Date(2001, month, 1, 0, 0, 0, 0, time.UTC)).Hours() / 24)))
		var sum float64
		for i := range b.years {
			for k := -3; k <= 3; k++ {
				sum += b.years[i].days[mod(n+k)].mean / 7
			}
		}
		return sum / float64(len(b.years))
	}
	b.note("Forecast %s, %d days from %s. Beyond a week it is hardly more than the season.", f.Name, len(days), days[0].date.Format("2 January"))

	// A cold snap: three days well below the usual, or a night far down.
	for i := range days {
		low, run := days[i].low, 1
		mean, norm := days[i].mean, usual(days[i].date)
		for k := i + 1; k < min(i+3, len(days)); k++ {
			mean += days[k].mean
			norm += usual(days[k].date)
			low = min(low, days[k].low)
			run++
		}
		mean, norm = mean/float64(run), norm/float64(run)
		cold := run == 3 && mean < norm-snapBelow && mean < 5
		if !cold && days[i].low > snapNight {
			continue
		}
		if !cold && usualLow(b, days[i].date) < snapNight+4 {
			continue // such nights are common here
		}
		e := Entry{Key: "forecast-cold", Sort: Warning, Title: fmt.Sprintf("Cold snap: down to %s", b.temp(low)), Date: days[i].date, Until: days[min(i+run-1, len(days)-1)].date,
			Reason: fmt.Sprintf("Mean of %d days %s, usual then %s.", run, b.temp(mean), b.temp(norm)), Source: "forecast " + f.Name + "; limits " + practice,
			Do: []string{"Today: heft; lay fondant on a light hive while it is mild. Entrances free, lids weighted, wraps tied.", "Leave the hives shut until it is over."}, Cautions: []string{cautionCold}}
		if m := days[i].date.Month(); !b.south && m >= time.March && m <= time.May {
			e.Do = append(e.Do, "Brood nests are large now: put wraps back on, give no further room until it is over.")
		}
		b.plain(e)
		break
	}
	for i := range days {
		if days[i].high < heatHigh || i+1 < len(days) && days[i+1].high < heatHigh-1 && days[i].high < heatExtreme {
			continue
		}
		end := i
		for end+1 < len(days) && days[end+1].high >= heatHigh-1 {
			end++
		}
		top := days[i].high
		for _, d := range days[i : end+1] {
			top = max(top, d.high)
		}
		do := []string{"Today: water close by and full, with floats; shade on the lid in the afternoon; entrance fully open; a super for room.", "Work before nine; open nothing in the heat, move nothing, feed nothing."}
		if l := b.in.Ledger; l != nil && l.Comb != nil && l.Comb.Class != "holds" {
			do = append(do, fmt.Sprintf("The combs of body %d are the ones in danger in the computed summer: do not lift or turn them.", l.Comb.Body))
		}
		b.plain(Entry{Key: "forecast-heat", Sort: Warning, Title: fmt.Sprintf("Hot spell: up to %s", b.temp(top)), Date: days[i].date, Until: days[end].date,
			Reason: fmt.Sprintf("%d days of %s and more.", end-i+1, b.temp(heatHigh-1)), Source: "forecast " + f.Name + "; limits " + practice, Do: do, Cautions: []string{cautionHeat}})
		break
	}
	// A day to look inside, or to fly.
	for _, d := range days {
		if d.high >= 15 && d.low > 2 && slices.Contains([]time.Month{time.February, time.March, time.April, time.August, time.September, time.October}, d.date.Month()) {
			b.plain(Entry{Key: "forecast-mild", Sort: Watch, Title: fmt.Sprintf("Mild day: %s", b.temp(d.high)), Date: d.date,
				Reason: "From about 15 °C a hive may be opened in full.", Source: "trade text", Do: []string{"A day for a full check, for feeding, or for counting mites."}})
			break
		}
	}
}

// usualLow is the mean lowest of a day of the year.
func usualLow(b *builder, date time.Time) float64 {
	month := time.July
	if b.south {
		month = time.January
	}
	n := mod(int(math.Round(time.Date(2001, date.Month(), date.Day(), 0, 0, 0, 0, time.UTC).Sub(time.Date(2001, month, 1, 0, 0, 0, 0, time.UTC)).Hours() / 24)))
	var sum float64
	for i := range b.years {
		sum += b.years[i].days[n].low
	}
	return sum / float64(len(b.years))
}
