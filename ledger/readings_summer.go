package ledger

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"hackle/comb"
)

func (s voice) litre(v float64) string  { return s.amount(v, "L") }
func (s voice) length(v float64) string { return s.amount(v, "m") }

// count writes a large number to two digits, in groups of three.
func count(v float64) string {
	if v >= 100 {
		unit := math.Pow(10, math.Floor(math.Log10(v))-1)
		v = math.Round(v/unit) * unit
	}
	text := strconv.FormatFloat(v, 'f', 0, 64)
	for i := len(text) - 3; i > 0; i -= 3 {
		text = text[:i] + "," + text[i:]
	}
	return text
}

// part returns the water of a surface by its key.
func (w Surfaces) part(key string) float64 {
	switch key {
	case "lid":
		return w.Lid
	case "walls":
		return w.Walls
	case "floor":
		return w.Floor
	}
	return w.Combs
}

// Words for the combs that c stands for: "outer combs of body 3".
func (c *Comb) where() string {
	switch c.Place {
	case "core":
		return fmt.Sprintf("middle combs of body %d", c.Body)
	case "flank":
		return fmt.Sprintf("outer combs of body %d", c.Body)
	}
	return fmt.Sprintf("combs of body %d beyond the follower board", c.Body)
}

// group names the combs shortly, with how many frames of the body they are.
func (c *Comb) group() string {
	place := map[string]string{"core": "middle", "flank": "outer", "beyond": "far"}[c.Place]
	if c.FramesInAll == 0 {
		return fmt.Sprintf("body %d, %s", c.Body, place)
	}
	return fmt.Sprintf("body %d, %s %.0f of %.0f", c.Body, place, c.Frames, c.FramesInAll)
}

// nestAnswer says how the brood nest stands the heat, empty when there was no brood.
func (l *Ledger) nestAnswer(s voice) string {
	h := &l.Summer
	if h.NestMaxAt.IsZero() {
		return ""
	}
	worst := fmt.Sprintf("%s at most, on %s", s.temp(h.NestMax), dateIn(h.NestMaxAt))
	switch {
	case l.Overheated():
		return fmt.Sprintf("the brood nest overheats: for %s it is above %s, %s", hoursIn(h.Above37), s.temp(37), worst)
	case h.Above37 > 0:
		return fmt.Sprintf("the brood nest is strained: for %s it is above %s, %s", hoursIn(h.Above37), s.temp(37), worst)
	}
	return fmt.Sprintf("the brood nest holds, %s", worst)
}

// summerAnswer says in one sentence how the hive comes through the heat.
func (l *Ledger) summerAnswer(s voice) string {
	h := &l.Summer
	var parts []string
	if nest := l.nestAnswer(s); nest != "" {
		parts = append(parts, nest)
	}
	warmest := ""
	if !h.CombMaxAt.IsZero() {
		warmest = s.temp(h.CombMax)
	}
	c := l.Comb
	switch {
	case c != nil && c.Class == string(comb.Falls):
		parts = append(parts, fmt.Sprintf("%s give way, worst on %s at %s", c.where(), dateIn(c.At), s.temp(c.Temperature)))
	case c != nil && c.Class == string(comb.Near):
		parts = append(parts, fmt.Sprintf("%s may give way, worst on %s at %s", c.where(), dateIn(c.At), s.temp(c.Temperature)))
	case c != nil && warmest != "":
		parts = append(parts, "the combs hold, at most "+warmest+" warm")
	case warmest != "":
		parts = append(parts, "combs are at most "+warmest+" warm")
	}
	last := "no bees hang outside"
	if h.Outside > 0 {
		last = fmt.Sprintf("bees hang outside for %s, %s of them at most", hoursIn(h.Outside), shareIn(h.OutsideMost))
	}
	switch {
	case h.Hauled > WaterDayLeast:
		last += fmt.Sprintf(", and %s of water are hauled", s.litre(h.Hauled))
	case h.WaterDistance == 0 && h.Above36 > 0:
		last += ", and no water is hauled, as the hive file names none"
	}
	return "In summer " + strings.Join(append(parts, last), "; ") + "."
}

