package ledger

import (
	"fmt"
	"math"
	"strings"
	"time"

	"hackle/quantity"
)

// Reading is one line of a ledger in plain words.
type Reading struct {
	Key  string `json:"key"`  // of the Line
	Text string `json:"text"` // one sentence
}

// Readings says every line of the ledger that has something to say, in the order
// of Lines.
func (l Ledger) Readings(system quantity.System) []Reading {
	out := []Reading{}
	for _, n := range Lines() {
		if text := n.Reading(&l, system); text != "" {
			out = append(out, Reading{n.Key, text})
		}
	}
	return out
}

// Verdict says in one word whether the colony comes through, as Answer does in a
// sentence: "yes", "unsure" when it sat cut off from its honey, "no", or "winter"
// when it comes through winter and not through the run.
func (l Ledger) Verdict() string {
	switch {
	case l.outlivedWinter():
		return "winter"
	case l.Died():
		return "no"
	case l.Cut():
		return "unsure"
	}
	return "yes"
}

// OneRun says what a single ledger cannot tell.
const OneRun = "This is one run of one year's weather with the usual value of every number of the bees' biology; another winter or another colony will differ, and this run does not tell by how much."

func (s voice) kg(v float64) string { return s.amount(v, "kg") }
func (s voice) some(v float64) string {
	if nothing(v) {
		return "none"
	}
	return s.kg(v)
}
func (s voice) watt(v float64) string { return s.amount(v, "W") }
func (s voice) temp(v float64) string { return s.amount(v, "°C") }

// dateIn writes a day the way it is spoken.
func dateIn(t time.Time) string { return t.Format("2 January 2006") }

// hourIn writes an hour of a day.
func hourIn(t time.Time) string { return t.Format("2 January 2006 at 15:04") }

// span writes two days without saying month or year twice.
func span(a, b time.Time) string {
	switch {
	case a.Year() != b.Year():
		return dateIn(a) + " and " + dateIn(b)
	case a.Month() != b.Month():
		return a.Format("2 January") + " and " + dateIn(b)
	}
	return a.Format("2") + " and " + dateIn(b)
}

// shareIn words: "about a fifth", or percent where no plain fraction is near.
func shareIn(x float64) string {
	plain := []struct {
		v    float64
		word string
	}{
		{1. / 20, "a twentieth"}, {1. / 10, "a tenth"}, {1. / 8, "an eighth"}, {1. / 6, "a sixth"}, {1. / 5, "a fifth"}, {1. / 4, "a quarter"}, {1. / 3, "a third"},
		{2. / 5, "two fifths"}, {1. / 2, "half"}, {3. / 5, "three fifths"}, {2. / 3, "two thirds"}, {3. / 4, "three quarters"}, {4. / 5, "four fifths"}, {9. / 10, "nine tenths"},
	}
	if x >= 0.995 && x < 1.005 {
		return "all"
	}
	for _, p := range plain {
		if math.Abs(x-p.v) <= 0.06*p.v {
			return "about " + p.word
		}
	}
	if math.Abs(x) < 0.01 {
		return "less than a hundredth"
	}
	return fmt.Sprintf("%.0f %%", 100*x)
}

// hoursIn words: hours up to two days, then days.
func hoursIn(h float64) string {
	switch {
	case h == 1:
		return "an hour"
	case h < 48:
		return fmt.Sprintf("%.0f hours", h)
	}
	return strings.TrimSuffix(fixed(h/24, 1), ".0") + " days"
}

// daysIn words: days, or hours when there are few.
func daysIn(d float64) string {
	if d < 2 {
		return hoursIn(math.Round(d * 24))
	}
	return short(d) + " days"
}

func nothing(v float64) bool { return math.Abs(v) < 0.0005 }

// Answer says in one sentence whether the colony comes through on the honey it
// has, as far as this run tells, and in a second how it comes through summer when
// the run has one.
func (l Ledger) Answer(system quantity.System) string {
	text := l.storesAnswer(voice{system})
	if !l.Died() && (l.Hot() || l.Year()) {
		text += " " + l.summerAnswer(voice{system})
	}
	return text
}

