package comb

import (
	"errors"
	"fmt"
	"math"
)

const (
	// bands of equal height into which a panel is cut.
	bands = 10
	// shearSteps is how many levels of side shear are tried.
	shearSteps = 6
	// strengthSteps at which a panel with wires or sticks is solved.
	strengthSteps = 6
	// shearOverTension is the shear strength of wax over its tensile strength
	// (Tresca's rule of plasticity). [-]
	shearOverTension = 0.5
	// coreBond is the share of a stiff foundation's faces to which the cells hold
	// as wax holds to wax. [-] Estimate, range 0.1 to 0.5.
	coreBond = 0.2
	// MostUtilisation is where utilisation stops counting: molten wax carries
	// nothing. [-]
	MostUtilisation = 100.0
)

// Place names what carries most of the weight where a comb would give way.
type Place string

// Places.
const (
	Nowhere    Place = ""
	AtTop      Place = "top attachment"
	AtSides    Place = "side attachments"
	AtBottom   Place = "bottom attachment"
	AtWires    Place = "wires"
	AtSticks   Place = "sticks"
	AtCore     Place = "bond to the foundation"
	WithinComb Place = "comb below its top"
)

// Panel is a comb in its frame with all that does not change by the hour. It
// never changes, so that it may be used by several goroutines at once.
type Panel struct {
	frame  Frame
	joined Joined
	table  *Table
	creep  Creep

	wax   float64 // thickness as solid wax [m]
	own   float64 // wax and cocoons per area of comb [kg/m²]
	lines [bands]line
	held  bool // lines carry anything
	core  bool
}

// line is what wires and sticks do in one band.
type line struct {
	bearing float64 // width on which wax bears, summed over the lines [m]
	most    float64 // what the lines themselves carry per length [N/m]
}

// New makes a panel of a frame. The table and the law of creep may be those of
// [StandardTable] and [StandardCreep]. A frame outside what [Frame.Validate]
// allows, or a law outside its own limits, gives an error.
func New(frame Frame, table *Table, creep Creep) (*Panel, error) {
	if table == nil {
		return nil, errors.New("comb: no table of wax")
	}
	if err := frame.Validate(); err != nil {
		return nil, fmt.Errorf("comb: %w", err)
	}
	if err := creep.Validate(); err != nil {
		return nil, fmt.Errorf("comb: %w", err)
	}
	p := &Panel{frame: frame, joined: frame.joined(), table: table, creep: creep}
	p.wax = SolidWaxThickness(frame.wax())
	p.own = frame.wax()
	if frame.Age == Brood {
		p.own += cocoonMass
	}
	p.core = frame.Support == StiffCore
	n := frame.Lines
	if n == 0 {
		n = DefaultLines(frame.Support, frame.Height)
	}
	wire, stick := frame.wire(), frame.stick()
	tension := wire.Strength * math.Pi * wire.Diameter * wire.Diameter / 4 // [N]
	level := func(diameter, most float64) {
		for i := range n { // evenly over the height
			band := min(int((float64(i)+0.5)/float64(n)*bands), bands-1)
			p.lines[band].bearing += diameter
			p.lines[band].most += most
		}
		p.held = true
	}
	switch frame.Support {
	case Level:
		level(wire.Diameter, LevelWireLoad(tension, frame.Width, wire.Sag))
	case Sticks:
		level(stick.Diameter, StickLoad(stick.Diameter, stick.Strength, frame.Width))
	case Crossed:
		// Every upright strip crosses every diagonal once; the strips share.
		most := CrossedWireLoad(tension, frame.Width, frame.Height, wire.Sag)
		for i := range p.lines {
			p.lines[i] = line{wire.Diameter * float64(n) / bands, most * float64(n) / bands}
		}
		p.held = true
	}
	return p, nil
}

// Frame returns the frame of which the panel was made.
func (p *Panel) Frame() Frame { return p.frame }

