package fit

import (
	"fmt"
	"strings"

	"hackle/colony"
	"hackle/hive"
)

// Factors are what a measured hive has that its description and the usual biology
// do not: each multiplies one thing. All ones change nothing.
type Factors struct {
	Shell float64 // conductance of walls, lid, boards and floor [-]
	Leak  float64 // leakage area of the joints [-]
	Bees  float64 // heat that the colony makes in the same surroundings [-]
}

// NoFactors change nothing.
func NoFactors() Factors { return Factors{1, 1, 1} }

// Check refuses what cannot be a factor.
func (f Factors) Check() error {
	for _, v := range []struct {
		name string
		v    float64
	}{{"shell", f.Shell}, {"leak", f.Leak}, {"bees", f.Bees}} {
		if !(v.v >= 0.01 && v.v <= 100) {
			return fmt.Errorf("%w: factor %s is %g, accepted: 0.01 to 100", ErrData, v.name, v.v)
		}
	}
	return nil
}

// Plan returns the plan with the factors of shell and leak put into its layers and
// joints, so that the engine runs the hive as it was measured. Films, air spaces,
// openings and what the layers weigh and store stay.
func (f Factors) Plan(p hive.Plan) hive.Plan {
	out := p.Clone()
	out.Measured = hive.Measured{} // they are in it now
	h := &out.Hive
	layers := func(list []hive.Layer) {
		for i := range list {
			l := &list[i]
			if l.Resistance > 0 {
				l.Resistance /= f.Shell
				continue
			}
			l.Material.Conductivity *= f.Shell
		}
	}
	for i := range h.Bodies {
		for side := range h.Bodies[i].Walls {
			layers(h.Bodies[i].Walls[side])
		}
	}
	layers(h.Floor.Layers)
	layers(h.Lid.Layers)
	if h.TopBoard != nil {
		layers(h.TopBoard.Layers)
	}
	for i := range h.Wraps {
		layers(h.Wraps[i].Layers)
	}
	h.LeakArea *= f.Leak
	return out
}

// Biology returns the biology with the colony's heat multiplied: what the cluster
// loses to its air, what its mantle loses, and what bees at rest give off.
func (f Factors) Biology(b colony.Biology) colony.Biology {
	b.ClusterG *= f.Bees
	b.MantleFilm *= f.Bees
	b.RestingPower *= f.Bees
	b.BroodHeat *= f.Bees
	return b
}

// FactorsOf reads the factors that a plan carries; what was not measured is 1.
func FactorsOf(m hive.Measured) Factors {
	or := func(v float64) float64 {
		if v == 0 {
			return 1
		}
		return v
	}
	return Factors{or(m.Shell), or(m.Leak), or(m.Bees)}
}

// Own returns the plan as the engine runs it, with the numbers that were measured at
// this very hive put in, and the biology of its colony.
func Own(p hive.Plan) (hive.Plan, colony.Biology) {
	f := FactorsOf(p.Measured)
	if f == NoFactors() {
		return p, colony.DefaultBiology()
	}
	return f.Plan(p), f.Biology(colony.DefaultBiology())
}

// Note says in words with which measured numbers a hive runs, and nothing when it
// runs as described.
func Note(p hive.Plan) string {
	f := FactorsOf(p.Measured)
	if f == NoFactors() {
		return ""
	}
	var parts []string
	for _, v := range []struct {
		name string
		v    float64
	}{{"shell", f.Shell}, {"leakage", f.Leak}, {"heat of the bees", f.Bees}} {
		if v.v != 1 {
			parts = append(parts, fmt.Sprintf("%s %.0f %%", v.name, 100*v.v))
		}
	}
	s := p.Hive.Name + " runs with its own measured numbers: " + strings.Join(parts, ", ") + " of the computed"
	if m := p.Measured; m.From != "" || !m.On.IsZero() {
		s += " (" + strings.TrimSpace(m.From+" "+m.On.String()) + ")"
	}
	return s
}