// course says how the stores went in a run in which bees carried in nectar.
func (l *Ledger) course(s voice) string {
	had := s.kg(l.Honey.Start)
	over := fmt.Sprintf("gains %s of honey, burns %s and has %s left on %s", s.kg(l.Honey.Gained), s.kg(l.Honey.Burned), s.kg(l.Honey.Left), dateIn(l.To.Time))
	if l.Honey.Fed > 0 {
		over = fmt.Sprintf("is fed %s, %s", s.kg(l.Honey.Fed), over)
	}
	lowest := ""
	if !l.Honey.LeastAt.IsZero() {
		lowest = fmt.Sprintf("; stores are lowest on %s, with %s", dateIn(l.Honey.LeastAt), s.kg(l.Honey.Least))
	}
	if w := l.Winter; w != nil {
		of := ""
		if w.From == l.From {
			of = " of the " + had + " of honey"
		}
		return fmt.Sprintf("the colony burns %s%s in winter and has %s left on %s%s; over the whole run it %s", s.kg(w.Burned), of, s.kg(w.Left), dateIn(w.To.Time), lowest, over)
	}
	return fmt.Sprintf("the colony begins with %s of honey, %s%s", had, over, lowest)
}

// outlivedWinter reports whether the colony died only after the winter of the run.
func (l *Ledger) outlivedWinter() bool {
	return l.Winter != nil && l.Died() && !l.Bees.DiedAt.Before(l.Winter.To.AddDate(0, 0, 1)) && l.Winter.Left > 0
}

func readGained(l *Ledger, s voice) string {
	if l.Honey.Gained == 0 {
		return "No nectar was carried in."
	}
	text := fmt.Sprintf("It carried in %s of nectar, which makes %s of honey; %s of water dried off", s.kg(l.Nectar.Carried), s.kg(l.Honey.Gained), s.kg(l.Nectar.Dried))
	if nothing(l.Nectar.Unripe) {
		return text + " and none is left to dry."
	}
	return text + fmt.Sprintf(" and %s is still to dry.", s.kg(l.Nectar.Unripe))
}

func readNectar(l *Ledger, s voice) string {
	if l.Nectar.Carried == 0 {
		return ""
	}
	return fmt.Sprintf("%s of nectar came in.", sentence(s.kg(l.Nectar.Carried)))
}

func readNectarDried(l *Ledger, s voice) string {
	if l.Nectar.Carried == 0 {
		return ""
	}
	return fmt.Sprintf("%s of water dried off nectar.", sentence(s.kg(l.Nectar.Dried)))
}

func readUnripe(l *Ledger, s voice) string {
	if l.Nectar.Carried == 0 {
		return ""
	}
	return fmt.Sprintf("%s of water is still to dry off nectar at the end.", sentence(s.kg(l.Nectar.Unripe)))
}

func readUnripeMost(l *Ledger, s voice) string {
	if l.Nectar.UnripeMostAt.IsZero() {
		return ""
	}
	return fmt.Sprintf("Most was to dry on %s: %s of water.", dateIn(l.Nectar.UnripeMostAt), s.kg(l.Nectar.UnripeMost))
}

func readLeast(l *Ledger, s voice) string {
	if l.Honey.LeastAt.IsZero() {
		return ""
	}
	return fmt.Sprintf("Stores were lowest on %s, with %s.", dateIn(l.Honey.LeastAt), s.kg(l.Honey.Least))
}

func readWinter(l *Ledger, s voice) string {
	w := l.Winter
	if w == nil {
		return ""
	}
	return fmt.Sprintf("In winter, from %s to %s, it burned %s and had %s left.", dateIn(w.From.Time), dateIn(w.To.Time), s.kg(w.Burned), s.kg(w.Left))
}

func readWinterLeft(l *Ledger, s voice) string {
	if l.Winter == nil {
		return ""
	}
	return fmt.Sprintf("%s of honey was left on %s.", sentence(s.kg(l.Winter.Left)), dateIn(l.Winter.To.Time))
}

func readFromHoney(l *Ledger, s voice) string {
	return fmt.Sprintf("%s of water came from honey eaten.", sentence(s.kg(l.Water.FromHoney)))
}

func readFromNectar(l *Ledger, s voice) string {
	if nothing(l.Water.FromNectar) {
		return "No water came from nectar."
	}
	return fmt.Sprintf("%s of water dried off nectar into the air of the hive.", sentence(s.kg(l.Water.FromNectar)))
}

func readSpread(l *Ledger, s voice) string {
	if nothing(l.Water.Spread) {
		return "No water was spread for cooling."
	}
	return fmt.Sprintf("%s of water was spread for cooling.", sentence(s.kg(l.Water.Spread)))
}

func readDrunk(l *Ledger, s voice) string {
	if nothing(l.Water.Drunk) {
		return "Bees drank nothing from wet faces of the hive."
	}
	return fmt.Sprintf("Bees drank %s of water from wet faces of the hive.", s.kg(l.Water.Drunk))
}

