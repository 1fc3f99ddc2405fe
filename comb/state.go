package comb

import (
	"fmt"
	"math"
)

// Class says in a word whether a comb holds.
type Class string

// Classes.
const (
	// Holds: even the weak end of the range carries the load.
	Holds Class = "holds"
	// Near: the middle of the range carries it, the weak end does not.
	Near Class = "near"
	// Falls: the middle of the range does not carry it.
	Falls Class = "falls"
)

// State is the creep of one comb so far. The zero value is a comb that has not
// crept. It has three lives, for wax at the strong end, in the middle and at the
// weak end of the table.
//
// Bees mend comb; nothing of that is in here. Start a new State when a comb is
// emptied, mended or put into another frame.
type State struct {
	life Range // used, 0 to 1 [-]
}

// Life returns the share of each life that is used, 1 when the comb has torn.
// [-]
func (s *State) Life() Range { return s.life }

// Result is the state of a comb after a step.
type Result struct {
	Temperature float64 // of the comb [°C]
	Utilisation Range   // load over capacity [-]
	Strain      Range   // that creep has added up [-]
	Life        Range   // share of life used [-]
	Class       Class
	Place       Place // what would give way, with strength in the middle of its range
}

// Advance lets a comb hang for a time [s] at a temperature [°C] and tells how it
// fares. A negative or not-a-number time counts as 0.
//
// The comb falls when utilisation reaches 1 or creep has used up its life: the
// class is Falls when that holds for wax in the middle of the table, Near when it
// holds for the weak end alone. A comb that has once used up its life stays so.
func (s *State) Advance(loaded *Loaded, time, temperature float64) Result {
	u, place := loaded.utilisation(temperature)
	creep := loaded.panel.creep
	if !(time > 0) {
		time = 0
	}
	use := func(life *float64, utilisation float64) {
		*life += creep.lifeRate(utilisation) * time
		if utilisation >= 1 || *life > 1 {
			*life = 1
		}
	}
	use(&s.life.Low, u.Low)
	use(&s.life.Mid, u.Mid)
	use(&s.life.High, u.High)
	r := Result{Temperature: temperature, Utilisation: u, Life: s.life, Class: Holds, Place: place}
	r.Strain = Range{creep.strain(s.life.Low), creep.strain(s.life.Mid), creep.strain(s.life.High)}
	switch {
	case s.life.Mid >= 1:
		r.Class = Falls
	case s.life.High >= 1:
		r.Class = Near
	}
	return r
}

// TimeToTear returns how long a comb hangs at a constant utilisation before it
// tears; +Inf for no load. [s]
func (c Creep) TimeToTear(utilisation float64) float64 {
	if utilisation <= 0 {
		return math.Inf(1)
	}
	return 1 / c.lifeRate(utilisation)
}

// Sentence says the result as one keeper would to another.
func (r Result) Sentence() string {
	asked := fmt.Sprintf("at %.1f °C it is loaded to %s of what it can carry for minutes (between %s and %s, as the strength of warm wax is uncertain)",
		r.Temperature, percent(r.Utilisation.Mid), percent(r.Utilisation.Low), percent(r.Utilisation.High))
	crept := fmt.Sprintf("it has stretched by about %.1f %%", 100*r.Strain.Mid)
	switch r.Class {
	case Falls:
		return fmt.Sprintf("The comb falls: %s, %s, and the %s give%s way.", asked, crept, r.Place, plural(r.Place))
	case Near:
		return fmt.Sprintf("The comb may fall: %s, and %s; the %s would give way first.", asked, crept, r.Place)
	}
	return fmt.Sprintf("The comb holds: %s, and %s.", asked, crept)
}

// plural returns the s of a verb that goes with a place.
func plural(p Place) string {
	switch p {
	case AtSides, AtWires, AtSticks:
		return ""
	}
	return "s"
}

func percent(share float64) string {
	if share >= MostUtilisation {
		return "far more than all"
	}
	return fmt.Sprintf("%.0f %%", 100*share)
}
