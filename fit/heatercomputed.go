package fit

import (
	"context"
	"fmt"
	"math"

	"hackle/evidence"
	"hackle/quantity"
	"hackle/season"
	"hackle/wall"
)

// HeaterComparison holds a phase of a heater test against the computed hive.
type HeaterComparison struct {
	Computed float64   // conductance as the same thermometers would have given it [W/K]
	Whole    float64   // conductance over the mean of all air [W/K]
	Levels   []float64 // computed excess at each thermometer [K]
	Ratio    Estimate  // measured over computed [-]
	// Shell is by how much everything solid of the shell would have to conduct more
	// (or less) for the computed hive to lose what was measured; NaN when no factor
	// between 1/4 and 4 does. [-]
	Shell Estimate
	Text  string
}

// excessAt reads the computed air at a height, over outdoors. [K]
func excessAt(levels []season.Level, z, outside float64) float64 {
	v := levels[len(levels)-1].Mean
	if z <= levels[0].Height {
		v = levels[0].Mean
	} else {
		for i := 1; i < len(levels); i++ {
			a, b := levels[i-1], levels[i]
			if z <= b.Height {
				v = a.Mean + (b.Mean-a.Mean)*(z-a.Height)/(b.Height-a.Height)
				break
			}
		}
	}
	return v - outside
}

// seenBy is the conductance that the thermometers of a test would have given in a
// computed steady state. [W/K]
func seenBy(sensors []SensorAnswer, r *season.HeaterResult, watts, outside float64) (float64, []float64) {
	sum := 0.0
	var each []float64
	for _, s := range sensors {
		x := excessAt(r.Levels, s.Height, outside)
		each = append(each, x)
		sum += s.Weight * x
	}
	return watts / sum, each
}

// CompareHeater computes the hive of in with the mean power and outdoor air of a
// phase, reads it where the thermometers hung and holds it against what was
// measured. Watts and Outside of in are set from the phase. About ten steady
// states are computed; the context stops them.
func CompareHeater(ctx context.Context, p *PhaseAnswer, in season.HeaterInput, joints *wall.Cache) (*HeaterComparison, error) {
	in.Watts, in.Outside = p.Watts, p.Outside
	at := func(shell float64) (float64, *season.HeaterResult, []float64, error) {
		if err := ctx.Err(); err != nil {
			return 0, nil, nil, err
		}
		trial := in
		trial.Plan = Factors{Shell: shell, Leak: 1, Bees: 1}.Plan(in.Plan)
		r, err := season.Heater(trial, joints)
		if err != nil {
			return 0, nil, nil, err
		}
		h, each := seenBy(p.Sensors, r, in.Watts, in.Outside)
		return h, r, each, nil
	}
	c := &HeaterComparison{}
	h, r, each, err := at(1)
	if err != nil {
		return nil, err
	}
	c.Computed, c.Whole, c.Levels = h, r.Conductance, each
	c.Ratio = Estimate{p.Best.Value / h, p.Best.StdError / h, evidence.Interval{Lo: p.Best.Interval.Lo / h, Hi: p.Best.Interval.Hi / h}}

	shellFor := func(want float64) (float64, error) {
		lo, hi := math.Log(0.25), math.Log(4.0)
		low, _, _, err := at(math.Exp(lo))
		if err != nil {
			return 0, err
		}
		high, _, _, err := at(math.Exp(hi))
		if err != nil {
			return 0, err
		}
		if want < low || want > high {
			return math.NaN(), nil
		}
		// Regula falsi with halving (Illinois): smooth and monotonous.
		fl, fh := low-want, high-want
		x := 0.0
		for range 30 {
			x = (lo*fh - hi*fl) / (fh - fl)
			v, _, _, err := at(math.Exp(x))
			if err != nil {
				return 0, err
			}
			f := v - want
			if math.Abs(f) < 1e-4*want {
				break
			}
			if f*fh < 0 {
				lo, fl = hi, fh
			} else {
				fl /= 2
			}
			hi, fh = x, f
		}
		return math.Exp(x), nil
	}
	c.Shell = Estimate{math.NaN(), math.NaN(), evidence.Interval{Lo: math.NaN(), Hi: math.NaN()}}
	if c.Shell.Value, err = shellFor(p.Best.Value); err != nil {
		return nil, err
	}
	if !math.IsNaN(c.Shell.Value) {
		if c.Shell.Interval.Lo, err = shellFor(p.Best.Interval.Lo); err != nil {
			return nil, err
		}
		if c.Shell.Interval.Hi, err = shellFor(p.Best.Interval.Hi); err != nil {
			return nil, err
		}
		c.Shell.StdError = (c.Shell.Interval.Hi - c.Shell.Interval.Lo) / 2 / studentQuantile(level, 1e6)
	}
	c.Text = fmt.Sprintf("Measured %.2f W/K (%.2f to %.2f), computed %.2f W/K for the same thermometers. ", p.Best.Value, p.Best.Interval.Lo, p.Best.Interval.Hi, h)
	switch {
	case c.Ratio.Interval.Contains(1):
		c.Text += "The difference is within what the test can tell: the description of the hive stands."
	case c.Ratio.Value > 1:
		c.Text += fmt.Sprintf("The hive loses %.0f %% more than computed. Look for gaps at joints and under the lid, damp wood or insulation, an entrance wider than in the file, or wind on the day.", 100*(c.Ratio.Value-1))
	default:
		c.Text += fmt.Sprintf("The hive loses %.0f %% less than computed. Look for joints sealed with propolis, thicker or drier walls than in the file, a narrower entrance, or sun during the test.", 100*(1-c.Ratio.Value))
	}
	return c, nil
}

