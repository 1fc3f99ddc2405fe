// Package season joins a compiled hive, its bees and the weather, and carries
// them through time: air flow, heat, vapour with condensation, CO2 and honey.
//
// A run is a pure function of its input. It reads no files, clocks or
// databases, and runs may go on side by side.
package season

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"hackle/air"
	"hackle/airflow"
	"hackle/climate"
	"hackle/colony"
	"hackle/hive"
	"hackle/wall"
)

// Input is everything a run depends on.
type Input struct {
	Plan    hive.Plan
	Weather *climate.Series // exactly the hours of the run
	Biology colony.Biology
	// StepsPerHour sets the time step; 0: DefaultStepsPerHour.
	StepsPerHour int
	// Cells multiplies the cells of walls and boards and cuts the air into as much
	// thinner layers, to see what the usual grid leaves; 0 counts as 1.
	Cells int
	Ideal Ideal
	// Joints remembers thermal bridges between runs; nil: none shared.
	Joints *wall.Cache
}

// DefaultStepsPerHour keeps hourly air temperature within 0.1 K (RMS) of a run
// with a tenth of the step, which TestStepIsFineEnough holds it to.
const DefaultStepsPerHour = 2

// ErrInput wraps faults of the input.
var ErrInput = errors.New("season: unusable input")

// run is the state of one run beside the engine's.
type run struct {
	in     Input
	e      *engine
	bio    *colony.Biology
	trace  *Trace
	tot    *Totals
	joints *wall.Cache

	strength       colony.Strength
	ball           ball
	loose          []float64 // how spread bees share themselves over the cells
	demand         colony.Demand
	contact        float64 // honey within reach of the cluster since it last moved [kg]
	rearing        float64 // honey for brood beyond its heat [kg/s]
	flight         float64 // extra use of flying bees [W]
	flown          float64 // hours of flight since the day began [h]
	fan            float64 // air fanned out of the entrance [m³/s]
	isFanDry       bool    // it is damp that asks for the most of it
	gatePass       float64 // the most air that fanners drive out of the gate [m³/s]
	outside        float64 // share of the bees that hang outside [-]
	hot            hot
	wetSeen        map[string]bool
	combs          []hanging
	drunk, thirsty float64 // water bees took from wet faces in the last hour, and wanted [kg]
	nestHumidity   float64 // of the nest's air, end of the last step [-]
	nestRatio      float64 // its humidity ratio [kg/kg]
	carbonBefore   float64 // CO2 at the cluster beyond that outdoors, a step ago, volume fraction [-]
	dead           bool
	coldest        float64 // mean of the coldest month [°C]
	gate           int     // the opening that fanners stand in, -1 without

	built     string    // the state of wraps and trays compiled last
	today     time.Time // start of the running day
	windShare float64   // wind at the hive over wind at 10 m [-]
	edge      float64   // of a cube as large as the hive [m]
	exposure  airflow.Exposure
	nest      nest
	snow      []climate.Snow // that lies, by the hour; nil without any
	soil      float64        // temperature of the soil under a floor that lies on it [°C]
	hidden    [4]float64     // share of what each upright side sees that a hive beside it fills [-]
	lights    [3]lightOf
	acc       []float64 // hourly means in the making
	ch        channels
}

// Run computes one hive through the hours of the weather. It stops with the
// context's error when that is cancelled. Progress, when not nil, is called
// about a hundred times with the hours done.
func Run(ctx context.Context, in Input, progress func(done, total int)) (*Trace, error) {
	if in.Weather == nil || len(in.Weather.Hours) == 0 {
		return nil, fmt.Errorf("%w: no weather", ErrInput)
	}
	if in.StepsPerHour == 0 {
		in.StepsPerHour = DefaultStepsPerHour
	}
	if in.StepsPerHour < 1 || in.StepsPerHour > 3600 {
		return nil, fmt.Errorf("%w: %d steps an hour, need 1 to 3600", ErrInput, in.StepsPerHour)
	}
	if in.Cells < 0 || in.Cells > 8 {
		return nil, fmt.Errorf("%w: %d times the cells, need 0 to 8", ErrInput, in.Cells)
	}
	r := &run{in: in, joints: in.Joints}
	if r.joints == nil {
		r.joints = &wall.Cache{}
	}
	bio := in.Biology
	r.bio = &bio
	r.wetSeen = map[string]bool{}
	if err := r.begin(); err != nil {
		return nil, err
	}
	hours := len(in.Weather.Hours)
	every := max(1, hours/100)
	for h := range hours {
		if h%16 == 0 {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
		}
		if err := r.hour(h); err != nil {
			return nil, fmt.Errorf("season: %s at %s: %w", in.Plan.Hive.Name, r.trace.Time(h).Format("2006-01-02 15:04"), err)
		}
		if progress != nil && (h%every == 0 || h == hours-1) {
			progress(h+1, hours)
		}
	}
	r.end()
	return r.trace, nil
}

// begin compiles the hive, fills its combs and sets the bees on them.
func (r *run) begin() error {
	w := r.in.Weather
	c := r.in.Plan.Colony
	if !(c.Bees > 0) {
		return fmt.Errorf("%w: the colony of %q has no bees", ErrInput, r.in.Plan.Hive.Name)
	}
	r.strength = colony.Strength{Adults: c.Bees}
	r.coldest = coldestMonth(w)
	start := w.Start
	r.today = start
	if err := r.readSite(); err != nil {
		return fmt.Errorf("%w: %w", ErrInput, err)
	}
	// A winter cluster's usual size and heat set the columns for the whole run.
	r.nest = nest{breadth: 2 * r.bio.Radius(c.Bees, 5), power: r.bio.Heat(c.Bees, 0, 5, 5).Power, centre: c.ClusterAt, slab: seasonSlab / float64(max(1, r.in.Cells)), cells: r.in.Cells}
	b, err := compile(r.in.Plan, start, r.nest, r.in.Ideal, r.joints)
	if err != nil {
		return err
	}
	if len(b.combs) == 0 {
		return fmt.Errorf("%w: %q has no frames in any body, and its colony nothing to sit on; only a heater test runs without", ErrInput, r.in.Plan.Hive.Name)
	}
	r.built = config(&r.in.Plan.Hive, start)
	r.e = newEngine(b, r.in.Ideal)
	r.edge = b.size()
	r.strength.Sealed = min(r.sealedAsked(start), r.bio.BroodPerBee*c.Bees/r.bio.BeeMass)
	r.newTrace()
	if err := r.hangCombs(); err != nil {
		return err
	}
	r.tot = &r.trace.Totals
	r.tot.Lost.Openings = make([]float64, len(r.in.Plan.Hive.Openings))
	r.snow = w.Lying()
	r.soil = meanOfFirstDays(w)
	r.lookAside()
	o := r.outdoors(0, 0)
	r.e.start(o)
	r.e.season(r.usualHumidity())
	r.e.stock(r.usualHumidity())
	r.tot.ShellStart, _ = r.e.inShell()
	r.fill(c.Honey)
	r.tot.HoneyStart = r.honey()
	r.settle(c.ClusterAt)
	r.e.place(&r.ball)
	r.loose = make([]float64, len(r.e.cells))
	r.e.spreadOver(r.loose, &r.ball)
	r.contact = r.inContact()
	return nil
}