// Area of one side of the comb. [m²]
func (p *Panel) Area() float64 { return p.frame.Width * p.frame.Height }

// Load is what a comb carries beside its own wax.
type Load struct {
	Honey  float64 // ripe honey, capped or not [kg]
	Nectar float64 // [kg]
	// NectarDensity, 0 for 1230: 50 % sugar. [kg/m³]
	NectarDensity float64
	Brood         float64 // brood and pollen [kg]
	Bees          float64 // [kg]
}

// nectarDensity of 50 % sugar at 20 °C. [kg/m³] ICUMSA, from memory.
const nectarDensity = 1230.0

// Stores returns the mass of honey or nectar in a share of the comb's area, with
// the cells filled to a share of their depth. [kg]
//
// Density in kg/m³, 1420 for ripe honey; full cells of honey hold HoneyMass.
func (p *Panel) Stores(area, depth, density float64) float64 {
	return HoneyMass * density / honeyDensity * area * depth * p.Area()
}

// hang spreads a load over the height: honey at the top, nectar below it, brood
// below that, bees and wax evenly. Stores that need more height than there is lie
// denser: the comb is thicker. The result is weight per length of top bar of each
// band from the top. [N/m]
func (p *Panel) hang(load Load) (weight [bands]float64, err error) {
	density := load.NectarDensity
	if density == 0 {
		density = nectarDensity
	}
	if !(density >= 950 && density <= 1500) {
		return weight, fmt.Errorf("comb: nectar of %g kg/m³ is not between 950 and 1500", density)
	}
	parts := [...]struct {
		what string
		mass float64 // [kg]
		full float64 // per area when full [kg/m²]
	}{
		{"honey", load.Honey, HoneyMass},
		{"nectar", load.Nectar, HoneyMass * density / honeyDensity},
		{"brood", load.Brood, broodMass},
		{"bees", load.Bees, 0},
	}
	var needed float64 // [m]
	for _, part := range parts {
		if !(part.mass >= 0 && part.mass <= 1000) {
			return weight, fmt.Errorf("comb: %g kg of %s is not between 0 and 1000", part.mass, part.what)
		}
		if part.full > 0 {
			needed += part.mass / part.full / p.frame.Width
		}
	}
	denser := max(1, needed/p.frame.Height)
	const band = 1.0 / bands
	var top float64 // share of the height [-]
	for _, part := range parts {
		force := part.mass * gravity / p.frame.Width // [N/m]
		if force == 0 {
			continue
		}
		share := 1.0
		start := 0.0
		if part.full > 0 {
			share = part.mass / part.full / p.Area() / denser
			start, top = top, top+share
		}
		for i := range weight {
			low, high := max(start, float64(i)*band), min(start+share, float64(i+1)*band)
			if high > low {
				weight[i] += force * (high - low) / share
			}
		}
	}
	own := p.own * gravity * p.frame.Height * band
	for i := range weight {
		weight[i] += own
	}
	return weight, nil
}

