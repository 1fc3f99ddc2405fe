package season

import (
	"errors"
	"fmt"
	"math"
	"time"

	"hackle/air"
	"hackle/airflow"
	"hackle/hive"
	"hackle/wall"
)

// HeaterInput asks for the steady state of a hive with a heater in place of bees.
type HeaterInput struct {
	Plan     hive.Plan
	Date     time.Time // decides wraps, trays and the width of openings
	Watts    float64   // [W]
	Outside  float64   // [°C]
	Humidity float64   // outdoors, 0 to 1 [-]
	Wind     float64   // at the hive, onto the front [m/s]
	Height   float64   // middle of the heater above the floor, 0: where a cluster would sit [m]
	Size     float64   // edge of the heater, or diameter of a ball of heat among combs, 0: 80 mm [m]
	Width    float64   // breadth of comb taken as the warm core, 0: Size [m]
	Empty    bool      // take all frames out
	Ideal    Ideal
}

// Level is the air of one height.
type Level struct {
	Height float64 // middle of the slab [m]
	Core   float64 // [°C]
	Flank  float64 // [°C]; equals Core where there is one column
	Mean   float64 // by air volume [°C]
}

// OpeningFlow is the air through one opening.
type OpeningFlow struct {
	Name string
	In   float64 // at outdoor density [m³/s]
	Out  float64 // at the density of the air that leaves [m³/s]
	Heat float64 // carried out above outdoors [W]
}

// Loss splits heat by the way it takes. [W]
type Loss struct {
	Walls    [4]float64 // front, back, left, right
	Lid      float64
	Floor    float64
	Edges    float64
	Openings float64
	Cracks   float64
	Mesh     float64
}

// Total of all ways. [W]
func (l Loss) Total() float64 {
	return l.Walls[0] + l.Walls[1] + l.Walls[2] + l.Walls[3] + l.Lid + l.Floor + l.Edges + l.Openings + l.Cracks + l.Mesh
}

// HeaterResult is the steady state of a heated hive.
type HeaterResult struct {
	Levels      []Level
	UnderLid    float64 // air 10 mm below what closes the hive above, by area [°C]
	MeanAir     float64 // by air volume [°C]
	WarmDepth   float64 // from there down to half the excess over outdoors [m]
	Openings    []OpeningFlow
	Loss        Loss
	Conductance float64 // heat over excess of the mean air [W/K]
	Closure     float64 // heat put in less heat lost [W]
	AirClosure  float64 // air in less air out [kg/s]
	Rounds      int64
	Films       map[string]float64 // mean convective film by face [W/(m²·K)]
	Warnings    []string
}

// ErrUnsettled tells that no steady state was reached.
var ErrUnsettled = errors.New("season: the heated hive does not settle")

// Heater finds the steady state of a heated hive without bees. The air is dry
// in effect: it keeps the outdoor humidity, and nothing condenses.
func Heater(in HeaterInput, joints *wall.Cache) (*HeaterResult, error) {
	plan := in.Plan
	if in.Empty {
		plan = plan.Clone()
		for i := range plan.Hive.Bodies {
			plan.Hive.Bodies[i].Frames.Count = 0
		}
		plan.Hive.Followers = nil
	}
	if !(in.Watts >= 0) || in.Watts > 1e4 || math.Abs(in.Outside) > 80 || !(in.Wind >= 0) {
		return nil, fmt.Errorf("season: heater of %g W at %g °C and %g m/s: need 0 to 10 kW, -80 to 80 °C, wind from 0", in.Watts, in.Outside, in.Wind)
	}
	size := in.Size
	if size == 0 {
		size = 0.08
	}
	width := in.Width
	if width == 0 {
		width = size
	}
	b, err := compile(plan, in.Date, nest{breadth: width, power: in.Watts, centre: in.Height, slab: heaterSlab}, in.Ideal, joints)
	if err != nil {
		return nil, err
	}
	e := newEngine(b, in.Ideal)
	pressure := air.PressureAtHeight(plan.Site.Height)
	ratio := air.HumidityRatio(in.Humidity*air.SaturationPressureLiquid(in.Outside), pressure)
	o := outdoors{temp: in.Outside, ratio: ratio, pressure: pressure, wind: in.Wind}
	film := in.Ideal.OuterFilm
	if film == 0 {
		// Convection by wind, and long wave to surroundings as warm as the air.
		film = outerConvection(in.Wind, b.size()) + wall.RadiativeFilm(0.9, in.Outside)
	}
	rho := moistDensity(o.temp, o.ratio, o.pressure)
	cp := airflow.SurfaceCoefficients(airflow.SemiExposed, 0)
	for i := range sides {
		o.film[i], o.feels[i] = film, in.Outside
		if i < len(cp) {
			o.push[i] = airflow.WindPressure(cp[i], rho, in.Wind)
		}
	}
	e.start(o)
	e.openOn(in.Date)
	heater := ball{centre: in.Height, radius: size / 2}
	if heater.centre == 0 {
		heater.centre = b.height / 2
	}
	e.place(&heater)
	if e.columns == 1 {
		e.plume = plume{power: in.Watts, base: max(0, heater.centre-size/2), size: size, alpha: airflow.EntrainmentPoint}
		if !in.Ideal.NoRadiation {
			e.radiantHeater(in.Watts, size)
		}
	} else {
		e.narrow(&heater)
	}
	sources := func() {
		clear(e.source)
		if e.columns == 1 {
			e.source[e.plume.spreads] += e.plume.power
			return
		}
		for i, w := range heater.weight {
			e.source[i] += w * in.Watts
		}
	}
	const limit = 2000
	change, err := e.step(math.Inf(1), &o, limit, 1e-6, sources)
	if err != nil {
		return nil, fmt.Errorf("season: heater in %q: %w", plan.Hive.Name, err)
	}
	if change > 1e-4 {
		return nil, fmt.Errorf("%w: air temperatures still move by %.2g K after %d rounds", ErrUnsettled, change, limit)
	}
	return e.heaterResult(in, &o), nil
}