// usualHumidity is the mean outdoor humidity of the first two weeks, to which the
// wood of a hive is taken to have come. [-]
func (r *run) usualHumidity() float64 {
	h := r.in.Weather.Hours
	n := min(len(h), 14*24)
	sum := 0.0
	for i := range n {
		sum += h[i].RelHumidity
	}
	return clamp(sum/float64(n), 0.4, 0.9)
}

// meanOfFirstDays is the air's mean over the first three days. [°C]
func meanOfFirstDays(w *climate.Series) float64 {
	n := min(len(w.Hours), 72)
	sum := 0.0
	for i := range n {
		sum += w.Hours[i].TempAir
	}
	return sum / float64(n)
}

// season brings the shell into balance with a humidity. [-]
func (e *engine) season(humidity float64) {
	for i := range e.faces {
		f := &e.faces[i]
		f.moist.FillHumidity(e.wetOf(f), humidity, e.chain[f.offset:f.offset+f.chain.Cells()])
	}
}

// config tells apart the states of a hive for which it must be compiled anew.
func config(h *hive.Hive, date time.Time) string {
	s := ""
	for i := range h.Wraps {
		if h.Wraps[i].OnAt(date) {
			s += fmt.Sprint(i, ",")
		}
	}
	if h.Floor.Mesh && h.Floor.TrayOn(date) {
		s += "tray"
	}
	return s
}

func coldestMonth(w *climate.Series) float64 {
	var sum, n [13]float64
	for i := range w.Hours {
		m := w.Start.Add(time.Duration(i) * time.Hour).Month()
		sum[m] += w.Hours[i].TempAir
		n[m]++
	}
	cold := math.Inf(1)
	for m := range sum {
		if n[m] >= 24*14 {
			cold = min(cold, sum[m]/n[m])
		}
	}
	if math.IsInf(cold, 1) {
		return 0
	}
	return cold
}

// place of the hive on earth.
func (r *run) latitude() float64 {
	if r.in.Plan.Site.HasPlace {
		return r.in.Plan.Site.Latitude
	}
	return r.in.Weather.Latitude
}

// sealedAsked is what the running brood year asks for, or what is left of the
// last one.
func (r *run) sealedAsked(day time.Time) float64 {
	c, lat := r.in.Plan.Colony, r.latitude()
	now := colony.CourseFor(c, day, lat, r.coldest).Sealed(day)
	before := colony.CourseFor(c, day.AddDate(0, 0, -45), lat, r.coldest).Sealed(day)
	return max(now, before)
}

// fill puts honey into the combs from the top of the hive downward, in a
// partly filled layer beside the nest first, as bees leave it in autumn.
func (r *run) fill(kg float64) {
	e := r.e
	left := kg
	for k := len(e.slabs) - 1; k >= 0 && left > 0; k-- {
		for _, col := range []int{flank, core, beyond} {
			if col >= e.columns {
				continue
			}
			if j := e.cells[e.at(k, col)].comb; j >= 0 {
				put := min(left, e.combs[j].capacity)
				e.honey[j] = put
				left -= put
			}
		}
	}
	if left > 1e-9 {
		// Comb cannot hold it all: heap the rest where it is, rather than lose it.
		whole := kg - left
		for j := range e.honey {
			if whole > 0 {
				e.honey[j] *= kg / whole
			}
		}
		r.warn(fmt.Sprintf("the combs drawn hold %.1f kg, the colony is said to have %.1f kg of honey: frames are taken as overfull", whole, kg))
	}
}

func (r *run) warn(s string) { r.trace.Warnings = append(r.trace.Warnings, s) }

func (r *run) honey() float64 {
	sum := 0.0
	for _, h := range r.e.honey {
		sum += h
	}
	return sum
}

// settle sets the cluster at the lower edge of the honey, half on it, unless
// the keeper has said where it sits.
func (r *run) settle(at float64) {
	e := r.e
	r.demand = r.bio.Heat(r.strength.Adults, r.strength.Sealed, e.temp[0], e.temp[0])
	r.ball.radius = r.demand.Radius
	z := at
	if z == 0 {
		z = e.height
		for k := range e.slabs {
			if j := e.cells[e.at(k, core)].comb; j >= 0 && e.honey[j] > 0.3*e.combs[j].capacity {
				z = e.slabs[k].bottom
				break
			}
		}
	}
	r.ball.centre = r.held(z)
}

// held keeps the cluster inside the combs.
func (r *run) held(z float64) float64 {
	e := r.e
	low, high := math.Inf(1), 0.0
	for _, s := range e.slabs {
		if s.comb {
			low, high = min(low, s.bottom), max(high, s.top)
		}
	}
	if high-low < 2*r.ball.radius {
		return (low + high) / 2
	}
	return clamp(z, low+r.ball.radius, high-r.ball.radius)
}

// inContact is the honey that the cluster touches where it sits. [kg]
func (r *run) inContact() float64 {
	e := r.e
	sum := 0.0
	for k := range e.slabs {
		if j := e.cells[e.at(k, core)].comb; j >= 0 {
			sum += e.honey[j] * (1 - r.ball.open[k])
		}
	}
	return sum
}

