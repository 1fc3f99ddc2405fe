package workshop

import (
	"fmt"

	"hackle/hive"
	"hackle/quantity"
)

// LiftCaution is the load from which two should lift: the load constant of the
// NIOSH lifting equation, 23 kg at best posture (from memory); near the ground and
// at arm's length less. [kg]
const LiftCaution = 23

// Load is something that has to be lifted.
type Load struct {
	What  string  `json:"what"`
	Mass  float64 `json:"mass_kg"`
	Heavy bool    `json:"over_caution"`
}

// Loads are the masses of the parts of a hive as a keeper lifts them: empty as
// built, and bodies with every built comb full of honey. bees is the mass of bees
// in the whole hive, spread over the bodies.
func Loads(h hive.Hive, bees float64) []Load {
	parts := h.EmptyMass()
	var list []Load
	add := func(what string, mass float64) { list = append(list, Load{what, mass, mass > LiftCaution}) }
	var whole, honey float64
	for _, p := range parts {
		whole += p.Mass
	}
	for i, b := range h.Bodies {
		var empty float64
		for _, p := range parts {
			if p.Part == bodyLabel(i, b) || p.Part == "frames of "+bodyLabel(i, b) {
				empty += p.Mass
			}
		}
		full := float64(b.Frames.Count) * b.Frames.DrawnShare * b.Frames.HoneyPerFrame
		honey += full
		add(bodyLabel(i, b)+", full of honey", empty+full+bees/float64(len(h.Bodies)))
	}
	for _, p := range parts {
		if p.Part == "lid" || p.Part == "top board" {
			add(p.Part, p.Mass)
		}
	}
	add("whole hive, full of honey", whole+honey+bees)
	return list
}

func bodyLabel(i int, b hive.Body) string {
	if b.Name == "" {
		return fmt.Sprintf("body %d", i+1)
	}
	return fmt.Sprintf("body %d %s", i+1, b.Name)
}

// lift warns of what is too heavy for one, of the hive as the job leaves it.
func (b *bench) lift() {
	mass := func(m float64) string { return quantity.Format(m, quantity.Mass, b.opt.System) }
	heavy := ""
	for _, l := range Loads(b.job.Plan.Hive, b.job.Plan.Colony.Bees) {
		if l.Heavy && l.What != "whole hive, full of honey" {
			heavy = fmt.Sprintf("%s weighs about %s", l.What, mass(l.Mass))
			break
		}
	}
	if m := b.job.Mass(); m > LiftCaution {
		b.caution(fmt.Sprintf("All parts together weigh %s: carry them in turns or with two.", mass(m)))
	}
	if heavy != "" {
		b.caution(fmt.Sprintf("%s: over %s, lift with two or take frames out first; near the ground and at arm's length even less is too much.", heavy, mass(LiftCaution)))
	}
}
