package colony

import (
	"math"
	"time"

	"hackle/hive"
)

// Course is the seasonal course of brood that a colony follows when the keeper
// has not said otherwise.
type Course struct {
	Start time.Time // first eggs of the new year
	Peak  time.Time // height of brood rearing
	Stop  time.Time // last eggs in autumn
	Cells float64   // sealed cells at the peak [-]
}

// Sealed cells of the default course at its peak, and the days on which it
// peaks and stops on the northern half of the globe.
const (
	peakCells  = 18000 // [-] 15,000 to 25,000 in late May and June, common practice, no source
	sealedDays = 12    // time a worker cell is sealed [d]
	hatchDays  = 21    // egg to bee [d]
)

// CourseFor gives the course of brood that holds for a day, from what the
// keeper says and else from the place: brood restarts between 1 January where
// the coldest month averages 5 °C or more and 1 February where it averages
// -5 °C or less.
func CourseFor(c hive.Colony, day time.Time, latitude, coldestMonth float64) Course {
	year := day.Year()
	south := latitude < 0
	shift := 0
	if south {
		shift = 6
	}
	// The brood year runs from one stop to the next; before the autumn stop the
	// running year's course holds, after it the coming year's.
	stop := time.Date(year, time.Month(10), 15, 0, 0, 0, 0, day.Location()).AddDate(0, -shift, 0)
	if day.After(stop) {
		year++
	}
	base := time.Date(year, 1, 1, 0, 0, 0, 0, day.Location()).AddDate(0, -shift, 0)
	if south {
		// The southern course of brood year y is the northern one half a year earlier.
		base = time.Date(year, 1, 1, 0, 0, 0, 0, day.Location()).AddDate(0, -6, 0)
	}
	delay := 31 * math.Max(0, math.Min(1, (5-coldestMonth)/10))
	course := Course{
		Start: base.AddDate(0, 0, int(math.Round(delay))),
		Peak:  base.AddDate(0, 5, 0),
		Stop:  base.AddDate(0, 9, 14),
		Cells: peakCells,
	}
	if !c.BroodStart.IsZero() {
		start := time.Date(year, c.BroodStart.Month, c.BroodStart.Day, 0, 0, 0, 0, day.Location())
		for start.After(course.Peak) {
			start = start.AddDate(-1, 0, 0)
		}
		course.Start = start
	}
	if c.BroodPeak > 0 {
		course.Cells = c.BroodPeak
	}
	return course
}

// Sealed is the number of sealed cells that the course asks for on a day. It
// follows a squared sine up from Start to Peak and down to Stop, delayed by the
// nine days from egg to sealing.
func (c Course) Sealed(day time.Time) float64 {
	t := day.AddDate(0, 0, -(hatchDays - sealedDays))
	var x float64
	switch {
	case t.Before(c.Start) || t.After(c.Stop.AddDate(0, 0, sealedDays)):
		return 0
	case t.Before(c.Peak):
		x = t.Sub(c.Start).Hours() / c.Peak.Sub(c.Start).Hours()
	default:
		x = c.Stop.AddDate(0, 0, sealedDays).Sub(t).Hours() / c.Stop.AddDate(0, 0, sealedDays).Sub(c.Peak).Hours()
	}
	s := math.Sin(math.Pi / 2 * x)
	return c.Cells * s * s
}

// Strength is the living part of a colony as it changes from day to day.
type Strength struct {
	Adults float64 // mass of adult bees [kg]
	Sealed float64 // sealed brood cells [-]
}

// Day moves the strength on by one day: deaths, bees hatching from brood, and
// the sealed cells that are asked for as far as the bees can cover them. Flown
// is the share of a full flying day that the day before gave. [-] It returns the
// honey spent on rearing beyond the heat of the brood itself. [kg]
//
// Part of the food of a worker is burnt in its cell and already counted with
// the brood's heat; the rest is body, wax and nurses' work.
func (s *Strength) Day(b *Biology, asked, flown float64) (rearing float64) {
	hatching := s.Sealed / sealedDays
	// Nursing and foraging wear bees out: where each bee tends half a cell, or
	// all that can fly do so the whole day, they die at the summer rate.
	busy := math.Min(1, math.Max(flown, 2*s.Sealed*b.BeeMass/math.Max(s.Adults, 1e-9)))
	s.Adults -= s.Adults * (b.WinterDeath + busy*(b.SummerDeath-b.WinterDeath))
	s.Adults += hatching * b.BeeMass
	cover := b.BroodPerBee * s.Adults / b.BeeMass
	s.Sealed = math.Min(asked, cover)
	burntInCell := b.BroodHeat * sealedDays * 86400 / b.HoneyEnergy
	return hatching * math.Max(0, b.BroodFood-burntInCell)
}
