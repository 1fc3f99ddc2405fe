package answer

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hackle/climate"
	"hackle/evidence"
	"hackle/hive"
	"hackle/yard"
)

// Trial is a trial that was dealt out by lot and kept.
type Trial struct {
	Name      string        `json:"name"`
	Treatment string        `json:"treatment"` // the arm that is it; the others are without
	Outcome   string        `json:"outcome"`
	From      int           `json:"from_year"` // first season
	To        int           `json:"to_year"`   // last season
	Dealt     time.Time     `json:"dealt"`
	Plan      evidence.Plan `json:"plan"` // its hives are named by yard and hive name
}

// Treatments that are read from how a hive was built and from records. Others can
// be the arms of a trial, or the names of wraps and openings.
const (
	insulatedLid   = "insulated lid"
	insulatedWalls = "insulated walls"
	topVent        = "top vent"
	meshFloor      = "mesh floor"
	wrapOn         = "wrap"
	crossedWires   = "crossed wires"
)

// SeasonOptions say how records become hive-seasons.
type SeasonOptions struct {
	Outcome evidence.Outcome
	Trials  []Trial
	// Hot says whether a yard had a hot spell in the summer of a year; nil: records
	// alone tell.
	Hot func(yardID yard.ID, year int) evidence.Answer
}

// seasonSpan is the time of one season.
type seasonSpan struct {
	from, to time.Time
	core     time.Time    // day whose build and wraps count
	begins   [2]time.Time // when the strength at the start is counted
}

// isSummer reports whether an outcome is that of a summer.
func isSummer(o evidence.Outcome) bool { return o.Key == "comb fell" || o.Key == "bearding" }

// spanOf a year: its summer, or the winter that ends in it. South of the equator
// seasons lie half a year off: the winter of a year lies within it, the summer that
// ends in it begins the year before.
func spanOf(year int, summer, south bool) seasonSpan {
	shift := 0
	if south {
		shift = 6
	}
	at := func(y int, m time.Month, d int) time.Time {
		t := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
		if south {
			t = t.AddDate(0, shift, 0)
			if summer {
				t = t.AddDate(-1, 0, 0)
			}
		}
		return t
	}
	if summer {
		return seasonSpan{from: at(year, 4, 15), to: at(year, 10, 1), core: at(year, 7, 1), begins: [2]time.Time{at(year, 4, 1), at(year, 6, 30)}}
	}
	return seasonSpan{from: at(year-1, 10, 1), to: at(year, 4, 30), core: at(year, 1, 10), begins: [2]time.Time{at(year-1, 8, 15), at(year-1, 11, 30)}}
}