// radiantHeater sends the radiant part of the heater's power to the walls.
func (e *engine) radiantHeater(watts, size float64) {
	share, _ := heaterFilm(watts, size, e.temp[0], true)
	for i := range e.zones {
		if e.zoneRow[i] >= 0 {
			e.radiant[i] = watts * share
			e.plume.power = watts * (1 - share)
			return
		}
	}
}

// size is the edge of a cube as large as the hive. [m]
func (b *box) size() float64 {
	body := &b.plan.Hive.Bodies[0]
	return math.Cbrt(body.Length * body.Width * b.height)
}

// outerConvection at the shell of a box of a given size in wind [m/s]: a plate's
// forced film joined with free convection, never below still air's. [W/(m²·K)]
func outerConvection(wind, size float64) float64 {
	g := gasAt(5)
	forced := 0.0
	if wind > 0 {
		forced = g.Film(wall.NusseltPlate(g.Reynolds(wind, size), g.Prandtl()), size)
	}
	const stillExcess = 3 // K, of a hive wall over the air in still weather
	natural := g.Film(uprightPlate(g.Rayleigh(stillExcess, size)), size)
	return wall.MixedFilm(natural, forced)
}

// openOn sets how far each opening stands open on a date.
func (e *engine) openOn(date time.Time) {
	h := &e.plan.Hive
	for i := range e.flows {
		f := &e.flows[i]
		switch f.kind {
		case flowOpening:
			o := &h.Openings[f.opening]
			e.cond.Scale[i] = clamp(o.WidthOn(date)/o.Width, 0, 1)
		case flowBoard:
			if h.TopBoard.Permeance == 0 {
				e.cond.Scale[i] = h.TopBoard.HoleOn(date) / h.TopBoard.Hole
			}
		}
	}
}

// profile returns the slab means of the air from the floor upward.
func (e *engine) profile() []Level {
	out := make([]Level, len(e.slabs))
	for k, s := range e.slabs {
		l := Level{Height: s.middle()}
		var sum, volume float64
		for col := range e.columns {
			c := e.cells[e.at(k, col)]
			sum += e.temp[e.at(k, col)] * c.volume
			volume += c.volume
		}
		l.Mean = sum / volume
		l.Core = e.temp[e.at(k, core)]
		l.Flank = e.temp[e.at(k, min(flank, e.columns-1))]
		out[k] = l
	}
	return out
}

// airAt interpolates a profile at a height. [°C]
func airAt(levels []Level, z float64) float64 {
	if z <= levels[0].Height {
		return levels[0].Mean
	}
	for i := 1; i < len(levels); i++ {
		a, b := levels[i-1], levels[i]
		if z <= b.Height {
			return a.Mean + (b.Mean-a.Mean)*(z-a.Height)/(b.Height-a.Height)
		}
	}
	return levels[len(levels)-1].Mean
}