// hour advances everything by one hour of weather.
func (r *run) hour(h int) error {
	clear(r.acc)
	now := r.trace.Time(h)
	if now.Hour() == 0 || h == 0 {
		if err := r.day(now, h == 0); err != nil {
			return err
		}
	}
	e := r.e
	r.beginHour(h)
	r.feelSoil(h)
	r.snowWays(h)
	n := r.in.StepsPerHour
	dt := 3600 / float64(n)
	e.place(&r.ball)
	e.narrow(&r.ball)
	r.forage(h)
	for i := range n {
		o := r.outdoors(h, float64(i+1)/float64(n))
		change, err := e.step(dt, &o, maxRounds, roundTolerance, r.sources)
		if err != nil {
			return err
		}
		r.trace.Stats.Steps++
		if change > unready {
			r.trace.Stats.Unready++
		}
		r.account(dt, &o)
		r.feed(dt)
		r.thirst(dt)
		r.readNest(&o)
		r.ventilate(&o, dt)
		r.cool(h, dt)
	}
	r.move(h)
	r.rainOn(h)
	r.absorb()
	r.drink()
	r.strain()
	r.endHour(h)
	return nil
}

// day does what happens once a day: deaths and births, brood, feeding, changes
// of the hive.
func (r *run) day(now time.Time, first bool) error {
	r.today = now
	if !first {
		honey := r.strength.Day(r.bio, r.sealedAsked(now), min(1, r.flown/flyingDay))
		r.flown = 0
		r.rearing = honey / 86400
		if r.dead {
			r.strength, r.rearing = colony.Strength{}, 0
		}
	}
	for _, f := range r.in.Plan.Colony.Feeds {
		if falls(f.Day, now) {
			r.addHoney(f.Honey)
			r.tot.HoneyFed += f.Honey
			r.event(now, fmt.Sprintf("fed %s, %.1f kg of stores", f.Kind, f.Honey))
		}
	}
	if s := config(&r.in.Plan.Hive, now); s != r.built {
		if err := r.rebuild(now); err != nil {
			return err
		}
		r.built = s
		r.event(now, "wrap or tray changed")
	}
	out := r.e.drainShell()
	r.tot.WoodGain -= out
	r.drained(out)
	r.e.moisten()
	r.e.snowOff()
	r.e.openOn(now)
	r.findEntrance()
	return r.weigh()
}

// falls reports whether a day is on date.
func falls(d hive.Day, date time.Time) bool {
	return d.Month == date.Month() && d.Day == date.Day() && (d.Year == 0 || d.Year == date.Year())
}

func (r *run) event(at time.Time, what string) {
	r.trace.Events = append(r.trace.Events, Event{at, what})
}

// addHoney stores food in the free comb nearest the cluster.
func (r *run) addHoney(kg float64) {
	e := r.e
	for _, col := range []int{core, flank, beyond} {
		for _, k := range r.near() {
			if col >= e.columns || kg <= 0 {
				continue
			}
			if j := e.cells[e.at(k, col)].comb; j >= 0 {
				put := min(kg, max(0, e.combs[j].capacity-e.honey[j]))
				e.honey[j] += put
				kg -= put
			}
		}
	}
	if kg > 0 {
		for j := range e.honey { // a feeder above: count it in the top comb
			if j == len(e.honey)-1 {
				e.honey[j] += kg
			}
		}
	}
	r.contact = r.inContact()
}

// near lists the slabs from the cluster's middle outward.
func (r *run) near() []int {
	e := r.e
	out := make([]int, 0, len(e.slabs))
	used := make([]bool, len(e.slabs))
	for range e.slabs {
		best, d := -1, math.Inf(1)
		for k, s := range e.slabs {
			if x := math.Abs(s.middle() - r.ball.centre); !used[k] && x < d {
				best, d = k, x
			}
		}
		used[best] = true
		out = append(out, best)
	}
	return out
}

// rebuild compiles the hive for a new date and carries the state over. New
// parts come at outdoor temperature.
func (r *run) rebuild(now time.Time) error {
	old := r.e
	b, err := compile(r.in.Plan, now, r.nest, r.in.Ideal, r.joints)
	if err != nil {
		return err
	}
	e := newEngine(b, r.in.Ideal)
	o := r.outdoors(int(now.Sub(r.trace.Start).Hours()), 0)
	e.start(o)
	e.season(r.usualHumidity())
	copy(e.owed, old.owed)
	copy(e.temp, old.temp)
	copy(e.ratio, old.ratio)
	copy(e.co2, old.co2)
	copy(e.comb, old.comb)
	copy(e.combWat, old.combWat)
	copy(e.combIce, old.combIce)
	copy(e.honey, old.honey)
	e.larders = old.larders
	type key struct {
		name      string
		cell, far int
	}
	at := map[key]int{}
	for i, f := range old.faces {
		at[key{f.name, f.cell, f.far}] = i
	}
	for i, f := range e.faces {
		j, ok := at[key{f.name, f.cell, f.far}]
		if !ok {
			continue
		}
		g := old.faces[j]
		n := min(f.chain.Cells(), g.chain.Cells())
		copy(e.chain[f.offset:f.offset+n], old.chain[g.offset:g.offset+n])
		m := min(f.moist.Cells(), g.moist.Cells())
		copy(e.content[f.wetAt:f.wetAt+m], old.content[g.wetAt:g.wetAt+m])
		e.pNear[i], e.pFar[i] = old.pNear[j], old.pFar[j]
		e.near[i].debt, e.distant[i].debt = old.near[j].debt, old.distant[j].debt
		e.face[i], e.farFace[i] = old.face[j], old.farFace[j]
		e.water[i], e.farWat[i] = old.water[j], old.farWat[j]
		e.ice[i], e.farIce[i] = old.ice[j], old.farIce[j]
		e.mould[i] = old.mould[j]
		delete(at, key{f.name, f.cell, f.far})
	}
	for _, j := range at { // water on what was taken away leaves with it
		r.drained(old.water[j] + old.farWat[j])
	}
	e.rounds, e.newton = old.rounds, old.newton
	// What parts put on bring, and parts taken off take along.
	had, _ := old.inShell()
	has, _ := e.inShell()
	r.tot.PartsWater += has - had
	old.readCombs()
	e.readCombs()
	r.tot.PartsHeat += e.heatStored(e.chain, e.comb) - old.heatStored(old.chain, old.comb)
	r.e = e
	r.ball.weight = nil
	return nil
}