// Seasons makes hive-seasons of a notebook for the kind of season an outcome
// belongs to: every hive and year of which something was written down. Nothing that
// was not written down counts as a no. Notes tell what could not be used.
//
// Rules. A winter is named by the year in which it ends. Treatments are those of the
// build that held in the middle of the season: a lid or walls whose materials have
// 1 m²·K/W and more are insulated; a top vent is an opening in the upper quarter, or
// a hole in the top board under a vented lid, open on that day; wraps by the build or
// by the last record before; mesh floor; crossed wires in any body. The limits are
// judgement, no source. In the years of a trial the lot decides. Stores used are the
// autumn weight nearest to its middle less that of spring, both of the whole hive,
// plus sugar fed between as honey of 81 % sugar. A hot spell is told by the weather
// of the yard, or by a record of bearding or fallen comb at 32 °C and more.
func Seasons(n *yard.Notebook, o SeasonOptions) ([]evidence.Season, []string) {
	summer := isSummer(o.Outcome)
	yards := map[yard.ID]yard.Yard{}
	for _, y := range n.Yards {
		yards[y.ID] = y
	}
	lives := map[yard.ID]yard.Life{}
	for _, c := range n.Colonies {
		if l, err := yard.LifeOf(c.ID, n.Records); err == nil {
			lives[c.ID] = l
		}
	}
	var out []evidence.Season
	var notes []string
	broken := map[string]bool{}
	for _, h := range n.Hives {
		var records []yard.Record
		years := map[int]bool{}
		var builds []yard.Build
		for _, b := range n.Builds {
			if b.Hive == h.ID && !b.Deleted {
				builds = append(builds, b)
			}
		}
		y := yards[h.Yard]
		south := y.HasPlace && y.Latitude < 0
		ofHive := func(r yard.Record) bool {
			if r.Hive == h.ID {
				return true
			}
			l, ok := lives[r.Colony]
			if !ok || r.Hive != "" {
				return false
			}
			at, ok := l.HiveAt(r.At.Add(-time.Second))
			return ok && at == h.ID
		}
		for _, r := range n.Records {
			if r.Deleted || !ofHive(r) {
				continue
			}
			records = append(records, r)
			for year := r.At.Year() - 1; year <= r.At.Year()+1; year++ {
				if s := spanOf(year, summer, south); !r.At.Before(s.from.AddDate(0, -2, 0)) && r.At.Before(s.to) {
					years[year] = true
				}
			}
		}
		slices.SortFunc(records, func(a, b yard.Record) int { return a.At.Compare(b.At) })
		for _, t := range o.Trials {
			if assigned(t, y.Name, h.Name) != "" {
				for year := t.From; year <= t.To; year++ {
					years[year] = true
				}
			}
		}
		var order []int
		for year := range years {
			order = append(order, year)
		}
		slices.Sort(order)
		for _, year := range order {
			span := spanOf(year, summer, south)
			s := evidence.Season{Hive: h.Name, Yard: y.Name, Year: year, Treatments: map[string]evidence.Answer{}, ByLot: map[string]bool{}, Exposures: map[string]evidence.Answer{}}
			lived := span.from.AddDate(0, 0, 15)
			if summer {
				lived = span.core
			}
			for id, l := range lives {
				if at, ok := l.HiveAt(lived); ok && at == h.ID {
					s.Colony = string(id)
				}
			}
			if b, ok := yard.BuildOn(builds, span.core.Format(time.DateOnly)); ok {
				if plan, err := b.Plan(); err == nil {
					treatmentsOf(plan, span.core, s.Treatments)
				} else if !broken[h.Name] {
					broken[h.Name] = true
					notes = append(notes, h.Name+": its build cannot be read, so that its treatments are unknown")
				}
			}
			if summer {
				readSummer(&s, records, span)
			} else {
				readWinter(&s, records, span)
			}
			readCovers(&s, records, span.core)
			if summer && s.Exposures[evidence.HotSpell] != evidence.Yes && o.Hot != nil {
				if a := o.Hot(h.Yard, year); a != evidence.Unknown {
					s.Exposures[evidence.HotSpell] = a
				}
			}
			for _, t := range o.Trials {
				if arm := assigned(t, y.Name, h.Name); arm != "" && year >= t.From && year <= t.To {
					a := evidence.No
					if arm == t.Treatment {
						a = evidence.Yes
					}
					s.Treatments[t.Treatment], s.ByLot[t.Treatment] = a, true
				}
			}
			// A hive without a colony has no season.
			if said := s.Survived != evidence.Unknown || s.CombFell != evidence.Unknown || s.BeardingDays != nil; s.Colony == "" && !said {
				continue
			}
			out = append(out, s)
		}
	}
	return out, notes
}

func assigned(t Trial, yardName, hiveName string) string {
	for _, a := range t.Plan.Assignments {
		if a.Yard == yardName && a.Hive == hiveName {
			return a.Arm
		}
	}
	return ""
}

// treatmentsOf reads the treatments of a build on a day.
func treatmentsOf(p hive.Plan, day time.Time, into map[string]evidence.Answer) {
	yes := func(name string, v bool) {
		into[name] = evidence.No
		if v {
			into[name] = evidence.Yes
		}
	}
	const insulated = 1.0 // m²·K/W
	resistance := func(layers []hive.Layer) float64 {
		r := 0.0
		for _, l := range layers {
			switch {
			case l.Resistance > 0:
				r += l.Resistance
			case l.Material.Conductivity > 0:
				r += l.Thickness / l.Material.Conductivity
			}
		}
		return r
	}
	h := p.Hive
	lid := resistance(h.Lid.Layers)
	if h.TopBoard != nil {
		lid += resistance(h.TopBoard.Layers)
	}
	yes(insulatedLid, lid >= insulated)
	least := math.Inf(1)
	crossed := false
	for _, b := range h.Bodies {
		for _, w := range b.Walls {
			least = math.Min(least, resistance(w))
		}
		crossed = crossed || string(b.Frames.Support) == crossedWires
	}
	yes(insulatedWalls, least >= insulated)
	yes(crossedWires, crossed)
	vented := h.TopBoard != nil && h.TopBoard.HoleOn(day) > 0 && h.Lid.Vents > 0
	for _, o := range h.Openings {
		open := o.WidthOn(day) > 0
		if open && o.Sill > 0.75*h.Height() {
			vented = true
		}
		if o.Name != "" {
			yes("opening "+strings.ToLower(o.Name), open)
		}
	}
	yes(topVent, vented)
	yes(meshFloor, h.Floor.Mesh && !h.Floor.TrayOn(day))
	wrapped := false
	for _, w := range h.Wraps {
		on := w.OnAt(day)
		wrapped = wrapped || on
		if w.Name != "" {
			yes("wrap "+strings.ToLower(w.Name), on)
		}
	}
	yes(wrapOn, wrapped)
}

