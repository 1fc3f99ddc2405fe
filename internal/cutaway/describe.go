package cutaway

import (
	"fmt"
	"math"
	"strings"

	"hackle/hive"
	"hackle/quantity"
)

// Describe says in words what the picture of an hour shows, for those who do not
// see it: the same values, from the same steps.
func (y *Year) Describe(hour int, u quantity.System) string {
	if hour < 0 || hour >= y.hours {
		return ""
	}
	v := func(name string) float64 { return y.value(name, hour) }
	celsius := func(t float64) string { return quantity.Format(t, quantity.Temperature, u) }
	mass := func(kg float64) string { return quantity.Format(kg, quantity.Mass, u) }
	long := func(m float64) string { return quantity.Format(m, quantity.Length, u) }
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }

	t := y.Time(hour)
	line := fmt.Sprintf("%s: %s outdoors", t.Format("2 January 2006, 15:04"), celsius(v("outdoor.temp")))
	if w := v("outdoor.wind"); w >= 0.5 {
		line += ", wind " + quantity.Format(w, quantity.Speed, u) + " at the hive"
	}
	if sun := v("outdoor.sun"); sun >= 20 {
		line += fmt.Sprintf(", sun %.0f W/m²", sun)
	}
	say("%s.", line)

	say("The air in the hive is %s at the floor and %s under the lid.", celsius(v("air.at_floor")), celsius(v("air.under_lid")))
	if w, outer := v("air.under_lid"), v("outdoor.temp"); w-outer > 0.5 && v("air.warm_depth") > 0 {
		say("From the lid down, its excess over outdoors falls to half within %s.", long(v("air.warm_depth")))
	}
	y.describeBees(say, v, celsius, mass, long)
	y.describeStores(say, v, mass)
	y.describeWater(say, v, u)
	y.describeFlows(say, v, hour, u)
	if on := y.wrapsOn(hour); on != "" {
		say("%s", on)
	}
	return strings.Join(out, " ")
}

func (y *Year) describeBees(say func(string, ...any), v func(string) float64, celsius, mass, long func(float64) string) {
	switch {
	case !y.has("bees.mass"):
		return
	case v("bees.mass") <= 0:
		say("There are no live bees.")
		return
	}
	say("%s of bees sit in a ball of %s across, its middle %s above the floor: %s at its core, %s at its rim, %s in the air beside it.", upper(mass(v("bees.mass")*(1-v("bees.outside")))), long(2*v("bees.radius")), long(v("bees.height")), celsius(v("bees.core")), celsius(v("bees.mantle")), celsius(v("bees.air")))
	say("They give %s of heat, %.0f %% of what they can keep up.", quantity.Format(v("bees.heat"), quantity.Power, quantity.Metric), 100*v("bees.limit_share"))
	if n := v("bees.sealed"); n >= 100 {
		say("There are about %.0f cells of sealed brood.", math.Round(n/100)*100)
	}
	if v("bees.confined") > 0 {
		say("It is too cold round them to move.")
	}
	if f := v("bees.fanned"); f >= 0.5e-4 {
		say("Bees at the entrance fan %s of air.", quantity.Format(f, quantity.Flow, quantity.Metric))
	}
	if s := v("bees.outside"); s >= 0.005 {
		say("%.0f %% of the bees hang outside.", 100*s)
	}
}

func (y *Year) describeStores(say func(string, ...any), v func(string) float64, mass func(float64) string) {
	if !y.has("honey.left") {
		return
	}
	line := "There are " + mass(v("honey.left")) + " of honey"
	if n := v("nectar.unripe"); n >= 0.01 {
		line += ", and " + mass(n) + " of water still to dry off nectar"
	}
	say("%s.", line)
	switch r := v("honey.reach"); {
	case v("bees.mass") <= 0:
	case v("honey.left") <= 0:
	case v("bees.isolated") > 0:
		say("None of it is in contact with the bees, who cannot move: they are cut off from it.")
	case r <= 0:
		say("None of it is in contact with the bees.")
	case r < 60:
		say("What they touch lasts %s.", days(r))
	}
}

func days(d float64) string {
	if d < 10 {
		return fmt.Sprintf("%.1f days", d)
	}
	return fmt.Sprintf("%.0f days", d)
}