// snowWays narrows what lies in the snow of an hour.
func (r *run) snowWays(h int) {
	s := r.snowNow(h)
	if s.Depth == 0 && r.e.openWays == nil {
		return
	}
	r.e.snowOff()
	if s.Depth > 0 {
		r.e.snowIn(s, &bank{top: s.Depth - r.in.Plan.Hive.StandHeight - r.e.floorThickness()})
	}
	r.findEntrance()
}

// beeWay is the open area from which bees fan at an opening: less lets no bee pass.
// An estimate. [m²]
const beeWay = 1e-5

// findEntrance looks for the opening in which fanners stand: the widest open
// one in the lower half of the hive, else the widest.
func (r *run) findEntrance() {
	e := r.e
	r.gate = -1
	area := make([]float64, len(e.plan.Hive.Openings))
	low := make([]float64, len(area))
	for i := range e.flows {
		f := &e.flows[i]
		if f.kind != flowOpening || e.cond.Scale[i] <= 0 {
			continue
		}
		a := e.areas[i] * e.cond.Scale[i]
		area[f.opening] += a
		if e.links[i].Height <= e.height/2 {
			low[f.opening] += a
		}
	}
	best := 0.0
	for i, a := range area {
		if a < beeWay {
			continue
		}
		if rank := low[i] + 0.01*(a-low[i]); rank > best {
			best, r.gate = rank, i
		}
	}
	r.gatePass = 0
	if r.gate >= 0 {
		half := area[r.gate] / 2
		in := half
		for i := range e.flows {
			if f := &e.flows[i]; e.links[i].To == outOfDoors && !(f.kind == flowOpening && f.opening == r.gate) {
				in += e.areas[i] * e.cond.Scale[i]
			}
		}
		r.gatePass = fanJet * min(half, dischargeDefault*in)
	}
}

// fanJet is the fastest air measured behind fanning bees: up to 4 m/s (anemometer at
// an entrance, abstract of a meeting of comparative biologists). Its dynamic
// pressure, 10 Pa, must drive the same air in again: through the half of the entrance
// that fanners leave free, and through all other ways. That they take half is an
// estimate. [m/s]
const fanJet = 4.0

// sources sets what bees and brood give to the air of the core, from the air's
// temperature of the last round.
func (r *run) sources() {
	e := r.e
	clear(e.source)
	clear(e.swing)
	clear(e.moisture)
	clear(e.carbon)
	clear(e.fanOut)
	if r.dead {
		r.demand = colony.Demand{}
		clear(e.ripening) // what is open then stays as it is
		clear(e.drying)
		clear(e.ripeSlope)
		r.hot.drying = 0
		return
	}
	beside := e.besides(&r.ball)
	around := 0.0
	for i, w := range r.loose {
		around += w * e.temp[i]
	}
	d := r.bio.Heat(r.strength.Adults*(1-r.outside), r.strength.Sealed, beside, around)
	r.demand = d
	eaten := r.bio.HoneyRate(d.Power)
	vapour := eaten * colony.WaterPerHoney * (1 - r.bio.WaterHeld)
	warm := 1 - latentWater*vapour/max(d.Power, 1e-9)
	for i := range r.ball.weight {
		w := d.Spread*r.loose[i] + (1-d.Spread)*r.ball.weight[i]
		if w == 0 {
			continue
		}
		e.source[i] = w * warm * d.Power
		e.swing[i] = w * warm * d.Slope
		// Each cell follows its own temperature about the common one, so that
		// the sum follows the mean.
		e.source[i] -= e.swing[i] * (beside - e.temp[i])
		e.moisture[i] = w * vapour
		e.carbon[i] = w * eaten * colony.CO2PerHoney
	}
	r.summerSources()
	if r.fan > 0 && r.gate >= 0 {
		// Fanners stand in a row from the nest to the entrance: what leaves by them
		// is air of the nest, and fresh air comes in beside them.
		for i, w := range r.ball.weight {
			e.fanOut[i] = w * r.fan * e.cond.Density[i]
		}
	}
}

// response is the time in which bees come by two thirds to a new strength of
// fanning, spraying or hanging out; an estimate. [s]
const response = 1800.0

// towards is the share of a change that bees make within a step. [-]
func towards(dt float64) float64 { return 1 - math.Exp(-dt/response) }

// ventilate decides how hard bees fan in the next step: against CO2, against
// warmth above what they want, and to dry nectar.
//
// Bees answer what they feel, and what they feel answers them: each aim is met
// together with what the air does by then, so that the answer depends on the
// length of the step no more than the air itself does. How the air answers is
// taken as that of one mixed space with the fresh air it had in the last step.
func (r *run) ventilate(o *outdoors, dt float64) {
	if r.dead || r.gate < 0 {
		r.fan, r.outside = 0, 0
		return
	}
	b := r.bio
	bees := r.strength.Adults / b.BeeMass
	limit := min(b.FanLimit, b.FanShare*bees*b.FanFlow, r.gatePass)
	forGas := r.fanForGas(dt)
	beside := r.e.besides(&r.ball)
	warm := b.FanWarm
	if r.strength.Sealed > 100 {
		warm = b.FanBrood
	}
	forHeat := 0.0
	if over := beside - o.temp; over > 0 && beside > warm {
		hold := r.nestHold(o, dt)
		forHeat = meet(limit, func(f float64) float64 {
			more := nestAir * (f - r.fan)
			return limit * clamp((beside-more*over/(hold+more)-warm)/3, 0, 1)
		})
	}
	// Ripening nectar and spread water want dry air.
	forWater := 0.0
	if (r.hot.unripe > 0.05 || r.hot.spray > 0) && r.nestHumidity > 0.6 {
		given := 0.0
		for _, m := range r.e.moisture {
			given += m
		}
		given += r.e.driedNow()
		over := max(r.nestRatio-o.ratio, 1e-6)
		other := max(given/(1.15*over)-r.fan, 1e-6)
		forWater = meet(limit, func(f float64) float64 {
			ratio := o.ratio + over*(other+r.fan)/(other+f)
			return limit * clamp((r.nestHumidity*ratio/r.nestRatio-0.6)/0.25, 0, 1)
		})
	}
	r.fan += towards(dt) * (min(limit, max(forGas, forHeat, forWater)) - r.fan)
	if r.fan < 1e-7 {
		r.fan = 0
	}
	r.isFanDry = forWater > 0 && forWater >= max(forGas, forHeat)
	// Bees leave the combs that stay too warm all the same: one half move down to the
	// brood nest, the other hang outside.
	const stay, span = 0.5, 4.0 // share, and kelvins from the first to the last who leave; estimates
	leave := 0.0
	for i, w := range r.loose {
		leave += w * clamp((r.e.temp[i]-b.HangOut)/span, 0, 1)
	}
	leave *= 1 - stay
	r.outside += towards(dt) * (leave - r.outside)
	if r.outside < 1e-4 {
		r.outside = 0
	}
}