func (l *Ledger) storesAnswer(s voice) string {
	had := s.kg(l.Honey.Start)
	if l.Honey.Fed > 0 {
		had += " and the " + s.kg(l.Honey.Fed) + " fed"
	}
	switch {
	case l.Hours == 0:
		return "There is nothing to tell of a run without hours."
	case l.Starved() && l.outlivedWinter():
		left := l.From.Add(time.Duration(l.Hours)*time.Hour).Sub(l.Honey.StarvedAt).Hours() / 24
		text := fmt.Sprintf("No: in this run the colony burns %s of honey in winter and has %s left on %s, but the last of it is eaten on %s, %s before the end", s.kg(l.Winter.Burned), s.kg(l.Winter.Left), dateIn(l.Winter.To.Time), dateIn(l.Honey.StarvedAt), daysIn(left))
		if l.Honey.Gained == 0 && l.Summer.FlowsNamed == 0 {
			text += ": the hive file names no nectar flow to live on in summer"
		}
		return text + "."
	case l.Starved():
		left := l.From.Add(time.Duration(l.Hours)*time.Hour).Sub(l.Honey.StarvedAt).Hours() / 24
		return fmt.Sprintf("No: in this run the last of the %s of honey is eaten on %s, %s before its end.", had, dateIn(l.Honey.StarvedAt), daysIn(left))
	case l.Died():
		return fmt.Sprintf("No: in this run the colony is dead from %s on, with %s of honey left.", dateIn(l.Bees.DiedAt), s.kg(l.Honey.Left))
	case l.Cut() && l.Honey.Gained > 0:
		return fmt.Sprintf("Not surely: in this run it is for %s too cold to move with no honey left in contact; %s.", hoursIn(l.Confinement.Isolation), l.course(s))
	case l.Honey.Gained > 0:
		return fmt.Sprintf("Yes: in this run %s.", l.course(s))
	case l.Cut():
		return fmt.Sprintf("Not surely: in this run the colony burns %s of the %s of honey by %s, but for %s it is too cold to move and no honey is left in contact.", s.kg(l.Honey.Burned), had, dateIn(l.To.Time), hoursIn(l.Confinement.Isolation))
	}
	return fmt.Sprintf("Yes: in this run the colony burns %s of the %s of honey by %s and has %s left.", s.kg(l.Honey.Burned), had, dateIn(l.To.Time), s.kg(l.Honey.Left))
}

func readStart(l *Ledger, s voice) string {
	return fmt.Sprintf("It went in with %s of honey on %s.", s.kg(l.Honey.Start), dateIn(l.From.Time))
}

func readFed(l *Ledger, s voice) string {
	if nothing(l.Honey.Fed) {
		return "Nothing was fed."
	}
	return fmt.Sprintf("It was fed what makes %s of stores.", s.kg(l.Honey.Fed))
}

func readBurned(l *Ledger, s voice) string {
	text := fmt.Sprintf("It burned %s of honey", s.kg(l.Honey.Burned))
	top := Month{}
	for _, m := range l.Honey.ByMonth {
		if m.Mass > top.Mass {
			top = m
		}
	}
	if t, err := time.Parse("2006-01", top.Month); err == nil && len(l.Honey.ByMonth) > 1 {
		text += fmt.Sprintf(", most of it, %s, in %s", s.kg(top.Mass), t.Format("January 2006"))
		if top.Mass < l.Honey.Burned/2 {
			text = strings.Replace(text, "most of it", "more than in any other month", 1)
		}
	}
	return text + "."
}

func readForHeat(l *Ledger, s voice) string {
	return fmt.Sprintf("%s of it paid for the heat of bees and brood.", sentence(s.kg(l.Honey.ForHeat)))
}

func readForOther(l *Ledger, s voice) string {
	return fmt.Sprintf("%s of it went into flight and into brood beyond its heat.", sentence(s.kg(l.Honey.ForOther)))
}

