// Package ledger draws from the hour-by-hour trace of a run what a keeper wants
// to know of it: totals, means and worst moments, each with its date.
//
// A [Ledger] is plain data in the units its JSON names end in. [Lines] is the
// one table that says what each number is; text, comparison and the description
// of the JSON all come from it.
package ledger

import (
	"encoding/json"
	"fmt"
	"math"
	"time"

	"hackle/colony"
	"hackle/hive"
	"hackle/season"
)

// HoneyEnergy turns heat into the honey that pays for it [J/kg]: food
// composition tables, 1272 kJ per 100 g; the default of package colony.
const HoneyEnergy = 12.7e6

// OverheadLeast is the water above the cluster from which an hour counts as one
// with overhead water [kg]: a few drops. Common practice, no source.
const OverheadLeast = 0.001

// Ledger holds the indicators of one run of one hive through one span of weather.
type Ledger struct {
	Hive  string `json:"hive"`
	From  Date   `json:"from"` // first day
	To    Date   `json:"to"`   // last day
	Hours int    `json:"hours"`

	Honey       Honey       `json:"honey"`
	Nectar      Nectar      `json:"nectar"`
	Winter      *Winter     `json:"winter,omitempty"` // nil when the run is all winter, or holds less than 30 days of one
	Bees        Bees        `json:"bees"`
	Heat        Heat        `json:"heat"`
	LossHeat    Losses      `json:"loss_kWh"`
	LossHoney   Losses      `json:"loss_honey_kg"`
	Openings    []Opening   `json:"openings"`
	Warmth      Warmth      `json:"warmth"`
	Water       Water       `json:"water"`
	CO2Peak     float64     `json:"co2_peak_percent"` // beside the cluster, volume share [%]
	CO2PeakAt   time.Time   `json:"co2_peak_at,omitzero"`
	ReachMin    float64     `json:"reach_min_days"` // least honey in contact over use, while the colony lives [d]
	ReachMinAt  time.Time   `json:"reach_min_at,omitzero"`
	Confinement Confinement `json:"confinement"`
	ColdestWeek *Week       `json:"coldest_week,omitempty"` // nil when the run is shorter than a week
	Summer      Summer      `json:"summer"`
	Comb        *Comb       `json:"comb,omitempty"` // the comb in most danger while the colony lives; nil when the hive has none
	Combs       []Comb      `json:"combs"`          // one for all combs of a body and column
	Closure     Closure     `json:"closure"`

	Events   []Event  `json:"events"`
	Warnings []string `json:"warnings"`
}

// Honey is the course of the stores.
type Honey struct {
	Start     float64   `json:"start_kg"`
	Fed       float64   `json:"fed_kg"`
	Gained    float64   `json:"gained_kg"`   // that nectar became
	Burned    float64   `json:"burned_kg"`   // all that was eaten
	ForHeat   float64   `json:"for_heat_kg"` // of that, what paid for the heat in the hive
	ForOther  float64   `json:"other_kg"`    // flight, and brood beyond its heat
	Left      float64   `json:"left_kg"`     //
	Least     float64   `json:"least_kg"`    // lowest end of an hour while the colony lives
	LeastAt   time.Time `json:"least_at,omitzero"`
	ByMonth   []Month   `json:"by_month"`            // every calendar month that the run touches
	StarvedAt time.Time `json:"starved_at,omitzero"` // zero: there was honey to the end

	OpenWater    float64   `json:"open_water_most"` // most water in open honey of the outer combs, share of mass [-]
	OpenWaterAt  time.Time `json:"open_water_most_at,omitzero"`
	FermentHours float64   `json:"ferment_hours"` // with that honey wet and warm enough to ferment
}

// Nectar is what was carried in, and its water.
type Nectar struct {
	Carried      float64   `json:"carried_kg"`
	Dried        float64   `json:"dried_kg"`  // water that left it
	Unripe       float64   `json:"unripe_kg"` // water still to leave it at the end
	UnripeMost   float64   `json:"unripe_most_kg"`
	UnripeMostAt time.Time `json:"unripe_most_at,omitzero"`
}