// underLidDepth is where the air "under the lid" is read. [m]
const underLidDepth = 0.01

// warmDepth is the distance from what closes the hive above down to where the
// air's excess over outdoors is half of that under the lid; the whole height
// when it never falls so low, 0 when there is no excess. [m]
func warmDepth(levels []Level, height, outside float64) float64 {
	top := airAt(levels, height-underLidDepth) - outside
	if !(top > 1e-6) {
		return 0
	}
	const steps = 400
	for i := 1; i <= steps; i++ {
		z := height * (1 - float64(i)/steps)
		if airAt(levels, z)-outside < top/2 {
			return height - z
		}
	}
	return height
}

func (e *engine) heaterResult(in HeaterInput, o *outdoors) *HeaterResult {
	r := &HeaterResult{Levels: e.profile(), Rounds: e.rounds, Films: map[string]float64{}}
	r.UnderLid = airAt(r.Levels, e.height-underLidDepth)
	r.WarmDepth = warmDepth(r.Levels, e.height, o.temp)
	var sum, volume float64
	for i, c := range e.cells {
		if i != e.lidCell {
			sum += e.temp[i] * c.volume
			volume += c.volume
		}
	}
	r.MeanAir = sum / volume
	r.Loss, r.Openings, r.AirClosure = e.losses(o)
	r.Closure = in.Watts - r.Loss.Total()
	if d := r.MeanAir - o.temp; d > 1e-9 {
		r.Conductance = in.Watts / d
	}
	areas := map[string]float64{}
	for i := range e.faces {
		f := &e.faces[i]
		r.Films[f.name] += e.film[i] * f.area
		areas[f.name] += f.area
	}
	for n := range r.Films {
		r.Films[n] /= areas[n]
	}
	if e.noEdge > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%d edges left out: a layer there has a resistance but no thickness", e.noEdge))
	}
	return r
}

// losses splits the heat that leaves the hive's inside in the present state,
// above outdoor temperature. Air closure is inflow less outflow. [kg/s]
func (e *engine) losses(o *outdoors) (Loss, []OpeningFlow, float64) {
	var l Loss
	h := &e.plan.Hive
	open := make([]OpeningFlow, len(h.Openings))
	for i := range h.Openings {
		open[i].Name = h.Openings[i].Name
	}
	for i := range e.faces {
		f := &e.faces[i]
		if f.far >= 0 {
			continue
		}
		q := (e.law[i].g*e.face[i] - e.law[i].s) * f.area
		switch f.part {
		case partWall:
			l.Walls[f.side] += q
		case partFloor:
			l.Floor += q
		default:
			l.Lid += q
		}
	}
	for _, x := range e.edges {
		l.Edges += x.conductance * (e.temp[x.cell] - o.temp)
	}
	net := 0.0
	carry := func(kind flowKind, opening int, heat float64) {
		switch kind {
		case flowOpening:
			l.Openings += heat
			open[opening].Heat += heat
		case flowMesh:
			l.Mesh += heat
		case flowLidVent:
			l.Lid += heat
		default:
			l.Cracks += heat
		}
	}
	for i, mass := range e.mass {
		k := &e.links[i]
		if k.To >= 0 {
			continue
		}
		net -= mass
		f := &e.flows[i]
		heat := 0.0
		if mass > 0 {
			heat = mass * dryHeat * (e.temp[k.From] - o.temp)
		}
		carry(f.kind, f.opening, heat)
		if f.kind == flowOpening {
			if mass > 0 {
				open[f.opening].Out += mass / e.cond.Density[k.From]
			} else {
				open[f.opening].In -= mass / e.cond.OutdoorDensity
			}
		}
	}
	for _, x := range e.extra {
		if x.to >= 0 {
			continue
		}
		heat := x.mass * dryHeat * (e.temp[x.from] - o.temp)
		if x.opening >= 0 {
			carry(flowOpening, x.opening, heat)
			open[x.opening].In += x.mass / e.cond.OutdoorDensity
			open[x.opening].Out += x.mass / e.cond.Density[x.from]
		} else if x.from == e.lidCell {
			carry(flowLidVent, 0, heat)
		} else {
			carry(flowMesh, 0, heat)
		}
	}
	for i, m := range e.fanOut {
		net -= m
		if m > 0 {
			l.Openings += m * dryHeat * (e.temp[i] - o.temp)
		}
	}
	return l, open, net
}
