package rank

import (
	"fmt"
	"math"
	"strings"

	"hackle/quantity"
)

// Bounds from which a difference is worth a word. Common practice, no source.
const (
	sayHoney    = 0.2  // [kg]
	sayShare    = 0.02 // of the draws [-]
	sayOverhead = 10   // [h]
	sayWater    = 1    // [L]
	sayHot      = 10   // [h]
)

// harm lists what a variant makes clearly worse than the hive as it is: by more
// than a bound, and by more than chance would.
func harm(v *Variant, base Variant, units quantity.System) []string {
	out := []string{}
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	kg := func(x float64) string { return quantity.Format(math.Abs(x), quantity.Mass, units) }
	if v.Saved.Mean < -sayHoney && v.Saved.clear() {
		say("it costs %s more honey", kg(v.Saved.Mean))
	}
	if v.Starve > base.Starve+sayShare {
		say("%s instead of %s of the draws starve", percent(v.Starve), percent(base.Starve))
	}
	if v.Wetter.Mean > sayOverhead && v.Wetter.clear() {
		say("%.0f more hours with water above the cluster", v.Wetter.Mean)
	}
	if v.Falls > base.Falls+sayShare {
		say("comb falls in %s instead of %s of the draws", percent(v.Falls), percent(base.Falls))
	}
	if v.Thirst.Mean > sayWater && v.Thirst.clear() {
		say("%s more water to be hauled in heat", quantity.Format(v.Thirst.Mean*1e-3, quantity.Volume, units))
	}
	if v.Hotter.Mean > sayHot && v.Hotter.clear() {
		say("the brood nest is above %s for %.0f more hours", quantity.Format(36, quantity.Temperature, units), v.Hotter.Mean)
	}
	return out
}

// reasons says what a variant does, good and bad, with its cost and pay-back.
func reasons(v *Variant, base Variant, units quantity.System, currency string) []string {
	out := []string{}
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	kg := func(x float64) string { return quantity.Format(math.Abs(x), quantity.Mass, units) }
	switch {
	case math.Abs(v.Saved.Mean) < sayHoney || !v.Saved.clear():
		say("Honey eaten hardly changes (%s).", between(-v.Saved.High, -v.Saved.Low, func(x float64) string { return signed(x, quantity.Mass, units) }))
	case v.Saved.Mean > 0:
		say("It saves %s of honey a year, in eight of ten draws %s.", kg(v.Saved.Mean), between(v.Saved.Low, v.Saved.High, func(x float64) string { return signed(x, quantity.Mass, units) }))
	default:
		say("It costs %s of honey a year.", kg(v.Saved.Mean))
	}
	if math.Abs(v.Starve-base.Starve) >= sayShare {
		say("%s of the draws starve, as it is %s.", percent(v.Starve), percent(base.Starve))
	}
	if math.Abs(v.Wetter.Mean) > sayOverhead && v.Wetter.clear() {
		word := "fewer"
		if v.Wetter.Mean > 0 {
			word = "more"
		}
		say("%.0f %s hours with water above the cluster, %.0f in all.", math.Abs(v.Wetter.Mean), word, v.Overhead.Mean)
	}
	if math.Abs(v.Falls-base.Falls) >= sayShare {
		say("Comb falls in %s of the draws, as it is in %s.", percent(v.Falls), percent(base.Falls))
	}
	if math.Abs(v.Thirst.Mean) > sayWater && v.Thirst.clear() {
		word := "less"
		if v.Thirst.Mean > 0 {
			word = "more"
		}
		say("%s %s water hauled in heat.", quantity.Format(math.Abs(v.Thirst.Mean)*1e-3, quantity.Volume, units), word)
	}
	say("%s", payBackText(v, currency))
	return out
}

func payBackText(v *Variant, currency string) string {
	cost := fmt.Sprintf("It costs %.2f %s at first", v.First, currency)
	if v.EachYear > 0 {
		cost += fmt.Sprintf(" and %.2f a year", v.EachYear)
	}
	if v.PayBack == nil {
		if v.Soonest != nil {
			return fmt.Sprintf("%s and on the mean never pays back, at best in %s.", cost, years(*v.Soonest))
		}
		return cost + " and never pays back in honey and colonies."
	}
	text := fmt.Sprintf("%s and pays back in %s", cost, years(*v.PayBack))
	switch {
	case v.Latest == nil && v.Soonest != nil:
		text += fmt.Sprintf(", at best %s, perhaps never", years(*v.Soonest))
	case v.Latest != nil && v.Soonest != nil:
		text += fmt.Sprintf(" (%s to %s)", plainYears(*v.Soonest), years(*v.Latest))
	}
	return text + "."
}

func plainYears(y float64) string {
	if y < 10 {
		return fmt.Sprintf("%.1f", y)
	}
	return fmt.Sprintf("%.0f", y)
}

func years(y float64) string {
	if s := plainYears(y); s != "1.0" {
		return s + " years"
	}
	return "a year"
}

func percent(share float64) string { return fmt.Sprintf("%.0f %%", 100*share) }

func signed(x float64, kind quantity.Kind, units quantity.System) string {
	s := quantity.Format(math.Abs(x), kind, units)
	switch {
	case x < 0:
		return "−" + s
	case x > 0:
		return "+" + s
	}
	return s
}

func between(low, high float64, text func(float64) string) string {
	return "between " + text(low) + " and " + text(high)
}

// recommend chooses the variant of the greatest net worth that harms nothing, when
// that is more than nothing; and says why, or why not.
func (a *Answer) recommend(units quantity.System) {
	say := func(format string, args ...any) { a.Why = append(a.Why, fmt.Sprintf(format, args...)) }
	for i := range a.Variants {
		v := &a.Variants[i]
		if v.Net <= 0 {
			break // they are in the order of it
		}
		if len(v.Harm) > 0 {
			say("%s would pay more but does harm: %s.", v.Title, strings.Join(v.Harm, "; "))
			continue
		}
		a.Recommended = v.Name
		say("Of all that harms nothing it leaves the most over %.0f years: %.2f %s after its first cost.", a.Years, v.Net, a.Currency)
		a.Why = append(a.Why, v.Reasons...)
		for _, x := range a.Variants {
			if x.Name == a.Driest && a.Driest != v.Name {
				say("%s is drier.", x.Title)
			}
		}
		return
	}
	say("No change that harms nothing pays for itself in honey and colonies within %.0f years.", a.Years)
	for i := range a.Variants {
		v := &a.Variants[i]
		if v.Name == a.Driest {
			say("Against water above the bees: %s spares them %.0f hours of it for %.2f %s.", v.Title, -v.Wetter.Mean, v.First, a.Currency)
		}
		if v.Falls < a.AsItIs.Falls-sayShare && v.Efficient {
			say("Against falling comb: with %s it falls in %s instead of %s of the draws.", v.Title, percent(v.Falls), percent(a.AsItIs.Falls))
		}
	}
}