// Month is the honey burned in a calendar month.
type Month struct {
	Month string  `json:"month"` // "2026-01"
	Mass  float64 `json:"kg"`
}

// Bees is the heat the bees gave. Means and peaks count the hours in which the
// colony lived.
type Bees struct {
	HeatMean     float64   `json:"heat_mean_W"`
	HeatPeak     float64   `json:"heat_peak_W"` // highest mean of an hour
	PeakAt       time.Time `json:"peak_at,omitzero"`
	PeakShare    float64   `json:"peak_share_of_limit"` // of what the colony can sustain, in that hour [-]
	HeatPeakDay  float64   `json:"heat_peak_day_W"`     // highest mean of a whole day
	PeakDay      Date      `json:"peak_day,omitzero"`
	PeakDayShare float64   `json:"peak_day_share_of_limit"` // mean share on that day [-]
	HardestShare float64   `json:"hardest_share_of_limit"`  // highest hourly share of the limit [-]
	HardestAt    time.Time `json:"hardest_at,omitzero"`
	MassStart    float64   `json:"mass_start_kg"`
	MassEnd      float64   `json:"mass_end_kg"`
	DiedAt       time.Time `json:"died_at,omitzero"` // zero: alive at the end
}

// Heat is the heat balance of the hive:
// bees = with vapour + stored + lost, within the closure.
type Heat struct {
	Bees       float64 `json:"bees_kWh"`        // heat of bees and brood
	WithVapour float64 `json:"with_vapour_kWh"` // bound in vapour that left; what settled has given its heat back
	Stored     float64 `json:"stored_kWh"`      // gained by air, combs and shell
	Lost       float64 `json:"lost_kWh"`        // through shell and openings, less the sun's gain
}

// Losses is heat by the way it left, in kWh, or as the honey that pays for it, in kg.
type Losses struct {
	Front    float64 `json:"front"`
	Back     float64 `json:"back"`
	Left     float64 `json:"left"`
	Right    float64 `json:"right"`
	Lid      float64 `json:"lid"`
	Floor    float64 `json:"floor"`
	Edges    float64 `json:"edges"`
	Openings float64 `json:"openings"` // all openings of Ledger.Openings together
	Mesh     float64 `json:"mesh"`
	Cracks   float64 `json:"cracks"`
}

// Walls is the sum of the four sides.
func (l Losses) Walls() float64 { return l.Front + l.Back + l.Left + l.Right }

// Sum of all ways.
func (l Losses) Sum() float64 {
	return l.Walls() + l.Lid + l.Floor + l.Edges + l.Openings + l.Mesh + l.Cracks
}

// Opening is the heat that air carried out of one opening.
type Opening struct {
	Name      string  `json:"name"`
	LossHeat  float64 `json:"loss_kWh"`
	LossHoney float64 `json:"loss_honey_kg"`
}

// Warmth is means over the hours in which the colony lived.
type Warmth struct {
	Outdoors    float64   `json:"outdoors_mean_C"`
	UnderLid    float64   `json:"under_lid_mean_C"`
	Cluster     float64   `json:"cluster_air_mean_C"`
	Floor       float64   `json:"floor_mean_C"`
	WarmDepth   float64   `json:"warm_depth_mean_mm"`
	UnderLidMin float64   `json:"under_lid_min_C"`
	UnderLidAt  time.Time `json:"under_lid_min_at,omitzero"`
	ClusterMin  float64   `json:"cluster_air_min_C"`
	ClusterAt   time.Time `json:"cluster_air_min_at,omitzero"`
}