// sentence makes the first letter a capital.
func sentence(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

func readLeft(l *Ledger, s voice) string {
	if l.Starved() {
		return fmt.Sprintf("The last honey was eaten on %s.", hourIn(l.Honey.StarvedAt))
	}
	return fmt.Sprintf("%s of honey is left on %s.", sentence(s.kg(l.Honey.Left)), dateIn(l.To.Time))
}

func readHeatMean(l *Ledger, s voice) string {
	return fmt.Sprintf("Bees and brood gave %s on the mean.", s.watt(l.Bees.HeatMean))
}

func readHeatPeak(l *Ledger, s voice) string {
	if l.Bees.PeakAt.IsZero() {
		return ""
	}
	return fmt.Sprintf("In their warmest hour, on %s, they gave %s.", hourIn(l.Bees.PeakAt), s.watt(l.Bees.HeatPeak))
}

func readPeakShare(l *Ledger, _ voice) string {
	return fmt.Sprintf("That hour took %s of what they can keep up.", shareIn(l.Bees.PeakShare))
}

func readPeakDay(l *Ledger, s voice) string {
	b := &l.Bees
	if b.PeakDay.IsZero() {
		return ""
	}
	return fmt.Sprintf("They ran hardest on %s, at %s over the whole day, %s of what they can keep up; in the highest single hour, on %s, it was %s.",
		dateIn(b.PeakDay.Time), s.watt(b.HeatPeakDay), shareIn(b.PeakDayShare), hourIn(b.PeakAt), s.watt(b.HeatPeak))
}

func readPeakDayShare(l *Ledger, _ voice) string {
	if l.Bees.PeakDay.IsZero() {
		return ""
	}
	return fmt.Sprintf("That day took %s of what they can keep up.", shareIn(l.Bees.PeakDayShare))
}

func readHardest(l *Ledger, _ voice) string {
	if l.Bees.HardestAt.IsZero() {
		return ""
	}
	return fmt.Sprintf("For the bees there were, the hardest hour was on %s: %s of what they can keep up.", hourIn(l.Bees.HardestAt), shareIn(l.Bees.HardestShare))
}

func readMassStart(l *Ledger, s voice) string {
	return fmt.Sprintf("It went in with %s of bees.", s.kg(l.Bees.MassStart))
}

func readMassEnd(l *Ledger, s voice) string {
	if l.Died() {
		return fmt.Sprintf("The colony died on %s.", hourIn(l.Bees.DiedAt))
	}
	return fmt.Sprintf("%s of bees are there at the end.", sentence(s.kg(l.Bees.MassEnd)))
}

func readHeatGiven(l *Ledger, _ voice) string {
	return fmt.Sprintf("Bees and brood gave %s kWh of heat.", fixed(l.Heat.Bees, 1))
}

func readWithVapour(l *Ledger, _ voice) string {
	return fmt.Sprintf("%s kWh of it left bound in vapour.", fixed(l.Heat.WithVapour, 1))
}

func readStored(l *Ledger, _ voice) string {
	if l.Heat.Stored < 0 {
		return fmt.Sprintf("Air, combs and shell hold %s kWh less at the end than at the start.", fixed(-l.Heat.Stored, 1))
	}
	return fmt.Sprintf("Air, combs and shell hold %s kWh more at the end than at the start.", fixed(l.Heat.Stored, 1))
}

func readLost(l *Ledger, _ voice) string {
	total := l.LossHeat.Sum()
	if !(total > 0) {
		return ""
	}
	if l.LossHeat.Walls() < 0 || l.LossHeat.Lid < 0 {
		way := func(v float64, where string) string {
			if v < 0 {
				return fmt.Sprintf("%s by %s kWh less than the sun gave", where, fixed(-v, 1))
			}
			return fmt.Sprintf("%s %s kWh", where, fixed(v, 1))
		}
		return fmt.Sprintf("Heat left with the air, %s kWh, and through floor and edges, %s kWh; %s and %s.", fixed(l.LossHeat.Openings+l.LossHeat.Mesh+l.LossHeat.Cracks, 1),
			fixed(l.LossHeat.Floor+l.LossHeat.Edges, 1), way(l.LossHeat.Walls(), "through the walls"), way(l.LossHeat.Lid, "through the lid"))
	}
	share := func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v/total) }
	air := l.LossHeat.Openings + l.LossHeat.Mesh + l.LossHeat.Cracks
	return fmt.Sprintf("Of the heat lost, %s went through the walls, %s through the lid, %s through floor and edges and %s with the air.",
		share(l.LossHeat.Walls()), share(l.LossHeat.Lid), share(l.LossHeat.Floor+l.LossHeat.Edges), share(air))
}