// nestAir is the heat capacity of nest air near 30 °C by volume. [J/(m³·K)]
const nestAir = 1.15 * dryHeat

// nestHold is how much heat it takes to warm the nest's air by a kelvin within a
// step: what leaves with the air and through the shell, and what the combs round
// it take up. [W/K]
func (r *run) nestHold(o *outdoors, dt float64) float64 {
	e := r.e
	hold := nestAir*r.fan + 0.3 // never less than a small hive's shell
	if over := e.besides(&r.ball) - o.temp; over > 0 {
		hold = max(hold, r.demand.Power/over)
	}
	for i, w := range r.ball.weight {
		if j := e.cells[i].comb; w > 0 && j >= 0 && e.seam[j] > 0 {
			hold += 1 / (1/e.seam[j] + dt/e.store[j])
		}
	}
	return hold
}

// fanForGas is the fanned flow at which CO2 stays where bees bear it: a few bees
// clear the air. [m³/s]
func (r *run) fanForGas(dt float64) float64 {
	const gasFanners = 20
	b := r.bio
	most := gasFanners * b.FanFlow
	now, before := r.carbonAtCluster()-ambient, r.carbonBefore
	r.carbonBefore = now
	if now+ambient <= 0.7*b.CO2Fan || now <= 0 {
		return 0
	}
	given := 0.0
	for _, c := range r.e.carbon {
		given += c
	}
	given /= 1.2 * massCO2 // as volume [m³/s]
	// Implicit Euler of a mixed space, first for what the last step's fresh air
	// was, then for what the next one's must be.
	volume := r.e.airVolume
	fresh := max(0, ((before-now)*volume/dt+given)/now-r.fan)
	return meet(most, func(f float64) float64 {
		c := (now*volume/dt+given)/(volume/dt+fresh+f) + ambient
		return most * clamp((c-b.CO2Fan)/b.CO2Fan, 0, 1)
	})
}

// meet is where x = want(x) for a want that falls with x, between 0 and most.
func meet(most float64, want func(x float64) float64) float64 {
	low, high := 0.0, most
	if want(0) <= 0 {
		return 0
	}
	for range 30 {
		if x := (low + high) / 2; want(x) > x {
			low = x
		} else {
			high = x
		}
	}
	return (low + high) / 2
}

// readNest notes the humidity of the air the bees sit in.
func (r *run) readNest(o *outdoors) {
	ratio := 0.0
	for i, w := range r.ball.weight {
		ratio += w * r.e.ratio[i]
	}
	r.nestRatio = ratio
	r.nestHumidity = humidity(r.e.besides(&r.ball), ratio, o.pressure)
}

// carbonAtCluster is the volume fraction of CO2 in the air the bees breathe. [-]
func (r *run) carbonAtCluster() float64 {
	c := 0.0
	for i, w := range r.ball.weight {
		c += w * r.e.co2[i] / massCO2
	}
	return c
}

// feed takes what was eaten in a step from the combs.
func (r *run) feed(dt float64) {
	if r.dead {
		return
	}
	heat := r.demand.Power
	kg := (r.bio.HoneyRate(heat+r.flight) + r.rearing) * dt
	left := kg - r.take(kg)
	eaten := kg - left
	r.contact -= eaten
	r.tot.HoneyEaten += eaten
	r.acc[r.ch.honeyUse] += eaten
	if left > 1e-9 {
		r.dead = true
		r.strength = colony.Strength{}
		r.event(r.now(), "the last honey is eaten; the colony starves")
		r.trace.Warnings = append(r.trace.Warnings, "the colony starves on "+r.now().Format("2 January 2006"))
	}
}

func (r *run) now() time.Time { return r.trace.Time(r.ch.hour) }

// take removes honey from the combs: what the cluster touches first, then core
// combs from the nearest outward, then the others. It returns what it found. [kg]
func (r *run) take(kg float64) float64 {
	e := r.e
	found := 0.0
	touch := 0.0
	for k := range e.slabs {
		if j := e.cells[e.at(k, core)].comb; j >= 0 {
			touch += e.honey[j] * (1 - r.ball.open[k])
		}
	}
	if touch > 0 {
		share := min(1, kg/touch)
		for k := range e.slabs {
			if j := e.cells[e.at(k, core)].comb; j >= 0 {
				part := share * e.honey[j] * (1 - r.ball.open[k])
				e.honey[j] -= part
				found += part
			}
		}
	}
	if kg-found <= 1e-12 {
		return found
	}
	for _, col := range []int{core, flank, beyond} {
		if col >= e.columns {
			break
		}
		for _, k := range r.near() {
			j := e.cells[e.at(k, col)].comb
			if j < 0 {
				continue
			}
			part := min(e.honey[j], kg-found)
			e.honey[j] -= part
			found += part
			if kg-found <= 1e-12 {
				return found
			}
		}
	}
	return found
}