// Water is where the hive's water came from and went to:
//
//	produced = from honey + from nectar + spread + drunk,
//	produced + rain = vented + stored + drained + drunk + in shell + through shell,
//
// within the closure.
type Water struct {
	Produced      float64   `json:"produced_kg"`          // vapour given off by bees, nectar and spread water
	FromHoney     float64   `json:"from_honey_kg"`        // of that, set free by honey eaten for heat
	FromNectar    float64   `json:"from_nectar_kg"`       // of that, dried off nectar
	Spread        float64   `json:"spread_kg"`            // of that, carried in and spread to cool the nest
	Drunk         float64   `json:"drunk_kg"`             // of that, taken by bees from wet faces
	HeldByBees    float64   `json:"held_by_bees_kg"`      // never given off, leaves with cleansing flights
	Vented        float64   `json:"vented_kg"`            // left with air, less what came in with it
	Stored        float64   `json:"stored_kg"`            // on faces and in the air at the end, beyond the start
	Drained       float64   `json:"drained_kg"`           // ran out as liquid
	InsideMost    float64   `json:"inside_shell_most_kg"` // most free water and ice inside walls, boards, lid and floor
	InsideMostAt  time.Time `json:"inside_shell_most_at,omitzero"`
	InsideFirst   time.Time `json:"inside_shell_first_at,omitzero"` // first hour with more than 1 g of it
	InStores      float64   `json:"in_stores_kg"`                   // more in open honey and pollen at the end
	InShell       float64   `json:"in_shell_kg"`                    // more in walls, boards and lid at the end
	ThroughShell  float64   `json:"through_shell_kg"`               // left through them to outdoors
	Rain          float64   `json:"rain_soaked_kg"`                 // that unpainted outer faces drew in
	Condensed     Surfaces  `json:"condensed_kg"`                   // each time it settled, before any of it dried
	RanDown       float64   `json:"ran_down_kg"`                    // from walls and combs to the floor
	Lying         Surfaces  `json:"lying_kg"`                       // at the end
	LyingTotal    float64   `json:"lying_total_kg"`                 // their sum
	LyingMost     Surfaces  `json:"lying_most_kg"`                  // most at the end of an hour, each at its own
	OverheadHours float64   `json:"overhead_hours"`                 // with more than OverheadLeast above the cluster
	OverheadMost  float64   `json:"overhead_most_kg"`
	OverheadAt    time.Time `json:"overhead_most_at,omitzero"`
	OverheadFirst time.Time `json:"overhead_first_at,omitzero"` // first hour with overhead water
	OverheadLast  time.Time `json:"overhead_last_at,omitzero"`  // last hour with it
	Dripped       float64   `json:"dripped_kg"`                 // from overhead
	DrippedBees   float64   `json:"dripped_on_cluster_kg"`      // of that above the cluster

	First     *FirstWet `json:"first,omitempty"`          // where water first settled; nil: nowhere
	FirstOver *FirstWet `json:"first_overhead,omitempty"` // where it first settled above the cluster
	Spring    *Spring   `json:"spring,omitempty"`         // nil when the run has no brood in spring
}

// Surfaces splits water by where it is. [kg]
type Surfaces struct {
	Lid   float64 `json:"lid"`
	Walls float64 `json:"walls"`
	Floor float64 `json:"floor"`
	Combs float64 `json:"combs"`
}

// Confinement is cold in which bees cannot move to honey.
type Confinement struct {
	Longest      float64   `json:"longest_hours"` // longest run of hours
	From         time.Time `json:"from,omitzero"`
	To           time.Time `json:"to,omitzero"`         // end of its last hour
	ReachAtStart float64   `json:"reach_at_start_days"` // honey in contact when it began [d]
	Isolation    float64   `json:"isolation_hours"`     // hours confined with no honey in contact, in the whole run
}

// Week is the seven days with the lowest mean outdoor temperature, and what hive
// and bees did in them.
type Week struct {
	From      Date    `json:"from"`
	To        Date    `json:"to"` // last day
	Outdoors  float64 `json:"outdoors_mean_C"`
	Lowest    float64 `json:"outdoors_lowest_C"`
	Heat      float64 `json:"heat_mean_W"`
	Share     float64 `json:"share_of_limit"` // mean [-]
	Honey     float64 `json:"honey_kg"`
	UnderLid  float64 `json:"under_lid_mean_C"`
	Cluster   float64 `json:"cluster_air_mean_C"`
	Floor     float64 `json:"floor_mean_C"`
	WarmDepth float64 `json:"warm_depth_mean_mm"`
	Confined  float64 `json:"confined_hours"`
	Overhead  float64 `json:"overhead_hours"`
}

