package ledger

import (
	"math"
	"time"

	"hackle/comb"
	"hackle/season"
)

// Limits of the ledger's summer.
const (
	// BroodLeast is the sealed cells from which on the core counts as a brood
	// nest [-]. Common practice, no source; the bees of the engine go by the same.
	BroodLeast = 100
	// OutsideLeast is the share of the bees from which on they hang outside [-]:
	// a handful at the entrance on the way to a beard. Common practice, no source.
	OutsideLeast = 0.01
	// WaterDayLeast is the water from which on a day counts as one on which bees
	// hauled any [L]. Common practice, no source.
	WaterDayLeast = 0.1
	// WaterNearest is how near advice asks water to be [m].
	WaterNearest = 500
)

// The brood nest overheats when it is above 38 °C at all, or above 37 °C for more
// than these hours. Brood is harmed by hours above 37 °C (bee literature, from
// memory); how many, and 38 °C, are judgement.
const overheatHours = 6

// Winter is the longest winter that lies in the run: 15 October to 15 April, on
// the southern half of the globe half a year later.
type Winter struct {
	From   Date    `json:"from"`
	To     Date    `json:"to"` // last day
	Burned float64 `json:"honey_burned_kg"`
	Left   float64 `json:"honey_left_kg"` // at its end
}

// Summer is what heat asks of the bees.
type Summer struct {
	Above36   float64   `json:"nest_above_36_hours"` // hours of a brood nest above 36 °C
	Above37   float64   `json:"nest_above_37_hours"`
	Above38   float64   `json:"nest_above_38_hours"`
	NestMax   float64   `json:"nest_max_C"`
	NestMaxAt time.Time `json:"nest_max_at,omitzero"` // zero: there never was brood
	CombMax   float64   `json:"comb_max_C"`           // warmest comb of the hive, brood or honey
	CombMaxAt time.Time `json:"comb_max_at,omitzero"`

	Outside     float64   `json:"outside_hours"` // with more than OutsideLeast of the bees hanging outside
	OutsideMost float64   `json:"outside_most_share"`
	OutsideAt   time.Time `json:"outside_most_at,omitzero"`

	Fanning       float64 `json:"fanning_bee_hours"` // one bee fanning for an hour
	FanningDay    float64 `json:"fanning_worst_day_bee_hours"`
	FanningDayOn  Date    `json:"fanning_worst_day,omitzero"`
	FanningDry    float64 `json:"fanning_for_damp_bee_hours"` // of all, while damp asked for it most
	Hauled        float64 `json:"water_hauled_L"`
	HauledDay     float64 `json:"water_worst_day_L"`
	HauledDayOn   Date    `json:"water_worst_day,omitzero"`
	HauledDays    float64 `json:"water_hauled_days"`   // with more than WaterDayLeast
	HauledByDay   []Day   `json:"water_hauled_by_day"` // these days
	Flights       float64 `json:"water_flights"`
	FlightHours   float64 `json:"water_flight_hours"`   // of foragers, lost to nectar and pollen
	PutOut        float64 `json:"water_to_put_out_L"`   // a day: the worst day, rounded up to half a litre
	PutOutWithin  float64 `json:"water_within_m"`       // how near
	WaterDistance float64 `json:"water_distance_m"`     // that the hive file says, 0: unknown
	FlowsNamed    float64 `json:"nectar_flows_in_file"` // how many the hive file names
}

// Day is an amount of water on a day.
type Day struct {
	Date  Date    `json:"date"`
	Litre float64 `json:"water_L"`
}

// Comb is the worst hour of the combs of one body and column.
type Comb struct {
	Body        int       `json:"body"`  // from the floor up, the lowest is 1
	Place       string    `json:"place"` // "core", "flank" or "beyond"
	Class       string    `json:"class"` // "holds", "near" or "falls", over the whole run
	At          time.Time `json:"at,omitzero"`
	Share       float64   `json:"share_of_strength"` // weight over what it can carry, with wax of middle strength [-]
	ShareLow    float64   `json:"share_of_strength_low"`
	ShareHigh   float64   `json:"share_of_strength_high"`
	Temperature float64   `json:"comb_C"`         // then
	Frames      float64   `json:"frames"`         // frames of the body that these combs are, side by side
	FramesInAll float64   `json:"frames_in_body"` // that the body has
	Warmest     float64   `json:"warmest_C"`      // these combs at any time
	WarmestAt   time.Time `json:"warmest_at,omitzero"`
	HoneyThen   float64   `json:"warmest_honey_kg"` // in one of them then
	Honey       float64   `json:"honey_kg"`         // in one comb
	Nectar      float64   `json:"nectar_kg"`        // in one comb, still to ripen
	GivesWay    string    `json:"gives_way"`        // what would give way first
}

// Hot reports whether there is a summer to tell of: nectar, heat in the brood
// nest, bees outside, water hauled or comb in danger.
func (l Ledger) Hot() bool {
	s := &l.Summer
	return l.Honey.Gained > 0.001 || s.Above36 > 0 || s.Outside > 0 || s.Hauled > WaterDayLeast || l.Comb != nil && l.Comb.Class != string(comb.Holds)
}

// Year reports whether the run is a whole year.
func (l Ledger) Year() bool { return l.Hours >= 360*24 }

// Overheated reports whether the brood nest got hotter than brood stands.
func (l Ledger) Overheated() bool {
	return l.Summer.Above38 > 0 || l.Summer.Above37 > overheatHours
}

func south(in season.Input) bool {
	switch {
	case in.Plan.Site.HasPlace:
		return in.Plan.Site.Latitude < 0
	case in.Weather != nil:
		return in.Weather.Latitude < 0
	}
	return false
}