// solve returns the largest factor by which the weights may be multiplied before
// the comb gives way, with wax of a strength [Pa], and where. With no weight the
// factor is +Inf; with no strength 0.
//
// It is a lower bound by the static theorem of plasticity: for every level of
// shear at the side bars it forms a field of stress that hangs in balance and is
// nowhere above strength, and takes the best.
//
//	n² + 4q² ≤ (s·t)²         tension n and shear q per length, Tresca
//	n ≤ s·t·√(1−κ²)           where the side shear is q = κ·s·t/2 at the side bars
//	n ≤ s·t·√(a²−κ²)          at a top bar joined over a share a
//	κ·s·t/W per area          is what two such side bars take off the comb
//	κ·W/8                     is the height of comb that ties the lower end of
//	                          the shear, over which it fades to nothing; no
//	                          tie is needed where sides and bottom bar take it,
//	                          and with one the comb is never pushed from below
//
// Upright strips carry the rest from level to level: the weight of any band
// between two levels must not exceed what its upper edge can pull, its lower edge
// can push, and the side bars and lines within it can take.
func (p *Panel) solve(weight *[bands]float64, strength float64) (factor float64, place Place) {
	width, height := p.frame.Width, p.frame.Height
	full := strength * p.wax // [N/m]
	if p.core {
		heaviest := 0.0 // [N/m²]
		for _, w := range weight {
			heaviest = max(heaviest, w*bands/height)
		}
		if heaviest == 0 {
			return math.Inf(1), Nowhere
		}
		factor, place = 2*coreBond*shearOverTension*strength/heaviest, AtCore
	}
	sideEnd := p.joined.Side * height // [m]
	for step := range shearSteps + 1 {
		kappa := float64(step) / shearSteps
		if step > 0 && (sideEnd == 0 || kappa > p.joined.Top) {
			break
		}
		within := full * math.Sqrt(1-kappa*kappa)
		push := within                                                                  // within the comb [N/m]
		bottom := full * math.Sqrt(max(0, p.joined.Bottom*p.joined.Bottom-kappa*kappa)) // push at the lower edge [N/m]
		tie := 0.0                                                                      // height of the tie [m]
		if step > 0 && (p.joined.Side < 1 || p.joined.Bottom < kappa) {
			tie, push, bottom = kappa*width/8, 0, 0
		}
		if tie > sideEnd {
			break
		}
		upper := full * math.Sqrt(max(0, p.joined.Top*p.joined.Top-kappa*kappa))
		var side, held [bands]float64 // what each band can hand over [N/m]
		for i := range side {
			low, high := height*float64(i)/bands, height*float64(i+1)/bands
			side[i] = kappa * full / width * (sheared(high, sideEnd, tie) - sheared(low, sideEnd, tie))
			held[i] = min(p.lines[i].bearing*strength, p.lines[i].most)
		}
		least, at := math.Inf(1), Nowhere
		for from := range bands { // upper edge of the band
			edge, sides, lines, load := within, 0.0, 0.0, 0.0
			edgePlace := WithinComb
			if from == 0 {
				edge, edgePlace = upper, AtTop
			}
			for to := from; to < bands; to++ { // last part of it
				load += weight[to]
				sides += side[to]
				lines += held[to]
				below := push
				if to == bands-1 {
					below = bottom
				}
				if load == 0 {
					continue
				}
				if f := (edge + sides + lines + below) / load; f < least {
					least, at = f, edgePlace
					most := edge
					for _, other := range [...]struct {
						carries float64
						at      Place
					}{{sides, AtSides}, {lines, p.linePlace()}, {below, AtBottom}} {
						if other.carries > most {
							most, at = other.carries, other.at
						}
					}
					if at == AtBottom && to < bands-1 {
						at = WithinComb
					}
				}
			}
		}
		if least > factor || place == Nowhere {
			factor, place = max(factor, least), at
		}
	}
	return factor, place
}

// sheared returns the height over which side bars joined down to end, with a tie
// above that end, take off full shear between the top and a depth. [m]
func sheared(depth, end, tie float64) float64 {
	if depth >= end {
		return end - tie/2
	}
	into := max(0, depth-(end-tie))
	if into == 0 {
		return depth
	}
	return depth - into*into/(2*tie)
}

// bears returns the strength of wax at which the lines are used to the full. [Pa]
func (p *Panel) bears() float64 {
	for _, l := range p.lines {
		if l.bearing > 0 {
			return l.most / l.bearing // the same in every band
		}
	}
	return 0
}

func (p *Panel) linePlace() Place {
	if p.frame.Support == Sticks {
		return AtSticks
	}
	return AtWires
}