func (w way) reading(l *Ledger, s voice) string {
	heat, honey := w.of(l.LossHeat), w.of(l.LossHoney)
	if nothing(honey) {
		return ""
	}
	if heat < 0 {
		meaning, _, _ := strings.Cut(w.meaning, ", less")
		return fmt.Sprintf("%s kWh more came in from sun and warm air than went %s; what comes in while it is warm saves no honey.", fixed(-heat, 1), meaning)
	}
	return fmt.Sprintf("%s kWh went %s, worth %s of honey.", fixed(heat, 1), w.meaning, s.kg(honey))
}

func readOutdoors(l *Ledger, s voice) string {
	return fmt.Sprintf("Outdoors it was %s on the mean.", s.temp(l.Warmth.Outdoors))
}

func readUnderLid(l *Ledger, s voice) string {
	return fmt.Sprintf("Under the lid it was %s on the mean, at the cluster's height %s, at the floor %s, with %s outdoors.",
		s.temp(l.Warmth.UnderLid), s.temp(l.Warmth.Cluster), s.temp(l.Warmth.Floor), s.temp(l.Warmth.Outdoors))
}

func readCluster(l *Ledger, s voice) string {
	return fmt.Sprintf("At the cluster's height the air was %s on the mean.", s.temp(l.Warmth.Cluster))
}

func readFloor(l *Ledger, s voice) string {
	return fmt.Sprintf("At the floor it was %s on the mean.", s.temp(l.Warmth.Floor))
}

func readWarmDepth(l *Ledger, s voice) string {
	return fmt.Sprintf("The warm air reached %s below the lid, on the mean.", s.amount(l.Warmth.WarmDepth, "mm"))
}

func readUnderLidMin(l *Ledger, s voice) string {
	if l.Warmth.UnderLidAt.IsZero() {
		return ""
	}
	return fmt.Sprintf("Under the lid it was coldest on %s, %s.", hourIn(l.Warmth.UnderLidAt), s.temp(l.Warmth.UnderLidMin))
}

func readClusterMin(l *Ledger, s voice) string {
	if l.Warmth.ClusterAt.IsZero() {
		return ""
	}
	return fmt.Sprintf("At the cluster's height it was coldest on %s, %s.", hourIn(l.Warmth.ClusterAt), s.temp(l.Warmth.ClusterMin))
}

func readProduced(l *Ledger, s voice) string {
	w := &l.Water
	from := fmt.Sprintf("The bees gave off %s of water", s.kg(w.Produced))
	if !nothing(w.FromNectar) || !nothing(w.Spread) {
		from = fmt.Sprintf("Bees and nectar gave off %s of water (%s from honey eaten, %s from nectar, %s spread for cooling)", s.kg(w.Produced), s.kg(w.FromHoney), s.kg(w.FromNectar), s.kg(w.Spread))
	}
	text := fmt.Sprintf("%s: %s left with the air, %s is still in the hive, %s ran out", from, s.kg(w.Vented), s.kg(w.Stored), s.kg(w.Drained))
	for _, x := range []struct {
		v     float64
		words string
	}{{w.Drunk, "was drunk from wet faces"}, {w.InShell, "went into walls and lid"}, {w.ThroughShell, "left through walls and lid"}} {
		if x.v > 0 && !nothing(x.v) {
			text += fmt.Sprintf(", %s %s", s.kg(x.v), x.words)
		}
	}
	if w.InShell < 0 && !nothing(w.InShell) {
		text += fmt.Sprintf("; walls and lid gave up %s", s.kg(-w.InShell))
	}
	if !nothing(w.Rain) {
		text += fmt.Sprintf("; bare wood drew in %s of rain", s.kg(w.Rain))
	}
	return text + "."
}

