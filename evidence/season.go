package evidence

import (
	"fmt"
	"slices"
	"strings"
)

// Answer is what a record says to a yes-or-no question.
type Answer uint8

// The answers; the zero value means that nobody wrote it down.
const (
	Unknown Answer = iota
	No
	Yes
)

var answerNames = [...]string{"unknown", "no", "yes"}

// String returns "unknown", "no" or "yes".
func (a Answer) String() string {
	if int(a) < len(answerNames) {
		return answerNames[a]
	}
	return fmt.Sprintf("Answer(%d)", uint8(a))
}

// MarshalText writes what String returns.
func (a Answer) MarshalText() ([]byte, error) {
	if int(a) >= len(answerNames) {
		return nil, fmt.Errorf("evidence: no answer %d", uint8(a))
	}
	return []byte(a.String()), nil
}

// UnmarshalText reads "unknown", "no", "yes" or nothing, in any case.
func (a *Answer) UnmarshalText(text []byte) error {
	word := strings.ToLower(strings.TrimSpace(string(text)))
	if word == "" {
		word = "unknown"
	}
	i := slices.Index(answerNames[:], word)
	if i < 0 {
		return fmt.Errorf("evidence: %q is none of %s", text, strings.Join(answerNames[:], ", "))
	}
	*a = Answer(i)
	return nil
}

// Exposures that outcomes need.
const (
	HotSpell = "hot spell" // a spell hot enough to try comb and bees
)

// Season is one hive through one year, or one winter named by the year in which
// it ends.
type Season struct {
	Hive   string `json:"hive"`             // identifier of the hive
	Yard   string `json:"yard"`             // where it stood
	Year   int    `json:"year"`             // calendar year
	Colony string `json:"colony,omitempty"` // identifier of the colony; empty: one colony to a hive

	// Treatments says which treatments the hive had; a treatment that is not in
	// it is unknown.
	Treatments map[string]Answer `json:"treatments,omitempty"`
	// ByLot names the treatments that were given or withheld by lot.
	ByLot map[string]bool `json:"by_lot,omitempty"`
	// Exposures says what the season put the hive to, such as HotSpell.
	Exposures map[string]Answer `json:"exposures,omitempty"`

	FramesOfBees float64 `json:"frames_of_bees,omitempty"` // at the start; 0 when not counted [-]

	Survived      Answer   `json:"survived"`                // the colony lived through the winter
	CombFell      Answer   `json:"comb_fell"`               // at least one comb came down
	DrippingWater Answer   `json:"dripping_water"`          // water seen dripping from above
	Mould         Answer   `json:"mould"`                   // mould found on comb or wall
	StoresUsed    *float64 `json:"stores_used,omitempty"`   // over the winter [kg]
	BeardingDays  *float64 `json:"bearding_days,omitempty"` // days with bees hanging outside [d]
}

// unit returns what identifies the colony.
func (s Season) unit() string {
	if s.Colony != "" {
		return "colony " + s.Colony
	}
	return "hive " + s.Yard + "\x00" + s.Hive
}

// Outcome is a question asked of each hive-season.
type Outcome struct {
	Key      string `json:"key"`      // short name, as in records
	Question string `json:"question"` // what is looked at, starts a sentence
	Unit     string `json:"unit"`     // of an amount; empty for yes or no
	LessGood bool   `json:"less_good"`
	Exposure string `json:"exposure"` // only seasons with it count; empty: all
	// Worth is the smallest difference worth having [-] as a share, or in Unit.
	// Judgement, no source; set it to what the work and money are worth.
	Worth float64 `json:"worth"`
	// PriorSD is the standard deviation of the prior of the difference of an
	// amount, in Unit. Judgement, no source.
	PriorSD float64 `json:"prior_sd,omitempty"`

	answer func(Season) Answer
	amount func(Season) *float64
}

// Outcomes lists every outcome, in the order in which they are shown.
func Outcomes() []Outcome {
	return []Outcome{
		{Key: "survived", Question: "The colony survived", Worth: 0.15,
			answer: func(s Season) Answer { return s.Survived }},
		{Key: "comb fell", Question: "Comb fell", LessGood: true, Exposure: HotSpell, Worth: 0.2,
			answer: func(s Season) Answer { return s.CombFell }},
		{Key: "stores used", Question: "Stores used", LessGood: true, Unit: "kg", Worth: 2, PriorSD: 4,
			amount: func(s Season) *float64 { return s.StoresUsed }},
		{Key: "bearding", Question: "Days of bearding", LessGood: true, Unit: "d", Exposure: HotSpell, Worth: 3, PriorSD: 6,
			amount: func(s Season) *float64 { return s.BeardingDays }},
		{Key: "dripping water", Question: "Water dripped", LessGood: true, Worth: 0.25,
			answer: func(s Season) Answer { return s.DrippingWater }},
		{Key: "mould", Question: "Mould was found", LessGood: true, Worth: 0.25,
			answer: func(s Season) Answer { return s.Mould }},
	}
}

// OutcomeOf returns the outcome with a key; the error lists the keys.
func OutcomeOf(key string) (Outcome, error) {
	var keys []string
	for _, o := range Outcomes() {
		if o.Key == key {
			return o, nil
		}
		keys = append(keys, o.Key)
	}
	return Outcome{}, fmt.Errorf("evidence: no outcome %q, there are: %s", key, strings.Join(keys, ", "))
}

// counted reports whether the outcome is a yes or no.
func (o Outcome) counted() bool { return o.answer != nil }

// value returns the outcome of a season, 0 or 1 for yes or no, and whether it
// was written down.
func (o Outcome) value(s Season) (float64, bool) {
	if o.counted() {
		switch o.answer(s) {
		case Yes:
			return 1, true
		case No:
			return 0, true
		}
		return 0, false
	}
	if v := o.amount(s); v != nil {
		return *v, true
	}
	return 0, false
}