// wetPlaces are the faces that water is told of, with what makes it frost.
func wetPlaces() []struct{ name, channel, cold string } {
	return []struct{ name, channel, cold string }{
		{"under the lid", "water.lid", "face.lid"},
		{"on the walls", "water.walls", "face.wall_coldest"},
		{"on the combs", "water.combs", "air.at_floor"},
		{"on the floor", "water.floor", "air.at_floor"},
	}
}

func (y *Year) describeWater(say func(string, ...any), v func(string) float64, u quantity.System) {
	var wet []string
	for _, p := range wetPlaces() {
		if kg := v(p.channel); kg+0.00005 >= waterSteps(2)[0] {
			what := "water"
			if v(p.cold) < 0 {
				what = "frost"
			}
			wet = append(wet, quantity.Format(kg, quantity.Mass, u)+" of "+what+" "+p.name)
		}
	}
	if len(wet) == 0 {
		say("No face inside is wet.")
		return
	}
	say("There is %s.", listed(wet))
	if over := v("water.overhead"); over+0.00005 >= waterSteps(2)[0] {
		say("%s of that hangs above the bees.", upper(quantity.Format(over, quantity.Mass, u)))
	}
}

func (y *Year) describeFlows(say func(string, ...any), v func(string) float64, hour int, u quantity.System) {
	for i := range y.hive.Openings {
		name := y.hive.Openings[i].Name
		if name == "" {
			name = fmt.Sprintf("opening %d", i+1)
		}
		share, ok := y.Value(fmt.Sprintf("opening.%d.share", i+1), hour)
		switch in, out := v(fmt.Sprintf("opening.%d.in", i+1)), v(fmt.Sprintf("opening.%d.out", i+1)); {
		case ok && share == 0:
			say("The %s is closed.", name)
		default:
			say("Through the %s go %s in and %s out.", name, quantity.Format(in, quantity.Flow, quantity.Metric), quantity.Format(out, quantity.Flow, quantity.Metric))
		}
	}
	if y.has("air.out") {
		say("In all %s of air leave the hive.", quantity.Format(v("air.out"), quantity.Flow, quantity.Metric))
	}
}

func (y *Year) wrapsOn(hour int) string {
	var on []string
	for i, w := range y.hive.Wraps {
		if y.value(fmt.Sprintf("wrap.%d.on", i+1), hour) > 0 {
			name := w.Name
			if name == "" {
				name = "wrap"
			}
			on = append(on, name)
		}
	}
	if len(on) == 0 {
		return ""
	}
	return upper(listed(on)) + map[bool]string{true: " is", false: " are"}[len(on) == 1] + " on."
}

func listed(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// describeHive says how a hive is built.
func describeHive(h *hive.Hive, u quantity.System) string {
	var out []string
	for i := len(h.Bodies) - 1; i >= 0; i-- {
		b := &h.Bodies[i]
		name := b.Name
		if name == "" {
			name = b.Box
		}
		if name == "" {
			name = "body"
		}
		line := fmt.Sprintf("%s, inside %s high, %s from front to back and %s from left to right", upper(name), quantity.Format(b.Height, quantity.Length, u), quantity.Format(b.FrontToBack(), quantity.Length, u), quantity.Format(b.SideToSide(), quantity.Length, u))
		if b.Frames.Count > 0 {
			kind := "frames"
			if b.Frames.Bars {
				kind = "bars"
			}
			line += fmt.Sprintf(", %d %s", b.Frames.Count, kind)
		}
		out = append(out, line+".")
	}
	var layers []string
	for _, l := range h.Lid.Layers {
		layers = append(layers, LayerText(l, u))
	}
	if len(layers) > 0 {
		out = append(out, "The lid from above: "+listed(layers)+".")
	}
	layers = nil
	for _, l := range h.Bodies[0].Walls[hive.Front] {
		layers = append(layers, LayerText(l, u))
	}
	if len(layers) > 0 {
		out = append(out, "The front wall from outside: "+listed(layers)+".")
	}
	for _, o := range h.Openings {
		out = append(out, fmt.Sprintf("%s in the %s, %s above the floor.", upper(o.Name), o.Face, quantity.Format(o.Sill, quantity.Length, u)))
	}
	return "From the top: " + strings.Join(out, " ")
}