// ProtocolStep is one point of the instructions for a heater test.
type ProtocolStep struct {
	Title string
	Text  string
}

// HeaterProtocol is how to do a heater test with one hive.
type HeaterProtocol struct {
	Watts   float64   // to be drawn by the heater [W]
	Excess  float64   // that they give in the computed hive, mean of the air [K]
	Hours   float64   // that a phase should last [h]
	Settle  float64   // hours until the hive has settled, of them [h]
	Heights []float64 // where the thermometers go [m]
	Steps   []ProtocolStep
}

// Protocol plans a heater test of a hive: which power warms it by about 15 K, how
// long it takes to settle by its own heat capacity, where thermometers go.
// Excesses of 10 K and more and at least three days are what ISO 9869-1 asks of
// measurements in place (from memory); the rest is common practice, no source.
func Protocol(in season.HeaterInput, system quantity.System, joints *wall.Cache) (*HeaterProtocol, error) {
	const wanted = 15 // K
	in.Watts = 10
	r, err := season.Heater(in, joints)
	if err != nil {
		return nil, err
	}
	watts := wanted * r.Conductance
	for range 2 { // the films are not linear
		in.Watts = watts
		if r, err = season.Heater(in, joints); err != nil {
			return nil, err
		}
		watts = math.Max(1, math.Round(wanted*r.Conductance))
	}
	h := in.Plan.Hive
	p := &HeaterProtocol{Watts: watts, Excess: watts / r.Conductance}
	const woodHeat = 1600 // J/(kg·K), of wood and wax, common practice
	mass := 0.0
	for _, part := range h.EmptyMass() {
		if in.Empty && len(part.Part) > 6 && part.Part[:6] == "frames" {
			continue
		}
		mass += part.Mass
	}
	// Half of the shell's mass lies outside its own insulation: the whole is on the
	// safe side.
	p.Settle = 3 * mass * woodHeat / r.Conductance / 3600
	p.Hours = 24 * math.Ceil((p.Settle+72)/24)
	top := h.Height()
	p.Heights = append(p.Heights, 0.02)
	for i, b := range h.Bodies {
		base := h.BodyBase(i)
		p.Heights = append(p.Heights, base+b.Height/3, base+2*b.Height/3)
	}
	p.Heights = append(p.Heights, top-0.01)
	length := func(v float64) string { return quantity.Format(v, quantity.Length, system) }
	places := ""
	for i, z := range p.Heights {
		if i > 0 {
			places += ", "
		}
		places += length(z)
	}
	difference := func(k float64) string {
		if system == quantity.US {
			return fmt.Sprintf("%.0f °F", k*1.8)
		}
		return fmt.Sprintf("%.0f K", k)
	}
	p.Steps = []ProtocolStep{
		{"The hive", "Take a hive without bees, built and closed as the one you ask about: same bodies, lid, wraps, entrance. Drawn combs without honey are best: full ones store so much heat that the test takes a week. Set it where it stands in winter, or in a cold shed where sun and wind do not reach; both count as outdoors."},
		{"The heater", fmt.Sprintf("Use %.0f W of electric heat, which warms the computed hive by about %s: a heating mat, a resistor on a metal sheet or a terrarium heater, with a small fan that stirs no more than a breath of air or none at all. Put it low in the middle. Measure the watts at the plug; the print on the lamp is not good enough. Leave it on without a thermostat.", p.Watts, difference(p.Excess))},
		{"Thermometers", fmt.Sprintf("Read all of them side by side first, for an hour in one place, and note how they differ. Then hang them in the middle of the hive at these heights above the floor: %s. None within a hand of the heater or in its light; none touching a wall. One more outdoors at the hive's height, in the shade. One thermometer at the top is not enough: it can stay the same when a vent lets heat out lower down.", places)},
		{"How long", fmt.Sprintf("Log every five minutes for %.0f hours. The first %.0f hours or so only warm the wood; three days after that even out day and night. Begin when the hive is as cold as outdoors. Prefer dull, still weather.", p.Hours, math.Max(1, math.Ceil(p.Settle)))},
		{"Comparing", "To learn what a vent or a wrap does, run one phase without and one with it, everything else untouched, and name the phases in the log. A second phase without, afterwards, shows whether the weather made the difference."},
		{"Cautions", fmt.Sprintf("Fire: no flame, candle or gas in a hive. A lamp's glass passes 200 °C and lights wax, wool, straw and foam: keep it in a wire cage, a hand's breadth from everything, or better use a heater that cannot pass 60 °C. Wax softens from 35 °C and melts at 62 to 64 °C: stop when any thermometer shows 40 °C (%s). Use a cable and plug made for outdoors behind a residual-current device, keep joints dry, do not run the cable where the lid crushes it, and look in every few hours at first. Smoke alarm if indoors. Close the entrance of a hive with wax in it with mesh against robbing when bees fly. Local electrical rules come first.", quantity.Format(40, quantity.Temperature, quantity.US))},
	}
	return p, nil
}