// Closure is what each balance leaves over, as a share of its throughput. [-]
type Closure struct {
	Heat   float64 `json:"heat"`
	Vapour float64 `json:"vapour"`
	CO2    float64 `json:"co2"`
	Air    float64 `json:"air"`
	Honey  float64 `json:"honey"`
}

// Event is something that happened at a time.
type Event struct {
	At   time.Time `json:"at"`
	What string    `json:"what"`
}

// Date is a calendar day; as text "2026-01-14", or nothing when it is zero.
type Date struct{ time.Time }

const dateForm = "2006-01-02"

// MarshalJSON writes the day.
func (d Date) MarshalJSON() ([]byte, error) {
	if d.IsZero() {
		return []byte(`""`), nil
	}
	return json.Marshal(d.Format(dateForm))
}

// In is the beginning of the day where loc's clocks hold. JSON keeps a day without
// its zone, so who asks for a moment of a day must say whose.
func (d Date) In(loc *time.Location) time.Time {
	year, month, day := d.Date()
	return time.Date(year, month, day, 0, 0, 0, 0, loc)
}

// UnmarshalJSON reads what MarshalJSON writes.
func (d *Date) UnmarshalJSON(text []byte) error {
	var s string
	if err := json.Unmarshal(text, &s); err != nil {
		return err
	}
	if s == "" {
		*d = Date{}
		return nil
	}
	t, err := time.Parse(dateForm, s)
	if err != nil {
		return fmt.Errorf("ledger: %w", err)
	}
	*d = Date{t}
	return nil
}

// Starved reports whether the honey ran out.
func (l Ledger) Starved() bool { return !l.Honey.StarvedAt.IsZero() }

// Died reports whether the colony was dead before the end.
func (l Ledger) Died() bool { return !l.Bees.DiedAt.IsZero() }

// Wet reports whether water lay or dripped above the cluster.
func (l Ledger) Wet() bool { return l.Water.OverheadHours > 0 || l.Water.DrippedBees > 0 }

// Cut reports whether bees were confined without honey in contact.
func (l Ledger) Cut() bool { return l.Confinement.Isolation > 0 }

const kWh = 3.6e6 // [J]

// record gives the channels of a trace by name, and how many hours its colony
// lived.
type record struct {
	*season.Trace
	at    map[string][]float64
	alive int
}

// get returns the values of a channel, zeros when the trace has none.
func (r *record) get(name string) []float64 {
	if v := r.at[name]; len(v) >= r.Hours {
		return v[:r.Hours]
	}
	return make([]float64, r.Hours)
}

// living returns the values of a channel in the hours in which the colony lived.
func (r *record) living(name string) []float64 { return r.get(name)[:r.alive] }

// mean of values, 0 of none.
func mean(values []float64) float64 {
	if len(values) == 0 {
		return 0
	}
	return sum(values) / float64(len(values))
}

func sum(values []float64) float64 {
	s := 0.0
	for _, v := range values {
		s += v
	}
	return s
}

// most returns the greatest value of sign times the values, its sign restored,
// and its first place; 0 and -1 of none.
func most(sign float64, values []float64) (float64, int) {
	best, place := math.Inf(-1), -1
	for i, v := range values {
		if sign*v > best {
			best, place = sign*v, i
		}
	}
	if place < 0 {
		return 0, -1
	}
	return sign * best, place
}

// extreme stores the highest (sign 1) or lowest (-1) value and its hour.
func (r *record) extreme(sign float64, values []float64, value *float64, at *time.Time) int {
	v, i := most(sign, values)
	*value = v
	if i >= 0 {
		*at = r.Time(i)
	}
	return i
}

