package ledger

import (
	"fmt"
	"strings"
	"time"

	"hackle/season"
)

// FirstWet is where water first settled, and why: its temperature against the dew
// point of the air before it, and how the other faces stood in that hour.
type FirstWet struct {
	At time.Time `json:"at"`
	FaceAir
	Others []FaceAir `json:"others"` // still dry then, from the one nearest to getting wet
}

// FaceAir is a face inside the hive and the air before it.
type FaceAir struct {
	Face     string  `json:"face"`     // "left wall", "lid over the cluster"
	Height   float64 `json:"height_m"` // of its middle above the floor
	Temp     float64 `json:"temp_C"`
	DewPoint float64 `json:"dew_point_C"` // frost point below 0 °C
}

// Spring is the water of March to May, in the south September to November, in
// which brood wants more than honey brings.
type Spring struct {
	From    Date    `json:"from"`
	To      Date    `json:"to"`
	Wanted  float64 `json:"wanted_kg"` // by brood beyond what honey brings
	Drunk   float64 `json:"drunk_kg"`  // of that, found on wet faces of the hive
	Days    int     `json:"days"`      // on which brood wanted water
	DryDays int     `json:"dry_days"`  // of those, with less than half of it on the hive's faces
	// Hours in which the air of the brood nest was drier than eggs hatch in; bees
	// moisten the cells themselves, which costs water.
	DryNestHours float64 `json:"dry_nest_hours"`
}

// eggsHatch is the relative humidity below which eggs did not hatch: The effects of
// different humidities on the hatching of the eggs of honeybees, Apidologie 7 (1976)
// 61, doi:10.1051/apido:19760104 (from memory). [-]
const eggsHatch = 0.50

// firstWet finds the first wet face, of all or above the cluster.
func firstWet(wet []season.FirstWet, over bool) *FirstWet {
	for _, w := range wet {
		if over && !w.Over {
			continue
		}
		f := &FirstWet{At: w.At, FaceAir: faceAir(w.FaceAir), Others: []FaceAir{}}
		for _, x := range w.Others {
			f.Others = append(f.Others, faceAir(x))
		}
		return f
	}
	return nil
}

func faceAir(x season.FaceAir) FaceAir {
	return FaceAir{Face: x.Face, Height: x.Height, Temp: x.Temp, DewPoint: x.DewPoint}
}

// springing sums the water that brood wants in spring.
func (r *record) springing(l *Ledger, south bool) {
	first := time.March
	if south {
		first = time.September
	}
	wanted, drunk, humid := r.get("water.wanted"), r.get("water.drunk"), r.get("humidity.at_cluster")
	sealed := r.get("bees.sealed")
	var s Spring
	var asked, found float64
	day := func() {
		if asked > 0 {
			s.Days++
			if found < asked/2 {
				s.DryDays++
			}
		}
		asked, found = 0, 0
	}
	for h := range r.alive {
		t := r.Time(h)
		if m := t.Month(); m < first || m > first+2 {
			continue
		}
		if t.Hour() == 0 {
			day()
		}
		if s.From.IsZero() {
			s.From = Date{t}
		}
		s.To = Date{t}
		s.Wanted += wanted[h]
		s.Drunk += drunk[h]
		asked += wanted[h]
		found += drunk[h]
		if sealed[h] > BroodLeast && humid[h] < eggsHatch {
			s.DryNestHours++
		}
	}
	day()
	if s.Wanted > 0 {
		l.Water.Spring = &s
	}
}

func readFirstWet(l *Ledger, s voice) string {
	w := l.Water.First
	if w == nil {
		return "Every face inside stayed above the dew point of its air: no water settled."
	}
	text := fmt.Sprintf("Water first settled on the %s, %s above the floor, on %s: it had %s and the air before it gives off water from %s down", w.Face, s.amount(1000*w.Height, "mm"), hourIn(w.At), s.temp(w.Temp), s.temp(w.DewPoint))
	if len(w.Others) > 0 {
		x := w.Others[0]
		text += fmt.Sprintf("; next came the %s, at %s against %s", x.Face, s.temp(x.Temp), s.temp(x.DewPoint))
	}
	if o := l.Water.FirstOver; o == nil {
		for _, x := range w.Others {
			if strings.Contains(x.Face, "over the cluster") {
				text += fmt.Sprintf("; what hangs over the cluster had %s against %s and never got wet", s.temp(x.Temp), s.temp(x.DewPoint))
				break
			}
		}
	} else if !o.At.Equal(w.At) || o.Face != w.Face {
		text += fmt.Sprintf("; above the cluster it began on %s, at %s against %s", dateIn(o.At), s.temp(o.Temp), s.temp(o.DewPoint))
	}
	return text + "."
}

func readSpring(l *Ledger, s voice) string {
	w := l.Water.Spring
	if w == nil {
		return ""
	}
	text := fmt.Sprintf("Between %s brood asked for %s of water beyond what honey brings; ", span(w.From.Time, w.To.Time), s.kg(w.Wanted))
	switch share := w.Drunk / w.Wanted; {
	case share > 0.9:
		text += "bees found it all on wet faces inside the hive"
	case nothing(w.Drunk):
		text += "the faces inside the hive had none to drink: it has to be fetched"
	default:
		text += fmt.Sprintf("bees found %s of it on wet faces inside the hive; the rest has to be fetched", s.kg(w.Drunk))
	}
	if w.DryDays > 0 {
		text += fmt.Sprintf(". On %d of %d days the hive was too dry to drink from: put water out near, before the bees look for it", w.DryDays, w.Days)
	}
	return text + "."
}

func readDryNest(l *Ledger, _ voice) string {
	w := l.Water.Spring
	if w == nil {
		return ""
	}
	if w.DryNestHours == 0 {
		return "The air of the brood nest was never drier than eggs hatch in."
	}
	return fmt.Sprintf("For %s the air of the brood nest was drier than eggs hatch in (50 %%): bees must moisten the cells, which costs them water.", hoursIn(w.DryNestHours))
}

func readFerments(l *Ledger, _ voice) string {
	h := &l.Honey
	if h.OpenWaterAt.IsZero() {
		return ""
	}
	text := fmt.Sprintf("Open honey in the outer combs took up water to %.1f %% at most, on %s", 100*h.OpenWater, dateIn(h.OpenWaterAt))
	if h.FermentHours > 0 {
		return text + fmt.Sprintf("; for %s it was wet and warm enough to ferment.", hoursIn(h.FermentHours))
	}
	return text + "; it was never wet and warm enough to ferment."
}