func readVented(l *Ledger, s voice) string {
	return fmt.Sprintf("The air carried out %s more water than it brought.", s.kg(l.Water.Vented))
}

func readWaterStored(l *Ledger, s voice) string {
	return fmt.Sprintf("%s of water is still in the hive at the end.", sentence(s.kg(l.Water.Stored)))
}

func readDrained(l *Ledger, s voice) string {
	if nothing(l.Water.Drained) {
		return "No water ran out."
	}
	return fmt.Sprintf("%s of water ran out.", sentence(s.kg(l.Water.Drained)))
}

func readHeld(l *Ledger, s voice) string {
	return fmt.Sprintf("The bees held back %s of water for cleansing flights.", s.kg(l.Water.HeldByBees))
}

// gross says what an amount of condensed water is not.
const gross = "an amount that counts the same water each time it dries and settles again"

func condensed(where string, of func(Surfaces) float64) func(*Ledger, voice) string {
	return func(l *Ledger, s voice) string {
		if nothing(of(l.Water.Condensed)) {
			return fmt.Sprintf("No water to speak of settled %s.", where)
		}
		return fmt.Sprintf("%s of water settled %s in all, %s; at most %s lay there at once, and %s at the end.", sentence(s.kg(of(l.Water.Condensed))), where, gross, s.kg(of(l.Water.LyingMost)), s.some(of(l.Water.Lying)))
	}
}

func readOverhead(l *Ledger, s voice) string {
	w := &l.Water
	if w.OverheadHours == 0 {
		return "It stayed dry above the cluster."
	}
	text := fmt.Sprintf("Overhead water hangs on lid or top board above the bees, where it chills them when it drips: there was some for %s, at most %s on %s", hoursIn(w.OverheadHours), s.kg(w.OverheadMost), dateIn(w.OverheadAt))
	if nothing(w.DrippedBees) {
		return text + "; none dripped on it."
	}
	return text + fmt.Sprintf("; %s dripped on it.", s.kg(w.DrippedBees))
}

func readOverheadMost(l *Ledger, s voice) string {
	if l.Water.OverheadAt.IsZero() {
		return ""
	}
	return fmt.Sprintf("The most water above the cluster was %s, on %s.", s.kg(l.Water.OverheadMost), hourIn(l.Water.OverheadAt))
}

func readDripped(l *Ledger, s voice) string {
	if nothing(l.Water.Dripped) {
		return "Nothing dripped from overhead."
	}
	return fmt.Sprintf("%s of water dripped from overhead.", sentence(s.kg(l.Water.Dripped)))
}

func readDrippedBees(l *Ledger, s voice) string {
	if nothing(l.Water.DrippedBees) {
		return "Nothing dripped on the cluster."
	}
	return fmt.Sprintf("%s of water dripped on the cluster.", sentence(s.kg(l.Water.DrippedBees)))
}

func readCO2(l *Ledger, s voice) string {
	if l.CO2PeakAt.IsZero() {
		return ""
	}
	return fmt.Sprintf("The air beside the cluster was most stale on %s, with %s of CO2.", hourIn(l.CO2PeakAt), s.amount(l.CO2Peak, "%"))
}

func readReach(l *Ledger, _ voice) string {
	if l.ReachMinAt.IsZero() {
		return ""
	}
	if l.ReachMin < 1./24 {
		return fmt.Sprintf("On %s no honey was left in contact with the cluster.", dateIn(l.ReachMinAt))
	}
	return fmt.Sprintf("Honey in contact was shortest on %s: %s at that day's use.", dateIn(l.ReachMinAt), daysIn(l.ReachMin))
}

func readConfined(l *Ledger, _ voice) string {
	c := &l.Confinement
	if c.Longest == 0 {
		return "It was never too cold beside the cluster for bees to move."
	}
	text := fmt.Sprintf("Between %s bees could not move for %s; they began it with honey in contact for %s", span(c.From, c.To), hoursIn(c.Longest), daysIn(c.ReachAtStart))
	if c.Isolation > 0 {
		return text + fmt.Sprintf(", and in all they sat without honey for %s.", hoursIn(c.Isolation))
	}
	return text + "."
}