// From draws the ledger of a trace. Channels that the trace lacks count as zero.
// What a trace does not tell is taken as usual: the bees' biology, a winter of
// the northern half of the globe, and water whose distance is unknown.
func From(tr *season.Trace) Ledger {
	return FromRun(season.Input{Biology: colony.DefaultBiology()}, tr)
}

// FromRun draws the ledger of a trace and of the input that it was run from.
func FromRun(in season.Input, tr *season.Trace) Ledger {
	r := &record{Trace: tr, at: make(map[string][]float64, len(tr.Channels)), alive: tr.Hours}
	for _, c := range tr.Channels {
		r.at[c.Name] = c.Values
	}
	l := Ledger{Hive: tr.Hive.Name, Hours: tr.Hours, Openings: []Opening{}, Combs: []Comb{}, Events: []Event{}, Warnings: append([]string{}, tr.Warnings...)}
	if tr.Hours > 0 {
		l.From, l.To = Date{tr.Time(0)}, Date{tr.Time(tr.Hours - 1)}
	}
	for _, e := range tr.Events {
		l.Events = append(l.Events, Event{e.At, e.What})
	}
	r.lifetime(&l)
	r.stores(&l)
	r.work(&l)
	r.losses(&l)
	r.warmth(&l)
	r.moisture(&l)
	r.confinement(&l)
	l.ColdestWeek = r.coldestWeek()
	r.wintering(&l, south(in))
	r.springing(&l, south(in))
	r.summering(&l, in)
	r.hanging(&l)
	c := tr.Totals.Closure()
	l.Closure = Closure{Heat: c.Heat, Vapour: c.Vapour, CO2: c.CO2, Air: c.Air, Honey: c.Honey}
	return l
}

// lifetime finds the hour in which the colony died.
func (r *record) lifetime(l *Ledger) {
	mass, ok := r.at["bees.mass"]
	if !ok {
		return
	}
	left := r.get("honey.left")
	for h := range r.Hours {
		if mass[h] > 0 {
			continue
		}
		r.alive = h
		l.Bees.DiedAt = r.Time(h)
		const crumbs = 0.001 // kg
		if left[h] < crumbs {
			l.Honey.StarvedAt = r.Time(h)
		}
		break
	}
	if r.Hours > 0 {
		l.Bees.MassStart, l.Bees.MassEnd = mass[0], mass[r.Hours-1]
	}
}

func (r *record) stores(l *Ledger) {
	t := &r.Totals
	l.Honey.Start, l.Honey.Fed, l.Honey.Burned, l.Honey.Left = t.HoneyStart, t.HoneyFed, t.HoneyEaten, t.HoneyEnd
	l.Honey.Gained = t.HoneyGained
	r.extreme(-1, r.living("honey.left"), &l.Honey.Least, &l.Honey.LeastAt)
	l.Nectar = Nectar{Carried: t.Nectar, Dried: t.NectarDried}
	unripe := r.get("nectar.unripe")
	if v, i := most(1, unripe); v > 0 {
		l.Nectar.Unripe, l.Nectar.UnripeMost, l.Nectar.UnripeMostAt = unripe[r.Hours-1], v, r.Time(i)
	}
	if v, i := most(1, r.get("honey.open_water")); v > 0 {
		l.Honey.OpenWater, l.Honey.OpenWaterAt = v, r.Time(i)
	}
	l.Honey.FermentHours = sum(r.get("honey.ferments"))
	l.Honey.ForHeat = t.BeesHeat / HoneyEnergy
	l.Honey.ForOther = l.Honey.Burned - l.Honey.ForHeat
	l.Honey.ByMonth = []Month{}
	for h, kg := range r.get("honey.eaten") {
		name := r.Time(h).Format("2006-01")
		n := len(l.Honey.ByMonth)
		if n == 0 || l.Honey.ByMonth[n-1].Month != name {
			l.Honey.ByMonth = append(l.Honey.ByMonth, Month{Month: name})
			n++
		}
		l.Honey.ByMonth[n-1].Mass += kg
	}
}