func readInShell(l *Ledger, s voice) string {
	if l.Water.InShell < 0 {
		return fmt.Sprintf("Walls, boards and lid hold %s of water less at the end than at the start.", s.kg(-l.Water.InShell))
	}
	return fmt.Sprintf("Walls, boards and lid hold %s of water more at the end than at the start.", s.kg(l.Water.InShell))
}

func readThroughShell(l *Ledger, s voice) string {
	if l.Water.ThroughShell < 0 {
		return fmt.Sprintf("%s of water came in through walls and lid.", sentence(s.kg(-l.Water.ThroughShell)))
	}
	return fmt.Sprintf("%s of water left through walls and lid.", sentence(s.kg(l.Water.ThroughShell)))
}

func readRain(l *Ledger, s voice) string {
	if nothing(l.Water.Rain) {
		return "No rain went into the wood."
	}
	return fmt.Sprintf("Bare wood drew in %s of rain.", s.kg(l.Water.Rain))
}

func readRanDown(l *Ledger, s voice) string {
	if nothing(l.Water.RanDown) {
		return "Nothing ran down the walls."
	}
	return fmt.Sprintf("%s of water ran down walls and combs to the floor.", sentence(s.kg(l.Water.RanDown)))
}

func readLying(l *Ledger, s voice) string {
	if nothing(l.Water.LyingTotal) {
		return "No water lies in the hive at the end."
	}
	return fmt.Sprintf("%s of water lies in the hive at the end.", sentence(s.kg(l.Water.LyingTotal)))
}

func readNest(l *Ledger, s voice) string {
	h := &l.Summer
	if h.NestMaxAt.IsZero() {
		return ""
	}
	if h.Above36 == 0 {
		return fmt.Sprintf("The brood nest was never above %s.", s.temp(36))
	}
	text := fmt.Sprintf("The brood nest was above %s for %s", s.temp(36), hoursIn(h.Above36))
	if h.Above37 > 0 {
		text += fmt.Sprintf(", above %s for %s", s.temp(37), hoursIn(h.Above37))
	}
	if h.Above38 > 0 {
		text += fmt.Sprintf(" and above %s for %s", s.temp(38), hoursIn(h.Above38))
	}
	return text + fmt.Sprintf("; it was hottest on %s, %s.", hourIn(h.NestMaxAt), s.temp(h.NestMax))
}

func nestAbove(limit float64, of func(*Summer) float64) func(*Ledger, voice) string {
	return func(l *Ledger, s voice) string {
		switch h := &l.Summer; {
		case h.NestMaxAt.IsZero():
			return ""
		case of(h) == 0:
			return fmt.Sprintf("The brood nest was never above %s.", s.temp(limit))
		}
		return fmt.Sprintf("The brood nest was above %s for %s.", s.temp(limit), hoursIn(of(&l.Summer)))
	}
}

func readNestMax(l *Ledger, s voice) string {
	if l.Summer.NestMaxAt.IsZero() {
		return ""
	}
	return fmt.Sprintf("The brood nest was hottest on %s, %s.", hourIn(l.Summer.NestMaxAt), s.temp(l.Summer.NestMax))
}

func readCombMax(l *Ledger, s voice) string {
	if l.Summer.CombMaxAt.IsZero() {
		return ""
	}
	return fmt.Sprintf("The warmest comb was %s, on %s.", s.temp(l.Summer.CombMax), hourIn(l.Summer.CombMaxAt))
}

func readOutside(l *Ledger, _ voice) string {
	h := &l.Summer
	if h.Outside == 0 {
		return "No bees to speak of hung outside."
	}
	return fmt.Sprintf("Bees hung outside for %s, %s of them at most, on %s.", hoursIn(h.Outside), shareIn(h.OutsideMost), hourIn(h.OutsideAt))
}

func readOutsideMost(l *Ledger, _ voice) string {
	if l.Summer.OutsideAt.IsZero() {
		return ""
	}
	return fmt.Sprintf("Most bees hung outside on %s, %s of them.", hourIn(l.Summer.OutsideAt), shareIn(l.Summer.OutsideMost))
}

func readFanning(l *Ledger, _ voice) string {
	h := &l.Summer
	if h.FanningDayOn.IsZero() {
		return "No bees fanned."
	}
	return fmt.Sprintf("Fanning against heat, damp and stale air took %s hours of single bees, most on %s, when %s fanned on the mean of the day.", count(h.Fanning), dateIn(h.FanningDayOn.Time), count(h.FanningDay/24))
}

func readFanningDay(l *Ledger, _ voice) string {
	if l.Summer.FanningDayOn.IsZero() {
		return ""
	}
	return fmt.Sprintf("They fanned most on %s: %s hours of single bees.", dateIn(l.Summer.FanningDayOn.Time), count(l.Summer.FanningDay))
}