// Loaded is a panel with a load on it, ready to be asked at any temperature. It
// is good until the load changes.
type Loaded struct {
	panel  *Panel
	top    float64                    // weight on the top bar per length, if it carried all [N/m]
	step   [strengthSteps + 1]float64 // strengths of wax [Pa]
	factor [strengthSteps + 1]float64 // load factor at those strengths [-]
	place  [strengthSteps + 1]Place
	linear bool // factor goes with strength
}

// Under puts a load on the panel. Masses below 0, above 1000 kg or not a number,
// and nectar whose density is not between 950 and 1500 kg/m³, give an error.
func (p *Panel) Under(load Load) (Loaded, error) {
	weight, err := p.hang(load)
	if err != nil {
		return Loaded{}, err
	}
	l := Loaded{panel: p, linear: !p.held}
	for _, w := range weight {
		l.top += w
	}
	most := p.table.most[p.frame.Age.index()] * RoomStrength
	l.step[strengthSteps] = most
	l.factor[strengthSteps], l.place[strengthSteps] = p.solve(&weight, most)
	if l.linear {
		return l, nil
	}
	// Wires and sticks do not soften. Up to the strength at which the wax bears
	// what they carry, all goes with strength; from there on, straight lines join
	// fields of stress that are admissible, and so are means of the two.
	bears := p.bears()
	if bears >= most {
		l.linear = true
		return l, nil
	}
	for i := 1; i < strengthSteps; i++ {
		l.step[i] = bears * math.Pow(most/bears, float64(i-1)/(strengthSteps-1)) // closer where wax is weak
		l.factor[i], l.place[i] = p.solve(&weight, l.step[i])
	}
	l.place[0] = l.place[1]
	return l, nil
}

// TopLoad returns the weight per length of top bar, all that hangs below it
// counted, whatever else helps to carry. [N/m]
func (l *Loaded) TopLoad() float64 { return l.top }

// at returns the factor at a strength of wax in Pa, and the place.
func (l *Loaded) at(strength float64) (float64, Place) {
	if l.linear {
		if strength == 0 {
			return 0, l.place[strengthSteps]
		}
		return l.factor[strengthSteps] * strength / l.step[strengthSteps], l.place[strengthSteps]
	}
	i := 1
	for i < strengthSteps && strength > l.step[i] {
		i++
	}
	share := (strength - l.step[i-1]) / (l.step[i] - l.step[i-1])
	return l.factor[i-1] + share*(l.factor[i]-l.factor[i-1]), l.place[i]
}

// Utilisation returns load over capacity at a temperature in °C: 1 is where the
// comb gives way in a test of minutes. [-]
//
// Low is for wax at the strong end of the table, High for the weak end. Figures
// above MostUtilisation are cut there. A temperature that is not a number counts
// as molten wax.
func (l *Loaded) Utilisation(temperature float64) Range {
	u, _ := l.utilisation(temperature)
	return u
}

func (l *Loaded) utilisation(temperature float64) (Range, Place) {
	if math.IsNaN(temperature) {
		temperature = math.Inf(1)
	}
	ratio := l.panel.table.Ratio(l.panel.frame.Age, temperature)
	share := func(ratio float64) (float64, Place) {
		factor, place := l.at(ratio * RoomStrength)
		if factor*MostUtilisation <= 1 {
			return MostUtilisation, place
		}
		return 1 / factor, place
	}
	var u Range
	var place Place
	u.Low, _ = share(ratio.High)
	u.Mid, place = share(ratio.Mid)
	u.High, _ = share(ratio.Low)
	return u, place
}

// Utilisation returns load over capacity of the panel under a load at a
// temperature in °C; see [Loaded.Utilisation] and, for its errors,
// [Panel.Under]. Callers that ask for many hours of one load should keep the
// Loaded.
func (p *Panel) Utilisation(temperature float64, load Load) (Range, error) {
	l, err := p.Under(load)
	if err != nil {
		return Range{}, err
	}
	return l.Utilisation(temperature), nil
}