// dayStarts lists the hours at which whole days of local standard time begin
// that end by a given hour.
func (r *record) dayStarts(end int) []int {
	var starts []int
	for h := range end {
		if r.Time(h).Hour() == 0 && h+24 <= end {
			starts = append(starts, h)
		}
	}
	return starts
}

func (r *record) work(l *Ledger) {
	b := &l.Bees
	heat, share := r.living("bees.heat"), r.living("bees.limit_share")
	b.HeatMean = mean(heat)
	if i := r.extreme(1, heat, &b.HeatPeak, &b.PeakAt); i >= 0 {
		b.PeakShare = share[i]
	}
	r.extreme(1, share, &b.HardestShare, &b.HardestAt)
	for _, h := range r.dayStarts(r.alive) {
		if m := mean(heat[h : h+24]); b.PeakDay.IsZero() || m > b.HeatPeakDay {
			b.HeatPeakDay, b.PeakDay, b.PeakDayShare = m, Date{r.Time(h)}, mean(share[h:h+24])
		}
	}
	r.extreme(1, r.get("co2.at_cluster"), &l.CO2Peak, &l.CO2PeakAt)
	l.CO2Peak *= 100
	r.extreme(-1, r.living("honey.reach"), &l.ReachMin, &l.ReachMinAt)
}

func (r *record) losses(l *Ledger) {
	t := &r.Totals
	lost := Losses{
		Front: t.Lost.Walls[hive.Front], Back: t.Lost.Walls[hive.Back], Left: t.Lost.Walls[hive.Left], Right: t.Lost.Walls[hive.Right],
		Lid: t.Lost.Lid, Floor: t.Lost.Floor, Edges: t.Lost.Edges, Openings: sum(t.Lost.Openings), Mesh: t.Lost.Mesh, Cracks: t.Lost.Cracks,
	}
	l.LossHeat, l.LossHoney = lost.over(kWh), lost.over(HoneyEnergy)
	for i, joule := range t.Lost.Openings {
		name := fmt.Sprintf("opening %d", i+1)
		if i < len(r.Hive.Openings) && r.Hive.Openings[i].Name != "" {
			name = r.Hive.Openings[i].Name
		}
		l.Openings = append(l.Openings, Opening{name, joule / kWh, joule / HoneyEnergy})
	}
	l.Heat = Heat{
		Bees:       t.BeesHeat / kWh,
		WithVapour: (t.BeesHeat - t.Sensible - t.Latent) / kWh,
		Stored:     t.Stored / kWh,
		Lost:       t.Lost.Sum() / kWh,
	}
}

// over divides every way by a unit.
func (l Losses) over(unit float64) Losses {
	return Losses{l.Front / unit, l.Back / unit, l.Left / unit, l.Right / unit, l.Lid / unit, l.Floor / unit, l.Edges / unit, l.Openings / unit, l.Mesh / unit, l.Cracks / unit}
}

func (r *record) warmth(l *Ledger) {
	w := &l.Warmth
	w.Outdoors = mean(r.living("outdoor.temp"))
	w.UnderLid = mean(r.living("air.under_lid"))
	w.Cluster = mean(r.living("air.at_cluster"))
	w.Floor = mean(r.living("air.at_floor"))
	w.WarmDepth = mean(r.living("air.warm_depth")) * 1000
	r.extreme(-1, r.living("air.under_lid"), &w.UnderLidMin, &w.UnderLidAt)
	r.extreme(-1, r.living("air.at_cluster"), &w.ClusterMin, &w.ClusterAt)
}

func surfaces(w season.Water) Surfaces {
	return Surfaces{Lid: w.Lid, Walls: w.Walls, Floor: w.Floor, Combs: w.Combs}
}