func readFanningDry(l *Ledger, _ voice) string {
	if l.Summer.FanningDry == 0 {
		return ""
	}
	return fmt.Sprintf("Drying nectar and spread water took %s hours of it.", count(l.Summer.FanningDry))
}

func readHauled(l *Ledger, s voice) string {
	h := &l.Summer
	switch {
	case h.Hauled > 0.005:
		return fmt.Sprintf("Bees hauled %s of water to cool the nest, %s of it on the worst day, %s.", s.litre(h.Hauled), s.litre(h.HauledDay), dateIn(h.HauledDayOn.Time))
	case h.WaterDistance == 0 && h.Above36 > 0:
		return "No water was hauled, as the hive file names none: put water out near the hive and say so under colony, such as `water within: 150 m`, to see what it does."
	case h.Above36 > 0:
		return "No water was hauled."
	}
	return "No water was needed to cool the nest."
}

func readHauledDay(l *Ledger, s voice) string {
	if l.Summer.HauledDayOn.IsZero() {
		return ""
	}
	return fmt.Sprintf("They hauled most on %s: %s.", dateIn(l.Summer.HauledDayOn.Time), s.litre(l.Summer.HauledDay))
}

func readHauledDays(l *Ledger, s voice) string {
	if l.Summer.HauledDays == 0 {
		return ""
	}
	if l.Summer.HauledDays == 1 {
		return fmt.Sprintf("On one day they hauled more than %s.", s.litre(WaterDayLeast))
	}
	return fmt.Sprintf("On %.0f days they hauled more than %s.", l.Summer.HauledDays, s.litre(WaterDayLeast))
}

func readFlights(l *Ledger, _ voice) string {
	if l.Summer.Flights < 1 {
		return ""
	}
	return fmt.Sprintf("That takes about %s flights.", count(l.Summer.Flights))
}

func readFlightHours(l *Ledger, _ voice) string {
	h := &l.Summer
	if h.Flights < 1 {
		return ""
	}
	return fmt.Sprintf("It took about %s flights and %s hours of foragers, which are lost to nectar and pollen.", count(h.Flights), count(h.FlightHours))
}

func readPutOut(l *Ledger, s voice) string {
	h := &l.Summer
	if h.PutOut == 0 {
		return ""
	}
	return fmt.Sprintf("Put out %s of water a day within %s and keep it filled through the heat: that is what the worst day takes, rounded up.", s.litre(h.PutOut), s.length(h.PutOutWithin))
}

func readWithin(l *Ledger, s voice) string {
	if l.Summer.PutOut == 0 {
		return ""
	}
	return fmt.Sprintf("Water within %s keeps their flights short.", s.length(l.Summer.PutOutWithin))
}

func readComb(l *Ledger, s voice) string {
	c := l.Comb
	if c == nil || c.At.IsZero() {
		return ""
	}
	class := map[string]string{string(comb.Holds): "hold", string(comb.Near): "may give way, should their wax be weak", string(comb.Falls): "give way"}[c.Class]
	text := fmt.Sprintf("The %s %s; at worst, on %s, they are %s warm with %s of honey and %s of nectar each and bear %s of what they can (between %s and %s, as the strength of warm wax is uncertain)",
		c.where(), class, hourIn(c.At), s.temp(c.Temperature), s.kg(c.Honey), s.kg(c.Nectar), shareIn(c.Share), shareIn(c.ShareLow), shareIn(c.ShareHigh))
	if c.GivesWay == "" {
		return text + "."
	}
	return text + fmt.Sprintf("; the %s would go first.", c.GivesWay)
}

func combWith(wax string, of func(*Comb) float64) func(*Ledger, voice) string {
	return func(l *Ledger, _ voice) string {
		if l.Comb == nil {
			return ""
		}
		return fmt.Sprintf("With %s wax that would be %s.", wax, shareIn(of(l.Comb)))
	}
}

func readCombTemp(l *Ledger, s voice) string {
	if l.Comb == nil || l.Comb.At.IsZero() {
		return ""
	}
	return fmt.Sprintf("The comb in most danger was %s warm.", s.temp(l.Comb.Temperature))
}

func readCombHoney(l *Ledger, s voice) string {
	if l.Comb == nil {
		return ""
	}
	return fmt.Sprintf("It held %s of honey.", s.kg(l.Comb.Honey))
}

func readCombNectar(l *Ledger, s voice) string {
	if l.Comb == nil {
		return ""
	}
	return fmt.Sprintf("It held %s of nectar.", s.kg(l.Comb.Nectar))
}