func readReachAtStart(l *Ledger, _ voice) string {
	c := &l.Confinement
	if c.Longest == 0 {
		return ""
	}
	if c.ReachAtStart*24 < c.Longest {
		return fmt.Sprintf("When it began, honey in contact was enough for %s, less than it lasted.", daysIn(c.ReachAtStart))
	}
	return fmt.Sprintf("When it began, honey in contact was enough for %s, longer than it lasted.", daysIn(c.ReachAtStart))
}

func readIsolation(l *Ledger, _ voice) string {
	if l.Confinement.Isolation == 0 {
		return "They were never cut off from honey."
	}
	return fmt.Sprintf("They were cut off from honey for %s.", hoursIn(l.Confinement.Isolation))
}

// inWeek makes a reading of the coldest week.
func inWeek(l *Ledger, tell func(*Week) string) string {
	if l.ColdestWeek == nil {
		return ""
	}
	return tell(l.ColdestWeek)
}

func readWeek(l *Ledger, s voice) string {
	return inWeek(l, func(w *Week) string {
		if l.Died() && l.Bees.DiedAt.Before(w.From.Time) {
			return fmt.Sprintf("Between %s it was coldest, %s on the mean; the colony was dead by then.", span(w.From.Time, w.To.Time), s.temp(w.Outdoors))
		}
		return fmt.Sprintf("Between %s it was coldest, %s on the mean; the bees ran at %s, %s of what they can keep up, and burned %s of honey.",
			span(w.From.Time, w.To.Time), s.temp(w.Outdoors), s.watt(w.Heat), shareIn(w.Share), s.kg(w.Honey))
	})
}

func readWeekLowest(l *Ledger, s voice) string {
	return inWeek(l, func(w *Week) string {
		return fmt.Sprintf("The coldest hour of that week was %s.", s.temp(w.Lowest))
	})
}

func readWeekHeat(l *Ledger, s voice) string {
	return inWeek(l, func(w *Week) string { return fmt.Sprintf("The bees gave %s in that week.", s.watt(w.Heat)) })
}

func readWeekShare(l *Ledger, _ voice) string {
	return inWeek(l, func(w *Week) string {
		return fmt.Sprintf("That week took %s of what they can keep up.", shareIn(w.Share))
	})
}

func readWeekHoney(l *Ledger, s voice) string {
	return inWeek(l, func(w *Week) string { return fmt.Sprintf("They burned %s of honey in that week.", s.kg(w.Honey)) })
}

func readWeekAir(l *Ledger, s voice) string {
	return inWeek(l, func(w *Week) string { return fmt.Sprintf("Under the lid it was %s in that week.", s.temp(w.UnderLid)) })
}

func readWeekCluster(l *Ledger, s voice) string {
	return inWeek(l, func(w *Week) string {
		return fmt.Sprintf("At the cluster's height it was %s in that week.", s.temp(w.Cluster))
	})
}

func readWeekFloor(l *Ledger, s voice) string {
	return inWeek(l, func(w *Week) string { return fmt.Sprintf("At the floor it was %s in that week.", s.temp(w.Floor)) })
}

func readWeekDepth(l *Ledger, s voice) string {
	return inWeek(l, func(w *Week) string {
		return fmt.Sprintf("The warm air reached %s below the lid in that week.", s.amount(w.WarmDepth, "mm"))
	})
}

func readWeekConfined(l *Ledger, _ voice) string {
	return inWeek(l, func(w *Week) string {
		if w.Confined == 0 {
			return "Bees could move all through that week."
		}
		return fmt.Sprintf("For %s of that week bees could not move.", hoursIn(w.Confined))
	})
}

func readWeekOverhead(l *Ledger, _ voice) string {
	return inWeek(l, func(w *Week) string {
		if w.Overhead == 0 {
			return "It stayed dry above the cluster in that week."
		}
		return fmt.Sprintf("Water or ice hung above the cluster for %s of that week.", hoursIn(w.Overhead))
	})
}