func (r *record) moisture(l *Ledger) {
	t, w := &r.Totals, &l.Water
	w.Produced, w.HeldByBees = t.VapourMade, t.WaterHeld
	w.Vented = t.VapourOut - t.VapourIn
	w.Stored = t.Lying.Sum() + t.VapourGain
	w.FromNectar, w.Spread, w.Drunk = t.NectarDried, t.WaterHauled, t.Drunk
	w.FromHoney = w.Produced - w.FromNectar - w.Spread - w.Drunk
	w.Drained, w.RanDown = t.Drained, t.RanDown
	w.InShell, w.ThroughShell, w.Rain = t.WoodGain, t.Through, t.RainSoaked
	w.Condensed, w.Lying = surfaces(t.Settled), surfaces(t.Lying)
	w.LyingTotal = t.Lying.Sum()
	for _, x := range []struct {
		channel string
		most    *float64
	}{{"water.lid", &w.LyingMost.Lid}, {"water.walls", &w.LyingMost.Walls}, {"water.floor", &w.LyingMost.Floor}, {"water.combs", &w.LyingMost.Combs}} {
		*x.most, _ = most(1, r.get(x.channel))
	}
	w.Dripped, w.DrippedBees = t.Dripped, t.DrippedCore
	over := r.get("water.overhead")
	w.OverheadHours = overhead(over)
	if v, i := most(1, over); v > 0 {
		w.OverheadMost, w.OverheadAt = v, r.Time(i)
	}
	for h, kg := range over {
		if kg > OverheadLeast {
			if w.OverheadFirst.IsZero() {
				w.OverheadFirst = r.Time(h)
			}
			w.OverheadLast = r.Time(h)
		}
	}
	w.InStores = t.StoresTook
	inside := r.get("water.inside_shell")
	if v, i := most(1, inside); v > OverheadLeast {
		w.InsideMost, w.InsideMostAt = v, r.Time(i)
		for h, kg := range inside {
			if kg > OverheadLeast {
				w.InsideFirst = r.Time(h)
				break
			}
		}
	}
	w.First, w.FirstOver = firstWet(r.Wet, false), firstWet(r.Wet, true)
}

// overhead counts the hours with water above the cluster.
func overhead(over []float64) float64 {
	n := 0.0
	for _, kg := range over {
		if kg > OverheadLeast {
			n++
		}
	}
	return n
}

func (r *record) confinement(l *Ledger) {
	c := &l.Confinement
	c.Isolation = sum(r.living("bees.isolated"))
	reach := r.get("honey.reach")
	confined := r.living("bees.confined")
	for h := 0; h < len(confined); h++ {
		if confined[h] < 0.5 {
			continue
		}
		first := h
		for h < len(confined) && confined[h] >= 0.5 {
			h++
		}
		if n := float64(h - first); n > c.Longest {
			c.Longest, c.From, c.To, c.ReachAtStart = n, r.Time(first), r.Time(h), reach[first]
		}
	}
}

func (r *record) coldestWeek() *Week {
	const week = 7 * 24
	out := r.get("outdoor.temp")
	first, cold := -1, math.Inf(1)
	for _, h := range r.dayStarts(r.Hours) {
		if h+week > r.Hours {
			break
		}
		if m := mean(out[h : h+week]); m < cold {
			first, cold = h, m
		}
	}
	if first < 0 {
		return nil
	}
	part := func(name string) []float64 { return r.get(name)[first : first+week] }
	w := &Week{
		From: Date{r.Time(first)}, To: Date{r.Time(first + week - 1)},
		Outdoors: cold, Heat: mean(part("bees.heat")), Share: mean(part("bees.limit_share")), Honey: sum(part("honey.eaten")),
		UnderLid: mean(part("air.under_lid")), Cluster: mean(part("air.at_cluster")), Floor: mean(part("air.at_floor")),
		WarmDepth: mean(part("air.warm_depth")) * 1000, Confined: sum(part("bees.confined")), Overhead: overhead(part("water.overhead")),
	}
	w.Lowest, _ = most(-1, part("outdoor.temp"))
	return w
}