// inWinter reports whether a day lies from 15 October to 15 April, or in the south
// from 15 April to 15 October.
func inWinter(t time.Time, south bool) bool {
	n := 100*int(t.Month()) + t.Day()
	if south {
		return n >= 415 && n <= 1015
	}
	return n >= 1015 || n <= 415
}

// wintering finds the longest winter of the run and what it cost.
func (r *record) wintering(l *Ledger, south bool) {
	const least = 30 * 24 // hours
	first, last := 0, 0
	for h := 0; h < r.Hours; h++ {
		from := h
		for h < r.Hours && inWinter(r.Time(h), south) {
			h++
		}
		if h-from > last-first {
			first, last = from, h
		}
	}
	if last-first < least || last-first == r.Hours {
		return
	}
	l.Winter = &Winter{From: Date{r.Time(first)}, To: Date{r.Time(last - 1)}, Burned: sum(r.get("honey.eaten")[first:last]), Left: r.get("honey.left")[last-1]}
}

// worstDay returns the calendar day with the greatest sum, zero of none.
func (r *record) worstDay(values []float64, least float64) (most float64, on Date, days float64) {
	for h := 0; h < len(values); {
		day, sum := r.Time(h), 0.0
		for ; h < len(values) && r.Time(h).YearDay() == day.YearDay(); h++ {
			sum += values[h]
		}
		if sum > most {
			most, on = sum, Date{day}
		}
		if sum > least {
			days++
		}
	}
	return
}

func (r *record) summering(l *Ledger, in season.Input) {
	s, b := &l.Summer, in.Biology
	sealed := r.living("bees.sealed")
	for h, t := range r.living("bees.core") {
		if !(sealed[h] > BroodLeast) {
			continue
		}
		for _, x := range []struct {
			limit float64
			hours *float64
		}{{36, &s.Above36}, {37, &s.Above37}, {38, &s.Above38}} {
			if t > x.limit {
				*x.hours++
			}
		}
		if s.NestMaxAt.IsZero() || t > s.NestMax {
			s.NestMax, s.NestMaxAt = t, r.Time(h)
		}
	}
	if warm, ok := r.at["comb.warmest"]; ok && len(warm) >= r.Hours {
		r.extreme(1, warm[:r.alive], &s.CombMax, &s.CombMaxAt)
	}
	outside := r.living("bees.outside")
	for _, share := range outside {
		if share > OutsideLeast {
			s.Outside++
		}
	}
	if v, i := most(1, outside); v > 0 {
		s.OutsideMost, s.OutsideAt = v, r.Time(i)
	}
	if b.FanFlow > 0 {
		fanning := make([]float64, r.alive)
		for h, flow := range r.living("bees.fanned") {
			fanning[h] = flow / b.FanFlow
		}
		s.Fanning = sum(fanning)
		s.FanningDay, s.FanningDayOn, _ = r.worstDay(fanning, 0)
		if dry, ok := r.at["bees.fanned_for_damp"]; ok {
			s.FanningDry = sum(dry[:min(r.alive, len(dry))]) / b.FanFlow
		}
	}
	// A kilogram of water is a litre.
	s.Hauled = r.Totals.WaterHauled
	s.HauledDay, s.HauledDayOn, s.HauledDays = r.worstDay(r.get("water.hauled"), WaterDayLeast)
	s.HauledByDay = []Day{}
	for h, values := 0, r.get("water.hauled"); h < len(values); {
		day, litres := r.Time(h), 0.0
		for ; h < len(values) && r.Time(h).YearDay() == day.YearDay(); h++ {
			litres += values[h]
		}
		if litres > WaterDayLeast {
			s.HauledByDay = append(s.HauledByDay, Day{Date{day}, litres})
		}
	}
	c := &in.Plan.Colony
	s.WaterDistance, s.FlowsNamed = c.WaterNear, float64(len(c.Flows))
	if b.WaterLoad > 0 {
		s.Flights = s.Hauled / b.WaterLoad
		round := b.WaterStop
		if b.FlightSpeed > 0 {
			round += 2 * c.WaterNear / b.FlightSpeed
		}
		s.FlightHours = s.Flights * round / 3600
	}
	if s.HauledDays > 0 {
		s.PutOut = math.Ceil(s.HauledDay*2-1e-9) / 2
		s.PutOutWithin = WaterNearest
		if c.WaterNear > 0 {
			s.PutOutWithin = min(WaterNearest, c.WaterNear)
		}
	}
}

// hanging takes the combs in most danger: those that fall, then those with the
// highest load. What hangs in a dead hive endangers nobody.
func (r *record) hanging(l *Ledger) {
	rank := map[string]int{string(comb.Near): 1, string(comb.Falls): 2}
	for _, p := range r.Combs {
		u := p.Worst.Utilisation
		l.Combs = append(l.Combs, Comb{
			Body: p.Body + 1, Place: p.Column, Class: string(p.Class), At: p.At, Share: u.Mid, ShareLow: u.Low, ShareHigh: u.High,
			Temperature: p.Worst.Temperature, Honey: p.Honey, Nectar: p.Nectar, GivesWay: string(p.Worst.Place),
			Frames: p.Frames, FramesInAll: p.FramesInBody, Warmest: p.Warmest, WarmestAt: p.WarmestAt, HoneyThen: p.HoneyThen,
		})
		c := l.Combs[len(l.Combs)-1]
		if l.Died() && !c.At.Before(l.Bees.DiedAt) {
			continue
		}
		if l.Comb == nil || rank[c.Class] > rank[l.Comb.Class] || rank[c.Class] == rank[l.Comb.Class] && c.Share > l.Comb.Share {
			l.Comb = &c
		}
	}
}