// Cluster movement: at most this far in an hour, when less honey than this is
// left in contact.
const (
	climb    = 0.02 // [m]
	moveDays = 10.0 // [d] estimate: clusters keep honey over and round them
	// creep is how far a cluster works its way up its own combs in frost: bees of its
	// upper edge, kept above their chill by those below, step from cells they have
	// emptied to the next. It takes no walk through cold air, unlike the way to other
	// combs or down; keepers find colonies starved beside honey, seldom under it
	// (common practice, no source); how fast is an estimate. [m/h]
	creep = 0.0005
	// creepDays of honey in contact is less than the upper edge keeps. Estimate. [d]
	creepDays = 2.0
)

// move lets the cluster follow its stores when the air beside it is warm enough
// for bees to walk; in frost it only creeps. Upward first; when nothing lies above, over to the next
// combs, which then are the core: the two change places.
func (r *run) move(h int) {
	e := r.e
	if r.dead {
		return
	}
	r.ball.radius = r.demand.Radius
	r.ball.centre = r.held(r.ball.centre)
	perDay := (r.bio.HoneyRate(r.demand.Power+r.flight) + r.rearing) * 86400
	warm := r.warmestAround() >= r.bio.MoveAbove
	r.acc[r.ch.confined] = 1
	if warm {
		r.acc[r.ch.confined] = 0
		if r.inContact() < moveDays*perDay {
			r.shift()
		}
		e.place(&r.ball)
		r.contact = r.inContact()
	} else if r.contact < creepDays*perDay && r.honeyAbove() > 0 {
		r.ball.centre = r.held(r.ball.centre + creep)
		e.place(&r.ball)
		r.contact = r.inContact()
	}
	reach := 0.0
	if perDay > 0 {
		reach = max(0, r.contact) / perDay
	}
	r.acc[r.ch.reach] = reach
	if r.contact <= 0 && !warm {
		r.acc[r.ch.isolated] = 1
	}
}

// warmestAround is the warmest air that bees at the edge of the cluster meet: in
// the core beside it or next above it, where its own warmth gathers. [°C]
func (r *run) warmestAround() float64 {
	e := r.e
	t := math.Inf(-1)
	low, high := r.ball.centre-r.ball.radius, r.ball.centre+r.ball.radius
	for k, s := range e.slabs {
		if s.top <= low {
			continue
		}
		t = max(t, e.temp[e.at(k, core)])
		if s.bottom > high {
			break
		}
	}
	return t
}

// honeyAbove is the honey over the middle of the cluster in its own combs. [kg]
func (r *run) honeyAbove() float64 {
	e := r.e
	sum := 0.0
	for k, s := range e.slabs {
		if j := e.cells[e.at(k, core)].comb; j >= 0 && s.middle() > r.ball.centre {
			sum += e.honey[j]
		}
	}
	return sum
}

func (r *run) shift() {
	e := r.e
	above, here := r.honeyAbove(), 0.0
	for k := range e.slabs {
		j := e.cells[e.at(k, core)].comb
		if j < 0 {
			continue
		}
		here += e.honey[j] * (1 - r.ball.open[k])
	}
	next := r.held(r.ball.centre + climb)
	if above > here && next > r.ball.centre+1e-6 {
		r.ball.centre = next
		return
	}
	// Sideways: swap the core's combs with as many fuller ones of the flank.
	for k := range e.slabs {
		i := e.cells[e.at(k, core)].comb
		j := e.cells[e.at(k, flank)].comb
		if i < 0 || j < 0 {
			continue
		}
		n := min(e.combs[i].count, e.combs[j].count)
		mine, theirs := e.honey[i]/e.combs[i].count, e.honey[j]/e.combs[j].count
		if theirs > mine {
			e.honey[i] += n * (theirs - mine)
			e.honey[j] -= n * (theirs - mine)
		}
	}
	// Honey below is reached last, when all above is gone.
	if r.inContact() <= 0 {
		r.ball.centre = r.held(r.ball.centre - climb)
	}
}

// account moves water, walls and sums on at the end of a step.
func (r *run) account(dt float64, o *outdoors) {
	e, t := r.e, r.tot
	t.Seconds += dt
	before := e.heatStored(e.past.chain, e.past.comb)
	for i := range e.owed {
		e.owed[i] = 0
	}
	for i := range e.faces {
		f := &e.faces[i]
		st := e.chain[f.offset : f.offset+f.chain.Cells()]
		if f.far >= 0 {
			f.chain.AdvanceBoth(st, e.face[i], e.farFace[i], &e.work[i])
		} else {
			outer, q := f.chain.Advance(st, e.face[i], &e.work[i])
			e.outer[i] = outer
			r.lose(f, q*f.area*dt)
		}
	}
	copy(e.comb, e.combNew)
	gain := e.heatStored(e.chain, e.comb) - before
	if e.past.second(dt) {
		gain, e.past.heat = 1.5*gain-0.5*e.past.heat, gain
	} else {
		e.past.heat = gain
	}
	t.Stored += gain + e.airStored()
	e.past.dt = dt
	if !e.ideal.NoSorption {
		for i := range e.faces {
			r.soak(i, dt)
		}
	}
	for _, x := range e.edges {
		q := x.conductance * (e.temp[x.cell] - o.temp)
		t.Lost.Edges += q * dt
		r.acc[r.ch.lossEdges] += q * dt
	}
	r.airAccount(dt, o)
	sensible := 0.0
	for i, s := range e.source {
		sensible += s + e.swing[i]*(e.temp[i]-e.last[i])
		made := e.moisture[i] + e.ripening[i] - e.drying[i]*e.ratio[i]
		t.VapourMade += made * dt
		t.CarbonMade += e.carbon[i] * dt
		r.acc[r.ch.vapour] += made * dt
	}
	t.Sensible += sensible * dt
	t.BeesHeat += r.demand.Power * dt
	t.WaterHeld += r.bio.HoneyRate(r.demand.Power) * colony.WaterPerHoney * r.bio.WaterHeld * dt
	r.acc[r.ch.heat] += r.demand.Power * dt
	r.settleWater(dt)
	r.fillLarders(dt)
	for i, cl := range e.cells {
		m := cl.volume * e.cond.Density[i]
		t.VapourGain += m * (e.ratio[i] - e.old.ratio[i])
		t.CarbonGain += m * (e.co2[i] - e.old.co2[i])
	}
}