// readCovers lets records of wraps and vents outrank the build: the last within a
// year before the day.
func readCovers(s *evidence.Season, records []yard.Record, day time.Time) {
	for _, r := range records {
		if r.At.After(day) || r.At.Before(day.AddDate(-1, 0, 0)) {
			continue
		}
		a := evidence.No
		switch r.Kind {
		case yard.WrapChange:
			if r.Text("state") == "on" {
				a = evidence.Yes
			}
			part := strings.ToLower(strings.TrimSpace(r.Text("part")))
			if part != "" {
				s.Treatments["wrap "+part] = a
			}
			s.Treatments[wrapOn] = a
		case yard.VentChange:
			if r.Text("state") != "closed" {
				a = evidence.Yes
			}
			if name := strings.ToLower(strings.TrimSpace(r.Text("opening"))); name != "" {
				s.Treatments["opening "+name] = a
				if strings.Contains(name, "top") || strings.Contains(name, "upper") {
					s.Treatments[topVent] = a
				}
			}
		}
	}
}

// strengthIn is the count of frames of bees nearest to the middle of a span.
func strengthIn(records []yard.Record, from, to time.Time) float64 {
	middle := from.Add(to.Sub(from) / 2)
	best, near := 0.0, time.Duration(math.MaxInt64)
	for _, r := range records {
		if r.Kind != yard.Inspection || r.At.Before(from) || r.At.After(to) {
			continue
		}
		if v, ok := r.Number("frames_of_bees"); ok && r.At.Sub(middle).Abs() < near {
			best, near = v, r.At.Sub(middle).Abs()
		}
	}
	return best
}

func readSummer(s *evidence.Season, records []yard.Record, span seasonSpan) {
	const hot = 32 // °C
	s.FramesOfBees = strengthIn(records, span.begins[0], span.begins[1])
	bearding := map[string]bool{}
	looked := false
	for _, r := range records {
		if r.At.Before(span.from) || !r.At.Before(span.to) {
			continue
		}
		if r.Kind == yard.Bearding || r.Kind == yard.CombFallen {
			if v, ok := r.Number("air_temperature_c"); ok && v >= hot {
				s.Exposures[evidence.HotSpell] = evidence.Yes
			}
		}
		switch r.Kind {
		case yard.CombFallen:
			frames, ok := r.Number("frames")
			switch {
			case ok && frames > 0:
				s.CombFell = evidence.Yes
			case ok && s.CombFell == evidence.Unknown:
				s.CombFell = evidence.No
			}
		case yard.Bearding:
			looked = true
			bees, counted := r.Number("bees")
			if extent := r.Text("extent"); counted && bees > 0 || extent != "" && extent != "none" || !counted && extent == "" {
				bearding[r.At.Format(time.DateOnly)] = true
			}
		}
	}
	if looked {
		days := float64(len(bearding))
		s.BeardingDays = &days
	}
}

func readWinter(s *evidence.Season, records []yard.Record, span seasonSpan) {
	s.FramesOfBees = strengthIn(records, span.begins[0], span.begins[1])
	overhead := []string{"over the bees", "lid"}
	for _, r := range records {
		if r.Kind == yard.WinterOutcome {
			began, ok := r.Number("winter_of")
			if ok && int(began) != span.from.Year() || !ok && (r.At.Before(span.core) || r.At.After(span.to.AddDate(0, 2, 0))) {
				continue
			}
			s.Survived = evidence.Yes
			if r.Text("outcome") == "dead" {
				s.Survived = evidence.No
			}
			continue
		}
		if r.At.Before(span.from) || !r.At.Before(span.to) {
			continue
		}
		switch r.Kind {
		case yard.Died:
			s.Survived = evidence.No
		case yard.Inspection:
			// Bees seen after the middle of February or August: alive so far; the end of
			// winter decides.
			if v, ok := r.Number("frames_of_bees"); ok && v > 0 && s.Survived == evidence.Unknown && r.At.After(span.to.AddDate(0, -1, 0)) {
				s.Survived = evidence.Yes
			}
		case yard.Drip:
			above := slices.Contains(overhead, r.Text("place"))
			amount := r.Text("amount")
			switch {
			case above && amount != "none":
				s.DrippingWater = evidence.Yes
			case amount == "none" && above && s.DrippingWater == evidence.Unknown:
				s.DrippingWater = evidence.No
			}
		case yard.Mould:
			switch amount := r.Text("amount"); {
			case amount != "none":
				s.Mould = evidence.Yes
			case s.Mould == evidence.Unknown:
				s.Mould = evidence.No
			}
		}
	}
	s.StoresUsed = storesUsed(records, span)
}

// storesUsed over a winter. [kg]
func storesUsed(records []yard.Record, span seasonSpan) *float64 {
	nearest := func(to time.Time, within time.Duration) (yard.Record, float64, bool) {
		var best yard.Record
		kg, near, found := 0.0, within, false
		for _, r := range records {
			if r.Kind != yard.Weight {
				continue
			}
			if v, _, ok := yard.WholeWeight(r); ok && r.At.Sub(to).Abs() <= near {
				best, kg, near, found = r, v, r.At.Sub(to).Abs(), true
			}
		}
		return best, kg, found
	}
	const month = 30 * 24 * time.Hour
	autumn, before, ok := nearest(span.from.AddDate(0, 0, 20), 40*24*time.Hour)
	spring, after, ok2 := nearest(span.to.AddDate(0, 0, -25), month)
	if !ok || !ok2 || !spring.At.After(autumn.At) {
		return nil
	}
	used := before - after
	const sugarOfHoney, sugarOfSyrup = 0.81, 0.6
	for _, r := range records {
		if r.Kind != yard.Feeding || !r.At.After(autumn.At) || r.At.After(spring.At) {
			continue
		}
		kg, ok := r.Number("amount_kg")
		if !ok {
			return nil // fed, but nobody wrote how much
		}
		share, known := r.Number("sugar_share")
		if !known {
			share = map[string]float64{"syrup": sugarOfSyrup, "fondant": 0.85, "dry sugar": 1, "honey frames": sugarOfHoney, "pollen": 0}[r.Text("food")]
		}
		used += kg * share / sugarOfHoney
	}
	return &used
}

// HotSpell says whether a recorded summer held three days in a row with 32 °C and
// more, in the shade: judgement, no source. Unknown where the weather does not cover
// the summer, or is a typical year.
func HotSpell(w *climate.Series, year int) evidence.Answer {
	if w == nil || w.Typical {
		return evidence.Unknown
	}
	span := spanOf(year, true, w.Latitude < 0)
	zone := w.Location()
	from := time.Date(span.from.Year(), span.from.Month(), span.from.Day(), 0, 0, 0, 0, zone)
	to := time.Date(span.to.Year(), span.to.Month(), span.to.Day(), 0, 0, 0, 0, zone)
	if from.Before(w.Start) || to.After(w.End()) {
		return evidence.Unknown
	}
	summer, err := w.Window(from, to)
	if err != nil {
		return evidence.Unknown
	}
	const hot, days = 32, 3
	run := 0
	for day := 0; day+24 <= len(summer.Hours); day += 24 {
		most := math.Inf(-1)
		for _, h := range summer.Hours[day : day+24] {
			most = math.Max(most, h.TempAir)
		}
		if most < hot {
			run = 0
			continue
		}
		if run++; run == days {
			return evidence.Yes
		}
	}
	return evidence.No
}

// TreatmentsIn lists the treatments that seasons know both with and without, and
// how many of each.
func TreatmentsIn(seasons []evidence.Season) []TreatmentCount {
	count := map[string]*TreatmentCount{}
	for _, s := range seasons {
		for name, a := range s.Treatments {
			c := count[name]
			if c == nil {
				c = &TreatmentCount{Name: name}
				count[name] = c
			}
			switch a {
			case evidence.Yes:
				c.With++
			case evidence.No:
				c.Without++
			}
		}
	}
	out := []TreatmentCount{}
	for _, c := range count {
		out = append(out, *c)
	}
	slices.SortFunc(out, func(a, b TreatmentCount) int {
		if d := min(b.With, b.Without) - min(a.With, a.Without); d != 0 {
			return d
		}
		return strings.Compare(a.Name, b.Name)
	})
	return out
}

// TreatmentCount counts the hive-seasons with and without a treatment.
type TreatmentCount struct {
	Name    string `json:"name"`
	With    int    `json:"with"`
	Without int    `json:"without"`
}

// TrialSetting begins the name of the setting in which a trial is kept.
const TrialSetting = "trial."

// TrialsIn reads the kept trials out of the settings, by name.
func TrialsIn(settings map[string]json.RawMessage) ([]Trial, error) {
	var out []Trial
	for name, text := range settings {
		if !strings.HasPrefix(name, TrialSetting) {
			continue
		}
		var t Trial
		if err := json.Unmarshal(text, &t); err != nil {
			return nil, fmt.Errorf("the trial in setting %q: %w", name, err)
		}
		out = append(out, t)
	}
	slices.SortFunc(out, func(a, b Trial) int { return strings.Compare(a.Name, b.Name) })
	return out, nil
}