// soak moves the water of a wall on and books it. What the wall keeps has
// condensed in it: its heat goes to the inner face.
func (r *run) soak(i int, dt float64) {
	e, t := r.e, r.tot
	f := &e.faces[i]
	in := e.wetOf(f)
	l := &e.vapour[i]
	area := f.area * dt
	if f.far < 0 {
		took := (l.g*e.pNear[i] - l.s) * area
		left := f.moist.Advance(in, e.pNear[i], &e.damp[i]) * area
		t.Absorbed += took
		t.Through += left
		r.acc[r.ch.through] += left
		t.WoodGain += took - left
		// What dries outward takes its heat from the outer side, the rest from the
		// inner face.
		kept := took - left
		if outward := min(left, -kept); outward > 0 && f.chain.WarmOuter(e.chain[f.offset:f.offset+f.chain.Cells()], -outward*latentWater/f.area) {
			// Taken from the step before as well, so that it is no change in time.
			f.chain.WarmOuter(e.past.chain[f.offset:f.offset+f.chain.Cells()], -outward*latentWater/f.area)
			t.Latent -= outward * latentWater
			t.Stored -= outward * latentWater
			kept += outward
		}
		e.near[i].leaving = (took - kept) / dt
		r.sorptionHeat(&e.near[i], kept, dt)
		return
	}
	// The pressures of both sides at the end of the step, against those that the
	// air of each side was told.
	a := (l.gAA*e.pNear[i] - l.gAB*e.pFar[i] - l.sA) * area
	b := (l.gBB*e.pFar[i] - l.gAB*e.pNear[i] - l.sB) * area
	f.moist.AdvanceBoth(in, e.pNear[i], e.pFar[i], &e.damp[i])
	e.owed[f.cell] += a - e.told(f.cell, i, false)*dt
	e.owed[f.far] += b - e.told(f.far, i, true)*dt
	t.Absorbed += a + b
	t.WoodGain += a + b
	r.sorptionHeat(&e.near[i], a, dt)
	r.sorptionHeat(&e.distant[i], b, dt)
}

// drained books water that leaves the hive as a liquid. [kg]
func (r *run) drained(kg float64) {
	r.tot.Drained += kg
	r.acc[r.ch.drained] += kg
}

// sorptionHeat books the heat of the water that a wall kept in a step [kg]. What
// heat's solution did not have of it is paid in the next step.
func (r *run) sorptionHeat(l *latentHeat, kept, dt float64) {
	l.debt += (kept - l.sorbed*dt) * latentWater
	r.tot.Latent += kept * latentWater
}

// told is the vapour that a board took from the air of one side by the last
// solution. [kg/s]
func (e *engine) told(cell, i int, far bool) float64 {
	p := &e.pNear[i]
	if far {
		p = &e.pFar[i]
	}
	for k := range e.wetFaces {
		if f := &e.wetFaces[k]; f.p == p {
			return f.g**p - f.s
		}
	}
	return 0
}

// lose books heat that left through an outer face. [J]
func (r *run) lose(f *surface, joule float64) {
	l := &r.tot.Lost
	switch f.part {
	case partWall:
		l.Walls[f.side] += joule
		r.acc[r.ch.lossWalls] += joule
	case partFloor:
		l.Floor += joule
		r.acc[r.ch.lossFloor] += joule
	default:
		l.Lid += joule
		r.acc[r.ch.lossLid] += joule
	}
}

// heatStored in shell and combs of given temperatures, above 0 °C. [J]
func (e *engine) heatStored(chain, comb []float64) float64 {
	sum := 0.0
	for i := range e.faces {
		f := &e.faces[i]
		sum += f.area * f.chain.Heat(chain[f.offset:f.offset+f.chain.Cells()])
	}
	for i := range e.combs {
		sum += e.store[i] * comb[i]
	}
	return sum
}

// airStored is the heat that the air gained in the step. [J]
func (e *engine) airStored() float64 {
	sum := 0.0
	for i, cl := range e.cells {
		sum += cl.volume * e.cond.Density[i] * dryHeat * (e.temp[i] - e.old.temp[i])
	}
	return sum
}

// airAccount books what air carried out of and into the hive.
func (r *run) airAccount(dt float64, o *outdoors) {
	e, t := r.e, r.tot
	carry := func(kind flowKind, opening int, heat float64) {
		switch kind {
		case flowOpening:
			t.Lost.Openings[opening] += heat
			r.acc[r.ch.lossOpenings] += heat
			r.acc[r.ch.openHeat[opening]] += heat / 3600
		case flowMesh:
			t.Lost.Mesh += heat
			r.acc[r.ch.lossOpenings] += heat
		case flowLidVent:
			t.Lost.Lid += heat
			r.acc[r.ch.lossLid] += heat
		default:
			t.Lost.Cracks += heat
			r.acc[r.ch.lossCracks] += heat
		}
	}
	out := func(cell int, mass float64) {
		t.AirOut += mass * dt
		t.VapourOut += mass * e.ratio[cell] * dt
		r.acc[r.ch.vented] += mass * e.ratio[cell] * dt
		t.CarbonOut += mass * e.co2[cell] * dt
		r.acc[r.ch.airOut] += mass / e.cond.Density[cell] * dt / 3600
	}
	in := func(mass float64) {
		t.AirIn += mass * dt
		t.VapourIn += mass * o.ratio * dt
		r.acc[r.ch.vented] -= mass * o.ratio * dt
		t.CarbonIn += mass * ambient * massCO2 * dt
	}
	for i, mass := range e.mass {
		l, f := &e.links[i], &e.flows[i]
		if l.To >= 0 || mass == 0 {
			continue
		}
		if mass > 0 {
			out(l.From, mass)
			carry(f.kind, f.opening, mass*dryHeat*(e.temp[l.From]-o.temp)*dt)
			if f.kind == flowOpening {
				r.acc[r.ch.openOut[f.opening]] += mass / e.cond.Density[l.From] * dt / 3600
			}
		} else {
			in(-mass)
			if f.kind == flowOpening {
				r.acc[r.ch.openIn[f.opening]] -= mass / e.cond.OutdoorDensity * dt / 3600
			}
		}
	}
	for _, x := range e.extra {
		if x.to >= 0 {
			continue
		}
		out(x.from, x.mass)
		in(x.mass)
		heat := x.mass * dryHeat * (e.temp[x.from] - o.temp) * dt
		switch {
		case x.opening >= 0:
			carry(flowOpening, x.opening, heat)
			r.acc[r.ch.openOut[x.opening]] += x.mass / e.cond.Density[x.from] * dt / 3600
			r.acc[r.ch.openIn[x.opening]] += x.mass / e.cond.OutdoorDensity * dt / 3600
		case x.from == e.lidCell:
			carry(flowLidVent, 0, heat)
		default:
			carry(flowMesh, 0, heat)
		}
	}
	for cell, mass := range e.fanOut {
		if mass > 0 {
			out(cell, mass)
			carry(flowOpening, r.gate, mass*dryHeat*(e.temp[cell]-o.temp)*dt)
			r.acc[r.ch.openOut[r.gate]] += mass / e.cond.Density[cell] * dt / 3600
		}
	}
}

// settleWater moves liquid on: what walls cannot hold runs down to the floor,
// what hangs overhead beyond its film drips, puddles drain.
func (r *run) settleWater(dt float64) {
	e, t := r.e, r.tot
	book := func(p part, came float64, settled, dried *Water) {
		w := settled
		if came < 0 {
			w, came = dried, -came
		}
		switch p {
		case partWall, partFollower, partRim:
			w.Walls += came
		case partFloor:
			w.Floor += came
		default:
			w.Lid += came
		}
	}
	toFloor := 0.0
	for i := range e.faces {
		f := &e.faces[i]
		came := e.wetting[i] * dt
		t.Latent += latentAt(e.face[i]) * came
		book(f.part, came, &t.Settled, &t.Dried)
		e.water[i] = max(0, e.water[i]+came)
		r.freeze(e.water[i], &e.ice[i], came, e.face[i], e.holds(i), dt, &e.near[i])
		if f.far >= 0 {
			came := e.farWet[i] * dt
			t.Latent += latentAt(e.farFace[i]) * came
			book(f.part, came, &t.Settled, &t.Dried)
			e.farWat[i] = max(0, e.farWat[i]+came)
			r.freeze(e.farWat[i], &e.farIce[i], came, e.farFace[i], (e.farFilm[i]+e.farRad[i]+e.law[i].gBB)*f.area, dt, &e.distant[i])
		}
		switch f.part {
		case partWall, partFollower, partRim:
			if over := e.water[i] - e.ice[i] - filmHold*f.area; over > 0 {
				t.RanDown += over
				toFloor += over
				e.water[i] -= over
			}
		case partLid, partBoard:
			if drop := e.water[i] - e.ice[i] - dripHold*f.area; drop > 0 {
				if e.plan.Hive.Tilt >= dripAngle {
					// It runs along the slope and down the wall at the low edge.
					t.RanDown += drop
				} else {
					t.Dripped += drop
					if f.over {
						t.DrippedCore += drop
					}
				}
				toFloor += drop
				e.water[i] -= drop
			}
		}
	}
	for i := range e.combs {
		came := e.combWet[i] * dt
		t.Latent += latentAt(e.combNew[i]) * came
		if came > 0 {
			t.Settled.Combs += came
		} else {
			t.Dried.Combs -= came
		}
		e.combWat[i] = max(0, e.combWat[i]+came)
		r.freeze(e.combWat[i], &e.combIce[i], came, e.combNew[i], e.seam[i]+e.store[i]/dt, dt, &e.onComb[i])
		if over := e.combWat[i] - e.combIce[i] - filmHold*e.combs[i].faceArea; over > 0 {
			t.RanDown += over
			toFloor += over
			e.combWat[i] -= over
		}
	}
	floor := 0.0
	for i := range e.faces {
		if f := &e.faces[i]; f.part == partFloor {
			floor += f.area
		}
	}
	if floor == 0 {
		r.drained(toFloor)
		return
	}
	for i := range e.faces {
		f := &e.faces[i]
		if f.part != partFloor {
			continue
		}
		e.water[i] += toFloor * f.area / floor
		if over := e.water[i] - e.ice[i] - floorHold*f.area; over > 0 {
			r.drained(over)
			e.water[i] -= over
		}
	}
}

// lying is the water on the faces now. [kg]
func (e *engine) lying() (w Water, overCore float64) {
	for i := range e.faces {
		f := &e.faces[i]
		x := e.water[i] + e.farWat[i]
		switch f.part {
		case partWall, partFollower, partRim:
			w.Walls += x
		case partFloor:
			w.Floor += x
		default:
			w.Lid += x
			if f.over {
				overCore += e.water[i]
			}
		}
	}
	for _, x := range e.combWat {
		w.Combs += x
	}
	return
}

func (r *run) end() {
	r.tot.HoneyEnd = r.honey()
	r.tot.ShellEnd, _ = r.e.inShell()
	r.tot.Lying, _ = r.e.lying()
	for _, g := range r.combs {
		r.trace.Combs = append(r.trace.Combs, g.peak)
	}
	s := &r.trace.Stats
	s.Rounds, s.Newton = r.e.rounds, r.e.newton
	if r.e.noEdge > 0 {
		r.warn(fmt.Sprintf("%d edges left out: a layer there has a resistance but no thickness", r.e.noEdge))
	}
}

// outdoors is the boundary at a moment of an hour: state between the values at
// its two ends, sun and sky between the hours' means.
func (r *run) outdoors(h int, share float64) outdoors {
	w := r.in.Weather
	b := w.Hours[h]
	a := b
	if h > 0 {
		a = w.Hours[h-1]
	}
	mix := func(x, y float64) float64 { return x + share*(y-x) }
	o := outdoors{temp: mix(a.TempAir, b.TempAir), pressure: mix(a.Pressure, b.Pressure)}
	pa := a.RelHumidity * air.SaturationPressureLiquid(a.TempAir)
	pb := b.RelHumidity * air.SaturationPressureLiquid(b.TempAir)
	pv := min(mix(pa, pb), air.SaturationPressureLiquid(o.temp))
	o.ratio = air.HumidityRatio(pv, o.pressure)
	wind := mix(a.WindSpeed, b.WindSpeed)
	r.shell(&o, h, share, wind)
	return o
}
